import fc from 'fast-check';
import DistanceOp from 'jsts/org/locationtech/jts/operation/distance/DistanceOp.js';
import GeometryFactory from 'jsts/org/locationtech/jts/geom/GeometryFactory.js';
import Coordinate from 'jsts/org/locationtech/jts/geom/Coordinate.js';
import { expect, it } from 'vitest';
import { loadPdfjs } from '../../src/files/load-pdfjs-node.ts';
import { seatFiles } from '../../src/files/seat.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { boxOf, signedArea } from '../../src/geometry/measure.ts';
import { DEFAULT_BED, DEFAULT_POCKET, makeJig } from '../../src/job/jig.ts';
import { acceptJob, newJob } from '../../src/job/job.ts';
import { bedFromBlank, zeroCorner } from '../../src/plan/plan-bed.ts';
import type { ZeroCorner } from '../../src/plan/plan.ts';
import {
  insertOf,
  INSERTS,
  insertSeat,
  placesInSlots,
  slotsOf,
  type Insert,
} from '../../src/seat/inserts.ts';
import { card, outlineOf, plaque } from '../outlines.ts';

const clipper = await loadClipper();
const jig = makeJig(
  clipper,
  {
    verdict: 'ok',
    reasons: [],
    outlines: [outlineOf(plaque, { blank: 1 }), outlineOf(card, { blank: 2 })],
  },
  {
    job: { number: 'I-1', name: 'inserts' },
    pocket: DEFAULT_POCKET,
    bed: { ...DEFAULT_BED, widthMm: 900, depthMm: 600 },
  },
);
const [first, second] = jig.blanks.map(({ blank, pocket }, k): Insert =>
  insertOf(
    {
      name: `insert ${k + 1}`,
      on: '2026-01-01',
      job: k === 0 ? 'I-1' : 'I-2',
      blank,
      thicknessMm: 3 + 4 * k,
    },
    pocket,
    INSERTS,
  ),
) as [Insert, Insert];
const bed = { ...DEFAULT_BED, widthMm: 420, depthMm: 297 };
const kept = [first, second];
const factory = new GeometryFactory();
const polygon = (of: readonly { x: number; y: number }[]) =>
  factory.createPolygon(
    factory.createLinearRing([...of, of[0]!].map(({ x, y }) => new Coordinate(x, y))),
    [],
  );
const layer = (seat: ReturnType<typeof insertSeat>, name: string) =>
  seat.layers.find((l) => l.name === name)!.closed!;

it('what is printed follows the slot, on the carrier and on the bed alike', () => {
  fc.assert(
    fc.property(
      fc.constantFrom<ZeroCorner>('bottom-left', 'bottom-right', 'top-left', 'top-right'),
      fc.integer({ min: 1, max: 3 }),
      (zero, slot) => {
        const on = { ...bed, zero };
        const library = { kept, slots: { [slot]: first.name } };
        const [print] = layer(insertSeat(on, INSERTS, library, 0.1), 'print');
        const [place] = placesInSlots(INSERTS, on, library, 'I-1');
        const pocket = jig.blanks[0]!.pocket;
        const laid = pocket.print.outer.map(bedFromBlank(place!));
        laid.forEach((p, k) => {
          // Places on the bed are rounded to a nanometre.
          expect(Math.hypot(p.x - print![k]!.x, p.y - print![k]!.y)).toBeLessThan(1e-6);
        });
        // Nothing of another job is laid on this one's bed.
        expect(placesInSlots(INSERTS, on, { kept, slots: { 1: second.name } }, 'I-1')).toEqual([]);
      },
    ),
  );
  const swapped = (a: string, b: string) =>
    placesInSlots(
      INSERTS,
      bed,
      { kept: [first, { ...second, job: 'I-1' }], slots: { 1: a, 2: b } },
      'I-1',
    );
  const [here] = swapped(first.name, second.name);
  const there = swapped(second.name, first.name).find((p) => p.blank === first.blank)!;
  const [one, two] = slotsOf(INSERTS, bed);
  expect([there.x - here!.x, there.y - here!.y]).toEqual([two!.x - one!.x, two!.y - one!.y]);
});

it('every insert goes into every slot with its play, one way only', () => {
  for (const zero of ['bottom-left', 'bottom-right', 'top-left', 'top-right'] as const) {
    const on = { ...bed, zero };
    const seat = insertSeat(on, INSERTS, { kept, slots: { 1: first.name, 3: second.name } }, 0.1);
    expect(seat.reasons).toEqual([]);
    const slots = layer(seat, 'slot');
    const centres = slotsOf(INSERTS, on);
    expect(seat.parts!.map(({ name }) => name)).toEqual(['insert insert 1', 'insert insert 2']);
    for (const page of seat.parts!) {
      const walls = layer(page, 'pocket');
      const edge = walls.at(-1)!;
      const middle = { x: page.widthMm / 2, y: page.depthMm / 2 };
      expect(signedArea(edge)).toBeGreaterThan(0);
      slots.forEach((slot, k) => {
        const laid = edge.map(({ x, y }) => ({
          x: x - middle.x + centres[k]!.x,
          y: y - middle.y + centres[k]!.y,
        }));
        const line = factory.createLinearRing(
          [...slot, slot[0]!].map(({ x, y }) => new Coordinate(x, y)),
        );
        // Half of the play all round, the cut corner included.
        expect(DistanceOp.distance(polygon(laid), line)).toBeCloseTo(INSERTS.playMm / 2, 9);
        // Turned by half a turn its whole corner meets the slot's cut one.
        const turned = laid.map(({ x, y }) => ({
          x: 2 * centres[k]!.x - x,
          y: 2 * centres[k]!.y - y,
        }));
        expect(DistanceOp.distance(polygon(turned), line)).toBe(0);
      });
      for (const wall of walls.slice(0, -1))
        expect(
          DistanceOp.distance(
            polygon(wall),
            factory.createLinearRing([...edge, edge[0]!].map(({ x, y }) => new Coordinate(x, y))),
          ),
        ).toBeGreaterThan(2.9);
    }
    // The corner that is cut off lies towards zero.
    const z = zeroCorner(on);
    const near = Math.min(...slots[0]!.map((p) => Math.hypot(p.x - z.x, p.y - z.y)));
    const box = boxOf(slots[0]!);
    const corner = Math.min(
      ...[box.left, box.right].flatMap((x) =>
        [box.bottom, box.top].map((y) => Math.hypot(x - z.x, y - z.y)),
      ),
    );
    expect(near - corner).toBeGreaterThan(INSERTS.keyMm / 2);
  }
});

it('faces come level by packers; too small an insert and too small a bed are refused; files are read back', async () => {
  const library = { kept, slots: { 1: first.name, 2: second.name } };
  const seat = insertSeat(bed, INSERTS, library, 0.1);
  const figure = (name: string) => seat.figures.find((f) => f.name === name)!.mm;
  expect(figure('Packer under insert 1') + 3).toBe(figure('Packer under insert 2') + 7);
  expect(figure('All faces over the table')).toBe(INSERTS.baseMm + 7);
  const files = await seatFiles(seat, { number: 'I-1', name: 'inserts' }, await loadPdfjs());
  expect(files).toHaveLength(9);
  for (const { proof } of files) expect(proof.greatestMm).toBeLessThan(0.001);
  const { pocket } = jig.blanks[0]!;
  expect(() => insertOf(first, pocket, { ...INSERTS, insertWidthMm: 50 })).toThrow(/is smaller/);
  expect(insertSeat(bed, { ...INSERTS, columns: 4 }, library, 0.1).reasons[0]?.code).toBe(
    'inserts-beyond',
  );
  const job = { ...newJob('I-1', 'a'), inserts: library };
  expect(acceptJob(JSON.parse(JSON.stringify(job))).inserts).toEqual(library);
  expect(() => acceptJob({ ...job, inserts: { kept: [{ name: 'x' }], slots: {} } })).toThrow(
    /inserts/,
  );
});

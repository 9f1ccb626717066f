import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import DistanceOp from 'jsts/org/locationtech/jts/operation/distance/DistanceOp.js';
import GeometryFactory from 'jsts/org/locationtech/jts/geom/GeometryFactory.js';
import Coordinate from 'jsts/org/locationtech/jts/geom/Coordinate.js';
import Centroid from 'jsts/org/locationtech/jts/algorithm/Centroid.js';
import { unzipSync } from 'fflate';
import { describe, expect, it } from 'vitest';
import { stl, threeMf } from '../../src/files/solid.ts';
import { seatFiles, seatPackage } from '../../src/files/seat.ts';
import { loadPdfjs } from '../../src/files/load-pdfjs-node.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { aboutCentroid, perimeter, regionArea, signedArea } from '../../src/geometry/measure.ts';
import type { Region, Ring } from '../../src/geometry/shape.ts';
import { extentOf, openEdges, solidOf, volumeOf } from '../../src/geometry/solid.ts';
import { DEFAULT_BED } from '../../src/job/jig.ts';
import { BLOCK, blockSeat } from '../../src/seat/block.ts';
import { FORM, footOut, formingTool, formSeat } from '../../src/seat/form.ts';
import { NEST, nestSeat } from '../../src/seat/nest.ts';
import { passesFor, RIM, rimSeat } from '../../src/seat/rim.ts';
import { rectangle } from '../../src/seat/seat.ts';
import { plaque } from '../outlines.ts';

const clipper = await loadClipper();
const ring = aboutCentroid(plaque.outer);
const factory = new GeometryFactory();
const polygon = (of: readonly { x: number; y: number }[]) =>
  factory.createPolygon(
    factory.createLinearRing([...of, of[0]!].map(({ x, y }) => new Coordinate(x, y))),
    [],
  );
const point = ({ x, y }: { x: number; y: number }) => factory.createPoint(new Coordinate(x, y));
const area = (regions: readonly Region<'bed'>[]): number =>
  regions.reduce((sum, r) => sum + regionArea(r), 0);
const square = (side: number): Ring<'blank'> =>
  rectangle(-side / 2, -side / 2, side, side) as unknown as Ring<'blank'>;

describe('a body', () => {
  it('is closed, looks outwards, and has the volume of its parts', () => {
    const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });
    fc.assert(
      fc.property(number(1, 8), number(9, 20), number(0.2, 5), (hole, size, deep) => {
        const outer = rectangle(0, 0, size, size);
        const inner = rectangle((size - hole) / 2, (size - hole) / 2, hole, hole);
        const body = solidOf(
          [
            { ring: outer, area: 0 },
            { ring: inner, area: 1 },
          ],
          (areas) => (areas === 1 ? 6 : areas === 3 ? 6 - deep : 0),
        );
        expect(openEdges(body)).toBe(0);
        expect(volumeOf(body)).toBeCloseTo(6 * size * size - deep * hole * hole, 6);
        // Euler: corners - edges + faces = 2 of a body without a way through.
        const { corners, triangles } = body;
        expect(corners.length / 3 - triangles.length / 2 + triangles.length / 3).toBe(2);
      }),
      { numRuns: 60 },
    );
    const through = solidOf(
      [
        { ring: rectangle(0, 0, 10, 10), area: 0 },
        { ring: rectangle(4, 4, 2, 2), area: 1 },
      ],
      (areas) => (areas === 1 ? 5 : 0),
    );
    expect(openEdges(through)).toBe(0);
    expect(volumeOf(through)).toBeCloseTo(5 * 96, 9);
    // One way through: 0.
    const { corners, triangles } = through;
    expect(corners.length / 3 - triangles.length / 2 + triangles.length / 3).toBe(0);
  });

  it('an open one, and one that is turned inside out, are told', () => {
    const box = solidOf([{ ring: rectangle(0, 0, 4, 4), area: 0 }], (a) => (a === 1 ? 2 : 0));
    expect(openEdges({ triangles: box.triangles.slice(3) })).toBeGreaterThan(0);
    expect(volumeOf({ ...box, triangles: box.triangles.slice().reverse() })).toBeCloseTo(-32, 9);
  });

  it('its STL is 84 + 50 n bytes, its 3MF is in mm', () => {
    const box = solidOf([{ ring: rectangle(0, 0, 4, 4), area: 0 }], (a) => (a === 1 ? 2 : 0));
    const bytes = stl(box, 'solid or not');
    // Twelve triangles of a box; standards.md's law of the format (from memory of the format's description).
    expect(bytes.length).toBe(84 + 50 * 12);
    expect(new TextDecoder().decode(bytes.slice(0, 5))).not.toBe('solid');
    const model = new TextDecoder().decode(
      unzipSync(threeMf(box, 'a <b> & c'))['3D/3dmodel.model'],
    );
    expect(model).toContain('unit="millimeter"');
    expect(model.match(/<vertex /g)).toHaveLength(8);
    expect(model.match(/<triangle /g)).toHaveLength(12);
  });
});

describe('a forming tool', () => {
  // A convex outline that grows by t for each mm down: A h + P t h² / 2 + π t² h³ / 3 (Steiner's formula, integrated).
  it.each([
    [40, 8, 5, 0],
    [60, 12, 10, 0.6],
  ])(
    'of a square of %d mm, %d mm high, %d degrees, has Steiner’s volume',
    (side, highMm, draftDeg, shrinkPercent) => {
      const s = { ...FORM, highMm, draftDeg, shrinkPercent, ventMm: 0 };
      const tool = formingTool(square(side), 0, s, clipper);
      const t = Math.tan((draftDeg * Math.PI) / 180);
      const a = side * (1 + shrinkPercent / 100);
      const raised =
        a * a * highMm + 4 * a * t * (highMm ** 2 / 2) + (Math.PI * t * t * highMm ** 3) / 3;
      const plate = tool.widthMm * tool.depthMm * s.plateMm;
      expect(openEdges(tool.solid)).toBe(0);
      expect((volumeOf(tool.solid) - plate) / raised).toBeCloseTo(1, 3);
      expect(tool.widthMm).toBeCloseTo(a + 2 * highMm * t + 2 * s.marginMm, 2);
      expect(extentOf(tool.solid).most[2]).toBeCloseTo(s.plateMm + highMm, 9);
      expect(tool.vents).toEqual([]);
    },
  );

  it('leans everywhere by its draft, and its vents stand clear of foot, plate and each other', () => {
    const tool = formingTool(ring, 0.3, FORM, clipper);
    const { foot, top, vents, widthMm, depthMm, solid } = tool;
    expect(openEdges(solid)).toBe(0);
    const [f, t] = [polygon(foot[0]!.outer), polygon(top[0]!.outer)];
    // Corners of the top lie as far from the foot's edge as the wall leans, or farther in bays.
    const edge = factory.createLinearRing(
      [...foot[0]!.outer, foot[0]!.outer[0]!].map(({ x, y }) => new Coordinate(x, y)),
    );
    const off = top[0]!.outer.map((p) => DistanceOp.distance(point(p), edge));
    expect(Math.min(...off)).toBeGreaterThan(footOut(FORM) - 0.015);
    expect(off.reduce((a, b) => a + b, 0) / off.length).toBeCloseTo(footOut(FORM), 1);
    expect(DistanceOp.distance(f, t)).toBe(0);
    expect(vents.length).toBeGreaterThanOrEqual(
      Math.ceil(perimeter(foot[0]!.outer) / FORM.everyMm) - 1,
    );
    for (const [k, v] of vents.entries()) {
      expect(DistanceOp.distance(point(v), f)).toBeGreaterThan(FORM.ventMm / 2);
      expect(Math.min(v.x, v.y, widthMm - v.x, depthMm - v.y)).toBeGreaterThan(FORM.ventMm);
      for (const w of vents.slice(k + 1))
        expect(Math.hypot(v.x - w.x, v.y - w.y)).toBeGreaterThan(FORM.ventMm);
    }
    // A triangle of the wall leans by the draft: its normal's upward share is sin(draft).
    const { corners: c, triangles } = solid;
    let wall = 0;
    let lean = 0;
    for (let k = 0; k < triangles.length; k += 3) {
      const [p, q, r] = [0, 1, 2].map((i) =>
        c.slice(3 * triangles[k + i]!, 3 * triangles[k + i]! + 3),
      );
      const u = [0, 1, 2].map((i) => q![i]! - p![i]!);
      const w = [0, 1, 2].map((i) => r![i]! - p![i]!);
      const n = [
        u[1]! * w[2]! - u[2]! * w[1]!,
        u[2]! * w[0]! - u[0]! * w[2]!,
        u[0]! * w[1]! - u[1]! * w[0]!,
      ];
      const size = Math.hypot(...n);
      const up = n[2]! / size;
      if (up < 0.001 || up > 0.999 || [p, q, r].some((v) => v![2]! < FORM.plateMm - 1e-9)) continue;
      wall += size / 2;
      lean += (size / 2) * up;
    }
    expect(Math.asin(lean / wall) * (180 / Math.PI)).toBeCloseTo(FORM.draftDeg, 0);
  });

  it('says where it is too deep, too steep, or airless', () => {
    const codes = (patch: Partial<typeof FORM>, mm = 9) =>
      formSeat(ring, mm, 0.3, { ...FORM, ...patch }, clipper).reasons.map(({ code }) => code);
    expect(codes({})).toEqual([]);
    expect(codes({}, 5)).toEqual(['form-too-deep']);
    expect(codes({ draftDeg: 1 })).toEqual(['form-steep']);
    expect(codes({ ventMm: 0 })).toEqual(['form-no-vents']);
  });
});

describe('a solid block', () => {
  it('holds the block less its pocket, and the blank with its clearance', () => {
    const s = { ...BLOCK, fingerMm: 0 };
    const seat = blockSeat(square(40), 9, 0.3, s, clipper);
    // Steiner: A + P c + π c²; the corner that is cut off is half of a square.
    const pocket = 1600 + 160 * 0.3 + Math.PI * 0.09;
    const block = seat.widthMm * seat.depthMm - (s.wallMm / 2) ** 2 / 2;
    const volume = block * (s.floorMm + s.deepMm) - pocket * s.deepMm;
    expect(openEdges(seat.solid!)).toBe(0);
    expect(volumeOf(seat.solid!) / volume).toBeCloseTo(1, 4);
    const [wall] = seat.layers.find(({ name }) => name === 'pocket')!.closed!;
    const [blank] = seat.layers.find(({ name }) => name === 'print')!.closed!;
    for (const p of blank!) {
      const edge = factory.createLinearRing(
        [...wall!, wall![0]!].map(({ x, y }) => new Coordinate(x, y)),
      );
      expect(DistanceOp.distance(point(p), edge)).toBeGreaterThan(0.3 - 0.005);
    }
    expect(blockSeat(square(40), 4, 0.3, BLOCK, clipper).reasons.map(({ code }) => code)).toEqual([
      'block-too-deep',
    ]);
  });
});

describe('a solid block whose walls lean', () => {
  it.each([2, 10])(
    'by %d degrees takes what Steiner has of each height, and is drawn so',
    (draftDeg) => {
      const s = { ...BLOCK, fingerMm: 0, draftDeg };
      const seat = blockSeat(square(40), 9, 0.3, s, clipper);
      const out = s.deepMm * Math.tan((draftDeg * Math.PI) / 180);
      // A convex floor of area A and perimeter P grown by t has A + P t + π t²: over the depth A + P out / 2 + π out² / 3 of it.
      const [area, edge] = [1600 + 160 * 0.3 + Math.PI * 0.09, 160 + 2 * Math.PI * 0.3];
      const pocket = s.deepMm * (area + (edge * out) / 2 + (Math.PI * out ** 2) / 3);
      const block = seat.widthMm * seat.depthMm - (s.wallMm / 2) ** 2 / 2;
      expect(openEdges(seat.solid!)).toBe(0);
      expect(volumeOf(seat.solid!) / (block * (s.floorMm + s.deepMm) - pocket)).toBeCloseTo(1, 4);
      // Floor and mouth in plan, and the same two in the section, left of the pocket.
      const left = (name: string): number =>
        Math.min(
          ...seat.layers.find((l) => l.name === name)!.closed!.flatMap((r) => r.map((p) => p.x)),
        );
      expect(left('pocket') - left('mouth')).toBeCloseTo(out, 2);
      expect(left('mouth')).toBeCloseTo(s.wallMm, 2);
      const board = seat.section.find(({ line }) => line === 'board')!.points;
      expect(board).toContainEqual({
        x: expect.closeTo(left('mouth'), 2) as number,
        y: s.floorMm + s.deepMm,
      });
      expect(board).toContainEqual({
        x: expect.closeTo(left('pocket'), 2) as number,
        y: s.floorMm,
      });
      expect(seat.figures.find(({ name }) => /from the floor/.test(name))!.mm).toBeCloseTo(out, 12);
    },
  );
});

const lying = (x: number, y: number) => ({
  id: '1',
  wall: [{ outer: ring.map((p) => ({ x: p.x + x, y: p.y + y })), holes: [] }],
  ways: [],
});

describe('a rim of clear ink', () => {
  it('takes as many passes as reach its height', () => {
    expect([passesFor(0.6, 0.03), passesFor(0.61, 0.03), passesFor(0.01, 0.03)]).toEqual([
      20, 21, 1,
    ]);
    fc.assert(
      fc.property(
        fc.double({ min: 0.05, max: 5, noNaN: true }),
        fc.double({ min: 0.005, max: 0.2, noNaN: true }),
        (high, pass) => {
          const n = passesFor(high, pass);
          expect(n * pass).toBeGreaterThanOrEqual(high - 1e-8);
          expect((n - 1) * pass).toBeLessThan(Math.max(high, pass * 1e-9 + 1e-12));
        },
      ),
    );
  });

  it('closed, it is P w + π w² round a convex wall; open, it lies in no pocket and leaves its openings', () => {
    const side = 50;
    const wall = [{ outer: rectangle(100, 100, side, side), holes: [] }];
    const at = [{ id: '1', wall, ways: [] }];
    const closed = rimSeat(DEFAULT_BED, at, { ...RIM, openMm: 0 }, 'Clear', clipper, 5);
    const w = RIM.wideMm;
    expect(area(closed.print!.areas)).toBeCloseTo(4 * side * w + Math.PI * w * w, 2);
    const open = rimSeat(DEFAULT_BED, at, RIM, 'Clear', clipper, 5);
    expect(area(closed.print!.areas) - area(open.print!.areas)).toBeCloseTo(2 * RIM.openMm * w, 2);
    const own = rimSeat(
      DEFAULT_BED,
      [lying(120, 140), { ...lying(215, 140), id: '2' }],
      RIM,
      'Clear',
      clipper,
      5,
    );
    const walls = [lying(120, 140), lying(215, 140)].flatMap((p) => p.wall);
    expect(area(clipper.intersection(own.print!.areas, walls))).toBeLessThan(1e-4);
    expect(
      area(clipper.difference(own.print!.areas, clipper.offset(walls, w, 'outward'))),
    ).toBeLessThan(1e-4);
  });

  it('is refused higher than the blank or beyond the bed', () => {
    const codes = (patch: Partial<typeof RIM>, mm: number, x = 200) =>
      rimSeat(DEFAULT_BED, [lying(x, 140)], { ...RIM, ...patch }, 'Clear', clipper, mm).reasons.map(
        ({ code }) => code,
      );
    expect(codes({}, 5)).toEqual([]);
    expect(codes({}, 0.6)).toEqual(['rim-too-high']);
    expect(codes({ highMm: 0.1 }, 5)).toEqual(['rim-low']);
    expect(codes({}, 5, 20)).toEqual(['rim-beyond']);
  });
});

describe('a soft nest', () => {
  it('its cross stands on the centre of area, its hollow is narrower by the grip all round', () => {
    const seat = nestSeat(ring, 12, DEFAULT_BED, NEST, 0, clipper);
    const [piece] = seat.layers.find(({ name }) => name === 'print')!.closed!;
    const middle = Centroid.getCentroid(polygon(piece!)) as { x: number; y: number };
    const [across, inDepth] = seat.layers.find(({ name }) => name === 'cross')!.open!;
    expect(across![0]!.y).toBeCloseTo(middle.y, 6);
    expect(inDepth![0]!.x).toBeCloseTo(middle.x, 6);
    expect([middle.x, middle.y].map((v) => Math.round(v * 1e4) / 1e4)).toEqual([
      NEST.acrossMm,
      NEST.inDepthMm,
    ]);
    const [foam] = seat.parts!;
    const edge = foam!.layers.find(({ name }) => name === 'print')!.closed![0]!;
    const line = factory.createLinearRing(
      [...edge, edge[0]!].map(({ x, y }) => new Coordinate(x, y)),
    );
    for (const hollow of foam!.layers.find(({ name }) => name === 'pocket')!.closed!) {
      expect(Math.abs(signedArea(hollow))).toBeLessThan(Math.abs(signedArea(edge)));
      for (const p of hollow)
        expect(Math.abs(DistanceOp.distance(point(p), line) - NEST.gripMm)).toBeLessThan(0.002);
    }
    const figure = (name: string) => seat.figures.find((f) => f.name === name)!.mm;
    expect(figure('Face over the table')).toBeCloseTo(20 - 3 + 12, 9);
    expect(figure('Centre from the left edge') + figure('Centre from the right edge')).toBeCloseTo(
      Math.max(...piece!.map((p) => p.x)) - Math.min(...piece!.map((p) => p.x)),
      6,
    );
  });

  it('is refused where the piece drowns, has no hollow, or lies beyond the bed', () => {
    const codes = (patch: Partial<typeof NEST>) =>
      nestSeat(ring, 12, DEFAULT_BED, { ...NEST, ...patch }, 0, clipper).reasons.map(
        ({ code }) => code,
      );
    expect(codes({})).toEqual([]);
    expect(codes({ sinkMm: 12 })).toEqual(['nest-too-deep']);
    expect(codes({ gripMm: 90 })).toEqual(['nest-no-hollow']);
    expect(codes({ acrossMm: 0 })).toEqual(['nest-beyond']);
  });
});

it('the files of a body and of an ink are read back, and go into one package with a list', async () => {
  const job = { number: 'S-3', name: 'printed' };
  const pdfjs = await loadPdfjs();
  const form = formSeat(ring, 9, 0.3, FORM, clipper);
  const files = await seatFiles(form, job, pdfjs);
  expect(files.map(({ name }) => name.split('.').at(-1))).toEqual([
    'dxf',
    'svg',
    'pdf',
    'stl',
    '3mf',
  ]);
  const rim = rimSeat(DEFAULT_BED, [lying(200, 140)], RIM, 'Lack', clipper, 5);
  const inked = await seatFiles(rim, job, pdfjs);
  const print = inked.find(({ name }) => name === 'clear-ink-rim-print.pdf')!;
  expect(print.proof.reader).toBe('pdf.js');
  expect(new TextDecoder('latin1').decode(print.bytes)).toContain('/Separation /Lack');
  for (const { proof } of [...files, ...inked]) expect(proof.greatestMm).toBeLessThan(0.001);
  const all = unzipSync(seatPackage(rim, job, inked));
  expect(Object.keys(all)).toHaveLength(inked.length + 1);
  expect(new TextDecoder().decode(all['S-3-00-list.txt'])).toContain('Print the page 20 times');
});

const hasAdmesh = spawnSync('admesh', ['--version'], { stdio: 'ignore' }).status === 0;
if (!hasAdmesh) console.log('left out: bodies read by admesh, which is not installed');

describe.runIf(hasAdmesh)('bodies as admesh reads them', () => {
  it.each([
    ['forming tool', formSeat(ring, 9, 0.3, FORM, clipper)],
    ['block with a blind pocket', blockSeat(ring, 9, 0.3, BLOCK, clipper)],
  ])('%s: closed, one part, nothing to mend, its volume and size ours', (name, { solid }) => {
    const folder = mkdtempSync(join(tmpdir(), 'snugline-'));
    try {
      const file = join(folder, 'body.stl');
      writeFileSync(file, stl(solid!, name));
      const said = execFileSync('admesh', ['-e', '-d', '-v', file], { encoding: 'utf8' });
      // Facets not connected on every side before anything is mended, and what was mended: admesh's own table.
      const [disconnected] = /Total disconnected facets +: +(\d+)/.exec(said)!.slice(1);
      expect(disconnected).toBe('0');
      for (const what of ['Degenerate facets', 'Edges fixed', 'Facets removed', 'Facets added'])
        expect(new RegExp(`${what} +: +(\\d+)`).exec(said)![1], what).toBe('0');
      for (const what of ['Facets reversed', 'Backwards edges', 'Normals fixed'])
        expect(new RegExp(`${what} +: +(\\d+)`).exec(said)![1], what).toBe('0');
      expect(/Number of parts +: +(\d+)/.exec(said)![1]).toBe('1');
      const volume = Number(/Volume *: +([\d.]+)/.exec(said)![1]);
      expect(volume / volumeOf(solid!)).toBeCloseTo(1, 4);
      const { least, most } = extentOf(solid!);
      for (const [k, axis] of ['X', 'Y', 'Z'].entries()) {
        const [from, to] = new RegExp(`Min ${axis} = +([-\\d.]+), Max ${axis} = +([-\\d.]+)`)
          .exec(said)!
          .slice(1)
          .map(Number);
        expect(Math.abs(from! - least[k]!)).toBeLessThan(0.001);
        expect(Math.abs(to! - most[k]!)).toBeLessThan(0.001);
      }
    } finally {
      rmSync(folder, { recursive: true });
    }
  });
});

import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import GeometryFactory from 'jsts/org/locationtech/jts/geom/GeometryFactory.js';
import Coordinate from 'jsts/org/locationtech/jts/geom/Coordinate.js';
import DistanceOp from 'jsts/org/locationtech/jts/operation/distance/DistanceOp.js';
import RelateOp from 'jsts/org/locationtech/jts/operation/relate/RelateOp.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Point } from '../../src/base/measure.ts';
import { cutDrawing } from '../../src/files/drawing.ts';
import { dxf } from '../../src/files/dxf.ts';
import { eps } from '../../src/files/eps.ts';
import { loadPdfjs } from '../../src/files/load-pdfjs-node.ts';
import { matchLines, referenceOfPlan, referenceOfPlanJson } from '../../src/files/match.ts';
import { pdf } from '../../src/files/pdf.ts';
import { planJson, readPlanJson } from '../../src/files/plan-json.ts';
import { readLines } from '../../src/files/read-lines.ts';
import { release } from '../../src/files/release.ts';
import { samplePlan } from '../../src/files/sample.ts';
import { svg } from '../../src/files/svg.ts';
import type { Clipper } from '../../src/geometry/clipper.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { boxOf } from '../../src/geometry/measure.ts';
import type { Ring } from '../../src/geometry/shape.ts';
import {
  DEFAULT_BED,
  DEFAULT_POCKET,
  jobFacts,
  makeJig,
  nestJig,
  type JigSettings,
} from '../../src/job/jig.ts';
import {
  boardBox,
  boardFrom,
  boardLies,
  boardRing,
  boardWays,
  grown,
  offAlong,
  offByPlay,
  PINS,
  seatHoles,
  seatStart,
  slotReasons,
  staysAt,
} from '../../src/plan/board-on-bed.ts';
import { lightOpening, lyingAt, troubleOf } from '../../src/plan/free.ts';
import { bedFromBlank } from '../../src/plan/plan-bed.ts';
import { REGISTRATION } from '../../src/plan/registration.ts';
import { turnedOver } from '../../src/plan/turned-over.ts';
import {
  BOARD_SEATS,
  ZERO_CORNERS,
  type BedPlan,
  type BedSettings,
  type BoardSeat,
} from '../../src/plan/plan.ts';
import { platePockets, plateHoles, PLATES, platesOf } from '../../src/seat/plates.ts';
import { card, outlineOf, plaque } from '../outlines.ts';
import { Random } from '../support/simulate.ts';

let clipper: Clipper;
beforeAll(async () => {
  clipper = await loadClipper();
});
const folder = mkdtempSync(join(tmpdir(), 'snugline-'));
afterAll(() => rmSync(folder, { recursive: true }));

const traced = {
  outlines: [outlineOf(card), outlineOf(plaque, { id: '2-face', blank: 2 })],
  verdict: 'ok',
  reasons: [],
} as const;
const jigOn = (bed: Partial<BedSettings>, more: Partial<JigSettings> = {}) =>
  makeJig(clipper, traced, {
    job: { number: '9-1', name: 'Board' },
    pocket: { ...DEFAULT_POCKET, material: 'acrylic' },
    bed: { ...DEFAULT_BED, rows: 1, columns: 2, ...bed },
    ...more,
  });
const planOn = (bed: Partial<BedSettings>, more: Partial<JigSettings> = {}): BedPlan =>
  jigOn(bed, more).plan;
const codesOf = ({ reasons }: Pick<BedPlan, 'reasons'>): string[] => reasons.map((r) => r.code);

const pins = (patch: Partial<Extract<BoardSeat, { kind: 'pins' }>> = {}): BoardSeat => ({
  kind: 'pins',
  ...PINS,
  at: [
    { x: 15, y: 190 },
    { x: 285, y: 12 },
  ],
  ...patch,
});
const board = { widthMm: 300, depthMm: 200 };

/** Figures spread evenly, as doubles that are drawn are not. */
const tenths = (least: number, most: number) =>
  fc.integer({ min: 10 * least, max: 10 * most }).map((v) => v / 10);

describe('two pins, one of them in a slot', () => {
  // Plane kinematics, without small angles: every motion is tried, kept where both pins stand in their holes.
  it('lets a place lie off as far as the closed formula says, and the board turn by no more than play over distance', () => {
    const random = new Random(3);
    const pair = [
      { x: 20, y: 30 },
      { x: 260, y: 130 },
    ] as const;
    const playMm = 0.2;
    const apart = Math.hypot(240, 100);
    const far = { x: 300, y: 0 };
    const ways = [0, 0.7, Math.PI / 2, 2.4].map((a) => ({ x: Math.cos(a), y: Math.sin(a) }));
    const most = ways.map(() => 0);
    let [turned, farthest, tried] = [0, 0, 0];
    const across = { x: -100 / apart, y: 240 / apart };
    for (let k = 0; k < 200_000; k++) {
      const [a, r] = [2 * Math.PI * random.next(), (playMm / 2) * Math.sqrt(random.next())];
      const shift = { x: r * Math.cos(a), y: r * Math.sin(a) };
      const turn = ((2 * random.next() - 1) * 1.2 * playMm) / apart;
      const moved = (p: Point<'bed'>): Point<'bed'> => {
        const [x, y] = [p.x - pair[0].x, p.y - pair[0].y];
        const [c, s] = [Math.cos(turn), Math.sin(turn)];
        return { x: c * x - s * y + shift.x - x, y: s * x + c * y + shift.y - y };
      };
      const slot = moved(pair[1]);
      if (Math.abs(slot.x * across.x + slot.y * across.y) > playMm / 2) continue;
      tried++;
      turned = Math.max(turned, Math.abs(turn));
      const off = moved(far);
      farthest = Math.max(farthest, Math.hypot(off.x, off.y));
      ways.forEach((u, i) => (most[i] = Math.max(most[i]!, off.x * u.x + off.y * u.y)));
    }
    expect(tried).toBeGreaterThan(50_000);
    expect(turned).toBeLessThan(1.0001 * (playMm / apart));
    expect(turned).toBeGreaterThan(0.97 * (playMm / apart));
    ways.forEach((u, i) => {
      const said = offAlong(far, u, pair, playMm);
      expect(most[i]).toBeLessThan(1.001 * said);
      expect(most[i]).toBeGreaterThan(0.93 * said);
    });
    expect(farthest).toBeLessThan(1.001 * offByPlay(far, pair, playMm));
  });

  // The farthest of all directions is the farthest there is: two ways to the same figure.
  it('is the same by directions as by the ends of both plays', () => {
    const place = fc.record({ x: tenths(0, 400), y: tenths(0, 300) });
    fc.assert(
      fc.property(place, place, place, (at, a, b) => {
        fc.pre(Math.hypot(a.x - b.x, a.y - b.y) > 20);
        const by = Array.from({ length: 720 }, (_, k) => (Math.PI * k) / 720).map((t) =>
          offAlong(at, { x: Math.cos(t), y: Math.sin(t) }, [a, b], 0.1),
        );
        expect(Math.max(...by) / offByPlay(at, [a, b], 0.1)).toBeCloseTo(1, 4);
      }),
    );
  });

  it('shifts by half the play at the first pin and between the pins, along whatever direction', () => {
    const [a, b] = [
      { x: 10, y: 10 },
      { x: 210, y: 10 },
    ];
    const [x, y] = [
      { x: 1, y: 0 },
      { x: 0, y: 1 },
    ];
    expect(offAlong(a, x, [a, b], 0.1)).toBeCloseTo(0.05, 12);
    expect(offAlong(a, y, [a, b], 0.1)).toBeCloseTo(0.05, 12);
    expect(offAlong({ x: 110, y: 10 }, y, [a, b], 0.1)).toBeCloseTo(0.05, 12);
    // As far again beyond the second pin: p/2 (|1 - 2| + 2), three halves of the play.
    expect(offAlong({ x: 410, y: 10 }, y, [a, b], 0.1)).toBeCloseTo(0.15, 12);
  });

  // Growth is a similarity about what stays: acrylic, 7.5e-5 /K by its suppliers' data, 10 K.
  it('lets the board grow: nothing moves at the first pin, the second only along its slot', () => {
    const bed = { ...DEFAULT_BED, board: { ...board, seat: pins() } };
    const [a, b] = [
      { x: 15, y: 190 },
      { x: 285, y: 12 },
    ];
    const share = 10 * 7.5e-5;
    expect(staysAt(bed)).toEqual(a);
    expect(grown(bed, a, share)).toEqual(a);
    const at = grown(bed, b, share);
    const by = { x: at.x - b.x, y: at.y - b.y };
    const apart = Math.hypot(270, 178);
    expect((by.x * 178 + by.y * 270) / apart).toBeCloseTo(0, 12);
    expect((by.x * 270 - by.y * 178) / apart).toBeCloseTo(
      share * Math.sqrt(270 ** 2 + 178 ** 2),
      12,
    );
    expect(slotReasons(bed, share)).toEqual([]);
    const short = { ...bed, board: { ...board, seat: pins({ slotMm: 0.3 }) } };
    expect(slotReasons(short, share)[0]).toMatchObject({
      code: 'slot-short',
      facts: { growsMm: 0.24, needMm: '0.5' },
    });
    // Room to either side is half of what the slot is longer, and half the play.
    const just = { ...bed, board: { ...board, seat: pins({ slotMm: 2 * 0.2426 - PINS.playMm }) } };
    expect(slotReasons(just, share)).toEqual([]);
  });
});

describe('the registration budget on a board that is seated', () => {
  const seat = (kind: BoardSeat | undefined) =>
    jigOn({ board: { ...board, ...(kind && { seat: kind }) } }, { registration: REGISTRATION });
  const inputOf = async (kind: BoardSeat | undefined) => {
    const { registrationFor } = await import('../../src/job/jig.ts');
    const { inputs } = registrationFor(seat(kind), REGISTRATION);
    return {
      seat: inputs.find((i) => i.name === 'board on its seat')!,
      heat: inputs.find((i) => i.name === 'board, heat')!,
    };
  };

  it("takes the operator's figure at a stop, the play of the holes on pins and screws", async () => {
    const stop = await inputOf({ kind: 'stop', proudMm: 0 });
    expect(stop.seat).toMatchObject({ value: 0.1, source: 'entered' });
    const on = await inputOf(pins());
    expect(on.seat.source).toBe('play of its holes');
    // Between half the play and what the farthest corner of the board would have.
    expect(on.seat.value).toBeGreaterThanOrEqual(0.025);
    const { at } = pins() as Extract<BoardSeat, { kind: 'pins' }>;
    const corners = boardRing({ ...DEFAULT_BED, board });
    expect(on.seat.value).toBeLessThan(Math.max(...corners.map((p) => offByPlay(p, at, 0.05))));
    const twice = await inputOf(pins({ playMm: 0.1 }));
    expect(twice.seat.value! / on.seat.value!).toBeCloseTo(2, 9);
  });

  it('counts growth from what stays: farther from a pin beyond the pockets than from one amid them', async () => {
    const away = await inputOf(pins());
    const amid = await inputOf(
      pins({
        at: [
          { x: 150, y: 190 },
          { x: 285, y: 12 },
        ],
      }),
    );
    expect(amid.heat.sensitivity).toBeLessThan(away.heat.sensitivity);
  });
});

/* Distances by jsts, which shares no code with the program. */
const factory = new GeometryFactory();
const linear = (ring: Ring<'bed'>): unknown =>
  factory.createLinearRing([...ring, ring[0]!].map(({ x, y }) => new Coordinate(x, y)));
const polygon = (ring: Ring<'bed'>): unknown => factory.createPolygon(linear(ring), []);

/** A pocket with bays, about its middle. */
const sampledStar: Ring<'blank'> = Array.from({ length: 240 }, (_, k) => {
  const a = (2 * Math.PI * k) / 240;
  const r = 22 * (1 + 0.25 * Math.sin(5 * a));
  return { x: r * Math.cos(a), y: r * Math.sin(a) };
});

describe('pockets on a board of its own size', () => {
  const boards = fc.record({
    widthMm: tenths(180, 400),
    depthMm: tenths(140, 290),
    zero: fc.constantFrom(...ZERO_CORNERS),
    across: tenths(0, 20),
    up: tenths(0, 7),
    seat: fc.constantFrom(undefined, ...BOARD_SEATS),
    keyed: fc.boolean(),
    layout: fc.constantFrom('rows', 'brick', 'head-to-tail', 'nest', 'fill'),
    wallMm: tenths(2, 9),
    columns: fc.integer({ min: 1, max: 4 }),
  });

  it('none comes nearer to its edge or its holes than the wall without a word, and nesting never does', () => {
    const seen = { kept: 0, said: 0, nested: 0, holes: 0 };
    fc.assert(
      fc.property(boards, (b) => {
        const base: BedSettings = {
          ...DEFAULT_BED,
          ...{ zero: b.zero, wallMm: b.wallMm, keyed: b.keyed, columns: b.columns },
          // Nothing but the board keeps pockets away.
          marginMm: 0,
          board: { widthMm: b.widthMm, depthMm: b.depthMm, fromZeroMm: [b.across, b.up] },
        };
        const bed: BedSettings = b.seat
          ? { ...base, board: { ...base.board!, seat: seatStart(b.seat, base) } }
          : base;
        const nests = b.layout === 'nest' || b.layout === 'fill';
        const set = {
          job: { number: '1', name: 'T' },
          pocket: { ...DEFAULT_POCKET, notches: { radiusMm: 8, reachMm: 8 } },
          counts: { 1: 2, 2: b.columns },
        };
        const laid: BedSettings = nests
          ? {
              ...bed,
              layout: 'free',
              places: nestJig(clipper, traced, { ...set, bed }, b.layout === 'fill').places,
            }
          : { ...bed, layout: b.layout as 'rows' };
        const plan = makeJig(clipper, traced, { ...set, bed: laid }).plan;
        const edge = linear(boardRing(bed));
        const inner = polygon(boardRing(bed));
        const holes = seatHoles(bed);
        let least = Infinity;
        let under = false;
        for (const { opening } of plan.pockets)
          for (const { outer } of opening) {
            const shape = polygon(outer);
            least = Math.min(
              least,
              RelateOp.contains(inner, shape) ? DistanceOp.distance(shape, edge) : -1,
              ...holes.map((h) => DistanceOp.distance(shape, polygon(h.ring))),
            );
            under ||= holes.some(
              (h) => h.head && DistanceOp.distance(shape, polygon(h.head)) === 0,
            );
          }
        const near = least < b.wallMm - 1e-4 || under;
        const codes = codesOf(plan).filter((code) =>
          ['board-too-small', 'board-edge-thin', 'hole-meets-pocket', 'hole-wall-thin'].includes(
            code,
          ),
        );
        if (near) expect(codes, `${least} of ${b.wallMm}`).not.toEqual([]);
        if (!near && least > b.wallMm + 1e-4) expect(codes, String(least)).toEqual([]);
        if (nests) expect(near, `${least} of ${b.wallMm}`).toBe(false);
        if (plan.pockets.length > 0) {
          seen[near ? 'said' : 'kept']++;
          if (nests) seen.nested++;
          if (holes.length > 0) seen.holes++;
        }
      }),
      { numRuns: 30 },
    );
    expect(Math.min(...Object.values(seen))).toBeGreaterThan(1);
  }, 120_000);

  it('moved by hand, they are told what jsts says of edge and holes', () => {
    const base: BedSettings = { ...DEFAULT_BED, keyed: true, marginMm: 0, board };
    const told = { edge: 0, hole: 0, free: 0 };
    fc.assert(
      fc.property(
        fc.record({
          // Doubles drawn are mostly tiny; whole micrometres are spread evenly.
          x: fc.integer({ min: 0, max: 300_000 }).map((v) => v / 1000),
          y: fc.integer({ min: 0, max: 200_000 }).map((v) => v / 1000),
          turnDeg: fc.integer({ min: 0, max: 359 }),
          seat: fc.constantFrom('pins' as const, 'screws' as const),
        }),
        ({ seat, ...at }) => {
          const amid = [
            { x: 100, y: 120 },
            { x: 210, y: 70 },
          ];
          const held = { ...seatStart(seat, base), at: amid } as BoardSeat;
          const bed = { ...base, board: { ...board, seat: held } };
          const rings = lightOpening([{ outer: sampledStar, holes: [] }]);
          const trouble = troubleOf(lyingAt('1', rings, { ...at, mirrored: false }), [], bed);
          const shape = polygon(sampledStar.map(bedFromBlank({ ...at, mirrored: false })));
          const inside = RelateOp.contains(polygon(boardRing(bed)), shape);
          const toEdge = inside ? DistanceOp.distance(shape, linear(boardRing(bed))) : -1;
          const clear = 0.02;
          const ofEdge = trouble.some(({ kind }) => kind === 'board');
          if (Math.abs(toEdge - bed.wallMm) > clear) expect(ofEdge).toBe(toEdge < bed.wallMm);
          for (const { what, ring, head } of seatHoles(bed)) {
            const mm = DistanceOp.distance(shape, polygon(ring));
            const under = head ? DistanceOp.distance(shape, polygon(head)) : Infinity;
            const said = trouble.some((t) => t.kind === 'hole' && t.what === what);
            if (Math.abs(mm - bed.wallMm) > clear && under > clear)
              expect(said).toBe(mm < bed.wallMm);
            if (under === 0) expect(said).toBe(true);
            told.hole += said ? 1 : 0;
          }
          told.edge += ofEdge ? 1 : 0;
          told.free += trouble.length === 0 ? 1 : 0;
        },
      ),
      { numRuns: 300 },
    );
    expect(Math.min(...Object.values(told))).toBeGreaterThan(3);
  });

  it('lie in its middle, wherever it is, and are turned over about its own', () => {
    const bed = { board: { ...board, fromZeroMm: [40, 30] as const } };
    const plan = planOn(bed);
    const box = boxOf(plan.pockets.flatMap(({ opening }) => opening.flatMap((r) => r.outer)));
    expect((box.left + box.right) / 2).toBeCloseTo(40 + 150, 2);
    expect((box.bottom + box.top) / 2).toBeCloseTo(30 + 100, 2);
    for (const axis of ['depth', 'width'] as const) {
      const { plan: back } = turnedOver(plan, axis);
      const lies = boxOf(back.pockets.flatMap(({ opening }) => opening.flatMap((r) => r.outer)));
      expect((lies.left + lies.right) / 2).toBeCloseTo(190, 2);
      expect(codesOf(back)).not.toContain('board-too-small');
    }
    // Counted from each corner, the board lies there.
    const at = (zero: BedSettings['zero']) => boardBox({ ...DEFAULT_BED, ...bed, zero });
    expect(at('top-right')).toEqual({ left: 80, right: 380, bottom: 67, top: 267 });
    expect(at('bottom-left')).toEqual({ left: 40, right: 340, bottom: 30, top: 230 });
  });

  it('is refused, or said, with the way out', () => {
    const codes = (own: Partial<BedSettings['board'] & object>, bed: Partial<BedSettings> = {}) =>
      codesOf(planOn({ board: { ...board, ...own }, ...bed }));
    expect(codes({})).toEqual([]);
    expect(codes({ widthMm: 500 })).toContain('board-beyond-bed');
    expect(codes({ fromZeroMm: [130, 0] })).toContain('board-beyond-bed');
    expect(codes({ fromZeroMm: [0.05, 0] })).toContain('board-near-page');
    expect(codes({ widthMm: 170 })).toContain('board-too-small');
    expect(codes({ widthMm: 180 })).toContain('board-edge-thin');
    const two = (a: [number, number], b: [number, number]) =>
      codes({
        seat: pins({
          at: [
            { x: a[0], y: a[1] },
            { x: b[0], y: b[1] },
          ],
        }),
      });
    expect(two([15, 190], [285, 12])).toEqual([]);
    expect(two([15, 205], [285, 12])).toContain('hole-off-board');
    expect(two([5, 190], [285, 12])).toContain('hole-edge-thin');
    expect(two([100, 130], [285, 12])).toContain('hole-meets-pocket');
    expect(two([15, 190], [15, 190])).toContain('pins-one-place');
    expect(two([15, 190], [19, 190])).toContain('holes-meet');
    // 0.05 mm of play over 10 mm turn the board by 0.005: its far corner, 330 mm off, by 1.7 mm.
    expect(two([15, 190], [25, 190])).toContain('pins-near');
    const lone = { kind: 'screws', screwMm: 4, playMm: 0.5, headMm: 9, proudMm: 2 } as const;
    expect(codes({ seat: { ...lone, at: [{ x: 12, y: 12 }] } })).toContain('screws-few');
    expect(
      codesOf(
        planOn(
          { board: { ...board, seat: pins({ pinMm: 2 }) } },
          {
            pocket: {
              ...DEFAULT_POCKET,
              material: 'acrylic',
              tool: { kind: 'mill', radiusMm: 1.5 },
            },
          },
        ),
      ),
    ).toContain('board-holes-small');
    const cutter = { name: 'small', widthMm: 250, depthMm: 250 };
    expect(codesOf(planOn({ board }, { cutter }))).toEqual(['board-over-cutter']);
    expect(codesOf(planOn({ board }, { cutter: { ...cutter, depthMm: 310 } }))).toEqual([]);
    // A board at the very edge: the pocket lies on it, the bleed beyond the print area.
    const off = planOn({
      marginMm: 0,
      wallMm: 1,
      board: { widthMm: 175.5, depthMm: 120 },
      columns: 2,
    });
    expect(codesOf(off)).toContain('off-print-area');
  });

  it('is divided into plates where it lies, its holes in them', () => {
    const plan = planOn({
      board: {
        ...board,
        fromZeroMm: [50, 40],
        seat: pins({
          at: [
            { x: 62, y: 228 },
            { x: 335, y: 52 },
          ],
        }),
      },
      wallMm: 10,
    });
    const all = [...platePockets(plan), ...plateHoles(plan)];
    const plates = platesOf(
      plan.bed,
      all,
      { ...PLATES, takesWidthMm: 200, takesDepthMm: 210 },
      0.1,
    );
    expect(plates.length).toBeGreaterThan(1);
    const whole = boxOf(
      plates.flatMap(({ box }) => [
        { x: box.left, y: box.bottom },
        { x: box.right, y: box.top },
      ]),
    );
    expect(whole).toEqual({ left: 50, bottom: 40, right: 350, top: 240 });
    expect(plates.flatMap((p) => p.pockets.map(({ id }) => id)).sort()).toEqual(
      ['1', '2', '3', '4', 'pin 1', 'slot of pin 2'].sort(),
    );
  });
});

describe('what stands proud', () => {
  const heights = {
    ...{ boardMm: 5, baseMm: 3, packerMm: 0, aboveFaceMm: 0, onBoardMm: 0, spreadMm: 0 },
    ...{ headGapMm: 1.5, headMm: null, tallestMm: null, panel: 'load' as const },
    ...{ setUpOn: 'sheet' as const, sheetMm: 0.2 },
  };
  const of = (seat: BoardSeat, more: object = {}) =>
    planOn({ board: { ...board, seat } }, { heights: { ...heights, ...more } });

  it('is the highest point where it is higher than any face, and a head set lower strikes it', () => {
    // Base 3, board 5; faces at 3 + 3.
    expect(of(pins()).heights!.highestMm).toBe(8);
    const high = of(pins({ proudMm: 2.5 }));
    expect(high.heights!.highestMm).toBe(10.5);
    expect(high.heights!.headMm).toBe(12);
    const low = of(pins({ proudMm: 2.5 }), { headMm: 10 });
    const strike = low.reasons.find(({ code }) => code === 'head-strike')!;
    expect(strike.level).toBe('refuse');
    expect(strike.message).toContain('A pin of the board reaches 0.5 mm above');
    // The operator's own figure for tape and the like stands where it is the higher one.
    expect(of(pins({ proudMm: 2.5 }), { onBoardMm: 4 }).heights!.highestMm).toBe(12);
  });

  it('is cleared by the set-up print too, where it stays on the table', () => {
    const setUp = (seat: BoardSeat, more: object = {}) => {
      const plan = of(seat, more);
      return [plan.heights!.prints[0]!.highestMm, codesOf(plan).includes('set-up-under-seat')];
    };
    expect(setUp(pins({ proudMm: 1 }))).toEqual([9, true]);
    expect(setUp({ kind: 'stop', proudMm: 0 })).toEqual([8, true]);
    const at = [
      { x: 12, y: 12 },
      { x: 288, y: 188 },
    ];
    const screws: BoardSeat = {
      ...{ kind: 'screws', screwMm: 4, playMm: 0.5, headMm: 8 },
      ...{ proudMm: 2.5, at },
    };
    expect(setUp(screws)).toEqual([0.2, false]);
    expect(setUp(screws, { setUpOn: 'board' })).toEqual([10.5, true]);
  });
});

describe('its files', () => {
  const seated = (patch: Partial<BedSettings> = {}): BedPlan =>
    planOn({
      board: {
        ...board,
        fromZeroMm: [30, 20],
        seat: pins({
          at: [
            { x: 45, y: 205 },
            { x: 315, y: 32 },
          ],
        }),
      },
      ...patch,
    });
  const hasEzdxf =
    spawnSync('/usr/bin/python3', ['-c', 'import ezdxf'], { stdio: 'ignore' }).status === 0;
  const hasPoppler = spawnSync('pdftocairo', ['-v'], { stdio: 'ignore' }).status === 0;

  // Read by ezdxf; areas by the formulas of circle, slot and rectangle, the tool 0.1 mm to the waste's side.
  it.runIf(hasEzdxf)(
    'has holes and edge in layer cut with the kerf on the side of the waste, the edge last',
    () => {
      writeFileSync(join(folder, 'cut.dxf'), dxf(cutDrawing(seated())));
      const told = JSON.parse(
        execFileSync('/usr/bin/python3', [
          '-c',
          `
import sys, json, ezdxf
from ezdxf.math import area
out = []
for e in ezdxf.readfile(sys.argv[1]).modelspace().query('LWPOLYLINE'):
    p = list(e.get_points('xy'))
    x, y = [q[0] for q in p], [q[1] for q in p]
    out.append([e.dxf.layer, bool(e.closed), abs(area(p)), min(x), min(y), max(x), max(y)])
print(json.dumps(out))
`,
          join(folder, 'cut.dxf'),
        ]).toString(),
      ) as [string, boolean, number, number, number, number, number][];
      const of = (layer: string) => told.filter(([name]) => name === layer);
      const cut = of('cut');
      const [hole, slot, edge] = cut.slice(-3) as typeof told;
      // Chords lie within a circle of radius r by at most 0.002 mm: areas fall short by less than 2 pi r times that.
      const round = (r: number): number => Math.PI * r * r;
      const short = 2 * Math.PI * 2.6 * 0.002;
      const near = (found: number, wanted: number): void => {
        expect(found).toBeLessThanOrEqual(wanted + 1e-6);
        expect(found).toBeGreaterThan(wanted - short);
      };
      const r = 5.05 / 2;
      near(hole![2], round(r - 0.1));
      near(slot![2], round(r - 0.1) + 2 * (r - 0.1) * 1);
      expect(edge!.slice(1)).toEqual([
        false,
        expect.closeTo(300.2 * 200.2, 6),
        29.9,
        19.9,
        330.1,
        220.1,
      ]);
      const [own, wall, slotted] = of('board') as typeof told;
      expect(own!.slice(1)).toEqual([true, expect.closeTo(300 * 200, 6), 30, 20, 330, 220]);
      near(wall![2], round(r));
      near(slotted![2], round(r) + 2 * r);
      expect(of('bed')[0]!.slice(3)).toEqual([0, 0, 420, 297]);
    },
  );

  it.runIf(hasPoppler)(
    'is a page as large as the bed, with every way of the board within it, by poppler',
    async () => {
      // At the very corner of the bed: both sides there are the sheet's own.
      const plan = planOn({ board: { ...board, seat: pins() } });
      writeFileSync(join(folder, 'cut.pdf'), await pdf(cutDrawing(plan)));
      execFileSync('pdftocairo', ['-svg', join(folder, 'cut.pdf'), join(folder, 'cut.svg')]);
      const text = execFileSync('cat', [join(folder, 'cut.svg')]).toString();
      const [, w, h] = /viewBox="0 0 (\S+) (\S+)"/.exec(text)!.map(Number);
      expect(w! * (25.4 / 72)).toBeCloseTo(420, 2);
      expect(h! * (25.4 / 72)).toBeCloseTo(297, 2);
      const { edge } = boardWays(plan.bed, plan.pocketSettings);
      expect(edge).toEqual([
        [
          { x: 300.1, y: 0 },
          { x: 300.1, y: 200.1 },
          { x: 0, y: 200.1 },
        ],
      ]);
    },
  );

  it('is read back in every file, and said in words', async () => {
    for (const bed of [seated().bed, { ...seated().bed, keyed: true, boards: 2 }]) {
      const jig = jigOn(bed);
      const files = await release(jig.plan, jobFacts(jig, traced, '2026-03-14'), await loadPdfjs());
      const cut = files.filter(({ name }) => name.includes('cut.') || name === 'plan.json');
      expect(cut.length).toBeGreaterThanOrEqual(5);
      for (const { proof } of cut) expect(proof!.greatestMm).toBeLessThan(0.001);
      const text = async (name: string): Promise<string> => {
        const bytes = files.find((f) => f.name === name)!.bytes;
        const doc = await (await loadPdfjs()).getDocument({ data: bytes.slice(), verbosity: 0 })
          .promise;
        const words: string[] = [];
        for (let k = 1; k <= doc.numPages; k++)
          words.push(
            ...(await (await doc.getPage(k)).getTextContent()).items.map((i) =>
              'str' in i ? i.str : '',
            ),
          );
        return words.join(' ');
      };
      for (const name of ['job-sheet.pdf', 'loading-card.pdf']) {
        const words = await text(name);
        expect(words).toContain(
          'Board 300 x 200 mm, its front left corner 30 and 20 mm from zero.',
        );
        expect(words).toMatch(/round hole goes\s+over the\s+one at 45, 205 mm/);
      }
    }
  });

  it('is matched, and a hole that was moved is found out', async () => {
    const plan = seated();
    const lines = await readLines(svg(cutDrawing(plan)), 'cut.svg', await loadPdfjs());
    const json = new TextDecoder().decode(planJson(plan));
    for (const reference of [referenceOfPlan(plan), referenceOfPlanJson(json, 'plan.json')]) {
      const match = matchLines(reference, lines, 'cut.svg');
      expect(match.verdict).toBe('agrees');
      expect(match.rows.find(({ what }) => what.includes('holes'))?.what).toBe(
        '2 of 2 holes of the board',
      );
    }
    const { seat, ...own } = plan.bed.board!;
    const moved = {
      ...plan.bed,
      board: {
        ...own,
        seat: {
          ...seat!,
          at: [
            { x: 45.2, y: 205 },
            { x: 315, y: 32 },
          ],
        } as BoardSeat,
      },
    };
    const other = await readLines(
      svg(cutDrawing({ ...plan, bed: moved })),
      'cut.svg',
      await loadPdfjs(),
    );
    const match = matchLines(referenceOfPlan(plan), other, 'cut.svg');
    expect(match.verdict).toBe('differs');
    expect(match.reasons.map(({ code }) => code)).toContain('match-holes');
  });

  it('has neither edge nor holes in a sample, which is cut from a piece that is left over', () => {
    const few = cutDrawing(samplePlan(seated(), '1'));
    expect(few.layers.find(({ name }) => name === 'cut')!.open).toEqual([]);
    expect(few.layers.flatMap(({ closed }) => closed.filter((c) => !c.pocket))).toHaveLength(1);
  });

  it('tells one board from another: a pin that was moved since is named', () => {
    const plan = seated();
    const lies = (p: BedPlan): string => {
      const { board: own } = readPlanJson(planJson(p), 'plan.json');
      return boardLies(own?.edge, own?.holes ?? []);
    };
    expect(lies(plan)).toBe('300 x 200 mm from 30, 20; pin 1 at 45, 205; slot of pin 2 at 315, 32');
    expect(lies(planOn({}))).toBe('covering the bed');
    const damaged = new TextDecoder().decode(planJson(plan)).replace('"edge":[[', '"edge":[[null,');
    const read = (): unknown => readPlanJson(new TextEncoder().encode(damaged), 'plan.json');
    expect(read).toThrow(/its board has no edge/);
    for (const zero of ZERO_CORNERS) {
      const bed = { ...plan.bed, zero };
      const { edge } = readPlanJson(planJson({ ...plan, bed }), 'plan.json').board!;
      expect(boardBox({ ...bed, board: boardFrom(edge, bed) })).toEqual(boardBox(bed));
    }
  });

  it('goes through the board where pockets are blind, on a layer of its own', () => {
    const plan = planOn(
      {
        board: {
          ...board,
          fromZeroMm: [30, 20],
          seat: seatStart('screws', { ...DEFAULT_BED, board: { ...board, fromZeroMm: [30, 20] } }),
        },
      },
      {
        pocket: {
          ...DEFAULT_POCKET,
          hold: 'blind',
          depthMm: 3,
          tool: { kind: 'mill', radiusMm: 1.5 },
        },
      },
    );
    const { layers } = cutDrawing(plan);
    const layer = (name: string) => layers.find((l) => l.name === name)!;
    expect(layer('cut').closed.every(({ pocket }) => pocket !== undefined)).toBe(true);
    expect(layer('cut').open).toEqual([]);
    expect(layer('through').closed).toHaveLength(2);
    expect(layer('through').open).toHaveLength(1);
    expect(eps(cutDrawing(plan)).length).toBeGreaterThan(0);
  });
});

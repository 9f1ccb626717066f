import GeometryFactory from 'jsts/org/locationtech/jts/geom/GeometryFactory.js';
import Coordinate from 'jsts/org/locationtech/jts/geom/Coordinate.js';
import DistanceOp from 'jsts/org/locationtech/jts/operation/distance/DistanceOp.js';
import { beforeAll, describe, expect, it } from 'vitest';
import type { Clipper } from '../../src/geometry/clipper.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { boxOf, mapRegion } from '../../src/geometry/measure.ts';
import type { Ring } from '../../src/geometry/shape.ts';
import { leftOver, makeJig, nestJig, DEFAULT_BED, DEFAULT_POCKET } from '../../src/job/jig.ts';
import { filling, nest, type NestPart, type NestSettings } from '../../src/plan/nest.ts';
import { bedFromBlank, keepOutRing } from '../../src/plan/plan-bed.ts';
import type { FreePlace } from '../../src/plan/plan.ts';
import { boxed, setOf, usedBy } from '../bench/nest.ts';
import { hasOpenData } from '../open-data.ts';
import { outlineOf, plaque } from '../outlines.ts';

let clipper: Clipper;
beforeAll(async () => {
  clipper = await loadClipper();
});

/* Distances by jsts, which shares no code with the nesting. */
const factory = new GeometryFactory();
const polygon = (ring: Ring<'bed'>): unknown =>
  factory.createPolygon(
    factory.createLinearRing([...ring, ring[0]!].map(({ x, y }) => new Coordinate(x, y))),
    [],
  );
const apart = (a: Ring<'bed'>, b: Ring<'bed'>): number =>
  DistanceOp.distance(polygon(a), polygon(b));

/** A letter L and a bar that fits into its bay; their boxes cannot share the board. */
const ell: NestPart = {
  blank: 1,
  count: 6,
  opening: [
    {
      outer: [
        [0, 0],
        [60, 0],
        [60, 20],
        [20, 20],
        [20, 60],
        [0, 60],
      ].map(([x, y]) => ({ x: x! - 20, y: y! - 20 })),
      holes: [],
    },
  ],
};
const bar: NestPart = {
  blank: 2,
  count: 4,
  opening: [
    {
      outer: [
        { x: -15, y: -10 },
        { x: 15, y: -10 },
        { x: 15, y: 10 },
        { x: -15, y: 10 },
      ],
      holes: [],
    },
  ],
};
const settings: NestSettings = {
  widthMm: 220,
  depthMm: 400,
  wallMm: 4,
  marginMm: 6,
  turnsDeg: [0, 90, 180, 270],
};

const ringsAt = (parts: readonly NestPart[], places: readonly FreePlace[]): Ring<'bed'>[] =>
  places.map((place) => {
    const { opening } = parts.find(({ blank }) => blank === place.blank)!;
    return mapRegion(opening[0]!, bedFromBlank(place)).outer;
  });

function leastWall(rings: readonly Ring<'bed'>[]): number {
  let least = Infinity;
  rings.forEach((a, i) => {
    for (const b of rings.slice(i + 1)) least = Math.min(least, apart(a, b));
  });
  return least;
}

describe('nesting', () => {
  it('keeps walls, margin, places to keep out of, quantities and allowed turns', () => {
    const keepOuts = [{ what: 'clamp', xMm: 80, yMm: 0, widthMm: 30, depthMm: 40 }];
    const parts = [ell, bar];
    for (const turnsDeg of [[0], [0, 180], [0, 90, 180, 270], [0, 45, 90, 135]]) {
      const { places, left } = nest(
        clipper,
        parts,
        { ...settings, keepOuts, turnsDeg },
        undefined,
        12,
      );
      const rings = ringsAt(parts, places);
      expect(left).toEqual({});
      expect(places.filter((p) => p.blank === 1)).toHaveLength(6);
      expect(places.filter((p) => p.blank === 2)).toHaveLength(4);
      expect(leastWall(rings)).toBeGreaterThanOrEqual(4);
      const clamp = keepOutRing(keepOuts[0]!);
      expect(Math.min(...rings.map((r) => apart(r, clamp)))).toBeGreaterThanOrEqual(2);
      const box = boxOf(rings.flat());
      expect(Math.min(box.left, box.bottom, 220 - box.right, 400 - box.top)).toBeGreaterThanOrEqual(
        6,
      );
      for (const { turnDeg } of places) expect(turnsDeg).toContain(turnDeg);
    }
  });

  it('lays a bar into the bay of another shape, which its box would not allow', () => {
    // 61 mm of room: the L takes it whole, and the bar can lie nowhere but in its bay.
    const narrow = { ...settings, widthMm: 73, depthMm: 73, marginMm: 6, turnsDeg: [0] };
    const one = [
      { ...ell, count: 1 },
      { ...bar, count: 1 },
    ];
    expect(nest(clipper, one, narrow).left).toEqual({});
    expect(nest(clipper, boxed(one), narrow).left).toEqual({ 2: 1 });
  });

  it('gives the same places again, tells how far it is, and counts what finds no room', () => {
    const told: number[] = [];
    const small = { ...settings, depthMm: 100 };
    const once = nest(clipper, [ell, bar], small, (_, done) => told.push(done), 12);
    expect(nest(clipper, [ell, bar], small, undefined, 12)).toEqual(once);
    expect(told.length).toBeGreaterThan(3);
    const lost = Object.values(once.left).reduce((a, b) => a + b, 0);
    expect(lost).toBeGreaterThan(0);
    expect(once.places.length + lost).toBe(10);
    expect(leftOver(once)?.message).toMatch(new RegExp(`^${lost} of 10 pieces find no room`));
    expect(nest(clipper, [{ ...ell, count: 0 }], small)).toEqual({ places: [], left: {} });
  });

  it('fills a board with as many as fit: squares of 40 with walls of 4 in rows of four', () => {
    const square = {
      ...bar,
      opening: [
        {
          outer: keepOutRing({ what: '', xMm: -20, yMm: -20, widthMm: 40, depthMm: 40 }).map(
            ({ x, y }) => ({ x, y }),
          ),
          holes: [],
        },
      ],
      count: 1,
    };
    const board = { ...settings, widthMm: 6 + 4 * 44 - 4 + 6 + 1, depthMm: 6 + 3 * 44 - 4 + 6 + 1 };
    const { places } = nest(clipper, filling([square], board), board);
    expect(places).toHaveLength(12);
    const used = usedBy(clipper, [{ ...square, count: 12 }], places, board);
    // Twelve squares of 1600 mm² in a board as wide as the room inside the margins.
    expect(used.share).toBeCloseTo((12 * 1600) / used.boardMm2, 9);
    expect(used.boardMm2).toBeCloseTo(173 * used.depthMm, 9);
    expect(used.bound).toBeGreaterThanOrEqual(used.share);
  });

  it.runIf(hasOpenData('silhouettes/mpeg7'))(
    'uses more of the board than the boxes of irregular blanks, below its bound',
    async () => {
      // Twenty sets of fifty: npm run bench -- --nest.
      const parts = await setOf(3, 12);
      const board = { ...settings, depthMm: 1000 };
      const [true_, boxes] = [parts, boxed(parts)].map((p) => {
        const { places } = nest(clipper, p, board, undefined, 12);
        return { places, used: usedBy(clipper, parts, places, board) };
      });
      expect(true_!.places).toHaveLength(12);
      expect(leastWall(ringsAt(parts, true_!.places))).toBeGreaterThanOrEqual(4);
      expect(true_!.used.share).toBeGreaterThan(boxes!.used.share + 0.05);
      expect(true_!.used.share).toBeLessThan(true_!.used.bound);
    },
  );
});

describe('a bed of places', () => {
  it('is planned as it was nested, and says what it uses', () => {
    const traced = { outlines: [outlineOf(plaque)], verdict: 'ok', reasons: [] } as const;
    const bed = { ...DEFAULT_BED, rows: 2, columns: 2 };
    const asked = { job: { number: '1', name: 'T' }, pocket: DEFAULT_POCKET, bed };
    const { places } = nestJig(clipper, traced, asked, false);
    const { plan } = makeJig(clipper, traced, {
      ...asked,
      bed: { ...bed, layout: 'free', places },
    });
    expect(plan.pockets).toHaveLength(4);
    expect(plan.reasons.filter(({ level }) => level === 'refuse')).toEqual([]);
    expect(plan.pockets.map(({ place }) => place)).toEqual(
      places.map(({ x, y, turnDeg, mirrored }) => ({ x, y, turnDeg, mirrored })),
    );
    expect(plan.usage!.share).toBeGreaterThan(0.2);
    expect(nestJig(clipper, traced, asked, true).places.length).toBeGreaterThanOrEqual(4);
  });
});

/*
 * What must hold for every pocket, as one function of a random case, so that the gate tries a hundred and
 * `npm run pockets -- --long` ten thousand. Distances are measured from points on the lines to the lines of the other ring, by
 * this file's own arithmetic; nothing of the offset library is asked whether it was right.
 */
import fc from 'fast-check';
import type { Clipper } from '../../src/geometry/clipper.ts';
import { boxOf, insideRegion, selfCrossing } from '../../src/geometry/measure.ts';
import { Nearest } from '../../src/geometry/nearest.ts';
import type { Region, Ring } from '../../src/geometry/shape.ts';
import { pocketOf, toolRadiusMm } from '../../src/pocket/pocket-of.ts';
import { planBed } from '../../src/plan/plan-bed.ts';
import { STEPS, type Step } from '../../src/plan/plan.ts';
import { CORNERS, RELIEFS, type PocketSettings, type Tool } from '../../src/pocket/pocket.ts';

/** "never less by more than" of the project's own promise, mm. */
export const LEAST_ERROR_MM = 0.002;

/** Radii at equal angles: spiky at few, wavy at many; square corners where `square`; and one round hole or none. */
export interface Case {
  readonly radii: readonly number[];
  readonly square: boolean;
  /** Edges are cut into pieces of this length, as traced outlines are; 0: only their corners are vertices, mm. */
  readonly stepMm: number;
  readonly hole: number;
  /** Where the stretch that no picture saw begins and ends, as shares of the vertices. */
  readonly unseen: readonly [number, number];
  readonly band: readonly number[];
  readonly layout: Step;
  readonly settings: PocketSettings;
}

/** How high the walls of every case stand, mm. */
const WALL_HIGH_MM = 4;

const real = (min: number, max: number) => fc.double({ min, max, noNaN: true });

const tool: fc.Arbitrary<Tool> = fc.oneof(
  fc.record({ kind: fc.constant('beam' as const), kerfMm: real(0, 0.6) }),
  fc.record({ kind: fc.constant('knife' as const), kerfMm: real(0, 0.6) }),
  fc.record({ kind: fc.constant('mill' as const), radiusMm: real(0.25, 3) }),
  fc.constant({ kind: 'hand' as const }),
);

export const cases: fc.Arbitrary<Case> = fc.record({
  radii: fc.array(real(22, 60), { minLength: 5, maxLength: 60 }),
  square: fc.boolean(),
  stepMm: fc.oneof(fc.constant(0), real(0.3, 3)),
  unseen: fc.tuple(real(0, 0.999), real(0, 0.999)),
  hole: fc.oneof(fc.constant(0), real(2, 9)),
  band: fc.array(real(0, 0.4), { minLength: 3, maxLength: 12 }),
  layout: fc.constantFrom(...STEPS),
  settings: fc.record({
    clearanceMm: real(0, 1.5),
    along: fc.oneof(
      { weight: 2, arbitrary: fc.constant([]) },
      fc.array(
        fc
          .record({ from: real(0, 0.999), long: real(0.01, 0.95), clearanceMm: real(0, 2.5) })
          .map(({ from, long, clearanceMm }) => ({
            blank: 1,
            from,
            to: (from + long) % 1,
            clearanceMm,
          })),
        { minLength: 1, maxLength: 2 },
      ),
    ),
    tool,
    bleedMm: fc.constant(2),
    safeMm: fc.constant(1),
    widen: fc.constantFrom('none' as const, 'hidden' as const, 'all' as const),
    posts: fc.boolean(),
    relief: fc.constantFrom(...RELIEFS),
    corners: fc.constantFrom(...CORNERS),
    draftDeg: fc.oneof(fc.constant(0), real(0, 15)),
    chamferMm: fc.oneof(fc.constant(0), real(0, 2)),
    notches: fc.oneof(
      fc.constant([]),
      fc.constant({ radiusMm: 7, reachMm: 7 }),
      fc.array(
        real(0, 1).map((at) => ({ at, radiusMm: 6, reachMm: 11 })),
        { minLength: 1, maxLength: 3 },
      ),
    ),
    hold: fc.constantFrom('base' as const, 'blind' as const),
    leadInMm: fc.constantFrom(0, 3),
    tabs: fc.constantFrom(0, 3),
    tabMm: fc.constant(1),
  }),
});

/** Every edge cut into equal pieces no longer than this; as it is for 0. */
function divided(ring: Ring<'sheet'>, stepMm: number): Ring<'sheet'> {
  return ring.flatMap((a, k) => {
    const b = ring[(k + 1) % ring.length]!;
    const n = stepMm > 0 ? Math.ceil(Math.hypot(b.x - a.x, b.y - a.y) / stepMm) : 1;
    return Array.from({ length: n }, (_, i) => ({
      x: a.x + ((b.x - a.x) * i) / n,
      y: a.y + ((b.y - a.y) * i) / n,
    }));
  });
}

export function regionOf({ radii, square, hole, stepMm }: Case): Region<'sheet'> {
  const corners = square
    ? [
        [-radii[0]!, -radii[1]!],
        [radii[0]!, -radii[1]!],
        [radii[0]!, radii[2]!],
        [-radii[0]!, radii[2]!],
      ].map(([x, y]) => ({ x: 100 + x!, y: 100 + y! }))
    : radii.map((r, k) => {
        const t = (2 * Math.PI * k) / radii.length;
        return { x: 100 + r * Math.cos(t), y: 100 + r * Math.sin(t) };
      });
  const ring = (r: number): Ring<'sheet'> =>
    Array.from({ length: 60 }, (_, k) => {
      const t = (-2 * Math.PI * k) / 60;
      return { x: 100 + r * Math.cos(t), y: 100 + r * Math.sin(t) };
    });
  return { outer: divided(corners, stepMm), holes: hole > 0 ? [ring(hole)] : [] };
}

/** Vertices, and points between them no more than `stepMm` apart, with the share of the way from one to the next. */
function walk(ring: Ring<'blank'>, stepMm: number) {
  return ring.flatMap((a, k) => {
    const b = ring[(k + 1) % ring.length]!;
    const n = Math.max(1, Math.ceil(Math.hypot(b.x - a.x, b.y - a.y) / stepMm));
    return Array.from({ length: n }, (_, i) => ({
      k,
      t: i / n,
      x: a.x + ((b.x - a.x) * i) / n,
      y: a.y + ((b.y - a.y) * i) / n,
    }));
  });
}

/**
 * The clearance asked for at a place, by arc length from the rightmost vertex: that of the pocket, or of the stretches it lies on,
 * the greatest of them.
 */
function askedAlong(ring: Ring<'blank'>, { clearanceMm, along = [] }: PocketSettings) {
  const start = ring.reduce((best, p, k) => (p.x > ring[best]!.x ? k : best), 0);
  const places = new Map<number, number>();
  let whole = 0;
  for (let i = 0; i < ring.length; i++) {
    const k = (start + i) % ring.length;
    const [a, b] = [ring[k]!, ring[(k + 1) % ring.length]!];
    places.set(k, whole);
    whole += Math.hypot(b.x - a.x, b.y - a.y);
  }
  return ({ k, x, y }: { k: number; x: number; y: number }): number => {
    const at = (places.get(k)! + Math.hypot(x - ring[k]!.x, y - ring[k]!.y)) / whole;
    const on = along.filter(({ from, to }) =>
      from <= to ? at > from && at < to : at > from || at < to,
    );
    return on.length > 0 ? Math.max(...on.map((s) => s.clearanceMm)) : clearanceMm;
  };
}

const ringsOf = (regions: readonly Region<'blank'>[]): Ring<'blank'>[] =>
  regions.flatMap(({ outer, holes }) => [outer, ...holes]);

/** What a case showed, for the script's account. */
export interface Shown {
  readonly broken: readonly string[];
  readonly leastMarginMm: number;
  readonly relieved: number;
  readonly posts: number;
  readonly notches: number;
  /** Stretches with a clearance of their own. */
  readonly along: number;
  /** Corners of rectangles that a mill had to clear. */
  readonly squareCorners: number;
}

export function check(clipper: Clipper, given: Case): Shown {
  const broken: string[] = [];
  const say = (ok: boolean, words: string): void => {
    if (!ok) broken.push(words);
  };
  const { settings } = given;
  const region = regionOf(given);
  const n = region.outer.length;
  const band = Float64Array.from({ length: n }, (_, k) => given.band[k % given.band.length]!);
  const [from, to] = given.unseen.map((share) => Math.floor(share * n)) as [number, number];
  const hidden = [{ ring: 0, from, to }];
  const pocket = pocketOf(
    clipper,
    {
      outlineId: 'o',
      blank: 1,
      region,
      band: [band, ...region.holes.map((h) => h.map(() => 0.05))],
      hidden,
    },
    region,
    settings,
    { wallMm: WALL_HIGH_MM },
  );
  const all = [...pocket.wall, ...pocket.cut, ...pocket.bleed, ...pocket.safe, pocket.print];
  const steps = ringsOf(all).flatMap((ring) =>
    ring.map((p, k) => {
      const q = ring[(k + 1) % ring.length]!;
      return Math.hypot(q.x - p.x, q.y - p.y);
    }),
  );
  say(Math.min(...steps) > 0.0004, `vertices ${Math.min(...steps)} mm apart`);
  const radius = toolRadiusMm(settings.tool);
  const { wall, cut, print, unreached, relief, opening, notches, mouth } = pocket;
  const seat = print.outer;
  const holesOfWall = wall.flatMap((r) => r.holes);

  // 1. The pocket contains the outline, with the clearance and what was asked to be added, everywhere.
  say(wall.length === 1, `the wall is in ${wall.length} pieces`);
  const toWall = new Nearest(
    wall.map((r) => r.outer),
    2,
  );
  let leastMarginMm = Infinity;
  const addedAt = (k: number): number =>
    settings.widen === 'all' ||
    (settings.widen === 'hidden' && (from <= to ? k >= from && k <= to : k >= from || k <= to))
      ? band[k]!
      : 0;
  const { along = [] } = settings;
  const clearanceAt = askedAlong(seat, settings);
  const places = walk(seat, along.length > 0 ? 0.5 : 2);
  for (const p of places) {
    say(
      wall.some((r) => insideRegion({ outer: r.outer, holes: [] }, p)) || clearanceAt(p) < 1e-3,
      'the outline leaves the pocket',
    );
    const asked = clearanceAt(p) + (1 - p.t) * addedAt(p.k) + p.t * addedAt((p.k + 1) % n);
    leastMarginMm = Math.min(leastMarginMm, toWall.distance(p.x, p.y) - asked);
  }
  say(leastMarginMm >= -LEAST_ERROR_MM, `the clearance is short by ${-leastMarginMm}`);

  // A mitred corner of 60 degrees reaches twice as far; sharper ones are cut off before that.
  const reach = settings.corners === 'mitred' ? 2 : 1;
  // Without notches and additions the wall is nowhere farther than the clearance either, to the arc tolerance.
  if (settings.widen === 'none' && notches.length === 0 && along.length === 0) {
    const toSeat = new Nearest([seat], 2);
    const most = Math.max(...wall[0]!.outer.map((p) => toSeat.distance(p.x, p.y)));
    say(most <= reach * settings.clearanceMm + LEAST_ERROR_MM, `the wall lies ${most} off`);
  }
  // With additions it is nowhere farther than the largest of them.
  if (notches.length === 0) {
    const toSeat = new Nearest([seat], 2);
    const largest = Math.max(...Array.from({ length: n }, (_, k) => addedAt(k)));
    const most = Math.max(...wall[0]!.outer.map((p) => toSeat.distance(p.x, p.y)));
    say(
      most <=
        reach * (Math.max(settings.clearanceMm, ...along.map((s) => s.clearanceMm)) + largest) +
          0.003,
      `the wall lies ${most} off, with ${largest} added at most`,
    );
  }
  // Where walls lean or are chamfered, they end above by so much farther out, and all of the wall lies within.
  const outMm =
    WALL_HIGH_MM * Math.tan(((settings.draftDeg ?? 0) * Math.PI) / 180) + (settings.chamferMm ?? 0);
  say(mouth.length > 0 === outMm > 0, 'the mouth is not where it should be');
  if (mouth.length > 0) {
    const toMouth = new Nearest(ringsOf(mouth), 2);
    for (const ring of ringsOf(wall))
      for (const p of walk(ring, 2)) {
        const d = toMouth.distance(p.x, p.y);
        say(d >= outMm - LEAST_ERROR_MM, `the mouth lies ${d} from the wall, not ${outMm}`);
      }
  }
  // Posts keep the clearance to the hole's edge, on their side of it.
  if (holesOfWall.length > 0) {
    const toHole = new Nearest(print.holes, 2);
    const own = settings.widen === 'all' ? 0.05 : 0;
    for (const post of holesOfWall)
      for (const p of walk(post, 0.5)) {
        // Without clearance its edge is the hole's own.
        say(settings.clearanceMm < 1e-3 || !insideRegion(print, p), 'a post stands in the blank');
        const gap = toHole.distance(p.x, p.y);
        say(gap >= settings.clearanceMm + own - LEAST_ERROR_MM, `a post is ${gap} from its hole`);
      }
  }

  // 2. Cut path and kerf give the pocket back: everywhere on the path the wall is one radius away, and every place of
  //    the wall is one radius from the path unless the cutter was said not to reach it.
  if (cut.length > 0) {
    const walls = new Nearest(ringsOf(wall), 2);
    const path = new Nearest(ringsOf(cut), 2);
    for (const ring of ringsOf(cut)) {
      for (const p of walk(ring, 2)) {
        const d = walls.distance(p.x, p.y);
        // Path and wall each err outward by up to one arc tolerance.
        say(
          Math.abs(d - radius) <= LEAST_ERROR_MM,
          `the path runs ${d} from the wall, not ${radius}`,
        );
      }
    }
    const left = unreached.map((r) => new Nearest([r.outer], 2));
    const reliefs = relief.length > 0;
    for (const ring of ringsOf(wall))
      for (const p of walk(ring, 2)) {
        const gap = path.distance(p.x, p.y) - radius;
        if (gap <= 0.0125) continue;
        const said =
          unreached.some((r) => insideRegion(r, p)) ||
          left.some((r) => r.distance(p.x, p.y) < 0.02) ||
          reliefs;
        const fell = pocket.reasons.some((r) => r.code === 'cut-falls-apart');
        say(said || fell, `the wall is missed by ${gap} and nobody says so`);
      }
  }

  // 3. Nothing crosses itself.
  for (const [name, rings] of [
    ['wall', ringsOf(wall)],
    ['cut', ringsOf(cut)],
    ['opening', ringsOf(opening)],
  ] as const)
    for (const ring of rings) say(!selfCrossing(ring), `the ${name} crosses itself`);

  // 4. Relief lets a square corner in: every corner of the rectangle lies within what the cutter clears.
  let squareCorners = 0;
  if (
    given.square &&
    settings.tool.kind === 'mill' &&
    settings.relief !== 'none' &&
    cut.length > 0
  ) {
    const path = new Nearest(ringsOf(cut), 2);
    const apart = (p: { x: number; y: number }): number =>
      Math.min(
        path.distance(p.x, p.y),
        ...relief.map(([a, b]) => {
          const [dx, dy] = [b.x - a.x, b.y - a.y];
          const t = Math.max(
            0,
            Math.min(1, ((p.x - a.x) * dx + (p.y - a.y) * dy) / (dx * dx + dy * dy || 1)),
          );
          return Math.hypot(p.x - a.x - t * dx, p.y - a.y - t * dy);
        }),
      );
    // A notch set on a corner leaves walls there that a cutter may not clear; then it is said.
    const said = notches.length > 0 && pocket.reasons.some(({ code }) => code === 'corner-blocks');
    squareCorners = said ? 0 : 4;
    for (const p of seat)
      say(
        said || cut.some((r) => insideRegion(r, p)) || apart(p) <= radius + 0.0125,
        `a square corner stands out by ${apart(p) - radius}`,
      );
  }

  // 5. What a trail follows lies on the cut path, but for the lead-in's first point.
  if (cut.length > 0) {
    const path = new Nearest(ringsOf(cut), 2);
    for (const { points } of pocket.trails) {
      const off = points.filter((p) => path.distance(p.x, p.y) > 1e-4);
      say(off.length <= 1 && (off.length === 0 || off[0] === points[0]), 'a trail leaves the path');
    }
  }
  // 6. On the bed nothing that is opened, notches and relief included, comes nearer to a neighbour than the wall.
  if (notches.length > 0 || relief.length > 0) {
    const WALL = 4;
    const bed = {
      widthMm: 2000,
      depthMm: 2000,
      zero: 'bottom-left' as const,
      rows: 2,
      columns: 3,
      wallMm: WALL,
      marginMm: 5,
      layout: given.layout,
    };
    const { pockets } = planBed([{ blank: 1, pocket, count: 6 }], settings, bed, {
      number: '1',
      name: '',
    });
    // The middle of the upper row has a neighbour of every kind.
    const all = pockets.map((p) => p.opening.map((r) => r.outer));
    const first = all[1];
    const near = new Nearest(first!, 2);
    const box = boxOf(first!.flat());
    for (const ring of all.filter((rings) => rings !== first).flat()) {
      // What lies farther than this from the box of the first is no neighbour of it.
      const close = ring.filter(
        ({ x, y }) =>
          x > box.left - 2 * WALL &&
          x < box.right + 2 * WALL &&
          y > box.bottom - 2 * WALL &&
          y < box.top + 2 * WALL,
      );
      const gap = Math.min(Infinity, ...close.map((p) => near.distance(p.x, p.y, WALL)));
      say(gap >= WALL - LEAST_ERROR_MM, `an opening comes within ${gap} of its neighbour`);
      say(
        !close.some((p) => first!.some((outer) => insideRegion({ outer, holes: [] }, p))),
        'an opening lies in its neighbour',
      );
    }
  }
  return {
    broken: [...new Set(broken)],
    leastMarginMm,
    relieved: relief.length,
    posts: holesOfWall.length,
    notches: notches.length,
    along: along.length,
    squareCorners,
  };
}

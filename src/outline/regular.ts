import type { Point } from '../base/measure.ts';
import { fitCircle } from '../geometry/circle.ts';
import { cutAt, nearestOnCurve, reversed } from '../geometry/cut-curve.ts';
import { fitCurves } from '../geometry/fit.ts';
import {
  centroid,
  nearestOnSegment,
  nearestVertex,
  perimeter,
  resample,
  signedArea,
  smallestRectangle,
} from '../geometry/measure.ts';
import { Nearest } from '../geometry/nearest.ts';
import type { CurveRing, Ring, Segment } from '../geometry/shape.ts';

/** Shapes that an edge can be taken for. */
export const SHAPES = ['circle', 'rounded rectangle', 'symmetric'] as const;
export type Shape = (typeof SHAPES)[number];

type P = Point<'sheet'>;
type Curve = CurveRing<'sheet'>;

/** The curve of a shape that comes nearest to a ring, turned as the ring; undefined where there is none. */
export function regular(ring: Ring<'sheet'>, shape: Shape): Curve | undefined {
  if (shape === 'circle') return circle(ring);
  if (shape === 'rounded rectangle') return roundedRectangle(ring);
  return symmetric(ring);
}

/** Steps along the edge at which it is looked at, mm. */
const STEP_MM = 0.5;

function circle(ring: Ring<'sheet'>): Curve | undefined {
  const found = fitCircle(resample(ring, STEP_MM));
  if (!found) return undefined;
  const { centre, radiusMm: r } = found;
  const half = signedArea(ring) > 0 ? Math.PI : -Math.PI;
  const start = { x: centre.x + r, y: centre.y };
  return {
    start,
    segments: [
      { kind: 'arc', to: { x: centre.x - r, y: centre.y }, centre, sweepRad: half },
      { kind: 'arc', to: start, centre, sweepRad: half },
    ],
  };
}

/**
 * Sides through the middle halves of the ring's, at right angles, least squares; the corners' radius from what they leave of the
 * rectangle's area: (4 - π) r².
 */
function roundedRectangle(ring: Ring<'sheet'>): Curve | undefined {
  const points = resample(ring, STEP_MM);
  const { longMm, shortMm, longDirectionRad } = smallestRectangle(ring);
  const middle = centroid(ring);
  let turn = longDirectionRad;
  // Along (u) and across (v) the long side, from the middle.
  const turned = (p: P): { u: number; v: number } => {
    const [x, y] = [p.x - middle.x, p.y - middle.y];
    const [c, s] = [Math.cos(turn), Math.sin(turn)];
    return { u: c * x + s * y, v: c * y - s * x };
  };
  const sides = (): { u: number; v: number }[][] => {
    const all = points.map(turned);
    const long = all.filter(({ u }) => Math.abs(u) < longMm / 4);
    const short = all.filter(({ v }) => Math.abs(v) < shortMm / 4);
    return [
      long.filter(({ v }) => v < 0),
      short.filter(({ u }) => u > 0),
      long.filter(({ v }) => v > 0),
      short.filter(({ u }) => u < 0),
    ];
  };
  for (let round = 0; round < 3; round++) {
    // The common slope of all four sides, those across turned by a right angle.
    let [above, below] = [0, 0];
    for (const [k, side] of sides().entries()) {
      if (side.length < 3) return undefined;
      const along = side.map(({ u, v }) => (k % 2 === 0 ? u : v));
      const off = side.map(({ u, v }) => (k % 2 === 0 ? v : -u));
      const [ma, mo] = [mean(along), mean(off)];
      along.forEach((a, i) => {
        above += (a - ma) * (off[i]! - mo);
        below += (a - ma) ** 2;
      });
    }
    turn += Math.atan2(above, below);
  }
  const [bottom, right, top, left] = sides().map((side, k) =>
    mean(side.map(({ u, v }) => (k % 2 === 0 ? v : u))),
  ) as [number, number, number, number];
  const [w, h] = [right - left, top - bottom];
  const missing = w * h - Math.abs(signedArea(ring));
  const r = Math.min(Math.sqrt(Math.max(0, missing) / (4 - Math.PI)), w / 2, h / 2);
  // With next to no sides it is a circle.
  if (Math.max(w, h) - 2 * r < 0.1 * r) return undefined;
  const place = (u: number, v: number): P => ({
    x: middle.x + u * Math.cos(turn) - v * Math.sin(turn),
    y: middle.y + u * Math.sin(turn) + v * Math.cos(turn),
  });
  const start = place(left + r, bottom);
  const segments: Segment<'sheet'>[] = [];
  const corners = [
    [right - r, bottom + r, right - r, bottom, right, bottom + r],
    [right - r, top - r, right, top - r, right - r, top],
    [left + r, top - r, left + r, top, left, top - r],
    [left + r, bottom + r, left, bottom + r, left + r, bottom],
  ] as const;
  for (const [cu, cv, au, av, bu, bv] of corners) {
    segments.push({ kind: 'line', to: place(au, av) });
    if (r > LEAST_RADIUS_MM)
      segments.push({
        kind: 'arc',
        to: place(bu, bv),
        centre: place(cu, cv),
        sweepRad: Math.PI / 2,
      });
  }
  const made = { start, segments };
  return signedArea(ring) > 0 ? made : reversed(made);
}

/** A smaller radius is a sharp corner, mm. */
const LEAST_RADIUS_MM = 0.05;

/** The mean curve has a corner where it turns by more, radians. */
const CORNER_RAD = 0.3;

const mean = (of: readonly number[]): number => of.reduce((a, b) => a + b, 0) / of.length;

/** Directions tried for the axis of symmetry over half a turn. */
const DIRECTIONS = 90;
/** Curves follow the mean of both sides this closely, mm. */
const FIT_MM = 0.01;

/** The place of a finely divided ring nearest to a point: beside its nearest vertex. */
function footOn(ring: Ring<'sheet'>, p: P): P {
  const n = ring.length;
  const k = nearestVertex(ring, p);
  const [before, after] = [(k + n - 1) % n, (k + 1) % n].map((other) =>
    nearestOnSegment<'sheet'>(ring[k]!, ring[other]!, p),
  ) as [ReturnType<typeof nearestOnSegment<'sheet'>>, ReturnType<typeof nearestOnSegment<'sheet'>>];
  return before.distanceMm < after.distanceMm ? before.at : after.at;
}

/** A ring whose mirror image lies farther from it, on the quadratic mean, than this share of its length is not symmetric. */
const LIKE_SHARE = 0.003;

/** The ring as the mean of itself and its mirror image, about the axis through its centroid that fits best. */
function symmetric(ring: Ring<'sheet'>): Curve | undefined {
  const middle = centroid(ring);
  const points = resample(ring, STEP_MM);
  const some = points.filter((_, k) => k % Math.max(1, Math.floor(points.length / 150)) === 0);
  // Mirror images about a wrong axis lie far away: coarse cells.
  const near = new Nearest([points], perimeter(ring) / 40);
  const mirror = (p: P, a: number, off: number): P => {
    const n = { x: -Math.sin(a), y: Math.cos(a) };
    const d = (p.x - middle.x) * n.x + (p.y - middle.y) * n.y - off;
    return { x: p.x - 2 * d * n.x, y: p.y - 2 * d * n.y };
  };
  const misfit = (a: number, off: number): number =>
    some.reduce((sum, p) => {
      const q = mirror(p, a, off);
      return sum + near.distance(q.x, q.y) ** 2;
    }, 0);
  let best = { a: 0, off: 0, cost: Infinity };
  const tried = (a: number, off: number): boolean => {
    const cost = misfit(a, off);
    if (cost >= best.cost) return false;
    best = { a, off, cost };
    return true;
  };
  for (let k = 0; k < DIRECTIONS; k++) tried((k * Math.PI) / DIRECTIONS, 0);
  for (let step = Math.PI / DIRECTIONS / 2, by = 0.5; step > 1e-6; step /= 2, by /= 2) {
    for (let again = true; again;) {
      const { a, off } = best;
      if (Math.sqrt(best.cost / some.length) > LIKE_SHARE * perimeter(ring)) return undefined;
      again = [
        tried(a + step, off),
        tried(a - step, off),
        tried(a, off + by),
        tried(a, off - by),
      ].some(Boolean);
    }
  }
  const { a, off } = best;
  const other = [...points].reverse().map((p) => mirror(p, a, off));
  const halfway = points.map((p) => {
    const at = footOn(other, p);
    return { x: (p.x + at.x) / 2, y: (p.y + at.y) / 2 };
  });
  const n = halfway.length;
  const corner = Uint8Array.from(halfway, (p, k) => {
    const [q, r] = [halfway[(k + n - 1) % n]!, halfway[(k + 1) % n]!];
    const turn = Math.atan2(
      (p.x - q.x) * (r.y - p.y) - (p.y - q.y) * (r.x - p.x),
      (p.x - q.x) * (r.x - p.x) + (p.y - q.y) * (r.y - p.y),
    );
    return Math.abs(turn) > CORNER_RAD ? 1 : 0;
  });
  const whole = fitCurves<'sheet'>({ points: halfway, corner, sigmaMm: 1e-3 }, FIT_MM).curve;
  // One side, from axis to axis, and its mirror image back.
  const side = (p: P): number =>
    -Math.sin(a) * (p.x - middle.x) + Math.cos(a) * (p.y - middle.y) - off;
  const crossings = halfway.flatMap((p, k) => {
    const q = halfway[(k + 1) % n]!;
    const [s, t] = [side(p), side(q)];
    if (s > 0 === t > 0) return [];
    const f = s / (s - t);
    return [{ x: p.x + f * (q.x - p.x), y: p.y + f * (q.y - p.y), up: t > s }];
  });
  if (crossings.length !== 2) return undefined;
  const enter = crossings.find((c) => c.up)!;
  const leave = crossings.find((c) => !c.up)!;
  const [there] = cutAt(whole, nearestOnCurve(whole, enter), nearestOnCurve(whole, leave));
  const onAxis = (p: P): P => {
    const d = side(p);
    return { x: p.x + Math.sin(a) * d, y: p.y - Math.cos(a) * d };
  };
  const start = onAxis(there.start);
  const last = there.segments.at(-1)!;
  const half = {
    start,
    segments: [...there.segments.slice(0, -1), { ...last, to: onAxis(last.to) }],
  };
  const back = reversed(half).segments.map((s): Segment<'sheet'> => {
    const to = mirror(s.to, a, off);
    if (s.kind === 'line') return { kind: 'line', to };
    if (s.kind === 'cubic')
      return { kind: 'cubic', c1: mirror(s.c1, a, off), c2: mirror(s.c2, a, off), to };
    return { kind: 'arc', to, centre: mirror(s.centre, a, off), sweepRad: -s.sweepRad };
  });
  return { start, segments: [...half.segments, ...back] };
}

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
import {
  madeEven,
  madeParallel,
  madeSquare,
  radiiOf,
  sidesOf,
  straightened,
  STRAIGHT_MM,
} from './sides.ts';

/** Shapes that an edge, or a part of it, can be taken for. */
export const SHAPES = [
  'circle',
  'rounded rectangle',
  'symmetric',
  'rotational',
  'straight edge',
  'parallel edges',
  'right angles',
  'equal radii',
] as const;
export type Shape = (typeof SHAPES)[number];

type P = Point<'sheet'>;
type Curve = CurveRing<'sheet'>;

/** A ring made regular; by segment whether it lies elsewhere than before (absent: all of it). */
export interface Made {
  readonly curve: Curve;
  readonly changed?: readonly boolean[];
}

/**
 * The nearest curves of a shape, by the number of the ring that they take the place of, turned as it; none where there are none.
 *
 * @param rings, curves of the whole outline, the outer one first; mm
 * @param index the ring that was meant
 * @param at a place on it: of several straight edges, or radii, the nearest is meant
 */
export function regular(
  rings: readonly Ring<'sheet'>[],
  curves: readonly Curve[],
  index: number,
  at: P,
  shape: Shape,
): ReadonlyMap<number, Made> {
  if (shape === 'equal radii') return madeEven(curves, index, at);
  const made = ((): Made | undefined => {
    const whole = (curve: Curve | undefined): Made | undefined => curve && { curve };
    switch (shape) {
      case 'circle':
        return whole(circle(rings[index]!));
      case 'rounded rectangle':
        return whole(roundedRectangle(rings[index]!));
      case 'symmetric':
        return whole(symmetric(rings[index]!));
      case 'rotational':
        return whole(rotational(rings[index]!));
      case 'straight edge':
        return straightened(curves[index]!, at);
      case 'parallel edges':
        return madeParallel(curves[index]!);
      case 'right angles':
        return madeSquare(curves[index]!);
    }
  })();
  return new Map(made ? [[index, made]] : []);
}

/** Places of a ring at which a shape may be meant: one for every straight edge and every group of radii, else the ring's first vertex. */
export function placesFor(
  rings: readonly Ring<'sheet'>[],
  curves: readonly Curve[],
  index: number,
  shape: Shape,
): readonly P[] {
  if (shape === 'straight edge')
    return sidesOf(curves[index]!)
      .filter((side) => side.bowMm > STRAIGHT_MM)
      .map(({ start, end }) => ({ x: (start.x + end.x) / 2, y: (start.y + end.y) / 2 }));
  if (shape === 'equal radii')
    // A group that reaches over several rings is offered once, on its first.
    return radiiOf(curves)
      .filter((group) => Math.min(...group.map((r) => r.ring)) === index)
      .map((group) => group.find((r) => r.ring === index)!.at);
  return [rings[index]![0]!];
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

/** A curve through the mean of several rings. */
function curveThrough(points: Ring<'sheet'>): Curve {
  const n = points.length;
  const corner = Uint8Array.from(points, (p, k) => {
    const [q, r] = [points[(k + n - 1) % n]!, points[(k + 1) % n]!];
    const turn = Math.atan2(
      (p.x - q.x) * (r.y - p.y) - (p.y - q.y) * (r.x - p.x),
      (p.x - q.x) * (r.x - p.x) + (p.y - q.y) * (r.y - p.y),
    );
    return Math.abs(turn) > CORNER_RAD ? 1 : 0;
  });
  return fitCurves<'sheet'>({ points, corner, sigmaMm: 1e-3 }, FIT_MM).curve;
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
  const whole = curveThrough(halfway);
  const n = halfway.length;
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

/** The most times that a blank is looked at for being the same on one turn. */
const MOST_TURNS = 12;

/** How many times a ring comes to lie on itself on one turn about its centroid; 1: it does not. */
export function turnsOf(ring: Ring<'sheet'>): number {
  const middle = centroid(ring);
  const points = resample(ring, STEP_MM);
  const some = points.filter((_, k) => k % Math.max(1, Math.floor(points.length / 150)) === 0);
  const near = new Nearest([points], perimeter(ring) / 40);
  for (let n = MOST_TURNS; n > 1; n--) {
    const cost = some.reduce((sum, p) => {
      const q = turnedBy(p, middle, (2 * Math.PI) / n);
      return sum + near.distance(q.x, q.y) ** 2;
    }, 0);
    if (Math.sqrt(cost / some.length) <= LIKE_SHARE * perimeter(ring)) return n;
  }
  return 1;
}

function turnedBy(p: P, about: P, angle: number): P {
  const [c, s, x, y] = [Math.cos(angle), Math.sin(angle), p.x - about.x, p.y - about.y];
  return { x: about.x + c * x - s * y, y: about.y + s * x + c * y };
}

/** The ring as the mean of itself at all the turns about its centroid at which it nearly lies on itself. */
function rotational(ring: Ring<'sheet'>): Curve | undefined {
  const turns = turnsOf(ring);
  if (turns === 1) return undefined;
  const middle = centroid(ring);
  const step = (Math.sign(signedArea(ring)) * 2 * Math.PI) / turns;
  const points = resample(ring, STEP_MM);
  const means = points.map((p) => {
    let [x, y] = [0, 0];
    for (let k = 0; k < turns; k++) {
      const back = turnedBy(footOn(points, turnedBy(p, middle, k * step)), middle, -k * step);
      x += back.x / turns;
      y += back.y / turns;
    }
    return { x, y };
  });
  const whole = curveThrough(means);
  // One part of it, and the others as this one turned on.
  const { start } = whole;
  const [part] = cutAt(
    whole,
    nearestOnCurve(whole, start),
    nearestOnCurve(whole, turnedBy(start, middle, step)),
  );
  if (part.segments.length === 0) return undefined;
  const segments: Segment<'sheet'>[] = [];
  const one = [
    ...part.segments.slice(0, -1),
    { ...part.segments.at(-1)!, to: turnedBy(start, middle, step) },
  ];
  for (let k = 0; k < turns; k++) {
    const on = (p: P): P => turnedBy(p, middle, k * step);
    for (const s of one) {
      if (s.kind === 'line') segments.push({ kind: 'line', to: on(s.to) });
      else if (s.kind === 'arc') segments.push({ ...s, to: on(s.to), centre: on(s.centre) });
      else segments.push({ kind: 'cubic', c1: on(s.c1), c2: on(s.c2), to: on(s.to) });
    }
  }
  const last = segments.length - 1;
  segments[last] = { ...segments[last]!, to: start };
  return { start, segments };
}

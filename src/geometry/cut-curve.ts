import type { Frame, Point } from '../base/measure.ts';
import { onCubic } from './curve.ts';
import type { CurveRing, Segment } from './shape.ts';

/** A piece of a curve that need not close: from its start through its segments. */
export type Path<F extends Frame> = CurveRing<F>;

/** Where a place lies on a closed curve: which segment, how far along it (0 to 1), and how far off the place is, mm. */
export interface OnCurve<F extends Frame> {
  readonly segment: number;
  readonly t: number;
  readonly at: Point<F>;
  readonly distanceMm: number;
}

/** Starts of the segments, in order. */
const startsOf = <F extends Frame>({ start, segments }: Path<F>): Point<F>[] => [
  start,
  ...segments.slice(0, -1).map((s) => s.to),
];

/** The point of a segment at t; arcs and lines run evenly. */
function pointAt<F extends Frame>(from: Point<F>, s: Segment<F>, t: number): Point<F> {
  if (s.kind === 'cubic') return onCubic(from, s.c1, s.c2, s.to, t);
  if (s.kind === 'line')
    return { x: from.x + t * (s.to.x - from.x), y: from.y + t * (s.to.y - from.y) };
  const { centre: c } = s;
  const r = Math.hypot(from.x - c.x, from.y - c.y);
  const a = Math.atan2(from.y - c.y, from.x - c.x) + t * s.sweepRad;
  return { x: c.x + r * Math.cos(a), y: c.y + r * Math.sin(a) };
}

const SAMPLES = 32;

/** The place of a curve nearest to a point, to a thousandth of a sample's step. */
export function nearestOnCurve<F extends Frame>(curve: Path<F>, p: Point<F>): OnCurve<F> {
  let best: OnCurve<F> | undefined;
  const starts = startsOf(curve);
  const tried = (segment: number, t: number): OnCurve<F> => {
    const at = pointAt(starts[segment]!, curve.segments[segment]!, t);
    const found = { segment, t, at, distanceMm: Math.hypot(p.x - at.x, p.y - at.y) };
    if (!best || found.distanceMm < best.distanceMm) best = found;
    return found;
  };
  curve.segments.forEach((_, segment) => {
    for (let k = 0; k <= SAMPLES; k++) tried(segment, k / SAMPLES);
  });
  // Golden enough: the distance falls towards the foot from both sides within a sample's step.
  const { segment, t } = best!;
  let [low, high] = [Math.max(0, t - 1 / SAMPLES), Math.min(1, t + 1 / SAMPLES)];
  for (let k = 0; k < 40; k++) {
    const [a, b] = [low + (high - low) / 3, high - (high - low) / 3];
    if (tried(segment, a).distanceMm < tried(segment, b).distanceMm) high = b;
    else low = a;
  }
  return best!;
}

/** A segment in two at t. */
function halves<F extends Frame>(
  from: Point<F>,
  s: Segment<F>,
  t: number,
): readonly [Segment<F>, Segment<F>] {
  const to = pointAt(from, s, t);
  if (s.kind === 'line')
    return [
      { kind: 'line', to },
      { kind: 'line', to: s.to },
    ];
  if (s.kind === 'arc')
    return [
      { ...s, to, sweepRad: t * s.sweepRad },
      { ...s, sweepRad: (1 - t) * s.sweepRad },
    ];
  // De Casteljau.
  const mid = (a: Point<F>, b: Point<F>): Point<F> => ({
    x: a.x + t * (b.x - a.x),
    y: a.y + t * (b.y - a.y),
  });
  const [a, b, c] = [mid(from, s.c1), mid(s.c1, s.c2), mid(s.c2, s.to)];
  return [
    { kind: 'cubic', c1: a, c2: mid(a, b), to },
    { kind: 'cubic', c1: mid(b, c), c2: c, to: s.to },
  ];
}

/** The same closed curve, begun at another of its places. */
export function begunAt<F extends Frame>(
  curve: CurveRing<F>,
  { segment, t, at }: Pick<OnCurve<F>, 'segment' | 't' | 'at'>,
): CurveRing<F> {
  const { segments } = curve;
  const from = startsOf(curve)[segment]!;
  const [before, after] = halves(from, segments[segment]!, t);
  return {
    start: at,
    segments: [
      ...(t < 1 ? [after] : []),
      ...segments.slice(segment + 1),
      ...segments.slice(0, segment),
      ...(t > 0 ? [{ ...before, to: at }] : []),
    ],
  };
}

/** A closed curve in two: from one of its places to the other, and on from there. */
export function cutAt<F extends Frame>(
  curve: CurveRing<F>,
  a: OnCurve<F>,
  b: OnCurve<F>,
): readonly [there: Path<F>, back: Path<F>] {
  const whole = begunAt(curve, a);
  const { segment, t, at } = nearestOnCurve(whole, b.at);
  const [before, after] = halves(startsOf(whole)[segment]!, whole.segments[segment]!, t);
  return [
    {
      start: whole.start,
      segments: [...whole.segments.slice(0, segment), ...(t > 0 ? [{ ...before, to: at }] : [])],
    },
    {
      start: at,
      segments: [...(t < 1 ? [after] : []), ...whole.segments.slice(segment + 1)],
    },
  ];
}

/** Directions at the ends of a path, unit, along its way. */
export function endDirections<F extends Frame>({
  start,
  segments,
}: Path<F>): {
  readonly first: Point<F>;
  readonly last: Point<F>;
} {
  const starts = startsOf({ start, segments });
  const unit = (a: Point<F>, b: Point<F>): Point<F> => {
    const length = Math.hypot(b.x - a.x, b.y - a.y) || 1;
    return { x: (b.x - a.x) / length, y: (b.y - a.y) / length };
  };
  const n = segments.length - 1;
  return {
    first: unit(start, pointAt(start, segments[0]!, 1e-3)),
    last: unit(pointAt(starts[n]!, segments[n]!, 1 - 1e-3), segments[n]!.to),
  };
}

/** A path run the other way. */
export function reversed<F extends Frame>(path: Path<F>): Path<F> {
  const starts = startsOf(path);
  const segments = path.segments
    .map((s, k): Segment<F> => {
      const to = starts[k]!;
      if (s.kind === 'line') return { kind: 'line', to };
      if (s.kind === 'arc') return { ...s, to, sweepRad: -s.sweepRad };
      return { kind: 'cubic', c1: s.c2, c2: s.c1, to };
    })
    .reverse();
  return { start: path.segments[path.segments.length - 1]!.to, segments };
}

/**
 * A smooth path through points (cubics; at every inner point along the line between its neighbours, after Catmull and Rom),
 * or straight from one to the next.
 *
 * @param ends directions in which it leaves and arrives, unit; those of its chords when left out
 */
export function pathThrough<F extends Frame>(
  points: readonly Point<F>[],
  smooth: boolean,
  ends?: { readonly first: Point<F>; readonly last: Point<F> },
): Path<F> {
  const n = points.length;
  const start = points[0]!;
  if (!smooth) return { start, segments: points.slice(1).map((to) => ({ kind: 'line', to })) };
  const tangent = (k: number): Point<F> => {
    if (k === 0 && ends) return ends.first;
    if (k === n - 1 && ends) return ends.last;
    const [a, b] = [points[Math.max(0, k - 1)]!, points[Math.min(n - 1, k + 1)]!];
    const length = Math.hypot(b.x - a.x, b.y - a.y) || 1;
    return { x: (b.x - a.x) / length, y: (b.y - a.y) / length };
  };
  return {
    start,
    segments: points.slice(1).map((to, k): Segment<F> => {
      const from = points[k]!;
      const third = Math.hypot(to.x - from.x, to.y - from.y) / 3;
      const [u, v] = [tangent(k), tangent(k + 1)];
      return {
        kind: 'cubic',
        c1: { x: from.x + third * u.x, y: from.y + third * u.y },
        c2: { x: to.x - third * v.x, y: to.y - third * v.y },
        to,
      };
    }),
  };
}

/** A cubic that leaves an arc of up to 45 degrees by less than 5e-6 of its radius (tangents of 4/3 tan(sweep / 4) radii). */
function cubicsOfArc<F extends Frame>(
  from: Point<F>,
  { centre: c, sweepRad, to }: Extract<Segment<F>, { kind: 'arc' }>,
): Segment<F>[] {
  const count = Math.max(1, Math.ceil(Math.abs(sweepRad) / (Math.PI / 4)));
  const step = sweepRad / count;
  const reach = (4 / 3) * Math.tan(step / 4);
  const [r, a] = [Math.hypot(from.x - c.x, from.y - c.y), Math.atan2(from.y - c.y, from.x - c.x)];
  const on = (angle: number, along: number): Point<F> => ({
    x: c.x + r * (Math.cos(angle) - along * Math.sin(angle)),
    y: c.y + r * (Math.sin(angle) + along * Math.cos(angle)),
  });
  return Array.from({ length: count }, (_, k) => ({
    kind: 'cubic' as const,
    c1: on(a + k * step, reach),
    c2: on(a + (k + 1) * step, -reach),
    to: k === count - 1 ? to : on(a + (k + 1) * step, 0),
  }));
}

/**
 * A path of which one place is moved: its ends stay, and what lies between goes along the less the farther it is from the place.
 * Handles go with their own node, so that it stays as smooth, or as sharp, as it was.
 *
 * @param at where on the path
 * @param by how far the place moves, mm
 */
export function pulled<F extends Frame>(path: Path<F>, at: OnCurve<F>, by: Point<F>): Path<F> {
  const starts = startsOf(path);
  const one = (k: number): Segment<F>[] => {
    const s = path.segments[k]!;
    return s.kind === 'arc' ? cubicsOfArc(starts[k]!, s) : [s];
  };
  // An end of a segment is a node already.
  const edge = at.t < 1e-3 ? 0 : at.t > 1 - 1e-3 ? 1 : undefined;
  const segments: Segment<F>[] = [];
  let node = 0;
  path.segments.forEach((s, k) => {
    if (k !== at.segment) {
      segments.push(...one(k));
      return;
    }
    if (edge === 0) node = segments.length;
    if (edge !== undefined) segments.push(...one(k));
    else {
      const [before, after] = halves(starts[k]!, s, at.t);
      segments.push(...(before.kind === 'arc' ? cubicsOfArc(starts[k]!, before) : [before]));
      node = segments.length;
      segments.push(...(after.kind === 'arc' ? cubicsOfArc(before.to, after) : [after]));
    }
    if (edge === 1) node = segments.length;
  });
  const nodes = [path.start, ...segments.map((s) => s.to)];
  const along = [0];
  nodes.slice(1).forEach((p, k) => {
    const q = nodes[k]!;
    along.push(along[k]! + Math.hypot(p.x - q.x, p.y - q.y));
  });
  const [here, whole] = [along[node]!, along.at(-1)!];
  const share = (k: number): number => {
    if (k === node) return 1;
    const t = k < node ? along[k]! / here : (whole - along[k]!) / (whole - here);
    return t * t * (3 - 2 * t);
  };
  const moved = (p: Point<F>, k: number): Point<F> => ({
    x: p.x + share(k) * by.x,
    y: p.y + share(k) * by.y,
  });
  return {
    start: moved(path.start, 0),
    segments: segments.map((s, k): Segment<F> => {
      const to = moved(s.to, k + 1);
      return s.kind === 'cubic'
        ? { kind: 'cubic', c1: moved(s.c1, k), c2: moved(s.c2, k + 1), to }
        : { kind: 'line', to };
    }),
  };
}

import type { Frame, Point } from '../base/measure.ts';
import { courseOf, INDEPENDENT, localCubic, valueOf, type Measured } from './course.ts';
import { flatten } from './curve.ts';
import { lightRing } from './light.ts';
import { Nearest } from './nearest.ts';
import {
  arcsBetween,
  arcsToPoint,
  arcThrough,
  cubicThrough,
  fillets,
  straightPiece,
  type Arc,
  type CubicPiece,
  type Knot,
  type Run,
} from './pieces.ts';
import type { CurveRing, Ring, Segment } from './shape.ts';

export type { Measured };

export interface Fitted<F extends Frame> {
  readonly curve: CurveRing<F>;
  /** Greatest distance between curve and the course of the points, both ways, mm. */
  readonly deviationMm: number;
}

/** Half length over which tangents are taken at most, mm. */
const TANGENT_MM = 3;
/** Knots may stand this far apart at least, mm. */
const KNOT_MM = 0.4;
const LEAST_LINE_MM = 1.5;
/** A straight stretch is a line of its own from here on, mm; below twice this, only where that costs no node. */
const LINE_MM = 4;
const SURE_LINE_MM = 12;
/** Shares of the tolerance that pieces are held to, in turn, until the whole curve keeps it both ways. */
const HELD = [0.9, 0.7, 0.5, 0.35];
const BALANCING = 1;

/**
 * Fits lines, arcs and cubic Bézier curves to a measured closed curve: corners kept, tangent-continuous elsewhere, few
 * pieces. No point of the measured course (see `courseOf`) lies farther from the curve, and no place of the curve farther from
 * the polygon of that course, than the tolerance; the distance reached is returned.
 *
 * @param toleranceMm greatest distance asked for
 */
export function fitCurves<F extends Frame>(measured: Measured<F>, toleranceMm: number): Fitted<F> {
  const course = courseOf(measured, toleranceMm);
  const { points } = course;
  const circle = wholeCircle(course, toleranceMm);
  if (circle) return { curve: circle, deviationMm: deviation(circle, points) };
  for (const held of HELD) {
    const curve = fitOnce(course, toleranceMm, held);
    const deviationMm = curve && deviation(curve, points);
    if (deviationMm !== undefined && deviationMm <= toleranceMm)
      return { curve: curve!, deviationMm };
  }
  // Where no smooth curve follows the points, straight pieces do.
  const [start, ...rest] = lightRing(points, 0.95 * toleranceMm);
  const straight: CurveRing<F> = {
    start: start!,
    segments: [...rest, start!].map((to) => ({ kind: 'line', to })),
  };
  return { curve: straight, deviationMm: deviation(straight, points) };
}

/** Chords by which a curve is told from points leave it by less, mm. */
const CHORD_MM = 0.001;

/** Greatest distance between a curve and the polygon of points, both ways, mm. */
export function deviation<F extends Frame>(curve: CurveRing<F>, points: Ring<F>): number {
  const polygon = flatten(curve, CHORD_MM);
  const toCurve = new Nearest([polygon], 1);
  const toPoints = new Nearest([points], 1);
  let mm = 0;
  for (const p of points) mm = Math.max(mm, toCurve.distance(p.x, p.y));
  for (const p of polygon) mm = Math.max(mm, toPoints.distance(p.x, p.y));
  return mm;
}

/** A circle, as two half arcs, when one explains all points. */
function wholeCircle<F extends Frame>(
  { points, corner, sigmaMm }: Measured<F>,
  tolerance: number,
): CurveRing<F> | undefined {
  if (corner.some((c) => c)) return undefined;
  const circle = circleThrough(points, 0, points.length);
  if (!circle) return undefined;
  const { x, y, r } = circle;
  const limit = Math.max(Math.min(tolerance, 3.5 * sigmaMm), 0.3 * tolerance);
  if (points.some((p) => Math.abs(Math.hypot(p.x - x, p.y - y) - r) > limit)) return undefined;
  const turn = areaSign(points);
  const start = { x: x + r, y };
  const middle = { x: x - r, y };
  const centre = { x, y };
  return {
    start,
    segments: [
      { kind: 'arc', to: middle, centre, sweepRad: turn * Math.PI },
      { kind: 'arc', to: start, centre, sweepRad: turn * Math.PI },
    ],
  };
}

function areaSign(points: readonly { x: number; y: number }[]): 1 | -1 {
  let sum = 0;
  points.forEach((p, k) => {
    const q = points[(k + 1) % points.length]!;
    sum += p.x * q.y - q.x * p.y;
  });
  return sum >= 0 ? 1 : -1;
}

/** Least-squares circle (Kåsa's method, centred) through points from..to-1. */
function circleThrough(
  points: readonly { x: number; y: number }[],
  from: number,
  to: number,
): { x: number; y: number; r: number } | undefined {
  const n = to - from;
  if (n < 5) return undefined;
  let mx = 0;
  let my = 0;
  for (let k = from; k < to; k++) {
    mx += points[k]!.x / n;
    my += points[k]!.y / n;
  }
  let [uu, uv, vv, uz, vz, zz] = [0, 0, 0, 0, 0, 0];
  for (let k = from; k < to; k++) {
    const u = points[k]!.x - mx;
    const v = points[k]!.y - my;
    const z = u * u + v * v;
    uu += u * u;
    uv += u * v;
    vv += v * v;
    uz += u * z;
    vz += v * z;
    zz += z;
  }
  const det = uu * vv - uv * uv;
  if (!(det > 1e-9 * uu * vv)) return undefined;
  const a = (0.5 * (uz * vv - vz * uv)) / det;
  const b = (0.5 * (vz * uu - uz * uv)) / det;
  return { x: mx + a, y: my + b, r: Math.sqrt(a * a + b * b + zz / n) };
}

type Piece =
  | { readonly kind: 'line'; readonly a: Knot; readonly b: Knot }
  | ({ readonly kind: 'cubic' } & CubicPiece)
  | { readonly kind: 'arc'; readonly arc: Arc; readonly sweepRad: number };

/** A straight stretch: points from .. to, the line through them, and where it begins and ends. */
interface Line {
  readonly from: number;
  readonly to: number;
  readonly a: Knot;
  readonly b: Knot;
}

function fitOnce<F extends Frame>(
  measured: Measured<F>,
  toleranceMm: number,
  held: number,
): CurveRing<F> | undefined {
  const { points, corner } = measured;
  const allowed = new Float64Array(points.length).fill(held * toleranceMm);
  const n = points.length;
  const corners: number[] = [];
  for (let k = 0; k < n; k++) if (corner[k]) corners.push(k);
  const pieces: Piece[] = [];
  const add = (from: number, length: number, closed: boolean): boolean => {
    const found = new Span(measured, allowed, toleranceMm, from, length, closed).pieces();
    pieces.push(...(found ?? []));
    return found !== undefined;
  };
  if (corners.length === 0) {
    if (!add(mostBent(points), n, true)) return undefined;
  } else {
    for (const [c, from] of corners.entries()) {
      const to = corners[(c + 1) % corners.length]!;
      if (!add(from, to > from ? to - from : to + n - from, false)) return undefined;
    }
  }
  const segments = pieces.map((p): Segment<F> => segmentOf(p));
  const first = pieces[0]!;
  const start: Point<F> =
    first.kind === 'arc'
      ? { x: first.arc.from.x, y: first.arc.from.y }
      : { x: first.a.x, y: first.a.y };
  // The last piece ends exactly where the first one starts.
  const last = segments[segments.length - 1]!;
  segments[segments.length - 1] = { ...last, to: start };
  return { start, segments };
}

function segmentOf<F extends Frame>(p: Piece): Segment<F> {
  if (p.kind === 'line') return { kind: 'line', to: { x: p.b.x, y: p.b.y } };
  if (p.kind === 'arc')
    return {
      kind: 'arc',
      to: { x: p.arc.to.x, y: p.arc.to.y },
      centre: { x: p.arc.cx, y: p.arc.cy },
      sweepRad: p.sweepRad,
    };
  return {
    kind: 'cubic',
    c1: { x: p.a.x + p.alpha * p.a.tx, y: p.a.y + p.alpha * p.a.ty },
    c2: { x: p.b.x - p.beta * p.b.tx, y: p.b.y - p.beta * p.b.ty },
    to: { x: p.b.x, y: p.b.y },
  };
}

/** Where a closed curve turns most, or least, within some forty points. */
function bendOf(x: ArrayLike<number>, y: ArrayLike<number>, most: boolean): number {
  const n = x.length;
  const wide = Math.max(2, Math.min(20, Math.floor(n / 8)));
  let best = 0;
  let reached = most ? -1 : Infinity;
  for (let k = 0; k < n; k += Math.max(1, wide >> 1)) {
    const a = (k - wide + n) % n;
    const b = (k + wide) % n;
    const bend = Math.abs((x[k]! - x[a]!) * (y[b]! - y[k]!) - (y[k]! - y[a]!) * (x[b]! - x[k]!));
    if (most ? bend > reached : bend < reached) {
      reached = bend;
      best = k;
    }
  }
  return best;
}
const straightest = (x: ArrayLike<number>, y: ArrayLike<number>): number => bendOf(x, y, false);
const mostBent = (points: readonly { x: number; y: number }[]): number =>
  bendOf(
    points.map((p) => p.x),
    points.map((p) => p.y),
    true,
  );

/** A stretch of the measured curve between two corners, or all of it. */
class Span<F extends Frame> implements Run {
  readonly x: Float64Array;
  readonly y: Float64Array;
  readonly along: Float64Array;
  readonly allowed: Float64Array;
  readonly sigma: Float64Array;
  private readonly last: number;
  private readonly knots = new Map<number, Knot>();

  constructor(
    { points, sigmaMm, sigmas }: Measured<F>,
    allowed: Float64Array,
    private readonly toleranceMm: number,
    from: number,
    length: number,
    private readonly closed: boolean,
  ) {
    const n = points.length;
    this.last = length;
    // A closed run is held twice over: pieces may run across its seam.
    const count = (closed ? 2 : 1) * length + 1;
    const of = (value: (k: number) => number): Float64Array =>
      Float64Array.from({ length: count }, (_, k) => value((from + k) % n));
    this.x = of((k) => points[k]!.x);
    this.y = of((k) => points[k]!.y);
    this.allowed = of((k) => allowed[k]!);
    this.sigma = of((k) => sigmas?.[k] ?? sigmaMm);
    this.along = new Float64Array(count);
    for (let k = 1; k < count; k++)
      this.along[k] =
        this.along[k - 1]! + Math.hypot(this.x[k]! - this.x[k - 1]!, this.y[k]! - this.y[k - 1]!);
  }

  /** The pieces of this span; undefined where no curve keeps to the points. */
  pieces(): Piece[] | undefined {
    let lines = this.lines();
    let best = this.around(lines);
    // A short straight stretch within a curve need not be a line: kept only where that costs no node.
    for (const line of [...lines].sort((p, q) => lengthOf(p) - lengthOf(q))) {
      if (lengthOf(line) >= SURE_LINE_MM) break;
      const fewer = lines.filter((l) => l !== line);
      const tried = this.around(fewer);
      if (tried && (!best || tried.length < best.length)) {
        best = tried;
        lines = fewer;
      }
    }
    return best;
  }

  private readonly gaps = new Map<string, Gap | undefined>();

  /** Lines, and what fills the gaps between them: before the first and after the last of an open run, round the seam of a closed one. */
  private around(lines: readonly Line[]): Piece[] | undefined {
    const ends = lines.map(({ a, b }) => ({ a, b }));
    const fill = (before: number, after: number): Piece[] | undefined => {
      const left = lines[before];
      const next = lines[after];
      const wraps = this.closed && after <= before;
      const by = wraps ? this.last : 0;
      const right = next && { ...next, from: next.from + by, to: next.to + by };
      const from = left ? left.to : 0;
      const to = right ? right.from : this.last;
      if (from >= to) return [];
      const key = `${left?.from}-${from}-${to}-${right?.to}`;
      if (!this.gaps.has(key)) this.gaps.set(key, this.gap(from, to, left, right));
      const filled = this.gaps.get(key);
      if (!filled) return undefined;
      if (left && filled.from) ends[before]!.b = { ...left.b, ...filled.from };
      if (right && filled.to) ends[after]!.a = { ...right.a, ...filled.to };
      return filled.pieces;
    };
    if (lines.length === 0) {
      if (!this.closed) return fill(-1, 0);
      const from = straightest(this.x.subarray(0, this.last), this.y);
      return this.gap(from, from + this.last)?.pieces;
    }
    const gaps: Piece[][] = [];
    for (let k = this.closed ? 0 : -1; k < lines.length; k++) {
      const found = fill(k, this.closed ? (k + 1) % lines.length : k + 1);
      if (!found) return undefined;
      gaps.push(found);
    }
    const out: Piece[] = this.closed ? [] : gaps.shift()!;
    return [
      ...out,
      ...ends.flatMap(({ a, b }, k): Piece[] => [{ kind: 'line', a, b }, ...gaps[k]!]),
    ];
  }

  private gap(from: number, to: number, before?: Line, after?: Line): Gap | undefined {
    const arc = this.arcIn(from, to, before, after);
    if (arc) return arc;
    const pieces = this.cubics(from, to, before, after);
    return pieces && { pieces };
  }

  /** One arc that fills a gap: tangent to the lines beside it, and through the corners where there is no line. */
  private arcIn(from: number, to: number, before?: Line, after?: Line): Gap | undefined {
    if (this.closed && !(before && after)) return undefined;
    const middle = (from + to) >> 1;
    const a = { x: this.x[from]!, y: this.y[from]! };
    const b = { x: this.x[to]!, y: this.y[to]! };
    const m = { x: this.x[middle]!, y: this.y[middle]! };
    const chord = Math.hypot(b.x - a.x, b.y - a.y);
    const right = ((m.x - a.x) * (b.y - a.y) - (m.y - a.y) * (b.x - a.x)) / chord;
    if (!(chord > 0) || to - from < 5 || Math.abs(right) < 2 * this.sigma[middle]!)
      return undefined;
    const family =
      before && after
        ? fillets(before.b, after.a, right > 0 ? 1 : -1)
        : before
          ? arcsToPoint(before.b, b, true)
          : after
            ? arcsToPoint(after.a, a, false)
            : arcsBetween(a, b);
    const arc = family && arcThrough(this, from, to, family, before || after ? 0 : right);
    if (!arc) return undefined;
    const sweepRad = sweepOf(arc, m);
    // Tangent points in the wrong order make it run all the way round.
    if (Math.abs(sweepRad) * arc.r > 2 * (this.along[to]! - this.along[from]!)) return undefined;
    // Beyond the arc's ends the lines are what the points must lie on.
    const beyond = (line: Line, p: { x: number; y: number }, way: 1 | -1, k: number): number => {
      const u = (this.x[k]! - p.x) * line.a.tx + (this.y[k]! - p.y) * line.a.ty;
      const v = (this.y[k]! - p.y) * line.a.tx - (this.x[k]! - p.x) * line.a.ty;
      return way * u > 0 ? Math.abs(v) : Infinity;
    };
    const left = before ? (before.from + before.to) >> 1 : from;
    const rightmost = after ? (after.from + after.to) >> 1 : to;
    let squares = 0;
    for (let k = left; k <= rightmost; k++) {
      const d = Math.min(
        Math.abs(Math.hypot(this.x[k]! - arc.cx, this.y[k]! - arc.cy) - arc.r),
        before ? beyond(before, arc.from, -1, k) : Infinity,
        after ? beyond(after, arc.to, 1, k) : Infinity,
      );
      if (d > this.allowed[k]!) return undefined;
      if (k >= from && k <= to) squares += (d / Math.max(this.sigma[k]!, 1e-9)) ** 2;
    }
    const scatter = this.sigma[middle]!;
    const rms = Math.sqrt(squares / (to - from + 1)) * scatter;
    if (rms > Math.max(1.3 * scatter, 0.2 * this.toleranceMm)) return undefined;
    // The lines keep at least half their length.
    const short = (line: Line, p: { x: number; y: number }, way: 1 | -1): boolean => {
      const mid = { x: (line.a.x + line.b.x) / 2, y: (line.a.y + line.b.y) / 2 };
      return way * ((p.x - mid.x) * line.a.tx + (p.y - mid.y) * line.a.ty) < 0;
    };
    if ((before && short(before, arc.from, 1)) || (after && short(after, arc.to, -1)))
      return undefined;
    return {
      pieces: [{ kind: 'arc', arc, sweepRad }],
      ...(before && { from: arc.from }),
      ...(after && { to: arc.to }),
    };
  }

  /** As few cubics as go from one end of a gap to the other, then as even as that number allows. */
  private cubics(from: number, to: number, before?: Line, after?: Line): Piece[] | undefined {
    const start = before?.b ?? this.knot(from);
    const end = after?.a ?? (this.closed ? start : this.knot(to));
    const free = { a: !before && !this.closed, b: !after && !this.closed };
    const run = (held: number, most: number): CubicPiece[] | undefined => {
      const out: CubicPiece[] = [];
      let at = from;
      let knot = start;
      while (at < to) {
        if (out.length === most) return undefined;
        const found = this.longest(at, to, knot, end, free, from, held);
        if (!found) return undefined;
        out.push(found.piece);
        at = found.to;
        knot = found.piece.b;
      }
      return out;
    };
    let best = run(1, Infinity);
    if (!best) return undefined;
    let [low, high] = [0.25, 1];
    for (let k = 0; k < BALANCING && best.length > 1; k++) {
      const middle = (low + high) / 2;
      const tried = run(middle, best.length);
      if (tried) {
        best = tried;
        high = middle;
      } else low = middle;
    }
    return best.map((p) => ({ kind: 'cubic', ...p }));
  }

  /** The longest cubic from a place. */
  private longest(
    at: number,
    stop: number,
    knot: Knot,
    end: Knot,
    free: { readonly a: boolean; readonly b: boolean },
    first: number,
    held: number,
  ): { to: number; piece: CubicPiece } | undefined {
    const attempt = (to: number): CubicPiece | undefined =>
      cubicThrough(
        this,
        at,
        to,
        knot,
        to === stop ? end : this.knot(to),
        { a: free.a && at === first, b: free.b && to === stop },
        held,
      );
    const whole = attempt(stop);
    if (whole) return { to: stop, piece: whole };
    let low = this.after(at, KNOT_MM, stop);
    let piece = attempt(low);
    while (!piece && low - at > 2) {
      low = at + ((low - at) >> 1);
      piece = attempt(low);
    }
    // Where the points turn too sharply for any, straight on to the next one.
    if (!piece)
      return { to: at + 1, piece: straightPiece(knot, at + 1 === stop ? end : this.own(at + 1)) };
    // Ever longer until it does not do, then between.
    let high = stop;
    for (let step = low - at; low + step < stop; step *= 2) {
      const tried = attempt(low + step);
      if (!tried) {
        high = low + step;
        break;
      }
      piece = tried;
      low += step;
    }
    while (high - low > Math.max(1, (high - at) >> 6)) {
      const middle = (low + high) >> 1;
      const tried = attempt(middle);
      if (tried) {
        piece = tried;
        low = middle;
      } else high = middle;
    }
    return { to: low, piece };
  }

  private after(at: number, length: number, stop = this.last): number {
    let k = at + 1;
    while (k < stop && this.along[k]! - this.along[at]! < length) k++;
    return k;
  }

  /** Place and tangent at a point from a local cubic; ends of an open span stay exactly where they are. */
  private knot(k: number): Knot {
    const known = this.knots.get(k);
    if (known) return known;
    const end = !this.closed && (k === 0 || k === this.last);
    let best: Knot | undefined;
    // Shorter windows where the curve bends too much for it.
    for (let wide = TANGENT_MM; ; wide /= 1.6) {
      const { knot, rest, count } = this.local(k, wide, end);
      best = knot;
      if (rest < Math.max(1.3 * this.sigma[k]!, 0.15 * this.toleranceMm) || count < 9) break;
    }
    const off = Math.hypot(best.x - this.x[k]!, best.y - this.y[k]!);
    if (off > 0.5 * this.allowed[k]!) best = this.own(k);
    this.knots.set(k, best);
    return best;
  }

  /** The point itself, with the direction from the one before to the one after. */
  private own(k: number): Knot {
    const a = Math.max(0, k - 1);
    const b = Math.min(this.x.length - 1, k + 1);
    const dx = this.x[b]! - this.x[a]!;
    const dy = this.y[b]! - this.y[a]!;
    const length = Math.hypot(dx, dy) || 1;
    return { x: this.x[k]!, y: this.y[k]!, tx: dx / length, ty: dy / length };
  }

  private local(
    place: number,
    reach: number,
    end: boolean,
  ): { knot: Knot; rest: number; count: number } {
    // A closed run is held twice over, so that a window never meets its ends.
    const n = this.last;
    const k = !this.closed ? place : (place % n) + (place % n < n / 2 ? n : 0);
    const limit = this.x.length - 1;
    const s0 = this.along[k]!;
    const lo = end ? (k === 0 ? 0 : -reach) : -reach;
    const hi = end ? (k === 0 ? reach : 0) : reach;
    let right = k;
    while (right <= limit && this.along[right]! - s0 <= hi) right++;
    let left = k;
    while (left > 0 && this.along[left - 1]! - s0 >= lo) left--;
    const count = right - left;
    if (count < 6) return { knot: this.own(k), rest: 0, count };
    const us = new Float64Array(count);
    const xs = new Float64Array(count);
    const ys = new Float64Array(count);
    let i = 0;
    const add = (m: number): void => {
      us[i] = (this.along[m]! - s0) / reach;
      xs[i] = this.x[m]!;
      ys[i++] = this.y[m]!;
    };
    for (let m = k; m < right; m++) add(m);
    for (let m = k - 1; m >= left; m--) add(m);
    const fx = localCubic(us, xs, end ? this.x[k]! : undefined);
    const fy = localCubic(us, ys, end ? this.y[k]! : undefined);
    let rest = 0;
    us.forEach((u, m) => {
      rest += (xs[m]! - valueOf(fx, u)) ** 2 + (ys[m]! - valueOf(fy, u)) ** 2;
    });
    const length = Math.hypot(fx[1], fy[1]) || 1;
    return {
      knot: { x: fx[0], y: fy[0], tx: fx[1] / length, ty: fy[1] / length },
      rest: Math.sqrt(rest / 2 / count),
      count,
    };
  }

  /** Straight stretches, found from the left as long as they go, with their end knots on the fitted line. */
  lines(): Line[] {
    const found: [from: number, to: number][] = [];
    let at = 0;
    while (at < this.last) {
      const least = this.after(at, LEAST_LINE_MM);
      const all = at === 0 && least === this.last;
      if (this.along[least]! - this.along[at]! < LEAST_LINE_MM && !all) break;
      if (!this.isStraight(at, least)) {
        at = this.after(at, KNOT_MM / 2);
        continue;
      }
      let low = least;
      let step = Math.max(2, low - at);
      while (low < this.last) {
        const tried = Math.min(this.last, low + step);
        if (this.isStraight(at, tried)) {
          low = tried;
          step *= 2;
        } else {
          if (step === 1) break;
          step = Math.max(1, step >> 1);
        }
      }
      if (this.along[low]! - this.along[at]! >= LINE_MM || (at === 0 && low === this.last))
        found.push([at, low]);
      at = low;
    }
    // A blemish within a straight edge does not make two of it.
    const out: Line[] = [];
    let [from, to] = [0, -1];
    found.forEach(([a, b], k) => {
      if (k > 0 && this.isStraight(from, b)) to = b;
      else {
        if (k > 0) out.push(this.line(from, to));
        [from, to] = [a, b];
      }
    });
    if (to > from) out.push(this.line(from, to));
    // What is left of a gap between two points, its ends cut off, is no line.
    return out.filter((l) => lengthOf(l) >= LEAST_LINE_MM || (l.from === 0 && l.to === this.last));
  }

  private line(at: number, low: number): Line {
    const { x, y, tx, ty } = this.lineThrough(at, low);
    const end = (k: number): boolean => !this.closed && (k === 0 || k === this.last);
    const foot = (k: number): { x: number; y: number } => {
      if (end(k)) return { x: this.x[k]!, y: this.y[k]! };
      const t = (this.x[k]! - x) * tx + (this.y[k]! - y) * ty;
      return { x: x + t * tx, y: y + t * ty };
    };
    // The run's own end leans on the curve that follows: stop a little before it.
    const from = end(at) ? at : this.after(at, 0.3);
    let to = low;
    if (!end(low)) while (to > from && this.along[low]! - this.along[to]! < 0.3) to--;
    const a = foot(from);
    const b = foot(to);
    const length = Math.hypot(b.x - a.x, b.y - a.y);
    const way = { tx: (b.x - a.x) / length, ty: (b.y - a.y) / length };
    return { from, to, a: { ...a, ...way }, b: { ...b, ...way } };
  }

  private lineThrough(from: number, to: number): Knot {
    const n = to - from + 1;
    let mx = 0;
    let my = 0;
    for (let k = from; k <= to; k++) {
      mx += this.x[k]! / n;
      my += this.y[k]! / n;
    }
    let [xx, xy, yy] = [0, 0, 0];
    for (let k = from; k <= to; k++) {
      const u = this.x[k]! - mx;
      const v = this.y[k]! - my;
      xx += u * u;
      xy += u * v;
      yy += v * v;
    }
    const angle = 0.5 * Math.atan2(2 * xy, xx - yy);
    const way =
      Math.cos(angle) * (this.x[to]! - this.x[from]!) +
      Math.sin(angle) * (this.y[to]! - this.y[from]!);
    const sign = way < 0 ? -1 : 1;
    return { x: mx, y: my, tx: sign * Math.cos(angle), ty: sign * Math.sin(angle) };
  }

  /**
   * No point farther from the line than scatter explains, and neither bow nor bend: the second and third Legendre polynomials
   * along it have no more than the scatter's share, or a tenth of the tolerance.
   */
  private isStraight(from: number, to: number): boolean {
    const { x, y, tx, ty } = this.lineThrough(from, to);
    const length = this.along[to]! - this.along[from]!;
    const long = length >= SURE_LINE_MM;
    let [bow, bend, scatter] = [0, 0, 0];
    for (let k = from; k <= to; k++) {
      const d = (this.x[k]! - x) * ty - (this.y[k]! - y) * tx;
      const sigma = this.sigma[k]!;
      const near = long ? 0.9 * this.allowed[k]! : Math.min(0.5 * this.toleranceMm, 0.012);
      if (Math.abs(d) > Math.min(this.allowed[k]!, Math.max(3.2 * sigma, near))) return false;
      const u = (2 * (this.along[k]! - this.along[from]!)) / length - 1;
      bow += d * (1.5 * u * u - 0.5);
      bend += d * (2.5 * u * u * u - 1.5 * u);
      scatter += sigma;
    }
    const n = to - from + 1;
    const noise = (2.5 * scatter) / n / Math.sqrt(Math.max(1, n / INDEPENDENT));
    // What is long and nearly straight is meant to be straight.
    const floor = (long ? 0.25 : 0.04) * this.toleranceMm;
    return (
      (5 * Math.abs(bow)) / n <= Math.max(floor, Math.sqrt(5) * noise) &&
      (7 * Math.abs(bend)) / n <= Math.max(floor, Math.sqrt(7) * noise)
    );
  }
}

/** What fills a gap between lines, and where it makes them end where these moved. */
interface Gap {
  readonly pieces: Piece[];
  readonly from?: { readonly x: number; readonly y: number };
  readonly to?: { readonly x: number; readonly y: number };
}

const lengthOf = ({ a, b }: Line): number => Math.hypot(b.x - a.x, b.y - a.y);

/** The turn of an arc that passes a point on its way, radians. */
function sweepOf(arc: Arc, via: { x: number; y: number }): number {
  const angle = (p: { x: number; y: number }): number => Math.atan2(p.y - arc.cy, p.x - arc.cx);
  const turn = (from: number, to: number): number => {
    const d = (to - from) % (2 * Math.PI);
    return d < 0 ? d + 2 * Math.PI : d;
  };
  const a = angle(arc.from);
  const whole = turn(a, angle(arc.to));
  return turn(a, angle(via)) <= whole ? whole : whole - 2 * Math.PI;
}

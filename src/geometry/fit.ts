import { lightRing } from './light.ts';
import type { Frame, Point } from '../base/measure.ts';
import { flatten } from './curve.ts';
import { Nearest } from './nearest.ts';
import type { CurveRing, Ring, Segment } from './shape.ts';

/** A measured closed curve: points in order, mm. */
export interface Measured<F extends Frame> {
  readonly points: Ring<F>;
  /** 1 where the curve has a corner, which stays where it is. */
  readonly corner: Uint8Array;
  /** Scatter (k = 1) of the points, mm. */
  readonly sigmaMm: number;
  /** Scatter of each point where it differs along the curve, mm. */
  readonly sigmas?: Float64Array;
}

export interface Fitted<F extends Frame> {
  readonly curve: CurveRing<F>;
  /** Greatest distance between curve and points, both ways, mm. */
  readonly deviationMm: number;
}

/** Half length over which tangents are taken, mm. */
const TANGENT_MM = 1.2;
/** Knots may stand this far apart at least, mm. */
const KNOT_MM = 0.5;
const LEAST_LINE_MM = 1.5;
/** Flattening for the measurement of the deviation, mm. */
const FINE_MM = 0.001;

/**
 * Fits lines, arcs and cubic Bézier curves to a measured closed curve: corners kept, tangent-continuous elsewhere, few
 * pieces. The tolerance holds for the distance between curve and points, both ways; the distance reached is returned.
 *
 * @param toleranceMm greatest distance asked for; not below three times the points' scatter, which no curve follows
 */
export function fitCurves<F extends Frame>(measured: Measured<F>, toleranceMm: number): Fitted<F> {
  const circle = wholeCircle(measured, toleranceMm);
  if (circle) return { curve: circle, deviationMm: deviation(circle, measured.points) };
  let curve = fitOnce(measured, Math.max(0.75 * toleranceMm, 2.5 * measured.sigmaMm));
  let reached = deviation(curve, measured.points);
  // A piece is held to its worst points' mean: where single points stand out more, hold it tighter if that helps.
  for (const share of [0.5, 0.3]) {
    if (reached <= Math.max(toleranceMm, 4 * measured.sigmaMm)) break;
    const tried = fitOnce(measured, Math.max(share * toleranceMm, 2 * measured.sigmaMm));
    const d = deviation(tried, measured.points);
    if (d > 0.8 * reached) break;
    curve = tried;
    reached = d;
  }
  // Where no smooth curve follows the points, straight pieces do.
  if (reached > 2 * Math.max(toleranceMm, 4 * measured.sigmaMm)) {
    const [start, ...rest] = lightRing(measured.points, 0.75 * toleranceMm);
    const straight: CurveRing<F> = {
      start: start!,
      segments: [...rest, start!].map((to) => ({ kind: 'line', to })),
    };
    const d = deviation(straight, measured.points);
    if (d < reached) return { curve: straight, deviationMm: d };
  }
  return { curve, deviationMm: reached };
}

/** Greatest distance between a curve and points, both ways. */
export function deviation<F extends Frame>(curve: CurveRing<F>, points: Ring<F>): number {
  const polygon = flatten(curve, FINE_MM);
  const toCurve = new Nearest([polygon], 1);
  const toPoints = new Nearest([points], 1);
  let most = 0;
  for (const p of points) most = Math.max(most, toCurve.distance(p.x, p.y));
  for (const p of polygon) most = Math.max(most, toPoints.distance(p.x, p.y));
  return most;
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

interface Knot {
  readonly x: number;
  readonly y: number;
  /** Unit tangent in the way along; at a corner the one of this side. */
  readonly tx: number;
  readonly ty: number;
}

function fitOnce<F extends Frame>(measured: Measured<F>, held: number): CurveRing<F> {
  const { points, corner } = measured;
  const n = points.length;
  const corners: number[] = [];
  for (let k = 0; k < n; k++) if (corner[k]) corners.push(k);
  const segments: Segment<F>[] = [];
  let start: Point<F>;
  if (corners.length === 0) {
    // Begin where it is straightest: a knot there costs least.
    const at = straightest(points);
    const span = new Span(measured, at, n, true);
    start = span.fit(segments, held);
  } else {
    start = points[corners[0]!]!;
    corners.forEach((from, c) => {
      const to = corners[(c + 1) % corners.length]!;
      const length = to > from ? to - from : to + n - from;
      new Span(measured, from, length, false).fit(segments, held);
    });
  }
  // The last piece ends exactly where the first one starts.
  const last = segments[segments.length - 1]!;
  segments[segments.length - 1] = { ...last, to: start };
  return { start, segments };
}

function straightest(points: readonly { x: number; y: number }[]): number {
  const n = points.length;
  const reach = Math.max(2, Math.min(20, Math.floor(n / 8)));
  let best = 0;
  let least = Infinity;
  for (let k = 0; k < n; k += Math.max(1, reach >> 1)) {
    const a = points[(k - reach + n) % n]!;
    const b = points[k]!;
    const c = points[(k + reach) % n]!;
    const bend = Math.abs((b.x - a.x) * (c.y - b.y) - (b.y - a.y) * (c.x - b.x));
    if (bend < least) {
      least = bend;
      best = k;
    }
  }
  return best;
}

/** A stretch of the measured curve between two corners, or all of it. */
class Span<F extends Frame> {
  private readonly x: Float64Array;
  private readonly y: Float64Array;
  private readonly along: Float64Array;
  private readonly count: number;
  /** How far beyond the usual each point may lie: 2.5 of its own scatter. */
  private readonly loose: Float64Array;
  private readonly sigma: number;

  constructor(
    { points, sigmaMm, sigmas }: Measured<F>,
    from: number,
    length: number,
    private readonly closed: boolean,
  ) {
    const n = points.length;
    this.sigma = sigmaMm;
    this.loose = new Float64Array(length + 1);
    if (sigmas) for (let k = 0; k <= length; k++) this.loose[k] = 2.5 * sigmas[(from + k) % n]!;
    this.count = length + 1;
    this.x = new Float64Array(this.count);
    this.y = new Float64Array(this.count);
    this.along = new Float64Array(this.count);
    for (let k = 0; k <= length; k++) {
      const p = points[(from + k) % n]!;
      this.x[k] = p.x;
      this.y[k] = p.y;
      if (k)
        this.along[k] = this.along[k - 1]! + Math.hypot(p.x - this.x[k - 1]!, p.y - this.y[k - 1]!);
    }
  }

  private get last(): number {
    return this.count - 1;
  }

  /** Adds the pieces of this span; returns its start. */
  fit(segments: Segment<F>[], held: number): Point<F> {
    const lines = this.lines(held);
    const knotAt = new Map<number, Knot>();
    for (const line of lines) {
      knotAt.set(line.from, line.start);
      knotAt.set(line.to, line.end);
    }
    // A closed span begins and ends in one knot.
    if (this.closed) {
      const seam = knotAt.get(0) ?? knotAt.get(this.last) ?? this.knot(0, held);
      knotAt.set(0, seam);
      knotAt.set(this.last, seam);
    }
    const knot = (k: number): Knot => {
      const known = knotAt.get(k);
      if (known) return known;
      const made = this.knot(k, held);
      knotAt.set(k, made);
      return made;
    };
    let at = 0;
    let next = 0;
    while (at < this.last) {
      const line = lines[next];
      if (line && line.from === at) {
        segments.push({ kind: 'line', to: { x: line.end.x, y: line.end.y } });
        at = line.to;
        next++;
        continue;
      }
      const stop = line ? line.from : this.last;
      at = this.curveOn(segments, at, stop, knot, held);
    }
    const first = knot(0);
    return { x: first.x, y: first.y };
  }

  /** One cubic (or arc) from `at`, as long as the tolerance allows but not beyond `stop`; returns where it ends. */
  private curveOn(
    segments: Segment<F>[],
    at: number,
    stop: number,
    knot: (k: number) => Knot,
    held: number,
  ): number {
    let good = -1;
    let piece: Segment<F> | undefined;
    const attempt = (to: number): boolean => {
      const tried = this.cubic(at, to, knot(at), knot(to), held);
      if (tried) {
        good = to;
        piece = tried;
      }
      return tried !== undefined;
    };
    const least = Math.min(stop, this.indexAfter(at, KNOT_MM));
    if (!attempt(stop)) {
      let low = least;
      let high = stop;
      if (!attempt(least)) {
        // Even the shortest piece leaves the tolerance: take it all the same, the deviation will tell.
        piece = this.cubic(at, least, knot(at), knot(least), Infinity);
        good = least;
      } else {
        while (this.along[high]! - this.along[low]! > KNOT_MM / 2 && high - low > 1) {
          const middle = (low + high) >> 1;
          if (attempt(middle)) low = middle;
          else high = middle;
        }
      }
      // A short rest would cost a piece of its own: share the length.
      if (good < stop && this.along[stop]! - this.along[good]! < KNOT_MM) {
        const shared = (at + stop) >> 1;
        if (shared > at) attempt(shared);
      }
    }
    segments.push(piece!);
    return good;
  }

  private indexAfter(at: number, length: number): number {
    let k = at + 1;
    while (k < this.last && this.along[k]! - this.along[at]! < length) k++;
    return k;
  }

  /** Place and tangent at a point from a local quadratic; ends of an open span stay exactly where they are. */
  private knot(k: number, held: number): Knot {
    const open = !this.closed;
    const end = open && (k === 0 || k === this.last);
    let reach = TANGENT_MM;
    let best: Knot | undefined;
    // Shorter windows where the curve bends too much for a quadratic.
    for (let round = 0; round < 4; round++, reach /= 1.8) {
      const { knot, rest } = this.quadratic(k, reach, end);
      best = knot;
      if (rest < Math.max(1.3 * this.sigma, 0.25 * held)) break;
    }
    return best!;
  }

  private quadratic(k: number, reach: number, end: boolean): { knot: Knot; rest: number } {
    const total = this.along[this.last]!;
    const s0 = this.along[k]!;
    const us: number[] = [];
    const xs: number[] = [];
    const ys: number[] = [];
    const add = (m: number, s: number): void => {
      us.push(s - s0);
      xs.push(this.x[m]!);
      ys.push(this.y[m]!);
    };
    const lo = end ? (k === 0 ? 0 : -reach) : -reach;
    const hi = end ? (k === 0 ? reach : 0) : reach;
    for (let m = k; m <= this.last && this.along[m]! - s0 <= hi; m++) add(m, this.along[m]!);
    for (let m = k - 1; m >= 0 && this.along[m]! - s0 >= lo; m--) add(m, this.along[m]!);
    if (this.closed) {
      for (let m = 1; m < this.last && this.along[m]! + total - s0 <= hi; m++)
        add(m, this.along[m]! + total);
      for (let m = this.last - 1; m > 0 && this.along[m]! - total - s0 >= lo; m--)
        add(m, this.along[m]! - total);
    }
    if (us.length < 4) {
      const a = Math.max(0, k - 1);
      const b = Math.min(this.last, k + 1);
      const length = Math.hypot(this.x[b]! - this.x[a]!, this.y[b]! - this.y[a]!) || 1;
      return {
        knot: {
          x: this.x[k]!,
          y: this.y[k]!,
          tx: (this.x[b]! - this.x[a]!) / length,
          ty: (this.y[b]! - this.y[a]!) / length,
        },
        rest: 0,
      };
    }
    const fx = parabola(us, xs, end ? this.x[k]! : undefined);
    const fy = parabola(us, ys, end ? this.y[k]! : undefined);
    let rest = 0;
    us.forEach((u, i) => {
      rest +=
        (xs[i]! - fx[0] - u * (fx[1] + u * fx[2])) ** 2 +
        (ys[i]! - fy[0] - u * (fy[1] + u * fy[2])) ** 2;
    });
    const length = Math.hypot(fx[1], fy[1]) || 1;
    return {
      knot: { x: fx[0], y: fy[0], tx: fx[1] / length, ty: fy[1] / length },
      rest: Math.sqrt(rest / us.length),
    };
  }

  /** Straight stretches, longest first found from the left, with their end knots on the fitted line. */
  private lines(held: number): { from: number; to: number; start: Knot; end: Knot }[] {
    const out: { from: number; to: number; start: Knot; end: Knot }[] = [];
    const straight = Math.max(2.2 * this.sigma, Math.min(0.45 * held, 0.012));
    let at = 0;
    while (at < this.last) {
      const least = this.indexAfter(at, LEAST_LINE_MM);
      if (
        this.along[least]! - this.along[at]! < LEAST_LINE_MM &&
        !(at === 0 && least === this.last)
      )
        break;
      if (!this.isStraight(at, least, straight)) {
        at = this.indexAfter(at, KNOT_MM / 2);
        continue;
      }
      let low = least;
      let step = Math.max(2, low - at);
      while (low < this.last) {
        const tried = Math.min(this.last, low + step);
        if (this.isStraight(at, tried, straight)) {
          low = tried;
          step *= 2;
        } else {
          if (step === 1) break;
          step = Math.max(1, step >> 1);
        }
      }
      const line = this.lineThrough(at, low);
      // A short straight piece of a curve is no line: it must be long against what a curve of this bend would allow.
      if (this.along[low]! - this.along[at]! >= 4 || (at === 0 && low === this.last)) {
        const open = !this.closed;
        const foot = (k: number): Knot => {
          if (open && (k === 0 || k === this.last))
            return { x: this.x[k]!, y: this.y[k]!, tx: line.tx, ty: line.ty };
          const t = (this.x[k]! - line.x) * line.tx + (this.y[k]! - line.y) * line.ty;
          return { x: line.x + t * line.tx, y: line.y + t * line.ty, tx: line.tx, ty: line.ty };
        };
        // The run's own end leans on the curve that follows: stop a little before it.
        const from = at === 0 ? at : this.indexAfter(at, 0.3);
        let to = low;
        if (low < this.last) while (to > from && this.along[low]! - this.along[to]! < 0.3) to--;
        const a = foot(from);
        const b = foot(to);
        const length = Math.hypot(b.x - a.x, b.y - a.y);
        const tx = (b.x - a.x) / length;
        const ty = (b.y - a.y) / length;
        out.push({ from, to, start: { ...a, tx, ty }, end: { ...b, tx, ty } });
      }
      at = low;
    }
    return out;
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

  /** No point farther than the limit from the line, and no bend: thirds lie on it in the mean. */
  private isStraight(from: number, to: number, limit: number): boolean {
    const { x, y, tx, ty } = this.lineThrough(from, to);
    const means = [0, 0, 0];
    const counts = [0, 0, 0];
    const length = this.along[to]! - this.along[from]!;
    for (let k = from; k <= to; k++) {
      const d = (this.x[k]! - x) * ty - (this.y[k]! - y) * tx;
      if (Math.abs(d) > Math.max(limit * 1.4, this.loose[k]!)) return false;
      const third = Math.min(2, Math.floor((3 * (this.along[k]! - this.along[from]!)) / length));
      means[third]! += d;
      counts[third]!++;
    }
    const bow =
      means[1]! / Math.max(1, counts[1]!) -
      (means[0]! / Math.max(1, counts[0]!) + means[2]! / Math.max(1, counts[2]!)) / 2;
    // A third of points that scatter more says less.
    let scatter = 0;
    for (let k = from; k <= to; k++) scatter += Math.max(this.sigma, this.loose[k]! / 2.5);
    const noise = (2.5 * (scatter / (to - from + 1))) / Math.sqrt(Math.max(1, (to - from) / 10));
    return Math.abs(bow) <= Math.max(noise, 0.3 * limit);
  }

  /** The cubic with given ends and tangents closest to the points between, if within the tolerance. */
  private cubic(from: number, to: number, a: Knot, b: Knot, held: number): Segment<F> | undefined {
    const chord = Math.hypot(b.x - a.x, b.y - a.y);
    const m = to - from - 1;
    const length = this.along[to]! - this.along[from]!;
    const make = (alpha: number, beta: number): Segment<F> => ({
      kind: 'cubic',
      c1: { x: a.x + alpha * a.tx, y: a.y + alpha * a.ty },
      c2: { x: b.x - beta * b.tx, y: b.y - beta * b.ty },
      to: { x: b.x, y: b.y },
    });
    if (m < 1) return make(chord / 3, chord / 3);
    const stride = Math.max(1, Math.floor(m / 120));
    const ts: number[] = [];
    const ks: number[] = [];
    for (let k = from + 1; k < to; k += stride) {
      ks.push(k);
      ts.push((this.along[k]! - this.along[from]!) / length);
    }
    let alpha = length / 3;
    let beta = length / 3;
    for (let round = 0; round < 5; round++) {
      // Linear least squares for the two handle lengths at fixed parameters.
      let [aa, ab, bb, ac, bc] = [0, 0, 0, 0, 0];
      ks.forEach((k, i) => {
        const t = ts[i]!;
        const s = 1 - t;
        const b0 = s * s * s + 3 * s * s * t;
        const b3 = t * t * t + 3 * s * t * t;
        const p = 3 * s * s * t;
        const q = -3 * s * t * t;
        const dx = this.x[k]! - b0 * a.x - b3 * b.x;
        const dy = this.y[k]! - b0 * a.y - b3 * b.y;
        aa += p * p;
        ab += p * q * (a.tx * b.tx + a.ty * b.ty);
        bb += q * q;
        ac += p * (a.tx * dx + a.ty * dy);
        bc += q * (b.tx * dx + b.ty * dy);
      });
      const det = aa * bb - ab * ab;
      if (det > 1e-12 * aa * bb) {
        alpha = (ac * bb - bc * ab) / det;
        beta = (bc * aa - ac * ab) / det;
      }
      if (!(alpha > 0.02 * chord && beta > 0.02 * chord && alpha < 3 * length && beta < 3 * length))
        return held === Infinity ? make(length / 3, length / 3) : undefined;
      const c1x = a.x + alpha * a.tx;
      const c1y = a.y + alpha * a.ty;
      const c2x = b.x - beta * b.tx;
      const c2y = b.y - beta * b.ty;
      let w1 = 0;
      let w2 = 0;
      let w3 = 0;
      ks.forEach((k, i) => {
        const t = ts[i]!;
        const s = 1 - t;
        const x =
          s * s * s * a.x +
          3 * s * s * t * c1x +
          3 * s * t * t * c2x +
          t * t * t * b.x -
          this.x[k]!;
        const y =
          s * s * s * a.y +
          3 * s * s * t * c1y +
          3 * s * t * t * c2y +
          t * t * t * b.y -
          this.y[k]!;
        const dx = 3 * (s * s * (c1x - a.x) + 2 * s * t * (c2x - c1x) + t * t * (b.x - c2x));
        const dy = 3 * (s * s * (c1y - a.y) + 2 * s * t * (c2y - c1y) + t * t * (b.y - c2y));
        const d2x = 6 * (s * (c2x - 2 * c1x + a.x) + t * (b.x - 2 * c2x + c1x));
        const d2y = 6 * (s * (c2y - 2 * c1y + a.y) + t * (b.y - 2 * c2y + c1y));
        const slope = dx * dx + dy * dy + x * d2x + y * d2y;
        if (slope > 0) ts[i] = Math.max(0, Math.min(1, t - (x * dx + y * dy) / slope));
        // Distance across the curve: what is left along it the next round takes out.
        const speed = Math.hypot(dx, dy) || 1;
        const d = (Math.abs(x * dy - y * dx) / speed) * Math.min(1, held / this.loose[k]!);
        if (d > w3) {
          if (d > w1) [w1, w2, w3] = [d, w1, w2];
          else if (d > w2) [w2, w3] = [d, w2];
          else w3 = d;
        }
      });
      if (held === Infinity) continue;
      // Hopeless already: save the other rounds.
      if (round === 1 && (w1 + w2 + w3) / 3 > 6 * held) return undefined;
      if (round >= 2 && (w1 + w2 + w3) / 3 <= 0.7 * held) return make(alpha, beta);
      if (round === 4 && (w1 + w2 + w3) / 3 > held) return undefined;
    }
    return make(alpha, beta);
  }
}

/** Least-squares parabola in u; through `fixed` at u = 0 when given. */
function parabola(
  us: readonly number[],
  vs: readonly number[],
  fixed?: number,
): [number, number, number] {
  let [s0, s1, s2, s3, s4, b0, b1, b2] = [0, 0, 0, 0, 0, 0, 0, 0];
  us.forEach((u, i) => {
    const v = vs[i]! - (fixed ?? 0);
    const uu = u * u;
    s0 += 1;
    s1 += u;
    s2 += uu;
    s3 += uu * u;
    s4 += uu * uu;
    b0 += v;
    b1 += u * v;
    b2 += uu * v;
  });
  if (fixed !== undefined) {
    const det = s2 * s4 - s3 * s3;
    if (!(Math.abs(det) > 1e-15)) return [fixed, s2 > 0 ? b1 / s2 : 0, 0];
    return [fixed, (b1 * s4 - b2 * s3) / det, (b2 * s2 - b1 * s3) / det];
  }
  const det = s0 * (s2 * s4 - s3 * s3) - s1 * (s1 * s4 - s3 * s2) + s2 * (s1 * s3 - s2 * s2);
  return [
    (b0 * (s2 * s4 - s3 * s3) - s1 * (b1 * s4 - s3 * b2) + s2 * (b1 * s3 - s2 * b2)) / det,
    (s0 * (b1 * s4 - s3 * b2) - b0 * (s1 * s4 - s3 * s2) + s2 * (s1 * b2 - b1 * s2)) / det,
    (s0 * (s2 * b2 - b1 * s3) - s1 * (s1 * b2 - b1 * s2) + b0 * (s1 * s3 - s2 * s2)) / det,
  ];
}

/**
 * Single pieces of a curve laid through a run of measured points: the line, the arc of a family with one free number, and the
 * cubic between given ends.
 */

/** Points of a run, mm, with the arc length up to each, how far the curve may pass from each, and their scatter (k = 1). */
export interface Run {
  readonly x: Float64Array;
  readonly y: Float64Array;
  readonly along: Float64Array;
  readonly allowed: Float64Array;
  readonly sigma: Float64Array;
}

/** A place of a curve and its unit direction there. */
export interface Knot {
  readonly x: number;
  readonly y: number;
  readonly tx: number;
  readonly ty: number;
}

/** A cubic between two knots: handle lengths, mm, and the directions they came out with where these were free. */
export interface CubicPiece {
  readonly a: Knot;
  readonly b: Knot;
  readonly alpha: number;
  readonly beta: number;
}

export interface Arc {
  readonly cx: number;
  readonly cy: number;
  readonly r: number;
  /** Where it begins and ends. */
  readonly from: { readonly x: number; readonly y: number };
  readonly to: { readonly x: number; readonly y: number };
}

/** Points looked at while a piece is sought; all are looked at before it is taken. */
const SAMPLES = 40;
const ROUNDS = 10;
/** A piece bends at its ends with at least this share of its length as radius (a half circle: 0.32). */
const LEAST_RADIUS = 0.06;
/** It moves on at this share of its mean speed at least: one that turns back stands still in between. */
const LEAST_SPEED = 0.15;
/** What handles of no length would cost, as a mean square of distance over what is allowed. */
const EVEN = 0.1;

/**
 * The cubic between two knots that is nearest to points from+1 .. to-1 in the least-squares sense, distances taken across the
 * curve (Gauss and Newton over the two handle lengths, and over the direction at an end where that is free).
 *
 * @param limit give up early where the points plainly lie farther away than this share of what they allow
 * @returns undefined where no cubic without a loop passes that near
 */
export function cubicThrough(
  run: Run,
  from: number,
  to: number,
  a: Knot,
  b: Knot,
  free: { readonly a: boolean; readonly b: boolean },
  limit: number,
): CubicPiece | undefined {
  const { x, y, along, allowed } = run;
  const length = along[to]! - along[from]!;
  const chord = Math.hypot(b.x - a.x, b.y - a.y);
  const inner = to - from - 1;
  const stride = Math.max(1, Math.floor(inner / SAMPLES));
  const count = inner > 0 ? Math.ceil(inner / stride) : 0;
  const kOf = (i: number): number => from + 1 + i * stride;
  const ts = new Float64Array(count);
  for (let i = 0; i < count; i++) ts[i] = (along[kOf(i)]! - along[from]!) / length;
  const angleA = Math.atan2(a.ty, a.tx);
  const angleB = Math.atan2(b.ty, b.tx);
  // Handle lengths, then turns of the ends' directions.
  const p = inner < 3 ? [chord / 3, chord / 3, 0, 0] : [length / 3, length / 3, 0, 0];
  const used = [0, 1, ...(free.a ? [2] : []), ...(free.b ? [3] : [])];
  const m = used.length;
  const most = 0.6 * length + 0.6 * chord;
  let before = Infinity;
  let best = [...p];
  const normal = NORMALS[m]!;
  const right = RIGHTS[m]!;
  const by = BY;
  const c = CUBIC;
  for (let round = 0; inner >= 3 && round < ROUNDS; round++) {
    c.set(a, b, p, angleA, angleB);
    normal.fill(0);
    right.fill(0);
    let worst = 0;
    let sum = 0;
    for (let i = 0; i < count; i++) {
      const k = kOf(i);
      const t = (ts[i] = c.foot(x[k]!, y[k]!, ts[i]!, 2));
      const s = 1 - t;
      const dx = c.dx(t);
      const dy = c.dy(t);
      const speed = Math.sqrt(dx * dx + dy * dy) || 1;
      const nx = -dy / speed;
      const ny = dx / speed;
      const d = (x[k]! - c.x(t)) * nx + (y[k]! - c.y(t)) * ny;
      const w = 1 / (allowed[k]! * allowed[k]!);
      worst = Math.max(worst, w * d * d);
      sum += w * d * d;
      const wa = 3 * s * s * t;
      const wb = 3 * s * t * t;
      by[0] = wa * (nx * c.ax + ny * c.ay);
      by[1] = -wb * (nx * c.bx + ny * c.by);
      by[2] = wa * p[0]! * (ny * c.ax - nx * c.ay);
      by[3] = -wb * p[1]! * (ny * c.bx - nx * c.by);
      for (let r = 0; r < m; r++) {
        const br = w * by[used[r]!]!;
        right[r]! += br * d;
        for (let q = 0; q < m; q++) normal[r * m + q]! += br * by[used[q]!]!;
      }
    }
    // Handles that the points leave open lean towards a third of the way each.
    const third = length / 3;
    for (const h of [0, 1]) {
      const lean = (EVEN * count) / (third * third);
      normal[h * m + h]! += lean;
      right[h]! += lean * (third - p[h]!);
      sum += lean * (third - p[h]!) ** 2;
    }
    if (round >= 3 && worst > (8 * limit) ** 2) return undefined;
    // A step that led away is halved.
    if (sum > before) {
      for (const u of used) p[u] = (p[u]! + best[u]!) / 2;
      continue;
    }
    best = [...p];
    if (sum > 0.9995 * before) {
      if (worst > (1.3 * limit) ** 2) return undefined;
      break;
    }
    before = sum;
    // A whisper of Levenberg: two handles of a nearly straight piece are not determined.
    for (let r = 0; r < m; r++) normal[r * m + r]! *= 1 + 1e-6;
    const step = solveSmall(normal, right, m);
    if (!step) break;
    const shrink = Math.min(1, (0.5 * length) / (Math.hypot(step[0]!, step[1]!) + 1e-12));
    used.forEach((u, r) => (p[u]! += shrink * step[r]!));
    const floor = 0.03 * chord;
    for (const h of [0, 1]) p[h] = Math.max(floor, Math.min(most, p[h]!));
    for (const h of [2, 3]) p[h] = Math.max(-0.3, Math.min(0.3, p[h]!));
  }
  c.set(a, b, best, angleA, angleB);
  // A whip at an end, or a turn back, which no point asked for.
  if (c.sharpest() * LEAST_RADIUS * length > 1 || c.slowest() < LEAST_SPEED * length)
    return undefined;
  // Every point, in order along the curve (one that runs back shows a loop); and the curve between two points from their chord.
  let worst = 0;
  let t = 0;
  for (let k = from + 1; k <= to; k++) {
    const end = k === to;
    const foot = end
      ? 1
      : c.foot(x[k]!, y[k]!, Math.max(t, interpolated(from + 1, stride, ts, k)), 2);
    if (!end)
      worst = Math.max(worst, Math.hypot(x[k]! - c.x(foot), y[k]! - c.y(foot)) / allowed[k]!);
    const middle = (t + foot) / 2;
    const off = toChord(x[k - 1]!, y[k - 1]!, x[k]!, y[k]!, c.x(middle), c.y(middle));
    worst = Math.max(worst, off / Math.max(allowed[k - 1]!, allowed[k]!));
    if (worst > limit) return undefined;
    t = foot;
  }
  return {
    a: { x: a.x, y: a.y, tx: c.ax, ty: c.ay },
    b: { x: b.x, y: b.y, tx: c.bx, ty: c.by },
    alpha: best[0]!,
    beta: best[1]!,
  };
}

/** Distance of q from the segment a-b. */
function toChord(ax: number, ay: number, bx: number, by: number, qx: number, qy: number): number {
  const dx = bx - ax;
  const dy = by - ay;
  const square = dx * dx + dy * dy;
  const t = square > 0 ? ((qx - ax) * dx + (qy - ay) * dy) / square : 0;
  const u = Math.max(0, Math.min(1, t));
  return Math.hypot(qx - ax - u * dx, qy - ay - u * dy);
}

/** The straight way between two places as a cubic. */
export function straightPiece(a: Knot, b: Knot): CubicPiece {
  const chord = Math.hypot(b.x - a.x, b.y - a.y) || 1;
  const way = { tx: (b.x - a.x) / chord, ty: (b.y - a.y) / chord };
  return {
    a: { ...a, ...way },
    b: { ...b, ...way },
    alpha: chord / 3,
    beta: chord / 3,
  };
}

/** The parameter at point k, between those of every so many points. */
function interpolated(first: number, stride: number, ts: Float64Array, k: number): number {
  const count = ts.length;
  if (count === 0) return 0;
  const at = (k - first) / (count > 1 ? stride : 1);
  const low = Math.min(count - 1, Math.floor(at));
  const high = Math.min(count - 1, low + 1);
  return ts[low]! + (at - low) * (high > low ? ts[high]! - ts[low]! : 0);
}

/** A cubic in powers of its parameter, and the directions at its ends. */
class Cubic {
  ax = 0;
  ay = 0;
  bx = 0;
  by = 0;
  private readonly px = new Float64Array(4);
  private readonly py = new Float64Array(4);

  set(a: Knot, b: Knot, p: readonly number[], angleA: number, angleB: number): void {
    const [alpha, beta, turnA, turnB] = p as [number, number, number, number];
    this.ax = turnA === 0 ? a.tx : Math.cos(angleA + turnA);
    this.ay = turnA === 0 ? a.ty : Math.sin(angleA + turnA);
    this.bx = turnB === 0 ? b.tx : Math.cos(angleB + turnB);
    this.by = turnB === 0 ? b.ty : Math.sin(angleB + turnB);
    powers(this.px, a.x, a.x + alpha * this.ax, b.x - beta * this.bx, b.x);
    powers(this.py, a.y, a.y + alpha * this.ay, b.y - beta * this.by, b.y);
  }

  x(t: number): number {
    const p = this.px;
    return ((p[3]! * t + p[2]!) * t + p[1]!) * t + p[0]!;
  }

  y(t: number): number {
    const p = this.py;
    return ((p[3]! * t + p[2]!) * t + p[1]!) * t + p[0]!;
  }

  dx(t: number): number {
    const p = this.px;
    return (3 * p[3]! * t + 2 * p[2]!) * t + p[1]!;
  }

  dy(t: number): number {
    const p = this.py;
    return (3 * p[3]! * t + 2 * p[2]!) * t + p[1]!;
  }

  /** The greater curvature of its two ends, 1/mm. */
  sharpest(): number {
    const bend = (t: number): number => {
      const dx = this.dx(t);
      const dy = this.dy(t);
      const sx = 6 * this.px[3]! * t + 2 * this.px[2]!;
      const sy = 6 * this.py[3]! * t + 2 * this.py[2]!;
      return Math.abs(dx * sy - dy * sx) / (Math.hypot(dx, dy) ** 3 || 1e-12);
    };
    return Math.max(bend(0), bend(1));
  }

  /** The least of its speeds at some places, mm per unit of the parameter. */
  slowest(): number {
    let least = Infinity;
    for (let k = 0; k <= 24; k++)
      least = Math.min(least, Math.hypot(this.dx(k / 24), this.dy(k / 24)));
    return least;
  }

  /** Parameter of the place nearest to a point, by Newton from a guess. */
  foot(qx: number, qy: number, guess: number, steps: number): number {
    const p = this.px;
    const r = this.py;
    let t = guess;
    for (let k = 0; k < steps; k++) {
      const ex = this.x(t) - qx;
      const ey = this.y(t) - qy;
      const dx = this.dx(t);
      const dy = this.dy(t);
      const second =
        dx * dx + dy * dy + ex * (6 * p[3]! * t + 2 * p[2]!) + ey * (6 * r[3]! * t + 2 * r[2]!);
      if (!(second > 0)) break;
      const next = Math.max(0, Math.min(1, t - (ex * dx + ey * dy) / second));
      const done = Math.abs(next - t) < 1e-6;
      t = next;
      if (done) break;
    }
    return t;
  }
}

/** Room that `cubicThrough` is done with when it returns: it is called by the ten thousand. */
const CUBIC = new Cubic();
const BY = new Float64Array(4);
const [NORMALS, RIGHTS] = [2, 1].map((power) =>
  [0, 1, 2, 3, 4].map((m) => new Float64Array(m ** power)),
) as [Float64Array[], Float64Array[]];

function powers(into: Float64Array, a: number, b: number, c: number, d: number): void {
  into[0] = a;
  into[1] = 3 * (b - a);
  into[2] = 3 * (a - 2 * b + c);
  into[3] = d - a + 3 * (b - c);
}

/** Room for the rows of `solveSmall`, which is called by the ten thousand. */
const ROWS = Array.from({ length: 5 }, (_, m) =>
  Array.from({ length: m }, () => new Float64Array(m + 1)),
);

/** Gauss's elimination for at most four unknowns; undefined where singular. */
export function solveSmall(
  normal: Float64Array,
  right: Float64Array,
  m: number,
): number[] | undefined {
  const a = ROWS[m]!;
  for (let r = 0; r < m; r++) {
    for (let k = 0; k < m; k++) a[r]![k] = normal[r * m + k]!;
    a[r]![m] = right[r]!;
  }
  for (let c = 0; c < m; c++) {
    let pivot = c;
    for (let r = c + 1; r < m; r++) if (Math.abs(a[r]![c]!) > Math.abs(a[pivot]![c]!)) pivot = r;
    if (!(Math.abs(a[pivot]![c]!) > 1e-30)) return undefined;
    const row = a[pivot]!;
    a[pivot] = a[c]!;
    a[c] = row;
    for (let r = 0; r < m; r++) {
      if (r === c) continue;
      const f = a[r]![c]! / row[c]!;
      for (let k = c; k <= m; k++) a[r]![k]! -= f * row[k]!;
    }
  }
  const found: number[] = [];
  for (let r = 0; r < m; r++) found.push(a[r]![m]! / a[r]![r]!);
  return found;
}

/**
 * The arc of a family with one free number, mm, that is nearest to points from .. to, least squares.
 *
 * @param family undefined where the family has no arc
 */
export function arcThrough(
  run: Run,
  from: number,
  to: number,
  family: (free: number) => Arc | undefined,
  start: number,
): Arc | undefined {
  const { x, y } = run;
  const stride = Math.max(1, Math.floor((to - from) / SAMPLES));
  let free = start;
  const step = 1e-4;
  for (let round = 0; round < 12; round++) {
    const now = family(free);
    const beside = family(free + step);
    if (!now || !beside) return undefined;
    let top = 0;
    let bottom = 0;
    for (let k = from; k <= to; k += stride) {
      const d = Math.hypot(x[k]! - now.cx, y[k]! - now.cy) - now.r;
      const e = Math.hypot(x[k]! - beside.cx, y[k]! - beside.cy) - beside.r;
      const slope = (e - d) / step;
      top += slope * d;
      bottom += slope * slope;
    }
    if (!(bottom > 0)) return undefined;
    const by = top / bottom;
    free -= by;
    if (Math.abs(by) < 1e-7) break;
  }
  return family(free);
}

/** Arcs that touch two directed lines, each at a knot's, turning left (side 1) or right (-1); the free number is along the bisector. */
export function fillets(
  a: Knot,
  b: Knot,
  side: 1 | -1,
): ((free: number) => Arc | undefined) | undefined {
  // The centre lies r to the side of both lines: n1·c - r = n1·a, n2·c - r = n2·b.
  const n1 = { x: -side * a.ty, y: side * a.tx };
  const n2 = { x: -side * b.ty, y: side * b.tx };
  const d = { x: n2.y - n1.y, y: n1.x - n2.x, r: n1.x * n2.y - n1.y * n2.x };
  const size = Math.hypot(d.x, d.y, d.r);
  if (size < 0.02) return undefined;
  // The solution nearest to the middle of the two knots.
  const mid = { x: (a.x + b.x) / 2, y: (a.y + b.y) / 2, r: Math.hypot(b.x - a.x, b.y - a.y) / 2 };
  const e1 = n1.x * (a.x - mid.x) + n1.y * (a.y - mid.y) + mid.r;
  const e2 = n2.x * (b.x - mid.x) + n2.y * (b.y - mid.y) + mid.r;
  // Least norm: rows (n1, -1) and (n2, -1) both have length √2.
  const g = n1.x * n2.x + n1.y * n2.y + 1;
  const det = 4 - g * g;
  if (!(det > 1e-9)) return undefined;
  const u = (2 * e1 - g * e2) / det;
  const v = (2 * e2 - g * e1) / det;
  const at = { x: mid.x + u * n1.x + v * n2.x, y: mid.y + u * n1.y + v * n2.y, r: mid.r - u - v };
  return (free) => {
    const f = free / size;
    const cx = at.x + f * d.x;
    const cy = at.y + f * d.y;
    const r = at.r + f * d.r;
    if (!(r > 0.05 && r < 2000)) return undefined;
    return {
      cx,
      cy,
      r,
      from: { x: cx - r * n1.x, y: cy - r * n1.y },
      to: { x: cx - r * n2.x, y: cy - r * n2.y },
    };
  };
}

/** Arcs that touch a directed line at a knot's and end (or, with `end` false, begin) in a point; the free number moves along the line. */
export function arcsToPoint(
  line: Knot,
  point: { readonly x: number; readonly y: number },
  end: boolean,
): (free: number) => Arc | undefined {
  return (free) => {
    const t = { x: line.x + free * line.tx, y: line.y + free * line.ty };
    const dx = point.x - t.x;
    const dy = point.y - t.y;
    const across = -line.ty * dx + line.tx * dy;
    if (Math.abs(across) < 1e-6) return undefined;
    // Signed: the centre lies to the left for a positive one.
    const r = (dx * dx + dy * dy) / (2 * across);
    if (!(Math.abs(r) > 0.05 && Math.abs(r) < 2000)) return undefined;
    return {
      cx: t.x - r * line.ty,
      cy: t.y + r * line.tx,
      r: Math.abs(r),
      from: end ? t : point,
      to: end ? point : t,
    };
  };
}

/** Arcs between two points; the free number is the height over the chord, positive to its right, mm. */
export function arcsBetween(
  a: { readonly x: number; readonly y: number },
  b: { readonly x: number; readonly y: number },
): (free: number) => Arc | undefined {
  const dx = b.x - a.x;
  const dy = b.y - a.y;
  const chord = Math.hypot(dx, dy);
  return (h) => {
    if (!(chord > 0) || Math.abs(h) < 1e-6) return undefined;
    const r = (chord * chord) / (8 * h) + h / 2;
    if (Math.abs(r) > 2000) return undefined;
    // From the middle of the chord back from the top of the arc.
    const off = h - r;
    return {
      cx: (a.x + b.x) / 2 + (off * dy) / chord,
      cy: (a.y + b.y) / 2 - (off * dx) / chord,
      r: Math.abs(r),
      from: a,
      to: b,
    };
  };
}

import type { Edge } from './edge.ts';

/** A speck's size along the edge at most, and room beside it for what it adds to its neighbours, points (about a pixel apart). */
const MOST_POINTS = 24;
const ROOM = 4;
/** Points to either side of a speck that tell where the edge runs below it, and where the levels beside the edge are looked up. */
const FLANK = 14;
const LEAST_FLANK = 5;
const LEVELS = [18, 22, 26, 30, 34, 38] as const;
/** Levels beside the edge differ by more than this in the root of linear light, and than so many times their own scatter. */
const LEAST_STEP = 0.06;
const SCATTERS = 5;
/** The edge bulges by more than this, px, and than so many times what its flanks stray from a smooth course. */
const LEAST_BULGE_PX = 0.4;
const STRAYS = 4;
/** Flanks that stray more than this are no smooth edge, px. */
const SMOOTH_PX = 0.25;

const middle = (values: number[]): number => {
  const sorted = values.sort((a, b) => a - b);
  return sorted[sorted.length >> 1]!;
};

/**
 * Dust on the glass lies over an edge as a speck of a third colour, and the strongest step runs round it. Where the level beside
 * the edge is another one for a few pixels, and the edge bulges there off the smooth course of its flanks, it is drawn along that
 * course, its scatter made as wide as what the flanks stray and the speck hides. Corners are left alone.
 */
export function withoutDust(e: Edge): Edge {
  const n = e.count;
  if (n < 8 * FLANK) return e;
  const odd = new Uint8Array(n);
  for (let k = 0; k < n; k++) {
    for (const level of [e.inside, e.outside]) {
      const around = LEVELS.flatMap((s) => [(k + s) % n, (k - s + n) % n]).map((m) =>
        Math.sqrt(Math.max(0, level[m]!)),
      );
      const usual = middle([...around]);
      const scatter = middle(around.map((v) => Math.abs(v - usual)));
      const step = Math.abs(Math.sqrt(Math.max(0, level[k]!)) - usual);
      if (step > Math.max(LEAST_STEP, SCATTERS * scatter)) odd[k] = 1;
    }
  }
  let out: Edge | undefined;
  for (let k = 0; k < n; k++) {
    if (!odd[k] || odd[(k - 1 + n) % n]) continue;
    let length = 1;
    for (let s = 1; s <= length + ROOM && length <= MOST_POINTS; s++)
      if (odd[(k + s) % n]) length = s + 1;
    if (length > MOST_POINTS) continue;
    out = bridged(out ?? e, k - ROOM, length + 2 * ROOM) ?? out;
  }
  return out ?? e;
}

/** The edge with `length` points from `from` on laid on the smooth course of their flanks; undefined where they do not bulge. */
function bridged(e: Edge, from: number, length: number): Edge | undefined {
  const n = e.count;
  const at = (k: number): number => ((k % n) + n) % n;
  for (let s = 0; s < length; s++) if (e.corner[at(from + s)]) return undefined;
  // As far as the next corner.
  const flank = (start: number, way: 1 | -1): number => {
    let s = 0;
    while (s < FLANK && !e.corner[at(start + way * s)]) s++;
    return s;
  };
  const [before, after] = [flank(from - 1, -1), flank(from + length, 1)];
  if (Math.min(before, after) < LEAST_FLANK) return undefined;
  const [a, b] = [at(from - 1), at(from + length)];
  const chord = Math.hypot(e.x[b]! - e.x[a]!, e.y[b]! - e.y[a]!);
  if (chord < 0.5 * length) return undefined;
  const [ux, uy] = [(e.x[b]! - e.x[a]!) / chord, (e.y[b]! - e.y[a]!) / chord];
  const placed = (k: number): readonly [number, number] => {
    const [dx, dy] = [e.x[k]! - e.x[a]!, e.y[k]! - e.y[a]!];
    return [(dx * ux + dy * uy) / chord - 0.5, dy * ux - dx * uy];
  };
  const flanks = [
    ...Array.from({ length: before }, (_, s) => placed(at(from - 1 - s))),
    ...Array.from({ length: after }, (_, s) => placed(at(from + length + s))),
  ];
  const course = parabola(flanks);
  const strays = Math.sqrt(
    flanks.reduce((sum, [t, d]) => sum + (d - course(t)) ** 2, 0) / flanks.length,
  );
  const run = Array.from({ length }, (_, s) => at(from + s));
  const bulge = Math.max(
    ...run.map((k) => {
      const [t, d] = placed(k);
      return Math.abs(d - course(t));
    }),
  );
  if (strays > SMOOTH_PX || bulge < Math.max(LEAST_BULGE_PX, STRAYS * strays)) return undefined;
  const [x, y, sigma, poor] = [e.x.slice(), e.y.slice(), e.sigma.slice(), e.poor.slice()];
  const [nx, ny] = [e.nx.slice(), e.ny.slice()];
  run.forEach((k, s) => {
    const t = (s + 1) / (length + 1);
    const d = course(t - 0.5);
    x[k] = e.x[a]! + t * chord * ux - d * uy;
    y[k] = e.y[a]! + t * chord * uy + d * ux;
    // Between the normals of the flanks.
    const [mx, my] = [e.nx[a]! + t * (e.nx[b]! - e.nx[a]!), e.ny[a]! + t * (e.ny[b]! - e.ny[a]!)];
    const m = Math.hypot(mx, my);
    nx[k] = mx / m;
    ny[k] = my / m;
    sigma[k] = Math.hypot(2 * strays, 0.1 * bulge);
    poor[k] = 1;
  });
  return { ...e, x, y, nx, ny, sigma, poor };
}

/** The parabola of least squares through points (t, d). */
function parabola(points: readonly (readonly [number, number])[]): (t: number) => number {
  const s = [0, 0, 0, 0, 0];
  const r = [0, 0, 0];
  for (const [t, d] of points) {
    for (let p = 0; p < 5; p++) s[p]! += t ** p;
    for (let p = 0; p < 3; p++) r[p]! += d * t ** p;
  }
  const [s0, s1, s2, s3, s4] = s as [number, number, number, number, number];
  const [r0, r1, r2] = r as [number, number, number];
  const det = (
    m: readonly [number, number, number, number, number, number, number, number, number],
  ): number =>
    m[0] * (m[4] * m[8] - m[5] * m[7]) -
    m[1] * (m[3] * m[8] - m[5] * m[6]) +
    m[2] * (m[3] * m[7] - m[4] * m[6]);
  const whole = det([s0, s1, s2, s1, s2, s3, s2, s3, s4]);
  const c0 = det([r0, s1, s2, r1, s2, s3, r2, s3, s4]) / whole;
  const c1 = det([s0, r0, s2, s1, r1, s3, s2, r2, s4]) / whole;
  const c2 = det([s0, s1, r0, s1, s2, r1, s2, s3, r2]) / whole;
  return (t) => c0 + t * (c1 + t * c2);
}

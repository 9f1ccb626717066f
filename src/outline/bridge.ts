import { Matrix, solve } from 'ml-matrix';

/** A gap is drawn across from so many points on either side, at least and at most. */
const SIDE_POINTS = [8, 24] as const;
/** The curve across, the weight of a point within the gap, how far off one is an outlier, px, and how often that is judged. */
const DEGREE = 5;
const OWN = 0.3;
const OUTLYING_PX = 0.3;
const ROUNDS = 4;
/** Points stand this far apart there, px. */
const STEP = 3;

/**
 * Draws across the gaps of a closed contour: each by the polynomial of least squares through the points beside it, so that a
 * curve goes on as one. The points within have a say where most of them agree: two edges in one profile draw some of them off.
 *
 * @param ring points about a px apart, picture px, x and y interleaved
 * @param gap 1 for the points to be drawn anew
 * @param kept 1 for the points that may tell how
 * @returns places by index of the contour; none for a gap with too few points on a side
 */
export function bridgesOf(
  ring: Float64Array,
  gap: Uint8Array,
  kept: Uint8Array,
): Map<number, readonly [number, number]> {
  const n = ring.length >> 1;
  const out = new Map<number, readonly [number, number]>();
  for (let from = 0; from < n; from++) {
    if (!gap[from] || gap[(from + n - 1) % n]) continue;
    let length = 1;
    while (length < n && gap[(from + length) % n]) length++;
    const side = (start: number, way: number): number[] => {
      const points: number[] = [];
      for (let s = 0; s < SIDE_POINTS[1]; s++) {
        const k = (start + way * s + 2 * n) % n;
        if (!kept[k]) break;
        points.push(k);
      }
      return points;
    };
    const back = side(from - 1, -1);
    const forth = side(from + length, 1);
    if (Math.min(back.length, forth.length) < SIDE_POINTS[0]) continue;
    const [a, b] = [2 * back[0]!, 2 * forth[0]!];
    const whole = Math.hypot(ring[b]! - ring[a]!, ring[b + 1]! - ring[a + 1]!);
    const [c, s] = [(ring[b]! - ring[a]!) / whole, (ring[b + 1]! - ring[a + 1]!) / whole];
    const along = (k: number): number =>
      ((ring[2 * k]! - ring[a]!) * c + (ring[2 * k + 1]! - ring[a + 1]!) * s) / whole;
    const off = (k: number): number =>
      (ring[2 * k + 1]! - ring[a + 1]!) * c - (ring[2 * k]! - ring[a]!) * s;
    const within = Array.from({ length }, (_, c) => (from + c) % n);
    const told = [...back, ...forth, ...within];
    const powers = (t: number): number[] => Array.from({ length: DEGREE + 1 }, (_, e) => t ** e);
    const rows = told.map((k) => powers(along(k)));
    const offs = told.map(off);
    let curve: number[] = [];
    const at = (row: readonly number[]): number =>
      row.reduce((sum, v, e) => sum + v * curve[e]!, 0);
    for (let round = 0; round < ROUNDS; round++) {
      const weights = told.map((_, c) => {
        if (c < back.length + forth.length) return 1;
        if (round === 0) return OWN;
        return (
          OWN * Math.min(1, (OUTLYING_PX / Math.max(1e-9, Math.abs(offs[c]! - at(rows[c]!)))) ** 2)
        );
      });
      curve = solve(
        new Matrix(rows.map((row, c) => row.map((v) => Math.sqrt(weights[c]!) * v))),
        Matrix.columnVector(offs.map((o, c) => Math.sqrt(weights[c]!) * o)),
      ).to1DArray();
    }
    for (let step = STEP; step <= length + 1 - STEP; step += STEP) {
      const t = step / (length + 1);
      const o = at(powers(t));
      out.set((from + step - 1) % n, [
        ring[a]! + t * whole * c - o * s,
        ring[a + 1]! + t * whole * s + o * c,
      ]);
    }
  }
  return out;
}

import { turnsOf } from './corners.ts';
import type { LinearPlane } from './linear.ts';
import { roughly } from './profile.ts';

/** A line of equal light that strays farther from its start than this leads astray, px. */
const FARTHEST_PX = 40;
const MOST_STEPS = 240;

/**
 * The line of equal light from one place to another, from pixel edge to pixel edge (marching squares, bilinear between
 * pixel centres). It runs into points and clefts as far as blur leaves them visible.
 *
 * @param from, to places near the line, picture px; the line is followed with the brighter side to the left if `brightLeft`
 * @returns points of the line, x and y interleaved; undefined where it does not lead from one to the other
 */
export function levelLine(
  luma: LinearPlane,
  level: number,
  from: readonly [number, number],
  to: readonly [number, number],
  brightLeft: boolean,
): number[] | undefined {
  const [x0, y0] = from;
  luma.need(x0 - FARTHEST_PX - 3, y0 - FARTHEST_PX - 3, x0 + FARTHEST_PX + 3, y0 + FARTHEST_PX + 3);
  const over = (i: number, j: number): boolean => roughly(luma, i, j) > level !== brightLeft;
  let i = Math.floor(x0);
  let j = Math.floor(y0);
  const out: number[] = [];
  let came = -1;
  for (let step = 0; step < MOST_STEPS; step++) {
    if (Math.hypot(i - x0, j - y0) > FARTHEST_PX) return undefined;
    // Corners of the cell round it, as seen in the picture: upper left, upper right, lower right, lower left.
    const c = [over(i, j), over(i + 1, j), over(i + 1, j + 1), over(i, j + 1)];
    // The line leaves through a side whose first corner (with y down, going round) is off and whose second is on: on is to the right.
    const leaves = [0, 1, 2, 3].filter((s) => !c[s] && c[(s + 1) % 4]);
    if (!leaves.length) return undefined;
    // Where it could leave by two sides, it turns the way it came.
    const side = leaves.length > 1 && came >= 0 ? leaves.find((s) => s !== came)! : leaves[0]!;
    const [ai, aj] = [i + (side === 1 || side === 2 ? 1 : 0), j + (side >= 2 ? 1 : 0)];
    const second = (side + 1) % 4;
    const [bi, bj] = [i + (second === 1 || second === 2 ? 1 : 0), j + (second >= 2 ? 1 : 0)];
    const a = roughly(luma, ai, aj);
    const b = roughly(luma, bi, bj);
    const t = Math.min(1, Math.max(0, (level - a) / (b - a || 1)));
    const [x, y] = [ai + t * (bi - ai), aj + t * (bj - aj)];
    out.push(x, y);
    if (Math.hypot(x - to[0], y - to[1]) < 1) return out;
    i += side === 1 ? 1 : side === 3 ? -1 : 0;
    j += side === 2 ? 1 : side === 0 ? -1 : 0;
    came = (side + 2) % 4;
  }
  return undefined;
}

/** A contour that turns by more than this has a point or a cleft into which it may not have been followed, radians. */
const TIP_RAD = 0.9;
/** From here on each way it surely runs along the edge; and the least where the next turn is near, points. */
const FLANK = 14;
const LEAST_FLANK = 7;
/** A tip's blunt end is at most this long, px. */
const BLUNT_PX = 20;
/** Light is compared so far each side of the edge, px. */
const BESIDE_PX = 3;
/** The brighter side must be brighter by this share. */
const LEAST_CONTRAST = 0.2;

/**
 * Leads a contour into its points and clefts, along the line half way between the light of its two sides.
 *
 * @param ring closed contour, picture px, points one px apart
 * @param normals its unit normals, to the right of the way along
 * @param gap points about a turn that its sides leave out
 */
export function intoTips(
  luma: LinearPlane,
  ring: Float64Array,
  normals: Float64Array,
  gap: number,
): Float64Array {
  const n = ring.length >> 1;
  const turns = turnsOf(ring, gap, TIP_RAD);
  const instead = new Map<number, { readonly to: number; readonly line: readonly number[] }>();
  // Turns close to each other are the blunt end of one tip.
  const tips: { first: number; last: number }[] = [];
  for (const k of turns) {
    const tip = tips[tips.length - 1];
    if (tip && k - tip.first <= BLUNT_PX) tip.last = k;
    else tips.push({ first: k, last: k });
  }
  tips.forEach(({ first, last }, t) => {
    const before = (first - tips[(t + tips.length - 1) % tips.length]!.last + n) % n || n;
    const after = (tips[(t + 1) % tips.length]!.first - last + n) % n || n;
    const flank = Math.min(FLANK, (before - 1) >> 1, (after - 1) >> 1);
    if (flank < LEAST_FLANK) return;
    const a = (first - flank + n) % n;
    const b = (last + flank) % n;
    const beside = (m: number, d: number): number => {
      const x = ring[2 * m]! + d * normals[2 * m]!;
      const y = ring[2 * m + 1]! + d * normals[2 * m + 1]!;
      luma.need(x - 2, y - 2, x + 2, y + 2);
      return roughly(luma, x, y);
    };
    const right = [beside(a, BESIDE_PX), beside(b, BESIDE_PX)] as const;
    const left = [beside(a, -BESIDE_PX), beside(b, -BESIDE_PX)] as const;
    const brightLeft = left[0] > right[0];
    const [dark, bright] = brightLeft ? [right, left] : [left, right];
    if (Math.max(...dark) > (1 - LEAST_CONTRAST) * Math.min(...bright)) return;
    const level = (left[0] + left[1] + right[0] + right[1]) / 4;
    const onLine = (m: number): [number, number] => {
      let best = 0;
      for (let d = -BESIDE_PX; d <= BESIDE_PX; d += 0.125)
        if (Math.abs(beside(m, d) - level) < Math.abs(beside(m, best) - level)) best = d;
      return [ring[2 * m]! + best * normals[2 * m]!, ring[2 * m + 1]! + best * normals[2 * m + 1]!];
    };
    const line = levelLine(luma, level, onLine(a), onLine(b), brightLeft);
    if (line) instead.set(a, { to: b, line });
  });
  if (!instead.size) return ring;
  const out: number[] = [];
  const first = [...instead.keys()][0]!;
  for (let step = 0; step < n;) {
    const k = (first + step) % n;
    const tip = instead.get(k);
    if (tip) {
      out.push(...tip.line);
      step += (tip.to - k + n) % n;
    } else {
      out.push(ring[2 * k]!, ring[2 * k + 1]!);
      step++;
    }
  }
  return Float64Array.from(out);
}

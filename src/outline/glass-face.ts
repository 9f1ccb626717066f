import type { Scanner } from '../view/scanner.ts';
import type { Edge } from './edge.ts';
import type { Lights } from './linear.ts';

/**
 * What a scanner's lens shows of a blank's wall. Where the wall faces the line below the lens, the far side of the blank stands
 * out beyond the face, by a share of the distance from that line: depth / (depth + optical path).
 */
export interface WallSeen {
  /** That share; 0 where no wall is seen. */
  readonly share: number;
  /** Width of the widest visible wall, px. */
  readonly widestPx: number;
}

/** Thickest blank that is looked for where nobody said how thick it is, mm, and the shortest optical path, mm. */
const THICKEST_MM = 15;
const SHORTEST_PATH_MM = 200;
/** Walls narrower than this are one step with the edge, px. */
export const LEAST_WALL_PX = 3;
/** Shares are tried so that the widest wall changes by this much, px. */
const TRIAL_PX = 0.5;
/** How much stronger the step at the wall's other end must be than what the face itself shows, in strengths of the edge. */
const SIGNIFICANT = 0.15;
/** Points whose wall is narrower than this share of the widest say little. */
const TELLING = 0.3;
/** Half the width of the difference by which a step is felt, px. */
const FEEL_PX = 1;

/** How far a point of an edge lies from the lens's line where it faces it, px along its normal; negative where it faces away. */
const facing = (e: Edge, k: number, lensPx: number): number => (lensPx - e.x[k]!) * e.nx[k]!;

/**
 * Looks for the wall beside the edges of one blank: a second step, at a distance that grows with the distance from the lens's line.
 *
 * @param thicknessMm as entered; undefined where nobody said
 */
export function wallSeen(
  scanner: Scanner,
  lights: Lights,
  edges: readonly Edge[],
  thicknessMm: number | undefined,
): WallSeen {
  const none = { share: 0, widestPx: 0 };
  let most = 0;
  for (const e of edges)
    for (let k = 0; k < e.count; k++) most = Math.max(most, Math.abs(facing(e, k, scanner.lensPx)));
  const depth = 1.2 * (thicknessMm ?? THICKEST_MM);
  const greatest = depth / (depth + SHORTEST_PATH_MM);
  if (!(most * greatest > LEAST_WALL_PX)) return none;
  const count = Math.ceil((most * greatest) / TRIAL_PX);
  const towards = new Float64Array(count);
  const away = new Float64Array(count);
  let telling = 0;
  let control = 0;
  for (const e of edges) {
    for (let k = 0; k < e.count; k += 2) {
      const f = facing(e, k, scanner.lensPx);
      if (Math.abs(f) < TELLING * most || e.corner[k]) continue;
      const own = stepAt(lights, e, k, 0);
      if (!(own > 1e-3)) continue;
      if (f > 0) telling++;
      else control++;
      const sums = f > 0 ? towards : away;
      for (let n = 0; n < count; n++) {
        const t = ((n * TRIAL_PX) / most) * Math.abs(f);
        if (t < LEAST_WALL_PX - 1) continue;
        sums[n]! += Math.min(1, stepAt(lights, e, k, -t) / own);
      }
    }
  }
  if (telling < 20) return none;
  let best = 0;
  let score = SIGNIFICANT;
  for (let n = 1; n + 1 < count; n++) {
    const here = towards[n]! / telling - (control > 20 ? away[n]! / control : 0);
    if (here > score && n * TRIAL_PX >= LEAST_WALL_PX) {
      score = here;
      best = n;
    }
  }
  if (!best) return none;
  const share = (best * TRIAL_PX) / most;
  return { share, widestPx: best * TRIAL_PX };
}

/** Step of the square root of linear light, where noise is even, `t` px outward of a point of an edge. */
function stepAt({ luma, red, blue }: Lights, e: Edge, k: number, t: number): number {
  let sum = 0;
  for (const plane of [luma, red, blue]) {
    const at = (d: number): number => {
      const x = Math.round(e.x[k]! + d * e.nx[k]!);
      const y = Math.round(e.y[k]! + d * e.ny[k]!);
      if (x < 0 || y < 0 || x >= plane.widthPx || y >= plane.heightPx) return 0;
      plane.need(x, y, x, y);
      return Math.sqrt(plane.values[y * plane.widthPx + x]! / 65535);
    };
    sum += (at(t + FEEL_PX) - at(t - FEEL_PX)) ** 2;
  }
  return Math.sqrt(sum);
}

/**
 * The contour of the face on the glass, from an edge that was measured at the far side of the wall where the wall is seen: those
 * points move along the line, away from where the lens is.
 *
 * @returns x, y interleaved, px
 */
export function faceContour(scanner: Scanner, e: Edge, { share }: WallSeen): Float64Array {
  const out = new Float64Array(2 * e.count);
  for (let k = 0; k < e.count; k++) {
    const off = e.x[k]! - scanner.lensPx;
    // Walls that hardly face the lens move along themselves: eased, so that the contour does not tear.
    const turned = Math.max(0, Math.min(1, (Math.sign(-off) * e.nx[k]!) / 0.1));
    out[2 * k] = scanner.lensPx + off * (1 + turned * (share / (1 - share)));
    out[2 * k + 1] = e.y[k]!;
  }
  return out;
}

import type { Scanner } from '../view/scanner.ts';
import { UNRESOLVED_PX, type Edge } from './edge.ts';
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
  /** Column below the lens, px. */
  readonly lensPx: number;
  /** A wall as wide as a lens would show it was looked for and is not there: a contact sensor. */
  readonly ruledOut: boolean;
}

/** Thickest blank that is looked for where nobody said how thick it is, mm. */
const THICKEST_MM = 15;
/**
 * Optical paths of scanners with a lens, mm: the shortest, the usual and the longest (folded by mirrors; common practice, no source).
 */
const SHORTEST_PATH_MM = 200;
const USUAL_PATH_MM = 320;
const LONGEST_PATH_MM = 450;
/** Walls narrower than this are one step with the edge, px. */
const LEAST_WALL_PX = 4;
/** Shares are tried so that the widest wall changes by this much, px. */
const TRIAL_PX = 0.5;
/** A scan of part of the glass has its lens elsewhere than over its middle: tried up to this far off, mm, in these steps. */
const LENS_OFF_MM = 60;
const LENS_STEP_MM = 4;
/** How much stronger the step at the wall's other end must be than what the face itself shows, in strengths of the edge. */
const SIGNIFICANT = 0.5;
/** Enough where the best width is more than the least that is tried: there the edge's own blur may be taken for a wall. */
const SIGNIFICANT_WITHIN = 0.3;
/** Points whose wall is narrower than this share of the widest say little. */
const TELLING = 0.3;
/** Fewest points of an edge that tell of a wall. */
const LEAST_POINTS = 20;
/** Half the width of the difference by which a step is felt, px. */
const FEEL_PX = 1;

/**
 * A point of an edge with the steps found beside it, in strengths of its own: the strongest step is that of the wall's far side or
 * that of the face, so the other one lies inward or outward.
 */
interface Probe {
  readonly x: number;
  readonly nx: number;
  readonly steps: Float32Array;
}

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
  const { pxMm, lensPx } = scanner;
  const none = { share: 0, widestPx: 0, lensPx, ruledOut: false };
  const depth = 1.2 * (thicknessMm ?? THICKEST_MM);
  const greatest = depth / (depth + SHORTEST_PATH_MM);
  let farthest = 0;
  for (const e of edges)
    for (let k = 0; k < e.count; k++) farthest = Math.max(farthest, Math.abs(lensPx - e.x[k]!));
  const reach = greatest * (farthest + LENS_OFF_MM / pxMm);
  if (!(reach > LEAST_WALL_PX)) return none;
  const count = Math.ceil(reach / TRIAL_PX) + 1;
  const probes: Probe[] = [];
  for (const e of edges) {
    for (let k = 0; k < e.count; k += 3) {
      if (e.corner[k] || Math.abs(e.nx[k]!) < TELLING) continue;
      const own = stepAt(lights, e, k, 0);
      if (!(own > 1e-3)) continue;
      const steps = Float32Array.from({ length: count }, (_, n) =>
        Math.min(
          1,
          Math.max(stepAt(lights, e, k, -n * TRIAL_PX), stepAt(lights, e, k, n * TRIAL_PX)) / own,
        ),
      );
      probes.push({ x: e.x[k]!, nx: e.nx[k]!, steps });
    }
  }
  let best = { score: 0, share: 0, widestPx: 0, lensPx };
  let expected = 0;
  for (let off = -LENS_OFF_MM; off <= LENS_OFF_MM; off += LENS_STEP_MM) {
    const lens = lensPx + off / pxMm;
    const walls = probes.map(({ x, nx }) => (lens - x) * nx);
    const most = walls.reduce((m, f) => Math.max(m, f), 0);
    const toward = [...walls.keys()].filter((k) => walls[k]! > TELLING * most);
    const away = [...walls.keys()].filter((k) => -walls[k]! > TELLING * most);
    if (toward.length < LEAST_POINTS) continue;
    if (off === 0 && thicknessMm !== undefined)
      expected = (most * thicknessMm) / (thicknessMm + LONGEST_PATH_MM);
    for (let widest = LEAST_WALL_PX; widest <= most * greatest; widest += TRIAL_PX) {
      const mean = (chosen: readonly number[]): number => {
        let sum = 0;
        for (const k of chosen)
          sum +=
            probes[k]!.steps[Math.round((Math.abs(walls[k]!) * widest) / most / TRIAL_PX)] ?? 0;
        return sum / chosen.length;
      };
      const score = mean(toward) - (away.length >= LEAST_POINTS ? mean(away) : 0);
      // The middle of the scan is the likelier place of the lens.
      const weighed = score - (0.03 * Math.abs(off)) / LENS_OFF_MM;
      if (weighed > best.score)
        best = { score: weighed, share: widest / most, widestPx: widest, lensPx: lens };
    }
  }
  const enough = best.widestPx > LEAST_WALL_PX ? SIGNIFICANT_WITHIN : SIGNIFICANT;
  if (best.score < enough) return { ...none, ruledOut: expected > LEAST_WALL_PX };
  return { share: best.share, widestPx: best.widestPx, lensPx: best.lensPx, ruledOut: false };
}

/** How deep below the face print may reach over an edge, or the edge be rounded, mm: there the face's edge is seen. */
const WRAP_MM = 0.5;
/** Share of a wall's width by which its own step is missed once it was found (k = 1), and while it is one with the edge. */
const FOUND_SHARE = 0.15;
const UNFOUND_SHARE = 0.4;
/** The same where the edge turns from facing the lens to facing away: there the wall tapers off. */
const TURNING_SHARE = 0.4;

/**
 * Standard uncertainty that a wall beside the face brings to a point of the edge, mm: a small share of the wall where it was seen
 * and taken off; of the widest wall that would not have been told from the edge where none was seen.
 *
 */
export function farSideU(
  { share, ruledOut, lensPx }: WallSeen,
  edge: Edge,
  k: number,
  pxMm: number,
  thicknessMm: number | undefined,
): number {
  if (ruledOut) return 0;
  const faces = (m: number): boolean => (lensPx - edge.x[m]!) * edge.nx[m]! > 0;
  const widePx = share * Math.abs(lensPx - edge.x[k]!);
  for (let s = 1; s <= widePx; s++) {
    const other = [(k + s) % edge.count, (k - s + edge.count) % edge.count];
    if (other.some((m) => faces(m) !== faces(k))) return TURNING_SHARE * widePx * pxMm;
  }
  if (!faces(k)) return 0;
  // How far the point lies from the lens's line, along its normal.
  const awayMm = (lensPx - edge.x[k]!) * edge.nx[k]! * pxMm;
  if (share > 0) {
    const told = share * awayMm >= UNRESOLVED_PX * pxMm;
    return Math.hypot(
      (told ? FOUND_SHARE : UNFOUND_SHARE) * share * awayMm,
      (WRAP_MM / USUAL_PATH_MM) * awayMm,
    );
  }
  const depth = thicknessMm ?? THICKEST_MM;
  const wide = (depth / (depth + USUAL_PATH_MM)) * awayMm;
  // Two or three pixels of wall already widen an edge so that it shows.
  return UNFOUND_SHARE * Math.min(wide, (thicknessMm === undefined ? 2 : 3) * pxMm);
}

/** Step of the square root of linear light, where noise is even, `t` px outward of a point of an edge. */
const stepAt = (lights: Lights, e: Edge, k: number, t: number): number =>
  difference(lights, e, k, t - FEEL_PX, t + FEEL_PX);

/** Difference of the square roots of linear light between two places along the normal of a point of an edge, px outward. */
function difference(
  { luma, red, blue }: Lights,
  e: Edge,
  k: number,
  from: number,
  to: number,
): number {
  let sum = 0;
  for (const plane of [luma, red, blue]) {
    const at = (d: number): number => {
      const x = Math.round(e.x[k]! + d * e.nx[k]!);
      const y = Math.round(e.y[k]! + d * e.ny[k]!);
      if (x < 0 || y < 0 || x >= plane.widthPx || y >= plane.heightPx) return 0;
      plane.need(x, y, x, y);
      return Math.sqrt(plane.at(x, y) / 65535);
    };
    sum += (at(to) - at(from)) ** 2;
  }
  return Math.sqrt(sum);
}

/** Points beside each other that decide together which step was the stronger one. */
const TOGETHER = 5;
/** A wall wider than this shows its colour, px; beyond blur on either side of a step there are plain colours, px. */
const LEAST_TOLD_PX = 1.5;
const DEEP_PX = 2.5;
/** Share of the step at the edge by which the wall's colour differs from the face's at least. */
const WALLED = 0.35;

/** So many points may be overtaken; a way between two points is a fold where it is so much longer than straight. */
const OVERTAKEN = 12;
const FOLDED = 0.6;

/**
 * The contour of the face on the glass, from an edge that was measured at the strongest step: where that is the far side of the
 * wall, points move along the line, away from where the lens is; where it is the face itself, they stay.
 *
 * @returns x, y interleaved, px
 */
export function faceContour(lights: Lights, e: Edge, wall: WallSeen): Float64Array {
  const { share, lensPx } = wall;
  const n = e.count;
  const wideAt = (k: number): number => (Math.abs(e.x[k]! - lensPx) * share) / (1 - share);
  const facing = Uint8Array.from(e.x, (x, k) => ((lensPx - x) * e.nx[k]! > 0 ? 1 : 0));
  // Between the edge and the face there is the wall's colour where the strongest step was its far side, else the face's own.
  const walled = new Float64Array(n);
  let most = 0;
  for (let k = 0; k < n; k++) {
    const across = wideAt(k) * Math.abs(e.nx[k]!);
    if (!facing[k] || across < LEAST_TOLD_PX) continue;
    const own = difference(lights, e, k, -DEEP_PX, DEEP_PX);
    walled[k] = difference(lights, e, k, -across / 2, -across - DEEP_PX) - WALLED * own;
    most += walled[k]!;
  }
  const moves = Uint8Array.from(facing, (faces, k) => {
    if (!faces) return 0;
    let sum = 0;
    for (let s = -TOGETHER; s <= TOGETHER; s++) sum += walled[(k + s + n) % n]!;
    return (sum || most) > 0 ? 1 : 0;
  });
  const points: { readonly x: number; readonly y: number; readonly moved: number }[] = [];
  for (let k = 0; k < n; k++) {
    const off = e.x[k]! - lensPx;
    const wide = wideAt(k);
    if (moves[k]) {
      points.push({ x: e.x[k]! + Math.sign(off) * wide, y: e.y[k]!, moved: 1 });
      continue;
    }
    // Between the last point that moves and the first that stays the silhouette runs along the wall's own displacement.
    const along = Math.ceil(wide);
    let beside = false;
    for (let s = 1; s <= along && !beside; s++)
      beside = moves[(k + s) % n] === 1 || moves[(k - s + n) % n] === 1;
    if (!beside) points.push({ x: e.x[k]!, y: e.y[k]!, moved: 0 });
  }
  // What moved may overtake what stayed: there the contour would double back.
  const out: number[] = [];
  for (let k = 0; k < points.length; k++) {
    const a = points[k]!;
    out.push(a.x, a.y);
    for (let s = OVERTAKEN; s > 1; s--) {
      const b = points[k + s];
      if (!b || a.moved === b.moved || Math.hypot(b.x - a.x, b.y - a.y) > FOLDED * s) continue;
      k += s - 1;
      break;
    }
  }
  return Float64Array.from(out);
}

/** How far outward of the face's edge the wall's other side is seen, px along the normal; 0 where the edge hides it. */
export const wallBeside =
  ({ share, lensPx }: WallSeen) =>
  (x: number, nx: number): number =>
    Math.max(0, share * (lensPx - x) * nx);

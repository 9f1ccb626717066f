import type { Point } from '../base/measure.ts';
import { outwardNormals } from '../geometry/measure.ts';
import type { RayVertex } from '../geometry/radial.ts';
import { isScanner } from '../view/model.ts';
import type { Camera, View } from '../view/view.ts';
import type { Edge } from './edge.ts';
import type { LinearPlane } from './linear.ts';
import type { OutlineMode } from './outline.ts';
import { sample } from './profile.ts';
import type { Seen } from './uncertainty.ts';
import { wallWidths } from './wall.ts';

/**
 * How far inside its widest outline the face of a blank ends, where the wall in between leans evenly (draft, a bevel): seen where
 * the wall faces the camera, as a second step at the distance by which the wall is displaced and this more.
 */
export interface Rim {
  readonly insetMm: number;
  /** Standard uncertainty, mm. */
  readonly uMm: number;
}

/** Insets are tried in these steps, from so far outside on, mm. */
const BIN_MM = 0.02;
const OUTSIDE_MM = 0.3;
/** A step is felt over so much each way, px. */
const FEEL_PX = 0.7;
/** The rim is told from the edge itself from this far inside it on, px. */
const APART_PX = 3;
/** A wall is displaced by this at least where it tells, px; and at so many points at least. */
const TELLING_PX = 4;
const LEAST_POINTS = 150;
/** The mean step at the rim: at least this share of the face's light, and so many times what is felt elsewhere. */
const LEAST_STEP = 0.03;
const OVER_NOISE = 6;
/** A rim is a line: half of its step is felt within so many px, and this more for walls that lean unevenly, mm. */
const WIDEST_PX = 4;
const UNEVEN_MM = 0.08;
/** Where a step is felt the rim lies to within this, px. */
const U_PX = 0.3;

/**
 * Looks for the rim of the face along the walls that face the camera.
 *
 * @param edges feet of the walls
 * @param heights above the sheet: of the widest place, and of the face, mm
 * @returns undefined where no sharp rim lies at one and the same depth all along
 */
export function rimOf(
  luma: LinearPlane,
  edges: readonly Edge[],
  view: View,
  [widest, face]: readonly [widest: number, face: number],
): Rim | undefined {
  if (isScanner(view.eye)) return undefined;
  const most = face - widest;
  const bins = Math.ceil((most + 2 * OUTSIDE_MM) / BIN_MM);
  const sums = new Float64Array(bins);
  const counts = new Float64Array(bins);
  let used = 0;
  const mmPerPx = view.mmPerPx;
  for (const edge of edges) {
    const walls = wallWidths(edge, view, [widest, face]);
    for (let k = 0; k < edge.count; k++) {
      const wall = walls[k]!;
      if (wall < TELLING_PX || edge.corner[k] || !(edge.inside[k]! > 0)) continue;
      used++;
      const [x, y, nx, ny] = [edge.x[k]!, edge.y[k]!, edge.nx[k]!, edge.ny[k]!];
      const room = wall + (most + OUTSIDE_MM) / mmPerPx + 4;
      luma.need(x - room, y - room, x + room, y + room);
      for (let b = 0; b < bins; b++) {
        const d = wall + (b * BIN_MM - OUTSIDE_MM) / mmPerPx;
        if (d < APART_PX) continue;
        const inner = sample(luma, x - (d + FEEL_PX) * nx, y - (d + FEEL_PX) * ny);
        const outer = sample(luma, x - (d - FEEL_PX) * nx, y - (d - FEEL_PX) * ny);
        sums[b]! += (inner - outer) / edge.inside[k]!;
        counts[b]!++;
      }
    }
  }
  if (used < LEAST_POINTS) return undefined;
  const steps = sums.map((sum, b) => (counts[b]! > used / 2 ? sum / counts[b]! : 0));
  const strength = steps.map(Math.abs);
  let at = 0;
  strength.forEach((v, b) => {
    if (v > strength[at]!) at = b;
  });
  const noise = strength.slice().sort()[bins >> 1]!;
  const top = strength[at]!;
  if (at === 0 || at === bins - 1 || top < Math.max(LEAST_STEP, OVER_NOISE * noise))
    return undefined;
  let [from, to] = [at, at];
  while (from > 0 && strength[from - 1]! > top / 2) from--;
  while (to < bins - 1 && strength[to + 1]! > top / 2) to++;
  const width = (to - from + 1) * BIN_MM;
  if (from === 0 || to === bins - 1 || width > WIDEST_PX * mmPerPx + UNEVEN_MM) return undefined;
  let [sum, moment] = [0, 0];
  for (let b = from; b <= to; b++) {
    sum += strength[b]!;
    moment += strength[b]! * b;
  }
  const insetMm = Math.max(0, (moment / sum) * BIN_MM - OUTSIDE_MM);
  return { insetMm, uMm: Math.hypot(U_PX * mmPerPx, width / 6) };
}

/**
 * From the blank behind its silhouette, its face where that hides the wall, to its widest outline: out again by the inset, as far as
 * the face was displaced at all.
 *
 * @param foot, scale see `Behind`
 */
export function widestBehind(
  ring: readonly RayVertex<'sheet'>[],
  { insetMm }: Rim,
  foot: Point<'sheet'>,
  scale: number,
): RayVertex<'sheet'>[] {
  const { nx, ny } = outwardNormals(ring);
  return ring.map((v, k) => {
    const overhang = (scale - 1) * ((v.x - foot.x) * nx[k]! + (v.y - foot.y) * ny[k]!);
    const out = v.kind === 'near' ? 0 : Math.min(insetMm, Math.max(0, overhang));
    return { ...v, x: v.x + out * nx[k]!, y: v.y + out * ny[k]! };
  });
}

/**
 * How much too large a rounded edge looks from the side, mm: the line of sight touches its quarter circle above the widest place.
 * A bevel of 45 degrees does not. (Both are closed forms: r (1 / cos phi - 1), and nothing.)
 *
 * @param tangent of the angle between the line of sight and the vertical, in the plane across the edge
 */
const bulgeOf = (depthMm: number, tangent: number): number =>
  depthMm * (Math.hypot(1, Math.max(0, tangent)) - 1);

/** Half of what a rounded edge would add is taken off: it may be rounded or bevelled. */
export function insideBulge(
  ring: readonly RayVertex<'sheet'>[],
  depthMm: number,
  foot: Point<'sheet'>,
  cameraAboveMm: number,
): RayVertex<'sheet'>[] {
  const { nx, ny } = outwardNormals(ring);
  return ring.map((v, k) => {
    const tangent = ((v.x - foot.x) * nx[k]! + (v.y - foot.y) * ny[k]!) / cameraAboveMm;
    const inward = v.kind === 'near' ? 0 : bulgeOf(depthMm, tangent) / 2;
    return { ...v, x: v.x - inward * nx[k]!, y: v.y - inward * ny[k]! };
  });
}

/**
 * What is not known of where the face ends, as a displacement of the widest outline: nothing where the wall is in sight. Without a rim
 * that was seen the face may end anywhere from the widest outline to as deep inside it as the edge is high, all alike likely; an edge
 * that does not lean is rounded or bevelled.
 *
 * @param widest, face heights above the sheet, mm
 */
export function overhangMode(
  seen: readonly Seen[],
  { centre }: Camera,
  widest: number,
  face: number,
  rim: Rim | undefined,
  leans: boolean,
): OutlineMode {
  const share = (face - widest) / (centre[2] - face);
  const depth = face - widest;
  const u = seen.map((v) => {
    const over = share * ((v.x - centre[0]) * v.nx + (v.y - centre[1]) * v.ny);
    if (over <= 0) return 0;
    // Alike likely from none of a bulge to all of it.
    if (!leans) return bulgeOf(depth, over / depth) / Math.sqrt(12);
    if (rim) return rim.uMm * Math.min(1, over / Math.max(rim.insetMm, rim.uMm));
    return Math.sqrt((over ** 3 - Math.max(0, over - depth) ** 3) / (3 * depth));
  });
  return {
    source: 'edge depth',
    dx: Float64Array.from(seen, (v, k) => v.nx * u[k]!),
    dy: Float64Array.from(seen, (v, k) => v.ny * u[k]!),
  };
}

import type { Point } from '../base/measure.ts';
import { behindSilhouette, steadyAngles, type RayVertex } from '../geometry/radial.ts';
import { isScanner, pictureOfMany, sheetOfPictureMany } from '../view/model.ts';
import type { View } from '../view/view.ts';
import type { Edge } from './edge.ts';

/** Noise of a stretch that runs along a ray, mm. */
const RAY_NOISE_MM = 0.06;

/** The blank behind its silhouette: rings in the frame, and what its wall does to the picture. A scan shows the face itself. */
export interface Behind {
  readonly rings: RayVertex<'sheet'>[][];
  /** The point about which the wall is displaced, and how much larger its nearer end appears than its farther one. */
  readonly foot: Point<'sheet'> | undefined;
  readonly scale: number;
  readonly mmPerPx: number;
}

/**
 * Takes the wall of a blank out of its silhouette.
 *
 * @param planes on which edges were seen (see `seenPlanes`)
 */
export function behindWall(
  view: View,
  edges: readonly Edge[],
  [near, far]: readonly [near: number, far: number],
): Behind {
  const { eye } = view;
  if (isScanner(eye)) {
    let first = 0;
    return {
      rings: edges.map((edge) => {
        const from = first;
        first += edge.count;
        return sheetRing(edge, view, 0).map((p, k) => ({
          ...p,
          kind: 'far',
          from: from + k,
          hiddenAfter: false,
        }));
      }),
      foot: undefined,
      scale: 1,
      mmPerPx: view.mmPerPx,
    };
  }
  const height = eye.centre[2] - near;
  const scale = height / (height - Math.max(0, far - near));
  const foot = { x: eye.centre[0], y: eye.centre[1] };
  const silhouette = edges.map((edge) =>
    steadyAngles(sheetRing(edge, view, near), foot, RAY_NOISE_MM),
  );
  return {
    rings: behindSilhouette(silhouette, foot, scale).map((ring) =>
      withMetFlanks(downWalls(ring, foot, scale)),
    ),
    foot,
    scale,
    mmPerPx: height / scale / eye.fPx,
  };
}

/** A stretch that runs along a ray no farther off it than this and this share of its length may be a wall seen from the side, mm. */
const OFF_RAY_MM = 0.06;
const OFF_RAY_SHARE = 0.015;
/** Shorter ones are told by nothing, mm. */
const LEAST_DOWN_MM = 1.5;
/** Top and foot of a rounded wall go on along the ray for a while, mm in all. */
const TANGENT_MM = 3;
/** An inner corner turns by more than this over as much of the ring beyond it, rad, mm. */
const INNER_RAD = 0.35;
const BEYOND_MM = 1;

/**
 * Marks what may be no edge at all: a silhouette that runs along a ray from an inner corner, no farther than a wall reaches, is drawn
 * as well by a wall seen from the side, from its top to its foot. What lies behind that wall was not seen.
 */
export function downWalls(
  ring: readonly RayVertex<'sheet'>[],
  foot: Point<'sheet'>,
  scale: number,
): RayVertex<'sheet'>[] {
  const n = ring.length;
  const radius = ring.map((p) => Math.hypot(p.x - foot.x, p.y - foot.y));
  const at = (k: number): number => ((k % n) + n) % n;
  const hidden = new Uint8Array(n);
  for (const way of [1, -1] as const) {
    /** By the vertex at the bottom of a stretch, how many vertices higher it begins at most. */
    const highest = new Map<number, number>();
    for (let top = 0; top < n; top++) {
      const p = ring[top]!;
      const [cx, cy] = [(p.x - foot.x) / radius[top]!, (p.y - foot.y) / radius[top]!];
      let steps = 0;
      for (let k = 1; k < n && p.kind === 'far'; k++) {
        const q = ring[at(top + way * k)]!;
        const down = (p.x - q.x) * cx + (p.y - q.y) * cy;
        const off = Math.abs((q.y - foot.y) * cx - (q.x - foot.x) * cy);
        if (q.kind !== 'far' || down <= 0 || off > OFF_RAY_MM + OFF_RAY_SHARE * down) break;
        steps = k;
      }
      const low = at(top + way * steps);
      if (steps > (highest.get(low) ?? 0)) highest.set(low, steps);
    }
    for (const [low, steps] of highest) {
      const top = at(low - way * steps);
      const length = radius[top]! - radius[low]!;
      if (length < LEAST_DOWN_MM || radius[top]! > radius[low]! * scale + TANGENT_MM) continue;
      const p = ring[low]!;
      let beyond = p;
      for (let k = 1; k < n && Math.hypot(beyond.x - p.x, beyond.y - p.y) < BEYOND_MM; k++)
        beyond = ring[at(low + way * k)]!;
      const [dx, dy] = [beyond.x - p.x, beyond.y - p.y];
      const [cx, cy] = [(p.x - foot.x) / radius[low]!, (p.y - foot.y) / radius[low]!];
      // Rings have the blank to their left: an inner corner turns to the right. Downwards is (-cx, -cy).
      const turn = way * Math.atan2(cy * dx - cx * dy, -(cx * dx + cy * dy));
      if (beyond.kind !== 'far' || turn > -INNER_RAD) continue;
      for (let k = 0; k < steps; k++) hidden[way > 0 ? at(top + k) : at(low + k)] = 1;
    }
  }
  return ring.map((v, k) => (hidden[k] ? { ...v, hiddenAfter: true } : v));
}

/** Flanks are drawn on over at most so many gaps' widths, and only over narrow gaps, mm. */
const FARTHEST_MET = 3;
const WIDEST_GAP_MM = 2;
/** A flank's direction is taken between these places before its end, mm: the end itself is blurred. */
const FLANK_MM = [0.2, 0.7, 1.4] as const;
/** Flanks that turn by less where they meet are one flank, radians. */
const LEAST_MET_RAD = 0.9;
/** A flank that bends by more from the first half to the second belongs to a rounded corner, radians. */
const FLANK_BEND_RAD = 0.12;

/**
 * Draws on the two flanks of an inner corner whose bottom no ray reached, to where they meet: nearer to the blank than the
 * straight piece that closes the gap. What is drawn on stays marked as not seen.
 */
export function withMetFlanks(ring: readonly RayVertex<'sheet'>[]): RayVertex<'sheet'>[] {
  const n = ring.length;
  const flank = (end: number, way: 1 | -1): readonly [number, number] | undefined => {
    const e = ring[end]!;
    const found: RayVertex<'sheet'>[] = [];
    for (let s = 1; s < n && found.length < FLANK_MM.length; s++) {
      const p = ring[(end + way * s + n) % n]!;
      if (p.kind === 'gap' || p.hiddenAfter) return undefined;
      while (Math.hypot(p.x - e.x, p.y - e.y) >= FLANK_MM[found.length]!) found.push(p);
    }
    const [near, middle, far] = found;
    if (!near || !middle || !far) return undefined;
    const [ux, uy] = [near.x - middle.x, near.y - middle.y];
    const [vx, vy] = [middle.x - far.x, middle.y - far.y];
    if (Math.abs(Math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)) > FLANK_BEND_RAD)
      return undefined;
    const length = Math.hypot(near.x - far.x, near.y - far.y);
    return length > 0 ? [(near.x - far.x) / length, (near.y - far.y) / length] : undefined;
  };
  return ring.flatMap((v, k) => {
    if (!v.hiddenAfter) return [v];
    const w = ring[(k + 1) % n]!;
    const gap = Math.hypot(w.x - v.x, w.y - v.y);
    const a = flank(k, -1);
    const b = flank((k + 1) % n, 1);
    if (!a || !b || gap > WIDEST_GAP_MM) return [v];
    // v + s a = w + t b, both beyond the ends and on the side of the material.
    const det = a[1] * b[0] - a[0] * b[1];
    // Where a flank only bends on there is no corner; where they run side by side they do not meet.
    if (a[0] * b[0] + a[1] * b[1] < -Math.cos(LEAST_MET_RAD) || Math.abs(det) < 0.1) return [v];
    const [dx, dy] = [w.x - v.x, w.y - v.y];
    const s = (dy * b[0] - dx * b[1]) / det;
    const t = (dy * a[0] - dx * a[1]) / det;
    const most = FARTHEST_MET * gap;
    if (s <= 0 || t <= 0 || s > most || t > most) return [v];
    const met = { x: v.x + s * a[0], y: v.y + s * a[1] };
    if (dx * (met.y - v.y) - dy * (met.x - v.x) <= 0) return [v];
    return [v, { ...met, kind: 'meeting' as const, from: -1, hiddenAfter: true }];
  });
}

/** An edge on the plane z = heightMm. The picture's y runs down: material on the left there stays on the left here. */
export function sheetRing(edge: Edge, view: View, heightMm: number): Point<'sheet'>[] {
  const places = new Float64Array(2 * edge.count);
  for (let k = 0; k < edge.count; k++) {
    places[2 * k] = edge.x[k]!;
    places[2 * k + 1] = edge.y[k]!;
  }
  sheetOfPictureMany(view.eye, places, heightMm, places);
  return Array.from({ length: edge.count }, (_, k) => ({
    x: places[2 * k]!,
    y: places[2 * k + 1]!,
  }));
}

/** How wide a straight wall shows to a camera at each point of an edge, px along the normal; negative where it faces away. */
export function wallWidths(
  edge: Edge,
  view: View,
  [near, far]: readonly [near: number, far: number],
): Float64Array {
  if (isScanner(view.eye)) return new Float64Array(edge.count);
  const places = Float64Array.from(sheetRing(edge, view, near).flatMap(({ x, y }) => [x, y]));
  pictureOfMany(view.eye, places, far, places);
  const { nx, ny } = steadyNormals(edge);
  return Float64Array.from(
    edge.x,
    (x, k) => nx[k]! * (x - places[2 * k]!) + ny[k]! * (edge.y[k]! - places[2 * k + 1]!),
  );
}

/** Points each way over which normals are averaged where walls are judged: a tall wall's displacement magnifies their noise. */
const NORMAL_REACH = 6;
/** Cosine between normals up to which they are noise about one direction. */
const ONE_WAY = 0.97;

/** Normals averaged along an edge, as far as the next corner. */
function steadyNormals({ count: n, nx, ny, corner }: Edge): { nx: Float64Array; ny: Float64Array } {
  const out = { nx: new Float64Array(n), ny: new Float64Array(n) };
  for (let k = 0; k < n; k++) {
    let [x, y] = [nx[k]!, ny[k]!];
    for (const way of [-1, 1]) {
      for (let s = 1; s <= NORMAL_REACH && !corner[k]; s++) {
        const m = (k + way * s + n) % n;
        if (corner[m] || nx[k]! * nx[m]! + ny[k]! * ny[m]! < ONE_WAY) break;
        x += nx[m]!;
        y += ny[m]!;
      }
    }
    const length = Math.hypot(x, y) || 1;
    out.nx[k] = x / length;
    out.ny[k] = y / length;
  }
  return out;
}

import type { Point } from '../base/measure.ts';
import { behindRows, behindSilhouette, steadyAngles, type RayVertex } from '../geometry/radial.ts';
import { glassOf, OPTICAL_PATH_MM, scannedAt, type Scanner } from '../view/scanner.ts';
import { isScanner, sheetOfPictureMany } from '../view/model.ts';
import type { View } from '../view/view.ts';
import type { Edge } from './edge.ts';

/** Noise of a stretch that runs along a ray, mm. */
const RAY_NOISE_MM = 0.06;

/** The blank behind its silhouette: rings in the frame, and what its wall does to the picture. */
export interface Behind {
  readonly rings: RayVertex<'sheet'>[][];
  /** How much larger the farther end of the wall appears than the nearer one, about the foot point or the lens's line. */
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
    if (!(near > 0)) {
      const rings = edges.map((edge) => sheetRing(edge, view, 0));
      let first = 0;
      return {
        rings: rings.map((ring) => {
          const from = first;
          first += ring.length;
          return ring.map((p, k) => ({ ...p, kind: 'far', from: from + k, hiddenAfter: false }));
        }),
        scale: 1,
        mmPerPx: view.mmPerPx,
      };
    }
    const scale = (OPTICAL_PATH_MM + near) / OPTICAL_PATH_MM;
    return { rings: behindLens(eye, edges, scale), scale, mmPerPx: view.mmPerPx };
  }
  const height = eye.centre[2] - near;
  const scale = height / (height - Math.max(0, far - near));
  const foot = { x: eye.centre[0], y: eye.centre[1] };
  const silhouette = edges.map((edge) =>
    steadyAngles(sheetRing(edge, view, near), foot, RAY_NOISE_MM),
  );
  return {
    rings: behindSilhouette(silhouette, foot, scale),
    scale,
    mmPerPx: height / scale / eye.fPx,
  };
}

/** Rows of the picture are the rays of a line sensor; x counts from below the lens, y up. */
function behindLens(
  scanner: Scanner,
  edges: readonly Edge[],
  scale: number,
): RayVertex<'sheet'>[][] {
  const { pxMm, lensPx } = scanner;
  const silhouette = edges.map((edge) =>
    Array.from({ length: edge.count }, (_, k): Point<'sheet'> => ({
      x: (edge.x[k]! - lensPx) * pxMm * scale,
      y: -edge.y[k]! * pxMm,
    })),
  );
  return behindRows(silhouette, scale).map((ring) =>
    ring.map((v) => ({ ...v, ...glassOf(scanner, lensPx + v.x / pxMm, -v.y / pxMm, 0) })),
  );
}

/** Where a place of the frame lies along a scanner's line, mm from below the lens. */
export const fromLens = (scanner: Scanner, p: Point<'sheet'>): number =>
  (scannedAt(scanner, p.x, p.y, 0).x - scanner.lensPx) * scanner.pxMm;

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

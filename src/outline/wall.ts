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
    rings: behindSilhouette(silhouette, foot, scale),
    foot,
    scale,
    mmPerPx: height / scale / eye.fPx,
  };
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
  return Float64Array.from(
    edge.x,
    (x, k) => edge.nx[k]! * (x - places[2 * k]!) + edge.ny[k]! * (edge.y[k]! - places[2 * k + 1]!),
  );
}

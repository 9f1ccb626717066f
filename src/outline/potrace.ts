import Potrace from 'potrace/lib/Potrace.js';
import Bitmap from 'potrace/lib/types/Bitmap.js';
import type { MaskCurve } from './mask-curves.ts';
import { CORNER, CUBIC } from './mask-curves.ts';

const SPECKLE_PX2 = 4;

/**
 * Smooth curves with corners round every part of a mask and every hole in it, by Selinger's polygon method.
 * Uses potrace's private names, because its public face only reads files; the version is pinned and the names are tested.
 */
export function curvesOfMask(mask: Uint8Array, width: number, height: number): MaskCurve[] {
  const bitmap = new Bitmap(width, height);
  for (let k = 0; k < mask.length; k++) bitmap.data[k] = mask[k] ? 0 : 255;
  const potrace = new Potrace({
    turdSize: SPECKLE_PX2,
    alphaMax: 1,
    optCurve: true,
    optTolerance: 0.4,
    threshold: 128,
  });
  potrace._luminanceData = bitmap;
  potrace._imageLoaded = true;
  potrace._bmToPathlist();
  potrace._processPath();
  return potrace._pathlist.map(({ curve }) => {
    const kinds = new Uint8Array(curve.n);
    const points = new Float64Array(6 * curve.n);
    for (let i = 0; i < curve.n; i++) {
      kinds[i] = curve.tag[i] === 'CORNER' ? CORNER : CUBIC;
      for (let k = 0; k < 3; k++) {
        const p = curve.c[3 * i + k];
        // potrace counts from pixel corners; a corner piece leaves its first point out.
        if (p) {
          points[6 * i + 2 * k] = p.x - 0.5;
          points[6 * i + 2 * k + 1] = p.y - 0.5;
        }
      }
    }
    return { kinds, points };
  });
}

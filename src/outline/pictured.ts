import type { Point } from '../base/measure.ts';
import { pictureOf } from '../view/model.ts';
import type { Eye } from '../view/view.ts';
import { axisOf, type Outline } from './outline.ts';

/** Where places of an outline lie in the picture, upright px: a mirrored outline lies turned over in it. */
export function inPicture(
  eye: Eye,
  o: Pick<Outline, 'mirrored' | 'mirroredAtMm' | 'region' | 'heightMm'>,
): (p: { readonly x: number; readonly y: number }) => Point<'picture'> {
  const axis = axisOf(o);
  return (p) => pictureOf(eye, o.mirrored ? 2 * axis - p.x : p.x, p.y, o.heightMm);
}

/** A part of a picture, px: whole pixels, left and top inside, right and bottom outside. */
export interface PictureBox {
  readonly left: number;
  readonly top: number;
  readonly right: number;
  readonly bottom: number;
}

/** Share of their size that is shown round outlines. */
const AROUND = 0.12;

/** The part of a picture that shows these rings and a little round them; undefined where none lies in it. */
export function boxRound(
  rings: readonly (readonly Point<'picture'>[])[],
  widthPx: number,
  heightPx: number,
): PictureBox | undefined {
  const points = rings.flat();
  const [xs, ys] = [points.map(({ x }) => x), points.map(({ y }) => y)];
  const range = (of: readonly number[]): [number, number] => [
    of.reduce((a, b) => Math.min(a, b), Infinity),
    of.reduce((a, b) => Math.max(a, b), -Infinity),
  ];
  const [[x0, x1], [y0, y1]] = [range(xs), range(ys)];
  const around = AROUND * Math.max(x1 - x0, y1 - y0);
  const box = {
    left: Math.max(0, Math.floor(x0 - around)),
    top: Math.max(0, Math.floor(y0 - around)),
    right: Math.min(widthPx, Math.ceil(x1 + around)),
    bottom: Math.min(heightPx, Math.ceil(y1 + around)),
  };
  return box.right - box.left > 8 && box.bottom - box.top > 8 ? box : undefined;
}

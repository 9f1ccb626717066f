import { errorEllipses } from '../../view/modes.ts';
import { heightOf } from '../../view/model.ts';
import type { View } from '../../view/view.ts';
import type { Spot } from '../parts/draw.ts';
import { pictureOf } from '../../view/model.ts';

/** What is drawn over the picture: where marks were found, how they miss, how well the face is known. */
export const PROOFS = ['marks', 'misfit', 'doubt'] as const;
export type Proof = (typeof PROOFS)[number];

const RATIOS = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000];
/** The round ratio that draws a length about `wanted` long, never longer. */
const ratioFor = (length: number, wanted: number): number =>
  RATIOS.findLast((r) => length * r <= wanted) ?? 1;

/** The value that 95 % do not exceed. */
function most(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.floor(0.95 * (sorted.length - 1))] ?? 0;
}

/** Residuals as arrows from the marks, picture px, drawn `ratio` to 1; marks that the adjustment dropped stand apart. */
export function misfits(
  view: View,
  wantedPx: number,
): { ratio: number; arrows: { mark: number; from: Spot; to: Spot }[]; dropped: Spot[] } {
  const kept = view.residuals.flatMap((r, mark) => (r.kept ? [{ ...r, mark }] : []));
  const ratio = ratioFor(most(kept.map((r) => Math.hypot(r.dx, r.dy))), wantedPx);
  return {
    ratio,
    arrows: kept.map(({ mark, at, dx, dy }) => ({
      mark,
      from: at,
      to: { x: at.x + ratio * dx, y: at.y + ratio * dy },
    })),
    dropped: view.residuals.flatMap((r) => (r.kept ? [] : [r.at])),
  };
}

/** Places across the sheet, and points round each error ellipse. */
const ACROSS = 7;
const ROUND = 24;

/** Error ellipses (k = 2) of the face at the first thickness, as rings in picture px, drawn `ratio` to 1. */
export function doubts(view: View, wantedPx: number): { ratio: number; rings: Spot[][] } {
  const { widthMm, heightMm } = view.sheet;
  const step = Math.min(widthMm, heightMm) / (ACROSS + 1);
  const [columns, rows] = [Math.floor(widthMm / step), Math.floor(heightMm / step)];
  const points = Array.from({ length: (columns - 1) * (rows - 1) }, (_, k) => ({
    x: widthMm / 2 + ((k % (columns - 1)) + 1 - columns / 2) * step,
    y: heightMm / 2 + (Math.floor(k / (columns - 1)) + 1 - rows / 2) * step,
  }));
  const ellipses = errorEllipses(view, 0, points);
  const ratio = ratioFor(
    (2 * most(ellipses.map((e) => e.longMm))) / view.mmPerPx,
    Math.min(wantedPx, (0.45 * step) / view.mmPerPx),
  );
  const z = heightOf(view, 0);
  return {
    ratio,
    rings: ellipses.map(({ at, longMm, shortMm, directionRad }) =>
      Array.from({ length: ROUND }, (_, k) => {
        const t = (2 * Math.PI * k) / ROUND;
        const along = 2 * ratio * longMm * Math.cos(t);
        const across = 2 * ratio * shortMm * Math.sin(t);
        const [c, s] = [Math.cos(directionRad), Math.sin(directionRad)];
        return pictureOf(view.eye, at.x + c * along - s * across, at.y + s * along + c * across, z);
      }),
    ),
  };
}

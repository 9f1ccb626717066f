import type { Point } from '../base/measure.ts';
import type { Picture } from '../picture/picture.ts';

/** An edge counts where colour steps by this much from px to px, coded values (0 to 255), after smoothing. */
const LEAST_STEP = 4;
/** Weights of the smoothing, sigma about 1 px. */
const SMOOTH = [0.06, 0.24, 0.4, 0.24, 0.06];

/**
 * The place of the strongest edge near a place that a hand laid, px; undefined where nothing stands out. All channels count; a
 * far edge must be the stronger for it. Across the edge to a fraction of a px by a parabola through the steps.
 *
 * @param reachPx how far to look
 */
export function snapped(
  { data, channels, widthPx, heightPx }: Picture,
  at: Point<'picture'>,
  reachPx: number,
): Point<'picture'> | undefined {
  const reach = Math.ceil(Math.max(2, Math.min(reachPx, 40)));
  // A window with room for smoothing, slopes and the parabola.
  const half = reach + 5;
  const size = 2 * half + 1;
  const [x0, y0] = [Math.round(at.x) - half, Math.round(at.y) - half];
  if (x0 < 0 || y0 < 0 || x0 + size > widthPx || y0 + size > heightPx) return undefined;
  const steps = new Float64Array(size * size);
  const [xx, xy, yy] = [0, 1, 2].map(() => new Float64Array(size * size)) as [
    Float64Array,
    Float64Array,
    Float64Array,
  ];
  for (let c = 0; c < 3; c++) {
    const raw = Float64Array.from(
      steps,
      (_, k) => data[((y0 + Math.floor(k / size)) * widthPx + x0 + (k % size)) * channels + c]!,
    );
    const along = (from: Float64Array, stride: number): Float64Array =>
      from.map((_, k) => SMOOTH.reduce((s, w, i) => s + w * (from[k + (i - 2) * stride] ?? 0), 0));
    const smooth = along(along(raw, 1), size);
    for (let y = 3; y < size - 3; y++)
      for (let x = 3; x < size - 3; x++) {
        const k = y * size + x;
        const gx = (smooth[k + 1]! - smooth[k - 1]!) / 2;
        const gy = (smooth[k + size]! - smooth[k - size]!) / 2;
        xx[k]! += gx * gx;
        xy[k]! += gx * gy;
        yy[k]! += gy * gy;
      }
  }
  for (let k = 0; k < steps.length; k++) steps[k] = Math.sqrt(xx[k]! + yy[k]!);
  let best = -1;
  let most = 0;
  for (let y = 5; y < size - 5; y++)
    for (let x = 5; x < size - 5; x++) {
      const far = Math.hypot(x0 + x - at.x, y0 + y - at.y) / reach;
      const k = y * size + x;
      const weight = steps[k]! * (1 - 0.7 * far * far);
      if (far <= 1 && steps[k]! >= LEAST_STEP && weight > most) [most, best] = [weight, k];
    }
  if (best < 0) return undefined;
  const angle = 0.5 * Math.atan2(2 * xy[best]!, xx[best]! - yy[best]!);
  const [nx, ny] = [Math.cos(angle), Math.sin(angle)];
  const [bx, by] = [best % size, Math.floor(best / size)];
  const between = (d: number): number => {
    const [x, y] = [bx + d * nx, by + d * ny];
    const [i, j] = [Math.floor(x), Math.floor(y)];
    const [f, g] = [x - i, y - j];
    const k = j * size + i;
    return (
      (1 - g) * ((1 - f) * steps[k]! + f * steps[k + 1]!) +
      g * ((1 - f) * steps[k + size]! + f * steps[k + size + 1]!)
    );
  };
  const [a, b, c] = [between(-1), between(0), between(1)];
  const bend = a - 2 * b + c;
  const d = bend < 0 ? Math.max(-1, Math.min(1, (a - c) / (2 * bend))) : 0;
  return { x: x0 + bx + d * nx, y: y0 + by + d * ny };
}

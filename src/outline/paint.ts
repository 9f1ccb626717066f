import { pictureOf } from '../view/model.ts';
import type { View } from '../view/view.ts';
import type { Outline, OutlineMode, Stroke, TraceSettings } from './outline.ts';
import type { Planes } from './planes.ts';
import type { Evidence } from './silhouette.ts';
import type { Seen } from './uncertainty.ts';

/** The rim of what a brush painted is off by this share of its half-width (k = 1), but by no less, px. Common practice, no source. */
const BRUSH_SHARE = 1 / 3;
const LEAST_PX = 2;
/** A contour is drawn from coarse pixels and then moved by up to 1.7 of them and 2 px: it follows a rim within so many. */
const RIM_COARSE_PX = 3.2;

/** How far from a coarse contour an edge is sought, px. */
export const reachPx = (step: number): number => 1.7 * step + 2;

/** So far inside and outside of an edge the picture itself must say blank and sheet, coarse pixels. */
const BESIDE_COARSE_PX = 2.5;

/** What the operator says of coarse pixels, as large as the planes. */
export interface Painted {
  /** 0 nothing, 1 blank, 2 stage. */
  readonly as: Uint8Array;
  /** Standard uncertainty of the rim, px of the picture: of the brush that came last there. */
  readonly uPx: Float32Array;
  /** 1 where the picture by itself shows lit sheet. */
  readonly lit: Uint8Array;
}

/** Settings for one of several pictures: only what was painted over that one; `strokes` stays, empty, where there are any at all. */
export const strokesOn = (settings: TraceSettings, digest: string): TraceSettings =>
  settings.strokes
    ? { ...settings, strokes: settings.strokes.filter((s) => s.picture === digest) }
    : settings;

/** Strokes on the coarse grid, a later one over the earlier; undefined where there are none. */
export function paintedOn(
  strokes: readonly Stroke[] | undefined,
  { left, top, step, width, height }: Planes,
  evidence: Evidence,
): Painted | undefined {
  if (!strokes || strokes.length === 0) return undefined;
  const as = new Uint8Array(width * height);
  const uPx = new Float32Array(width * height);
  for (const { points, radiusPx, as: what } of strokes) {
    const u = Math.max(LEAST_PX, BRUSH_SHARE * radiusPx);
    points.forEach((a, n) => {
      const b = points[n + 1] ?? a;
      if (n > 0 && b === a) return;
      const from = (v: number, low: number): number => Math.floor((v - radiusPx - low) / step);
      const to = (v: number, low: number): number => Math.ceil((v + radiusPx - low) / step);
      const [dx, dy] = [b.x - a.x, b.y - a.y];
      const length = dx * dx + dy * dy;
      for (
        let y = Math.max(0, from(Math.min(a.y, b.y), top));
        y <= Math.min(height - 1, to(Math.max(a.y, b.y), top));
        y++
      )
        for (
          let x = Math.max(0, from(Math.min(a.x, b.x), left));
          x <= Math.min(width - 1, to(Math.max(a.x, b.x), left));
          x++
        ) {
          const px = left + (x + 0.5) * step - 0.5 - a.x;
          const py = top + (y + 0.5) * step - 0.5 - a.y;
          const t = length > 0 ? Math.max(0, Math.min(1, (px * dx + py * dy) / length)) : 0;
          if (Math.hypot(px - t * dx, py - t * dy) > radiusPx) continue;
          const k = y * width + x;
          as[k] = what === 'blank' ? 1 : 2;
          uPx[k] = u;
        }
    });
  }
  return { as, uPx, lit: evidence.lit.slice() };
}

/** Evidence as the operator has it: certainly blank, or lit sheet. */
export function withPaint({ sure, lit }: Evidence, { as }: Painted): void {
  for (let k = 0; k < as.length; k++) {
    if (as[k] === 0) continue;
    sure[k] = as[k] === 1 ? 1 : 0;
    lit[k] = as[k] === 2 ? 1 : 0;
  }
}

/** The division of blank and sheet, made to keep what was painted. */
export function keepPaint(mask: Uint8Array, { as }: Painted): void {
  for (let k = 0; k < as.length; k++) if (as[k] !== 0) mask[k] = as[k] === 1 ? 1 : 0;
}

/**
 * Which vertices of an outline follow the rim of what was painted: their standard uncertainty, mm; 0 elsewhere. Where the picture
 * by itself shows lit sheet outside and none inside, the edge between is measured and not the hand's.
 *
 * @param unheld 1 where no edge was found that could be trusted
 */
export function alongRim(
  { as, uPx, lit }: Painted,
  { left, top, step, width, height }: Planes,
  seen: readonly Seen[],
  unheld: Uint8Array,
  heightMm: number,
  view: View,
): Float64Array {
  const reach = Math.ceil(RIM_COARSE_PX);
  // The contour was moved to the strongest step there was, within this of the rim (trace.ts), however faint: k = 2.
  const sought = reachPx(step) / 2;
  const beside = BESIDE_COARSE_PX * step * view.mmPerPx;
  const coarse = (x: number, y: number): readonly [number, number] => {
    const p = pictureOf(view.eye, x, y, heightMm);
    return [(p.x - left + 0.5) / step - 0.5, (p.y - top + 0.5) / step - 0.5];
  };
  const isLit = (x: number, y: number): boolean => {
    const [i, j] = coarse(x, y).map(Math.round) as [number, number];
    return i >= 0 && j >= 0 && i < width && j < height && lit[j * width + i] === 1;
  };
  return Float64Array.from(seen, ({ x, y, nx, ny }, k) => {
    const shown =
      isLit(x + beside * nx, y + beside * ny) && !isLit(x - beside * nx, y - beside * ny);
    if (shown && unheld[k] === 0) return 0;
    const [cx, cy] = coarse(x, y);
    let [painted, rim, u] = [0, false, 0];
    for (let j = Math.round(cy) - reach; j <= Math.round(cy) + reach; j++)
      for (let i = Math.round(cx) - reach; i <= Math.round(cx) + reach; i++) {
        if (i < 0 || j < 0 || i >= width || j >= height) continue;
        if (Math.hypot(i - cx, j - cy) > RIM_COARSE_PX) continue;
        const what = as[j * width + i]!;
        if (what !== 0) [painted, u] = [what, Math.max(u, uPx[j * width + i]!)];
        else rim = true;
      }
    return painted !== 0 && rim ? Math.hypot(u, sought) * view.mmPerPx : 0;
  });
}

/** How far the hand may have been off, as a displacement of what it painted. */
export const handMode = (seen: readonly Seen[], u: Float64Array): OutlineMode => ({
  source: 'by hand',
  dx: Float64Array.from(seen, ({ nx }, k) => u[k]! * nx),
  dy: Float64Array.from(seen, ({ ny }, k) => u[k]! * ny),
});

/** Length of an outline's stretches made by hand, and U (k = 2) there at most; mm. */
export function handMade({ region, u, byHand = [] }: Outline): {
  readonly lengthMm: number;
  readonly U: number;
} {
  const rings = [region.outer, ...region.holes];
  let [lengthMm, most] = [0, 0];
  for (const { ring, from, to } of byHand) {
    const points = rings[ring]!;
    for (let k = from; ; k = (k + 1) % points.length) {
      most = Math.max(most, u[ring]![k]!);
      if (k === to) break;
      const [p, q] = [points[k]!, points[(k + 1) % points.length]!];
      lengthMm += Math.hypot(q.x - p.x, q.y - p.y);
    }
  }
  return { lengthMm, U: 2 * most };
}

import type { Frame, Point } from '../../base/measure.ts';
import type { CurveRing, Region, Ring } from '../../geometry/shape.ts';

export interface Box {
  readonly left: number;
  readonly bottom: number;
  readonly right: number;
  readonly top: number;
}

/** Where millimetres (y up) come to lie on the drawing (CSS px, y down). The one flip of the drawings is in `at`. */
export interface Fit {
  /** CSS px per mm. */
  readonly scale: number;
  readonly x: number;
  readonly y: number;
}

export interface Spot {
  readonly x: number;
  readonly y: number;
}

/** The largest scale at which the box fits into an area of the drawing, centred in it. */
export function fit(box: Box, area: { x: number; y: number; w: number; h: number }): Fit {
  const width = Math.max(box.right - box.left, 1e-9);
  const height = Math.max(box.top - box.bottom, 1e-9);
  const scale = Math.max(Math.min(area.w / width, area.h / height), 1e-3);
  return {
    scale,
    x: area.x + (area.w - width * scale) / 2 - box.left * scale,
    y: area.y + (area.h + height * scale) / 2 + box.bottom * scale,
  };
}

export const at = (f: Fit, p: Spot): Spot => ({ x: f.x + p.x * f.scale, y: f.y - p.y * f.scale });

export function boxOf<F extends Frame>(rings: readonly Ring<F>[]): Box {
  let left = Infinity;
  let bottom = Infinity;
  let right = -Infinity;
  let top = -Infinity;
  for (const ring of rings) {
    for (const p of ring) {
      left = Math.min(left, p.x);
      right = Math.max(right, p.x);
      bottom = Math.min(bottom, p.y);
      top = Math.max(top, p.y);
    }
  }
  return { left, bottom, right, top };
}

export const ringsOf = <F extends Frame>(regions: readonly Region<F>[]): readonly Ring<F>[] =>
  regions.flatMap((r) => [r.outer, ...r.holes]);

const figure = (v: number): string => v.toFixed(2);

/** SVG path through screen points. */
export const polyline = (points: readonly Spot[], closed = false): string =>
  points.length === 0
    ? ''
    : `M${points.map((p) => `${figure(p.x)} ${figure(p.y)}`).join('L')}${closed ? 'Z' : ''}`;

/** SVG path of rings in mm; draw it with fill-rule evenodd. */
export const ringsPath = <F extends Frame>(f: Fit, rings: readonly Ring<F>[]): string =>
  rings
    .map((ring) =>
      polyline(
        ring.map((p) => at(f, p)),
        true,
      ),
    )
    .join('');

/** SVG path of fitted curves in mm. */
export function curvePath<F extends Frame>(f: Fit, ring: CurveRing<F>): string {
  const xy = (p: Point<F>): string => {
    const s = at(f, p);
    return `${figure(s.x)} ${figure(s.y)}`;
  };
  let from: Point<F> = ring.start;
  const parts = [`M${xy(ring.start)}`];
  for (const segment of ring.segments) {
    if (segment.kind === 'line') parts.push(`L${xy(segment.to)}`);
    else if (segment.kind === 'cubic')
      parts.push(`C${xy(segment.c1)} ${xy(segment.c2)} ${xy(segment.to)}`);
    else {
      const r = Math.hypot(from.x - segment.centre.x, from.y - segment.centre.y) * f.scale;
      const large = Math.abs(segment.sweepRad) > Math.PI ? 1 : 0;
      // Counter-clockwise with y up is sweep 0 with y down.
      parts.push(
        `A${figure(r)} ${figure(r)} 0 ${large} ${segment.sweepRad > 0 ? 0 : 1} ${xy(segment.to)}`,
      );
    }
    from = segment.to;
  }
  return `${parts.join('')}Z`;
}

/** A closed arrowhead, 13 long and about 20 degrees, its tip at `tip`, flying along `angleRad` (screen, y down). */
export function arrow(tip: Spot, angleRad: number, long = 13): string {
  const half = long * Math.tan((10 * Math.PI) / 180);
  const c = Math.cos(angleRad);
  const s = Math.sin(angleRad);
  const corner = (side: number): Spot => ({
    x: tip.x - long * c - side * half * s,
    y: tip.y - long * s + side * half * c,
  });
  return polyline([tip, corner(1), corner(-1)], true);
}

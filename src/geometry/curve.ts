import type { Frame, Point } from '../base/measure.ts';
import type { CurveRegion, CurveRing, Region, Ring, Segment } from './shape.ts';

/**
 * A closed curve as a polygon whose chords leave it by at most `toleranceMm`.
 * Cubic: sagitta <= |second derivative| / 8 / n² (n equal steps of the parameter); arc: r (1 - cos(step / 2)).
 */
export function flatten<F extends Frame>(curve: CurveRing<F>, toleranceMm: number): Ring<F> {
  const out: Point<F>[] = [];
  let from = curve.start;
  for (const segment of curve.segments) {
    out.push(from);
    if (segment.kind === 'arc') flattenArc(out, from, segment, toleranceMm);
    else if (segment.kind === 'cubic') flattenCubic(out, from, segment, toleranceMm);
    from = segment.to;
  }
  return out;
}

export const flattenRegion = <F extends Frame>(
  curves: CurveRegion<F>,
  toleranceMm: number,
): Region<F> => ({
  outer: flatten(curves.outer, toleranceMm),
  holes: curves.holes.map((hole) => flatten(hole, toleranceMm)),
});

function flattenArc<F extends Frame>(
  out: Point<F>[],
  from: Point<F>,
  arc: Extract<Segment<F>, { kind: 'arc' }>,
  tolerance: number,
): void {
  const radius = Math.hypot(from.x - arc.centre.x, from.y - arc.centre.y);
  const step = 2 * Math.acos(Math.max(0, 1 - Math.min(1, tolerance / radius)));
  const count = Math.max(1, Math.ceil(Math.abs(arc.sweepRad) / Math.max(step, 1e-3)));
  const start = Math.atan2(from.y - arc.centre.y, from.x - arc.centre.x);
  for (let k = 1; k < count; k++) {
    const a = start + (arc.sweepRad * k) / count;
    out.push({ x: arc.centre.x + radius * Math.cos(a), y: arc.centre.y + radius * Math.sin(a) });
  }
}

function flattenCubic<F extends Frame>(
  out: Point<F>[],
  from: Point<F>,
  { c1, c2, to }: Extract<Segment<F>, { kind: 'cubic' }>,
  tolerance: number,
): void {
  const bend = Math.max(
    Math.hypot(from.x - 2 * c1.x + c2.x, from.y - 2 * c1.y + c2.y),
    Math.hypot(c1.x - 2 * c2.x + to.x, c1.y - 2 * c2.y + to.y),
  );
  const count = Math.max(1, Math.ceil(Math.sqrt((6 * bend) / 8 / tolerance)));
  for (let k = 1; k < count; k++) out.push(onCubic(from, c1, c2, to, k / count));
}

/** The point of a cubic Bézier curve at parameter t. */
export function onCubic<F extends Frame>(
  a: Point<F>,
  b: Point<F>,
  c: Point<F>,
  d: Point<F>,
  t: number,
): Point<F> {
  const s = 1 - t;
  const p = s * s * s;
  const q = 3 * s * s * t;
  const r = 3 * s * t * t;
  const w = t * t * t;
  return { x: p * a.x + q * b.x + r * c.x + w * d.x, y: p * a.y + q * b.y + r * c.y + w * d.y };
}

/** A closed curve mirrored left to right about x = axis, turned the same way round as before. */
export function mirrored<F extends Frame>(curve: CurveRing<F>, axis: number): CurveRing<F> {
  const m = (p: Point<F>): Point<F> => ({ x: 2 * axis - p.x, y: p.y });
  const segments: Segment<F>[] = [];
  const starts = [curve.start, ...curve.segments.map((s) => s.to)];
  for (let k = curve.segments.length - 1; k >= 0; k--) {
    const s = curve.segments[k]!;
    const to = m(starts[k]!);
    if (s.kind === 'line') segments.push({ kind: 'line', to });
    else if (s.kind === 'cubic') segments.push({ kind: 'cubic', c1: m(s.c2), c2: m(s.c1), to });
    // Mirroring and running backwards both turn the sweep round.
    else segments.push({ kind: 'arc', centre: m(s.centre), sweepRad: s.sweepRad, to });
  }
  return { start: m(curve.start), segments };
}

/**
 * A closed smooth curve round a part of a mask: `kinds[i]` tells whether piece i is a corner (two straight lines
 * through its middle point) or a cubic; `points[6i .. 6i + 5]` are its two inner points and its end. A corner's first
 * inner point is unused. The first piece starts where the last one ends. Mask pixels, centres at integers, y down.
 */
export interface MaskCurve {
  readonly kinds: Uint8Array;
  readonly points: Float64Array;
}
export const CORNER = 0;
export const CUBIC = 1;

/** Traces a mask (1 inside, row by row) into smooth curves; possibly in a worker of its own. */
export type CurvesOfMask = (
  mask: Uint8Array,
  width: number,
  height: number,
) => readonly MaskCurve[] | Promise<readonly MaskCurve[]>;

/** Points along a curve, about `spacing` apart, the first not repeated: x, y interleaved. */
export function pointsOfCurve(curve: MaskCurve, spacing: number): Float64Array {
  const { kinds, points } = curve;
  const last = points.length - 2;
  const out: number[] = [];
  let x = points[last]!;
  let y = points[last + 1]!;
  for (let i = 0; i < kinds.length; i++) {
    const [ax, ay, bx, by, cx, cy] = points.subarray(6 * i, 6 * i + 6) as unknown as [
      number,
      number,
      number,
      number,
      number,
      number,
    ];
    if (kinds[i] === CORNER) {
      line(out, x, y, bx, by, spacing);
      line(out, bx, by, cx, cy, spacing);
    } else {
      const length =
        (Math.hypot(cx - x, cy - y) +
          Math.hypot(ax - x, ay - y) +
          Math.hypot(bx - ax, by - ay) +
          Math.hypot(cx - bx, cy - by)) /
        2;
      const count = Math.max(1, Math.round(length / spacing));
      for (let k = 0; k < count; k++) {
        const t = k / count;
        const s = 1 - t;
        out.push(
          s * s * s * x + 3 * s * s * t * ax + 3 * s * t * t * bx + t * t * t * cx,
          s * s * s * y + 3 * s * s * t * ay + 3 * s * t * t * by + t * t * t * cy,
        );
      }
    }
    x = cx;
    y = cy;
  }
  return Float64Array.from(out);
}

function line(out: number[], x: number, y: number, tx: number, ty: number, spacing: number): void {
  const count = Math.max(1, Math.round(Math.hypot(tx - x, ty - y) / spacing));
  for (let k = 0; k < count; k++) out.push(x + ((tx - x) * k) / count, y + ((ty - y) * k) / count);
}

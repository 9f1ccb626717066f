import type { Frame, Point } from '../src/base/measure.ts';
import type { Ring } from '../src/geometry/shape.ts';

/** How many chords an arc needs so that none leaves it by more than `sagMm`. */
const chords = (radius: number, sweepRad: number, sagMm: number): number =>
  Math.max(2, Math.ceil(sweepRad / (2 * Math.acos(1 - sagMm / radius))));

/** Points of an arc, both ends included; vertices lie on it. */
export function arc<F extends Frame>(
  centre: Point<F>,
  radius: number,
  fromRad: number,
  sweepRad: number,
  sagMm: number,
): Point<F>[] {
  const n = chords(radius, Math.abs(sweepRad), sagMm);
  return Array.from({ length: n + 1 }, (_, k) => {
    const a = fromRad + (sweepRad * k) / n;
    return { x: centre.x + radius * Math.cos(a), y: centre.y + radius * Math.sin(a) };
  });
}

/** A rectangle with round corners, lower left corner of its box at (x0, y0), counter-clockwise. */
export function roundedRectangle(
  width: number,
  height: number,
  radius: number,
  sagMm: number,
  x0 = 0,
  y0 = 0,
): Ring<'sheet'> {
  const corner = (cx: number, cy: number, from: number): Point<'sheet'>[] =>
    arc({ x: x0 + cx, y: y0 + cy }, radius, from, Math.PI / 2, sagMm);
  return [
    ...corner(width - radius, radius, -Math.PI / 2),
    ...corner(width - radius, height - radius, 0),
    ...corner(radius, height - radius, Math.PI / 2),
    ...corner(radius, radius, Math.PI),
  ];
}

/** A closed curve given by a function of an angle, sampled at n equal steps. */
export const sampled = (n: number, at: (t: number) => readonly [number, number]): Ring<'sheet'> =>
  Array.from({ length: n }, (_, k) => {
    const [x, y] = at((2 * Math.PI * k) / n);
    return { x, y };
  });

import type { Point } from '../base/measure.ts';
import type { Ring } from './shape.ts';

/** How far chords leave a circle unless it is said, mm. */
const CHORD_MM = 0.002;

/** A circle as a ring, counter-clockwise: its vertices lie on it. */
export function circleRing(
  centre: Point<'bed'>,
  radiusMm: number,
  chordMm = CHORD_MM,
): Ring<'bed'> {
  return arcPoints(centre, radiusMm, 0, 2 * Math.PI, chordMm).slice(0, -1);
}

/** Points of an arc, both ends included, mm; counter-clockwise where `toRad` is larger. @param chordMm how far chords leave it at most */
export function arcPoints(
  { x, y }: Point<'bed'>,
  radiusMm: number,
  fromRad: number,
  toRad: number,
  chordMm = CHORD_MM,
): Point<'bed'>[] {
  const step = 2 * Math.acos(Math.max(0, 1 - chordMm / Math.max(radiusMm, chordMm)));
  const n = Math.max(8, Math.ceil(Math.abs(toRad - fromRad) / step));
  return Array.from({ length: n + 1 }, (_, k) => {
    const a = fromRad + ((toRad - fromRad) * k) / n;
    return { x: x + radiusMm * Math.cos(a), y: y + radiusMm * Math.sin(a) };
  });
}

/** A slot round its middle along a direction, counter-clockwise: two half circles and two sides. @param longMm from one centre to the other */
export function slotRing(
  { x, y }: Point<'bed'>,
  alongRad: number,
  longMm: number,
  radiusMm: number,
  chordMm = CHORD_MM,
): Ring<'bed'> {
  const [u, v] = [(longMm / 2) * Math.cos(alongRad), (longMm / 2) * Math.sin(alongRad)];
  const half = (cx: number, cy: number, from: number): Point<'bed'>[] =>
    arcPoints({ x: cx, y: cy }, radiusMm, from, from + Math.PI, chordMm);
  return [
    ...half(x + u, y + v, alongRad - Math.PI / 2),
    ...half(x - u, y - v, alongRad + Math.PI / 2),
  ];
}

/** An upright rectangle from its lower left corner, counter-clockwise. */
export const rectangle = (x: number, y: number, w: number, h: number): Ring<'bed'> => [
  { x, y },
  { x: x + w, y },
  { x: x + w, y: y + h },
  { x, y: y + h },
];

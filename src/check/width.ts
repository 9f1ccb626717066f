import { smallestRectangle, support } from '../geometry/measure.ts';
import type { Outline } from '../outline/outline.ts';
import type { Dimension } from './check.ts';
import { dimensionOf, jaw, samplesOf, type Touch } from './touch.ts';

/**
 * The outline's width as two parallel jaws read it that close along `directionRad`: the distance between its support
 * lines. Its uncertainty comes from the outline's modes at the two places of contact, so what moves both jaws alike
 * cancels, plus the noise of the edge averaged over each contact. Shares are shares of variance (JCGM 100, 5.1.2).
 */
export const width = (outline: Outline, directionRad: number): Dimension =>
  between(outline, 0, directionRad, 'width');

/**
 * A hole as the inside jaws of a caliper read it across `directionRad`, in the same way as `width`.
 *
 * @param hole its place in `region.holes`
 */
export const holeWidth = (outline: Outline, hole: number, directionRad: number): Dimension =>
  between(outline, hole + 1, directionRad, 'hole');

function between(
  outline: Outline,
  ringIndex: number,
  directionRad: number,
  kind: 'width' | 'hole',
): Dimension {
  const samples = samplesOf(outline, ringIndex);
  const places = samples.map((s) => s.at);
  const reach = (rad: number): number => support(places, rad).reachMm;
  const towards = (rad: number): Touch =>
    jaw(samples, { x: Math.cos(rad), y: Math.sin(rad) }, reach(rad));
  const opposite = directionRad + Math.PI;
  return dimensionOf(outline, kind, directionRad, reach(directionRad) + reach(opposite), [
    towards(directionRad),
    towards(opposite),
  ]);
}

/**
 * The two sizes that are asked for first: the sides of the smallest rectangle round the outline. The one nearer to the
 * sheet's x axis comes first.
 */
export function mainWidths(outline: Outline): [Dimension, Dimension] {
  const [along, across] = mainDirections(outline);
  return [width(outline, along), width(outline, across)];
}

/** Directions of the two sides of the smallest rectangle, radians; the one nearer to the sheet's x axis comes first. */
export function mainDirections(outline: Pick<Outline, 'region'>): [number, number] {
  const { longDirectionRad } = smallestRectangle(outline.region.outer);
  const across = (longDirectionRad + Math.PI / 2) % Math.PI;
  return Math.abs(Math.cos(longDirectionRad)) >= Math.SQRT1_2 - 1e-9
    ? [longDirectionRad, across]
    : [across, longDirectionRad];
}

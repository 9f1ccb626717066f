import type { Clipper } from '../geometry/clipper.ts';
import { lightRing } from '../geometry/light.ts';
import type { Region } from '../geometry/shape.ts';

/** Levels of a leaning wall lie no farther apart in plan, mm, and corners of a level no farther from the true line. */
const STEP_MM = 0.06;
const LIGHT_MM = 0.004;
const MOST_LEVELS = 40;

/** How far a wall that leans by so much stands out over its height: h tan(lean). */
export const outMm = (highMm: number, draftDeg: number): number =>
  highMm * Math.tan((draftDeg * Math.PI) / 180);

/** Regions with few enough corners for a body. */
export const light = (regions: readonly Region<'bed'>[]): Region<'bed'>[] =>
  regions.map(({ outer, holes }) => ({
    outer: lightRing(outer, LIGHT_MM),
    holes: holes.map((h) => lightRing(h, LIGHT_MM)),
  }));

/** One level of a leaning wall: its line in plan, and how much of the way from the wide end to the narrow one it lies. */
export interface Level {
  readonly regions: readonly Region<'bed'>[];
  readonly share: number;
}

/** A wall that leans evenly from regions grown by `out` to the regions themselves; upright, it is these alone. */
export function leaning(
  clipper: Clipper,
  narrow: readonly Region<'bed'>[],
  out: number,
): readonly Level[] {
  const steps = Math.min(MOST_LEVELS, Math.ceil(out / STEP_MM));
  const levels = Array.from({ length: steps }, (_, k) => ({
    regions: light(clipper.offset(narrow, (out * (steps - k)) / steps, 'outward')),
    share: k / steps,
  }));
  return [...levels, { regions: light(narrow), share: 1 }];
}

import type { Frame } from '../base/measure.ts';
import { arcsAlongRounds, arcsThrough, roundsBeside, type Round } from '../geometry/arcs.ts';
import { ARC_TOLERANCE_MM } from '../geometry/clipper.ts';
import { flatten } from '../geometry/curve.ts';
import { selfCrossing } from '../geometry/measure.ts';
import type { CurveRing, Region, Ring } from '../geometry/shape.ts';

/** Chords of a seat's outline leave its curve by at most this (`Outline.region`), mm; a hair more for rounding. */
const SEAT_CHORD_MM = 0.0052;
/** A seat's vertices lie on its arcs to what outline files round to, mm. */
const SEAT_MM = 2e-5;

/** What offsets of lines and arcs miss of them, and of what else an arc may pass beside, mm. */
const MISS = { knownMm: 1e-4, toleranceMm: 3e-4, chordMm: 1e-3 } as const;

/** The lines and arcs that a traced ring stands for, where it stands for any. */
export const asArcs = <F extends Frame>(ring: Ring<F>): CurveRing<F> =>
  arcsThrough(ring, SEAT_MM, SEAT_CHORD_MM);

/** A region in lines and arcs: as curves, and as polygons whose vertices lie on them and whose chords leave them by the arc tolerance. */
export interface InArcs<F extends Frame> {
  readonly curves: readonly CurveRing<F>[];
  readonly regions: readonly Region<F>[];
}

/**
 * What an offset of curves is in lines and arcs: stretches about a corner are arcs about that very corner, those beside an arc arcs
 * about its centre, lines stay lines, and along what else there is arcs pass within 0.0003 mm. A ring that would cross itself
 * stays the polygon that it was.
 *
 * @param offset the offset, its vertices on the true one
 * @param beside the curves, and how far to their right it lies; several where its rings come from several
 */
export function inArcs<F extends Frame>(
  offset: readonly Region<F>[],
  beside: readonly (readonly [curves: readonly CurveRing<F>[], distanceMm: number])[],
): InArcs<F> {
  const rounds: Round<F>[] = beside.flatMap(([curves, mm]) =>
    curves.flatMap((curve) => roundsBeside(curve, mm)),
  );
  const curves: CurveRing<F>[] = [];
  const ringOf = (ring: Ring<F>): Ring<F> => {
    const curve = arcsAlongRounds(ring, rounds, MISS);
    const flat = flatten(curve, ARC_TOLERANCE_MM);
    const good = flat.length >= 3 && !selfCrossing(flat);
    curves.push(good ? curve : asLines(ring));
    return good ? flat : ring;
  };
  const regions = offset.map(({ outer, holes }) => ({
    outer: ringOf(outer),
    holes: holes.map(ringOf),
  }));
  return { curves, regions };
}

const asLines = <F extends Frame>(ring: Ring<F>): CurveRing<F> => ({
  start: ring[0]!,
  segments: [...ring.slice(1), ring[0]!].map((to) => ({ kind: 'line', to })),
});

import type { Frame, Point } from '../base/measure.ts';

/** A closed polygon, the first vertex not repeated. Outer rings run counter-clockwise in y-up frames, holes clockwise. */
export type Ring<F extends Frame> = readonly Point<F>[];

/** One outer ring and any number of holes. */
export interface Region<F extends Frame> {
  readonly outer: Ring<F>;
  readonly holes: readonly Ring<F>[];
}

/** A piece of a curve from the end of the one before. `sweepRad` is positive counter-clockwise. */
export type Segment<F extends Frame> =
  | { readonly kind: 'line'; readonly to: Point<F> }
  | {
      readonly kind: 'arc';
      readonly to: Point<F>;
      readonly centre: Point<F>;
      readonly sweepRad: number;
    }
  | { readonly kind: 'cubic'; readonly c1: Point<F>; readonly c2: Point<F>; readonly to: Point<F> };

/** A closed curve; the last segment ends at `start`. Turns like a Ring. */
export interface CurveRing<F extends Frame> {
  readonly start: Point<F>;
  readonly segments: readonly Segment<F>[];
}

export interface CurveRegion<F extends Frame> {
  readonly outer: CurveRing<F>;
  readonly holes: readonly CurveRing<F>[];
}

import type { Point } from '../base/measure.ts';
import type { Source } from '../view/view.ts';

/**
 * What the operator measured, as she pointed it out. Places and directions are in the blank frame as pictured (origin at
 * the centroid of the outer ring, axes as the sheet's, before any mirroring), so that they follow the blank when its
 * outline is computed again.
 */
export type Feature =
  /** One of the two sides of the smallest rectangle; width is the one that lies nearer to the sheet's x. */
  | { readonly kind: 'main'; readonly side: 'width' | 'height' }
  /** The whole blank between two parallel jaws that close along a direction, radians from x. */
  | { readonly kind: 'across'; readonly directionRad: number }
  /** From the edge at one place to the edge at another; over material, or inside a slot. */
  | { readonly kind: 'edges'; readonly a: Point<'blank'>; readonly b: Point<'blank'> }
  /** The diameter of the round hole nearest to a place. */
  | { readonly kind: 'hole'; readonly at: Point<'blank'> }
  /** The radius of the round corner at a place. */
  | { readonly kind: 'radius'; readonly at: Point<'blank'> }
  /** From the centre of one round hole to that of another. */
  | { readonly kind: 'holes'; readonly a: Point<'blank'>; readonly b: Point<'blank'> }
  /** How high the face lies above the sheet: the blank between the jaws, at several places. */
  | { readonly kind: 'thickness' }
  /** How far below the face the edge is widest: a step between two faces, as the depth rod reads it. */
  | { readonly kind: 'step' };

export type DimensionKind =
  'width' | 'edges' | 'slot' | 'hole' | 'radius' | 'holes' | 'thickness' | 'step';

/** Sizes that stand upright on the sheet: no jaws lie on the outline. */
export const isUpright = (kind: DimensionKind | Feature['kind']): boolean =>
  kind === 'thickness' || kind === 'step';

/** A size of an outline, as an instrument would read it. mm; u is a standard uncertainty (k = 1). */
export interface Dimension {
  readonly kind: DimensionKind;
  /** Direction in which the jaws close, radians from x, counter-clockwise; of no meaning for a radius or what stands upright. */
  readonly directionRad: number;
  readonly valueMm: number;
  readonly u: number;
  /** Where the jaws touch; of a radius its centre and the middle of its arc; of holes their centres; of what stands upright the middle. */
  readonly touches: readonly [Point<'sheet'>, Point<'sheet'>];
  /** Shares of u² by source, largest first; they add up to 1. */
  readonly budget: readonly {
    readonly source: Source;
    readonly u: number;
    readonly share: number;
  }[];
  /** How the value changes with one standard deviation of each of the outline's modes, mm, in their order. */
  readonly shifts: Float64Array;
  /** The part of u² that is this dimension's own: noise of the edge and the curve fit at its touches, mm². */
  readonly ownVariance: number;
  /** It touches a stretch that no picture could see, or whose edge is doubtful. */
  readonly unseen: boolean;
}

export type ReadingVerdict = 'agrees' | 'contradicts' | 'says little';

/** What one reading says about the outline. */
export interface Judgement {
  readonly verdict: ReadingVerdict;
  /** Outline minus reading, mm. */
  readonly differenceMm: number;
  /** Joint expanded uncertainty (k = 2) of the difference, mm. */
  readonly jointU: number;
  /** E_n = |difference| / jointU. */
  readonly en: number;
  readonly sentence: string;
}

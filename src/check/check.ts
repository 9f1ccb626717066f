import type { Point } from '../base/measure.ts';
import type { Source } from '../view/view.ts';

/** A size of an outline, as two parallel jaws would read it. mm; u is a standard uncertainty (k = 1). */
export interface Dimension {
  readonly kind: 'width' | 'hole';
  /** Direction in which the jaws close, radians from x, counter-clockwise. */
  readonly directionRad: number;
  readonly valueMm: number;
  readonly u: number;
  /** Where the jaws touch. */
  readonly touches: readonly [Point<'sheet'>, Point<'sheet'>];
  /** Shares of u² by source, largest first; they add up to 1. */
  readonly budget: readonly {
    readonly source: Source;
    readonly u: number;
    readonly share: number;
  }[];
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

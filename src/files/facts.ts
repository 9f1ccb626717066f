import type { Reason } from '../base/reason.ts';
import type { Judgement } from '../check/check.ts';
import type { Fit } from '../check/fit.ts';
import type { At, Verdict } from '../outline/outline.ts';

/** What the job sheet must say beside the plan; lengths in mm. */
export interface JobFacts {
  /** Day of issue, ISO 8601 (2026-03-14). */
  readonly date: string;
  readonly verdict: Verdict;
  /** Thickness of the board, mm; null or absent: not measured. */
  readonly boardMm?: number | null;
  readonly outlines: readonly {
    readonly id: string;
    readonly blank: number;
    readonly at: At;
    /** Sides of the smallest rectangle round it; the width is the one nearer to the sheet's x, as in the checks. */
    readonly widthMm: number;
    readonly heightMm: number;
    /** Greatest expanded uncertainty (k = 2) of the place of the edge. */
    readonly greatestU: number;
    readonly thicknessMm?: number;
    readonly mirrored: boolean;
    readonly rider: boolean;
  }[];
  /** Caliper readings held against the outlines; none: the sheet says NOT CHECKED. */
  readonly checks: readonly {
    readonly blank: number;
    /** What was measured, for instance "width". */
    readonly what: string;
    /** The kind of instrument. */
    readonly with: string;
    readonly outlineMm: number;
    /** Expanded (k = 2), as all U here. */
    readonly outlineU: number;
    /** The mean of all readings of this feature. */
    readonly readingMm: number;
    readonly readingU: number;
    /** How many they were. */
    readonly readings: number;
    readonly judgement: Judgement;
    readonly fit?: Fit;
  }[];
  /** A sentence each: what readings that corrected an outline changed, whether the caliper closes to zero. */
  readonly remarks?: readonly string[];
  readonly reasons: readonly Pick<Reason, 'level' | 'message' | 'remedy'>[];
  /** The picture that was measured, as far as it shows the blanks; absent where the job has only an outline file. */
  readonly picture?: {
    /** A JPEG of pixels alone: nothing of what the camera's file says is in it. */
    readonly jpeg: Uint8Array;
    readonly widthPx: number;
    readonly heightPx: number;
    /** Outlines on it, from its upper left corner, px. */
    readonly outlines: readonly {
      readonly blank: number;
      readonly rings: readonly (readonly (readonly [number, number])[])[];
    }[];
  };
  /** Given when the job goes out although something is not settled. */
  readonly override?: {
    /** Why, in the operator's words; empty when none was given. */
    readonly reason: string;
    /** Who answers for it; empty when no name was given. */
    readonly by: string;
    /** What was passed over, a sentence each. */
    readonly over: readonly string[];
  };
}

import type { Point } from '../base/measure.ts';
import type { Reason } from '../base/reason.ts';
import { centroid } from '../geometry/measure.ts';
import type { CurveRegion, Region } from '../geometry/shape.ts';
import type { Source, View } from '../view/view.ts';

/** Which place of the blank's wall an outline describes; `blank/at` names it in files. */
export type At = 'face' | 'widest' | 'sheet' | 'envelope' | 'mean';

/**
 * One independent standard deviation of one source, as a displacement in mm of every vertex
 * (outer ring first, then the holes, in order); the outline's own rigid motion has been taken out.
 */
export interface OutlineMode {
  readonly source: Source;
  readonly dx: Float64Array;
  readonly dy: Float64Array;
  /** How much higher the face comes to lie above the sheet, mm; absent: not at all. */
  readonly heightMm?: number;
  /** How much farther below the face the edge comes to be widest, mm; absent: no farther. */
  readonly belowMm?: number;
}

/** Vertices `from` to `to` of a ring, both included; from > to runs over the ring's end. */
export interface Stretch {
  readonly ring: number;
  readonly from: number;
  readonly to: number;
}

/** Closed curves at true scale in the sheet frame, one outer ring and its holes. */
export interface Outline {
  readonly id: string;
  /** Blanks are numbered from 1, left to right by their centroid in the sheet frame. */
  readonly blank: number;
  readonly at: At;
  /** Where pieces of one kind lie in several pictures: which one, counted from 0; absent: the first. */
  readonly inPicture?: number;
  /** Of an envelope or a mean: the blanks whose pocket it makes, all of one kind; it was drawn from those of them that do not lie face down. */
  readonly pieces?: readonly number[];
  /** No chord leaves `curves` by more than 0.005 mm. */
  readonly region: Region<'sheet'>;
  readonly curves: CurveRegion<'sheet'>;
  /** Greatest distance between the curves and the course of the measured points (geometry/course.ts), both ways, mm. */
  readonly fitDeviationMm: number;
  /** Height above the sheet of what was seen, as adjusted; of a scan 0. */
  readonly heightMm: number;
  /** How far that lies below the face, mm; absent: it is the face. */
  readonly belowFaceMm?: number;
  readonly thicknessMm: number;
  readonly modes: readonly OutlineMode[];
  /** Standard uncertainty of the place of the edge at each vertex that is not shared (noise of the edge itself), mm, per ring. */
  readonly edgeU: readonly Float64Array[];
  /** Standard uncertainty (k = 1) along the normal at each vertex, all sources together, mm, per ring. */
  readonly u: readonly Float64Array[];
  /** Factor on u that makes the band hold everywhere at once in 95 % of cases. */
  readonly wholeFactor: number;
  readonly hidden: readonly Stretch[];
  readonly doubtful: readonly (Stretch & { readonly why: string })[];
  /** Drawn by hand, or taken for a shape; absent: nothing. */
  readonly byHand?: readonly Stretch[];
  readonly rider: boolean;
  /** The picture shows the blank's back: the region has been mirrored. */
  readonly mirrored: boolean;
  /** The vertical about which it was; absent where a file does not tell, x in mm. */
  readonly mirroredAtMm?: number;
}

/** The vertical about which an outline is turned over, x in mm: the one about which it was, else that through its centroid. */
export const axisOf = ({
  mirroredAtMm,
  region,
}: Pick<Outline, 'mirroredAtMm' | 'region'>): number => mirroredAtMm ?? centroid(region.outer).x;

/** A broad line that a hand painted over a picture: what lies under it belongs to a blank, or to the stage. */
export interface Stroke {
  /** Digest of the picture. */
  readonly picture: string;
  readonly as: 'blank' | 'stage';
  /** Picture px; of one point, a dot. */
  readonly points: readonly Point<'picture'>[];
  /** Half its width, px. */
  readonly radiusPx: number;
}

export type Verdict = 'ok' | 'doubtful' | 'refused';

export interface TraceSettings {
  /** Thickness by blank number; the first entry of the view's thicknesses where a blank is not named. */
  readonly thicknessMm: Readonly<Record<number, number>>;
  readonly widestMm?: number;
  /** Standard uncertainty of the widest height. */
  readonly widestU: number;
  readonly face: 'print' | 'back';
  /** Standard uncertainty of the edge's height where the blank is bowed, whatever its rider says of the middle, mm; absent: it is flat. */
  readonly warpU?: number;
  readonly wantMm: number;
  /** Greatest distance between curve and the course of the measured points; default a third of U along most of the edge. */
  readonly fitToleranceMm?: number;
  /** What the operator painted over the picture; absent: nothing, over none of the pictures. */
  readonly strokes?: readonly Stroke[];
  /** Other photos of the same blank show what this one hides: what it shows itself is taken as it is. */
  readonly oneOfSeveral?: boolean;
  /** Outlines lie in the sheet's own frame, for places are asked for; absent: each where the marks alone had its face, for shapes are. */
  readonly inFrame?: true;
}

export interface Trace {
  readonly outlines: readonly Outline[];
  readonly verdict: Verdict;
  readonly reasons: readonly Reason[];
  /** The view as the walls of the blanks adjusted it, in whose frame they lie; only where that was asked for. */
  readonly view?: View;
}

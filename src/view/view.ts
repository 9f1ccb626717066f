import type { Point } from '../base/measure.ts';
import type { Reason } from '../base/reason.ts';
import type { RiderDesign, SheetDesign } from '../sheet/design.ts';
import type { Basis } from './basis.ts';
import type { Scanner } from './scanner.ts';

/** One checker corner found in the picture, of the sheet or of a rider. */
export interface Mark<F extends 'sheet' | 'rider' = 'sheet'> {
  /** Cell vertex (i, j) in the sheet's or the rider's own grid, 0 at the lower left. */
  readonly i: number;
  readonly j: number;
  readonly picture: Point<'picture'>;
  /** Place as designed, mm. */
  readonly design: Point<F>;
}

/** What was found and identified in one picture, before any calibration. */
export interface FoundMarks {
  readonly sheet: SheetDesign;
  readonly marks: readonly Mark[];
  readonly riders: readonly {
    readonly design: RiderDesign;
    readonly marks: readonly Mark<'rider'>[];
  }[];
  /** How many corners the sheet has; marks.length of it were found. */
  readonly expected: number;
  /** Standard deviation of the picture's blur, px, from the marks' own edges. */
  readonly blurPx: number;
  readonly reasons: readonly Reason[];
}

/** What the operator entered that bears on the calibration. Standard uncertainties (k = 1), mm. */
export interface CalibrationSettings {
  /** Height of the face above the sheet for each distinct thickness entered; the first is the default. */
  readonly thicknessMm: readonly number[];
  /** Heights of what lies beside the blanks and only carries a rider, as sure as a thickness; absent: nothing does. */
  readonly blocksMm?: readonly number[];
  readonly thicknessU: number;
  readonly spansMm: Readonly<Partial<Record<'x' | 'y' | 'd', number>>>;
  readonly spanU: number;
  /** Share of its length that the sheet may have grown or shrunk since its spans were read, the mean of both sides (k = 1); absent: 0. */
  readonly growthU?: number;
  /** Measured size of riders by their nominal size. */
  readonly riderSpansMm: Readonly<Record<number, number>>;
  readonly riderSpanU: number;
  /** Tolerance asked for: the expanded U (k = 2) above which the view is doubtful. */
  readonly wantMm: number;
}

/**
 * Camera in the sheet frame: x_camera = R (X - centre), then Brown-Conrady k1 k2 p1 p2 (OpenCV order), then f, cx, cy
 * in px of the upright picture.
 */
export interface Camera {
  readonly kind?: 'camera';
  readonly fPx: number;
  readonly cxPx: number;
  readonly cyPx: number;
  readonly k1: number;
  readonly k2: number;
  readonly p1: number;
  readonly p2: number;
  /** Row-major 3 x 3. */
  readonly rotation: readonly number[];
  /** Projection centre, mm, sheet frame. */
  readonly centre: readonly [number, number, number];
}

/** What took the picture. Places of the frame and of the picture are joined by `pictureOf` and `sheetOfPicture` of model.ts. */
export type Eye = Camera | Scanner;

/** Where a contribution to the uncertainty comes from. */
export type Source =
  | 'spans'
  | 'sheet age'
  | 'focal length'
  | 'lens'
  | 'marks'
  | 'print error'
  | 'sheet flatness'
  | 'rider size'
  | 'rider height'
  | 'thickness'
  | 'feed'
  | 'scanner'
  | 'far side'
  | 'widest height'
  | 'edge depth'
  | 'edge'
  | 'edge bias'
  | 'camera processing'
  | 'curve fit'
  | 'by hand'
  | 'readings';

/**
 * One independent standard deviation of one source: how all parameters of the adjustment move together.
 * The sum over all modes of m·mᵀ is the covariance of the parameters.
 */
export interface Mode {
  readonly source: Source;
  readonly delta: Float64Array;
}

/**
 * Where the groups of a view's parameter vector begin. The eye's come first (CAMERA_NAMES, SCANNER_NAMES and the feed); a camera's the turn is counted from
 * the view's own rotation, so that it is zero in `values`.
 */
export interface ParameterPlaces {
  /** scale x, scale y, shear of the print. */
  readonly print: number;
  /** Coefficients of the print error along x, then along y. */
  readonly printErrorX: number;
  readonly printErrorY: number;
  /** Coefficients of the sheet's height. */
  readonly bow: number;
  /** Height of the face above the sheet, one for each entered thickness. */
  readonly faces: number;
  /** Growth of the sheet since its spans were read, along x and y, as a share. */
  readonly growth: number;
}

/** Something that the operator could do, and what it would make of the face's U. */
export interface Remedy {
  readonly what:
    | 'read the spans'
    | 'measure the rider'
    | 'lay a rider'
    | 'measure the thickness'
    | 'lens profile'
    | 'flat board'
    | 'rigid sheet';
  /** Expanded (k = 2) uncertainty of the face's shape over the stage once it is done, mm. */
  readonly uMm: number;
}

/** A calibrated photo. */
export interface PhotoView extends View {
  readonly eye: Camera;
  readonly foot: Point<'sheet'>;
  readonly cameraHeightMm: number;
  readonly cameraHeightU: number;
}

/** A calibrated picture. */
export interface View {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly sheet: SheetDesign;
  readonly eye: Eye;
  /** Parameters of the adjustment, in the order of `names`; `eyeOf` and `heightOf` read them. */
  readonly names: readonly string[];
  readonly values: Float64Array;
  readonly places: ParameterPlaces;
  readonly printError: Basis;
  readonly bow: Basis;
  readonly modes: readonly Mode[];
  /** What would lessen the uncertainty of the face at the first thickness, the most helpful first. */
  readonly remedies: readonly Remedy[];
  readonly blurPx: number;
  /** The point of the sheet straight below the camera; a scan has none. */
  readonly foot?: Point<'sheet'>;
  readonly cameraHeightMm?: number;
  /** Standard uncertainty of the camera's height, mm. */
  readonly cameraHeightU?: number;
  /** At the sheet, straight below the camera; on the glass of a scanner. */
  readonly mmPerPx: number;
  readonly residualRmsPx: number;
  readonly residualRmsMm: number;
  /** Every mark with its residual (picture px) and whether the adjustment kept it. */
  readonly residuals: readonly {
    readonly at: Point<'picture'>;
    /** Place as designed. */
    readonly design: Point<'sheet'>;
    readonly dx: number;
    readonly dy: number;
    readonly kept: boolean;
  }[];
  readonly riders: readonly {
    readonly design: RiderDesign;
    /** Corners of the rider in the picture, in order from its lower left, counter-clockwise as printed. */
    readonly corners: readonly Point<'picture'>[];
    readonly centre: Point<'sheet'>;
    /** Height of the rider's plane that the picture alone gives, and its standard uncertainty. */
    readonly heightMm: number;
    readonly heightU: number;
    /** Which of the heights entered it lies on (`faceHeights`). */
    readonly thicknessIndex: number;
  }[];
  /** As printed: measured scale along x and y, shear; x_printed = scaleX·x + shear·y, y_printed = scaleY·y. */
  readonly print: { readonly scaleX: number; readonly scaleY: number; readonly shear: number };
  readonly settings: CalibrationSettings;
  readonly reasons: readonly Reason[];
}

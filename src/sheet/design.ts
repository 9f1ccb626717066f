import type { Point } from '../base/measure.ts';

/** Tone of the stage. A hue is any other colour; `css` is what the operator asked for. */
export type StageTone = 'white' | 'grey' | 'black' | 'hue';

/** A distance between two check marks on the printed sheet, measured with calipers. Places in the sheet frame as designed. */
export interface Span {
  readonly id: 'x' | 'y' | 'd';
  readonly from: Point<'sheet'>;
  readonly to: Point<'sheet'>;
  readonly nominalMm: number;
}

/** Cells i0 <= i < i1, j0 <= j < j1 that carry no check. */
export interface CellBlock {
  readonly i0: number;
  readonly j0: number;
  readonly i1: number;
  readonly j1: number;
}

/** Where every mark of a reference sheet is; lengths in mm, sheet frame as designed. */
export interface SheetDesign {
  readonly version: number;
  readonly widthMm: number;
  readonly heightMm: number;
  readonly pitchMm: number;
  /** Cells across and up; cell (0, 0) is the lower left one. */
  readonly columns: number;
  readonly rows: number;
  /** Depth of the border in cells. */
  readonly bandCells: number;
  /** Lower left corner of cell (0, 0). */
  readonly originMm: Point<'sheet'>;
  readonly tone: StageTone;
  readonly voids: readonly CellBlock[];
  readonly spans: readonly Span[];
  /**
   * Place of cell (0, 0) in the code field of a design that is a cut-out of it in both colours, as the strip is; absent where
   * the white checks carry the sheet's message.
   */
  readonly field?: { readonly i: number; readonly j: number };
}

/** Where every mark of a rider is; lengths in mm, rider frame. */
export interface RiderDesign {
  readonly sizeMm: 20 | 30 | 40 | 50;
  readonly pitchMm: number;
  readonly cells: number;
  /** Place of its cell (0, 0) in the code field. */
  readonly fieldI: number;
  readonly fieldJ: number;
}

declare const unit: unique symbol;
declare const frame: unique symbol;

/** A length in millimetres. Branded at boundaries (parameters, results, stored records); plain numbers inside a function. */
export type Mm = number & { readonly [unit]: 'mm' };
/** A length in picture pixels. */
export type Px = number & { readonly [unit]: 'px' };
export const mm = (value: number): Mm => value as Mm;
export const px = (value: number): Px => value as Px;

/**
 * picture: px of the upright picture, x right, y down, pixel centres at integers.
 * sheet, blank, bed: millimetres, x right, y up.
 * sheet has its origin at the lower left corner of the sheet as designed, z out of the sheet;
 * blank at the area centroid of the outer ring, axes as the sheet's; bed at the bed's lower left corner seen from its front.
 * rider: millimetres, origin at the lower left corner of the rider as designed.
 */
export type Frame = 'picture' | 'sheet' | 'rider' | 'blank' | 'bed';

export interface Point<F extends Frame> {
  readonly x: number;
  readonly y: number;
  readonly [frame]?: F;
}

/** x_in_To = turn · x_in_From + (x, y); turn counter-clockwise in radians, lengths in mm. */
export interface Rigid<To extends Frame, From extends Frame> {
  readonly turnRad: number;
  readonly x: number;
  readonly y: number;
  readonly [frame]?: [To, From];
}

/** Moves one point from its frame into another. */
export function move<To extends Frame, From extends Frame>(
  toFrom: Rigid<To, From>,
  p: Point<NoInfer<From>>,
): Point<To> {
  const c = Math.cos(toFrom.turnRad);
  const s = Math.sin(toFrom.turnRad);
  return { x: c * p.x - s * p.y + toFrom.x, y: s * p.x + c * p.y + toFrom.y };
}

/** The inch, exact since 1959; the PDF and PostScript unit is 1/72 of it (ISO 32000-1, 8.3.2.3). */
export const MM_PER_INCH = 25.4;
export const MM_PER_POINT = MM_PER_INCH / 72;

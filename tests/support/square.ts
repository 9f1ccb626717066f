import type { Region } from '../../src/geometry/shape.ts';

/** A square of so many mm, its lower left corner at the sheet's origin, counter-clockwise. */
export const squareOf = (mm: number): Region<'sheet'> => ({
  outer: [
    { x: 0, y: 0 },
    { x: mm, y: 0 },
    { x: mm, y: mm },
    { x: 0, y: mm },
  ],
  holes: [],
});

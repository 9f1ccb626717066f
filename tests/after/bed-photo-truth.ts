/** What the rendered print of fixtures/b01-bed.jpg was made with: the bed, how the printer is off, where the sheet lies on the page. */
export const BED = { widthMm: 400, depthMm: 280, zero: 'bottom-left' } as const;
export const PRINTED = {
  scaleX: 0.0024,
  scaleY: -0.0013,
  shear: 0.0011,
  turnDeg: 0.7,
  rollDeg: 90,
};
export const SHEET_AT = { x: 45, y: 60, turnDeg: 0.6 };

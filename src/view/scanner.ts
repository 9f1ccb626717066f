import type { Point } from '../base/measure.ts';

/** The smooth correction along the feed: cosines over the picture's height, padded; plain data. */
export interface Feed {
  /** Height that the cosines span, and how far beyond the picture they reach on either side, px. */
  readonly lengthPx: number;
  readonly padPx: number;
  /** Coefficient of cos(k π (v + pad) / length), k = 1, 2, ..., mm. */
  readonly coefficients: readonly number[];
  /** Unit vector along which the drive errs, frame. */
  readonly direction: readonly [number, number];
}

/**
 * A scanner's line sensor moved along the picture's columns, as it maps the glass:
 * (x, y) = shift + pxMm · matrix · (u − middle, v − middle) + feed(v) · direction.
 * What lies deeper than the glass a lens shows nearer to the line below it; outlines are measured on the glass.
 */
export interface Scanner {
  readonly kind: 'scanner';
  readonly middlePx: readonly [number, number];
  readonly pxMm: number;
  /** Dimensionless, row-major 2 x 2; with y up its determinant is negative. */
  readonly matrix: readonly [number, number, number, number];
  readonly shiftMm: readonly [number, number];
  readonly feed: Feed;
  /** Column below the lens, px. */
  readonly lensPx: number;
}

/** Parameters of a scanner in the order of every parameter vector; the feed's coefficients follow. */
export const SCANNER_NAMES = ['xu', 'xv', 'yu', 'yv', 'shift x', 'shift y'] as const;
export const SCANNER_SIZE = SCANNER_NAMES.length;

/** The scanner that a parameter vector describes, what is no parameter taken from `like`. */
export const scannerFrom = (values: ArrayLike<number>, like: Scanner): Scanner => ({
  ...like,
  matrix: [values[0]!, values[1]!, values[2]!, values[3]!],
  shiftMm: [values[4]!, values[5]!],
  feed: {
    ...like.feed,
    coefficients: like.feed.coefficients.map((_, k) => values[SCANNER_SIZE + k]!),
  },
});

/** How far the drive is off at a row, mm along its direction. */
export function feedAt(feed: Feed, v: number): number {
  const t = (Math.PI * (v + 0.5 + feed.padPx)) / feed.lengthPx;
  let sum = 0;
  feed.coefficients.forEach((c, k) => (sum += c * Math.cos((k + 1) * t)));
  return sum;
}

/** Where a picture place lies on the glass, mm. */
export function glassOf(s: Scanner, u: number, v: number): Point<'sheet'> {
  const du = (u - s.middlePx[0]) * s.pxMm;
  const dv = (v - s.middlePx[1]) * s.pxMm;
  const off = feedAt(s.feed, v);
  const [a, b, c, d] = s.matrix;
  return {
    x: s.shiftMm[0] + a * du + b * dv + off * s.feed.direction[0],
    y: s.shiftMm[1] + c * du + d * dv + off * s.feed.direction[1],
  };
}

const STEPS = 8;

/** Where a point of the glass appears in the picture. */
export function scannedAt(s: Scanner, x: number, y: number): Point<'picture'> {
  const [a, b, c, d] = s.matrix;
  const det = a * d - b * c;
  let u = 0;
  let v = s.middlePx[1];
  let off = 0;
  // The drive's error changes by a hundredth of a millimetre in a millimetre: each round gains two digits.
  for (let step = 0; step < STEPS; step++) {
    const px = x - s.shiftMm[0] - off * s.feed.direction[0];
    const py = y - s.shiftMm[1] - off * s.feed.direction[1];
    u = s.middlePx[0] + (d * px - b * py) / det / s.pxMm;
    v = s.middlePx[1] + (a * py - c * px) / det / s.pxMm;
    const next = feedAt(s.feed, v);
    if (Math.abs(next - off) < 1e-12) break;
    off = next;
  }
  return { x: u, y: v };
}

/**
 * A smooth random field over the sheet as a sum of few cosines with independent coefficients: the low-order part of a
 * Gaussian covariance s² exp(-d²/2l²). Reduced-rank Gaussian process after Solin and Särkkä, Stat. Comput. 30 (2020),
 * arXiv:1401.5508 (from memory), with cosines on a padded page. Plain data.
 */
export interface Basis {
  readonly padMm: number;
  readonly lengthX: number;
  readonly lengthY: number;
  readonly kx: readonly number[];
  readonly ky: readonly number[];
  /** Standard deviation of each coefficient for a field of unit standard deviation. */
  readonly sd: readonly number[];
}

/** Share of the spectral density's top below which a term is left out. */
const LEAST_DENSITY = 0.02;

/**
 * @param widthMm, heightMm of the page
 * @param correlationMm l; longer than that the field keeps its value
 * @param padMm how far beyond the page the cosines reach; fields with the same pad share their cosines
 */
export function basisFor(
  widthMm: number,
  heightMm: number,
  correlationMm: number,
  padMm: number,
): Basis {
  const lengthX = widthMm + 2 * padMm;
  const lengthY = heightMm + 2 * padMm;
  const kx: number[] = [];
  const ky: number[] = [];
  const sd: number[] = [];
  for (let j = 0; ; j++) {
    const row = density((j * Math.PI) / lengthY, correlationMm);
    if (row < LEAST_DENSITY) break;
    for (let i = 0; ; i++) {
      const d = row * density((i * Math.PI) / lengthX, correlationMm);
      if (d < LEAST_DENSITY) break;
      // The constant is no print error and no bow: the pose holds it.
      if (i === 0 && j === 0) continue;
      kx.push(i);
      ky.push(j);
      sd.push(Math.sqrt(d * (i ? 2 : 1) * (j ? 2 : 1)));
    }
  }
  const basis = { padMm, lengthX, lengthY, kx, ky, sd };
  // Scale to unit variance on average over the page.
  let mean = 0;
  const phi = new Float64Array(sd.length);
  const n = 9;
  for (let a = 0; a < n; a++) {
    for (let b = 0; b < n; b++) {
      evaluate(basis, ((a + 0.5) / n) * widthMm, ((b + 0.5) / n) * heightMm, phi);
      phi.forEach((v, k) => (mean += (v * sd[k]!) ** 2 / (n * n)));
    }
  }
  return { ...basis, sd: sd.map((v) => v / Math.sqrt(mean)) };
}

const density = (w: number, l: number): number => Math.exp((-w * w * l * l) / 2);

/** cos(k·angle) for k from 0; room for more frequencies than any adjustment could solve for. */
const alongX = new Float64Array(64);
const alongY = new Float64Array(64);

/** Values of all terms at a place of the sheet, mm. */
export function evaluate(b: Basis, x: number, y: number, out: Float64Array, offset = 0): void {
  const { kx, ky } = b;
  const cx = Math.cos((Math.PI * (x + b.padMm)) / b.lengthX);
  const cy = Math.cos((Math.PI * (y + b.padMm)) / b.lengthY);
  alongX[0] = alongY[0] = 1;
  alongX[1] = cx;
  alongY[1] = cy;
  let nx = 1;
  let ny = 1;
  for (let k = 0; k < kx.length; k++) {
    // Chebyshev's recurrence: one cosine tells all its multiples.
    for (; nx < kx[k]!; nx++) alongX[nx + 1] = 2 * cx * alongX[nx]! - alongX[nx - 1]!;
    for (; ny < ky[k]!; ny++) alongY[ny + 1] = 2 * cy * alongY[ny]! - alongY[ny - 1]!;
    out[offset + k] = alongX[kx[k]!]! * alongY[ky[k]!]!;
  }
}

/** The field's value at a place, its coefficients being values[from ...]. */
export function fieldAt(
  b: Basis,
  values: ArrayLike<number>,
  from: number,
  x: number,
  y: number,
): number {
  const terms = new Float64Array(b.kx.length);
  evaluate(b, x, y, terms);
  return fieldOf(terms, values, from);
}

/** The field's value where its terms have these values. */
export function fieldOf(terms: Float64Array, values: ArrayLike<number>, from: number): number {
  let sum = 0;
  for (let k = 0; k < terms.length; k++) sum += values[from + k]! * terms[k]!;
  return sum;
}

import type { Point } from '../base/measure.ts';
import type { Basis } from './basis.ts';
import type { Normal } from './least-squares.ts';
import type { ParameterPlaces } from './view.ts';

/** The cosines of the smooth fields at every mark. */
export class Waves {
  /** Frequencies along x and y up to the sums of two of a field's. */
  readonly nx: number;
  readonly ny: number;
  /** cos(p·x) mark by mark, and cos(q·y). */
  readonly alongX: Float64Array;
  readonly alongY: Float64Array;
  /** The terms of `basis`, mark by mark. */
  readonly terms: Float64Array;

  /** @param basis the one with more terms; others that share its pad must hold none beyond it */
  constructor(
    marks: readonly Point<'sheet'>[],
    readonly basis: Basis,
  ) {
    const { padMm, lengthX, lengthY, kx, ky } = basis;
    this.nx = 2 * Math.max(...kx) + 1;
    this.ny = 2 * Math.max(...ky) + 1;
    this.alongX = new Float64Array(marks.length * this.nx);
    this.alongY = new Float64Array(marks.length * this.ny);
    this.terms = new Float64Array(marks.length * kx.length);
    marks.forEach((d, m) => {
      const ax = (Math.PI * (d.x + padMm)) / lengthX;
      const ay = (Math.PI * (d.y + padMm)) / lengthY;
      const cx = this.alongX.subarray(m * this.nx, (m + 1) * this.nx);
      const cy = this.alongY.subarray(m * this.ny, (m + 1) * this.ny);
      for (let p = 0; p < this.nx; p++) cx[p] = Math.cos(p * ax);
      for (let q = 0; q < this.ny; q++) cy[q] = Math.cos(q * ay);
      for (let k = 0; k < kx.length; k++) {
        this.terms[m * kx.length + k] = cx[kx[k]!]! * cy[ky[k]!]!;
      }
    });
  }

  /** Where each term of another basis stands among this one's. */
  indexOf(other: Basis): Int32Array {
    return Int32Array.from(other.kx, (kx, k) =>
      this.basis.kx.findIndex((x, i) => x === kx && this.basis.ky[i] === other.ky[k]),
    );
  }

  /** Whether two marks have the same y, so that their cosines along y are the same. */
  sameRow(m: number, n: number): boolean {
    // cos(π (y + pad) / length) falls all the way, so one frequency tells.
    return this.alongY[m * this.ny + 1] === this.alongY[n * this.ny + 1];
  }
}

/**
 * Normal equations of marks whose places depend on smooth fields.
 *
 * The product of two cosines is a sum of cosines, so that all products of field terms come out of the sums over the marks of
 * weight·cos(p)·cos(q); and marks stand in rows, along which cos(q) is one factor: sums run over cos(p) alone until the row
 * ends. A fortieth of the work of adding each mark's row by its column.
 */
export class SmoothSums {
  private readonly head: Float64Array;
  private readonly headGradient: Float64Array;
  /** Per head parameter and axis (x, y, z): sums over the terms. The last line is the residual's. */
  private readonly cross: Float64Array;
  /** Per pair of axes (xx, xy, yy, xz, yz, zz): sums over the pairs of frequencies, cos(p)·cos(q) at q·nx + p. */
  private readonly square: Float64Array;
  /** The same of the row under way, over the frequencies along x alone. */
  private readonly rowCross: Float64Array;
  private readonly rowSquare: Float64Array;
  /** Frequencies along x in a field, and in products of two. */
  private readonly single: number;
  /** A mark of the row under way; -1 before the first. */
  private row = -1;

  constructor(
    private readonly heads: number,
    private readonly waves: Waves,
  ) {
    const { nx, ny, basis } = waves;
    this.single = (nx + 1) / 2;
    this.head = new Float64Array(heads * heads);
    this.headGradient = new Float64Array(heads);
    this.cross = new Float64Array((heads + 1) * 3 * basis.kx.length);
    this.square = new Float64Array(6 * nx * ny);
    this.rowCross = new Float64Array((heads + 1) * 3 * this.single);
    this.rowSquare = new Float64Array(6 * nx);
  }

  /** Adds one mark: rows of the head parameters, derivatives by the place, residuals, weight. Marks of a row should follow each other. */
  add(
    m: number,
    ru: Float64Array,
    rv: Float64Array,
    ux: Float64Array,
    vx: Float64Array,
    eu: number,
    ev: number,
    weight: number,
  ): void {
    const { heads, head, headGradient, rowCross, rowSquare, single, waves } = this;
    const { nx, alongX } = waves;
    if (this.row >= 0 && !waves.sameRow(this.row, m)) this.endRow();
    this.row = m;
    for (let i = 0; i < heads; i++) {
      const wu = weight * ru[i]!;
      const wv = weight * rv[i]!;
      headGradient[i]! += wu * eu + wv * ev;
      for (let j = i, at = i * heads + i; j < heads; j++, at++) {
        head[at]! += wu * ru[j]! + wv * rv[j]!;
      }
    }
    const from = m * nx;
    for (let i = 0, at = 0; i <= heads; i++) {
      const a = weight * (i < heads ? ru[i]! : eu);
      const b = weight * (i < heads ? rv[i]! : ev);
      for (let c = 0; c < 3; c++) {
        const g = a * ux[c]! + b * vx[c]!;
        for (let p = from; p < from + single; p++, at++) rowCross[at]! += g * alongX[p]!;
      }
    }
    for (let c = 0, at = 0; c < 6; c++) {
      const i = FIRST[c]!;
      const j = SECOND[c]!;
      const g = weight * (ux[i]! * ux[j]! + vx[i]! * vx[j]!);
      for (let p = from; p < from + nx; p++, at++) rowSquare[at]! += g * alongX[p]!;
    }
  }

  /** Multiplies the sums of the row under way by its cosines along y, and begins anew. */
  private endRow(): void {
    const { cross, square, rowCross, rowSquare, single, waves } = this;
    const { nx, ny, alongY, basis } = waves;
    const { kx, ky } = basis;
    const from = this.row * ny;
    for (let line = 0, at = 0; line < rowCross.length; line += single) {
      for (let k = 0; k < kx.length; k++, at++) {
        cross[at]! += rowCross[line + kx[k]!]! * alongY[from + ky[k]!]!;
      }
    }
    for (let c = 0, at = 0; c < 6; c++) {
      for (let q = 0; q < ny; q++) {
        const cy = alongY[from + q]!;
        for (let p = c * nx; p < (c + 1) * nx; p++, at++) square[at]! += rowSquare[p]! * cy;
      }
    }
    rowCross.fill(0);
    rowSquare.fill(0);
    this.row = -1;
  }

  /** Adds everything to the normal equations: head parameters first, then the fields where `places` says. */
  into({ matrix, gradient, size: n }: Normal, places: ParameterPlaces, bow: Basis): void {
    if (this.row >= 0) this.endRow();
    const { heads, cross, square, waves } = this;
    const { nx, ny, basis } = waves;
    const count = basis.kx.length;
    const all = Int32Array.from(basis.kx, (_, k) => k);
    const fields = [
      { from: places.printErrorX, index: all },
      { from: places.printErrorY, index: all },
      { from: places.bow, index: waves.indexOf(bow) },
    ];
    for (let i = 0; i < heads; i++) {
      gradient[i]! += this.headGradient[i]!;
      for (let j = i; j < heads; j++) matrix[i * n + j]! += this.head[i * heads + j]!;
    }
    fields.forEach(({ from, index }, c) => {
      index.forEach((term, k) => {
        for (let i = 0; i < heads; i++) {
          matrix[i * n + from + k]! += cross[(3 * i + c) * count + term]!;
        }
        gradient[from + k]! += cross[(3 * heads + c) * count + term]!;
      });
    });
    for (let c = 0; c < 6; c++) {
      const a = fields[FIRST[c]!]!;
      const b = fields[SECOND[c]!]!;
      const base = c * nx * ny;
      for (let k = 0; k < a.index.length; k++) {
        const ax = basis.kx[a.index[k]!]!;
        const ay = basis.ky[a.index[k]!]!;
        for (let l = a === b ? k : 0; l < b.index.length; l++) {
          const bx = basis.kx[b.index[l]!]!;
          const by = basis.ky[b.index[l]!]!;
          const less = base + Math.abs(ay - by) * nx;
          const more = base + (ay + by) * nx;
          const dx = Math.abs(ax - bx);
          matrix[(a.from + k) * n + b.from + l]! +=
            (square[less + dx]! +
              square[less + ax + bx]! +
              square[more + dx]! +
              square[more + ax + bx]!) /
            4;
        }
      }
    }
  }
}

/** Pairs of axes in the order of `square`. */
const FIRST = [0, 0, 1, 0, 1, 2];
const SECOND = [0, 1, 1, 2, 2, 2];

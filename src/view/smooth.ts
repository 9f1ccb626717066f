import type { Point } from '../base/measure.ts';
import type { Basis } from './basis.ts';
import { placeIn, type Mapped } from './least-squares.ts';
import type { ParameterPlaces } from './view.ts';

/** Marks that share a coordinate: of a row y, of a column x. */
export interface Line {
  readonly row: boolean;
  readonly marks: readonly number[];
}

/** The cosines of the smooth fields at every mark, and the lines in which the marks stand. */
export class Waves {
  /** Frequencies along x and y up to the sums of two of a field's. */
  readonly nx: number;
  readonly ny: number;
  /** cos(p·x) mark by mark, and cos(q·y). */
  readonly alongX: Float64Array;
  readonly alongY: Float64Array;
  /** The terms of `basis`, mark by mark. */
  readonly terms: Float64Array;
  /** Every mark once, in its row or in its column, whichever is the longer. */
  readonly lines: readonly Line[];

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
    this.lines = linesOf(marks);
  }

  /** Where each term of another basis stands among this one's. */
  indexOf(other: Basis): Int32Array {
    return Int32Array.from(other.kx, (kx, k) =>
      this.basis.kx.findIndex((x, i) => x === kx && this.basis.ky[i] === other.ky[k]),
    );
  }
}

function linesOf(marks: readonly Point<'sheet'>[]): Line[] {
  const size = (of: (d: Point<'sheet'>) => number): Map<number, number> => {
    const sizes = new Map<number, number>();
    for (const d of marks) sizes.set(of(d), (sizes.get(of(d)) ?? 0) + 1);
    return sizes;
  };
  const rows = size((d) => d.y);
  const columns = size((d) => d.x);
  const lines = new Map<string, { row: boolean; marks: number[] }>();
  marks.forEach((d, m) => {
    const row = rows.get(d.y)! >= columns.get(d.x)!;
    const name = row ? `y ${d.y}` : `x ${d.x}`;
    const line = lines.get(name);
    if (line) line.marks.push(m);
    else lines.set(name, { row, marks: [m] });
  });
  return [...lines.values()];
}

/**
 * Normal equations of marks whose places depend on smooth fields.
 *
 * The product of two cosines is a sum of cosines, so that all products of field terms come out of the sums over the marks of
 * weight·cos(p)·cos(q); and marks stand in rows and columns, along which one of both is a factor: sums run over the other alone
 * until the line ends. A hundredth of the work of adding each mark's row by its column.
 */
export class SmoothSums {
  private readonly head: Float64Array;
  private readonly headGradient: Float64Array;
  /** Per head parameter and axis (x, y, z): sums over the terms. The last line is the residual's. */
  private readonly cross: Float64Array;
  /** Per pair of axes (xx, xy, yy, xz, yz, zz): sums over the pairs of frequencies, cos(p)·cos(q) at q·nx + p. */
  private readonly square: Float64Array;
  /** The same of the line under way, over the frequencies along it alone. */
  private readonly lineCross: Float64Array;
  private readonly lineSquare: Float64Array;

  constructor(
    private readonly heads: number,
    private readonly waves: Waves,
  ) {
    const { nx, ny, basis } = waves;
    const most = Math.max(nx, ny);
    this.head = new Float64Array(heads * heads);
    this.headGradient = new Float64Array(heads);
    this.cross = new Float64Array((heads + 1) * 3 * basis.kx.length);
    this.square = new Float64Array(6 * nx * ny);
    this.lineCross = new Float64Array(((heads + 1) * 3 * (most + 1)) / 2);
    this.lineSquare = new Float64Array(6 * most);
  }

  /** Adds one mark of a line: rows of the head parameters, derivatives by the place, residuals, weight. */
  add(
    { row }: Line,
    m: number,
    ru: Float64Array,
    rv: Float64Array,
    ux: Float64Array,
    vx: Float64Array,
    eu: number,
    ev: number,
    weight: number,
  ): void {
    const { heads, head, headGradient, lineCross, lineSquare, waves } = this;
    const n = row ? waves.nx : waves.ny;
    const cosines = row ? waves.alongX : waves.alongY;
    for (let i = 0; i < heads; i++) {
      const wu = weight * ru[i]!;
      const wv = weight * rv[i]!;
      headGradient[i]! += wu * eu + wv * ev;
      for (let j = i, at = i * heads + i; j < heads; j++, at++) {
        head[at]! += wu * ru[j]! + wv * rv[j]!;
      }
    }
    const from = m * n;
    // Frequencies in a field; products of two fields have twice as many.
    const single = (n + 1) / 2;
    for (let i = 0, at = 0; i <= heads; i++) {
      const a = weight * (i < heads ? ru[i]! : eu);
      const b = weight * (i < heads ? rv[i]! : ev);
      for (let c = 0; c < 3; c++) {
        const g = a * ux[c]! + b * vx[c]!;
        for (let p = from; p < from + single; p++, at++) lineCross[at]! += g * cosines[p]!;
      }
    }
    for (let c = 0, at = 0; c < 6; c++) {
      const i = FIRST[c]!;
      const j = SECOND[c]!;
      const g = weight * (ux[i]! * ux[j]! + vx[i]! * vx[j]!);
      for (let p = from; p < from + n; p++, at++) lineSquare[at]! += g * cosines[p]!;
    }
  }

  /** Multiplies the sums of a line by its cosines across, and begins anew. */
  endLine({ row, marks }: Line): void {
    const { heads, cross, square, lineCross, lineSquare, waves } = this;
    const { nx, ny, basis } = waves;
    const [n, across] = row ? [nx, ny] : [ny, nx];
    const [along, steady] = row ? [basis.kx, basis.ky] : [basis.ky, basis.kx];
    const cosines = (row ? waves.alongY : waves.alongX).subarray(marks[0]! * across);
    const single = (n + 1) / 2;
    const factors = Float64Array.from(steady, (k) => cosines[k]!);
    for (let line = 0, at = 0; line < 3 * (heads + 1) * single; line += single) {
      for (let k = 0; k < factors.length; k++, at++) {
        cross[at]! += lineCross[line + along[k]!]! * factors[k]!;
      }
    }
    const [stepAlong, stepAcross] = row ? [1, nx] : [nx, 1];
    for (let c = 0; c < 6; c++) {
      for (let q = 0; q < across; q++) {
        const factor = cosines[q]!;
        let at = c * nx * ny + q * stepAcross;
        for (let p = c * n; p < (c + 1) * n; p++, at += stepAlong) {
          square[at]! += lineSquare[p]! * factor;
        }
      }
    }
    lineCross.fill(0);
    lineSquare.fill(0);
  }

  /** Adds everything to the normal equations: head parameters first, then the fields where `places` says. */
  into({ normal, map }: Mapped, places: ParameterPlaces, bow: Basis): void {
    const { matrix, gradient, size: n } = normal;
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
      gradient[map[i]!]! += this.headGradient[i]!;
      for (let j = i; j < heads; j++) {
        matrix[placeIn(n, map[i]!, map[j]!)]! += this.head[i * heads + j]!;
      }
    }
    fields.forEach(({ from, index }, c) => {
      index.forEach((term, k) => {
        for (let i = 0; i < heads; i++) {
          matrix[placeIn(n, map[i]!, map[from + k]!)]! += cross[(3 * i + c) * count + term]!;
        }
        gradient[map[from + k]!]! += cross[(3 * heads + c) * count + term]!;
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
          matrix[placeIn(n, map[a.from + k]!, map[b.from + l]!)]! +=
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

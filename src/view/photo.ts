import type { Point } from '../base/measure.ts';
import type { Basis } from './basis.ts';
import { placeIn, type Mapped } from './least-squares.ts';
import { sheetOfPicture } from './model.ts';
import { CAMERA_SIZE, cameraFrom, Projector } from './projection.ts';
import { SmoothSums, Waves } from './smooth.ts';
import type { CalibrationSettings, FoundMarks, ParameterPlaces } from './view.ts';

/** Parameters before the smooth fields: camera and print. */
export const HEAD = CAMERA_SIZE + 3;
export const RIDER_NAMES = ['x', 'y', 'turn', 'height', 'slope x', 'slope y', 'ln size'] as const;
export const RIDER_SIZE = RIDER_NAMES.length;
export const RIDER_Z = 3;
export const RIDER_LN_SIZE = 6;
/** Standard deviation of a corner that is believed at the very first, px. */
export const WEAK_PX = 1;
/** Corners are never believed better than this, px (measured on clean renders: 0.02 to 0.05). */
const LEAST_SIGMA_PX = 0.03;

/**
 * What one photo brings into an adjustment: its corners, as a function of its own parameters in the order of a view's vector
 * (camera, print, print error, bow, faces, growth, riders).
 */
export class Photo {
  readonly size: number;
  readonly places: ParameterPlaces;
  readonly ridersFrom: number;
  /** Standard deviation of a corner, px, as the residuals last told it. */
  sigmaPx = WEAK_PX;
  private readonly waves: Waves;
  private readonly bowTerms: Int32Array;

  /**
   * @param reference row-major rotation from which the camera's turn is counted
   * @param kept 1 for every mark that counts
   */
  constructor(
    readonly found: FoundMarks,
    private readonly printError: Basis,
    private readonly bow: Basis,
    faces: number,
    public reference: Float64Array,
    readonly kept: Uint8Array,
  ) {
    const k = printError.sd.length;
    const print = CAMERA_SIZE;
    this.places = {
      print,
      printErrorX: print + 3,
      printErrorY: print + 3 + k,
      bow: print + 3 + 2 * k,
      faces: print + 3 + 2 * k + bow.sd.length,
      growth: print + 3 + 2 * k + bow.sd.length + faces,
    };
    this.ridersFrom = this.places.growth + 2;
    this.size = this.ridersFrom + RIDER_SIZE * found.riders.length;
    this.waves = new Waves(
      found.marks.map((m) => m.design),
      printError,
    );
    this.bowTerms = this.waves.indexOf(bow);
  }

  /** Moves the reference rotation to where the camera is at x; its turn there is then zero. */
  settle(x: ArrayLike<number>): void {
    this.reference = Float64Array.from(cameraFrom(x, this.reference).rotation);
  }

  /** Where its riders lie, as its camera alone tells. */
  riderPlaces(camera: Float64Array, settings: CalibrationSettings): Point<'sheet'>[] {
    const x = new Float64Array(this.size);
    x.set(camera);
    return this.found.riders.map((_, n) => {
      this.startRider(n, x, settings);
      const at = this.ridersFrom + RIDER_SIZE * n;
      return { x: x[at]!, y: x[at + 1]! };
    });
  }

  /** Place, turn and height of a rider from how it looks on the sheet's plane. */
  startRider(n: number, x: Float64Array, settings: CalibrationSettings): void {
    const { design, marks } = this.found.riders[n]!;
    const camera = cameraFrom(x, this.reference);
    const size = (settings.riderSpansMm[design.sizeMm] ?? design.sizeMm) / design.sizeMm;
    const half = design.sizeMm / 2;
    // Similarity from rider mm to the plane z = 0, as complex numbers: w = a·z + b.
    let [sx, sy, tx, ty] = [0, 0, 0, 0];
    const flat = marks.map((m) => sheetOfPicture(camera, m.picture, 0));
    marks.forEach((m, k) => {
      sx += (m.design.x - half) / marks.length;
      sy += (m.design.y - half) / marks.length;
      tx += flat[k]!.x / marks.length;
      ty += flat[k]!.y / marks.length;
    });
    let [re, im, zz] = [0, 0, 0];
    marks.forEach((m, k) => {
      const zx = m.design.x - half - sx;
      const zy = m.design.y - half - sy;
      const wx = flat[k]!.x - tx;
      const wy = flat[k]!.y - ty;
      re += wx * zx + wy * zy;
      im += wy * zx - wx * zy;
      zz += zx * zx + zy * zy;
    });
    const seen = Math.hypot(re, im) / zz;
    const height = camera.centre[2] * (1 - size / seen);
    const t = height / camera.centre[2];
    const bx = tx - (re * sx - im * sy) / zz;
    const by = ty - (im * sx + re * sy) / zz;
    const at = this.ridersFrom + RIDER_SIZE * n;
    x[at] = bx + t * (camera.centre[0] - bx);
    x[at + 1] = by + t * (camera.centre[1] - by);
    x[at + 2] = Math.atan2(im, re);
    x[at + RIDER_Z] = height;
    x[at + RIDER_LN_SIZE] = Math.log(size);
  }

  /** The marks' share: sheet corners and rider corners, Huber's loss. */
  marks(x: Float64Array, into?: Mapped, residuals?: Float64Array): number {
    const { found, places, printError, bow, waves, kept } = this;
    const p = new Projector(x, this.reference);
    const w0 = 1 / this.sigmaPx ** 2;
    const sums = into && new SmoothSums(HEAD, waves);
    const { terms } = waves;
    const k = printError.sd.length;
    const index = this.bowTerms;
    const ru = new Float64Array(HEAD);
    const rv = new Float64Array(HEAD);
    const [sx, sy, sh] = [x[places.print]!, x[places.print + 1]!, x[places.print + 2]!];
    let cost = 0;
    for (const line of waves.lines) {
      for (const m of line.marks) {
        if (!kept[m] && !residuals) continue;
        const { design: d, picture: q } = found.marks[m]!;
        let X = sx * d.x + sh * d.y;
        let Y = sy * d.y;
        let Z = 0;
        for (let a = 0, at = m * k; a < k; a++, at++) {
          X += x[places.printErrorX + a]! * terms[at]!;
          Y += x[places.printErrorY + a]! * terms[at]!;
        }
        for (let a = 0; a < index.length; a++) Z += x[places.bow + a]! * terms[m * k + index[a]!]!;
        if (!p.project(X, Y, Z, !!into)) return Infinity;
        const eu = p.u - q.x;
        const ev = p.v - q.y;
        if (residuals) {
          residuals[2 * m] = eu;
          residuals[2 * m + 1] = ev;
        }
        if (!kept[m]) continue;
        const { loss, weight } = huber(eu, ev, w0);
        cost += loss;
        if (!sums) continue;
        ru.set(p.du);
        rv.set(p.dv);
        const { ux, vx } = p;
        ru[places.print] = ux[0]! * d.x;
        rv[places.print] = vx[0]! * d.x;
        ru[places.print + 1] = ux[1]! * d.y;
        rv[places.print + 1] = vx[1]! * d.y;
        ru[places.print + 2] = ux[0]! * d.y;
        rv[places.print + 2] = vx[0]! * d.y;
        sums.add(line, m, ru, rv, ux, vx, eu, ev, weight);
      }
      sums?.endLine(line);
    }
    if (sums && into) sums.into(into, places, bow);
    for (let r = 0; r < found.riders.length; r++) {
      cost += this.riderMarks(r, x, p, into, w0);
    }
    return Number.isFinite(cost) ? cost : Infinity;
  }

  private riderMarks(
    r: number,
    x: Float64Array,
    p: Projector,
    into: Mapped | undefined,
    w0: number,
  ): number {
    const { design, marks } = this.found.riders[r]!;
    const at = this.ridersFrom + RIDER_SIZE * r;
    const [cx, cy, turn, z, a, b, ln] = x.subarray(at, at + RIDER_SIZE) as unknown as number[];
    const c = Math.cos(turn!);
    const s = Math.sin(turn!);
    const g = Math.exp(ln!);
    const half = design.sizeMm / 2;
    // Camera columns, then the rider's own seven.
    const ru = new Float64Array(CAMERA_SIZE + RIDER_SIZE);
    const rv = new Float64Array(CAMERA_SIZE + RIDER_SIZE);
    let cost = 0;
    for (const { design: d, picture: q } of marks) {
      const u = g * (d.x - half);
      const v = g * (d.y - half);
      const X = cx! + c * u - s * v;
      const Y = cy! + s * u + c * v;
      const Z = z! + a! * u + b! * v;
      if (!p.project(X, Y, Z, !!into)) return Infinity;
      const eu = p.u - q.x;
      const ev = p.v - q.y;
      const { loss, weight } = huber(eu, ev, w0);
      cost += loss;
      if (!into) continue;
      for (const [row, d3, dc] of [
        [ru, p.ux, p.du],
        [rv, p.vx, p.dv],
      ] as const) {
        row.set(dc);
        row[CAMERA_SIZE] = d3[0]!;
        row[CAMERA_SIZE + 1] = d3[1]!;
        row[CAMERA_SIZE + 2] = -d3[0]! * (s * u + c * v) + d3[1]! * (c * u - s * v);
        row[CAMERA_SIZE + 3] = d3[2]!;
        row[CAMERA_SIZE + 4] = d3[2]! * u;
        row[CAMERA_SIZE + 5] = d3[2]! * v;
        row[CAMERA_SIZE + 6] =
          d3[0]! * (c * u - s * v) + d3[1]! * (s * u + c * v) + d3[2]! * (a! * u + b! * v);
      }
      const { normal, map } = into;
      const n = normal.size;
      const index = (k: number): number => map[k < CAMERA_SIZE ? k : at + k - CAMERA_SIZE]!;
      for (let i = 0; i < ru.length; i++) {
        const wu = weight * ru[i]!;
        const wv = weight * rv[i]!;
        const row = index(i);
        normal.gradient[row]! += wu * eu + wv * ev;
        for (let j = i; j < ru.length; j++) {
          normal.matrix[placeIn(n, row, index(j))]! += wu * ru[j]! + wv * rv[j]!;
        }
      }
    }
    return cost;
  }

  /**
   * How noisy the corners are: from the residuals, the parameters that they decide counted off, inflated for what neighbours
   * share.
   *
   * @param residuals of every mark, u and v in turn, px
   * @param explained how many parameters these corners decide
   * @param reject leave out for now what lies far off
   */
  weigh(residuals: Float64Array, explained: number, reject: boolean): void {
    const { found, kept } = this;
    if (reject) {
      const lengths = found.marks.map((_, m) =>
        Math.hypot(residuals[2 * m]!, residuals[2 * m + 1]!),
      );
      // The median of a Rayleigh law is 1.1774 of its scale.
      const typical = lengths.filter((_, m) => kept[m]).sort((a, b) => a - b);
      const limit = 4.5 * (typical[typical.length >> 1]! / 1.1774) + 0.05;
      lengths.forEach((e, m) => (kept[m] = e <= limit ? 1 : 0));
    }
    let sum = 0;
    let count = 0;
    found.marks.forEach((_, m) => {
      if (!kept[m]) return;
      sum += residuals[2 * m]! ** 2 + residuals[2 * m + 1]! ** 2;
      count += 2;
    });
    const variance = sum / Math.max(8, count - Math.min(explained, 0.5 * count));
    this.sigmaPx = Math.max(LEAST_SIGMA_PX, Math.sqrt(variance * this.clumping(residuals)));
  }

  /**
   * How much more a neighbourhood of corners errs together than if each erred alone: one plus the sum of the residuals'
   * correlations within three cells. What the smooth fields leave is shared by neighbours, and must not count as many.
   */
  private clumping(residuals: Float64Array): number {
    const { found, kept } = this;
    const at = new Map<number, number>();
    found.marks.forEach((m, k) => kept[k] && at.set(m.j * 4096 + m.i, k));
    let own = 0;
    let shared = 0;
    found.marks.forEach((m, k) => {
      if (!kept[k]) return;
      own += residuals[2 * k]! ** 2 + residuals[2 * k + 1]! ** 2;
      for (let dj = -3; dj <= 3; dj++) {
        for (let di = -3; di <= 3; di++) {
          const other = di || dj ? at.get((m.j + dj) * 4096 + m.i + di) : undefined;
          if (other === undefined) continue;
          shared +=
            residuals[2 * k]! * residuals[2 * other]! +
            residuals[2 * k + 1]! * residuals[2 * other + 1]!;
        }
      }
    });
    return own > 0 ? Math.max(1, 1 + shared / own) : 1;
  }
}

/** Standard deviations beyond which a corner's loss grows only linearly. */
const HUBER = 3;

function huber(eu: number, ev: number, w0: number): { loss: number; weight: number } {
  const e2 = w0 * (eu * eu + ev * ev);
  if (e2 <= HUBER * HUBER) return { loss: 0.5 * e2, weight: w0 };
  const e = Math.sqrt(e2);
  return { loss: HUBER * (e - 0.5 * HUBER), weight: (w0 * HUBER) / e };
}

import type { Point } from '../base/measure.ts';
import { evaluate, fieldAt, fieldOf } from './basis.ts';
import { cameraFrom } from './projection.ts';
import { glassOf, scannedAt, scannerFrom, type Scanner } from './scanner.ts';
import type { CalibrationSettings, Camera, Eye, View } from './view.ts';

export const isScanner = (eye: Eye): eye is Scanner => eye.kind === 'scanner';

/** The camera or scanner that a parameter vector of this view describes; without one, the calibrated one. */
export const eyeOf = (view: View, values: ArrayLike<number> = view.values): Eye =>
  isScanner(view.eye) ? scannerFrom(values, view.eye) : cameraFrom(values, view.eye.rotation);

/**
 * Height of the face of a blank above the sheet frame's plane, mm: its thickness plus how high the bowed sheet lies there; on a
 * scanner's glass zero.
 *
 * @param at where on the sheet; its middle when left out
 */
export function heightOf(
  view: View,
  thicknessIndex = 0,
  values: ArrayLike<number> = view.values,
  at?: Point<'sheet'>,
): number {
  return values[view.places.faces + thicknessIndex]! + bowAt(view, values, at);
}

/** Every height on which a rider may lie, in the order of a view's faces: those of the blanks, then those of blocks. */
export const faceHeights = ({ thicknessMm, blocksMm = [] }: CalibrationSettings): number[] => [
  ...thicknessMm,
  ...blocksMm,
];

/** How high the sheet lies above the frame's plane at a place (its middle when left out), mm. */
export const bowAt = (
  view: View,
  values: ArrayLike<number> = view.values,
  at: Point<'sheet'> = { x: view.sheet.widthMm / 2, y: view.sheet.heightMm / 2 },
): number => fieldAt(view.bow, values, view.places.bow, at.x, at.y);

/** Where a point of the sheet frame appears in the picture; NaN behind the camera. A scanner knows its glass only, z = 0. */
export function pictureOf(eye: Eye, x: number, y: number, z: number): Point<'picture'> {
  if (isScanner(eye)) return scannedAt(eye, x, y);
  const camera = eye;
  const { rotation: r, centre: c } = camera;
  const X = x - c[0];
  const Y = y - c[1];
  const Z = z - c[2];
  const depth = r[6]! * X + r[7]! * Y + r[8]! * Z;
  if (!(depth > 0)) return { x: NaN, y: NaN };
  const u = (r[0]! * X + r[1]! * Y + r[2]! * Z) / depth;
  const v = (r[3]! * X + r[4]! * Y + r[5]! * Z) / depth;
  const { k1, k2, p1, p2, fPx, cxPx, cyPx } = camera;
  const r2 = u * u + v * v;
  const g = 1 + r2 * (k1 + r2 * k2);
  return {
    x: fPx * (u * g + 2 * p1 * u * v + p2 * (r2 + 2 * u * u)) + cxPx,
    y: fPx * (v * g + p1 * (r2 + 2 * v * v) + 2 * p2 * u * v) + cyPx,
  };
}

const NEWTON_STEPS = 12;

/**
 * Direction of a picture place without the lens's distortion: x, y at depth 1 in camera axes, written to `out`.
 * Newton's method with the exact Jacobian; NaN where the lens model folds over and no direction maps there.
 */
export function undistort(camera: Camera, u: number, v: number, out: Float64Array): void {
  const { k1, k2, p1, p2 } = camera;
  const xd = (u - camera.cxPx) / camera.fPx;
  const yd = (v - camera.cyPx) / camera.fPx;
  let x = xd;
  let y = yd;
  for (let step = 0; step < NEWTON_STEPS; step++) {
    const r2 = x * x + y * y;
    const g = 1 + r2 * (k1 + r2 * k2);
    const dg = 2 * (k1 + 2 * r2 * k2);
    const ex = x * g + 2 * p1 * x * y + p2 * (r2 + 2 * x * x) - xd;
    const ey = y * g + p1 * (r2 + 2 * y * y) + 2 * p2 * x * y - yd;
    if (Math.abs(ex) + Math.abs(ey) < 1e-13) {
      out[0] = x;
      out[1] = y;
      return;
    }
    const a = g + x * x * dg + 2 * p1 * y + 6 * p2 * x;
    const b = x * y * dg + 2 * p1 * x + 2 * p2 * y;
    const d = g + y * y * dg + 6 * p1 * y + 2 * p2 * x;
    const det = a * d - b * b;
    if (!(det > 0)) break;
    x -= (d * ex - b * ey) / det;
    y -= (a * ey - b * ex) / det;
  }
  out[0] = NaN;
  out[1] = NaN;
}

/** Where the ray through a picture place meets the plane z = heightMm, mm; NaN where it does not. */
export function sheetOfPicture(eye: Eye, p: Point<'picture'>, heightMm: number): Point<'sheet'> {
  const out = sheetOfPictureMany(eye, Float64Array.of(p.x, p.y), heightMm);
  return { x: out[0]!, y: out[1]! };
}

/** The same for many places, x and y interleaved. */
export function sheetOfPictureMany(
  eye: Eye,
  places: Float64Array,
  heightMm: number,
  out: Float64Array = new Float64Array(places.length),
): Float64Array {
  if (isScanner(eye)) {
    for (let k = 0; k < places.length; k += 2) {
      const p = glassOf(eye, places[k]!, places[k + 1]!);
      out[k] = p.x;
      out[k + 1] = p.y;
    }
    return out;
  }
  const camera = eye;
  const { rotation: r, centre: c } = camera;
  const d = new Float64Array(2);
  for (let k = 0; k < places.length; k += 2) {
    undistort(camera, places[k]!, places[k + 1]!, d);
    const x = d[0]!;
    const y = d[1]!;
    const s = (heightMm - c[2]) / (r[2]! * x + r[5]! * y + r[8]!);
    const ahead = s > 0 ? s : NaN;
    out[k] = c[0] + ahead * (r[0]! * x + r[3]! * y + r[6]!);
    out[k + 1] = c[1] + ahead * (r[1]! * x + r[4]! * y + r[7]!);
  }
  return out;
}

/** Where many points of the plane z = heightMm appear, x and y interleaved. */
export function pictureOfMany(
  eye: Eye,
  places: Float64Array,
  heightMm: number,
  out: Float64Array = new Float64Array(places.length),
): Float64Array {
  for (let k = 0; k < places.length; k += 2) {
    const p = pictureOf(eye, places[k]!, places[k + 1]!, heightMm);
    out[k] = p.x;
    out[k + 1] = p.y;
  }
  return out;
}

/** Where the ink of a designed place lies: the print moves ink, never the frame. */
export function sheetOfDesign(
  view: View,
  design: Point<'sheet'>,
  values: ArrayLike<number> = view.values,
): Point<'sheet'> {
  const { print, printErrorX, printErrorY } = view.places;
  const terms = new Float64Array(view.printError.kx.length);
  evaluate(view.printError, design.x, design.y, terms);
  return {
    x:
      values[print]! * design.x +
      values[print + 2]! * design.y +
      fieldOf(terms, values, printErrorX),
    y: values[print + 1]! * design.y + fieldOf(terms, values, printErrorY),
  };
}

/** Which designed place was printed at a place of the sheet. */
export function designOfSheet(
  view: View,
  p: Point<'sheet'>,
  values: ArrayLike<number> = view.values,
): Point<'sheet'> {
  let design = p;
  // The print differs from the design by a per cent at most: each round gains two digits.
  for (let round = 0; round < 6; round++) {
    const q = sheetOfDesign(view, design, values);
    const [dx, dy] = [p.x - q.x, p.y - q.y];
    design = { x: design.x + dx, y: design.y + dy };
    if (Math.abs(dx) + Math.abs(dy) < 1e-9) break;
  }
  return design;
}

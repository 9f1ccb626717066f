import type { Camera } from './view.ts';

/**
 * Camera parameters in the order of every parameter vector: turn (a small rotation vector on top of a reference rotation),
 * projection centre in mm, focal length and principal point in px, Brown-Conrady k1 k2 p1 p2.
 */
export const CAMERA_NAMES = [
  'turn x',
  'turn y',
  'turn z',
  'centre x',
  'centre y',
  'centre z',
  'f',
  'cx',
  'cy',
  'k1',
  'k2',
  'p1',
  'p2',
] as const;
export const CAMERA_SIZE = CAMERA_NAMES.length;
export const AT_CENTRE = 3;
export const AT_F = 6;
export const AT_K1 = 9;

/** exp of the cross-product matrix of a rotation vector (Rodrigues' formula), row-major. */
export function rotationOf(x: number, y: number, z: number): Float64Array {
  const t2 = x * x + y * y + z * z;
  const t = Math.sqrt(t2);
  const a = t < 1e-6 ? 1 - t2 / 6 : Math.sin(t) / t;
  const b = t < 1e-6 ? 0.5 - t2 / 24 : (1 - Math.cos(t)) / t2;
  const c = 1 - b * t2;
  return Float64Array.of(
    c + b * x * x,
    b * x * y - a * z,
    b * x * z + a * y,
    b * x * y + a * z,
    c + b * y * y,
    b * y * z - a * x,
    b * x * z - a * y,
    b * y * z + a * x,
    c + b * z * z,
  );
}

/** Left Jacobian of the rotation: exp(w + dw) = exp(J dw) exp(w) to first order. */
function leftJacobian(x: number, y: number, z: number): Float64Array {
  const t2 = x * x + y * y + z * z;
  const t = Math.sqrt(t2);
  const b = t < 1e-5 ? 0.5 - t2 / 24 : (1 - Math.cos(t)) / t2;
  const c = t < 1e-5 ? 1 / 6 - t2 / 120 : (t - Math.sin(t)) / (t2 * t);
  const d = 1 - c * t2;
  return Float64Array.of(
    d + c * x * x,
    c * x * y - b * z,
    c * x * z + b * y,
    c * x * y + b * z,
    d + c * y * y,
    c * y * z - b * x,
    c * x * z - b * y,
    c * y * z + b * x,
    d + c * z * z,
  );
}

export function multiplied(a: ArrayLike<number>, b: ArrayLike<number>): Float64Array {
  const out = new Float64Array(9);
  for (let i = 0; i < 3; i++) {
    for (let j = 0; j < 3; j++) {
      out[3 * i + j] = a[3 * i]! * b[j]! + a[3 * i + 1]! * b[3 + j]! + a[3 * i + 2]! * b[6 + j]!;
    }
  }
  return out;
}

/** The camera that a parameter vector describes, given the reference rotation its turn is counted from. */
export function cameraFrom(values: ArrayLike<number>, reference: ArrayLike<number>): Camera {
  return {
    rotation: Array.from(multiplied(rotationOf(values[0]!, values[1]!, values[2]!), reference)),
    centre: [values[3]!, values[4]!, values[5]!],
    fPx: values[6]!,
    cxPx: values[7]!,
    cyPx: values[8]!,
    k1: values[9]!,
    k2: values[10]!,
    p1: values[11]!,
    p2: values[12]!,
  };
}

/** Projects points and knows how the picture place moves with every camera parameter and with the point. */
export class Projector {
  /** Picture place of the last point. */
  u = 0;
  v = 0;
  /** Derivatives of u and v by the camera parameters. */
  readonly du = new Float64Array(CAMERA_SIZE);
  readonly dv = new Float64Array(CAMERA_SIZE);
  /** Derivatives of u and v by the point's x, y, z. */
  readonly ux = new Float64Array(3);
  readonly vx = new Float64Array(3);
  private readonly r: Float64Array;
  private readonly left: Float64Array;

  constructor(
    private readonly values: ArrayLike<number>,
    reference: ArrayLike<number>,
  ) {
    const [x, y, z] = [values[0]!, values[1]!, values[2]!];
    this.r = multiplied(rotationOf(x, y, z), reference);
    this.left = leftJacobian(x, y, z);
  }

  /** @returns false when the point lies behind the camera */
  project(px: number, py: number, pz: number, derivatives: boolean): boolean {
    const { values: c, r } = this;
    const X = px - c[3]!;
    const Y = py - c[4]!;
    const Z = pz - c[5]!;
    const qx = r[0]! * X + r[1]! * Y + r[2]! * Z;
    const qy = r[3]! * X + r[4]! * Y + r[5]! * Z;
    const qz = r[6]! * X + r[7]! * Y + r[8]! * Z;
    if (!(qz > 1e-6)) return false;
    const x = qx / qz;
    const y = qy / qz;
    const f = c[6]!;
    const [k1, k2, p1, p2] = [c[9]!, c[10]!, c[11]!, c[12]!];
    const r2 = x * x + y * y;
    const g = 1 + r2 * (k1 + r2 * k2);
    const xd = x * g + 2 * p1 * x * y + p2 * (r2 + 2 * x * x);
    const yd = y * g + p1 * (r2 + 2 * y * y) + 2 * p2 * x * y;
    this.u = f * xd + c[7]!;
    this.v = f * yd + c[8]!;
    if (!derivatives) return true;
    const dg = 2 * (k1 + 2 * r2 * k2);
    const xx = f * (g + x * x * dg + 2 * p1 * y + 6 * p2 * x);
    const xy = f * (x * y * dg + 2 * p1 * x + 2 * p2 * y);
    const yy = f * (g + y * y * dg + 6 * p1 * y + 2 * p2 * x);
    // By the point in camera axes.
    const a0 = xx / qz;
    const a1 = xy / qz;
    const a2 = -(xx * x + xy * y) / qz;
    const b0 = xy / qz;
    const b1 = yy / qz;
    const b2 = -(xy * x + yy * y) / qz;
    const { du, dv, ux, vx, left: l } = this;
    for (let k = 0; k < 3; k++) {
      ux[k] = a0 * r[k]! + a1 * r[3 + k]! + a2 * r[6 + k]!;
      vx[k] = b0 * r[k]! + b1 * r[3 + k]! + b2 * r[6 + k]!;
      du[3 + k] = -ux[k]!;
      dv[3 + k] = -vx[k]!;
    }
    // d q = (J dw) x q, so d u = a·((J dw) x q) = (q x a)·(J dw).
    const s0 = qy * a2 - qz * a1,
      s1 = qz * a0 - qx * a2,
      s2 = qx * a1 - qy * a0;
    const t0 = qy * b2 - qz * b1,
      t1 = qz * b0 - qx * b2,
      t2 = qx * b1 - qy * b0;
    for (let k = 0; k < 3; k++) {
      du[k] = s0 * l[k]! + s1 * l[3 + k]! + s2 * l[6 + k]!;
      dv[k] = t0 * l[k]! + t1 * l[3 + k]! + t2 * l[6 + k]!;
    }
    du[6] = xd;
    dv[6] = yd;
    du[7] = 1;
    dv[7] = 0;
    du[8] = 0;
    dv[8] = 1;
    du[9] = f * x * r2;
    dv[9] = f * y * r2;
    du[10] = f * x * r2 * r2;
    dv[10] = f * y * r2 * r2;
    du[11] = f * 2 * x * y;
    dv[11] = f * (r2 + 2 * y * y);
    du[12] = f * (r2 + 2 * x * x);
    dv[12] = f * 2 * x * y;
    return true;
  }
}

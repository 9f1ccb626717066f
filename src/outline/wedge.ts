import { Matrix, solve } from 'ml-matrix';
import type { LinearPlane } from './linear.ts';
import { unmixed, type Mixture } from './mixture.ts';
import { erf } from './profile.ts';

/** A corner in the picture: two sides that leave an apex, each a parabola. Picture px, y down. */
export interface Wedge {
  readonly x: number;
  readonly y: number;
  /** Directions of the two sides away from the apex, radians. */
  readonly back: number;
  readonly forth: number;
  /** Curvature of each, 1/px, positive where it bends toward the other. */
  readonly backBend: number;
  readonly forthBend: number;
}

export interface FittedWedge extends Wedge {
  /** RMS of what is left, as a share of the step between the two sides; the same within two pixels of the apex. */
  readonly rest: number;
  readonly restAtApex: number;
}

/** Nodes and weights of Gauss and Legendre's rule with ten points on [-1, 1] (Abramowitz and Stegun, table 25.4). */
const NODES = [
  0.1488743389816312, 0.4333953941292472, 0.6794095682990244, 0.8650633666889845,
  0.9739065285171717,
];
const WEIGHTS = [
  0.2955242247147529, 0.2692667193099963, 0.219086362515982, 0.1494513491505806, 0.0666713443086881,
];

const phi = (x: number): number => 0.5 * (1 + erf(x / Math.SQRT2));

/**
 * Probability that two standard normal deviates of correlation r both lie below h and k
 * (Drezner and Wesolowsky 1990, by the arc sine integral).
 */
export function bivariateNormal(h: number, k: number, r: number): number {
  const half = Math.asin(Math.max(-1, Math.min(1, r))) / 2;
  let sum = 0;
  for (let n = 0; n < NODES.length; n++) {
    for (const sign of [-1, 1]) {
      const s = Math.sin(half * (1 + sign * NODES[n]!));
      sum += WEIGHTS[n]! * Math.exp((s * h * k - (h * h + k * k) / 2) / Math.max(1e-9, 1 - s * s));
    }
  }
  return phi(h) * phi(k) + (half * sum) / (2 * Math.PI);
}

/**
 * Share of material that a lens of a blur sees of a wedge at a place: exact for straight sides.
 *
 * @param convex the material fills the wedge; else all but the wedge
 */
export function wedgeAt(w: Wedge, convex: boolean, blurPx: number, px: number, py: number): number {
  return shareOf(besideSides(w, px, py), convex, blurPx);
}

function shareOf(
  [da, db, cosine]: ReturnType<typeof besideSides>,
  convex: boolean,
  blurPx: number,
): number {
  const inWedge = bivariateNormal(da / blurPx, db / blurPx, cosine);
  return convex ? inWedge : 1 - inWedge;
}

/** How far within each side of a wedge a place lies, px, and the cosine between their normals. */
function besideSides(w: Wedge, px: number, py: number): readonly [number, number, number] {
  const [dx, dy] = [px - w.x, py - w.y];
  const side = (angle: number, bend: number, turn: 1 | -1): readonly [number, number, number] => {
    const [c, s] = [Math.cos(angle), Math.sin(angle)];
    const [nx, ny] = [-turn * s, turn * c];
    const t = Math.max(0, dx * c + dy * s);
    return [dx * nx + dy * ny - 0.5 * bend * t * t, nx, ny];
  };
  const turn = Math.sin(w.forth - w.back) > 0 ? 1 : -1;
  const [da, ax, ay] = side(w.back, w.backBend, turn);
  const [db, bx, by] = side(w.forth, w.forthBend, turn === 1 ? -1 : 1);
  return [da, db, ax * bx + ay * by];
}

/** Angle between the two sides of a wedge, radians. */
export const openingOf = (w: Wedge): number =>
  Math.abs(Math.atan2(Math.sin(w.forth - w.back), Math.cos(w.forth - w.back)));

const MOST_ROUNDS = 12;
const LEVELS = 6;
/** A wedge of material that opens by less is a point: its two sides may face other light, one of them a shadow. Radians. */
const POINT_RAD = 1.95;
/** Light farther than this from a point says nothing of it, px: shadows begin and end there. */
const BESIDE_PX = 4;
/** Pixels with more ink than this, and more paper, are left out. */
const EDGE_OF_PRINT = 0.05;
/** Steps of numeric slopes: apex px, directions radians. */
const STEPS = [0.05, 0.05, 0.01, 0.01] as const;

/**
 * Fits a wedge to the light about it: apex and directions by Gauss and Newton, the light of both sides and a slope of the
 * light by least squares; a point's sides have a light of their own outside each.
 *
 * @param start as the sides farther out say
 * @param reachPx pixels within this of the start take part
 * @param mixture of both sides, where the plane is luma
 * @param inkAt share of ink that the picture shows of the sheet where nothing lies on it; left out where it has no print there
 */
export function fitWedge(
  plane: LinearPlane,
  start: Wedge,
  convex: boolean,
  blurPx: number,
  reachPx: number,
  mixture: Mixture | undefined,
  inkAt: (x: number, y: number) => number = () => 0,
): FittedWedge | undefined {
  const r = Math.ceil(reachPx);
  const [cx, cy] = [Math.round(start.x), Math.round(start.y)];
  if (cx < r + 1 || cy < r + 1 || cx >= plane.widthPx - r - 1 || cy >= plane.heightPx - r - 1)
    return undefined;
  plane.need(cx - r, cy - r, cx + r, cy + r);
  const lightOf = (value: number): number =>
    mixture ? unmixed(mixture, value / 65535) : value / 65535;
  const point = convex && openingOf(start) < POINT_RAD;
  const places: (readonly [x: number, y: number, light: number, ink: number])[] = [];
  for (let y = -r; y <= r; y++) {
    for (let x = -r; x <= r; x++) {
      if (x * x + y * y > reachPx * reachPx) continue;
      if (point) {
        const [da, db] = besideSides(start, cx + x, cy + y);
        if (Math.min(da, db) < -BESIDE_PX) continue;
      }
      const ink = inkAt(cx + x, cy + y);
      // Where print ends a tenth of a pixel weighs more than the blank does.
      if (Math.min(ink, 1 - ink) > EDGE_OF_PRINT) continue;
      const light = lightOf(plane.at(cx + x, cy + y));
      places.push([cx + x, cy + y, light, ink]);
    }
  }
  const m = places.length;
  let wedge = start;
  const light = Matrix.columnVector(places.map((p) => p[2]));
  const residuals = (w: Wedge): { left: Matrix; square: number; step: number } => {
    const columns = new Matrix(
      places.map(([x, y, , ink]) => {
        const beside = besideSides(w, x, y);
        const share = shareOf(beside, convex, blurPx);
        const forth = point ? (1 - share) * phi((beside[0] - beside[1]) / blurPx) : 0;
        return [1, share, (x - cx) / r, (y - cy) / r, (1 - share) * ink, forth];
      }),
    );
    const turned = columns.transpose();
    // A little is added, so that a wedge outside the patch has an answer too.
    const normal = turned.mmul(columns).add(Matrix.eye(LEVELS, LEVELS, 1e-9));
    const level = solve(normal, turned.mmul(light));
    const left = Matrix.sub(light, columns.mmul(level));
    const step = Math.abs(level.get(1, 0) - level.get(LEVELS - 1, 0) / 2);
    return { left, square: left.dot(left), step };
  };
  const moved = (w: Wedge, d: readonly number[]): Wedge => ({
    ...w,
    x: w.x + d[0]!,
    y: w.y + d[1]!,
    back: w.back + d[2]!,
    forth: w.forth + d[3]!,
  });
  let now = residuals(wedge);
  let damping = 1e-3;
  for (let round = 0; round < MOST_ROUNDS; round++) {
    const slopes = new Matrix(m, STEPS.length);
    STEPS.forEach((h, t) => {
      const d = STEPS.map((_, u) => (u === t ? h : 0));
      slopes.setColumn(t, Matrix.sub(residuals(moved(wedge, d)).left, now.left).div(h));
    });
    const turned = slopes.transpose();
    const normal = turned.mmul(slopes);
    for (let t = 0; t < STEPS.length; t++)
      normal.set(t, t, normal.get(t, t) * (1 + damping) + 1e-12);
    const d = solve(normal, turned.mmul(now.left).mul(-1)).to1DArray();
    const next = moved(wedge, d);
    const after = residuals(next);
    if (after.square < now.square) {
      const gain = 1 - after.square / now.square;
      [wedge, now, damping] = [next, after, damping / 4];
      if (gain < 1e-4) break;
    } else {
      damping *= 8;
      if (damping > 1e3) break;
    }
    if (Math.hypot(wedge.x - start.x, wedge.y - start.y) > reachPx) return undefined;
  }
  let [near, count] = [0, 0];
  places.forEach(([x, y], n) => {
    if (Math.hypot(x - wedge.x, y - wedge.y) > 2) return;
    near += now.left.get(n, 0) ** 2;
    count++;
  });
  return {
    ...wedge,
    rest: Math.sqrt(now.square / m) / Math.max(1e-6, now.step),
    restAtApex: Math.sqrt(near / Math.max(1, count)) / Math.max(1e-6, now.step),
  };
}

import { Matrix, solve } from 'ml-matrix';
import type { Frame, Point } from '../base/measure.ts';
import type { Affine } from './affine.ts';
import { boxOf, centroid, mapRegion, outwardNormals, perimeter, resample } from './measure.ts';
import { Nearest } from './nearest.ts';
import type { Region, Ring } from './shape.ts';

/** A rigid motion: first mirrored about x = 0 where it says so, then turned about the origin, then shifted. */
export interface Motion {
  readonly mirrored: boolean;
  /** Counter-clockwise. */
  readonly turnRad: number;
  readonly xMm: number;
  readonly yMm: number;
}

export const STILL: Motion = { mirrored: false, turnRad: 0, xMm: 0, yMm: 0 };

/** The same motion as a map. */
export function affineOf({ mirrored, turnRad, xMm, yMm }: Motion): Affine {
  const [c, s] = [Math.cos(turnRad), Math.sin(turnRad)];
  return mirrored ? [-c, -s, -s, c, xMm, yMm] : [c, s, -s, c, xMm, yMm];
}

export function movedBy<F extends Frame>(
  { mirrored, turnRad, xMm, yMm }: Motion,
  p: Point<F>,
): Point<F> {
  const [c, s, x] = [Math.cos(turnRad), Math.sin(turnRad), mirrored ? -p.x : p.x];
  return { x: xMm + c * x - s * p.y, y: yMm + s * x + c * p.y };
}

/** A region as it lies after a motion; where that mirrors, its rings are turned round so that they keep their sense. */
export const regionMovedBy = <F extends Frame>(m: Motion, region: Region<F>): Region<F> =>
  mapRegion<F, F>(region, (p) => movedBy<F>(m, p), m.mirrored);

/** Turns tried to find the right one, and points compared at each. */
const TURNS = 90;
const ROUGH_POINTS = 48;
/** So many of the best turns are followed up. */
const FOLLOWED = 4;
const POINTS = 300;
const ROUNDS = 20;
/** Distances beyond this many times their median pull no harder (Huber, 1964, with his 1.345 / 0.6745). */
const HUBER = 2;

export interface Laid {
  readonly motion: Motion;
  /** Root mean square distance of its outer ring from the other's, mm. */
  readonly rmsMm: number;
}

/**
 * Lays one region on another: the rigid motion that brings its outer ring nearest to the other's (least squares of the
 * distances along the normal, what lies far off not counting more). Every turn is tried; mirrored it is tried only on request.
 */
export const layOn = <F extends Frame>(region: Region<F>, on: Region<F>, mirrored: boolean): Laid =>
  waysToLay(region, on, mirrored)[0]!;

/** The same with every other turn that lies well, the best one first: a shape that is nearly its own image after a turn has several. */
export function waysToLay<F extends Frame>(
  region: Region<F>,
  on: Region<F>,
  mirrored: boolean,
): readonly Laid[] {
  const box = boxOf(on.outer);
  const size = Math.max(box.right - box.left, box.top - box.bottom);
  const target = new Nearest([on.outer], size / 60);
  // Wrong turns lie far off: a coarse grid finds their nearest sides sooner.
  const coarse = new Nearest([on.outer], size / 15);
  const normals = sideNormals(on.outer);
  const own = centroid(region.outer);
  const there = centroid(on.outer);
  const spaced = (count: number): Point<F>[] =>
    resample(region.outer, perimeter(region.outer) / count);
  const rough = spaced(ROUGH_POINTS);
  const about = (turnRad: number): Motion => {
    const at = movedBy<F>({ mirrored, turnRad, xMm: 0, yMm: 0 }, own);
    return { mirrored, turnRad, xMm: there.x - at.x, yMm: there.y - at.y };
  };
  const misfit = (m: Motion): number =>
    rough.reduce((sum, p) => {
      const q = movedBy(m, p);
      return sum + coarse.distance(q.x, q.y) ** 2;
    }, 0);
  const tried = Array.from({ length: TURNS }, (_, k) => {
    const motion = about((2 * Math.PI * k) / TURNS);
    return { motion, misfit: misfit(motion) };
  });
  const hollows = tried
    .filter(
      ({ misfit }, k) =>
        misfit <= tried[(k + 1) % TURNS]!.misfit &&
        misfit <= tried[(k + TURNS - 1) % TURNS]!.misfit,
    )
    .sort((a, b) => a.misfit - b.misfit)
    .slice(0, FOLLOWED);
  const fine = spaced(POINTS);
  return hollows
    .map(({ motion }) => refined(fine, motion, target, normals))
    .sort((a, b) => a.rmsMm - b.rmsMm);
}

function sideNormals<F extends Frame>(ring: Ring<F>): { nx: Float64Array; ny: Float64Array } {
  const nx = new Float64Array(ring.length);
  const ny = new Float64Array(ring.length);
  ring.forEach((p, k) => {
    const q = ring[(k + 1) % ring.length]!;
    const length = Math.hypot(q.x - p.x, q.y - p.y) || 1;
    nx[k] = (q.y - p.y) / length;
    ny[k] = -(q.x - p.x) / length;
  });
  return { nx, ny };
}

/** Gauss-Newton from point to side, weighted anew in every round. */
function refined<F extends Frame>(
  points: readonly Point<F>[],
  start: Motion,
  target: Nearest,
  { nx, ny }: { readonly nx: Float64Array; readonly ny: Float64Array },
): Laid {
  let motion = start;
  let rmsMm = Infinity;
  for (let round = 0; round < ROUNDS; round++) {
    const rows = points.map((p) => {
      const q = movedBy(motion, p);
      const { distance, x, y, side } = target.place(q.x, q.y);
      return { q, e: (x - q.x) * nx[side]! + (y - q.y) * ny[side]!, distance, side };
    });
    rmsMm = Math.sqrt(rows.reduce((sum, r) => sum + r.distance ** 2, 0) / rows.length);
    const sizes = Float64Array.from(rows, (r) => r.distance).sort();
    const far = HUBER * Math.max(1e-6, sizes[sizes.length >> 1]!);
    const normal = Matrix.zeros(3, 3);
    const right = Matrix.zeros(3, 1);
    for (const { q, e, distance, side } of rows) {
      const weight = distance > far ? far / distance : 1;
      // Turned about the origin: the shift is turned too.
      const row = [nx[side]!, ny[side]!, -q.y * nx[side]! + q.x * ny[side]!];
      for (let a = 0; a < 3; a++) {
        right.set(a, 0, right.get(a, 0) + weight * row[a]! * e);
        for (let b = 0; b < 3; b++) normal.set(a, b, normal.get(a, b) + weight * row[a]! * row[b]!);
      }
    }
    const step = solve(normal, right, true);
    const [dx, dy, turn] = [step.get(0, 0), step.get(1, 0), step.get(2, 0)];
    const [c, s] = [Math.cos(turn), Math.sin(turn)];
    motion = {
      mirrored: motion.mirrored,
      turnRad: motion.turnRad + turn,
      xMm: dx + c * motion.xMm - s * motion.yMm,
      yMm: dy + s * motion.xMm + c * motion.yMm,
    };
    if (Math.hypot(dx, dy) < 1e-5 && Math.abs(turn) < 1e-7) break;
  }
  return { motion, rmsMm };
}

/**
 * How far another region's edge lies outside each vertex of a ring, along the ring's outward normal, mm (negative: inside).
 */
export function offsetsTo<F extends Frame>(ring: Ring<F>, other: Nearest): Float64Array {
  const { nx, ny } = outwardNormals(ring);
  return Float64Array.from(ring, (p, k) => {
    const q = other.place(p.x, p.y);
    const along = (q.x - p.x) * nx[k]! + (q.y - p.y) * ny[k]!;
    return Math.sign(along) * q.distance;
  });
}

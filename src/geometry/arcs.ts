import type { Frame, Point } from '../base/measure.ts';
import type { CurveRing, Ring, Segment } from './shape.ts';

/** An arc replaces at least this many chords; fewer say nothing about a circle. */
const LEAST_CHORDS = 3;
/** No arc turns farther than this: beyond half a circle its bulge grows without bound. */
const MOST_SWEEP_RAD = Math.PI * 0.9;

type Piece<F extends Frame> = Segment<F> & { readonly kind: 'line' | 'arc' };

/**
 * A polygon that stands for a curve, as lines and arcs between some of its own vertices. Every vertex lies within the
 * tolerance of the result, which leaves no chord by more than `chordMm`: a corner with straight sides stays one.
 *
 * @param toleranceMm greatest distance of a vertex from the result
 * @param chordMm how far the polygon's own chords leave the curve that it stands for, at most
 */
export function arcsThrough<F extends Frame>(
  ring: Ring<F>,
  toleranceMm: number,
  chordMm: number,
): CurveRing<F> {
  const n = ring.length;
  const first = sharpest(ring);
  const at = (k: number): Point<F> => ring[(first + k) % n]!;
  const segments: Piece<F>[] = [];
  for (let from = 0; from < n;) {
    let best: { to: number; piece: Piece<F> } = {
      to: from + 1,
      piece: { kind: 'line', to: at(from + 1) },
    };
    // Twice as far each time while it goes, then halfway between what went and what did not.
    const tried = (to: number): boolean => {
      const piece = straight(at, from, to, toleranceMm) ?? arc(at, from, to, toleranceMm, chordMm);
      if (piece) best = { to, piece };
      return piece !== undefined;
    };
    let reach = LEAST_CHORDS;
    if (!tried(Math.min(n, from + reach))) tried(Math.min(n, from + 2));
    else {
      while (from + reach < n && tried(Math.min(n, from + 2 * reach))) reach *= 2;
      let [good, bad] = [best.to, Math.min(n, from + 2 * reach)];
      while (bad - good > 1) {
        const middle = (good + bad) >> 1;
        if (tried(middle)) good = middle;
        else bad = middle;
      }
    }
    segments.push(best.piece);
    from = best.to;
  }
  return { start: at(0), segments };
}

/** The vertex where the polygon turns most: pieces begin there, so that none runs over a corner. */
function sharpest<F extends Frame>(ring: Ring<F>): number {
  let [most, where] = [-1, 0];
  ring.forEach((p, k) => {
    const a = ring[(k + ring.length - 1) % ring.length]!;
    const b = ring[(k + 1) % ring.length]!;
    const [ux, uy, vx, vy] = [p.x - a.x, p.y - a.y, b.x - p.x, b.y - p.y];
    const turn = Math.abs(Math.atan2(ux * vy - uy * vx, ux * vx + uy * vy));
    if (turn > most) [most, where] = [turn, k];
  });
  return where;
}

type At<F extends Frame> = (k: number) => Point<F>;

function straight<F extends Frame>(
  at: At<F>,
  from: number,
  to: number,
  tolerance: number,
): Piece<F> | undefined {
  const [a, b] = [at(from), at(to)];
  const length = Math.hypot(b.x - a.x, b.y - a.y);
  if (!(length > 0)) return undefined;
  const [ux, uy] = [(b.x - a.x) / length, (b.y - a.y) / length];
  let before = 0;
  for (let k = from + 1; k < to; k++) {
    const p = at(k);
    const along = (p.x - a.x) * ux + (p.y - a.y) * uy;
    const beside = Math.abs((p.y - a.y) * ux - (p.x - a.x) * uy);
    if (!(beside <= tolerance && along >= before && along <= length)) return undefined;
    before = along;
  }
  return { kind: 'line', to: b };
}

/** The arc from one vertex to another through the one halfway between them, if those between lie on it too. */
function arc<F extends Frame>(
  at: At<F>,
  from: number,
  to: number,
  tolerance: number,
  chordMm: number,
): Piece<F> | undefined {
  if (to - from < LEAST_CHORDS) return undefined;
  const [a, m, b] = [at(from), at((from + to) >> 1), at(to)];
  // Circumcentre, counted from a.
  const [mx, my, bx, by] = [m.x - a.x, m.y - a.y, b.x - a.x, b.y - a.y];
  const cross = 2 * (mx * by - my * bx);
  const [mm, bb] = [mx * mx + my * my, bx * bx + by * by];
  const centre = { x: a.x + (by * mm - my * bb) / cross, y: a.y + (mx * bb - bx * mm) / cross };
  const radius = Math.hypot(a.x - centre.x, a.y - centre.y);
  if (!Number.isFinite(radius) || radius > 1e5) return undefined;
  const way = Math.sign(cross);
  let sweep = 0;
  let [px, py] = [a.x - centre.x, a.y - centre.y];
  for (let k = from + 1; k <= to; k++) {
    const p = at(k);
    const [qx, qy] = [p.x - centre.x, p.y - centre.y];
    if (Math.abs(Math.hypot(qx, qy) - radius) > tolerance) return undefined;
    const step = way * Math.atan2(px * qy - py * qx, px * qx + py * qy);
    if (!(step > 0) || radius * (1 - Math.cos(step / 2)) > chordMm) return undefined;
    sweep += step;
    [px, py] = [qx, qy];
  }
  return sweep > MOST_SWEEP_RAD ? undefined : { kind: 'arc', to: b, centre, sweepRad: way * sweep };
}

const CUBIC_RAD = Math.PI / 6;

/**
 * A curve of lines and arcs as cubic Bézier curves alone. An arc is cut into pieces of at most 30 degrees, which a cubic
 * with control points at 4/3 tan(angle / 4) of the radius leaves by less than r / 1,000,000 (measured in the tests).
 */
export function asCubics<F extends Frame>(
  curve: CurveRing<F>,
): { readonly start: Point<F>; readonly segments: readonly (Segment<F> & { kind: 'cubic' })[] } {
  const segments: (Segment<F> & { kind: 'cubic' })[] = [];
  let from = curve.start;
  for (const s of curve.segments) {
    if (s.kind === 'cubic') segments.push(s);
    else if (s.kind === 'line') {
      const third = (t: number): Point<F> => ({
        x: from.x + (s.to.x - from.x) * t,
        y: from.y + (s.to.y - from.y) * t,
      });
      segments.push({ kind: 'cubic', c1: third(1 / 3), c2: third(2 / 3), to: s.to });
    } else {
      const pieces = Math.max(1, Math.ceil(Math.abs(s.sweepRad) / CUBIC_RAD));
      const step = s.sweepRad / pieces;
      const h = (4 / 3) * Math.tan(step / 4);
      let p = from;
      for (let k = 1; k <= pieces; k++) {
        const [x, y] = [p.x - s.centre.x, p.y - s.centre.y];
        const [c, n] = [Math.cos(step), Math.sin(step)];
        const [qx, qy] = [c * x - n * y, n * x + c * y];
        const to = k === pieces ? s.to : { x: s.centre.x + qx, y: s.centre.y + qy };
        segments.push({
          kind: 'cubic',
          c1: { x: p.x - h * y, y: p.y + h * x },
          c2: { x: to.x + h * qy, y: to.y - h * qx },
          to,
        });
        p = to;
      }
    }
    from = s.to;
  }
  return { start: curve.start, segments };
}

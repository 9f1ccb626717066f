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
  const { vertex, turnRad } = sharpest(ring);
  const begunAt = (first: number): CurveRing<F> => {
    const at = (k: number): Point<F> => ring[(first + k) % n]!;
    return { start: at(0), segments: followed(at, 0, n, toleranceMm, toleranceMm, chordMm) };
  };
  const curve = begunAt(vertex);
  // Begun somewhere in an arc, it ends with what is left over of it: where the first piece ended is an end for sure.
  const end = curve.segments.find((s) => s.kind === 'arc')?.to;
  return turnRad < BEND_RAD && end ? begunAt(ring.indexOf(end)) : curve;
}

/** A vertex that turns by more is a corner, rad; chords turn by less. */
const BEND_RAD = 0.4;

/** The same of a line that need not close: from its first point through what follows. */
export const arcsAlong = <F extends Frame>(
  line: readonly Point<F>[],
  toleranceMm: number,
  chordMm: number,
): CurveRing<F> => ({
  start: line[0]!,
  segments: followed((k) => line[k]!, 0, line.length - 1, toleranceMm, toleranceMm, chordMm),
});

/** Lines and arcs from one vertex to another, each as long as it may be. */
function followed<F extends Frame>(
  at: At<F>,
  first: number,
  last: number,
  straightMm: number,
  toleranceMm: number,
  chordMm: number,
): Piece<F>[] {
  const segments: Piece<F>[] = [];
  for (let from = first; from < last;) {
    let best: { to: number; piece: Piece<F> } = {
      to: from + 1,
      piece: { kind: 'line', to: at(from + 1) },
    };
    // Twice as far each time while it goes, then halfway between what went and what did not.
    const tried = (to: number): boolean => {
      const piece = straight(at, from, to, straightMm) ?? arc(at, from, to, toleranceMm, chordMm);
      if (piece) best = { to, piece };
      return piece !== undefined;
    };
    let reach = LEAST_CHORDS;
    if (!tried(Math.min(last, from + reach))) tried(Math.min(last, from + 2));
    else {
      while (from + reach < last && tried(Math.min(last, from + 2 * reach))) reach *= 2;
      let [good, bad] = [best.to, Math.min(last, from + 2 * reach)];
      while (bad - good > 1) {
        const middle = (good + bad) >> 1;
        if (tried(middle)) good = middle;
        else bad = middle;
      }
    }
    segments.push(best.piece);
    from = best.to;
  }
  return segments;
}

/** The vertex where the polygon turns most: pieces begin there, so that none runs over a corner. */
function sharpest<F extends Frame>(ring: Ring<F>): { vertex: number; turnRad: number } {
  let [most, where] = [-1, 0];
  ring.forEach((p, k) => {
    const a = ring[(k + ring.length - 1) % ring.length]!;
    const b = ring[(k + 1) % ring.length]!;
    const [ux, uy, vx, vy] = [p.x - a.x, p.y - a.y, b.x - p.x, b.y - p.y];
    const turn = Math.abs(Math.atan2(ux * vy - uy * vx, ux * vx + uy * vy));
    if (turn > most) [most, where] = [turn, k];
  });
  return { vertex: where, turnRad: most };
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

/** The centre of the circle through three points; undefined where they lie in a line, or nearly. */
function centreThrough<F extends Frame>(
  a: Point<F>,
  m: Point<F>,
  b: Point<F>,
): Point<F> | undefined {
  const [mx, my, bx, by] = [m.x - a.x, m.y - a.y, b.x - a.x, b.y - a.y];
  const cross = 2 * (mx * by - my * bx);
  const [mm, bb] = [mx * mx + my * my, bx * bx + by * by];
  const [x, y] = [(by * mm - my * bb) / cross, (mx * bb - bx * mm) / cross];
  return Math.hypot(x, y) <= 1e5 ? { x: a.x + x, y: a.y + y } : undefined;
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
  const centre = centreThrough(a, m, b);
  if (!centre) return undefined;
  const radius = Math.hypot(a.x - centre.x, a.y - centre.y);
  const way = Math.sign((m.x - a.x) * (b.y - a.y) - (m.y - a.y) * (b.x - a.x));
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

/** A circle that a line may run along, and which way round: 1 counter-clockwise. */
export interface Round<F extends Frame> {
  readonly centre: Point<F>;
  readonly radiusMm: number;
  readonly turns: 1 | -1;
}

/** A corner turns by at least this, rad: less is a joint of two pieces of one smooth line. */
const CORNER_RAD = 0.01;

/**
 * The circles that a curve's offset with round joins runs along: those of its arcs, larger or smaller about the same centre,
 * and about each corner one of the distance itself.
 *
 * @param distanceMm to the right of the curve, which is outward where it runs counter-clockwise; negative: to the left
 */
export function roundsBeside<F extends Frame>(
  { start, segments }: CurveRing<F>,
  distanceMm: number,
): Round<F>[] {
  const rounds: Round<F>[] = [];
  const heading = (from: Point<F>, s: Segment<F>, end: 0 | 1): Point<F> => {
    const [a, b] =
      s.kind === 'cubic' ? (end === 0 ? [from, s.c1] : [s.c2, s.to]) : ([from, s.to] as const);
    if (s.kind !== 'arc') return { x: b.x - a.x, y: b.y - a.y };
    const p = end === 0 ? from : s.to;
    const way = Math.sign(s.sweepRad);
    return { x: -way * (p.y - s.centre.y), y: way * (p.x - s.centre.x) };
  };
  const from = (k: number): Point<F> => (k === 0 ? start : segments[k - 1]!.to);
  segments.forEach((s, k) => {
    if (s.kind === 'arc') {
      const turns = s.sweepRad > 0 ? 1 : -1;
      const p = from(k);
      const radiusMm = Math.hypot(p.x - s.centre.x, p.y - s.centre.y) + turns * distanceMm;
      if (radiusMm > 0) rounds.push({ centre: s.centre, radiusMm, turns });
    }
    const next = (k + 1) % segments.length;
    const [u, v] = [heading(from(k), s, 1), heading(from(next), segments[next]!, 0)];
    const turn = Math.atan2(u.x * v.y - u.y * v.x, u.x * v.x + u.y * v.y);
    if (turn * distanceMm > 0 && Math.abs(turn) > CORNER_RAD)
      rounds.push({
        centre: s.to,
        radiusMm: Math.abs(distanceMm),
        turns: turn > 0 ? 1 : -1,
      });
  });
  return rounds.filter(
    (r, k) =>
      !rounds
        .slice(0, k)
        .some(
          (q) =>
            q.turns === r.turns &&
            Math.hypot(q.centre.x - r.centre.x, q.centre.y - r.centre.y) < SAME_MM &&
            Math.abs(q.radiusMm - r.radiusMm) < SAME_MM,
        ),
  );
}

/** Circles that differ by less are one, mm. */
const SAME_MM = 1e-5;

/** An arc along a known circle replaces at least so many chords. */
const KNOWN_CHORDS = 2;

/**
 * A polygon as lines and arcs, as `arcsThrough` has it, but that stretches along known circles become arcs of these very
 * circles: their ends are moved onto them. Of two arcs that meet, the end lies on both.
 *
 * @param rounds the known circles
 * @param knownMm greatest distance of a vertex from a known circle
 * @param toleranceMm greatest distance of any other vertex from an arc; a line holds its vertices to `STRAIGHT_MM`
 * @param chordMm how far the polygon's own chords leave the curve that it stands for, at most
 */
export function arcsAlongRounds<F extends Frame>(
  ring: Ring<F>,
  rounds: readonly Round<F>[],
  { knownMm, toleranceMm, chordMm }: Record<'knownMm' | 'toleranceMm' | 'chordMm', number>,
): CurveRing<F> {
  const n = ring.length;
  const onIt = ({ centre: c, radiusMm: r, turns }: Round<F>, k: number): boolean => {
    const [p, q] = [ring[k]!, ring[(k + 1) % n]!];
    const [px, py, qx, qy] = [p.x - c.x, p.y - c.y, q.x - c.x, q.y - c.y];
    if (Math.abs(Math.hypot(px, py) - r) > knownMm) return false;
    if (Math.abs(Math.hypot(qx, qy) - r) > knownMm) return false;
    const step = turns * Math.atan2(px * qy - py * qx, px * qx + py * qy);
    return step > 0 && r * (1 - Math.cos(step / 2)) <= chordMm;
  };
  const along: (Round<F> | undefined)[] = [];
  for (let k = 0; k < n; k++) {
    const before = along[k - 1];
    along.push(before && onIt(before, k) ? before : rounds.find((round) => onIt(round, k)));
  }
  // The ring is begun where a stretch begins, so that none runs over its end.
  const first = along.findIndex((round, k) => round !== along[(k + n - 1) % n]);
  if (first < 0 && !along[0]) return arcsThrough(ring, toleranceMm, chordMm);
  const begin = Math.max(0, first);
  const at = (k: number): Point<F> => ring[(begin + k) % n]!;
  const roundAt = (k: number): Round<F> | undefined => along[(begin + k) % n];

  const known: (Round<F> | undefined)[] = [];
  const segments: Piece<F>[] = [];
  let loose = 0;
  const takeLoose = (to: number): void => {
    if (to <= loose) return;
    const pieces = followed(at, loose, to, STRAIGHT_MM, toleranceMm, chordMm);
    segments.push(...pieces);
    known.push(...pieces.map(() => undefined));
  };
  for (let from = 0; from < n;) {
    const round = roundAt(from);
    let to = from + 1;
    while (to < n && roundAt(to) === round) to++;
    if (round && to - from >= KNOWN_CHORDS) {
      takeLoose(from);
      const sweep = (a: number, b: number): number => {
        let sum = 0;
        for (let k = a; k < b; k++) sum += turnAbout(round.centre, at(k), at(k + 1));
        return Math.abs(sum);
      };
      const parts = Math.ceil(sweep(from, to) / MOST_SWEEP_RAD + 1e-9);
      for (let part = 0; part < parts; part++) {
        const end = from + Math.round(((to - from) * (part + 1)) / parts);
        segments.push({ kind: 'arc', to: at(end), centre: round.centre, sweepRad: 0 });
        known.push(round);
      }
      loose = to;
    }
    from = to;
  }
  takeLoose(n);

  // Where an arc of a known circle ends, the end is moved onto it.
  const m = segments.length;
  const onto = ({ centre: c, radiusMm }: Round<F>, p: Point<F>): Point<F> => {
    const d = Math.hypot(p.x - c.x, p.y - c.y);
    return { x: c.x + ((p.x - c.x) * radiusMm) / d, y: c.y + ((p.y - c.y) * radiusMm) / d };
  };
  const ends = segments.map(({ to }, k) => {
    const [a, b] = [known[k], known[(k + 1) % m]];
    let p = to;
    for (let round = 0; round < (a && b && a !== b ? 20 : 1); round++)
      for (const circle of [a, b]) if (circle) p = onto(circle, p);
    return p;
  });
  return {
    start: ends[m - 1]!,
    segments: segments.map((s, k): Piece<F> => {
      const [from, to] = [ends[(k + m - 1) % m]!, ends[k]!];
      if (s.kind === 'line') return { kind: 'line', to };
      const round = known[k];
      if (round) return { ...s, to, sweepRad: turnAbout(round.centre, from, to) };
      return throughEnds(s, segments[(k + m - 1) % m]!.to, from, to);
    }),
  };
}

/** A line holds its vertices to this where corners and circles are known, mm: those of an offset lie on it to a nanometre. */
const STRAIGHT_MM = 2e-5;

/** Angle from one point to another about a centre, the shorter way. */
function turnAbout<F extends Frame>(c: Point<F>, p: Point<F>, q: Point<F>): number {
  const [px, py, qx, qy] = [p.x - c.x, p.y - c.y, q.x - c.x, q.y - c.y];
  return Math.atan2(px * qy - py * qx, px * qx + py * qy);
}

/** An arc whose ends were moved a little, through its old middle. */
function throughEnds<F extends Frame>(
  arc: Extract<Piece<F>, { kind: 'arc' }>,
  was: Point<F>,
  from: Point<F>,
  to: Point<F>,
): Piece<F> {
  if (from === was && to === arc.to) return arc;
  const { centre: c, sweepRad } = arc;
  const [cos, sin] = [Math.cos(sweepRad / 2), Math.sin(sweepRad / 2)];
  const [x, y] = [was.x - c.x, was.y - c.y];
  const centre = centreThrough(
    from,
    { x: c.x + cos * x - sin * y, y: c.y + sin * x + cos * y },
    to,
  );
  return centre
    ? { kind: 'arc', to, centre, sweepRad: turnAbout(centre, from, to) }
    : { kind: 'line', to };
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

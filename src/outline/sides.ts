import type { Point } from '../base/measure.ts';
import { flatten } from '../geometry/curve.ts';
import { endDirections } from '../geometry/cut-curve.ts';
import { nearestOnSegment, resample } from '../geometry/measure.ts';
import type { CurveRing, Segment } from '../geometry/shape.ts';
import { lineThrough, offOf, type Line } from './line.ts';

type P = Point<'sheet'>;
type Curve = CurveRing<'sheet'>;
type Piece = Segment<'sheet'>;
type Arc = Extract<Piece, { kind: 'arc' }>;

/** A curve made regular; by segment whether it lies elsewhere than before. */
export interface Redrawn {
  readonly curve: Curve;
  readonly changed: readonly boolean[];
}

/** A run of segments that is, or nearly is, straight: segments from .. from + count - 1, cyclically. */
export interface Side extends Line {
  readonly from: number;
  readonly count: number;
  readonly lengthMm: number;
  /** Greatest distance of the run from its line, mm. */
  readonly bowMm: number;
  readonly start: P;
  readonly end: P;
}

/** A shorter run is no side, mm. */
const LEAST_SIDE_MM = 4;
/** A run is nearly straight while it bows by no more than this share of its length. */
const BOW = 0.005;
/** A run that bows by less is straight, mm. */
export const STRAIGHT_MM = 1e-4;
/** Sides whose directions differ by less from parallel, or from a right angle, may be meant to be so, radians. */
const LIKE_RAD = (2 * Math.PI) / 180;
/** An arc touches a line where their directions differ by less, radians. */
const TANGENT_RAD = (2 * Math.PI) / 180;
/** Radii that differ by less than this share of them may be meant to be the same. */
const LIKE_RADIUS = 0.08;
/** The sides of an arc that turns farther do not meet, or far away. */
const MOST_SWEEP_RAD = 3;
const STEP_MM = 0.25;

const startOf = ({ start, segments }: Curve, k: number): P =>
  k === 0 ? start : segments[k - 1]!.to;

/** The sides of a closed curve, in order, none over another; of runs that overlap the longest counts. */
export function sidesOf(curve: Curve): readonly Side[] {
  const found = known.get(curve) ?? searched(curve);
  known.set(curve, found);
  return found;
}

/** Sides are asked for again by every shape that is offered; a curve never changes. */
const known = new WeakMap<Curve, readonly Side[]>();

function searched(curve: Curve): Side[] {
  const n = curve.segments.length;
  const pieces = curve.segments.map((segment, k) =>
    flatten({ start: startOf(curve, k), segments: [segment] }, 0.002),
  );
  const found: Side[] = [];
  for (let from = 0; from < n; from++) {
    let best: Side | undefined;
    for (let count = 1; count < n; count++) {
      const side = sideOf(curve, pieces, from, count);
      if (!side) break;
      best = side;
    }
    if (best && best.lengthMm >= LEAST_SIDE_MM) found.push(best);
  }
  const taken = new Uint8Array(n);
  return found
    .sort((a, b) => b.lengthMm - a.lengthMm)
    .filter(({ from, count }) => {
      const of = Array.from({ length: count }, (_, k) => (from + k) % n);
      if (of.some((k) => taken[k])) return false;
      for (const k of of) taken[k] = 1;
      return true;
    })
    .sort((a, b) => a.from - b.from);
}

function sideOf(
  curve: Curve,
  pieces: readonly (readonly P[])[],
  from: number,
  count: number,
): Side | undefined {
  const n = pieces.length;
  const start = startOf(curve, from);
  const end = curve.segments[(from + count - 1) % n]!.to;
  const through = Array.from({ length: count }, (_, k) => pieces[(from + k) % n]!).flat();
  const chord = Math.hypot(end.x - start.x, end.y - start.y);
  if (!(chord > 0)) return undefined;
  // There and back: an open run has no other way of being divided evenly.
  const open = [...through, end];
  const points = resample<'sheet'>([...open, ...open.slice(1, -1).reverse()], STEP_MM);
  const line = lineThrough(points, { x: end.x - start.x, y: end.y - start.y });
  const bowMm = Math.max(...open.map((p) => Math.abs(offOf(line, p))));
  if (bowMm > BOW * chord) return undefined;
  return { ...line, from, count, lengthMm: chord, bowMm, start, end };
}

const footOf = (l: Line, p: P): P => {
  const along = (p.x - l.x) * l.tx + (p.y - l.y) * l.ty;
  return { x: l.x + along * l.tx, y: l.y + along * l.ty };
};
const turned = (l: Line, angle: number): Line => ({
  ...l,
  tx: Math.cos(angle),
  ty: Math.sin(angle),
});
const angleOf = (l: { tx: number; ty: number }): number => Math.atan2(l.ty, l.tx);
/** The difference of two directions that mean the same after every `period`, within half of it. */
const apart = (a: number, b: number, period: number): number => {
  const d = (a - b) % period;
  return d > period / 2 ? d - period : d < -period / 2 ? d + period : d;
};

/** The side nearest to a place made straight; undefined where there is none that bows. */
export function straightened(curve: Curve, at: P): Redrawn | undefined {
  const sides = sidesOf(curve);
  let best: Side | undefined;
  let least = Infinity;
  for (const side of sides) {
    const { distanceMm } = nearestOnSegment<'sheet'>(side.start, side.end, at);
    if (side.bowMm > STRAIGHT_MM && distanceMm < least) [least, best] = [distanceMm, side];
  }
  return best && redrawn(curve, sides, (side) => (side === best ? side : undefined));
}

/** Sides that nearly have one direction given the mean of it, each turned about its middle; undefined where there are no two. */
export function madeParallel(curve: Curve): Redrawn | undefined {
  return aligned(curve, Math.PI);
}

/** Sides that nearly lie along one direction or at a right angle to it made to lie so, each turned about its middle. */
export function madeSquare(curve: Curve): Redrawn | undefined {
  return aligned(curve, Math.PI / 2);
}

function aligned(curve: Curve, period: number): Redrawn | undefined {
  const sides = sidesOf(curve);
  const anew = new Map<Side, Line>();
  const left = new Set([...sides].sort((a, b) => b.lengthMm - a.lengthMm));
  // Those that go with the longest one, then with the longest that is left.
  for (const first of left) {
    if (!left.has(first)) continue;
    const group = [...left].filter(
      (s) => Math.abs(apart(angleOf(s), angleOf(first), period)) < LIKE_RAD,
    );
    for (const side of group) left.delete(side);
    if (group.length < 2) continue;
    // A side of thrice the length tells its direction nine times as well over the same edge.
    const weight = (s: Side): number => s.lengthMm ** 3;
    const mean =
      group.reduce((sum, s) => sum + weight(s) * apart(angleOf(s), angleOf(first), period), 0) /
      group.reduce((sum, s) => sum + weight(s), 0);
    for (const side of group) {
      const to = angleOf(first) + mean;
      anew.set(side, turned(side, angleOf(side) - apart(angleOf(side), to, period)));
    }
  }
  const moves = [...anew].some(
    ([side, line]) => Math.abs(apart(angleOf(side), angleOf(line), Math.PI)) > 1e-6,
  );
  return moves ? redrawn(curve, sides, (side) => anew.get(side)) : undefined;
}

/** A circle, or an arc that joins two sides, whose radius can be another. */
interface Round {
  readonly ring: number;
  /** Its segment; absent: the whole ring is a circle. */
  readonly segment?: number;
  readonly radiusMm: number;
  readonly lengthMm: number;
  readonly at: P;
}

/** Groups of two and more round places whose radii are nearly the same. */
export function radiiOf(curves: readonly Curve[]): readonly (readonly Round[])[] {
  const rounds = curves.flatMap((curve, ring) => roundsOf(curve, ring));
  rounds.sort((a, b) => a.radiusMm - b.radiusMm);
  const groups: Round[][] = [];
  for (const round of rounds) {
    const group = groups.at(-1);
    if (group && round.radiusMm - group[0]!.radiusMm < LIKE_RADIUS * round.radiusMm)
      group.push(round);
    else groups.push([round]);
  }
  return groups.filter((g) => g.length > 1);
}

function roundsOf(curve: Curve, ring: number): Round[] {
  const sides = sidesOf(curve);
  const n = curve.segments.length;
  return curve.segments.flatMap((s, segment): Round[] => {
    if (s.kind !== 'arc') return [];
    const start = startOf(curve, segment);
    const radiusMm = Math.hypot(start.x - s.centre.x, start.y - s.centre.y);
    const round = { ring, radiusMm, lengthMm: radiusMm * Math.abs(s.sweepRad), at: start };
    if (n === 2 && curve.segments.every((o) => o.kind === 'arc' && isSame(o.centre, s.centre)))
      return segment === 0 ? [{ ...round, lengthMm: 2 * Math.PI * radiusMm }] : [];
    const before = sides.find((o) => isLine(curve, o) && (o.from + 1) % n === segment);
    const after = sides.find((o) => isLine(curve, o) && o.from === (segment + 1) % n);
    return before && after && touches(curve, segment, before, after) ? [{ ...round, segment }] : [];
  });
}

/** A side that is one line already. */
const isLine = (curve: Curve, { from, count }: Side): boolean =>
  count === 1 && curve.segments[from]!.kind === 'line';

const isSame = (p: P, q: P): boolean => Math.hypot(p.x - q.x, p.y - q.y) < 1e-6;

/** Whether an arc of less than half a turn leaves one side and meets the next without a bend. */
function touches(curve: Curve, segment: number, before: Side, after: Side): boolean {
  const s = curve.segments[segment]!;
  if (s.kind !== 'arc' || Math.abs(s.sweepRad) > MOST_SWEEP_RAD) return false;
  const { first, last } = endDirections<'sheet'>({
    start: startOf(curve, segment),
    segments: [s],
  });
  const bend = (d: P, l: Line): number =>
    Math.abs(apart(Math.atan2(d.y, d.x), angleOf(l), 2 * Math.PI));
  return bend(first, before) < TANGENT_RAD && bend(last, after) < TANGENT_RAD;
}

/** Round places of nearly one radius, those nearest to a place of a ring, given their mean radius (by length): the rings that change. */
export function madeEven(
  curves: readonly Curve[],
  ring: number,
  at: P,
): ReadonlyMap<number, Redrawn> {
  const away = (r: Round): number =>
    r.ring === ring ? Math.hypot(r.at.x - at.x, r.at.y - at.y) : Infinity;
  const least = (g: readonly Round[]): number => Math.min(...g.map(away));
  const [group] = [...radiiOf(curves)].sort((a, b) => least(a) - least(b));
  const out = new Map<number, Redrawn>();
  if (!group || least(group) === Infinity) return out;
  const length = group.reduce((sum, r) => sum + r.lengthMm, 0);
  const radius = group.reduce((sum, r) => sum + r.lengthMm * r.radiusMm, 0) / length;
  for (const index of new Set(group.map((r) => r.ring))) {
    const curve = curves[index]!;
    const mine = group.filter((r) => r.ring === index);
    if (mine[0]!.segment === undefined) {
      out.set(index, { curve: scaled(curve, radius / mine[0]!.radiusMm), changed: [true, true] });
      continue;
    }
    const radii = new Map(mine.map((r) => [r.segment!, radius]));
    out.set(
      index,
      redrawn(curve, sidesOf(curve), () => undefined, radii),
    );
  }
  return out;
}

function scaled({ start, segments }: Curve, by: number): Curve {
  const { centre } = segments[0] as Arc;
  const place = (p: P): P => ({
    x: centre.x + by * (p.x - centre.x),
    y: centre.y + by * (p.y - centre.y),
  });
  return {
    start: place(start),
    segments: segments.map((s) => ({ ...(s as Arc), to: place(s.to) })),
  };
}

/** What lies between two sides: segments from .. from + count - 1. */
interface Between {
  readonly from: number;
  readonly count: number;
}

/**
 * A curve with some of its sides on other lines: corners are where these meet, arcs that touched both sides touch them again,
 * and of anything else the end moves with its side.
 *
 * @param lineOf the new line of a side; undefined: it stays
 * @param radii by segment, the new radius of an arc that touches the sides before and after it, mm
 */
function redrawn(
  curve: Curve,
  all: readonly Side[],
  lineOf: (side: Side) => Line | undefined,
  radii: ReadonlyMap<number, number> = new Map(),
): Redrawn {
  const n = curve.segments.length;
  // A run of several segments that stays is left as it is.
  const sides = all.filter((s) => lineOf(s) || isLine(curve, s));
  const lines = sides.map((s) => lineOf(s) ?? s);
  const isNew = sides.map((s) => lineOf(s) !== undefined);
  const joints = sides.map((side, k) => {
    const next = (k + 1) % sides.length;
    const from = (side.from + side.count) % n;
    const count = (sides[next]!.from - from + n) % n;
    return joint(
      curve,
      { from, count },
      { old: side, now: lines[k]!, isNew: isNew[k]! },
      { old: sides[next]!, now: lines[next]!, isNew: isNew[next]! },
      radii,
    );
  });
  const segments: Piece[] = [];
  const changed: boolean[] = [];
  sides.forEach((_, k) => {
    segments.push({ kind: 'line', to: joints[k]!.start });
    changed.push(isNew[k]!);
    segments.push(...joints[k]!.segments);
    changed.push(...joints[k]!.changed);
  });
  return { curve: { start: joints.at(-1)!.end, segments }, changed };
}

interface Joint {
  readonly start: P;
  readonly segments: readonly Piece[];
  readonly changed: readonly boolean[];
  readonly end: P;
}

interface Beside {
  readonly old: Side;
  readonly now: Line;
  readonly isNew: boolean;
}

function joint(
  curve: Curve,
  { from, count }: Between,
  a: Beside,
  b: Beside,
  radii: ReadonlyMap<number, number>,
): Joint {
  const n = curve.segments.length;
  const radius = count === 1 ? radii.get(from) : undefined;
  const old = Array.from({ length: count }, (_, k) => curve.segments[(from + k) % n]!);
  if (!a.isNew && !b.isNew && radius === undefined)
    return { start: a.old.end, segments: old, changed: old.map(() => false), end: b.old.start };
  const corner = crossing(a.now, b.now);
  const [one] = old;
  if (count === 0 && corner) return { start: corner, segments: [], changed: [], end: corner };
  if (count === 1 && one!.kind === 'arc' && corner && touches(curve, from, a.old, b.old)) {
    // Tangents from where the sides meet: r tan(turn / 2) long.
    const r = radius ?? Math.hypot(a.old.end.x - one!.centre.x, a.old.end.y - one!.centre.y);
    const turn = apart(angleOf(b.now), angleOf(a.now), 2 * Math.PI);
    const reach = r * Math.tan(Math.abs(turn) / 2);
    const side = Math.sign(turn);
    const start = { x: corner.x - reach * a.now.tx, y: corner.y - reach * a.now.ty };
    const to = { x: corner.x + reach * b.now.tx, y: corner.y + reach * b.now.ty };
    const centre = { x: start.x - side * r * a.now.ty, y: start.y + side * r * a.now.tx };
    return {
      start,
      segments: [{ kind: 'arc', to, centre, sweepRad: turn }],
      changed: [true],
      end: to,
    };
  }
  const start = footOf(a.now, a.old.end);
  const end = footOf(b.now, b.old.start);
  if (count === 0) return { start, segments: [{ kind: 'line', to: end }], changed: [true], end };
  const segments = [...old];
  const turnOf = ({ old: o, now }: Beside): number => apart(angleOf(now), angleOf(o), 2 * Math.PI);
  segments[0] = begun(segments[0]!, a.old.end, start, turnOf(a));
  const last = count - 1;
  const before = last === 0 ? start : segments[last - 1]!.to;
  segments[last] = ended(segments[last]!, before, end, turnOf(b));
  return {
    start,
    segments,
    changed: segments.map((_, k) => (k === 0 && a.isNew) || (k === last && b.isNew)),
    end,
  };
}

function crossing(a: Line, b: Line): P | undefined {
  const across = a.tx * b.ty - a.ty * b.tx;
  if (Math.abs(across) < 0.02) return undefined;
  const t = ((b.x - a.x) * b.ty - (b.y - a.y) * b.tx) / across;
  return { x: a.x + t * a.tx, y: a.y + t * a.ty };
}

/** A place that goes with another: shifted as it is, and turned about it. */
const carried = (p: P, from: P, to: P, turn: number): P => {
  const [c, s] = [Math.cos(turn), Math.sin(turn)];
  const [dx, dy] = [p.x - from.x, p.y - from.y];
  return { x: to.x + c * dx - s * dy, y: to.y + s * dx + c * dy };
};

/** A segment that begins elsewhere. */
function begun(s: Piece, was: P, start: P, turn: number): Piece {
  if (s.kind === 'line') return s;
  if (s.kind === 'cubic') return { ...s, c1: carried(s.c1, was, start, turn) };
  return arcBetween(s, was, s.to, start, s.to);
}

/** A segment that ends elsewhere. */
function ended(s: Piece, start: P, end: P, turn: number): Piece {
  if (s.kind === 'line') return { ...s, to: end };
  if (s.kind === 'cubic') return { ...s, c2: carried(s.c2, s.to, end, turn), to: end };
  return arcBetween(s, start, s.to, start, end);
}

/** An arc between other ends, turning as far as before. */
function arcBetween(s: Arc, a: P, b: P, start: P, end: P): Arc {
  const [ux, uy, vx, vy] = [b.x - a.x, b.y - a.y, end.x - start.x, end.y - start.y];
  const square = ux * ux + uy * uy;
  const c = (ux * vx + uy * vy) / square;
  const d = (ux * vy - uy * vx) / square;
  const [dx, dy] = [s.centre.x - a.x, s.centre.y - a.y];
  return {
    ...s,
    to: end,
    centre: { x: start.x + c * dx - d * dy, y: start.y + d * dx + c * dy },
  };
}

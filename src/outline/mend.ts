import { reason, type Reason } from '../base/reason.ts';
import type { Point } from '../base/measure.ts';
import { flatten } from '../geometry/curve.ts';
import {
  cutAt,
  endDirections,
  nearestOnCurve,
  pathThrough,
  pulled,
  reversed,
  type OnCurve,
  type Path,
} from '../geometry/cut-curve.ts';
import {
  centroid,
  inside,
  nearestOnRing,
  nearestVertex,
  perimeter,
  signedArea,
} from '../geometry/measure.ts';
import { Nearest } from '../geometry/nearest.ts';
import type { CurveRing, Ring } from '../geometry/shape.ts';
import { sheetOfPicture } from '../view/model.ts';
import type { Eye } from '../view/view.ts';
import { axisOf, type Outline, type Stroke, type Trace } from './outline.ts';
import {
  asOne,
  redescribed,
  ringsOf,
  type MendEffect,
  type Part,
  type Parts,
} from './redescribe.ts';
import { placesFor, regular, SHAPES, turnsOf, type Made, type Shape } from './regular.ts';
import { CHORD_MM, divided, seenFromBehind } from './trace.ts';

export type { MendEffect } from './redescribe.ts';

type P = Point<'sheet'>;
/** A place of the picture, px. */
export type Spot = Point<'picture'>;

/**
 * What the operator changed of what was traced, as she did it on the picture (`picture`: its digest): so it can be done again
 * whenever the outline is computed anew.
 */
export type Mend = { readonly picture: string } & (
  | ({
      /** The edge between the first and the last point runs through these. */
      readonly kind: 'stretch';
    } & Drawn)
  /** The hole at a place is none. */
  | { readonly kind: 'close'; readonly at: Spot }
  /** The blank at a place is none. */
  | { readonly kind: 'drop'; readonly at: Spot }
  /** The ring whose edge lies nearest to a place is taken for a shape that is known exactly but for its size and place. */
  | { readonly kind: 'regular'; readonly at: Spot; readonly shape: Shape }
  /** The place `at` of the edge lies at `to`; what lies between `from` and `till` goes along. */
  | {
      readonly kind: 'node';
      readonly from: Spot;
      readonly at: Spot;
      readonly till: Spot;
      readonly to: Spot;
      readonly uPx: number;
    }
  /** What was taken for one blank is two: they meet along a line from edge to edge. */
  | ({ readonly kind: 'split' } & Drawn)
  /** What was taken for two blanks is one: two lines from the one's edge to the other's complete it. */
  | ({ readonly kind: 'join'; readonly back: readonly Spot[] } & Drawn)
  /** What is painted over belongs to the blank, or to the stage: the silhouette is found anew with that as evidence (paint.ts). */
  | ({ readonly kind: 'paint' } & Stroke)
);

/** A line laid by hand on the picture. */
interface Drawn {
  readonly points: readonly Spot[];
  /** Straight from point to point; else smooth, and tangent to the edge at its ends where it replaces a stretch of it. */
  readonly straight: boolean;
  /** Standard uncertainty of the points, px. */
  readonly uPx: number;
}

export interface Mended {
  readonly trace: Trace;
  /** One for each mend, in order: what it did, or why it could not be done. */
  readonly effects: readonly (MendEffect | { readonly lost: Reason })[];
}

/** A point that was laid by hand on the picture is off by this (k = 1), px; one that snapped to an edge by half as much. Common practice, no source. */
export const HAND_PX = 2;
/** A stretch must begin and end this near to the edge, mm. */
const REACH_MM = 8;

/**
 * Does again what was done by hand, in order. What lies on no traced edge any more is left out and said.
 *
 * @param eyes how each picture was taken, by its digest
 */
export function mended(
  trace: Trace,
  mends: readonly Mend[],
  eyes: ReadonlyMap<string, Eye>,
): Mended {
  let { outlines } = trace;
  const effects: (MendEffect | { lost: Reason })[] = [];
  mends.forEach((mend, k) => {
    const eye = eyes.get(mend.picture);
    // What was painted has been seen by the tracing already.
    if (mend.kind === 'paint' && eye) {
      effects.push({ blank: 0, lengthMm: 0, movedMm: 0, U: 0 });
      return;
    }
    const done = eye && mend.kind !== 'paint' && mendOne(outlines, mend, eye);
    if (done) {
      outlines = done.outlines;
      effects.push(done.effect);
    } else effects.push({ lost: reason('mend-lost', { number: k + 1 }) });
  });
  const reasons = effects.flatMap((effect, k): Reason[] => {
    if ('lost' in effect) return [effect.lost];
    const { kind } = mends[k]!;
    const { blank, lengthMm, movedMm, U } = effect;
    const facts = {
      blank,
      lengthMm: lengthMm.toFixed(1),
      movedMm: movedMm.toFixed(2),
      uMm: U.toFixed(2),
    };
    if (kind === 'stretch' || kind === 'node') return [reason('drawn-by-hand', facts)];
    if (kind === 'split' || kind === 'join') {
      const { other = 0 } = effect;
      return [reason(kind === 'split' ? 'divided-by-hand' : 'joined-by-hand', { ...facts, other })];
    }
    if (kind === 'close') return [reason('hole-closed', { blank })];
    if (kind === 'regular') return [reason('made-regular', facts)];
    return [];
  });
  const doubt = reasons.some((r) => r.level === 'doubt');
  return {
    trace: {
      outlines,
      reasons: [...trace.reasons, ...reasons],
      verdict: trace.verdict === 'ok' && doubt ? 'doubtful' : trace.verdict,
    },
    effects,
  };
}

type Done = { readonly outlines: readonly Outline[]; readonly effect: MendEffect };

function mendOne(
  outlines: readonly Outline[],
  mend: Exclude<Mend, { kind: 'paint' }>,
  eye: Eye,
): Done | undefined {
  const first = 'points' in mend ? mend.points[0]! : mend.at;
  const blank = blankAt(outlines, first, eye, mend.kind === 'drop');
  if (blank === undefined) return undefined;
  if (mend.kind === 'split') return split(outlines, blank, mend, eye);
  if (mend.kind === 'join') return joined(outlines, blank, mend, eye);
  if (mend.kind === 'drop')
    return {
      outlines: outlines.filter((o) => o.blank !== blank),
      effect: { blank, lengthMm: 0, movedMm: 0, U: 0 },
    };
  let effect: MendEffect | undefined;
  const changed: Outline[] = [];
  for (const o of outlines) {
    if (o.blank !== blank) {
      changed.push(o);
      continue;
    }
    const upright = asPictured(o);
    const parts = partsOf(upright, mend, eye);
    const redone = parts && redescribed(upright, parts);
    // All outlines of a blank are mended alike, or none.
    if (!redone) return undefined;
    // The widest outline comes first: the one that is drawn and seated.
    effect ??= redone.effect;
    changed.push(asSeen(redone.outline, o));
  }
  return effect && { outlines: changed, effect };
}

/** The outline as the picture shows it, also where it shows the back. */
const asPictured = (o: Outline): Outline =>
  o.mirrored ? { ...seenFromBehind(o, axisOf(o)), mirrored: false } : o;

const curvesOf = ({ curves }: Outline): readonly CurveRing<'sheet'>[] => [
  curves.outer,
  ...curves.holes,
];

function blankAt(
  outlines: readonly Outline[],
  at: Spot,
  eye: Eye,
  within: boolean,
): number | undefined {
  let best: number | undefined;
  let least = REACH_MM;
  for (const o of outlines) {
    const upright = asPictured(o);
    const p = sheetOfPicture(eye, at, o.heightMm);
    if (within || inside<'sheet'>(upright.region.outer, p)) {
      if (inside<'sheet'>(upright.region.outer, p)) return o.blank;
      continue;
    }
    const { distanceMm } = nearestOnRing<'sheet'>(upright.region.outer, p);
    if (distanceMm < least) [least, best] = [distanceMm, o.blank];
  }
  return best;
}

/** Mends that leave the blanks as many as they are, and their rings but for holes that are none. */
type Reshaping = Exclude<Mend, { kind: 'drop' | 'split' | 'join' | 'paint' }>;

function partsOf(o: Outline, mend: Reshaping, eye: Eye): Parts | undefined {
  const curves = curvesOf(o);
  const place = (p: Spot): P => sheetOfPicture(eye, p, o.heightMm);
  const asTheyAre = curves.map((path, from) => ({ from, parts: [{ path }] as Part[] }));
  if (mend.kind === 'close') {
    const at = place(mend.at);
    const hole = o.region.holes.findIndex((h) => inside<'sheet'>(h, at));
    return hole < 0 ? undefined : asTheyAre.filter(({ from }) => from !== hole + 1);
  }
  if (mend.kind === 'regular') {
    const at = place(mend.at);
    const ring = nearestRing(o, at);
    const made = ring && regular(ringsOf(o), curves, ring.index, at, mend.shape);
    if (!made || made.size === 0) return undefined;
    return asTheyAre.map((r) => {
      const anew = made.get(r.from);
      return anew ? { ...r, parts: regularParts(anew) } : r;
    });
  }
  if (mend.kind === 'node') {
    const at = place(mend.at);
    const ring = nearestRing(o, at);
    if (!ring) return undefined;
    const parts = movedNode(curves[ring.index]!, mend, place);
    return parts && asTheyAre.map((r) => (r.from === ring.index ? { ...r, parts } : r));
  }
  const points = mend.points.map(place);
  const ring = nearestRing(o, points[0]!);
  if (!ring || points.length < 2) return undefined;
  const curve = curves[ring.index]!;
  const [a, b] = [nearestOnCurve(curve, points[0]!), nearestOnCurve(curve, points.at(-1)!)];
  const gapMm = Math.max(a.distanceMm, b.distanceMm);
  if (gapMm > REACH_MM || Math.hypot(a.at.x - b.at.x, a.at.y - b.at.y) < 1e-3) return undefined;
  const [there, back] = cutAt(curve, a, b);
  const drawn = [a.at, ...points.slice(1, -1), b.at];
  // Of the two ways round, the one that the drawn line keeps nearer to is replaced.
  const line = new Nearest(
    [[...drawn, ...drawn.slice(1, -1).reverse()]],
    perimeter(ringsOf(o)[ring.index]!) / 40,
  );
  const away = (path: Path<'sheet'>): number =>
    Math.max(...flatten(path, 0.1).map((p) => line.distance(p.x, p.y)));
  const forward = away(there) <= away(back);
  const [kept, way] = forward ? [back, drawn] : [there, [...drawn].reverse()];
  if (kept.segments.length === 0) return undefined;
  const ends = endDirections(kept);
  const path = pathThrough(way, !mend.straight, { first: ends.last, last: ends.first });
  const pxMm = pxAt(mend.points[0]!, place);
  const handU = Math.hypot(mend.uPx * pxMm, gapMm > pxMm ? gapMm : 0);
  const parts: Part[] = [{ path: kept }, { path, handU }];
  return asTheyAre.map((r) => (r.from === ring.index ? { ...r, parts } : r));
}

/** How far a picture px reaches on the face, mm. */
function pxAt(at: Spot, place: (p: Spot) => P): number {
  const [p, q] = [place(at), place({ x: at.x + 1, y: at.y })];
  return Math.hypot(q.x - p.x, q.y - p.y);
}

type NodeMend = Extract<Mend, { kind: 'node' }>;

/** A ring of which one place was moved, as parts. */
function movedNode(
  curve: CurveRing<'sheet'>,
  mend: Pick<NodeMend, 'from' | 'at' | 'till' | 'to' | 'uPx'>,
  place: (p: Spot) => P,
): Part[] | undefined {
  const nodes = [mend.from, mend.at, mend.till].map((p) => nearestOnCurve(curve, place(p)));
  const [from, at, till] = nodes as [OnCurve<'sheet'>, OnCurve<'sheet'>, OnCurve<'sheet'>];
  const apart = (p: P, q: P): number => Math.hypot(p.x - q.x, p.y - q.y);
  if (nodes.some(({ distanceMm }) => distanceMm > REACH_MM)) return undefined;
  if (apart(from.at, till.at) < 1e-3) return undefined;
  const [there, back] = cutAt(curve, from, till);
  const [path, kept] =
    nearestOnCurve(there, at.at).distanceMm <= nearestOnCurve(back, at.at).distanceMm
      ? [there, back]
      : [back, there];
  const on = nearestOnCurve(path, at.at);
  if (apart(on.at, path.start) < 1e-3 || apart(on.at, path.segments.at(-1)!.to) < 1e-3)
    return undefined;
  const to = place(mend.to);
  const by = { x: to.x - on.at.x, y: to.y - on.at.y };
  return [{ path: kept }, { path: pulled(path, on, by), handU: mend.uPx * pxAt(mend.to, place) }];
}

/** The curve of an outline as it would run were a place of it moved; undefined where that cannot be. For the drawing under the hand. */
export function withNode(
  outline: Outline,
  ring: number,
  mend: Pick<NodeMend, 'from' | 'at' | 'till' | 'to' | 'uPx'>,
  eye: Eye,
): Ring<'sheet'> | undefined {
  const o = asPictured(outline);
  const parts = movedNode(curvesOf(o)[ring]!, mend, (p) => sheetOfPicture(eye, p, o.heightMm));
  const path = parts?.[1]?.path;
  return path && [...flatten(path, CHORD_MM), path.segments.at(-1)!.to];
}

/** A line from one place of a ring's curve to another; undefined where it begins or ends off the edge. */
function across(
  curve: CurveRing<'sheet'>,
  points: readonly P[],
): { a: OnCurve<'sheet'>; b: OnCurve<'sheet'>; line: P[] } | undefined {
  const [a, b] = [nearestOnCurve(curve, points[0]!), nearestOnCurve(curve, points.at(-1)!)];
  if (Math.max(a.distanceMm, b.distanceMm) > REACH_MM) return undefined;
  if (Math.hypot(a.at.x - b.at.x, a.at.y - b.at.y) < 1e-3) return undefined;
  return { a, b, line: [a.at, ...points.slice(1, -1), b.at] };
}

/** Parts of two rings out of one outline; undefined where the line cuts a hole or leaves next to nothing on one side. */
function halvesOf(
  o: Outline,
  mend: Extract<Mend, { kind: 'split' }>,
  eye: Eye,
): readonly [Outline, Outline, number] | undefined {
  const place = (p: Spot): P => sheetOfPicture(eye, p, o.heightMm);
  const curves = curvesOf(o);
  const cut = across(curves[0]!, mend.points.map(place));
  if (!cut) return undefined;
  const line = pathThrough(cut.line, !mend.straight);
  const handU = mend.uPx * pxAt(mend.points[0]!, place);
  const [there, back] = cutAt(curves[0]!, cut.a, cut.b);
  const sides: Part[][] = [
    [{ path: there }, { path: reversed(line), handU }],
    [{ path: back }, { path: line, handU }],
  ];
  const holes = o.region.holes;
  const made: Outline[] = [];
  let lengthMm = 0;
  for (const parts of sides) {
    const ring = parts.flatMap(({ path }) => flatten(path, CHORD_MM));
    if (Math.abs(signedArea(ring)) < LEAST_BLANK_MM2) return undefined;
    const own = holes.flatMap((hole, k) => (inside<'sheet'>(ring, hole[0]!) ? [k + 1] : []));
    if (own.some((k) => !holes[k - 1]!.every((p) => inside<'sheet'>(ring, p)))) return undefined;
    const half = redescribed(
      o,
      [{ from: 0, parts }, ...own.map((from) => ({ from, parts: [{ path: curves[from]! }] }))],
      false,
    );
    if (!half) return undefined;
    made.push(half.outline);
    ({ lengthMm } = half.effect);
  }
  const [p, q] = made as [Outline, Outline];
  if (p.region.holes.length + q.region.holes.length < holes.length) return undefined;
  return leftOf(p) <= leftOf(q) ? [p, q, lengthMm] : [q, p, lengthMm];
}

const leftOf = (o: Outline): number => centroid(o.region.outer).x;

/** What is left of a blank on one side of a line must be more than a crumb, mm². */
const LEAST_BLANK_MM2 = 20;

/** One blank becomes two: the left one keeps the number, the other gets the next free one. */
function split(
  outlines: readonly Outline[],
  blank: number,
  mend: Extract<Mend, { kind: 'split' }>,
  eye: Eye,
): Done | undefined {
  const other = Math.max(...outlines.map((o) => o.blank)) + 1;
  const changed: Outline[] = [];
  let effect: MendEffect | undefined;
  for (const o of outlines) {
    if (o.blank !== blank) {
      changed.push(o);
      continue;
    }
    const halves = halvesOf(asPictured(o), mend, eye);
    if (!halves) return undefined;
    const [left, right, lengthMm] = halves;
    changed.push(asSeen(left, o), {
      ...asSeen(right, o),
      blank: other,
      id: `blank-${other}-${o.at}`,
    });
    effect ??= { blank, other, lengthMm, movedMm: 0, U: handUOf(left) };
  }
  return effect && { outlines: changed, effect };
}

/** U (k = 2) of what was drawn by hand, mm: the greatest along it. */
const handUOf = (o: Outline): number =>
  Math.max(
    0,
    ...(o.byHand ?? []).flatMap(({ ring, from, to }) =>
      from <= to ? [...o.u[ring]!.slice(from, to + 1)] : [o.u[ring]![from]!, o.u[ring]![to]!],
    ),
  ) * 2;

/** Mirrored again, where the blank's back is what the picture shows. */
const asSeen = (o: Outline, like: Outline): Outline =>
  like.mirrored ? seenFromBehind(o, axisOf(like)) : o;

/** Two blanks become one, under the number of the one where the first line begins. */
function joined(
  outlines: readonly Outline[],
  blank: number,
  mend: Extract<Mend, { kind: 'join' }>,
  eye: Eye,
): Done | undefined {
  const rest = outlines.filter((o) => o.blank !== blank);
  const other = blankAt(rest, mend.points.at(-1)!, eye, false);
  if (other === undefined) return undefined;
  const changed: Outline[] = [];
  let effect: MendEffect | undefined;
  for (const o of outlines) {
    if (o.blank === other) continue;
    if (o.blank !== blank) {
      changed.push(o);
      continue;
    }
    const its = rest.find((q) => q.blank === other && q.at === o.at);
    // Faces at two heights are two blanks.
    if (!its || Math.abs(its.heightMm - o.heightMm) > 1e-6) return undefined;
    const whole = joinedOutline(asPictured(o), asPictured(its), mend, eye);
    if (!whole) return undefined;
    changed.push(asSeen(whole.outline, o));
    effect ??= { ...whole.effect, blank, other, U: handUOf(whole.outline) };
  }
  return effect && { outlines: changed, effect };
}

function joinedOutline(
  a: Outline,
  b: Outline,
  mend: Extract<Mend, { kind: 'join' }>,
  eye: Eye,
): { outline: Outline; effect: MendEffect } | undefined {
  const place = (p: Spot): P => sheetOfPicture(eye, p, a.heightMm);
  const [mine, theirs] = [a.curves.outer, b.curves.outer];
  const ends = [mend.points, mend.back].map((spots) => {
    const points = spots.map(place);
    // A line may have been drawn from either blank.
    const from = (p: P, curve: CurveRing<'sheet'>): number => nearestOnCurve(curve, p).distanceMm;
    const ahead = Math.max(from(points[0]!, mine), from(points.at(-1)!, theirs));
    const behind = Math.max(from(points[0]!, theirs), from(points.at(-1)!, mine));
    const way = ahead <= behind ? points : [...points].reverse();
    if (Math.min(ahead, behind) > REACH_MM) return undefined;
    const [p, q] = [nearestOnCurve(mine, way[0]!), nearestOnCurve(theirs, way.at(-1)!)];
    return { p, q, line: [p.at, ...way.slice(1, -1), q.at] };
  });
  const [one, two] = ends;
  if (!one || !two) return undefined;
  const handU = mend.uPx * pxAt(mend.points[0]!, place);
  const theirRing = ringsOf(a).length;
  const drawn = (points: readonly P[]): Part => ({
    path: pathThrough(points, !mend.straight),
    handU,
  });
  // Round the one blank, over a line to the other, round that, and back; which line is which shows in what they enclose.
  const ways = [
    [one, two],
    [two, one],
  ].map(([over, back]) => {
    const [kept] = cutAt(mine, back!.p, over!.p);
    const [far] = cutAt(theirs, over!.q, back!.q);
    return [
      { path: kept },
      drawn(over!.line),
      { path: far, from: theirRing },
      drawn([...back!.line].reverse()),
    ] satisfies Part[];
  });
  const area = (parts: readonly Part[]): number =>
    signedArea(parts.flatMap(({ path }) => flatten(path, CHORD_MM)));
  const parts = ways.sort((p, q) => area(q) - area(p))[0]!;
  const both = asOne(a, b);
  const hole = (from: number): Parts[number] => ({
    from,
    parts: [{ path: curvesOf(both)[from]! }],
  });
  const holes = ringsOf(both).flatMap((_, k) => (k === 0 || k === theirRing ? [] : [hole(k)]));
  return redescribed(both, [{ from: 0, parts }, ...holes], false);
}

/** A regular curve as parts: those that lie elsewhere than before are assumed, the others stay measured. */
function regularParts({ curve, changed }: Made): Part[] {
  if (!changed || changed.every(Boolean)) return [{ path: curve, handU: 0 }];
  const parts: {
    path: { start: P; segments: CurveRing<'sheet'>['segments'][number][] };
    handU?: number;
  }[] = [];
  let start = curve.start;
  curve.segments.forEach((segment, k) => {
    if (k === 0 || changed[k] !== changed[k - 1])
      parts.push({ path: { start, segments: [] }, ...(changed[k] && { handU: 0 }) });
    parts.at(-1)!.path.segments.push(segment);
    start = segment.to;
  });
  return parts;
}

function nearestRing(o: Outline, p: P): { readonly index: number } | undefined {
  let best: { index: number; distanceMm: number } | undefined;
  ringsOf(o).forEach((ring, index) => {
    const { distanceMm } = nearestOnRing<'sheet'>(ring, p);
    if (!best || distanceMm < best.distanceMm) best = { index, distanceMm };
  });
  return best && best.distanceMm < REACH_MM ? best : undefined;
}

/** What a shape would do to an outline. */
export interface Offer {
  readonly shape: Shape;
  /** The ring that is meant, and the vertex of it that tells which of its edges. */
  readonly ring: number;
  readonly vertex: number;
  /** How many times it comes to lie on itself on a turn. */
  readonly turns?: number;
  readonly movedMm: number;
  /** U (k = 2) of the edge where it would move most. */
  readonly U: number;
}

/** A ring that lies farther from a shape than U and this share of its length is not of that shape. */
const LIKE_SHARE = 0.003;
/** An outline that would move by less is of that shape already, mm. */
const SAME_MM = 0.001;

/** Shapes that the rings of an outline come near to, the nearest first. */
export function offers(outline: Outline): readonly Offer[] {
  const o = asPictured(outline);
  const rings = ringsOf(o);
  const curves = curvesOf(o);
  const all = rings.flatMap((ring, index) =>
    SHAPES.flatMap((shape): Offer[] => {
      // Of holes only the plain shapes: their symmetry is that of the tool that made them.
      if (index > 0 && (shape === 'symmetric' || shape === 'rotational')) return [];
      return placesFor(rings, curves, index, shape).flatMap((at): Offer[] => {
        const vertex = nearestVertex(ring, at);
        let [movedMm, U, likely] = [0, 0, true];
        const made = regular(rings, curves, index, ring[vertex]!, shape);
        for (const [k, { curve }] of made) {
          const far = awayFrom(rings[k]!, o.u[k]!, curve);
          likely &&= far.movedMm <= Math.max(far.U, LIKE_SHARE * perimeter(rings[k]!));
          if (far.movedMm > movedMm) ({ movedMm, U } = far);
        }
        if (made.size === 0 || !likely || movedMm <= SAME_MM) return [];
        const turns = shape === 'rotational' && { turns: turnsOf(ring) };
        // The vertices of an outline that was seen from behind run the other way.
        const own = outline.mirrored ? (ring.length - vertex) % ring.length : vertex;
        return [{ shape, ring: index, vertex: own, ...turns, movedMm, U }];
      });
    }),
  );
  // What is a circle is symmetric however it is turned.
  const round = new Set(all.filter((x) => x.shape === 'circle').map((x) => x.ring));
  const idle: readonly Shape[] = ['symmetric', 'rotational'];
  return all
    .filter(({ shape, ring }) => !(round.has(ring) && idle.includes(shape)))
    .sort((a, b) => a.movedMm - b.movedMm);
}

/** How far a ring lies from a curve at most, both ways, and U of the edge there; mm. */
function awayFrom(
  ring: Ring<'sheet'>,
  u: Float64Array,
  curve: CurveRing<'sheet'>,
): { movedMm: number; U: number } {
  const anew = divided(flatten(curve, CHORD_MM));
  // Far from most rings: coarse cells.
  const cellMm = perimeter(ring) / 40;
  const now = new Nearest([anew], cellMm);
  const before = new Nearest([ring], cellMm);
  let [movedMm, U] = [0, 0];
  ring.forEach((p, k) => {
    const d = now.distance(p.x, p.y);
    if (d > movedMm) [movedMm, U] = [d, 2 * u[k]!];
  });
  for (const p of anew) {
    const d = before.distance(p.x, p.y);
    if (d > movedMm) [movedMm, U] = [d, 2 * u[nearestVertex(ring, p)]!];
  }
  return { movedMm, U };
}

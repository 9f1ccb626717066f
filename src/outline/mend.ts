import { reason, type Reason } from '../base/reason.ts';
import type { Point } from '../base/measure.ts';
import { flatten } from '../geometry/curve.ts';
import {
  cutAt,
  endDirections,
  nearestOnCurve,
  pathThrough,
  type Path,
} from '../geometry/cut-curve.ts';
import {
  centroid,
  inside,
  nearestOnRing,
  nearestVertex,
  outwardNormals,
  perimeter,
} from '../geometry/measure.ts';
import { isSimple } from '../geometry/light.ts';
import { Nearest } from '../geometry/nearest.ts';
import type { CurveRing, Ring } from '../geometry/shape.ts';
import { sheetOfPicture } from '../view/model.ts';
import type { Eye } from '../view/view.ts';
import type { Outline, OutlineMode, Stretch, Trace } from './outline.ts';
import { placesFor, regular, SHAPES, turnsOf, type Made, type Shape } from './regular.ts';
import { CHORD_MM, divided, seenFromBehind, stretches } from './trace.ts';
import { wholeFactorOf } from './uncertainty.ts';

type P = Point<'sheet'>;
/** A place of the picture, px. */
export type Spot = Point<'picture'>;

/**
 * What the operator changed of what was traced, as she did it on the picture (`picture`: its digest): so it can be done again
 * whenever the outline is computed anew.
 */
export type Mend = { readonly picture: string } & (
  | {
      /** The edge between the first and the last point runs through these. */
      readonly kind: 'stretch';
      readonly points: readonly Spot[];
      /** Straight from point to point; else smooth, and tangent to the edge at its ends. */
      readonly straight: boolean;
      /** Standard uncertainty of the points, px. */
      readonly uPx: number;
    }
  /** The hole at a place is none. */
  | { readonly kind: 'close'; readonly at: Spot }
  /** The blank at a place is none. */
  | { readonly kind: 'drop'; readonly at: Spot }
  /** The ring whose edge lies nearest to a place is taken for a shape that is known exactly but for its size and place. */
  | { readonly kind: 'regular'; readonly at: Spot; readonly shape: Shape }
);

/** What came of a mend; mm. */
export interface MendEffect {
  readonly blank: number;
  /** Length of the edge that was drawn or made regular; 0 where a ring was taken away. */
  readonly lengthMm: number;
  /** How far the edge moved at most, and U (k = 2) of the edge there before. */
  readonly movedMm: number;
  readonly U: number;
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
    const done = eye && mendOne(outlines, mend, eye);
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
    if (kind === 'stretch') return [reason('drawn-by-hand', facts)];
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

function mendOne(outlines: readonly Outline[], mend: Mend, eye: Eye): Done | undefined {
  const first = mend.kind === 'stretch' ? mend.points[0]! : mend.at;
  const blank = blankAt(outlines, first, eye, mend.kind === 'drop');
  if (blank === undefined) return undefined;
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
    const { outline } = redone;
    changed.push(o.mirrored ? seenFromBehind(outline, centroid(outline.region.outer).x) : outline);
  }
  return effect && { outlines: changed, effect };
}

/** The outline as the picture shows it, also where it shows the back. */
const asPictured = (o: Outline): Outline =>
  o.mirrored ? { ...seenFromBehind(o, centroid(o.region.outer).x), mirrored: false } : o;

const ringsOf = ({ region }: Outline): readonly Ring<'sheet'>[] => [region.outer, ...region.holes];
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

/** A ring anew: pieces of curve one after the other, those made by hand with their standard uncertainty, mm. */
interface Part {
  readonly path: Path<'sheet'>;
  readonly handU?: number;
}
/** Rings anew, each with the ring that it comes from. */
type Parts = readonly { readonly from: number; readonly parts: readonly Part[] }[];

function partsOf(o: Outline, mend: Exclude<Mend, { kind: 'drop' }>, eye: Eye): Parts | undefined {
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
  // How far a picture px reaches on the face.
  const q = place({ x: mend.points[0]!.x + 1, y: mend.points[0]!.y });
  const pxMm = Math.hypot(q.x - points[0]!.x, q.y - points[0]!.y);
  const handU = Math.hypot(mend.uPx * pxMm, gapMm > pxMm ? gapMm : 0);
  const parts: Part[] = [{ path: kept }, { path, handU }];
  return asTheyAre.map((r) => (r.from === ring.index ? { ...r, parts } : r));
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

/** Vertices of pieces that follow each other, and which of them were made by hand. */
function verticesOf(parts: readonly Part[]): { points: P[]; hand: Uint8Array } {
  const points: P[] = [];
  const hand: number[] = [];
  for (const { path, handU } of parts) {
    const end = path.segments.at(-1)!.to;
    // Divided as a ring, less the side that closes it.
    const closed = divided([...flatten(path, CHORD_MM), end]);
    const last = closed.findLastIndex((p) => p.x === end.x && p.y === end.y);
    for (const p of closed.slice(0, Math.max(1, last))) {
      points.push(p);
      hand.push(handU === undefined ? 0 : 1);
    }
  }
  return { points, hand: Uint8Array.from(hand) };
}

/**
 * An outline with other rings: every vertex takes over what was known at the nearest place of the ring that it comes from. Where
 * it was drawn by hand, the edge that was measured there is no longer its own: a mode of its own, by hand, takes its place.
 */
function redescribed(
  o: Outline,
  anew: Parts,
): { outline: Outline; effect: MendEffect } | undefined {
  const old = ringsOf(o);
  const firsts = old.map((_, r) => old.slice(0, r).reduce((sum, { length }) => sum + length, 0));
  const made = anew.map(({ from, parts }) => ({ from, parts, ...verticesOf(parts) }));
  if (made.some(({ points, hand }) => hand.includes(1) && !isSimple(points))) return undefined;
  const polygons = made.map(({ points }) => points);
  const count = polygons.reduce((sum, { length }) => sum + length, 0);
  const flags = (stretch: Stretch): Uint8Array => marks(old, firsts, stretch);
  const kinds = {
    hidden: o.hidden.map(flags),
    doubtful: o.doubtful.map(flags),
    byHand: (o.byHand ?? []).map(flags),
  };
  const dx = o.modes.map(() => new Float64Array(count));
  const dy = o.modes.map(() => new Float64Array(count));
  const handX = new Float64Array(count);
  const handY = new Float64Array(count);
  const edgeU = new Float64Array(count);
  const own = new Float64Array(count);
  const normals: { nx: number; ny: number }[] = [];
  const source = new Int32Array(count);
  const hand = new Uint8Array(count);
  let at = 0;
  let [movedMm, U, lengthMm] = [0, 0, 0];
  for (const { from, parts, points, hand: isHand } of made) {
    const ring = old[from]!;
    const was = outwardNormals(ring);
    const { nx, ny } = outwardNormals(points);
    const handU = Math.max(0, ...parts.map((p) => p.handU ?? 0));
    const untouched = !isHand.includes(1);
    const before = new Nearest([ring], 1);
    points.forEach((p, k) => {
      const near = nearestVertex(ring, p);
      const v = firsts[from]! + near;
      source[at] = v;
      let shared = 0;
      o.modes.forEach((mode, m) => {
        dx[m]![at] = mode.dx[v]!;
        dy[m]![at] = mode.dy[v]!;
        shared += (was.nx[near]! * mode.dx[v]! + was.ny[near]! * mode.dy[v]!) ** 2;
      });
      normals.push({ nx: nx[k]!, ny: ny[k]! });
      const drawn = isHand[k] === 1;
      hand[at] = drawn ? 1 : 0;
      const bare = drawn && handU > 0;
      edgeU[at] = bare ? 0 : o.edgeU[from]![near]!;
      own[at] = bare ? 0 : Math.sqrt(Math.max(0, o.u[from]![near]! ** 2 - shared));
      if (drawn) {
        handX[at] = handU * nx[k]!;
        handY[at] = handU * ny[k]!;
        const q = points[(k + 1) % points.length]!;
        lengthMm += Math.hypot(q.x - p.x, q.y - p.y);
        const distanceMm = before.distance(p.x, p.y);
        if (distanceMm > movedMm) [movedMm, U] = [distanceMm, 2 * o.u[from]![near]!];
      }
      at++;
    });
    if (untouched) continue;
    // What was there before may lie farther from the new edge than the new one from it.
    const now = new Nearest([points], 1);
    ring.forEach((p, k) => {
      const d = now.distance(p.x, p.y);
      if (d > movedMm) [movedMm, U] = [d, 2 * o.u[from]![k]!];
    });
  }
  // A shape that the edge was taken for is as uncertain as the edge was, and by how far it moved beside.
  const assumed = anew.some(({ parts }) => parts.some((p) => p.handU === 0));
  if (assumed) {
    hand.forEach((h, k) => {
      if (h === 0) return;
      handX[k] = (movedMm / 2) * normals[k]!.nx;
      handY[k] = (movedMm / 2) * normals[k]!.ny;
    });
  }
  const modes: OutlineMode[] = [
    ...(hand.includes(1) ? [{ source: 'by hand' as const, dx: handX, dy: handY }] : []),
    ...o.modes.map((mode, m) => ({ ...mode, dx: dx[m]!, dy: dy[m]! })),
  ];
  const u = Float64Array.from(normals, ({ nx, ny }, k) =>
    Math.sqrt(modes.reduce((sum, m) => sum + (nx * m.dx[k]! + ny * m.dy[k]!) ** 2, own[k]! ** 2)),
  );
  const seen = polygons.flatMap((ring, r) =>
    ring.map((p, k) => {
      const q = ring[(k + 1) % ring.length]!;
      const i = polygons.slice(0, r).reduce((sum, { length }) => sum + length, 0) + k;
      const share = Math.hypot(q.x - p.x, q.y - p.y);
      return { ...p, ...normals[i]!, far: true, share, biasMm: 0, farSideMm: 0 };
    }),
  );
  const perRing = (values: Float64Array): Float64Array[] => {
    let first = 0;
    return polygons.map(({ length }) => values.slice(first, (first += length)));
  };
  const carried = (was: Uint8Array): Stretch[] =>
    stretches(
      polygons,
      Uint8Array.from(source, (v, k) => (hand[k] === 0 || assumed ? was[v]! : 0)),
      0,
    );
  const curves = made.map(({ parts }): CurveRing<'sheet'> => ({
    start: parts[0]!.path.start,
    segments: parts.flatMap(({ path }) => path.segments),
  }));
  return {
    outline: {
      ...o,
      region: { outer: polygons[0]!, holes: polygons.slice(1) },
      curves: { outer: curves[0]!, holes: curves.slice(1) },
      modes,
      edgeU: perRing(edgeU),
      u: perRing(u),
      wholeFactor: wholeFactorOf(seen, modes, own, u),
      hidden: kinds.hidden.flatMap(carried),
      doubtful: o.doubtful.flatMap((d, k) =>
        carried(kinds.doubtful[k]!).map((s) => ({ ...s, why: d.why })),
      ),
      byHand: [...kinds.byHand.flatMap(carried), ...stretches(polygons, hand, 0)],
    },
    effect: { blank: o.blank, lengthMm, movedMm, U },
  };
}

/** A stretch as marks over the vertices of all rings. */
function marks(rings: readonly Ring<'sheet'>[], firsts: readonly number[], s: Stretch): Uint8Array {
  const out = new Uint8Array(rings.reduce((sum, { length }) => sum + length, 0));
  const n = rings[s.ring]!.length;
  const steps = (s.to - s.from + n) % n;
  for (let k = 0; k <= steps; k++) out[firsts[s.ring]! + ((s.from + k) % n)] = 1;
  return out;
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

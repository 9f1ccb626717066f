import type { Point } from '../base/measure.ts';
import { flatten } from '../geometry/curve.ts';
import type { Path } from '../geometry/cut-curve.ts';
import { nearestVertex, outwardNormals } from '../geometry/measure.ts';
import { isSimple } from '../geometry/light.ts';
import { Nearest } from '../geometry/nearest.ts';
import type { CurveRing, Ring } from '../geometry/shape.ts';
import type { Outline, OutlineMode, Stretch } from './outline.ts';
import { CHORD_MM, divided, stretches } from './trace.ts';
import { wholeFactorOf } from './uncertainty.ts';

type P = Point<'sheet'>;

/** What came of a change by hand; mm. */
export interface MendEffect {
  readonly blank: number;
  /** The blank that it was divided from or joined with. */
  readonly other?: number;
  /** Length of the edge that was drawn or made regular; 0 where a ring was taken away. */
  readonly lengthMm: number;
  /** How far the edge moved at most, and U (k = 2) of the edge there before. */
  readonly movedMm: number;
  readonly U: number;
}

/** A ring anew: pieces of curve one after the other, those made by hand with their standard uncertainty, mm. */
export interface Part {
  readonly path: Path<'sheet'>;
  readonly handU?: number;
  /** The ring that it comes from, where that is another one than the ring's own. */
  readonly from?: number;
}
/** Rings anew, the outer one first, each with the ring that it comes from. */
export type Parts = readonly { readonly from: number; readonly parts: readonly Part[] }[];

export const ringsOf = ({ region }: Outline): readonly Ring<'sheet'>[] => [
  region.outer,
  ...region.holes,
];

/** Vertices of pieces that follow each other, which of them were made by hand, and the ring that each comes from. */
function verticesOf(
  parts: readonly Part[],
  ring: number,
): { points: P[]; hand: Uint8Array; rings: number[] } {
  const points: P[] = [];
  const hand: number[] = [];
  const rings: number[] = [];
  for (const { path, handU, from = ring } of parts) {
    const end = path.segments.at(-1)!.to;
    // Divided as a ring, less the side that closes it.
    const closed = divided([...flatten(path, CHORD_MM), end]);
    const last = closed.findLastIndex((p) => p.x === end.x && p.y === end.y);
    for (const p of closed.slice(0, Math.max(1, last))) {
      points.push(p);
      hand.push(handU === undefined ? 0 : 1);
      rings.push(from);
    }
  }
  return { points, hand: Uint8Array.from(hand), rings };
}

/**
 * An outline with other rings: every vertex takes over what was known at the nearest place of the ring that it comes from. Where
 * it was drawn by hand, the edge that was measured there is no longer its own: a mode of its own, by hand, takes its place.
 *
 * @param moves whether it is to be told how far the edge moved; of a ring that is divided or joined that says nothing
 */
export function redescribed(
  o: Outline,
  anew: Parts,
  moves = true,
): { outline: Outline; effect: MendEffect } | undefined {
  const old = ringsOf(o);
  const outward = old.map((ring) => outwardNormals(ring));
  const firsts = old.map((_, r) => old.slice(0, r).reduce((sum, { length }) => sum + length, 0));
  const made = anew.map(({ from, parts }) => ({ from, parts, ...verticesOf(parts, from) }));
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
  const origin = new Int32Array(count);
  const hand = new Uint8Array(count);
  let at = 0;
  let [movedMm, U, lengthMm] = [0, 0, 0];
  for (const { from, parts, points, hand: isHand, rings: sources } of made) {
    const { nx, ny } = outwardNormals(points);
    const handU = Math.max(0, ...parts.map((p) => p.handU ?? 0));
    const untouched = !isHand.includes(1);
    const before = new Nearest([old[from]!], 1);
    points.forEach((p, k) => {
      const source = sources[k]!;
      const near = nearestVertex(old[source]!, p);
      const was = outward[source]!;
      const v = firsts[source]! + near;
      origin[at] = v;
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
      edgeU[at] = bare ? 0 : o.edgeU[source]![near]!;
      own[at] = bare ? 0 : Math.sqrt(Math.max(0, o.u[source]![near]! ** 2 - shared));
      if (drawn) {
        handX[at] = handU * nx[k]!;
        handY[at] = handU * ny[k]!;
        const q = points[(k + 1) % points.length]!;
        lengthMm += Math.hypot(q.x - p.x, q.y - p.y);
        const distanceMm = before.distance(p.x, p.y);
        if (moves && distanceMm > movedMm) [movedMm, U] = [distanceMm, 2 * o.u[source]![near]!];
      }
      at++;
    });
    if (untouched || !moves) continue;
    // What was there before may lie farther from the new edge than the new one from it.
    const now = new Nearest([points], 1);
    old[from]!.forEach((p, k) => {
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
      Uint8Array.from(origin, (v, k) => (hand[k] === 0 || assumed ? was[v]! : 0)),
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

/**
 * Two outlines as one with all their rings, the first one's before the other's: what both share of the view's errors stays one
 * mode where they have the same ones in the same order, else each keeps its own.
 */
export function asOne(a: Outline, b: Outline): Outline {
  const count = (o: Outline): number => ringsOf(o).reduce((sum, { length }) => sum + length, 0);
  const [n, m] = [count(a), count(b)];
  const chained = (p: Float64Array | undefined, q: Float64Array | undefined): Float64Array => {
    const out = new Float64Array(n + m);
    if (p) out.set(p);
    if (q) out.set(q, n);
    return out;
  };
  const alike =
    a.modes.length === b.modes.length && a.modes.every((x, k) => x.source === b.modes[k]!.source);
  const modes = alike
    ? a.modes.map((x, k) => ({
        ...x,
        dx: chained(x.dx, b.modes[k]!.dx),
        dy: chained(x.dy, b.modes[k]!.dy),
      }))
    : [
        ...a.modes.map((x) => ({
          ...x,
          dx: chained(x.dx, undefined),
          dy: chained(x.dy, undefined),
        })),
        ...b.modes.map((x) => ({
          ...x,
          dx: chained(undefined, x.dx),
          dy: chained(undefined, x.dy),
        })),
      ];
  const rings = ringsOf(a).length;
  const later = <S extends Stretch>(s: S): S => ({ ...s, ring: s.ring + rings });
  return {
    ...a,
    region: {
      outer: a.region.outer,
      holes: [...a.region.holes, b.region.outer, ...b.region.holes],
    },
    curves: {
      outer: a.curves.outer,
      holes: [...a.curves.holes, b.curves.outer, ...b.curves.holes],
    },
    fitDeviationMm: Math.max(a.fitDeviationMm, b.fitDeviationMm),
    modes,
    edgeU: [...a.edgeU, ...b.edgeU],
    u: [...a.u, ...b.u],
    hidden: [...a.hidden, ...b.hidden.map(later)],
    doubtful: [...a.doubtful, ...b.doubtful.map(later)],
    byHand: [...(a.byHand ?? []), ...(b.byHand ?? []).map(later)],
    rider: a.rider || b.rider,
  };
}

import type { Point } from '../base/measure.ts';
import { decide, type Decision } from '../check/decide.ts';
import type { Motion } from '../geometry/lay.ts';
import { bestStep, type Facing, type Within } from '../geometry/within.ts';
import type { Outline, Stretch } from '../outline/outline.ts';
import { EDGE_CORRELATION_MM, gaussian, WHOLE_FACTOR } from '../outline/uncertainty.ts';
import type { Region } from '../geometry/shape.ts';

/** An edge and what is known of its place: of an outline just traced with its modes, of one from a file without. */
export type Measured = Pick<Outline, 'region' | 'u' | 'hidden'> &
  Partial<Pick<Outline, 'modes' | 'edgeU' | 'wholeFactor' | 'byHand'>>;

/** How far the wall may stand from where it is drawn. */
export interface WallDoubt {
  /** Farther out all round, standard uncertainty, mm: what a kerf that was taken wrong does. */
  readonly growthU: number;
  /** Of a wall that was measured itself: its outline, vertex by vertex as the opening has them, and how the wall lies to it. */
  readonly measured?: { readonly outline: Measured; readonly motion: Motion };
}

/** The least room between a piece and its wall, at the place that leaves the most. */
export interface Room {
  readonly within: Within<'bed'>;
  /** Corrected for what noise along the edge takes from the least of many, mm. */
  readonly roomMm: number;
  /** Expanded (k = 2), mm. */
  readonly uMm: number;
  /** Whether it goes in, by the rule of ISO 14253-1. */
  readonly decision: Decision;
  /** Something that no picture saw, or a hand drew, holds it: the piece may be smaller there than it is taken to be. */
  readonly unseen: boolean;
}

const DRAWS = 80;
/** Errors do not move the piece farther than this, mm. */
const SLACK_MM = 0.4;
/** What the edge's own noise did is told from its shape over so much of it to either side, mm. */
const SMOOTH_MM = 6;

/**
 * The room of a piece at its best place, with its uncertainty: errors are drawn for the piece's edge (its modes, which all
 * vertices share, and an error of the edge's own every 2 mm) and for the wall, and the best place is found anew for each by
 * one linear program. Of many places that err each for itself the tightest looks tighter than it is: the errors are added to the
 * edge with its own roughness taken off as far as noise explains it, and what they take from the least room on average
 * is given back. Of outlines without modes only the band that holds everywhere at once is known, so the room lies between that of
 * the largest and that of the smallest outline within it.
 *
 * @param within the piece at its best place in the opening
 */
export function roomOf(within: Within<'bed'>, doubt: WallDoubt, piece: Measured): Room {
  // A piece has one frame, its own sheet's; a motion brings it into the bed's.
  const region = piece.region as unknown as Region<'bed'>;
  const { roomMm: found, motion } = within;
  const near = thinned(within, region);
  const { middle, reachMm } = frameOf(near);
  const roomWith = (extra: (k: number) => number): number =>
    bestStep(
      near.map((f, k) => ({ ...f, roomMm: extra(k) })),
      middle,
      reachMm,
      SLACK_MM,
    ).roomMm;
  const seen = Float64Array.from(near, (f) => f.roomMm);
  const wall = doubt.measured;
  const parts = [
    partOf(piece, motion, near, 'piece'),
    ...(wall ? [partOf(wall.outline, wall.motion, near, 'wall')] : []),
  ];
  const normal = gaussian();
  const shared = parts.flatMap((p) => (p.kind === 'drawn' ? [p] : []));
  const bands = parts.flatMap((p) => (p.kind === 'band' ? [p] : []));
  const own = Float64Array.from(near, (_, k) =>
    Math.hypot(...shared.map(({ ownU }) => ownU[k]!), 0),
  );
  const smooth = smoothed(near, region, seen, own);
  const plain = roomWith((k) => smooth[k]!);
  const moved: number[] = [];
  for (let draw = 0; draw < DRAWS; draw++) {
    const growth = doubt.growthU * normal();
    const errors = shared.map((p) => p.draw(normal));
    moved.push(
      roomWith((k) => errors.reduce((sum, e) => sum + e[k]!, smooth[k]! + growth)) - plain,
    );
  }
  const mean = moved.reduce((a, b) => a + b, 0) / DRAWS;
  const sd = Math.sqrt(moved.reduce((sum, m) => sum + (m - mean) ** 2, 0) / (DRAWS - 1));
  const most = bands.length
    ? roomWith((k) => bands.reduce((s, b) => s + b.half[k]!, seen[k]!))
    : found;
  const least = bands.length
    ? roomWith((k) => bands.reduce((s, b) => s - b.half[k]!, seen[k]!))
    : found;
  const roomMm = (most + least) / 2 - mean;
  // What is given back is known to half of itself.
  const uMm = (most - least) / 2 + 2 * Math.hypot(sd, mean / 2);
  const unseen = within.holds.some(
    ({ piece: k }) => covers(piece, piece.hidden, k) || covers(piece, piece.byHand ?? [], k),
  );
  const decision = decide(roomMm, uMm, { least: 0 });
  return {
    within,
    roomMm,
    uMm,
    decision: unseen && decision === 'proven not' ? 'not proven' : decision,
    unseen,
  };
}

/** In each millimetre of the piece's edge only what has the least room: its neighbours err alike. */
function thinned(within: Within<'bed'>, region: Region<'bed'>): Facing<'bed'>[] {
  const along = arcs(region);
  const cells = new Map<number, Facing<'bed'>>();
  for (const f of within.facings) {
    const cell = Math.floor(along[f.piece]!);
    const before = cells.get(cell);
    if (!before || f.roomMm < before.roomMm) cells.set(cell, f);
  }
  return [...cells.values()];
}

/**
 * Rooms along the edge with their roughness taken off as far as the edge's own noise explains it: each is drawn to the straight
 * line through its neighbours by the share that noise has of their scatter about it.
 */
function smoothed(
  facings: readonly Facing<'bed'>[],
  region: Region<'bed'>,
  rooms: Float64Array,
  ownU: Float64Array,
): Float64Array {
  const along = arcs(region);
  const at = facings.map((f) => along[f.piece]!);
  return Float64Array.from(rooms, (room, i) => {
    const near = at.flatMap((a, j) => (Math.abs(a - at[i]!) < SMOOTH_MM ? [j] : []));
    if (near.length < 6 || ownU[i] === 0) return room;
    const n = near.length;
    const mean = near.reduce((s, j) => s + rooms[j]!, 0) / n;
    const middle = near.reduce((s, j) => s + at[j]!, 0) / n;
    const [xx, xy] = near.reduce(
      ([a, b], j) => [a + (at[j]! - middle) ** 2, b + (at[j]! - middle) * (rooms[j]! - mean)],
      [1e-12, 0],
    );
    const line = (j: number): number => mean + (xy / xx) * (at[j]! - middle);
    const scatter = near.reduce((s, j) => s + (rooms[j]! - line(j)) ** 2, 0) / (n - 2);
    const kept = Math.max(0, 1 - ownU[i]! ** 2 / scatter);
    return line(i) + kept * (room - line(i));
  });
}

/** Length along its ring at every vertex, mm; each ring begins a good way after the one before. */
function arcs({ outer, holes }: Region<'bed'> | Region<'sheet'>): Float64Array {
  const rings = [outer, ...holes] as readonly (readonly Point<'bed'>[])[];
  const out = new Float64Array(rings.reduce((n, r) => n + r.length, 0));
  let [k, at] = [0, 0];
  for (const ring of rings) {
    ring.forEach((p, i) => {
      const q = ring[(i + 1) % ring.length]!;
      out[k++] = at;
      at += Math.hypot(q.x - p.x, q.y - p.y);
    });
    at = Math.ceil(at) + 10 * EDGE_CORRELATION_MM;
  }
  return out;
}

function frameOf(facings: readonly Facing<'bed'>[]): { middle: Point<'bed'>; reachMm: number } {
  const n = Math.max(1, facings.length);
  const middle = {
    x: facings.reduce((s, f) => s + f.at.x, 0) / n,
    y: facings.reduce((s, f) => s + f.at.y, 0) / n,
  };
  const reachMm = facings.reduce(
    (r, f) => Math.max(r, Math.hypot(f.at.x - middle.x, f.at.y - middle.y)),
    1,
  );
  return { middle, reachMm };
}

type Part =
  | { readonly kind: 'band'; readonly half: Float64Array }
  | {
      readonly kind: 'drawn';
      readonly draw: (normal: () => number) => Float64Array;
      /** Of each facing, what the edge errs by for itself. */
      readonly ownU: Float64Array;
    };

/** What errors of one edge add to the room of each facing. */
function partOf(
  edge: Measured,
  { mirrored, turnRad }: Motion,
  facings: readonly Facing<'bed'>[],
  of: 'piece' | 'wall',
): Part {
  const at = facings.map((f) => f[of]);
  const { modes, edgeU } = edge;
  if (!modes || !edgeU) {
    const u = edge.u.flatMap((ring) => [...ring]);
    const factor = edge.wholeFactor ?? WHOLE_FACTOR;
    return { kind: 'band', half: Float64Array.from(at, (k) => factor * u[k]!) };
  }
  const [c, s] = [Math.cos(turnRad), Math.sin(turnRad)];
  // A piece that reaches along its outward normal, against n, has less room; a wall that does has more.
  const weights = modes.map(({ dx, dy }) =>
    Float64Array.from(facings, ({ nx, ny }, i) => {
      const k = at[i]!;
      const x = mirrored ? -dx[k]! : dx[k]!;
      const along = nx * (c * x - s * dy[k]!) + ny * (s * x + c * dy[k]!);
      return of === 'piece' ? along : -along;
    }),
  );
  const own = edgeU.flatMap((ring) => [...ring]);
  const along = arcs(edge.region);
  const cells = at.map((k) => Math.floor(along[k]! / EDGE_CORRELATION_MM));
  return {
    kind: 'drawn',
    ownU: Float64Array.from(at, (k) => own[k]!),
    draw: (normal) => {
      const error = new Float64Array(facings.length);
      for (const weight of weights) {
        const z = normal();
        for (let i = 0; i < error.length; i++) error[i]! += z * weight[i]!;
      }
      const drawn = new Map<number, number>();
      cells.forEach((cell, i) => {
        let z = drawn.get(cell);
        if (z === undefined) drawn.set(cell, (z = normal()));
        error[i]! += own[at[i]!]! * z;
      });
      return error;
    },
  };
}

/** Whether a vertex, numbered through all rings, lies on one of these stretches. */
function covers({ region }: Measured, stretches: readonly Stretch[], vertex: number): boolean {
  let [ring, k] = [0, vertex];
  for (const r of [region.outer, ...region.holes]) {
    if (k < r.length) break;
    k -= r.length;
    ring++;
  }
  return stretches.some(
    (s) =>
      s.ring === ring && (s.from <= s.to ? k >= s.from && k <= s.to : k >= s.from || k <= s.to),
  );
}

import type { Point } from '../base/measure.ts';
import { lightRing } from '../geometry/light.ts';
import {
  boxesApart,
  boxOf,
  ringDistance,
  ringGap,
  type Box,
  type Gap,
} from '../geometry/measure.ts';
import type { Region, Ring } from '../geometry/shape.ts';
import { boardRing, middleOf, roomOf, seatHoles, withinBoard } from './board-on-bed.ts';
import { bedFromBlank, keepOutRing } from './plan-bed.ts';
import type { BedSettings, Place } from './plan.ts';

/** A pocket's opening where it lies, light enough to be held against its neighbours while it is moved. */
export interface Lying {
  /** Its number on the bed. */
  readonly id: string;
  readonly place: Place;
  readonly rings: readonly Ring<'bed'>[];
  readonly box: Box;
}

/** What light openings fall short of the true ones while a pocket is moved, mm; the plan itself is made with the true ones. */
export const LIGHT_MM = 0.005;

/** An opening's outer rings, thinned out by no more than `LIGHT_MM`. */
export const lightOpening = (opening: readonly Region<'blank'>[]): readonly Ring<'blank'>[] =>
  opening.map(({ outer }) => lightRing(outer, LIGHT_MM));

/** A light opening at a place. */
export function lyingAt(id: string, rings: readonly Ring<'blank'>[], place: Place): Lying {
  const move = bedFromBlank(place);
  const placed = rings.map((ring) => ring.map(move));
  return { id, place, rings: placed, box: boxOf(placed.flat()) };
}

type Bed = Pick<
  BedSettings,
  'widthMm' | 'depthMm' | 'wallMm' | 'marginMm' | 'keepOuts' | 'board' | 'keyed'
> &
  Partial<Pick<BedSettings, 'zero'>>;

/** One thing that is wrong with where a pocket lies. */
export type Trouble =
  /** It and another run into each other. */
  | { readonly kind: 'overlap'; readonly other: string }
  /** Less wall than asked for is left to another. */
  | { readonly kind: 'thin'; readonly other: string; readonly wallMm: number }
  /** It reaches beyond the print area. */
  | { readonly kind: 'beyond'; readonly byMm: number }
  /** It comes nearer to the edge than the margin. */
  | { readonly kind: 'margin'; readonly edgeMm: number }
  | { readonly kind: 'keep-out'; readonly what: string }
  /** It reaches over the edge of the board, or leaves too thin a wall there. */
  | { readonly kind: 'board'; readonly wallMm: number }
  /** It meets a hole of the board or its screw's head (no wall), or leaves too thin a wall to it. */
  | { readonly kind: 'hole'; readonly what: string; readonly wallMm: number };

/** Rounding of places and thinning of rings may take this of a wall without a word, mm. */
const SLACK_MM = 2 * LIGHT_MM + 0.002;

/** What is wrong with where a pocket lies among others, the gravest first. */
export function troubleOf(moved: Lying, others: readonly Lying[], bed: Bed): Trouble[] {
  const found: Trouble[] = [];
  const { box } = moved;
  const edgeMm = Math.min(box.left, box.bottom, bed.widthMm - box.right, bed.depthMm - box.top);
  if (edgeMm < -SLACK_MM) found.push({ kind: 'beyond', byMm: -edgeMm });
  for (const keepOut of bed.keepOuts ?? [])
    if (moved.rings.some((r) => ringDistance(r, keepOutRing(keepOut)) <= 0))
      found.push({ kind: 'keep-out', what: keepOut.what });
  if (bed.board) found.push(...onBoard(moved, bed));
  const walls = near(moved, others, bed.wallMm)
    .map((other) => ({ other: other.id, wallMm: gapOf(moved, other)?.distanceMm ?? 0 }))
    .sort((a, b) => a.wallMm - b.wallMm);
  for (const { other, wallMm } of walls)
    if (wallMm <= 0) found.push({ kind: 'overlap', other });
    else if (wallMm < bed.wallMm - SLACK_MM) found.push({ kind: 'thin', other, wallMm });
  if (edgeMm >= -SLACK_MM && edgeMm < bed.marginMm - SLACK_MM)
    found.push({ kind: 'margin', edgeMm });
  return found;
}

/** What is wrong between a pocket and a board of its own size. */
function onBoard({ rings, box }: Lying, bed: Bed): Trouble[] {
  const found: Trouble[] = [];
  const edge = boardRing({ zero: 'bottom-left', ...bed });
  const toEdge = Math.min(...rings.flatMap((r) => r.map((p) => withinBoard(edge, p))));
  if (toEdge < bed.wallMm - SLACK_MM) found.push({ kind: 'board', wallMm: toEdge });
  for (const { what, ring, head } of seatHoles(bed)) {
    if (boxesApart(box, boxOf(head ? [...ring, ...head] : ring)) >= bed.wallMm) continue;
    const to = (of: Ring<'bed'>): number => Math.min(...rings.map((r) => ringDistance(r, of)));
    const wallMm = head && to(head) <= 0 ? 0 : to(ring);
    if (wallMm < bed.wallMm - SLACK_MM) found.push({ kind: 'hole', what, wallMm });
  }
  return found;
}

/** Those whose boxes come within a reach. */
const near = ({ box }: Lying, others: readonly Lying[], reachMm: number): Lying[] =>
  others.filter((o) => boxesApart(box, o.box) < reachMm);

/** Where two pockets are nearest to each other; undefined where they run into each other. */
function gapOf(a: Lying, b: Lying): Gap<'bed'> | undefined {
  let least: Gap<'bed'> | undefined;
  for (const p of a.rings)
    for (const q of b.rings) {
      const gap = ringGap<'bed'>(p, q);
      if (!gap) return undefined;
      if (!least || gap.distanceMm < least.distanceMm) least = gap;
    }
  return least;
}

/** What a pocket was drawn to. */
export interface Guide {
  /** Across: a line at this x; in depth: a line at this y. */
  readonly axis: 'x' | 'y';
  readonly atMm: number;
  readonly what: 'row' | 'column' | 'centre' | 'margin';
  /** The pocket whose row or column it is. */
  readonly of?: string;
}

export interface Snapped {
  readonly place: Place;
  readonly guides: readonly Guide[];
  /** The neighbour to which exactly the least wall is left. */
  readonly wallTo?: string;
}

const micrometres = (v: number): number => Math.round(v * 1e3) / 1e3 + 0;

/**
 * Draws a place that a pocket was moved to onto what is near: the row or the column of another's centroid, the middle of the
 * bed or of the board, the margin, each along its own axis; then, along whatever axis is still free, to where exactly the least wall is left
 * to its nearest neighbour. Nothing is drawn farther than the reach; the turn stays.
 *
 * @param rings the moved pocket's light opening
 * @param place where the hand has it
 * @param reachMm how far a place may be drawn
 */
export function snapPlace(
  rings: readonly Ring<'blank'>[],
  place: Place,
  others: readonly Lying[],
  bed: Bed,
  reachMm: number,
): Snapped {
  const at = (x: number, y: number): Lying => lyingAt('', rings, { ...place, x, y });
  const here = at(place.x, place.y);
  const guides: Guide[] = [];
  const room = roomOf(bed);
  const middle = middleOf(bed);
  const along = (axis: 'x' | 'y'): number => {
    const [low, high, from, end] =
      axis === 'x'
        ? ([here.box.left, here.box.right, room.left, room.right] as const)
        : ([here.box.bottom, here.box.top, room.bottom, room.top] as const);
    const to = place[axis];
    const line = axis === 'x' ? 'column' : 'row';
    const candidates: { readonly by: number; readonly guide: Guide }[] = [
      ...others.map((o) => ({
        by: o.place[axis] - to,
        guide: { axis, atMm: o.place[axis], what: line, of: o.id } as const,
      })),
      { by: middle[axis] - to, guide: { axis, atMm: middle[axis], what: 'centre' } },
      { by: from - low, guide: { axis, atMm: from, what: 'margin' } },
      { by: end - high, guide: { axis, atMm: end, what: 'margin' } },
    ];
    let best: (typeof candidates)[number] | undefined;
    for (const c of candidates)
      if (Math.abs(c.by) <= reachMm && (!best || Math.abs(c.by) < Math.abs(best.by) - 1e-9))
        best = c;
    if (!best) return to;
    guides.push(best.guide);
    return to + best.by;
  };
  const [x, y] = [along('x'), along('y')];
  const held = guides.map(({ axis }) => axis);
  const wall = toWall(at, { x, y }, held, others, bed.wallMm, reachMm);
  return {
    place: {
      ...place,
      x: micrometres(wall?.x ?? x),
      y: micrometres(wall?.y ?? y),
    },
    guides,
    ...(wall && { wallTo: wall.other }),
  };
}

/** Steps to the place where the wall is right; distances change by no more than the step, so that few are needed. */
const WALL_STEPS = 8;
/** Walls are left thicker by no more than this, never thinner, mm. */
const WALL_MM = 0.004;

/** The nearest place with exactly the least wall to the nearest neighbour, along the axes that are free. */
function toWall(
  at: (x: number, y: number) => Lying,
  from: { readonly x: number; readonly y: number },
  held: readonly ('x' | 'y')[],
  others: readonly Lying[],
  wallMm: number,
  reachMm: number,
): { readonly x: number; readonly y: number; readonly other: string } | undefined {
  if (held.length >= 2) return undefined;
  const wanted = wallMm + SLACK_MM;
  const around = near(at(from.x, from.y), others, wanted + 2 * reachMm);
  if (around.length === 0) return undefined;
  /** The nearest neighbour, how far it is, the free direction away from it, and how fast the distance grows along that. */
  const nearest = (p: Lying) => {
    let best = { d: Infinity, ux: 0, uy: 0, slope: 0, other: '' };
    const apart = around.map((o) => ({ o, mm: boxesApart(p.box, o.box) }));
    for (const { o, mm } of apart.sort((a, b) => a.mm - b.mm)) {
      // Boxes are no farther apart than what they hold.
      if (mm >= best.d) break;
      const gap = gapOf(p, o);
      const d = gap?.distanceMm ?? 0;
      if (d >= best.d) continue;
      // Inside each other, the way out is away from the other's middle.
      const [dx, dy] = gap
        ? [gap.from.x - gap.to.x, gap.from.y - gap.to.y]
        : [p.place.x - o.place.x, p.place.y - o.place.y];
      const free = { x: held.includes('x') ? 0 : dx, y: held.includes('y') ? 0 : dy };
      const size = Math.hypot(free.x, free.y) || 1;
      const slope = size / (Math.hypot(dx, dy) || 1);
      best = { d, ux: free.x / size, uy: free.y / size, slope, other: o.id };
    }
    return best;
  };
  let { x, y } = from;
  for (let step = 0; step < WALL_STEPS; step++) {
    const { d, ux, uy, slope, other } = nearest(at(x, y));
    const short = wanted - d;
    if (short <= 0 && short > -WALL_MM)
      return Math.hypot(x - from.x, y - from.y) <= reachMm ? { x, y, other } : undefined;
    if (ux === 0 && uy === 0) return undefined;
    // Past the wanted wall by half of what it may be too thick, so that rounding leaves it thick enough.
    const by = d === 0 ? reachMm / 2 : (short + WALL_MM / 2) / Math.max(slope, 0.3);
    x += by * ux;
    y += by * uy;
    if (Math.hypot(x - from.x, y - from.y) > 1.5 * reachMm) return undefined;
  }
  return undefined;
}

/** The places in the order in which they are read: from the rear of the bed to its front, each row from the left. */
export function inReadingOrder<P extends Point<'bed'>>(places: readonly P[], rowMm: number): P[] {
  const left = [...places].sort((a, b) => b.y - a.y);
  const rows: P[][] = [];
  for (const p of left) {
    const row = rows.at(-1);
    if (row && row[0]!.y - p.y <= rowMm) row.push(p);
    else rows.push([p]);
  }
  return rows.flatMap((row) => row.sort((a, b) => a.x - b.x));
}

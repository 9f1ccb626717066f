import type { Point } from '../base/measure.ts';
import { reason } from '../base/reason.ts';
import { centroid, mapRegion, nearestOnRing } from '../geometry/measure.ts';
import type { Region, Ring } from '../geometry/shape.ts';
import { boardBox } from './board-on-bed.ts';
import { checksOf, digestOf } from './plan-bed.ts';
import type { Axis, BedPlan, BedSettings, Place, PlacedPocket } from './plan.ts';

/** How each axis is said: what a piece is turned over about, and what changes sides by it. */
export const AXES: Readonly<Record<Axis, string>> = {
  depth: 'about the axis from front to rear: left becomes right',
  width: 'about the axis from left to right: front becomes rear',
};

type Turned = Pick<BedSettings, 'widthMm' | 'depthMm' | 'board'> &
  Partial<Pick<BedSettings, 'zero'>>;

/** A bed point as it lies when the whole board is turned over about the axis through its middle. */
export const turnedPoint = ({ x, y }: Point<'bed'>, bed: Turned, axis: Axis): Point<'bed'> => {
  const { left, right, bottom, top } = boardBox(bed);
  return axis === 'depth' ? { x: left + right - x, y } : { x, y: bottom + top - y };
};

/**
 * The place of a piece that is turned over. Turned about the depth axis, reflect · turn(a) · mirror^m is
 * turn(-a) · mirror^(m + 1); about the width axis half a turn more.
 */
export function turnedPlace<P extends Place>(place: P, bed: Turned, axis: Axis): P {
  const { x, y } = turnedPoint(place, bed, axis);
  const turnDeg = ((axis === 'depth' ? 0 : 180) - place.turnDeg + 720) % 360;
  return { ...place, x, y, turnDeg, mirrored: !place.mirrored };
}

/** So near to each other, walls count as the same: less than any cutter tells apart, mm. */
const SAME_MM = 0.02;

export interface Back {
  readonly plan: BedPlan;
  /** The front's board holds the pieces turned over as well: every pocket of the back lies on one of the front. */
  readonly sameBoard: boolean;
}

/**
 * The board for the other side of the pieces: all of it turned over about one axis of the board, so that what was printed in
 * the middle of a pocket lies below what is printed in the middle of its pocket on the back.
 *
 * The outline is that of the print face, seen from its back: a blank whose back is larger or smaller than its face needs an
 * outline of its own.
 */
export function turnedOver(front: BedPlan, axis: Axis): Back {
  const { bed } = front;
  const over = (p: Point<'bed'>): Point<'bed'> => turnedPoint(p, bed, axis);
  const all = (regions: readonly Region<'bed'>[]): Region<'bed'>[] =>
    regions.map((region) => mapRegion(region, over, true));
  const pockets = front.pockets.map((p): PlacedPocket => ({
    id: p.id,
    outlineId: p.outlineId,
    place: turnedPlace(p.place, bed, axis),
    wall: all(p.wall),
    cut: all(p.cut),
    print: mapRegion(p.print, over, true),
    bleed: all(p.bleed),
    safe: all(p.safe),
    // A way still begins in the drop-out.
    trails: p.trails.map(({ closed, points }) => ({ closed, points: points.map(over) })),
    relief: p.relief.map(([a, b]) => [over(a), over(b)] as const),
    notches: all(p.notches),
    mouth: all(p.mouth),
    eject: all(p.eject),
    opening: all(p.opening),
  }));
  const { reasons, troubled } = checksOf(pockets, bed);
  const plan = {
    jobNumber: front.jobNumber,
    jobName: `${front.jobName}, back`,
    bed,
    pocketSettings: front.pocketSettings,
    pockets,
    ...(front.heights && { heights: front.heights }),
  };
  const sameBoard = boardPockets(front, { pockets }) !== undefined;
  return {
    plan: {
      ...plan,
      troubled,
      digest: digestOf(plan),
      reasons: [...reasons, reason(sameBoard ? 'back-same-board' : 'back-face-outline')],
    },
    sameBoard,
  };
}

/** Which of the front's pockets holds each piece when it is turned over, by number; undefined where another board must. */
export function boardPockets(
  front: Pick<BedPlan, 'pockets'>,
  back: Pick<BedPlan, 'pockets'>,
): readonly { readonly piece: string; readonly pocket: string }[] | undefined {
  const held = back.pockets.flatMap(({ id: piece, wall }) => {
    const on = front.pockets.find((q) => sameWall(wall, q.wall));
    return on ? [{ piece, pocket: on.id }] : [];
  });
  return held.length === back.pockets.length ? held : undefined;
}

/**
 * The plan for the back with every blank described by its back: mirrored, and lying as it is. What is placed on its face is
 * then placed as the back is read.
 */
export const byBack = (back: BedPlan): BedPlan => ({
  ...back,
  pockets: back.pockets.map((p) => ({ ...p, place: { ...p.place, mirrored: !p.place.mirrored } })),
});

const sameWall = (a: readonly Region<'bed'>[], b: readonly Region<'bed'>[]): boolean =>
  a.length === b.length &&
  a.every(({ outer }, k) => {
    const other = b[k]!.outer;
    const [c, d] = [centroid(outer), centroid(other)];
    return (
      Math.hypot(c.x - d.x, c.y - d.y) < SAME_MM && within(outer, other) && within(other, outer)
    );
  });

const within = (a: Ring<'bed'>, b: Ring<'bed'>): boolean =>
  a.every((p) => nearestOnRing(b, p).distanceMm < SAME_MM);

import { reason, type Reason } from '../base/reason.ts';
import type { BedSettings } from '../plan/plan.ts';
import { zeroCorner } from '../plan/plan-bed.ts';
import type { Point } from '../base/measure.ts';
import { arcPoints, rectangle, tableLine, type SeatSheet } from './seat.ts';

/** A stop at the zero corner, that a straight-sided item is pushed against. */
export interface StopSettings {
  readonly itemWidthMm: number;
  readonly itemDepthMm: number;
  readonly itemMm: number;
  /** How wide the stop's arms are, how long, and how thick. */
  readonly armMm: number;
  readonly reachMm: number;
  readonly stopMm: number;
  /** Radius of the hollow in the inner corner, so that the item's own corner stands free. */
  readonly hollowMm: number;
}

export const STOP: StopSettings = {
  itemWidthMm: 150,
  itemDepthMm: 100,
  itemMm: 6,
  armMm: 15,
  reachMm: 70,
  stopMm: 3,
  hollowMm: 3,
};

/**
 * An angle at the zero corner of the bed, its arms inside the bed along both edges: the item's corner lies an arm's width
 * from zero both ways. The page that is printed is the item's own size, placed there.
 */
export function stopSeat(
  s: StopSettings,
  bed: Pick<BedSettings, 'widthMm' | 'depthMm' | 'zero'>,
): SeatSheet {
  const { x: zx, y: zy } = zeroCorner(bed);
  const [sx, sy] = [zx === 0 ? 1 : -1, zy === 0 ? 1 : -1];
  /** Counted from zero into the bed. */
  const at = (x: number, y: number): Point<'bed'> => ({ x: zx + sx * x, y: zy + sy * y });
  const outward = (ring: Point<'bed'>[]): Point<'bed'>[] => (sx * sy > 0 ? ring : ring.reverse());
  const a = s.armMm;
  const r = Math.min(s.hollowMm, a / 2);
  const long = a + s.reachMm;
  const hollow = arcPoints({ x: a, y: a }, r, Math.PI / 2, Math.PI * 2).map((p) => at(p.x, p.y));
  const stop = outward([
    at(0, 0),
    at(long, 0),
    at(long, a),
    ...(r > 0 ? [...hollow].reverse() : [at(a, a)]),
    at(a, long),
    at(0, long),
  ]);
  const item = outward([
    at(a, a),
    at(a + s.itemWidthMm, a),
    at(a + s.itemWidthMm, a + s.itemDepthMm),
    at(a, a + s.itemDepthMm),
  ]);
  const reasons: Reason[] = [];
  const beyond = Math.max(
    a + s.itemWidthMm - bed.widthMm,
    a + s.itemDepthMm - bed.depthMm,
    long - Math.min(bed.widthMm, bed.depthMm),
  );
  if (beyond > 0) reasons.push(reason('stop-beyond', { beyondMm: round(beyond) }));
  if (s.stopMm >= s.itemMm)
    reasons.push(reason('stop-too-high', { stopMm: round(s.stopMm), itemMm: round(s.itemMm) }));
  if (s.reachMm > Math.min(s.itemWidthMm, s.itemDepthMm))
    reasons.push(
      reason('stop-long', {
        reachMm: round(s.reachMm),
        sideMm: round(Math.min(s.itemWidthMm, s.itemDepthMm)),
      }),
    );
  return {
    name: 'corner stop',
    widthMm: bed.widthMm,
    depthMm: bed.depthMm,
    layers: [
      { name: 'cut', what: 'the stop, to cut along or to print and lay against', closed: [stop] },
      {
        name: 'print',
        what: 'the item, as large as its page',
        closed: [item],
        words: [
          {
            at: at(a + s.itemWidthMm / 2, a + s.itemDepthMm / 2),
            heightMm: Math.min(3, s.itemWidthMm / 40),
            words: `item ${trimmed(s.itemWidthMm)} x ${trimmed(s.itemDepthMm)} mm, ${trimmed(a)} mm from zero both ways`,
          },
        ],
      },
      { name: 'board', what: 'the bed', closed: [rectangle(0, 0, bed.widthMm, bed.depthMm)] },
    ],
    section: [
      tableLine(0, a + s.itemWidthMm),
      { line: 'board', closed: true, points: rectangle(0, 0, a, s.stopMm) },
      { line: 'item', closed: true, points: rectangle(a, 0, s.itemWidthMm, s.itemMm) },
      {
        line: 'print',
        closed: false,
        points: [
          { x: a, y: s.itemMm },
          { x: a + s.itemWidthMm, y: s.itemMm },
        ],
      },
    ],
    figures: [
      { name: 'Corner of the item from zero, both ways', mm: a },
      { name: 'Page of the item, wide', mm: s.itemWidthMm },
      { name: 'Page of the item, deep', mm: s.itemDepthMm },
      { name: 'Item over the stop', mm: s.itemMm - s.stopMm },
    ],
    notes: [
      `Place the artwork's page, ${s.itemWidthMm.toFixed(2)} x ${s.itemDepthMm.toFixed(2)} mm, ${a.toFixed(2)} mm from zero both ways.`,
      'Push the item into the corner against both arms, the same two sides every time.',
    ],
    reasons,
  };
}

const trimmed = (v: number): string => String(round(v));
const round = (v: number): number => Math.round(v * 100) / 100;

import { reason, type Reason } from '../base/reason.ts';
import type { Point } from '../base/measure.ts';
import type { Clipper } from '../geometry/clipper.ts';
import { boxOf, centroid } from '../geometry/measure.ts';
import { solidOf, volumeOf, type PlanRing } from '../geometry/solid.ts';
import type { Region, Ring } from '../geometry/shape.ts';
import { leaning, outMm } from './leaning.ts';
import { crossings, rectangle, tableLine, type SeatSheet } from './seat.ts';

/** A block with a blind pocket, for a 3-D printer or a mill. */
export interface BlockSettings {
  readonly deepMm: number;
  readonly floorMm: number;
  /** Least wall round the pocket. */
  readonly wallMm: number;
  /** Width of the way for a finger across the pocket, and how far it reaches beyond; 0: none. */
  readonly fingerMm: number;
  /** Lean of the pocket's walls, degrees from upright, opening upwards; the clearance holds at the floor. */
  readonly draftDeg: number;
}

export const BLOCK: BlockSettings = { deepMm: 5, floorMm: 3, wallMm: 8, fingerMm: 16, draftDeg: 0 };

/** The block as a seat: plan, section, and body. Its corner at the lower left is cut off, so that it lies one way only. */
export function blockSeat(
  ring: Ring<'blank'>,
  thicknessMm: number,
  clearanceMm: number,
  s: BlockSettings,
  clipper: Clipper,
): SeatSheet {
  const outline: Region<'bed'> = { outer: ring.map(({ x, y }) => ({ x, y })), holes: [] };
  const wall = clipper
    .offset([outline], clearanceMm, 'outward')
    .map(({ outer }) => ({ outer, holes: [] }));
  const box = boxOf(wall.flatMap(({ outer }) => outer));
  const c = centroid(outline.outer);
  const reach = s.fingerMm / 2;
  const way: Region<'bed'>[] =
    s.fingerMm > 0
      ? [
          {
            outer: rectangle(
              box.left - reach,
              c.y - s.fingerMm / 2,
              box.right - box.left + 2 * reach,
              s.fingerMm,
            ),
            holes: [],
          },
        ]
      : [];
  const opening = clipper.union(wall, way).map(({ outer }) => ({ outer, holes: [] }));
  const out = outMm(s.deepMm, s.draftDeg);
  const mouth = clipper.offset(opening, out, 'outward');
  const all = boxOf(mouth.flatMap(({ outer }) => outer));
  const [dx, dy] = [s.wallMm - all.left, s.wallMm - all.bottom];
  const on = (points: readonly Point<'bed'>[]): Point<'bed'>[] =>
    points.map(({ x, y }) => ({ x: x + dx, y: y + dy }));
  const [widthMm, depthMm] = [
    all.right - all.left + 2 * s.wallMm,
    all.top - all.bottom + 2 * s.wallMm,
  ];
  const key = s.wallMm / 2;
  const block: Ring<'bed'> = [
    { x: key, y: 0 },
    { x: widthMm, y: 0 },
    { x: widthMm, y: depthMm },
    { x: 0, y: depthMm },
    { x: 0, y: key },
  ];
  const high = s.floorMm + s.deepMm;
  const narrow = opening.map(({ outer }) => ({ outer: on(outer), holes: [] }));
  const levels = leaning(clipper, narrow, out);
  const [above, pockets] = [levels[0]!, levels[levels.length - 1]!].map(({ regions }) =>
    regions.map(({ outer }) => outer),
  ) as [Ring<'bed'>[], Ring<'bed'>[]];
  const rings: PlanRing[] = [{ ring: block, area: 0 }];
  const heights = [high];
  levels.forEach(({ regions, share }, k) => {
    // What closes as it leans outward stands full: an island would have no foot.
    for (const { outer } of regions) {
      rings.push({ ring: outer, ...(k === 0 && { area: 1 }) });
      heights.push(high - s.deepMm * share);
    }
  });
  const solid = solidOf(rings, (areas, r) => (areas === 1 ? high : areas === 3 ? heights[r]! : 0));
  const reasons: Reason[] = [];
  const round = (v: number): number => Math.round(v * 100) / 100;
  if (s.deepMm >= thicknessMm)
    reasons.push(
      reason('block-too-deep', { deepMm: round(s.deepMm), thicknessMm: round(thicknessMm) }),
    );
  const middle = on([c])[0]!;
  // Cut through the blank's centre: each stretch of the opening with its floor, its leaning sides and the blank in it.
  const through = (of: readonly Ring<'bed'>[]): [left: number, right: number][] => {
    const at = crossings(of, middle.y);
    return Array.from({ length: at.length / 2 }, (_, k) => [at[2 * k]!, at[2 * k + 1]!]);
  };
  const blank = on(outline.outer);
  const edges = through(above);
  const profile = through(pockets).flatMap(([left, right]): Point<'bed'>[] => [
    { x: Math.max(...edges.map(([l]) => l).filter((l) => l <= left + 1e-6)), y: high },
    { x: left, y: s.floorMm },
    { x: right, y: s.floorMm },
    { x: Math.min(...edges.map(([, r]) => r).filter((r) => r >= right - 1e-6)), y: high },
  ]);
  return {
    name: 'block',
    widthMm,
    depthMm,
    layers: [
      { name: 'pocket', what: 'wall of the pocket at its floor', closed: pockets },
      ...(out > 0
        ? [{ name: 'mouth', what: 'where its leaning wall ends above', closed: above }]
        : []),
      { name: 'print', what: 'the blank', closed: [blank] },
      { name: 'edge', what: 'edge of the block', closed: [block] },
      { name: 'board', what: 'the page', closed: [rectangle(0, 0, widthMm, depthMm)] },
    ],
    section: [
      tableLine(-5, widthMm + 5),
      {
        line: 'board',
        closed: true,
        points: [
          { x: 0, y: 0 },
          { x: 0, y: high },
          ...profile,
          { x: widthMm, y: high },
          { x: widthMm, y: 0 },
        ],
      },
      ...through([blank]).flatMap(([left, right]): SeatSheet['section'][number][] => [
        {
          line: 'item',
          closed: true,
          points: rectangle(left, s.floorMm, right - left, thicknessMm),
        },
        {
          line: 'print',
          closed: false,
          points: [
            { x: left, y: s.floorMm + thicknessMm },
            { x: right, y: s.floorMm + thicknessMm },
          ],
        },
      ]),
    ],
    figures: [
      { name: 'Face over the block', mm: thicknessMm - s.deepMm },
      { name: 'Face over the table', mm: s.floorMm + thicknessMm },
      ...(out > 0 ? [{ name: 'Upper edge out from the floor', mm: out }] : []),
      { name: 'Block across', mm: widthMm },
      { name: 'Block in depth', mm: depthMm },
    ],
    notes: [
      `The blank's centre lies at ${middle.x.toFixed(2)}, ${middle.y.toFixed(2)} mm from the corner that would be at the lower left; that corner is cut off, so that the block lies one way only.`,
      `Body of ${(volumeOf(solid) / 1000).toFixed(1)} cm³, as STL and 3MF, in mm; a printed block shrinks: measure the pocket before it is used.`,
    ],
    reasons,
    solid,
  };
}

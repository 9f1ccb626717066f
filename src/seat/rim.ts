import { reason, type Reason } from '../base/reason.ts';
import type { Clipper } from '../geometry/clipper.ts';
import { boxOf, centroid, regionArea } from '../geometry/measure.ts';
import type { Region } from '../geometry/shape.ts';
import type { BedSettings } from '../plan/plan.ts';
import type { PlatePocket } from './plates.ts';
import { rectangle, tableLine, type SeatSheet } from './seat.ts';

/** A lip of clear ink round each blank, printed in passes. */
export interface RimSettings {
  /** How high it shall stand, and what one pass gives. */
  readonly highMm: number;
  readonly passMm: number;
  readonly wideMm: number;
  /** Left open on two sides, for a finger; 0: closed all round. */
  readonly openMm: number;
  /** What it is printed on. */
  readonly sheetMm: number;
}

/** To start from; common practice, no source. */
export const RIM: RimSettings = { highMm: 0.6, passMm: 0.03, wideMm: 3, openMm: 15, sheetMm: 2 };

/** A lower rim lets a piece ride over it, mm. Common practice, no source. */
const LEAST_MM = 0.3;

/** Passes for a height: as many whole ones as reach it. */
export const passesFor = (highMm: number, passMm: number): number =>
  Math.max(1, Math.ceil(highMm / passMm - 1e-9));

/**
 * The rims of a bed: all within `wideMm` of a wall and in no pocket, two openings across the middle of each.
 *
 * @param thicknessMm of the thinnest blank on the bed; absent: not known, and nothing is said of the head
 */
export function rimSeat(
  bed: Pick<BedSettings, 'widthMm' | 'depthMm' | 'zero'>,
  pockets: readonly PlatePocket[],
  s: RimSettings,
  clearName: string,
  clipper: Clipper,
  thicknessMm?: number,
): SeatSheet {
  const walls = clipper.union(
    pockets.flatMap(({ wall }) => wall.map(({ outer }) => ({ outer, holes: [] }))),
  );
  const gaps: Region<'bed'>[] = pockets.flatMap(({ wall }) =>
    s.openMm > 0
      ? wall.map(({ outer }) => {
          const [box, c] = [boxOf(outer), centroid(outer)];
          const over = s.wideMm + 1;
          const ring =
            // Across the narrower way: there fingers reach round the blank.
            box.right - box.left < box.top - box.bottom
              ? rectangle(
                  box.left - over,
                  c.y - s.openMm / 2,
                  box.right - box.left + 2 * over,
                  s.openMm,
                )
              : rectangle(
                  c.x - s.openMm / 2,
                  box.bottom - over,
                  s.openMm,
                  box.top - box.bottom + 2 * over,
                );
          return { outer: ring, holes: [] };
        })
      : [],
  );
  const areas = clipper.difference(clipper.offset(walls, s.wideMm, 'inward'), [...walls, ...gaps]);
  const passes = passesFor(s.highMm, s.passMm);
  const standsMm = passes * s.passMm;
  const areaMm2 = areas.reduce((sum, a) => sum + regionArea(a), 0);
  const ml = (areaMm2 * standsMm) / 1000;
  const round = (v: number): number => Math.round(v * 100) / 100;
  const reasons: Reason[] = [];
  if (thicknessMm !== undefined && standsMm >= thicknessMm)
    reasons.push(
      reason('rim-too-high', { highMm: round(standsMm), thicknessMm: round(thicknessMm) }),
    );
  if (standsMm < LEAST_MM)
    reasons.push(reason('rim-low', { highMm: round(standsMm), leastMm: LEAST_MM }));
  const beyond = boxOf(areas.flatMap(({ outer }) => outer));
  if (
    beyond.left < 0 ||
    beyond.bottom < 0 ||
    beyond.right > bed.widthMm ||
    beyond.top > bed.depthMm
  )
    reasons.push(reason('rim-beyond'));
  // A section across the first pocket.
  const first = boxOf(pockets[0]!.wall.flatMap(({ outer }) => outer));
  const across = Math.min(40, first.right - first.left);
  const item = thicknessMm ?? 3;
  return {
    name: 'clear-ink rim',
    widthMm: bed.widthMm,
    depthMm: bed.depthMm,
    layers: [
      {
        name: 'rim',
        what: `clear ink, ${passes} passes`,
        closed: areas.flatMap(({ outer, holes }) => [outer, ...holes]),
      },
      {
        name: 'pocket',
        what: 'where the rim begins: the blank and its clearance; not to be cut',
        closed: walls.flatMap(({ outer, holes }) => [outer, ...holes]),
      },
      { name: 'board', what: 'the bed', closed: [rectangle(0, 0, bed.widthMm, bed.depthMm)] },
      {
        name: 'mark',
        what: 'numbers',
        words: pockets.map(({ id, wall }) => ({
          at: centroid(wall[0]!.outer),
          heightMm: 4,
          words: id,
        })),
      },
    ],
    section: [
      tableLine(-8, across + 8),
      { line: 'board', closed: true, points: rectangle(-8, 0, across + 16, s.sheetMm) },
      { line: 'item', closed: true, points: rectangle(0.3, s.sheetMm, across - 0.6, item) },
      ...[-s.wideMm, across].map((x) => ({
        line: 'print' as const,
        closed: true,
        points: rectangle(x, s.sheetMm, s.wideMm, standsMm),
      })),
    ],
    figures: [
      { name: 'Passes', mm: passes, count: true },
      { name: 'The rim then stands', mm: standsMm },
      ...(thicknessMm === undefined
        ? []
        : [{ name: 'Face of the thinnest blank over the rim', mm: thicknessMm - standsMm }]),
    ],
    notes: [
      `Print the page ${passes} times on the same sheet, at 100 %, each pass cured: ${passes} x ${s.passMm.toFixed(3)} mm = ${standsMm.toFixed(2)} mm.`,
      `Clear ink in all: ${ml.toFixed(1)} ml as it stands, what is lost not counted.`,
      `Raise the head by the height of the rim before the last passes, and set it for the blanks anew; never less than the machine's own head gap.`,
    ],
    reasons,
    print: { ink: { kind: 'clear', name: clearName, growMm: 0 }, areas },
  };
}

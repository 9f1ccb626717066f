import type { Point } from '../base/measure.ts';
import { reason, type Reason } from '../base/reason.ts';
import { decide } from '../check/decide.ts';
import type { Clipper } from '../geometry/clipper.ts';
import { centroid, mapRegion, nearestOnRing, ringDistance } from '../geometry/measure.ts';
import type { Region } from '../geometry/shape.ts';
import type { Pocket, PocketSettings, Tool } from './pocket.ts';

/** What a cutter leaves at a corner is reported from this depth on, mm; below it lies the polygons' own error. */
const LEAST_DEPTH_MM = 0.01;

/** Half the width of what the tool takes away: kerf / 2, or the cutter's radius. */
export const toolRadiusMm = (tool: Tool): number =>
  tool.kind === 'beam' ? tool.kerfMm / 2 : tool.radiusMm;

/** How far the tool's centre runs from the seat outline, outward where positive: clearance less the tool's radius. */
export const cutShiftMm = ({ clearanceMm, tool }: PocketSettings): number =>
  clearanceMm - toolRadiusMm(tool);

export interface Seat {
  readonly outlineId: string;
  readonly blank: number;
  /** The widest outline within the pocket's depth. */
  readonly region: Region<'sheet'>;
  /** Half-width of the band that holds the whole outer ring of the seat in 95 % of cases, mm. */
  readonly wholeU?: number;
}

/**
 * The pocket for one blank, in the blank frame: its origin is the centroid of the seat's outer ring, its axes are the
 * sheet's.
 *
 * - wall: the seat's outer ring grown by the clearance. Holes of the blank are left out: the pocket is a plain opening.
 * - cut: the wall shrunk by the tool's radius; kerf is taken here and nowhere else.
 * - unreached (mills): what the cutter on its path leaves standing inside the wall.
 * - bleed, safe: the print outline, its holes included, grown and shrunk.
 *
 * Wall and cut err outward, each by at most the clipper's arc tolerance: the pocket is never tighter than asked for.
 */
export function pocketOf(
  clipper: Clipper,
  seat: Seat,
  print: Region<'sheet'>,
  settings: PocketSettings,
): Pocket {
  const { clearanceMm, tool, bleedMm, safeMm } = settings;
  const radiusMm = toolRadiusMm(tool);
  const origin = centroid(seat.region.outer);
  const toBlank = (p: Point<'sheet'>): Point<'blank'> => ({ x: p.x - origin.x, y: p.y - origin.y });
  const solid: Region<'blank'> = { outer: seat.region.outer.map(toBlank), holes: [] };
  const face: Region<'blank'> = mapRegion<'sheet', 'blank'>(print, toBlank);

  // Where the clearance closes a bay, the ground inside it would be a loose island: it goes with the opening.
  const wall = clipper
    .offset([solid], clearanceMm, 'outward')
    .map(({ outer }): Region<'blank'> => ({ outer, holes: [] }));
  const cut = clipper.offset(wall, -radiusMm, 'outward');
  const taken = clipper.offset(cut, radiusMm, 'outward');
  const left = tool.kind === 'mill' ? clipper.difference(wall, taken) : [];
  const depthOf = ({ outer }: Region<'blank'>): number =>
    Math.max(...outer.map((p) => distanceTo(taken, p)));
  const unreached = left.filter((region) => depthOf(region) > LEAST_DEPTH_MM);

  const facts = { blank: seat.blank };
  const reasons: Reason[] = [];
  if (cut.length === 0) {
    reasons.push(reason('cut-vanishes', { ...facts, radiusMm: round(radiusMm) }));
  } else if (cut.length > 1) {
    reasons.push(
      reason('cut-falls-apart', { ...facts, parts: cut.length, radiusMm: round(radiusMm) }),
    );
  }
  if (cut.length > 0 && unreached.length > 0) {
    const depthMm = Math.max(...unreached.map(depthOf));
    const blocking = unreached.filter(
      (region) => clipper.intersection([region], [solid]).length > 0,
    );
    const intoBlank = Math.max(
      0,
      ...blocking.flatMap((region) =>
        clipper
          .intersection([region], [solid])
          .flatMap(({ outer }) => outer.map((p) => distanceTo(taken, p))),
      ),
    );
    reasons.push(
      intoBlank > LEAST_DEPTH_MM
        ? reason('corner-blocks', {
            ...facts,
            corners: blocking.length,
            depthMm: round(intoBlank),
            radiusMm: round(radiusMm),
          })
        : reason('corner-unreached', {
            ...facts,
            corners: unreached.length,
            depthMm: round(depthMm),
            radiusMm: round(radiusMm),
          }),
    );
  }
  // The play per side is the clearance, known to the outline's U; the blank goes in when it is proven not below zero.
  if (seat.wholeU !== undefined && decide(clearanceMm, seat.wholeU, { least: 0 }) !== 'proven') {
    reasons.push(
      reason('clearance-below-u', {
        ...facts,
        clearanceMm: round(clearanceMm),
        uMm: round(seat.wholeU),
      }),
    );
  }
  const safe = clipper.offset([face], -safeMm, 'inward');
  if (safe.length === 0) reasons.push(reason('safe-vanishes', { ...facts, safeMm: round(safeMm) }));

  return {
    outlineId: seat.outlineId,
    wall,
    cut,
    print: face,
    bleed: clipper.offset([face], bleedMm, 'outward'),
    safe,
    unreached,
    reasons,
  };
}

/** How far a point lies from the nearest edge of any of the regions, mm. */
const distanceTo = (regions: readonly Region<'blank'>[], p: Point<'blank'>): number =>
  Math.min(
    ...regions.flatMap(({ outer, holes }) =>
      [outer, ...holes].map((ring) => nearestOnRing(ring, p).distanceMm),
    ),
  );

const round = (value: number): number => Math.round(value * 100) / 100;

/** Least distance between two pockets' walls, mm; 0 where they touch or overlap. */
export const wallDistance = <F extends 'blank' | 'bed'>(
  a: readonly Region<F>[],
  b: readonly Region<F>[],
): number => Math.min(...a.flatMap((p) => b.map((q) => ringDistance<F>(p.outer, q.outer))));

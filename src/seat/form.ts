import { reason, type Reason } from '../base/reason.ts';
import type { Point } from '../base/measure.ts';
import type { Clipper } from '../geometry/clipper.ts';
import {
  boxOf,
  centroid,
  insideRegion,
  nearestOnRing,
  perimeter,
  resample,
} from '../geometry/measure.ts';
import { solidOf, volumeOf, type PlanRing, type Solid } from '../geometry/solid.ts';
import type { Region, Ring } from '../geometry/shape.ts';
import { leaning, outMm } from './leaning.ts';
import { circleRing, crossings, rectangle, tableLine, type SeatSheet } from './seat.ts';

/** A raised tool that plastic sheet is drawn over, to make trays. */
export interface FormSettings {
  /** How high the tool stands over its plate: how deep the tray is. */
  readonly highMm: number;
  /** Lean of its walls, degrees from upright. */
  readonly draftDeg: number;
  /** What the plastic shrinks by as it cools, %. */
  readonly shrinkPercent: number;
  readonly plateMm: number;
  readonly marginMm: number;
  readonly ventMm: number;
  /** From vent to vent along the foot, at most. */
  readonly everyMm: number;
  /** The plastic that is drawn over it. */
  readonly sheetMm: number;
}

/** To start from; common practice, no source: the sheet's maker says what it shrinks by. */
export const FORM: FormSettings = {
  highMm: 6,
  draftDeg: 5,
  shrinkPercent: 0.5,
  plateMm: 6,
  marginMm: 20,
  ventMm: 1,
  everyMm: 20,
  sheetMm: 0.8,
};

/** Less lean holds the tray on the tool, degrees. Common practice, no source. */
const LEAST_DEG = 3;
/** From foot to the edge of a vent, mm. */
const BESIDE_MM = 0.3;

/** How far the foot stands out from the top: h tan(draft). */
export const footOut = ({ highMm, draftDeg }: Pick<FormSettings, 'highMm' | 'draftDeg'>): number =>
  outMm(highMm, draftDeg);

/** A forming tool as it is computed: mm, lower left corner of its plate at 0, 0. */
export interface FormingTool {
  readonly top: readonly Region<'bed'>[];
  readonly foot: readonly Region<'bed'>[];
  readonly vents: readonly Point<'bed'>[];
  readonly widthMm: number;
  readonly depthMm: number;
  readonly solid: Solid;
}

/** A raised outline with leaning walls on a plate, vents along its foot where the sheet is drawn down last. */
export function formingTool(
  ring: Ring<'blank'>,
  clearanceMm: number,
  s: FormSettings,
  clipper: Clipper,
): FormingTool {
  const grow = 1 + s.shrinkPercent / 100;
  const about = ring.map(({ x, y }): Point<'bed'> => ({ x: x * grow, y: y * grow }));
  // Holes of the blank are left standing full: a tray has none.
  const wall = clipper
    .offset([{ outer: about, holes: [] }], clearanceMm * grow, 'outward')
    .map(({ outer }) => ({ outer, holes: [] }));
  const out = footOut(s);
  const reach = boxOf(clipper.offset(wall, out, 'outward').flatMap(({ outer }) => outer));
  const [dx, dy] = [s.marginMm - reach.left, s.marginMm - reach.bottom];
  const moved = (regions: readonly Region<'bed'>[]): Region<'bed'>[] =>
    regions.map(({ outer, holes }) => {
      const by = (r: Ring<'bed'>): Ring<'bed'> => r.map(({ x, y }) => ({ x: x + dx, y: y + dy }));
      return { outer: by(outer), holes: holes.map(by) };
    });
  const widthMm = reach.right - reach.left + 2 * s.marginMm;
  const depthMm = reach.top - reach.bottom + 2 * s.marginMm;
  const base = moved(wall);
  const levels = leaning(clipper, base, out);
  const rings: PlanRing[] = [{ ring: rectangle(0, 0, widthMm, depthMm), area: 0 }];
  const heights: number[] = [s.plateMm];
  const put = (r: Ring<'bed'>, z: number, area?: number): void => {
    rings.push({ ring: r, ...(area !== undefined && { area }) });
    heights.push(z);
  };
  for (const { regions, share } of levels)
    for (const { outer, holes } of regions)
      for (const r of [outer, ...holes]) put(r, s.plateMm + s.highMm * share);
  const [foot, top] = [levels[0]!.regions, levels[levels.length - 1]!.regions];
  const vents = s.ventMm > 0 ? ventsAlong(foot, s, clipper) : [];
  for (const v of vents)
    put(
      circleRing(v, s.ventMm / 2).filter((_, k) => k % 2 === 0),
      s.plateMm,
      1,
    );
  const solid = solidOf(rings, (areas, r) => (areas === 1 ? heights[r]! : 0));
  return { top, foot, vents, widthMm, depthMm, solid };
}

/** Vents beside the foot, each clear of the others and of the foot. */
function ventsAlong(
  foot: readonly Region<'bed'>[],
  s: FormSettings,
  clipper: Clipper,
): Point<'bed'>[] {
  const off = s.ventMm / 2 + BESIDE_MM;
  const vents: Point<'bed'>[] = [];
  for (const { outer, holes } of clipper.offset(foot, off, 'outward'))
    for (const ring of [outer, ...holes]) {
      const count = Math.max(3, Math.ceil(perimeter(ring) / s.everyMm));
      for (const p of resample(ring, perimeter(ring) / count)) {
        const clear =
          foot.every((f) => !insideRegion(f, p)) &&
          foot.every((f) =>
            [f.outer, ...f.holes].every(
              (r) => nearestOnRing(r, p).distanceMm > s.ventMm / 2 + 0.05,
            ),
          ) &&
          vents.every((v) => Math.hypot(v.x - p.x, v.y - p.y) > 2 * s.ventMm);
        if (clear) vents.push(p);
      }
    }
  return vents;
}

/** The tool as a seat: its plan, a section with the sheet drawn over it, and its body. */
export function formSeat(
  ring: Ring<'blank'>,
  thicknessMm: number,
  clearanceMm: number,
  s: FormSettings,
  clipper: Clipper,
): SeatSheet {
  const tool = formingTool(ring, clearanceMm, s, clipper);
  const { top, foot, vents, widthMm, depthMm, solid } = tool;
  const reasons: Reason[] = [];
  const round = (v: number): number => Math.round(v * 100) / 100;
  if (s.highMm >= thicknessMm)
    reasons.push(
      reason('form-too-deep', { deepMm: round(s.highMm), thicknessMm: round(thicknessMm) }),
    );
  if (s.draftDeg < LEAST_DEG)
    reasons.push(reason('form-steep', { degrees: round(s.draftDeg), least: LEAST_DEG }));
  if (vents.length === 0) reasons.push(reason('form-no-vents'));
  const rings = (of: readonly Region<'bed'>[]): Ring<'bed'>[] =>
    of.flatMap(({ outer, holes }) => [outer, ...holes]);
  const y = centroid(top[0]!.outer).y;
  const highest = s.plateMm + s.highMm;
  const [tops, feet] = [crossings(rings(top), y), crossings(rings(foot), y)];
  const bodies: Point<'bed'>[][] = [];
  for (let k = 0; k + 1 < tops.length; k += 2) {
    const [l, r] = [tops[k]!, tops[k + 1]!];
    const left = Math.max(...feet.filter((x) => x <= l));
    const right = Math.min(...feet.filter((x) => x >= r));
    bodies.push([
      { x: left, y: s.plateMm },
      { x: right, y: s.plateMm },
      { x: r, y: highest },
      { x: l, y: highest },
    ]);
  }
  const t = s.sheetMm;
  const drawn: Point<'bed'>[] = [
    { x: 0, y: s.plateMm + t },
    ...bodies.flatMap(([a, b, c, d]) => [
      { x: a!.x - t, y: s.plateMm + t },
      { x: d!.x, y: highest + t },
      { x: c!.x, y: highest + t },
      { x: b!.x + t, y: s.plateMm + t },
    ]),
    { x: widthMm, y: s.plateMm + t },
  ];
  return {
    name: 'forming tool',
    widthMm,
    depthMm,
    layers: [
      { name: 'pocket', what: 'top of the tool: floor of the tray', closed: rings(top) },
      { name: 'foot', what: 'foot of its leaning wall', closed: rings(foot) },
      {
        name: 'cut',
        what: 'vents, to be drilled through',
        closed: vents.map((v) => circleRing(v, s.ventMm / 2)),
      },
      { name: 'board', what: 'the plate', closed: [rectangle(0, 0, widthMm, depthMm)] },
    ],
    section: [
      tableLine(-5, widthMm + 5),
      { line: 'board', closed: true, points: rectangle(0, 0, widthMm, s.plateMm) },
      ...bodies.map((points) => ({ line: 'board' as const, closed: true, points })),
      { line: 'print', closed: false, points: drawn },
    ],
    standsOut: 'the plastic drawn over it',
    figures: [
      { name: 'Foot out from the top', mm: footOut(s) },
      { name: 'Face over the rim of the tray', mm: thicknessMm - s.highMm },
      { name: 'Vents', mm: vents.length, count: true },
      { name: 'Plate across', mm: widthMm },
      { name: 'Plate in depth', mm: depthMm },
    ],
    notes: [
      `The tool is ${s.shrinkPercent.toFixed(2)} % larger than the tray, which shrinks as it cools; the tray's floor has the pocket's clearance all round.`,
      `Walls lean by ${s.draftDeg.toFixed(1)} degrees; body of ${(volumeOf(solid) / 1000).toFixed(1)} cm³, as STL and 3MF, in mm.`,
      'Hot sheet and heaters burn, and hot plastic gives off fumes: gloves, extraction, and what the machine’s maker says.',
    ],
    reasons,
    solid,
  };
}

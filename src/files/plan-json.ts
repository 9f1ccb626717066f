import type { AsPlanned } from '../after/kept.ts';
import type { Point } from '../base/measure.ts';
import { Refusal } from '../base/reason.ts';
import { signedArea } from '../geometry/measure.ts';
import type { Region, Ring } from '../geometry/shape.ts';
import { boardRing, boardWays, seatHoles } from '../plan/board-on-bed.ts';
import type { BedPlan, Place, ZeroCorner } from '../plan/plan.ts';
import { MATERIALS, type MaterialId } from '../pocket/material.ts';
import { full, type Tool } from '../pocket/pocket.ts';
import { scaleFor } from './drawing.ts';
import { FILE_SETTINGS, isCutterScale, type CutterScale, type FileSettings } from './settings.ts';

type Pair = readonly [number, number];
const pair = ({ x, y }: Point<'bed'>): Pair => [x, y];
const rings = (regions: readonly Region<'bed'>[]): Pair[][] =>
  regions.flatMap(({ outer, holes }) => [outer, ...holes].map((r) => r.map(pair)));

/**
 * The plan as data: `bed_mm`, `pockets` (`id`, `outline`, `place`, rings `pocket`, `cut`, `print`, `bleed` in the bed frame, mm;
 * outer rings counter-clockwise, holes clockwise, the first vertex not repeated), of a board of its own size `board_mm` (its finished
 * edge, and walls of the holes of its seat), `digest`.
 */
export function planJson(
  plan: BedPlan,
  settings: Pick<FileSettings, 'cutterPerMille'> = FILE_SETTINGS,
): Uint8Array {
  const { bed } = plan;
  const cutterPerMille = scaleFor(plan, settings);
  const s = full(plan.pocketSettings);
  const ways = boardWays(bed, plan.pocketSettings);
  const value = {
    snugline: 1,
    job: { number: plan.jobNumber, name: plan.jobName },
    unit: 'mm',
    frame: 'origin at the lower left corner of the bed seen from its front, x right, y up',
    bed_mm: [bed.widthMm, bed.depthMm],
    zero: bed.zero,
    ...(bed.board && {
      board_mm: {
        size: [bed.board.widthMm, bed.board.depthMm],
        edge: boardRing(bed).map(pair),
        ...(bed.board.seat && { seat: bed.board.seat.kind, proud: bed.board.seat.proudMm }),
        holes: seatHoles(bed).map(({ what, at, ring }) => {
          const way = ways.holes.find((h) => h.what === what);
          return {
            what,
            at: pair(at),
            wall: ring.map(pair),
            ...(way && { cut: way.points.map(pair) }),
          };
        }),
      },
    }),
    settings: {
      clearance_mm: s.clearanceMm,
      ...(s.moreMm.some((v) => v > 0) && { clearance_more_mm: s.moreMm }),
      ...(s.along.length > 0 && {
        clearance_along: s.along.map(({ blank, from, to, clearanceMm }) => ({
          blank,
          from,
          to,
          clearance_mm: clearanceMm,
        })),
      }),
      tool: s.tool.kind,
      ...('kerfMm' in s.tool && { kerf_mm: s.tool.kerfMm }),
      ...('radiusMm' in s.tool && { cutter_radius_mm: s.tool.radiusMm }),
      ...('offsetMm' in s.tool && { blade_offset_mm: s.tool.offsetMm }),
      ...(cutterPerMille.some((v) => v !== 0) && { cutter_per_mille: cutterPerMille }),
      ...(s.material !== undefined && { material: s.material }),
      ...(s.stock !== undefined && { board: s.stock.name }),
      hold: s.hold,
      ...(s.line === 'outside' && { line: s.line }),
      ...(s.hold === 'blind' && { depth_mm: s.depthMm }),
      widened: s.widen,
      relief: s.relief,
      ...(s.corners !== 'round' && { corners: s.corners }),
      ...(s.draftDeg > 0 && { draft_deg: s.draftDeg }),
      ...(s.chamferMm > 0 && { chamfer_mm: s.chamferMm }),
      layout: bed.layout ?? 'rows',
      bleed_mm: s.bleedMm,
      safe_mm: s.safeMm,
      rows: bed.rows,
      columns: bed.columns,
      ...(bed.pitchMm ? { pitch_mm: bed.pitchMm } : {}),
      wall_mm: bed.wallMm,
      margin_mm: bed.marginMm,
      ...(bed.boards !== undefined && { boards: bed.boards }),
      ...(bed.turnedAbout !== undefined && { turned_about: bed.turnedAbout }),
    },
    pockets: plan.pockets.map((p) => ({
      id: p.id,
      outline: p.outlineId,
      place: {
        x: p.place.x,
        y: p.place.y,
        turn_deg: p.place.turnDeg,
        mirrored: p.place.mirrored,
      },
      pocket: rings(p.wall),
      cut: rings(p.cut),
      print: rings([p.print]),
      bleed: rings(p.bleed),
      ...(p.relief.length > 0 && { relief: p.relief.map((way) => way.map(pair)) }),
      ...(p.notches.length > 0 && { notch: rings(p.notches) }),
      ...(p.mouth.length > 0 && { mouth: rings(p.mouth) }),
      ...(p.eject.length > 0 && { eject: rings(p.eject) }),
    })),
    ...(plan.heights && {
      heights_mm: plan.heights.prints.map((h) => ({
        what: h.what,
        panel: h.panel,
        value: h.valueMm,
        highest: h.highestMm,
        head: h.headMm,
      })),
    }),
    reasons: plan.reasons.map(({ code, level, message, remedy }) => ({
      code,
      level,
      message,
      remedy,
    })),
    digest: plan.digest,
  };
  return new TextEncoder().encode(`${JSON.stringify(value)}\n`);
}

/** A board of its own size: its finished edge, and the holes of its seat with the tool's way where it has one; bed mm. */
export interface FiledBoard {
  readonly edge: Ring<'bed'>;
  readonly holes: readonly {
    readonly what: string;
    readonly at: Point<'bed'>;
    readonly wall: Ring<'bed'>;
    readonly cut?: Ring<'bed'>;
  }[];
}

/** What plan.json says of a board that was cut, bed mm. */
export interface FiledPlan {
  readonly job: { readonly number: string; readonly name: string };
  readonly bedMm: readonly [width: number, depth: number];
  readonly zero: ZeroCorner;
  readonly clearanceMm: number;
  readonly tool: Tool;
  /** What was allowed for of the cutter's scale along x and y, parts in a thousand. */
  readonly cutterPerMille: CutterScale;
  /** What the board is made of; absent: it was not said, or is not known here. */
  readonly material?: MaterialId;
  /** What the panel of the printer wants for each print, mm. */
  readonly heights: readonly { readonly what: string; readonly valueMm: number }[];
  readonly pockets: readonly (AsPlanned & { readonly place: Place })[];
  /** A board of its own size; absent: it covers the bed. */
  readonly board?: FiledBoard;
  readonly digest: string;
}

/**
 * Reads a plan.json back.
 *
 * @param file its name, for the sentences
 * @throws Refusal `plan-file-unread` with what is wrong
 */
export function readPlanJson(bytes: Uint8Array, file: string): FiledPlan {
  const refuse = (what: string): Refusal => new Refusal('plan-file-unread', { file, what });
  let value: unknown;
  try {
    value = JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(bytes));
  } catch {
    throw refuse('it is not JSON in UTF-8');
  }
  if (!isRecord(value) || value.snugline !== 1 || !Array.isArray(value.pockets))
    throw refuse('it is no plan of this version');
  const { job, bed_mm: bed, zero, settings, digest } = value;
  const pair = (v: unknown): v is Pair =>
    Array.isArray(v) && v.length === 2 && v.every((n) => typeof n === 'number' && isFinite(n));
  if (!pair(bed)) throw refuse('its bed has no size');
  if (!isRecord(settings) || typeof settings.clearance_mm !== 'number')
    throw refuse('it does not say the clearance');
  const regions = (v: unknown, what: string): Region<'bed'>[] => {
    if (!Array.isArray(v) || !v.every((r) => Array.isArray(r) && r.length >= 3 && r.every(pair)))
      throw refuse(`${what} holds no rings`);
    return grouped((v as Pair[][]).map((r) => r.map(([x, y]) => ({ x, y }))));
  };
  const pockets = value.pockets.map((p: unknown, k) => {
    const what = `pocket ${k + 1}`;
    if (!isRecord(p) || typeof p.id !== 'string' || typeof p.outline !== 'string')
      throw refuse(`${what} has no number or no outline`);
    const { x, y, turn_deg: turnDeg, mirrored } = isRecord(p.place) ? p.place : {};
    if (![x, y, turnDeg].every((n) => typeof n === 'number')) throw refuse(`${what} has no place`);
    const relief = Array.isArray(p.relief) ? (p.relief as Pair[][]) : [];
    const wall = regions(p.pocket, what);
    if (wall.length === 0) throw refuse(`${what} has no wall`);
    return {
      id: p.id,
      outlineId: p.outline,
      wall,
      cut: regions(p.cut, what),
      relief: relief.map(([a, b]) => [point(a!), point(b!)] as const),
      place: {
        x: x as number,
        y: y as number,
        turnDeg: turnDeg as number,
        mirrored: mirrored === true,
      },
    };
  });
  const board = boardOf(value.board_mm);
  if (value.board_mm !== undefined && !board)
    throw refuse('its board has no edge, or a hole no wall');
  const text = (v: unknown): string => (typeof v === 'string' ? v : '');
  return {
    job: isRecord(job)
      ? { number: text(job.number), name: text(job.name) }
      : { number: '', name: '' },
    bedMm: bed,
    zero:
      (['top-left', 'top-right', 'bottom-right'] as const).find((z) => z === zero) ?? 'bottom-left',
    clearanceMm: settings.clearance_mm,
    tool: toolOf(settings),
    ...(MATERIALS.some(({ id }) => id === settings.material) && {
      material: settings.material as MaterialId,
    }),
    heights: (Array.isArray(value.heights_mm) ? (value.heights_mm as unknown[]) : []).flatMap(
      (h) =>
        isRecord(h) && typeof h.what === 'string' && typeof h.value === 'number'
          ? [{ what: h.what, valueMm: h.value }]
          : [],
    ),
    cutterPerMille: isCutterScale(settings.cutter_per_mille) ? settings.cutter_per_mille : [0, 0],
    pockets,
    ...(board && { board }),
    digest: text(digest),
  };
}

const isRecord = (v: unknown): v is Record<string, unknown> =>
  typeof v === 'object' && v !== null && !Array.isArray(v);
const point = ([x, y]: Pair): Point<'bed'> => ({ x, y });

/** A board of its own size as a plan.json has it; undefined where it is none. */
function boardOf(board: unknown): FiledBoard | undefined {
  const isPair = (v: unknown): v is Pair =>
    Array.isArray(v) && v.length === 2 && v.every((n) => typeof n === 'number' && isFinite(n));
  const isRing = (v: unknown): v is Pair[] => Array.isArray(v) && v.length >= 3 && v.every(isPair);
  if (!isRecord(board) || !isRing(board.edge) || !Array.isArray(board.holes)) return undefined;
  const holes = (board.holes as unknown[]).map((h) =>
    isRecord(h) && typeof h.what === 'string' && isPair(h.at) && isRing(h.wall)
      ? {
          what: h.what,
          at: point(h.at),
          wall: h.wall.map(point),
          ...(isRing(h.cut) && { cut: h.cut.map(point) }),
        }
      : undefined,
  );
  return holes.every((h) => h !== undefined) ? { edge: board.edge.map(point), holes } : undefined;
}

function toolOf(s: Record<string, unknown>): Tool {
  const number = (v: unknown): number => (typeof v === 'number' ? v : 0);
  switch (s.tool) {
    case 'mill':
      return { kind: 'mill', radiusMm: number(s.cutter_radius_mm) };
    case 'drag':
      return { kind: 'drag', offsetMm: number(s.blade_offset_mm) };
    case 'hand':
      return { kind: 'hand' };
    default:
      return { kind: s.tool === 'knife' ? 'knife' : 'beam', kerfMm: number(s.kerf_mm) };
  }
}

/** Rings as they are written: each outer one, then its holes. */
function grouped(rings: readonly Ring<'bed'>[]): Region<'bed'>[] {
  const regions: { outer: Ring<'bed'>; holes: Ring<'bed'>[] }[] = [];
  for (const ring of rings) {
    if (signedArea(ring) > 0) regions.push({ outer: ring, holes: [] });
    else regions.at(-1)?.holes.push(ring);
  }
  return regions;
}

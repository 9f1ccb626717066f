import { MM_PER_INCH, type Point } from '../base/measure.ts';
import { reason, type Reason } from '../base/reason.ts';
import { inverse, mapPoint } from '../geometry/affine.ts';
import { insideRegion, nearestOnRing } from '../geometry/measure.ts';
import type { Region } from '../geometry/shape.ts';
import type { BedPlan } from '../plan/plan.ts';
import { full } from '../pocket/pocket.ts';
import type { ArtSheet, ArtworkSettings } from './artwork.ts';
import { blankFromArt, facesOf, scaleOf, type Face } from './place.ts';
import {
  blankFromWords,
  cornersOf,
  loadsOf,
  shrinkOf,
  wordsAt,
  type PersonalRun,
  type Piece,
  type Typeface,
} from './run.ts';
import { columnsOf, rowsOf } from './table.ts';

/** Below this the dots of a picture are seen at arm's length, dots per inch. Common practice, no source. */
export const COARSE_DPI = 150;
/** Lines thinner than this may break up or vanish: a quarter of a point. Common practice, no source. */
export const THIN_MM = 0.088;
/** Words set smaller than this share of what was asked for look like another design. Common practice, no source. */
export const LEAST_SHRINK = 0.75;
/** Capitals lower than this are not read at arm's length. Common practice, no source. */
export const LEAST_CAPITALS_MM = 1.2;
/** Names that a warning gives one by one; more are counted. */
const MOST_NAMED = 5;
/** What rounding leaves, mm. */
const EXACT_MM = 1e-6;

const two = (v: number): string => v.toFixed(2);

/** How an artwork lies on a face. Lengths in mm. */
export interface Lie {
  readonly scale: number;
  readonly widthMm: number;
  readonly heightMm: number;
  /** Of the coarsest picture at this size; absent where there is none. */
  readonly dpi?: number;
  /** covers: the whole bleed; floats: inside the safe area; near: inside the face; misses: over the edge in places only. */
  readonly how: 'covers' | 'floats' | 'near' | 'misses';
  /** How far the artwork falls short of the face and of the bleed, where it misses. */
  readonly shortOfFaceMm: number;
  readonly shortOfBleedMm: number;
}

/**
 * How the page of an artwork lies on a face. Its page is what is known of it: whether something is drawn all over it is
 * for the eye.
 */
export function lieOf(face: Face, sheet: ArtSheet, settings: ArtworkSettings): Lie {
  const map = blankFromArt(face, sheet, settings);
  const back = inverse(map);
  const scale = scaleOf(face, sheet, settings);
  const { reach } = sheet;
  /** How far outside what the artwork shows, mm on the blank. */
  const outside = (p: Point<'blank'>): number => {
    const q = mapPoint(back, p);
    return (
      scale *
      Math.hypot(
        Math.max(0, q.x - reach.right, reach.left - q.x),
        Math.max(0, q.y - reach.top, reach.bottom - q.y),
      )
    );
  };
  const most = (points: readonly Point<'blank'>[]): number =>
    points.reduce((m, p) => Math.max(m, outside(p)), 0);
  const shortOfFaceMm = most(face.print.outer);
  const shortOfBleedMm = most(face.bleed.flatMap(({ outer }) => outer));
  const corners = [
    [-1, -1],
    [1, -1],
    [1, 1],
    [-1, 1],
  ].map(([u, v]) =>
    mapPoint<'blank'>(map, { x: (u! * sheet.widthMm) / 2, y: (v! * sheet.heightMm) / 2 }),
  );
  const within = (regions: readonly Region<'blank'>[]): boolean => boxWithin(corners, regions);
  return {
    scale,
    widthMm: scale * sheet.widthMm,
    heightMm: scale * sheet.heightMm,
    ...(sheet.coarsestPxPerMm !== undefined && {
      dpi: (sheet.coarsestPxPerMm / scale) * MM_PER_INCH,
    }),
    how:
      shortOfBleedMm < EXACT_MM
        ? 'covers'
        : within(face.safe)
          ? 'floats'
          : within([face.print])
            ? 'near'
            : 'misses',
    shortOfFaceMm,
    shortOfBleedMm,
  };
}

/** Whether a box, by its corners in order, lies in regions. */
function boxWithin(
  corners: readonly Point<'blank'>[],
  regions: readonly Region<'blank'>[],
): boolean {
  // A side leaves a region that holds its ends only where that is hollow: a millimetre's step finds it.
  const edge = corners.flatMap((p, k) => {
    const q = corners[(k + 1) % corners.length]!;
    const steps = Math.max(1, Math.min(400, Math.ceil(Math.hypot(q.x - p.x, q.y - p.y))));
    return Array.from({ length: steps }, (_, i) => ({
      x: p.x + ((q.x - p.x) * i) / steps,
      y: p.y + ((q.y - p.y) * i) / steps,
    }));
  });
  return edge.every((p) =>
    regions.some((r) => insideRegion(r, p) || nearestOnRing(r.outer, p).distanceMm < EXACT_MM),
  );
}

/**
 * What is wrong with the artwork as it lies, said once for each sheet and blank.
 *
 * @param typefaces of the lines of a personalised run, in their order
 * @param ordered pieces that are ordered, by blank number
 */
export function judgeArtwork(
  plan: BedPlan,
  sheets: readonly ArtSheet[],
  settings: ArtworkSettings,
  typefaces: readonly Typeface[] = [],
  ordered: Readonly<Record<string, number>> = {},
): Reason[] {
  const faces = facesOf(plan.pockets);
  const { hold, clearanceMm } = full(plan.pocketSettings);
  const seen = new Set<string>();
  const reasons: Reason[] = [];
  let bleeds = false;
  const loads = loadsOf(settings, sheets.length, plan.pockets.length);
  const pieces = loads.flatMap((load) =>
    load.map((piece, k) => [plan.pockets[k]!, piece] as const),
  );
  pieces.forEach(([pocket, piece]) => {
    const at = piece?.sheet;
    if (at === undefined) return;
    const key = `${at} ${pocket.outlineId}`;
    if (seen.has(key)) return;
    seen.add(key);
    const sheet = sheets[at]!;
    const lie = lieOf(faces.get(pocket.outlineId)!, sheet, settings);
    const facts = { file: nameOf(sheet), pocket: pocket.id };
    bleeds ||= lie.how === 'covers' || lie.how === 'misses';
    if (lie.how === 'misses')
      reasons.push(
        lie.shortOfFaceMm > EXACT_MM
          ? reason('artwork-misses-edge', { ...facts, shortMm: two(lie.shortOfFaceMm) })
          : reason('artwork-short-of-bleed', { ...facts, shortMm: two(lie.shortOfBleedMm) }),
      );
    if (lie.how === 'near') reasons.push(reason('artwork-near-edge', facts));
    if (lie.dpi !== undefined && lie.dpi < COARSE_DPI)
      reasons.push(
        reason('artwork-coarse', { ...facts, dpi: Math.floor(lie.dpi), least: COARSE_DPI }),
      );
    if (sheet.thinnestMm !== undefined && sheet.thinnestMm * lie.scale < THIN_MM)
      reasons.push(
        reason('artwork-thin', {
          ...facts,
          thinMm: (sheet.thinnestMm * lie.scale).toFixed(3),
          leastMm: THIN_MM,
        }),
      );
  });
  for (const sheet of sheets) {
    const facts = { file: nameOf(sheet) };
    if (sheet.missingFonts.length > 0)
      reasons.push(
        reason('artwork-font-missing', { ...facts, fonts: sheet.missingFonts.join(', ') }),
      );
    if (sheet.notes > 0) reasons.push(reason('artwork-notes', { ...facts, count: sheet.notes }));
    const twice = settings.inks.filter(({ name }) => sheet.separations.includes(name));
    for (const { name } of twice) reasons.push(reason('artwork-ink-twice', { ...facts, name }));
  }
  const printed = pieces.filter(([, piece]) => piece !== undefined);
  const withArt = printed.filter(([, piece]) => piece!.sheet !== undefined).length;
  const last = loads.at(-1)?.filter((piece) => piece !== undefined).length ?? 0;
  const short = last < plan.pockets.length && pieces.length > 0;
  const wanting = settings.share === 'in turn' && sheets.length > 0;
  if (wanting && (withArt < printed.length || (short && loads.length === 1 && !settings.run)))
    reasons.push(
      reason('artwork-too-few', {
        sheets: sheets.length,
        pockets: settings.run ? printed.length : plan.pockets.length,
      }),
    );
  else if (short && (sheets.length > 0 || settings.run))
    reasons.push(
      reason('load-not-full', {
        loads: loads.length,
        pieces: last,
        pockets: plan.pockets.length,
      }),
    );
  const inOrder = Object.values(ordered).reduce((a, b) => a + b, 0);
  const rows = settings.run && rowsOf(settings.run.table).length;
  if (rows !== undefined && inOrder > 0 && inOrder !== rows)
    reasons.push(
      reason('run-not-order', {
        pieces: inOrder,
        rows,
        by: Math.abs(inOrder - rows),
        way: rows < inOrder ? 'fewer' : 'more',
      }),
    );
  if (settings.run)
    reasons.push(...judgeRun(settings.run, printed, faces, settings.reverse, typefaces));
  if (bleeds && hold === 'through')
    reasons.push(reason('artwork-spray', { clearanceMm: two(clearanceMm) }));
  for (const { kind, name, growMm } of settings.inks)
    if (kind === 'white' && growMm >= 0)
      reasons.push(reason('white-at-edge', { name, growMm: two(growMm) }));
  return reasons;
}

/**
 * The same of the back, and said so; how many pieces there are is a matter of the front.
 *
 * @param back the plan for the back, its blanks described by their backs (`byBack`)
 */
export function judgeBack(
  back: BedPlan,
  sheets: readonly ArtSheet[],
  settings: ArtworkSettings,
  typefaces: readonly Typeface[],
): Reason[] {
  const { pieces, share } = settings;
  const found = judgeArtwork(back, sheets, settings, typefaces)
    .filter(({ code }) => code !== 'load-not-full')
    .map((r) => ({ ...r, message: `On the back: ${r.message}` }));
  return pieces !== undefined && share === 'in turn' && sheets.length > pieces
    ? [...found, reason('back-left-over', { sheets: sheets.length, pieces })]
    : found;
}

/** A few of them by name, the others counted. */
function named(words: readonly string[]): string {
  const more = words.length - MOST_NAMED;
  const list = words
    .slice(0, MOST_NAMED)
    .map((w) => `"${w}"`)
    .join(', ');
  return more > 0 ? `${list} and ${more} more` : list;
}

/** What is wrong with the words of a run, by the words themselves. */
function judgeRun(
  run: PersonalRun,
  pieces: readonly (readonly [BedPlan['pockets'][number], Piece | undefined])[],
  faces: ReadonlyMap<string, Face>,
  reverse: boolean,
  typefaces: readonly Typeface[],
): Reason[] {
  const columns = columnsOf(run.table);
  const headed = rowsOf(run.table).length < run.table.cells.length;
  return run.lines.flatMap((line, k) => {
    const typeface = typefaces[k];
    if (!typeface) return [];
    const column = columns[line.column] ?? '';
    const shrinks = new Map<string, number>();
    const [empty, pastSafe, pastEdge] = [new Set<number>(), new Set<string>(), new Set<string>()];
    const seen = new Set<string>();
    for (const [{ outlineId }, piece] of pieces) {
      if (piece?.row === undefined) continue;
      const words = wordsAt(run, line, piece.row);
      if (words === '') empty.add(piece.row + (headed ? 2 : 1));
      const set = typeface.words.get(words);
      const key = `${outlineId} ${words}`;
      if (!set || words === '' || seen.has(key)) continue;
      seen.add(key);
      shrinks.set(words, shrinkOf(line, typeface, set));
      const face = faces.get(outlineId)!;
      const corners = cornersOf(blankFromWords(face, line, typeface, set, reverse), set.ink);
      if (!boxWithin(corners, [face.print])) pastEdge.add(words);
      else if (!boxWithin(corners, face.safe)) pastSafe.add(words);
    }
    const smaller = [...shrinks].filter(([, s]) => s < 1).sort((a, b) => a[1] - b[1]);
    const least = smaller[0]?.[1] ?? 1;
    const lowest = least * line.heightMm;
    const facts = { column, words: named(smaller.map(([words]) => words)) };
    const list = (words: ReadonlySet<string>): Record<'column' | 'words', string> => ({
      column,
      words: named([...words]),
    });
    return [
      ...(smaller.length > 0
        ? [
            reason(least < LEAST_SHRINK ? 'words-long' : 'words-smaller', {
              ...facts,
              roomMm: two(line.roomMm ?? 0),
              percent: Math.floor(100 * least),
              lowestMm: two(lowest),
            }),
          ]
        : []),
      ...(lowest < LEAST_CAPITALS_MM
        ? [reason('words-low', { column, lowestMm: two(lowest), leastMm: LEAST_CAPITALS_MM })]
        : []),
      ...(pastEdge.size > 0 ? [reason('words-past-edge', list(pastEdge))] : []),
      ...(pastSafe.size > 0 ? [reason('words-past-safe', list(pastSafe))] : []),
      ...(empty.size > 0
        ? [
            reason('words-empty', {
              column,
              count: empty.size,
              rows:
                [...empty].slice(0, MOST_NAMED).join(', ') + (empty.size > MOST_NAMED ? ' …' : ''),
            }),
          ]
        : []),
    ];
  });
}

export const nameOf = ({ file, page, pages }: ArtSheet): string =>
  pages > 1 ? `${file}, page ${page}` : file;

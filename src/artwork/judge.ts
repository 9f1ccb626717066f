import { MM_PER_INCH, type Point } from '../base/measure.ts';
import { reason, type Reason } from '../base/reason.ts';
import { inverse, mapPoint } from '../geometry/affine.ts';
import { insideRegion, nearestOnRing } from '../geometry/measure.ts';
import type { Region } from '../geometry/shape.ts';
import type { BedPlan } from '../plan/plan.ts';
import { full } from '../pocket/pocket.ts';
import { sheetFor, type ArtSheet, type ArtworkSettings } from './artwork.ts';
import { blankFromArt, facesOf, scaleOf, type Face } from './place.ts';

/** Below this the dots of a picture are seen at arm's length, dots per inch. Common practice, no source. */
export const COARSE_DPI = 150;
/** Lines thinner than this may break up or vanish: a quarter of a point. Common practice, no source. */
export const THIN_MM = 0.088;
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
  // A page's side leaves a region that holds its ends only where that is hollow: a millimetre's step finds it.
  const edge = corners.flatMap((p, k) => {
    const q = corners[(k + 1) % 4]!;
    const steps = Math.max(1, Math.min(400, Math.ceil(Math.hypot(q.x - p.x, q.y - p.y))));
    return Array.from({ length: steps }, (_, i) => ({
      x: p.x + ((q.x - p.x) * i) / steps,
      y: p.y + ((q.y - p.y) * i) / steps,
    }));
  });
  const within = (regions: readonly Region<'blank'>[]): boolean =>
    edge.every((p) =>
      regions.some((r) => insideRegion(r, p) || nearestOnRing(r.outer, p).distanceMm < EXACT_MM),
    );
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

/** What is wrong with the artwork as it lies, said once for each sheet and blank. */
export function judgeArtwork(
  plan: BedPlan,
  sheets: readonly ArtSheet[],
  settings: ArtworkSettings,
): Reason[] {
  const faces = facesOf(plan.pockets);
  const { hold, clearanceMm } = full(plan.pocketSettings);
  const seen = new Set<string>();
  const reasons: Reason[] = [];
  let bleeds = false;
  const without: string[] = [];
  plan.pockets.forEach((pocket, k) => {
    const at = sheetFor(settings, sheets.length, k);
    if (at === undefined) {
      without.push(pocket.id);
      return;
    }
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
  if (without.length > 0 && sheets.length > 0)
    reasons.push(
      reason('artwork-too-few', { sheets: sheets.length, pockets: plan.pockets.length }),
    );
  if (sheets.length > plan.pockets.length && settings.share === 'in turn')
    reasons.push(
      reason('artwork-too-many', { sheets: sheets.length, pockets: plan.pockets.length }),
    );
  if (bleeds && hold === 'through')
    reasons.push(reason('artwork-spray', { clearanceMm: two(clearanceMm) }));
  for (const { kind, name, growMm } of settings.inks)
    if (kind === 'white' && growMm >= 0)
      reasons.push(reason('white-at-edge', { name, growMm: two(growMm) }));
  return reasons;
}

export const nameOf = ({ file, page, pages }: ArtSheet): string =>
  pages > 1 ? `${file}, page ${page}` : file;

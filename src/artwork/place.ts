import type { Point } from '../base/measure.ts';
import { inverse, mapPoint, times, type Affine } from '../geometry/affine.ts';
import { mapRegion, signedArea, smallestRectangle } from '../geometry/measure.ts';
import type { Region } from '../geometry/shape.ts';
import type { Place, PlacedPocket } from '../plan/plan.ts';
import type { ArtSheet, ArtworkSettings, Placement } from './artwork.ts';

/** The face of a blank, blank mm, and the upright that artwork is placed by. */
export interface Face {
  readonly print: Region<'blank'>;
  readonly bleed: readonly Region<'blank'>[];
  readonly safe: readonly Region<'blank'>[];
  /** Middle of the face's box along its upright. */
  readonly middle: Point<'blank'>;
  /** From the sheet's x to the blank's own, within 45 degrees. */
  readonly leanRad: number;
  /** Sides of that box. */
  readonly widthMm: number;
  readonly heightMm: number;
}

/** A blank that fills this much of its smallest rectangle is meant to lie along it; any other as it was traced. */
const BOX_LIKE = 0.9;

export function bedFromBlank({ x, y, turnDeg, mirrored }: Place): Affine {
  const turn = (turnDeg * Math.PI) / 180;
  const [c, s, m] = [Math.cos(turn), Math.sin(turn), mirrored ? -1 : 1];
  return [m * c, m * s, -s, c, x, y];
}

/** The face of the blank in a pocket. */
export function faceOf({ place, print, bleed, safe }: PlacedPocket): Face {
  const back = inverse(bedFromBlank(place));
  const own = (region: Region<'bed'>): Region<'blank'> =>
    mapRegion<'bed', 'blank'>(
      region,
      (p) => {
        const { x, y } = mapPoint(back, p);
        return { x, y };
      },
      place.mirrored,
    );
  const face = own(print);
  const { longMm, shortMm, longDirectionRad } = smallestRectangle(face.outer);
  const fills = Math.abs(signedArea(face.outer)) / (longMm * shortMm);
  const quarter = Math.PI / 2;
  const leanRad =
    fills >= BOX_LIKE ? longDirectionRad - quarter * Math.round(longDirectionRad / quarter) : 0;
  const box = extent(face.outer, { x: 0, y: 0 }, leanRad);
  const [u, v] = [(box.left + box.right) / 2, (box.bottom + box.top) / 2];
  const [c, s] = [Math.cos(leanRad), Math.sin(leanRad)];
  return {
    print: face,
    bleed: bleed.map(own),
    safe: safe.map(own),
    middle: { x: c * u - s * v, y: s * u + c * v },
    leanRad,
    widthMm: box.right - box.left,
    heightMm: box.top - box.bottom,
  };
}

/** Extent of points about a place along turned axes. */
export function extent(
  points: readonly Point<'blank'>[],
  about: Point<'blank'>,
  turnRad: number,
): { left: number; right: number; bottom: number; top: number } {
  const [c, s] = [Math.cos(turnRad), Math.sin(turnRad)];
  let [left, right, bottom, top] = [Infinity, -Infinity, Infinity, -Infinity];
  for (const p of points) {
    const [x, y] = [p.x - about.x, p.y - about.y];
    const [u, v] = [c * x + s * y, c * y - s * x];
    left = Math.min(left, u);
    right = Math.max(right, u);
    bottom = Math.min(bottom, v);
    top = Math.max(top, v);
  }
  return { left, right, bottom, top };
}

const outers = (regions: readonly Region<'blank'>[]): Point<'blank'>[] =>
  regions.flatMap(({ outer }) => outer);

/** Where the middle of the artwork lies on the face. */
export function middleOf({ middle, leanRad }: Face, { xMm, yMm }: Placement): Point<'blank'> {
  const [c, s] = [Math.cos(leanRad), Math.sin(leanRad)];
  return { x: middle.x + c * xMm - s * yMm, y: middle.y + s * xMm + c * yMm };
}

const isMirrored = ({ placement, reverse }: Pick<ArtworkSettings, 'placement' | 'reverse'>) =>
  placement.mirrored !== reverse;

/**
 * The scale that the placement comes to on this face, 1 for the artwork's own size. Fit: the page is as large as the face
 * along the page's own sides, in one direction at least. Fill: the least at which the page covers the face, and whatever it
 * shows beyond its trim the bleed.
 */
export function scaleOf(
  face: Face,
  sheet: ArtSheet,
  settings: Pick<ArtworkSettings, 'placement' | 'reverse'>,
): number {
  const { placement } = settings;
  if (placement.sizing === 'scale') return placement.scale;
  const turn = face.leanRad + (placement.turnDeg * Math.PI) / 180;
  const about = middleOf(face, placement);
  const print = extent(face.print.outer, about, turn);
  if (placement.sizing === 'fit')
    return Math.min(
      (print.right - print.left) / sheet.widthMm,
      (print.top - print.bottom) / sheet.heightMm,
    );
  const bleed = extent(outers(face.bleed), about, turn);
  // Mirrored, the artwork's left side lies to the right.
  const { left, right, bottom, top } = sheet.reach;
  const [west, east] = isMirrored(settings) ? [-right, -left] : [left, right];
  return Math.max(
    (2 * Math.max(print.right, -print.left)) / sheet.widthMm,
    (2 * Math.max(print.top, -print.bottom)) / sheet.heightMm,
    bleed.right / east,
    bleed.left / west,
    bleed.top / top,
    bleed.bottom / bottom,
  );
}

/** From art mm to the blank's frame. */
export function blankFromArt(
  face: Face,
  sheet: ArtSheet,
  settings: Pick<ArtworkSettings, 'placement' | 'reverse'>,
): Affine {
  const turn = face.leanRad + (settings.placement.turnDeg * Math.PI) / 180;
  const k = scaleOf(face, sheet, settings);
  const m = isMirrored(settings) ? -k : k;
  const [c, s] = [Math.cos(turn), Math.sin(turn)];
  const { x, y } = middleOf(face, settings.placement);
  return [m * c, m * s, -k * s, k * c, x, y];
}

/** The same for a pocket, to the bed; the artwork goes with the blank, also where that lies turned or mirrored. */
export const bedFromArt = (
  pocket: PlacedPocket,
  face: Face,
  sheet: ArtSheet,
  settings: Pick<ArtworkSettings, 'placement' | 'reverse'>,
): Affine => times(bedFromBlank(pocket.place), blankFromArt(face, sheet, settings));

/** Faces of a plan by outline, each worked out once. */
export function facesOf(pockets: readonly PlacedPocket[]): ReadonlyMap<string, Face> {
  const faces = new Map<string, Face>();
  for (const pocket of pockets)
    if (!faces.has(pocket.outlineId)) faces.set(pocket.outlineId, faceOf(pocket));
  return faces;
}

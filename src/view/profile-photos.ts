import { reason, Refusal, type Reason } from '../base/reason.ts';
import type { Picture } from '../picture/picture.ts';
import type { Vision } from '../vision/cv.ts';
import type { Photographed } from './adjust.ts';
import { findBoard, type Board } from './board.ts';
import { findMarks } from './marks.ts';
import { differs, MOST_PICTURES, type LensMeta, type LensProfile } from './profile.ts';
import type { FoundMarks } from './view.ts';
import { isMirrored, storedFound } from './turned.ts';

/** One photo for a lens profile: what was found in it, without its pixels. */
export interface Shot extends Photographed {
  readonly name: string;
}

/**
 * Finds the marks of a photo for a lens profile.
 *
 * @param board a plain checkerboard; absent: a reference sheet
 * @throws Refusal as `findMarks` and `findBoard` do
 */
export function shotOf(vision: Vision, picture: Picture, board: Board | undefined): Shot {
  const { name, meta, widthPx, heightPx } = picture;
  const { orientation } = meta;
  if (isMirrored(orientation)) throw new Refusal('picture-mirrored', { orientation });
  const found = board ? findBoard(vision, picture, board) : findMarks(vision, picture);
  return { name, found, meta, widthPx, heightPx };
}

/** Marks of photos as their cameras store them, for `coverageOf`. */
export const storedShots = (shots: readonly Shot[]): readonly FoundMarks[] =>
  shots.map(({ found, meta }) => storedFound(found, meta));

/** The photos of the size that most of them have, at most as many as a profile takes; and why others are left out. */
export function usable<S extends Pick<Shot, 'name' | 'meta'>>(
  shots: readonly S[],
): { readonly used: readonly S[]; readonly left: readonly Reason[] } {
  const size = ({ meta }: S): string => `${meta.storedWidthPx} x ${meta.storedHeightPx} px`;
  const counts = new Map<string, number>();
  for (const shot of shots) counts.set(size(shot), (counts.get(size(shot)) ?? 0) + 1);
  const usual = [...counts].sort((a, b) => b[1] - a[1])[0]?.[0];
  const left = (name: string, why: string): Reason =>
    reason('lens-picture-left-out', { name, why });
  const same = shots.filter((shot) => size(shot) === usual);
  const other = shots.filter((shot) => size(shot) !== usual);
  return {
    used: same.slice(0, MOST_PICTURES),
    left: [
      ...other.map((s) => left(s.name, `it has ${size(s)}, most others have ${usual}.`)),
      ...same
        .slice(MOST_PICTURES)
        .map((s) => left(s.name, `${MOST_PICTURES} pictures are enough.`)),
    ],
  };
}

/** Whether a profile is of the lens that took a picture. */
export const fits = (
  profile: LensProfile,
  meta: LensMeta & { readonly orientation: number },
): boolean => differs(metaOf(profile), meta) === undefined && !isMirrored(meta.orientation);

/** What a profile's pictures said of their lens. */
export const metaOf = ({ widthPx, heightPx, ...p }: LensProfile): LensMeta => ({
  storedWidthPx: widthPx,
  storedHeightPx: heightPx,
  ...(p.camera !== null && { camera: p.camera }),
  ...(p.lens !== null && { lens: p.lens }),
  ...(p.focalLengthMm !== null && { focalLengthMm: p.focalLengthMm }),
  ...(p.focalLength35Mm !== null && { focalLength35Mm: p.focalLength35Mm }),
});

/**
 * Of which camera, lens, zoom and picture size a profile is: two profiles with the same words cannot both serve.
 * A picture whose file names no camera fits every nameless profile of its size.
 */
export const profileKey = (p: LensProfile): string =>
  JSON.stringify([p.camera, p.lens, p.focalLengthMm, p.focalLength35Mm, p.widthPx, p.heightPx]);

/** The profile in a few words: "camera, lens, 12 pictures, focal length ± 0.12 %". */
export function profileWords(p: LensProfile): string {
  const f = p.values[0]!;
  const share = (200 * Math.sqrt(p.covariance[0]![0]!)) / f;
  return [
    p.camera ?? 'a camera that the files do not name',
    p.lens,
    `${p.widthPx} × ${p.heightPx} px`,
    `${p.pictures} pictures`,
    `focal length ${f.toFixed(1)} px ± ${share.toFixed(2)} % (k = 2)`,
  ]
    .filter(Boolean)
    .join(', ');
}

import { CholeskyDecomposition, Matrix } from 'ml-matrix';
import { reason, Refusal, type Reason } from '../base/reason.ts';
import type { PictureMeta } from '../picture/picture.ts';
import { calibrateAll, sameSheet, startOf, type Photographed, type Sizes } from './adjust.ts';
import { covarianceOf } from './least-squares.ts';
import { FOCUS_SHARE, lensPrior, type LensPrior } from './lens.ts';
import { coverageOf, COVERED } from './coverage.ts';
import { AT_F } from './projection.ts';
import { lensTurn, quartersOf, storedFound, storedPhoto, turnedPlace } from './turned.ts';
import type { CalibrationSettings, FoundMarks, PhotoView } from './view.ts';

/** The lens's parameters in the order of a profile. */
export const LENS_NAMES = ['f', 'cx', 'cy', 'k1', 'k2', 'p1', 'p2'] as const;
const SIZE = LENS_NAMES.length;

/**
 * A lens as several photos told it: pinhole with Brown-Conrady distortion k1 k2 p1 p2 (OpenCV order), px of the picture as the
 * camera stores it (before any turning by orientation), pixel centres at integers.
 */
export interface LensProfile {
  readonly snugline: 'lens profile';
  readonly version: 1;
  /** As the pictures' headers name them; null where they do not. */
  readonly camera: string | null;
  readonly lens: string | null;
  readonly focalLengthMm: number | null;
  readonly focalLength35Mm: number | null;
  readonly widthPx: number;
  readonly heightPx: number;
  readonly parameters: typeof LENS_NAMES;
  readonly values: readonly number[];
  /** Row by row. */
  readonly covariance: readonly (readonly number[])[];
  readonly rmsPx: number;
  readonly pictures: number;
}

/** Fewest and most pictures of a profile. */
export const LEAST_PICTURES = 5;
export const MOST_PICTURES = 15;
/** f known to this share is worth no more than a file header's 35 mm equivalent (see `lensPrior`). */
const USELESS_SHARE = 0.035;

/**
 * A lens profile from photos of a reference sheet or a checkerboard: the adjustment of all of them (`calibrateAll`'s), its
 * lens kept.
 *
 * A board taken for flat and true is tried against its pictures: where they tell another lens once print error and bow are
 * allowed for, the difference is added to the covariance, and said.
 *
 * @param photos marks found in the upright pictures; all of one sheet or board
 * @throws Refusal `lens-pictures-few`, `lens-pictures-differ`, `lens-unknown`, `picture-mirrored`
 */
export function profileOf(
  photos: readonly Photographed[],
  target: Target = 'sheet',
): {
  profile: LensProfile;
  /** Standard uncertainties in the order of the profile's values. */
  u: readonly number[];
  reasons: readonly Reason[];
} {
  if (photos.length < LEAST_PICTURES) {
    throw new Refusal('lens-pictures-few', { found: photos.length, least: LEAST_PICTURES });
  }
  const [first] = photos as [Photographed];
  const { storedWidthPx: widthPx, storedHeightPx: heightPx } = first.meta;
  const odd = photos.find(({ meta }) => differs(first.meta, meta) !== undefined);
  if (odd) {
    throw new Refusal('lens-pictures-differ', { what: differs(first.meta, odd.meta)! });
  }
  sameSheet(photos);
  // Riders lie loose on the sheet or on things; a lens needs none.
  const stored = photos.map(({ found, meta }) => ({ ...storedFound(found, meta), riders: [] }));
  const prior = lensPrior(first.meta, widthPx, heightPx);
  const solved = lensOf(stored, prior, target === 'true board');
  const { values, covariance, rmsPx } = solved;
  const reasons: Reason[] = [];
  if (target === 'true board') {
    const other = lensOf(stored, prior, false);
    const apart = values.map((v, k) => other.values[k]! - v);
    const beyond = apart.map(
      (d, k) => Math.abs(d) / Math.sqrt(covariance[k]![k]! + other.covariance[k]![k]!),
    );
    if (Math.max(...beyond) > 2) {
      covariance.forEach((row, i) => row.forEach((_, j) => (row[j]! += apart[i]! * apart[j]!)));
      const { printErrorMm, bowMm } = other.sizes;
      reasons.push(
        reason('board-not-true', {
          printMm: Number(printErrorMm.toFixed(2)),
          bowMm: Number(bowMm.toFixed(2)),
          leftPx: Number(rmsPx.toFixed(2)),
          otherPx: Number(other.rmsPx.toFixed(2)),
        }),
      );
    }
  }
  const u = covariance.map((row, k) => Math.sqrt(row[k]!));
  const percent = Number(((100 * u[0]!) / values[0]!).toFixed(2));
  if (u[0]! > USELESS_SHARE * values[0]!) throw new Refusal('lens-unknown', { percent });
  const covered = Math.min(...coverageOf(stored, widthPx, heightPx).reach);
  if (covered < COVERED)
    reasons.push(reason('lens-corners-unseen', { percent: Math.round(100 * covered) }));
  return {
    profile: {
      snugline: 'lens profile',
      version: 1,
      camera: first.meta.camera ?? null,
      lens: first.meta.lens ?? null,
      focalLengthMm: first.meta.focalLengthMm ?? null,
      focalLength35Mm: first.meta.focalLength35Mm ?? null,
      widthPx,
      heightPx,
      parameters: LENS_NAMES,
      values,
      covariance,
      rmsPx,
      pictures: photos.length,
    },
    u,
    reasons,
  };
}

/** What was photographed: a reference sheet, a checkerboard taken for flat and true, or one whose print error and bow are estimated. */
export type Target = 'sheet' | 'true board' | 'board';

/**
 * The lens that one adjustment of all photos gives, in the order of LENS_NAMES.
 *
 * @param photos marks in px of the stored pictures; @param asDesigned take the sheet or board for flat and true
 */
export function lensOf(
  photos: readonly FoundMarks[],
  prior: LensPrior,
  asDesigned: boolean,
): { values: number[]; covariance: number[][]; rmsPx: number; sizes: Sizes } {
  const adjustment = startOf(photos, prior, NOTHING_ENTERED, asDesigned);
  for (let round = 0; round < 5; round++) adjustment.round(round > 0);
  const { normal } = adjustment.solve();
  const p = covarianceOf(normal);
  const n = adjustment.size;
  const at = LENS_NAMES.map((_, k) => AT_F + k);
  return {
    values: at.map((k) => adjustment.x[k]!),
    covariance: at.map((i) => at.map((j) => p[i * n + j]!)),
    rmsPx: adjustment.rmsPx(),
    sizes: adjustment.sizes(),
  };
}

const NOTHING_ENTERED = {
  thicknessMm: [],
  thicknessU: 0,
  spansMm: {},
  spanU: 1,
  riderSpansMm: {},
  riderSpanU: 1,
  wantMm: 1,
} as const;

/** f of one zoom position differs by less. */
const SAME_FOCAL_LENGTH = 0.01;

/** In what two pictures cannot have been taken by one lens at one focal length, in words; undefined where they can. */
export function differs(a: LensMeta, b: LensMeta): string | undefined {
  if (a.storedWidthPx !== b.storedWidthPx || a.storedHeightPx !== b.storedHeightPx)
    return `picture size (${a.storedWidthPx} x ${a.storedHeightPx} and ${b.storedWidthPx} x ${b.storedHeightPx} px)`;
  if ((a.camera ?? null) !== (b.camera ?? null))
    return `camera (${a.camera ?? 'not named'} and ${b.camera ?? 'not named'})`;
  if ((a.lens ?? null) !== (b.lens ?? null))
    return `lens (${a.lens ?? 'not named'} and ${b.lens ?? 'not named'})`;
  for (const key of ['focalLengthMm', 'focalLength35Mm'] as const) {
    const [f, g] = [a[key] ?? 0, b[key] ?? 0];
    if (Math.abs(f - g) > SAME_FOCAL_LENGTH * Math.max(f, g))
      return `focal length (${f || 'not noted'} and ${g || 'not noted'} mm)`;
  }
  return undefined;
}

export type LensMeta = Pick<
  PictureMeta,
  'storedWidthPx' | 'storedHeightPx' | 'camera' | 'lens' | 'focalLengthMm' | 'focalLength35Mm'
>;

/** The principal point wanders with focus and stabilising by about this share of the picture's longer side (common practice, no source). */
const CENTRE_SHARE = 0.001;

/**
 * What a profile says about a picture's lens beforehand, in px of the upright picture. Focus moves f by about half a per cent,
 * so the profile is a prior and no fixed truth.
 *
 * @param meta of the picture that was taken through this lens
 * @param focusShare standard deviation of f by focus, as a share of it
 * @throws Refusal `lens-profile-other` where camera, lens, focal length or picture size differ; `picture-mirrored`
 */
export function priorOf(profile: LensProfile, meta: PictureMeta, focusShare: number): LensPrior {
  const { widthPx, heightPx } = profile;
  const what = differs(
    {
      storedWidthPx: widthPx,
      storedHeightPx: heightPx,
      ...(profile.camera !== null && { camera: profile.camera }),
      ...(profile.lens !== null && { lens: profile.lens }),
      ...(profile.focalLengthMm !== null && { focalLengthMm: profile.focalLengthMm }),
      ...(profile.focalLength35Mm !== null && { focalLength35Mm: profile.focalLength35Mm }),
    },
    meta,
  );
  if (what !== undefined) throw new Refusal('lens-profile-other', { what });
  const quarters = quartersOf(meta);
  const turn = lensTurn(quarters);
  const turned = (v: readonly number[]): number[] =>
    turn.map((row) => row.reduce((sum, t, k) => sum + t * v[k]!, 0));
  const values = turned(profile.values);
  [values[1], values[2]] = turnedPlace(
    profile.values[1]!,
    profile.values[2]!,
    quarters,
    widthPx,
    heightPx,
  );
  const half = profile.covariance.map(turned);
  const covariance = LENS_NAMES.map((_, i) => turned(half.map((row) => row[i]!)));
  const [fPx, cxPx, cyPx] = values as [number, number, number];
  covariance[0]![0]! += (focusShare * fPx) ** 2;
  const wander = (CENTRE_SHARE * Math.max(widthPx, heightPx)) ** 2;
  covariance[1]![1]! += wander;
  covariance[2]![2]! += wander;
  return {
    fPx,
    fShare: Math.sqrt(covariance[0]![0]!) / fPx,
    fFrom: 'profile',
    cxPx,
    cyPx,
    cSd: Math.sqrt(Math.max(covariance[1]![1]!, covariance[2]![2]!)),
    originUnknown: false,
    told: { values, covariance },
  };
}

/** What bears on the calibration of photos, a saved lens profile included. */
export interface PhotoSettings extends CalibrationSettings {
  readonly lens?: LensProfile;
}

/**
 * The views of one or several photos of one sheet, held any way up, by the lens profile where there is one. The view of one
 * photo is of its upright picture; those of several are of the pictures as stored (`asStored`), for one lens took them all.
 *
 * @param photos marks found in the upright pictures
 * @throws Refusal `photos-differ`, `picture-mirrored`, and as `calibrateAll` does
 */
export function viewsOf(photos: readonly Photographed[], settings: PhotoSettings): PhotoView[] {
  const [first] = photos as [Photographed];
  const { lens } = settings;
  const prior = (meta: PictureMeta): LensPrior | undefined =>
    lens && priorOf(lens, meta, FOCUS_SHARE);
  if (photos.length === 1) return calibrateAll(photos, settings, prior(first.meta));
  for (const { meta } of photos) {
    const what = differs(first.meta, meta);
    if (what !== undefined) throw new Refusal('photos-differ', { what });
  }
  const stored = photos.map(storedPhoto);
  return calibrateAll(stored, settings, prior(stored[0]!.meta));
}

/**
 * Reads a profile from its file.
 *
 * @throws Refusal `lens-profile-unread`
 */
export function readProfile(text: string, name: string): LensProfile {
  const no = (why: string): Refusal => new Refusal('lens-profile-unread', { name, why });
  let p: Partial<LensProfile>;
  try {
    p = JSON.parse(text) as Partial<LensProfile>;
  } catch {
    throw no('it is no JSON');
  }
  if (typeof p !== 'object' || p === null || p.snugline !== 'lens profile')
    throw no('it is no lens profile');
  if (p.version !== 1)
    throw no(`its version is ${String(p.version)}, this program reads version 1`);
  const words = (v: unknown): boolean => v === null || typeof v === 'string';
  const figure = (v: unknown): v is number => typeof v === 'number' && Number.isFinite(v);
  const figures = (v: unknown): v is number[] =>
    Array.isArray(v) && v.length === SIZE && v.every(figure);
  const size = [p.widthPx, p.heightPx];
  if (!size.every((v) => figure(v) && v > 0 && Number.isInteger(v)))
    throw no('its picture size is missing');
  if (!words(p.camera) || !words(p.lens)) throw no('its camera or lens is missing');
  if (![p.focalLengthMm, p.focalLength35Mm].every((v) => v === null || (figure(v) && v > 0)))
    throw no('its focal length is missing');
  if (LENS_NAMES.some((name, k) => p.parameters?.[k] !== name))
    throw no('its parameters have other names');
  const { values, covariance } = p;
  if (!figures(values) || !(values[0]! > 0)) throw no('its values are damaged');
  const symmetric =
    Array.isArray(covariance) &&
    covariance.length === SIZE &&
    covariance.every(figures) &&
    covariance.every((row, i) =>
      row.every((v, j) => {
        const scale = Math.sqrt(Math.abs(covariance[i]![i]! * covariance[j]![j]!));
        return (
          Math.abs(v - covariance[j]![i]!) <= 1e-9 * scale && Math.abs(v) <= scale * (1 + 1e-9)
        );
      }),
    );
  if (!symmetric || !new CholeskyDecomposition(new Matrix(covariance)).isPositiveDefinite())
    throw no('its covariance is damaged');
  return p as LensProfile;
}

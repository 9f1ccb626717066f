import exifr from 'exifr';
import { MM_PER_INCH } from '../base/measure.ts';
import { reason, type Reason } from '../base/reason.ts';
import type { Density } from './header.ts';
import type { PictureMeta } from './picture.ts';

type ExifMeta = Omit<
  PictureMeta,
  'format' | 'storedWidthPx' | 'storedHeightPx' | 'bitsPerChannel' | 'hasExif' | 'reasons'
>;

const UNIT_NAME: Readonly<Record<number, Density['unit']>> = {
  2: 'inch',
  3: 'cm',
  4: 'mm',
  5: 'µm',
};
/** Millimetres in the units of ResolutionUnit and FocalPlaneResolutionUnit: 2 inch, 3 cm; 4 mm and 5 µm are used by some cameras. */
const UNIT_MM: Readonly<Record<number, number>> = { 2: MM_PER_INCH, 3: 10, 4: 1, 5: 0.001 };

/** CustomRendered beyond the standard's 0 and 1, as phones write it: panorama, portrait with HDR, portrait (from memory). */
const COMPOSED: Readonly<Record<number, NonNullable<PictureMeta['composed']>>> = {
  6: 'panorama',
  7: 'portrait',
  8: 'portrait',
};

/**
 * Reads what bears on the measurement from an EXIF block (TIFF bytes). A block that cannot be read is said to be so;
 * the picture itself can still be measured.
 *
 * Source: CIPA DC-008 (Exif 3.0), 4.6: tags and units.
 */
export async function readExif(
  tiff: Uint8Array,
  name: string,
): Promise<{ meta: ExifMeta; reasons: Reason[] }> {
  let tags: Record<string, unknown> | undefined;
  try {
    tags = await exifr.parse(tiff, {
      translateValues: false,
      reviveValues: false,
      gps: false,
      interop: false,
    });
  } catch (error) {
    if (!(error instanceof Error)) throw error;
    return { meta: { orientation: 1 }, reasons: [reason('picture-exif', { name })] };
  }
  if (!tags || tags.errors)
    return { meta: { orientation: 1 }, reasons: [reason('picture-exif', { name })] };

  const figure = (key: string): number | undefined => {
    const value = tags[key];
    return typeof value === 'number' && Number.isFinite(value) && value > 0 ? value : undefined;
  };
  const words = (key: string): string | undefined => {
    const value = tags[key];
    const text = typeof value === 'string' ? value.replaceAll('\0', '').trim() : '';
    return text === '' ? undefined : text;
  };
  const perMm = (density: number | undefined, unit: number): number | undefined =>
    density !== undefined && UNIT_MM[unit] !== undefined ? density / UNIT_MM[unit] : undefined;

  const densityUnit = figure('ResolutionUnit') ?? 2;
  const dotsPerMm =
    figure('XResolution') === figure('YResolution')
      ? perMm(figure('XResolution'), densityUnit)
      : undefined;
  const turn = figure('Orientation') ?? 1;
  const found = {
    camera: cameraName(words('Make'), words('Model')),
    lens: words('LensModel'),
    focalLengthMm: figure('FocalLength'),
    focalPlanePxPerMm: perMm(
      figure('FocalPlaneXResolution'),
      figure('FocalPlaneResolutionUnit') ?? 2,
    ),
    focalLength35Mm: figure('FocalLengthIn35mmFormat'),
    exifWidthPx: figure('ExifImageWidth'),
    exifHeightPx: figure('ExifImageHeight'),
    digitalZoom: figure('DigitalZoomRatio'),
    composed: COMPOSED[figure('CustomRendered') ?? 0],
    ...(dotsPerMm !== undefined && {
      densityDpi: dotsPerMm * MM_PER_INCH,
      densityUnit: UNIT_NAME[densityUnit]!,
      densitySource: 'EXIF' as const,
    }),
  };
  const told = Object.fromEntries(Object.entries(found).filter(([, v]) => v !== undefined));
  return {
    meta: { orientation: Number.isInteger(turn) && turn <= 8 ? turn : 1, ...told },
    reasons: [],
  };
}

/** Many cameras repeat the maker in the model's name. */
function cameraName(make: string | undefined, model: string | undefined): string | undefined {
  if (!make || !model) return make ?? model;
  return model.toLowerCase().startsWith(make.toLowerCase()) ? model : `${make} ${model}`;
}

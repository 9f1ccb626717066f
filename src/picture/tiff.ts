import { MM_PER_INCH } from '../base/measure.ts';
import { reason, Refusal, type Reason } from '../base/reason.ts';
import { equalDensity, view, type Density, type Header } from './header.ts';

/** Tags that bear on reading. Source: TIFF 6.0 (Adobe, 1992), part 1 and appendix A; DNG 1.7 for the last. */
const TAG = {
  subfile: 254,
  width: 256,
  height: 257,
  bits: 258,
  compression: 259,
  photometric: 262,
  make: 271,
  stripOffsets: 273,
  orientation: 274,
  samples: 277,
  rowsPerStrip: 278,
  stripBytes: 279,
  xResolution: 282,
  yResolution: 283,
  planar: 284,
  resolutionUnit: 296,
  colourMap: 320,
  tileWidth: 322,
  tileHeight: 323,
  tileOffsets: 324,
  tileBytes: 325,
  sampleFormat: 339,
  exif: 34665,
  dng: 50706,
} as const;

/** Bytes of one value of each field type (TIFF 6.0, section 2; 16 to 18 from BigTIFF). */
const SIZE: Readonly<Record<number, number>> = {
  ...{ 1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4 },
  ...{ 16: 8, 17: 8, 18: 8 },
};
const RATIONAL = 5;

/** Compressions that are read: none, three of fax, LZW, both of JPEG, Deflate under both its numbers, PackBits. */
const READ = [1, 2, 3, 4, 5, 6, 7, 8, 32946, 32773];
const PHOTOMETRIC = { cmyk: 5, raw: [32803, 34892], read: [0, 1, 2, 3, 6] };
const NAMES: Readonly<Record<number, string>> = {
  4: 'a TIFF that is only a mask',
  8: 'a TIFF in CIE L*a*b* colours',
  9: 'a TIFF in CIE L*a*b* colours',
  10: 'a TIFF in CIE L*a*b* colours',
};
const GREATEST_BITS = 16;
/** A scanner's 600 dpi A4 in one-row strips has 7016 of them; far more pages, strips or samples than that are no picture. */
const MOST_PAGES = 10_000;
const MOST_STRIPS = 1_000_000;
const MOST_SAMPLES = 16;
const GREATEST_TILE_PX = 64e6;

interface Field {
  readonly type: number;
  readonly count: number;
  readonly at: number;
}

/**
 * Reads the first page's directory of a TIFF or BigTIFF, and whether all of its pixels are in the file, without
 * decoding them. Pages after the first are counted; reduced copies of a page are none.
 *
 * @throws Refusal `picture-truncated`, `picture-damaged`, `picture-kind`, `picture-cmyk`, `picture-deep`, `picture-other`
 * Source: TIFF 6.0 (Adobe, 1992), sections 2 to 8, 15, 16; the BigTIFF extension as libtiff documents it.
 */
export function readTiff(bytes: Uint8Array, name: string): Header {
  const data = view(bytes);
  const damaged = (what: string): never => {
    throw new Refusal('picture-damaged', { name, what });
  };
  const truncated = (): never => {
    throw new Refusal('picture-truncated', { name, bytes: bytes.length });
  };
  const kind = (what: string): never => {
    throw new Refusal('picture-kind', { name, kind: what });
  };
  const little = bytes[0] === 0x49;
  const big = bytes[little ? 2 : 3] === 43;
  const within = (at: number, length: number): number => {
    if (at + length > bytes.length) truncated();
    return at;
  };
  const u16 = (at: number): number => data.getUint16(within(at, 2), little);
  const u32 = (at: number): number => data.getUint32(within(at, 4), little);
  const u64 = (at: number): number => Number(data.getBigUint64(within(at, 8), little));
  const word = big ? u64 : u32;
  const wordSize = big ? 8 : 4;

  /** A directory's fields by tag, and where the next directory is; the first of doubled fields counts. */
  const directory = (at: number): { fields: Map<number, Field>; next: number } => {
    const count = big ? u64(at) : u16(at);
    if (count === 0 || count > 4096) damaged(`its directory at byte ${at} has ${count} entries`);
    const first = at + (big ? 8 : 2);
    const length = big ? 20 : 12;
    within(first, count * length);
    const fields = new Map<number, Field>();
    for (let k = 0; k < count; k++) {
      const entry = first + k * length;
      const type = u16(entry + 2);
      const values = word(entry + 4);
      const inline = (SIZE[type] ?? 1) * values <= wordSize;
      const place = entry + 4 + wordSize;
      if (!fields.has(u16(entry)))
        fields.set(u16(entry), { type, count: values, at: inline ? place : word(place) });
    }
    return { fields, next: word(first + count * length) };
  };

  const start = big ? u64(8) : u32(4);
  const { fields, next } = directory(start);
  const value = ({ type, at }: Field, k: number): number => {
    const place = at + k * SIZE[type]!;
    if (type === 1 || type === 7) return bytes[within(place, 1)]!;
    if (type === 3) return u16(place);
    if (type === 4 || type === 13) return u32(place);
    if (type === 16 || type === 18) return u64(place);
    if (type === RATIONAL) return u32(place) / u32(place + 4);
    return damaged(`a field of its directory has the type ${type}`);
  };
  const values = (tag: number, most = MOST_STRIPS): readonly number[] => {
    const field = fields.get(tag);
    if (!field) return [];
    if (field.count > most) damaged(`field ${tag} of its directory has ${field.count} values`);
    return Array.from({ length: field.count }, (_, k) => value(field, k));
  };
  const one = (tag: number, otherwise: number): number => {
    const field = fields.get(tag);
    return field && field.count > 0 ? value(field, 0) : otherwise;
  };

  if (fields.has(TAG.dng) || (one(TAG.subfile, 0) & 1) === 1)
    throw new Refusal('picture-other', { name, what: 'a camera raw file' });
  const widthPx = one(TAG.width, 0);
  const heightPx = one(TAG.height, 0);
  const samples = one(TAG.samples, 1);
  const photometric = fields.has(TAG.photometric)
    ? one(TAG.photometric, 0)
    : damaged('it does not say what its numbers mean (no photometric interpretation)');
  if (photometric === PHOTOMETRIC.cmyk) throw new Refusal('picture-cmyk', { name, format: 'TIFF' });
  if (PHOTOMETRIC.raw.includes(photometric))
    throw new Refusal('picture-other', { name, what: 'a camera raw file' });
  if (!PHOTOMETRIC.read.includes(photometric))
    kind(NAMES[photometric] ?? `a TIFF whose numbers mean something else (${photometric})`);
  const compression = one(TAG.compression, 1);
  if (!READ.includes(compression)) kind(`a TIFF of compression ${compression}`);
  if (samples < 1 || samples > MOST_SAMPLES) damaged(`it claims ${samples} samples a pixel`);
  const colours = photometric === 2 || photometric === 6 ? 3 : 1;
  if (samples < colours) damaged(`it has ${samples} samples a pixel where ${colours} are needed`);
  const formats = values(TAG.sampleFormat, 256);
  if (formats.includes(3)) kind('a TIFF of floating-point numbers');
  if (formats.some((f) => f === 2 || f > 4)) kind('a TIFF of signed or complex numbers');
  const depths = fields.has(TAG.bits) ? values(TAG.bits, 256).slice(0, samples) : [1];
  const bits = depths[0] ?? 1;
  if (depths.some((b) => b !== bits)) kind('a TIFF whose channels differ in depth');
  if (bits < 1) damaged('its pixels have 0 bits');
  if (bits > GREATEST_BITS)
    throw new Refusal('picture-deep', { name, bits, format: 'TIFF', greatest: GREATEST_BITS });
  if (photometric === 3 && !fields.has(TAG.colourMap)) damaged('its colour table is missing');

  if (widthPx > 0 && heightPx > 0) checkPixels();
  function checkPixels(): void {
    const tiled = fields.has(TAG.tileOffsets);
    const offsets = values(tiled ? TAG.tileOffsets : TAG.stripOffsets);
    const lengths = values(tiled ? TAG.tileBytes : TAG.stripBytes);
    if (offsets.length === 0) damaged('it holds no pixels');
    const planes = one(TAG.planar, 1) === 2 ? samples : 1;
    let parts: number;
    if (tiled) {
      const [w, h] = [one(TAG.tileWidth, 0), one(TAG.tileHeight, 0)];
      if (w < 1 || h < 1 || w * h > GREATEST_TILE_PX) damaged(`its tiles are ${w} x ${h} px`);
      parts = Math.ceil(widthPx / w) * Math.ceil(heightPx / h) * planes;
    } else {
      const rows = Math.min(one(TAG.rowsPerStrip, heightPx), heightPx);
      if (rows < 1) damaged('its strips have no rows');
      parts = Math.ceil(heightPx / rows) * planes;
    }
    if (offsets.length < parts)
      damaged(`it has ${offsets.length} of the ${parts} pieces that its size needs`);
    for (let k = 0; k < parts; k++) {
      const end = offsets[k]! + (lengths[k] ?? 1);
      if (end > bytes.length) truncated();
    }
  }

  const reasons: Reason[] = [];
  const pages = 1 + furtherPages(next);
  if (pages > 1) reasons.push(reason('picture-pages', { name, pages }));
  function furtherPages(from: number): number {
    let count = 0;
    const seen = new Set<number>([start]);
    for (let at = from; at !== 0 && !seen.has(at) && seen.size < MOST_PAGES;) {
      seen.add(at);
      // A later page that is cut off or damaged does not hurt the first one.
      if (at + 16 > bytes.length) break;
      let page;
      try {
        page = directory(at);
      } catch (error) {
        if (error instanceof Refusal) break;
        throw error;
      }
      const type = page.fields.get(TAG.subfile);
      if (!type || (value(type, 0) & 1) === 0) count++;
      at = page.next;
    }
    return count;
  }

  const turn = one(TAG.orientation, 1);
  return {
    widthPx,
    heightPx,
    bits,
    orientation: turn >= 1 && turn <= 8 ? turn : 1,
    ...(!big && (fields.has(TAG.exif) || fields.has(TAG.make)) && { exif: bytes }),
    ...density(one(TAG.xResolution, 0), one(TAG.yResolution, 0), one(TAG.resolutionUnit, 1)),
    reasons,
  };
}

/**
 * ResolutionUnit 2 is the inch and 3 the centimetre; 1 has no absolute unit. TIFF 6.0 takes an absent one for the inch;
 * here it counts as not told, since a scale hangs on it.
 */
function density(x: number, y: number, unit: number): { density?: Density } {
  const found = equalDensity(x, y);
  if (found === undefined || !Number.isFinite(found)) return {};
  if (unit === 2) return { density: { dpi: found, unit: 'inch', source: 'TIFF' } };
  if (unit === 3)
    return { density: { dpi: (found * MM_PER_INCH) / 10, unit: 'cm', source: 'TIFF' } };
  return {};
}

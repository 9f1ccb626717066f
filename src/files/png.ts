import { Deflate } from 'pako';
import { MM_PER_INCH, type Point } from '../base/measure.ts';
import { Refusal } from '../base/reason.ts';
import type { Drawing } from './drawing.ts';
import { ascii } from './letters.ts';
import { FILE_SETTINGS, type FileSettings } from './settings.ts';
import { strokeLetters, strokeWidthMm } from './stroke-letters.ts';
import { strokeOf } from './strokes.ts';

/** A side as long as the shortest limit of the browsers that were tried, and as many pixels as all of them held: 9921 x 14031. */
const MOST_PX = 16384;
const MOST_MEGAPIXELS = 139;
/** Lines are drawn at least this wide, px: thinner ones would be pale. */
const LEAST_PX = 1.4;
const STRIP_ROWS = 64;

export interface PixelSize {
  readonly widthPx: number;
  readonly heightPx: number;
}

/**
 * Pixels of a page at a resolution; the last column and row may reach past the page by less than one pixel.
 * @throws Refusal `png-too-large` when no browser would hold them, with both sizes
 */
export function pixelsOf(widthMm: number, heightMm: number, dpi: number): PixelSize {
  const px = (mm: number): number => Math.ceil((mm * dpi) / MM_PER_INCH - 1e-6);
  const [widthPx, heightPx] = [px(widthMm), px(heightMm)];
  const megapixels = (widthPx * heightPx) / 1e6;
  if (Math.max(widthPx, heightPx) > MOST_PX || megapixels > MOST_MEGAPIXELS) {
    const most = Math.min(
      (MOST_PX * MM_PER_INCH) / Math.max(widthMm, heightMm),
      Math.sqrt((MOST_MEGAPIXELS * 1e6) / (widthMm * heightMm)) * MM_PER_INCH,
    );
    throw new Refusal('png-too-large', {
      dpi,
      widthPx,
      heightPx,
      megapixels: Math.round(megapixels),
      mostPx: MOST_PX,
      mostMegapixels: MOST_MEGAPIXELS,
      mostDpi: Math.floor(most),
    });
  }
  return { widthPx, heightPx };
}

/** A line in px from the upper left corner of the picture, y down. */
interface Line {
  readonly ax: number;
  readonly ay: number;
  readonly bx: number;
  readonly by: number;
  /** Half width. */
  readonly half: number;
  readonly rgb: readonly [number, number, number];
}

/**
 * A drawing as PNG, transparent but for its lines: the picture's upper left corner is the page's, and pHYs says the
 * resolution to the pixel per metre that the format can hold.
 *
 * @throws Refusal `png-too-large`
 */
export function png(
  drawing: Drawing,
  dpi: number,
  settings: FileSettings = FILE_SETTINGS,
): Uint8Array {
  const { widthMm, heightMm } = drawing;
  const { widthPx, heightPx } = pixelsOf(widthMm, heightMm, dpi);
  const strips = stripsOf(linesOf(drawing, dpi, settings), heightPx);
  const packed: Uint8Array[] = [];
  // fflate 0.8.3 writes damaged streams here: pushed in parts, some pictures come out with distances too far back.
  const zip = new Deflate({ level: 6 });
  zip.onData = (part) => packed.push(part as Uint8Array);
  for (let s = 0; s * STRIP_ROWS < heightPx; s++) {
    const rows = Math.min(STRIP_ROWS, heightPx - s * STRIP_ROWS);
    const rgba = new Uint8Array(rows * widthPx * 4);
    for (const line of strips[s]!) draw(rgba, widthPx, rows, s * STRIP_ROWS, line);
    // Each row begins with the number of its filter: none.
    const filtered = new Uint8Array(rows * (widthPx * 4 + 1));
    for (let y = 0; y < rows; y++)
      filtered.set(
        rgba.subarray(y * widthPx * 4, (y + 1) * widthPx * 4),
        y * (widthPx * 4 + 1) + 1,
      );
    zip.push(filtered, (s + 1) * STRIP_ROWS >= heightPx);
  }
  const perMetre = Math.round((dpi * 1000) / MM_PER_INCH);
  const text = (key: string, words: string): Uint8Array =>
    new TextEncoder().encode(`${key}\0${ascii(words)}`);
  // Source: PNG specification, third edition: signature, IHDR (8 bits, colour with alpha), pHYs, tEXt, IDAT, IEND.
  return joined([
    Uint8Array.of(0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a),
    chunk('IHDR', joined([be(widthPx), be(heightPx), Uint8Array.of(8, 6, 0, 0, 0)])),
    chunk('pHYs', joined([be(perMetre), be(perMetre), Uint8Array.of(1)])),
    chunk('tEXt', text('Title', drawing.title)),
    chunk('tEXt', text('Description', `job ${drawing.jobNumber}, digest ${drawing.digest}`)),
    ...packed.map((bytes) => chunk('IDAT', bytes)),
    chunk('IEND', new Uint8Array(0)),
  ]);
}

function linesOf({ layers, heightMm }: Drawing, dpi: number, settings: FileSettings): Line[] {
  const k = dpi / MM_PER_INCH;
  return layers.flatMap(({ name, closed, open, lettering }) => {
    const { rgb, widthMm, dashMm } = strokeOf(name, settings);
    const half = Math.max(LEAST_PX, widthMm * k) / 2;
    const letters = lettering.flatMap(({ at, from, heightMm: tall, words }) => {
      const x = at.x - (from ? 0 : strokeWidthMm(words, tall) / 2);
      return strokeLetters(words, { x, y: at.y - tall / 2 }, tall);
    });
    const trails = [...closed.map(({ ring }) => [...ring, ring[0]!]), ...open];
    return [...trails.flatMap((points) => dashed(points, dashMm)), ...letters].flatMap((points) =>
      points.slice(1).map((b, i) => {
        const a = points[i]!;
        return {
          ax: a.x * k,
          ay: (heightMm - a.y) * k,
          bx: b.x * k,
          by: (heightMm - b.y) * k,
          half,
          rgb,
        };
      }),
    );
  });
}

/** A line cut into its dashes; lengths of dash and gap in turn, mm. */
function dashed(
  points: readonly Point<'bed'>[],
  dashMm: readonly number[],
): readonly (readonly Point<'bed'>[])[] {
  if (dashMm.length === 0) return [points];
  const out: Point<'bed'>[][] = [];
  let turn = 0;
  let left = dashMm[0]!;
  let dash: Point<'bed'>[] = [points[0]!];
  for (let k = 1; k < points.length; k++) {
    let a = points[k - 1]!;
    const b = points[k]!;
    let length = Math.hypot(b.x - a.x, b.y - a.y);
    while (length >= left) {
      const t = length > 0 ? left / length : 0;
      a = { x: a.x + (b.x - a.x) * t, y: a.y + (b.y - a.y) * t };
      length -= left;
      if (turn % 2 === 0) out.push([...dash, a]);
      dash = [a];
      turn++;
      left = dashMm[turn % dashMm.length]!;
    }
    left -= length;
    dash.push(b);
  }
  if (turn % 2 === 0 && dash.length > 1) out.push(dash);
  return out;
}

/** The lines that touch each strip of rows, in the order they are drawn. */
function stripsOf(lines: readonly Line[], heightPx: number): Line[][] {
  const strips = Array.from({ length: Math.ceil(heightPx / STRIP_ROWS) }, (): Line[] => []);
  for (const line of lines) {
    const reach = line.half + 1;
    const first = Math.floor((Math.min(line.ay, line.by) - reach) / STRIP_ROWS);
    const last = Math.floor((Math.max(line.ay, line.by) + reach) / STRIP_ROWS);
    for (let s = Math.max(0, first); s <= Math.min(strips.length - 1, last); s++)
      strips[s]!.push(line);
  }
  return strips;
}

/** Paints a line with round ends: a pixel is covered by how far its centre lies inside the line's edge, at most one. */
function draw(
  rgba: Uint8Array,
  widthPx: number,
  rows: number,
  top: number,
  { ax, ay, bx, by, half, rgb }: Line,
): void {
  const [ux, uy] = [bx - ax, by - ay];
  const square = ux * ux + uy * uy;
  const reach = half + 0.5;
  const y0 = Math.max(0, Math.floor(Math.min(ay, by) - reach - top));
  const y1 = Math.min(rows - 1, Math.ceil(Math.max(ay, by) + reach - top));
  for (let y = y0; y <= y1; y++) {
    const cy = y + top + 0.5;
    // The part of the line that lies near this row tells which columns it may touch.
    const t = (v: number): number => Math.max(0, Math.min(1, (v - ay) / uy));
    const [s, e] = Math.abs(uy) > 1e-9 ? [t(cy - reach), t(cy + reach)] : [0, 1];
    const [xs, xe] = [ax + ux * s, ax + ux * e];
    const x0 = Math.max(0, Math.floor(Math.min(xs, xe) - reach));
    const x1 = Math.min(widthPx - 1, Math.ceil(Math.max(xs, xe) + reach));
    for (let x = x0; x <= x1; x++) {
      const [px, py] = [x + 0.5 - ax, cy - ay];
      const along = square > 0 ? Math.max(0, Math.min(1, (px * ux + py * uy) / square)) : 0;
      const off = Math.hypot(px - along * ux, py - along * uy);
      const alpha = Math.round(255 * Math.max(0, Math.min(1, reach - off)));
      const i = (y * widthPx + x) * 4;
      if (alpha <= rgba[i + 3]!) continue;
      rgba[i] = rgb[0];
      rgba[i + 1] = rgb[1];
      rgba[i + 2] = rgb[2];
      rgba[i + 3] = alpha;
    }
  }
}

const be = (v: number): Uint8Array => {
  const bytes = new Uint8Array(4);
  new DataView(bytes.buffer).setUint32(0, v);
  return bytes;
};

/** Of the CRC-32 that PNG uses (ISO 3309, polynomial 0xEDB88320). */
const TABLE = Uint32Array.from({ length: 256 }, (_, n) => {
  let c = n;
  for (let k = 0; k < 8; k++) c = c & 1 ? 0xedb88320 ^ (c >>> 1) : c >>> 1;
  return c;
});

function chunk(type: string, data: Uint8Array): Uint8Array {
  const body = joined([new TextEncoder().encode(type), data]);
  let crc = 0xffffffff;
  for (const byte of body) crc = TABLE[(crc ^ byte) & 0xff]! ^ (crc >>> 8);
  return joined([be(data.length), body, be((crc ^ 0xffffffff) >>> 0)]);
}

function joined(parts: readonly Uint8Array[]): Uint8Array {
  const out = new Uint8Array(parts.reduce((sum, { length }) => sum + length, 0));
  let at = 0;
  for (const part of parts) {
    out.set(part, at);
    at += part.length;
  }
  return out;
}

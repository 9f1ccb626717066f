import * as fontkit from '@cantoo/fontkit';
import { create, type Font } from '@cantoo/fontkit';
import type { PDFDocument, PDFFont } from '@cantoo/pdf-lib';
import { textsOf, type PersonalRun, type SetWords, type Typeface } from '../artwork/run.ts';
import { Refusal } from '../base/reason.ts';

/** A font, ready to be set in and put into files. */
export interface OpenFont {
  readonly name: string;
  readonly bytes: Uint8Array;
  readonly font: Font;
  /** Its makers allow it in files only as a whole. */
  readonly whole: boolean;
}

/** What the table OS/2 of a font says of putting it into files (OpenType 1.9, fsType). */
interface Embedding {
  readonly noEmbedding?: boolean;
  readonly bitmapOnly?: boolean;
  readonly noSubsetting?: boolean;
}

/**
 * Opens a font: TTF, OTF, WOFF or WOFF2.
 * @throws Refusal `font-kind`, `font-locked`
 */
export function openFont(bytes: Uint8Array, file: string): OpenFont {
  let font;
  try {
    font = create(bytes);
  } catch (error) {
    throw new Refusal('font-kind', { file, why: (error as Error).message });
  }
  if ('fonts' in font) throw new Refusal('font-kind', { file, why: 'it holds several fonts' });
  const name = font.fullName ?? font.postscriptName ?? file;
  const { fsType } = (font as { 'OS/2'?: { fsType?: Embedding } })['OS/2'] ?? {};
  if (fsType?.noEmbedding || fsType?.bitmapOnly) throw new Refusal('font-locked', { name });
  return { name, bytes, font, whole: fsType?.noSubsetting === true };
}

interface PlacedGlyph {
  readonly id: number;
  /** Thousandths of an em, from the beginning of the words. */
  readonly x: number;
  readonly y: number;
  readonly width: number;
}

/** Words as their glyphs with kerning and marks where the font wants them. */
function glyphsOf(
  font: Font,
  words: string,
): { glyphs: PlacedGlyph[]; run: ReturnType<Font['layout']> } {
  const run = font.layout(words);
  const k = 1000 / font.unitsPerEm;
  let pen = 0;
  const glyphs = run.glyphs.map((glyph, i): PlacedGlyph => {
    const at = run.positions?.[i];
    const placed = {
      id: glyph.id,
      x: k * (pen + (at?.xOffset ?? 0)),
      y: k * (at?.yOffset ?? 0),
      width: k * glyph.advanceWidth,
    };
    pen += at?.xAdvance ?? glyph.advanceWidth;
    return placed;
  });
  return { glyphs, run };
}

/** Characters that print nothing of their own. */
const UNSEEN = /[\p{Cf}\p{Cc}\p{Z}\ufe00-\ufe0f]/u;

function setWords(font: Font, words: string): SetWords {
  const { glyphs, run } = glyphsOf(font, words);
  let [left, right, bottom, top] = [Infinity, -Infinity, Infinity, -Infinity];
  const outline = run.glyphs.map((glyph, i) => {
    const { x, y } = glyphs[i]!;
    const k = 1000 / font.unitsPerEm;
    const { minX, maxX, minY, maxY } = glyph.bbox;
    if (maxX > minX) {
      left = Math.min(left, x + k * minX);
      right = Math.max(right, x + k * maxX);
      bottom = Math.min(bottom, y + k * minY);
      top = Math.max(top, y + k * maxY);
    }
    return glyph.path.scale(k).translate(x, y).toSVG();
  });
  const ink = right > left ? [left, right, bottom, top] : [0, 0, 0, 0];
  const [l, r, b, t] = ink.map((v) => v / 1000) as [number, number, number, number];
  const missing = [...new Set(words)]
    .filter((c) => !UNSEEN.test(c) && !font.hasGlyphForCodePoint(c.codePointAt(0)!))
    .join('');
  return { ink: { left: l, right: r, bottom: b, top: t }, outline: outline.join(''), missing };
}

/**
 * Words set in a font.
 * @throws Refusal `words-letters` where it lacks letters for some of them
 */
export function typefaceOf({ font, name }: OpenFont, texts: readonly string[]): Typeface {
  const words = new Map(texts.map((text) => [text, setWords(font, text)]));
  const without = [...words].filter(([, { missing }]) => missing !== '');
  if (without.length > 0)
    throw new Refusal('words-letters', {
      font: name,
      missing: [...new Set(without.flatMap(([, { missing }]) => [...missing]))].join(' '),
      words: without
        .slice(0, 5)
        .map(([text]) => `"${text}"`)
        .join(', '),
    });
  const H = font.glyphForCodePoint(0x48);
  const high = font.hasGlyphForCodePoint(0x48) && H ? H.bbox.maxY : font.capHeight || font.ascent;
  return { name, capEm: high / font.unitsPerEm, words };
}

/** The typeface of every line of a run. @param fonts one for each line */
export const typefacesOf = (run: PersonalRun, fonts: readonly OpenFont[]): Typeface[] =>
  run.lines.map((line, k) => typefaceOf(fonts[k]!, textsOf(run, line)));

/**
 * Puts fonts into a file, each once, with the letters that are then set in them.
 * @param digest of the plan: the tag that names a part of a font (ISO 32000-1, 9.6.4) is made of it
 */
export async function embedFonts(
  doc: PDFDocument,
  fonts: readonly OpenFont[],
  digest: string,
): Promise<PDFFont[]> {
  doc.registerFontkit(fontkit);
  const embedded: PDFFont[] = [];
  for (const [k, { bytes, whole, font }] of fonts.entries()) {
    const name = (font.postscriptName ?? `Font${k + 1}`).replace(/[^A-Za-z0-9-]/g, '');
    const tag = [...digest.slice(k, k + 6)]
      .map((d) => 'ABCDEFGHIJKLMNOP'[parseInt(d, 16)])
      .join('');
    const customName = whole ? name : `${tag}+${name}`;
    embedded.push(await doc.embedFont(bytes, { subset: !whole, customName }));
  }
  return embedded;
}

const number = (v: number): string => String(Math.round(v * 1000) / 1000 + 0);

/** Operators that show words in a font of size 1 from where the text matrix stands (ISO 32000-1, 9.4.3). */
export function showWords({ font }: OpenFont, embedded: PDFFont, words: string): string[] {
  const { glyphs } = glyphsOf(font, words);
  const codes = embedded.encodeText(words).asString().match(/.{4}/g) ?? [];
  const operators: string[] = [];
  let parts: string[] = [];
  let [at, rise] = [0, 0];
  const flush = (): void => {
    if (parts.length > 0) operators.push(`[${parts.join('')}] TJ`);
    parts = [];
  };
  glyphs.forEach(({ x, y, width }, k) => {
    if (y !== rise) {
      flush();
      operators.push(`${number(y / 1000)} Ts`);
      rise = y;
    }
    if (Math.abs(x - at) > 1e-6) parts.push(number(at - x));
    parts.push(`<${codes[k]!}>`);
    at = x + width;
  });
  flush();
  if (rise !== 0) operators.push('0 Ts');
  return operators;
}

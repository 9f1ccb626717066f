import type { Picture } from '../../src/picture/picture.ts';
import { dotsOf, hasCheck, isBlack } from '../../src/sheet/code.ts';
import type { SheetDesign } from '../../src/sheet/design.ts';

/** Place of the sheet, mm, at a place of the picture, px (pixel centres at integers). */
export type ToSheet = (u: number, v: number) => readonly [x: number, y: number];

/** Samples over a pixel's square with distinct rows and columns (a Fibonacci lattice), so that edges along the axes are even. */
const SAMPLES = 34;
const across = Array.from({ length: SAMPLES }, (_, k) => (k + 0.5) / SAMPLES - 0.5);
const along = across.map((_, k) => (((k * 21) % SAMPLES) + 0.5) / SAMPLES - 0.5);

/** A grey picture, each pixel the mean of `tone` over its square. */
export function draw(
  widthPx: number,
  heightPx: number,
  tone: (u: number, v: number) => number,
  name = 'drawn',
): Picture {
  const data = new Uint8Array(widthPx * heightPx * 3);
  for (let v = 0, at = 0; v < heightPx; v++) {
    for (let u = 0; u < widthPx; u++, at += 3) {
      let sum = 0;
      for (let k = 0; k < SAMPLES; k++) sum += tone(u + across[k]!, v + along[k]!);
      data.fill(Math.round(sum / SAMPLES), at, at + 3);
    }
  }
  return {
    name,
    widthPx,
    heightPx,
    channels: 3,
    data,
    meta: {
      format: 'png',
      bitsPerChannel: 8,
      storedWidthPx: widthPx,
      storedHeightPx: heightPx,
      orientation: 1,
      hasExif: false,
    },
  };
}

/** The sheet's tone at a place of a picture; beyond the page a grey table. */
export function sheetTone(sheet: SheetDesign, toSheet: ToSheet): (u: number, v: number) => number {
  const dots = dotsOf(sheet);
  const { originMm: o, pitchMm: p } = sheet;
  return (u, v) => {
    const [x, y] = toSheet(u, v);
    if (x < 0 || y < 0 || x > sheet.widthMm || y > sheet.heightMm) return 120;
    const i = Math.floor((x - o.x) / p);
    const j = Math.floor((y - o.y) / p);
    if (!hasCheck(sheet, i, j)) return 235;
    const fx = (x - o.x) / p - i;
    const fy = (y - o.y) / p - j;
    const dot = Math.max(Math.abs(fx - 0.5), Math.abs(fy - 0.5)) < 0.2 && dots(i, j);
    return isBlack(i, j) !== dot ? 25 : 235;
  };
}

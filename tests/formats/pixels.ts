/*
 * Pages of one plan drawn by three programs from three formats, and compared pixel by pixel; and the cut file's DXF, as ezdxf reads
 * it and librsvg draws that.
 */
import { execFile } from 'node:child_process';
import { unlinkSync } from 'node:fs';
import { join } from 'node:path';
import { promisify } from 'node:util';
import sharp from 'sharp';
import { drawDxf } from './read.ts';

/** A picture's pixels, 0 as dark as it gets; and where it is surely inked. */
interface Picture {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly light: Uint8Array;
  readonly inked: Uint32Array;
}

/** Lighter than this a pixel is not surely inked: lines are smoothed. */
const SURE = 255 - 96;

async function picture(path: string): Promise<Picture> {
  const { data, info } = await sharp(path, { limitInputPixels: false })
    .flatten({ background: '#ffffff' })
    .toColourspace('b-w')
    .raw()
    .toBuffer({ resolveWithObject: true });
  if (info.channels !== 1) throw new Error(`${path}: a picture of ${info.channels} channels`);
  unlinkSync(path);
  let [n, k] = [0, 0];
  for (const v of data) if (v <= SURE) n++;
  const inked = new Uint32Array(n);
  n = 0;
  for (const v of data) {
    if (v <= SURE) inked[n++] = k;
    k++;
  }
  return { widthPx: info.width, heightPx: info.height, light: data, inked };
}

const run = (command: string, ...args: string[]) => promisify(execFile)(command, args);

const byLibrsvg = (dpi: number, from: string, to: string) =>
  run('rsvg-convert', `--dpi-x=${dpi}`, `--dpi-y=${dpi}`, '-o', to, from);

/** One drawing of a plan's folder, at a resolution, by poppler (PDF), Ghostscript (EPS) and librsvg (SVG). */
async function drawn(folder: string, name: string, dpi: number): Promise<Picture[]> {
  const at = (end: string): string => join(folder, `${name}${end}`);
  await Promise.all([
    run('pdftocairo', '-tiff', '-singlefile', '-r', String(dpi), at('.pdf'), at('-pdf')),
    run(
      'gs',
      ...['-q', '-dBATCH', '-dNOPAUSE', '-dSAFER', '-dEPSCrop', '-sDEVICE=tiffgray', `-r${dpi}`],
      ...['-dGraphicsAlphaBits=4', '-o', at('-eps.tif'), at('.eps')],
    ),
    byLibrsvg(dpi, at('.svg'), at('-svg.png')),
  ]);
  return Promise.all(['-pdf.tif', '-eps.tif', '-svg.png'].map((end) => picture(at(end))));
}

/** The cut file's DXF whole, and without the layers that the other formats dash: DXF says no dashes. */
async function drawnDxf(folder: string, dpi: number): Promise<[all: Picture, solid: Picture]> {
  const [command, ...args] = drawDxf(folder);
  await run(command, ...args);
  const of = async (name: string): Promise<Picture> => {
    const to = join(folder, `${name}.png`);
    await byLibrsvg(dpi, join(folder, `${name}.svg`), to);
    return picture(to);
  };
  return [await of('cut-dxf'), await of('cut-dxf-solid')];
}

/** How many pixels are surely inked, and how many of them have none in another program's picture within one pixel. */
export interface Compared {
  readonly inked: number;
  readonly lone: number;
}

/** One drawing of a plan as the programs draw it, each held against the others. */
export async function compared(
  folder: string,
  name: 'cut' | 'artwork',
  dpi: number,
): Promise<Compared> {
  const all = await drawn(folder, name, dpi);
  const pairs = all.flatMap((a) => all.filter((b) => b !== a).map((b) => lone(a, b)));
  if (name === 'cut') {
    const [whole, solid] = await drawnDxf(folder, dpi);
    pairs.push(...all.flatMap((other) => [lone(other, whole), lone(solid, other)]));
  }
  return {
    inked: pairs.reduce((n, p) => n + p.inked, 0),
    lone: pairs.reduce((n, p) => n + p.lone, 0),
  };
}

function lone(one: Picture, other: Picture): Compared {
  let alone = 0;
  // Programs differ in which whole pixel the last, broken one becomes: counted from the lower left corner.
  const down = other.heightPx - one.heightPx;
  const light = (x: number, y: number): number =>
    x < 0 || y < 0 || x >= other.widthPx || y >= other.heightPx
      ? 255
      : other.light[y * other.widthPx + x]!;
  for (const k of one.inked) {
    const [x, y] = [k % one.widthPx, Math.floor(k / one.widthPx) + down];
    let there = false;
    for (let dy = -1; dy <= 1 && !there; dy++)
      for (let dx = -1; dx <= 1 && !there; dx++) there = light(x + dx, y + dy) < 255;
    if (!there) alone++;
  }
  return { inked: one.inked.length, lone: alone };
}

/* Pages of one plan drawn by three programs from three formats, and compared pixel by pixel. */
import { execFileSync } from 'node:child_process';
import { existsSync, unlinkSync } from 'node:fs';
import { join } from 'node:path';
import sharp from 'sharp';

interface Picture {
  readonly widthPx: number;
  readonly heightPx: number;
  /** 0 white, 255 as dark as it gets. */
  readonly ink: Uint8Array;
}

async function picture(path: string): Promise<Picture> {
  const { data, info } = await sharp(path, { limitInputPixels: false })
    .flatten({ background: '#ffffff' })
    .greyscale()
    .raw()
    .toBuffer({ resolveWithObject: true });
  unlinkSync(path);
  const ink = new Uint8Array(info.width * info.height);
  for (let k = 0; k < ink.length; k++) ink[k] = 255 - data[k * info.channels]!;
  return { widthPx: info.width, heightPx: info.height, ink };
}

const run = (command: string, ...args: string[]): void =>
  void execFileSync(command, args, { stdio: ['ignore', 'ignore', 'pipe'] });

/** One drawing of a plan's folder, at a resolution, by poppler (PDF), Ghostscript (EPS) and librsvg (SVG). */
export async function drawn(
  folder: string,
  name: string,
  dpi: number,
): Promise<Record<string, Picture>> {
  const at = (end: string): string => join(folder, `${name}${end}`);
  run('pdftocairo', '-png', '-singlefile', '-r', String(dpi), at('.pdf'), at('-pdf'));
  run(
    'gs',
    ...['-q', '-dBATCH', '-dNOPAUSE', '-dSAFER', '-dEPSCrop', '-sDEVICE=pnggray', `-r${dpi}`],
    ...['-dGraphicsAlphaBits=4', '-o', at('-eps.png'), at('.eps')],
  );
  run('rsvg-convert', `--dpi-x=${dpi}`, `--dpi-y=${dpi}`, '-o', at('-svg.png'), at('.svg'));
  if (!existsSync(at('-pdf.png'))) throw new Error(`${folder}: nothing was drawn`);
  return {
    'poppler, PDF': await picture(at('-pdf.png')),
    'Ghostscript, EPS': await picture(at('-eps.png')),
    'librsvg, SVG': await picture(at('-svg.png')),
  };
}

/** Pixels of one picture that are surely inked and have none in the other within one pixel. */
export function lone(one: Picture, other: Picture): { inked: number; lone: number } {
  let [inked, alone] = [0, 0];
  const w = Math.min(one.widthPx, other.widthPx);
  const h = Math.min(one.heightPx, other.heightPx);
  // Programs differ in which whole pixel the last, broken one becomes: counted from the lower left corner.
  const at = (p: Picture, x: number, y: number): number =>
    x < 0 || y < 0 || x >= p.widthPx || y >= p.heightPx
      ? 0
      : p.ink[(p.heightPx - 1 - y) * p.widthPx + x]!;
  for (let y = 0; y < h; y++)
    for (let x = 0; x < w; x++) {
      if (at(one, x, y) < 96) continue;
      inked++;
      let there = false;
      for (let dy = -1; dy <= 1 && !there; dy++)
        for (let dx = -1; dx <= 1 && !there; dx++) there = at(other, x + dx, y + dy) > 0;
      if (!there) alone++;
    }
  return { inked, lone: alone };
}

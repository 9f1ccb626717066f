/**
 * The print of `tests/unit/bed-photo.test.ts`, rendered by the independent renderer: crosses of the bed ruler for a bed of 400 x 280 mm as
 * a printer that is off prints them, on a page that lies turned a little, an A4 sheet on it. Writes fixtures/b01-bed.jpg.
 */
import { execFileSync } from 'node:child_process';
import { copyFileSync, mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { PDFDocument, degrees, rgb } from '@cantoo/pdf-lib';
import { stageOf } from '../../src/sheet/colour.ts';
import { sheetPdf } from '../../src/sheet/draw.ts';
import { layout } from '../../src/sheet/layout.ts';
import { crossOf, profileMarks } from '../../src/plan/bed-profile.ts';
import { CACHE, findPython, ROOT, TOOLS } from '../accuracy/render.ts';
import { BED, PRINTED, SHEET_AT } from './bed-photo-truth.ts';

const NAME = 'b01-bed';
const [PAGE_W, PAGE_H] = [297, 420];
const POINT = 72 / 25.4;
const folder = join(CACHE, NAME);
mkdirSync(folder, { recursive: true });

const doc = await PDFDocument.create();
const page = doc.addPage([PAGE_W * POINT, PAGE_H * POINT]);
const { scaleX, scaleY, shear } = PRINTED;
/** From the bed to the page, which stands upright: a quarter turn and a little more. */
const turn = Math.PI / 2 + (PRINTED.turnDeg * Math.PI) / 180;
const onPage = ({ x, y }: { x: number; y: number }): [number, number] => {
  const [u, v] = [
    (1 + scaleX) * x + shear * y - BED.widthMm / 2,
    (1 + scaleY) * y - BED.depthMm / 2,
  ];
  return [
    PAGE_W / 2 + Math.cos(turn) * u - Math.sin(turn) * v,
    PAGE_H / 2 + Math.sin(turn) * u + Math.cos(turn) * v,
  ];
};
for (const { at } of profileMarks(BED))
  for (const [a, b] of crossOf(at)) {
    const [[x1, y1], [x2, y2]] = [onPage(a!), onPage(b!)];
    page.drawLine({
      start: { x: x1 * POINT, y: y1 * POINT },
      end: { x: x2 * POINT, y: y2 * POINT },
      thickness: 0.2 * POINT,
      color: rgb(0.1, 0.14, 0.16),
    });
  }
const { rgb: ink, tone } = stageOf('white');
const [sheet] = await doc.embedPdf(sheetPdf(layout(210, 297, tone), ink));
page.drawPage(sheet!, {
  x: SHEET_AT.x * POINT,
  y: SHEET_AT.y * POINT,
  rotate: degrees(SHEET_AT.turnDeg),
});
const file = join(folder, 'page.pdf');
writeFileSync(file, await doc.save());
// As pixels: the renderer draws a PDF so finely that an A3 page takes it a quarter of an hour.
execFileSync('pdftocairo', [
  ...['-png', '-singlefile', '-antialias', 'best', '-r', '600'],
  ...[file, join(folder, 'page')],
]);
const scene = {
  name: NAME,
  seed: 77,
  sheet: { slot: 'A3-white', size_mm: [PAGE_W, PAGE_H], stage: 255, print: { seed: 5 } },
  blanks: [],
  light: {
    ambient: 0.5,
    lights: [{ azimuth: 120, elevation: 55, size: 20, strength: 0.6 }],
  },
  views: [
    {
      // Its lens bends as those of phones do; the page lies a quarter turned, so that the bed's rear is at the top.
      camera: {
        picture: [4000, 3000],
        f_px: 2951,
        k1: -0.05,
        k2: 0.02,
        p1: 0.0002,
        p2: -0.0003,
        principal_offset_px: [11, -8],
      },
      pose: {
        height: 335,
        tilt: 2,
        azimuth: 40,
        roll: PRINTED.rollDeg,
        looks_at: [PAGE_W / 2, PAGE_H / 2],
      },
      optics: { blur_px: 0.8, vignette: 0.2, chromatic_px: 0.4 },
      process: { sharpen: 0.4, sharpen_px: 1.2, denoise: 0.6, quality: 82 },
      sensor: { full_well: 5000, read: 6 },
      exif: { f35: 26, orientation: 1 },
    },
  ],
};
writeFileSync(join(folder, 'scene.json'), JSON.stringify({ scenes: [scene] }));
execFileSync(
  findPython()!,
  [
    join(TOOLS, 'scene.py'),
    join(folder, 'scene.json'),
    '--out',
    folder,
    '--sheet',
    `A3-white=${join(folder, 'page.png')}`,
  ],
  { stdio: 'inherit' },
);
copyFileSync(join(folder, NAME, `${NAME}-1.jpg`), join(ROOT, 'fixtures', `${NAME}.jpg`));

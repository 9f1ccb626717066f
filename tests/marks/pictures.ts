/** Pictures for the campaign on marks: sheets under hard conditions, and things that are no sheet. Drawn here, not rendered. */
import sharp from 'sharp';
import type { Picture } from '../../src/picture/picture.ts';
import type { SheetDesign } from '../../src/sheet/design.ts';
import { layout } from '../../src/sheet/layout.ts';
import { loadVision } from '../../src/vision/load-node.ts';
import { sheetTone } from '../support/draw-sheet.ts';
import { cameraAt, Random, seen, type TrueCamera } from '../support/simulate.ts';

const { cv } = loadVision();

/** What is done to a picture of a sheet. */
export const HARDSHIPS = [
  'nothing',
  'blur',
  'tilt',
  'light',
  'glare',
  'cover',
  'jpeg',
  'all',
] as const;
export type Hardship = (typeof HARDSHIPS)[number];

const BLUR_PX = 2;
const TILT_RAD = Math.PI / 6;
/** Of the sheet's border, by area. */
const LOST_SHARE = 0.2;
const DARKEST = 0.25;
const JPEG_QUALITY = 50;

const linear = (v: number): number => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
const encoded = (v: number): number =>
  255 * (v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055);
const LINEAR = Float32Array.from({ length: 256 }, (_, k) => linear(k / 255));

const metaOf = (widthPx: number, heightPx: number): Picture['meta'] => ({
  format: 'png',
  storedWidthPx: widthPx,
  storedHeightPx: heightPx,
  orientation: 1,
  hasExif: false,
});

/** Four samples a pixel; the blur that every picture has takes away what they leave. */
const SAMPLES = [
  [-0.125, -0.375],
  [0.375, -0.125],
  [0.125, 0.375],
  [-0.375, 0.125],
] as const;

/** A plane of linear light, 0 to 1, from a tone in 0 to 255. */
function plane(
  widthPx: number,
  heightPx: number,
  tone: (u: number, v: number) => number,
): Float32Array {
  const out = new Float32Array(widthPx * heightPx);
  for (let v = 0, at = 0; v < heightPx; v++) {
    for (let u = 0; u < widthPx; u++, at++) {
      let sum = 0;
      for (const [du, dv] of SAMPLES) sum += LINEAR[Math.round(tone(u + du, v + dv))]!;
      out[at] = sum / SAMPLES.length;
    }
  }
  return out;
}

function blurred(light: Float32Array, widthPx: number, sigmaPx: number): Float32Array {
  const heightPx = light.length / widthPx;
  const mat = cv.matFromArray(heightPx, widthPx, cv.CV_32FC1, light as unknown as number[]);
  try {
    cv.GaussianBlur(mat, mat, new cv.Size(0, 0), sigmaPx, sigmaPx, cv.BORDER_REFLECT);
    return Float32Array.from(mat.data32F);
  } finally {
    mat.delete();
  }
}

async function pictureOf(
  light: Float32Array,
  widthPx: number,
  random: Random,
  quality?: number,
): Promise<Picture> {
  const heightPx = light.length / widthPx;
  const data = new Uint8Array(3 * light.length);
  light.forEach((v, k) => {
    // Photon noise of a small sensor, and its read noise.
    const noisy = v + Math.sqrt(Math.max(0, v) / 6000 + 1e-6) * random.normal();
    data.fill(Math.round(encoded(Math.min(1, Math.max(0, noisy)))), 3 * k, 3 * k + 3);
  });
  const raw = { width: widthPx, height: heightPx, channels: 3 } as const;
  const stored =
    quality === undefined
      ? data
      : await sharp(await sharp(data, { raw }).jpeg({ quality }).toBuffer())
          .raw()
          .toBuffer();
  return {
    name: 'drawn',
    widthPx,
    heightPx,
    channels: 3,
    data: new Uint8Array(stored),
    meta: metaOf(widthPx, heightPx),
  };
}

/** A picture of 3 MP of a sheet, and where its vertices truly are. */
export interface SheetPicture {
  readonly picture: Picture;
  readonly sheet: SheetDesign;
  /** Sheet mm to picture px. */
  readonly truth: (x: number, y: number) => readonly [number, number];
}

const PAPERS = [
  [210, 297],
  [297, 420],
  [215.9, 279.4],
  [180, 240],
  [279.4, 431.8],
] as const;

export async function sheetPicture(seed: number, hardship: Hardship): Promise<SheetPicture> {
  const random = new Random(seed * 7919 + 3);
  const has = (h: Hardship): boolean => hardship === h || hardship === 'all';
  const [width, height] = PAPERS[Math.floor(random.next() * PAPERS.length)]!;
  const tones = ['white', 'grey', 'black', 'hue'] as const;
  const sheet = layout(width, height, tones[Math.floor(random.next() * tones.length)]!);
  const [widthPx, heightPx] = [1500, 2000];
  const camera = whole(sheet, widthPx, heightPx, has('tilt') ? TILT_RAD : 0.05, random);
  const back = toSheetPlane(camera);
  let light = plane(widthPx, heightPx, stageTone(sheet, back, random));

  if (has('light')) {
    const turn = random.between(0, 2 * Math.PI);
    const reach = Math.abs(widthPx * Math.cos(turn)) + Math.abs(heightPx * Math.sin(turn));
    for (let v = 0, at = 0; v < heightPx; v++)
      for (let u = 0; u < widthPx; u++, at++) {
        const along =
          0.5 + ((u - widthPx / 2) * Math.cos(turn) + (v - heightPx / 2) * Math.sin(turn)) / reach;
        light[at]! *= DARKEST + (1 - DARKEST) * along;
      }
  }
  // With everything at once, a fifth is lost to one of the two.
  const glare = hardship === 'glare' || (hardship === 'all' && seed % 2 === 0);
  const cover = hardship === 'cover' || (hardship === 'all' && seed % 2 === 1);
  if (glare || cover) {
    const lost = lostFifth(sheet, random);
    for (let v = 0, at = 0; v < heightPx; v++)
      for (let u = 0; u < widthPx; u++, at++) {
        const [x, y] = back(u, v);
        if (lost(x, y)) light[at] = glare ? 1 : 0.12 + 0.05 * Math.sin(u / 3);
      }
  }
  light = blurred(light, widthPx, has('blur') ? BLUR_PX : 0.7);
  return {
    picture: await pictureOf(light, widthPx, random, has('jpeg') ? JPEG_QUALITY : undefined),
    sheet,
    truth: (x, y) => seen(camera, x, y, 0),
  };
}

/** The nearest camera, tilted by so much towards anywhere, that sees the whole sheet. */
function whole(
  sheet: SheetDesign,
  widthPx: number,
  heightPx: number,
  tilt: number,
  random: Random,
): TrueCamera {
  const f = 0.72 * heightPx;
  const azimuth = random.between(0, 2 * Math.PI);
  const roll = random.between(-0.3, 0.3) + (random.next() < 0.3 ? Math.PI : 0);
  const margin = 0.015 * widthPx;
  for (let height = 150; ; height *= 1.02) {
    const camera = cameraAt({
      x: sheet.widthMm / 2,
      y: sheet.heightMm / 2,
      height,
      tilt,
      azimuth,
      roll,
      f,
      cx: widthPx / 2,
      cy: heightPx / 2,
      k: [0, 0, 0, 0],
    });
    const corners = [
      [0, 0],
      [sheet.widthMm, 0],
      [0, sheet.heightMm],
      [sheet.widthMm, sheet.heightMm],
    ].map(([x, y]) => seen(camera, x!, y!, 0));
    const inside = corners.every(
      ([u, v]) => u > margin && v > margin && u < widthPx - margin && v < heightPx - margin,
    );
    if (inside) return camera;
  }
}

/** The sheet's plane seen at a place of the picture (no distortion): the inverse of a homography. */
function toSheetPlane(c: TrueCamera): (u: number, v: number) => readonly [number, number] {
  return (u, v) => {
    const a = (u - c.cx) / c.f;
    const b = (v - c.cy) / c.f;
    const ray = [0, 1, 2].map((k) => c.axes[0]![k]! * a + c.axes[1]![k]! * b + c.axes[2]![k]!);
    const t = -c.centre[2] / ray[2]!;
    return [c.centre[0] + t * ray[0]!, c.centre[1] + t * ray[1]!];
  };
}

/** The sheet with its stage's tone, on a table whose tone varies. */
function stageTone(
  sheet: SheetDesign,
  back: (u: number, v: number) => readonly [number, number],
  random: Random,
): (u: number, v: number) => number {
  const marks = sheetTone(sheet, back);
  const stage = { white: 235, grey: 128, black: 30, hue: 110 }[sheet.tone];
  const inset = sheet.bandCells * sheet.pitchMm + 1;
  const table = random.between(40, 180);
  const grain = random.between(0.05, 0.6);
  return (u, v) => {
    const [x, y] = back(u, v);
    if (x < 0 || y < 0 || x > sheet.widthMm || y > sheet.heightMm)
      return table + 25 * Math.sin(grain * u + 2 * Math.sin(0.01 * v));
    const deep = Math.min(
      x - sheet.originMm.x,
      y - sheet.originMm.y,
      sheet.originMm.x + sheet.columns * sheet.pitchMm - x,
      sheet.originMm.y + sheet.rows * sheet.pitchMm - y,
    );
    return deep > inset ? stage : marks(u, v);
  };
}

/** A region that takes a fifth of the border away: a half plane pushed in from a random side until it does. */
function lostFifth(sheet: SheetDesign, random: Random): (x: number, y: number) => boolean {
  const turn = random.between(0, 2 * Math.PI);
  const [c, s] = [Math.cos(turn), Math.sin(turn)];
  const along: number[] = [];
  for (let i = 0; i < sheet.columns; i++)
    for (let j = 0; j < sheet.rows; j++)
      if (Math.min(i, j, sheet.columns - 1 - i, sheet.rows - 1 - j) < sheet.bandCells)
        along.push(
          c * (sheet.originMm.x + (i + 0.5) * sheet.pitchMm) +
            s * (sheet.originMm.y + (j + 0.5) * sheet.pitchMm),
        );
  along.sort((a, b) => a - b);
  const edge = along[Math.floor(LOST_SHARE * along.length)]!;
  return (x, y) => c * x + s * y < edge;
}

/** Things that are no sheet of ours. */
export const STRANGERS = [
  'noise',
  'checkers',
  'text',
  'dots at random',
  'mirrored',
  'shuffled',
  'stripes',
] as const;
export type Stranger = (typeof STRANGERS)[number];

export async function strangerPicture(
  seed: number,
  kind: Stranger,
  widthPx: number,
  heightPx: number,
): Promise<Picture> {
  const random = new Random(seed * 104729 + 11);
  const turn = random.between(-0.4, 0.4);
  const cell = random.between(9, 40);
  const [c, s] = [Math.cos(turn) / cell, Math.sin(turn) / cell];
  const grid = (u: number, v: number): readonly [number, number] => [c * u + s * v, -s * u + c * v];
  const bits = Uint8Array.from({ length: 1 << 16 }, () => (random.next() < 0.5 ? 1 : 0));
  const bit = (i: number, j: number): number => bits[((i & 255) << 8) | (j & 255)]!;
  const dotted =
    (bitOf: (i: number, j: number) => number) =>
    (u: number, v: number): number => {
      const [x, y] = grid(u, v);
      const [i, j] = [Math.floor(x), Math.floor(y)];
      const dot = Math.max(Math.abs(x - i - 0.5), Math.abs(y - j - 0.5)) < 0.2 && bitOf(i, j) === 1;
      return (((i + j) & 1) === 0) !== dot ? 25 : 235;
    };
  const tone: (u: number, v: number) => number = {
    noise: () => {
      const coarse = random.between(2, 20);
      return (u: number, v: number) =>
        128 + 100 * (bit(Math.floor(u / coarse), Math.floor(v / coarse)) - 0.5);
    },
    checkers: () => dotted(() => 0),
    text: () => (u: number, v: number) => {
      const [x, y] = grid(u, v);
      const [i, j] = [Math.floor(2 * x), Math.floor(y)];
      return y - j < 0.6 && bit(i, j) && 2 * x - i < 0.7 ? 30 : 235;
    },
    'dots at random': () => dotted(bit),
    mirrored: () => {
      const sheet = layout(210, 297, 'white');
      const scale = Math.min(widthPx / 220, heightPx / 310);
      const marks = sheetTone(sheet, (u, v) => [215 - u / scale, (heightPx - v) / scale - 5]);
      return (u: number, v: number) => marks(u, v);
    },
    // Rows of a true sheet's code in a random order: every row is ours, and no two that lie together.
    shuffled: () => dotted((i, j) => bit(i, (j * 97 + 13) & 255)),
    stripes: () => (u: number, v: number) => 128 + 100 * Math.sign(Math.sin(6.28 * grid(u, v)[0])),
  }[kind]();
  const light = plane(widthPx, heightPx, tone);
  return pictureOf(blurred(light, widthPx, random.between(0.5, 1.5)), widthPx, random);
}

import { dotsOf, hasCheck, isBlack, DOT_SHARE } from '../sheet/code.ts';
import { designOfSheet, isScanner, sheetOfPicture, sheetOfPictureMany } from '../view/model.ts';
import type { View } from '../view/view.ts';
import type { Planes } from './planes.ts';

/** What the bare sheet shows at a coarse pixel. */
export const OUTSIDE = 0;
export const PAPER = 1;
export const INK = 2;
export const STAGE = 3;
/** Two tones meet here. */
export const MIXED = 4;
/** Paper on which words or lines may stand. */
export const WORDS = 5;

/** The bare sheet as it should look in this picture, and how far the picture is from that. */
export interface Backdrop {
  readonly kind: Uint8Array;
  /** Least and greatest light of a MIXED pixel of the border against the paper's, for print that lies a little off. */
  readonly mixedLight: (k: number) => readonly [least: number, most: number];
  /** Share of ink that the bare border shows at a place of the picture, px: 0 or 1. */
  readonly inkAt: (x: number, y: number) => number;
  /** Mean over the channels of ln(picture / bare sheet). */
  readonly level: Float32Array;
  /** Largest departure of a channel from `level`: the change of colour. */
  readonly chroma: Float32Array;
  /** Standard deviation of `level` on lit sheet. */
  readonly levelSigma: number;
  /** Standard deviation of `chroma` that noise explains, per coarse pixel. */
  readonly chromaSigma: Float32Array;
  /** ln(one channel / another) of the lit stage, in the middle: 0 red, 1 green, 2 blue. */
  readonly hueOf: (up: number, down: number) => number;
  /** The stage is a scanner's lid: nothing makes it brighter than it is. */
  readonly lid: boolean;
  /** Colour of the stage against the paper, linear light, per channel. */
  readonly stageTone: readonly [number, number, number];
}

/** Below this linear light the logarithm is noise. */
const DARKEST = 0.002;
/** A toned stage begins this far inside the border (as drawn). */
const STAGE_RIM_MM = 1;

/** Predicts the bare sheet through the view and compares. */
export function backdropOf(planes: Planes, view: View): Backdrop {
  // Only a whole sheet on the glass lies behind the blanks; beside a strip the lid does.
  const lid = isScanner(view.eye) && (view.sheet.columns === 0 || view.sheet.field !== undefined);
  const { kind, inkAt, inkShare } = lid
    ? { kind: kindsOnGlass(planes, view), inkAt: () => 0, inkShare: () => [0, 1] as const }
    : kindsOf(planes, view);
  const { width, height, colour } = planes;
  const count = width * height;
  const gains = colour.map((plane) =>
    lid ? fitLid(plane, kind, planes) : fitGain(plane, kind, planes, view.sheet.tone !== 'white'),
  );
  const level = new Float32Array(count);
  const chroma = new Float32Array(count);
  const chromaSigma = new Float32Array(count);
  const rows = [new Float64Array(5), new Float64Array(5), new Float64Array(5)];
  for (let j = 0; j < height; j++) {
    const y = (2 * j) / height - 1;
    for (let c = 0; c < 3; c++) rowOf(gains[c]!.smooth, y, rows[c]!);
    compareRow(j, planes, kind, gains, rows, { level, chroma, chromaSigma });
  }
  // The ink's light against the paper's.
  const ink = gains.reduce((sum, g) => sum + Math.exp(g.tone[INK]!) / 3, 0);
  return {
    kind,
    inkAt,
    mixedLight: (k) => {
      const [least, most] = inkShare(k);
      return [1 - most * (1 - ink), 1 - least * (1 - ink)];
    },
    level,
    chroma,
    chromaSigma,
    levelSigma: Math.max(0.004, ...gains.map((g) => g.sigma)),
    lid,
    hueOf: (up, down) => hueOf([colour[up]!, colour[down]!], kind, level, chroma),
    stageTone: gains.map((g) => Math.exp(g.tone[STAGE]!)) as unknown as Backdrop['stageTone'],
  };
}

/** A channel that lies so far (ln) from the others has been swallowed. */
const SWALLOWED = 1;

/** Compares one row with the bare sheet, whose light along it is a polynomial for each channel. */
function compareRow(
  j: number,
  { width, colour: [reds, greens, blues] }: Planes,
  kind: Uint8Array,
  gains: readonly Gain[],
  light: readonly Float64Array[],
  { level, chroma, chromaSigma }: Pick<Backdrop, 'level' | 'chroma' | 'chromaSigma'>,
): void {
  const [redTone, greenTone, blueTone] = gains.map((g) => g.tone) as [Tone, Tone, Tone];
  const [redLight, greenLight, blueLight] = light as [Float64Array, Float64Array, Float64Array];
  for (let i = 0, k = j * width; i < width; i++, k++) {
    const what = kind[k]!;
    if (what === OUTSIDE) continue;
    const x = (2 * i) / width - 1;
    const red = Math.max(DARKEST, reds[k]!);
    const green = Math.max(DARKEST, greens[k]!);
    const blue = Math.max(DARKEST, blues[k]!);
    const ofRed = redTone[what]! + along(redLight, x);
    const ofGreen = greenTone[what]! + along(greenLight, x);
    const ofBlue = blueTone[what]! + along(blueLight, x);
    const r = logarithm(red) - ofRed;
    const g = logarithm(green) - ofGreen;
    const b = logarithm(blue) - ofBlue;
    const mean = (r + g + b) / 3;
    level[k] = mean;
    chroma[k] = Math.max(Math.abs(r - mean), Math.abs(g - mean), Math.abs(b - mean));
    const least = Math.min(red, green, blue);
    // A channel that the blank all but swallows is no noise: what the bare sheet's would be in a shade as deep.
    const dark = chroma[k]! > SWALLOWED ? Math.exp(mean + Math.min(ofRed, ofGreen, ofBlue)) : least;
    chromaSigma[k] = 0.012 + 0.0015 / Math.max(dark, least);
  }
}

/** ln of linear light from a table, linear between: within 1e-5 from DARKEST on, in a third of the time. */
const LOG_STEPS = 65536;
const LOG = Float64Array.from({ length: LOG_STEPS + 2 }, (_, k) => Math.log(k / LOG_STEPS));
function logarithm(light: number): number {
  const at = light * LOG_STEPS;
  const k = Math.trunc(at);
  return LOG[k]! + (at - k) * (LOG[k + 1]! - LOG[k]!);
}

function hueOf(
  [up, down]: readonly [Float32Array, Float32Array],
  kind: Uint8Array,
  level: Float32Array,
  chroma: Float32Array,
): number {
  const values: number[] = [];
  for (let k = 0; k < kind.length; k += 7) {
    if (kind[k] !== STAGE || Math.abs(level[k]!) > 0.05 || chroma[k]! > 0.05) continue;
    values.push(Math.log((up[k]! + 0.005) / (down[k]! + 0.005)));
  }
  return values.length ? median(values) : 0;
}

/** Margin about the strip's page that is not looked at: it may be cut a little wide, and its edge casts a shadow, mm. */
const STRIP_MARGIN_MM = 2;

/** The lid, but for the strip and the picture's outermost pixels. */
function kindsOnGlass(planes: Planes, view: View): Uint8Array {
  const { sheet, eye } = view;
  const { width, height, step, left, top } = planes;
  const kind = new Uint8Array(width * height);
  for (let j = 1; j < height - 1; j++) {
    for (let i = 1; i < width - 1; i++) {
      kind[j * width + i] = STAGE;
      if (!sheet.columns) continue;
      const p = sheetOfPicture(
        eye,
        { x: left + (i + 0.5) * step - 0.5, y: top + (j + 0.5) * step - 0.5 },
        0,
      );
      const outside = Math.max(-p.x, -p.y, p.x - sheet.widthMm, p.y - sheet.heightMm);
      if (outside < STRIP_MARGIN_MM) kind[j * width + i] = OUTSIDE;
    }
  }
  return kind;
}

/** Sorts coarse pixels by what the bare sheet shows there. */
function kindsOf(
  planes: Planes,
  view: View,
): {
  kind: Uint8Array;
  inkAt: Backdrop['inkAt'];
  inkShare: (k: number) => readonly [least: number, most: number];
} {
  const { sheet, eye } = view;
  const { width, height, step, left, top } = planes;
  const kind = new Uint8Array(width * height);
  const dots = dotsOf(sheet);
  // The map from picture to sheet is smooth: exact on a grid of 16 coarse pixels, linear between.
  const GRID = 16;
  const across = Math.ceil(width / GRID) + 1;
  const down = Math.ceil(height / GRID) + 1;
  const grid = new Float64Array(2 * across * down);
  for (let j = 0; j < down; j++) {
    for (let i = 0; i < across; i++) {
      const at = 2 * (j * across + i);
      grid[at] = left + i * GRID * step + (step - 1) / 2;
      grid[at + 1] = top + j * GRID * step + (step - 1) / 2;
    }
  }
  sheetOfPictureMany(eye, grid, 0, grid);
  for (let at = 0; at < grid.length; at += 2) {
    const design = designOfSheet(view, { x: grid[at]!, y: grid[at + 1]! });
    grid[at] = design.x;
    grid[at + 1] = design.y;
  }
  const { pitchMm: pitch, originMm: o, columns, rows, bandCells, widthMm, heightMm } = sheet;
  // A coarse pixel's half diagonal, blur, and a little print error.
  const BARE = 0;
  const CHECK = 1;
  const DOTTED = 2;
  const cells = new Uint8Array(columns * rows);
  for (let i = 0; i < columns; i++) {
    for (let j = 0; j < rows; j++) {
      if (hasCheck(sheet, i, j)) cells[j * columns + i] = dots(i, j) ? DOTTED : CHECK;
    }
  }
  const bareAround = (ci: number, cj: number): boolean => {
    for (let j = cj - 1; j <= cj + 1; j++)
      for (let i = ci - 1; i <= ci + 1; i++)
        if (i >= 0 && j >= 0 && i < columns && j < rows && cells[j * columns + i] !== BARE)
          return false;
    return true;
  };
  const clear = step * view.mmPerPx * 0.75 + view.blurPx * view.mmPerPx * 2 + 0.1;
  const rim = sheet.tone === 'white' ? 0 : STAGE_RIM_MM;
  const dotHalf = (pitch * DOT_SHARE) / 2;
  // Where coarse pixel (i, j) looks on the sheet as drawn, mm.
  let [x, y] = [0, 0];
  const lookAt = (i: number, j: number): void => {
    const gj = Math.floor(j / GRID);
    const fj = j / GRID - gj;
    const gi = Math.floor(i / GRID);
    const fi = i / GRID - gi;
    const a = 2 * (gj * across + gi);
    const b = a + 2 * across;
    x =
      (grid[a]! * (1 - fi) + grid[a + 2]! * fi) * (1 - fj) +
      (grid[b]! * (1 - fi) + grid[b + 2]! * fi) * fj;
    y =
      (grid[a + 1]! * (1 - fi) + grid[a + 3]! * fi) * (1 - fj) +
      (grid[b + 1]! * (1 - fi) + grid[b + 3]! * fi) * fj;
  };
  for (let j = 0; j < height; j++) {
    for (let i = 0; i < width; i++) {
      lookAt(i, j);
      if (Math.min(x, y, widthMm - x, heightMm - y) < 1.5) continue;
      const u = (x - o.x) / pitch;
      const v = (y - o.y) / pitch;
      const outer = Math.min(u, v, columns - u, rows - v) * pitch;
      const inner = outer - bandCells * pitch;
      let what = MIXED;
      if (outer < -clear) what = PAPER;
      else if (inner > rim + clear) what = STAGE;
      else if (inner > clear && inner < rim - clear) what = PAPER;
      else if (outer > 0 && inner < 0) {
        const ci = Math.floor(u);
        const cj = Math.floor(v);
        const cell = cells[cj * columns + ci]!;
        const dx = Math.abs(u - ci - 0.5) * pitch;
        const dy = Math.abs(v - cj - 0.5) * pitch;
        const far = Math.max(dx, dy);
        if (cell === BARE) {
          if (pitch / 2 - far > clear || bareAround(ci, cj)) what = WORDS;
        } else {
          const dot = cell === DOTTED;
          const black = isBlack(ci, cj);
          if (pitch / 2 - far > clear && (!dot || far > dotHalf + clear))
            what = black ? INK : PAPER;
          else if (dot && far < dotHalf - clear) what = black ? PAPER : INK;
        }
      }
      kind[j * width + i] = what;
    }
  }
  const inkOn = (px: number, py: number): number => {
    const u = (px - o.x) / pitch;
    const v = (py - o.y) / pitch;
    const ci = Math.floor(u);
    const cj = Math.floor(v);
    if (ci < 0 || cj < 0 || ci >= columns || cj >= rows) return 0;
    const cell = cells[cj * columns + ci]!;
    if (cell === BARE) return 0;
    const inDot = Math.max(Math.abs(u - ci - 0.5), Math.abs(v - cj - 0.5)) * pitch < dotHalf;
    return isBlack(ci, cj) !== (cell === DOTTED && inDot) ? 1 : 0;
  };
  const inkShare = (k: number): readonly [number, number] => {
    const i = k % width;
    lookAt(i, (k - i) / width);
    const SIDE = 4;
    const half = (step * view.mmPerPx) / 2 + view.blurPx * view.mmPerPx;
    let [least, most] = [1, 0];
    for (const [ox, oy] of PRINT_OFF) {
      let sum = 0;
      for (let a = 0; a < SIDE; a++)
        for (let b = 0; b < SIDE; b++)
          sum += inkOn(
            x + ox * PRINT_OFF_MM + ((2 * a + 1) / SIDE - 1) * half,
            y + oy * PRINT_OFF_MM + ((2 * b + 1) / SIDE - 1) * half,
          );
      least = Math.min(least, sum / SIDE / SIDE);
      most = Math.max(most, sum / SIDE / SIDE);
    }
    return [least, most];
  };
  const inkAt = (xPx: number, yPx: number): number => {
    const i = (xPx - left + 0.5) / step - 0.5;
    const j = (yPx - top + 0.5) / step - 0.5;
    if (!(i >= 0 && j >= 0 && i < width && j < height)) return 0;
    lookAt(i, j);
    return inkOn(x, y);
  };
  return { kind, inkAt, inkShare };
}

/** Print may lie this far from where the view sees it, mm. */
const PRINT_OFF_MM = 0.1;
const PRINT_OFF = [
  [0, 0],
  [1, 0],
  [-1, 0],
  [0, 1],
  [0, -1],
] as const;

const SMOOTH_TERMS = 15;
const TERMS = SMOOTH_TERMS + 2;
const INK_TERM = SMOOTH_TERMS;
const STAGE_TERM = SMOOTH_TERMS + 1;

const along = (q: Float64Array, x: number): number =>
  q[0]! + x * (q[1]! + x * (q[2]! + x * (q[3]! + x * q[4]!)));

/** The polynomial at height y as a polynomial in x alone. */
function rowOf(smooth: Float64Array, y: number, out: Float64Array): void {
  let n = 0;
  for (let a = 0; a <= 4; a++) {
    let sum = 0;
    let p = 1;
    for (let b = 0; a + b <= 4; b++, p *= y) sum += smooth[n++]! * p;
    out[a] = sum;
  }
}

/** Monomials of degree up to four in x and y, both within -1 to 1. */
function polynomial(x: number, y: number, out: Float64Array): void {
  let n = 0;
  let px = 1;
  for (let a = 0; a <= 4; a++, px *= x) {
    let p = px;
    for (let b = 0; a + b <= 4; b++, p *= y) out[n++] = p;
  }
}

type Tone = readonly [number, number, number, number, number, number];

interface Gain {
  readonly smooth: Float64Array;
  /** Added to the smooth part by kind. */
  readonly tone: Tone;
  readonly sigma: number;
}

/**
 * The light over the sheet as a polynomial in the logarithm: first on the white paper around the stage, then grown onto
 * the stage with narrowing tolerance, because a fit to the border alone extrapolates badly. Shadows count half.
 */
function fitGain(plane: Float32Array, kind: Uint8Array, planes: Planes, toned: boolean): Gain {
  return fitLight(plane, kind, planes, toned, false);
}

/** The same for a lid: first along the picture's edges, where a blank is least likely. */
function fitLid(plane: Float32Array, kind: Uint8Array, planes: Planes): Gain {
  return fitLight(plane, kind, planes, false, true);
}

/** Share of the picture's width and height that counts as its edge. */
const LID_EDGE = 0.08;
/** How far from the edge's median the lid may be taken to be at first (ln). */
const LID_SPREAD = 0.4;

function fitLight(
  plane: Float32Array,
  kind: Uint8Array,
  planes: Planes,
  toned: boolean,
  lid: boolean,
): Gain {
  const { width, height } = planes;
  const aimed = 1500;
  const stride = Math.max(1, Math.floor(Math.sqrt((width * height) / aimed)));
  const samples: number[] = [];
  for (let j = stride >> 1; j < height; j += stride) {
    for (let i = stride >> 1; i < width; i += stride) {
      const what = kind[j * width + i]!;
      if (what === PAPER || what === INK || what === STAGE) samples.push(j * width + i);
    }
  }
  const log = Float64Array.from(samples, (k) => Math.log(Math.max(DARKEST, plane[k]!)));
  const rows = new Float64Array(samples.length * TERMS);
  const row = new Float64Array(TERMS);
  samples.forEach((k, n) => {
    const i = k % width;
    polynomial((2 * i) / width - 1, (2 * (k - i)) / width / height - 1, row);
    row[INK_TERM] = kind[k] === INK ? 1 : 0;
    row[STAGE_TERM] = toned && kind[k] === STAGE ? 1 : 0;
    rows.set(row, n * TERMS);
  });
  let solution = new Float64Array(TERMS);
  let sigma = 0.1;
  const residual = (n: number): number => {
    let r = log[n]!;
    for (let t = 0; t < TERMS; t++) r -= rows[n * TERMS + t]! * solution[t]!;
    return r;
  };
  const solve = (weightOf: (n: number) => number, degree: number): void => {
    solution = weightedLeastSquares(rows, samples.length, (n) => log[n]!, weightOf, degree);
  };
  const onEdge = (n: number): boolean => {
    const i = samples[n]! % width;
    const j = (samples[n]! - i) / width;
    return Math.min(i / width, 1 - i / width, j / height, 1 - j / height) < LID_EDGE;
  };
  const onBorder = (n: number): boolean => (lid ? onEdge(n) : kind[samples[n]!] !== STAGE);
  // Black ink reflects the room: a quarter of the paper's weight.
  const trust = (n: number): number => (kind[samples[n]!] === INK ? 0.25 : 1);
  if (lid) solution[0] = median(samples.flatMap((_, n) => (onEdge(n) ? [log[n]!] : [])));
  else solve((n) => (onBorder(n) ? trust(n) : 0), 2);
  for (let round = 0; round < 3; round++) {
    sigma = spread(samples.length, (n) =>
      (lid ? onEdge(n) : kind[samples[n]!] === PAPER) ? residual(n) : NaN,
    );
    const limit = lid ? LID_SPREAD : Math.max(3 * sigma, 0.02);
    const before = Float64Array.from(samples, (_, n) => residual(n));
    solve((n) => (onBorder(n) ? trust(n) * tukey(before[n]!, limit) : 0), 2);
  }
  if (toned) solution[STAGE_TERM] = stageOffset(samples, kind, width, height, residual);
  for (const tolerance of [0.35, 0.2, 0.12, 0.08, 0.06, 0.05]) {
    const before = Float64Array.from(samples, (_, n) => residual(n));
    solve(
      (n) => trust(n) * tukey(before[n]!, tolerance) * (before[n]! < 0 ? 0.5 : 1),
      tolerance > 0.15 ? 3 : 4,
    );
  }
  sigma = spread(samples.length, (n) => {
    const r = residual(n);
    return kind[samples[n]!] !== INK && Math.abs(r) < 0.05 ? r : NaN;
  });
  const stage = toned ? solution[STAGE_TERM]! : 0;
  return {
    smooth: solution.slice(0, SMOOTH_TERMS),
    tone: [0, 0, solution[INK_TERM]!, stage, 0, 0],
    sigma,
  };
}

/** The stage's tone against the paper, from its outer part, where a blank is least likely. */
function stageOffset(
  samples: readonly number[],
  kind: Uint8Array,
  width: number,
  height: number,
  residual: (n: number) => number,
): number {
  const reach = Math.round(Math.min(width, height) * 0.05);
  const values: number[] = [];
  samples.forEach((k, n) => {
    if (kind[k] !== STAGE) return;
    const i = k % width;
    const j = (k - i) / width;
    const near = [-1, 1].some(
      (s) =>
        kind[j * width + Math.min(width - 1, Math.max(0, i + s * reach))] !== STAGE ||
        kind[Math.min(height - 1, Math.max(0, j + s * reach)) * width + i] !== STAGE,
    );
    if (near) values.push(residual(n));
  });
  return values.length ? median(values) : 0;
}

const tukey = (r: number, limit: number): number =>
  Math.abs(r) < limit ? (1 - (r / limit) ** 2) ** 2 : 0;

function median(values: number[]): number {
  values.sort((a, b) => a - b);
  return values[values.length >> 1]!;
}

/** Robust standard deviation (1.4826 MAD about zero) of the values that are not NaN. */
function spread(count: number, value: (n: number) => number): number {
  const sizes: number[] = [];
  for (let n = 0; n < count; n++) {
    const v = value(n);
    if (v === v) sizes.push(Math.abs(v));
  }
  return sizes.length ? 1.4826 * median(sizes) : 0.05;
}

/** Solves the weighted normal equations; monomials above `degree` and terms that no sample has stay zero. */
function weightedLeastSquares(
  rows: Float64Array,
  count: number,
  value: (n: number) => number,
  weight: (n: number) => number,
  degree: number,
): Float64Array<ArrayBuffer> {
  const used: number[] = [];
  let n = 0;
  for (let a = 0; a <= 4; a++)
    for (let b = 0; a + b <= 4; b++, n++) if (a + b <= degree) used.push(n);
  used.push(INK_TERM, STAGE_TERM);
  const m = used.length;
  const normal = new Float64Array(m * (m + 1));
  for (let s = 0; s < count; s++) {
    const w = weight(s);
    if (w <= 0) continue;
    const from = s * TERMS;
    const v = value(s);
    for (let a = 0; a < m; a++) {
      const wa = w * rows[from + used[a]!]!;
      if (wa === 0) continue;
      for (let b = a; b < m; b++) normal[a * (m + 1) + b]! += wa * rows[from + used[b]!]!;
      normal[a * (m + 1) + m]! += wa * v;
    }
  }
  for (let a = 0; a < m; a++) {
    normal[a * (m + 1) + a]! += 1e-9 + 1e-9 * normal[a * (m + 1) + a]!;
    for (let b = 0; b < a; b++) normal[a * (m + 1) + b] = normal[b * (m + 1) + a]!;
  }
  // Gauss-Jordan; symmetric and positive, so no pivoting.
  for (let a = 0; a < m; a++) {
    const pivot = normal[a * (m + 1) + a]!;
    for (let b = a; b <= m; b++) normal[a * (m + 1) + b]! /= pivot;
    for (let r = 0; r < m; r++) {
      const f = normal[r * (m + 1) + a]!;
      if (r === a || f === 0) continue;
      for (let b = a; b <= m; b++) normal[r * (m + 1) + b]! -= f * normal[a * (m + 1) + b]!;
    }
  }
  const out = new Float64Array(TERMS);
  used.forEach((t, a) => (out[t] = normal[a * (m + 1) + m]!));
  return out;
}

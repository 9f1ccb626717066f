import type { Point } from '../base/measure.ts';
import type { View } from '../view/view.ts';
import { INK, MIXED, OUTSIDE, PAPER, STAGE, WORDS, type Backdrop } from './backdrop.ts';
import { cut } from './cut.ts';
import type { Planes } from './planes.ts';
import type { Steps } from './steps.ts';

/** Colour departs from the sheet's: no shadow. */
const SURE_CHROMA = 0.07;
const SURE_SIGMAS = 5;
/** Nor, in what is this much darker than the sheet (ln), where this little stands out in most of a pixel's neighbours too. */
const FAINT_DARK = -1;
const FAINT_CHROMA = 0.15;
const FAINT_SIGMAS = 3;
/** Of the nine, itself among them. */
const MOST_OF_NINE = 6;
/** Strokes of words come with fringes of colour. */
const WORDS_CHROMA = 0.15;
/** Darker than any shadow on the sheet. */
const SURE_DARK = Math.log(0.1);
/** Brighter than a scanner's lid by this (ln): no shadow makes it so. */
const SURE_BRIGHT = 0.2;
const DIVIDE = 1.5;
const DIVIDE_AT_STEP = 0.05;
const STEP_PULL = 0.25;
/** How strongly the undecided is taken for sheet, tried in turn. */
const SHEET_PULLS = [0.05, 0.025, 0.012] as const;
/** Share of a contour that must run along sharp steps. */
const LEAST_SUPPORT = 0.8;

/** One connected thing on the sheet, on the coarse grid. */
export interface Thing {
  /** 1 inside; as large as the coarse planes. */
  readonly mask: Uint8Array;
  readonly areaMm2: number;
  /** Bounding box on the coarse grid, inclusive. */
  readonly box: readonly [x0: number, y0: number, x1: number, y1: number];
  /** Share of its area that lies on the stage. */
  readonly onStage: number;
  /** It reaches the paper's edge. */
  readonly reachesEdge: boolean;
  /** It covers part of the border of marks. */
  readonly coversMarks: boolean;
  /** Riders lying in it, by their index in the view, and the share of its area they cover. */
  readonly riders: readonly number[];
  readonly riderShare: number;
}

/** Things smaller than this are crumbs, mm². */
const CRUMB_MM2 = 20;

export interface Evidence {
  /** Blank for certain: its colour or darkness is no shadow's. */
  readonly sure: Uint8Array;
  /** Lit sheet. */
  readonly lit: Uint8Array;
}

/** Coarse pixels that are certainly blank, or lit sheet; rows of `width`. */
export function evidenceOf(backdrop: Backdrop, inRider: Uint8Array, width: number): Evidence {
  const { kind, level, chroma, chromaSigma, levelSigma, lid } = backdrop;
  const sure = new Uint8Array(kind.length);
  const lit = new Uint8Array(kind.length);
  for (let k = 0; k < kind.length; k++) {
    const what = kind[k]!;
    if (what === OUTSIDE) continue;
    const limit = Math.max(SURE_CHROMA, SURE_SIGMAS * chromaSigma[k]!);
    if (inRider[k]) sure[k] = 1;
    else if (what === MIXED) sure[k] = chroma[k]! > 2.5 * limit ? 1 : 0;
    else if (what === WORDS) sure[k] = chroma[k]! > Math.max(WORDS_CHROMA, limit) ? 1 : 0;
    else if (what === INK) {
      const coloured = level[k]! > BEYOND_INK && chroma[k]! > Math.max(0.15, 2 * chromaSigma[k]!);
      sure[k] = coloured || chroma[k]! > 2 * limit ? 1 : 0;
    } else {
      const bright = lid && level[k]! > Math.max(SURE_BRIGHT, 6 * levelSigma);
      const faint = Math.max(FAINT_CHROMA, FAINT_SIGMAS * chromaSigma[k]!);
      const coloured =
        chroma[k]! > limit ||
        (level[k]! < FAINT_DARK &&
          chroma[k]! > faint &&
          larger(chroma, k, width, faint) >= MOST_OF_NINE);
      sure[k] = coloured || level[k]! < SURE_DARK || bright ? 1 : 0;
      lit[k] = !sure[k] && Math.abs(level[k]!) < 3 * levelSigma ? 1 : 0;
    }
  }
  litBorder(backdrop, { sure, lit }, width);
  return { sure, lit };
}

/** How many of a pixel and the eight about it are larger than a limit. */
function larger(values: Float32Array, k: number, width: number, limit: number): number {
  let count = 0;
  for (let row = -1; row <= 1; row++)
    for (let s = -1; s <= 1; s++) if ((values[k + row * width + s] ?? 0) > limit) count++;
  return count;
}

/** Brighter than ink by this much (ln), and coloured: no ink. */
const BEYOND_INK = 0.8;
/** Ink reflects the room: its level may be off by this much (ln). */
const INK_LEVEL = 0.35;
/** Coarse pixels about a blank that lies over the border. */
const BORDER_REACH = 12;

/**
 * Lit sheet among the checks and words of the border, near a blank that lies over it: elsewhere nobody asks. A black blank
 * looks like ink, so that ink alone never parts it from itself.
 */
function litBorder(backdrop: Backdrop, { sure, lit }: Evidence, width: number): void {
  const { kind, level, chroma, chromaSigma, levelSigma, mixedLight } = backdrop;
  const near = new Uint8Array(kind.length);
  for (let k = 0; k < kind.length; k++) {
    if (!sure[k] || (kind[k] !== INK && kind[k] !== WORDS && kind[k] !== PAPER)) continue;
    for (let row = -BORDER_REACH; row <= BORDER_REACH; row++) {
      const from = Math.max(0, k + row * width - BORDER_REACH);
      near.fill(1, from, Math.max(from, k + row * width + BORDER_REACH + 1));
    }
  }
  for (let k = 0; k < kind.length; k++) {
    if (!near[k] || sure[k]) continue;
    const grey = chroma[k]! < Math.max(SURE_CHROMA, 3 * chromaSigma[k]!);
    if (kind[k] === WORDS) lit[k] = grey && Math.abs(level[k]!) < 3 * levelSigma ? 1 : 0;
    else if (kind[k] === INK) lit[k] = grey && Math.abs(level[k]!) < INK_LEVEL ? 1 : 0;
    else if (kind[k] === MIXED && grey) {
      const [least, most] = mixedLight(k);
      const light = Math.exp(level[k]!);
      lit[k] = light > 0.9 * least - 0.02 && light < 1.1 * most + 0.02 ? 1 : 0;
    }
  }
}

/** Coarse pixels inside the riders' quadrilaterals, numbered from 1. */
export function ridersOn(planes: Planes, view: View): Uint8Array {
  const out = new Uint8Array(planes.width * planes.height);
  view.riders.forEach((rider, n) => {
    const ring = rider.corners.map((p) => ({
      x: (p.x - planes.left + 0.5) / planes.step - 0.5,
      y: (p.y - planes.top + 0.5) / planes.step - 0.5,
    }));
    fill(out, planes.width, planes.height, ring, n + 1);
  });
  return out;
}

/** Marks the pixels whose centres lie in a polygon. */
function fill(
  out: Uint8Array,
  width: number,
  height: number,
  ring: readonly Point<'picture'>[],
  value: number,
): void {
  const ys = ring.map((p) => p.y);
  const y0 = Math.max(0, Math.ceil(Math.min(...ys)));
  const y1 = Math.min(height - 1, Math.floor(Math.max(...ys)));
  for (let y = y0; y <= y1; y++) {
    const xs: number[] = [];
    ring.forEach((a, n) => {
      const b = ring[(n + 1) % ring.length]!;
      if (a.y <= y !== b.y <= y) xs.push(a.x + ((y - a.y) / (b.y - a.y)) * (b.x - a.x));
    });
    xs.sort((a, b) => a - b);
    for (let n = 0; n + 1 < xs.length; n += 2) {
      for (let x = Math.max(0, Math.ceil(xs[n]!)); x <= Math.min(width - 1, xs[n + 1]!); x++) {
        out[y * width + x] = value;
      }
    }
  }
}

/** Divides blank from sheet: a cut on a grid half as fine, then once more in a band along its edge, then holes. */
export function maskOf(
  planes: Planes,
  backdrop: Backdrop,
  steps: Steps,
  evidence: Evidence,
  mmPerPx: number,
): Uint8Array {
  const rough = roughMask(planes, backdrop, steps, evidence);
  const fine = refine(rough, planes, backdrop, steps, evidence);
  openGaps(fine, planes, backdrop, steps, evidence, (planes.step * mmPerPx) ** 2);
  return fine;
}

function roughMask(
  planes: Planes,
  backdrop: Backdrop,
  steps: Steps,
  evidence: Evidence,
): Uint8Array {
  const width = planes.width >> 1;
  const height = planes.height >> 1;
  const count = width * height;
  const outside = new Uint8Array(count);
  const sure = new Uint8Array(count);
  const lit = new Uint8Array(count);
  const sharp = new Uint8Array(count);
  for (let y = 0; y < height; y++) {
    for (let x = 0; x < width; x++) {
      const k = y * width + x;
      const q = 2 * y * planes.width + 2 * x;
      for (let corner = 0; corner < 4; corner++) {
        const a = q + (corner & 1) + (corner >> 1) * planes.width;
        if (backdrop.kind[a] === OUTSIDE) outside[k] = 1;
        sure[k]! += evidence.sure[a]!;
        lit[k]! += evidence.lit[a]!;
        sharp[k]! |= steps.sharp[a]!;
      }
    }
  }
  const right = new Float32Array(count);
  const below = new Float32Array(count);
  const stepPull = new Float32Array(count);
  for (let y = 0; y < height; y++) {
    for (let x = 0; x < width; x++) {
      const k = y * width + x;
      for (let side = 0; side < 2; side++) {
        if (side === 0 ? x + 1 === width : y + 1 === height) continue;
        const other = side === 0 ? k + 1 : k + width;
        const cost = side === 0 ? right : below;
        const stepped = sharp[k]! | sharp[other]!;
        cost[k] = stepped ? DIVIDE_AT_STEP : DIVIDE;
        if (stepped) {
          stepPull[k]! += STEP_PULL;
          stepPull[other]! += STEP_PULL;
        }
      }
    }
  }
  let best: Uint8Array | undefined;
  let bestArea = -1;
  const pull = new Float32Array(count);
  for (const sheet of SHEET_PULLS) {
    for (let k = 0; k < count; k++) {
      if (outside[k]) pull[k] = -1e4;
      else if (sure[k]! >= 2) pull[k] = 2;
      else pull[k] = stepPull[k]! - (lit[k]! >= 2 ? 2 * sheet : sheet);
    }
    const mask = cut({ width, height, pull, right, below });
    let area = 0;
    let edge = 0;
    let held = 0;
    for (let k = 0; k < count - width; k++) {
      area += mask[k]!;
      for (let other = k + 1; other <= k + width; other += width - 1) {
        if (mask[k] !== mask[other]) {
          edge++;
          held += sharp[k]! | sharp[other]!;
        }
      }
    }
    if (!best || (area > bestArea && held >= LEAST_SUPPORT * edge)) {
      best = mask;
      bestArea = area;
    }
    if (held >= LEAST_SUPPORT * edge && nothingLeft(mask, sure, sharp, width)) break;
  }
  const out = new Uint8Array(planes.width * planes.height);
  for (let y = 0; y < planes.height; y++) {
    const row = Math.min(height - 1, y >> 1) * width;
    for (let x = 0; x < planes.width; x++) {
      out[y * planes.width + x] = best![row + Math.min(width - 1, x >> 1)]!;
    }
  }
  return out;
}

/** Sharp steps that a division leaves on the sheet, in rough pixels, before a blank may have been missed. */
const LEFT_OVER = 40;

/**
 * Whether a division explains the picture: what it calls blank is certainly blank for the most part, and hardly any sharp
 * step runs over what it calls sheet. Pulling the undecided less toward the sheet would then only add shadow.
 */
function nothingLeft(
  mask: Uint8Array,
  sure: Uint8Array,
  sharp: Uint8Array,
  width: number,
): boolean {
  let area = 0;
  let certain = 0;
  let left = 0;
  for (let k = 2 * width + 2; k < mask.length - 2 * width - 2; k++) {
    if (mask[k]) {
      area++;
      if (sure[k]) certain++;
    } else if (sharp[k]) {
      const near =
        mask[k - 2]! |
        mask[k + 2]! |
        mask[k - 2 * width]! |
        mask[k + 2 * width]! |
        mask[k - width - 1]! |
        mask[k - width + 1]! |
        mask[k + width - 1]! |
        mask[k + width + 1]!;
      if (!near) left++;
    }
  }
  return area > 0 && certain > 0.85 * area && left < LEFT_OVER;
}

const BAND = 3;

/** The same division at full coarse size, in a band along the rough edge. */
function refine(
  rough: Uint8Array,
  planes: Planes,
  backdrop: Backdrop,
  steps: Steps,
  evidence: Evidence,
): Uint8Array {
  const { width, height } = planes;
  const band = new Uint8Array(rough.length);
  for (let y = 0; y < height; y++) {
    for (let x = 0; x < width; x++) {
      const k = y * width + x;
      if (
        (x + 1 < width && rough[k] !== rough[k + 1]) ||
        (y + 1 < height && rough[k] !== rough[k + width])
      ) {
        for (let b = Math.max(0, y - BAND); b <= Math.min(height - 1, y + BAND + 1); b++) {
          const row = b * width;
          band.fill(1, row + Math.max(0, x - BAND), row + Math.min(width, x + BAND + 2));
        }
      }
    }
  }
  // Only the box around the bands is divided anew.
  let [x0, x1, y0, y1] = [planes.width, -1, planes.height, -1];
  for (let k = 0; k < band.length; k++) {
    if (!band[k]) continue;
    const x = k % planes.width;
    const y = (k - x) / planes.width;
    if (x < x0) x0 = x;
    if (x > x1) x1 = x;
    if (y < y0) y0 = y;
    if (y > y1) y1 = y;
  }
  if (x1 < 0) return rough;
  const across = x1 - x0 + 1;
  const down = y1 - y0 + 1;
  const pull = new Float32Array(across * down);
  const right = new Float32Array(across * down);
  const below = new Float32Array(across * down);
  const { sharp } = steps;
  for (let y = y0; y <= y1; y++) {
    for (let x = x0; x <= x1; x++) {
      const k = y * width + x;
      if (!band[k]) continue;
      const c = (y - y0) * across + x - x0;
      if (backdrop.kind[k] === OUTSIDE) pull[c] = -1e4;
      else if (evidence.sure[k]) pull[c]! += 2;
      else pull[c]! -= evidence.lit[k] ? 0.3 : 0.05;
      for (let side = 0; side < 4; side++) {
        const dx = side === 0 ? -1 : side === 1 ? 1 : 0;
        const dy = side === 2 ? -1 : side === 3 ? 1 : 0;
        if (x + dx < 0 || x + dx >= width || y + dy < 0 || y + dy >= height) continue;
        const other = k + dx + dy * width;
        if (!band[other]) pull[c]! += rough[other] ? 10 : -10;
        else if (side === 1) right[c] = sharp[k]! | sharp[other]! ? 0.1 : 1;
        else if (side === 3) below[c] = sharp[k]! | sharp[other]! ? 0.1 : 1;
      }
    }
  }
  const inside = cut({ width: across, height: down, pull, right, below });
  const out = rough.slice();
  for (let y = y0; y <= y1; y++) {
    for (let x = x0; x <= x1; x++) {
      const k = y * width + x;
      if (band[k]) out[k] = inside[(y - y0) * across + x - x0]!;
    }
  }
  return out;
}

/** Share of a blank that must be certain by colour or darkness before what is not certain may be a gap in it. */
const LEAST_SURE_SHARE = 0.6;
/**
 * A gap is larger than dust. In a scan that is a hole of 1 mm, less half a coarse pixel all round, and a bay, which is open to the
 * stage, from 0.1 mm² and four pixels: a fibre that lies against the blank is no part of it. In a photo a dark bit of wall looks
 * like shaded floor.
 */
const leastGapMm2 = (lid: boolean, bay: boolean): number => (lid ? (bay ? 0.1 : 0.4) : 1);
const LEAST_GAP_PIXELS = 4;
/** Share of a gap's edge that must step sharply, and of the mouth of a bay that may: its two ends do. */
const HELD_SHARE = 0.7;
const MOUTH_SHARE = 0.5;
/** Share of a hole over a scanner's lid that must be as bright as the lid; the rest may lie in shadow. */
const LEAST_LIT_SHARE = 0.2;
/** A shadow on the lid is brighter than a dark blank by this at least (ln). */
const CLEARLY_BRIGHTER = 1;
/** The floor of a gap lies in shadow: darker than open sheet (ln). Print of the sheet's colour does not. */
const FLOOR_LEVEL = -0.02;
/** Light from the walls of a bright blank makes a dark sheet brighter by so much of what the blank is brighter, at most. */
const SHEETS_SHARE = 0.2;

/** A part of a certainly coloured or dark blank that looks like sheet, lit or shaded. */
interface Gap {
  readonly pixels: Int32Array;
  readonly areaMm2: number;
  /** Mean level, and that of what is certainly blank. */
  readonly level: number;
  readonly body: number;
  /** Share of it that is as bright as the sheet. */
  readonly lit: number;
  /** Share of its edge towards the blank that steps sharply. */
  readonly held: number;
  /** Share of its edge towards the sheet that does; undefined where it is closed. */
  readonly mouth: number | undefined;
}

/** The gaps of a blank that are larger than dust; none where hardly anything of it is certain. */
function gapsOf(
  mask: Uint8Array,
  blank: Int32Array,
  { width }: Planes,
  backdrop: Backdrop,
  steps: Steps,
  evidence: Evidence,
  pixelMm2: number,
): Gap[] | undefined {
  let sure = 0;
  for (const k of blank) sure += evidence.sure[k]!;
  if (sure < LEAST_SURE_SHARE * blank.length) return undefined;
  const unsure = new Uint8Array(mask.length);
  for (const k of blank) {
    unsure[k] = backdrop.kind[k] === STAGE && !evidence.sure[k] ? 1 : 0;
  }
  let body = 0;
  for (const k of blank) body += evidence.sure[k] ? backdrop.level[k]! / sure : 0;
  return components(unsure, width, 1).flatMap((pixels) => {
    const areaMm2 = pixels.length * pixelMm2;
    if (pixels.length < LEAST_GAP_PIXELS) return [];
    let [level, lit] = [0, 0];
    let [edge, held] = [0, 0];
    let [mouth, mouthHeld] = [0, 0];
    for (const k of pixels) {
      level += backdrop.level[k]!;
      lit += evidence.lit[k]!;
      for (const other of [k - 1, k + 1, k - width, k + width]) {
        if (unsure[other]) continue;
        const sharp = steps.sharp[k]! | steps.sharp[other]!;
        if (mask[other]) {
          edge++;
          held += sharp;
        } else {
          mouth++;
          mouthHeld += sharp;
        }
      }
    }
    if (areaMm2 < leastGapMm2(backdrop.lid, mouth > 0)) return [];
    return {
      pixels,
      areaMm2,
      level: level / pixels.length,
      body,
      lit: lit / pixels.length,
      held: held / edge,
      mouth: mouth > 0 ? mouthHeld / mouth : undefined,
    };
  });
}

/** Whether a gap is as bright as the sheet is, or as light from the blank makes it. */
const asSheet = ({ level, body }: Pick<Gap, 'level' | 'body'>): boolean =>
  Math.abs(level) < SHEETS_SHARE * Math.abs(body);

/**
 * Opens holes and bays that the cut closed: parts of a certainly coloured or dark blank that look like shaded sheet and
 * end at sharp steps, and bays that run out onto the sheet without any. Highlights and pale print fail one of the two.
 */
function openGaps(
  mask: Uint8Array,
  planes: Planes,
  backdrop: Backdrop,
  steps: Steps,
  evidence: Evidence,
  pixelMm2: number,
): void {
  for (const blank of components(mask, planes.width, 1)) {
    const gaps = gapsOf(mask, blank, planes, backdrop, steps, evidence, pixelMm2);
    if (!gaps) openNeutralGaps(mask, blank, planes, backdrop, steps, evidence, pixelMm2);
    for (const gap of gaps ?? []) {
      const { level, body, lit, held, mouth } = gap;
      // A lid seen through a hole is as bright as beside the blank; its shadow beside a dark blank is far brighter than that.
      const seenThrough =
        backdrop.lid && level < 0 && (lit > LEAST_LIT_SHARE || level > body + CLEARLY_BRIGHTER);
      const bay = mouth !== undefined && mouth < MOUTH_SHARE && asSheet(gap);
      if (seenThrough || (held >= HELD_SHARE && (level < FLOOR_LEVEL || bay)))
        for (const k of gap.pixels) mask[k] = 0;
    }
  }
}

/** A rider may be cut so much wider than it is drawn, mm. */
const RIDER_CUT_MM = 2;

/** Something within a blank that looks like the sheet: a hole, or print. */
export interface HoleOrPrint {
  readonly areaMm2: number;
  /** Its middle on the coarse grid. */
  readonly x: number;
  readonly y: number;
}

/**
 * What within the blanks is sharply bounded and as bright as the lit sheet, or darker in a bright blank, the largest first: a
 * hole, or print. The rim of a rider that was cut wide is neither.
 */
export function holesOrPrint(
  mask: Uint8Array,
  planes: Planes,
  backdrop: Backdrop,
  steps: Steps,
  evidence: Evidence,
  inRider: Uint8Array,
  mmPerPx: number,
): HoleOrPrint[] {
  const { width, step } = planes;
  const pixelMm2 = (step * mmPerPx) ** 2;
  const reach = Math.ceil(RIDER_CUT_MM / (step * mmPerPx));
  const besideRider = (k: number): boolean =>
    [reach, -reach, reach * width, -reach * width].some((to) => inRider[k + to]);
  const found = components(mask, width, 1).flatMap((blank) => {
    const gaps = gapsOf(mask, blank, planes, backdrop, steps, evidence, pixelMm2);
    if (gaps)
      return gaps.filter(
        (gap) => gap.mouth === undefined && gap.held >= HELD_SHARE && asSheet(gap),
      );
    return neutralParts(blank, planes, backdrop, steps, evidence).filter(
      (part) =>
        part.pixels.length * pixelMm2 >= leastGapMm2(backdrop.lid, false) &&
        Math.abs(part.body) > LEAST_BODY &&
        (asSheet(part) || (part.body > 0 && part.level < FLOOR_LEVEL)),
    );
  });
  return found
    .filter(({ pixels }) => !pixels.some(besideRider))
    .map(({ pixels }) => ({
      areaMm2: pixels.length * pixelMm2,
      x: pixels.reduce((sum, k) => sum + (k % width), 0) / pixels.length,
      y: pixels.reduce((sum, k) => sum + Math.floor(k / width), 0) / pixels.length,
    }))
    .sort((a, b) => b.areaMm2 - a.areaMm2);
}

const LEAST_NEUTRAL_GAP_MM2 = 6;
/** A blank that is hardly brighter or darker than the sheet (ln) tells nothing of what looks like it. */
const LEAST_BODY = 0.3;

interface NeutralPart {
  readonly pixels: Int32Array;
  /** Mean level, and that of the largest part. */
  readonly level: number;
  readonly body: number;
}

/**
 * The parts that sharp steps divide a blank of the sheet's own hue into, which colour does not tell from its holes, without
 * the largest, which is the blank; the larger ones first.
 */
function neutralParts(
  blank: Int32Array,
  { width }: Planes,
  { level }: Backdrop,
  steps: Steps,
  evidence: Evidence,
): NeutralPart[] {
  const quiet = new Uint8Array(level.length);
  for (const k of blank) quiet[k] = steps.sharp[k] || evidence.sure[k] ? 0 : 1;
  const [largest, ...others] = components(quiet, width, 1).sort((a, b) => b.length - a.length);
  if (!largest) return [];
  const levelOf = (part: Int32Array): number =>
    part.reduce((sum, k) => sum + level[k]!, 0) / part.length;
  const body = levelOf(largest);
  return others.map((pixels) => ({ pixels, level: levelOf(pixels), body }));
}

/** A part is a gap when it is shaded sheet by its level and nearer to open sheet than the blank's own level is. */
function openNeutralGaps(
  mask: Uint8Array,
  blank: Int32Array,
  planes: Planes,
  backdrop: Backdrop,
  steps: Steps,
  evidence: Evidence,
  pixelMm2: number,
): void {
  const { width } = planes;
  for (const { pixels, level, body } of neutralParts(blank, planes, backdrop, steps, evidence)) {
    if (pixels.length * pixelMm2 < LEAST_NEUTRAL_GAP_MM2) break;
    if (level > FLOOR_LEVEL || Math.abs(level) > 0.7 * Math.abs(body)) continue;
    // The part with the half of the steps around it that are its own.
    for (const k of pixels) {
      for (const a of [k, k - 1, k + 1, k - width, k + width]) mask[a] = 0;
    }
  }
}

/** Connected parts (four neighbours) of the pixels that equal `value`, as lists of indices. */
function components(mask: Uint8Array, width: number, value: number): Int32Array[] {
  const seen = new Uint8Array(mask.length);
  const out: Int32Array[] = [];
  const stack = new Int32Array(mask.length);
  for (let start = 0; start < mask.length; start++) {
    if (seen[start] || mask[start] !== value) continue;
    let length = 1;
    stack[0] = start;
    seen[start] = 1;
    for (let head = 0; head < length; head++) {
      const k = stack[head]!;
      const x = k % width;
      for (let side = 0; side < 4; side++) {
        const other = side === 0 ? k - 1 : side === 1 ? k + 1 : side === 2 ? k - width : k + width;
        if ((side === 0 && x === 0) || (side === 1 && x + 1 === width)) continue;
        if (other >= 0 && other < mask.length && !seen[other] && mask[other] === value) {
          seen[other] = 1;
          stack[length++] = other;
        }
      }
    }
    out.push(stack.slice(0, length));
  }
  return out;
}

/** The things on the sheet larger than crumbs, holes kept open, dust in and on them removed. */
export function thingsOf(
  mask: Uint8Array,
  planes: Planes,
  backdrop: Backdrop,
  inRider: Uint8Array,
  mmPerPx: number,
): Thing[] {
  const pixel = (planes.step * mmPerPx) ** 2;
  const { width, height } = planes;
  const things: Thing[] = [];
  for (const part of components(mask, width, 1)) {
    if (part.length * pixel < CRUMB_MM2) continue;
    const own = new Uint8Array(mask.length);
    let stage = 0;
    let border = 0;
    let reachesEdge = false;
    let covered = 0;
    const riders = new Set<number>();
    let x0 = width;
    let x1 = 0;
    let y0 = height;
    let y1 = 0;
    for (const k of part) {
      own[k] = 1;
      const x = k % width;
      const y = (k - x) / width;
      x0 = Math.min(x0, x);
      x1 = Math.max(x1, x);
      y0 = Math.min(y0, y);
      y1 = Math.max(y1, y);
      const what = backdrop.kind[k]!;
      if (what === STAGE) stage++;
      if (what === PAPER || what === INK) border++;
      if (inRider[k]) {
        covered++;
        riders.add(inRider[k]! - 1);
      }
      for (const other of [k - 1, k + 1, k - width, k + width]) {
        if (!(other >= 0 && other < mask.length) || backdrop.kind[other] === OUTSIDE)
          reachesEdge = true;
      }
    }
    things.push({
      mask: own,
      areaMm2: part.length * pixel,
      box: [x0, y0, x1, y1],
      onStage: stage / part.length,
      reachesEdge,
      coversMarks: border * pixel > 2,
      riders: [...riders],
      riderShare: covered / part.length,
    });
  }
  return things;
}

/** Colour that departs from the stage's by this much over a whole area is the area's own, though no pixel is certain. */
const PALE_CHROMA = 0.02;
/** Darker than this (ln) it may be a tinted shadow. */
const PALE_LEVEL = -0.04;
const PALE_MM2 = 20;

/** A stretch of what was taken for stage. */
export interface PalePatch {
  readonly areaMm2: number;
  /** A pixel of the largest patch on the coarse grid. */
  readonly x: number;
  readonly y: number;
}

/**
 * Patches of what was taken for stage that are as bright as it but of another colour: a blank's pale print, or its pale
 * half. No shadow looks like that. Undefined where there are none to speak of.
 */
export function palePatch(
  mask: Uint8Array,
  planes: Planes,
  backdrop: Backdrop,
  inRider: Uint8Array,
  mmPerPx: number,
): PalePatch | undefined {
  const { width, height } = planes;
  const pale = new Uint8Array(mask.length);
  for (let k = 0; k < mask.length; k++) {
    if (mask[k] || inRider[k] || backdrop.kind[k] !== STAGE) continue;
    const limit = Math.max(PALE_CHROMA, 2 * backdrop.chromaSigma[k]!);
    if (backdrop.level[k]! > PALE_LEVEL && backdrop.chroma[k]! > limit) pale[k] = 1;
  }
  // Noise is single pixels: seven of nine must agree.
  const firm = new Uint8Array(mask.length);
  for (let y = 1; y < height - 1; y++) {
    for (let x = 1; x < width - 1; x++) {
      const k = y * width + x;
      let count = 0;
      for (let row = k - width; row <= k + width; row += width)
        count += pale[row - 1]! + pale[row]! + pale[row + 1]!;
      firm[k] = count >= 7 ? 1 : 0;
    }
  }
  let area = 0;
  let largest = 0;
  let at = 0;
  const stack: number[] = [];
  for (let start = 0; start < firm.length; start++) {
    if (!firm[start]) continue;
    let count = 0;
    firm[start] = 0;
    stack.push(start);
    while (stack.length) {
      const k = stack.pop()!;
      count++;
      for (const other of [k - 1, k + 1, k - width, k + width]) {
        if (firm[other]) {
          firm[other] = 0;
          stack.push(other);
        }
      }
    }
    area += count;
    if (count > largest) [largest, at] = [count, start];
  }
  const mm2 = (planes.step * mmPerPx) ** 2;
  if (largest * mm2 < PALE_MM2) return undefined;
  return { areaMm2: area * mm2, x: at % width, y: Math.floor(at / width) };
}

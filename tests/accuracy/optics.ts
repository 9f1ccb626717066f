/**
 * npm run accuracy -- --optics: what a phone does to its pictures besides taking them, done to rendered pictures by code of this
 * file alone, and what that does to the outline: its bias and greatest change in px, beside U and beside what was said of it.
 */
import { curvesOfMask } from '../../src/outline/potrace.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { calibrationOf, traceSettingsOf } from '../../src/cli/trace.ts';
import { Refusal } from '../../src/base/reason.ts';
import { trace } from '../../src/outline/trace.ts';
import { readPicture } from '../../src/picture/decode-node.ts';
import type { Picture } from '../../src/picture/picture.ts';
import { calibrate } from '../../src/view/adjust.ts';
import { findMarks } from '../../src/view/marks.ts';
import { heightOf, pictureOf } from '../../src/view/model.ts';
import { loadVision } from '../../src/vision/load-node.ts';
import type { View } from '../../src/view/view.ts';
import { CASES, material, type Case } from './cases.ts';
import { measuredOf, optionsOf } from './measure.ts';
import { score, type Measured, type Score } from './score.ts';
import { columns } from './table.ts';

/** The pictures it is done to: a thin card on white, a black blank 30 mm high on a coloured stage. */
const ON = ['o01-card', 'g22-black-30-teal'];

/** Pictures in planes of gamma-coded values, 0 to 255, as a phone's own processing sees them. */
interface Planes {
  readonly w: number;
  readonly h: number;
  readonly rgb: readonly [Float32Array, Float32Array, Float32Array];
}

const linear = Float32Array.from({ length: 256 }, (_, v) => {
  const s = v / 255;
  return s <= 0.04045 ? s / 12.92 : ((s + 0.055) / 1.055) ** 2.4;
});
const coded = (v: number): number =>
  255 * (v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055);

/** Half as large, four pixels to one in light: 3 MP of 12. */
function halved({ widthPx, heightPx, channels, data }: Picture): Planes {
  const [w, h] = [widthPx >> 1, heightPx >> 1];
  const rgb = [0, 1, 2].map((c) => {
    const out = new Float32Array(w * h);
    for (let y = 0; y < h; y++)
      for (let x = 0; x < w; x++) {
        const at = (2 * y * widthPx + 2 * x) * channels + c;
        const below = at + widthPx * channels;
        out[y * w + x] = coded(
          (linear[data[at]!]! +
            linear[data[at + channels]!]! +
            linear[data[below]!]! +
            linear[data[below + channels]!]!) /
            4,
        );
      }
    return out;
  });
  return { w, h, rgb: rgb as unknown as Planes['rgb'] };
}

function pictureFrom({ w, h, rgb }: Planes, like: Picture): Picture {
  const data = new Uint8ClampedArray(3 * w * h);
  rgb.forEach((plane, c) => plane.forEach((v, k) => (data[3 * k + c] = v)));
  const { meta } = like;
  const noted = { exifWidthPx: w, exifHeightPx: h };
  return {
    ...like,
    widthPx: w,
    heightPx: h,
    channels: 3,
    data,
    meta: { ...meta, storedWidthPx: w, storedHeightPx: h, ...(meta.exifWidthPx && noted) },
  };
}

/** Gaussian blur, the picture's edge repeated. */
function blurred(plane: Float32Array, w: number, h: number, sigma: number): Float32Array {
  const reach = Math.ceil(3 * sigma);
  const kernel = Array.from({ length: 2 * reach + 1 }, (_, k) =>
    Math.exp(-((k - reach) ** 2) / (2 * sigma * sigma)),
  );
  const sum = kernel.reduce((a, b) => a + b);
  const pass = (from: Float32Array, along: number, across: number, n: number, m: number) => {
    const out = new Float32Array(from.length);
    for (let b = 0; b < m; b++)
      for (let a = 0; a < n; a++) {
        let v = 0;
        for (let k = -reach; k <= reach; k++)
          v += kernel[k + reach]! * from[b * across + Math.min(n - 1, Math.max(0, a + k)) * along]!;
        out[b * across + a * along] = v / sum;
      }
    return out;
  };
  return pass(pass(plane, 1, w, w, h), w, 1, h, w);
}

const each = (p: Planes, make: (plane: Float32Array, c: number) => Float32Array): Planes => ({
  ...p,
  rgb: p.rgb.map(make) as unknown as Planes['rgb'],
});

/** A plane as it was at the places that `from` names, by cubic interpolation (Keys, a = -1/2). */
function warped(
  plane: Float32Array,
  w: number,
  h: number,
  from: (x: number, y: number) => readonly [number, number],
): Float32Array {
  const weight = (t: number): number => {
    const a = Math.abs(t);
    return a < 1
      ? 1.5 * a ** 3 - 2.5 * a ** 2 + 1
      : a < 2
        ? -0.5 * a ** 3 + 2.5 * a ** 2 - 4 * a + 2
        : 0;
  };
  const out = new Float32Array(plane.length);
  const wx = [0, 0, 0, 0];
  const wy = [0, 0, 0, 0];
  for (let y = 0; y < h; y++)
    for (let x = 0; x < w; x++) {
      const [u, v] = from(x, y);
      const [i, j] = [Math.floor(u), Math.floor(v)];
      for (let k = 0; k < 4; k++) {
        wx[k] = weight(u - (i - 1 + k));
        wy[k] = weight(v - (j - 1 + k));
      }
      let sum = 0;
      for (let b = 0; b < 4; b++) {
        const row = Math.min(h - 1, Math.max(0, j - 1 + b)) * w;
        for (let a = 0; a < 4; a++)
          sum += wy[b]! * wx[a]! * plane[row + Math.min(w - 1, Math.max(0, i - 1 + a))]!;
      }
      out[y * w + x] = sum;
    }
  return out;
}

/** About the middle: what share of the half diagonal a place is away from it. */
const radial =
  (w: number, h: number, share: (r: number) => number) =>
  (x: number, y: number): [number, number] => {
    const [cx, cy] = [(w - 1) / 2, (h - 1) / 2];
    const s = 1 + share(Math.hypot(x - cx, y - cy) / Math.hypot(cx, cy));
    return [cx + s * (x - cx), cy + s * (y - cy)];
  };

const sharpened = (amount: number, sigma: number) => (p: Planes) =>
  each(p, (plane) => {
    const soft = blurred(plane, p.w, p.h, sigma);
    return plane.map((v, k) => Math.min(255, Math.max(0, v + amount * (v - soft[k]!))));
  });

/** Everything farther than `outPx` from the blank blurred, as if it lay far behind it. */
function portrait(sigma: number, outPx: number) {
  return (p: Planes, inside: Float32Array): Planes => {
    // Distance is told by a blurred mask: half at its edge, and one step of outPx farther out.
    const mask = blurred(inside, p.w, p.h, outPx);
    return each(p, (plane) => {
      const soft = blurred(plane, p.w, p.h, sigma);
      return plane.map((v, k) => {
        const keep = Math.min(1, Math.max(0, (mask[k]! - 0.05) / 0.11));
        return keep * v + (1 - keep) * soft[k]!;
      });
    });
  };
}

interface Effect {
  readonly name: string;
  readonly done: (p: Planes, inside: Float32Array) => Planes;
}

/** Strengths as phones have them: common practice, no source; px of the 3 MP picture. */
const EFFECTS: readonly Effect[] = [
  { name: 'sharpening, 80 % at 1.2 px', done: sharpened(0.8, 1.2) },
  { name: 'sharpening, 150 % at 2 px', done: sharpened(1.5, 2) },
  {
    name: 'chromatic shift, red and blue 0.6 px apart at the corner',
    done: (p) =>
      each(p, (plane, c) =>
        c === 1
          ? plane
          : warped(
              plane,
              p.w,
              p.h,
              radial(p.w, p.h, (r) => ((1 - c) * 0.3 * r) / (Math.hypot(p.w, p.h) / 2)),
            ),
      ),
  },
  {
    name: 'distortion corrected in the phone, 1 px left as a wave of r',
    done: (p) => {
      const from = radial(
        p.w,
        p.h,
        (r) => Math.sin(2 * Math.PI * r) / (Math.max(r, 1e-6) * (Math.hypot(p.w, p.h) / 2)),
      );
      return each(p, (plane) => warped(plane, p.w, p.h, from));
    },
  },
  {
    name: 'rolling shutter, 1 px of drift over the height',
    done: (p) => each(p, (plane) => warped(plane, p.w, p.h, (x, y) => [x + y / p.h - 0.5, y])),
  },
  {
    name: 'rolling shutter, 0.3 px of tremor',
    done: (p) =>
      each(p, (plane) =>
        warped(plane, p.w, p.h, (x, y) => [x + 0.3 * Math.sin((6 * Math.PI * y) / p.h), y]),
      ),
  },
  { name: 'portrait mode, 2.5 px of blur from 3 px on', done: portrait(2.5, 3) },
];

interface Run {
  readonly verdict: string;
  readonly codes: readonly string[];
  readonly score?: Score;
  readonly view?: View;
  readonly measured?: Measured;
}

async function run(picture: Picture, one: Case): Promise<Run> {
  const options = optionsOf(one);
  const found = material(one);
  if ('missing' in found) throw new Error(found.missing);
  const { truth } = found;
  try {
    const marks = findMarks({ cv: loadVision().cv }, picture);
    const { widthPx, heightPx, meta } = picture;
    const view = calibrate(marks, meta, widthPx, heightPx, calibrationOf(options));
    const settings = traceSettingsOf(options);
    const traced = await trace(await loadClipper(), curvesOfMask, picture, view, settings);
    const outline = traced.outlines.find((o) => o.at === 'widest') ?? traced.outlines[0]!;
    const measured = measuredOf(outline);
    const index = truth.blanks.findIndex((b) => b.role === 'blank');
    return {
      verdict: traced.verdict,
      codes: [...view.reasons, ...traced.reasons].map((r) => r.code),
      score: score(measured, {
        rings: truth.blanks[index]!.widest,
        hidden: truth.views[0]!.hidden[index]!,
      }),
      view,
      measured,
    };
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    return { verdict: 'refused', codes: [error.reason.code] };
  }
}

/** 1 within the outline that was traced, 0 without, in the picture. */
function maskOf({ view, measured }: Run, w: number, h: number): Float32Array {
  const rings = measured!.rings.map((ring) =>
    ring.map(([x, y]) => pictureOf(view!.eye, x, y, heightOf(view!, 0))),
  );
  const out = new Float32Array(w * h);
  for (let y = 0; y < h; y++) {
    const cuts: number[] = [];
    for (const ring of rings)
      ring.forEach((a, k) => {
        const b = ring[(k + 1) % ring.length]!;
        if (a.y > y !== b.y > y) cuts.push(a.x + ((y - a.y) / (b.y - a.y)) * (b.x - a.x));
      });
    cuts.sort((a, b) => a - b);
    for (let k = 0; k + 1 < cuts.length; k += 2)
      for (let x = Math.max(0, Math.ceil(cuts[k]!)); x < Math.min(w, cuts[k + 1]!); x++)
        out[y * w + x] = 1;
  }
  return out;
}

/** Prints the table. @returns what is wrong and was not flagged */
export async function opticsTable(only?: string): Promise<string[]> {
  const faults: string[] = [];
  const lines: string[][] = [];
  for (const name of ON) {
    const one = CASES.find((c) => c.name === name)!;
    const there = material(one);
    if ('missing' in there) throw new Error(there.missing);
    const whole = await readPicture(there.bytes, there.name);
    const plain = halved(whole);
    const before = await run(pictureFrom(plain, whole), one);
    if (!before.score) throw new Error(`${name} is refused as it is: ${before.codes.join(' ')}`);
    const px = before.view!.mmPerPx;
    const line = (what: string, { verdict, codes, score: s, measured }: Run): void => {
      const change = s && score(measured!, { rings: before.measured!.rings, hidden: [] });
      const fresh = codes.filter((c) => !before.codes.includes(c)).join(' ');
      lines.push([
        what,
        ...(s && change
          ? [
              (change.meanSignedMm / px).toFixed(3),
              (change.rmsMm / px).toFixed(3),
              (change.maxMm / px).toFixed(2),
              ((2 * s.uMeanMm) / px).toFixed(2),
              `${(100 * s.inside[1]).toFixed(0)} %`,
            ]
          : ['-', '-', '-', '-', '-']),
        verdict,
        `  ${fresh}`,
      ]);
      if (s && verdict === 'ok' && s.worstInU > 3)
        faults.push(`${name}, ${what}: ${s.worstInU.toFixed(1)} U off, not flagged`);
    };
    line(`${name}, as it is (${before.codes.join(' ') || 'nothing said'})`, before);
    const inside = maskOf(before, plain.w, plain.h);
    for (const { name: what, done } of EFFECTS) {
      if (only !== undefined && !new RegExp(only).test(what)) continue;
      line(what, await run(pictureFrom(done(plain, inside), whole), one));
      console.error(`${name}: ${what}`);
    }
  }
  console.log(`
What phones do to pictures, done to rendered ones of 3 MP; px of these. Bias, RMS, max: how the outline changed against that of
the picture without, after the best rigid motion; bias outwards. U (k = 2), and the share of the length within U of the truth.

${columns([['effect', 'bias', 'RMS', 'max', 'U', 'in U', 'verdict', '  what else is said'], ...lines])}
`);
  return faults;
}

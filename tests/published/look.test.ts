/** The colours of the page: contrast by WCAG 2.2, and whether they stay apart for colour-blind eyes and in grey; paper and slate. */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';

const read = (path: string): string =>
  readFileSync(new URL(`../../${path}`, import.meta.url), 'utf8');
const css = read('src/ui/app.css');
type Rgb = readonly [number, number, number];
const rgbOf = (hex: string): Rgb =>
  [1, 3, 5].map((k) => parseInt(hex.slice(k, k + 2), 16) / 255) as unknown as Rgb;

/** Tokens by theme, as they stand in the style sheet. */
const tokens = new Map(
  [...css.matchAll(/--([\w-]+): light-dark\((#[0-9a-f]{6}), (#[0-9a-f]{6})\)/g)].map(
    ([, name, paper, slate]) => [name!, { paper: paper!, slate: slate! }] as const,
  ),
);
const colour = (name: string, theme: 'paper' | 'slate'): Rgb => rgbOf(tokens.get(name)![theme]);

// Relative luminance and contrast ratio: WCAG 2.2, section 5 (definitions); the linear values are those of sRGB, IEC 61966-2-1.
const linear = (v: number): number => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
const coded = (v: number): number => (v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055);
const luminance = (c: Rgb): number => {
  const [r, g, b] = c.map(linear) as unknown as Rgb;
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
};
const contrast = (a: Rgb, b: Rgb): number => {
  const [high, low] = [luminance(a), luminance(b)].sort((p, q) => q - p) as [number, number];
  return (high + 0.05) / (low + 0.05);
};

// Dichromats, severity 1.0; they apply to linear RGB. Source: Machado, Oliveira, Fernandes, A Physiologically-based Model for
// Simulation of Color Vision Deficiency, IEEE TVCG 15 (2009), supplementary tables.
const EYES: Readonly<Record<string, readonly Rgb[]>> = {
  protanopia: [
    [0.152286, 1.052583, -0.204868],
    [0.114503, 0.786281, 0.099216],
    [-0.003882, -0.048116, 1.051998],
  ],
  deuteranopia: [
    [0.367322, 0.860646, -0.227968],
    [0.280085, 0.672501, 0.047413],
    [-0.01182, 0.04294, 0.968881],
  ],
  tritanopia: [
    [1.255528, -0.076749, -0.178779],
    [-0.078411, 0.930809, 0.147602],
    [0.004733, 0.691367, 0.3039],
  ],
};
const seenBy = (eye: readonly Rgb[], c: Rgb): Rgb => {
  const [r, g, b] = c.map(linear) as unknown as Rgb;
  return eye.map((row) =>
    coded(Math.min(1, Math.max(0, row[0] * r + row[1] * g + row[2] * b))),
  ) as unknown as Rgb;
};
/** CIE 1976 L*a*b* under D65 (CIE 15). */
function lab(c: Rgb): Rgb {
  const [r, g, b] = c.map(linear) as unknown as Rgb;
  const f = (t: number): number =>
    t > (6 / 29) ** 3 ? Math.cbrt(t) : t / (3 * (6 / 29) ** 2) + 4 / 29;
  const x = f((0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505);
  const y = f(0.2126 * r + 0.7152 * g + 0.0722 * b);
  const z = f((0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.089);
  return [116 * y - 16, 500 * (x - y), 200 * (y - z)];
}
const apart = (a: Rgb, b: Rgb): number => {
  const [p, q] = [lab(a), lab(b)];
  return Math.hypot(p[0] - q[0], p[1] - q[1], p[2] - q[2]);
};

it('computes what WCAG and CIE publish', () => {
  // 21:1 is the contrast of black and white (WCAG 2.2), and #777777 on white the well-known near miss of 4.5:1, 4.48.
  expect(contrast(rgbOf('#000000'), rgbOf('#ffffff'))).toBeCloseTo(21, 6);
  expect(contrast(rgbOf('#777777'), rgbOf('#ffffff'))).toBeCloseTo(4.48, 2);
  // The whites and greys of dichromats are the same: every row adds up to one.
  for (const eye of Object.values(EYES))
    for (const row of eye) expect(row[0] + row[1] + row[2]).toBeCloseTo(1, 4);
  // White is L* = 100, a* = b* = 0.
  lab([1, 1, 1]).forEach((v, k) => expect(v).toBeCloseTo(k === 0 ? 100 : 0, 1));
});

describe.each(['paper', 'slate'] as const)('on %s', (theme) => {
  it.each(['ink', 'ink2', 'act', 'bad'])('%s is read as text (1.4.3: 4.5 to 1)', (name) => {
    for (const ground of ['paper', 'lay'])
      expect(contrast(colour(name, theme), colour(ground, theme))).toBeGreaterThanOrEqual(4.5);
  });

  it('the words of the main press are read on it', () => {
    expect(contrast(colour('on-act', theme), colour('act', theme))).toBeGreaterThanOrEqual(4.5);
  });

  it.each(Object.keys(EYES))('what is to do, what contradicts and ink stay apart: %s', (eye) => {
    // Ten times the difference that is just noticed, 2.3 (Mahy, Van Eycken, Oosterlinck, Color Research & Application 19, 1994).
    const of = (name: string): Rgb => seenBy(EYES[eye]!, colour(name, theme));
    for (const [a, b] of [
      ['act', 'bad'],
      ['act', 'ink'],
      ['bad', 'ink'],
    ] as const)
      expect(apart(of(a), of(b)), `${a}, ${b}`).toBeGreaterThan(23);
  });
});

it('the page that describes the look names every colour', () => {
  const page = read('docs/decisions/look.md').toLowerCase();
  for (const [name, { paper, slate }] of tokens) {
    expect(page, name).toContain(paper);
    expect(page, name).toContain(slate);
  }
});

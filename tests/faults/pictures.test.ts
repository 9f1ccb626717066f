import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { traceFile } from '../../src/cli/trace.ts';
import { CASES } from '../accuracy/cases.ts';
import { optionsOf } from '../accuracy/measure.ts';
import { ROOT } from '../accuracy/render.ts';

// Ways to waste a board that only pixels show, put into a rendered picture of a card (ID-1, white stage) before it is read.

const one = CASES.find((c) => c.name === 'o01-card')!;
const { data, info } = await sharp(readFileSync(join(ROOT, one.picture)))
  .raw()
  .toBuffer({ resolveWithObject: true });
const { width, height } = info;
/** Where the card lies, with stage round it, px. */
const [x0, x1, y0, y1] = [954, 2090, 1581, 2442];
const at = (x: number, y: number, c: number): number => data[(y * width + x) * 3 + c]!;

async function changed(
  colour: (x: number, y: number, c: number) => number,
): ReturnType<typeof traceFile> {
  const pixels = Buffer.from(data);
  for (let y = y0; y <= y1; y++)
    for (let x = x0; x <= x1; x++)
      for (let c = 0; c < 3; c++)
        pixels[(y * width + x) * 3 + c] = Math.max(0, Math.min(255, Math.round(colour(x, y, c))));
  const picture = sharp(pixels, { raw: { width, height, channels: 3 } }).jpeg({ quality: 95 });
  return traceFile(await picture.toBuffer(), 'changed.jpg', optionsOf(one));
}

const codes = ({ trace }: Awaited<ReturnType<typeof traceFile>>): readonly string[] =>
  trace.reasons.filter((r) => r.level !== 'note').map((r) => r.code);

describe('a picture that does not show the edge', () => {
  it('of a blank of glass, through which the stage is seen, is refused', async () => {
    // The stage about the card, carried on across it; 3 % of what the card shows is left of it.
    const across = (x: number, y: number, c: number): number => {
      const [u, v] = [(x - x0) / (x1 - x0), (y - y0) / (y1 - y0)];
      const rows = at(x0, y, c) * (1 - u) + at(x1, y, c) * u;
      const columns = at(x, y0, c) * (1 - v) + at(x, y1, c) * v;
      return (rows + columns) / 2;
    };
    const found = await changed((x, y, c) => 0.97 * across(x, y, c) + 0.03 * at(x, y, c));
    expect(found.trace.verdict).toBe('refused');
    expect(codes(found)).toContain('edge-like-stage');
  }, 60_000);

  it('because light glares over it is doubtful there, and says so', async () => {
    const [gx, gy] = [2050, (y0 + y1) / 2];
    const found = await changed(
      (x, y, c) => at(x, y, c) + 600 * Math.exp(-((x - gx) ** 2 + (y - gy) ** 2) / (2 * 70 ** 2)),
    );
    expect(found.trace.verdict).toBe('doubtful');
    expect(codes(found)).toContain('edge-clipped');
    expect(found.trace.outlines[0]!.doubtful.length).toBeGreaterThan(0);
  }, 60_000);
});

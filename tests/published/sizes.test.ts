import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import type { Dimension } from '../../src/check/check.ts';
import { mainWidths, width } from '../../src/check/width.ts';
import { traceFile, type TraceOptions } from '../../src/cli/trace.ts';
import type { Outline } from '../../src/outline/outline.ts';
import { CASES } from '../accuracy/cases.ts';
import { optionsOf } from '../accuracy/measure.ts';
import { ROOT } from '../accuracy/render.ts';

/** The outlines of a fixture, by blank number. */
async function outlinesOf(
  name: string,
  options: Partial<TraceOptions> = {},
): Promise<ReadonlyMap<number, Outline>> {
  const one = CASES.find((c) => c.name === name)!;
  const bytes = readFileSync(join(ROOT, one.picture));
  const { trace } = await traceFile(bytes, one.picture, { ...optionsOf(one), ...options });
  // Where face and widest place differ, the widest comes last.
  const widestLast = [...trace.outlines].sort((a, b) =>
    a.at === b.at ? 0 : a.at === 'widest' ? 1 : -1,
  );
  return new Map(widestLast.map((o) => [o.blank, o]));
}

describe('things of published size, from a rendered picture to their dimensions', () => {
  // Source: ISO/IEC 7810, ID-1: 85.60 mm x 53.98 mm nominal.
  const sidesOfCard = async (): Promise<Dimension[]> => {
    const card = (await outlinesOf('o01-card')).get(1)!;
    expect(card.region.holes).toEqual([]);
    return mainWidths(card).sort((a, b) => b.valueMm - a.valueMm);
  };
  const holdAgainst = ({ valueMm, u }: Dimension, nominalMm: number): void => {
    expect(Math.abs(valueMm - nominalMm)).toBeLessThan(2 * u);
    expect(2 * u).toBeLessThan(0.15);
  };
  it('an ID-1 card, its long side', async () => {
    holdAgainst((await sidesOfCard())[0]!, 85.6);
  }, 60_000);
  it('an ID-1 card, its short side', async () => {
    holdAgainst((await sidesOfCard())[1]!, 53.98);
  }, 60_000);

  // Source: Council Regulation (EU) No 729/2014, Annex I: the coin of 1 euro has a diameter of 23.25 mm.
  it("a coin's diameter, whichever way the jaws close", async () => {
    // Its rim is rounded by 0.3 mm: it is widest that far below its face.
    const options = { thicknessMm: 2.37, thicknessOfBlankMm: {}, widestMm: 2.07 };
    const coin = (await outlinesOf('o02-two-thin', options)).get(1)!;
    for (let deg = 0; deg < 180; deg += 15) {
      const { valueMm, u } = width(coin, (deg * Math.PI) / 180);
      // Every direction at once: the band that holds everywhere.
      expect(Math.abs(valueMm - 23.25)).toBeLessThan(coin.wholeFactor * u);
      expect(2 * u).toBeLessThan(0.15);
    }
  }, 60_000);
});

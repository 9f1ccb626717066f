import { describe, expect, it } from 'vitest';
import type { Picture } from '../../src/picture/picture.ts';
import { firstLook } from '../../src/view/first-look.ts';
import { findMarks } from '../../src/view/marks.ts';
import { rehearse } from '../../src/view/rehearsal.ts';
import { loadVision } from '../../src/vision/load-node.ts';
import { sheetPicture } from '../marks/pictures.ts';
import { simulate, type Case } from '../support/simulate.ts';

const vision = loadVision();
const [W, H] = [3000, 4000];
const black = new Uint8Array(3 * W * H);
const usual = { height: 10, printError: 0.03, bow: 0.3, fKnown: 0.035 } as const;

/** Reasons against a simulated photo; its pixels are looked at where marks are missing, and are black. */
function against(o: Case): string[] {
  const { found, meta, widthPx, heightPx } = simulate(o);
  const picture: Picture = { name: 'simulated', widthPx, heightPx, channels: 3, data: black, meta };
  const { reasons, light } = firstLook(picture, found);
  return [...reasons, ...light].map((r) => r.code);
}

describe('the first look at a photo', () => {
  // The truth is the simulation's own camera: 300 mm up, above the middle of a stage some 150 by 235 mm, or 150 mm beside it.
  it('says of twenty cameras above the stage and twenty beside it which they are', () => {
    for (let seed = 0; seed < 20; seed++) {
      expect(against({ ...usual, seed })).toEqual([]);
      const side = seed % 2 ? 150 : -150;
      expect(against({ ...usual, seed, aside: [side, 0] })).toEqual(['camera-beside']);
    }
  });

  it('says which sides of the border are missing, and nothing of glare where it is dark', () => {
    expect(against({ ...usual, seed: 1, half: true })).toContain('marks-one-sided');
    expect(against({ ...usual, seed: 1, half: true })).not.toContain('glare');
  });

  it('says nothing of a camera whose lens the file does not tell', () => {
    const { found, meta, widthPx, heightPx } = simulate({ ...usual, seed: 2 });
    const bare = { ...meta, hasExif: false };
    delete (bare as { focalLength35Mm?: number }).focalLength35Mm;
    const look = firstLook(
      { name: 's', widthPx, heightPx, channels: 3, data: black, meta: bare },
      found,
    );
    expect(look.foot).toBeUndefined();
    expect(look.reasons.map((r) => r.code)).toEqual(['no-exif']);
  });

  // A fifth of the border bleached by light, or dark under something: the same marks are lost, and only one of them is glare.
  it('tells glare from cover', async () => {
    const codes = async (hardship: 'glare' | 'cover'): Promise<string[]> => {
      const { picture } = await sheetPicture(11, hardship);
      return firstLook(picture, findMarks(vision, picture)).light.map((r) => r.code);
    };
    expect(await codes('cover')).toEqual([]);
    expect(await codes('glare')).toEqual(['glare']);
  });
});

it('rehearses on a sheet whose marks are found', () => {
  expect(() => rehearse(vision)).not.toThrow();
});

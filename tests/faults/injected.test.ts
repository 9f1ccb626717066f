import { describe, expect, it } from 'vitest';
import { Random } from '../support/simulate.ts';
import { drawFault, FAULTS } from './faults.ts';
import { play } from './simulated-job.ts';
import { beyondWhatIsSaid } from './slip.ts';

// One test for each way to waste a board that lies before the pocket: the fault is put into scene, marks, edge or typed
// values of simulated jobs, and must be caught or leave the outline within what is said of it.

const SEEDS = [41, 42, 43];

/** What catches a row, where it can be told beforehand; others only widen the uncertainty, which then holds. */
const CATCHES: Readonly<Record<string, readonly string[]>> = {
  'sheet printed to fit the page': ['contradiction', 'rider-height'],
  'sheet stretched in one direction': ['contradiction', 'rider-height', 'view-too-uncertain'],
  'spans not measured': ['spans', 'view-too-uncertain', 'rider-height'],
  'a span typed wrong': ['span-far-off', 'contradiction', 'view-too-uncertain', 'correction'],
  'thickness wrong': ['rider-height', 'contradiction', 'correction', 'thickness-too-large'],
  'thickness in inches': ['rider-height', 'thickness-too-large', 'contradiction'],
  'thickness forgotten': ['thickness-zero'],
  'picture cropped': ['altered'],
  'picture zoomed or resized': ['rider-height', 'contradiction', 'view-too-uncertain'],
  'flattened by a scanning app': ['rider-height', 'contradiction', 'correction'],
  'shadow traced as blank': ['contradiction'],
  'rounded edge, widest place not at the face': ['contradiction', 'rider-height'],
  'face not answered': ['face'],
  'a reading typed wrong': ['checks', 'contradiction'],
  'a wrong reading used to correct the outline': ['correction', 'checks'],
  "one instrument's own error in spans, rider and checks alike": ['zero'],
  'rider measured wrong': ['rider-height', 'contradiction'],
  'rider not on the face': ['rider-height', 'contradiction', 'checks'],
};

describe('a fault put into a job', () => {
  it.each(FAULTS.map((f) => [f.row, f] as const))(
    '%s: is caught, or does no harm beyond what is said',
    (row, kind) => {
      const endings = SEEDS.map((seed) => play(seed, [drawFault(kind, new Random(seed))]));
      for (const e of endings) expect(beyondWhatIsSaid(e)).toBe(false);
      const catches = CATCHES[row];
      if (catches) expect(endings.some((e) => e.by.some((by) => catches.includes(by)))).toBe(true);
    },
    60_000,
  );

  it('is told from a good job: the same jobs without it are released', () => {
    for (const seed of SEEDS) expect(play(seed, [])).toMatchObject({ end: 'released', by: [] });
  }, 60_000);

  it('a stretched picture that no camera explains is refused by name', () => {
    // Seed 100632 of the campaign: the adjustment ended 15 mm above the sheet, where no place of the stage is seen.
    const random = new Random(100_632);
    const inches = FAULTS.find((f) => f.row === 'thickness in inches')!;
    const flattened = FAULTS.find((f) => f.row === 'flattened by a scanning app')!;
    const faults = [drawFault(inches, random)];
    random.next();
    faults.push(drawFault(flattened, random));
    expect(play(100_632, faults)).toMatchObject({ end: 'refused', by: ['no-camera'] });
  }, 60_000);

  it('would be seen to slip through: with the override that nobody gave, a wrong outline goes out', () => {
    // The measure itself must be able to fail.
    const shadow = FAULTS.find((f) => f.row === 'shadow traced as blank')!;
    const shut = play(41, [drawFault(shadow, new Random(41))]);
    expect(shut.end).toBe('shut');
    expect(beyondWhatIsSaid({ ...shut, end: 'released' })).toBe(true);
  }, 60_000);
});

import type { Dimension, Feature } from '../../check/check.ts';
import type { Checked } from '../../check/checked.ts';
import { measure } from '../../check/feature.ts';
import type { Reading } from '../../check/reading.ts';
import { featureName } from '../../check/words.ts';
import { Refusal } from '../../base/reason.ts';
import type { Desk } from '../desk.svelte.ts';
import type { Mark } from '../parts/State.svelte';

/** One feature of the blank that is looked at: what the outline says, and what was read. */
export interface Row {
  readonly feature: Feature;
  readonly name: string;
  readonly dimension: Dimension;
  readonly reading: Reading | undefined;
  readonly checked: Checked | undefined;
  readonly mark: Mark;
}

export const same = (a: Feature, b: Feature): boolean => JSON.stringify(a) === JSON.stringify(b);

export const MAIN: readonly Feature[] = [
  { kind: 'main', side: 'width' },
  { kind: 'main', side: 'height' },
];

/** The two main sizes, then what else was read, then what jaws were laid on last. */
export function rowsOf({ job, sizes, checks, seat, blank, feature }: Desk): readonly Row[] {
  if (!job || !sizes || !seat) return [];
  const read = job.readings.filter((r) => r.blank === blank);
  const features = [...MAIN, ...read.map((r) => r.feature), ...(feature ? [feature] : [])].filter(
    (f, k, all) => all.findIndex((g) => same(f, g)) === k,
  );
  return features.flatMap((f) => {
    const checked = checks.find((c) => same(c.reading.feature, f));
    const dimension = f.kind === 'main' ? sizes[f.side] : (checked?.dimension ?? measured(seat, f));
    if (!dimension) return [];
    const verdict = checked?.judgement.verdict;
    return [
      {
        feature: f,
        name: featureName(f, dimension.kind),
        dimension,
        reading: read.find((r) => same(r.feature, f)),
        checked,
        mark: verdict === 'agrees' ? 'settled' : verdict === 'contradicts' ? 'contradicts' : 'open',
      } as const,
    ];
  });
}

/** What cannot be measured has been said where jaws were laid, or among the notes. */
function measured(seat: Parameters<typeof measure>[0], feature: Feature): Dimension | undefined {
  try {
    return measure(seat, feature);
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    return undefined;
  }
}

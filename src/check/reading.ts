import { combine, expand, lawOf } from './budget.ts';
import type { Feature } from './check.ts';

export type InstrumentKind = 'caliper' | 'rule' | 'gauge';

/** What an instrument's readings are worth; standard uncertainties (k = 1), mm. */
export interface Instrument {
  /** Its own error, which all its readings share: no repetition lessens it. */
  readonly sharedU: number;
  /** What differs from one reading to the next: seating, step, eye. */
  readonly eachU: number;
}

/**
 * Caliper: permissible error ± 0.03 (JIS B 7507, 0.01 mm reading, 50 to 200 mm; from memory), rectangular, shared; digital
 * step 0.01 and seating on board or plastic 0.02, each time: together U = 0.05 (k = 2). Rule 0.2, pin and radius gauges by
 * their steps: common practice, no source.
 */
export const INSTRUMENTS: Readonly<Record<InstrumentKind, Instrument>> = {
  caliper: {
    sharedU: lawOf.rectangular(0.03),
    eachU: Math.hypot(lawOf.rectangular(0.005), 0.02),
  },
  rule: { sharedU: 0.04, eachU: 0.092 },
  gauge: { sharedU: 0.01, eachU: 0.072 },
};

/** Expanded (k = 2) uncertainty of one reading, mm. */
export const readingU = ({ sharedU, eachU }: Instrument): number => 2 * Math.hypot(sharedU, eachU);

/** What was read of one feature of one blank, once or several times, with one instrument. */
export interface Reading {
  readonly blank: number;
  readonly feature: Feature;
  readonly valuesMm: readonly number[];
  readonly with: InstrumentKind;
  /** It was used to correct the outline, and no longer counts as a check. */
  readonly use?: 'fit';
}

export interface Averaged {
  /** What the readings come to, mm: their mean; of four or more that scatter too much their median. */
  readonly readMm: number;
  /**
   * Standard uncertainty of that, all together, mm; widened where few readings tell of their own scatter, so that 2 u
   * still holds with 95 %.
   */
  readonly u: number;
  /** The part that other readings of the same instrument share. */
  readonly sharedU: number;
  /** The part that is these readings' own. */
  readonly ownU: number;
  /** Largest less smallest, mm. */
  readonly rangeMm: number;
  /** The range that 95 % of such sets of readings keep; 0 for a single one. */
  readonly rangeLimitMm: number;
  /** They differ by more than that. */
  readonly scattered: boolean;
  /** Scattered, and enough of them that the median stands for them. */
  readonly byMedian: boolean;
}

/** What k = 2 holds with, for a normal law. */
const TWO_SIGMA = 0.9545;

/**
 * 95 % quantiles of the range of n normal deviates of standard deviation 1, n from 2: the critical range factors of
 * ISO 5725-6, table 1 (from memory; they are quantiles of the studentised range with infinitely many degrees of freedom).
 */
const RANGE_95 = [2.77, 3.31, 3.63, 3.86, 4.03, 4.17, 4.29, 4.39, 4.47];

/** So many readings are enough: where they still scatter, their median is the result. ISO 5725-6, 5.2.2 (from memory). */
const ENOUGH = 4;

/** No median of n normal readings scatters more than this against their mean: the root of pi / 2 (Laplace). */
const MEDIAN_FACTOR = Math.sqrt(Math.PI / 2);

function medianOf(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const half = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[half]! : (sorted[half - 1]! + sorted[half]!) / 2;
}

/**
 * What repeated readings come to: their mean. Each brings its own error, which averages; what the instrument gets wrong every
 * time does not. Where the readings scatter more than the instrument explains, their own scatter counts (type A, JCGM 100,
 * 4.2). Readings of which one set in twenty would differ so much ask for another; from four on their median stands, with u
 * from their scatter, so that one that strayed neither pulls the result nor bars the way for good.
 *
 * @param valuesMm at least one
 */
export function average(valuesMm: readonly number[], { sharedU, eachU }: Instrument): Averaged {
  const n = valuesMm.length;
  const meanMm = valuesMm.reduce((sum, v) => sum + v, 0) / n;
  const scatter =
    n < 2 ? 0 : Math.sqrt(valuesMm.reduce((sum, v) => sum + (v - meanMm) ** 2, 0) / (n - 1));
  const rangeMm = Math.max(...valuesMm) - Math.min(...valuesMm);
  const rangeLimitMm = n < 2 ? 0 : RANGE_95[Math.min(n, 10) - 2]! * eachU;
  const scattered = n > 1 && rangeMm > rangeLimitMm;
  const byMedian = scattered && n >= ENOUGH;
  const ownU = ((byMedian ? MEDIAN_FACTOR : 1) * Math.max(eachU, scatter)) / Math.sqrt(n);
  const { u, degrees } = combine([
    { name: 'instrument', unit: 'mm', u: sharedU, sensitivity: 1, source: 'its own error' },
    {
      name: 'readings',
      unit: 'mm',
      u: ownU,
      sensitivity: 1,
      source: scatter > eachU ? 'their scatter' : 'seating, step, eye',
      ...(scatter > eachU && { degrees: n - 1 }),
    },
  ]);
  return {
    readMm: byMedian ? medianOf(valuesMm) : meanMm,
    u: Number.isFinite(degrees) ? expand({ u, degrees }, TWO_SIGMA).expandedU / 2 : u,
    sharedU,
    ownU,
    rangeMm,
    rangeLimitMm,
    scattered,
    byMedian,
  };
}

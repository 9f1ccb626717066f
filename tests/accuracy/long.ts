/**
 * npm run accuracy -- --long [--cases N] [--row ID]: per row of the table so many simulated cases (simulated.ts), 300 unless
 * told otherwise. Ends with status 1 where U does not hold what it promises.
 */
import { Refusal } from '../../src/base/reason.ts';
import type { RowId } from './cases.ts';
import { SIMULATED, type SimulatedCase } from './simulated.ts';
import { columns, quadraticMean, quantile, ROWS } from './table.ts';

/** Share of the length that must lie within U, and of outlines whose whole band must hold. */
const WITHIN = [0.93, 0.98] as const;
const WHOLE = 0.93;

const percent = (v: number): string => `${(100 * v).toFixed(1)} %`;

/** @returns what does not hold, in words */
export function longTable(cases: number, only?: string): string[] {
  const faults: string[] = [];
  const lines = ROWS.filter(({ id }) => id !== null && (only === undefined || id === only)).map(
    ({ id, workflow }) => {
      const refused = new Map<string, number>();
      const all: SimulatedCase[] = [];
      for (let seed = 1; seed <= cases; seed++) {
        try {
          all.push(SIMULATED[id as RowId](seed));
        } catch (error) {
          if (!(error instanceof Refusal)) throw error;
          refused.set(error.reason.code, (refused.get(error.reason.code) ?? 0) + 1);
        }
      }
      const scores = all.map((c) => c.score);
      const mean = (of: (c: SimulatedCase) => number): number =>
        all.reduce((sum, c) => sum + of(c), 0) / all.length;
      const within = mean((c) => c.score.inside[1]);
      const whole = mean((c) => (c.score.wholeHolds ? 1 : 0));
      const rms = quadraticMean(scores.map((s) => s.rmsMm));
      const bound = quadraticMean(all.map((c) => c.boundMm));
      if (within < WITHIN[0] || within > WITHIN[1])
        faults.push(`${id}: ${percent(within)} of the length within U`);
      if (whole < WHOLE) faults.push(`${id}: the whole band holds for ${percent(whole)}`);
      const turnedAway = [...refused].map(([code, count]) => `${code} ${count}`).join(', ');
      console.error(`${id}: ${all.length} cases`);
      return [
        workflow,
        String(all.length),
        quantile(
          scores.map((s) => s.maxMm),
          0.95,
        ).toFixed(3),
        rms.toFixed(4),
        bound.toFixed(4),
        (rms / bound).toFixed(2),
        (2 * mean((c) => c.score.uMeanMm)).toFixed(3),
        percent(within),
        percent(whole),
        turnedAway,
      ];
    },
  );
  console.log(`
Simulated at the level of marks and edge points, mm. Bound: the RMS of the best possible estimate of the same cases
(Cramér-Rao, the sizes of all errors known); ratio: RMS over it. In U: share of the outline's length within U (k = 2).

${columns([
  ['workflow', 'cases', 'max 95 %', 'RMS', 'bound', 'ratio', 'U', 'in U', 'whole', 'refused'],
  ...lines,
])}
`);
  return faults;
}

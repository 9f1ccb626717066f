import type { RowId } from './cases.ts';

/** One row of the goals. Lengths in mm. */
export interface Row {
  readonly id: RowId | null;
  readonly workflow: string;
  readonly must: { readonly maxMm: number; readonly rmsMm: number };
  readonly goal: { readonly maxMm: number; readonly rmsMm: number };
}

/** What the program must reach, and the goal after that. */
export const ROWS: readonly Row[] = (
  [
    ['rigid-thin', 'photo, rigid measured sheet, h <= 1 mm', 0.1, 0.03, 0.04, 0.01],
    ['rider-paper', 'photo, 50 mm rider, paper sheet, h = 5 to 40 mm', 0.12, 0.04, 0.07, 0.02],
    ['rider-rigid', 'photo, 50 mm rider, rigid sheet, h = 5 to 40 mm', 0.1, 0.03, 0.04, 0.01],
    ['lens-10', 'photo, no rider, lens profile, h = 10 mm', 0.12, 0.04, 0.08, 0.02],
    ['lens-thick', 'photo, no rider, lens profile, h = 20 to 40 mm', 0.18, 0.06, 0.1, 0.03],
    ['several', 'two to four photos, no rider, h = 40 mm', 0.3, 0.1, 0.15, 0.05],
    ['bowed', 'photo, paper sheet with 0.3 mm bow, h <= 1 mm', 0.25, 0.08, 0.12, 0.04],
    ['scan-300', 'scan 300 dpi, strip or profile', 0.06, 0.02, 0.03, 0.008],
    ['scan-600', 'scan 600 dpi', 0.04, 0.012, 0.02, 0.005],
  ] as const
).map(([id, workflow, max, rms, goalMax, goalRms]) => ({
  id,
  workflow,
  must: { maxMm: max, rmsMm: rms },
  goal: { maxMm: goalMax, rmsMm: goalRms },
}));

/** Quantile by linear interpolation between order statistics (definition 7 of Hyndman and Fan, 1996). */
export function quantile(values: readonly number[], share: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  const at = share * (sorted.length - 1);
  const low = Math.floor(at);
  const rest = at - low;
  return sorted[low]! + (rest > 0 ? rest * (sorted[low + 1]! - sorted[low]!) : 0);
}

export const quadraticMean = (values: readonly number[]): number =>
  Math.sqrt(values.reduce((sum, v) => sum + v * v, 0) / values.length);

/** Columns of text, numbers to the right. */
export function columns(rows: readonly (readonly string[])[]): string {
  const widths = rows[0]!.map((_, k) => Math.max(...rows.map((r) => r[k]?.length ?? 0)));
  return rows
    .map((r) =>
      r
        .map((cell, k) => (k === 0 ? cell.padEnd(widths[k]!) : cell.padStart(widths[k]!)))
        .join('  ')
        .trimEnd(),
    )
    .join('\n');
}

import { reason } from '../base/reason.ts';
import type { Trace } from '../outline/outline.ts';
import type { InstrumentKind } from './reading.ts';

/** One reading that was held against an outline, as it is remembered on this machine. Standard uncertainties (k = 1), mm. */
export interface RecordEntry {
  /** Of which job, blank and feature: read anew, it takes the place of the old one. */
  readonly key: string;
  /** The pictures that the outline came from: readings of one outline share its errors. */
  readonly picture: string;
  /** Day, ISO 8601. */
  readonly on: string;
  /** Camera, or scanner setting, in words. */
  readonly camera: string;
  readonly sheet: string;
  readonly with: InstrumentKind;
  readonly readMm: number;
  readonly readU: number;
  readonly outlineMm: number;
  /** By the budget alone, before any widening by the record. */
  readonly outlineU: number;
}

/** What readings of before say about U. */
export interface Experience {
  readonly made: number;
  /** Readings that lay within the joint U (k = 2). */
  readonly within: number;
  /** Outlines that they were made on. */
  readonly pictures: number;
  /** By how much U must be widened; 1 where the record does not tell that it is too narrow. */
  readonly factor: number;
  /** By how much the newest outlines came out larger, against their readings, than those before; absent where it is no news. */
  readonly drift?: { readonly byMm: number; readonly u: number; readonly pictures: number };
}

/** A reading this many standard uncertainties off counts as no farther: it may be mistyped. */
const FARTHEST = 4;
/** Quantile of the standard normal law for 99 %: U is widened where a true one would be doubted once in a hundred. */
const Z_99 = 2.326;
/** Fewer outlines tell nothing, and one alone never does. */
const LEAST_PICTURES = 5;
const LEAST_OUTSIDE = 2;
/** U is not widened beyond this: then something else is wrong, and the readings say so themselves. */
const MOST = 4;
/** So many of the newest outlines are held against those before. */
const NEWEST = 5;

/**
 * What the record says. Each outline counts once, by the mean square of its readings' deviations in standard uncertainties:
 * they share the outline's error, and many readings of one outline are no more news than one. The sum over outlines is held
 * against the chi-square law with one degree of freedom for each, which is the widest that it can follow while U is true
 * (quantile by Wilson and Hilferty 1931, from memory). Beyond it, U is widened until the mean square is what it should be.
 *
 * @param entries in the order they were made
 */
export function experienceOf(entries: readonly RecordEntry[]): Experience {
  const byPicture = new Map<string, RecordEntry[]>();
  for (const e of entries) byPicture.set(e.picture, [...(byPicture.get(e.picture) ?? []), e]);
  const outlines = [...byPicture.values()];
  const off = (e: RecordEntry, factor: number): number =>
    (e.readMm - e.outlineMm) / Math.hypot(e.readU, factor * e.outlineU);
  const square = (e: RecordEntry, factor: number): number =>
    Math.min(FARTHEST ** 2, off(e, factor) ** 2);
  const sum = (factor: number): number =>
    outlines.reduce((s, all) => s + all.reduce((t, e) => t + square(e, factor), 0) / all.length, 0);
  const n = outlines.length;
  const outside = outlines.filter((all) => all.some((e) => Math.abs(off(e, 1)) > 2)).length;
  const limit = n * (1 - 2 / (9 * n) + Z_99 * Math.sqrt(2 / (9 * n))) ** 3;
  let factor = 1;
  if (n >= LEAST_PICTURES && outside >= LEAST_OUTSIDE && sum(1) > limit) {
    let [low, high] = [1, MOST];
    for (let step = 0; step < 40; step++) {
      factor = (low + high) / 2;
      if (sum(factor) > n) low = factor;
      else high = factor;
    }
  }
  const drift = driftOf(outlines);
  return {
    made: entries.length,
    within: entries.filter((e) => Math.abs(off(e, 1)) <= 2).length,
    pictures: n,
    factor,
    ...(drift && { drift }),
  };
}

/** The newest outlines against those before, by the mean of their differences from what was read. */
function driftOf(outlines: readonly (readonly RecordEntry[])[]): Experience['drift'] {
  if (outlines.length < 2 * NEWEST) return undefined;
  const means = outlines.map(
    (all) => all.reduce((s, e) => s + e.outlineMm - e.readMm, 0) / all.length,
  );
  const [before, newest] = [means.slice(0, -NEWEST), means.slice(-NEWEST)];
  const mean = (v: readonly number[]): number => v.reduce((s, x) => s + x, 0) / v.length;
  const squares = (v: readonly number[]): number => v.reduce((s, x) => s + (x - mean(v)) ** 2, 0);
  const variance = (squares(before) + squares(newest)) / (means.length - 2);
  const byMm = mean(newest) - mean(before);
  const u = Math.sqrt(variance * (1 / before.length + 1 / newest.length));
  return Math.abs(byMm) > 3 * u ? { byMm, u, pictures: NEWEST } : undefined;
}

/** The trace with every U widened as the record asks, and the reason why; the same where it does not ask. */
export function widenedBy(trace: Trace, of: string, { factor, made, within }: Experience): Trace {
  if (!(factor > 1)) return trace;
  const scaled = (v: Float64Array): Float64Array => v.map((x) => factor * x);
  return {
    ...trace,
    outlines: trace.outlines.map((o) => ({
      ...o,
      u: o.u.map(scaled),
      edgeU: o.edgeU.map(scaled),
      modes: o.modes.map((m) => ({
        ...m,
        dx: scaled(m.dx),
        dy: scaled(m.dy),
        ...(m.heightMm !== undefined && { heightMm: factor * m.heightMm }),
        ...(m.belowMm !== undefined && { belowMm: factor * m.belowMm }),
      })),
    })),
    verdict: trace.verdict === 'ok' ? 'doubtful' : trace.verdict,
    reasons: [
      ...trace.reasons,
      reason('record-widens', { of, within, made, factor: Number(factor.toFixed(1)) }),
    ],
  };
}

import { reason, Refusal, type Reason } from '../base/reason.ts';
import type { Outline } from '../outline/outline.ts';
import { isUpright, type Dimension, type Judgement } from './check.ts';
import { measure } from './feature.ts';
import { alongJaws, withinTolerance, type Fit } from './fit.ts';
import { judge } from './judge.ts';
import { nextCheck, type NextCheck } from './next.ts';
import {
  average,
  type Averaged,
  type Instrument,
  type InstrumentKind,
  type Reading,
} from './reading.ts';
import { toleranceOf, type Asked } from './tolerance.ts';
import { mainWidths } from './width.ts';

/** The two main sizes of a blank, as jaws along the sides of its smallest rectangle read them; width lies nearer to x. */
export interface Sizes {
  readonly width: Dimension;
  readonly height: Dimension;
}

/** One reading held against the outline. */
export interface Checked {
  readonly reading: Reading;
  readonly dimension: Dimension;
  readonly averaged: Averaged;
  readonly judgement: Judgement;
  /**
   * Whether the blank, as read, goes into its pocket along these jaws, or the outline keeps the tolerance asked for; absent
   * where jaws do not close on the blank from outside, or the standard gives no tolerance.
   */
  readonly fit?: Fit;
  /** It was used to correct the outline: its agreement proves nothing. */
  readonly used?: true;
}

/** All readings of a job, judged. */
export interface Checks {
  readonly sizes: Readonly<Record<number, Sizes>>;
  readonly checked: readonly Checked[];
  /** Readings that name nothing that could be measured on the outline as it is now, and why. */
  readonly lost: readonly { readonly reading: Reading; readonly reason: Reason }[];
  /** By blank: the reading that would shrink the remaining doubt most. */
  readonly next: Readonly<Record<number, NextCheck>>;
}

const USED =
  'Corrected the outline, so it no longer counts as a check: read another place or direction to check it.';

/**
 * Holds all readings against the outlines that must fit the pockets, one per blank.
 *
 * @param clearanceMm per side
 * @param asked what sizes must keep to
 * @param corrected blanks whose outline has been corrected by those of their readings that are marked for it
 */
export function holdAgainst(
  seats: readonly Outline[],
  readings: readonly Reading[],
  instruments: Readonly<Record<InstrumentKind, Instrument>>,
  clearanceMm: number,
  corrected: readonly number[] = [],
  asked: Asked = { by: 'clearance' },
): Checks {
  const checked: Checked[] = [];
  const lost: { reading: Reading; reason: Reason }[] = [];
  for (const reading of readings) {
    const seat = seats.find((o) => o.blank === reading.blank);
    if (!seat || reading.valuesMm.length === 0) continue;
    try {
      const dimension = measure(seat, reading.feature);
      const averaged = average(reading.valuesMm, instruments[reading.with]);
      const used = reading.use === 'fit' && corrected.includes(reading.blank);
      const judged = judge(averaged, dimension, clearanceMm);
      const judgement: Judgement = used
        ? { ...judged, verdict: 'says little', sentence: USED }
        : judged;
      const { kind, valueMm } = dimension;
      const outside = kind === 'width' || kind === 'edges';
      const tolerance = isUpright(kind)
        ? undefined
        : toleranceOf(asked, averaged.readMm, kind === 'radius' ? 'radius' : 'linear');
      checked.push({
        reading,
        dimension,
        averaged,
        judgement,
        ...(used && { used }),
        ...(asked.by === 'clearance'
          ? outside && { fit: alongJaws(valueMm, averaged, clearanceMm) }
          : tolerance && {
              fit: withinTolerance(judged.differenceMm, judged.jointU, tolerance),
            }),
      });
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      lost.push({ reading, reason: error.reason });
    }
  }
  const sizes: Record<number, Sizes> = {};
  const next: Record<number, NextCheck> = {};
  for (const seat of seats) {
    const [width, height] = mainWidths(seat);
    sizes[seat.blank] = { width, height };
    const known = checked
      // What corrected the outline is in its modes already.
      .filter(
        (c) => c.reading.blank === seat.blank && c.judgement.verdict !== 'contradicts' && !c.used,
      )
      .map(({ dimension, averaged: { ownU, sharedU } }) => ({ dimension, ownU, sharedU }));
    const found = nextCheck(seat, known, instruments.caliper);
    if (found) next[seat.blank] = found;
  }
  return { sizes, checked, lost, next };
}

/**
 * What readings of the thickness of several pieces of one kind say: they differ by more than the readings explain. Readings of
 * one instrument share its error, which their difference is free of.
 */
export function unevenPieces(checked: readonly Checked[]): readonly Reason[] {
  const read = checked
    .filter(({ dimension }) => dimension.kind === 'thickness')
    .sort((a, b) => a.averaged.readMm - b.averaged.readMm);
  const [thin, thick] = [read[0], read[read.length - 1]];
  if (!thin || !thick) return [];
  const apart = thick.averaged.readMm - thin.averaged.readMm;
  const u = 2 * Math.hypot(thick.averaged.ownU, thin.averaged.ownU);
  if (apart <= u) return [];
  return [
    reason('pieces-thickness-differ', {
      apartMm: apart.toFixed(2),
      uMm: u.toFixed(2),
      thickest: thick.reading.blank,
      thinnest: thin.reading.blank,
      mostMm: thick.averaged.readMm.toFixed(2),
      leastMm: thin.averaged.readMm.toFixed(2),
    }),
  ];
}

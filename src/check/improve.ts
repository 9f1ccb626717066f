import { inverse, Matrix } from 'ml-matrix';
import { Refusal } from '../base/reason.ts';
import { outwardNormals } from '../geometry/measure.ts';
import type { Outline, OutlineMode, Trace } from '../outline/outline.ts';
import { wholeFactorOf } from '../outline/uncertainty.ts';
import type { Dimension, Feature } from './check.ts';
import { measure } from './feature.ts';
import { movedBy } from './moved.ts';
import {
  average,
  type Averaged,
  type Instrument,
  type InstrumentKind,
  type Reading,
} from './reading.ts';
import { ringsOf } from './touch.ts';
import { featureName } from './words.ts';

/** What readings did to one blank's outline. */
export interface Improvement {
  readonly blank: number;
  /** Every reading of the blank, used or not: what the outline said of it before and says now, mm; U is expanded, k = 2. */
  readonly changes: readonly {
    readonly feature: Feature;
    readonly name: string;
    readonly used: boolean;
    readonly readMm: number;
    readonly beforeMm: number;
    readonly beforeU: number;
    readonly afterMm: number;
    readonly afterU: number;
  }[];
  /** The outline's two main sizes, after over before. */
  readonly scale: { readonly width: number; readonly height: number };
}

/** A trace whose outlines were adjusted to readings, and what that did. */
export interface Improved {
  readonly trace: Trace;
  readonly improvements: readonly Improvement[];
}

interface Observed {
  readonly reading: Reading;
  readonly dimension: Dimension;
  readonly averaged: Averaged;
}

/** Readings are refused where an honest set would differ so much once in 370 times: three standard deviations. */
const THREE_SIGMA = 3;
const THREE_SIGMA_ONE_SIDED = 2.782;

/** The value that a chi-square variable exceeds once in 370 times. Source: Wilson and Hilferty, 1931 (from memory). */
const chiSquareLimit = (n: number): number =>
  n * (1 - 2 / (9 * n) + THREE_SIGMA_ONE_SIDED * Math.sqrt(2 / (9 * n))) ** 3;

/**
 * Adjusts the outlines of every blank to those of its readings that are marked as used for it.
 *
 * Each reading is one more observation of the adjustment that made the view. The causes it left uncertain (the outline's
 * modes: scale, height, lens, edge) are its unknowns, known so far to 0 ± 1 each; the observation says how far the dimension
 * is off, with the reading's own error and that of its instrument, which its other readings share. So a reading along x
 * corrects what is doubtful along x, and the height rather than the scale where the height is what is doubtful. Source: least
 * squares in phases (any text on adjustment; it gives what one adjustment with all observations would).
 *
 * The covariance that is left, P = (1 - K G) (1 - K G)ᵀ + K R Kᵀ, is kept as modes again: the old ones by their sources, and
 * what the readings brought in as `readings`.
 *
 * @throws Refusal `readings-one-off`, `readings-against-outline`, `reading-unseen`
 */
export function improve(
  trace: Trace,
  seats: readonly Outline[],
  readings: readonly Reading[],
  instruments: Readonly<Record<InstrumentKind, Instrument>>,
): Improved {
  let outlines = trace.outlines;
  const improvements: Improvement[] = [];
  for (const seat of seats) {
    const mine = readings.filter((r) => r.blank === seat.blank && r.valuesMm.length > 0);
    const used = mine.filter((r) => r.use === 'fit');
    if (used.length === 0 || seat.modes.length === 0) continue;
    const observed = used.map((reading): Observed => ({
      reading,
      dimension: measure(seat, reading.feature),
      averaged: average(reading.valuesMm, instruments[reading.with]),
    }));
    const solved = solve(observed, seat.blank);
    const after = new Map(
      outlines
        .filter((o) => o.blank === seat.blank)
        .map((o) => [o, adjusted(o, seat.modes, solved)] as const),
    );
    outlines = outlines.map((o) => after.get(o) ?? o);
    const seatAfter = after.get(seat) ?? adjusted(seat, seat.modes, solved);
    const size = (o: Outline, side: 'width' | 'height'): number =>
      measure(o, { kind: 'main', side }).valueMm;
    improvements.push({
      blank: seat.blank,
      changes: mine.flatMap((reading) => changeOf(reading, seat, seatAfter, instruments)),
      scale: {
        width: size(seatAfter, 'width') / size(seat, 'width'),
        height: size(seatAfter, 'height') / size(seat, 'height'),
      },
    });
  }
  return { trace: outlines === trace.outlines ? trace : { ...trace, outlines }, improvements };
}

function changeOf(
  reading: Reading,
  before: Outline,
  after: Outline,
  instruments: Readonly<Record<InstrumentKind, Instrument>>,
): Improvement['changes'] {
  try {
    const [was, is] = [before, after].map((o) => measure(o, reading.feature)) as [
      Dimension,
      Dimension,
    ];
    return [
      {
        feature: reading.feature,
        name: featureName(reading.feature, was.kind),
        used: reading.use === 'fit',
        readMm: average(reading.valuesMm, instruments[reading.with]).readMm,
        beforeMm: was.valueMm,
        beforeU: 2 * was.u,
        afterMm: is.valueMm,
        afterU: 2 * is.u,
      },
    ];
  } catch (error) {
    // What cannot be measured is said where it is held against the outline.
    if (error instanceof Refusal) return [];
    throw error;
  }
}

interface Solved {
  /** Of each mode, standard deviations. */
  readonly moved: readonly number[];
  /** By what each mode is replaced, and what each reading brings: rows of weights of the old modes. */
  readonly kept: Matrix;
  readonly brought: Matrix;
}

function solve(observed: readonly Observed[], blank: number): Solved {
  const n = observed.length;
  const unseen = observed.find((o) => o.dimension.unseen);
  if (unseen) throw new Refusal('reading-unseen', { blank, what: nameOf(unseen) });
  const g = new Matrix(observed.map((o) => Array.from(o.dimension.shifts)));
  const e = observed.map((o) => o.averaged.readMm - o.dimension.valueMm);
  // The readings' errors as independent causes: each its own, then one for each instrument.
  const kinds = [...new Set(observed.map((o) => o.reading.with))];
  const causes = Matrix.zeros(n, n + kinds.length);
  observed.forEach(({ averaged, dimension, reading }, i) => {
    // Where few readings tell of their own scatter, u is wider than its parts.
    const own = Math.sqrt(averaged.u ** 2 - averaged.sharedU ** 2 + dimension.ownVariance);
    causes.set(i, i, own);
    causes.set(i, n + kinds.indexOf(reading.with), averaged.sharedU);
  });
  const s = g.mmul(g.transpose()).add(causes.mmul(causes.transpose()));
  const weight = inverse(s);
  refuseContradictions(observed, e, weight, s, blank);
  const gain = g.transpose().mmul(weight);
  return {
    moved: gain.mmul(Matrix.columnVector(e)).getColumn(0),
    kept: Matrix.eye(g.columns).sub(gain.mmul(g)),
    brought: gain.mmul(causes),
  };
}

const nameOf = ({ reading, dimension }: Observed): string =>
  featureName(reading.feature, dimension.kind);

/**
 * Are the readings such as the outline and the other readings lead to expect? All together by chi-square; one by one by its
 * residual over its standard deviation given all others (Baarda's test, from memory). The suspect is the one without which
 * the rest would pass.
 */
function refuseContradictions(
  observed: readonly Observed[],
  e: readonly number[],
  weight: Matrix,
  s: Matrix,
  blank: number,
): void {
  const all = observed.map((_, k) => k);
  const chiSquare = (of: readonly number[]): number => {
    if (of.length === 0) return 0;
    const inv = of.length === all.length ? weight : inverse(s.selection([...of], [...of]));
    return of.reduce(
      (sum, i, a) => sum + of.reduce((t, j, b) => t + e[i]! * inv.get(a, b) * e[j]!, 0),
      0,
    );
  };
  const tension = all.map(
    (i) =>
      Math.abs(all.reduce((sum, j) => sum + weight.get(i, j) * e[j]!, 0)) /
      Math.sqrt(weight.get(i, i)),
  );
  const worst = tension.indexOf(Math.max(...tension));
  if (chiSquare(all) <= chiSquareLimit(all.length) && tension[worst]! <= THREE_SIGMA) return;
  const rest = all.filter((k) => k !== worst);
  const suspect = observed[worst]!;
  const off = Math.abs(
    all.reduce((sum, j) => sum + weight.get(worst, j) * e[j]!, 0) / weight.get(worst, worst),
  );
  const facts = {
    blank,
    what: nameOf(suspect),
    readMm: suspect.averaged.readMm.toFixed(2),
    offMm: off.toFixed(2),
  };
  // The others speak against it only where they agree with the outline and with each other.
  if (rest.length > 0 && chiSquare(rest) <= chiSquareLimit(rest.length))
    throw new Refusal('readings-one-off', facts);
  throw new Refusal('readings-against-outline', { ...facts, count: observed.length });
}

/** An outline after the modes have moved. Other outlines of the blank share the seat's modes, in order, and may add their own. */
function adjusted(outline: Outline, modes: readonly OutlineMode[], solved: Solved): Outline {
  const { moved, kept, brought } = solved;
  if (modes.some((m, k) => outline.modes[k]?.source !== m.source))
    throw new Error('outlines of one blank do not share their modes');
  const count = outline.u.reduce((sum, ring) => sum + ring.length, 0);
  const sum = (weightOf: (k: number) => number, of: 'dx' | 'dy'): Float64Array => {
    const out = new Float64Array(count);
    modes.forEach((_, k) => {
      const w = weightOf(k);
      if (w !== 0) outline.modes[k]![of].forEach((v, i) => (out[i]! += w * v));
    });
    return out;
  };
  const total = (weightOf: (k: number) => number, of: 'heightMm' | 'belowMm'): number =>
    modes.reduce((s, _, k) => s + weightOf(k) * (outline.modes[k]![of] ?? 0), 0);
  // Heights that no mode moves stay unknown.
  const tall = modes.some((m) => m.heightMm !== undefined);
  const mixed = (source: OutlineMode['source'], weightOf: (k: number) => number): OutlineMode => ({
    source,
    dx: sum(weightOf, 'dx'),
    dy: sum(weightOf, 'dy'),
    ...(tall && { heightMm: total(weightOf, 'heightMm'), belowMm: total(weightOf, 'belowMm') }),
  });
  const newModes: OutlineMode[] = [
    ...modes.map(({ source }, m) => mixed(source, (k) => kept.get(k, m))),
    ...outline.modes.slice(modes.length),
    ...Array.from({ length: brought.columns }, (_, r) =>
      mixed('readings', (k) => brought.get(k, r)),
    ),
  ];
  const below = total((k) => moved[k]!, 'belowMm');
  const shape = movedBy(
    outline,
    sum((k) => moved[k]!, 'dx'),
    sum((k) => moved[k]!, 'dy'),
  );
  // What u holds beyond the modes stays as it was.
  let first = 0;
  const seen = ringsOf(outline).flatMap((ring, r) => {
    const { nx, ny } = outwardNormals(ring);
    return ring.map((p, k) => {
      const q = ring[(k + 1) % ring.length]!;
      return { ...p, nx: nx[k]!, ny: ny[k]!, r, k, share: Math.hypot(q.x - p.x, q.y - p.y) };
    });
  });
  const along = (of: readonly OutlineMode[], i: number): number =>
    of.reduce((v, { dx, dy }) => v + (seen[i]!.nx * dx[i]! + seen[i]!.ny * dy[i]!) ** 2, 0);
  const own = seen.map(({ r, k }, i) =>
    Math.sqrt(Math.max(0, outline.u[r]![k]! ** 2 - along(outline.modes, i))),
  );
  const u = Float64Array.from(seen, (_, i) => Math.hypot(own[i]!, Math.sqrt(along(newModes, i))));
  const perRing = ringsOf(outline).map((ring) => u.slice(first, (first += ring.length)));
  const { belowFaceMm } = outline;
  const lower = outline.at === 'widest' ? below : 0;
  return {
    ...outline,
    ...shape,
    heightMm: outline.heightMm + total((k) => moved[k]!, 'heightMm') - lower,
    ...(belowFaceMm !== undefined && { belowFaceMm: belowFaceMm + lower }),
    modes: newModes,
    u: perRing,
    wholeFactor: wholeFactorOf(
      seen.map((v) => ({ ...v, far: true, biasMm: 0, farSideMm: 0 })),
      newModes,
      Float64Array.from(own),
      u,
    ),
  };
}

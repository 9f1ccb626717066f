import { inverse as invert, Matrix } from 'ml-matrix';
import type { Point } from '../base/measure.ts';
import { Refusal } from '../base/reason.ts';
import { inverse, type Affine } from '../geometry/affine.ts';

/** A distance between two marks of a printed sheet that lies on the bed as it was printed; bed frame, mm. */
export interface PrintedSpan {
  readonly from: Point<'bed'>;
  readonly to: Point<'bed'>;
  readonly readMm: number;
}

/** How far a printed mark lies from the edge that the bed is counted from, along x or y; mm. */
export interface PrintedEdge {
  readonly axis: 'x' | 'y';
  /** The mark as designed. */
  readonly at: Point<'bed'>;
  readonly readMm: number;
}

/** What was read off one print, and with what. */
export interface BedReading {
  /** Day, ISO 8601. */
  readonly on: string;
  readonly spans: readonly PrintedSpan[];
  readonly edges: readonly PrintedEdge[];
  /** Standard uncertainty of one reading, mm (k = 1). */
  readonly readU: number;
}

export interface Estimate {
  readonly value: number;
  /** Standard uncertainty (k = 1). */
  readonly u: number;
}

/**
 * How a printer's own axes differ from those of the bed: what is meant for (x, y) comes down at
 * ((1 + scaleX) x + shear y + offsetX, (1 + scaleY) y + offsetY). Scales and shear have no unit, offsets are mm.
 */
export interface BedProfile {
  readonly on: string;
  readonly scaleX: Estimate;
  readonly scaleY: Estimate;
  readonly shear: Estimate;
  readonly offsetX: Estimate;
  readonly offsetY: Estimate;
  /** Parameters that no reading tells: they stand at nothing, as far as machines commonly are. */
  readonly assumed: readonly (keyof Omit<BedProfile, 'on' | 'assumed' | 'misfit'>)[];
  /** Root of chi squared by its degrees of freedom: far above 1, readings contradict each other; absent without any left over. */
  readonly misfit?: number;
}

const NAMES = ['scaleX', 'scaleY', 'shear', 'offsetX', 'offsetY'] as const;
/**
 * How far machines commonly are from what they should be where nothing was read: 0.3 % in scale, 0.1 % in shear, 1 mm in offset
 * (k = 1). Common practice, no source.
 */
const PRIOR_U = { scaleX: 3e-3, scaleY: 3e-3, shear: 1e-3, offsetX: 1, offsetY: 1 } as const;
/** A parameter whose doubt readings have not brought below this share of the common one is not told by them. */
const TOLD = 0.5;
/** Readings further apart than chi allows in one case of a thousand and more. Common practice, no source. */
export const MISFIT = 3;

/** How a reading follows each parameter, in the order of `NAMES`, and what it would be with none. Linear: scales are thousandths. */
function rowsOf({ spans, edges }: BedReading): { rows: number[][]; off: number[] } {
  const rows: number[][] = [];
  const off: number[] = [];
  for (const { from, to, readMm } of spans) {
    const [dx, dy] = [to.x - from.x, to.y - from.y];
    const length = Math.hypot(dx, dy);
    rows.push([(dx * dx) / length, (dy * dy) / length, (dx * dy) / length, 0, 0]);
    off.push(readMm - length);
  }
  for (const { axis, at, readMm } of edges) {
    rows.push(axis === 'x' ? [at.x, 0, at.y, 1, 0] : [0, at.y, 0, 0, 1]);
    off.push(readMm - (axis === 'x' ? at.x : at.y));
  }
  return { rows, off };
}

/**
 * The profile of a printer's bed from what was read off one print: least squares with what is commonly so as a weak prior, and
 * the standard uncertainties that follow (JCGM 100).
 *
 * @throws Refusal `bed-reading-none` without any reading, `bed-reading-short` where a span is too short to tell anything
 */
export function bedProfileOf(reading: BedReading): BedProfile {
  const { spans, edges, readU, on } = reading;
  if (spans.length + edges.length === 0) throw new Refusal('bed-reading-none');
  const short = spans.find(({ from, to }) => Math.hypot(to.x - from.x, to.y - from.y) < 50);
  if (short)
    throw new Refusal('bed-reading-short', {
      lengthMm: Math.hypot(short.to.x - short.from.x, short.to.y - short.from.y).toFixed(1),
    });
  const { rows, off } = rowsOf(reading);
  const A = new Matrix(rows);
  const normal = A.transpose()
    .mmul(A)
    .div(readU * readU);
  NAMES.forEach((name, k) => normal.set(k, k, normal.get(k, k) + 1 / PRIOR_U[name] ** 2));
  const covariance = invert(normal);
  const b = Matrix.columnVector(off);
  const x = covariance.mmul(
    A.transpose()
      .mmul(b)
      .div(readU * readU),
  );
  const left = Matrix.sub(A.mmul(x), b).to1DArray();
  const assumed = NAMES.filter((name, k) => Math.sqrt(covariance.get(k, k)) > TOLD * PRIOR_U[name]);
  const free = rows.length - (NAMES.length - assumed.length);
  const chi2 = left.reduce((sum, r) => sum + (r / readU) ** 2, 0);
  const estimate = (k: number): Estimate => ({
    value: x.get(k, 0),
    u: Math.sqrt(covariance.get(k, k)),
  });
  return {
    on,
    scaleX: estimate(0),
    scaleY: estimate(1),
    shear: estimate(2),
    offsetX: estimate(3),
    offsetY: estimate(4),
    assumed,
    ...(free > 0 && { misfit: Math.sqrt(chi2 / free) }),
  };
}

/** Where the printer puts what is meant for a place. */
export const printedFromMeant = ({
  scaleX,
  scaleY,
  shear,
  offsetX,
  offsetY,
}: BedProfile): Affine => [
  1 + scaleX.value,
  0,
  shear.value,
  1 + scaleY.value,
  offsetX.value,
  offsetY.value,
];

/** What must be sent to the printer so that it lands where it is meant. */
export const sentFromMeant = (profile: BedProfile): Affine => inverse(printedFromMeant(profile));

/** How far the print lands off at the farthest corner of a bed without correction, mm. */
export function farthestOffMm(
  profile: BedProfile,
  { widthMm, depthMm }: { readonly widthMm: number; readonly depthMm: number },
): number {
  const [a, b, c, d, e, f] = printedFromMeant(profile);
  return Math.max(
    ...[
      [0, 0],
      [widthMm, 0],
      [0, depthMm],
      [widthMm, depthMm],
    ].map(([x, y]) => Math.hypot(a * x! + c * y! + e - x!, b * x! + d * y! + f - y!)),
  );
}

/** What changed between two measurements of one printer, by E_n (JCGM 100; ISO 13528, 9.7): above 1 it is more than their doubts. */
export const driftOf = (
  before: BedProfile,
  now: BedProfile,
): readonly { readonly name: (typeof NAMES)[number]; readonly by: number; readonly en: number }[] =>
  NAMES.filter((name) => !before.assumed.includes(name) && !now.assumed.includes(name)).map(
    (name) => {
      const by = now[name].value - before[name].value;
      return { name, by, en: Math.abs(by) / (2 * Math.hypot(before[name].u, now[name].u)) };
    },
  );

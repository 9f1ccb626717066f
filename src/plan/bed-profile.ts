import { inverse as invert, Matrix } from 'ml-matrix';
import type { Point } from '../base/measure.ts';
import { reason, Refusal, type Reason } from '../base/reason.ts';
import type { Instrument, InstrumentKind } from '../check/reading.ts';
import type { Affine } from '../geometry/affine.ts';
import { zeroCorner } from './plan-bed.ts';
import { ZERO_CORNERS, type BedSettings } from './plan.ts';

/** What draws by axes of its own: a printer, or a cutter that scores. */
export type Drawer = 'printer' | 'cutter';

/** A distance between two marks that lie as they were printed, or cut; bed frame, mm. */
export interface PrintedSpan {
  readonly from: Point<'bed'>;
  readonly to: Point<'bed'>;
  readonly readMm: number;
}

/** How far a printed mark lies from the edge of the bed at its zero corner, along x or y, mm. */
export interface PrintedEdge {
  readonly axis: 'x' | 'y';
  /** The mark as designed. */
  readonly at: Point<'bed'>;
  readonly readMm: number;
}

/** What was read off one print or cut test, and with what. Plain data, kept with the machine. */
export interface BedReading {
  /** Day, ISO 8601. */
  readonly on: string;
  /** The bed that it was made for: the machine counts from its zero. */
  readonly bed: Pick<BedSettings, 'widthMm' | 'depthMm' | 'zero'>;
  readonly spans: readonly PrintedSpan[];
  readonly edges: readonly PrintedEdge[];
  readonly with: InstrumentKind;
  readonly instrument: Instrument;
  /** Where the spans were read off a photo with the sheet's marks: its name, and their covariance, mm²; edges are still read by hand. */
  readonly picture?: {
    readonly name: string;
    readonly covarianceMm2: readonly (readonly number[])[];
  };
}

export interface Estimate {
  readonly value: number;
  /** Standard uncertainty (k = 1). */
  readonly u: number;
}

export const PARTS = ['scaleX', 'scaleY', 'shear', 'offsetX', 'offsetY'] as const;
export type ProfilePart = (typeof PARTS)[number];

/**
 * How a machine's own axes differ from those of the bed: with places counted from its zero corner, what is meant for (x, y)
 * comes down at ((1 + scaleX) x + shear y + offsetX, (1 + scaleY) y + offsetY). Scales and shear have no unit, offsets are mm.
 */
export interface BedProfile extends Readonly<Record<ProfilePart, Estimate>> {
  readonly on: string;
  readonly bed: BedReading['bed'];
  /** Parts that no reading tells: they stand at nothing, and may be as far off as machines commonly are. */
  readonly assumed: readonly ProfilePart[];
  /** How far the print lands off at the corner of the bed where that is most, mm; and U (k = 2) of it where that is most. */
  readonly farthestMm: number;
  readonly farthestU: number;
  /** Why nothing is corrected by it. */
  readonly against?: Reason;
  /** What it leaves open. */
  readonly doubts: readonly Reason[];
}

/**
 * How far machines commonly are from what they should be where nothing was read: 0.3 % in scale, 0.1 % in shear, 1 mm in offset
 * (k = 1). Common practice, no source.
 */
const PRIOR_U: Readonly<Record<ProfilePart, number>> = {
  scaleX: 3e-3,
  scaleY: 3e-3,
  shear: 1e-3,
  offsetX: 1,
  offsetY: 1,
};
/** A part whose doubt readings have not brought below this share of the common one is not told by them. */
const TOLD = 0.5;
/** Farther off than this no printer is, but a print that was scaled by a program. Common practice, no source. */
const MOST = 0.01;
/** Spans shorter than this say nothing of a scale, mm. */
const SHORT_MM = 50;
/** A residual so many times its own standard deviation is gross: one in a thousand (W. Baarda, 1968, data snooping; from memory). */
const GROSS = 3.29;
/**
 * What the length of a rule may be out of itself, shared by all that is read with it: class II, 0.2 mm per metre, rectangular
 * (Directive 2014/32/EU, annex X, chapter I; from memory). A caliper's own error is in its figure already.
 */
const RULE_SCALE_U = 2e-4 / Math.sqrt(3);

/** Crosses for the profile, inside the graduations of the bed ruler, as far apart as the bed allows; none on a bed too small for them. */
export function profileMarks({
  widthMm,
  depthMm,
}: BedReading['bed']): readonly { readonly name: string; readonly at: Point<'bed'> }[] {
  const inset = 20;
  const [right, rear] = [widthMm, depthMm].map((v) => 10 * Math.floor((v - inset) / 10)) as [
    number,
    number,
  ];
  if (right - inset < SHORT_MM || rear - inset < SHORT_MM) return [];
  return [
    { name: 'A', at: { x: inset, y: inset } },
    { name: 'B', at: { x: right, y: inset } },
    { name: 'C', at: { x: right, y: rear } },
    { name: 'D', at: { x: inset, y: rear } },
  ];
}

/** The cross nearest to zero, whose distance from the bed's edges there tells the shift, and how far it is from them by design. */
export function edgeMark(bed: BedReading['bed']) {
  const zero = zeroCorner(bed);
  const off = (at: Point<'bed'>): number => Math.hypot(at.x - zero.x, at.y - zero.y);
  const [first, ...others] = profileMarks(bed);
  if (!first) return undefined;
  const { name, at } = others.reduce((a, b) => (off(b.at) < off(a.at) ? b : a), first);
  return { name, at, fromEdgeMm: { x: Math.abs(at.x - zero.x), y: Math.abs(at.y - zero.y) } };
}

/** The distances between the crosses that tell the profile: two along each axis, both diagonals. */
export const BED_SPANS = [
  ['A', 'B'],
  ['D', 'C'],
  ['A', 'D'],
  ['B', 'C'],
  ['A', 'C'],
  ['B', 'D'],
] as const;

/** Two short lines across each other at a mark. */
export const crossOf = ({ x, y }: Point<'bed'>, armMm = 4): Point<'bed'>[][] => [
  [
    { x: x - armMm, y },
    { x: x + armMm, y },
  ],
  [
    { x, y: y - armMm },
    { x, y: y + armMm },
  ],
];

const lengthOf = ({ from, to }: PrintedSpan): number => Math.hypot(to.x - from.x, to.y - from.y);

/** How each reading follows the parts, in their order, and how far it is from what was designed. Linear: scales are thousandths. */
function rowsOf({ spans, edges, bed }: BedReading): { rows: number[][]; off: number[] } {
  const zero = zeroCorner(bed);
  const rows: number[][] = [];
  const off: number[] = [];
  for (const span of spans) {
    const [dx, dy] = [span.to.x - span.from.x, span.to.y - span.from.y];
    const length = lengthOf(span);
    rows.push([(dx * dx) / length, (dy * dy) / length, (dx * dy) / length, 0, 0]);
    off.push(span.readMm - length);
  }
  for (const { axis, at, readMm } of edges) {
    const [x, y] = [at.x - zero.x, at.y - zero.y];
    // A distance from an edge has no sign: on a bed counted from the right or the rear it grows the other way.
    const way = (axis === 'x' ? zero.x : zero.y) === 0 ? 1 : -1;
    rows.push((axis === 'x' ? [x, 0, y, 1, 0] : [0, y, 0, 0, 1]).map((v) => way * v));
    off.push(readMm - way * (axis === 'x' ? x : y));
  }
  return { rows, off };
}

/** What is wrong of the readings together: its own each time, the instrument's shared, and a rule's length. */
function covarianceOf({ spans, edges, instrument, with: kind, picture }: BedReading): Matrix {
  const lengths = [...spans.map(lengthOf), ...edges.map(({ readMm }) => readMm)];
  const { sharedU, eachU } = instrument;
  const scaleU = kind === 'rule' ? RULE_SCALE_U : 0;
  return new Matrix(
    lengths.map((a, i) =>
      lengths.map((b, k) => {
        const [first, second] = picture ? [i < spans.length, k < spans.length] : [false, false];
        if (first !== second) return 0;
        if (first) return picture!.covarianceMm2[i]![k]!;
        return sharedU ** 2 + scaleU ** 2 * a * b + (i === k ? eachU ** 2 : 0);
      }),
    ),
  );
}

/** Where the parts move a place of the bed: rows for x and y. */
function movesAt(bed: BedReading['bed'], p: Point<'bed'>): [number[], number[]] {
  const zero = zeroCorner(bed);
  const [x, y] = [p.x - zero.x, p.y - zero.y];
  return [
    [x, 0, y, 1, 0],
    [0, y, 0, 0, 1],
  ];
}

/**
 * The profile of a machine from what was read off one print or cut test: generalised least squares, and the standard uncertainties that
 * follow (JCGM 100, 5.2); what readings do not settle keeps to what is commonly so.
 *
 * @throws Refusal `bed-reading-none` without any reading, `bed-reading-short` where a span is too short to tell anything
 */
export function bedProfileOf(reading: BedReading, machine: Drawer = 'printer'): BedProfile {
  const { spans, edges, bed, on } = reading;
  if (spans.length + edges.length === 0) throw new Refusal('bed-reading-none', { machine });
  const short = spans.find((span) => lengthOf(span) < SHORT_MM);
  if (short)
    throw new Refusal('bed-reading-short', { lengthMm: lengthOf(short).toFixed(1), machine });
  const { rows, off } = rowsOf(reading);
  const A = new Matrix(rows);
  const V = covarianceOf(reading);
  const inverseV = invert(V);
  const weighed = A.transpose().mmul(inverseV);
  const covarianceWith = (prior: readonly ProfilePart[]): Matrix => {
    const normal = weighed.mmul(A);
    PARTS.forEach((name, k) => {
      if (prior.includes(name)) normal.set(k, k, normal.get(k, k) + 1 / PRIOR_U[name] ** 2);
    });
    return invert(normal);
  };
  // What is common tells which parts the readings settle; those it must not draw to nothing.
  const rough = covarianceWith(PARTS);
  const assumed = PARTS.filter((name, k) => Math.sqrt(rough.get(k, k)) > TOLD * PRIOR_U[name]);
  const covariance = covarianceWith(assumed);
  const b = Matrix.columnVector(off);
  const x = covariance.mmul(weighed.mmul(b));
  const u = PARTS.map((_, k) => Math.sqrt(covariance.get(k, k)));
  const values = PARTS.map((name, k) => (assumed.includes(name) ? 0 : x.get(k, 0)));

  const reach = [
    [0, 0],
    [bed.widthMm, 0],
    [0, bed.depthMm],
    [bed.widthMm, bed.depthMm],
  ].flatMap(([px, py]) => {
    const moves = movesAt(bed, { x: px!, y: py! });
    const by = moves.map((row) => row.reduce((s, v, k) => s + v * values[k]!, 0));
    // What stands at nothing because no reading tells it is said apart; it is no doubt of what is corrected.
    const spread = moves.map((row) => {
      const told = Matrix.rowVector(row.map((v, k) => (assumed.includes(PARTS[k]!) ? 0 : v)));
      return 2 * Math.sqrt(told.mmul(covariance).mmul(told.transpose()).get(0, 0));
    });
    return [{ by: by as [number, number], spread: spread as [number, number] }];
  });
  const farthestMm = Math.max(...reach.map(({ by }) => Math.hypot(...by)));
  const farthestU = Math.max(...reach.map(({ spread }) => Math.max(...spread)));

  const estimates = Object.fromEntries(
    PARTS.map((name, k) => [name, { value: values[k]!, u: u[k]! }]),
  ) as Record<ProfilePart, Estimate>;
  const against =
    (['scaleX', 'scaleY'] as const).flatMap((name) =>
      assumed.includes(name)
        ? [reason('bed-reading-few', { axis: name === 'scaleX' ? 'x' : 'y', machine })]
        : [],
    )[0] ??
    (['scaleX', 'scaleY', 'shear'] as const).flatMap((name) =>
      Math.abs(estimates[name].value) > MOST
        ? [
            reason('bed-scale-far', {
              machine,
              percent: (100 * Math.abs(estimates[name].value)).toFixed(1),
              what:
                name === 'shear' ? 'out of square' : `off along ${name === 'scaleX' ? 'x' : 'y'}`,
            }),
          ]
        : [],
    )[0] ??
    grossIn(reading, A, V, inverseV, covariance, b) ??
    (reach.every(({ by, spread }) => by.every((v, k) => Math.abs(v) <= spread[k]!))
      ? reason('bed-profile-unsure', {
          machine,
          offMm: farthestMm.toFixed(2),
          uMm: farthestU.toFixed(2),
        })
      : undefined);
  const doubts = assumed.includes('shear')
    ? [
        reason('bed-shear-unread', {
          uMm: (2 * PRIOR_U.shear * Math.max(bed.widthMm, bed.depthMm)).toFixed(1),
        }),
      ]
    : [];
  return {
    ...estimates,
    on,
    bed,
    assumed,
    farthestMm,
    farthestU,
    ...(against && { against }),
    doubts: against ? [] : doubts,
  };
}

/**
 * The reading that contradicts the others most, if any does by more than chance allows. With Q = V⁻¹ - V⁻¹ A C Aᵀ V⁻¹, what a
 * reading is off by the others alone is (Q b)ᵢ / Qᵢᵢ, and its standard deviation 1 / √Qᵢᵢ.
 */
function grossIn(
  reading: BedReading,
  A: Matrix,
  V: Matrix,
  inverseV: Matrix,
  covariance: Matrix,
  b: Matrix,
): Reason | undefined {
  const Q = Matrix.sub(
    inverseV,
    inverseV.mmul(A).mmul(covariance).mmul(A.transpose()).mmul(inverseV),
  );
  const left = Q.mmul(b).to1DArray();
  // A reading that nothing else checks has nothing left over.
  const ratio = left.map((r, k) =>
    Q.get(k, k) * V.get(k, k) > 0.01 ? Math.abs(r) / Math.sqrt(Q.get(k, k)) : 0,
  );
  const worst = ratio.reduce((most, r, k) => (r > ratio[most]! ? k : most), 0);
  if (ratio[worst]! <= GROSS) return undefined;
  const alike = ratio.filter((r) => r > 0.95 * ratio[worst]!).length;
  const { readMm } = [...reading.spans, ...reading.edges][worst]!;
  return reason('bed-readings-contradict', {
    readMm: readMm.toFixed(2),
    others: alike > 1 ? 'another reading' : 'the other readings',
    byMm: Math.abs(left[worst]! / Q.get(worst, worst)).toFixed(2),
    uMm: (2 * Math.sqrt(V.get(worst, worst))).toFixed(2),
  });
}

/** Where the printer puts what is meant for a place of a bed, which need not be as large as the one it was measured on. */
export function printedFromMeant(
  { bed: own, scaleX, scaleY, shear, offsetX, offsetY }: BedProfile,
  bed: BedReading['bed'] = own,
): Affine {
  const { x, y } = zeroCorner(bed);
  const [a, c, d] = [1 + scaleX.value, shear.value, 1 + scaleY.value];
  return [a, 0, c, d, x + offsetX.value - a * x - c * y, y + offsetY.value - d * y];
}

/** Parts in a thousand that the machine makes too much of x and of y, and that x grows with y. */
export const perMilleOf = ({
  scaleX,
  scaleY,
  shear,
}: BedProfile): readonly [x: number, y: number, shear: number] => {
  const [x, y, s] = [scaleX, scaleY, shear].map(({ value }) => Math.round(1e6 * value) / 1e3);
  return [x!, y!, s!];
};

/** What a profile says of the machine: "0.21 % long along x, 0.13 % short along y, 0.046 degrees out of square". */
export function profileWords(profile: BedProfile): string {
  const { scaleX, scaleY, shear, offsetX, offsetY, assumed } = profile;
  const told = (name: ProfilePart): boolean => !assumed.includes(name);
  const scale = ({ value }: Estimate, axis: string): string =>
    `${(100 * Math.abs(value)).toFixed(2)} % ${value < 0 ? 'short' : 'long'} along ${axis}`;
  const offset = ({ value }: Estimate, ways: readonly [string, string]): string =>
    `${Math.abs(value).toFixed(2)} mm to the ${value < 0 ? ways[1] : ways[0]}`;
  return [
    scale(scaleX, 'x'),
    scale(scaleY, 'y'),
    told('shear')
      ? `${((180 / Math.PI) * Math.abs(shear.value)).toFixed(3)} degrees out of square, the rear to the ${shear.value < 0 ? 'left' : 'right'}`
      : '',
    told('offsetX') ? offset(offsetX, ['right', 'left']) : '',
    told('offsetY') ? offset(offsetY, ['rear', 'front']) : '',
  ]
    .filter(Boolean)
    .join(', ');
}

/** What changed of one part between two measurements. */
export interface Drift {
  readonly part: ProfilePart;
  readonly by: number;
  /** Above 1 it is more than the doubts of both. */
  readonly en: number;
}

/** What changed between two measurements of one machine, by E_n (ISO 13528, 9.7): above 1 it is more than their doubts. */
export const driftOf = (before: BedProfile, now: BedProfile): readonly Drift[] =>
  PARTS.filter((part) => !before.assumed.includes(part) && !now.assumed.includes(part)).map(
    (part) => {
      const by = now[part].value - before[part].value;
      return { part, by, en: Math.abs(by) / (2 * Math.hypot(before[part].u, now[part].u)) };
    },
  );

const isObject = (v: unknown): v is Record<string, unknown> =>
  typeof v === 'object' && v !== null && !Array.isArray(v);
const isNumber = (v: unknown): v is number => typeof v === 'number' && Number.isFinite(v);

/** Whether data of a job file is a reading of a bed. */
export function isBedReading(r: unknown): r is BedReading {
  const isSpot = (p: unknown): boolean => isObject(p) && isNumber(p.x) && isNumber(p.y);
  return (
    isObject(r) &&
    typeof r.on === 'string' &&
    isObject(r.bed) &&
    isNumber(r.bed.widthMm) &&
    isNumber(r.bed.depthMm) &&
    ZERO_CORNERS.some((z) => z === (r.bed as Record<string, unknown>).zero) &&
    Array.isArray(r.spans) &&
    r.spans.every(
      (s) =>
        isObject(s) &&
        isSpot(s.from) &&
        isSpot(s.to) &&
        isNumber(s.readMm) &&
        lengthOf(s as unknown as PrintedSpan) >= SHORT_MM,
    ) &&
    Array.isArray(r.edges) &&
    r.spans.length + r.edges.length > 0 &&
    r.edges.every(
      (e) =>
        isObject(e) && (e.axis === 'x' || e.axis === 'y') && isSpot(e.at) && isNumber(e.readMm),
    ) &&
    ['caliper', 'rule', 'gauge'].some((k) => k === r.with) &&
    isObject(r.instrument) &&
    isNumber(r.instrument.sharedU) &&
    isNumber(r.instrument.eachU) &&
    r.instrument.eachU > 0 &&
    (r.picture === undefined || isCovariance(r.picture, r.spans.length))
  );
}

const isCovariance = (p: unknown, spans: number): boolean =>
  isObject(p) &&
  typeof p.name === 'string' &&
  Array.isArray(p.covarianceMm2) &&
  p.covarianceMm2.length === spans &&
  p.covarianceMm2.every(
    (row, k) =>
      Array.isArray(row) && row.length === spans && row.every(isNumber) && (row[k] as number) > 0,
  );

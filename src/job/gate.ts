import type { Code } from '../base/catalogue.ts';
import { reason, type Reason } from '../base/reason.ts';
import type { Dimension } from '../check/check.ts';
import type { Checks } from '../check/checked.ts';
import { featureName } from '../check/words.ts';
import { countOf } from './jig.ts';
import { hasThickness, isBare, ZERO_MM, type Job } from './job.ts';
import { handMade } from '../outline/paint.ts';
import type { Results } from './run.ts';
import type { Step } from './steps.ts';

/** Something that must be settled before a board may be cut, and how it stands. */
export interface Demand {
  /** Tells this demand from all others of the job; an override names what it passes over by it. */
  readonly key: string;
  readonly step: Step;
  readonly settled: boolean;
  /** How it stands, in a few words. */
  readonly words: string;
  /** What settles it, in a few words; absent: what it says already. */
  readonly act?: string;
  /** Two sources disagree, as against unproven. */
  readonly contradicts: boolean;
}

/** Why a release goes out although something is not settled: in whose words, over what, for which pictures. */
export interface Override {
  readonly reason: string;
  readonly by: string;
  /** Keys of the demands that it passes over; what comes up later is not covered. */
  readonly over: readonly string[];
  /** Which pictures the job was measured from (`picturesOf`). */
  readonly picture: string;
}

export interface Gate {
  readonly demands: readonly Demand[];
  /** What is neither settled nor passed over: while there is any, no file is made. */
  readonly shutBy: readonly Demand[];
  /** What the override in force passes over. */
  readonly passedOver: readonly Demand[];
}

/** Jaws whose directions differ by less do not count as two directions, radians. */
const ANOTHER_DIRECTION = Math.PI / 6;

/** Kinds of dimension that have a direction and can span a blank. */
const SPANNING: readonly Dimension['kind'][] = ['width', 'edges', 'slot', 'holes'];

const NONE: Checks = { sizes: {}, checked: [], lost: [], next: {} };

/** The first thing that a remedy asks for: its first clause. */
export const firstAct = (remedy: string): string => remedy.split(/[,;:](?=\s)|\.(?=\s|$)|\s\(/)[0]!;

const count = (n: number, one: string, many = `${one}s`): string => `${n} ${n === 1 ? one : many}`;

/** Blanks without a pocket of their own: pieces of a kind whose pocket another blank's number has. */
export const standsFor = ({ kind }: Results): readonly number[] =>
  kind?.ok
    ? kind.value.envelope.pieces!.filter((blank) => blank !== kind.value.envelope.blank)
    : [];

/** The blanks that are to be laid on the bed: those found, less those that another's envelope stands for, and those whose count is zero. */
export function laidBlanks(job: Job, results: Results): readonly number[] {
  const found = results.trace?.ok
    ? [...new Set(results.trace.value.outlines.map((o) => o.blank))]
    : [];
  const own = found.filter((blank) => !standsFor(results).includes(blank));
  return own.filter((blank) => countOf(blank, job) > 0);
}

/**
 * How many directions of one blank are checked: readings that agree, over at least half of its smaller side (a hole or a
 * corner says nothing about the size of the whole), whose directions differ by 30 degrees or more from each other.
 */
export function directionsChecked({ checked, sizes }: Checks, blank: number): number {
  const main = sizes[blank];
  if (!main) return 0;
  const least = Math.min(main.width.valueMm, main.height.valueMm) / 2;
  const kept: number[] = [];
  for (const { reading, dimension, judgement } of checked) {
    if (reading.blank !== blank || judgement.verdict !== 'agrees') continue;
    if (!SPANNING.includes(dimension.kind) || dimension.valueMm < least) continue;
    const apart = (other: number): number => {
      const turn = Math.abs(dimension.directionRad - other) % Math.PI;
      return Math.min(turn, Math.PI - turn);
    };
    if (kept.every((other) => apart(other) >= ANOTHER_DIRECTION)) kept.push(dimension.directionRad);
  }
  return kept.length;
}

/** Aslant: far enough from the sheet's sides that half of a skew shows, or more; radians. */
const ASLANT = Math.PI / 12;

/**
 * Whether a reading that agrees lies aslant to the sheet: along its x and y a skewed outline reads like a square one.
 */
export const seesShear = ({ checked }: Checks, blank: number): boolean =>
  checked.some(
    ({ reading, dimension, judgement }) =>
      reading.blank === blank &&
      judgement.verdict === 'agrees' &&
      SPANNING.includes(dimension.kind) &&
      Math.abs(Math.sin(2 * dimension.directionRad)) >= Math.sin(2 * ASLANT) - 1e-9,
  );

/** Signs that another program cropped or resized the picture: what the camera wrote into it and what it shows disagree. */
const ALTERED: readonly Code[] = ['picture-cropped', 'picture-scaled'];
/** A span that the picture and the other spans contradict: read wrong, or the picture stretched. */
const SPANS: readonly Code[] = ['spans-contradict'];

const saidOfView = ({ view }: Results, codes: readonly Code[]): Reason | undefined =>
  view?.ok ? (view.value.reasons ?? []).find((r) => codes.includes(r.code)) : undefined;

/**
 * What a release waits for: an unaltered picture, the face shown, the thickness, the spans and none that the picture contradicts, a caliper that closes to zero, and for every blank that is laid two checks in
 * different directions that agree; and no reading that contradicts. Everything else is a doubt or a note (standing.ts).
 */
export function demandsOf(job: Job, results: Results): readonly Demand[] {
  const demands: Demand[] = [];
  const add = (
    key: string,
    step: Step,
    settled: boolean,
    words: string,
    act = '',
    contradicts = false,
  ): void =>
    void demands.push({ key, step, settled, words, contradicts, ...(act !== '' && { act }) });

  add(
    'face',
    'outline',
    job.face !== null,
    job.face === null
      ? 'Which face the picture shows has not been answered.'
      : job.face === 'print'
        ? 'The picture shows the face to print.'
        : 'The picture shows the back; the outline is mirrored.',
    'Say which face the picture shows',
  );
  if (job.lost && job.lost.length > 0)
    add(
      'lost',
      'release',
      false,
      reason('job-entries-lost', { what: job.lost.join(', ') }).message,
      'Look through every step: entries were lost',
    );
  const thick = Object.values(job.thicknessMm).map((mm) => `${mm} mm`);
  add(
    'thickness',
    'outline',
    hasThickness(job),
    hasThickness(job)
      ? `Thickness entered: ${thick.join(', ')}.`
      : 'The thickness has not been entered.',
    'Say how thick the blank is',
  );
  const printed = job.sheet.by === 'strip' ? 'strip' : 'sheet';
  const unread = (['x', 'y', 'd'] as const).filter((id) => job.sheet.spansMm[id] === undefined);
  const profiled = job.scanner !== null && job.scanner !== 'none';
  if (isBare(job))
    add(
      'spans',
      'sheet',
      profiled,
      profiled
        ? 'The scale comes from the profile of the scanner, made from a measured sheet.'
        : job.dpi !== null
          ? `The scale comes from ${job.dpi} dots per inch alone, which nobody has measured.`
          : 'Nothing tells the scale of the scan yet.',
      'Scan a measured sheet once, for a profile of the scanner',
    );
  else
    add(
      'spans',
      'sheet',
      unread.length === 0,
      unread.length === 0
        ? `Three spans of the ${printed} read.`
        : `${count(unread.length, 'span')} of the ${printed} not read.`,
      `Read the spans of the printed ${printed}`,
    );
  const checks: Checks = results.checks?.ok ? results.checks.value : NONE;
  const { zero } = job;
  const closes = zero !== null && Math.abs(zero.readMm) <= ZERO_MM + 1e-9;
  // A rule or a gauge has no jaws to close; spans and thickness are covered by what is entered for their uncertainty.
  const withCaliper = job.readings.length === 0 || job.readings.some((r) => r.with === 'caliper');
  if (withCaliper || (zero !== null && !closes))
    add(
      'zero',
      'check',
      closes,
      zero === null
        ? 'The caliper has not been closed to see whether it reads zero.'
        : closes
          ? `The caliper reads ${zero.readMm.toFixed(2)} mm closed (${zero.on}).`
          : `The caliper reads ${zero.readMm.toFixed(2)} mm closed: set it to zero and read everything again.`,
      zero === null
        ? 'Close the caliper on nothing: does it read zero?'
        : 'Set the caliper to zero and read everything again',
      zero !== null && !closes,
    );
  const changed = saidOfView(results, ALTERED);
  if (changed) add('altered', 'picture', false, changed.message, firstAct(changed.remedy), true);
  const span = saidOfView(results, SPANS);
  if (span) add('span', 'sheet', false, span.message, firstAct(span.remedy), true);
  const { improved } = results;
  if (improved && !improved.ok) {
    const { message, remedy } = improved.reason;
    add('correction', 'check', false, message, firstAct(remedy), true);
  }
  const laid = laidBlanks(job, results);
  const outlines = results.trace?.ok ? results.trace.value.outlines : [];
  for (const blank of laid) {
    const { lengthMm, U } = [
      ...(results.kind?.ok ? [results.kind.value.envelope] : []),
      ...outlines,
    ]
      .filter((o) => o.blank === blank && o.byHand && o.byHand.length > 0)
      .map(handMade)
      .reduce((a, b) => (b.lengthMm > a.lengthMm ? b : a), { lengthMm: 0, U: 0 });
    if (lengthMm > 0)
      add(
        `hand ${blank}`,
        'outline',
        true,
        `${lengthMm.toFixed(1)} mm of the edge${laid.length > 1 ? ` of blank ${blank}` : ''} were made by hand; there U is ${U.toFixed(2)} mm.`,
      );
  }
  for (const blank of laid.length > 0 ? laid : [1]) {
    const of = laid.length > 1 ? ` of blank ${blank}` : '';
    const agree = directionsChecked(checks, blank);
    const read = checks.checked.some((c) => c.reading.blank === blank);
    add(
      `checks ${blank}`,
      'check',
      agree >= 2,
      agree >= 2
        ? `Checks${of} agree in ${count(agree, 'direction')}.`
        : `${read ? 'Fewer than two' : 'No'} checks${of} agree in different directions${read ? '' : ': not checked'}.`,
      improved?.ok
        ? 'Read two other places with calipers, in different directions'
        : 'Read the blank with calipers, both ways',
    );
    for (const { reading, dimension, judgement } of checks.checked) {
      if (reading.blank !== blank || judgement.verdict !== 'contradicts') continue;
      add(
        `contradiction ${blank} ${JSON.stringify(reading.feature)}`,
        'check',
        false,
        `The ${featureName(reading.feature, dimension.kind)}${of} that you read contradicts the outline.`,
        `Read the ${featureName(reading.feature, dimension.kind)} again at the drawn jaws`,
        true,
      );
    }
  }
  return demands;
}

/** The digests of all pictures of the job, whichever of them is looked at; of one picture its digest. */
const picturesOf = ({ picture, more }: Job): string =>
  [...(picture ? [picture] : []), ...more]
    .map((p) => p.digest)
    .sort()
    .join(' ');

/** Whether the release stands open. An override holds for the pictures and the demands that it was given for. */
export function gateOf(job: Job, results: Results): Gate {
  const demands = demandsOf(job, results);
  const { override } = job;
  const inForce = override !== null && override.picture === picturesOf(job);
  const open = demands.filter((d) => !d.settled);
  const passedOver = open.filter((d) => inForce && override.over.includes(d.key));
  return { demands, passedOver, shutBy: open.filter((d) => !passedOver.includes(d)) };
}

/** The override that lets the job out as it stands now. */
export const overrideFor = (job: Job, results: Results, reason: string, by: string): Override => ({
  reason,
  by,
  over: demandsOf(job, results)
    .filter((d) => !d.settled)
    .map((d) => d.key),
  picture: picturesOf(job),
});

import type { Reason } from '../base/reason.ts';
import { unevenPieces, type Checks } from '../check/checked.ts';
import { featureName } from '../check/words.ts';
import { demandsOf, directionsChecked, firstAct, gateOf, laidBlanks, seesShear } from './gate.ts';
import { growthU } from '../sheet/growth.ts';
import type { FoundMarks } from '../view/view.ts';
import type { Board } from './boards.ts';
import { canTrace, hasThickness, isBare, isScanned, type Job } from './job.ts';
import { anotherSheet, anotherWay } from './paper.ts';
import { type PictureInfo, type Results } from './run.ts';
import { outlinesOf, seatOutline } from './seats.ts';
import type { AfterResults } from './after.ts';
import { STEPS, type Step } from './steps.ts';

/** settled: proven or done. open: something is still to do or in doubt. contradicts: two sources disagree, or it was refused. */
export type Condition = 'settled' | 'open' | 'contradicts' | 'not yet';

export interface Stand {
  readonly condition: Condition;
  /** The state in a word or two, as it stands below the step's name. */
  readonly word: string;
}

/**
 * How much a point weighs. refused: nothing can be made from it. shuts: no file is made until it is settled or passed
 * over with a reason and a name (gate.ts). doubt: said on screen and on the job sheet, shuts nothing. What is merely a
 * note is no open point.
 */
export type Weight = 'refused' | 'shuts' | 'doubt';

/** One thing that is still open, and the step where it is settled. */
export interface OpenPoint {
  readonly step: Step;
  readonly words: string;
  /** What settles it, in a few words; absent: its words say so. */
  readonly act?: string;
  readonly weight: Weight;
  /** Refused or contradicting, as against unproven. */
  readonly bad: boolean;
}

const stand = (condition: Condition, word: string): Stand => ({ condition, word });
const NOT_YET = stand('not yet', 'not yet');
const count = (n: number, one: string, many = `${one}s`): string => `${n} ${n === 1 ? one : many}`;

/** Everything that is still open in a job, the most harmful first; of equal weight in the order of the steps. */
export function openPoints(job: Job, results: Results): readonly OpenPoint[] {
  const points: OpenPoint[] = [];
  const add = (
    step: Step,
    words: string,
    weight: Weight,
    act?: string,
    bad = weight === 'refused',
  ): void => void points.push({ step, words, weight, bad, ...(act && { act }) });
  const said = new Set<string>();
  const from = (step: Step, reasons: readonly Reason[]): void => {
    for (const r of reasons) {
      if (r.level === 'note' || said.has(r.message)) continue;
      said.add(r.message);
      add(step, r.message, r.level === 'refuse' ? 'refused' : 'doubt', firstAct(r.remedy));
    }
  };
  const { info, found, look, view, trace, checks, kind, pockets, plan, release } = results;
  if (info)
    from(
      'picture',
      info.ok ? [...(info.value.meta.reasons ?? []), ...wayOf(job, info.value)] : [info.reason],
    );
  if (found)
    from(
      'picture',
      found.ok ? [...found.value.reasons, ...sheetReasons(job, found.value)] : [found.reason],
    );
  // What it says of the camera and the file is replaced by what the whole measurement says of them.
  if (look)
    from(
      'picture',
      look.ok ? [...(view ? [] : look.value.reasons), ...look.value.light] : [look.reason],
    );
  if (view) from('picture', view.ok ? view.value.reasons : [view.reason]);
  if (trace) from('outline', trace.ok ? trace.value.reasons : [trace.reason]);
  if (kind) from('outline', kind.ok ? kind.value.reasons : [kind.reason]);
  if (checks) from('check', checks.ok ? checks.value.lost.map((l) => l.reason) : [checks.reason]);
  if (pockets)
    from('pocket', pockets.ok ? pockets.value.flatMap((b) => b.pocket.reasons) : [pockets.reason]);
  if (plan) from('bed', plan.ok ? plan.value.reasons : [plan.reason]);
  // That a refused plan shuts the release has been said by the plan.
  if (release && !release.ok && release.reason.code !== 'release-shut')
    from('release', [release.reason]);

  if (!job.picture) add('picture', 'No picture has been taken.', 'shuts');
  const ahead = notComputed(job, results);
  if (ahead)
    add(
      ahead,
      'What follows from the entries has not been computed yet.',
      'shuts',
      'Wait until it is computed',
    );
  for (const { key, step, settled, words, act, contradicts } of demandsOf(job, results)) {
    // Before a picture has been read there is nothing yet to ask a thickness of, or to hold readings against.
    const tooEarly =
      key === 'thickness' ? !found?.ok : step === 'check' && !!ahead && job.readings.length > 0;
    if (!settled && !tooEarly) add(step, words, 'shuts', act, contradicts);
  }
  if (
    !isScanned(job) &&
    job.sheet.riderSizeMm !== 0 &&
    job.sheet.riderSpansMm[job.sheet.riderSizeMm] === undefined
  )
    add('sheet', 'The rider has not been measured.', 'doubt', "Measure the rider's frame line");
  if (sheetUnsaid(job) && found?.ok)
    add(
      'sheet',
      `Nobody has said where the ${job.sheet.by === 'strip' ? 'strip' : 'sheet'} was since its spans were read; paper moves by 0.1 to 0.4 % with damp.`,
      'doubt',
      'Say when the spans were read',
    );
  else if (found?.ok && sheetMoved(job))
    add(
      'sheet',
      'The spans were not read today, and the sheet may have moved since: U is wider for it.',
      'doubt',
      'Read one span of the sheet again',
    );
  if (checks?.ok) {
    for (const p of checkPoints(job, results, checks.value)) add('check', p.words, 'doubt', p.act);
    if (job.oneKind) from('check', unevenPieces(checks.value.checked));
  }
  const rank = ({ bad, weight }: OpenPoint): number => (bad ? 0 : weight === 'shuts' ? 1 : 2);
  return points.sort((a, b) => rank(a) - rank(b) || STEPS.indexOf(a.step) - STEPS.indexOf(b.step));
}

const spansRead = (job: Job): number => (isBare(job) ? 0 : Object.keys(job.sheet.spansMm).length);

/** Spans were entered, and nobody has said when they were read. */
export const sheetUnsaid = (job: Job): boolean =>
  spansRead(job) > 0 && job.sheet.kept === undefined;

/** The sheet may have grown or shrunk since its spans were read. */
export const sheetMoved = (job: Job): boolean =>
  spansRead(job) > 0 && growthU(job.sheet.kept, job.sheet.carrier) > 0;

/** What readings leave open although they agree: a skew that none of them sees, a tolerance that is broken. */
function checkPoints(
  job: Job,
  results: Results,
  checks: Checks,
): { readonly words: string; readonly act: string }[] {
  const laid = laidBlanks(job, results);
  const points: { words: string; act: string }[] = [];
  for (const blank of laid) {
    const of = laid.length > 1 ? ` of blank ${blank}` : '';
    if (directionsChecked(checks, blank) >= 2 && !seesShear(checks, blank))
      points.push({
        words: `What was read${of} lies along the sheet: it does not show whether the outline is skewed.`,
        act: `Read the blank${of} across a corner as well`,
      });
    for (const { reading, dimension, judgement, fit } of checks.checked) {
      if (reading.blank !== blank || job.tolerance === undefined) continue;
      if (fit?.decision !== 'proven not' || judgement.verdict === 'contradicts') continue;
      const name = featureName(reading.feature, dimension.kind);
      points.push({
        words: `The ${name}${of} breaks the tolerance asked for.`,
        act: `Look at the ${name}${of}: it breaks its tolerance`,
      });
    }
  }
  return points;
}

/** What the marks that were found say about the sheet that was chosen; nothing where none were looked for. */
export const sheetReasons = (job: Job, { sheet, expected }: FoundMarks): readonly Reason[] =>
  expected === 0 ? [] : anotherSheet(job.sheet, sheet);

/** Whether the picture looks as if it was taken as the job says. */
export const wayOf = (job: Job, { meta, widthPx, heightPx }: PictureInfo): readonly Reason[] =>
  anotherWay(job.sheet, meta, Math.max(widthPx, heightPx));

/** The first step that the entries suffice for and that has no result yet: at work, stopped, or ended by a fault. */
function notComputed(job: Job, results: Results): Step | undefined {
  const { info, found, view, trace, kind, pockets, plan } = results;
  if (!job.picture) return undefined;
  const way: readonly (readonly [Step, { readonly ok: boolean } | undefined])[] = [
    ['picture', info],
    ['picture', found],
    ...(canTrace(job)
      ? ([
          ['picture', view],
          ['outline', trace],
          ...(job.oneKind ? ([['outline', kind]] as const) : []),
          ['pocket', pockets],
          ['bed', plan],
        ] as const)
      : []),
  ];
  // A step that was refused says so itself, and nothing after it is due.
  const next = way.find(([, result]) => !result?.ok);
  return next && !next[1] ? next[0] : undefined;
}

/** How every step stands. */
export function standings(
  job: Job,
  results: Results,
  blank: number,
): Readonly<Record<Step, Stand>> {
  const points = openPoints(job, results);
  const { shutBy, passedOver } = gateOf(job, results);
  const of = (step: Step, settled: Stand, reached: boolean): Stand => {
    const mine = points.filter((p) => p.step === step);
    if (mine.some((p) => p.bad))
      return stand(
        'contradicts',
        step === 'check' ? `${mine.filter((p) => p.bad).length} contradicts` : 'to settle',
      );
    if (!reached) return NOT_YET;
    return mine.length > 0 ? stand('open', `${mine.length} to settle`) : settled;
  };
  const { found, trace, checks, pockets, plan, release } = results;
  const spans = (['x', 'y', 'd'] as const).filter(
    (id) => job.sheet.spansMm[id] !== undefined,
  ).length;
  const made = (checks?.ok ? checks.value.checked : []).filter((c) => c.reading.blank === blank);
  const agree = made.filter((c) => c.judgement.verdict === 'agrees').length;
  const little = made.filter((c) => c.judgement.verdict === 'says little' && !c.used).length;
  const sheet = of('sheet', stand('settled', 'measured'), true);
  const check = of('check', stand('settled', `${agree} of ${made.length} agree`), !!checks?.ok);
  return {
    jobs: stand('settled', ''),
    sheet:
      sheet.condition === 'open' && spans < 3 && !isBare(job)
        ? stand('open', `${spans} of 3 read`)
        : sheet,
    picture: of('picture', stand('settled', isBare(job) ? 'read' : 'marks found'), !!found?.ok),
    outline: of(
      'outline',
      stand('settled', trace?.ok ? count(blanks(results).length, 'blank') : ''),
      !!found?.ok,
    ),
    check:
      check.condition === 'settled' && little > 0
        ? stand('open', `${little} says little`)
        : check.condition === 'open'
          ? stand(
              'open',
              made.length === 0 ? 'not checked' : `${agree} of ${Math.max(2, made.length)} agree`,
            )
          : check,
    pocket: of('pocket', stand('settled', 'ready'), !!pockets?.ok),
    bed: of(
      'bed',
      stand('settled', plan?.ok ? `${plan.value.pockets.length} placed` : ''),
      !!plan?.ok,
    ),
    release:
      release?.ok === false
        ? stand('contradicts', 'to settle')
        : plan?.ok && plan.value.reasons.some((r) => r.level === 'refuse')
          ? stand('contradicts', 'shut')
          : !plan?.ok || shutBy.length > 0
            ? stand('not yet', 'shut')
            : passedOver.length > 0
              ? stand('open', 'open all the same')
              : points.length > 0
                ? stand('open', count(points.length, 'doubt'))
                : stand('settled', 'ready'),
    board: boardStand(job),
  };
}

/** How the board that is looked at stands; without results, as the job alone says. */
export function boardStand({ boards = [] }: Job, board?: Board, so: AfterResults = {}): Stand {
  if (boards.length === 0) return NOT_YET;
  const { found, traced, board: report } = so;
  if ([found, traced, report].some((r) => r?.ok === false))
    return stand('contradicts', 'to settle');
  if (!report?.ok)
    return stand('open', board?.picture ? 'pictured' : count(boards.length, 'board'));
  const { board: measured, tried } = report.value;
  const answers = Object.values(tried).map((t) => t.tried.answer);
  const tight = answers.filter((a) => a !== 'proven' && a !== 'not proven').length;
  const open = answers.filter((a) => a === 'not proven').length + measured.missing.length;
  if (tight > 0) return stand('contradicts', `${tight} too tight`);
  if (open > 0) return stand('open', `${open} not proven`);
  return stand('settled', `${measured.pockets.length} measured`);
}

/** Numbers of the blanks found. */
export const blanks = (results: Results): readonly number[] =>
  results.trace?.ok ? [...new Set(results.trace.value.outlines.map((o) => o.blank))] : [];

/** The line of trust. U is expanded (k = 2), mm. */
export interface Trust {
  readonly widthMm?: number;
  readonly heightMm?: number;
  readonly outlineU?: number;
  readonly scaleFrom: string;
  readonly agree: number;
  readonly made: number;
  readonly open: readonly OpenPoint[];
  readonly help: { readonly step: Step; readonly words: string; readonly bad: boolean };
}

export function trust(job: Job, results: Results, blank: number): Trust {
  const open = openPoints(job, results);
  const { trace, checks, view, guess, found } = results;
  const outlines = trace?.ok ? outlinesOf(trace.value, blank) : [];
  const seat = seatOutline(outlines);
  const spans = Object.keys(job.sheet.spansMm).length;
  const riders = (view?.ok ? view.value.riders : guess?.ok ? guess.value.riders : []).length;
  const scaleFrom = [
    isBare(job)
      ? job.scanner !== null && job.scanner !== 'none'
        ? 'profile of the scanner'
        : job.dpi !== null
          ? `${job.dpi} dots per inch, as stated`
          : 'nothing yet'
      : spans > 0
        ? `${spans} of 3 spans`
        : `${job.sheet.by === 'strip' ? 'strip' : 'sheet'} as designed`,
    ...(!isScanned(job) && job.lens !== null && job.lens !== 'none' ? ['lens profile'] : []),
    ...(riders > 0 || (found?.ok && found.value.riders.length > 0) ? ['rider'] : []),
  ].join(', ');
  const made = (checks?.ok ? checks.value.checked : []).filter((c) => c.reading.blank === blank);
  const main = checks?.ok ? checks.value.sizes[blank] : undefined;
  return {
    ...(main ? { widthMm: main.width.valueMm, heightMm: main.height.valueMm } : {}),
    ...(seat ? { outlineU: 2 * typicalU(seat.u) } : {}),
    scaleFrom,
    agree: made.filter((c) => c.judgement.verdict === 'agrees').length,
    made: made.length,
    open,
    help: wouldHelpMost(job, results, open),
  };
}

/** The standard uncertainty that 95 % of the outline's vertices do not exceed. */
export function typicalU(u: readonly Float64Array[]): number {
  const all = u.flatMap((ring) => [...ring]).sort((a, b) => a - b);
  return all[Math.min(all.length - 1, Math.floor(0.95 * all.length))] ?? 0;
}

function wouldHelpMost(job: Job, results: Results, open: readonly OpenPoint[]): Trust['help'] {
  const asked = ({ step, words, act, bad }: OpenPoint): Trust['help'] => ({
    step,
    words: act ?? words,
    bad,
  });
  const bad = open.find((p) => p.bad);
  if (bad) return asked(bad);
  if (!job.picture)
    return {
      step: 'picture',
      words: isScanned(job)
        ? 'Scan the blank, its face on the glass'
        : 'Take a picture of the blank on its sheet',
      bad: false,
    };
  if (results.found?.ok && !hasThickness(job))
    return { step: 'outline', words: 'Say how thick the blank is', bad: false };
  if (job.face === null)
    return { step: 'outline', words: 'Say which face the picture shows', bad: false };
  if (!isBare(job) && Object.keys(job.sheet.spansMm).length < 3)
    return {
      step: 'sheet',
      words: `Read the spans of the printed ${job.sheet.by === 'strip' ? 'strip' : 'sheet'}`,
      bad: false,
    };
  return open[0]
    ? asked(open[0])
    : { step: 'release', words: 'Nothing is open: take the files', bad: false };
}

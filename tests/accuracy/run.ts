/**
 * npm run accuracy [-- --only PATTERN] [--report [FILE]]: every picture of the fixtures and of the generated cases through the same core as
 * the command line, held against the truth. Ends with status 1 when a wrong outline was not flagged.
 * With --report the five worst are pictured in one HTML file, accuracy.html where no other is named.
 * With --draw [--only PATTERN]: renders the scenes drawn by lot that are not there yet (draw.ts).
 * With --optics [--effect PATTERN]: what a phone does to its pictures, rendered with and without (optics.ts).
 * With --long [--cases N] [--row ID]: cases by the hundred, simulated at the level of marks and edge points (long.ts).
 */
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { CASES, DRAWN, material, type Case } from './cases.ts';
import { draw } from './draw.ts';
import { longTable } from './long.ts';
import { opticsTable } from './optics.ts';
import { measure, type Measurement } from './measure.ts';
import { CACHE } from './render.ts';
import { reportHtml, type Pictured } from './report.ts';
import { pairUp, score, type Score, type True } from './score.ts';
import { columns, quadraticMean, quantile, ROWS } from './table.ts';
import type { Truth } from './truth.ts';

/** What came of one blank of one picture. */
interface Result {
  readonly blank: string;
  readonly thicknessMm: number;
  /** Absent where the blank was not found. */
  readonly score?: Score;
}

interface Report {
  readonly case: Case;
  readonly measurement: Measurement;
  readonly results: readonly Result[];
  /** What is wrong and not flagged, and what else went otherwise than it must. */
  readonly faults: readonly string[];
}

const THIN_MM = 1;
const option = (name: string): string | undefined =>
  process.argv.includes(name) ? process.argv[process.argv.indexOf(name) + 1] : undefined;
const only = option('--only');
if (process.argv.includes('--draw')) {
  await draw(only);
  process.exit();
}
if (process.argv.includes('--long')) {
  const faults = longTable(Number(option('--cases') ?? 300), option('--row'));
  for (const fault of faults) console.log(fault);
  process.exit(faults.length ? 1 : 0);
}
if (process.argv.includes('--optics')) {
  const faults = await opticsTable(option('--effect'));
  for (const fault of faults) console.log(fault);
  process.exit(faults.length ? 1 : 0);
}

type Hidden = True['hidden'];

/** What none of several viewpoints can see: the common parts of their hidden stretches. */
const hiddenInAll = ([first, ...others]: readonly Hidden[]): Hidden =>
  others.reduce<Hidden>(
    (known, other) =>
      known.flatMap((a) =>
        other.flatMap((b) => {
          const [from_mm, to_mm] = [Math.max(a.from_mm, b.from_mm), Math.min(a.to_mm, b.to_mm)];
          return a.ring === b.ring && from_mm < to_mm ? [{ ring: a.ring, from_mm, to_mm }] : [];
        }),
      ),
    first!,
  );

function scored(measurement: Measurement, truth: Truth, views: number): Result[] {
  const real = truth.blanks.flatMap((b, i) =>
    b.role === 'blank'
      ? [
          {
            name: b.name,
            thicknessMm: b.thickness,
            rings: b.widest,
            hidden: hiddenInAll(truth.views.slice(0, views).map(({ hidden }) => hidden[i]!)),
          },
        ]
      : [],
  );
  const pairs = pairUp(measurement.outlines, real);
  return real.map((blank, i) => ({
    blank: blank.name,
    thicknessMm: blank.thicknessMm,
    ...(pairs[i] === undefined
      ? {}
      : { score: score(measurement.outlines[pairs[i]]!, blank satisfies True) }),
  }));
}

/** The blanks of a result that belong to the row: a thin row takes the thin ones only. */
const ofRow = (one: Case, results: readonly Result[]): readonly Result[] =>
  one.row === 'rigid-thin' || one.row === 'bowed'
    ? results.filter((r) => r.thicknessMm <= THIN_MM)
    : results;

function judge(one: Case, m: Measurement, results: readonly Result[]): string[] {
  const faults: string[] = [];
  const flagged = m.verdict !== 'ok';
  if (one.flag && !flagged) faults.push(`WRONG, NOT FLAGGED: ${one.flag}`);
  if (flagged) return faults;
  const row = ROWS.find((r) => r.id !== null && r.id === one.row);
  for (const { blank, score: s, thicknessMm } of results) {
    if (!s) {
      faults.push(`WRONG, NOT FLAGGED: ${blank} was not found`);
      continue;
    }
    if (s.worstInU > 3)
      faults.push(
        `WRONG, NOT FLAGGED: ${blank} is ${s.worstInU.toFixed(1)} U off at ${s.worstAt.map((v) => v.toFixed(1)).join(', ')}`,
      );
    if (s.holes[0] !== s.holes[1])
      faults.push(`WRONG, NOT FLAGGED: ${blank} has ${s.holes[0]} holes of ${s.holes[1]}`);
    const inRow = row && ofRow(one, [{ blank, thicknessMm }]).length > 0;
    const most = inRow ? 2 * row.goal.maxMm : one.limits?.maxMm;
    if (most !== undefined && s.maxMm > most)
      faults.push(`WRONG, NOT FLAGGED: ${blank} ${mm(s.maxMm)} mm off, more than ${mm(most)}`);
  }
  return faults;
}

const mm = (v: number): string => v.toFixed(3);
const percent = (v: number): string => `${(100 * v).toFixed(0)} %`;

function row(reports: readonly Report[], r: (typeof ROWS)[number]): string[] {
  const goals = [
    `${mm(r.must.maxMm)} / ${mm(r.must.rmsMm)}`,
    `${mm(r.goal.maxMm)} / ${mm(r.goal.rmsMm)}`,
  ];
  if (r.id === null) return [r.workflow, '-', 'not built yet', '', '', ...goals, '', '', ''];
  const mine = reports.filter((x) => x.case.row === r.id);
  const pictures = mine.flatMap((x) => {
    const scores = ofRow(x.case, x.results).flatMap((y) => (y.score ? [y.score] : []));
    return scores.length ? [scores] : [];
  });
  if (!pictures.length)
    return [r.workflow, `0/${mine.length}`, 'no outline', '', '', ...goals, '', '', ''];
  const all = pictures.flat();
  const largest = pictures.map((scores) => Math.max(...scores.map((s) => s.maxMm)));
  const max = quantile(largest, 0.95);
  const rms = quadraticMean(all.map((s) => s.rmsMm));
  const meets = (factor: number, { maxMm, rmsMm }: typeof r.must): boolean =>
    max <= factor * maxMm && rms <= factor * rmsMm;
  const within = meets(1, r.goal)
    ? 'goal reached'
    : meets(1, r.must)
      ? 'reached'
      : meets(2, r.must)
        ? 'within twice what it must reach'
        : 'NOT REACHED';
  return [
    r.workflow,
    `${pictures.length}/${mine.length}`,
    mm(max),
    mm(Math.max(...largest)),
    mm(rms),
    ...goals,
    percent(all.reduce((sum, s) => sum + s.inside[1], 0) / all.length),
    `${all.filter((s) => s.wholeHolds).length}/${all.length}`,
    within,
  ];
}

function lines(report: Report): string[][] {
  const { case: one, measurement: m, results } = report;
  const codes = m.reasons.map((r) => r.code).join(' ');
  return results.map((r, i) => {
    const s = r.score;
    return [
      i === 0 ? `${one.name}` : '',
      r.blank,
      String(r.thicknessMm),
      i === 0 ? m.verdict : '',
      ...(s
        ? [
            mm(s.maxMm),
            mm(s.rmsMm),
            (s.meanSignedMm >= 0 ? '+' : '') + mm(s.meanSignedMm),
            mm(2 * s.uMeanMm),
            percent(s.inside[0]),
            percent(s.inside[1]),
            s.wholeHolds ? 'yes' : 'no',
            `${s.holes[0]}/${s.holes[1]}`,
            s.hiddenMm > 0 ? `${s.hiddenMm.toFixed(0)} mm ${percent(s.hiddenRecall)}` : '-',
            percent(s.visibleMarked),
          ]
        : ['-', '-', '-', '-', '-', '-', '-', '-', '-', '-']),
      i === 0 ? `${(m.ms / 1000).toFixed(1)} s` : '',
      i === 0 ? `  ${codes}` : '',
    ];
  });
}

const WORST = 5;

/** Without the picture, of which there are too many to keep. */
const unseen = ({ verdict, reasons, outlines, stages, ms }: Measurement): Measurement => ({
  verdict,
  reasons,
  outlines,
  stages,
  ms,
});

/** The blanks that miss most of what their row aims at, what is wrong and not flagged before all else, measured once more to be pictured. */
async function worst(reports: readonly Report[]): Promise<Pictured[]> {
  const goalOf = ({ row: id, limits }: Case): number | undefined =>
    ROWS.find((r) => r.id !== null && r.id === id)?.goal.maxMm ?? limits?.maxMm;
  const ranked = reports
    .filter(({ case: one }) => (one.views ?? 1) === 1)
    .flatMap((report) =>
      report.results.flatMap(({ blank, score: s }) => {
        if (!s) return [];
        const share = s.maxMm / (goalOf(report.case) ?? 0.1);
        const faults = report.faults.filter((f) => f.includes(`: ${blank} `));
        return [{ report, blank, faults, share }];
      }),
    )
    .sort((a, b) => b.faults.length - a.faults.length || b.share - a.share)
    .slice(0, WORST);
  const out: Pictured[] = [];
  for (const { report, blank, faults } of ranked) {
    const one = report.case;
    const picture = material(one);
    if ('missing' in picture) continue;
    const m = await measure(picture.bytes, picture.name, one, undefined, picture);
    if (!m.seen) continue;
    const real = picture.truth.blanks.flatMap((b, i) =>
      b.role === 'blank'
        ? [{ name: b.name, rings: b.widest, hidden: picture.truth.views[0]!.hidden[i]! }]
        : [],
    );
    const index = real.findIndex((b) => b.name === blank);
    const measured = m.outlines[pairUp(m.outlines, real)[index] ?? -1];
    if (!measured) continue;
    const goalMm = goalOf(one);
    out.push({
      name: one.name,
      blank,
      verdict: m.verdict,
      reasons: m.reasons.map((r) => r.code),
      faults,
      score: score(measured, real[index]!),
      ...(goalMm !== undefined && { goalMm }),
      measured,
      truth: real[index]!.rings,
      heightMm: measured.heightMm ?? 0,
      ...m.seen,
    });
  }
  return out;
}

const reports: Report[] = [];
const missing = new Map<string, string[]>();
for (const one of [...CASES, ...DRAWN]) {
  if (only && !new RegExp(only).test(one.name)) continue;
  const picture = material(one);
  if ('missing' in picture) {
    missing.set(picture.missing, [...(missing.get(picture.missing) ?? []), one.name]);
    continue;
  }
  const measurement = unseen(await measure(picture.bytes, picture.name, one, undefined, picture));
  const results = scored(measurement, picture.truth, one.views ?? 1);
  const report = { case: one, measurement, results, faults: judge(one, measurement, results) };
  reports.push(report);
  console.error(
    `${one.name}: ${measurement.verdict}, ${(measurement.ms / 1000).toFixed(1)} s${report.faults.map((f) => `\n  ${f}`).join('')}`,
  );
}

const summary = `
Rendered pictures: outlines against the truth, mm, over what the picture could show.
max: the 95 % quantile over the pictures of a row of each picture's largest deviation after the best rigid motion
(no scaling), the worst picture beside it. In U: share of the outline's length within U (k = 2). Whole: outlines whose
wider band holds everywhere, of all.

${columns([
  ['workflow', 'pictures', 'max', 'worst', 'RMS', 'must reach', 'goal', 'in U', 'whole', ''],
  ...ROWS.map((r) => row(reports, r)),
])}

By picture (hidden: length that the picture cannot show, share of it marked; wrongly: visible length marked as hidden)

${columns([
  'picture,blank,h,verdict,max,RMS,mean,U,in u,in U,whole,holes,hidden,wrongly,time,  reasons'.split(
    ',',
  ),
  ...reports.flatMap(lines),
])}
`;
console.log(summary);

const everything = reports.flatMap((r) => r.results.flatMap((x) => (x.score ? [x.score] : [])));
if (everything.length) {
  const hidden = everything.reduce((sum, s) => sum + s.hiddenMm, 0);
  const marked = everything.reduce((sum, s) => sum + s.hiddenMm * s.hiddenRecall, 0);
  const fine = reports
    .filter((r) => r.measurement.verdict === 'ok')
    .flatMap((r) => r.results.flatMap((x) => (x.score ? [x.score] : [])));
  console.log(
    `All ${everything.length} outlines: ${percent(everything.reduce((t, s) => t + s.inside[1], 0) / everything.length)} of the length within U, ` +
      `whole band holds for ${everything.filter((s) => s.wholeHolds).length}, of the ${fine.length} in no doubt for ${fine.filter((s) => s.wholeHolds).length}; ` +
      `${hidden.toFixed(0)} mm hidden, ${percent(hidden ? marked / hidden : 1)} of it marked; ` +
      `${percent(everything.reduce((t, s) => t + s.visibleMarked, 0) / everything.length)} of the visible length marked wrongly.`,
  );
}
for (const [why, names] of missing)
  console.log(`Left out because ${why}: ${names.length} generated pictures (${names.join(', ')}).`);

const faults = reports.flatMap((r) => r.faults.map((f) => `${r.case.name}: ${f}`));
for (const fault of faults) console.log(fault);
if (!only) {
  mkdirSync(CACHE, { recursive: true });
  writeFileSync(
    join(CACHE, 'results.json'),
    JSON.stringify(
      reports.map(({ case: one, measurement: m, results }) => ({
        name: one.name,
        row: one.row,
        verdict: m.verdict,
        reasons: m.reasons.map((r) => r.code),
        ms: Math.round(m.ms),
        results,
      })),
      null,
      1,
    ),
  );
}
const report = process.argv.indexOf('--report');
if (report >= 0) {
  const named = process.argv[report + 1];
  const file = named === undefined || named.startsWith('--') ? 'accuracy.html' : named;
  writeFileSync(file, await reportHtml(await worst(reports), summary));
  console.log(`The worst ${WORST} are pictured in ${file}.`);
}
process.exitCode = faults.length ? 1 : 0;

/**
 * npm run bench: the time from a 12 MP file to its outlines, as a ratio to decoding the same file with sharp (colour,
 * one thread); with --adjust, the adjustment of eight photos; with --curves, the nodes of fitted curves (curves.ts); with --nest, blanks nested and their boxes (nest.ts); with --bed, the page's work for a full bed (bed.ts); with --page, paint, blocking, panning and memory of the page (page.ts). Cold is the first picture of a new process, warm the median of five. Appends to .cache/bench.csv.
 */
import { execFileSync, spawnSync } from 'node:child_process';
import { appendFileSync, existsSync, mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import sharp from 'sharp';
import { CASES, material, type Case, type Material } from '../accuracy/cases.ts';
import { loadTimed, measure, STAGES, type Measurement } from '../accuracy/measure.ts';
import { ROOT } from '../accuracy/render.ts';
import { pairUp, score } from '../accuracy/score.ts';
import { columns, quantile } from '../accuracy/table.ts';
import { adjustMs } from './adjust.ts';
import { bedTable } from './bed.ts';
import { curvesTable } from './curves.ts';
import { nestTable } from './nest.ts';
import { pageTable } from './page.ts';
import type { Truth } from '../accuracy/truth.ts';

const NAMES = ['o01-card', 'o03-opener-rider'];
const ROUNDS = 5;

/** One measured picture, as a new process reports it. */
interface Cold {
  readonly loadMs: number;
  readonly stages: Measurement['stages'];
  readonly ms: number;
}

function caseNamed(name: string): Case {
  const one = CASES.find((c) => c.name === name);
  if (!one) throw new Error(`there is no case "${name}"`);
  return one;
}

function ready(name: string): Material {
  const found = material(caseNamed(name));
  if ('missing' in found) throw new Error(`${name}: ${found.missing}`);
  return found;
}

async function decodeMs(bytes: Uint8Array): Promise<number> {
  const times: number[] = [];
  for (let k = 0; k <= ROUNDS; k++) {
    const start = performance.now();
    await sharp(bytes).raw().toBuffer();
    if (k > 0) times.push(performance.now() - start);
  }
  return quantile(times, 0.5);
}

/** The largest deviation over the blanks, mm; bought speed must not cost it. */
function largestMm(m: Measurement, truth: Truth): number {
  const real = truth.blanks.flatMap((b, i) =>
    b.role === 'blank' ? [{ rings: b.widest, hidden: truth.views[0]!.hidden[i]! }] : [],
  );
  const pairs = pairUp(m.outlines, real);
  return Math.max(
    ...real.map((r, i) => (pairs[i] === undefined ? NaN : score(m.outlines[pairs[i]]!, r).maxMm)),
  );
}

const whole = (v: number): string => v.toFixed(0);
const ratio = (ms: number, decode: number): string => `${(ms / decode).toFixed(1)}x`;

sharp.concurrency(1);
const at = process.argv.indexOf('--cold');
const curves = process.argv.indexOf('--curves');
const nested = process.argv.indexOf('--nest');
const paged = process.argv.indexOf('--page');
if (process.argv.includes('--adjust'))
  console.log(`adjusting 8 photos of 400 marks: ${whole(adjustMs())} ms (at most 1000)`);
else if (curves > 0) await curvesTable(Number(process.argv[curves + 1] ?? 1) || 1);
else if (nested > 0) await nestTable(Number(process.argv[nested + 1] ?? 20) || 20);
else if (process.argv.includes('--bed')) await bedTable();
else if (paged > 0) await pageTable(process.argv[paged + 1]);
else if (at > 0) {
  const name = process.argv[at + 1]!;
  const picture = ready(name);
  const loadMs = loadTimed();
  const { stages, ms } = await measure(picture.bytes, picture.name, caseNamed(name));
  console.log(JSON.stringify({ loadMs, stages, ms } satisfies Cold));
} else {
  const commit = execFileSync('git', ['rev-parse', '--short', 'HEAD'], {
    cwd: ROOT,
    encoding: 'utf8',
  }).trim();
  const csv = join(ROOT, '.cache/bench.csv');
  mkdirSync(join(ROOT, '.cache'), { recursive: true });
  if (!existsSync(csv)) appendFileSync(csv, 'date,commit,case,median_ms,p95_ms,max_dev_mm\n');
  loadTimed();
  for (const name of NAMES) {
    const picture = ready(name);
    const cold = JSON.parse(
      spawnSync(
        process.execPath,
        [...process.execArgv, fileURLToPath(import.meta.url), '--cold', name],
        { encoding: 'utf8', stdio: ['ignore', 'pipe', 'inherit'] },
      ).stdout,
    ) as Cold;
    const decode = await decodeMs(picture.bytes);
    const runs: Measurement[] = [];
    for (let k = 0; k <= ROUNDS; k++) {
      const run = await measure(picture.bytes, picture.name, caseNamed(name));
      if (k > 0) runs.push(run);
    }
    const of = (pick: (m: Measurement) => number): number => quantile(runs.map(pick), 0.5);
    const warm = of((m) => m.ms);
    const decoded = warm - of((m) => m.stages.decode ?? 0);
    const maxMm = largestMm(runs[0]!, picture.truth);
    console.log(`\n${name}: decoding with sharp, colour, one thread: ${whole(decode)} ms\n`);
    console.log(
      columns([
        ['stage', 'cold, ms', 'warm, ms', 'ratio, warm'],
        ...STAGES.map((s) => [
          s,
          whole(cold.stages[s] ?? 0),
          whole(of((m) => m.stages[s] ?? 0)),
          ratio(
            of((m) => m.stages[s] ?? 0),
            decode,
          ),
        ]),
        [
          'file to outlines (at most 6x, goal 3x)',
          whole(cold.ms),
          whole(warm),
          ratio(warm, decode),
        ],
        [
          'picture to outlines (at most 4x, goal 1.5x)',
          whole(cold.ms - (cold.stages.decode ?? 0)),
          whole(decoded),
          ratio(decoded, decode),
        ],
        ['loading OpenCV, once', whole(cold.loadMs), '', ''],
      ]),
    );
    const p95 = quantile(
      runs.map((m) => m.ms),
      0.95,
    );
    appendFileSync(
      csv,
      [
        new Date().toISOString(),
        commit,
        name,
        warm.toFixed(0),
        p95.toFixed(0),
        maxMm.toFixed(4),
      ].join(',') + '\n',
    );
    console.log(`largest deviation ${maxMm.toFixed(3)} mm; appended to .cache/bench.csv`);
  }
}

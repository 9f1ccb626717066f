/*
 * `npm run faults [-- --long] [--count N] [--seed N] [--minutes N] [--afresh]`: faulty and good jobs at the level of marks and
 * edge points, and rendered pictures with wrong typed values. Prints what caught each fault and how often U held; ends with 1
 * if a fault slipped through.
 *
 * What was played is kept in .cache/faults, so that a long campaign can be played in parts: with --minutes it stops after that
 * many and goes on when it is started again. A change of what the campaign runs through, program or faults, begins anew.
 */
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { keptRecords } from '../support/kept.ts';
import { Random } from '../support/simulate.ts';
import { drawFault, FAULTS } from './faults.ts';
import { playRendered, RENDERED } from './rendered.ts';
import { play, type Fault } from './simulated-job.ts';
import { beyondWhatIsSaid } from './slip.ts';

const { values } = parseArgs({
  options: {
    long: { type: 'boolean', default: false },
    count: { type: 'string' },
    seed: { type: 'string', default: '1' },
    rendered: { type: 'string' },
    minutes: { type: 'string' },
    afresh: { type: 'boolean', default: false },
  },
});
const count = Number(values.count ?? (values.long ? 2000 : 200));
const rendered = Math.min(RENDERED, Number(values.rendered ?? (values.long ? 36 : 0)));
const first = Number(values.seed) * 100_000;
const began = Date.now();
const until = began + 60_000 * Number(values.minutes ?? Infinity);

/** One job that was played, as it is kept. */
interface Record {
  readonly set: 'faulty' | 'good' | 'rendered';
  readonly k: number;
  readonly rows: readonly string[];
  readonly words: string;
  readonly end: 'refused' | 'shut' | 'released';
  readonly by: readonly string[];
  readonly slipped: boolean;
  /** Released, and outside of the band that is to hold everywhere at once in 95 % of cases. */
  readonly beyondBand: boolean;
  readonly errors: readonly { readonly kind: string; readonly overU: number }[];
}

const { records, keep } = keptRecords<Record>(
  '.cache/faults',
  fileURLToPath(import.meta.url),
  (r) => `${r.set} ${r.k}`,
  { of: `-${first}`, afresh: values.afresh },
);
const before = records.size;

function playJob(set: 'faulty' | 'good', k: number): Record {
  const seed = first + k + (set === 'good' ? 50_000 : 0);
  const faults: Fault[] = [];
  if (set === 'faulty') {
    const random = new Random(seed);
    // Each in turn, so that all are tried; every third job has a second one beside it.
    faults.push(drawFault(FAULTS[k % FAULTS.length]!, random));
    if (k % 3 === 2) {
      const other = drawFault(FAULTS[Math.floor(random.next() * FAULTS.length)]!, random);
      if (other.row !== faults[0]!.row) faults.push(other);
    }
  }
  const played = play(seed, faults);
  const { harm, doubts } = played;
  return {
    set,
    k,
    rows: faults.map((f) => f.row),
    words: `seed ${seed}${faults.map((f) => `, ${f.words}`).join('')}${
      harm ? `: off by ${harm.mostMm.toFixed(2)} mm, band ${harm.bandMm.toFixed(2)}` : ''
    }${doubts.length > 0 ? `; doubts said: ${doubts.join(', ')}` : ''}`,
    end: played.end,
    by: played.by,
    slipped: set === 'faulty' && beyondWhatIsSaid(played),
    beyondBand: harm !== undefined && harm.mostMm > harm.bandMm,
    errors: set === 'good' ? played.errors : [],
  };
}

// Interleaved, so that a campaign that was stopped has tried some of everything.
const late = (): boolean => Date.now() > until;
let missing = 0;
for (let k = 0; k < count && !late(); k++) {
  for (const set of ['faulty', 'good'] as const)
    if (!late() && !records.has(`${set} ${k}`)) keep(playJob(set, k));
  const due = Math.floor(((k + 1) * rendered) / count);
  for (let r = 0; r < due && !late(); r++) {
    if (records.has(`rendered ${r}`)) continue;
    const played = await playRendered(r);
    if (!played) continue;
    keep({ set: 'rendered', k: r, ...played, beyondBand: false, errors: [] });
  }
}

const of = (set: Record['set'], most: number): Record[] =>
  [...records.values()].filter((r) => r.set === set && r.k < most);
const faulty = of('faulty', count);
const good = of('good', count);
const pictures = of('rendered', rendered);
missing = 2 * count - faulty.length - good.length;

const most = (records: readonly Record[]): string => {
  const by = new Map<string, number>();
  for (const r of records) for (const b of new Set(r.by)) by.set(b, (by.get(b) ?? 0) + 1);
  return [...by]
    .sort(([, a], [, b]) => b - a)
    .slice(0, 4)
    .map(([name, n]) => `${name} ${n}`)
    .join(', ');
};
const slips = [...faulty, ...pictures].filter((r) => r.slipped);
for (const { words } of slips.slice(0, 20)) console.log(`slipped: ${words}`);

console.log('\nfault: jobs | refused | gate shut | within what is said | slipped | caught by');
for (const { row } of FAULTS) {
  const mine = faulty.filter((r) => r.rows.includes(row));
  const ended = (end: Record['end']): number =>
    mine.filter((r) => r.end === end && !r.slipped).length;
  const slipped = mine.filter((r) => r.slipped).length;
  console.log(
    `${row}: ${mine.length} | ${ended('refused')} | ${ended('shut')} | ${ended('released')} | ${slipped} | ${most(mine)}`,
  );
}
if (pictures.length > 0) {
  console.log('\nrendered pictures with wrong typed values');
  for (const { words, end, by } of pictures)
    console.log(`${words}: ${end === 'released' ? by.join(', ') : `${end}: ${by.join(', ')}`}`);
}
if (pictures.length < rendered)
  console.log(
    `only ${pictures.length} of ${rendered} pictures: not played yet, or not on this machine`,
  );

console.log(
  '\ngood jobs, outline against truth: kind | within U (k = 2), goal 93 to 98 % | root mean square of error over u',
);
const errors = good.flatMap((r) => r.errors);
for (const kind of [...new Set(errors.map((e) => e.kind))]) {
  const all = errors.filter((e) => e.kind === kind).map((e) => e.overU);
  const within = all.filter((e) => Math.abs(e) <= 1).length;
  const share = (100 * within) / all.length;
  // How far a count of this size strays by chance.
  const stray = 100 * Math.sqrt((0.0455 * 0.9545) / all.length);
  const rms = Math.sqrt(all.reduce((s, e) => s + 4 * e * e, 0) / all.length);
  console.log(
    `${kind}: ${within} of ${all.length} (${share.toFixed(1)} ± ${stray.toFixed(1)} %) | ${rms.toFixed(2)}`,
  );
}
const judged = good.filter((r) => r.end !== 'refused');
console.log(
  `whole band held everywhere: ${judged.filter((r) => !r.beyondBand).length} of ${judged.length}`,
);
const lost = good.filter((r) => r.end !== 'released');
if (lost.length > 0) {
  console.log(`good jobs refused or shut by: ${most(lost)}`);
  for (const { words, by } of lost.slice(0, 20)) console.log(`  ${words}: ${by.join(', ')}`);
}
const released = faulty.filter((r) => r.end === 'released');
console.log(
  `\n${faulty.length} faulty and ${good.length} good jobs${missing > 0 ? ` of ${count} each` : ''}, ${pictures.length} rendered, ` +
    `${records.size - before} of them played now in ${((Date.now() - began) / 1000).toFixed(0)} s: ` +
    `${slips.length} slipped through; of ${released.length} faulty ones released, ${released.filter((r) => r.beyondBand).length} beyond the whole band; ` +
    `${lost.length} good ones refused (${((100 * lost.length) / Math.max(1, good.length)).toFixed(1)} %, goal under 1 %)` +
    (missing > 0 ? '; run it again to go on' : ''),
);
process.exit(slips.length > 0 ? 1 : 0);

/*
 * `npm run faults [-- --long] [--count N] [--seed N]`: faulty and good jobs at the level of marks and edge points, and
 * rendered pictures with wrong typed values. Prints what caught each fault; ends with 1 if one slipped through.
 */
import { parseArgs } from 'node:util';
import { Random } from '../support/simulate.ts';
import { drawFault, FAULTS } from './faults.ts';
import { renderedFaults } from './rendered.ts';
import { play, type Fault, type Played } from './simulated-job.ts';
import { beyondWhatIsSaid } from './slip.ts';

const { values } = parseArgs({
  options: {
    long: { type: 'boolean', default: false },
    count: { type: 'string' },
    seed: { type: 'string', default: '1' },
    rendered: { type: 'string' },
  },
});
const count = Number(values.count ?? (values.long ? 2000 : 200));
const first = Number(values.seed) * 100_000;
const began = Date.now();

interface Tally {
  jobs: number;
  refused: number;
  shut: number;
  harmless: number;
  slipped: number;
  readonly by: Map<string, number>;
}
const tallies = new Map<string, Tally>();
const tallyOf = (row: string): Tally => {
  let tally = tallies.get(row);
  if (!tally) {
    tally = { jobs: 0, refused: 0, shut: 0, harmless: 0, slipped: 0, by: new Map() };
    tallies.set(row, tally);
  }
  return tally;
};
let [slipped, beyondBand, released] = [0, 0, 0];
const most = (by: ReadonlyMap<string, number>): string =>
  [...by]
    .sort(([, a], [, b]) => b - a)
    .slice(0, 4)
    .map(([name, n]) => `${name} ${n}`)
    .join(', ');

for (let k = 0; k < count; k++) {
  const seed = first + k;
  const random = new Random(seed);
  // Each in turn, so that all are tried; every third job has a second one beside it.
  const faults: Fault[] = [drawFault(FAULTS[k % FAULTS.length]!, random)];
  if (k % 3 === 2) {
    const other = drawFault(FAULTS[Math.floor(random.next() * FAULTS.length)]!, random);
    if (other.row !== faults[0]!.row) faults.push(other);
  }
  const played = play(seed, faults);
  const slip = beyondWhatIsSaid(played);
  for (const { row } of faults) {
    const tally = tallyOf(row);
    tally.jobs++;
    if (slip) tally.slipped++;
    else if (played.end === 'released') tally.harmless++;
    else tally[played.end]++;
    for (const by of new Set(played.by)) tally.by.set(by, (tally.by.get(by) ?? 0) + 1);
  }
  if (played.end === 'released') {
    released++;
    if (played.harm && played.harm.mostMm > played.harm.bandMm) beyondBand++;
  }
  if (slip) {
    slipped++;
    if (slipped <= 20)
      console.log(
        `slipped: seed ${seed}, ${faults.map((f) => f.words).join('; ')}: ${harmWords(played)}`,
      );
  }
}

function harmWords({ harm, doubts }: Played): string {
  const said = doubts.length > 0 ? `; doubts said: ${doubts.join(', ')}` : '';
  return harm ? `off by ${harm.mostMm.toFixed(2)} mm, band ${harm.bandMm.toFixed(2)}${said}` : '';
}

console.log('\nfault: jobs | refused | gate shut | within what is said | slipped | caught by');
for (const { row } of FAULTS) {
  const t = tallyOf(row);
  console.log(
    `${row}: ${t.jobs} | ${t.refused} | ${t.shut} | ${t.harmless} | ${t.slipped} | ${most(t.by)}`,
  );
}

let [falseRefusals, bandKept, bandOf] = [0, 0, 0];
const falseBy = new Map<string, number>();
const kinds = new Map<string, { n: number; within: number; squares: number }>();
for (let k = 0; k < count; k++) {
  const good = play(first + 50_000 + k, []);
  if (good.end !== 'released') {
    falseRefusals++;
    for (const by of good.by) falseBy.set(by, (falseBy.get(by) ?? 0) + 1);
  }
  if (good.harm) {
    bandOf++;
    if (good.harm.mostMm <= good.harm.bandMm) bandKept++;
  }
  for (const { kind, overU } of good.errors) {
    const all = kinds.get(kind) ?? { n: 0, within: 0, squares: 0 };
    all.n++;
    all.squares += 4 * overU * overU;
    if (Math.abs(overU) <= 1) all.within++;
    kinds.set(kind, all);
  }
}
console.log(
  '\ngood jobs, outline against truth: kind | within U (k = 2) | root mean square of error over u',
);
for (const [kind, { n, within, squares }] of kinds)
  console.log(
    `${kind}: ${within} of ${n} (${((100 * within) / n).toFixed(1)} %) | ${Math.sqrt(squares / n).toFixed(2)}`,
  );
console.log(`whole band held everywhere: ${bandKept} of ${bandOf}`);
if (falseRefusals > 0) console.log(`good jobs refused or shut by: ${most(falseBy)}`);

const rendered = await renderedFaults(Number(values.rendered ?? (values.long ? 36 : 0)), (line) =>
  console.log(line),
);
slipped += rendered.slipped;
console.log(
  `\n${count} faulty and ${count} good jobs, ${rendered.jobs} rendered, ${((Date.now() - began) / 1000).toFixed(0)} s: ` +
    `${slipped} slipped through; of ${released} faulty ones released, ${beyondBand} beyond the whole band; ` +
    `${falseRefusals} good ones refused (${((100 * falseRefusals) / count).toFixed(1)} %, goal under 1 %)`,
);
process.exit(slipped > 0 ? 1 : 0);

import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createHash } from 'node:crypto';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { isDeepStrictEqual } from 'node:util';
import fc from 'fast-check';
import { zipSync } from 'fflate';
import { describe, expect, it } from 'vitest';
import { Refusal } from '../../src/base/reason.ts';
import { gateOf } from '../../src/job/gate.ts';
import { readJobFile, writeJobFile, type JobPicture } from '../../src/job/job-file.ts';
import { newJob, writeJob, type Job } from '../../src/job/job.ts';
import { salvageJob } from '../../src/job/salvage.ts';

const text = (words: string): Uint8Array => new TextEncoder().encode(words);
/** Node's own digest, not the one the program uses. */
const sha = (bytes: Uint8Array): string => createHash('sha256').update(bytes).digest('hex');
const picture = (name: string, length: number): JobPicture => {
  const bytes = Uint8Array.from({ length }, (_, k) => (k * 131 + (k >> 7) * 17 + length) % 256);
  return { name, digest: sha(bytes), bytes };
};
const [a, b] = [picture('Teller, blau.jpg', 50_000), picture('b.jpg', 30_000)] as const;
const named = ({ name, digest }: JobPicture): { name: string; digest: string } => ({
  name,
  digest,
});
const fresh = newJob('S-0012', 'Plates');
const job: Job = {
  ...fresh,
  picture: named(a),
  more: [named(b)],
  thicknessMm: { 1: 6.2 },
  face: 'back',
  sheet: { ...fresh.sheet, spansMm: { x: 139.92, y: 140.1, d: 141.3 } },
  pocket: { ...fresh.pocket, clearanceMm: 0.45 },
};
const file = writeJobFile(job, [a, b]);

describe('a job file', () => {
  it('holds everything, and says the same when it is read', () => {
    expect(readJobFile(file)).toEqual({ job, pictures: [a, b], reasons: [] });
    expect(writeJobFile(job, [a, b])).toEqual(file);
  });

  it('is a ZIP to others, its digests what they compute', (context) => {
    // Info-ZIP through Python's zipfile and coreutils' sha256sum: two readers that are not ours.
    if (
      spawnSync('python3', ['--version']).status !== 0 ||
      spawnSync('sha256sum', ['--version']).status !== 0
    )
      return context.skip('python3 or sha256sum is not on this machine');
    const folder = mkdtempSync(join(tmpdir(), 'job-file-'));
    try {
      writeFileSync(join(folder, 'a.zip'), file);
      execFileSync('python3', ['-m', 'zipfile', '-e', 'a.zip', '.'], { cwd: folder });
      const told = execFileSync('sha256sum', ['--check', 'SHA256SUMS'], { cwd: folder });
      expect(told.toString().match(/: OK$/gm)).toHaveLength(3);
      expect(readFileSync(join(folder, 'job.json'), 'utf8')).toBe(writeJob(job));
    } finally {
      rmSync(folder, { recursive: true });
    }
  });

  it('that another program packed anew is read, too', () => {
    const again = zipSync(
      { 'S-0012/job.json': text(writeJob(job)), 'S-0012/pictures/1-a.jpg': a.bytes },
      { level: 9 },
    );
    const read = readJobFile(again);
    expect(read.pictures).toEqual([a]);
    expect(read.reasons[0]!.message).toMatch(
      /nothing tells whether it is whole.*"b\.jpg" is missing/,
    );
    expect(read.job.lost).toEqual(['any figure may be another']);
  });

  it('of the kind that held the text alone is read', () => {
    expect(readJobFile(text(writeJob(job)))).toEqual({ job, pictures: [], reasons: [] });
  });

  it('that is cut off gives what came before the cut', () => {
    const at = (part: number): number => Math.floor(file.length * part);
    const late = readJobFile(file.subarray(0, at(0.9)));
    expect(late.job.pocket.clearanceMm).toBe(0.45);
    expect(late.pictures).toEqual([a]);
    expect(late.reasons[0]!.message).toMatch(/cut off.*"b\.jpg" is missing or not as it was/);
    // Within the text of the job: entries before the cut, the others named.
    const from = Buffer.from(file).indexOf('"pocket"');
    const early = readJobFile(file.subarray(0, from));
    expect(early.job.thicknessMm).toEqual({ 1: 6.2 });
    expect(early.job.pocket.clearanceMm).toBe(fresh.pocket.clearanceMm);
    expect(early.job.lost).toEqual(expect.arrayContaining(['pocket', 'bed', 'heights']));
    expect(gateOf(early.job, {}).shutBy.some((d) => d.key === 'lost')).toBe(true);
  });

  it('in which a figure became another one is never taken as it stands', () => {
    const at = Buffer.from(file).indexOf('139.92');
    const altered = file.slice();
    altered[at + 2] = '8'.charCodeAt(0);
    const read = readJobFile(altered);
    expect(read.job.sheet.spansMm.x).toBe(138.92);
    expect(read.reasons[0]!.message).toMatch(/what was entered is not as it was saved/);
    expect(gateOf(read.job, {}).shutBy.some((d) => d.key === 'lost')).toBe(true);
  });

  it('damaged anywhere gives pictures that are sound or none, and says so or is refused', () => {
    let told = 0;
    const spot = fc.record({
      at: fc.nat({ max: file.length - 1 }),
      length: fc.integer({ min: 1, max: 4000 }),
      by: fc.integer({ min: 1, max: 255 }),
    });
    fc.assert(
      fc.property(spot, ({ at, length, by }) => {
        const harmed = file.slice();
        for (let k = at; k < Math.min(at + length, harmed.length); k++) harmed[k]! ^= by;
        try {
          const read = readJobFile(harmed);
          for (const p of read.pictures) expect(sha(p.bytes)).toBe(p.digest);
          const same = isDeepStrictEqual(read.job, job);
          if (!same || read.pictures.length < 2) {
            told++;
            expect(read.reasons.length).toBeGreaterThan(0);
          }
          if (!same) expect(read.job.lost?.length).toBeGreaterThan(0);
        } catch (error) {
          if (!(error instanceof Refusal)) throw error;
          told++;
        }
      }),
      { numRuns: 150 },
    );
    expect(told).toBeGreaterThan(30);
  });
});

describe('a damaged text', () => {
  it('loses the entry that is of another kind, and nothing else', () => {
    const harmed = writeJob(job)
      .replace('"widthMm": 420', '"widthMm": "420"')
      .replace('"face": "back"', '"face": "back"');
    const { job: got, lost } = salvageJob(harmed);
    expect(lost).toEqual(['width']);
    expect({ ...got, lost: undefined }).toEqual({ ...job, lost: undefined });
  });

  it('with a line that is no JSON loses that line’s entry', () => {
    const { job: got, lost } = salvageJob(
      writeJob(job).replace('"clearanceMm": 0.45', '"clearanceMm": 0.4#5'),
    );
    expect(lost).toEqual(['clearance']);
    expect(got.pocket.clearanceMm).toBe(fresh.pocket.clearanceMm);
    expect(got.sheet.spansMm).toEqual(job.sheet.spansMm);
  });

  it('in which nothing is a job’s is refused', () => {
    for (const none of ['', '{', 'abc', '{"a": 1}', '[1]'])
      expect(() => salvageJob(none)).toThrow(Refusal);
  });
});

import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { Refusal } from '../../src/base/reason.ts';
import { acceptBetween, acceptThickness } from '../../src/job/entries.ts';
import { acceptSpan } from '../../src/sheet/accept-span.ts';
import { newJob, readJob, writeJob } from '../../src/job/job.ts';
import { seatStart } from '../../src/plan/board-on-bed.ts';
import { BOARD_SEATS } from '../../src/plan/plan.ts';

const codeOf = (work: () => unknown): string => {
  try {
    work();
  } catch (error) {
    if (error instanceof Refusal) return error.reason.code;
    throw error;
  }
  return 'taken';
};

describe('a job file', () => {
  it('says the same after writing and reading', () => {
    const job = {
      ...newJob('S-0007', 'Plates'),
      thicknessMm: { 1: 6.2, 3: 4 },
      face: 'back' as const,
    };
    expect(readJob(writeJob(job))).toEqual(job);
  });

  it('of the first releases keeps its readings', () => {
    const old = {
      ...newJob('1', 'a'),
      version: 1,
      readings: [{ blank: 2, which: 'height', valueMm: 53.9, u: 0.025 }],
    };
    for (const later of ['instrument', 'instruments', 'override'])
      delete (old as Record<string, unknown>)[later];
    const job = readJob(JSON.stringify(old));
    expect(job.readings).toEqual([
      { blank: 2, feature: { kind: 'main', side: 'height' }, valuesMm: [53.9], with: 'caliper' },
    ]);
    expect(job).toMatchObject({ instrument: 'caliper', override: null });
    const broken = JSON.stringify(old).replace('53.9', '"x"');
    expect(codeOf(() => readJob(broken))).toBe('job-file');
  });

  it('without a board of its own size is written as before boards had one, and with one keeps it', () => {
    const plain = writeJob(newJob('1', 'a'));
    expect(plain).not.toContain('"board"');
    expect(readJob(plain)).toEqual(JSON.parse(plain));
    const again = writeJob(readJob(plain));
    expect(writeJob(readJob(again))).toBe(again);
    const sample = readFileSync(new URL('../../demo-data/job.json', import.meta.url), 'utf8');
    const { bed } = JSON.parse(sample) as { bed: object };
    expect(JSON.stringify(readJob(sample).bed)).toBe(JSON.stringify(bed));
    const job = newJob('1', 'a');
    const board = { widthMm: 300, depthMm: 200, fromZeroMm: [5, 0] as const };
    const withIt = (b: object) => writeJob({ ...job, bed: { ...job.bed, board: b as never } });
    for (const kind of BOARD_SEATS) {
      const seat = seatStart(kind, { ...job.bed, board });
      expect(readJob(withIt({ ...board, seat })).bed.board).toEqual({ ...board, seat });
    }
    const pins = { kind: 'pins', pinMm: 5, playMm: 0.1, slotMm: 1, proudMm: 0 };
    for (const bad of [
      { ...board, widthMm: 0 },
      { ...board, fromZeroMm: [1] },
      { ...board, seat: { kind: 'glue', proudMm: 0 } },
      { ...board, seat: { ...pins, at: [{ x: 1, y: 1 }] } },
      { ...board, seat: { ...pins, playMm: 'x', at: [] } },
    ])
      expect(codeOf(() => readJob(withIt(bad)))).toBe('job-file');
  });

  it('of the sample is one', () => {
    const text = readFileSync(new URL('../../demo-data/job.json', import.meta.url), 'utf8');
    expect(readJob(text).invented).toMatch(/invented/);
  });

  it.each([
    ['{', 'job-file'],
    ['[]', 'job-file'],
    ['{"snugline":"plan"}', 'job-file'],
    ['{"snugline":"job","version":4}', 'job-version'],
    [writeJob(newJob('1', 'a')).replace('"widthMm": 420', '"widthMm": "420"'), 'job-file'],
    [writeJob(newJob('1', 'a')).replace('"kind": "beam"', '"kind": "saw"'), 'job-file'],
    [writeJob(newJob('1', 'a')).replace('"readings": []', '"readings": null'), 'job-file'],
  ])('that is none is refused: %s', (text, code) => {
    expect(codeOf(() => readJob(text))).toBe(code);
  });
});

describe('figures as entered', () => {
  it('spans up to 3 % off the design are taken, others asked for again', () => {
    expect(acceptSpan('X', 139.77, 140)).toBe(139.77);
    expect(codeOf(() => acceptSpan('X', 144.3, 140))).toBe('span-far-off');
    expect(codeOf(() => acceptSpan('X', Number.NaN, 140))).toBe('span-far-off');
  });
  it('a thickness is more than nothing and within reach', () => {
    expect(acceptThickness(0.05)).toBe(0.05);
    expect(codeOf(() => acceptThickness(0))).toBe('thickness-zero');
    expect(codeOf(() => acceptThickness(Number.NaN))).toBe('thickness-zero');
    expect(codeOf(() => acceptThickness(201))).toBe('thickness-too-large');
  });
  it('a range holds its ends', () => {
    expect(acceptBetween('Rows', 1, 1, 100)).toBe(1);
    expect(codeOf(() => acceptBetween('Rows', 0, 1, 100))).toBe('entry-out-of-range');
  });
});

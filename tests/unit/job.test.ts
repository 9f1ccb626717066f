import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { Refusal } from '../../src/base/reason.ts';
import { acceptBetween, acceptThickness } from '../../src/job/entries.ts';
import { acceptSpan } from '../../src/sheet/accept-span.ts';
import { newJob, readJob, writeJob } from '../../src/job/job.ts';

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

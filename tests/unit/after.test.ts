import { describe, expect, it } from 'vitest';
import type { Outcome } from '../../src/base/reason.ts';
import { AfterRun, type AfterMachines, type AfterResults } from '../../src/job/after.ts';
import {
  codeOf,
  jobOfBoard,
  jobOfPieces,
  newBoard,
  NO_PIECES,
  type Board,
} from '../../src/job/boards.ts';
import { filesOf } from '../../src/job/job-file.ts';
import { newJob, readJob, writeJob, type Job } from '../../src/job/job.ts';
import { calibrationOf, type PictureFile } from '../../src/job/run.ts';
import { boardStand } from '../../src/job/standing.ts';
import { layout } from '../../src/sheet/layout.ts';

const digest = (c: string): string => c.repeat(64);
const file = (c: string): PictureFile => ({
  name: `${c}.jpg`,
  digest: digest(c),
  bytes: new Blob([]),
});
const fresh = newJob('S-1', 'a');
const job: Job = {
  ...fresh,
  sheet: { ...fresh.sheet, spansMm: { x: 140.1, y: 139.9 }, kept: 'today' },
};
const plan = { name: 'plan.json', digest: digest('a') };
const entered: Board = newBoard(job, plan, digest('f'), '2026-01-02');
const pictured: Board = {
  ...entered,
  picture: { name: 'b.jpg', digest: digest('b') },
  picturedOn: '2026-01-03',
  thicknessMm: 5,
};

/** Machines that only count how often each is asked, and with which spans. */
function counting(sheet = layout(210, 297, 'white')): {
  machines: AfterMachines;
  asked: string[];
  spans: unknown[];
} {
  const asked: string[] = [];
  const spans: unknown[] = [];
  const ok = <T>(value: unknown): Promise<Outcome<T>> =>
    Promise.resolve({ ok: true, value: value as T });
  const outline = { at: 'face', blank: 1, region: { outer: [{ x: 0, y: 0 }], holes: [] } };
  return {
    asked,
    spans,
    machines: {
      find: () => (asked.push('find'), ok({ sheet, expected: 9, marks: [], reasons: [] })),
      view: (_, settings) => (
        asked.push('view'),
        spans.push(settings.spansMm),
        ok({ riders: [], reasons: [] })
      ),
      trace: () => (asked.push('trace'), ok({ outlines: [outline], verdict: 'ok', reasons: [] })),
      board: () => (
        asked.push('board'),
        ok({ board: { pockets: [{}, {}], missing: [], reasons: [] }, tried: {} })
      ),
      delivery: (_, pieces) => (asked.push(`delivery of ${pieces.length}`), ok({})),
    },
  };
}
const files = new Map([file('a'), file('b')].map((f) => [f.digest, f]));
const nothing = { files, trace: undefined };

describe('a board in its job', () => {
  it('is part of the job file, with its plan and its picture', () => {
    const with_ = { ...job, boards: [pictured] };
    expect(readJob(writeJob(with_))).toEqual(with_);
    expect(filesOf(with_).map((f) => f.digest)).toEqual([digest('a'), digest('b')]);
    expect(() =>
      readJob(writeJob({ ...job, boards: [{ ...pictured, plan: null as never }] })),
    ).toThrow(/boards/);
    expect(newBoard(with_, plan, digest('e'), '2026-02-01').number).toBe(2);
    expect(codeOf(pictured)).toBe('FFFFFFFF');
  });

  it('is measured on a sheet that may have moved since, and never by the spans of another sheet', () => {
    const own = jobOfBoard(job, pictured, true);
    expect(own.thicknessMm).toEqual({ 1: 5 });
    expect(own.sheet.spansMm).toEqual(job.sheet.spansMm);
    expect(calibrationOf(own).growthU).toBeGreaterThan(0);
    expect(jobOfBoard(job, pictured, false).sheet.spansMm).toEqual({});
    const read = { ...pictured, sheet: { spansMm: { x: 141 }, kept: 'today' as const } };
    expect(jobOfBoard(job, read, false).sheet.spansMm).toEqual({ x: 141 });
    expect(calibrationOf(jobOfBoard(job, read, true)).growthU).toBe(0);
  });
});

describe('the way from the picture of a board to its verdicts', () => {
  it('computes each step once, and again only what a change bears on', async () => {
    const { machines, asked } = counting();
    const shown: AfterResults[] = [];
    const run = new AfterRun(machines, (results) => shown.push(results));
    const results = await run.start(job, pictured, nothing);
    expect(results.board?.ok).toBe(true);
    expect(asked).toEqual(['find', 'view', 'trace', 'board']);
    await run.start(job, pictured, nothing);
    expect(asked).toHaveLength(4);
    await run.start(job, { ...pictured, thicknessMm: 6 }, nothing);
    expect(asked.slice(4)).toEqual(['view', 'trace', 'board']);
    expect(shown.at(-1)?.board?.ok).toBe(true);
    expect(boardStand({ ...job, boards: [pictured] }, pictured, results)).toEqual({
      condition: 'settled',
      word: '2 measured',
    });
  });

  it('traces each picture of new pieces once, and tries all pieces together', async () => {
    const { machines, asked } = counting();
    const run = new AfterRun(machines, () => {});
    const more = new Map([...files, ...['c', 'd'].map((c) => [digest(c), file(c)] as const)]);
    const pictures = ['c', 'd'].map((c) => ({ name: `${c}.jpg`, digest: digest(c) }));
    const board = { ...pictured, pieces: { ...NO_PIECES, pictures, thicknessMm: 3 } };
    await run.start(job, board, { files: more, trace: undefined });
    expect(asked.filter((a) => a === 'trace')).toHaveLength(3);
    expect(asked.at(-1)).toBe('delivery of 2');
    asked.length = 0;
    const one = { ...board, pieces: { ...board.pieces, pictures: pictures.slice(1) } };
    await run.start(job, one, { files: more, trace: undefined });
    expect(asked).toEqual(['delivery of 1']);
    // As thick as the blank where nothing else is said; where that is not known, nothing is tried.
    expect(jobOfPieces({ ...job, thicknessMm: { 1: 4 } }, NO_PIECES, true).thicknessMm).toEqual({
      1: 4,
    });
    const unsaid = { ...board, pieces: { ...board.pieces, thicknessMm: null } };
    asked.length = 0;
    await run.start(job, unsaid, { files: more, trace: undefined });
    expect(asked).toEqual([]);
  });

  it('waits for the thickness, and for files that are not at hand', async () => {
    const { machines, asked } = counting();
    const run = new AfterRun(machines, () => {});
    await run.start(job, { ...pictured, thicknessMm: null }, nothing);
    expect(asked).toEqual(['find']);
    await run.start(job, pictured, { files: new Map(), trace: undefined });
    expect(asked).toEqual(['find']);
    expect(boardStand({ ...job, boards: [pictured] }, pictured)).toEqual({
      condition: 'open',
      word: 'pictured',
    });
    expect(boardStand(job).word).toBe('not yet');
  });

  it('goes by no spans where the picture shows another sheet', async () => {
    const { machines, spans } = counting(layout(297, 420, 'white'));
    await new AfterRun(machines, () => {}).start(job, pictured, nothing);
    expect(spans).toEqual([{}]);
  });
});

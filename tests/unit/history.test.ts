import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  changed,
  lookingAsNow,
  NO_HISTORY,
  readHistory,
  redo,
  undo,
  type History,
} from '../../src/job/history.ts';
import { acceptJob, newJob, type Job } from '../../src/job/job.ts';

const job = newJob('S-0001', 'Job S-0001');
const wider = (mm: number, of = job): Job => ({ ...of, bed: { ...of.bed, wallMm: mm } });

describe('what was done to a job', () => {
  it.each<[Partial<Job>, string]>([
    [{ bed: { ...job.bed, wallMm: 5 } }, 'wall 5 mm'],
    [{ pocket: { ...job.pocket, clearanceMm: 0.25 } }, 'clearance 0.25 mm'],
    [{ thicknessMm: { 1: 12.3 } }, 'thickness 12.3 mm'],
    [{ sheet: { ...job.sheet, spansMm: { x: 140.1 } } }, 'span of the sheet 140.1 mm'],
    [{ bed: { ...job.bed, rows: 3 } }, 'rows 3'],
    [{ face: 'back' }, 'face back'],
    [{ picture: { name: 'a.jpg', digest: 'a' } }, 'picture'],
  ])('is told in the words of the screen', (patch, words) => {
    expect(changed(NO_HISTORY, job, { ...job, ...patch }, 0).done.at(-1)!.words).toBe(words);
  });

  it('is nothing where nothing changed', () => {
    expect(changed(NO_HISTORY, job, { ...job, bed: { ...job.bed } }, 0)).toBe(NO_HISTORY);
  });

  it('is one change while a figure is stepped up, and two after a pause', () => {
    const one = changed(NO_HISTORY, job, wider(5), 0);
    const two = changed(one, wider(5), wider(6), 400);
    expect(two.done).toHaveLength(1);
    expect(undo(two, wider(6))!.job).toBe(job);
    expect(changed(two, wider(6), wider(7), 5000).done).toHaveLength(2);
  });

  it('cannot be done again once something else was done', () => {
    const one = changed(NO_HISTORY, job, wider(5), 0);
    const back = undo(one, wider(5))!;
    expect(redo(back.history, back.job)!.job).toEqual(wider(5));
    const other = changed(back.history, back.job, { ...job, face: 'back' }, 9000);
    expect(redo(other, { ...job, face: 'back' })).toBeUndefined();
  });
});

it('any walk of changes, undone and done again, ends where it was', () => {
  fc.assert(
    fc.property(fc.array(fc.integer({ min: 1, max: 40 }), { maxLength: 30 }), (walls) => {
      let now = job;
      let history: History = NO_HISTORY;
      const states = [job];
      walls.forEach((mm, k) => {
        const next = wider(mm, now);
        const after = changed(history, now, next, 5000 * k);
        if (after === history) return;
        [history, now] = [after, next];
        states.push(now);
      });
      for (const state of states.slice(0, -1).reverse()) {
        const step = undo(history, now)!;
        [history, now] = [step.history, step.job];
        expect(now).toEqual(state);
      }
      expect(undo(history, now)).toBeUndefined();
      for (const state of states.slice(1)) {
        const step = redo(history, now)!;
        [history, now] = [step.history, step.job];
        expect(now).toEqual(state);
      }
      expect(redo(history, now)).toBeUndefined();
    }),
  );
});

describe('which photo is looked at', () => {
  const [a, b, c] = ['a', 'b', 'c'].map((digest) => ({ name: `${digest}.jpg`, digest })) as [
    { name: string; digest: string },
    { name: string; digest: string },
    { name: string; digest: string },
  ];
  it('stays when a change of the same photos is taken back, and comes back with others', () => {
    const before = { ...job, picture: a, more: [b] };
    const now = { ...wider(9, job), picture: b, more: [a] };
    expect(lookingAsNow(before, now)).toEqual({ ...before, picture: b, more: [a] });
    expect(lookingAsNow({ ...before, more: [c] }, now)).toEqual({ ...before, more: [c] });
  });
});

describe('a history that was kept', () => {
  const made = changed(changed(NO_HISTORY, job, wider(5), 0), wider(5), wider(6), 5000);
  it('is read as it was, but that what comes next is a change of its own', () => {
    const read = readHistory(structuredClone(made), acceptJob);
    expect(read.done.map((d) => [d.words, d.before])).toEqual(
      made.done.map((d) => [d.words, d.before]),
    );
    expect(changed(read, wider(6), wider(7), 5001).done).toHaveLength(3);
  });
  it('goes back as far as its jobs can be read', () => {
    const harmed = structuredClone(made) as unknown as { done: { before: unknown }[] };
    harmed.done[0]!.before = { snugline: 'job', version: 99 };
    expect(readHistory(harmed, acceptJob).done.map((d) => d.words)).toEqual(['wall 6 mm']);
    for (const none of [undefined, null, 3, { done: 3 }])
      expect(readHistory(none, acceptJob)).toEqual(NO_HISTORY);
  });
});

import { describe, expect, it } from 'vitest';
import { reason } from '../../src/base/reason.ts';
import { newJob, type Job } from '../../src/job/job.ts';
import { remedyOf } from '../../src/ui/frame/remedy.ts';

const job = newJob('S-0001', 'Remedies');
/** The job after the press of a warning. */
function pressed(code: Parameters<typeof reason>[0], facts: Parameters<typeof reason>[1]): Job {
  const press = remedyOf(reason(code, facts), 'bed', job);
  if (!press || !('change' in press)) throw new Error(`${code} has no press that settles it`);
  return { ...job, ...press.change };
}

describe('the press beside a warning', () => {
  it('gives as much clearance as the outline is uncertain by, and more than that alone', () => {
    // 0.3 mm where 0.46 mm are wanted: the next step of 0.05 mm is 0.5 mm.
    const { pocket } = pressed('clearance-below-u', { blank: 1, clearanceMm: 0.3, uMm: 0.46 });
    expect(pocket.clearanceMm).toBe(0.5);
    // Just as much would not be proven: one step more.
    const { pocket: even } = pressed('clearance-below-u', { clearanceMm: 0.3, uMm: 0.45 });
    expect(even.clearanceMm).toBe(0.5);
  });

  it('takes the bleed, safe area and head height that the warning names', () => {
    expect(pressed('edge-bare', { leastMm: 3 }).pocket.bleedMm).toBe(3);
    expect(pressed('safe-short', { leastMm: 3 }).pocket.safeMm).toBe(3);
    expect(pressed('head-strike', { needMm: 14.5 }).heights?.headMm).toBe(14.5);
  });

  it('leads to the step of the entry, and not where one stands already', () => {
    const unread = reason('spans-missing', {});
    expect(remedyOf(unread, 'picture', job)).toEqual({ words: 'Read the spans', go: 'sheet' });
    expect(remedyOf(unread, 'sheet', job)).toBeUndefined();
    // Of the picture of a board it says so on the step Board, where that picture is.
    expect(remedyOf(unread, 'board', job)).toBeUndefined();
    const board = reason('height-unmeasured', { what: 'the board and the base plate' });
    expect(remedyOf(board, 'bed', job)).toEqual({ words: 'To the pocket', go: 'pocket' });
  });
});

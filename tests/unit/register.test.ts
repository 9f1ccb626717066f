import { readFileSync } from 'node:fs';
import { beforeAll, describe, expect, it } from 'vitest';
import { PROGRAM } from '../../src/base/program.ts';
import { planJson, readPlanJson, type FiledPlan } from '../../src/files/plan-json.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { correctionFor, newBoard, type Board } from '../../src/job/boards.ts';
import { DEFAULT_BED, DEFAULT_POCKET, makeJig } from '../../src/job/jig.ts';
import { newJob, readJob, writeJob, type Job } from '../../src/job/job.ts';
import { changesSince, runsOf } from '../../src/job/register.ts';
import { DEFAULT_HEIGHTS } from '../../src/plan/heights.ts';
import type { BedPlan } from '../../src/plan/plan.ts';
import { card, outlineOf } from '../outlines.ts';

let plans: Record<'cut' | 'wider', BedPlan>;
let filed: FiledPlan;
const job: Job = newJob('S-7', 'cards');
let board: Board;
beforeAll(async () => {
  const clipper = await loadClipper();
  const planOf = (clearanceMm: number, boardMm: number): BedPlan =>
    makeJig(
      clipper,
      { outlines: [{ ...outlineOf(card), thicknessMm: 4 }], verdict: 'ok', reasons: [] },
      {
        job: { number: 'S-7', name: 'cards' },
        pocket: { ...DEFAULT_POCKET, clearanceMm, material: 'mdf', hold: 'through' },
        bed: DEFAULT_BED,
        heights: { ...DEFAULT_HEIGHTS, boardMm },
      },
    ).plan;
  plans = { cut: planOf(0.3, 5), wider: planOf(0.35, 6) };
  filed = readPlanJson(planJson(plans.cut), 'plan.json');
  board = newBoard(
    job,
    { name: 'plan.json', digest: 'a'.repeat(64) },
    plans.cut.digest,
    '2026-01-02',
  );
});

/** Read a while after it was entered, its print as it lies. */
const fresh = (): Board => ({
  ...board,
  picturedOn: '2026-02-01',
  print: {
    machine: 'the flatbed',
    misses: [
      { at: { x: 50, y: 50 }, dxMm: 0.2, dyMm: 0.1 },
      { at: { x: 350, y: 60 }, dxMm: 0.2, dyMm: 0.3 },
    ],
    uMm: 0.2,
    on: '2026-02-01',
    voidOn: null,
  },
});
const codes = (b: Board, plan: BedPlan | undefined, today = '2026-02-02'): string[] =>
  changesSince(b, filed, job, plan, today).map((r) => r.code);

describe('a board that is printed again', () => {
  it('is as it was where nothing has changed', () => {
    expect(codes(fresh(), plans.cut)).toEqual([]);
  });

  it('says what has changed since it was cut', () => {
    const changed = changesSince(fresh(), filed, job, plans.wider, '2026-02-02');
    expect(changed.map((r) => r.code)).toEqual(['again-plan', 'again-height']);
    expect(changed[0]!.message).toContain('clearance 0.3 mm, now 0.35 mm');
    // The board counts below the head; the set-up print lies on a sheet on the table.
    expect(changed[1]!.message).toMatch(/for the artwork was 5\.00 mm .* is 6\.00 mm/);
    expect(codes(fresh(), undefined)).toEqual(['again-no-plan']);
    expect(codes({ ...fresh(), made: { program: '0.0.9', lens: null } }, plans.cut)).toEqual([
      'again-program',
    ]);
  });

  // Growth of MDF over a change in humidity, as material.ts has it: 6e-5 per per cent, 20 %, over the bed's diagonal.
  it('has moved with damp when it lay for long', () => {
    const [r] = changesSince(fresh(), filed, job, plans.cut, '2026-08-02');
    expect(r!.code).toBe('again-damp');
    const { widthMm, depthMm } = DEFAULT_BED;
    expect(r!.message).toContain(`${(6e-5 * 20 * Math.hypot(widthMm, depthMm)).toFixed(2)} mm`);
    expect(r!.message).toContain('182 days');
  });

  it('moves no artwork once it is seated anew, worn out boards are refused first', () => {
    const with_ = (b: Board): Job => ({ ...job, boards: [b] });
    expect(correctionFor(with_(fresh()), plans.cut)?.holds).toBe('board 1 on the flatbed');
    const anew = { ...fresh(), print: { ...fresh().print!, voidOn: '2026-02-03' } };
    expect(correctionFor(with_(anew), plans.cut)).toBeUndefined();
    expect(correctionFor(with_(fresh()), plans.wider)).toBeUndefined();
    expect(codes(anew, plans.cut)).toEqual(['again-print']);
    const worn = { ...fresh(), worn: { on: '2026-02-03', why: 'pocket 4 has a crack' } };
    expect(codes(worn, plans.wider)[0]).toBe('board-worn');
    const read = readJob(writeJob(with_(worn)));
    expect(read.boards).toEqual([worn]);
  });

  it('counts its runs', () => {
    const runs = [
      { on: '2026-01-03', pieces: 12 },
      { on: '2026-01-04', pieces: 11 },
    ];
    expect(runsOf({ runs })).toEqual({ times: 2, pieces: 23 });
  });
});

it('the version that boards are entered with is that of package.json', () => {
  const text = readFileSync(new URL('../../package.json', import.meta.url), 'utf8');
  expect((JSON.parse(text) as { version: string }).version).toBe(PROGRAM);
});

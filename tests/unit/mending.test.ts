/** The tools of mending, without a page: what touches of the drawing become in the job. */
import { expect, it } from 'vitest';
import { newJob, type Job } from '../../src/job/job.ts';
import type { Spot } from '../../src/outline/mend.ts';
import type { Desk } from '../../src/ui/desk.svelte.ts';
import { Mending } from '../../src/ui/outline/mending.svelte.ts';
import { sampled } from '../shapes.ts';

// A ring of radius 20 mm, drawn 10 px to the mm with y down.
const ring = sampled(400, (t) => [100 + 20 * Math.cos(t), 100 + 20 * Math.sin(t)]);
const spots = ring.map(({ x, y }) => ({ x: 10 * x, y: 3000 - 10 * y }));

function table(snap: (p: Spot) => Spot | undefined): { mending: Mending; job: () => Job } {
  let job: Job = { ...newJob('S-1', 'a'), picture: { name: 'a.jpg', digest: 'abc' } };
  const desk = {
    get job() {
      return job;
    },
    results: { view: { ok: true, value: { mmPerPx: 0.1 } } },
    change: (patch: Partial<Job>) => (job = { ...job, ...patch }),
    snap: (p: Spot) => Promise.resolve(snap(p)),
  } as unknown as Desk;
  return { mending: new Mending(desk), job: () => job };
}
const lay = (mending: Mending, ...points: Spot[]): Promise<unknown> =>
  points.reduce<Promise<unknown>>(
    (before, p) => before.then(() => mending.lay(p, 1, [spots], [ring])),
    Promise.resolve(),
  );

it('a stretch is the points laid, where edges drew them to themselves; one that lies free makes it as doubtful as the hand', async () => {
  const { mending, job } = table((p) => (p.x > 1100 ? { x: p.x + 2.345, y: p.y } : undefined));
  mending.take('stretch');
  await lay(mending, { x: 1200, y: 2000 }, { x: 1210, y: 1990 });
  expect(mending.points.every((l) => l.snapped)).toBe(true);
  mending.finish();
  await lay(mending, { x: 1, y: 1 });
  mending.take('stretch');
  await lay(mending, { x: 1200, y: 2000 }, { x: 900, y: 1990 }, { x: 5, y: 5 });
  mending.back();
  mending.finish();
  expect(job().mends).toEqual([
    {
      kind: 'stretch',
      picture: 'abc',
      straight: false,
      uPx: 1,
      points: [
        { x: 1202.35, y: 2000 },
        { x: 1212.35, y: 1990 },
      ],
    },
    {
      kind: 'stretch',
      picture: 'abc',
      straight: false,
      uPx: 2,
      points: [
        { x: 1202.35, y: 2000 },
        { x: 900, y: 1990 },
      ],
    },
  ]);
  expect(mending.tool).toBeUndefined();
});

it('a place that is moved takes 5 mm of edge to either side with it', async () => {
  const { mending, job } = table(() => undefined);
  mending.take('place');
  await lay(mending, { x: 1203, y: 2001 }, { x: 1230, y: 2000 });
  const [mend] = job().mends;
  if (mend?.kind !== 'node') throw new Error('no node');
  const { from: a, at, till: c, to: b } = mend;
  expect(at).toEqual({ x: 1200, y: 2000 });
  expect(b).toEqual({ x: 1230, y: 2000 });
  expect(mend.uPx).toBe(2);
  // Chords of 5 mm of a circle of 20 mm: 2 R sin(5 / 2 R) = 4.987 mm.
  for (const end of [a, c]) expect(Math.hypot(end.x - 1200, end.y - 2000) / 10).toBeCloseTo(5.1, 0);
  expect(Math.sign(a.y - 2000)).toBe(-Math.sign(c.y - 2000));
});

it('a node takes its neighbours for ends, stops at an edge it was dropped beside, and makes nothing where it stayed', async () => {
  const { mending, job } = table((p) => ({ x: p.x + 1, y: p.y }));
  const [a, b, c] = [
    { x: 1000, y: 1800 },
    { x: 1200, y: 2000 },
    { x: 1000, y: 2200 },
  ] as const;
  const node = { ring: 0, at: b, from: a, till: c };
  mending.take('place');
  mending.grasp(node, [spots], [ring]);
  mending.release();
  expect(job().mends).toEqual([]);
  mending.grasp(node, [spots], [ring]);
  mending.moveTo({ x: 1210, y: 2000 });
  await mending.drop(1);
  expect(job().mends).toEqual([
    { kind: 'node', picture: 'abc', from: a, at: b, till: c, to: { x: 1211, y: 2000 }, uPx: 1 },
  ]);
  // Put by the arrows it stays where it was put.
  mending.grasp(node, [spots], [ring]);
  mending.moveTo({ x: 1201, y: 2000 });
  mending.release();
  expect(job().mends.at(-1)).toMatchObject({ to: { x: 1201, y: 2000 }, uPx: 2 });
});

it('a line that divides, two that join, and what the brush went over', async () => {
  const { mending, job } = table(() => undefined);
  mending.take('split');
  await lay(mending, { x: 1, y: 1 }, { x: 9, y: 9 });
  mending.finish();
  mending.take('join');
  await lay(mending, { x: 1, y: 1 }, { x: 9, y: 1 });
  mending.finish();
  expect(job().mends).toHaveLength(1);
  await lay(mending, { x: 9, y: 5 });
  // Back over both lines.
  mending.back();
  mending.back();
  expect(mending.first).toHaveLength(0);
  expect(mending.points).toHaveLength(1);
  await lay(mending, { x: 8, y: 1 });
  mending.finish();
  await lay(mending, { x: 9, y: 5 }, { x: 1, y: 5 });
  mending.finish();
  mending.take('stage');
  mending.paint([
    { x: 0, y: 0 },
    { x: 1, y: 0 },
    { x: 50, y: 0 },
    { x: 52, y: 0 },
  ]);
  expect(job().mends).toMatchObject([
    {
      kind: 'split',
      points: [
        { x: 1, y: 1 },
        { x: 9, y: 9 },
      ],
      uPx: 2,
    },
    {
      kind: 'join',
      points: [
        { x: 1, y: 1 },
        { x: 8, y: 1 },
      ],
      back: [
        { x: 9, y: 5 },
        { x: 1, y: 5 },
      ],
    },
    // 1 mm at 10 px to the mm; what lies closer than a quarter of that says nothing new.
    {
      kind: 'paint',
      as: 'stage',
      radiusPx: 10,
      points: [
        { x: 0, y: 0 },
        { x: 50, y: 0 },
        { x: 52, y: 0 },
      ],
    },
  ]);
  // The brush stays in hand.
  expect(mending.tool).toBe('stage');
});

it('too few points make nothing; another tool lets go of what was laid; what was mended can be taken off', async () => {
  const { mending, job } = table(() => undefined);
  mending.take('stretch');
  await lay(mending, { x: 1200, y: 2000 });
  mending.finish();
  expect(job().mends).toEqual([]);
  mending.take('close');
  expect(mending.points).toEqual([]);
  await lay(mending, { x: 1000, y: 2000 });
  mending.leaveOut({ x: 1000, y: 2000 });
  mending.makeRegular({ x: 1200, y: 2000 }, 'circle');
  expect(job().mends.map((m) => m.kind)).toEqual(['close', 'drop', 'regular']);
  mending.takeOff(1);
  expect(job().mends.map((m) => m.kind)).toEqual(['close', 'regular']);
});

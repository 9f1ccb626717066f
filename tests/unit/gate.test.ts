import { describe, expect, it } from 'vitest';
import { reason } from '../../src/base/reason.ts';
import { judge } from '../../src/check/judge.ts';
import type { Dimension } from '../../src/check/check.ts';
import { demandsOf, gateOf, overrideFor } from '../../src/job/gate.ts';
import type { Checked } from '../../src/check/checked.ts';
import { average, INSTRUMENTS } from '../../src/check/reading.ts';
import { newJob, readJob, writeJob, type Job } from '../../src/job/job.ts';
import type { Results } from '../../src/job/run.ts';

// What the release waits for: the face shown, the thickness, the spans and two checks in different directions (common
// practice in measuring, no source: two directions, because one does not show a stretch in the other).

const dimension = (directionRad: number): Dimension => ({
  kind: 'width',
  directionRad,
  valueMm: 80,
  u: 0.04,
  touches: [
    { x: 0, y: 0 },
    { x: 80, y: 0 },
  ],
  budget: [],
  shifts: new Float64Array(),
  ownVariance: 0,
  unseen: false,
});
const checked = (
  side: 'width' | 'height',
  valueMm: number,
  deg: number,
  blank = 1,
  more: Partial<Dimension> = {},
): Checked => {
  const reading = {
    blank,
    feature: { kind: 'main', side },
    valuesMm: [valueMm],
    with: 'caliper',
  } as const;
  const at = { ...dimension((deg * Math.PI) / 180), ...more };
  const averaged = average([valueMm], INSTRUMENTS.caliper);
  return { reading, dimension: at, averaged, judgement: judge(averaged, at) };
};
const resultsOf = (checks: readonly Checked[], blanks = [1]): Results =>
  ({
    trace: { ok: true, value: { outlines: blanks.map((blank) => ({ blank })), reasons: [] } },
    checks: {
      ok: true,
      value: {
        sizes: Object.fromEntries(
          blanks.map((blank) => [blank, { width: dimension(0), height: dimension(1.57) }]),
        ),
        checked: checks,
        lost: [],
        next: {},
      },
    },
  }) as unknown as Results;
const settled: Job = {
  ...newJob('S-1', 'a'),
  picture: { name: 'a.jpg', digest: 'a' },
  face: 'print',
  zero: { readMm: 0, on: '2026-03-14' },
  thicknessMm: { 1: 3 },
  sheet: { ...newJob('', '').sheet, spansMm: { x: 140, y: 140, d: 141 } },
};
const good = resultsOf([checked('width', 80.02, 0), checked('height', 79.99, 90)]);
const shutBy = (job: Job, results: Results): string[] =>
  gateOf(job, results).shutBy.map((d) => d.key);

it('says what of the edge was made by hand, and how well it is known there', () => {
  const ring = [0, 10, 20].map((x) => ({ x, y: 0 }));
  const hand = {
    blank: 1,
    region: { outer: [...ring, { x: 20, y: 15 }], holes: [] },
    u: [Float64Array.of(0.02, 0.2, 0.1, 0.02)],
    byHand: [{ ring: 0, from: 1, to: 3 }],
  };
  const results = {
    trace: { ok: true, value: { outlines: [hand], reasons: [] } },
  } as unknown as Results;
  // 10 + 15 mm; twice the greatest u there.
  expect(demandsOf(settled, results).find((d) => d.key === 'hand 1')).toMatchObject({
    settled: true,
    words: '25.0 mm of the edge were made by hand; there U is 0.40 mm.',
  });
});

describe('the gate', () => {
  it('is open when all that it waits for is settled', () => {
    expect(shutBy(settled, good)).toEqual([]);
    expect(demandsOf(settled, good).map((d) => d.key)).toEqual([
      'face',
      'thickness',
      'spans',
      'zero',
      'checks 1',
    ]);
  });

  it('asks no caliper for its zero where none was used', () => {
    const read = (with_: 'rule' | 'caliper'): Job => ({
      ...settled,
      zero: null,
      readings: [
        { blank: 1, feature: { kind: 'main', side: 'width' }, valuesMm: [80], with: with_ },
      ],
    });
    expect(shutBy(read('rule'), good)).toEqual([]);
    expect(shutBy(read('caliper'), good)).toEqual(['zero']);
    // One that is known not to close is told all the same.
    const off = { ...read('rule'), zero: { readMm: 0.1, on: '2026-03-14' } };
    expect(shutBy(off, good)).toEqual(['zero']);
  });

  it.each<[string, Partial<Job>, string]>([
    ['the face was not answered', { face: null }, 'face'],
    ['no thickness was entered', { thicknessMm: {} }, 'thickness'],
    ['a span was not read', { sheet: { ...settled.sheet, spansMm: { x: 140, y: 140 } } }, 'spans'],
  ])('is shut by itself when %s', (_, patch, key) => {
    expect(shutBy({ ...settled, ...patch }, good)).toEqual([key]);
  });

  it.each<[string, readonly Checked[], readonly string[]]>([
    ['nothing was read', [], ['checks 1']],
    ['one reading was made', [checked('width', 80, 0)], ['checks 1']],
    [
      'two were made 20 degrees apart',
      [checked('width', 80, 0), checked('height', 80, 20)],
      ['checks 1'],
    ],
    [
      'the other direction is the same one turned round',
      [checked('width', 80, 0), checked('height', 80, 180)],
      ['checks 1'],
    ],
    [
      'the second is a hole, which says nothing of the whole',
      [checked('width', 80, 0), checked('height', 80, 90, 1, { kind: 'hole' })],
      ['checks 1'],
    ],
    [
      'the second is shorter than half the blank',
      [checked('width', 80, 0), checked('height', 30, 90, 1, { valueMm: 30 })],
      ['checks 1'],
    ],
    [
      'one of two contradicts',
      [checked('width', 80, 0), checked('height', 80.6, 90)],
      ['checks 1', 'contradiction 1 {"kind":"main","side":"height"}'],
    ],
  ])('is shut when %s', (_, checks, keys) => {
    expect(shutBy(settled, resultsOf(checks))).toEqual(keys);
  });

  it('wants checks of every blank that is laid, and of none that is not', () => {
    const results = resultsOf([checked('width', 80, 0), checked('height', 80, 90)], [1, 2]);
    expect(shutBy(settled, results)).toEqual(['checks 2']);
    expect(shutBy({ ...settled, counts: { 1: 2, 2: 0 } }, results)).toEqual([]);
    expect(shutBy({ ...settled, counts: { 1: 2, 2: 1 } }, results)).toEqual(['checks 2']);
  });
});

type Seen = NonNullable<Job['picture']>;

describe('an override', () => {
  const unread: Job = { ...settled, face: null };
  const job: Job = { ...unread, override: overrideFor(unread, good, 'a trial', 'R. Maker') };

  it('ends when a photo is added or taken off, not when another one is looked at', () => {
    const [a, b] = ['a', 'b'].map((digest) => ({ name: `${digest}.jpg`, digest })) as [Seen, Seen];
    const two = { ...unread, picture: a, more: [b] };
    const given = { ...two, override: overrideFor(two, good, 'a trial', 'R. Maker') };
    const shut = (change: Partial<Job>): number =>
      gateOf({ ...given, ...change }, good).shutBy.length;
    expect(shut({})).toBe(0);
    expect(shut({ picture: b, more: [a] })).toBe(0);
    expect(shut({ more: [] })).toBe(1);
    expect(shut({ more: [b, { name: 'c.jpg', digest: 'c' }] })).toBe(1);
  });

  it('passes over what was open, and says so', () => {
    expect(shutBy(job, good)).toEqual([]);
    expect(gateOf(job, good).passedOver.map((d) => d.key)).toEqual(['face']);
    expect(job.override).toMatchObject({ reason: 'a trial', by: 'R. Maker', over: ['face'] });
  });

  it('does not cover what comes up later', () => {
    const later = resultsOf([checked('width', 80, 0), checked('height', 81, 90)]);
    expect(shutBy(job, later)).toEqual([
      'checks 1',
      'contradiction 1 {"kind":"main","side":"height"}',
    ]);
  });

  it('does not hold for another picture', () => {
    expect(shutBy({ ...job, picture: { name: 'b.jpg', digest: 'b' } }, good)).toEqual(['face']);
  });

  it('is kept in the job file; a file from before there was one has none', () => {
    expect(readJob(writeJob(job)).override).toEqual(job.override);
    const old: Partial<Job> = { ...settled };
    delete (old as { override?: unknown }).override;
    expect(readJob(JSON.stringify(old)).override).toBeNull();
  });
});

it('stays shut while the picture contradicts a span, whatever the checks say', () => {
  const said = reason('spans-contradict', { span: 'Y', offMm: 0.9, way: 'longer', uMm: 0.3 });
  const view = { ok: true, value: { reasons: [said] } };
  const against = { ...good, view } as unknown as Results;
  expect(shutBy(settled, good)).toEqual([]);
  expect(shutBy(settled, against)).toEqual(['span']);
  const demand = demandsOf(settled, against).find((d) => d.key === 'span')!;
  expect(demand).toMatchObject({ step: 'sheet', contradicts: true, act: 'Read the spans again' });
});

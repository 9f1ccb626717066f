import { beforeAll, describe, expect, it } from 'vitest';
import type { Clipper } from '../../src/geometry/clipper.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { DEFAULT_BED, DEFAULT_POCKET, makeJig } from '../../src/job/jig.ts';
import {
  loadsOf,
  minutesWords,
  ORDER,
  orderOf,
  orderWords,
  partPlan,
  wholeSeconds,
} from '../../src/plan/order.ts';
import { card, outlineOf, plaque } from '../outlines.ts';

let clipper: Clipper;
beforeAll(async () => {
  clipper = await loadClipper();
});

/** Load by load, a piece at a time: the same by another way. */
function counted(perLoad: Record<string, number>, wanted: Record<string, number>): string[] {
  const left = { ...wanted };
  const loads: string[] = [];
  while (Object.values(left).some((n) => n > 0)) {
    const load: Record<string, number> = {};
    for (const blank of Object.keys(left))
      for (let k = 0; k < perLoad[blank]! && left[blank]! > 0; k++, left[blank]!--)
        load[blank] = (load[blank] ?? 0) + 1;
    loads.push(JSON.stringify(load));
  }
  return loads;
}

describe('loads', () => {
  it.each([
    [{ 1: 30 }, { 1: 130 }],
    [{ 1: 30 }, { 1: 120 }],
    [{ 1: 30 }, { 1: 7 }],
    [
      { 1: 4, 2: 2 },
      { 1: 41, 2: 9 },
    ],
    [
      { 1: 4, 2: 2, 3: 1 },
      { 1: 8, 2: 9, 3: 30 },
    ],
  ])('of %o for %o are those of filling boards piece by piece', (perLoad, wanted) => {
    const loads = loadsOf(perLoad, wanted);
    const each = loads.flatMap(({ count, pieces }) =>
      Array<string>(count).fill(JSON.stringify(pieces)),
    );
    expect(each).toEqual(counted(perLoad, wanted));
    expect(loads.map(({ first }) => first)).toEqual(
      loads.map((_, k) => 1 + loads.slice(0, k).reduce((sum, l) => sum + l.count, 0)),
    );
  });

  it('has one part-filled load at the end of a single blank, or none', () => {
    expect(loadsOf({ 1: 30 }, { 1: 130 }).map(({ part, total }) => [part, total])).toEqual([
      [false, 30],
      [true, 10],
    ]);
    expect(loadsOf({ 1: 30 }, { 1: 90 }).map(({ part }) => part)).toEqual([false]);
    expect(loadsOf({ 1: 30 }, { 2: 5 })).toEqual([]);
  });
});

describe('time', () => {
  // Two machines, equal jobs: l + p + (n - 1) max(l, p). S. M. Johnson, Naval Research Logistics Quarterly 1, 1954 (from memory).
  it.each([
    [10, 6, 5],
    [40, 6, 5],
    [100, 6, 3],
  ])(
    '%d pieces at %d s, print %d min: two boards overlap as a flow shop does',
    (n, putInS, printMin) => {
      const rates = { putInS, takeOutS: 0, changeS: 0, printMin };
      const [l, p] = [n * putInS, 60 * printMin];
      for (const loads of [1, 2, 7])
        expect(wholeSeconds(Array<number>(loads).fill(n), rates, 2)).toBeCloseTo(
          l + p + (loads - 1) * Math.max(l, p),
          9,
        );
    },
  );

  it('takes all in turn with one board, never longer with two, and never less than printer or hands', () => {
    const rates = { putInS: 6, takeOutS: 4, changeS: 30, printMin: 5 };
    for (const totals of [[30], [30, 30, 10], [2, 60, 2, 60], Array<number>(20).fill(25)]) {
      const one = wholeSeconds(totals, rates, 1);
      const two = wholeSeconds(totals, rates, 2);
      const pieces = totals.reduce((a, b) => a + b, 0);
      expect(one).toBeCloseTo(pieces * 10 + totals.length * 330, 9);
      expect(two).toBeLessThanOrEqual(one + 1e-9);
      expect(two).toBeGreaterThanOrEqual(totals.length * 330 - 1e-9);
      expect(two).toBeGreaterThanOrEqual(pieces * 10 + totals.length * 30 - 1e-9);
    }
  });

  it('is said in hours and minutes, rounded up', () => {
    expect([0.2, 59.01, 60, 125.5].map(minutesWords)).toEqual([
      '1 min',
      '1 h 0 min',
      '1 h 0 min',
      '2 h 6 min',
    ]);
  });
});

describe('an order of a plan', () => {
  const jig = () =>
    makeJig(
      clipper,
      {
        outlines: [outlineOf(card), outlineOf(plaque, { id: '2-face', blank: 2 })],
        verdict: 'ok',
        reasons: [],
      },
      {
        job: { number: '7', name: 'Order' },
        pocket: { ...DEFAULT_POCKET, tool: { kind: 'beam', kerfMm: 0.2 }, speedMmPerS: 10 },
        bed: { ...DEFAULT_BED, columns: 3, boards: 2 },
        counts: { 1: 4, 2: 2 },
      },
    );

  it('says what to buy, what board and how long to cut it, and what is not laid', () => {
    const { plan, blanks } = jig();
    const order = orderOf(plan, blanks, { ...ORDER, pieces: { 1: 41, 2: 9, 5: 3 } });
    expect(order.perLoad).toEqual({ 1: 4, 2: 2 });
    expect(order).toMatchObject({ pieces: 50, loadCount: 11, buy: { 1: 43, 2: 10 } });
    // Steiner: the card's perimeter (ISO/IEC 7810 sizes), offset by clearance less half the kerf.
    const [one, two] = blanks.map(({ pocket }) => pocket.lengthMm);
    expect(one!).toBeCloseTo(273.7005 + 2 * Math.PI * (0.3 - 0.1), 1);
    expect(order.cutMin).toBeCloseTo((4 * one! + 2 * two!) / 600, 6);
    expect(order.boardM2).toBeCloseTo((2 * plan.usage!.boardMm2) / 1e6, 9);
    expect(order.reasons.map(({ code, facts }) => [code, facts['blank']])).toEqual([
      ['order-not-laid', '5'],
    ]);
    const words = orderWords(order, ORDER).join(' ');
    expect(words).toMatch(/4 loads of 6, then 1 of 5, part-filled, then 5 of 4, part-filled/);
    expect(words).toMatch(/43 of blank 1, 10 of blank 2, with 3 % spares/);
  });

  it('makes the plan of a part-filled load from the first pockets of each blank, where they are', () => {
    const { plan, blanks } = jig();
    const of = (id: string): number => blanks.find((b) => b.pocket.outlineId === id)!.blank;
    const part = partPlan(plan, of, { first: 5, pieces: { 1: 4, 2: 1 } });
    expect(part.pockets.map(({ id }) => id)).toEqual(['1', '2', '3', '4', '5']);
    expect(part.pockets).toEqual(plan.pockets.slice(0, 5));
    expect(part.digest).not.toBe(plan.digest);
    expect(part.bed).toEqual(plan.bed);
    expect(partPlan(plan, of, { first: 9, pieces: { 2: 2 } }).pockets.map(({ id }) => id)).toEqual([
      '5',
      '6',
    ]);
  });
});

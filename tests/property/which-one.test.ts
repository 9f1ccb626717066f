import fc from 'fast-check';
import { expect, it } from 'vitest';
import { DEFAULT_BED, DEFAULT_POCKET } from '../../src/job/jig.ts';
import { acceptJob, newJob } from '../../src/job/job.ts';
import { holdingOf } from '../../src/job/which.ts';
import {
  adviceOf,
  MAKERS,
  mayMm,
  SHAPES,
  WAYS,
  type Advice,
  type Holding,
} from '../../src/seat/advice.ts';

/* Laws that any advice of this kind must keep; the figures in it are common practice and have no source to be held against. */
const holding: fc.Arbitrary<Holding> = fc.record({
  shape: fc.constantFrom(...SHAPES),
  pieces: fc.integer({ min: 1, max: 5000 }),
  again: fc.boolean(),
  reach: fc.constantFrom('past' as const, 'short' as const),
  reachMm: fc.double({ min: 0, max: 12, noNaN: true }),
  thicknessMm: fc.option(fc.double({ min: 0.2, max: 120, noNaN: true })),
  narrowMm: fc.option(fc.double({ min: 3, max: 300, noNaN: true })),
  makers: fc.subarray([...MAKERS]),
});
const all = ({ best, others, not }: Advice) => [...(best ? [best] : []), ...others, ...not];

it('speaks of every way once, and advises none that something forbids', () => {
  fc.assert(
    fc.property(holding, (h) => {
      const advice = adviceOf(h);
      expect(
        all(advice)
          .map(({ way }) => way)
          .sort(),
      ).toEqual([...WAYS].sort());
      for (const a of [advice.best, ...advice.others]) {
        if (!a) continue;
        expect(a.against).toEqual([]);
        expect(a.landsMm).toBeLessThanOrEqual(mayMm(h));
        expect(a.minutes).toBeGreaterThanOrEqual(advice.best!.minutes);
      }
      for (const a of advice.not) expect(a.against.length).toBeGreaterThan(0);
      if (!advice.best) expect(advice.others).toEqual([]);
    }),
  );
});

it('one tool more never costs time, and a closer print never saves any', () => {
  fc.assert(
    fc.property(holding, fc.constantFrom(...MAKERS), (h, maker) => {
      const before = adviceOf(h).best?.minutes ?? Infinity;
      const more = adviceOf({ ...h, makers: [...new Set([...h.makers, maker])] }).best;
      expect(more?.minutes ?? Infinity).toBeLessThanOrEqual(before);
      const closer = adviceOf({ ...h, reachMm: h.reachMm / 2 }).best;
      expect(closer?.minutes ?? Infinity).toBeGreaterThanOrEqual(before);
    }),
  );
});

it('the longer the run, the quicker each piece goes in', () => {
  fc.assert(
    fc.property(holding, fc.integer({ min: 1, max: 5000 }), (h, further) => {
      const few = adviceOf(h).best;
      const many = adviceOf({ ...h, pieces: h.pieces + further }).best;
      expect(many?.eachS ?? 0).toBeLessThanOrEqual(few?.eachS ?? 0);
      const again = adviceOf({ ...h, again: true }).best;
      if (few && again) expect(again.eachS).toBeLessThanOrEqual(few.eachS);
    }),
  );
});

it('every way is the answer to something, none needed included', () => {
  const found = new Map<string, Holding>();
  const each = <T>(of: readonly T[], f: (v: T) => void): void => of.forEach(f);
  each(SHAPES, (shape) =>
    each([1, 12, 60, 3000], (pieces) =>
      each([-10, -1.2, 0.2, 0.5, 4], (reach) =>
        each([0.6, 6], (thicknessMm) =>
          each([[], ...MAKERS.map((m) => [m]), [...MAKERS]], (makers) =>
            each([false, true], (again) => {
              const h: Holding = {
                ...{ shape, pieces, thicknessMm, makers, again },
                ...{ reach: reach < 0 ? 'short' : 'past', reachMm: Math.abs(reach) },
                narrowMm: 40,
              };
              const { best } = adviceOf(h);
              if (best && !found.has(best.way)) found.set(best.way, h);
            }),
          ),
        ),
      ),
    ),
  );
  expect([...found.keys()].sort()).toEqual([...WAYS].sort());
});

it('says what a practitioner would', () => {
  const h: Holding = {
    shape: 'outline',
    pieces: 1,
    again: false,
    reach: 'short',
    reachMm: 10,
    thicknessMm: 5,
    narrowMm: 60,
    makers: ['hand', 'laser'],
  };
  expect(adviceOf(h).best?.way).toBe('none');
  expect(adviceOf({ ...h, pieces: 200, reach: 'past', reachMm: 1 }).best?.way).toBe('pocket-laser');
  expect(adviceOf({ ...h, shape: 'ball', reachMm: 4 }).best?.way).toBe('ball');
  expect(adviceOf({ ...h, shape: 'ware' }).best).toBeUndefined();
  expect(adviceOf({ ...h, shape: 'ware' }).not[0]).toMatchObject({
    way: 'wrap',
    against: ['It takes a rotary unit, which is not here.'],
  });
  const thin = adviceOf({ ...h, pieces: 200, reach: 'past', reachMm: 1, thicknessMm: 0.6 });
  expect(thin.not.find(({ way }) => way === 'pocket-laser')?.against[0]).toMatch(
    /0\.6 mm thick.*1 mm at least/,
  );
  const tall = adviceOf({ ...h, thicknessMm: 90, narrowMm: 30 });
  expect(tall.not.find(({ way }) => way === 'none')?.against[0]).toMatch(/tipping/);
  // Every sentence ends, and its figures have units.
  for (const a of all(tall))
    for (const s of [...a.because, ...a.against, ...a.besides]) {
      expect(s).toMatch(/^[A-Z0-9].*\.$/);
      expect(s.replace(/\d+ (runs|pieces?)/g, '')).not.toMatch(/\d(?![\d.]*( mm| min|-D| s))/);
    }
});

it('what was not answered follows from the job', () => {
  const square = [
    [0, 0],
    [80, 0],
    [80, 50],
    [0, 50],
  ].map(([x, y]) => ({ x: x!, y: y! }));
  const seat = { region: { outer: square, holes: [] }, thicknessMm: 3 };
  const bed = { ...DEFAULT_BED, rows: 2, columns: 3 };
  const job = { bed, pocket: DEFAULT_POCKET };
  expect(holdingOf(job, undefined)).toMatchObject({ shape: 'outline', thicknessMm: null });
  expect(holdingOf(job, seat)).toEqual({
    ...{ shape: 'square', pieces: 6, again: false, reach: 'past', reachMm: 2 },
    ...{ makers: ['hand', 'laser'], thicknessMm: 3, narrowMm: 50 },
  });
  const triangle = { ...seat, region: { outer: square.slice(0, 3), holes: [] } };
  expect(holdingOf({ ...job, holding: { pieces: 40, makers: [] } }, triangle)).toMatchObject({
    ...{ shape: 'outline', pieces: 40, makers: [] },
  });
  const kept = { ...newJob('1', 'a'), holding: { shape: 'soft' as const } };
  expect(acceptJob(kept).holding).toEqual({ shape: 'soft' });
  expect(() => acceptJob({ ...kept, holding: { shape: 'star' } })).toThrow(/holding/);
});

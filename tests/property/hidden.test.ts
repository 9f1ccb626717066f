import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { traceFile } from '../../src/cli/trace.ts';
import { CASES } from '../accuracy/cases.ts';
import { optionsOf } from '../accuracy/measure.ts';
import { ROOT } from '../accuracy/render.ts';

/**
 * A straight line drawn across a gap of length L misses a circular edge that turns by the angle a within it by L tan(a / 4) / 2 at
 * most (the sagitta): 0.1 L at 45 degrees, which is its standard uncertainty wherever on the gap, however many pieces it has.
 */
it('gives what is drawn across a gap an uncertainty by the length of the whole gap', async () => {
  const one = CASES.find((c) => c.name === 'g22-black-30-teal')!;
  const { trace } = await traceFile(
    readFileSync(join(ROOT, one.picture)),
    one.picture,
    optionsOf(one),
  );
  const gaps = trace.outlines.flatMap(({ region, hidden, u }) =>
    hidden.map(({ ring, from, to }) => {
      const points = [region.outer, ...region.holes][ring]!;
      const n = points.length;
      const within = Array.from({ length: ((to - from + n) % n) + 1 }, (_, k) => (from + k) % n);
      const lengthMm = within
        .slice(1)
        .reduce(
          (sum, k, m) =>
            sum +
            Math.hypot(points[k]!.x - points[within[m]!]!.x, points[k]!.y - points[within[m]!]!.y),
          0,
        );
      return { lengthMm, leastU: Math.min(...within.slice(1, -1).map((k) => u[ring]![k]!)) };
    }),
  );
  expect(gaps.some(({ lengthMm }) => lengthMm > 1)).toBe(true);
  for (const { lengthMm, leastU } of gaps) expect(leastU).toBeGreaterThan(0.099 * lengthMm);
});

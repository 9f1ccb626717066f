import { expect, it } from 'vitest';
import { cut } from '../../src/outline/cut.ts';

// Independent: all 4096 divisions of a 4 x 3 grid tried.
it('finds the cheapest division of small grids', () => {
  let state = 1;
  const random = (): number => (state = (state * 16807) % 2147483647) / 2147483647;
  const width = 4;
  const height = 3;
  const n = width * height;
  for (let round = 0; round < 200; round++) {
    const pull = Float32Array.from({ length: n }, () => Math.round((random() - 0.5) * 16) / 4);
    const right = Float32Array.from({ length: n }, (_, i) =>
      i % width < width - 1 ? Math.round(random() * 8) / 4 : 0,
    );
    const below = Float32Array.from({ length: n }, (_, i) =>
      i < n - width ? Math.round(random() * 8) / 4 : 0,
    );
    const cost = (object: (i: number) => number): number => {
      let sum = 0;
      for (let i = 0; i < n; i++) {
        if (!object(i)) sum += pull[i]!;
        if (i % width < width - 1 && object(i) !== object(i + 1)) sum += right[i]!;
        if (i < n - width && object(i) !== object(i + width)) sum += below[i]!;
      }
      return sum;
    };
    let least = Infinity;
    for (let division = 0; division < 1 << n; division++) {
      least = Math.min(
        least,
        cost((i) => (division >> i) & 1),
      );
    }
    const found = cut({ width, height, pull, right, below });
    expect(cost((i) => found[i]!)).toBeCloseTo(least, 4);
  }
});

import { expect, it } from 'vitest';
import { areaOf } from '../../src/check/area.ts';
import { modeOf, outlineOf } from '../outlines.ts';
import { roundedRectangle } from '../shapes.ts';

const square = { outer: roundedRectangle(80, 50, 5, 0.001, 60, 100), holes: [] };

it('an area known to a share s in scale is known to 2 s of itself', () => {
  const s = 3e-4;
  const modes = [modeOf(square, 'spans', (x, y) => [s * (x - 60), s * (y - 100)])];
  const { value, u } = areaOf({
    ...outlineOf(square, { modes, edgeU: 0 }),
    u: [new Float64Array(square.outer.length)],
  });
  // 80 x 50 less what the corners' quarter circles leave: (4 - pi) r².
  expect(value).toBeCloseTo(4000 - (4 - Math.PI) * 25, 1);
  expect(u / value).toBeCloseTo(2 * s, 6);
});

it('an edge that stands off by d all round is worth its perimeter times d (Steiner, first term)', () => {
  const d = 0.02;
  const n = square.outer.length;
  const normal = square.outer.map((_, k) => {
    const [a, b] = [square.outer[(k + n - 1) % n]!, square.outer[(k + 1) % n]!];
    const length = Math.hypot(b.x - a.x, b.y - a.y);
    return [(b.y - a.y) / length, (a.x - b.x) / length] as const;
  });
  const modes = [
    {
      source: 'edge bias' as const,
      dx: Float64Array.from(normal, ([x]) => d * x),
      dy: Float64Array.from(normal, ([, y]) => d * y),
    },
  ];
  const { u } = areaOf({ ...outlineOf(square, { modes, edgeU: 0 }), u: [new Float64Array(n)] });
  const perimeter = 2 * (70 + 40) + 2 * Math.PI * 5;
  expect(u / (perimeter * d)).toBeCloseTo(1, 3);
});

it('noise of the edge averages out along it', () => {
  const edgeU = 0.05;
  const { u } = areaOf(outlineOf(square, { modes: [], edgeU }));
  const perimeter = 2 * (70 + 40) + 2 * Math.PI * 5;
  // outlineOf adds 0.02 of its own to u.
  expect(u).toBeCloseTo(Math.hypot(edgeU, 0.02) * Math.sqrt(perimeter * 0.6), 2);
});

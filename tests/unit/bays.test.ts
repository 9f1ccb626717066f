import { expect, it } from 'vitest';
import type { RayVertex } from '../../src/geometry/radial.ts';
import { intoBays } from '../../src/outline/bays.ts';
import { cheapestWay } from '../../src/outline/cheapest-way.ts';
import type { Edge } from '../../src/outline/edge.ts';
import { lightsOf } from '../../src/outline/linear.ts';
import type { View } from '../../src/view/view.ts';

// A plate seen straight down, ten pixels to the millimetre at its face, with a bay 3 mm wide and 4 mm deep whose bottom is
// round. What fills the bay in the picture is its own wall.
const PX = 10;
const SIDE = 500;
const FACE_MM = 10;
const CAMERA_MM = 310;
const eye = {
  kind: 'camera',
  fPx: PX * (CAMERA_MM - FACE_MM),
  cxPx: SIDE / 2,
  cyPx: SIDE / 2,
  k1: 0,
  k2: 0,
  p1: 0,
  p2: 0,
  rotation: [1, 0, 0, 0, -1, 0, 0, 0, -1],
  centre: [25, 25, CAMERA_MM],
};
const view = { eye, blurPx: 0.6 } as unknown as View;
const STAGE = [40, 120, 110];
const FACE = [135, 25, 150];
const SHADED = [70, 12, 80];

/** How far a place lies outside the bay, mm: a slot from the plate's upper side, y = 40, about x = 25. */
const offBay = (x: number, y: number): number => Math.hypot(x - 25, Math.min(0, y - 37.5)) - 1.5;

function drawn(wall: readonly number[]) {
  const data = new Uint8Array(3 * SIDE * SIDE);
  for (let j = 0; j < SIDE; j++)
    for (let i = 0; i < SIDE; i++) {
      const [x, y] = [25 + (i - SIDE / 2) / PX, 25 - (j - SIDE / 2) / PX];
      const share = Math.min(1, Math.max(0, 0.5 + (offBay(x, y) * PX) / 2));
      const on = x > 10 && x < 40 && y > 10 && y < 40;
      for (let c = 0; c < 3; c++)
        data[3 * (j * SIDE + i) + c] = on ? share * FACE[c]! + (1 - share) * wall[c]! : STAGE[c]!;
    }
  return lightsOf({ widthPx: SIDE, heightPx: SIDE, channels: 3, data });
}

/** The plate's sides, 0.1 mm apart, and the straight piece that closes the bay. */
const side = (ax: number, ay: number, bx: number, by: number): RayVertex<'sheet'>[] => {
  const count = Math.round(Math.hypot(bx - ax, by - ay) * PX);
  return Array.from({ length: count }, (_, k) => ({
    x: ax + ((bx - ax) * k) / count,
    y: ay + ((by - ay) * k) / count,
    kind: 'far',
    from: 0,
    hiddenAfter: false,
  }));
};
const closed: RayVertex<'sheet'>[] = [
  ...side(10, 10, 40, 10),
  ...side(40, 10, 40, 40),
  ...side(40, 40, 26.5, 40),
  { x: 26.5, y: 40, kind: 'gap', from: 0, hiddenAfter: true },
  { x: 23.5, y: 40, kind: 'gap', from: 0, hiddenAfter: false },
  ...side(23.4, 40, 10, 40),
  ...side(10, 40, 10, 10),
];
/** The silhouette's own edge across the bay's mouth, where its wall ends before the stage. */
const mouth = {
  count: 60,
  x: Float64Array.from({ length: 60 }, (_, k) => SIDE / 2 - 30 + k),
  y: new Float64Array(60).fill(SIDE / 2 - 15 * PX),
} as unknown as Edge;
const looked = (wall: readonly number[], rings = [closed]): RayVertex<'sheet'>[][] =>
  intoBays(rings, [mouth], drawn(wall), view, FACE_MM, 1 / PX);

it('follows the rim of a face into a bay whose wall lies in shade', () => {
  const [ring] = looked(SHADED);
  const within = ring!.filter((v) => v.gapMm !== undefined);
  expect(Math.min(...within.map((v) => v.y))).toBeLessThan(36.1);
  for (const v of within.filter((v) => v.y < 39.5))
    expect(Math.abs(offBay(v.x, v.y))).toBeLessThan(0.12);
  // It is as hidden, and as uncertain, as the piece was.
  expect(within.every((v) => v.hiddenAfter && Math.abs(v.gapMm! - 3) < 1e-9)).toBe(true);
});

it('leaves a bay closed whose wall does not show, and where the hue changes: print ends there', () => {
  expect(looked(FACE)).toEqual([closed]);
  expect(looked([150, 150, 25])).toEqual([closed]);
});

it('leaves holes as they are', () => {
  const hole = [...closed].reverse().map((v, k, all) => ({
    ...v,
    hiddenAfter: all[(k + 1) % all.length]!.hiddenAfter,
  }));
  expect(looked(SHADED, [hole])).toEqual([hole]);
});

it('finds the cheapest way over a grid: no step makes any place cheaper', () => {
  const [width, high] = [17, 13];
  let state = 7;
  const random = (): number => (state = (state * 16_807) % 2_147_483_647) / 2_147_483_647;
  const cost = Float32Array.from({ length: width * high }, () => 0.05 + random());
  const open = Uint8Array.from(cost, () => (random() < 0.8 ? 1 : 0));
  const [from, to] = [0, width * high - 1];
  open[from] = open[to] = 1;
  const way = cheapestWay(
    open,
    cost,
    width,
    new Map([[from, { vertex: 0, cost: 0 }]]),
    new Map([[to, { vertex: 0, cost: 0 }]]),
  )!;
  // Bellman and Ford: every place is relaxed from all its neighbours until nothing changes.
  const least = new Float64Array(cost.length).fill(Infinity);
  least[from] = 0;
  for (let round = 0; round < cost.length; round++)
    for (let k = 0; k < cost.length; k++)
      for (let dy = -1; dy <= 1; dy++)
        for (let dx = -1; dx <= 1; dx++) {
          const [i, j] = [(k % width) + dx, Math.floor(k / width) + dy];
          if (i < 0 || j < 0 || i >= width || j >= high) continue;
          const m = j * width + i;
          if (open[k] && open[m])
            least[m] = Math.min(least[m]!, least[k]! + Math.hypot(dx, dy) * cost[m]!);
        }
  expect(way.spent).toBeCloseTo(least[to]!, 9);
  expect(way.places[0]).toBe(from);
  expect(way.places.at(-1)).toBe(to);
});

import { bilinear, type Plane } from '../vision/luma.ts';
import type { Saddles } from '../vision/saddles.ts';
import type { Fragment } from './grid.ts';

/** A check read from the picture; cell (a, b) lies between vertices (a, b) and (a + 1, b + 1) of its fragment. */
export interface Cell {
  readonly a: number;
  readonly b: number;
  readonly black: boolean;
  /** 0 no dot ... 1 dot; between and beyond where the picture is unclear. */
  readonly dot: number;
}

/** Half the side of the square on which a check's own tone is read, as a share of the pitch: between dot (0.2) and edge (0.5). */
const RIM = 0.36;
const LEAST_STEP_LEVELS = 8;

/**
 * Reads every check that touches a vertex of the fragment. Each is read against its own rim and its neighbours' rims,
 * so that uneven light cancels. Checks that disagree with the fragment's alternation are left out.
 *
 * @param toPlane factor and shift from saddle places to the plane read from (they may differ in scale)
 */
export function readCells(
  plane: Plane,
  fragment: Fragment,
  saddles: Pick<Saddles, 'x' | 'y'>,
  toPlane: (x: number, y: number) => { x: number; y: number } = (x, y) => ({ x, y }),
): Cell[] {
  const vertex = new Map<number, { x: number; y: number }>();
  for (const { a, b, saddle } of fragment.vertices) {
    vertex.set(key(a, b), toPlane(saddles.x[saddle]!, saddles.y[saddle]!));
  }
  interface Sum {
    a: number;
    b: number;
    n: number;
    x: number;
    y: number;
    ax: number;
    ay: number;
    bx: number;
    by: number;
  }
  const sums = new Map<number, Sum>();
  for (const { a, b } of fragment.vertices) {
    const o = vertex.get(key(a, b))!;
    const ea = axis(o, vertex.get(key(a - 1, b)), vertex.get(key(a + 1, b)));
    const eb = axis(o, vertex.get(key(a, b - 1)), vertex.get(key(a, b + 1)));
    if (!ea || !eb) continue;
    for (let da = -1; da <= 0; da++) {
      for (let db = -1; db <= 0; db++) {
        const k = key(a + da, b + db);
        let sum = sums.get(k);
        if (!sum) {
          sum = { a: a + da, b: b + db, n: 0, x: 0, y: 0, ax: 0, ay: 0, bx: 0, by: 0 };
          sums.set(k, sum);
        }
        sum.n++;
        sum.x += o.x + (da + 0.5) * ea.x + (db + 0.5) * eb.x;
        sum.y += o.y + (da + 0.5) * ea.y + (db + 0.5) * eb.y;
        sum.ax += ea.x;
        sum.ay += ea.y;
        sum.bx += eb.x;
        sum.by += eb.y;
      }
    }
  }
  const tones = new Map<number, { a: number; b: number; rim: number; centre: number }>();
  for (const [k, s] of sums) {
    const value = (u: number, v: number): number =>
      bilinear(plane, (s.x + u * s.ax + v * s.bx) / s.n, (s.y + u * s.ay + v * s.by) / s.n);
    const rim: number[] = [];
    for (let t = -2; t < 2; t++) {
      const w = (t / 2) * RIM;
      rim.push(value(w, -RIM), value(RIM, w), value(-w, RIM), value(-RIM, -w));
    }
    rim.sort((p, q) => p - q);
    let centre = 0;
    for (let u = -1; u <= 1; u++)
      for (let v = -1; v <= 1; v++) centre += value(u * 0.1, v * 0.1) / 9;
    const middle = (rim[7]! + rim[8]!) / 2;
    if (Number.isNaN(middle) || Number.isNaN(centre)) continue;
    tones.set(k, { a: s.a, b: s.b, rim: middle, centre });
  }
  const cells: Cell[] = [];
  let balance = 0;
  for (const { a, b, rim, centre } of tones.values()) {
    let sum = 0;
    let n = 0;
    for (const [da, db] of [
      [1, 0],
      [-1, 0],
      [0, 1],
      [0, -1],
    ] as const) {
      const other = tones.get(key(a + da, b + db));
      if (!other) continue;
      sum += other.rim;
      n++;
    }
    if (n === 0) continue;
    const step = sum / n - rim;
    if (Math.abs(step) < LEAST_STEP_LEVELS) continue;
    const black = step > 0;
    balance += black === (((a + b) & 1) === 0) ? 1 : -1;
    cells.push({ a, b, black, dot: (centre - rim) / step });
  }
  return cells.filter((c) => (c.black === (((c.a + c.b) & 1) === 0)) === balance >= 0);
}

const key = (a: number, b: number): number => (a + 4096) * 8192 + b + 4096;

interface Place {
  readonly x: number;
  readonly y: number;
}

function axis(o: Place, before: Place | undefined, after: Place | undefined): Place | undefined {
  if (before && after) return { x: (after.x - before.x) / 2, y: (after.y - before.y) / 2 };
  if (after) return { x: after.x - o.x, y: after.y - o.y };
  if (before) return { x: o.x - before.x, y: o.y - before.y };
  return undefined;
}

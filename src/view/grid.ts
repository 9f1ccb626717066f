import type { Saddles } from '../vision/saddles.ts';

/**
 * A piece of checker grown from saddles: vertex (a, b) of its own lattice -> saddle. Its axes are such that b runs a quarter
 * turn counter-clockwise (as seen) from a, so an unmirrored sheet differs from it by a turn and a shift only.
 */
export interface Fragment {
  readonly vertices: readonly { readonly a: number; readonly b: number; readonly saddle: number }[];
}

/** Greatest length of a step between neighbouring corners, plane px. */
const REACH = 48;
const WITHIN = Math.cos((17 * Math.PI) / 180);
/** Neighbours along an edge have their bright diagonals crossed, to within 30 degrees. */
const CROSSED = Math.cos((60 * Math.PI) / 180);
const LEAST_STEP = 3;

/** Steps of a fragment's directions: +a, +b, -a, -b. */
const STEPS = [
  [1, 0],
  [0, 1],
  [-1, 0],
  [0, -1],
] as const;

/**
 * Grows lattices of alternating corners; largest first.
 *
 * Each saddle looks along its four edges (at 45 degrees to the bright diagonal) for the nearest saddle of opposite polarity;
 * a link counts when it is mutual and about as long as the links already followed.
 */
export function growFragments(saddles: Saddles): Fragment[] {
  const links = mutual(nearest(saddles));
  const { count, x, y } = saddles;
  const taken = new Uint8Array(count);
  const fragments: Fragment[] = [];
  for (let seed = 0; seed < count; seed++) {
    if (taken[seed]) continue;
    // Direction index d of a saddle points along edge angle0 + d·90 degrees, counter-clockwise as seen.
    const place = new Map<number, number>();
    const at: { a: number; b: number; saddle: number }[] = [];
    const turn: number[] = [];
    const step: number[] = [];
    const put = (saddle: number, a: number, b: number, d: number, length: number): void => {
      taken[saddle] = 1;
      place.set(key(a, b), saddle);
      at.push({ a, b, saddle });
      turn.push(d);
      step.push(length);
    };
    put(seed, 0, 0, 0, 0);
    for (let k = 0; k < at.length; k++) {
      const { a, b, saddle } = at[k]!;
      for (let d = 0; d < 4; d++) {
        const own = (d + turn[k]!) & 3;
        const other = links[4 * saddle + own]!;
        if (other < 0 || taken[other]) continue;
        const length = Math.hypot(x[other]! - x[saddle]!, y[other]! - y[saddle]!);
        if (step[k]! > 0 && (length < 0.6 * step[k]! || length > 1.67 * step[k]!)) continue;
        const na = a + STEPS[d]![0];
        const nb = b + STEPS[d]![1];
        if (place.has(key(na, nb))) continue;
        // The other saddle's own index for the way back tells how its indices are turned against the fragment's.
        const back = backIndex(links, other, saddle);
        put(other, na, nb, (back - (d + 2) + 8) & 3, length);
      }
    }
    if (at.length >= 4) fragments.push({ vertices: at });
  }
  return fragments.sort((p, q) => q.vertices.length - p.vertices.length);
}

const key = (a: number, b: number): number => (a + 4096) * 8192 + b + 4096;

const backIndex = (links: Int32Array, from: number, to: number): number => {
  for (let d = 0; d < 4; d++) if (links[4 * from + d] === to) return d;
  return 0;
};

/** Nearest fitting neighbour of each saddle along each of its four edges, -1 where there is none. */
function nearest(saddles: Saddles): Int32Array {
  const { count, x, y, bright } = saddles;
  const links = new Int32Array(4 * count).fill(-1);
  const best = new Float64Array(4 * count).fill(Infinity);
  const cell = 16;
  const buckets = new Map<number, number[]>();
  const bucket = (i: number, j: number): number => i * 65536 + j;
  for (let k = 0; k < count; k++) {
    const at = bucket(Math.floor(x[k]! / cell), Math.floor(y[k]! / cell));
    const list = buckets.get(at);
    if (list) list.push(k);
    else buckets.set(at, [k]);
  }
  const rings = Math.ceil(REACH / cell);
  for (let k = 0; k < count; k++) {
    const bi = Math.floor(x[k]! / cell);
    const bj = Math.floor(y[k]! / cell);
    // Edges, counter-clockwise as seen in a picture whose y runs down.
    const edge = bright[k]! - Math.PI / 4;
    const c = Math.cos(edge);
    const s = Math.sin(edge);
    for (let i = bi - rings; i <= bi + rings; i++) {
      for (let j = bj - rings; j <= bj + rings; j++) {
        for (const other of buckets.get(bucket(i, j)) ?? []) {
          if (other === k) continue;
          const dx = x[other]! - x[k]!;
          const dy = y[other]! - y[k]!;
          const length = Math.hypot(dx, dy);
          if (length > REACH || length < LEAST_STEP) continue;
          const along = (dx * c + dy * s) / length;
          const across = (dx * s - dy * c) / length;
          const d =
            along > WITHIN
              ? 0
              : across > WITHIN
                ? 1
                : along < -WITHIN
                  ? 2
                  : across < -WITHIN
                    ? 3
                    : -1;
          if (d < 0 || length >= best[4 * k + d]!) continue;
          // cos of twice the angle between the diagonals: -1 when crossed.
          if (Math.cos(2 * (bright[other]! - bright[k]!)) > -CROSSED) continue;
          best[4 * k + d] = length;
          links[4 * k + d] = other;
        }
      }
    }
  }
  return links;
}

/** Keeps the links that both ends chose. */
function mutual(links: Int32Array): Int32Array {
  const out = new Int32Array(links.length).fill(-1);
  for (let at = 0; at < links.length; at++) {
    const k = at >> 2;
    const other = links[at]!;
    if (other < 0) continue;
    for (let d = 0; d < 4; d++) if (links[4 * other + d] === k) out[at] = other;
  }
  return out;
}

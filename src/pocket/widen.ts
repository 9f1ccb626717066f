import type { Frame, Point } from '../base/measure.ts';
import type { Clipper } from '../geometry/clipper.ts';
import type { Region, Ring } from '../geometry/shape.ts';

/** Into so many steps the range of additions is cut; each stretch is grown by the largest addition within its step. */
const STEPS = 8;
/** Additions that differ by less than this are one, mm. */
const LEAST_STEP_MM = 0.02;

/** Consecutive indices of a ring for which `of` holds: first and last, both included; first > last runs over the end. */
export function runsOf(count: number, of: (k: number) => boolean): [number, number][] {
  const flags = Array.from({ length: count }, (_, k) => of(k));
  if (flags.every(Boolean)) return count > 0 ? [[0, count - 1]] : [];
  const runs: [number, number][] = [];
  for (let k = 0; k < count; k++) {
    if (!flags[k] || flags[(k + count - 1) % count]) continue;
    let end = k;
    while (flags[(end + 1) % count]) end = (end + 1) % count;
    runs.push([k, end]);
  }
  return runs;
}

/** Vertices of a ring from one index to another, both included, over the ring's end where from > to. */
export function stretchOf<F extends Frame>(ring: Ring<F>, from: number, to: number): Point<F>[] {
  const n = ring.length;
  const count = ((to - from + n) % n) + 1;
  return Array.from({ length: count }, (_, i) => ring[(from + i) % n]!);
}

/**
 * A ring grown by `leastMm` everywhere and by `addedMm` more at each vertex: along every edge by at least the larger
 * addition of its two ends, and by no more than that and one step of additions (an eighth of their range, 0.02 mm at
 * least). Errs outward by at most the clipper's arc tolerance.
 */
export function grown<F extends Frame>(
  clipper: Clipper,
  ring: Ring<F>,
  leastMm: number,
  addedMm: ArrayLike<number>,
): Region<F>[] {
  const n = ring.length;
  const added = Array.from({ length: n }, (_, k) => Math.max(0, addedMm[k] ?? 0));
  const low = Math.min(...added);
  const high = Math.max(...added);
  const solid: Region<F> = { outer: ring, holes: [] };
  const step = Math.max(LEAST_STEP_MM, (high - low) / STEPS);
  const level = added.map((v) => (v <= low + 1e-9 ? 0 : Math.ceil((v - low) / step - 1e-9)));
  let all = clipper.offset([solid], leastMm + low, 'outward');
  for (const l of new Set(level.filter((v) => v > 0))) {
    for (const [from, to] of runsOf(n, (k) => level[k] === l)) {
      const most = Math.max(
        ...stretchOf(
          added.map((v) => ({ x: v, y: 0 })),
          from,
          to,
        ).map((p) => p.x),
      );
      // With its neighbours a run of all vertices but one, or two, comes round to where it began.
      const whole = (to - from + n) % n >= n - 3;
      const line = whole ? [...ring, ring[0]!] : stretchOf(ring, (from + n - 1) % n, (to + 1) % n);
      all = clipper.union(all, clipper.stroke([line], leastMm + most));
    }
  }
  return all;
}

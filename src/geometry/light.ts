import simplify from 'simplify-js';
import type { Frame, Point } from '../base/measure.ts';
import { signedArea } from './measure.ts';
import type { Ring } from './shape.ts';

/**
 * A ring with few vertices for the screen, never farther than `toleranceMm` from the full one (Douglas and Peucker, through
 * simplify-js). The ring is split at two far vertices, so that the seam is no arbitrary corner. Where thinning would make
 * it cross itself or turn over, the tolerance is halved until it does not.
 *
 * @param toleranceMm greatest distance of a left-out vertex from the new ring, > 0
 */
export function lightRing<F extends Frame>(ring: Ring<F>, toleranceMm: number): Ring<F> {
  if (ring.length <= 4) return ring;
  const first = farthest(ring, ring[0]!);
  const second = farthest(ring, ring[first]!);
  const [a, b] = first < second ? [first, second] : [second, first];
  for (let tolerance = toleranceMm; tolerance > toleranceMm / 64; tolerance /= 2) {
    // High quality: the quick first pass would add its own tolerance.
    const half = simplify(ring.slice(a, b + 1) as Point<F>[], tolerance, true);
    const rest = simplify(
      [...ring.slice(b), ...ring.slice(0, a + 1)] as Point<F>[],
      tolerance,
      true,
    );
    const light = [...half.slice(0, -1), ...rest.slice(0, -1)] as Point<F>[];
    if (light.length >= 3 && signedArea(light) * signedArea(ring) > 0 && isSimple(light))
      return light;
  }
  return ring;
}

function farthest(ring: Ring<Frame>, from: { x: number; y: number }): number {
  let best = 0;
  let most = -1;
  ring.forEach((p, k) => {
    const d = (p.x - from.x) ** 2 + (p.y - from.y) ** 2;
    if (d > most) {
      most = d;
      best = k;
    }
  });
  return best;
}

/** Whether no two sides of a ring cross; neighbours may share their vertex. */
export function isSimple<F extends Frame>(ring: Ring<F>): boolean {
  const n = ring.length;
  const order = Array.from({ length: n }, (_, k) => k);
  const left = (k: number): number => Math.min(ring[k]!.x, ring[(k + 1) % n]!.x);
  const right = (k: number): number => Math.max(ring[k]!.x, ring[(k + 1) % n]!.x);
  order.sort((p, q) => left(p) - left(q));
  for (let i = 0; i < n; i++) {
    const p = order[i]!;
    for (let j = i + 1; j < n && left(order[j]!) <= right(p); j++) {
      const q = order[j]!;
      if ((p + 1) % n === q || (q + 1) % n === p) continue;
      if (crosses(ring[p]!, ring[(p + 1) % n]!, ring[q]!, ring[(q + 1) % n]!)) return false;
    }
  }
  return true;
}

interface Place {
  readonly x: number;
  readonly y: number;
}

function crosses(a: Place, b: Place, c: Place, d: Place): boolean {
  const turn = (p: Place, q: Place, r: Place): number =>
    Math.sign((q.x - p.x) * (r.y - p.y) - (q.y - p.y) * (r.x - p.x));
  return turn(a, b, c) * turn(a, b, d) < 0 && turn(c, d, a) * turn(c, d, b) < 0;
}

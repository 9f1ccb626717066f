import type { Frame, Point } from '../base/measure.ts';
import type { Ring } from '../geometry/shape.ts';

/** A ring that turns by less than this within what the lens resolves has no tip there, radians. */
const TIP_TURN_RAD = 0.6;
/** Share of a tip's unseen length that is its standard uncertainty. */
const TIP_SHARE = 0.5;
/** An unseen length is given as at most this many resolved widths. */
const TIP_LONGEST = 10;

/** A corner whose end the picture cannot show: the tip of a point, or the bottom of a cleft. */
export interface Tip {
  readonly vertex: number;
  readonly unseenMm: number;
}

/** Length along a ring from vertex 0 to each vertex, and at last all round, mm. */
function lengthsAlong<F extends Frame>(ring: Ring<F>): Float64Array {
  const along = new Float64Array(ring.length + 1);
  ring.forEach((p, k) => {
    const q = ring[(k + 1) % ring.length]!;
    along[k + 1] = along[k]! + Math.hypot(q.x - p.x, q.y - p.y);
  });
  return along;
}

/**
 * The tips and clefts of a ring. Where the two sides of a corner are nearer to each other than the lens can tell apart,
 * w, its end is drawn on from its sides and not seen: with an opening angle a over a length of w / (2 tan(a/2)).
 *
 * @param resolvedMm w, > 0
 */
export function tipsOf<F extends Frame>(ring: Ring<F>, resolvedMm: number): Tip[] {
  const n = ring.length;
  const along = lengthsAlong(ring);
  const total = along[n]!;
  const placeAt = (s: number, near: number): Point<F> => {
    const wrapped = ((s % total) + total) % total;
    let k = near;
    while (along[k]! > wrapped) k = (k + n - 1) % n;
    while (along[k + 1]! < wrapped) k = (k + 1) % n;
    const p = ring[k]!;
    const q = ring[(k + 1) % n]!;
    const t = (wrapped - along[k]!) / (along[k + 1]! - along[k]! || 1);
    return { x: p.x + t * (q.x - p.x), y: p.y + t * (q.y - p.y) };
  };
  const turn = Float64Array.from(ring, (_, k) => {
    const [a, b, c, d] = [-2, -0.5, 0.5, 2].map((w) => placeAt(along[k]! + w * resolvedMm, k));
    const [ux, uy, vx, vy] = [b!.x - a!.x, b!.y - a!.y, d!.x - c!.x, d!.y - c!.y];
    return Math.abs(Math.atan2(ux * vy - uy * vx, ux * vx + uy * vy));
  });
  const first = turn.findIndex((t) => t < TIP_TURN_RAD);
  if (first < 0) return [];
  // One tip for each run of vertices that turn: its middle, where the turn is about the greatest.
  const tips: Tip[] = [];
  let run: number[] = [];
  for (let step = 1; step <= n; step++) {
    const k = (first + step) % n;
    if (turn[k]! >= TIP_TURN_RAD) run.push(k);
    else if (run.length) {
      const sharp = Math.max(...run.map((v) => turn[v]!));
      const top = run.filter((v) => turn[v]! > 0.99 * sharp);
      const unseen = resolvedMm / (2 * Math.tan((Math.PI - sharp) / 2));
      tips.push({
        vertex: top[top.length >> 1]!,
        unseenMm: Math.min(TIP_LONGEST * resolvedMm, unseen),
      });
      run = [];
    }
  }
  return tips;
}

/** Standard uncertainty (mm) at each vertex that comes from tips and clefts: greatest at the tip, falling to nothing. */
export function tipUncertainty<F extends Frame>(ring: Ring<F>, resolvedMm: number): Float64Array {
  const n = ring.length;
  const along = lengthsAlong(ring);
  const out = new Float64Array(n);
  for (const { vertex, unseenMm } of tipsOf(ring, resolvedMm)) {
    // Half way out the sides are told apart again, but the curves drawn through them lean on the tip.
    const reach = 2 * Math.max(unseenMm, resolvedMm);
    for (const direction of [1, -1]) {
      for (let step = 0; step < n; step++) {
        const k = (((vertex + direction * step) % n) + n) % n;
        const apart = Math.abs(along[k]! - along[vertex]!);
        const distance = Math.min(apart, along[n]! - apart);
        if (distance > reach) break;
        out[k] = Math.max(out[k]!, TIP_SHARE * unseenMm * Math.min(1, 2 * (1 - distance / reach)));
      }
    }
  }
  return out;
}

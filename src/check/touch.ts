import type { Point } from '../base/measure.ts';
import { nearestOnRing } from '../geometry/measure.ts';
import type { Outline } from '../outline/outline.ts';
import type { Source } from '../view/view.ts';
import type { Dimension } from './check.ts';

/** Places this close to a jaw are in contact with it, mm. */
const CONTACT_DEPTH_MM = 0.01;
/** Noise of the edge is independent from one such length to the next: about six pixels at 0.1 mm/px. */
export const EDGE_CORRELATION_MM = 0.6;

/** A place on the edge, and how the outline's vertices (counted over all rings) share in it. */
export interface Sample {
  readonly at: Point<'sheet'>;
  readonly ring: number;
  /** Vertices within the ring, and their weights; they add up to 1. */
  readonly share: readonly (readonly [vertex: number, weight: number])[];
  /** The first vertex of its ring among the vertices of all rings. */
  readonly first: number;
}

/** One end of a dimension. */
export interface Touch {
  readonly at: Point<'sheet'>;
  /** How the value changes when vertex k (counted over all rings) moves by (x, y). */
  readonly pulls: readonly (readonly [vertex: number, x: number, y: number])[];
  readonly samples: readonly Sample[];
  /** How many independent places of the edge the samples stand for. */
  readonly independent: number;
}

export const ringsOf = ({ region }: Outline): readonly (readonly Point<'sheet'>[])[] => [
  region.outer,
  ...region.holes,
];

/**
 * Places along one ring: its vertices and, where a step is given, places between them no farther apart than that.
 *
 * @param near keep only what lies within `reachMm` of a place along the ring; in the order of the ring
 */
export function samplesOf(
  outline: Outline,
  ringIndex: number,
  stepMm = Infinity,
  near?: { readonly edge: number; readonly at: Point<'sheet'>; readonly reachMm: number },
): Sample[] {
  const rings = ringsOf(outline);
  const ring = rings[ringIndex]!;
  const first = rings.slice(0, ringIndex).reduce((sum, { length }) => sum + length, 0);
  const count = ring.length;
  const onEdge = (k: number, t: number): Sample => {
    const p = ring[k]!;
    const q = ring[(k + 1) % count]!;
    return {
      at: { x: p.x + t * (q.x - p.x), y: p.y + t * (q.y - p.y) },
      ring: ringIndex,
      first,
      share:
        t === 0
          ? [[k, 1]]
          : [
              [k, 1 - t],
              [(k + 1) % count, t],
            ],
    };
  };
  const lengthOf = (k: number): number => {
    const p = ring[k]!;
    const q = ring[(k + 1) % count]!;
    return Math.hypot(q.x - p.x, q.y - p.y);
  };
  if (!near) {
    const out: Sample[] = [];
    for (let k = 0; k < count; k++) {
      const steps = Math.max(1, Math.ceil(lengthOf(k) / stepMm));
      for (let i = 0; i < steps; i++) out.push(onEdge(k, i / steps));
    }
    return out;
  }
  // Walk both ways from the place until the reach is used up, once round at most.
  const edgeMm = lengthOf(near.edge) || 1;
  const p = ring[near.edge]!;
  const t0 = Math.min(1, Math.hypot(near.at.x - p.x, near.at.y - p.y) / edgeMm);
  const steps = Math.max(1, Math.ceil(near.reachMm / stepMm));
  const walk = (forward: boolean): Sample[] => {
    const out: Sample[] = [];
    let k = near.edge;
    let at = t0 * edgeMm;
    for (let i = 1; i <= steps; i++) {
      let left = near.reachMm / steps;
      for (let guard = 0; guard <= count; guard++) {
        const room = forward ? lengthOf(k) - at : at;
        if (left <= room) {
          at += forward ? left : -left;
          break;
        }
        left -= room;
        k = (k + (forward ? 1 : count - 1)) % count;
        at = forward ? 0 : lengthOf(k);
      }
      out.push(onEdge(k, lengthOf(k) > 0 ? at / lengthOf(k) : 0));
    }
    return out;
  };
  return [...walk(false).reverse(), onEdge(near.edge, t0), ...walk(true)];
}

/** The place of the edge nearest to p, over all rings. */
export function nearestEdge(
  outline: Outline,
  p: Point<'sheet'>,
): { ring: number; edge: number; at: Point<'sheet'>; distanceMm: number } {
  return ringsOf(outline)
    .map((ring, k) => ({ ring: k, ...nearestOnRing<'sheet'>(ring, p) }))
    .reduce((a, b) => (b.distanceMm < a.distanceMm ? b : a));
}

/** Variance of the edge's own noise at a sample, mm². */
const edgeVarianceAt = (outline: Outline, { ring, share }: Sample): number =>
  share.reduce((sum, [k, w]) => sum + w * outline.edgeU[ring]![k]! ** 2, 0);

/** Variance that the outline's own `u` holds beyond its modes and its edge noise: the fitted curve. mm². */
function fitVarianceAt(outline: Outline, { ring, first, share }: Sample): number {
  const vertices = ringsOf(outline)[ring]!;
  const count = vertices.length;
  return share.reduce((sum, [k, weight]) => {
    const before = vertices[(k + count - 1) % count]!;
    const after = vertices[(k + 1) % count]!;
    const length = Math.hypot(after.x - before.x, after.y - before.y) || 1;
    const [nx, ny] = [(after.y - before.y) / length, (before.x - after.x) / length];
    let shared = outline.edgeU[ring]![k]! ** 2;
    for (const { dx, dy } of outline.modes)
      shared += (nx * dx[first + k]! + ny * dy[first + k]!) ** 2;
    return sum + weight * Math.max(0, outline.u[ring]![k]! ** 2 - shared);
  }, 0);
}

const mean = <T>(of: readonly T[], value: (t: T) => number): number =>
  of.reduce((sum, t) => sum + value(t), 0) / of.length;

/**
 * A flat jaw that lies against the samples at `reachMm` along n (unit, pointing out of the jaw's way): what touches is
 * what lies within 0.01 mm of it, and the jaw moves as the mean of that does.
 */
export function jaw(samples: readonly Sample[], n: Point<'sheet'>, reachMm: number): Touch {
  const depth = (s: Sample): number => reachMm - (n.x * s.at.x + n.y * s.at.y);
  const least = Math.min(...samples.map((s) => Math.abs(depth(s))));
  const touching = samples.filter((s) => Math.abs(depth(s)) <= Math.max(CONTACT_DEPTH_MM, least));
  const along = touching.map((s) => -n.y * s.at.x + n.x * s.at.y);
  const length = Math.max(...along) - Math.min(...along);
  const at = { x: mean(touching, (s) => s.at.x), y: mean(touching, (s) => s.at.y) };
  return { at, ...pullOf(touching, () => [n.x / touching.length, n.y / touching.length], length) };
}

/**
 * How a value moves with its samples, each pulled by (x, y).
 *
 * @param lengthMm of edge that the samples stand for: noise is independent from one `EDGE_CORRELATION_MM` to the next
 */
export function pullOf(
  samples: readonly Sample[],
  pull: (k: number) => readonly [x: number, y: number],
  lengthMm: number,
): Omit<Touch, 'at'> {
  const pulls = samples.flatMap(({ share, first }, k) => {
    const [x, y] = pull(k);
    return share.map(([vertex, w]) => [first + vertex, w * x, w * y] as const);
  });
  const independent = Math.max(1, Math.min(samples.length, lengthMm / EDGE_CORRELATION_MM));
  return { pulls, samples, independent };
}

/** Whether a sample lies on a stretch that was hidden or is doubtful. */
function unseenAt({ hidden, doubtful, region }: Outline, { ring, share }: Sample): boolean {
  const count = [region.outer, ...region.holes][ring]!.length;
  return [...hidden, ...doubtful].some((s) => {
    if (s.ring !== ring) return false;
    const span = (s.to - s.from + count) % count;
    return share.every(([k]) => (k - s.from + count) % count <= span);
  });
}

/**
 * A dimension from the ends that carry it. Modes act on both ends at once, so what they have in common cancels or adds as
 * it truly does (JCGM 100, 5.2); the edge's own noise is averaged over each contact; the curve fit is not.
 *
 * @param variances of the edge's noise and of the curve fit, where the ends are not two jaws
 * @param shifts of the value with each mode, where the ends do not tell
 */
export function dimensionOf(
  outline: Outline,
  kind: Dimension['kind'],
  directionRad: number,
  valueMm: number,
  ends: readonly [Touch, Touch],
  variances?: { readonly edge: number; readonly fit: number },
  shifts = Float64Array.from(outline.modes, ({ dx, dy }) =>
    ends.reduce(
      (sum, { pulls }) => pulls.reduce((s, [k, x, y]) => s + x * dx[k]! + y * dy[k]!, sum),
      0,
    ),
  ),
): Dimension {
  const edge =
    variances?.edge ??
    ends.reduce(
      (sum, e) => sum + mean(e.samples, (s) => edgeVarianceAt(outline, s)) / e.independent,
      0,
    );
  const fit =
    variances?.fit ??
    ends.reduce((sum, e) => sum + mean(e.samples, (s) => fitVarianceAt(outline, s)), 0);
  const variance = new Map<Source, number>();
  const add = (source: Source, value: number): void => {
    // Less than a hundredth of a nanometre is rounding.
    if (value > 1e-16) variance.set(source, (variance.get(source) ?? 0) + value);
  };
  outline.modes.forEach(({ source }, k) => add(source, shifts[k]! ** 2));
  add('edge', edge);
  add('curve fit', fit);
  const total = [...variance.values()].reduce((sum, v) => sum + v, 0);
  return {
    kind,
    directionRad,
    valueMm,
    u: Math.sqrt(total),
    touches: [ends[0].at, ends[1].at],
    budget: [...variance]
      .sort(([, p], [, q]) => q - p)
      .map(([source, v]) => ({ source, u: Math.sqrt(v), share: v / total })),
    shifts,
    ownVariance: edge + fit,
    unseen: ends.some(
      (e) => e.samples.filter((s) => unseenAt(outline, s)).length > e.samples.length / 2,
    ),
  };
}

/** Mean variance of the edge's own noise and of the curve fit over some samples, mm². */
export const meanVariances = (
  outline: Outline,
  samples: readonly Sample[],
): { readonly edge: number; readonly fit: number } => ({
  edge: mean(samples, (s) => edgeVarianceAt(outline, s)),
  fit: mean(samples, (s) => fitVarianceAt(outline, s)),
});

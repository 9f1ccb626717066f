import type { Point } from '../base/measure.ts';
import { nearestOnRing } from '../geometry/measure.ts';
import type { CurveRing, Ring, Segment } from '../geometry/shape.ts';
import type { Outline } from '../outline/outline.ts';
import { ringsOf } from './touch.ts';

type P = Point<'sheet'>;

/** An arc that is moved stays one where it leaves its true image by less, mm. */
const ARC_MM = 0.001;
/** Cubics that stand in for an arc turn by at most this much: they leave it by less than a millionth of its radius. */
const CUBIC_RAD = Math.PI / 6;

/**
 * Region and curves of an outline whose vertices (outer ring, then holes, in order) move by (dx, dy), mm. Between and beside
 * the vertices the move is the affine one that fits it best, and what is left over of the nearest edge's.
 */
export function movedBy(
  outline: Outline,
  dx: Float64Array,
  dy: Float64Array,
): Pick<Outline, 'region' | 'curves'> {
  const rings = ringsOf(outline);
  const all = rings.flat();
  const affine = affineOf(all, dx, dy);
  const firsts = rings.map((_, r) =>
    rings.slice(0, r).reduce((sum, { length }) => sum + length, 0),
  );
  const moveNear = (r: number): ((p: P) => P) => {
    const ring = rings[r]!;
    return (p) => {
      const { edge, at } = nearestOnRing<'sheet'>(ring, p);
      const [a, b] = [edge, (edge + 1) % ring.length] as const;
      const length = Math.hypot(ring[b]!.x - ring[a]!.x, ring[b]!.y - ring[a]!.y) || 1;
      const t = Math.hypot(at.x - ring[a]!.x, at.y - ring[a]!.y) / length;
      const left = (k: number): P => {
        const m = affine(ring[k]!);
        return { x: dx[firsts[r]! + k]! - m.x, y: dy[firsts[r]! + k]! - m.y };
      };
      const [la, lb, m] = [left(a), left(b), affine(p)];
      return {
        x: p.x + m.x + (1 - t) * la.x + t * lb.x,
        y: p.y + m.y + (1 - t) * la.y + t * lb.y,
      };
    };
  };
  const region = rings.map((ring, r): Ring<'sheet'> =>
    ring.map((p, k) => ({ x: p.x + dx[firsts[r]! + k]!, y: p.y + dy[firsts[r]! + k]! })),
  );
  const { curves } = outline;
  return {
    region: { outer: region[0]!, holes: region.slice(1) },
    curves: {
      outer: movedCurve(curves.outer, moveNear(0)),
      holes: curves.holes.map((c, k) => movedCurve(c, moveNear(k + 1))),
    },
  };
}

/** The affine displacement that comes nearest to those given, least squares. */
function affineOf(points: readonly P[], dx: Float64Array, dy: Float64Array): (p: P) => P {
  const n = points.length;
  const mean = (of: ArrayLike<number>): number => Array.from(of).reduce((a, b) => a + b, 0) / n;
  const [mx, my] = [mean(points.map((p) => p.x)), mean(points.map((p) => p.y))];
  const [ux, uy] = [mean(dx), mean(dy)];
  let [xx, xy, yy, xu, yu, xv, yv] = [0, 0, 0, 0, 0, 0, 0];
  points.forEach((p, k) => {
    const [x, y] = [p.x - mx, p.y - my];
    xx += x * x;
    xy += x * y;
    yy += y * y;
    xu += x * dx[k]!;
    yu += y * dx[k]!;
    xv += x * dy[k]!;
    yv += y * dy[k]!;
  });
  const det = xx * yy - xy * xy || 1;
  const [a, b] = [(xu * yy - yu * xy) / det, (yu * xx - xu * xy) / det];
  const [c, d] = [(xv * yy - yv * xy) / det, (yv * xx - xv * xy) / det];
  return (p) => ({
    x: ux + a * (p.x - mx) + b * (p.y - my),
    y: uy + c * (p.x - mx) + d * (p.y - my),
  });
}

function movedCurve(
  { start, segments }: CurveRing<'sheet'>,
  move: (p: P) => P,
): CurveRing<'sheet'> {
  const out: Segment<'sheet'>[] = [];
  let from = start;
  for (const s of segments) {
    if (s.kind === 'line') out.push({ kind: 'line', to: move(s.to) });
    else if (s.kind === 'cubic')
      out.push({ kind: 'cubic', c1: move(s.c1), c2: move(s.c2), to: move(s.to) });
    else out.push(...movedArc(from, s, move));
    from = s.to;
  }
  return { start: move(start), segments: out };
}

/** An arc between two places with the sweep it had, where that is what the move makes of it; otherwise cubics. */
function movedArc(
  from: P,
  arc: Extract<Segment<'sheet'>, { kind: 'arc' }>,
  move: (p: P) => P,
): Segment<'sheet'>[] {
  const { centre: c, sweepRad } = arc;
  const radius = Math.hypot(from.x - c.x, from.y - c.y);
  const first = Math.atan2(from.y - c.y, from.x - c.x);
  const on = (t: number): P => ({
    x: c.x + radius * Math.cos(first + t * sweepRad),
    y: c.y + radius * Math.sin(first + t * sweepRad),
  });
  const centre = move(c);
  const [a, b] = [move(from), move(arc.to)];
  const r = Math.hypot(a.x - centre.x, a.y - centre.y);
  const round = [0.2, 0.4, 0.6, 0.8, 1].every((t) => {
    const q = move(t === 1 ? arc.to : on(t));
    return Math.abs(Math.hypot(q.x - centre.x, q.y - centre.y) - r) < ARC_MM;
  });
  if (round) {
    const turn =
      Math.atan2(b.y - centre.y, b.x - centre.x) - Math.atan2(a.y - centre.y, a.x - centre.x);
    // The same way round as before, by what differs from it the least.
    const swept = turn + 2 * Math.PI * Math.round((sweepRad - turn) / (2 * Math.PI));
    return [{ kind: 'arc', to: b, centre, sweepRad: swept }];
  }
  const pieces = Math.max(1, Math.ceil(Math.abs(sweepRad) / CUBIC_RAD));
  const step = sweepRad / pieces;
  const reach = (4 / 3) * Math.tan(step / 4) * radius;
  return Array.from({ length: pieces }, (_, k): Segment<'sheet'> => {
    const [p, q] = [on(k / pieces), k === pieces - 1 ? arc.to : on((k + 1) / pieces)];
    const [ap, aq] = [first + k * step, first + (k + 1) * step];
    return {
      kind: 'cubic',
      c1: move({ x: p.x - reach * Math.sin(ap), y: p.y + reach * Math.cos(ap) }),
      c2: move({ x: q.x + reach * Math.sin(aq), y: q.y - reach * Math.cos(aq) }),
      to: move(q),
    };
  });
}

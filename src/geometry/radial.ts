import type { Frame, Point } from '../base/measure.ts';

/**
 * near: a vertex of the silhouette itself (edges that face the foot point, seen at the sheet).
 * far: a vertex scaled by 1/s (edges that face away, seen at the face). meeting: where the two cross.
 * gap: an end of a radial piece that closes a gap no ray could look into.
 */
export type RayVertexKind = 'near' | 'far' | 'meeting' | 'gap';

export interface RayVertex<F extends Frame> extends Point<F> {
  readonly kind: RayVertexKind;
  /** Index of the vertex of the silhouette it comes from, ring by ring; -1 for a meeting. */
  readonly from: number;
  /** The piece from this vertex to the next closes a gap: nothing was seen there. */
  readonly hiddenAfter: boolean;
  /** Where the gap was drawn anew: how long its straight piece was, mm. */
  readonly gapMm?: number;
}

interface Side {
  readonly ax: number;
  readonly ay: number;
  readonly bx: number;
  readonly by: number;
  /** Rays (numbered by angle) of its two ends; from a to b the angle grows. */
  a: number;
  b: number;
  readonly fromA: number;
  readonly fromB: number;
}

interface Vertex {
  readonly x: number;
  readonly y: number;
  readonly kind: RayVertexKind;
  readonly from: number;
  /** Passing points lie inside a straight side and are left out at the end. */
  readonly passing: boolean;
}

/** A place on a ray where the result's boundary starts or stops. */
interface Stop {
  readonly r: number;
  readonly vertex: number;
}
type Interval = readonly [low: Stop, high: Stop];

/**
 * The blank behind a silhouette: every point p for which all of p·t, t from 1 to s, lies in the silhouette
 * (R = intersection over t of S/t about the foot point). For a straight-walled blank whose silhouette was drawn on the sheet
 * from a camera above `foot`, s = H/(H - h), this is the smallest set known to hold the blank's outline.
 * Exact: along each ray from the foot point an interval [a, b] of S becomes [a, b/s].
 *
 * @param rings of S, outer counter-clockwise, holes clockwise
 * @param foot projection of the camera's centre, same frame
 * @param s parallax scale, >= 1
 * @returns rings, outer ones counter-clockwise, holes clockwise
 */
export function behindSilhouette<F extends Frame>(
  rings: readonly (readonly Point<F>[])[],
  foot: Point<F>,
  s: number,
): RayVertex<F>[][] {
  const angles: number[] = [];
  const sides: Side[] = [];
  let first = 0;
  for (const ring of rings) {
    const n = ring.length;
    ring.forEach((p, k) => {
      const q = ring[(k + 1) % n]!;
      const [ax, ay, bx, by] = [p.x - foot.x, p.y - foot.y, q.x - foot.x, q.y - foot.y];
      const turn = ax * by - ay * bx;
      const angle = Math.atan2(ay, ax);
      angles.push(angle < SAME_RAY - Math.PI ? Math.PI : angle);
      const fromA = first + k;
      const fromB = first + ((k + 1) % n);
      // A radial side bounds no interval; `a` and `b` hold vertex numbers until the rays are numbered.
      if (turn > 0) sides.push({ ax, ay, bx, by, a: fromA, b: fromB, fromA, fromB });
      else if (turn < 0) {
        sides.push({
          ax: bx,
          ay: by,
          bx: ax,
          by: ay,
          a: fromB,
          b: fromA,
          fromA: fromB,
          fromB: fromA,
        });
      }
    });
    first += n;
  }
  const rays: number[] = [];
  const numberOf = new Map<number, number>();
  for (const angle of [...new Set(angles)].sort((p, q) => p - q)) {
    if (!rays.length || angle - rays[rays.length - 1]! > SAME_RAY) rays.push(angle);
    numberOf.set(angle, rays.length - 1);
  }
  for (const side of sides) {
    side.a = numberOf.get(angles[side.a]!)!;
    side.b = numberOf.get(angles[side.b]!)!;
  }
  return sweep(
    sides.filter((side) => side.a !== side.b),
    rays,
    s,
  ).map((ring) => ring.map((v) => ({ ...v, x: v.x + foot.x, y: v.y + foot.y })));
}

/** Vertices whose angles differ by less lie on one ray, rad. */
const SAME_RAY = 1e-8;

/** Places on one ray that differ by less, relatively, are one. */
const SAME_PLACE = 1e-10;
const FOOT: Stop = { r: 0, vertex: -1 };

/** Distance from the origin at which a side meets the ray of direction (c, s). */
function reach(e: Side, c: number, s: number): number {
  const dx = e.bx - e.ax;
  const dy = e.by - e.ay;
  return (e.ax * dy - e.ay * dx) / (c * dy - s * dx);
}

/** Goes once round, from ray to ray; between two rays no side ends. */
function sweep(sides: readonly Side[], rays: readonly number[], s: number): Output[][] {
  const count = rays.length;
  const cosines = rays.map(Math.cos);
  const sines = rays.map(Math.sin);
  const startingAt: Side[][] = Array.from({ length: count }, () => []);
  for (const side of sides) startingAt[side.a]!.push(side);
  // Sides that run over the last ray to the first are there from the beginning.
  let active = sides.filter((side) => side.b < side.a && side.b !== 0);
  const links = new Links();
  const stops: Stop[][] = Array.from({ length: count }, () => []);
  const stopAt = (ray: number, r: number, from: number, far: boolean): Stop => {
    for (const stop of stops[ray]!) if (Math.abs(stop.r - r) <= SAME_PLACE * r) return stop;
    const vertex = links.add({
      x: r * cosines[ray]!,
      y: r * sines[ray]!,
      kind: far ? 'far' : 'near',
      from,
      passing: from < 0,
    });
    const made = { r, vertex };
    stops[ray]!.push(made);
    return made;
  };
  let before: Interval[] = [];
  let firstStarts: Interval[] = [];
  for (let k = 0; k < count; k++) {
    const to = (k + 1) % count;
    if (k > 0) active = active.filter((side) => side.b !== k);
    active.push(...startingAt[k]!);
    const gapAngle = to > k ? (rays[to]! - rays[k]!) / 2 : (rays[to]! + 2 * Math.PI - rays[k]!) / 2;
    const middle = rays[k]! + gapAngle;
    const mc = Math.cos(middle);
    const ms = Math.sin(middle);
    const at = (side: Side, ray: number): number => {
      if (side.a === ray && ray === k) return Math.hypot(side.ax, side.ay);
      if (side.b === ray && ray === to) return Math.hypot(side.bx, side.by);
      return reach(side, cosines[ray]!, sines[ray]!);
    };
    const sorted = active
      .map((side) => ({ side, r: reach(side, mc, ms) }))
      .sort((p, q) => p.r - q.r);
    const starts: Interval[] = [];
    const ends: Interval[] = [];
    // An odd number of sides: the foot point lies inside, and the first interval starts at it.
    for (let n = sorted.length % 2 === 1 ? -1 : 0; n + 1 < sorted.length; n += 2) {
      const low = n < 0 ? undefined : sorted[n]!.side;
      const high = sorted[n + 1]!.side;
      const low0 = low ? at(low, k) : 0;
      const low1 = low ? at(low, to) : 0;
      const high0 = at(high, k) / s;
      const high1 = at(high, to) / s;
      const opens = high0 - low0 > SAME_PLACE * high0;
      const closes = high1 - low1 > SAME_PLACE * high1;
      if (!opens && !closes) continue;
      let [lowStart, highStart, lowEnd, highEnd] = [-1, -1, -1, -1];
      if (opens !== closes) {
        const [x, y] = crossing(low!, high, s);
        const meeting = links.add({ x, y, kind: 'meeting', from: -1, passing: false });
        lowStart = highStart = lowEnd = highEnd = meeting;
      }
      if (opens) {
        const start = low ? stopAt(k, low0, low.a === k ? low.fromA : -1, false) : FOOT;
        const end = stopAt(k, high0, high.a === k ? high.fromA : -1, true);
        starts.push([start, end]);
        lowStart = start.vertex;
        highStart = end.vertex;
      }
      if (closes) {
        const start = low ? stopAt(to, low1, low.b === to ? low.fromB : -1, false) : FOOT;
        const end = stopAt(to, high1, high.b === to ? high.fromB : -1, true);
        ends.push([start, end]);
        lowEnd = start.vertex;
        highEnd = end.vertex;
      }
      if (low) links.join(lowEnd, lowStart, false);
      links.join(highStart, highEnd, false);
    }
    if (k === 0) firstStarts = starts;
    else joinRay(before, starts, links);
    before = ends;
  }
  joinRay(before, firstStarts, links);
  return links.rings();
}

/** Where a side and another scaled by 1/s cross. */
function crossing(p: Side, q: Side, s: number): [number, number] {
  const px = p.bx - p.ax;
  const py = p.by - p.ay;
  const qx = (q.bx - q.ax) / s;
  const qy = (q.by - q.ay) / s;
  const det = px * qy - py * qx;
  const t = det === 0 ? 0.5 : ((q.ax / s - p.ax) * qy - (q.ay / s - p.ay) * qx) / det;
  const inside = Math.min(1, Math.max(0, t));
  return [p.ax + inside * px, p.ay + inside * py];
}

/** Adds the radial pieces where the intervals before and after a ray differ. */
function joinRay(before: readonly Interval[], after: readonly Interval[], links: Links): void {
  const stops = [...before.flat(), ...after.flat()].sort((p, q) => p.r - q.r);
  const holds = (list: readonly Interval[], r: number): boolean =>
    list.some(([low, high]) => low.r < r && r < high.r);
  const ends = (list: readonly Interval[], r: number, which: 0 | 1): boolean =>
    list.some((interval) => interval[which].r === r);
  for (let k = 0; k + 1 < stops.length; k++) {
    const p = stops[k]!;
    const q = stops[k + 1]!;
    if (p.r === q.r) continue;
    const middle = (p.r + q.r) / 2;
    const is = holds(after, middle);
    if (holds(before, middle) === is) continue;
    const less = is ? before : after;
    const closesGap = ends(less, p.r, 1) && ends(less, q.r, 0);
    if (is) links.join(p.vertex, q.vertex, closesGap);
    else links.join(q.vertex, p.vertex, closesGap);
  }
}

type Output = Vertex & { readonly hiddenAfter: boolean };

/** Directed pieces between vertices, walked into rings at the end. */
class Links {
  private readonly vertices: Vertex[] = [];
  private readonly out: { to: number; hidden: boolean }[][] = [];

  add(vertex: Vertex): number {
    this.out.push([]);
    return this.vertices.push(vertex) - 1;
  }

  join(from: number, to: number, hidden: boolean): void {
    if (from !== to) this.out[from]!.push({ to, hidden });
  }

  rings(): Output[][] {
    const rings: Output[][] = [];
    for (let start = 0; start < this.out.length; start++) {
      while (this.out[start]!.length) {
        const ring: { vertex: number; hidden: boolean }[] = [];
        let at = start;
        do {
          const piece = this.out[at]!.pop();
          if (!piece)
            throw new Error('behindSilhouette: an open boundary; rings must be closed and simple');
          ring.push({ vertex: at, hidden: piece.hidden });
          at = piece.to;
        } while (at !== start);
        rings.push(this.output(ring));
      }
    }
    return rings.filter((ring) => ring.length > 2);
  }

  private output(ring: readonly { vertex: number; hidden: boolean }[]): Output[] {
    const out: Output[] = [];
    ring.forEach(({ vertex, hidden }, k) => {
      const v = this.vertices[vertex]!;
      const before = ring[(k + ring.length - 1) % ring.length]!.hidden;
      if (v.passing && !hidden && !before && v.kind !== 'meeting') {
        // A radial piece that ends inside a side keeps its end: it is not straight there.
        const p = this.vertices[ring[(k + ring.length - 1) % ring.length]!.vertex]!;
        const q = this.vertices[ring[(k + 1) % ring.length]!.vertex]!;
        const cross = (v.x - p.x) * (q.y - v.y) - (v.y - p.y) * (q.x - v.x);
        if (Math.abs(cross) <= 1e-7 * (Math.hypot(q.x - p.x, q.y - p.y) + 1e-9)) return;
      }
      out.push({ ...v, kind: hidden || before ? 'gap' : v.kind, hiddenAfter: hidden });
    });
    return out;
  }
}

/**
 * Takes the noise out of stretches that run along a ray: where the angle about the foot point turns back by less than
 * `amplitudeMm` sideways, the vertices are moved sideways until it runs one way (isotonic regression). Without this every
 * wiggle of a tangent stretch would look like a bay.
 */
export function steadyAngles<F extends Frame>(
  ring: readonly Point<F>[],
  foot: Point<F>,
  amplitudeMm: number,
): Point<F>[] {
  const n = ring.length;
  const radius = ring.map((p) => Math.hypot(p.x - foot.x, p.y - foot.y));
  const angle = new Float64Array(n + 1);
  for (let k = 0; k <= n; k++) {
    const p = ring[k % n]!;
    const a = Math.atan2(p.y - foot.y, p.x - foot.x);
    const last = k ? angle[k - 1]! : a;
    angle[k] = last + Math.atan2(Math.sin(a - last), Math.cos(a - last));
  }
  const turns = turningPoints(angle, radius, amplitudeMm);
  const out = [...ring];
  for (let t = 0; t + 1 < turns.length; t++) {
    const from = turns[t]!;
    const to = turns[t + 1]!;
    if (to - from < 2) continue;
    const sign = angle[to]! >= angle[from]! ? 1 : -1;
    const steady = isotonic(angle.subarray(from, to + 1), sign);
    for (let k = from; k <= to; k++) {
      const change = steady[k - from]! - angle[k]!;
      if (change === 0) continue;
      const p = ring[k % n]!;
      const c = Math.cos(change);
      const s = Math.sin(change);
      const x = p.x - foot.x;
      const y = p.y - foot.y;
      out[k % n] = { ...p, x: foot.x + c * x - s * y, y: foot.y + s * x + c * y };
    }
  }
  return out;
}

/** Indices between which the angle runs one way but for turns smaller than the amplitude; first and last are the ends. */
function turningPoints(
  angle: Float64Array,
  radius: readonly number[],
  amplitude: number,
): number[] {
  const n = radius.length;
  const turns = [0];
  let extreme = 0;
  let direction = 0;
  for (let k = 1; k <= n; k++) {
    const limit = amplitude / Math.max(1e-6, radius[k % n]!);
    const moved = angle[k]! - angle[extreme]!;
    if (direction === 0) {
      if (Math.abs(moved) > limit) {
        direction = Math.sign(moved);
        extreme = k;
      }
    } else if (moved * direction >= 0) extreme = k;
    else if (Math.abs(moved) > limit) {
      turns.push(extreme);
      direction = -direction;
      extreme = k;
    }
  }
  if (turns[turns.length - 1] !== n) turns.push(n);
  return turns;
}

/** Closest monotone sequence (pool adjacent violators); sign 1 rising, -1 falling. Equal values are spread a little. */
function isotonic(values: Float64Array, sign: number): Float64Array {
  const mean: number[] = [];
  const size: number[] = [];
  for (const v of values) {
    mean.push(sign * v);
    size.push(1);
    while (mean.length > 1 && mean[mean.length - 2]! >= mean[mean.length - 1]!) {
      const m = mean.pop()!;
      const w = size.pop()!;
      const last = mean.length - 1;
      mean[last] = (mean[last]! * size[last]! + m * w) / (size[last]! + w);
      size[last]! += w;
    }
  }
  const out = new Float64Array(values.length);
  let k = 0;
  mean.forEach((m, b) => {
    for (let i = 0; i < size[b]!; i++) out[k++] = sign * m + sign * 1e-10 * (i - size[b]! / 2);
  });
  return out;
}

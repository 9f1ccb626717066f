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
  const rays = aboutPoint(s);
  const moved = rings.map((ring) => ring.map((p) => ({ x: p.x - foot.x, y: p.y - foot.y })));
  return behind(moved, rays).map((ring) =>
    ring.map((v) => ({ ...v, x: v.x + foot.x, y: v.y + foot.y })),
  );
}

/**
 * The same for a line sensor under glass, whose lens sees only along its line: rays are the rows y = const, and every point is
 * scaled along x about x = 0. Of an interval [a, b] an end that faces x = 0 stays (seen at the far side of the wall), an end
 * that faces away is divided by s (seen at the face).
 *
 * @param rings of S as it lies on the plane of the wall's far side, x along the sensor's line from below the lens, outer
 *   counter-clockwise, holes clockwise
 * @param s scale of the far side against the face as the lens sees them, >= 1
 */
export function behindRows<F extends Frame>(
  rings: readonly (readonly Point<F>[])[],
  s: number,
): RayVertex<F>[][] {
  return behind(
    rings.map((ring) => splitAtZero(ring)),
    alongRows(s),
  );
}

/** Adds vertices where a ring crosses x = 0, so that every side lies on one side of it; they carry the index of a neighbour. */
function splitAtZero<F extends Frame>(ring: readonly Point<F>[]): Numbered[] {
  const out: Numbered[] = [];
  ring.forEach((p, k) => {
    const q = ring[(k + 1) % ring.length]!;
    out.push({ x: p.x, y: p.y, own: k });
    if (p.x * q.x < 0) {
      const t = p.x / (p.x - q.x);
      out.push({ x: 0, y: p.y + t * (q.y - p.y), own: k });
    }
  });
  return out;
}

/** A vertex that knows its number in the ring it was given in. */
type Numbered = Vector & { readonly own?: number };
interface Vector {
  readonly x: number;
  readonly y: number;
}

/** A family of rays that sweeps the plane counter-clockwise, or upward, and how far what lies on them is displaced. */
interface Rays {
  /** Whether the last ray is followed by the first. */
  readonly cyclic: boolean;
  /** Which ray a point lies on: an angle, or a height. */
  ray(p: Vector): number;
  /** Whether the ray's number grows along a side (> 0), falls (< 0), or stays. */
  turn(p: Vector, q: Vector): number;
  /** Where on a ray a side meets it. */
  reach(e: Side, ray: number): number;
  /** Where on its ray a point lies. */
  along(x: number, y: number): number;
  place(ray: number, r: number): Vector;
  /** Factor of the end of an interval that a side bounds. */
  factor(e: Side, end: 'low' | 'high'): number;
  scaled(p: Vector, factor: number): Vector;
}

function aboutPoint(s: number): Rays {
  return {
    cyclic: true,
    ray(p) {
      const angle = Math.atan2(p.y, p.x);
      return angle < SAME_RAY - Math.PI ? Math.PI : angle;
    },
    turn: (p, q) => p.x * q.y - p.y * q.x,
    reach(e, ray) {
      const dx = e.bx - e.ax;
      const dy = e.by - e.ay;
      return (e.ax * dy - e.ay * dx) / (Math.cos(ray) * dy - Math.sin(ray) * dx);
    },
    along: (x, y) => Math.hypot(x, y),
    place: (ray, r) => ({ x: r * Math.cos(ray), y: r * Math.sin(ray) }),
    factor: (_, end) => (end === 'high' ? 1 / s : 1),
    scaled: (p, factor) => ({ x: p.x * factor, y: p.y * factor }),
  };
}

function alongRows(s: number): Rays {
  return {
    cyclic: false,
    ray: (p) => p.y,
    turn: (p, q) => q.y - p.y,
    reach: (e, ray) => e.ax + ((ray - e.ay) / (e.by - e.ay)) * (e.bx - e.ax),
    along: (x) => x,
    place: (ray, r) => ({ x: r, y: ray }),
    // A low end left of the lens, or a high end right of it, faces away.
    factor: (e, end) => ((end === 'low') === e.ax + e.bx < 0 ? 1 / s : 1),
    scaled: (p, factor) => ({ x: p.x * factor, y: p.y }),
  };
}

/** Sorts vertices and sides by the rays they lie on and sweeps over them. */
function behind(rings: readonly (readonly Numbered[])[], pencil: Rays): Output[][] {
  const numbers: number[] = [];
  const owns: number[] = [];
  const sides: Side[] = [];
  let first = 0;
  let firstOwn = 0;
  for (const ring of rings) {
    const n = ring.length;
    ring.forEach((p, k) => {
      const q = ring[(k + 1) % n]!;
      const turn = pencil.turn(p, q);
      numbers.push(pencil.ray(p));
      owns.push(firstOwn + (p.own ?? k));
      const fromA = first + k;
      const fromB = first + ((k + 1) % n);
      // A side along a ray bounds no interval; `a` and `b` hold vertex numbers until the rays are numbered.
      if (turn > 0)
        sides.push({ ax: p.x, ay: p.y, bx: q.x, by: q.y, a: fromA, b: fromB, fromA, fromB });
      else if (turn < 0) {
        sides.push({
          ax: q.x,
          ay: q.y,
          bx: p.x,
          by: p.y,
          a: fromB,
          b: fromA,
          fromA: fromB,
          fromB: fromA,
        });
      }
    });
    first += n;
    firstOwn += ring.reduce((most, p, k) => Math.max(most, (p.own ?? k) + 1), 0);
  }
  const rays: number[] = [];
  const numberOf = new Map<number, number>();
  for (const number of [...new Set(numbers)].sort((p, q) => p - q)) {
    if (!rays.length || number - rays[rays.length - 1]! > SAME_RAY) rays.push(number);
    numberOf.set(number, rays.length - 1);
  }
  for (const side of sides) {
    side.a = numberOf.get(numbers[side.a]!)!;
    side.b = numberOf.get(numbers[side.b]!)!;
  }
  return sweep(
    sides.filter((side) => side.a !== side.b),
    rays,
    pencil,
  ).map((ring) => ring.map((v) => ({ ...v, from: v.from < 0 ? -1 : owns[v.from]! })));
}

/** Vertices whose rays' numbers differ by less lie on one ray: rad, or mm. */
const SAME_RAY = 1e-8;

/** Places on one ray that differ by less, relatively, are one. */
const SAME_PLACE = 1e-10;
const FOOT: Stop = { r: 0, vertex: -1 };

/** Goes from ray to ray; between two rays no side ends. */
function sweep(sides: readonly Side[], rays: readonly number[], pencil: Rays): Output[][] {
  const count = rays.length;
  const startingAt: Side[][] = Array.from({ length: count }, () => []);
  for (const side of sides) startingAt[side.a]!.push(side);
  // Sides that run over the last ray to the first are there from the beginning.
  let active = pencil.cyclic ? sides.filter((side) => side.b < side.a && side.b !== 0) : [];
  const links = new Links();
  const stops: Stop[][] = Array.from({ length: count }, () => []);
  const stopAt = (ray: number, r: number, from: number, far: boolean): Stop => {
    for (const stop of stops[ray]!) {
      if (Math.abs(stop.r - r) <= SAME_PLACE * Math.abs(r)) return stop;
    }
    const vertex = links.add({
      ...pencil.place(rays[ray]!, r),
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
  for (let k = 0; k < (pencil.cyclic ? count : count - 1); k++) {
    const to = (k + 1) % count;
    if (k > 0) active = active.filter((side) => side.b !== k);
    active.push(...startingAt[k]!);
    const gap = to > k ? (rays[to]! - rays[k]!) / 2 : (rays[to]! + 2 * Math.PI - rays[k]!) / 2;
    const middle = rays[k]! + gap;
    const at = (side: Side, ray: number): number => {
      if (side.a === ray && ray === k) return pencil.along(side.ax, side.ay);
      if (side.b === ray && ray === to) return pencil.along(side.bx, side.by);
      return pencil.reach(side, rays[ray]!);
    };
    const sorted = active
      .map((side) => ({ side, r: pencil.reach(side, middle) }))
      .sort((p, q) => p.r - q.r);
    const starts: Interval[] = [];
    const ends: Interval[] = [];
    // An odd number of sides: the foot point lies inside, and the first interval starts at it.
    for (let n = sorted.length % 2 === 1 ? -1 : 0; n + 1 < sorted.length; n += 2) {
      const low = n < 0 ? undefined : sorted[n]!.side;
      const high = sorted[n + 1]!.side;
      const lowFactor = low ? pencil.factor(low, 'low') : 1;
      const highFactor = pencil.factor(high, 'high');
      const low0 = low ? at(low, k) * lowFactor : 0;
      const low1 = low ? at(low, to) * lowFactor : 0;
      const high0 = at(high, k) * highFactor;
      const high1 = at(high, to) * highFactor;
      const opens = high0 - low0 > SAME_PLACE * Math.abs(high0);
      const closes = high1 - low1 > SAME_PLACE * Math.abs(high1);
      if (!opens && !closes) continue;
      let [lowStart, highStart, lowEnd, highEnd] = [-1, -1, -1, -1];
      if (opens !== closes) {
        const meeting = links.add({
          ...crossing(low!, lowFactor, high, highFactor, pencil),
          kind: 'meeting',
          from: -1,
          passing: false,
        });
        lowStart = highStart = lowEnd = highEnd = meeting;
      }
      if (opens) {
        const start = low ? stopAt(k, low0, low.a === k ? low.fromA : -1, lowFactor < 1) : FOOT;
        const end = stopAt(k, high0, high.a === k ? high.fromA : -1, highFactor < 1);
        starts.push([start, end]);
        lowStart = start.vertex;
        highStart = end.vertex;
      }
      if (closes) {
        const start = low ? stopAt(to, low1, low.b === to ? low.fromB : -1, lowFactor < 1) : FOOT;
        const end = stopAt(to, high1, high.b === to ? high.fromB : -1, highFactor < 1);
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
  if (pencil.cyclic) joinRay(before, firstStarts, links);
  else {
    joinRay([], firstStarts, links);
    joinRay(before, [], links);
  }
  return links.rings();
}

/** Where two sides cross once each is scaled by its factor. */
function crossing(p: Side, pFactor: number, q: Side, qFactor: number, pencil: Rays): Vector {
  const pa = pencil.scaled({ x: p.ax, y: p.ay }, pFactor);
  const pb = pencil.scaled({ x: p.bx, y: p.by }, pFactor);
  const qa = pencil.scaled({ x: q.ax, y: q.ay }, qFactor);
  const qb = pencil.scaled({ x: q.bx, y: q.by }, qFactor);
  const px = pb.x - pa.x;
  const py = pb.y - pa.y;
  const qx = qb.x - qa.x;
  const qy = qb.y - qa.y;
  const det = px * qy - py * qx;
  const t = det === 0 ? 0.5 : ((qa.x - pa.x) * qy - (qa.y - pa.y) * qx) / det;
  const inside = Math.min(1, Math.max(0, t));
  return { x: pa.x + inside * px, y: pa.y + inside * py };
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

/**
 * Measured outlines against the true ones: the symmetric Hausdorff distance and the RMS after the best rigid motion
 * (no scaling), over the stretches that the picture could show; and what the outline says about itself, its band of
 * uncertainty and its hidden stretches, held against what is so.
 *
 * Written apart from the product: it shares no geometry with src/.
 */

export type Place = readonly [x: number, y: number];

/** A measured outline. Rings in mm, outer first, not closed; u a standard uncertainty (k = 1) for every vertex, mm. */
export interface Measured {
  readonly rings: readonly (readonly Place[])[];
  readonly u: readonly ArrayLike<number>[];
  /** Vertices `from` to `to` of a ring that the outline calls hidden, both included; from > to runs over the end. */
  readonly hidden: readonly { readonly ring: number; readonly from: number; readonly to: number }[];
  /** Factor on u for the band that is to hold everywhere at once. */
  readonly wholeFactor: number;
  /** Of the plane that the rings were seen in, over the sheet or the glass. */
  readonly heightMm?: number;
}

/** The true outline. Hidden stretches by ring and arc length from the ring's first vertex, mm. */
export interface True {
  readonly rings: readonly (readonly Place[])[];
  readonly hidden: readonly {
    readonly ring: number;
    readonly from_mm: number;
    readonly to_mm: number;
  }[];
}

export interface Score {
  /** Largest deviation over what could be seen, both ways, mm. */
  readonly maxMm: number;
  readonly rmsMm: number;
  /** Positive where the measured material reaches beyond the true material, mm. */
  readonly meanSignedMm: number;
  readonly holes: readonly [measured: number, real: number];
  /** Share of the outline within k·u, k = 1, 2, 3. */
  readonly inside: readonly [number, number, number];
  /** Largest deviation in multiples of U = 2·u at its place. */
  readonly worstInU: number;
  /** The band of wholeFactor·u holds everywhere. */
  readonly wholeHolds: boolean;
  /** Mean of u over the outline, mm. */
  readonly uMeanMm: number;
  readonly hiddenMm: number;
  /** Share of the truly hidden length that is marked; 1 where nothing is hidden. */
  readonly hiddenRecall: number;
  /** Share of the visible length that is marked as hidden. */
  readonly visibleMarked: number;
  /** The motion that was taken out, truth from measured. */
  readonly motion: Motion;
  /** Where the largest deviation is, in the frame of the truth. */
  readonly worstAt: Place;
}

/** p' = (c x - s y + x0, s x + c y + y0). */
export interface Motion {
  readonly c: number;
  readonly s: number;
  readonly x: number;
  readonly y: number;
}

const STEP_MM = 0.1;
const FIT_STEP_MM = 0.5;
/** A truly hidden stretch is taken this much longer at both ends when it is left out. */
const HIDDEN_SLACK_MM = 0.5;
/** The grid is searched this far round a place, in cells. */
const FARTHEST_CELLS = 5;
/** An outline this far off on the average is not the blank's: its motion is not worth refining. */
const HOPELESS_MM = 2;

interface Samples {
  readonly x: Float64Array;
  readonly y: Float64Array;
  /** Ring and arc length of each sample. */
  readonly ring: Int32Array;
  readonly arc: Float64Array;
  /** From this sample to the next, mm. */
  readonly length: Float64Array;
  /** Nearest vertex of its ring by arc. */
  readonly vertex: Int32Array;
}

/** Points along closed rings no further apart than `step`, vertices kept. */
function samples(rings: readonly (readonly Place[])[], step: number): Samples {
  const x: number[] = [];
  const y: number[] = [];
  const ring: number[] = [];
  const arc: number[] = [];
  const lengths: number[] = [];
  const vertex: number[] = [];
  rings.forEach((places, r) => {
    let along = 0;
    places.forEach(([ax, ay], i) => {
      const [bx, by] = places[(i + 1) % places.length]!;
      const length = Math.hypot(bx - ax, by - ay);
      const n = Math.max(1, Math.ceil(length / step));
      for (let k = 0; k < n; k++) {
        const t = k / n;
        x.push(ax + t * (bx - ax));
        y.push(ay + t * (by - ay));
        ring.push(r);
        arc.push(along + t * length);
        lengths.push(length / n);
        vertex.push(t <= 0.5 ? i : (i + 1) % places.length);
      }
      along += length;
    });
  });
  return {
    x: Float64Array.from(x),
    y: Float64Array.from(y),
    ring: Int32Array.from(ring),
    arc: Float64Array.from(arc),
    length: Float64Array.from(lengths),
    vertex: Int32Array.from(vertex),
  };
}

interface Near {
  distance: number;
  x: number;
  y: number;
  segment: number;
}

/** Closed rings as segments in a grid, with exact nearest places. */
class Curve {
  readonly ring: number[] = [];
  readonly from: number[] = [];
  readonly to: number[] = [];
  private readonly arc: number[] = [];
  private readonly ax: number[] = [];
  private readonly ay: number[] = [];
  private readonly vx: number[] = [];
  private readonly vy: number[] = [];
  private readonly cells = new Map<number, number[]>();
  private readonly cellMm = 1;
  private x0 = Infinity;
  private y0 = Infinity;

  constructor(rings: readonly (readonly Place[])[]) {
    rings.forEach((places, r) => {
      let along = 0;
      places.forEach(([x, y], i) => {
        const next = (i + 1) % places.length;
        const [bx, by] = places[next]!;
        this.arc.push(along);
        along += Math.hypot(bx - x, by - y);
        this.ring.push(r);
        this.from.push(i);
        this.to.push(next);
        this.ax.push(x);
        this.ay.push(y);
        this.vx.push(bx - x);
        this.vy.push(by - y);
        this.x0 = Math.min(this.x0, x);
        this.y0 = Math.min(this.y0, y);
      });
    });
    for (let s = 0; s < this.ax.length; s++) {
      const n = Math.max(1, Math.ceil(Math.hypot(this.vx[s]!, this.vy[s]!) / (this.cellMm / 4)));
      let last = -1;
      for (let k = 0; k <= n; k++) {
        const key = this.key(
          this.column(this.ax[s]! + (k / n) * this.vx[s]!),
          this.row(this.ay[s]! + (k / n) * this.vy[s]!),
        );
        if (key === last) continue;
        last = key;
        const cell = this.cells.get(key);
        if (!cell) this.cells.set(key, [s]);
        else if (cell[cell.length - 1] !== s) cell.push(s);
      }
    }
  }

  private column(x: number): number {
    return Math.floor((x - this.x0) / this.cellMm);
  }
  private row(y: number): number {
    return Math.floor((y - this.y0) / this.cellMm);
  }
  private key(i: number, j: number): number {
    return (j + 4096) * 16384 + (i + 4096);
  }

  /** Arc length of a nearest place from its ring's first vertex, mm. */
  arcOf(q: Near): number {
    return this.arc[q.segment]! + Math.hypot(q.x - this.ax[q.segment]!, q.y - this.ay[q.segment]!);
  }

  /** Where along segment `s` the place lies, 0 to 1. */
  share(s: number, x: number, y: number): number {
    const square = this.vx[s]! ** 2 + this.vy[s]! ** 2;
    if (square === 0) return 0;
    const t = ((x - this.ax[s]!) * this.vx[s]! + (y - this.ay[s]!) * this.vy[s]!) / square;
    return Math.min(1, Math.max(0, t));
  }

  nearest(x: number, y: number): Near {
    const best: Near = { distance: Infinity, x: 0, y: 0, segment: -1 };
    const take = (s: number): void => {
      const t = this.share(s, x, y);
      const qx = this.ax[s]! + t * this.vx[s]!;
      const qy = this.ay[s]! + t * this.vy[s]!;
      const d = Math.hypot(x - qx, y - qy);
      if (d >= best.distance) return;
      best.distance = d;
      best.x = qx;
      best.y = qy;
      best.segment = s;
    };
    const ci = this.column(x);
    const cj = this.row(y);
    for (let k = 0; k <= FARTHEST_CELLS; k++) {
      // Quarter cells: a segment may clip the corner of a cell between two of its sampled places.
      if (best.distance < (k - 1.25) * this.cellMm) return best;
      for (let j = cj - k; j <= cj + k; j++) {
        const edge = j === cj - k || j === cj + k;
        for (let i = ci - k; i <= ci + k; i += edge ? 1 : Math.max(1, 2 * k)) {
          this.cells.get(this.key(i, j))?.forEach(take);
        }
      }
    }
    // Far from everything: look at all of it.
    for (let s = 0; s < this.ax.length; s++) take(s);
    return best;
  }
}

function signedArea(ring: readonly Place[]): number {
  let twice = 0;
  ring.forEach(([x, y], i) => {
    const [nx, ny] = ring[(i + 1) % ring.length]!;
    twice += x * ny - nx * y;
  });
  return twice / 2;
}

/** Even-odd over all rings. */
function inside(rings: readonly (readonly Place[])[], x: number, y: number): boolean {
  let within = false;
  for (const ring of rings) {
    for (let i = 0, j = ring.length - 1; i < ring.length; j = i++) {
      const [ax, ay] = ring[i]!;
      const [bx, by] = ring[j]!;
      if (ay > y !== by > y && x < ((bx - ax) * (y - ay)) / (by - ay) + ax) within = !within;
    }
  }
  return within;
}

const moved = (m: Motion, rings: readonly (readonly Place[])[]): Place[][] =>
  rings.map((ring) =>
    ring.map(([x, y]): Place => [m.c * x - m.s * y + m.x, m.s * x + m.c * y + m.y]),
  );

const after = (b: Motion, a: Motion): Motion => ({
  c: b.c * a.c - b.s * a.s,
  s: b.s * a.c + b.c * a.s,
  x: b.c * a.x - b.s * a.y + b.x,
  y: b.s * a.x + b.c * a.y + b.y,
});

/**
 * The rigid motion that lays the measured rings on the true ones: least squares of the distances, both ways, by
 * Gauss-Newton on the distances themselves. Both must be roughly in place already: both live in the sheet frame.
 */
export function fit(
  measured: readonly (readonly Place[])[],
  real: readonly (readonly Place[])[],
): Motion {
  const truth = new Curve(real);
  const own = new Curve(measured);
  const a = samples(measured, FIT_STEP_MM);
  const b = samples(real, FIT_STEP_MM);
  const cx = b.x.reduce((sum, v) => sum + v, 0) / b.x.length;
  const cy = b.y.reduce((sum, v) => sum + v, 0) / b.y.length;
  let motion: Motion = { c: 1, s: 0, x: 0, y: 0 };
  for (let round = 0; round < 40; round++) {
    // Normal equations of the step (x, y, turn about the centre).
    const n = [0, 0, 0, 0, 0, 0];
    const g = [0, 0, 0];
    let apart = 0;
    const add = (px: number, py: number, qx: number, qy: number, d: number): void => {
      apart += d;
      if (d < 1e-9) return;
      const ux = (px - qx) / d;
      const uy = (py - qy) / d;
      const ut = ux * -(py - cy) + uy * (px - cx);
      n[0]! += ux * ux;
      n[1]! += ux * uy;
      n[2]! += ux * ut;
      n[3]! += uy * uy;
      n[4]! += uy * ut;
      n[5]! += ut * ut;
      g[0]! += ux * d;
      g[1]! += uy * d;
      g[2]! += ut * d;
    };
    for (let i = 0; i < a.x.length; i++) {
      const x = motion.c * a.x[i]! - motion.s * a.y[i]! + motion.x;
      const y = motion.s * a.x[i]! + motion.c * a.y[i]! + motion.y;
      const q = truth.nearest(x, y);
      add(x, y, q.x, q.y, q.distance);
    }
    for (let i = 0; i < b.x.length; i++) {
      const dx = b.x[i]! - motion.x;
      const dy = b.y[i]! - motion.y;
      const q = own.nearest(motion.c * dx + motion.s * dy, -motion.s * dx + motion.c * dy);
      const x = motion.c * q.x - motion.s * q.y + motion.x;
      const y = motion.s * q.x + motion.c * q.y + motion.y;
      add(x, y, b.x[i]!, b.y[i]!, q.distance);
    }
    // A little damping: a circle's turn has no answer.
    const [dx, dy, turn] = solve3(n, g, 1e-6 * (a.x.length + b.x.length));
    const c = Math.cos(turn);
    const s = Math.sin(turn);
    motion = after({ c, s, x: cx - c * cx + s * cy + dx, y: cy - s * cx - c * cy + dy }, motion);
    if (Math.hypot(dx, dy) < 1e-6 && Math.abs(turn) < 1e-8) break;
    if (apart > HOPELESS_MM * (a.x.length + b.x.length)) break;
  }
  return motion;
}

/** Minus the solution of (N + damping) x = g; N symmetric, by its upper triangle. */
function solve3(n: number[], g: number[], damping: number): [number, number, number] {
  const [b, c, e] = [n[1]!, n[2]!, n[4]!];
  const a = n[0]! + damping;
  const d = n[3]! + damping;
  const f = n[5]! + damping;
  const det = a * (d * f - e * e) - b * (b * f - c * e) + c * (b * e - c * d);
  const [x, y, z] = [g[0]!, g[1]!, g[2]!];
  return [
    -((d * f - e * e) * x + (c * e - b * f) * y + (b * e - c * d) * z) / det,
    -((c * e - b * f) * x + (a * f - c * c) * y + (b * c - a * e) * z) / det,
    -((b * e - c * d) * x + (b * c - a * e) * y + (a * d - b * b) * z) / det,
  ];
}

/** Scores one outline against the truth. Holes are compared by place: a missing or additional one shows as deviation. */
export function score(measured: Measured, real: True): Score {
  const motion = fit(measured.rings, real.rings);
  const rings = moved(motion, measured.rings);
  const truth = new Curve(real.rings);
  const back = new Curve(rings);
  const a = samples(rings, STEP_MM);
  const b = samples(real.rings, STEP_MM);

  const hiddenAt = (ring: number, arc: number, slackMm: number): boolean =>
    real.hidden.some(
      (h) => h.ring === ring && arc >= h.from_mm - slackMm && arc <= h.to_mm + slackMm,
    );
  const marked = measured.rings.map((ring) => new Uint8Array(ring.length));
  for (const h of measured.hidden) {
    const flags = marked[h.ring]!;
    for (let i = h.from; ; i = (i + 1) % flags.length) {
      flags[i] = 1;
      if (i === h.to) break;
    }
  }

  let max = 0;
  let squares = 0;
  let signed = 0;
  let count = 0;
  let uSum = 0;
  let whole = true;
  let worstInU = 0;
  let worstAt: Place = [0, 0];
  const insideCount = [0, 0, 0];
  const take = (d: number, u: number, out: boolean, at: Place): void => {
    if (d > max) {
      max = d;
      worstAt = at;
    }
    squares += d * d;
    signed += out ? d : -d;
    count++;
    for (let k = 0; k < 3; k++) if (d <= (k + 1) * u) insideCount[k]!++;
    worstInU = Math.max(worstInU, d / (2 * u));
    if (d > measured.wholeFactor * u) whole = false;
  };

  let seenLength = 0;
  let seenMarked = 0;
  for (let i = 0; i < a.x.length; i++) {
    const u = measured.u[a.ring[i]!]![a.vertex[i]!]!;
    uSum += u;
    const x = a.x[i]!;
    const y = a.y[i]!;
    const q = truth.nearest(x, y);
    if (!hiddenAt(truth.ring[q.segment]!, truth.arcOf(q), HIDDEN_SLACK_MM)) {
      take(q.distance, u, !inside(real.rings, x, y), [x, y]);
      seenLength += a.length[i]!;
      seenMarked += a.length[i]! * marked[a.ring[i]!]![a.vertex[i]!]!;
    }
  }
  let hiddenLength = 0;
  let hiddenMarked = 0;
  for (let i = 0; i < b.x.length; i++) {
    const x = b.x[i]!;
    const y = b.y[i]!;
    const q = back.nearest(x, y);
    const s = q.segment;
    const vertex = back.share(s, q.x, q.y) <= 0.5 ? back.from[s]! : back.to[s]!;
    if (!hiddenAt(b.ring[i]!, b.arc[i]!, HIDDEN_SLACK_MM)) {
      take(q.distance, measured.u[back.ring[s]!]![vertex]!, inside(rings, x, y), [x, y]);
    }
    if (hiddenAt(b.ring[i]!, b.arc[i]!, 0)) {
      hiddenLength += b.length[i]!;
      hiddenMarked += b.length[i]! * marked[back.ring[s]!]![vertex]!;
    }
  }
  return {
    maxMm: max,
    rmsMm: Math.sqrt(squares / count),
    meanSignedMm: signed / count,
    holes: [measured.rings.length - 1, real.rings.length - 1],
    inside: [insideCount[0]! / count, insideCount[1]! / count, insideCount[2]! / count],
    worstInU,
    wholeHolds: whole,
    uMeanMm: uSum / a.x.length,
    hiddenMm: hiddenLength,
    hiddenRecall: hiddenLength === 0 ? 1 : hiddenMarked / hiddenLength,
    visibleMarked: seenLength === 0 ? 0 : seenMarked / seenLength,
    motion,
    worstAt,
  };
}

/** Which measured outline goes with each true one: the nearest centroid of the outer ring, each used once. */
export function pairUp(
  measured: readonly { readonly rings: Measured['rings'] }[],
  real: readonly { readonly rings: True['rings'] }[],
): (number | undefined)[] {
  const centre = (ring: readonly Place[]): Place => {
    const area = signedArea(ring);
    let x = 0;
    let y = 0;
    ring.forEach(([ax, ay], i) => {
      const [bx, by] = ring[(i + 1) % ring.length]!;
      const w = ax * by - bx * ay;
      x += (ax + bx) * w;
      y += (ay + by) * w;
    });
    return [x / (6 * area), y / (6 * area)];
  };
  const used = new Set<number>();
  return real.map((t) => {
    const [tx, ty] = centre(t.rings[0]!);
    let best: number | undefined;
    let least = Infinity;
    measured.forEach((m, i) => {
      if (used.has(i)) return;
      const [x, y] = centre(m.rings[0]!);
      const apart = Math.hypot(x - tx, y - ty);
      if (apart < least && apart < Math.sqrt(Math.abs(signedArea(t.rings[0]!)))) {
        least = apart;
        best = i;
      }
    });
    if (best !== undefined) used.add(best);
    return best;
  });
}

import { inverse, Matrix } from 'ml-matrix';
import type { Point } from '../base/measure.ts';
import { reason, Refusal, type Reason } from '../base/reason.ts';
import { movedBy, offsetsTo, type Motion } from '../geometry/lay.ts';
import { centroid, outwardNormals, signedArea } from '../geometry/measure.ts';
import { Nearest } from '../geometry/nearest.ts';
import type { Ring } from '../geometry/shape.ts';
import type { Outline } from '../outline/outline.ts';
import { zoneOf, type KeptPocket } from './kept.ts';
import type { Measured } from './room.ts';

/** A place of the traced board as one of the bed, before the motion that lays it on the plan. */
const inBed = ({ x, y }: Point<'sheet'>): Point<'bed'> => ({ x, y });

/** A board as it was traced: its pockets are the holes of its outline. */
export type BoardOutline = Pick<
  Outline,
  'region' | 'u' | 'hidden' | 'modes' | 'edgeU' | 'wholeFactor'
>;

/** A figure and its expanded uncertainty (k = 2). */
export interface Figure {
  readonly value: number;
  readonly U: number;
}

/** One pocket as it stands in the board, the board laid on its plan as a whole. */
export interface MeasuredPocket {
  readonly id: string;
  /** How far its wall stands outside the planned one, mean along the wall, mm; negative: it came out small. */
  readonly growthMm: Figure;
  /** Its middle, from where the plan has it, mm. */
  readonly offMm: Point<'bed'>;
  /** Where its wall stands farthest inside the planned one, by how much (negative), and the zone of that place. */
  readonly tightest: { readonly mm: Figure; readonly at: Point<'bed'>; readonly zone: string };
  readonly widest: { readonly mm: Figure; readonly at: Point<'bed'>; readonly zone: string };
  /** Wall less plan at every vertex of the measured wall, mm. */
  readonly wallMm: Float64Array;
  /** To be tried with blanks: the wall as measured. */
  readonly kept: KeptPocket;
}

export interface BoardMeasured {
  readonly pockets: readonly MeasuredPocket[];
  /** Pockets of the plan that the picture does not show, and holes that the plan does not have. */
  readonly missing: readonly string[];
  readonly extra: number;
  /** The cutter runs so much wide per side of what was drawn, mm. */
  readonly growthMm: Figure;
  /** What the cutter does to lengths along x and y of the bed, parts in a thousand. */
  readonly scalePerMille: { readonly x: Figure; readonly y: Figure };
  /** Kerf, or cutter diameter, to use next, mm. */
  readonly kerfMm: Figure;
  readonly motion: Motion;
  readonly reasons: readonly Reason[];
}

/** A hole belongs to a pocket when their middles lie no farther apart, mm, and their areas no more than this share. Common practice, no source. */
const NEAR_MM = 3;
const AREA_SHARE = 0.15;
const ROUNDS = 4;
/** A stretch that was spoilt does not count: distances beyond this many times their median (Beaton and Tukey, 1974, their 4.685 / 0.6745). */
const TUKEY = 6.9;

interface Hole {
  /** Counter-clockwise, as the wall of an opening; sheet mm. */
  readonly ring: Ring<'sheet'>;
  /** Vertex of the outline, numbered through its rings, of each vertex. */
  readonly from: Int32Array;
  readonly middle: Point<'sheet'>;
  readonly areaMm2: number;
}

/**
 * The walls of a cut board against its plan: the board is laid on the plan as a whole by its own pockets (rigidly, no
 * scaling), then every wall is compared where it stands.
 *
 * @param kerfMm what the tool was taken to take away, in all
 * @throws Refusal `board-unlike` where fewer than two pockets of the plan, or not most of them, are found in it
 */
export function measureBoard(
  plan: readonly KeptPocket[],
  board: BoardOutline,
  kerfMm: number,
): BoardMeasured {
  const holes = holesOf(board);
  const planned = plan.map(({ opening }) => ({
    middle: centroid(opening.outer),
    areaMm2: signedArea(opening.outer),
  }));
  const { motion: rough, pairs } = match(plan, planned, holes);
  const walls = pairs.map(([k, hole]) => ({
    pocket: plan[k]!,
    hole: holes[hole]!,
    sides: new Nearest([plan[k]!.opening.outer], 1),
  }));
  let motion = rough;
  for (let round = 0; round < ROUNDS; round++) motion = nearer(motion, walls);
  const laid = walls.map((w) => {
    const ring: Ring<'bed'> = w.hole.ring.map((p) => movedBy(motion, inBed(p)));
    const normals = outwardNormals(ring);
    // How far the planned wall lies outside the measured one, turned round.
    const wallMm = offsetsTo(ring, w.sides).map((d) => -d);
    return { ...w, ring, ...normals, wallMm };
  });
  const errors = errorsOf(board, motion);
  const all = laid.flatMap((w, k) =>
    w.ring.map((at, v) => ({ k, v, at, nx: w.nx[v]!, ny: w.ny[v]!, wallMm: w.wallMm[v]! })),
  );
  const mean = (of: (p: Point<'bed'>) => number): number =>
    all.reduce((sum, { at }) => sum + of(at), 0) / all.length;
  const middle = { x: mean((p) => p.x), y: mean((p) => p.y) };
  // Shift, turn, scale along x and y, growth: what a cutter does to all walls at once.
  const rows = all.map(({ at, nx, ny }) => {
    const [x, y] = [at.x - middle.x, at.y - middle.y];
    return [nx, ny, x * ny - y * nx, x * nx, y * ny, 1];
  });
  const fit = robust(
    rows,
    all.map((a) => a.wallMm),
  );
  const found = fit(Float64Array.from(all, (a) => a.wallMm));
  const U = (of: (values: Float64Array) => number): number => {
    const own = Math.hypot(...ownErrors(errors, all, laid, of), 0);
    return 2 * Math.hypot(own, ...errors.modes.map((m) => of(alongOf(m, all, laid))));
  };
  const of =
    (which: number) =>
    (values: Float64Array): number =>
      fit(values)[which]!;
  const growthMm = { value: found[5]!, U: U(of(5)) };
  let first = 0;
  const pockets = laid.map((w): MeasuredPocket => {
    const [from, n] = [first, w.ring.length];
    first += n;
    const own = (values: Float64Array): number =>
      values.subarray(from, from + n).reduce((a, b) => a + b, 0) / n;
    const at = (best: number): MeasuredPocket['tightest'] => ({
      mm: { value: w.wallMm[best]!, U: 2 * errors.u[w.hole.from[best]!]! },
      at: w.ring[best]!,
      zone: zoneOf(w.pocket, w.ring[best]!),
    });
    const extreme = (sign: 1 | -1): number =>
      w.wallMm.reduce((b, d, k) => (sign * d > sign * w.wallMm[b]! ? k : b), 0);
    const [here, there] = [centroid(w.ring), centroid(w.pocket.opening.outer)];
    return {
      id: w.pocket.id,
      growthMm: { value: w.wallMm.reduce((a, b) => a + b, 0) / n, U: U(own) },
      offMm: { x: here.x - there.x, y: here.y - there.y },
      tightest: at(extreme(-1)),
      widest: at(extreme(1)),
      wallMm: w.wallMm,
      kept: {
        id: w.pocket.id,
        // Each is a pocket of its own now.
        outlineId: `${w.pocket.outlineId} ${w.pocket.id}`,
        opening: { outer: w.ring, holes: [] },
        doubt: { growthU: 0, measured: { outline: wallOf(board, w.hole), motion } },
      },
    };
  });
  const missing = plan.filter((_, k) => !pairs.some(([p]) => p === k)).map((p) => p.id);
  const extra = holes.length - pairs.length;
  const reasons: Reason[] = [];
  if (missing.length > 0)
    reasons.push(reason('board-missing', { count: missing.length, which: missing.join(', ') }));
  if (extra > 0) reasons.push(reason('board-extra', { count: extra }));
  const kerf = { value: kerfMm + 2 * growthMm.value, U: 2 * growthMm.U };
  reasons.push(
    Math.abs(growthMm.value) > growthMm.U
      ? reason('board-kerf', {
          wideMm: Math.abs(growthMm.value).toFixed(2),
          way: growthMm.value > 0 ? 'wide' : 'narrow',
          uMm: roundedUp(growthMm.U),
          kerfMm: kerf.value.toFixed(2),
          wasMm: kerfMm.toFixed(2),
        })
      : reason('board-as-planned', { uMm: roundedUp(growthMm.U) }),
  );
  return {
    pockets: pockets.sort(
      (a, b) => plan.findIndex((p) => p.id === a.id) - plan.findIndex((p) => p.id === b.id),
    ),
    missing,
    extra,
    growthMm,
    scalePerMille: {
      x: { value: 1000 * found[3]!, U: 1000 * U(of(3)) },
      y: { value: 1000 * found[4]!, U: 1000 * U(of(4)) },
    },
    kerfMm: kerf,
    motion,
    reasons,
  };
}

const roundedUp = (mm: number): string => (Math.ceil(100 * mm - 1e-9) / 100).toFixed(2);

function holesOf({ region }: BoardOutline): Hole[] {
  let first = region.outer.length;
  return region.holes.map((hole) => {
    const ring = [...hole].reverse();
    const from = Int32Array.from(ring, (_, k) => first + hole.length - 1 - k);
    first += hole.length;
    return { ring, from, middle: centroid(ring), areaMm2: signedArea(ring) };
  });
}

type Pair = readonly [pocket: number, hole: number];

/** Which hole is which pocket: of all motions that two far pockets suggest, the one that brings most holes to their pockets, their walls nearest. */
function match(
  plan: readonly KeptPocket[],
  planned: readonly { readonly middle: Point<'bed'>; readonly areaMm2: number }[],
  holes: readonly Hole[],
): { motion: Motion; pairs: Pair[] } {
  const apart = (a: Point<'bed'>, b: Point<'bed'>): number => Math.hypot(a.x - b.x, a.y - b.y);
  const alike = (p: number, h: number): boolean =>
    Math.abs(holes[h]!.areaMm2 / planned[p]!.areaMm2 - 1) < AREA_SHARE;
  const pairsBy = (motion: Motion): Pair[] =>
    holes.flatMap((hole, h): Pair[] => {
      const at = movedBy(motion, inBed(hole.middle));
      const p = planned.findIndex((q, k) => apart(q.middle, at) < NEAR_MM && alike(k, h));
      return p < 0 ? [] : [[p, h]];
    });
  // A few pockets that are far from each other: one of them may be missing in the board.
  const order = planned.map((_, k) => k);
  const bases = [0, Math.floor(order.length / 2)].flatMap((i) => {
    const far = order.reduce((b, k) =>
      apart(planned[k]!.middle, planned[i]!.middle) > apart(planned[b]!.middle, planned[i]!.middle)
        ? k
        : b,
    );
    return far === i ? [] : [[i, far] as const];
  });
  const tried: { motion: Motion; pairs: Pair[] }[] = [];
  for (const [i, j] of bases) {
    const [pi, pj] = [planned[i]!.middle, planned[j]!.middle];
    const want = apart(pi, pj);
    holes.forEach((a, h) =>
      holes.forEach((b, g) => {
        if (h === g || !alike(i, h) || !alike(j, g)) return;
        const have = Math.hypot(a.middle.x - b.middle.x, a.middle.y - b.middle.y);
        if (Math.abs(have - want) > NEAR_MM) return;
        const turnRad =
          Math.atan2(pj.y - pi.y, pj.x - pi.x) -
          Math.atan2(b.middle.y - a.middle.y, b.middle.x - a.middle.x);
        const turned = movedBy({ mirrored: false, turnRad, xMm: 0, yMm: 0 }, a.middle);
        const motion = { mirrored: false, turnRad, xMm: pi.x - turned.x, yMm: pi.y - turned.y };
        tried.push({ motion, pairs: pairsBy(motion) });
      }),
    );
  }
  const most = Math.max(0, ...tried.map((t) => t.pairs.length));
  if (most < 2 || 2 * most < plan.length)
    throw new Refusal('board-unlike', { holes: holes.length, pockets: plan.length, found: most });
  const off = ({ motion, pairs }: { motion: Motion; pairs: Pair[] }): number => {
    const some = pairs.slice(0, 4);
    return some.reduce((sum, [p, h]) => {
      const sides = new Nearest([plan[p]!.opening.outer], 2);
      const points = holes[h]!.ring.filter((_, k) => k % 8 === 0);
      return (
        sum +
        points.reduce((s, q) => {
          const m = movedBy(motion, inBed(q));
          return s + sides.distance(m.x, m.y) ** 2;
        }, 0) /
          points.length
      );
    }, 0);
  };
  return tried
    .filter((t) => t.pairs.length === most)
    .map((t) => ({ ...t, off: off(t) }))
    .reduce((a, b) => (b.off < a.off ? b : a));
}

/** One step of Gauss and Newton: shift and turn, with growth free, what lies far off not counting. */
function nearer(
  motion: Motion,
  walls: readonly { readonly hole: Hole; readonly sides: Nearest }[],
): Motion {
  const parts = walls.map(({ hole, sides }) => {
    const ring: Ring<'bed'> = hole.ring.map((p) => movedBy(motion, inBed(p)));
    return { ring, ...outwardNormals(ring), off: offsetsTo(ring, sides) };
  });
  const rows: number[][] = [];
  const values: number[] = [];
  for (const { ring, nx, ny, off } of parts)
    ring.forEach((p, k) => {
      rows.push([nx[k]!, ny[k]!, p.x * ny[k]! - p.y * nx[k]!, -1]);
      values.push(off[k]!);
    });
  const step = robust(rows, values)(Float64Array.from(values));
  const [dx, dy, turn] = step as [number, number, number];
  const [c, s] = [Math.cos(turn), Math.sin(turn)];
  return {
    mirrored: false,
    turnRad: motion.turnRad + turn,
    xMm: dx + c * motion.xMm - s * motion.yMm,
    yMm: dy + s * motion.xMm + c * motion.yMm,
  };
}

/** The same, places that lie far off not counting: the weights are those of these values. */
function robust(
  rows: readonly (readonly number[])[],
  values: readonly number[],
): (values: Float64Array) => number[] {
  const given = Float64Array.from(values);
  let fit = leastSquares(rows);
  for (let round = 0; round < 3; round++) {
    const x = fit(given);
    const left = values.map((v, k) => Math.abs(v - rows[k]!.reduce((s, r, i) => s + r * x[i]!, 0)));
    const far = TUKEY * Math.max(1e-6, [...left].sort((a, b) => a - b)[left.length >> 1]!);
    fit = leastSquares(
      rows,
      left.map((l) => (l < far ? (1 - (l / far) ** 2) ** 2 : 0)),
    );
  }
  return fit;
}

/** Solves rows · x = values for any values by least squares. */
function leastSquares(
  rows: readonly (readonly number[])[],
  weights?: readonly number[],
): (values: Float64Array) => number[] {
  const n = rows[0]!.length;
  const normal = Matrix.zeros(n, n);
  rows.forEach((row, k) => {
    const w = weights?.[k] ?? 1;
    for (let a = 0; a < n; a++)
      for (let b = 0; b < n; b++) normal.set(a, b, normal.get(a, b) + w * row[a]! * row[b]!);
  });
  const solved = inverse(normal);
  return (values) => {
    const right = new Array<number>(n).fill(0);
    rows.forEach((row, k) => {
      const w = (weights?.[k] ?? 1) * values[k]!;
      for (let a = 0; a < n; a++) right[a]! += w * row[a]!;
    });
    return right.map((_, a) => right.reduce((s, r, b) => s + solved.get(a, b) * r, 0));
  };
}

interface Errors {
  /** Displacements of all vertices of the outline, in the bed's axes, mm. */
  readonly modes: readonly { readonly dx: Float64Array; readonly dy: Float64Array }[];
  readonly own: Float64Array;
  readonly u: Float64Array;
}

function errorsOf({ modes, edgeU, u }: BoardOutline, { turnRad }: Motion): Errors {
  const [c, s] = [Math.cos(turnRad), Math.sin(turnRad)];
  return {
    modes: modes.map(({ dx, dy }) => ({
      dx: dx.map((x, k) => c * x - s * dy[k]!),
      dy: dx.map((x, k) => s * x + c * dy[k]!),
    })),
    own: Float64Array.from(edgeU.flatMap((r) => [...r])),
    u: Float64Array.from(u.flatMap((r) => [...r])),
  };
}

interface WallPoint {
  readonly k: number;
  readonly v: number;
  readonly at: Point<'bed'>;
  readonly nx: number;
  readonly ny: number;
}
type LaidWall = { readonly hole: Hole; readonly ring: Ring<'bed'> };

/** A mode along the normals of all walls. */
const alongOf = (
  { dx, dy }: Errors['modes'][number],
  all: readonly WallPoint[],
  laid: readonly LaidWall[],
): Float64Array =>
  Float64Array.from(all, ({ k, v, nx, ny }) => {
    const vertex = laid[k]!.hole.from[v]!;
    return nx * dx[vertex]! + ny * dy[vertex]!;
  });

/** What the edge's own errors do to a figure that is linear in the walls, one for each pocket: they add up in quadrature over places some 2 mm apart. */
function ownErrors(
  { own }: Errors,
  all: readonly WallPoint[],
  laid: readonly LaidWall[],
  of: (values: Float64Array) => number,
): number[] {
  return laid.map(({ hole, ring }, k) => {
    const length = ring.reduce((sum, p, i) => {
      const q = ring[(i + 1) % ring.length]!;
      return sum + Math.hypot(q.x - p.x, q.y - p.y);
    }, 0);
    const places = Math.max(1, length / 2);
    const values = Float64Array.from(all, (a) => (a.k === k ? own[hole.from[a.v]!]! : 0));
    return of(values) / Math.sqrt(places);
  });
}

/** A hole as an outline of its own, wound like the wall of an opening. */
function wallOf(board: BoardOutline, { ring, from }: Hole): Measured {
  const pick = (values: Float64Array): Float64Array => Float64Array.from(from, (k) => values[k]!);
  const flat = (of: readonly Float64Array[]): Float64Array =>
    Float64Array.from(of.flatMap((r) => [...r]));
  return {
    region: { outer: ring, holes: [] },
    u: [pick(flat(board.u))],
    edgeU: [pick(flat(board.edgeU))],
    modes: board.modes.map(({ source, dx, dy }) => ({ source, dx: pick(dx), dy: pick(dy) })),
    wholeFactor: board.wholeFactor,
    hidden: [],
  };
}

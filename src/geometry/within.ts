import { solve as solveLinear } from 'yalps';
import type { Frame, Point } from '../base/measure.ts';
import { movedBy, type Motion } from './lay.ts';
import { boxOf, centroid } from './measure.ts';
import { Nearest, type Place } from './nearest.ts';
import type { Region, Ring } from './shape.ts';

/** Where a piece and the wall round it face each other. Vertices are numbered through all rings, outer ones first as given. */
export interface Facing<F extends Frame> {
  /** From the piece's edge to the wall, mm; negative where the piece reaches into the wall. */
  readonly roomMm: number;
  /** On the piece's edge, where the piece lies. */
  readonly at: Point<F>;
  /** Unit vector from the wall into the opening: moving the piece along it makes room. */
  readonly nx: number;
  readonly ny: number;
  /** The piece's vertex, or the first vertex of its side. */
  readonly piece: number;
  /** The same of the wall. */
  readonly wall: number;
}

export interface Within<F extends Frame> {
  readonly motion: Motion;
  /** The least room anywhere between piece and wall, mm; negative where the piece does not go in. */
  readonly roomMm: number;
  /** All that may matter: what has less room than the least and `nearMm`. */
  readonly facings: readonly Facing<F>[];
  /** The places that hold the piece: those that leave it the least room at once. */
  readonly holds: readonly Facing<F>[];
}

/** Facings with so much more room than the least bear on nothing that errors of a few tenths could bring about, mm. */
const NEAR_MM = 1.5;
/** First step of the search, mm, and where it ends. */
const STEP_MM = 1;
const LEAST_STEP_MM = 2e-5;
const ROUNDS = 60;
/** Places with no more room than this beyond the least hold the piece, mm. */
const HOLDS_MM = 0.004;

/** Closed rings with the sense of their sides: outer rings counter-clockwise, holes clockwise, material to the left. */
class Edge<F extends Frame> {
  readonly points: readonly Point<F>[];
  private readonly nearest: Nearest;
  /** Outward unit normal of each side, and the side before it. */
  private readonly nx: Float64Array;
  private readonly ny: Float64Array;
  private readonly before: Int32Array;
  private readonly after: Int32Array;

  constructor(rings: readonly Ring<F>[]) {
    this.points = rings.flat();
    const n = this.points.length;
    const box = boxOf(this.points);
    this.nearest = new Nearest(
      rings,
      Math.max(0.5, box.right - box.left, box.top - box.bottom) / 60,
    );
    this.nx = new Float64Array(n);
    this.ny = new Float64Array(n);
    this.before = new Int32Array(n);
    this.after = new Int32Array(n);
    let first = 0;
    for (const ring of rings) {
      ring.forEach((p, k) => {
        const q = ring[(k + 1) % ring.length]!;
        const length = Math.hypot(q.x - p.x, q.y - p.y) || 1;
        this.nx[first + k] = (q.y - p.y) / length;
        this.ny[first + k] = -(q.x - p.x) / length;
        this.before[first + k] = first + ((k + ring.length - 1) % ring.length);
        this.after[first + k] = first + ((k + 1) % ring.length);
      });
      first += ring.length;
    }
  }

  /**
   * The nearest place on the edge, how far the point lies outside it (negative: inside), and the unit vector along which
   * that grows. At a vertex the normals of both its sides decide together (exact in the plane).
   */
  from(p: Point<F>): { readonly place: Place; readonly outsideMm: number; nx: number; ny: number } {
    const place = this.nearest.place(p.x, p.y);
    const { side, along, distance } = place;
    const [dx, dy] = [p.x - place.x, p.y - place.y];
    let [sx, sy] = [this.nx[side]!, this.ny[side]!];
    const other = along <= 0 ? this.before[side]! : along >= 1 ? this.after[side]! : side;
    if (other !== side) [sx, sy] = [sx + this.nx[other]!, sy + this.ny[other]!];
    const sign = dx * sx + dy * sy < 0 ? -1 : 1;
    if (distance > 1e-9)
      return {
        place,
        outsideMm: sign * distance,
        nx: (sign * dx) / distance,
        ny: (sign * dy) / distance,
      };
    const length = Math.hypot(sx, sy) || 1;
    return { place, outsideMm: 0, nx: sx / length, ny: sy / length };
  }
}

/** A piece and the opening it is to lie in; what is common to all searches for its place. */
export class Opening<F extends Frame> {
  readonly #wall: Edge<F>;
  readonly region: Region<F>;

  /** @param region what is open: outer ring counter-clockwise, posts as its holes */
  constructor(region: Region<F>) {
    this.region = region;
    this.#wall = new Edge([region.outer, ...region.holes]);
  }

  /**
   * The place of a piece in the opening that leaves the most room at the tightest spot (Chebyshev's problem), found from a
   * start by linear programs over steps that are kept small enough to be trusted. The best near the start, not of all turns.
   *
   * @param piece outer ring counter-clockwise, holes clockwise
   */
  place(piece: Region<F>, start: Motion): Within<F> {
    const search = new Search(this.#wall, piece);
    let motion = start;
    let facings = search.facings(motion);
    let room = least(facings);
    let step = STEP_MM;
    for (let round = 0; round < ROUNDS && step > LEAST_STEP_MM; round++) {
      const move = bestStep(facings, search.middle(motion), search.reachMm, step);
      if (move.roomMm <= room + 1e-6) {
        step /= 4;
        continue;
      }
      const next = stepped(motion, search.middle(motion), search.reachMm, move);
      const then = search.facings(next);
      const gained = least(then) - room;
      if (gained > 0.1 * (move.roomMm - room)) {
        [motion, facings, room] = [next, then, room + gained];
        if (gained > 0.7 * (move.roomMm - room + gained)) step = Math.min(STEP_MM, 2 * step);
      } else step /= 4;
    }
    return {
      motion,
      roomMm: room,
      facings: facings.filter((f) => f.roomMm < room + NEAR_MM),
      holds: facings.filter((f) => f.roomMm < room + HOLDS_MM),
    };
  }

  /** What faces what where a piece lies, without looking for a better place. */
  facingsOf(piece: Region<F>, motion: Motion): readonly Facing<F>[] {
    return new Search(this.#wall, piece).facings(motion);
  }
}

const least = (facings: readonly Facing<Frame>[]): number =>
  facings.reduce((a, f) => Math.min(a, f.roomMm), Infinity);

class Search<F extends Frame> {
  readonly reachMm: number;
  readonly #own: Edge<F>;
  readonly #centre: Point<F>;

  constructor(
    readonly wall: Edge<F>,
    readonly piece: Region<F>,
  ) {
    this.#own = new Edge([piece.outer, ...piece.holes]);
    this.#centre = centroid(piece.outer);
    const box = boxOf(piece.outer);
    this.reachMm = Math.hypot(box.right - box.left, box.top - box.bottom) / 2;
  }

  middle(motion: Motion): Point<F> {
    return movedBy(motion, this.#centre);
  }

  /** Every vertex of the piece against the wall, and every vertex of the wall against the piece. */
  facings(motion: Motion): Facing<F>[] {
    const all: Facing<F>[] = [];
    this.#own.points.forEach((p, piece) => {
      const at = movedBy(motion, p);
      const { place, outsideMm, nx, ny } = this.wall.from(at);
      all.push({ roomMm: -outsideMm, at, nx: -nx, ny: -ny, piece, wall: place.side });
    });
    const { mirrored, turnRad, xMm, yMm } = motion;
    const [c, s] = [Math.cos(turnRad), Math.sin(turnRad)];
    this.wall.points.forEach((w, wall) => {
      const [dx, dy] = [w.x - xMm, w.y - yMm];
      const [u, v] = [c * dx + s * dy, c * dy - s * dx];
      const { place, outsideMm, nx, ny } = this.#own.from({ x: mirrored ? -u : u, y: v });
      const m = mirrored ? -nx : nx;
      all.push({
        roomMm: outsideMm,
        at: movedBy(motion, place),
        nx: -(c * m - s * ny),
        ny: -(s * m + c * ny),
        piece: place.side,
        wall,
      });
    });
    return all;
  }
}

interface Step {
  readonly xMm: number;
  readonly yMm: number;
  /** Turn about the middle, as the way of a point `reachMm` from it. */
  readonly turnMm: number;
  readonly roomMm: number;
}

/**
 * The step of at most `mostMm` along x, along y and at the reach of the turn that leaves the most room, each facing taken
 * to change as it begins to.
 */
export function bestStep<F extends Frame>(
  facings: readonly Facing<F>[],
  middle: Point<F>,
  reachMm: number,
  mostMm: number,
): Step {
  const now = least(facings);
  // Nothing with more room than this can be reached by the step.
  const near = facings.filter((f) => f.roomMm <= now + 6 * mostMm);
  const constraints = new Map<string, { max: number }>();
  // The variables of the solver are at least 0: the steps are counted from -mostMm, the room from its present value less all that a step may take.
  const floor = now - 4 * mostMm;
  const [x, y, turn, room] = [0, 1, 2, 3].map(() => new Map<string, number>()) as [
    Map<string, number>,
    Map<string, number>,
    Map<string, number>,
    Map<string, number>,
  ];
  near.forEach((f, k) => {
    const key = `f${k}`;
    const lever = ((f.at.x - middle.x) * f.ny - (f.at.y - middle.y) * f.nx) / reachMm;
    x.set(key, -f.nx);
    y.set(key, -f.ny);
    turn.set(key, -lever);
    room.set(key, 1);
    constraints.set(key, { max: f.roomMm - floor - mostMm * (f.nx + f.ny + lever) });
  });
  [x, y, turn].forEach((of, k) => {
    of.set(`most${k}`, 1);
    constraints.set(`most${k}`, { max: 2 * mostMm });
  });
  room.set('gain', 1);
  const { status, variables } = solveLinear(
    {
      direction: 'maximize',
      objective: 'gain',
      constraints,
      variables: new Map([
        ['x', x],
        ['y', y],
        ['turn', turn],
        ['room', room],
      ]),
    },
    { precision: 1e-9, includeZeroVariables: true },
  );
  const of = (name: string): number => variables.find(([v]) => v === name)?.[1] ?? 0;
  if (status !== 'optimal') return { xMm: 0, yMm: 0, turnMm: 0, roomMm: now };
  return {
    xMm: of('x') - mostMm,
    yMm: of('y') - mostMm,
    turnMm: of('turn') - mostMm,
    roomMm: of('room') + floor,
  };
}

function stepped<F extends Frame>(
  { mirrored, turnRad, xMm, yMm }: Motion,
  middle: Point<F>,
  reachMm: number,
  step: Step,
): Motion {
  const turn = step.turnMm / reachMm;
  const [c, s] = [Math.cos(turn), Math.sin(turn)];
  const [dx, dy] = [xMm - middle.x, yMm - middle.y];
  return {
    mirrored,
    turnRad: turnRad + turn,
    xMm: middle.x + c * dx - s * dy + step.xMm,
    yMm: middle.y + s * dx + c * dy + step.yMm,
  };
}

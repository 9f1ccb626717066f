import type { Point } from '../base/measure.ts';
import type { Progress } from '../base/progress.ts';
import type { Clipper } from '../geometry/clipper.ts';
import { lightRing } from '../geometry/light.ts';
import { boxOf, type Box } from '../geometry/measure.ts';
import type { Region, Ring } from '../geometry/shape.ts';
import { boardBox, roomOf, seatKeepOuts } from './board-on-bed.ts';
import { solidArea } from './usage.ts';
import type { BedSettings, FreePlace, KeepOut } from './plan.ts';

/** One kind of blank to be nested. */
export interface NestPart {
  readonly blank: number;
  /** Wall and relief of its pocket, blank mm. */
  readonly opening: readonly Region<'blank'>[];
  /** How many; none of them is left out while there is room. */
  readonly count: number;
}

export interface NestSettings
  extends
    Pick<BedSettings, 'widthMm' | 'depthMm' | 'wallMm' | 'marginMm' | 'board' | 'keyed'>,
    Partial<Pick<BedSettings, 'zero'>> {
  readonly keepOuts?: readonly KeepOut[];
  /** The turns that a blank may be laid in, degrees. */
  readonly turnsDeg: readonly number[];
}

/** How hard to look: orders of the pieces that are tried. */
export const NEST_ROUNDS = 150;

export interface Nest {
  /** From the front of the bed to its rear, each row from the left. */
  readonly places: readonly FreePlace[];
  /** Pieces that found no room, by blank number. */
  readonly left: Readonly<Record<number, number>>;
}

/** A shape turned one way, in rows from its foot: where each begins and ends, from its left edge, mm. */
interface Turned {
  readonly turnDeg: number;
  readonly rows: readonly Float64Array[];
  /** All rows, each far from the one before: what is in the way is met soon. */
  readonly tour: readonly number[];
  readonly width: number;
  /** Row of its centre of gravity. */
  readonly middle: number;
  /** Its left edge and its foot, from its own origin, mm. */
  readonly left: number;
  readonly foot: number;
}

/** One laid piece: which part, which of its turns, from the room's left edge (mm) and foot (rows). */
interface Laid {
  readonly part: number;
  readonly turned: Turned;
  readonly x: number;
  readonly y: number;
}

/** Pieces tried in one order, and what came of it. */
interface Trial {
  readonly order: readonly number[];
  /** Which of the turns were tried, by their places in the list. */
  readonly turns: readonly number[];
  readonly laid: readonly (Laid | undefined)[];
  /** Area of what found no room, then rows used, then how low all lies: less is better. */
  readonly cost: readonly [number, number, number];
}

const less = (a: Trial['cost'], b: Trial['cost']): boolean => {
  for (let k = 0; k < a.length; k++) if (a[k] !== b[k]) return a[k]! < b[k]!;
  return false;
};

/** A shape's wall is grown by this more than half the wall, so that rounding places never thins it, mm. */
const ROUNDING_MM = 0.002;

/** Openings are thinned out by so little before they are grown, and grown by as much more, mm. */
const LIGHT_MM = 0.02;

/** Rows across a blank of common size, while orders are tried and at the end. */
const COARSE_ROWS = 36;
const FINE_ROWS = 140;

/**
 * Nests pieces: their true openings, half the wall grown round each, laid as low and as far left as they go, in the order
 * and the turns that leave the least board used. The board is in thin rows and a shape
 * takes, in each row that it touches, all that lies below or above it there: what is laid keeps the wall, and loses of the
 * board less than a row at each edge. The pieces are first
 * tried in many orders on coarse rows, then the best orders are laid on fine ones. The same input gives the same places.
 *
 * A shape may lie in a bay of another, or in a hole that others leave; it never lies inside another's pocket.
 *
 * @param progress is told each order tried
 * Source of the rows: the semi-discrete representation of the cutting-and-packing literature, from memory.
 */
export function nest(
  clipper: Clipper,
  parts: readonly NestPart[],
  settings: NestSettings,
  progress?: Progress,
  rounds = NEST_ROUNDS,
): Nest {
  const { wallMm } = settings;
  const reach = wallMm / 2 + ROUNDING_MM + LIGHT_MM;
  const grown = parts.map(({ opening }) =>
    clipper
      .offset(
        opening.map(({ outer }) => ({ outer: lightRing(outer, LIGHT_MM), holes: [] })),
        reach,
        'outward',
      )
      .map(({ outer }) => outer),
  );
  const areas = grown.map((rings) => solidArea(rings.map((outer) => ({ outer, holes: [] }))));
  const pieces = parts.flatMap(({ count }, part) => Array<number>(count).fill(part));
  if (pieces.length === 0) return { places: [], left: {} };
  const typical = Math.sqrt(areas.reduce((a, b) => a + b, 0) / areas.length);
  // What grown shapes may cover: the openings themselves keep to their room.
  const inner = roomOf(settings);
  const room: Box = {
    left: inner.left - wallMm / 2,
    right: inner.right + wallMm / 2,
    bottom: inner.bottom - wallMm / 2,
    top: inner.top + wallMm / 2,
  };
  const keepOuts = [
    ...(settings.keepOuts ?? []),
    ...seatKeepOuts({ zero: 'bottom-left', ...settings }),
  ];
  const layer = (cells: number): Layer =>
    new Layer(
      grown,
      areas,
      room,
      typical / cells,
      settings.turnsDeg,
      // Half a wall is kept from them as from a neighbour's.
      keepOuts,
    );

  const coarse = layer(COARSE_ROWS);
  const byArea = [...pieces].sort((a, b) => areas[b]! - areas[a]!);
  const size = (part: number, side: 'width' | 'height'): number => {
    const box = boxOf(grown[part]!.flat());
    return side === 'width' ? box.right - box.left : box.top - box.bottom;
  };
  const orders = [
    byArea,
    [...pieces].sort((a, b) => size(b, 'height') - size(a, 'height')),
    [...pieces].sort((a, b) => size(b, 'width') - size(a, 'width')),
  ];
  const starts = turnsToTry(settings.turnsDeg).flatMap((turns) =>
    (several(pieces) ? orders : [byArea]).map((order) => ({ order, turns })),
  );
  const random = seeded(1);
  const trials: Trial[] = [];
  for (let round = 0; round < rounds; round++) {
    progress?.('Nesting: orders tried', round, rounds);
    const best = trials[0];
    const start = starts[round];
    if (start) trials.push(coarse.lay(start.order, start.turns, []));
    else {
      if (!several(pieces)) break;
      const order = [...best!.order];
      const i = Math.floor(random() * order.length);
      const j = Math.floor(random() * order.length);
      if (order[i] === order[j]) continue;
      [order[i], order[j]] = [order[j]!, order[i]!];
      trials.push(coarse.lay(order, best!.turns, best!.laid.slice(0, Math.min(i, j))));
    }
    trials.sort((a, b) => (less(a.cost, b.cost) ? -1 : less(b.cost, a.cost) ? 1 : 0));
    trials.length = Math.min(trials.length, 3);
  }
  const fine = layer(FINE_ROWS);
  const last = trials.map(({ order, turns }) => fine.lay(order, turns, []));
  const best = last.reduce((a, b) => (less(b.cost, a.cost) ? b : a));
  const places = best.laid.flatMap((l): FreePlace[] =>
    l
      ? [
          {
            blank: parts[l.part]!.blank,
            x: micrometres(room.left + l.x - l.turned.left),
            y: micrometres(room.bottom + l.y * fine.cell - l.turned.foot),
            turnDeg: l.turned.turnDeg,
            mirrored: false,
          },
        ]
      : [],
  );
  const left: Record<number, number> = {};
  best.laid.forEach((l, k) => {
    const { blank } = parts[best.order[k]!]!;
    if (!l) left[blank] = (left[blank] ?? 0) + 1;
  });
  return { places, left };
}

/** More pieces than this are not tried. */
const MOST_PIECES = 500;

/** Counts raised in proportion, until there are surely more pieces than the bed takes. */
export function filling(
  parts: readonly NestPart[],
  bed: Pick<NestSettings, 'widthMm' | 'depthMm' | 'zero' | 'board'>,
): NestPart[] {
  const { left, right, bottom, top } = boardBox(bed);
  const sum = (of: (part: NestPart) => number): number => parts.reduce((all, p) => all + of(p), 0);
  const enough = Math.ceil(
    ((right - left) * (top - bottom)) / sum((p) => p.count * solidArea(p.opening)),
  );
  const sets = Math.min(enough, Math.ceil(MOST_PIECES / sum((p) => p.count)));
  return parts.map((part) => ({ ...part, count: part.count * sets }));
}

const micrometres = (v: number): number => Math.round(v * 1e3) / 1e3 + 0;

const several = (pieces: readonly number[]): boolean => pieces.some((p) => p !== pieces[0]);

/** All turns, then fewer: what takes the least room alone need not do so among its like. */
function turnsToTry(turnsDeg: readonly number[]): number[][] {
  const all = turnsDeg.map((_, k) => k);
  const pairs = all
    .filter((k) => turnsDeg[k]! < 180)
    .map((k) => all.filter((j) => turnsDeg[j]! % 180 === turnsDeg[k]!));
  const lists = [all, ...pairs, ...all.map((k) => [k])];
  return lists.filter((l, k) => lists.findIndex((m) => m.join() === l.join()) === k);
}

/** Numbers from 0 to 1 that look random and are always the same (mulberry32). */
function seeded(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = Math.imul(state ^ (state >>> 15), state | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

/** The board and all turned shapes in rows of one height. */
class Layer {
  readonly #shapes: readonly (readonly Turned[])[];
  readonly #width: number;
  readonly #rows: number;
  readonly #blocked: readonly (readonly number[])[];

  constructor(
    shapes: readonly (readonly Ring<'blank'>[])[],
    readonly areas: readonly number[],
    room: Box,
    readonly cell: number,
    turnsDeg: readonly number[],
    keepOuts: readonly KeepOut[],
  ) {
    this.#width = room.right - room.left;
    this.#rows = Math.floor((room.top - room.bottom) / cell + 1e-9);
    this.#shapes = shapes.map((rings) => turnsDeg.map((turn) => turned(rings, turn, cell)));
    const blocked = Array.from({ length: Math.max(this.#rows, 0) }, (): number[] => []);
    for (const { xMm, yMm, widthMm, depthMm } of keepOuts) {
      const from = xMm - room.left;
      const to = from + widthMm;
      const first = Math.max(0, Math.floor((yMm - room.bottom) / cell));
      const last = Math.min(blocked.length, Math.ceil((yMm + depthMm - room.bottom) / cell));
      for (let y = first; y < last; y++) blocked[y] = merged(blocked[y]!, from, to);
    }
    this.#blocked = blocked;
  }

  /** Lays the pieces one after the other; the first of them as they lay before. */
  lay(
    order: readonly number[],
    turns: readonly number[],
    before: readonly (Laid | undefined)[],
  ): Trial {
    const board = this.#blocked.map((row) => row);
    const laid: (Laid | undefined)[] = [];
    /** Once one of a kind finds no room, no other of that kind will. */
    const full = new Set<number>();
    let [lost, top, weight] = [0, 0, 0];
    order.forEach((part, k) => {
      const l =
        k < before.length
          ? before[k]
          : full.has(part)
            ? undefined
            : this.#lowest(board, part, turns);
      laid.push(l);
      if (!l) {
        full.add(part);
        lost += this.areas[part]!;
        return;
      }
      l.turned.rows.forEach((runs, i) => {
        let row = board[l.y + i]!;
        for (let r = 0; r < runs.length; r += 2)
          row = merged(row, l.x + runs[r]!, l.x + runs[r + 1]!);
        board[l.y + i] = row;
      });
      const reach = l.y + l.turned.rows.length;
      top = Math.max(top, reach);
      weight += this.areas[part]! * reach;
    });
    return { order, turns, laid, cost: [lost, top, weight] };
  }

  /** The lowest place for a part, in whichever turn has its centre of gravity lowest there. */
  #lowest(
    board: readonly (readonly number[])[],
    part: number,
    turns: readonly number[],
  ): Laid | undefined {
    let best: Laid | undefined;
    let score = Infinity;
    for (const turn of turns) {
      const t = this.#shapes[part]![turn]!;
      const most = this.#width - t.width;
      const height = t.rows.length;
      if (most < 0) continue;
      for (let y = 0; y + height <= this.#rows && y + t.middle < score; y++) {
        const x = this.#leftmost(board, t, y, most);
        if (x < 0) continue;
        const s = y + t.middle + x / (this.#width + 1);
        if (s < score) {
          score = s;
          best = { part, turned: t, x, y };
        }
        break;
      }
    }
    return best;
  }

  /**
   * The first x, mm from the room's edge, at which the shape is free in all its rows; -1 where there is none up to `most`.
   * What is in the way says how far to go at least: x jumps there, until all rows in turn have let it stand.
   */
  #leftmost(
    board: readonly (readonly number[])[],
    { rows, tour }: Turned,
    y: number,
    most: number,
  ): number {
    let x = 0;
    for (
      let clear = 0, k = 0;
      clear < rows.length;
      clear++, k = k + 1 === tour.length ? 0 : k + 1
    ) {
      const i = tour[k]!;
      const taken = board[y + i]!;
      const runs = rows[i]!;
      for (let r = 0; r < runs.length; r += 2) {
        for (let t = 0; t < taken.length; t += 2) {
          if (taken[t]! >= x + runs[r + 1]! - 1e-9) break;
          if (taken[t + 1]! <= x + runs[r]! + 1e-9) continue;
          x = taken[t + 1]! - runs[r]!;
          if (x > most) return -1;
          clear = -1;
        }
      }
      // Another run of this row may now be in the way.
      if (clear < 0) k--;
    }
    return x;
  }
}

/** Runs with one more among them, in order, those that touch joined. */
function merged(runs: readonly number[], from: number, to: number): number[] {
  const out: number[] = [];
  let k = 0;
  while (k < runs.length && runs[k + 1]! < from) out.push(runs[k++]!, runs[k++]!);
  while (k < runs.length && runs[k]! <= to) {
    from = Math.min(from, runs[k]!);
    to = Math.max(to, runs[k + 1]!);
    k += 2;
  }
  out.push(from, to);
  while (k < runs.length) out.push(runs[k++]!);
  return out;
}

/** A shape, turned, as what it touches of each row. */
function turned(rings: readonly Ring<'blank'>[], turnDeg: number, cell: number): Turned {
  const a = (turnDeg * Math.PI) / 180;
  const [c, s] = [Math.cos(a), Math.sin(a)];
  const all = rings.map((ring) =>
    ring.map((p): Point<'bed'> => ({ x: c * p.x - s * p.y, y: s * p.x + c * p.y })),
  );
  const box = boxOf(all.flat());
  const height = Math.ceil((box.top - box.bottom) / cell + 1e-9);
  const runs: number[][] = Array.from({ length: height }, () => []);
  /** Crossings of the foot of each row. */
  const crossings: number[][] = Array.from({ length: height }, () => []);
  const add = (row: number, from: number, to: number): void => {
    runs[row] = merged(runs[row]!, from, to);
  };
  for (const ring of all)
    ring.forEach((p, k) => {
      const q = ring[(k + 1) % ring.length]!;
      const [low, high] = p.y <= q.y ? [p, q] : [q, p];
      const [y0, y1] = [(low.y - box.bottom) / cell, (high.y - box.bottom) / cell];
      const at = (y: number): number => {
        const t = y1 === y0 ? 0 : (y - y0) / (y1 - y0);
        return low.x + t * (high.x - low.x) - box.left;
      };
      const last = Math.min(height - 1, Math.floor(y1));
      for (let row = Math.max(0, Math.floor(y0)); row <= last; row++) {
        const foot = at(Math.max(row, y0));
        const head = y1 === y0 ? high.x - box.left : at(Math.min(row + 1, y1));
        add(row, Math.min(foot, head), Math.max(foot, head));
        if (row > y0 && row <= y1) crossings[row]!.push(at(row));
      }
    });
  // In a row, a place of the shape lies under an edge of the row, or the row's foot below it is in the shape.
  crossings.forEach((xs, row) => {
    xs.sort((p, q) => p - q);
    for (let k = 0; k + 1 < xs.length; k += 2) add(row, xs[k]!, xs[k + 1]!);
  });
  const stride = coprime(height);
  return {
    turnDeg,
    rows: runs.map((r) => Float64Array.from(r)),
    tour: runs.map((_, k) => (k * stride) % height),
    width: box.right - box.left,
    middle: middleOf(runs),
    left: box.left,
    foot: box.bottom,
  };
}

/** A step near the golden share of n that visits all of 0 to n - 1. */
function coprime(n: number): number {
  const divisor = (a: number, b: number): number => (b === 0 ? a : divisor(b, a % b));
  let step = Math.max(1, Math.round(0.618 * n));
  while (divisor(n, step) !== 1) step++;
  return step;
}

/** The row of the centre of gravity. */
function middleOf(runs: readonly (readonly number[])[]): number {
  let [sum, all] = [0, 0];
  runs.forEach((r, k) => {
    for (let i = 0; i < r.length; i += 2) {
      sum += (r[i + 1]! - r[i]!) * (k + 0.5);
      all += r[i + 1]! - r[i]!;
    }
  });
  return sum / all;
}

import type { Point } from '../base/measure.ts';
import { signedArea } from '../geometry/measure.ts';
import type { RayVertex } from '../geometry/radial.ts';
import { pictureOfMany } from '../view/model.ts';
import type { View } from '../view/view.ts';
import { cheapestWay, type Ends } from './cheapest-way.ts';
import type { Edge } from './edge.ts';
import type { Lights } from './linear.ts';
import { roughly } from './profile.ts';
import { sheetRing } from './wall.ts';

/** A narrower bay is left closed, mm: blur takes its rim and its wall for one. */
const LEAST_MM = 1.5;
/** A bay is looked into so far from its mouth: so many widths of it, and so much more, mm. */
const REACH_WIDTHS = 3;
const REACH_MM = 3;
/** A step of the root of light (0 to 1) over two pixels that is half an edge. */
const HALF_AN_EDGE = 0.05;
/** A step of ln(up / down) over two pixels from which on it is print that ends there, and no rim. */
const PRINT_STEP = 0.5;
/** What a pixel of way costs even along the clearest edge; 1 where there is none. */
const WAY = 0.02;
/** A way is taken if it costs less a pixel on the average: two thirds of an edge all along. */
const MOST_COST = 0.13;
/** A way no longer than this many times the chord is the chord. */
const LEAST_DETOUR = 1.1;
/** The way keeps so far off the silhouette's own edge, px, but for where the ring runs along it, to within this. */
const OFF_SILHOUETTE_PX = 3;
const ON_RING_PX = 2;
/** It may begin and end so much farther out, mm, at so much a pixel: a wall beside the bay may have been taken for the rim. */
const BACK_MM = 3;
const BACK_COST = 0.05;
/** Where it leaves the ring and comes back it is one with it by blur: so much on either side is drawn straight, mm. */
const JOINT_MM = 0.4;
/** The way's steps are averaged over so many points each way. */
const EASED = 4;

/**
 * Follows the rim of a blank's face into bays whose walls' feet no ray reached. What closes such a bay is a straight piece from
 * flank to flank; but a camera above the face sees all of its rim, against the bay's own wall. The way from one end of the piece
 * to the other that follows edges most closely is taken instead, where it follows edges all along. It stays marked as hidden, as
 * uncertain as the straight piece was: print on the face has edges too.
 *
 * @param rings of the blank behind its silhouette, mm, outer first
 * @param edges of its silhouette, beyond which lies the stage: no rim within the blank
 * @param faceMm height at which the rim is seen
 * @returns the rings; holes as they were, for through a hole its far side is seen
 */
export function intoBays(
  rings: readonly RayVertex<'sheet'>[][],
  edges: readonly Edge[],
  lights: Lights,
  view: View,
  faceMm: number,
  mmPerPx: number,
): RayVertex<'sheet'>[][] {
  return rings.map((ring) => {
    const n = ring.length;
    const start = ring.findIndex((v, k) => v.hiddenAfter && !ring[(k + n - 1) % n]!.hiddenAfter);
    if (start < 0 || signedArea(ring) < 0) return ring;
    const turned = [...ring.slice(start), ...ring.slice(0, start)];
    const gone = new Uint8Array(n);
    const drawnAt = new Map<number, RayVertex<'sheet'>[]>();
    for (let first = 0; first < n; first++) {
      if (!turned[first]!.hiddenAfter) continue;
      let last = first + 1;
      while (last < n && turned[last]!.hiddenAfter) last++;
      const [p, q] = [turned[first]!, turned[last % n]!];
      const gapMm = Math.hypot(q.x - p.x, q.y - p.y);
      const grid = gridAbout(p, q, gapMm, mmPerPx);
      const course = new Course(turned, grid);
      const bay =
        gapMm > LEAST_MM &&
        wayInto(
          [course.ends(first, -1), course.ends(last, 1)],
          gapMm,
          openOf(grid, rings, edges, view, faceMm),
          costsOf(grid, lights, view, faceMm),
          grid,
        );
      if (bay) {
        const from = course.beyond(bay.from, -1);
        const to = course.beyond(bay.to, 1);
        for (let k = from + 1; k < to; k++) gone[(k + n) % n] = 1;
        const way = bay.points.map((at) => ({
          ...at,
          kind: 'meeting' as const,
          from: -1,
          hiddenAfter: true,
          gapMm,
        }));
        drawnAt.set((from + n) % n, [{ ...course.at(from), hiddenAfter: true, gapMm }, ...way]);
      }
      first = last - 1;
    }
    if (drawnAt.size === 0) return ring;
    return turned.flatMap((v, k) => drawnAt.get(k) ?? (gone[k] ? [] : [v]));
  });
}

/** Places on the face's plane about a bay, a pixel apart. */
interface Grid {
  readonly left: number;
  readonly low: number;
  /** Places to a side. */
  readonly width: number;
  readonly step: number;
}

function gridAbout(p: Point<'sheet'>, q: Point<'sheet'>, gapMm: number, mmPerPx: number): Grid {
  const half = Math.ceil((REACH_WIDTHS * gapMm + REACH_MM) / mmPerPx);
  return {
    left: (p.x + q.x) / 2 - half * mmPerPx,
    low: (p.y + q.y) / 2 - half * mmPerPx,
    width: 2 * half + 1,
    step: mmPerPx,
  };
}

const columnOf = (g: Grid, p: Point<'sheet'>): number => Math.round((p.x - g.left) / g.step);
const rowOf = (g: Grid, p: Point<'sheet'>): number => Math.round((p.y - g.low) / g.step);

/** A place's number, -1 outside the grid. */
function numberOf(g: Grid, p: Point<'sheet'>): number {
  const [i, j] = [columnOf(g, p), rowOf(g, p)];
  return i < 0 || j < 0 || i >= g.width || j >= g.width ? -1 : j * g.width + i;
}

function mark(g: Grid, values: Uint8Array, p: Point<'sheet'>, reach: number, value: 0 | 1): void {
  const [i, j] = [columnOf(g, p), rowOf(g, p)];
  for (let y = Math.max(0, j - reach); y <= Math.min(g.width - 1, j + reach); y++)
    for (let x = Math.max(0, i - reach); x <= Math.min(g.width - 1, i + reach); x++)
      values[y * g.width + x] = value;
}

/** A ring about a grid; its vertices' numbers may run over its ends. */
class Course {
  constructor(
    private readonly ring: readonly RayVertex<'sheet'>[],
    private readonly grid: Grid,
  ) {}

  at(k: number): RayVertex<'sheet'> {
    const n = this.ring.length;
    return this.ring[((k % n) + n) % n]!;
  }

  /** The piece from vertex k on, one way or the other, mm; undefined where nothing was seen of it. */
  private piece(k: number, way: 1 | -1): number | undefined {
    const [a, b] = [this.at(k), this.at(k + way)];
    return (way < 0 ? b : a).hiddenAfter ? undefined : Math.hypot(b.x - a.x, b.y - a.y);
  }

  /** Places of the grid at which a way may begin or end, with what that costs and the vertices there. */
  ends(start: number, way: 1 | -1): Ends {
    const out = new Map<number, { vertex: number; cost: number }>();
    let lengthMm = 0;
    for (let s = 0; s < this.ring.length && lengthMm <= BACK_MM; s++) {
      const k = start + way * s;
      const place = numberOf(this.grid, this.at(k));
      if (place < 0) break;
      if (!out.has(place))
        out.set(place, { vertex: k, cost: (BACK_COST * lengthMm) / this.grid.step });
      const piece = this.piece(k, way);
      if (piece === undefined) break;
      lengthMm += piece;
    }
    return out;
  }

  /** The vertex a joint's length beyond one, or the last before a hidden stretch. */
  beyond(start: number, way: 1 | -1): number {
    let k = start;
    for (let lengthMm = 0; lengthMm < JOINT_MM; k += way) {
      const piece = this.piece(k, way);
      if (piece === undefined) break;
      lengthMm += piece;
    }
    return k;
  }
}

/** The way along edges instead of a hidden stretch, with the vertices it begins and ends at; undefined where there is none. */
function wayInto(
  ends: readonly [Ends, Ends],
  gapMm: number,
  open: Uint8Array,
  cost: Float32Array,
  { left, low, width, step }: Grid,
): { from: number; to: number; points: Point<'sheet'>[] } | undefined {
  for (const end of ends) for (const place of end.keys()) open[place] = 1;
  const found = cheapestWay(open, cost, width, ...ends);
  if (!found) return undefined;
  const { places, length, spent } = found;
  if (spent > MOST_COST * length || length * step < LEAST_DETOUR * gapMm) return undefined;
  const joint = Math.round(JOINT_MM / step);
  const points = eased(
    places.map((k) => ({ x: left + (k % width) * step, y: low + Math.floor(k / width) * step })),
  ).slice(joint, -joint);
  if (points.length === 0) return undefined;
  return {
    from: ends[0].get(places[0]!)!.vertex,
    to: ends[1].get(places.at(-1)!)!.vertex,
    points,
  };
}

/** 1 for the places a rim within the blank may take: inside its rings, off the silhouette's edge where that is not the rim. */
function openOf(
  grid: Grid,
  rings: readonly RayVertex<'sheet'>[][],
  edges: readonly Edge[],
  view: View,
  faceMm: number,
): Uint8Array {
  const open = insideOf(grid, rings);
  const onRing = new Uint8Array(open.length);
  for (const v of rings.flat()) if (!v.hiddenAfter) mark(grid, onRing, v, ON_RING_PX, 1);
  for (const edge of edges)
    for (const p of sheetRing(edge, view, faceMm)) {
      const place = numberOf(grid, p);
      if (place >= 0 && !onRing[place]) mark(grid, open, p, OFF_SILHOUETTE_PX, 0);
    }
  return open;
}

/** 1 for the places of a grid that lie within the rings. */
function insideOf(
  { left, low, width, step }: Grid,
  rings: readonly (readonly Point<'sheet'>[])[],
): Uint8Array {
  const out = new Uint8Array(width * width);
  const crossings: number[][] = Array.from({ length: width }, () => []);
  for (const ring of rings)
    ring.forEach((a, k) => {
      const b = ring[(k + 1) % ring.length]!;
      const [lower, upper] = a.y < b.y ? [a, b] : [b, a];
      const first = Math.max(0, Math.floor((lower.y - low) / step));
      const last = Math.min(width - 1, Math.ceil((upper.y - low) / step));
      for (let j = first; j <= last; j++) {
        const y = low + j * step;
        if (y < lower.y || y >= upper.y) continue;
        const t = (y - lower.y) / (upper.y - lower.y);
        crossings[j]!.push((lower.x + t * (upper.x - lower.x) - left) / step);
      }
    });
  crossings.forEach((row, j) => {
    row.sort((a, b) => a - b);
    for (let c = 0; c + 1 < row.length; c += 2)
      for (let i = Math.max(0, Math.ceil(row[c]!)); i <= Math.min(width - 1, row[c + 1]!); i++)
        out[j * width + i] = 1;
  });
  return out;
}

/**
 * What a pixel of way costs at each place: next to nothing on a clear edge, 1 where there is none. A rim parts a face from a wall
 * of the same colour in another light; where the hue changes print ends.
 */
function costsOf(
  { left, low, width, step }: Grid,
  lights: Lights,
  view: View,
  faceMm: number,
): Float32Array {
  const count = width * width;
  const places = new Float64Array(2 * count);
  for (let k = 0; k < count; k++) {
    places[2 * k] = left + (k % width) * step;
    places[2 * k + 1] = low + Math.floor(k / width) * step;
  }
  pictureOfMany(view.eye, places, faceMm, places);
  let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
  for (let k = 0; k < count; k++) {
    x0 = Math.min(x0, places[2 * k]!);
    x1 = Math.max(x1, places[2 * k]!);
    y0 = Math.min(y0, places[2 * k + 1]!);
    y1 = Math.max(y1, places[2 * k + 1]!);
  }
  const [luma, up, down] = [lights.luma, lights.up, lights.down].map((plane) => {
    plane.need(x0 - 1, y0 - 1, x1 + 1, y1 + 1);
    return Float32Array.from({ length: count }, (_, k) =>
      Math.max(0, roughly(plane, places[2 * k]!, places[2 * k + 1]!)),
    );
  }) as [Float32Array, Float32Array, Float32Array];
  const roots = [luma, up, down].map((light) => light.map(Math.sqrt));
  const hue = up.map((v, k) => Math.log((v + 0.005) / (down[k]! + 0.005)));
  const stepOf = (values: Float32Array, k: number): number =>
    Math.hypot(values[k + 1]! - values[k - 1]!, values[k + width]! - values[k - width]!);
  const out = new Float32Array(count).fill(1);
  for (let k = width + 1; k < count - width - 1; k++) {
    const print = Math.min(1, stepOf(hue, k) / PRINT_STEP);
    const level = Math.hypot(...roots.map((root) => stepOf(root, k))) * (1 - print);
    out[k] = WAY + (1 - level / (level + HALF_AN_EDGE)) ** 2;
  }
  return out;
}

/** Evens out the steps of a way on a grid; its ends stay. */
function eased(points: readonly Point<'sheet'>[]): Point<'sheet'>[] {
  return points.map((_, k) => {
    const reach = Math.min(EASED, k, points.length - 1 - k);
    let [x, y] = [0, 0];
    for (let s = -reach; s <= reach; s++) {
      x += points[k + s]!.x;
      y += points[k + s]!.y;
    }
    return { x: x / (2 * reach + 1), y: y / (2 * reach + 1) };
  });
}

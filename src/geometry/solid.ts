import Constrainautor from './constrainautor.mjs';
import Delaunator from 'delaunator';
import type { Ring } from './shape.ts';

/** A closed body: corners in mm (x right, y up, z from the table up), and triangles, counter-clockwise seen from outside. */
export interface Solid {
  /** x, y, z of each corner. */
  readonly corners: Float64Array;
  /** Three corners of each triangle. */
  readonly triangles: Uint32Array;
}

/** A line in plan that the body's upper side follows. */
export interface PlanRing {
  readonly ring: Ring<'bed'>;
  /** Which area it bounds, from 0 to 30; absent: it only carries a height. */
  readonly area?: number;
}

/**
 * The body between a flat underside at z = 0 and what stands over it. Rings must not touch each other; the outermost is convex
 * and holds the others. Watertight by construction: the plan is divided into triangles once (constrained Delaunay triangulation),
 * upper side and underside are those very triangles, and a wall stands on each edge where the height leaps.
 *
 * @param heightMm height of a corner of a ring, seen from a triangle that lies in these areas (a bit for each); 0: nothing stands there
 */
export function solidOf(
  rings: readonly PlanRing[],
  heightMm: (areas: number, ring: number) => number,
): Solid {
  const flat: number[] = [];
  const ringAt: number[] = [];
  const edges: [number, number][] = [];
  rings.forEach(({ ring }, r) => {
    const first = ringAt.length;
    ring.forEach((p, k) => {
      flat.push(p.x, p.y);
      ringAt.push(r);
      edges.push([first + k, first + ((k + 1) % ring.length)]);
    });
  });
  const plan = new Delaunator(Float64Array.from(flat));
  const held = new Constrainautor(plan, edges);
  const { triangles: at, halfedges } = plan;
  const next = (e: number): number => (e % 3 === 2 ? e - 2 : e + 1);

  /** What an edge bounds, as a bit. */
  const bound = (e: number): number => {
    if (!held.isConstrained(e)) return 0;
    const { area } = rings[ringAt[at[e]!]!]!;
    return area === undefined ? 0 : 1 << area;
  };
  const count = at.length / 3;
  const areas = new Int32Array(count).fill(-1);
  // From the hull inwards: an edge that bounds an area leads into it or out of it.
  const open: number[] = [];
  for (let e = 0; e < at.length; e++)
    if (halfedges[e] === -1 && areas[Math.floor(e / 3)] === -1) {
      areas[Math.floor(e / 3)] = bound(e);
      open.push(Math.floor(e / 3));
    }
  while (open.length > 0) {
    const t = open.pop()!;
    for (let e = 3 * t; e < 3 * t + 3; e++) {
      const other = halfedges[e]!;
      if (other === -1 || areas[Math.floor(other / 3)] !== -1) continue;
      areas[Math.floor(other / 3)] = areas[t]! ^ bound(e);
      open.push(Math.floor(other / 3));
    }
  }

  const corners: number[] = [];
  const known = new Map<string, number>();
  const corner = (p: number, z: number): number => {
    const key = `${p} ${z}`;
    const there = known.get(key);
    if (there !== undefined) return there;
    known.set(key, corners.length / 3);
    corners.push(flat[2 * p]!, flat[2 * p + 1]!, z);
    return corners.length / 3 - 1;
  };
  const made: number[] = [];
  const add = (a: number, b: number, c: number): void => {
    if (a !== b && b !== c && c !== a) made.push(a, b, c);
  };
  const height = (t: number, p: number): number => (t < 0 ? 0 : heightMm(areas[t]!, ringAt[p]!));
  const cross = (a: number, b: number, c: number): number =>
    (flat[2 * b]! - flat[2 * a]!) * (flat[2 * c + 1]! - flat[2 * a + 1]!) -
    (flat[2 * b + 1]! - flat[2 * a + 1]!) * (flat[2 * c]! - flat[2 * a]!);
  for (let t = 0; t < count; t++) {
    const own = [at[3 * t]!, at[3 * t + 1]!, at[3 * t + 2]!] as const;
    const turned = cross(...own) < 0;
    const [a, b, c] = turned ? [own[0], own[2], own[1]] : own;
    if (![a, b, c].some((p) => height(t, p) > 0)) continue;
    add(corner(a, height(t, a)), corner(b, height(t, b)), corner(c, height(t, c)));
    add(corner(a, 0), corner(c, 0), corner(b, 0));
    for (let e = 3 * t; e < 3 * t + 3; e++) {
      const ends = [at[e]!, at[next(e)]!] as const;
      const [p, q] = turned ? [ends[1], ends[0]] : ends;
      const other = halfedges[e] === -1 ? -1 : Math.floor(halfedges[e]! / 3);
      const [hp, hq, lp, lq] = [height(t, p), height(t, q), height(other, p), height(other, q)];
      if (hp <= lp && hq <= lq) continue;
      add(corner(p, lp), corner(q, lq), corner(q, hq));
      add(corner(p, lp), corner(q, hq), corner(p, hp));
    }
  }
  return { corners: Float64Array.from(corners), triangles: Uint32Array.from(made) };
}

/** Volume of a closed body, mm³, less than nothing where its triangles look inwards: sum of v1 · (v2 x v3) / 6. */
export function volumeOf({ corners: v, triangles }: Solid): number {
  let sum = 0;
  for (let k = 0; k < triangles.length; k += 3) {
    const [a, b, c] = [3 * triangles[k]!, 3 * triangles[k + 1]!, 3 * triangles[k + 2]!];
    sum +=
      v[a]! * (v[b + 1]! * v[c + 2]! - v[b + 2]! * v[c + 1]!) +
      v[a + 1]! * (v[b + 2]! * v[c]! - v[b]! * v[c + 2]!) +
      v[a + 2]! * (v[b]! * v[c + 1]! - v[b + 1]! * v[c]!);
  }
  return sum / 6;
}

/** Edges that are not shared by exactly two triangles, one each way: none of a watertight body. */
export function openEdges({ triangles }: Pick<Solid, 'triangles'>): number {
  const ways = new Map<number, number>();
  const most = 1 + triangles.reduce((m, c) => Math.max(m, c), 0);
  const key = (a: number, b: number): number => a * most + b;
  for (let k = 0; k < triangles.length; k += 3)
    for (let i = 0; i < 3; i++) {
      const e = key(triangles[k + i]!, triangles[k + ((i + 1) % 3)]!);
      ways.set(e, (ways.get(e) ?? 0) + 1);
    }
  let open = 0;
  for (const [e, n] of ways) {
    const [a, b] = [Math.floor(e / most), e % most];
    if (n !== 1 || ways.get(key(b, a)) !== 1) open++;
  }
  return open;
}

/** The extent of a body along x, y and z, mm. */
export function extentOf({ corners }: Pick<Solid, 'corners'>): {
  readonly least: readonly [number, number, number];
  readonly most: readonly [number, number, number];
} {
  const least: [number, number, number] = [Infinity, Infinity, Infinity];
  const most: [number, number, number] = [-Infinity, -Infinity, -Infinity];
  corners.forEach((v, k) => {
    const axis = (k % 3) as 0 | 1 | 2;
    least[axis] = Math.min(least[axis], v);
    most[axis] = Math.max(most[axis], v);
  });
  return { least, most };
}

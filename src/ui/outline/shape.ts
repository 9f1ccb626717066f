import { centroid, signedArea } from '../../geometry/measure.ts';
import type { Ring } from '../../geometry/shape.ts';
import type { Outline, Stretch } from '../../outline/outline.ts';
import { inPicture } from '../../outline/pictured.ts';
import type { Eye } from '../../view/view.ts';
import { polyline, type Spot } from '../parts/draw.ts';
import type { Node } from './mending.svelte.ts';

/** A stretch that the operator should look at, numbered on the drawing. */
export interface Place {
  readonly number: number;
  readonly kind: 'hidden' | 'doubtful' | 'hand';
  readonly why: string;
  readonly lengthMm: number;
  /** Largest U (k = 2) on it, mm. */
  readonly greatestU: number;
  /** Its vertices, picture px. */
  readonly line: readonly Spot[];
  readonly middle: Spot;
}

/** An outline as it lies in the picture; everything in picture px. */
export interface Pictured {
  readonly rings: readonly (readonly Spot[])[];
  readonly path: string;
  readonly middle: Spot;
  readonly places: readonly Place[];
  /** Where the segments of its curves meet, ring by ring. */
  readonly nodes: readonly Node[];
}

export const ringsOfOutline = (o: Outline): readonly Ring<'sheet'>[] => [
  o.region.outer,
  ...o.region.holes,
];

/** As it was asked for last: drawing and ledge ask for the same. */
const known = new WeakMap<Outline, { readonly eye: Eye; readonly made: Pictured }>();

export function pictured(eye: Eye, o: Outline): Pictured {
  const before = known.get(o);
  if (before?.eye === eye) return before.made;
  const made = lies(eye, o);
  known.set(o, { eye, made });
  return made;
}

function lies(eye: Eye, o: Outline): Pictured {
  const place = inPicture(eye, o);
  const rings = ringsOfOutline(o).map((ring) => ring.map(place));
  let nodes: readonly Node[] | undefined;
  return {
    rings,
    path: rings.map((ring) => polyline(ring, true)).join(''),
    middle: place(centroid(o.region.outer)),
    places: placesOf(o, rings),
    // Made when they are asked for: only who mends needs them.
    get nodes() {
      return (nodes ??= nodesOf(o, place));
    },
  };
}

function nodesOf(o: Outline, place: ReturnType<typeof inPicture>): readonly Node[] {
  return [o.curves.outer, ...o.curves.holes].flatMap(({ start, segments }, ring): Node[] => {
    const all = [start, ...segments.slice(0, -1).map((s) => s.to)].map(place);
    const n = all.length;
    // A node that has the same one on both sides goes as any place between nodes does.
    return all.map((at, k) =>
      n < 3 ? { ring, at } : { ring, at, from: all.at(k - 1)!, till: all[(k + 1) % n]! },
    );
  });
}

/** Indices of a stretch, in order; it may run over the ring's end. */
function verticesOf(s: Stretch, size: number): number[] {
  const count = ((s.to - s.from + size) % size) + 1;
  return Array.from({ length: count }, (_, k) => (s.from + k) % size);
}

/** Stretches of one kind that lie nearer to each other than this are one place to look at, mm. */
const JOIN_MM = 6;

interface Run {
  readonly ring: number;
  readonly kind: Place['kind'];
  readonly why: string;
  from: number;
  to: number;
}

/** Neighbouring stretches of one kind joined, so that a place is walked to once. */
function joined(o: Outline): readonly Run[] {
  const rings = ringsOfOutline(o);
  const all: Run[] = [
    ...o.doubtful.map((s) => ({ ...s, kind: 'doubtful' as const })),
    ...(o.byHand ?? []).map((s) => ({
      ...s,
      kind: 'hand' as const,
      why: 'It was made by hand; calipers across it would prove it.',
    })),
    ...o.hidden.map((s) => ({
      ...s,
      kind: 'hidden' as const,
      why: 'The blank itself stands before it; a straight line stands there.',
    })),
  ];
  const runs: Run[] = [];
  for (const s of all.sort((a, b) => a.ring - b.ring || a.from - b.from)) {
    const before = runs.findLast((r) => r.ring === s.ring && r.kind === s.kind);
    const gap = before
      ? lengthOf(rings[s.ring]!, { ring: s.ring, from: before.to, to: s.from })
      : Infinity;
    if (before && before.to <= s.from && gap <= JOIN_MM) before.to = s.to;
    else runs.push({ ...s });
  }
  return runs;
}

function lengthOf(ring: Ring<'sheet'>, s: Stretch): number {
  const at = verticesOf(s, ring.length);
  let sum = 0;
  for (let k = 1; k < at.length; k++) {
    const [p, q] = [ring[at[k - 1]!]!, ring[at[k]!]!];
    sum += Math.hypot(q.x - p.x, q.y - p.y);
  }
  return sum;
}

/** The longest first. */
function placesOf(o: Outline, rings: readonly (readonly Spot[])[]): readonly Place[] {
  const mm = ringsOfOutline(o);
  return joined(o)
    .map((s) => {
      const at = verticesOf(s, mm[s.ring]!.length);
      const line = at.map((v) => rings[s.ring]![v]!);
      return {
        kind: s.kind,
        why: s.why,
        lengthMm: lengthOf(mm[s.ring]!, s),
        greatestU: Math.max(...at.map((v) => 2 * (o.u[s.ring]?.[v] ?? 0))),
        line,
        middle: line[Math.floor(line.length / 2)]!,
      };
    })
    .sort((a, b) => b.lengthMm - a.lengthMm)
    .map((place, k) => ({ number: k + 1, ...place }));
}

/** Places that carry a number on the drawing and a row in the ledge: the six longest of 4 mm and more; the rest are marked only. */
export const numbered = (places: readonly Place[]): readonly Place[] =>
  places.filter((p) => p.lengthMm >= 4).slice(0, 6);

/** Of a hole's mean radius: a band drawn wider would run into itself. */
const HOLE_SHARE = 0.7;

/**
 * The band of U (k = 2) along every ring, `ratio` times as wide as it is: one closed path per side and the fill between.
 * Round a hole it ends where the hole leaves it no room; `cut` says so. Where it is wider than `mostMm` it is drawn so wide,
 * lest it run over the whole drawing; `capped` says so.
 */
export function bandOf(
  eye: Eye,
  o: Outline,
  ratio: number,
  mostMm = Infinity,
): {
  readonly fill: string;
  readonly edges: string;
  readonly cut: boolean;
  readonly capped: boolean;
} {
  const place = inPicture(eye, o);
  let fill = '';
  let edges = '';
  let cut = false;
  let capped = false;
  ringsOfOutline(o).forEach((ring, r) => {
    const room = r === 0 ? Infinity : HOLE_SHARE * Math.sqrt(Math.abs(signedArea(ring)) / Math.PI);
    const side = (sign: number): Spot[] =>
      ring.map((p, k) => {
        const a = ring[(k + ring.length - 1) % ring.length]!;
        const b = ring[(k + 1) % ring.length]!;
        const l = Math.hypot(b.x - a.x, b.y - a.y) || 1;
        const told = ratio * 2 * (o.u[r]?.[k] ?? 0);
        const wide = Math.min(told, mostMm);
        capped ||= told > mostMm;
        cut ||= wide > room;
        const off = sign * Math.min(wide, room);
        return place({ x: p.x + ((b.y - a.y) / l) * off, y: p.y - ((b.x - a.x) / l) * off });
      });
    const [outer, inner] = [polyline(side(1), true), polyline(side(-1), true)];
    fill += outer + inner;
    edges += outer + inner;
  });
  return { fill, edges, cut, capped };
}

/** Ratio at which a band of U mm is at least `px` CSS px to each side, from the usual scales. */
export const bandRatio = (u: number, cssPxPerMm: number, px = 6): number =>
  [1, 2, 5, 10, 20, 50, 100].find((r) => u * cssPxPerMm * r >= px) ?? 100;

import type { Point } from '../base/measure.ts';
import { Refusal } from '../base/reason.ts';
import { flattenRegion } from '../geometry/curve.ts';
import { centroid, feret, hull, perimeter, resample, signedArea } from '../geometry/measure.ts';
import type { Region } from '../geometry/shape.ts';
import type { Outline } from '../outline/outline.ts';
import { areaOf, areaPull, FINE_MM, uOf, type Fact, type Pull } from './area.ts';
import type { Dimension } from './check.ts';
import { cornerRadius, holeDiameter } from './feature.ts';
import { ringsOf } from './touch.ts';
import { holeWidth, mainDirections, width } from './width.ts';

/** A hole: round, with its diameter; else with its two sizes as inside jaws read them, the larger first. mm. */
export type HoleFact =
  | { readonly kind: 'round'; readonly at: Point<'sheet'>; readonly diameter: Fact }
  | {
      readonly kind: 'other';
      readonly at: Point<'sheet'>;
      readonly long: Fact;
      readonly short: Fact;
    };

/** u along x and y, mm; what moves the whole outline has been taken out of it. */
interface Centroid {
  readonly at: Point<'sheet'>;
  readonly u: readonly [x: number, y: number];
}

/** What can be said of an outline's shape. Lengths mm, areas mm², places in the sheet frame. */
export interface Facts {
  /** Holes taken away. */
  readonly areaMm2: Fact;
  /** Of the outer edge alone, and of the holes' edges together. */
  readonly perimeterMm: Fact;
  readonly holesPerimeterMm: Fact;
  /** Sides of the smallest rectangle round it; the one nearer to the sheet's x first. */
  readonly widths: readonly [Dimension, Dimension];
  /** The greatest distance between two parallel jaws. */
  readonly largest: Dimension;
  /** Sides of the upright box along the sheet's x and y. */
  readonly box: readonly [Dimension, Dimension];
  /** Of the area, holes taken away. */
  readonly centroid: Centroid;
  readonly holes: readonly HoleFact[];
}

/** The tightest place of an outline; `sharp` where it is a corner of no radius that could be measured. */
export type InsideRadius = { readonly at: Point<'sheet'> } & (
  { readonly kind: 'round'; readonly radius: Fact } | { readonly kind: 'sharp' }
);

/** All facts of an outline but its smallest radius. */
export function factsOf(outline: Outline): Facts {
  const fine = flattenRegion(outline.curves, FINE_MM);
  const [along, across] = mainDirections(outline);
  return {
    areaMm2: areaOf(outline),
    perimeterMm: {
      value: perimeter(fine.outer),
      ...uOf(outline, lengthPull, (ring) => ring === 0),
    },
    holesPerimeterMm: {
      value: fine.holes.reduce((sum, hole) => sum + perimeter(hole), 0),
      ...uOf(outline, lengthPull, (ring) => ring > 0),
    },
    widths: [width(outline, along), width(outline, across)],
    largest: width(outline, largestDirection(outline)),
    box: [width(outline, 0), width(outline, Math.PI / 2)],
    centroid: centroidOf(outline, fine),
    holes: outline.region.holes.map((_, k) => holeOf(outline, k)),
  };
}

/** Direction of the greatest Feret diameter, radians: it joins the two corners of the hull that are farthest apart. */
function largestDirection({ region }: Outline): number {
  const corners = hull(region.outer);
  let best = 0;
  let most = -1;
  corners.forEach((a, k) => {
    for (const b of corners.slice(k + 1)) {
      const far = (a.x - b.x) ** 2 + (a.y - b.y) ** 2;
      if (far > most) [most, best] = [far, Math.atan2(b.y - a.y, b.x - a.x)];
    }
  });
  return best;
}

/** Moving a vertex changes a polygon's length by the unit vectors that lead to it and away from it. */
const lengthPull: Pull = (p, q, r) => {
  const a = Math.hypot(q.x - p.x, q.y - p.y) || 1;
  const b = Math.hypot(r.x - q.x, r.y - q.y) || 1;
  return [(q.x - p.x) / a - (r.x - q.x) / b, (q.y - p.y) / a - (r.y - q.y) / b];
};

/** Centroid of the area; it moves by ∮ (p - centroid) d·n ds / area. */
function centroidOf(outline: Outline, { outer, holes }: Region<'sheet'>): Centroid {
  const parts = [outer, ...holes].map((ring) => ({ area: signedArea(ring), ...centroid(ring) }));
  const area = parts.reduce((sum, p) => sum + p.area, 0);
  const mean = (of: 'x' | 'y'): number => parts.reduce((sum, p) => sum + p.area * p[of], 0) / area;
  const at = { x: mean('x'), y: mean('y') };
  const along = (of: 'x' | 'y'): number =>
    uOf(outline, (p, q, r) => {
      const [x, y] = areaPull(p, q, r);
      const lever = (q[of] - at[of]) / area;
      return [lever * x, lever * y];
    }).u;
  return { at, u: [along('x'), along('y')] };
}

const factOf = ({ valueMm, u, budget }: Dimension): Fact => ({
  value: valueMm,
  u,
  source: budget[0]?.source ?? 'edge',
});

function holeOf(outline: Outline, hole: number): HoleFact {
  const ring = outline.region.holes[hole]!;
  const at = centroid(ring);
  try {
    return { kind: 'round', at, diameter: factOf(holeDiameter(outline, ring[0]!)) };
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
  }
  // Directions of the largest and the smallest reading, to a degree.
  const readings = Array.from({ length: 180 }, (_, k) => feret(ring, (k * Math.PI) / 180));
  const fact = (choose: (...values: number[]) => number): Fact => {
    const degree = readings.indexOf(choose(...readings));
    return factOf(holeWidth(outline, hole, (degree * Math.PI) / 180));
  };
  return { kind: 'other', at, long: fact(Math.max), short: fact(Math.min) };
}

/** The turn that makes a corner is looked for over this much of the edge to either side, mm. */
const CORNER_ARM_MM = 0.7;
/** A turn by more than this over both arms: too tight to have a radius that can be measured, radians. */
const SHARP_RAD = 1;
/** Tightest places whose radius is measured. */
const TRIED = 6;

/**
 * The smallest radius that a pocket of this outline has inside (where the blank bulges): a cutter must be as small. Undefined
 * where the outline bulges nowhere.
 */
export function insideRadiusOf(outline: Outline): InsideRadius | undefined {
  const places: { at: Point<'sheet'>; turn: number }[] = [];
  for (const ring of ringsOf(outline)) {
    // Corners stand far apart in vertices only where the edge is straight: even steps see every turn alike.
    const step = 0.1;
    const even = resample(ring, step);
    const n = even.length;
    const arm = Math.max(1, Math.min(Math.round(CORNER_ARM_MM / step), Math.floor(n / 6)));
    const turns = even.map((q, k) => {
      const p = even[(k + n - arm) % n]!;
      const s = even[(k + arm) % n]!;
      const cross = (q.x - p.x) * (s.y - q.y) - (q.y - p.y) * (s.x - q.x);
      const dot = (q.x - p.x) * (s.x - q.x) + (q.y - p.y) * (s.y - q.y);
      return Math.atan2(cross, dot);
    });
    turns.forEach((turn, k) => {
      if (turn < 0.01) return;
      for (let d = -arm; d <= arm; d++) {
        const other = turns[(k + d + n) % n]!;
        if (other > turn || (other === turn && d < 0)) return;
      }
      places.push({ at: even[k]!, turn });
    });
  }
  places.sort((a, b) => b.turn - a.turn);
  if (places.length === 0) return undefined;
  if (places[0]!.turn > SHARP_RAD) return { kind: 'sharp', at: places[0]!.at };
  let best: { kind: 'round'; at: Point<'sheet'>; radius: Fact } | undefined;
  for (const { at } of places.slice(0, TRIED)) {
    try {
      const radius = factOf(cornerRadius(outline, at));
      if (!best || radius.value < best.radius.value) best = { kind: 'round', at, radius };
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
    }
  }
  return best;
}

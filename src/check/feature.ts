import { Refusal } from '../base/reason.ts';
import type { Point } from '../base/measure.ts';
import { fitCircle, type Circle } from '../geometry/circle.ts';
import { centroid, insideRegion } from '../geometry/measure.ts';
import type { Outline } from '../outline/outline.ts';
import type { Dimension, Feature } from './check.ts';
import {
  dimensionOf,
  EDGE_CORRELATION_MM,
  jaw,
  meanVariances,
  nearestEdge,
  pullOf,
  ringsOf,
  samplesOf,
  type Sample,
  type Touch,
} from './touch.ts';
import { mainDirections, width } from './width.ts';

/** How far along the edge a jaw may slide from where it was laid, to find its hold, mm. */
const SLIDE_MM = 6;
/** Half the length of edge that a caliper's jaw lies against, mm. */
const BLADE_MM = 2.5;
const STEP_MM = 0.25;
/** Jaws find no hold where the edges slope more against each other, radians. */
const STEEPEST = (4 * Math.PI) / 180;
/** An arc shorter than this says little about its radius, radians. */
const LEAST_SWEEP = Math.PI / 6;
/** A hole or corner is round when no place of it lies farther from its circle, mm, or than three standard uncertainties. */
const ROUND_MM = 0.06;

/** A place of the blank frame as pictured, in the sheet frame of this outline. */
export function toSheet(outline: Outline, p: Point<'blank'>): Point<'sheet'> {
  const c = centroid(outline.region.outer);
  return { x: c.x + (outline.mirrored ? -p.x : p.x), y: c.y + p.y };
}

/** The inverse of `toSheet`. */
export function toBlank(outline: Outline, p: Point<'sheet'>): Point<'blank'> {
  const c = centroid(outline.region.outer);
  return { x: outline.mirrored ? c.x - p.x : p.x - c.x, y: p.y - c.y };
}

/**
 * What the outline says of a feature, as the instrument would read it.
 *
 * @throws Refusal `edges-one`, `edges-no-hold`, `hole-none`, `hole-not-round`, `corner-not-round`, `height-not-pictured`
 */
export function measure(outline: Outline, feature: Feature): Dimension {
  const at = (p: Point<'blank'>): Point<'sheet'> => toSheet(outline, p);
  switch (feature.kind) {
    case 'main':
      return width(outline, mainDirections(outline)[feature.side === 'width' ? 0 : 1]);
    case 'across':
      return width(
        outline,
        outline.mirrored ? Math.PI - feature.directionRad : feature.directionRad,
      );
    case 'edges':
      return edgeToEdge(outline, at(feature.a), at(feature.b));
    case 'hole':
      return holeDiameter(outline, at(feature.at));
    case 'radius':
      return cornerRadius(outline, at(feature.at));
    case 'holes':
      return betweenHoles(outline, at(feature.a), at(feature.b));
    case 'thickness':
      return faceHeight(outline);
    case 'step':
      return stepToWidest(outline);
  }
}

/**
 * How high the face lies above the sheet, as the adjustment of all that is known left it: the thickness entered, a rider,
 * several pictures. What it is uncertain by is part of the same modes that move the edge, so a reading of it bears on both.
 *
 * @throws Refusal `height-not-pictured` for a scan
 */
export const faceHeight = (outline: Outline): Dimension =>
  upright(outline, 'thickness', outline.heightMm + (outline.belowFaceMm ?? 0), 'heightMm');

/**
 * How far below the face the edge is widest; 0 where it was taken for a straight wall.
 *
 * @throws Refusal `height-not-pictured` for a scan
 */
export const stepToWidest = (outline: Outline): Dimension =>
  upright(outline, 'step', outline.belowFaceMm ?? 0, 'belowMm');

function upright(
  outline: Outline,
  kind: 'thickness' | 'step',
  valueMm: number,
  of: 'heightMm' | 'belowMm',
): Dimension {
  const { modes, region } = outline;
  if (modes.every((m) => m[of] === undefined)) throw new Refusal('height-not-pictured');
  const shifts = Float64Array.from(modes, (m) => m[of] ?? 0);
  const middle: Touch = {
    at: centroid(region.outer),
    pulls: [],
    samples: samplesOf(outline, 0).slice(0, 1),
    independent: 1,
  };
  return {
    ...dimensionOf(outline, kind, 0, valueMm, [middle, middle], { edge: 0, fit: 0 }, shifts),
    unseen: false,
  };
}

/**
 * From one edge to another: each jaw slides along its edge until it lies square to the line between the two, as a caliper
 * does that is rocked until it reads least; over a bulge flat jaws lie against its top. Over material the outside jaws
 * read, across a gap the inside ones: a slot.
 *
 * @throws Refusal `edges-one` when both places are one, `edges-no-hold` when no such place lies within 6 mm
 */
export function edgeToEdge(outline: Outline, from: Point<'sheet'>, to: Point<'sheet'>): Dimension {
  const one = nearestEdge(outline, from);
  const two = nearestEdge(outline, to);
  if (Math.hypot(one.at.x - two.at.x, one.at.y - two.at.y) < 0.5) throw new Refusal('edges-one');
  const path = (e: typeof one): Sample[] =>
    samplesOf(outline, e.ring, STEP_MM, { ...e, reachMm: SLIDE_MM });
  const [pathA, pathB] = [path(one), path(two)];
  const waist = settle(pathA, pathB, one.at, two.at);
  const slope = slopeOf(pathA, pathB, waist);
  const found = slope <= STEEPEST ? waist : rock(pathA, pathB, { a: one.at, b: two.at });
  if (!found)
    throw new Refusal('edges-no-hold', {
      degrees: Math.round((slope * 180) / Math.PI),
      slideMm: SLIDE_MM,
    });
  const { a, b } = found;
  const length = Math.hypot(a.x - b.x, a.y - b.y);
  const n = { x: (a.x - b.x) / length, y: (a.y - b.y) / length };
  const middle = { x: (a.x + b.x) / 2, y: (a.y + b.y) / 2 };
  const kind = insideRegion(outline.region, middle) ? 'edges' : 'slot';
  const hold = (samples: readonly Sample[], p: Point<'sheet'>, away: Point<'sheet'>): Touch => ({
    ...jaw(
      samples.filter((s) => Math.hypot(s.at.x - p.x, s.at.y - p.y) <= BLADE_MM),
      away,
      away.x * p.x + away.y * p.y,
    ),
    at: p,
  });
  return dimensionOf(outline, kind, Math.atan2(n.y, n.x), length, [
    hold(pathA, a, n),
    hold(pathB, b, { x: -n.x, y: -n.y }),
  ]);
}

interface Pair {
  readonly a: Point<'sheet'>;
  readonly b: Point<'sheet'>;
}

/** Each jaw in turn goes to the foot of the way from the other: settles where edges run side by side, and at a waist. */
function settle(
  pathA: readonly Sample[],
  pathB: readonly Sample[],
  a: Point<'sheet'>,
  b: Point<'sheet'>,
): Pair {
  for (let step = 0; step < 60; step++) {
    const next = foot(pathB, a, b);
    const back = foot(pathA, next, a);
    const moved = Math.hypot(next.x - b.x, next.y - b.y) + Math.hypot(back.x - a.x, back.y - a.y);
    [a, b] = [back, next];
    if (moved < 1e-7) break;
  }
  return { a, b };
}

/**
 * Flat jaws over a bulge, rocked until they read least: support lines of the two stretches, over directions up to 20
 * degrees to either side. Nothing where a jaw comes to lie at the end of its stretch.
 */
function rock(pathA: readonly Sample[], pathB: readonly Sample[], start: Pair): Pair | undefined {
  const centre = Math.atan2(start.a.y - start.b.y, start.a.x - start.b.x);
  const touch = (path: readonly Sample[], rad: number): { reach: number; k: number } => {
    const n = { x: Math.cos(rad), y: Math.sin(rad) };
    let best = { reach: -Infinity, k: 0 };
    path.forEach(({ at }, k) => {
      const reach = n.x * at.x + n.y * at.y;
      if (reach > best.reach) best = { reach, k };
    });
    return best;
  };
  const read = (rad: number): number => touch(pathA, rad).reach + touch(pathB, rad + Math.PI).reach;
  let rad = centre;
  for (let k = -40; k <= 40; k++) {
    const at = centre + (k * Math.PI) / 360;
    if (read(at) < read(rad)) rad = at;
  }
  for (let step = Math.PI / 720; step > 1e-6; step /= 2)
    for (const at of [rad - step, rad + step]) if (read(at) < read(rad)) rad = at;
  const [a, b] = [touch(pathA, rad), touch(pathB, rad + Math.PI)];
  const atEnd = ({ k }: { k: number }, { length }: readonly Sample[]): boolean =>
    k === 0 || k === length - 1;
  if (atEnd(a, pathA) || atEnd(b, pathB)) return undefined;
  // The reading is square to the jaws; the second touch is moved along its jaw to lie opposite the first.
  const p = pathA[a.k]!.at;
  const length = a.reach + b.reach;
  return { a: p, b: { x: p.x - length * Math.cos(rad), y: p.y - length * Math.sin(rad) } };
}

/** The steeper of the two edges against jaws square to the line between the places, radians. */
function slopeOf(pathA: readonly Sample[], pathB: readonly Sample[], { a, b }: Pair): number {
  const length = Math.hypot(a.x - b.x, a.y - b.y) || 1;
  const n = { x: (a.x - b.x) / length, y: (a.y - b.y) / length };
  return Math.max(slopeAt(pathA, a, n), slopeAt(pathB, b, n));
}

/** The place nearest to `start` along a path of samples where the way to q is square to the path; else its nearest end. */
function foot(path: readonly Sample[], q: Point<'sheet'>, start: Point<'sheet'>): Point<'sheet'> {
  let best: { p: Point<'sheet'>; far: number } | undefined;
  const offer = (p: Point<'sheet'>): void => {
    const far = Math.hypot(p.x - start.x, p.y - start.y);
    if (!best || far < best.far) best = { p, far };
  };
  let before: number | undefined;
  for (let k = 0; k + 1 < path.length; k++) {
    const [p, r] = [path[k]!.at, path[k + 1]!.at];
    const [tx, ty] = [r.x - p.x, r.y - p.y];
    const square = tx * tx + ty * ty;
    if (square < 1e-18) continue;
    // How far the foot lies along this piece: 0 at its beginning, 1 at its end.
    const t = (tx * (q.x - p.x) + ty * (q.y - p.y)) / square;
    if (t >= 0 && t <= 1) offer({ x: p.x + t * tx, y: p.y + t * ty });
    else if (before !== undefined && before > 1 !== t > 1 && before < 0 !== t < 0) offer(p);
    before = t;
  }
  if (best) return best.p;
  const [first, last] = [path[0]!.at, path[path.length - 1]!.at];
  const far = (p: Point<'sheet'>): number => Math.hypot(p.x - q.x, p.y - q.y);
  return far(first) < far(last) ? first : last;
}

/** Angle between the edge at p and a jaw square to n, radians. */
function slopeAt(path: readonly Sample[], p: Point<'sheet'>, n: Point<'sheet'>): number {
  const near = path.filter((s) => Math.hypot(s.at.x - p.x, s.at.y - p.y) <= 2 * STEP_MM);
  const [first, last] = [near[0], near[near.length - 1]];
  if (!first || !last || near.length < 2) return Math.PI / 2;
  const [tx, ty] = [last.at.x - first.at.x, last.at.y - first.at.y];
  return Math.asin(Math.min(1, Math.abs(tx * n.x + ty * n.y) / (Math.hypot(tx, ty) || 1)));
}

/** The hole in or nearest to a place, and its circle. */
function holeAt(
  outline: Outline,
  p: Point<'sheet'>,
): { ring: number; samples: readonly Sample[]; circle: Circle<'sheet'> } {
  const centres = outline.region.holes.map((hole) => centroid(hole));
  if (centres.length === 0) throw new Refusal('hole-none');
  const far = (k: number): number => Math.hypot(centres[k]!.x - p.x, centres[k]!.y - p.y);
  const hole = centres.reduce((best, _, k) => (far(k) < far(best) ? k : best), 0);
  const samples = samplesOf(outline, hole + 1, STEP_MM);
  const circle = fitCircle(samples.map((s) => s.at));
  const round = roundness(outline, samples);
  if (!circle || circle.deviationMm > round)
    throw new Refusal('hole-not-round', { byMm: (circle?.deviationMm ?? 0).toFixed(2) });
  return { ring: hole + 1, samples, circle };
}

const roundness = (outline: Outline, samples: readonly Sample[]): number => {
  const { edge, fit } = meanVariances(outline, samples);
  return Math.max(ROUND_MM, 3 * Math.sqrt(edge + fit));
};

/** How a circle's centre along n, and its radius, follow the edge. */
function circlePull(
  samples: readonly Sample[],
  { centre, weights }: Circle<'sheet'>,
  n: Point<'sheet'> | undefined,
  gain: number,
): Omit<Touch, 'at'> {
  const pull = (k: number): readonly [number, number] => {
    const { x, y } = samples[k]!.at;
    const r = Math.hypot(x - centre.x, y - centre.y) || 1;
    const w = gain * (n ? n.x * weights[0][k]! + n.y * weights[1][k]! : weights[2][k]!);
    return [(w * (x - centre.x)) / r, (w * (y - centre.y)) / r];
  };
  return pullOf(samples, pull, pathLength(samples));
}

const pathLength = (samples: readonly Sample[]): number =>
  samples.reduce((sum, { at }, k) => {
    const before = samples[k - 1]?.at ?? at;
    return sum + Math.hypot(at.x - before.x, at.y - before.y);
  }, 0);

/** What the edge's noise and the curve fit bring into a sum of weighted radial errors, mm². */
function circleVariances(
  outline: Outline,
  samples: readonly Sample[],
  weights: (k: number) => number,
  gain: number,
): { edge: number; fit: number } {
  const { edge, fit } = meanVariances(outline, samples);
  const square = samples.reduce((sum, _, k) => sum + weights(k) ** 2, 0);
  // How many neighbouring samples share one piece of noise.
  const apart = Math.max(1, (EDGE_CORRELATION_MM * (samples.length - 1)) / pathLength(samples));
  // A fitted curve may lie to one side all round: that does not average.
  return { edge: gain * gain * edge * square * apart, fit: gain * gain * fit };
}

/**
 * The diameter of a round hole: twice the radius of the circle of least squares through its edge.
 *
 * @throws Refusal `hole-none`, `hole-not-round`
 */
export function holeDiameter(outline: Outline, p: Point<'sheet'>): Dimension {
  const { samples, circle } = holeAt(outline, p);
  const { centre, radiusMm, weights } = circle;
  const half = circlePull(samples, circle, undefined, 1);
  const [long] = mainDirections(outline);
  const end = (side: number): Touch => ({
    ...half,
    at: {
      x: centre.x + side * radiusMm * Math.cos(long),
      y: centre.y + side * radiusMm * Math.sin(long),
    },
  });
  const own = circleVariances(outline, samples, (k) => weights[2][k]!, 2);
  return dimensionOf(outline, 'hole', long, 2 * radiusMm, [end(1), end(-1)], own);
}

/**
 * The radius of a round corner: the circle of least squares through the longest stretch round the place that is round.
 *
 * @throws Refusal `corner-not-round`
 */
export function cornerRadius(outline: Outline, p: Point<'sheet'>): Dimension {
  const place = nearestEdge(outline, p);
  const ring = ringsOf(outline)[place.ring]!;
  const length = ring.reduce((sum, q, k) => {
    const r = ring[(k + 1) % ring.length]!;
    return sum + Math.hypot(r.x - q.x, r.y - q.y);
  }, 0);
  const reachMm = Math.min(length / 2 - STEP_MM, 60);
  const all = samplesOf(outline, place.ring, STEP_MM, { ...place, reachMm });
  const middle = (all.length - 1) / 2;
  const round = 0.5 * roundness(outline, all);
  const stretch = (low: number, high: number): Sample[] => all.slice(low, high + 1);
  const fits = (low: number, high: number): Circle<'sheet'> | undefined => {
    const circle = fitCircle(stretch(low, high).map((s) => s.at));
    return circle && circle.deviationMm <= round ? circle : undefined;
  };
  let [low, high] = [Math.floor(middle) - 3, Math.ceil(middle) + 3];
  // Each end moves on as long as one circle explains the stretch; first both at once, then each alone.
  for (const [down, up] of [
    [1, 1],
    [1, 0],
    [0, 1],
  ] as const) {
    for (let step = 16; step >= 1; step = Math.floor(step / 2)) {
      while (
        low - down * step >= 0 &&
        high + up * step < all.length &&
        fits(low - down * step, high + up * step)
      ) {
        low -= down * step;
        high += up * step;
      }
    }
  }
  // A side that leaves the arc on a tangent is still taken for it over sqrt(2 r d), and would make it look flatter.
  const found = fits(low, high);
  const over = found ? Math.ceil(Math.sqrt(2 * found.radiusMm * round) / STEP_MM) : 0;
  [low, high] = [low + over, high - over];
  const samples = stretch(low, high);
  const circle = high - low >= 6 ? fits(low, high) : undefined;
  const sweep = circle ? ((samples.length - 1) * STEP_MM) / circle.radiusMm : 0;
  if (!circle || sweep < LEAST_SWEEP) throw new Refusal('corner-not-round');
  const { centre, weights } = circle;
  const pull = circlePull(samples, circle, undefined, 1);
  const none: Touch = { pulls: [], samples: [samples[0]!], independent: 1, at: centre };
  const own = circleVariances(outline, samples, (k) => weights[2][k]!, 1);
  const touch = samples[Math.round((samples.length - 1) / 2)]!.at;
  const direction = Math.atan2(touch.y - centre.y, touch.x - centre.x);
  return dimensionOf(
    outline,
    'radius',
    direction,
    circle.radiusMm,
    [none, { ...pull, at: touch }],
    own,
  );
}

/**
 * From centre to centre of two round holes.
 *
 * @throws Refusal `hole-none`, `hole-not-round`, `edges-one` when both places name one hole
 */
export function betweenHoles(
  outline: Outline,
  from: Point<'sheet'>,
  to: Point<'sheet'>,
): Dimension {
  const [a, b] = [holeAt(outline, from), holeAt(outline, to)];
  if (a.ring === b.ring) throw new Refusal('edges-one');
  const [p, q] = [a.circle.centre, b.circle.centre];
  const length = Math.hypot(p.x - q.x, p.y - q.y);
  const n = { x: (p.x - q.x) / length, y: (p.y - q.y) / length };
  const away = { x: -n.x, y: -n.y };
  const own = [a, b].map(({ samples, circle: { weights } }) =>
    circleVariances(outline, samples, (k) => n.x * weights[0][k]! + n.y * weights[1][k]!, 1),
  );
  return dimensionOf(
    outline,
    'holes',
    Math.atan2(n.y, n.x),
    length,
    [
      { ...circlePull(a.samples, a.circle, n, 1), at: p },
      { ...circlePull(b.samples, b.circle, away, 1), at: q },
    ],
    { edge: own[0]!.edge + own[1]!.edge, fit: own[0]!.fit + own[1]!.fit },
  );
}

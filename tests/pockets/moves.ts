/* Pockets moved by hand on a bed: random shapes, places and reaches, for the laws of snapping and of the live check. */
import fc from 'fast-check';
import type { Ring } from '../../src/geometry/shape.ts';
import {
  lightOpening,
  lyingAt,
  snapPlace,
  troubleOf,
  type Lying,
  type Snapped,
  type Trouble,
} from '../../src/plan/free.ts';
import { bedFromBlank } from '../../src/plan/plan-bed.ts';
import type { Place } from '../../src/plan/plan.ts';

const shape = fc.record({
  waves: fc.integer({ min: 2, max: 6 }),
  depth: fc.double({ min: 0, max: 0.3, noNaN: true }),
  lean: fc.double({ min: 0, max: 6, noNaN: true }),
  radius: fc.double({ min: 12, max: 26, noNaN: true }),
});
const place = fc.record({
  x: fc.double({ min: 10, max: 240, noNaN: true }),
  y: fc.double({ min: 10, max: 170, noNaN: true }),
  turnDeg: fc.integer({ min: 0, max: 359 }),
  mirrored: fc.boolean(),
});

/** A pocket of 300 nodes among up to nine others of its kind, and how far it may be drawn. */
export const moves = fc.record({
  shape,
  hand: place,
  others: fc.array(place, { minLength: 2, maxLength: 9 }),
  reachMm: fc.double({ min: 2, max: 9, noNaN: true }),
});
type Move = typeof moves extends fc.Arbitrary<infer T> ? T : never;

export const MOVE_BED = {
  widthMm: 250,
  depthMm: 180,
  wallMm: 4,
  marginMm: 5,
  keepOuts: [{ what: 'clamp', xMm: 100, yMm: 0, widthMm: 20, depthMm: 15 }],
};

const ringOf = ({ waves, depth, lean, radius }: Move['shape']): Ring<'blank'> =>
  Array.from({ length: 300 }, (_, k) => {
    const a = (2 * Math.PI * k) / 300;
    const r = radius * (1 + depth * Math.sin(waves * a + lean));
    return { x: r * Math.cos(a), y: r * Math.sin(a) };
  });

export interface Moved {
  readonly snapped: Snapped;
  readonly trouble: readonly Trouble[];
  /** The true openings, not the light ones: of the moved pocket where it was drawn to, and of the others. */
  readonly ring: Ring<'bed'>;
  readonly others: readonly {
    readonly id: string;
    readonly ring: Ring<'bed'>;
    readonly place: Place;
  }[];
}

export function move({ shape, hand, others, reachMm }: Move): Moved {
  const ring = ringOf(shape);
  const light = lightOpening([{ outer: ring, holes: [] }]);
  const lying = others.map((p, k): Lying => lyingAt(String(k + 1), light, p));
  const snapped = snapPlace(light, hand, lying, MOVE_BED, reachMm);
  const at = (p: Place): Ring<'bed'> => ring.map(bedFromBlank(p));
  return {
    snapped,
    trouble: troubleOf(lyingAt('me', light, snapped.place), lying, MOVE_BED),
    ring: at(snapped.place),
    others: others.map((p, k) => ({ id: String(k + 1), ring: at(p), place: p })),
  };
}

/** What the live check thins out and rounds, mm: the law is held against the true openings. */
export const SLACK_MM = 0.025;

/**
 * What is broken of the laws, in words.
 *
 * @param apart distance of the moved opening from each of the others, by an outside reference, mm; 0 where they overlap
 */
export function broken(
  { hand, reachMm }: Pick<Move, 'hand' | 'reachMm'>,
  { snapped, trouble, others }: Moved,
  apart: readonly number[],
): string[] {
  const said: string[] = [];
  const { place, guides, wallTo } = snapped;
  const far = Math.hypot(place.x - hand.x, place.y - hand.y);
  // Along both axes, and then to the wall: each no farther than the reach.
  if (far > reachMm * (Math.SQRT2 + 1) + 0.002) said.push(`drawn ${far} mm`);
  if (place.turnDeg !== hand.turnDeg || place.mirrored !== hand.mirrored) said.push('turned');
  for (const g of guides) {
    if (g.what === 'margin') continue;
    if (Math.abs(place[g.axis] - g.atMm) > 0.0011) said.push(`${g.what} missed`);
    const other = others.find(({ id }) => id === g.of);
    if (other && Math.abs(other.place[g.axis] - g.atMm) > 1e-9) said.push(`${g.what} of none`);
  }
  const { wallMm } = MOVE_BED;
  if (wallTo !== undefined) {
    const d = apart[others.findIndex(({ id }) => id === wallTo)]!;
    if (d < wallMm - 0.001 || d > wallMm + 0.04) said.push(`wall of ${d} mm to ${wallTo}`);
    if (Math.min(...apart) < wallMm - 0.001) said.push('another wall thinned');
  }
  others.forEach(({ id }, k) => {
    const d = apart[k]!;
    const overlap = trouble.some((t) => t.kind === 'overlap' && t.other === id);
    const thin = trouble.some((t) => t.kind === 'thin' && t.other === id);
    if (d === 0 && !overlap && !thin) said.push(`overlap with ${id} not seen`);
    if (d > SLACK_MM && overlap) said.push(`overlap with ${id} where ${d} mm are free`);
    if (d < wallMm - SLACK_MM && !overlap && !thin)
      said.push(`thin wall ${d} mm to ${id} not seen`);
    if (d > wallMm && (thin || overlap)) said.push(`wall ${d} mm to ${id} called thin`);
  });
  return said;
}

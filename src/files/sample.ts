import { without } from '../base/without.ts';
import { lightRing } from '../geometry/light.ts';
import { boxOf } from '../geometry/measure.ts';
import { solidOf, type PlanRing, type Solid } from '../geometry/solid.ts';
import type { Ring } from '../geometry/shape.ts';
import { numbersOn, onlyPockets } from '../plan/chosen.ts';
import type { BedPlan } from '../plan/plan.ts';
import { full } from '../pocket/pocket.ts';

/** Files of a sample, in the order they are written. */
export const SAMPLE_NAMES = [
  'sample-plan.json',
  'sample-cut.dxf',
  'sample-cut.svg',
  'sample-cut.pdf',
  'sample-artwork.pdf',
  'sample-set-up.pdf',
  'sample-body.stl',
  'sample-body.3mf',
] as const;

/** Board left round the chosen pockets in their body, and below a blind one, mm. */
const RIM_MM = 8;
const FLOOR_MM = 3;
/** Thickness of a body whose board was not measured, mm. */
const UNMEASURED_MM = 5;
/** Curves of a body leave those of the plan by less than this, mm. */
const LIGHT_MM = 0.004;

/**
 * The plan of chosen pockets alone, where they lie and by their numbers, on the same page with the same zero.
 *
 * @throws Refusal `sample-pockets`, `sample-unknown` where the plan has no such pocket
 */
export function samplePlan(plan: BedPlan, text: string): BedPlan {
  const wanted = numbersOn(plan, text);
  const what = `sample of ${wanted.length === 1 ? 'pocket' : 'pockets'} ${wanted.join(', ')}`;
  // A sample is cut from a piece that is left over: neither the board's edge nor its holes are in it.
  const bed = without(plan.bed, 'board');
  return onlyPockets({ ...plan, bed }, ({ id }) => wanted.includes(id), what);
}

/** How thick the body of a sample is, mm: as the board; deep enough for a blind pocket and a floor. */
export function sampleThickness({ pocketSettings }: BedPlan, boardMm: number | null): number {
  const { hold, depthMm } = full(pocketSettings);
  const thickMm = boardMm ?? UNMEASURED_MM;
  return hold === 'blind'
    ? Math.max(thickMm, depthMm + (boardMm === null ? FLOOR_MM : 0.5))
    : thickMm;
}

/**
 * The piece of board that holds the chosen pockets, as a body in the bed frame: underside at z = 0, pockets through it or blind as the
 * plan has them, its corner at the lower left cut off, so that it lies one way only.
 */
export function sampleBody(plan: BedPlan, boardMm: number | null): Solid {
  const openings = plan.pockets.flatMap(({ wall }) => wall);
  const { left, right, bottom, top } = boxOf(openings.flatMap(({ outer }) => outer));
  const key = RIM_MM / 2;
  const [x, y] = [left - RIM_MM, bottom - RIM_MM];
  const [far, up] = [right + RIM_MM, top + RIM_MM];
  const edge: Ring<'bed'> = [
    { x: x + key, y },
    { x: far, y },
    { x: far, y: up },
    { x, y: up },
    { x, y: y + key },
  ];
  const rings: PlanRing[] = [
    { ring: edge, area: 0 },
    // A post in a pocket bounds the same area again: on its far side the board stands.
    ...openings
      .flatMap(({ outer, holes }) => [outer, ...holes])
      .map((ring) => ({ ring: lightRing(ring, LIGHT_MM), area: 1 })),
  ];
  const thickMm = sampleThickness(plan, boardMm);
  const { hold, depthMm } = full(plan.pocketSettings);
  const floorMm = hold === 'blind' ? thickMm - depthMm : 0;
  return solidOf(rings, (areas) => (areas === 1 ? thickMm : areas === 3 ? floorMm : 0));
}

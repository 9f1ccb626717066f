import type { Point } from '../base/measure.ts';
import { reason, type Reason } from '../base/reason.ts';
import { boxesApart, boxOf, insideRegion, ringDistance } from '../geometry/measure.ts';
import type { Region } from '../geometry/shape.ts';
import { planBed } from '../plan/plan-bed.ts';
import type { BedPlan, BedSettings, PlacedPocket } from '../plan/plan.ts';
import type { Pocket, PocketSettings } from '../pocket/pocket.ts';
import type { PhotoView } from '../view/view.ts';
import type { Correction } from './first-print.ts';
import type { LooseLoad } from './loose.ts';

/** A pocket that nobody cuts: what of it concerns the print, and the piece's own edge to keep clear of. */
const printOnly = (pocket: Pocket): Pocket => ({
  ...pocket,
  wall: [],
  cut: [],
  trails: [],
  relief: [],
  notches: [],
  mouth: [],
  eject: [],
  opening: [pocket.print],
  reasons: [],
});

/**
 * The bed plan of pieces that lie loose: each where it was found, numbered from the left, nothing to cut.
 *
 * @param blanks the job's, as their pockets would be
 */
export function loosePlan(
  blanks: readonly { readonly blank: number; readonly pocket: Pocket }[],
  load: LooseLoad,
  settings: {
    readonly pocket: PocketSettings;
    readonly bed: BedSettings;
    readonly job: { readonly number: string; readonly name: string };
  },
): BedPlan {
  const { widthMm, depthMm, zero, keepOuts } = settings.bed;
  const bed: BedSettings = {
    widthMm,
    depthMm,
    zero,
    rows: 1,
    columns: 1,
    wallMm: 0,
    marginMm: 0,
    layout: 'free',
    places: load.pieces.map(({ blank, place }) => ({ blank, ...place })),
    ...(keepOuts && { keepOuts }),
  };
  const plan = planBed(
    blanks.map(({ blank, pocket }) => ({
      blank,
      pocket: printOnly(pocket),
      count: load.pieces.filter((p) => p.blank === blank).length,
    })),
    settings.pocket,
    bed,
    settings.job,
  );
  return { ...plan, reasons: [...load.reasons, ...plan.reasons, ...inkOnOthers(plan.pockets)] };
}

/** Bleed that reaches another piece. */
function inkOnOthers(pockets: readonly PlacedPocket[]): Reason[] {
  return pockets.flatMap((a) =>
    pockets.flatMap((b) =>
      a !== b && a.bleed.some((bleed) => meet(bleed, b.print))
        ? [reason('loose-ink', { piece: a.id, other: b.id })]
        : [],
    ),
  );
}

function meet(a: Region<'bed'>, b: Region<'bed'>): boolean {
  if (boxesApart(boxOf(a.outer), boxOf(b.outer)) > 0) return false;
  const inside = (region: Region<'bed'>, p: Point<'bed'>): boolean =>
    insideRegion({ outer: region.outer, holes: [] }, p);
  return ringDistance(a.outer, b.outer) <= 0 || inside(a, b.outer[0]!) || inside(b, a.outer[0]!);
}

/**
 * What artwork is moved by so that it lands where it is meant to: the print's scale and shear, as the photo shows them in the marks that
 * the same printer printed, undone. Of several photos of one sheet that of the first.
 */
export function correctionOfSheet(print: PhotoView['print']): Correction {
  const { scaleX, scaleY, shear } = print;
  const perMille = (v: number): string => `${v >= 1 ? '+' : ''}${(1000 * (v - 1)).toFixed(2)}`;
  return {
    // x = scaleX u + shear v, y = scaleY v, solved for u and v.
    map: [1 / scaleX, 0, -shear / (scaleX * scaleY), 1 / scaleY, 0, 0],
    asks: 'the marked sheet asks',
    words: `lengths along x ${perMille(scaleX)}, along y ${perMille(scaleY)} parts in a thousand, shear ${((shear * 180) / Math.PI).toFixed(3)} degrees, undone`,
    holds: 'this load alone',
    until: 'as long as nothing on the bed is touched',
  };
}

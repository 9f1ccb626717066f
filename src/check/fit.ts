import { conformance, decide, type Decision } from './decide.ts';
import type { Averaged } from './reading.ts';

/** Whether something goes in or keeps its tolerance, by the decision rule of ISO 14253-1 with U = 2 u. */
export interface Fit {
  readonly decision: Decision;
  /** Room left before the limit, mm; between blank and walls both sides together. Less than nothing: beyond it. */
  readonly playMm: number;
  /** Expanded (k = 2), mm. */
  readonly uMm: number;
  readonly sentence: string;
}

/**
 * Whether the blank, as it was read, goes into the pocket as it will be cut, along one pair of jaws. The pocket's wall is
 * drawn from the outline, so its width there is the outline's and twice the clearance, exactly: only the reading is in
 * doubt, and what the outline is uncertain by does not enter. Room that was added where the edge is unsure is not
 * counted: it leaves more play than is told here.
 *
 * @param outlineMm the outline's width along the jaws
 * @param clearanceMm per side
 */
export function alongJaws(outlineMm: number, { readMm, u }: Averaged, clearanceMm: number): Fit {
  const playMm = outlineMm + 2 * clearanceMm - readMm;
  const uMm = 2 * u;
  const decision = decide(playMm, uMm, { least: 0 });
  const room = Math.abs(playMm).toFixed(2);
  const within = `± ${uMm.toFixed(2)}`;
  const more = (Math.ceil((uMm - playMm) * 50) / 100).toFixed(2);
  const likely = Math.round(100 * conformance(playMm, u, { least: 0 }));
  const sentences: Readonly<Record<Decision, string>> = {
    proven: `Goes in here, with ${room} ${within} mm of play.`,
    'proven not': `Does not go in: the blank is ${room} ${within} mm wider than its pocket here. Give ${more} mm more clearance per side, or find which figure is wrong.`,
    'not proven': `May not go in (likely to ${likely} %): ${playMm < 0 ? 'it is short by' : 'only'} ${room} ${within} mm of play here. Give ${more} mm more clearance per side.`,
  };
  return { decision, playMm, uMm, sentence: sentences[decision] };
}

/**
 * Whether the whole blank goes in: the band that holds along the whole outline at once (95 %) must stay inside the
 * clearance everywhere. Where it reaches beyond, nothing is proven either way.
 *
 * @param wholeU half width of that band, mm
 * @param clearanceMm per side
 */
export function allRound(wholeU: number, clearanceMm: number): Fit {
  const decision = decide(0, wholeU, { most: clearanceMm });
  const band = wholeU.toFixed(2);
  const least = (Math.ceil(wholeU * 20) / 20).toFixed(2);
  return {
    decision,
    playMm: 2 * clearanceMm,
    uMm: wholeU,
    sentence:
      decision === 'proven'
        ? `Goes in all round: the whole edge is known to ± ${band} mm, within the ${clearanceMm.toFixed(2)} mm of clearance.`
        : `Not proven all round: the edge may be off by ${band} mm somewhere, and the clearance is ${clearanceMm.toFixed(2)} mm. Give ${least} mm of clearance, or make the outline surer.`,
  };
}

/**
 * Whether the outline is true to the blank within a tolerance along one size: the difference from the reading, by the decision
 * rule of ISO 14253-1 with the U of both.
 *
 * @param differenceMm outline minus reading
 * @param jointU expanded (k = 2), mm
 */
export function withinTolerance(
  differenceMm: number,
  jointU: number,
  { mm, name }: { readonly mm: number; readonly name: string },
): Fit {
  const decision = decide(differenceMm, jointU, { least: -mm, most: mm });
  const asked = `± ${mm.toFixed(2)} mm (${name})`;
  const side = differenceMm > 0 ? 'larger' : 'smaller';
  const off = `${Math.abs(differenceMm).toFixed(2)} ± ${jointU.toFixed(2)} mm ${side} than you read`;
  const sentences: Readonly<Record<Decision, string>> = {
    proven: `Keeps ${asked}: the outline is ${off}.`,
    'proven not': `Breaks ${asked}: the outline is ${off}. Look at the thickness and the spans, or let your readings correct the outline.`,
    'not proven':
      jointU > mm
        ? `Cannot be proven: ${asked} is asked for, and outline and reading are known to ± ${jointU.toFixed(2)} mm only. Make the outline surer, read with a finer instrument, or ask for less.`
        : `Not proven: ${asked} is asked for, and the outline is ${off}. Read once more at the drawn jaws; the mean is surer.`,
  };
  return {
    decision,
    playMm: mm - Math.abs(differenceMm),
    uMm: jointU,
    sentence: sentences[decision],
  };
}

/**
 * The same for every size of the outline, read or not: both ends of a size may be off by the band that holds along the whole
 * outline at once, so twice that band must stay inside the tolerance.
 */
export function allWithin(
  wholeU: number,
  { mm, name }: { readonly mm: number; readonly name: string },
): Fit {
  const decision = decide(0, 2 * wholeU, { most: mm });
  const asked = `± ${mm.toFixed(2)} mm (${name})`;
  const band = (2 * wholeU).toFixed(2);
  return {
    decision,
    playMm: mm,
    uMm: 2 * wholeU,
    sentence:
      decision === 'proven'
        ? `Every size keeps ${asked}: none is off by more than ${band} mm.`
        : `Not proven for every size: ${asked} is asked for, and a size that nobody read may be off by ${band} mm. Read the sizes that matter, or make the outline surer.`,
  };
}

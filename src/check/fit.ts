import { conformance, decide, type Decision } from './decide.ts';
import type { Averaged } from './reading.ts';

/** Whether something goes in, by the decision rule of ISO 14253-1 with U = 2 u. */
export interface Fit {
  readonly decision: Decision;
  /** Room between blank and walls, both sides together, mm; less than nothing: it does not go in. */
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
export function alongJaws(outlineMm: number, { meanMm, u }: Averaged, clearanceMm: number): Fit {
  const playMm = outlineMm + 2 * clearanceMm - meanMm;
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

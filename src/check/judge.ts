import type { Dimension, Judgement } from './check.ts';

/**
 * Expanded uncertainty (k = 2) of a caliper reading, mm: permissible error 0.03 (rectangular 0.0173), digital step 0.01
 * (0.0029) and seating on board or plastic 0.02 (standard), together u = 0.0266.
 */
export const READING_U_MM = 0.05;

/**
 * Holds one reading against the outline. E_n = |difference| / sqrt(U1² + U2²) with k = 2 (ISO 13528, ISO/IEC 17043;
 * from memory): the two agree up to 1 and contradict above. Where the joint U is wider than the play that the pocket
 * leaves (twice the clearance per side), agreement proves nothing about the fit: the reading then says little.
 *
 * Readings taken with the same instrument as the sheet's spans share its error: agreement does not show that error.
 *
 * @param readingU expanded (k = 2), mm, of the reading
 * @param clearanceMm per side, when there is a pocket to fit
 */
export function judge(
  readingMm: number,
  readingU: number,
  { valueMm, u }: Pick<Dimension, 'valueMm' | 'u'>,
  clearanceMm?: number,
): Judgement {
  const differenceMm = valueMm - readingMm;
  const jointU = Math.hypot(2 * u, readingU);
  const en = Math.abs(differenceMm) / jointU;
  const verdict =
    en > 1
      ? 'contradicts'
      : clearanceMm !== undefined && jointU > 2 * clearanceMm
        ? 'says little'
        : 'agrees';
  const away = Math.abs(differenceMm).toFixed(2);
  const within = jointU.toFixed(2);
  const side = differenceMm > 0 ? 'larger' : 'smaller';
  const sentences = {
    agrees: `Agrees: ${away} mm apart, within ±${within} mm.`,
    contradicts:
      `Contradicts: the outline is ${away} mm ${side} than you read, and ±${within} mm is all that the two allow. ` +
      'Read it again at the drawn jaws; then look at the thickness and at the spans of the sheet.',
    'says little':
      `Says little: ${away} mm apart within ±${within} mm, wider than the ${(2 * (clearanceMm ?? 0)).toFixed(2)} mm of play in the pocket. ` +
      'Make the outline surer (rider, measured spans), or give more clearance.',
  };
  return { verdict, differenceMm, jointU, en, sentence: sentences[verdict] };
}

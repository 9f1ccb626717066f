import { isUpright, type Dimension, type Judgement } from './check.ts';
import type { Averaged } from './reading.ts';

/**
 * Holds one reading against the outline. E_n = |difference| / sqrt(U1² + U2²) with k = 2 (ISO 13528, ISO/IEC 17043;
 * from memory): the two agree up to 1 and contradict above. Where the joint U is wider than the play that the pocket
 * leaves (twice the clearance per side), agreement proves nothing about the fit: the reading then says little.
 *
 * Readings taken with the same instrument as the sheet's spans share its error: agreement does not show that error.
 *
 * @param reading what was read; its sort of scatter and u (k = 1) are worked out by `average`
 * @param clearanceMm per side, when there is a pocket to fit
 */
export function judge(
  reading: Pick<Averaged, 'readMm' | 'u'> & Partial<Averaged>,
  {
    valueMm,
    u,
    unseen = false,
    kind = 'width',
  }: Pick<Dimension, 'valueMm' | 'u'> & Partial<Pick<Dimension, 'unseen' | 'kind'>>,
  clearanceMm?: number,
): Judgement {
  const differenceMm = valueMm - reading.readMm;
  const jointU = 2 * Math.hypot(u, reading.u);
  const en = Math.abs(differenceMm) / jointU;
  const { rangeMm = 0, rangeLimitMm = 0, scattered = false, byMedian = false } = reading;
  // A thickness is read at several places: its scatter tells of the blank, and no median mends that.
  const open = scattered && (!byMedian || kind === 'thickness');
  // What stands upright does not take part in the play round the blank.
  const wide = !isUpright(kind) && clearanceMm !== undefined && jointU > 2 * clearanceMm;
  const verdict =
    en > 1 && !open ? 'contradicts' : open || unseen || wide ? 'says little' : 'agrees';
  const away = Math.abs(differenceMm).toFixed(2);
  const within = jointU.toFixed(2);
  const side = differenceMm > 0 ? 'larger' : 'smaller';
  const sentences = {
    agrees:
      `Agrees: ${away} mm apart, within ±${within} mm.` +
      (byMedian
        ? ` Your readings differ by ${rangeMm.toFixed(2)} mm, so the middle one counts, and is held for less sure.`
        : ''),
    contradicts:
      kind === 'thickness'
        ? `Contradicts: the outline was made for a face ${away} mm ${differenceMm > 0 ? 'higher' : 'lower'} than you read, and outline and reading together explain only ±${within} mm. ` +
          'Measure the thickness again at several places; where it stands, enter it on the Outline step.'
        : kind === 'step'
          ? `Contradicts: by your reading the edge is widest ${reading.readMm.toFixed(2)} mm below the face, and the outline was made for ${valueMm.toFixed(2)} mm. ` +
            'Read it again; where it stands, enter on the Outline step how high the widest edge lies.'
          : `Contradicts: the outline is ${away} mm ${side} than you read, and outline and reading together explain only ±${within} mm. ` +
            'Read it again at the drawn jaws; then look at the thickness and at the spans of the sheet. ' +
            'If all of them stand, let your readings correct the outline.',
    'says little':
      open || (wide && scattered)
        ? `Says little: your readings differ by ${rangeMm.toFixed(2)} mm, and ${rangeLimitMm.toFixed(2)} mm is all that the instrument explains. ` +
          (kind === 'thickness'
            ? 'One of them may be mistyped: read again. Where the blank is uneven, enter half of what it differs as the uncertainty of its thickness, on the Outline step.'
            : 'One of them may be mistyped or read at another place: read it again.')
        : unseen
          ? `Says little: the jaws touch a stretch of edge that was hidden or is doubtful. ` +
            'Measure where the edge was seen, or take a picture from above that stretch.'
          : `Says little: ${away} mm apart within ±${within} mm, wider than the ${(2 * (clearanceMm ?? 0)).toFixed(2)} mm of play in the pocket. ` +
            'Make the outline surer (rider, measured spans), or give more clearance.',
  };
  return { verdict, differenceMm, jointU, en, sentence: sentences[verdict] };
}

import { Refusal } from '../../base/reason.ts';
import { paperSize } from '../../job/paper.ts';
import { told } from '../parts/figure.ts';

/** A phone's main camera, 35 mm equivalent (common: 24 to 28 mm; no source). */
const F35 = 26;

/**
 * From how far the sheet fills four fifths of the frame: 36 mm of film hold the paper's long side over 0.8.
 * Source: similar triangles; the 35 mm frame is 36 x 24 mm.
 */
export function distanceFor(paper: string): string {
  let sides: readonly [number, number];
  try {
    sides = paperSize(paper);
  } catch (error) {
    if (error instanceof Refusal) return told('400 mm');
    throw error;
  }
  const [short, long] = [Math.min(...sides), Math.max(...sides)];
  const away = Math.max((long / 36) * F35, (short / 24) * F35) / 0.8;
  return told(`${Math.round(away / 50) * 50} mm`);
}

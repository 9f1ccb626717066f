import type { Picture } from '../picture/picture.ts';
import { dotsOf, hasCheck, isBlack } from '../sheet/code.ts';
import { layout } from '../sheet/layout.ts';
import type { Vision } from '../vision/cv.ts';
import { firstLook } from './first-look.ts';
import { findMarks } from './marks.ts';

const PX_PER_MM = 4;
const [WIDTH_MM, HEIGHT_MM] = [210, 297];
/** Engines compile what has run a few times. */
const ROUNDS = 2;

/**
 * Finds the marks of a drawn sheet, and forgets them: an engine runs what it has seen before three times as fast, and the first photo of
 * a visit should not be the one that waits for it.
 */
export function rehearse(vision: Vision): void {
  const picture = drawnSheet();
  for (let k = 0; k < ROUNDS; k++) firstLook(picture, findMarks(vision, picture));
}

/** A sheet seen from straight above, a hard-edged one. */
function drawnSheet(): Picture {
  const sheet = layout(WIDTH_MM, HEIGHT_MM, 'white');
  const dots = dotsOf(sheet);
  const { originMm: o, pitchMm: p } = sheet;
  const [widthPx, heightPx] = [PX_PER_MM * WIDTH_MM, PX_PER_MM * HEIGHT_MM];
  const data = new Uint8ClampedArray(3 * widthPx * heightPx).fill(235);
  for (let v = 0, at = 0; v < heightPx; v++) {
    for (let u = 0; u < widthPx; u++, at += 3) {
      const x = ((u + 0.5) / PX_PER_MM - o.x) / p;
      const y = (HEIGHT_MM - (v + 0.5) / PX_PER_MM - o.y) / p;
      const [i, j] = [Math.floor(x), Math.floor(y)];
      if (!hasCheck(sheet, i, j)) continue;
      const inDot = Math.max(Math.abs(x - i - 0.5), Math.abs(y - j - 0.5)) < 0.2 && dots(i, j);
      if (isBlack(i, j) !== inDot) data.fill(25, at, at + 3);
    }
  }
  return {
    name: 'rehearsal',
    widthPx,
    heightPx,
    channels: 3,
    data,
    meta: {
      format: 'jpeg',
      bitsPerChannel: 8,
      storedWidthPx: widthPx,
      storedHeightPx: heightPx,
      orientation: 1,
      hasExif: true,
      focalLength35Mm: 27,
    },
  };
}

import { decode } from 'fast-png';
import { MM_PER_INCH } from '../base/measure.ts';
import type { Drawing } from './drawing.ts';
import { pixelsOf } from './png.ts';
import { digestIn, fault, type Proof } from './read-back.ts';

/**
 * Holds a PNG, read with fast-png, against its drawing: size, resolution, digest, transparency, and along every line of
 * the plan the pixel that its vertices lie in is painted. What it proves is to a pixel, and it says that figure.
 *
 * @throws Error (a fault of the program) when anything is missing
 */
export function provePng(file: string, drawing: Drawing, dpi: number, bytes: Uint8Array): Proof {
  const seen = decode(bytes, { checkCrc: true });
  const { widthPx, heightPx } = pixelsOf(drawing.widthMm, drawing.heightMm, dpi);
  if (seen.width !== widthPx || seen.height !== heightPx)
    throw fault(file, `it is ${seen.width} x ${seen.height} px`);
  if (seen.channels !== 4 || seen.depth !== 8) throw fault(file, 'it has no alpha');
  const perMetre = Math.round((dpi * 1000) / MM_PER_INCH);
  const { resolution: r } = seen;
  if (!(r && Number(r.unit) === 1 && r.x === perMetre && r.y === perMetre))
    throw fault(file, `its resolution reads ${r ? `${r.x} x ${r.y}` : 'nothing'}`);
  const digest = digestIn(Object.values(seen.text).join(' '));
  if (digest !== drawing.digest) throw fault(file, `its digest reads ${digest}`);
  const k = dpi / MM_PER_INCH;
  const pockets = new Set<string>();
  for (const { name, closed } of drawing.layers)
    for (const { pocket, ring } of closed) {
      if (pocket !== undefined) pockets.add(pocket);
      let painted = 0;
      for (const p of ring) {
        const x = Math.min(widthPx - 1, Math.floor(p.x * k));
        const y = Math.min(heightPx - 1, Math.floor((drawing.heightMm - p.y) * k));
        if (seen.data[(y * widthPx + x) * 4 + 3]! > 0) painted++;
      }
      // Dashed lines have gaps: the longest pattern is painted over more than two thirds.
      if (!(painted >= 0.5 * ring.length))
        throw fault(file, `layer ${name}, pocket ${pocket ?? 'none'} is not where it should be`);
    }
  return { file, reader: 'fast-png', pockets: pockets.size, greatestMm: 1 / k };
}

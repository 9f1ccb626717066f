import { parseLength, type LengthUnit } from '../base/length.ts';
import { reason, Refusal, type Reason } from '../base/reason.ts';
import { stageOf, type Rgb } from '../sheet/colour.ts';
import type { RiderDesign, SheetDesign } from '../sheet/design.ts';
import { layout, PAPERS, RIDERS, STRIP } from '../sheet/layout.ts';
import type { PictureMeta } from '../picture/picture.ts';
import type { SheetSettings } from './job.ts';

/** The sheet, or the strip, that the settings ask for. @throws Refusal `sheet-size`, `stage-colour`, `paper-unread` */
export function sheetOf(settings: SheetSettings): { design: SheetDesign; stage: Rgb } {
  if (settings.by === 'strip') return { design: STRIP, stage: [255, 255, 255] };
  const { tone, rgb } = stageOf(settings.stage);
  const [widthMm, heightMm] = paperSize(settings.paper);
  return { design: layout(widthMm, heightMm, tone), stage: rgb };
}

/** @throws Refusal `paper-unread` */
export function paperSize(paper: string): readonly [number, number] {
  const named = PAPERS[paper];
  if (named) return named;
  const sides = /^\s*(\d+(?:[.,]\d+)?)\s*[x×]\s*(\d+(?:[.,]\d+)?)\s*$/i.exec(paper);
  if (!sides) throw new Refusal('paper-unread', { text: paper });
  const side = (text: string): number => Number(text.replace(',', '.'));
  return [side(sides[1]!), side(sides[2]!)];
}

/**
 * A paper's width x height as typed, in either unit ("330x480", "13 x 19 in"), as it is kept: millimetres, "330.2x482.6".
 * @throws Refusal `paper-unread`, `length-unread`
 */
export function paperTyped(text: string, bare: LengthUnit): string {
  const sides = /^([^x×]+)[x×]([^x×]+)$/i.exec(text);
  if (!sides) throw new Refusal('paper-unread', { text });
  const [width, height] = [sides[1]!.trim(), sides[2]!.trim()];
  // A unit behind the last figure is that of both.
  const named = /[a-z"″]+$/i.exec(height)?.[0] ?? '';
  const own = /[a-z"″]$/i.test(width) ? width : width + named;
  return [own, height].map((side) => Number(parseLength(side, bare).toFixed(3))).join('x');
}

export const riderOf = (sizeMm: number): RiderDesign | undefined =>
  RIDERS.find((r) => r.sizeMm === sizeMm);

/**
 * What to say when the picture shows another sheet than the job has chosen: its spans would be another sheet's. The
 * sheet itself is never mistaken, for it says which one it is.
 */
export function anotherSheet(settings: SheetSettings, found: SheetDesign): readonly Reason[] {
  const name = (widthMm: number, heightMm: number): string => `${widthMm} x ${heightMm} mm`;
  const { widthMm, heightMm } = sheetOf(settings).design;
  const same = Math.abs(found.widthMm - widthMm) < 0.2 && Math.abs(found.heightMm - heightMm) < 0.2;
  return same
    ? []
    : [
        reason('sheet-another', {
          found: name(found.widthMm, found.heightMm),
          chosen: name(widthMm, heightMm),
        }),
      ];
}

/** Densities that scanners write, per inch, and the longest glass, inches (common practice, no source). */
const SCANNED_DPI = [100, 2400] as const;
const LONGEST_GLASS_IN = 18;

/** What to say when a picture looks as if it was taken in another way than the job says. */
export function anotherWay(
  { by }: SheetSettings,
  { densityDpi, focalLengthMm, focalLength35Mm }: PictureMeta,
  longestPx: number,
): readonly Reason[] {
  const lens = focalLengthMm ?? focalLength35Mm;
  if (by !== 'camera') return lens === undefined ? [] : [reason('looks-photographed', { lens })];
  const [least, most] = SCANNED_DPI;
  const scanned =
    lens === undefined &&
    densityDpi !== undefined &&
    densityDpi >= least &&
    densityDpi <= most &&
    longestPx / densityDpi <= LONGEST_GLASS_IN;
  return scanned ? [reason('looks-scanned', { dpi: Math.round(densityDpi) })] : [];
}

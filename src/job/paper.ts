import { reason, Refusal, type Reason } from '../base/reason.ts';
import { stageOf, type Rgb } from '../sheet/colour.ts';
import type { RiderDesign, SheetDesign } from '../sheet/design.ts';
import { layout, PAPERS, RIDERS } from '../sheet/layout.ts';
import type { SheetSettings } from './job.ts';

/** The sheet that the settings ask for. @throws Refusal `sheet-size`, `stage-colour`, `paper-unread` */
export function sheetOf(settings: SheetSettings): { design: SheetDesign; stage: Rgb } {
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

export const riderOf = (sizeMm: number): RiderDesign | undefined =>
  RIDERS.find((r) => r.sizeMm === sizeMm);

/**
 * What to say when the picture shows another sheet than the job has chosen: its spans would be another sheet's. The
 * sheet itself is never mistaken, for it says which one it is.
 */
export function anotherSheet(settings: SheetSettings, found: SheetDesign): readonly Reason[] {
  const name = (widthMm: number, heightMm: number): string => `${widthMm} x ${heightMm} mm`;
  const [widthMm, heightMm] = paperSize(settings.paper);
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

import { Refusal } from '../../base/reason.ts';
import { stageOf, type Rgb } from '../../sheet/colour.ts';
import type { RiderDesign, SheetDesign } from '../../sheet/design.ts';
import { layout, PAPERS, RIDERS } from '../../sheet/layout.ts';
import type { SheetSettings } from '../../job/job.ts';

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

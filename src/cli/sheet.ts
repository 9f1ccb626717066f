import { stageOf } from '../sheet/colour.ts';
import type { SheetDesign } from '../sheet/design.ts';
import { sheetPdf } from '../sheet/draw.ts';
import { layout, PAPERS } from '../sheet/layout.ts';
import { mayWrite, write } from './place.ts';
import { asUsage, needed, pairOf, readArgs, textOf, type Verb } from './usage.ts';

const help = `sheet --paper A4 --stage white --out sheet.pdf [--force]

Writes the reference sheet as PDF; the page is exactly the paper. Print it at 100 %.

  --paper   A4 (the default), A3, Letter, Tabloid, or width x height in mm, for instance 330x480
  --stage   white (the default), grey, black, or a CSS colour, for instance "#1f8f83"
  --out     the PDF
  --force   replace the file when it exists

Prints one line of JSON: the page in mm and the spans to measure, cross to cross, in the sheet frame
(mm, origin at the lower left corner, x right, y up).
`;

/** Paper by name, whatever its capitals, or as WxH in mm. @throws Usage */
function paperOf(text: string): readonly [number, number] {
  const name = Object.keys(PAPERS).find((p) => p.toLowerCase() === text.trim().toLowerCase());
  return name ? PAPERS[name]! : pairOf('--paper', text);
}

async function run(args: readonly string[]): Promise<number> {
  const { values } = readArgs('sheet', args, {
    paper: { type: 'string' },
    stage: { type: 'string' },
    out: { type: 'string' },
    force: { type: 'boolean' },
  });
  const out = needed('sheet', '--out', values.out);
  const force = values.force === true;
  const [widthMm, heightMm] = paperOf(textOf(values.paper) ?? 'A4');
  const stage = asUsage('--stage', () => stageOf(textOf(values.stage) ?? 'white'));
  const sheet = asUsage('--paper', () => layout(widthMm, heightMm, stage.tone));
  await mayWrite(out, force);
  await write(out, sheetPdf(sheet, stage.rgb), force);
  console.log(designLine(sheet));
  return 0;
}

/** One line of JSON: the page in mm and the spans to measure. */
export const designLine = (sheet: SheetDesign): string =>
  JSON.stringify({
    page_mm: [sheet.widthMm, sheet.heightMm],
    spans: sheet.spans.map(({ id, from, to, nominalMm }) => ({
      id,
      from: [from.x, from.y],
      to: [to.x, to.y],
      nominal_mm: nominalMm,
    })),
  });

export const sheet: Verb = { help, run };

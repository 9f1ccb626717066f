import { stripPdf } from '../sheet/draw.ts';
import { STRIP } from '../sheet/layout.ts';
import { mayWrite, write } from './place.ts';
import { designLine } from './sheet.ts';
import { needed, readArgs, type Verb } from './usage.ts';

const help = `strip --out strip.pdf [--force]

Writes the strip of marks for scanning as PDF; the page is exactly the strip, ${STRIP.widthMm} x ${STRIP.heightMm} mm. Print it at 100 %,
cut it out, measure its spans, and lay it beside the blanks on the glass, print face down, along the
scanner's long side where there is room: there it also measures the drive.

  --out     the PDF
  --force   replace the file when it exists

Prints one line of JSON: the page in mm and the spans to measure, cross to cross, in the strip's frame
(mm, origin at its lower left corner, x right, y up; blanks lie above it).
`;

async function run(args: readonly string[]): Promise<number> {
  const { values } = readArgs('strip', args, {
    out: { type: 'string' },
    force: { type: 'boolean' },
  });
  const out = needed('strip', '--out', values.out);
  const force = values.force === true;
  await mayWrite(out, force);
  await write(out, stripPdf(STRIP), force);
  console.log(designLine(STRIP));
  return 0;
}

export const strip: Verb = { help, run };

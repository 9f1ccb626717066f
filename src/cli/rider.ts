import { riderPdf, riderSpan } from '../sheet/draw.ts';
import { RIDERS } from '../sheet/layout.ts';
import { mayWrite, write } from './place.ts';
import { figure, needed, readArgs, textOf, Usage, type Verb } from './usage.ts';

const sizes = RIDERS.map((r) => r.sizeMm).join(', ');

const help = `rider --size 50 --out rider.pdf [--force]

Writes one rider as PDF; the page is exactly its square. Print it at 100 % with the sheet, cut it out,
and lay it flat on the face of the blank.

  --size    ${sizes} mm; 50 (the default) is worth it
  --out     the PDF
  --force   replace the file when it exists

Prints one line of JSON: the page in mm and its one span, outer edge to outer edge of the frame line.
`;

async function run(args: readonly string[]): Promise<number> {
  const { values } = readArgs('rider', args, {
    size: { type: 'string' },
    out: { type: 'string' },
    force: { type: 'boolean' },
  });
  const out = needed('rider', '--out', values.out);
  const force = values.force === true;
  const size = figure('--size', textOf(values.size) ?? '50', { above: 0 });
  const rider = RIDERS.find((r) => r.sizeMm === size);
  if (!rider) throw new Usage(`--size cannot be ${size}: riders come in ${sizes} mm.`);
  await mayWrite(out, force);
  await write(out, riderPdf(rider), force);
  const { id, from, to, nominalMm } = riderSpan(rider);
  console.log(
    JSON.stringify({
      page_mm: [rider.sizeMm, rider.sizeMm],
      spans: [{ id, from: [from.x, from.y], to: [to.x, to.y], nominal_mm: nominalMm }],
    }),
  );
  return 0;
}

export const rider: Verb = { help, run };

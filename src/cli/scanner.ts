import { scannerJson } from '../files/scanner-json.ts';
import { calibrateScan, densitiesOf, DPI_SHARE } from '../view/scan.ts';
import { findScanMarks } from '../view/scan-marks.ts';
import { profileOf, type ProfiledScan } from '../view/scan-profile.ts';
import { loadVision } from '../vision/load-node.ts';
import { pictureAt } from './measured.ts';
import { mayWrite, write } from './place.ts';
import { DEFAULT_TRACE } from './trace.ts';
import { spansOf } from './picture-options.ts';
import { figure, needed, readArgs, refusing, textOf, Usage, type Verb } from './usage.ts';

const help = `scanner PICTURE... --spans x=MM,y=MM,d=MM --out scanner.json [options]

Makes a profile of a scanner from one or more scans of a measured sheet, laid face down on the glass with nothing
else. It holds for scans of the same part of the glass at the same density: trace --scanner scanner.json.

  --spans x=MM,y=MM,d=MM  check spans as measured on the printed sheet
  --span-u MM             their standard uncertainty (${DEFAULT_TRACE.spanU})
  --out FILE              the profile
  --force                 replace the file when it exists

Prints the densities along the line and the feed, the residual of the marks, and how far the drive errs.
`;

async function run(args: readonly string[]): Promise<number> {
  const { values, positionals } = readArgs(
    'scanner',
    args,
    {
      spans: { type: 'string' },
      'span-u': { type: 'string' },
      out: { type: 'string' },
      force: { type: 'boolean' },
    },
    { positionals: 'some' },
  );
  if (positionals.length === 0)
    throw new Usage(
      'scanner needs a scan of the measured sheet; "scanner --help" shows an example.',
    );
  const spansMm = values.spans === undefined ? {} : spansOf(textOf(values.spans)!);
  const spanU = figure('--span-u', textOf(values['span-u']) ?? String(DEFAULT_TRACE.spanU), {
    above: 0,
    most: 50,
  });
  const out = needed('scanner', '--out', values.out);
  const force = values.force === true;
  await mayWrite(out, force);
  return refusing(async () => {
    const scans: ProfiledScan[] = [];
    for (const path of positionals) scans.push(await scanAt(path, spansMm, spanU));
    const profile = profileOf(scans);
    await write(out, scannerJson(profile), force);
    for (const { view } of scans)
      for (const { message, remedy } of view.reasons)
        console.error(`snugline: ${message} ${remedy}`);
    const { line, feed } = densitiesOf(profile.scanner);
    const residual = Math.max(...scans.map(({ view }) => view.residualRmsMm));
    console.log(
      `${line.toFixed(3)} dots per inch along the line, ${feed.toFixed(3)} along the feed, ` +
        `marks fit within ${residual.toFixed(4)} mm (RMS), the drive repeats to ${profile.repeatMm.toFixed(3)} mm` +
        `${scans.length === 1 ? ' (assumed; more scans would tell)' : ''}, ${out}`,
    );
    return 0;
  });
}

async function scanAt(
  path: string,
  spansMm: Readonly<Partial<Record<'x' | 'y' | 'd', number>>>,
  spanU: number,
): Promise<ProfiledScan> {
  const picture = await pictureAt(path);
  const found = findScanMarks({ cv: loadVision().cv }, picture, picture.meta.densityDpi);
  const view = calibrateScan(found, picture.meta, picture.widthPx, picture.heightPx, {
    ...DEFAULT_TRACE,
    thicknessMm: [0],
    spansMm,
    spanU,
    dpiShare: DPI_SHARE,
  });
  return { view, meta: picture.meta };
}

export const scanner: Verb = { help, run };

import { createHash } from 'node:crypto';
import { basename, join } from 'node:path';
import { correctionOfSheet, loosePlan } from '../after/loose-plan.ts';
import { looseLoad, printOf, type LoadPhoto, type LoosePiece } from '../after/loose.ts';
import { judgeArtwork } from '../artwork/judge.ts';
import { loadPdfjs } from '../files/load-pdfjs-node.ts';
import { LOOSE_ARTWORK_NAMES, LOOSE_NAMES, looseRelease } from '../files/loose-release.ts';
import { readOutlineJson } from '../files/outline-json.ts';
import { typefacesOf } from '../files/font.ts';
import { sheetsOf } from '../files/print-pdf.ts';
import { FILE_SETTINGS } from '../files/settings.ts';
import { loadClipper } from '../geometry/load-clipper-node.ts';
import { DEFAULT_BED, DEFAULT_POCKET, jobFacts, pocketsOf } from '../job/jig.ts';
import { loadPhotoOf, looseKinds } from '../job/loose.ts';
import { curvesOfMask } from '../outline/potrace.ts';
import { DEFAULT_HEIGHTS } from '../plan/heights.ts';
import { ZERO_CORNERS } from '../plan/plan.ts';
import { REGISTRATION } from '../plan/registration.ts';
import { findMarks } from '../view/marks.ts';
import { loadVision } from '../vision/load-node.ts';
import { artworkHelp, artworkOf, artworkOptions, readArtwork } from './artwork.ts';
import { pictureAt } from './measured.ts';
import { PICTURE_HELP, PICTURE_OPTIONS, pictureOptions, withProfiles } from './picture-options.ts';
import { bytesOf, mayWriteInto, write } from './place.ts';
import { traceSettingsOf, withLens } from './trace.ts';
import {
  countsOf,
  figure,
  needed,
  oneOf,
  pairOf,
  readArgs,
  refusing,
  textOf,
  today,
  Usage,
  type Verb,
} from './usage.ts';

const help = `loose --outline outline.json --bed WxH PHOTO [PHOTO ...] [options]

Work without a jig: pieces lie anyhow on a marked sheet of the bed's size ("sheet --paper WxH"), which the printer itself printed at its
zero and which lies where it was printed. Every piece that the photo shows is told by its outline, placed and turned; what is missing,
too much, face down or moved is named. With --out also writes
${[...LOOSE_ARTWORK_NAMES, ...LOOSE_NAMES].join(', ')},
unless something is wrong with the load, or the print may land farther off than bleed and safe area allow. Several photos
of one load are weighed together, and show whether something was moved between them.

  --outline FILE          the blanks, as "trace" measured them
  --bed WxH               the bed, and the marked sheet on it (${DEFAULT_BED.widthMm}x${DEFAULT_BED.depthMm}); --zero CORNER (${DEFAULT_BED.zero})
  --count 1=4,2=2         how many of each blank were laid, for what is missing
  --printer MM            how far the printer may set its picture off, half-width (${REGISTRATION.printerMm})
  --spread MM             largest less smallest piece, across (${REGISTRATION.spreadMm})
  --bleed MM, --safe MM   of the artwork (${DEFAULT_POCKET.bleedMm}, ${DEFAULT_POCKET.safeMm})
  --head-gap MM           between the highest face and the head (${DEFAULT_HEIGHTS.headGapMm})
  --json                  one line of JSON per piece, and one for the load
  --number TEXT, --name TEXT  of the job
  --out FOLDER, --force
${artworkHelp}
Of the photos, as for "trace"; heights are those that the blanks were measured with:
${PICTURE_HELP}

Wet ink and UV light hurt, and so does a moving head: nothing may stand higher than the head, hands out while it moves; follow the
machine's own instructions and the rules of the place where it stands.

Exit status: 0 placed, and the files written where they were asked for; 3 refused, or the load is not fit to print; 2 wrong usage.
`;

const NOT_FIT = 3;

async function run(args: readonly string[]): Promise<number> {
  const { values, positionals } = readArgs(
    'loose',
    args,
    {
      outline: { type: 'string' },
      bed: { type: 'string' },
      zero: { type: 'string' },
      count: { type: 'string' },
      printer: { type: 'string' },
      spread: { type: 'string' },
      bleed: { type: 'string' },
      safe: { type: 'string' },
      'head-gap': { type: 'string' },
      json: { type: 'boolean' },
      number: { type: 'string' },
      name: { type: 'string' },
      out: { type: 'string' },
      force: { type: 'boolean' },
      ...artworkOptions,
      ...PICTURE_OPTIONS,
    },
    { positionals: 'some' },
  );
  const text = (name: string): string | undefined => textOf(values[name]);
  const number = (name: string, otherwise: number, range: Parameters<typeof figure>[2]): number => {
    const given = text(name);
    return given === undefined ? otherwise : figure(`--${name}`, given, range);
  };
  const path = needed('loose', '--outline', values.outline);
  if (positionals.length === 0)
    throw new Usage('loose needs at least one photo of the loaded bed.');
  const [widthMm, depthMm] = pairOf(
    '--bed',
    text('bed') ?? `${DEFAULT_BED.widthMm}x${DEFAULT_BED.depthMm}`,
  );
  const zero = oneOf('--zero', text('zero') ?? DEFAULT_BED.zero, ZERO_CORNERS);
  const pocket = {
    ...DEFAULT_POCKET,
    bleedMm: number('bleed', DEFAULT_POCKET.bleedMm, { least: 0, most: 50 }),
    safeMm: number('safe', DEFAULT_POCKET.safeMm, { least: 0, most: 50 }),
  };
  const settings = {
    printerMm: number('printer', REGISTRATION.printerMm, { least: 0, most: 10 }),
    spreadMm: number('spread', REGISTRATION.spreadMm, { least: 0, most: 10 }),
    bleedMm: pocket.bleedMm,
    safeMm: pocket.safeMm,
  };
  const headGapMm = number('head-gap', DEFAULT_HEIGHTS.headGapMm, { above: 0, most: 100 });
  const counts = text('count') === undefined ? undefined : countsOf(text('count')!);
  const artwork = artworkOf(values);
  const folder = text('out');
  const force = values.force === true;
  const options = await withProfiles(
    pictureOptions('loose', { thickness: '0', ...values }),
    values,
  );
  if (options.scan)
    throw new Usage('loose is about photos of the loaded bed; a scan shows none: leave it out.');
  const bed = { ...DEFAULT_BED, widthMm, depthMm, zero };
  if (folder !== undefined)
    await mayWriteInto(folder, [...LOOSE_NAMES, ...(artwork ? LOOSE_ARTWORK_NAMES : [])], force);

  return refusing(async () => {
    const bytes = await bytesOf(path, 'outline-file-unread');
    const file = readOutlineJson(bytes, basename(path));
    const clipper = await loadClipper();
    const blanks = pocketsOf(clipper, file, pocket);
    const kinds = looseKinds(blanks, counts);
    const photos: LoadPhoto[] = [];
    for (const photo of positionals) {
      const picture = await pictureAt(photo);
      photos.push(
        await loadPhotoOf(
          { clipper, curvesOfMask },
          picture,
          findMarks({ cv: loadVision().cv }, picture),
          kinds,
          withLens(options),
          traceSettingsOf(options),
          bed,
          basename(photo),
        ),
      );
    }
    const load = looseLoad(kinds, photos, settings);
    const job = {
      number: text('number') ?? createHash('sha256').update(bytes).digest('hex').slice(0, 8),
      name: text('name') ?? basename(path),
    };
    const plan = loosePlan(blanks, load, { pocket, bed, job });
    for (const piece of load.pieces)
      console.log(values.json === true ? jsonOf(piece) : wordsOf(piece));
    if (values.json === true)
      console.log(
        JSON.stringify({
          pieces: load.pieces.length,
          off_mm: round(load.offMm),
          reasons: plan.reasons.map(({ code, level }) => ({ code, level })),
        }),
      );
    const sides = artwork && (await readArtwork(artwork));
    const judged = sides
      ? judgeArtwork(
          plan,
          sheetsOf(sides.work.arts),
          sides.work.settings,
          sides.work.settings.run ? typefacesOf(sides.work.settings.run, sides.work.fonts) : [],
        )
      : [];
    for (const { message, remedy } of [...plan.reasons, ...judged])
      console.error(`snugline: ${message} ${remedy}`);
    const fit = !plan.reasons.some(({ level }) => level === 'refuse');
    if (values.json !== true)
      console.log(
        `${load.pieces.length} ${load.pieces.length === 1 ? 'piece' : 'pieces'}; the print lands within ${load.offMm.toFixed(2)} mm (U, k = 2) on the one that is least sure${fit ? '' : '; NOT FIT TO PRINT as it lies'}`,
      );
    if (!fit) return NOT_FIT;
    if (folder === undefined) return 0;
    const heights = kinds.map((k) => k.thicknessMm);
    const files = await looseRelease(
      plan,
      load,
      jobFacts({ plan, blanks }, file, today()),
      { highestMm: Math.max(...heights), lowestMm: Math.min(...heights), headGapMm },
      correctionOfSheet(printOf(photos)),
      await loadPdfjs(),
      FILE_SETTINGS,
      sides && { clipper, work: sides.work },
    );
    for (const { name, bytes: of } of files) await write(join(folder, name), of, force);
    return 0;
  });
}

const round = (v: number): number => Number(v.toFixed(4));

const wordsOf = ({ number, blank, place, placeU, turnU, offMm }: LoosePiece): string =>
  `piece ${number}, blank ${blank}: at ${place.x.toFixed(2)}, ${place.y.toFixed(2)} mm, turned ${place.turnDeg.toFixed(2)} ± ${turnU.toFixed(2)} degrees; its edge within ${placeU.toFixed(2)} mm, the print within ${offMm.toFixed(2)} mm (U, k = 2)`;

const jsonOf = (p: LoosePiece): string =>
  JSON.stringify({
    piece: p.number,
    blank: p.blank,
    x_mm: round(p.place.x),
    y_mm: round(p.place.y),
    turn_deg: round(p.place.turnDeg),
    u_mm: round(p.placeU),
    turn_u_deg: round(p.turnU),
    off_mm: round(p.offMm),
    unlike_mm: round(p.unlikeMm),
  });

export const loose: Verb = { help, run };

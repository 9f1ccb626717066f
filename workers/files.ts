import { SHIPPED_NAMES, type PersonalRun, type Typeface } from '../src/artwork/run.ts';
import type { Correction } from '../src/after/first-print.ts';
import type { LooseLoad } from '../src/after/loose.ts';
import { readArt, type Art } from '../src/files/art.ts';
import { showArt } from '../src/files/art-shown-browser.ts';
import type { JobFacts } from '../src/files/facts.ts';
import { openFont, typefacesOf, type OpenFont } from '../src/files/font.ts';
import { ladderFiles, type LadderFile } from '../src/files/ladder.ts';
import { loadFont } from '../src/files/load-fonts-browser.ts';
import { loadPdfjs } from '../src/files/load-pdfjs-browser.ts';
import { resolveSvg } from '../src/files/load-svg-browser.ts';
import type { LoadHeights } from '../src/files/load-sheet.ts';
import { looseRelease, type LooseFile } from '../src/files/loose-release.ts';
import { matchPages, referenceOfPlan, type Match } from '../src/files/match.ts';
import type { PrintWork } from '../src/files/print-pdf.ts';
import { readPages } from '../src/files/read-lines.ts';
import { release, type ReleaseFile } from '../src/files/release.ts';
import { seatFiles, seatPackage, type SeatFile } from '../src/files/seat.ts';
import type { FileSettings } from '../src/files/settings.ts';
import { loadClipper } from '../src/geometry/load-clipper-browser.ts';
import { furtherPlans, type Jig } from '../src/job/jig.ts';
import type { ArtRead, FontSource, PictureFile, PrintOrder, SideOrder } from '../src/job/run.ts';
import { decodeWithMagick } from '../src/picture/magick-browser.ts';
import type { Ladder } from '../src/plan/ladder.ts';
import type { OrderSettings } from '../src/plan/order.ts';
import type { BedPlan } from '../src/plan/plan.ts';
import type { SeatSheet } from '../src/seat/seat.ts';

/**
 * What writes and reads files, for the plan worker: five times as much code as pockets and places need, so it is loaded when
 * the first file is asked for and not before.
 */

/** Pages of one file that are drawn on the screen. */
const MOST_SHOWN = 24;

/** Artwork as it was read last, by digest; only what the job at hand needs is kept. */
let known = new Map<string, Promise<Art>>();
async function artOf(file: PictureFile): Promise<Art> {
  const before = known.get(file.digest);
  if (before) return before;
  const read = (async () => {
    const bytes = new Uint8Array(await file.bytes.arrayBuffer());
    return readArt(bytes, file.name, {
      pdfjs: await loadPdfjs(),
      decode: decodeWithMagick,
      resolveSvg,
    });
  })();
  if (known.size >= 40) known = new Map();
  known.set(file.digest, read);
  read.catch(() => known.delete(file.digest));
  return read;
}

/** Fonts as they were opened last, by digest or by the name of one of the program's own. */
let opened = new Map<string, Promise<OpenFont>>();
function fontOf(source: FontSource): Promise<OpenFont> {
  const own = typeof source === 'string';
  const key = own ? source : source.digest;
  const before = opened.get(key);
  if (before) return before;
  const opening = (async () =>
    own
      ? openFont(await loadFont(source), SHIPPED_NAMES[source])
      : openFont(new Uint8Array(await source.bytes.arrayBuffer()), source.name))();
  if (opened.size >= 20) opened = new Map();
  opened.set(key, opening);
  opening.catch(() => opened.delete(key));
  return opening;
}

export async function art(file: PictureFile): Promise<ArtRead> {
  const read = await artOf(file);
  const pictures: Blob[] = [];
  for (let k = 0; k < Math.min(read.sheets.length, MOST_SHOWN); k++)
    pictures.push(await showArt(await loadPdfjs(), read, k));
  return { sheets: read.sheets, pictures };
}

export const letters = async (
  run: PersonalRun,
  fonts: readonly FontSource[],
): Promise<readonly Typeface[]> => typefacesOf(run, await Promise.all(fonts.map(fontOf)));

export const ladder = async (made: Ladder): Promise<readonly LadderFile[]> =>
  ladderFiles(made, await loadPdfjs());

export const seat = async (
  sheet: SeatSheet,
  job: { readonly number: string; readonly name: string },
  files: FileSettings,
): Promise<{ readonly files: readonly SeatFile[]; readonly all: Uint8Array }> => {
  const made = await seatFiles(sheet, job, await loadPdfjs(), files);
  return { files: made, all: seatPackage(sheet, job, made) };
};

export async function releaseFiles(
  jig: Jig,
  order: OrderSettings | undefined,
  facts: JobFacts,
  files: FileSettings,
  artwork: PrintOrder | undefined,
  correction: Correction | undefined,
): Promise<readonly ReleaseFile[]> {
  const pdfjs = await loadPdfjs();
  const { plan } = jig;
  const further = furtherPlans(jig, order);
  if (!artwork) return release(plan, facts, pdfjs, files, undefined, further, correction);
  const printed = {
    clipper: await loadClipper(),
    work: await workFrom(artwork),
    ...(artwork.back && { back: await workFrom(artwork.back) }),
  };
  return release(plan, facts, pdfjs, files, printed, further, correction);
}

const workFrom = async (side: SideOrder): Promise<PrintWork> => ({
  arts: await Promise.all(side.files.map(artOf)),
  settings: side.settings,
  fonts: await Promise.all(side.fonts.map(fontOf)),
});

export async function looseFiles(
  plan: BedPlan,
  load: LooseLoad,
  facts: JobFacts,
  heights: LoadHeights,
  correction: Correction,
  files: FileSettings,
  artwork: SideOrder | undefined,
): Promise<readonly LooseFile[]> {
  const printed = artwork && { clipper: await loadClipper(), work: await workFrom(artwork) };
  return looseRelease(plan, load, facts, heights, correction, await loadPdfjs(), files, printed);
}

export const match = async (
  plan: BedPlan,
  settings: FileSettings,
  correction: Correction | undefined,
  bytes: Uint8Array,
  file: string,
): Promise<Match> =>
  matchPages(
    referenceOfPlan(plan, settings),
    correction,
    await readPages(bytes, file, await loadPdfjs()),
    file,
  );

export { packageOf } from '../src/files/package.ts';

import { expose } from 'comlink';
import type { BoardMeasured } from '../src/after/board.ts';
import type { Correction } from '../src/after/first-print.ts';
import type { NewPiece } from '../src/after/delivery.ts';
import { outcome } from '../src/base/reason.ts';
import { holdAgainst } from '../src/check/checked.ts';
import { improve } from '../src/check/improve.ts';
import { SHIPPED_NAMES, type PersonalRun } from '../src/artwork/run.ts';
import { readArt, type Art } from '../src/files/art.ts';
import { showArt } from '../src/files/art-shown-browser.ts';
import { openFont, typefacesOf, type OpenFont } from '../src/files/font.ts';
import { loadFont } from '../src/files/load-fonts-browser.ts';
import type { JobFacts } from '../src/files/facts.ts';
import { loadPdfjs } from '../src/files/load-pdfjs-browser.ts';
import { resolveSvg } from '../src/files/load-svg-browser.ts';
import { matchPages, referenceOfPlan } from '../src/files/match.ts';
import { readPages } from '../src/files/read-lines.ts';
import { readPlanJson, type FiledPlan } from '../src/files/plan-json.ts';
import { ladderFiles } from '../src/files/ladder.ts';
import { packageOf, type Packed } from '../src/files/package.ts';
import { release, type FurtherPlans } from '../src/files/release.ts';
import { seatFiles } from '../src/files/seat.ts';
import type { FileSettings } from '../src/files/settings.ts';
import { seatOf, type SeatFrom, type SeatKind, type SeatSettings } from '../src/seat/kinds.ts';
import { loadClipper } from '../src/geometry/load-clipper-browser.ts';
import type { Progress } from '../src/base/progress.ts';
import {
  reportBoard,
  reportDelivery,
  type Blank,
  type BoardReport,
  type DeliveryReport,
} from '../src/job/after.ts';
import {
  ladderFor,
  layJig,
  nestJig,
  pocketsOf,
  type Jig,
  type JigSettings,
} from '../src/job/jig.ts';
import type { ArtRead, FontSource, PictureFile, PrintOrder } from '../src/job/run.ts';
import { ofOneKind, type KindBy } from '../src/outline/kind.ts';
import { mended, offers, type Mend, type Offer } from '../src/outline/mend.ts';
import type { Outline, Trace } from '../src/outline/outline.ts';
import { decodeWithMagick } from '../src/picture/magick-browser.ts';
import type { LadderSettings } from '../src/plan/ladder.ts';
import { lightPlan } from '../src/plan/plan-bed.ts';
import type { BedPlan } from '../src/plan/plan.ts';
import type { PocketSettings } from '../src/pocket/pocket.ts';
import type { Eye } from '../src/view/view.ts';

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

/** The pockets made last: a plan is asked for again and again from the same ones, and to send them takes longer than to lay them. */
let kept: { readonly token: string; readonly blanks: Jig['blanks'] } | undefined;

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

const filedPlan = async ({ bytes, name }: PictureFile): Promise<FiledPlan> =>
  readPlanJson(new Uint8Array(await bytes.arrayBuffer()), name);

const api = {
  kind: outcome(async (seats: readonly Outline[], by: KindBy) =>
    ofOneKind(await loadClipper(), seats, by),
  ),
  mend: outcome(
    (
      trace: Trace,
      mends: readonly Mend[],
      eyes: readonly (readonly [digest: string, eye: Eye])[],
    ) => mended(trace, mends, new Map(eyes)),
  ),
  /** Shapes that an outline comes near to. */
  offers: async (outline: Outline): Promise<readonly Offer[]> => Promise.resolve(offers(outline)),
  improve: outcome(improve),
  check: outcome(holdAgainst),
  pockets: outcome(async (trace: Trace, settings: PocketSettings) => {
    kept = {
      token: crypto.randomUUID(),
      blanks: pocketsOf(await loadClipper(), trace, settings),
    };
    return kept;
  }),
  /** Without the pockets' rings: whoever asks has the blanks' own. Undefined where the pockets are not the last ones made here. */
  plan: outcome(async (token: string, settings: JigSettings, blanks?: Jig['blanks']) => {
    const from = blanks ?? (kept?.token === token ? kept.blanks : undefined);
    return from && lightPlan(layJig(await loadClipper(), from, settings).plan);
  }),
  nest: outcome(
    async (trace: Trace, settings: Omit<JigSettings, 'job'>, fill: boolean, progress: Progress) =>
      nestJig(await loadClipper(), trace, settings, fill, progress),
  ),
  /** The files of a fit ladder, and the size of its board, mm. */
  ladder: outcome(
    async (trace: Trace, blank: number, settings: JigSettings, steps: LadderSettings) => {
      const ladder = ladderFor(await loadClipper(), trace.outlines, blank, settings, steps);
      const { widthMm, depthMm } = ladder.plan.bed;
      return { widthMm, depthMm, files: await ladderFiles(ladder, await loadPdfjs()) };
    },
  ),
  /** A seat, and its files where nothing refuses them. */
  seat: outcome(
    async (
      kind: SeatKind,
      settings: SeatSettings,
      from: SeatFrom,
      job: { readonly number: string; readonly name: string },
      files: FileSettings,
    ) => {
      const sheet = seatOf(kind, settings, from);
      const shut = sheet.reasons.some(({ level }) => level === 'refuse');
      return { sheet, files: shut ? [] : await seatFiles(sheet, job, await loadPdfjs(), files) };
    },
  ),
  art: outcome(async (file: PictureFile): Promise<ArtRead> => {
    const art = await artOf(file);
    const pictures: Blob[] = [];
    for (let k = 0; k < Math.min(art.sheets.length, MOST_SHOWN); k++)
      pictures.push(await showArt(await loadPdfjs(), art, k));
    return { sheets: art.sheets, pictures };
  }),
  letters: outcome(async (run: PersonalRun, fonts: readonly FontSource[]) =>
    typefacesOf(run, await Promise.all(fonts.map(fontOf))),
  ),
  release: outcome(
    async (
      plan: BedPlan,
      facts: JobFacts,
      files: FileSettings,
      artwork: PrintOrder | undefined,
      further: FurtherPlans,
      correction: Correction | undefined,
    ) => {
      const pdfjs = await loadPdfjs();
      if (!artwork) return release(plan, facts, pdfjs, files, undefined, further, correction);
      const arts = await Promise.all(artwork.files.map(artOf));
      const fonts = await Promise.all(artwork.fonts.map(fontOf));
      const work = { arts, settings: artwork.settings, fonts };
      const printed = { clipper: await loadClipper(), work };
      return release(plan, facts, pdfjs, files, printed, further, correction);
    },
  ),
  /** All files in one. */
  pack: outcome(
    (plan: Pick<BedPlan, 'jobNumber' | 'jobName' | 'digest'>, files: readonly Packed[]) =>
      packageOf(plan, files),
  ),
  board: outcome(
    async (
      plan: PictureFile,
      outline: Outline,
      blanks: readonly Blank[],
      progress: Progress,
    ): Promise<BoardReport> =>
      reportBoard(await loadClipper(), await filedPlan(plan), outline, blanks, progress),
  ),
  delivery: outcome(
    async (
      plan: PictureFile,
      pieces: readonly NewPiece[],
      board: BoardMeasured | undefined,
      progress: Progress,
    ): Promise<DeliveryReport> =>
      reportDelivery(await loadClipper(), await filedPlan(plan), pieces, board, progress),
  ),
  match: outcome(
    async (
      plan: BedPlan,
      settings: FileSettings,
      correction: Correction | undefined,
      bytes: Uint8Array,
      file: string,
    ) =>
      matchPages(
        referenceOfPlan(plan, settings),
        correction,
        await readPages(bytes, file, await loadPdfjs()),
        file,
      ),
  ),
};

export type PlanApi = typeof api;
expose(api);

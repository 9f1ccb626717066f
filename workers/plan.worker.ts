import { expose } from 'comlink';
import type { BoardMeasured } from '../src/after/board.ts';
import type { NewPiece } from '../src/after/delivery.ts';
import { correctionOfSheet, loosePlan } from '../src/after/loose-plan.ts';
import { outcome } from '../src/base/reason.ts';
import { without } from '../src/base/without.ts';
import { holdAgainst } from '../src/check/checked.ts';
import { improve } from '../src/check/improve.ts';
import type { PersonalRun } from '../src/artwork/run.ts';
import { readPlanJson, type FiledPlan } from '../src/files/plan-json.ts';
import type { LooseFile } from '../src/files/loose-release.ts';
import type { FileSettings } from '../src/files/settings.ts';
import { seatOf, type SeatFrom, type SheetKind, type SeatSettings } from '../src/seat/kinds.ts';
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
  jobFacts,
  ladderFor,
  layJig,
  nestJig,
  pocketsOf,
  type Jig,
  type JigSettings,
} from '../src/job/jig.ts';
import type { LooseSeen } from '../src/job/loose-bed.ts';
import { factWords, type FontSource, type PictureFile, type SideOrder } from '../src/job/run.ts';
import { ofOneKind, type KindBy } from '../src/outline/kind.ts';
import { mended, offers, type Mend, type Offer } from '../src/outline/mend.ts';
import type { Outline, Trace } from '../src/outline/outline.ts';
import type { LadderSettings } from '../src/plan/ladder.ts';
import { lightPlan, wholePlan, type LightPlan } from '../src/plan/plan-bed.ts';
import type { PocketSettings } from '../src/pocket/pocket.ts';
import type { Standing } from '../src/pocket/pocket-of.ts';
import type { Eye } from '../src/view/view.ts';

/** What writes and reads files, loaded when the first file is asked for. */
type Files = typeof import('./files.ts');
type AfterFirst<T extends readonly unknown[]> = T extends readonly [unknown, ...infer R]
  ? R
  : never;
const files = (): Promise<Files> => import('./files.ts');

/** The pockets made last: a plan is asked for again and again from the same ones, and to send them takes longer than to lay them. */
let kept: { readonly token: string; readonly blanks: Jig['blanks'] } | undefined;

const filedPlan = async ({ bytes, name }: PictureFile): Promise<FiledPlan> =>
  readPlanJson(new Uint8Array(await bytes.arrayBuffer()), name);

const api = {
  warm: async (): Promise<void> => void (await loadClipper()),
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
  pockets: outcome(async (trace: Trace, settings: PocketSettings, standing: Standing) => {
    kept = {
      token: crypto.randomUUID(),
      blanks: pocketsOf(await loadClipper(), trace, settings, standing),
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
      return { widthMm, depthMm, files: await (await files()).ladder(ladder) };
    },
  ),
  /** A seat, and its files where nothing refuses them. */
  seat: outcome(
    async (
      kind: SheetKind,
      settings: SeatSettings,
      from: SeatFrom,
      job: { readonly number: string; readonly name: string },
      fileSettings: FileSettings,
    ) => {
      const sheet = seatOf(kind, settings, from, await loadClipper());
      const shut = sheet.reasons.some(({ level }) => level === 'refuse');
      // Bodies and areas are in the files; the page draws lines.
      const drawn = without(without(sheet, 'solid'), 'print');
      if (shut) return { sheet: drawn, files: [], all: new Uint8Array() };
      const made = await (await files()).seat(sheet, job, fileSettings);
      return { sheet: drawn, ...made };
    },
  ),
  art: outcome(async (file: PictureFile) => (await files()).art(file)),
  letters: outcome(async (run: PersonalRun, fonts: readonly FontSource[]) =>
    (await files()).letters(run, fonts),
  ),
  facts: outcome((seats: readonly Outline[]) => seats.map(factWords)),
  /** Undefined where the pockets are not the last ones made here, as `plan` has it. */
  release: outcome(
    async (
      light: LightPlan,
      token: string,
      blanks: Jig['blanks'] | undefined,
      ...of: AfterFirst<Parameters<Files['releaseFiles']>>
    ) => {
      const from = blanks ?? (kept?.token === token ? kept.blanks : undefined);
      if (!from) return undefined;
      const pockets = from.map(({ pocket }) => pocket);
      const jig = { plan: wholePlan(light, pockets), blanks: from };
      const made = await (await files()).releaseFiles(jig, ...of);
      return made;
    },
  ),
  /** All files in one. */
  pack: outcome(async (...of: Parameters<Files['packageOf']>) => (await files()).packageOf(...of)),
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
  /** The files of a bed loaded without a jig. */
  loose: outcome(
    async (
      { load, print }: LooseSeen,
      blanks: Jig['blanks'],
      settings: Parameters<typeof loosePlan>[2],
      trace: Pick<Trace, 'verdict' | 'reasons'>,
      on: string,
      headGapMm: number,
      said: FileSettings,
      artwork: SideOrder | undefined,
    ): Promise<readonly LooseFile[]> => {
      const plan = loosePlan(blanks, load, settings);
      const heights = load.pieces.map(
        (p) => blanks.find((b) => b.blank === p.blank)!.seat.thicknessMm ?? 0,
      );
      return (await files()).looseFiles(
        plan,
        load,
        jobFacts({ plan, blanks }, trace, on),
        { highestMm: Math.max(...heights), lowestMm: Math.min(...heights), headGapMm },
        correctionOfSheet(print),
        said,
        artwork,
      );
    },
  ),
  match: outcome(async (...of: Parameters<Files['match']>) => (await files()).match(...of)),
};

export type PlanApi = typeof api;
expose(api);

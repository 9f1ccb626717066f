import {
  correctionOf,
  correctionOfPrinter,
  landingOf,
  type Correction,
  type Landing,
  type Miss,
} from '../after/first-print.ts';
import { reason, Refusal, type Outcome, type Reason } from '../base/reason.ts';
import { PROGRAM } from '../base/program.ts';
import {
  bedProfileOf,
  perMilleOf,
  printedFromMeant,
  profileWords,
  type BedProfile,
} from '../plan/bed-profile.ts';
import { FILE_SETTINGS } from '../files/settings.ts';
import { cutterInUse, printerInUse } from '../plan/machines.ts';
import type { BedPlan, ZeroCorner } from '../plan/plan.ts';
import { KEPT, type Kept } from '../sheet/growth.ts';
import type { Job, PictureReference } from './job.ts';

/** Whose lines a board is cut along: the cutter's own measure, or lines that the job's printer printed. */
export const CUT_ALONG = ['cutter', 'printer'] as const;
export type CutAlong = (typeof CUT_ALONG)[number];

/** The sheet that a picture was taken on, where it is not as the job has it. */
export interface OwnSheet {
  /** Spans of another sheet than the job's, mm; absent: the job's own sheet. */
  readonly spansMm?: Job['sheet']['spansMm'];
  /** Where the sheet was since its spans were read; absent: in the same room, earlier. */
  readonly kept?: Kept;
}

/** A board that was cut from a job: what it was cut by, and what was done with it since. Plain data, changed like the job. */
export interface Board {
  /** Counted in the job from 1. */
  readonly number: number;
  /** Letter of its issue, as in the files. */
  readonly revision: string;
  /** The plan that it was cut by, as plan.json: what is changed in the job later does not change the board. */
  readonly plan: PictureReference;
  /** Digest of that plan. */
  readonly digest: string;
  /** Day it was entered, ISO 8601. */
  readonly on: string;
  /** Photo or scan of the empty board; null: not pictured yet. */
  readonly picture: PictureReference | null;
  /** Day that picture was given. */
  readonly picturedOn: string | null;
  readonly thicknessMm: number | null;
  readonly sheet: OwnSheet;
  /** Where it is kept. */
  readonly place: string;
  /** The days it was printed, and how many pieces that made. */
  readonly runs: readonly { readonly on: string; readonly pieces: number }[];
  /** Since when it is not to be used, and why; null: it is. */
  readonly worn: { readonly on: string; readonly why: string } | null;
  /** What it was made with: version of the program, and lens profile. */
  readonly made: {
    readonly program: string;
    readonly lens: string | null;
    /** Whose lines it was cut along; absent: as the job says. */
    readonly along?: CutAlong;
    /** The bed profile in force then: printer and day. */
    readonly profile?: string;
  };
  /** New pieces that were tried in it; absent: none. */
  readonly pieces?: NewPieces;
  /** How its first print landed; absent: it was not read. */
  readonly print?: FirstPrint;
}

/** The first print on a board, as it was read. */
export interface FirstPrint {
  /** The printer that it lies on. */
  readonly machine: string;
  readonly misses: readonly Miss[];
  /** U (k = 2) of each reading along one direction, mm. */
  readonly uMm: number;
  /** Day of the bed profile that what was read had been corrected by; absent: it was not corrected. */
  readonly profileOn?: string | undefined;
  /** Day it was read, and since when the board lies otherwise; null: it lies as it lay. */
  readonly on: string;
  readonly voidOn: string | null;
}

/** Pieces of a delivery, pictured on a sheet as the blank was. */
export interface NewPieces {
  readonly pictures: readonly PictureReference[];
  /** null: as thick as the blank. */
  readonly thicknessMm: number | null;
  readonly sheet: OwnSheet;
}
export const NO_PIECES: NewPieces = { pictures: [], thicknessMm: null, sheet: {} };

/** The board that the files are for: the one chosen, else the last. */
export const boardInUse = ({
  boards = [],
  board,
}: Pick<Job, 'boards' | 'board'>): Board | undefined =>
  boards.find((b) => b.number === board) ?? boards.at(-1);

/** The bed profile of the job's printer, and why artwork is not corrected by it. */
export interface PrinterProfile {
  readonly printer: string;
  readonly profile: BedProfile;
  readonly against?: Reason;
  /** The board is cut along that printer's own lines: it has the printer's error in it already. */
  readonly own?: true;
}

const cornerWords = (zero: ZeroCorner): string =>
  zero.replace('bottom', 'front').replace('top', 'rear').replace('-', ' ');

/** What the printer's last reading says; undefined where nothing was read of it. */
export function printerProfileOf(
  job: Pick<Job, 'boards' | 'board' | 'machines' | 'cutAlong' | 'pocket' | 'bed'>,
): PrinterProfile | undefined {
  const printer = printerInUse(job.machines);
  const reading = printer?.readings?.at(-1);
  if (!printer || !reading) return undefined;
  const profile = bedProfileOf(reading);
  const along = boardInUse(job)?.made.along ?? job.cutAlong;
  if (along === 'printer') return { printer: printer.name, profile, own: true };
  const against =
    profile.against ??
    (profile.bed.zero === job.bed.zero
      ? along === undefined && job.pocket.tool.kind === 'hand'
        ? reason('bed-lines-unsaid', { printer: printer.name })
        : undefined
      : reason('bed-profile-zero', {
          was: cornerWords(profile.bed.zero),
          is: cornerWords(job.bed.zero),
        }));
  return { printer: printer.name, profile, ...(against && { against }) };
}

/** What the last cut test of the job's cutter says, why nothing is corrected by it, and whether cut files are. */
export interface CutterProfile {
  readonly cutter: string;
  readonly profile: BedProfile;
  readonly against?: Reason;
  readonly taken: boolean;
}

/** What the cutter's last reading says; undefined where nothing was read of it. */
export function cutterProfileOf(
  job: Pick<Job, 'machines' | 'files' | 'pocket'>,
): CutterProfile | undefined {
  const cutter = cutterInUse(job.machines);
  const reading = cutter?.readings?.at(-1);
  if (!cutter || !reading) return undefined;
  const profile = bedProfileOf(reading, 'cutter');
  const against =
    profile.against ??
    (job.pocket.tool.kind === 'hand'
      ? reason('cutter-by-hand', { cutter: cutter.name })
      : undefined);
  const inForce = job.files?.cutterPerMille ?? FILE_SETTINGS.cutterPerMille;
  const taken = perMilleOf(profile).every((v, k) => v === (inForce[k] ?? 0));
  return { cutter: cutter.name, profile, ...(against && { against }), taken };
}

type Corrected = Parameters<typeof printerProfileOf>[0];

/** What artwork is moved by on any board of this printer; undefined where nothing is. */
export function correctionByProfile(job: Corrected): Correction | undefined {
  const of = printerProfileOf(job);
  if (!of || of.own || of.against) return undefined;
  return correctionOfPrinter(
    printedFromMeant(of.profile, job.bed),
    profileWords(of.profile),
    `${of.printer}, as measured on ${of.profile.on}`,
  );
}

/** What the first print of a board says; undefined before two places were read. */
export function landingOn(
  { print }: Pick<Board, 'print'>,
  job: Corrected,
): Outcome<Landing> | undefined {
  if (!print || print.misses.length < 2) return undefined;
  const of = printerProfileOf(job);
  const inForce = of && !of.own && !of.against ? of.profile : undefined;
  try {
    if (print.profileOn !== undefined && print.profileOn !== inForce?.on)
      throw new Refusal('print-other-profile', { on: print.profileOn });
    const printer = inForce && {
      map: printedFromMeant(inForce, job.bed),
      taken: print.profileOn !== undefined,
    };
    return { ok: true, value: landingOf(print.misses, print.uMm, printer) };
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    return { ok: false, reason: error.reason };
  }
}

/**
 * What artwork is moved by before it is printed: as the printer's bed profile asks, and on the board in use as its first print
 * asks; not so where that was seated anew, or cut by another plan.
 */
export function correctionFor(
  job: Corrected,
  plan: Pick<BedPlan, 'digest'>,
): Correction | undefined {
  const ofPrinter = correctionByProfile(job);
  const board = boardInUse(job);
  if (!board?.print || board.print.voidOn !== null || board.digest !== plan.digest)
    return ofPrinter;
  const landing = landingOn(board, job);
  const { machine } = board.print;
  const holds = `board ${board.number}${machine ? ` on ${machine}` : ''}`;
  return landing?.ok ? correctionOf(landing.value, holds, ofPrinter) : ofPrinter;
}

/** Digits of the plan's digest that a board is told by, as they are cut into it. */
export const CODE_DIGITS = 8;
export const codeOf = ({ digest }: Pick<Board, 'digest'>): string =>
  digest.slice(0, CODE_DIGITS).toUpperCase();

/** A few digits that tell the lens profile in force from another one. */
export const lensOf = ({ lens }: Pick<Job, 'lens'>): string | null =>
  lens === null || lens === 'none'
    ? null
    : [lens.camera, lens.pictures, ...lens.values.slice(0, 3).map((v) => v.toPrecision(6))].join(
        ' ',
      );

/** A board as it is entered. */
export function newBoard(job: Job, plan: PictureReference, digest: string, on: string): Board {
  const { boards = [], files, heights, cutAlong } = job;
  const of = printerProfileOf({ ...job, boards: [] });
  return {
    number: Math.max(0, ...boards.map((b) => b.number)) + 1,
    revision: files?.revision ?? 'A',
    plan,
    digest,
    on,
    picture: null,
    picturedOn: null,
    thicknessMm: heights.boardMm,
    sheet: {},
    place: '',
    runs: [],
    worn: null,
    made: {
      program: PROGRAM,
      lens: lensOf(job),
      ...(cutAlong && { along: cutAlong }),
      ...(of && { profile: `${of.printer}, ${of.profile.on}` }),
    },
  };
}

/** The files that a board names. */
export const filesOfBoard = ({ plan, picture, pieces }: Board): readonly PictureReference[] => [
  plan,
  ...(picture ? [picture] : []),
  ...(pieces?.pictures ?? []),
];

/**
 * The job as its board is measured: the board is the blank, print face up, and lies on a sheet whose spans were read on
 * another day than the board was pictured.
 *
 * @param sameSheet the picture shows the job's own sheet
 */
export function jobOfBoard(job: Job, { thicknessMm, sheet }: Board, sameSheet: boolean): Job {
  return onSheet({ ...job, widestMm: null, face: 'print' }, thicknessMm, sheet, sameSheet);
}

/** The same for pictures of new pieces, which lie as the blank did. */
export function jobOfPieces(job: Job, { thicknessMm, sheet }: NewPieces, sameSheet: boolean): Job {
  const own = thicknessMm ?? Object.values(job.thicknessMm)[0] ?? null;
  return onSheet(job, own, sheet, sameSheet);
}

function onSheet(job: Job, thicknessMm: number | null, own: OwnSheet, sameSheet: boolean): Job {
  const spansMm = own.spansMm ?? (sameSheet ? job.sheet.spansMm : {});
  return {
    ...job,
    mends: [],
    blocksMm: [],
    thicknessMm: thicknessMm === null ? {} : { 1: thicknessMm },
    sheet: { ...job.sheet, spansMm, kept: own.kept ?? 'room' },
  };
}

const isObject = (v: unknown): v is Record<string, unknown> =>
  typeof v === 'object' && v !== null && !Array.isArray(v);
const isNumber = (v: unknown): v is number => typeof v === 'number' && Number.isFinite(v);
const isText = (v: unknown): v is string => typeof v === 'string';
const isFile = (f: unknown): boolean =>
  isObject(f) && isText(f.name) && /^[0-9a-f]{64}$/.test(String(f.digest));
const isSheet = (s: unknown): boolean =>
  isObject(s) &&
  (s.spansMm === undefined || (isObject(s.spansMm) && Object.values(s.spansMm).every(isNumber))) &&
  (s.kept === undefined || KEPT.some((k) => k === s.kept));

const isPieces = (p: unknown): boolean =>
  isObject(p) &&
  Array.isArray(p.pictures) &&
  p.pictures.every(isFile) &&
  (p.thicknessMm === null || isNumber(p.thicknessMm)) &&
  isSheet(p.sheet);

const isPrint = (p: unknown): boolean =>
  isObject(p) &&
  isText(p.machine) &&
  Array.isArray(p.misses) &&
  p.misses.every(
    (m) => isObject(m) && isObject(m.at) && [m.at.x, m.at.y, m.dxMm, m.dyMm].every(isNumber),
  ) &&
  isNumber(p.uMm) &&
  p.uMm > 0 &&
  isText(p.on) &&
  (p.profileOn === undefined || isText(p.profileOn)) &&
  (p.voidOn === null || isText(p.voidOn));

/** Whether data of a job file is a board. */
export const isBoard = (b: unknown): b is Board =>
  isObject(b) &&
  Number.isInteger(b.number) &&
  isText(b.revision) &&
  isFile(b.plan) &&
  isText(b.digest) &&
  isText(b.on) &&
  (b.picture === null || isFile(b.picture)) &&
  (b.picturedOn === null || isText(b.picturedOn)) &&
  (b.thicknessMm === null || isNumber(b.thicknessMm)) &&
  isSheet(b.sheet) &&
  isText(b.place) &&
  Array.isArray(b.runs) &&
  b.runs.every((r) => isObject(r) && isText(r.on) && isNumber(r.pieces)) &&
  (b.worn === null || (isObject(b.worn) && isText(b.worn.on) && isText(b.worn.why))) &&
  isObject(b.made) &&
  isText(b.made.program) &&
  (b.made.lens === null || isText(b.made.lens)) &&
  (b.made.along === undefined || CUT_ALONG.some((w) => w === (b.made as Board['made']).along)) &&
  (b.made.profile === undefined || isText(b.made.profile)) &&
  (b.pieces === undefined || isPieces(b.pieces)) &&
  (b.print === undefined || isPrint(b.print));

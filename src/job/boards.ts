import type { Kept } from '../sheet/growth.ts';
import { KEPT } from '../sheet/growth.ts';
import type { Job, PictureReference } from './job.ts';

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
}

/** Digits of the plan's digest that a board is told by, as they are cut into it. */
export const CODE_DIGITS = 8;
export const codeOf = ({ digest }: Pick<Board, 'digest'>): string =>
  digest.slice(0, CODE_DIGITS).toUpperCase();

/** A board as it is entered. */
export function newBoard(
  { boards = [], files, heights }: Job,
  plan: PictureReference,
  digest: string,
  on: string,
): Board {
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
  };
}

/** The files that a board names. */
export const filesOfBoard = ({ plan, picture }: Board): readonly PictureReference[] => [
  plan,
  ...(picture ? [picture] : []),
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

function onSheet(job: Job, thicknessMm: number | null, own: OwnSheet, sameSheet: boolean): Job {
  const spansMm = own.spansMm ?? (sameSheet ? job.sheet.spansMm : {});
  return {
    ...job,
    mends: [],
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
  isSheet(b.sheet);

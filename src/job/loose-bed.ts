import type { LooseLoad } from '../after/loose.ts';
import type { PictureBox } from '../outline/pictured.ts';
import type { PictureMeta } from '../picture/picture.ts';
import type { PhotoView } from '../view/view.ts';
import { KEPT, type Kept } from '../sheet/growth.ts';
import type { PictureReference } from './job.ts';

/** What was entered of a bed that is loaded without a jig. Plain data, changed like the job. */
export interface LooseBed {
  /** Photos of the load, none touched in between. */
  readonly pictures: readonly PictureReference[];
  /** Spans of the marked sheet of the bed, mm. */
  readonly spansMm: Readonly<Partial<Record<'x' | 'y' | 'd', number>>>;
  /** Where that sheet was since they were read; absent: read on the same day. */
  readonly kept?: Kept;
  /** How many of each blank were laid, by its number; one that is not named may be there in any number. */
  readonly counts: Readonly<Record<string, number>>;
}
export const NO_LOOSE: LooseBed = { pictures: [], spansMm: {}, counts: {} };

/** What the photos show. */
export interface LooseSeen {
  readonly load: LooseLoad;
  /** What the printer made of lengths when it printed the marks. */
  readonly print: PhotoView['print'];
  /** The first photo, upright, and the part of it that shows the marked sheet. */
  readonly photo: {
    readonly meta: PictureMeta;
    readonly widthPx: number;
    readonly heightPx: number;
    readonly sheet: PictureBox;
  };
}

const isObject = (v: unknown): v is Record<string, unknown> =>
  typeof v === 'object' && v !== null && !Array.isArray(v);
const isFile = (f: unknown): boolean =>
  isObject(f) && typeof f.name === 'string' && /^[0-9a-f]{64}$/.test(String(f.digest));
const areFigures = (o: unknown): boolean =>
  isObject(o) && Object.values(o).every((v) => typeof v === 'number' && Number.isFinite(v));

/** Whether data of a job file is one. */
export const isLooseBed = (l: unknown): l is LooseBed =>
  isObject(l) &&
  Array.isArray(l.pictures) &&
  l.pictures.every(isFile) &&
  areFigures(l.spansMm) &&
  areFigures(l.counts) &&
  (l.kept === undefined || KEPT.some((k) => k === l.kept));

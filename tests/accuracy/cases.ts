import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { CACHE, render, ROOT, sceneNamed, whyNoRenderer } from './render.ts';
import { readTruth, type Truth } from './truth.ts';

/** A row of the table of goals. */
export type RowId =
  | 'rigid-thin'
  | 'rider-paper'
  | 'rider-rigid'
  | 'lens-10'
  | 'lens-thick'
  | 'several'
  | 'bowed'
  | 'scan-300'
  | 'scan-600';

/** A picture with what an operator would enter: readings with the error that their stated uncertainty allows. */
export interface Case {
  readonly name: string;
  /** A file of fixtures/, or "scene": rendered on demand from scenes.json or the renderer's own open scenes. */
  readonly picture: string;
  /** Name of the scene, where it is not the case's. */
  readonly scene?: string;
  readonly row: RowId | null;
  /** Thickness by blank number, mm. */
  readonly thicknessMm: Readonly<Record<string, number>>;
  /** Blocks that only carry a rider. */
  readonly blocksMm?: readonly number[];
  readonly widestMm?: number;
  /** A flatbed scan; `profile` names the scene of the measured sheet that the scanner's profile is made from. */
  readonly scan?: { readonly profile?: string };
  /** Scene of the bare sheet whose views make the lens profile. */
  readonly lens?: string;
  /** How many of the scene's views are measured together; one when left out. */
  readonly views?: number;
  readonly spansMm: Readonly<Partial<Record<'x' | 'y' | 'd', number>>>;
  readonly riderSpansMm: Readonly<Record<string, number>>;
  /** What is wrong with this picture or its readings: it must come out doubtful or refused. */
  readonly flag?: string;
  /** What the picture must reach where it belongs to no row, mm. */
  readonly limits?: { readonly maxMm: number; readonly rmsMm: number };
}

export const CASES = JSON.parse(
  readFileSync(new URL('cases.json', import.meta.url), 'utf8'),
) as readonly Case[];

export const DRAWN_FILE = fileURLToPath(new URL('drawn.json', import.meta.url));

/** Pictures of scenes drawn by lot (drawn.ts), with readings whose errors are drawn as well; `--draw` renders them. */
export const DRAWN = JSON.parse(readFileSync(DRAWN_FILE, 'utf8')) as readonly Case[];

export interface Material {
  readonly name: string;
  readonly bytes: Uint8Array;
  readonly truth: Truth;
  /** Further pictures of the same blank, and the folder of the views that make the lens profile. */
  readonly more: readonly { readonly name: string; readonly bytes: Uint8Array }[];
  readonly lensFolder?: string;
}

/** The picture and its truth; rendered and kept in the cache when it is not among the fixtures; or why it is not there. */
export function material(
  one: Pick<Case, 'name' | 'picture' | 'scene' | 'lens' | 'views'>,
): Material | { readonly missing: string } {
  const lensFolder = one.lens === undefined ? undefined : rendered(one.lens);
  if (typeof lensFolder === 'object') return lensFolder;
  const lens = lensFolder === undefined ? {} : { lensFolder };
  if (one.picture !== 'scene') {
    const picture = join(ROOT, one.picture);
    return {
      name: one.picture.split('/').pop()!,
      bytes: readFileSync(picture),
      truth: readTruth(picture.replace(/\.[^.]+$/, '.truth.json')),
      more: [],
      ...lens,
    };
  }
  const name = one.scene ?? one.name;
  const folder = rendered(name, one.views ?? 1);
  if (typeof folder === 'object') return folder;
  const [picture, ...more] = readdirSync(folder)
    .filter((f) => /-\d+\.(jpg|png)$/.test(f))
    .sort()
    .slice(0, one.views ?? 1) as [string, ...string[]];
  return {
    name: picture,
    bytes: readFileSync(join(folder, picture)),
    truth: readTruth(join(folder, `${name}.truth.json`)),
    more: more.map((file) => ({ name: file, bytes: readFileSync(join(folder, file)) })),
    ...lens,
  };
}

/** The folder of a scene's pictures, rendered when it is not in the cache with so many views; or why it is not there. */
function rendered(name: string, views = 5): string | { readonly missing: string } {
  const folder = join(CACHE, name);
  const there = existsSync(folder) ? readdirSync(folder).filter((f) => /\.(jpg|png)$/.test(f)) : [];
  if (there.length >= views) return folder;
  if (DRAWN.some((one) => one.name === name))
    return { missing: 'they were not rendered yet (npm run accuracy -- --draw)' };
  const why = whyNoRenderer();
  return why ? { missing: why } : render(sceneNamed(name), CACHE);
}

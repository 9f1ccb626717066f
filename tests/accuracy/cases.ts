import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { CACHE, render, ROOT, sceneNamed, whyNoRenderer } from './render.ts';
import { readTruth, type Truth } from './truth.ts';

/** A row of the table of goals. */
export type RowId =
  'rigid-thin' | 'rider-paper' | 'rider-rigid' | 'bowed' | 'scan-300' | 'scan-600';

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
  readonly widestMm?: number;
  /** A flatbed scan; `profile` names the scene of the measured sheet that the scanner's profile is made from. */
  readonly scan?: { readonly profile?: string };
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

export interface Material {
  readonly name: string;
  readonly bytes: Uint8Array;
  readonly truth: Truth;
}

/** The picture and its truth; rendered and kept in the cache when it is not among the fixtures; or why it is not there. */
export function material(
  one: Pick<Case, 'name' | 'picture' | 'scene'>,
): Material | { readonly missing: string } {
  if (one.picture !== 'scene') {
    const picture = join(ROOT, one.picture);
    return {
      name: one.picture.split('/').pop()!,
      bytes: readFileSync(picture),
      truth: readTruth(picture.replace(/\.[^.]+$/, '.truth.json')),
    };
  }
  const name = one.scene ?? one.name;
  let folder = join(CACHE, name);
  if (!existsSync(folder)) {
    const why = whyNoRenderer();
    if (why) return { missing: why };
    folder = render(sceneNamed(name), CACHE);
  }
  const picture = readdirSync(folder).find((f) => /-1\.(jpg|png)$/.test(f))!;
  return {
    name: picture,
    bytes: readFileSync(join(folder, picture)),
    truth: readTruth(join(folder, `${name}.truth.json`)),
  };
}

/** Renders scenes with the project's own sheets by the independent renderer beside the project, where there is one. */
import { execFileSync, spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { stageOf } from '../../src/sheet/colour.ts';
import { riderPdf, sheetPdf, stripPdf } from '../../src/sheet/draw.ts';
import type { SheetDesign } from '../../src/sheet/design.ts';
import { layout, PAPERS, RIDERS, STRIP } from '../../src/sheet/layout.ts';

export const ROOT = fileURLToPath(new URL('../../', import.meta.url));
export const TOOLS = join(ROOT, '../shared/tools');
export const CACHE = join(ROOT, '.cache/accuracy');

const STAGES: Readonly<Record<string, string>> = {
  white: 'white',
  grey: 'grey',
  black: 'black',
  teal: '#1f8f83',
};

/** The first python3 that has what the renderer needs. */
export function findPython(): string | undefined {
  return ['python3', '/usr/bin/python3'].find(
    (python) =>
      spawnSync(python, ['-c', 'import numpy, scipy, cv2, shapely, PIL'], { stdio: 'ignore' })
        .status === 0,
  );
}

/** Why nothing can be rendered here; undefined where it can. */
export function whyNoRenderer(): string | undefined {
  if (!existsSync(join(TOOLS, 'scene.py'))) return 'there is no ../shared/tools/scene.py';
  if (!findPython()) return 'no python3 with numpy, scipy, OpenCV, shapely and PIL was found';
  for (const program of ['pdfinfo', 'pdftocairo'])
    if (spawnSync(program, ['-v'], { stdio: 'ignore' }).error) return `${program} was not found`;
  return undefined;
}

/**
 * A sheet or rider as a PDF in the cache. The renderer draws its pages so large that poppler clips the letters;
 * where Ghostscript is at hand it makes outlines of them. The marks are the same either way.
 */
function page(slot: string): string {
  const folder = join(CACHE, 'sheets');
  mkdirSync(folder, { recursive: true });
  const file = join(folder, `${slot}.pdf`);
  const [kind, what] = slot.split('-') as [string, string];
  const rider = RIDERS.find((r) => kind === 'rider' && r.sizeMm === Number(what));
  if (rider) {
    writeFileSync(file, riderPdf(rider));
    return file;
  }
  const stage = STAGES[what];
  if (!stage) throw new Error(`no sheet "${slot}"`);
  const { rgb } = stageOf(stage);
  const drawn = join(folder, `${slot}-text.pdf`);
  const design = designOf(slot);
  const bytes = design.field ? stripPdf(design) : sheetPdf(design, rgb);
  // The same page keeps its file: the renderer keeps its textures by the file's digest, and Ghostscript writes the time into it.
  if (existsSync(file) && existsSync(drawn) && readFileSync(drawn).equals(bytes)) return file;
  writeFileSync(drawn, bytes);
  const outlined = spawnSync(
    'gs',
    ['-q', '-dBATCH', '-dNOPAUSE', '-sDEVICE=pdfwrite', '-dNoOutputFonts', '-r14400'].concat(
      '-o',
      file,
      drawn,
    ),
    { stdio: 'ignore' },
  );
  if (outlined.status !== 0) renameSync(drawn, file);
  return file;
}

/** The sheet or strip of a slot, for instance A4-teal or strip-white. */
function designOf(slot: string): SheetDesign {
  const [kind, what] = slot.split('-') as [string, string];
  if (kind === 'strip') return STRIP;
  const paper = PAPERS[kind];
  const stage = STAGES[what];
  if (!paper || !stage) throw new Error(`no sheet "${slot}"`);
  return layout(paper[0], paper[1], stageOf(stage).tone);
}

/** A scene as the renderer reads it, the parts that are used here. */
export interface Scene {
  readonly name: string;
  /** `none`: nothing printed lies there. */
  readonly sheet: { readonly slot?: string; readonly none?: boolean };
  readonly blanks: readonly {
    readonly rider?: { readonly slot?: string; readonly size_mm: number };
  }[];
  readonly views: readonly object[];
}

/** The scene of this name, from the project's own or the renderer's. */
export function sceneNamed(name: string): Scene {
  for (const file of [
    'tests/accuracy/scenes.json',
    '../shared/tools/scenes-open.json',
    '../shared/tools/scenes-profile.json',
  ]) {
    const { scenes } = JSON.parse(readFileSync(join(ROOT, file), 'utf8')) as { scenes: Scene[] };
    const scene = scenes.find((s) => s.name === name);
    if (scene) return scene;
  }
  throw new Error(`there is no scene "${name}"`);
}

/**
 * Renders the first views of a scene (all of them unless told otherwise) into the folder `<out>/<name>`; half a rendering is
 * never left there.
 * @returns the folder
 */
export function render(scene: Scene, out: string, views = scene.views.length): string {
  const python = findPython();
  if (!python) throw new Error('no python3');
  const { slot } = scene.sheet;
  const slots = [
    ...(slot ? [slot] : []),
    ...scene.blanks.flatMap((b) => (b.rider ? [b.rider.slot ?? `rider-${b.rider.size_mm}`] : [])),
  ];
  const spans = slot ? designOf(slot).spans : [];
  const half = join(out, `.${scene.name}-half`);
  rmSync(half, { recursive: true, force: true });
  mkdirSync(half, { recursive: true });
  const file = join(half, 'scenes.json');
  writeFileSync(
    file,
    JSON.stringify({ scenes: [{ ...scene, views: scene.views.slice(0, views) }] }),
  );
  execFileSync(
    python,
    [
      join(TOOLS, 'scene.py'),
      file,
      ...['--out', half],
      ...[...new Set(slots)].flatMap((s) => ['--sheet', `${s}=${page(s)}`]),
      ...spans.flatMap((s) => ['--span', [s.from.x, s.from.y, s.to.x, s.to.y].join(',')]),
    ],
    {
      stdio: ['ignore', 'ignore', 'inherit'],
      env: { SCENE_CACHE: join(CACHE, 'textures'), ...process.env },
    },
  );
  const done = join(out, scene.name);
  rmSync(done, { recursive: true, force: true });
  renameSync(join(half, scene.name), done);
  rmSync(half, { recursive: true });
  return done;
}

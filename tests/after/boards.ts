/**
 * Boards rendered with exact truth (by the independent renderer beside the project), traced and held against their plan.
 * Cutting: 0.08 mm wide per side, 0.6 parts in a thousand short along x, 0.3 long along y, pocket 4 pressed in by 0.4 mm.
 */
import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { measureBoard } from '../../src/after/board.ts';
import { DEFAULT_TRACE, traceFiles } from '../../src/cli/trace.ts';
import type { Clipper } from '../../src/geometry/clipper.ts';
import { resample } from '../../src/geometry/measure.ts';
import { seatOutlines } from '../../src/job/seats.ts';
import { loadVision } from '../../src/vision/load-node.ts';
import { measuredOf } from '../accuracy/measure.ts';
import { CACHE, render, whyNoRenderer, type Scene } from '../accuracy/render.ts';
import { score, type Place } from '../accuracy/score.ts';
import { readTruth } from '../accuracy/truth.ts';
import { cutBoard, KERF_MM, type Cutting } from '../support/boards.ts';

const CUTTING: Cutting = {
  growMm: 0.08,
  scaleX: 0.9994,
  scaleY: 1.0003,
  spoilt: { pocket: 4, mm: 0.4 },
};
const BOARDS = [
  { name: 'board-a4-12', slot: 'A4-white', paper: [210, 297], grid: [3, 4], board: [150, 210] },
  { name: 'board-a3-35', slot: 'A3-white', paper: [297, 420], grid: [5, 7], board: [230, 330] },
] as const;
export const THICKNESS_MM = 3;

interface NamedScene {
  readonly name: string;
  readonly slot: string;
  readonly paper: readonly [number, number];
}

/** One line for each board that can be rendered here. */
export async function playBoards(clipper: Clipper, say: (line: string) => void): Promise<void> {
  const missing = whyNoRenderer();
  if (missing) return say(`boards: not rendered, ${missing}`);
  loadVision();
  for (const one of BOARDS) {
    const { planned, real } = cutBoard(clipper, one.grid[0], one.grid[1], one.board, CUTTING);
    const [w, h] = one.board;
    const about = ({ x, y }: { x: number; y: number }): Place => [x - w / 2, y - h / 2];
    const outer = [
      [0, 0],
      [w, 0],
      [w, h],
      [0, h],
    ].map(([x, y]) => about({ x: CUTTING.scaleX * x!, y: CUTTING.scaleY * y! }));
    const rings = [outer, ...real.map((r) => resample(r, 0.25).map(about).reverse())];
    const folder = join(CACHE, one.name);
    if (!existsSync(folder)) render(sceneOf(one, rings), CACHE);
    const truth = readTruth(join(folder, `${one.name}.truth.json`));
    const [x, y, d] = truth.sheet.spans.slice(-3).map((s) => s.true) as [number, number, number];
    const file = truth.views[0]!.file;
    const { trace } = await traceFiles([{ name: file, bytes: readFileSync(join(folder, file)) }], {
      ...DEFAULT_TRACE,
      thicknessMm: THICKNESS_MM + 0.03,
      spansMm: { x: x + 0.02, y: y - 0.01, d },
    });
    const board = seatOutlines(trace).reduce((a, b) =>
      b.region.holes.length > a.region.holes.length ? b : a,
    );
    const { maxMm, rmsMm, wholeHolds } = score(measuredOf(board), {
      rings: truth.blanks[0]!.widest,
      hidden: truth.views[0]!.hidden[0]!,
    });
    const { growthMm, kerfMm, scalePerMille, pockets } = measureBoard(planned, board, KERF_MM);
    const tight = pockets.find((p) => p.id === '4')!.tightest.mm;
    const told = ({ value, U }: { value: number; U: number }): string =>
      `${value.toFixed(3)} +- ${U.toFixed(3)}`;
    say(
      `${one.name}: ${pockets.length} pockets, max ${maxMm.toFixed(3)} RMS ${rmsMm.toFixed(3)} mm, whole band ${wholeHolds ? 'holds' : 'DOES NOT HOLD'}; wide ${told(growthMm)} (0.08), kerf ${told(kerfMm)} (0.31), scale x ${told(scalePerMille.x)} (-0.6), y ${told(scalePerMille.y)} (0.3), pocket 4 tight ${told(tight)} (-0.32)`,
    );
  }
}

/** A board on its sheet, photographed from above with a phone's camera; `picture` its width and height, px. */
export function sceneOf(
  { name, slot, paper: [w, h] }: NamedScene,
  rings: readonly (readonly Place[])[],
  [across, down]: readonly [number, number] = [3000, 4000],
): Scene {
  return {
    name,
    seed: 901,
    sheet: {
      slot,
      size_mm: [w, h],
      stage: 255,
      print: { scale_x: 1.0005, scale_y: 0.9993, shear: 0.0002, local_mm: 0.008, seed: 31 },
    },
    blanks: [
      {
        name: 'board',
        rings,
        at: [w / 2 + 1, h / 2 - 1],
        rot: 1.2,
        thickness: THICKNESS_MM,
        edge: { kind: 'straight' },
        surface: { colour: '#7a5230', wall: '#3a2a1a' },
      },
    ],
    light: {
      ambient: 0.5,
      lights: [
        { azimuth: 120, elevation: 55, size: 20, strength: 0.6 },
        { azimuth: -40, elevation: 62, size: 26, strength: 0.4 },
      ],
    },
    views: [
      {
        camera: {
          picture: [across, down],
          f_px: (2951 * across) / 3000,
          k1: -0.06,
          k2: 0.025,
          p1: 0.0002,
          p2: -0.0003,
          principal_offset_px: [11, -8],
        },
        pose: { height: 0.845 * h + 2, tilt: 1.5, azimuth: 70, roll: 0, looks_at: [w / 2, h / 2] },
        optics: { blur_px: 0.7, vignette: 0.2, chromatic_px: 0.4 },
        process: { sharpen: 0.4, sharpen_px: 1.2, denoise: 0.6, quality: 88 },
        sensor: { full_well: 5000, read: 6 },
        exif: { f35: 26, orientation: 1 },
      },
    ],
  } as unknown as Scene;
}

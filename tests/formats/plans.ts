/*
 * Random plans, and every file of lines that a release writes of them, for programs that share no code with ours to read.
 * What each file must hold is written beside it as plain data, straight from the plan.
 */
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import fc from 'fast-check';
import { artworkDrawing, cutDrawing, type Drawing } from '../../src/files/drawing.ts';
import { dxf } from '../../src/files/dxf.ts';
import { eps } from '../../src/files/eps.ts';
import { pdf } from '../../src/files/pdf.ts';
import {
  DXF_CURVES,
  DXF_VERSIONS,
  FILE_SETTINGS,
  type FileSettings,
} from '../../src/files/settings.ts';
import { strokeOf } from '../../src/files/strokes.ts';
import { svg } from '../../src/files/svg.ts';
import type { Clipper } from '../../src/geometry/clipper.ts';
import { DEFAULT_BED, makeJig } from '../../src/job/jig.ts';
import { seatStart } from '../../src/plan/board-on-bed.ts';
import {
  BOARD_SEATS,
  type BedPlan,
  type BedSettings,
  type BoardSeat,
} from '../../src/plan/plan.ts';
import { outlineOf } from '../outlines.ts';
import { cases, regionOf, type Case } from '../pockets/law.ts';

/** A plan of one random blank, and how its files are written. */
export interface Planned {
  readonly plan: BedPlan;
  readonly files: FileSettings;
}

interface Given {
  readonly one: Case;
  readonly rows: number;
  readonly columns: number;
  readonly dxf: FileSettings['dxf'];
  readonly engrave: boolean;
  /** What seats a board of its own size; 'bed': the board covers the bed. */
  readonly seat: 'bed' | BoardSeat['kind'];
  readonly keyed: boolean;
}

const given: fc.Arbitrary<Given> = fc.record({
  one: cases,
  rows: fc.integer({ min: 1, max: 3 }),
  columns: fc.integer({ min: 1, max: 3 }),
  dxf: fc.record({
    version: fc.constantFrom(...DXF_VERSIONS),
    curves: fc.constantFrom(...DXF_CURVES),
  }),
  engrave: fc.boolean(),
  seat: fc.constantFrom('bed', ...BOARD_SEATS),
  keyed: fc.boolean(),
});

/** The bed with a board a little smaller, at zero or away from it. */
function onBoard(bed: BedSettings, { seat, keyed }: Given): BedSettings {
  if (seat === 'bed') return { ...bed, ...(keyed && { keyed }) };
  const size = { widthMm: bed.widthMm - 9.5, depthMm: bed.depthMm - 7.25 };
  const board = { ...size, ...(keyed && { fromZeroMm: [4.5, 3] as const }) };
  const own = { ...bed, keyed, board };
  return { ...own, board: { ...board, seat: seatStart(seat, own) } };
}

/** The first `count` plans of a seed that are not refused; a bed is as large as it must be. */
export function* plansOf(clipper: Clipper, seed: number, count: number): Generator<Planned> {
  let made = 0;
  for (const drawn of fc.sample(given, {
    seed,
    numRuns: 4 * count,
  })) {
    if (made === count) break;
    const { one, rows, columns, dxf, engrave } = drawn;
    const { layout, settings } = one;
    const bed = { ...DEFAULT_BED, widthMm: 170 * columns + 20.5, depthMm: 170 * rows + 14.25 };
    const { plan } = makeJig(
      clipper,
      { outlines: [outlineOf(regionOf(one))], verdict: 'ok', reasons: [] },
      {
        job: { number: `R-${made}`, name: 'Random' },
        pocket: settings,
        bed: onBoard({ ...bed, rows, columns, layout }, drawn),
      },
    );
    if (plan.reasons.some(({ level }) => level === 'refuse')) continue;
    const curves = dxf.version === 'R12' && dxf.curves === 'splines' ? 'arcs' : dxf.curves;
    made++;
    yield { plan, files: { ...FILE_SETTINGS, engrave, dxf: { ...dxf, curves } } };
  }
}

type Lines = Readonly<Record<string, readonly (readonly (readonly [number, number])[])[]>>;

/** What a drawing shows, in plain figures: layer by layer, closed and open lines. */
function truthOf({ widthMm, heightMm, layers }: Drawing) {
  const lines = (of: (layer: Drawing['layers'][number]) => Lines[string]): Lines =>
    Object.fromEntries(layers.map((layer) => [layer.name, of(layer)]));
  return {
    page_mm: [widthMm, heightMm],
    closed: lines(({ closed }) => closed.map(({ ring }) => ring.map(({ x, y }) => [x, y]))),
    open: lines(({ open }) => open.map((line) => line.map(({ x, y }) => [x, y]))),
  };
}

/** Without letters, which every program draws in a font of its own. */
const bare = (drawing: Drawing): Drawing => ({
  ...drawing,
  layers: drawing.layers.map((layer) => ({ ...layer, lettering: [] })),
});

/** Writes a plan's files into a folder of their own: cut and artwork in every format, and `truth.json`. */
export async function writePlan(
  folder: string,
  { plan, files }: Planned,
  letters = true,
): Promise<void> {
  mkdirSync(folder, { recursive: true });
  const own = (d: Drawing): Drawing => (letters ? d : bare(d));
  const drawings = { cut: own(cutDrawing(plan, files)), artwork: own(artworkDrawing(plan)) };
  const write = (name: string, bytes: Uint8Array | string): void =>
    writeFileSync(join(folder, name), bytes);
  for (const [name, drawing] of Object.entries(drawings)) {
    write(`${name}.svg`, svg(drawing, files));
    write(`${name}.pdf`, await pdf(drawing, files));
    write(`${name}.eps`, eps(drawing, files));
  }
  write('cut.dxf', dxf(drawings.cut, files));
  const arcs = plan.pocketSettings.corners === 'arcs';
  write(
    'truth.json',
    JSON.stringify({
      strokes: Object.fromEntries(
        drawings.cut.layers.map(({ name }) => {
          const { widthMm, dashMm } = strokeOf(name, files);
          return [name, { width_mm: widthMm, solid: dashMm.length === 0 }];
        }),
      ),
      curved: files.dxf.curves !== 'polylines' || arcs,
      arcs,
      cut: truthOf(drawings.cut),
      artwork: truthOf(drawings.artwork),
    }),
  );
}

/* Boards whose cutter did what is known: runs wide, stretches, spoils one pocket. Plan and real walls in the bed frame, mm. */
import { keptPocket, type KeptPocket } from '../../src/after/kept.ts';
import type { Point } from '../../src/base/measure.ts';
import type { FiledOutline } from '../../src/files/outline-json.ts';
import type { Clipper } from '../../src/geometry/clipper.ts';
import { resample } from '../../src/geometry/measure.ts';
import type { Ring } from '../../src/geometry/shape.ts';
import { DEFAULT_BED, DEFAULT_POCKET, makeJig } from '../../src/job/jig.ts';
import type { BedPlan } from '../../src/plan/plan.ts';

export interface Cutting {
  /** Every wall stands so much farther out, mm. */
  readonly growMm: number;
  readonly scaleX: number;
  readonly scaleY: number;
  /** Pocket that was pressed in at its right, by number, and by how much, mm. */
  readonly spoilt?: { readonly pocket: number; readonly mm: number };
}

export interface CutBoard {
  readonly plan: BedPlan;
  readonly planned: readonly KeptPocket[];
  readonly real: readonly Ring<'bed'>[];
}

export const KERF_MM = 0.15;

const blank = (): Ring<'sheet'> =>
  resample(
    Array.from({ length: 720 }, (_, k) => {
      const a = (2 * Math.PI * k) / 720;
      const r = 17 + 3 * Math.cos(a) + 2 * Math.sin(2 * a + 0.4) + 1.1 * Math.cos(3 * a - 1);
      return { x: 100 + r * Math.cos(a), y: 100 + r * Math.sin(a) };
    }),
    0.5,
  );

export function cutBoard(
  clipper: Clipper,
  columns: number,
  rows: number,
  [widthMm, depthMm]: readonly [number, number],
  { growMm, scaleX, scaleY, spoilt }: Cutting,
): CutBoard {
  const outer = blank();
  const outline: FiledOutline = {
    id: 'blank-1-face',
    blank: 1,
    at: 'face',
    region: { outer, holes: [] },
    u: [new Float64Array(outer.length).fill(0.02)],
    hidden: [],
    rider: false,
    mirrored: false,
  };
  const { plan } = makeJig(
    clipper,
    { outlines: [outline], verdict: 'ok', reasons: [] },
    {
      job: { number: 'B-1', name: 'board' },
      pocket: { ...DEFAULT_POCKET, tool: { kind: 'beam', kerfMm: KERF_MM } },
      bed: { ...DEFAULT_BED, widthMm, depthMm, rows, columns },
    },
  );
  const planned = plan.pockets.map((p) => keptPocket(clipper, p, plan.pocketSettings.tool));
  const real = planned.map(({ opening }, k) => {
    const { x, y } = plan.pockets[k]!.place;
    return clipper.offset([opening], growMm, 'outward')[0]!.outer.map((p): Point<'bed'> => {
      const a = Math.atan2(p.y - y, p.x - x);
      const r = Math.hypot(p.x - x, p.y - y);
      const in_ = k + 1 === spoilt?.pocket ? spoilt.mm * Math.exp(-((a / 0.2) ** 2)) : 0;
      const f = (r - in_) / r;
      return { x: scaleX * (x + f * (p.x - x)), y: scaleY * (y + f * (p.y - y)) };
    });
  });
  return { plan, planned, real };
}

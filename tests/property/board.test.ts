import { beforeAll, describe, expect, it } from 'vitest';
import { measureBoard, type BoardOutline } from '../../src/after/board.ts';
import { tryDelivery } from '../../src/after/delivery.ts';
import { planJson, readPlanJson } from '../../src/files/plan-json.ts';
import type { Clipper } from '../../src/geometry/clipper.ts';
import { reportBoard, reportDelivery } from '../../src/job/after.ts';
import { movedBy, type Motion } from '../../src/geometry/lay.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { resample } from '../../src/geometry/measure.ts';
import type { OutlineMode } from '../../src/outline/outline.ts';
import { cutBoard, KERF_MM, type CutBoard } from '../support/boards.ts';
import { Random } from '../support/simulate.ts';

const SCALE_U = 0.0004;
const EDGE_U = 0.01;

/** The board as a camera would have measured it, lying anyhow on the sheet, with errors drawn from what is stated of them. */
function measured(real: CutBoard['real'], motion: Motion, random: Random): BoardOutline {
  const rings = [
    [
      [-10, -10],
      [170, -10],
      [170, 230],
      [-10, 230],
    ].map(([x, y]) => ({ x: x!, y: y! })),
    ...real.map((r) => resample(r, 0.8).reverse()),
  ].map((ring) => ring.map((p) => movedBy(motion, p)));
  const all = rings.flat();
  const zero = new Float64Array(all.length);
  const modes: OutlineMode[] = [
    { source: 'spans', dx: Float64Array.from(all, (p) => SCALE_U * (p.x - 105)), dy: zero },
    { source: 'spans', dx: zero, dy: Float64Array.from(all, (p) => SCALE_U * (p.y - 148)) },
  ];
  const drawn = modes.map(() => random.normal());
  let vertex = 0;
  const off = rings.map((ring) =>
    ring.map((p) => {
      const k = vertex++;
      return {
        x: p.x + modes.reduce((s, m, i) => s + drawn[i]! * m.dx[k]!, random.normal(EDGE_U)),
        y: p.y + modes.reduce((s, m, i) => s + drawn[i]! * m.dy[k]!, random.normal(EDGE_U)),
      };
    }),
  );
  const fill = (value: number): Float64Array[] =>
    rings.map((r) => new Float64Array(r.length).fill(value));
  return {
    region: { outer: off[0]!, holes: off.slice(1) },
    modes,
    edgeU: fill(EDGE_U),
    u: fill(Math.hypot(EDGE_U, SCALE_U * 80)),
    hidden: [],
    wholeFactor: 3,
  };
}

describe('a cut board against its plan', () => {
  let clipper: Clipper;
  let cut: CutBoard;
  const LIES: Motion = { mirrored: false, turnRad: 0.03, xMm: 30, yMm: 40 };
  beforeAll(async () => {
    clipper = await loadClipper();
    cut = cutBoard(clipper, 3, 4, [160, 220], {
      growMm: 0.08,
      scaleX: 0.9994,
      scaleY: 1.0003,
      spoilt: { pocket: 4, mm: 0.4 },
    });
  });

  // The cutting is known: what is learnt must hold it within U, in about 95 % of boards.
  it('learns what the cutter did, however the board lies', () => {
    const random = new Random(5);
    const missed: string[] = [];
    for (const turnRad of [0.03, -1.5, Math.PI, 2]) {
      const motion = { ...LIES, turnRad };
      const board = measureBoard(cut.planned, measured(cut.real, motion, random), KERF_MM);
      expect(board.pockets.map((p) => p.id)).toEqual(cut.planned.map((p) => p.id));
      expect(board.missing).toEqual([]);
      const { growthMm, kerfMm, scalePerMille } = board;
      expect(kerfMm.value).toBeCloseTo(KERF_MM + 2 * growthMm.value, 9);
      for (const [{ value, U }, truth] of [
        [growthMm, 0.08],
        [scalePerMille.x, -0.6],
        [scalePerMille.y, 0.3],
      ] as const)
        if (Math.abs(value - truth) > U) missed.push(`${value} +- ${U}, truly ${truth}`);
      // 0.4 in, less the 0.08 that every wall stands out.
      const worst = board.pockets.reduce((a, b) =>
        b.tightest.mm.value < a.tightest.mm.value ? b : a,
      );
      expect(worst.id).toBe('4');
      expect(Math.abs(worst.tightest.mm.value + 0.32)).toBeLessThan(0.05);
    }
    // Of twelve, one may miss.
    expect(missed.slice(1)).toEqual([]);
  });

  it('tries the blank in every pocket as it really is', () => {
    const board = measureBoard(cut.planned, measured(cut.real, LIES, new Random(6)), KERF_MM);
    // The blank itself is the planned opening less the clearance.
    const blank = clipper.offset([cut.planned[0]!.opening], -0.3, 'inward')[0]!;
    const outer = resample(blank.outer, 0.6).map(({ x, y }) => ({ x, y }));
    const piece = {
      blank: 1,
      region: { outer, holes: [] },
      u: [new Float64Array(outer.length).fill(0.005)],
      hidden: [],
    };
    const [good, spoilt] = ['5', '4'].map(
      (id) => tryDelivery([board.pockets.find((p) => p.id === id)!.kept], [piece], 0.3).tried[0]!,
    );
    expect(good!.answer).toBe('proven');
    expect(Math.abs(good!.roomMm - 0.38)).toBeLessThan(good!.uMm);
    expect(spoilt!.roomMm).toBeLessThan(good!.roomMm - 0.1);
  });

  it('tries new pieces in the tightest of the pockets that are alike, or as drawn', () => {
    const filed = readPlanJson(planJson(cut.plan), 'plan.json');
    const outer = resample(
      clipper.offset([cut.planned[0]!.opening], -0.3, 'inward')[0]!.outer,
      0.6,
    );
    const piece = {
      id: filed.pockets[0]!.outlineId,
      blank: 1,
      region: { outer: outer.map(({ x, y }) => ({ x, y })), holes: [] },
      u: [new Float64Array(outer.length).fill(0.005)],
      hidden: [],
    };
    const report = reportBoard(clipper, filed, measured(cut.real, LIES, new Random(9)), [piece]);
    // Every pocket has been tried with the blank that it was made for.
    expect(Object.keys(report.tried)).toHaveLength(12);
    const { laid, measured: real } = reportDelivery(clipper, filed, [piece], report.board);
    expect([laid[0]!.tried.pocket, real]).toEqual(['4', true]);
    expect(laid[0]!.tried.roomMm).toBeCloseTo(report.tried['4']!.tried.roomMm, 6);
    const drawn = reportDelivery(clipper, filed, [piece], undefined);
    expect(Math.abs(drawn.laid[0]!.tried.roomMm - 0.3)).toBeLessThan(drawn.laid[0]!.tried.uMm);
    // A pocket whose blank is not among those that were measured is not tried with another one.
    const [a, b] = [{ ...piece, id: 'blank-7-face', blank: 7 }, piece];
    const other = {
      ...filed,
      pockets: filed.pockets.map((p, k) => (k < 6 ? { ...p, outlineId: 'x' } : p)),
    };
    expect(
      Object.keys(
        reportBoard(clipper, other, measured(cut.real, LIES, new Random(9)), [a, b]).tried,
      ),
    ).toEqual(['7', '8', '9', '10', '11', '12']);
  });

  it('names pockets that are missing, and refuses another board', () => {
    const part = cut.real.filter((_, k) => k !== 6);
    expect(measureBoard(cut.planned, measured(part, LIES, new Random(7)), KERF_MM).missing).toEqual(
      ['7'],
    );
    const other = cut.real.map((ring, k) => ring.map((p) => ({ x: p.x + 9 * (k % 3), y: p.y })));
    expect(() => measureBoard(cut.planned, measured(other, LIES, new Random(8)), KERF_MM)).toThrow(
      /not the board of this plan/,
    );
  });

  it('reads the plan back from its file', () => {
    const read = readPlanJson(planJson(cut.plan), 'plan.json');
    expect(read.pockets.map((p) => p.wall)).toEqual(cut.plan.pockets.map((p) => p.wall));
    expect(read.tool).toEqual(cut.plan.pocketSettings.tool);
    expect(() => readPlanJson(new TextEncoder().encode('{}'), 'x.json')).toThrow(/no plan of this/);
  });
});

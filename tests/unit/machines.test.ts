import { beforeAll, describe, expect, it } from 'vitest';
import { INSTRUMENTS } from '../../src/check/reading.ts';
import type { Clipper } from '../../src/geometry/clipper.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { DEFAULT_BED, DEFAULT_POCKET, makeJig } from '../../src/job/jig.ts';
import { acceptJob, newJob, writeJob, readJob } from '../../src/job/job.ts';
import { DEFAULT_HEIGHTS } from '../../src/plan/heights.ts';
import {
  MACHINES,
  onCutter,
  onOtherCutter,
  onOtherPrinter,
  onPrinter,
  printerOf,
  shiftBetween,
  withNamed,
} from '../../src/plan/machines.ts';
import { seatStart } from '../../src/plan/board-on-bed.ts';
import type { BedSettings, BoardSeat } from '../../src/plan/plan.ts';
import type { PocketSettings } from '../../src/pocket/pocket.ts';
import { card, outlineOf } from '../outlines.ts';

let clipper: Clipper;
beforeAll(async () => {
  clipper = await loadClipper();
});
const planOn = (bed: BedSettings) =>
  makeJig(
    clipper,
    { outlines: [outlineOf(card)], verdict: 'ok', reasons: [] },
    { job: { number: '1', name: 'T' }, pocket: { ...DEFAULT_POCKET, material: 'acrylic' }, bed },
  ).plan;
const bed: BedSettings = { ...DEFAULT_BED, rows: 2, columns: 3 };
const [small, large] = MACHINES.printers as [
  (typeof MACHINES.printers)[number],
  (typeof MACHINES.printers)[number],
];
const on = (b: BedSettings, p: typeof small) => onPrinter(b, DEFAULT_HEIGHTS, p).bed;

describe('the same job on another printer', () => {
  it('keeps the board where the pockets lie to each other as before, and says where it goes', () => {
    const [before, after] = [planOn(bed), planOn(on(bed, large))];
    const shift = shiftBetween(before, after)!;
    expect(shift.x).toBeCloseTo((1200 - 420) / 2, 2);
    expect(shift.y).toBeCloseTo((700 - 297) / 2, 2);
    const [serves, again] = onOtherPrinter(before, after, 'large');
    expect(serves!.code).toBe('machine-board-serves');
    const at = after.pockets[0]!.place;
    expect(serves!.facts).toMatchObject({ xMm: Math.round(at.x * 100) / 100 });
    expect(again!.message).toContain('1200 x 700 mm');
  });

  it('counts the place from that printer’s own zero', () => {
    const other = { ...large, zero: 'top-right' as const };
    const after = planOn(on(bed, other));
    const [serves] = onOtherPrinter(planOn(bed), after, 'large');
    expect(serves!.facts.xMm).toBeCloseTo(1200 - after.pockets[0]!.place.x, 2);
    expect(serves!.facts.yMm).toBeCloseTo(700 - after.pockets[0]!.place.y, 2);
  });

  it('has the board cut again where they lie otherwise, and says what does not fit', () => {
    const other = planOn({ ...on(bed, large), rows: 3, columns: 2 });
    expect(onOtherPrinter(planOn(bed), other, 'x')[0]!.code).toBe('machine-board-again');
    const tight = planOn(on({ ...bed, rows: 6 }, small));
    expect(onOtherPrinter(planOn(bed), tight, 'x')[0]!.code).toBe('machine-not-fit');
  });

  it('takes what lies freely to the middle of the other bed, and its places to keep out of', () => {
    const places = [{ blank: 1, x: 100, y: 90, turnDeg: 30, mirrored: false }];
    const keepOuts = [{ what: 'pin', xMm: 1, yMm: 2, widthMm: 3, depthMm: 4 }];
    const moved = on({ ...bed, layout: 'free', places, keepOuts }, large);
    expect(moved.places).toEqual([{ ...places[0], x: 490, y: 291.5 }]);
    expect(moved.keepOuts).toBeUndefined();
    expect(on(bed, { ...large, keepOuts }).keepOuts).toEqual(keepOuts);
  });

  it('seats boards as that printer does: a board serves only where its holes fit', () => {
    const own = { ...bed, board: { widthMm: 320, depthMm: 200 } };
    const seat = seatStart('pins', own);
    const seated = { ...own, board: { ...own.board, seat } };
    const kept = printerOf('ours', seated, DEFAULT_HEIGHTS, small);
    expect(kept.seat).toEqual(seat);
    // A job whose board covers the bed forgets nothing of it.
    expect(printerOf('ours', bed, DEFAULT_HEIGHTS, kept).seat).toEqual(seat);
    expect(on(own, kept).board).toEqual(seated.board);
    expect(on(seated, large).board).toEqual(own.board);
    const codes = (after: BedSettings): string =>
      onOtherPrinter(planOn(seated), planOn(after), 'x')[0]!.code;
    expect(codes(on(seated, { ...large, marginMm: 3, seat }))).toBe('machine-board-serves');
    expect(codes(on(seated, large))).toBe('machine-board-again');
    const other = {
      ...seat,
      at: [
        { x: 14, y: 180 },
        { x: 300, y: 12 },
      ],
    } as BoardSeat;
    expect(codes(on(seated, { ...large, seat: other }))).toBe('machine-board-again');
  });

  it('is kept under a name and taken back as it was', () => {
    const heights = { ...DEFAULT_HEIGHTS, headGapMm: 2.2, panel: 'head' as const };
    const kept = printerOf('ours', { ...bed, widthMm: 333 }, heights, small);
    const back = onPrinter(bed, DEFAULT_HEIGHTS, kept);
    expect(back.bed.widthMm).toBe(333);
    expect(back.heights).toMatchObject({ headGapMm: 2.2, panel: 'head' });
    expect(withNamed(MACHINES.printers, { ...kept, name: small.name })).toHaveLength(2);
    expect(withNamed(MACHINES.printers, kept)).toHaveLength(3);
  });
});

describe('the same job on another cutter', () => {
  const pocket: PocketSettings = {
    ...DEFAULT_POCKET,
    material: 'foamed-pvc',
    tool: { kind: 'knife', kerfMm: 0.1 },
  };
  const [laser, mill] = MACHINES.cutters as [
    (typeof MACHINES.cutters)[number],
    (typeof MACHINES.cutters)[number],
  ];
  const codes = (p: PocketSettings, c: typeof laser, b = bed): string[] =>
    onOtherCutter(p, onCutter(p, c, []), c, b).map(({ code }) => code);

  it('says what forbids it, what is made again, and that cut boards serve', () => {
    expect(codes(pocket, laser)).toEqual(['board-not-by-laser', 'cutter-files-again']);
    expect(codes(pocket, mill)).toEqual(['cutter-files-again']);
    expect(codes({ ...pocket, tool: mill.tool }, mill)).toEqual(['cutter-the-same']);
    expect(codes(pocket, mill, { ...bed, widthMm: 1300 })[0]).toBe('cutter-too-small');
    expect(codes(pocket, mill, { ...bed, widthMm: 900, depthMm: 1200 })).toEqual([
      'cutter-files-again',
    ]);
    const span = (to: { x: number; y: number }) => ({
      from: { x: 20, y: 20 },
      to,
      readMm: 1.001 * Math.hypot(to.x - 20, to.y - 20),
    });
    const readings = [
      {
        on: '2026-03-14',
        bed: { widthMm: 420, depthMm: 297, zero: 'bottom-left' as const },
        spans: [span({ x: 400, y: 20 }), span({ x: 20, y: 270 })],
        edges: [],
        with: 'caliper' as const,
        instrument: INSTRUMENTS.caliper,
      },
    ];
    const [said] = onOtherCutter(
      { ...pocket, tool: mill.tool },
      onCutter({ ...pocket, tool: mill.tool }, mill, []),
      { ...mill, readings },
      bed,
      true,
    ).slice(-1);
    expect(codes(pocket, { ...mill, readings }).at(-1)).toBe('cutter-scale');
    expect(said?.message).toContain('0.10 % long along x');
    const dropped = onOtherCutter(pocket, onCutter(pocket, mill, []), mill, bed, true);
    expect(dropped.map(({ code }) => code)).toEqual(['cutter-files-again', 'cutter-scale-dropped']);
  });

  it('takes the clearance that a test board of it showed', () => {
    const fits = [
      { material: 'foamed-pvc', tool: 'mill', clearanceMm: 0.15, on: '2026-03-14' },
    ] as const;
    const after = onCutter(pocket, mill, fits);
    expect(after.clearanceMm).toBe(0.15);
    expect(onOtherCutter(pocket, after, mill, bed).map((r) => r.code)).toContain(
      'cutter-clearance',
    );
  });
});

it('a job keeps its machines, and refuses ones that are damaged', () => {
  const job = { ...newJob('1', 'a'), machines: { ...MACHINES, printer: small.name } };
  expect(readJob(writeJob(job))).toEqual(job);
  const damaged = { ...job, machines: { printers: [{ name: 'x' }], cutters: [] } };
  expect(() => acceptJob(JSON.parse(JSON.stringify(damaged)))).toThrow(/machines/);
});

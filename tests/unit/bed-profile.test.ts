import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { beforeAll, describe, expect, it, vi } from 'vitest';
import type { Point } from '../../src/base/measure.ts';
import { INSTRUMENTS } from '../../src/check/reading.ts';
import { without } from '../../src/base/without.ts';
import { run } from '../../src/cli/command-line.ts';
import { artworkDrawing, cutDrawing, setUpDrawing } from '../../src/files/drawing.ts';
import { dxf } from '../../src/files/dxf.ts';
import { linesOfDxf } from '../../src/files/lines-dxf.ts';
import { linesOfSvg } from '../../src/files/lines-svg.ts';
import { matchPrinted, referenceOfPlan } from '../../src/files/match.ts';
import { FILE_SETTINGS, fileSettings, type FileSettings } from '../../src/files/settings.ts';
import { svg } from '../../src/files/svg.ts';
import { boxOf } from '../../src/geometry/measure.ts';
import { mapPoint, type Affine } from '../../src/geometry/affine.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { movedBy } from '../../src/geometry/lay.ts';
import {
  correctionFor,
  cutterProfileOf,
  landingOn,
  newBoard,
  printerProfileOf,
} from '../../src/job/boards.ts';
import { DEFAULT_BED, DEFAULT_POCKET, makeJig } from '../../src/job/jig.ts';
import { newJob, readJob, writeJob, type Job } from '../../src/job/job.ts';
import { profileSaid } from '../../src/job/run.ts';
import {
  bedProfileOf,
  BED_SPANS,
  driftOf,
  edgeMark,
  PARTS,
  perMilleOf,
  printedFromMeant,
  profileMarks,
  type BedReading,
} from '../../src/plan/bed-profile.ts';
import { MACHINES } from '../../src/plan/machines.ts';
import { zeroCorner } from '../../src/plan/plan-bed.ts';
import type { BedPlan } from '../../src/plan/plan.ts';
import { card, outlineOf } from '../outlines.ts';
import { Random } from '../support/simulate.ts';

const BED = { widthMm: 420, depthMm: 297, zero: 'bottom-left' } as const;
const PRINTER = { scaleX: 0.0021, scaleY: -0.0013, shear: 0.0008, offsetX: 0.35, offsetY: -0.2 };
type Bed = BedReading['bed'];

/** What a printer does, from its own words: counted from zero, along the axes of the bed. */
function printerOn(bed: Bed, does = PRINTER): (p: Point<'bed'>) => Point<'bed'> {
  const z = zeroCorner(bed);
  return (p) => {
    const [x, y] = [p.x - z.x, p.y - z.y];
    return {
      x: z.x + x * (1 + does.scaleX) + y * does.shear + does.offsetX,
      y: z.y + y * (1 + does.scaleY) + does.offsetY,
    };
  };
}

/** The crosses as they are read of such a print: true distances, not the linear formula. */
function read(
  prints: (p: Point<'bed'>) => Point<'bed'>,
  error: (lengthMm: number) => number = () => 0,
  bed: Bed = BED,
): BedReading {
  const at = (name: string): Point<'bed'> => profileMarks(bed).find((m) => m.name === name)!.at;
  const z = zeroCorner(bed);
  const mark = edgeMark(bed)!.at;
  return {
    on: '2026-03-14',
    bed,
    with: 'rule',
    instrument: INSTRUMENTS.rule,
    spans: BED_SPANS.map(([a, b]) => {
      const [p, q] = [prints(at(a)), prints(at(b))];
      const length = Math.hypot(q.x - p.x, q.y - p.y);
      return { from: at(a), to: at(b), readMm: length + error(length) };
    }),
    edges: (['x', 'y'] as const).map((axis) => {
      const length = Math.abs(prints(mark)[axis] - z[axis]);
      return { axis, at: mark, readMm: length + error(length) };
    }),
  };
}

describe('the profile of a bed', () => {
  it.each(['bottom-left', 'bottom-right', 'top-left', 'top-right'] as const)(
    'is what the printer does, counted from the %s',
    (zero) => {
      const bed = { ...BED, zero };
      const found = bedProfileOf(read(printerOn(bed), undefined, bed));
      // Squares of thousandths are left out of the formula for a length, 2e-6 of 480 mm, and the prior draws a little.
      expect(found.scaleX.value).toBeCloseTo(PRINTER.scaleX, 4);
      expect(found.scaleY.value).toBeCloseTo(PRINTER.scaleY, 4);
      expect(found.shear.value).toBeCloseTo(PRINTER.shear, 4);
      expect(found.offsetX.value).toBeCloseTo(PRINTER.offsetX, 1);
      expect(found.offsetY.value).toBeCloseTo(PRINTER.offsetY, 1);
      expect(found.assumed).toEqual([]);
      expect(found.against).toBeUndefined();
      // And so is the map, on a bed of another size too.
      for (const size of [bed, { widthMm: 300, depthMm: 200, zero }]) {
        const map = printedFromMeant(found, size);
        for (const p of [
          { x: 0, y: 0 },
          { x: size.widthMm, y: size.depthMm },
        ]) {
          const [is, wanted] = [mapPoint<'bed'>(map, p), printerOn(size)(p)];
          expect(Math.hypot(is.x - wanted.x, is.y - wanted.y)).toBeLessThan(0.02);
        }
      }
    },
  );

  // JCGM 100, G.6: two standard deviations cover 95 %; of 400 trials, by the binomial law, 92 to 98 %. Errors as the instrument
  // has them: its own each time, one that all readings share, and a rule that is too long or too short.
  it('holds what it says of its own doubt', () => {
    const random = new Random(3);
    const inside = Object.fromEntries(PARTS.map((part) => [part, 0]));
    let corner = 0;
    const far = { x: BED.widthMm, y: BED.depthMm };
    const trials = 400;
    for (let k = 0; k < trials; k++) {
      const shared = random.normal(INSTRUMENTS.rule.sharedU);
      const stretched = random.normal(2e-4 / Math.sqrt(3));
      const found = bedProfileOf(
        read(
          printerOn(BED),
          (length) => shared + stretched * length + random.normal(INSTRUMENTS.rule.eachU),
        ),
      );
      for (const part of PARTS)
        if (Math.abs(found[part].value - PRINTER[part]) <= 2 * found[part].u) inside[part]!++;
      const [is, wanted] = [mapPoint<'bed'>(printedFromMeant(found), far), printerOn(BED)(far)];
      if (Math.abs(is.x - wanted.x) <= found.farthestU) corner++;
    }
    for (const [part, n] of Object.entries({ ...inside, corner })) {
      expect(n / trials, part).toBeGreaterThan(0.92);
      expect(n / trials, part).toBeLessThan(0.98);
    }
  });

  it('says what no reading tells, and corrects nothing where that is a scale', () => {
    const whole = read(printerOn(BED));
    const onlyX = bedProfileOf({ ...whole, spans: whole.spans.slice(0, 2), edges: [] });
    expect(onlyX.assumed).toEqual(['scaleY', 'shear', 'offsetX', 'offsetY']);
    expect(onlyX.against?.code).toBe('bed-reading-few');
    const noDiagonal = bedProfileOf({ ...whole, spans: whole.spans.slice(0, 4), edges: [] });
    expect(noDiagonal.against).toBeUndefined();
    expect(noDiagonal.doubts.map((d) => d.code)).toEqual(['bed-shear-unread']);
    expect(noDiagonal.shear.value).toBe(0);
  });

  it('refuses readings that contradict each other, and names the wrong one', () => {
    const whole = read(printerOn(BED));
    const spans = whole.spans.map((s, k) => (k === 4 ? { ...s, readMm: s.readMm + 2 } : s));
    const found = bedProfileOf({ ...whole, spans });
    expect(found.against?.code).toBe('bed-readings-contradict');
    expect(found.against?.message).toContain(spans[4]!.readMm.toFixed(2));
    // What it is off is found again, from the others alone: 2 mm, which the prior lessens a little.
    expect(Number(found.against?.facts.byMm)).toBeCloseTo(2, 0);
  });

  it('corrects nothing where the print is scaled by a program, or the readings say too little', () => {
    const fitted = printerOn(BED, { ...PRINTER, scaleX: -0.04, scaleY: -0.04 });
    expect(bedProfileOf(read(fitted)).against?.code).toBe('bed-scale-far');
    const true_ = { scaleX: 1e-4, scaleY: 0, shear: 0, offsetX: 0, offsetY: 0 };
    expect(bedProfileOf(read(printerOn(BED, true_))).against?.code).toBe('bed-profile-unsure');
    expect(() => bedProfileOf({ ...read(fitted), spans: [], edges: [] })).toThrow(/No distance/);
    const short = { from: { x: 0, y: 0 }, to: { x: 20, y: 0 }, readMm: 20 };
    expect(() => bedProfileOf({ ...read(fitted), spans: [short] })).toThrow(/20\.0 mm/);
  });

  it('drift is what changed by more than both doubts', () => {
    const before = bedProfileOf(read(printerOn(BED)));
    const now = bedProfileOf(read(printerOn(BED, { ...PRINTER, scaleX: PRINTER.scaleX + 0.002 })));
    const drift = driftOf(before, now);
    expect(drift.filter(({ en }) => en > 1).map(({ part }) => part)).toEqual(['scaleX']);
    expect(drift.find(({ part }) => part === 'scaleX')!.by).toBeCloseTo(0.002, 4);
  });
});

describe('a board on a cutter with a cut test', () => {
  const CUTTER = { ...PRINTER, offsetX: 0, offsetY: 0 };
  const cuts = printerOn(BED, CUTTER);
  const reading: BedReading = { ...read(cuts), edges: [] };
  const cutter = { ...MACHINES.cutters[0]!, readings: [reading] };
  const before: Job = {
    ...newJob('7-9', 'Cards'),
    machines: { ...MACHINES, cutters: [cutter], cutter: cutter.name },
  };
  const [profile] = [cutterProfileOf(before)!.profile];
  const job: Job = { ...before, files: { cutterPerMille: perMilleOf(profile) } };

  it('is cut where the plan has it, by the cutter that makes lengths long, short and askew', async () => {
    const { plan } = makeJig(
      await loadClipper(),
      { outlines: [outlineOf(card)], verdict: 'ok', reasons: [] },
      {
        job: { number: '7-9', name: 'Cards' },
        pocket: DEFAULT_POCKET,
        bed: { ...DEFAULT_BED, ...BED, rows: 2, columns: 3 },
      },
    );
    const paths = plan.pockets.flatMap((p) => p.cut.map(({ outer }) => outer));
    const offAs = (files: FileSettings): number =>
      Math.max(
        ...linesOfDxf(dxf(cutDrawing(plan, files), files))
          .rings.filter(({ layer }) => layer === 'cut')
          .map(({ points }) => {
            const there = points.map((p) => cuts(p));
            return Math.min(
              ...paths.map((path) =>
                Math.max(
                  ...there.map((p) =>
                    Math.min(...path.map((q) => Math.hypot(p.x - q.x, p.y - q.y))),
                  ),
                ),
              ),
            );
          }),
      );
    expect(offAs(FILE_SETTINGS)).toBeGreaterThan(0.6);
    // A thousandth of a thousandth is kept, over 420 mm, beside what the readings themselves leave.
    expect(offAs(fileSettings(job.files))).toBeLessThan(0.02);
    // Lines that a hand follows are not the cutter's.
    const byHand = {
      ...plan,
      pocketSettings: { ...plan.pocketSettings, tool: { kind: 'hand' } },
    } as BedPlan;
    expect(cutDrawing(byHand, fileSettings(job.files)).layers).toEqual(cutDrawing(byHand).layers);
  });

  it('is kept with the cutter, and corrects nothing before it is said', () => {
    expect(cutterProfileOf(before)).toMatchObject({ cutter: cutter.name, taken: false });
    expect(cutterProfileOf(job)).toMatchObject({ taken: true });
    expect(readJob(writeJob(job)).machines).toEqual(job.machines);
    const byHand: Job = { ...job, pocket: { ...job.pocket, tool: { kind: 'hand' } } };
    expect(cutterProfileOf(byHand)?.against?.code).toBe('cutter-by-hand');
    const few = bedProfileOf({ ...reading, spans: reading.spans.slice(0, 2) }, 'cutter');
    expect(few.against?.message).toContain("the cutter's scale along y");
    const inches = read(printerOn(BED, { ...CUTTER, scaleX: 0.05 }));
    expect(bedProfileOf(inches, 'cutter').against?.message).toMatch(/cut test .* no cutter/);
  });

  it('a job file of before, where two shares were typed, opens with a test that says the same', () => {
    const old = JSON.parse(writeJob(before)) as Record<string, unknown>;
    const bare = without(cutter, 'readings');
    const cutters = [
      { ...bare, scale: [1.002, 0.999] },
      { ...MACHINES.cutters[1], scale: [1, 1] },
    ];
    const opened = readJob(
      JSON.stringify({ ...old, version: 2, machines: { ...MACHINES, cutters, cutter: bare.name } }),
    );
    const found = cutterProfileOf(opened)!;
    expect(found.profile.scaleX.value).toBeCloseTo(0.002, 6);
    expect(found.profile.scaleY.value).toBeCloseTo(-0.001, 6);
    expect(found.profile.assumed).toContain('shear');
    expect(opened.machines!.cutters[1]).toEqual(MACHINES.cutters[1]);
  });

  it('is told in the terminal, which writes the crosses to score', async () => {
    const folder = mkdtempSync(`${tmpdir()}/snugline-`);
    const said = vi.spyOn(console, 'log').mockImplementation(() => {});
    try {
      const bed = ['--bed', '420x297'];
      expect(await run(['cut-test', ...bed, '--out', folder])).toBe(0);
      const crosses = linesOfSvg(readFileSync(`${folder}/cut-test.svg`)).open.filter(
        ({ layer }) => layer === 'engrave',
      );
      const middles = profileMarks(BED).map(({ at }) => at);
      expect(crosses).toHaveLength(2 * middles.length);
      for (const { points } of crosses) {
        const [a, b] = [points[0]!, points.at(-1)!];
        const at = { x: (a.x + b.x) / 2, y: (a.y + b.y) / 2 };
        expect(Math.min(...middles.map((m) => Math.hypot(m.x - at.x, m.y - at.y)))).toBeLessThan(
          1e-3,
        );
      }
      const list = reading.spans.map((s, k) => `${BED_SPANS[k]!.join('-')}=${s.readMm.toFixed(3)}`);
      expect(await run(['cut-test', ...bed, '--cut-read', list.join(), '--json'])).toBe(0);
      const { scaleX } = JSON.parse(String(said.mock.lastCall?.[0])) as {
        scaleX: { value: number };
      };
      expect(scaleX.value).toBeCloseTo(CUTTER.scaleX, 4);
    } finally {
      said.mockRestore();
      rmSync(folder, { recursive: true });
    }
  });
});

describe('artwork on a printer with a profile', () => {
  let plan: BedPlan;
  let job: Job;
  const printed = printerOn(BED);
  beforeAll(async () => {
    const bed = { ...DEFAULT_BED, rows: 2, columns: 2 };
    plan = makeJig(
      await loadClipper(),
      { outlines: [outlineOf(card)], verdict: 'ok', reasons: [] },
      { job: { number: '7-9', name: 'Cards' }, pocket: DEFAULT_POCKET, bed },
    ).plan;
    const printer = { ...MACHINES.printers[0]!, readings: [read(printed)] };
    job = {
      ...newJob('7-9', 'Cards'),
      bed,
      machines: { ...MACHINES, printers: [printer], printer: printer.name },
    };
  });
  /** How far what a file shows lands from where the plan has it, once the machine has printed it. */
  function offAfter(through: (p: Point<'bed'>) => Point<'bed'>, of: Job): number {
    const bytes = svg(artworkDrawing(plan, correctionFor(of, plan)), FILE_SETTINGS);
    const landed = linesOfSvg(bytes).rings.filter(({ layer }) => layer === 'print');
    expect(landed).toHaveLength(plan.pockets.length);
    return Math.max(
      ...landed.map(({ points }) => {
        const there = points.map((p) => through(p));
        return Math.min(
          ...plan.pockets.map(({ print: { outer } }) =>
            Math.max(
              ...there.map((p) => Math.min(...outer.map((q) => Math.hypot(p.x - q.x, p.y - q.y)))),
            ),
          ),
        );
      }),
    );
  }

  it('lands on the pockets, through the printer that prints long, short and askew', () => {
    expect(offAfter(printed, { ...job, machines: MACHINES })).toBeGreaterThan(0.8);
    expect(offAfter(printed, job)).toBeLessThan(0.02);
  });

  it('lands there too on a board that lies askew, wherever its first print was read', () => {
    const seat = { mirrored: false, turnRad: 0.002, xMm: 0.4, yMm: -0.3 };
    const lands = (p: Point<'bed'>): Point<'bed'> => movedBy(seat, printed(p));
    const first = newBoard(job, { name: 'plan.json', digest: '0'.repeat(64) }, plan.digest, '');
    const missed = (sent: Affine | undefined) =>
      [0, 1, 3].map((k) => {
        const { x, y } = plan.pockets[k]!.place;
        const there = lands(sent ? mapPoint<'bed'>(sent, { x, y }) : { x, y });
        return { at: { x, y }, dxMm: there.x - x, dyMm: there.y - y };
      });
    const print = { machine: '', uMm: 0.2, on: '', voidOn: null };
    const raw: Job = {
      ...job,
      boards: [{ ...first, print: { ...print, misses: missed(undefined) } }],
    };
    expect(offAfter(lands, raw)).toBeLessThan(0.03);
    // Read off artwork that had been corrected by the profile: the printer is not taken twice.
    const by = correctionFor(job, plan)!.map;
    const read: Job = {
      ...job,
      boards: [{ ...first, print: { ...print, misses: missed(by), profileOn: '2026-03-14' } }],
    };
    expect(offAfter(lands, read)).toBeLessThan(0.03);
    const older = { ...read.boards![0]!.print!, profileOn: '2025-01-01' };
    expect(landingOn({ print: older }, job)).toMatchObject({
      reason: { code: 'print-other-profile' },
    });
  });

  it('stays as planned where the board is cut along lines of that printer, and where nobody has said', () => {
    expect(correctionFor({ ...job, cutAlong: 'printer' }, plan)).toBeUndefined();
    // The board that was cut so keeps to it, whatever is chosen for the next one.
    const file = { name: 'plan.json', digest: '0'.repeat(64) };
    const cut = newBoard({ ...job, cutAlong: 'printer' }, file, plan.digest, '2026-03-15');
    expect(correctionFor({ ...job, boards: [cut] }, plan)).toBeUndefined();
    expect(cut.made.profile).toBe('small flatbed, 2026-03-14');
    const byHand: Job = { ...job, pocket: { ...job.pocket, tool: { kind: 'hand' } } };
    expect(correctionFor(byHand, plan)).toBeUndefined();
    expect(printerProfileOf(byHand)?.against?.code).toBe('bed-lines-unsaid');
    expect(correctionFor({ ...byHand, cutAlong: 'cutter' }, plan)).toBeDefined();
    const turned: Job = { ...job, bed: { ...job.bed, zero: 'top-left' } };
    expect(printerProfileOf(turned)?.against?.code).toBe('bed-profile-zero');
    expect(profileSaid(printerProfileOf({ ...job, cutAlong: 'printer' })!).join()).toMatch(
      /not corrected by it/,
    );
  });

  it('is known to the match check; what is cut and the set-up print are never corrected', () => {
    const correction = correctionFor(job, plan)!;
    const reference = referenceOfPlan(plan);
    const check = (drawing: ReturnType<typeof cutDrawing>) =>
      matchPrinted(reference, correction, linesOfSvg(svg(drawing, FILE_SETTINGS)), 'a.svg');
    const right = check(artworkDrawing(plan, correction));
    expect([right.verdict, right.reasons[0]?.code]).toEqual(['agrees', 'match-corrected']);
    expect(right.reasons[0]!.message).toContain('0.21 % long along x');
    expect(check(artworkDrawing(plan)).reasons[0]?.code).toBe('match-uncorrected');
    expect(check(cutDrawing(plan)).verdict).toBe('agrees');
    expect(JSON.stringify([cutDrawing(plan), setUpDrawing(plan)])).not.toContain('profile asks');
  });

  it('leaves out crosses of the set-up print that a pocket would take, and says which', () => {
    const named = (of: typeof plan) =>
      setUpDrawing(of)
        .layers.at(-1)!
        .lettering.flatMap(({ words }) => (/^[A-D]$/.test(words) ? [words] : []));
    expect(named(plan)).toEqual(['A', 'B', 'C', 'D']);
    const [first] = plan.pockets;
    const box = boxOf(first!.wall[0]!.outer);
    // A bed whose cross A stands in the middle of the first pocket, and B to D elsewhere.
    const dx = (box.left + box.right) / 2 - 20;
    const dy = (box.bottom + box.top) / 2 - 20;
    const move = <P extends Point<'bed'>>({ x, y }: P): Point<'bed'> => ({ x: x - dx, y: y - dy });
    const moved = {
      ...plan,
      pockets: [
        {
          ...first!,
          wall: first!.wall.map((r) => ({ outer: r.outer.map(move), holes: [] })),
          print: { outer: first!.print.outer.map(move), holes: [] },
        },
      ],
    };
    expect(named(moved)).toEqual(['B', 'C', 'D']);
    expect(setUpDrawing(moved).notes[0]).toContain('cross A would stand');
  });

  it('is kept with the printer in the job file, and what is no reading is refused', () => {
    expect(readJob(writeJob(job)).machines).toEqual(job.machines);
    const spoilt = JSON.parse(writeJob(job)) as {
      machines: { printers: { readings: unknown[] }[] };
    };
    spoilt.machines.printers[0]!.readings = [{ on: '2026-03-14' }];
    expect(() => readJob(JSON.stringify(spoilt))).toThrow(/machines/);
  });
});

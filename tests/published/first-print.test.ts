import { beforeAll, describe, expect, it } from 'vitest';
import { correctionOf, landingOf, leftAt, type Miss } from '../../src/after/first-print.ts';
import type { Point } from '../../src/base/measure.ts';
import { artworkDrawing, cutDrawing, setUpDrawing, type Drawing } from '../../src/files/drawing.ts';
import { dxf } from '../../src/files/dxf.ts';
import { linesOfDxf } from '../../src/files/lines-dxf.ts';
import { linesOfSvg } from '../../src/files/lines-svg.ts';
import { matchPrinted, referenceOfPlan } from '../../src/files/match.ts';
import { corrected } from '../../src/files/print-pdf.ts';
import { FILE_SETTINGS } from '../../src/files/settings.ts';
import { svg } from '../../src/files/svg.ts';
import { mapPoint } from '../../src/geometry/affine.ts';
import { movedBy } from '../../src/geometry/lay.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { DEFAULT_BED, DEFAULT_POCKET, makeJig } from '../../src/job/jig.ts';
import type { BedPlan } from '../../src/plan/plan.ts';
import { Random } from '../support/simulate.ts';
import { card, outlineOf } from '../outlines.ts';

const miss = (x: number, y: number, dxMm: number, dyMm: number): Miss => ({
  at: { x, y },
  dxMm,
  dyMm,
});
const READ = [
  miss(40, 35, 0.31, -0.18),
  miss(372, 61, 0.36, 0.27),
  miss(55, 268, -0.04, -0.14),
  miss(360, 251, 0.07, 0.31),
];

describe('how the first print landed', () => {
  // Source: scipy 1.17.1, optimize.least_squares over shift at the middle and turn, every reading with u = 0.1 mm, covariance
  // from the inverse of J'J; computed for these readings.
  it.each([
    {
      read: READ,
      fit: [0.175, 0.065, 1.438962229e-3],
      u: [0.05, 0.05, 2.60960991e-4],
      left: [0.036419045388, 0.061278386345, 0.052515465293, 0.042848736877],
    },
    {
      read: [READ[0]!, READ[3]!],
      fit: [0.19, 0.065, 1.399468809e-3],
      u: [0.070710678119, 0.070710678119, 3.66302822e-4],
      left: [0.03779808012, 0.03779808012],
    },
  ])('is the least-squares fit of scipy, with its covariance', ({ read, fit, u, left }) => {
    const { x, y, turnRad, places } = landingOf(read, 0.2);
    [x, y, turnRad].forEach(({ value, U }, k) => {
      expect(value).toBeCloseTo(fit[k]!, k === 2 ? 10 : 8);
      expect(U / 2 / u[k]! - 1).toBeCloseTo(0, 5);
    });
    places.forEach((p, k) => expect(p.afterMm).toBeCloseTo(left[k]!, 7));
  });

  it('is taken back exactly by its correction', () => {
    const landing = landingOf(READ, 0.2);
    const { map } = correctionOf(landing, 'board 1');
    for (const p of [
      { x: 0, y: 0 },
      { x: 420, y: 300 },
    ]) {
      const back = movedBy(landing.motion, mapPoint(map, p));
      expect(Math.hypot(back.x - p.x, back.y - p.y)).toBeLessThan(1e-12);
    }
  });

  // Known landings, readings that err by the law that U claims: U must hold what is left in 95 of 100, by the binomial law
  // of 300 trials within 92 to 98.
  it('leaves no more than it says', () => {
    const random = new Random(7);
    let held = 0;
    const far = { x: 400, y: 280 };
    for (let k = 0; k < 300; k++) {
      const motion = {
        mirrored: false,
        turnRad: random.normal(0.002),
        xMm: random.normal(0.4),
        yMm: random.normal(0.4),
      };
      const read = READ.slice(0, 2 + (k % 3)).map(({ at }) => {
        const there = movedBy(motion, at);
        return miss(
          at.x,
          at.y,
          there.x - at.x + random.normal(0.1),
          there.y - at.y + random.normal(0.1),
        );
      });
      const landing = landingOf(read, 0.2);
      const { map: back } = correctionOf(landing, '');
      const lands = movedBy(motion, mapPoint(back, far));
      // One direction, as U is said.
      if (Math.abs(lands.x - far.x) <= leftAt(landing, far)) held++;
    }
    expect(held).toBeGreaterThanOrEqual(0.92 * 300);
  });

  it('says what it cannot mend, and what was read wrongly', () => {
    const codes = (read: readonly Miss[]): string[] =>
      landingOf(read, 0.1).reasons.map((r) => r.code);
    expect(codes(READ)).not.toContain('print-place-off');
    // 0.6 mm longer over 332 mm.
    expect(codes([miss(40, 35, 0, 0), miss(372, 35, 0.6, 0)])).toEqual(['print-long']);
    const wrong = [...READ.slice(0, 3), miss(360, 251, -0.07, -0.91)];
    expect(codes(wrong)).toContain('print-place-off');
    expect(() => landingOf(READ.slice(0, 1), 0.2)).toThrow(/tells no turn/);
    expect(() => landingOf([miss(0, 0, 0, 0), miss(30, 30, 0, 0)], 0.2)).toThrow(/42 mm apart/);
    expect(() => landingOf([miss(0, 0, 30, 0), miss(300, 30, 0, 0)], 0.2)).toThrow(/100 %/);
  });
});

describe('artwork moved by what the first print asks', () => {
  let plan: BedPlan;
  const correction = correctionOf(landingOf(READ, 0.2), 'board 1');
  const shift = (drawing: Drawing, plain: Drawing, layer: string): number => {
    const rings = (d: Drawing) => d.layers.find((l) => l.name === layer)!.closed.map((c) => c.ring);
    return Math.max(
      ...rings(drawing).flatMap((ring, k) =>
        ring.map((p, i) => {
          const want = mapPoint<'bed'>(correction.map, rings(plain)[k]![i]!);
          return Math.hypot(p.x - want.x, p.y - want.y);
        }),
      ),
    );
  };
  beforeAll(async () => {
    plan = makeJig(
      await loadClipper(),
      { outlines: [outlineOf(card)], verdict: 'ok', reasons: [] },
      {
        job: { number: '7-1', name: 'Cards' },
        pocket: DEFAULT_POCKET,
        bed: { ...DEFAULT_BED, rows: 2, columns: 2 },
      },
    ).plan;
  });

  it('moves the template, and neither its page nor anything that is cut', () => {
    const moved = artworkDrawing(plan, correction);
    const plain = artworkDrawing(plan);
    for (const layer of ['print', 'bleed', 'safe', 'pocket'])
      expect(shift(moved, plain, layer)).toBeLessThan(1e-12);
    const bed = (d: Drawing) => d.layers.find((l) => l.name === 'bed');
    expect(bed(moved)).toEqual(bed(plain));
    expect(moved.notes.join(' ')).toContain(correction.words);
    expect(JSON.stringify([cutDrawing(plan), setUpDrawing(plan)])).not.toContain('first print');
  });

  it('moves everything on the print file alike: what is clipped, artwork, words and inks', () => {
    const square = [0, 10, 10, 0].map((x, k) => ({ x: 50 + x, y: k < 2 ? 60 : 70 }));
    const area = { outer: square, holes: [] };
    const map = [2, 0, 0, 2, 50, 60] as const;
    const print = {
      widthMm: 420,
      heightMm: 297,
      digest: '',
      loads: [
        {
          pockets: [
            {
              id: '1',
              clip: [area],
              art: { sheet: 0, map },
              words: [{ text: 'A', font: 0, map, colour: '#000000' }],
            },
          ],
          inks: [
            { ink: { kind: 'white' as const, name: 'W', growMm: 0 }, before: true, areas: [area] },
          ],
        },
      ],
    };
    expect(corrected(print, undefined)).toBe(print);
    const [{ pockets, inks }] = corrected(print, correction).loads as [(typeof print.loads)[0]];
    const want = square.map((p) => mapPoint<'bed'>(correction.map, p));
    expect(pockets[0]!.clip[0]!.outer).toEqual(want);
    expect(inks[0]!.areas[0]!.outer).toEqual(want);
    // A place of the art goes where the plan's place of it goes.
    const p = { x: 3, y: 4 };
    const there = mapPoint<'bed'>(correction.map, mapPoint(map, p));
    for (const moved of [pockets[0]!.art.map, pockets[0]!.words[0]!.map]) {
      const here = mapPoint(moved, p);
      expect(Math.hypot(here.x - there.x, here.y - there.y)).toBeLessThan(1e-12);
    }
  });

  it('is known to the match check: artwork moved by just that agrees, a cut file so moved does not', () => {
    const reference = referenceOfPlan(plan);
    const check = (drawing: Drawing, by = correction) => {
      const lines = linesOfSvg(svg(drawing, FILE_SETTINGS));
      return matchPrinted(reference, by, lines, 'a.svg');
    };
    const codes = (m: ReturnType<typeof check>): string[] => m.reasons.map((r) => r.code);
    const right = check(artworkDrawing(plan, correction));
    expect(right.verdict).toBe('agrees');
    expect(codes(right)).toContain('match-corrected');
    const old = check(artworkDrawing(plan));
    expect([old.verdict, codes(old)[0]]).toEqual(['agrees', 'match-uncorrected']);
    const other = correctionOf(
      landingOf(
        READ.map((m) => ({ ...m, dxMm: m.dxMm + 0.5 })),
        0.2,
      ),
      '',
    );
    expect(check(artworkDrawing(plan, other)).verdict).toBe('differs');
    // Nobody has asked a cut file to be moved.
    const cut = cutDrawing(plan);
    const at = (p: Point<'bed'>): Point<'bed'> => mapPoint<'bed'>(correction.map, p);
    const moved = {
      ...cut,
      layers: cut.layers.map((l) =>
        l.name === 'board'
          ? l
          : {
              ...l,
              closed: l.closed.map((c) => ({ ...c, ring: c.ring.map(at) })),
              open: l.open.map((o) => o.map(at)),
            },
      ),
    };
    const dropped = (d: Drawing) =>
      matchPrinted(reference, correction, linesOfDxf(dxf(d, FILE_SETTINGS)), 'cut.dxf').verdict;
    expect(dropped(cut)).toBe('agrees');
    expect(dropped(moved)).toBe('differs');
  });
});

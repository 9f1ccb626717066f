import { describe, expect, it } from 'vitest';
import { NEW_ARTWORK, PLACED, type ArtSheet } from '../../src/artwork/artwork.ts';
import { judgeArtwork, lieOf } from '../../src/artwork/judge.ts';
import { bedFromArt, faceOf, scaleOf } from '../../src/artwork/place.ts';
import { blankDrawing } from '../../src/files/blank-template.ts';
import { mapPoint } from '../../src/geometry/affine.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { DEFAULT_BED, DEFAULT_POCKET, makeJig } from '../../src/job/jig.ts';
import type { BedPlan, BedSettings } from '../../src/plan/plan.ts';
import type { PocketSettings } from '../../src/pocket/pocket.ts';
import { card, outlineOf } from '../outlines.ts';

const clipper = await loadClipper();

/** ID-1 cards (ISO/IEC 7810: 85.60 x 53.98 mm), which lay on the sheet turned by `leanDeg`. */
function planOf(
  leanDeg = 0,
  bed: Partial<BedSettings> = {},
  pocket: Partial<PocketSettings> = {},
): BedPlan {
  const [c, s] = [Math.cos((leanDeg * Math.PI) / 180), Math.sin((leanDeg * Math.PI) / 180)];
  const region = {
    outer: card.outer.map(({ x, y }) => ({ x: c * x - s * y, y: s * x + c * y })),
    holes: [],
  };
  return makeJig(
    clipper,
    { outlines: [outlineOf(region)], verdict: 'ok', reasons: [] },
    {
      job: { number: '1', name: 'Cards' },
      pocket: { ...DEFAULT_POCKET, ...pocket },
      bed: { ...DEFAULT_BED, rows: 2, columns: 2, ...bed },
    },
  ).plan;
}

/** A page of this size, with so much of its own bleed. */
const sheet = (widthMm: number, heightMm: number, bleedMm = 0, more: Partial<ArtSheet> = {}) =>
  ({
    file: 'a.pdf',
    page: 1,
    pages: 1,
    kind: 'PDF',
    widthMm,
    heightMm,
    reach: {
      left: -widthMm / 2 - bleedMm,
      right: widthMm / 2 + bleedMm,
      bottom: -heightMm / 2 - bleedMm,
      top: heightMm / 2 + bleedMm,
    },
    missingFonts: [],
    separations: [],
    notes: 0,
    ...more,
  }) satisfies ArtSheet;

const placed = (more: Partial<typeof PLACED>) => ({
  ...NEW_ARTWORK,
  placement: { ...PLACED, ...more },
});

describe('where artwork lies on a face', () => {
  it.each([0, 3, -17, 44])(
    'a card that lay at %d degrees is printed along its own sides',
    (lean) => {
      const plan = planOf(lean);
      const face = faceOf(plan.pockets[0]!);
      expect((face.leanRad * 180) / Math.PI).toBeCloseTo(lean, 6);
      expect(face.widthMm).toBeCloseTo(85.6, 3);
      expect(face.heightMm).toBeCloseTo(53.98, 3);
      const map = bedFromArt(plan.pockets[0]!, face, sheet(10, 10), placed({ sizing: 'scale' }));
      expect((Math.atan2(map[1], map[0]) * 180) / Math.PI).toBeCloseTo(lean, 6);
    },
  );

  it('a round blank has no sides to lie along', () => {
    const disc = Array.from({ length: 360 }, (_, k) => ({
      x: 20 * Math.cos((k * Math.PI) / 180),
      y: 20 * Math.sin((k * Math.PI) / 180),
    }));
    const jig = makeJig(
      clipper,
      { outlines: [outlineOf({ outer: disc, holes: [] })], verdict: 'ok', reasons: [] },
      { job: { number: '1', name: '' }, pocket: DEFAULT_POCKET, bed: DEFAULT_BED },
    );
    expect(faceOf(jig.plan.pockets[0]!).leanRad).toBe(0);
  });

  // By hand: the card is 85.6 x 53.98, its bleed of 2 mm makes 89.6 x 57.98.
  it.each([
    ['fit', 100, 50, 0, 0, 85.6 / 100],
    ['fit', 100, 100, 0, 0, 53.98 / 100],
    ['fit', 50, 100, 0, 90, 85.6 / 100],
    ['fill', 100, 50, 0, 0, 57.98 / 50],
    ['fill', 89.6, 57.98, 0, 0, 1],
    // The artwork brings the bleed along: its trim lies on the edge.
    ['fill', 85.6, 53.98, 2, 0, 1],
    ['fill', 85.6, 53.98, 1, 0, 57.98 / 55.98],
    ['fill', 53.98, 85.6, 2, 90, 1],
  ] as const)(
    '%s: a page of %d x %d with %d bleed, turned by %d',
    (sizing, w, h, bleed, turn, k) => {
      const face = faceOf(planOf(3).pockets[0]!);
      const scale = scaleOf(face, sheet(w, h, bleed), placed({ sizing, turnDeg: turn }));
      expect(scale).toBeCloseTo(k, 4);
    },
  );

  it('moved artwork that fills grows until it covers the far side', () => {
    const face = faceOf(planOf().pockets[0]!);
    const at = placed({ sizing: 'fill', xMm: 10 });
    expect(scaleOf(face, sheet(100, 100), at)).toBeCloseTo((2 * (44.8 + 10)) / 100, 4);
    expect(lieOf(face, sheet(100, 100), at).how).toBe('covers');
  });

  it('turns with the blank where that lies turned, and lies alike in every pocket', () => {
    const plan = planOf(3, { layout: 'head-to-tail' });
    const face = faceOf(plan.pockets[0]!);
    const settings = placed({ sizing: 'scale', xMm: 12, yMm: -5, turnDeg: 30 });
    for (const pocket of plan.pockets) {
      const map = bedFromArt(pocket, face, sheet(20, 10), settings);
      const at = mapPoint<'bed'>(map, { x: 0, y: 0 });
      const centre = faceOf(pocket).middle;
      const half = pocket.place.turnDeg === 180 ? -1 : 1;
      const lean = (3 * Math.PI) / 180;
      const off = {
        x: 12 * Math.cos(lean) + 5 * Math.sin(lean),
        y: 12 * Math.sin(lean) - 5 * Math.cos(lean),
      };
      expect(at.x).toBeCloseTo(pocket.place.x + half * (centre.x + off.x), 3);
      expect(at.y).toBeCloseTo(pocket.place.y + half * (centre.y + off.y), 3);
    }
  });

  it('reverse mirrors the artwork, and mirrored artwork back again', () => {
    const face = faceOf(planOf().pockets[0]!);
    const pocket = planOf().pockets[0]!;
    const handed = (settings: typeof NEW_ARTWORK): number => {
      const [a, b, c, d] = bedFromArt(pocket, face, sheet(20, 10), settings);
      return Math.sign(a * d - b * c);
    };
    expect(handed(placed({}))).toBe(1);
    expect(handed(placed({ mirrored: true }))).toBe(-1);
    expect(handed({ ...placed({}), reverse: true })).toBe(-1);
    expect(handed({ ...placed({ mirrored: true }), reverse: true })).toBe(1);
  });
});

describe('the template of one blank alone', () => {
  it.each([0, 17])(
    'artwork made on it lies as drawn, centred at its own size (lean %d)',
    (lean) => {
      const plan = planOf(lean, { layout: 'head-to-tail' });
      const { widthMm, heightMm, layers } = blankDrawing(plan, plan.pockets[0]!);
      const art = sheet(widthMm, heightMm);
      const settings = placed({ sizing: 'scale' });
      const [print] = layers.filter(({ name }) => name === 'print');
      for (const pocket of plan.pockets) {
        const map = bedFromArt(pocket, faceOf(pocket), art, settings);
        const back = print!.closed[0]!.ring.map((p) =>
          mapPoint<'bed'>(map, { x: p.x - widthMm / 2, y: p.y - heightMm / 2 }),
        );
        back.forEach((p, k) => {
          const wanted = pocket.print.outer[k]!;
          expect(Math.hypot(p.x - wanted.x, p.y - wanted.y)).toBeLessThan(1e-6);
        });
      }
      // The cross stands in the middle of what is printed.
      const centre = layers.find(({ name }) => name === 'centre')!;
      expect(centre.open[0]![0]!.y).toBeCloseTo(heightMm / 2, 9);
      const ys = print!.closed[0]!.ring.map(({ y }) => y);
      expect((Math.min(...ys) + Math.max(...ys)) / 2).toBeCloseTo(heightMm / 2, 6);
    },
  );
});

describe('what is said of artwork', () => {
  const codes = (
    art: ArtSheet | readonly ArtSheet[],
    settings = placed({}),
    plan = planOf(3),
  ): string[] => judgeArtwork(plan, [art].flat(), settings).map(({ code }) => code);

  it('artwork that covers the bleed, or floats in the safe area, passes', () => {
    expect(codes(sheet(89.6, 57.98))).toEqual([]);
    expect(codes(sheet(40, 20), placed({ sizing: 'scale' }))).toEqual([]);
  });

  it('a table of names that is longer or shorter than the order', () => {
    const table = { cells: [['Name'], ['Ada'], ['Ben'], ['Cleo'], ['Dan']], headed: true };
    const of = (pieces: Record<string, number>) =>
      judgeArtwork(planOf(), [], { ...NEW_ARTWORK, run: { table, lines: [] } }, [], pieces);
    expect(of({}).map(({ code }) => code)).toEqual([]);
    expect(of({ 1: 2, 2: 2 }).map(({ code }) => code)).toEqual([]);
    expect(of({ 1: 6 }).map(({ code, message }) => [code, message])).toEqual([
      ['run-not-order', expect.stringMatching(/4 rows, 2 fewer than the 6 pieces/)],
    ]);
    expect(of({ 1: 3 })[0]?.message).toContain('1 more than the 3 pieces');
  });

  it.each([
    ['artwork-misses-edge', sheet(80, 60), { sizing: 'scale' }, '2.8'],
    ['artwork-short-of-bleed', sheet(87.6, 57.98), { sizing: 'scale' }, '1.00'],
    ['artwork-near-edge', sheet(84, 40), { sizing: 'scale' }, ''],
    ['artwork-misses-edge', sheet(40, 20), { sizing: 'scale', xMm: 30 }, ''],
  ] as const)('%s', (code, art, placement, figure) => {
    const [said, ...more] = judgeArtwork(planOf(3), [art], placed(placement));
    expect(said?.code).toBe(code);
    expect(said?.message).toContain(figure);
    expect(more).toEqual([]);
  });

  it('the density of a picture is the one at its final size', () => {
    // 10 px per mm at 44.8 mm, printed twice as large: 127 dots per inch.
    const art = sheet(44.8, 28.99, 0, { kind: 'PNG', coarsestPxPerMm: 10 });
    const [said] = judgeArtwork(planOf(), [art], placed({}));
    expect(said?.code).toBe('artwork-coarse');
    // Rounded down, and the bleed's arcs err outward by a twentieth of a micrometre.
    expect(said?.facts.dpi).toBe(126);
    expect(codes(sheet(89.6, 57.98, 0, { coarsestPxPerMm: 10 }))).toEqual([]);
  });

  it('names fonts, lines, notes and separations', () => {
    const art = sheet(179.2, 115.96, 0, {
      thinnestMm: 0.1,
      missingFonts: ['Swan'],
      separations: ['White'],
      notes: 2,
    });
    const inks = [{ kind: 'white', name: 'White', growMm: -0.2 }] as const;
    expect(codes(art, { ...placed({}), inks })).toEqual([
      'artwork-thin',
      'artwork-font-missing',
      'artwork-notes',
      'artwork-ink-twice',
    ]);
  });

  it('bleed through a pocket that goes through is said, where a floor catches it not', () => {
    const through = planOf(3, {}, { hold: 'through' });
    expect(codes(sheet(89.6, 57.98), placed({}), through)).toEqual(['artwork-spray']);
    expect(codes(sheet(40, 20), placed({ sizing: 'scale' }), through)).toEqual([]);
  });

  it('too few, and so many that they go on with the next load', () => {
    const turn = { ...placed({}), share: 'in turn' } as const;
    const art = sheet(89.6, 57.98);
    expect(codes([art, art, art], turn)).toEqual(['artwork-too-few']);
    expect(codes([art, art, art, art], turn)).toEqual([]);
    expect(codes([art, art, art, art, art], turn)).toEqual(['load-not-full']);
  });

  it('white that is not choked', () => {
    const white = (growMm: number) => ({
      ...placed({}),
      inks: [{ kind: 'white', name: 'W', growMm } as const],
    });
    expect(codes(sheet(89.6, 57.98), white(0))).toEqual(['white-at-edge']);
    expect(codes(sheet(89.6, 57.98), white(-0.2))).toEqual([]);
  });
});

import { createHash } from 'node:crypto';
import { beforeAll, describe, expect, it } from 'vitest';
import { alongJaws } from '../../src/check/fit.ts';
import { judge } from '../../src/check/judge.ts';
import { average, INSTRUMENTS } from '../../src/check/reading.ts';
import type { FiledOutline } from '../../src/files/outline-json.ts';
import { jobSheet } from '../../src/files/job-sheet.ts';
import { loadPdfjs } from '../../src/files/load-pdfjs-node.ts';
import { ringDistance } from '../../src/geometry/measure.ts';
import type { Clipper } from '../../src/geometry/clipper.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import {
  DEFAULT_BED,
  DEFAULT_POCKET,
  jobFacts,
  makeJig,
  type JigSettings,
} from '../../src/job/jig.ts';
import { bedFromBlank, canonicalText, digestOf, placeFromZero } from '../../src/plan/plan-bed.ts';
import { REGISTRATION } from '../../src/plan/registration.ts';
import type { BedSettings, ZeroCorner } from '../../src/plan/plan.ts';
import { card, outlineOf, plaque } from '../outlines.ts';

let clipper: Clipper;
beforeAll(async () => {
  clipper = await loadClipper();
});

const grown = { outer: card.outer.map(({ x, y }) => ({ x: x * 1.01, y: y * 1.01 })), holes: [] };
const jig = (
  outlines: readonly FiledOutline[],
  bed: Partial<BedSettings> = {},
  more: Partial<JigSettings> = {},
) =>
  makeJig(
    clipper,
    { outlines, verdict: 'ok', reasons: [] },
    {
      job: { number: '1', name: 'Test' },
      pocket: { ...DEFAULT_POCKET, material: 'acrylic' },
      bed: { ...DEFAULT_BED, ...bed },
      ...more,
    },
  );

describe('which outline serves for what', () => {
  const face = outlineOf(card);
  const widest = outlineOf(grown, { id: '1-widest', at: 'widest' });
  const envelope = outlineOf(grown, { id: '1-envelope', at: 'envelope' });
  it.each([
    [[face], '1-face', '1-face'],
    [[face, widest], '1-widest', '1-face'],
    [[widest, face, envelope], '1-envelope', '1-face'],
    [[face, outlineOf(grown, { id: '1-sheet', at: 'sheet' })], '1-face', '1-face'],
  ] as const)('%#: seat and print', (outlines, seat, print) => {
    const [blank] = jig(outlines).blanks;
    expect([blank!.seat.id, blank!.print.id]).toEqual([seat, print]);
    expect(blank!.pocket.outlineId).toBe(seat);
  });

  it('keeps face and seat where they lay to each other', () => {
    const { pocket, seat } = jig([face, widest]).blanks[0]!;
    const shift = { x: seat.region.outer[0]!.x, y: seat.region.outer[0]!.y };
    const print = pocket.print.outer[0]!;
    // The blank frame has its origin at the seat's centroid: both rings moved by the same vector.
    const dx = card.outer[0]!.x - print.x;
    const dy = card.outer[0]!.y - print.y;
    expect(dx).toBeCloseTo((60 + 42.8) * 1.01, 3);
    expect(dy).toBeCloseTo((100 + 26.99) * 1.01, 3);
    expect(shift.x).toBeCloseTo(card.outer[0]!.x * 1.01, 9);
  });

  it('doubts the pocket where its own ring is hidden or too uncertain, not for the sake of a hole', () => {
    const sure = outlineOf(plaque);
    const off = (ring: 0 | 1): FiledOutline => ({
      ...sure,
      u: sure.u.map((u, k) => (k === ring ? u.map(() => 0.5) : u)),
      hidden: [{ ring, from: 0, to: 20 }],
    });
    const codes = (o: FiledOutline): string[] =>
      jig([o]).blanks[0]!.pocket.reasons.map(({ code }) => code);
    expect(codes(off(1))).toEqual([]);
    expect(codes(off(0))).toEqual(['clearance-below-u', 'seat-hidden']);
  });

  it('refuses what was refused, what is empty, and counts of blanks that are not there', () => {
    const why = {
      code: 'x',
      level: 'refuse',
      message: 'Spans are missing.',
      remedy: 'Measure.',
    } as const;
    const settings = { job: { number: '1', name: 'T' }, pocket: DEFAULT_POCKET, bed: DEFAULT_BED };
    expect(() =>
      makeJig(clipper, { outlines: [face], verdict: 'refused', reasons: [why] }, settings),
    ).toThrow(/was refused.*Spans are missing\. Measure\./);
    expect(() => jig([])).toThrow(/holds no outline/);
    expect(() => jig([face], {}, { counts: { 3: 1 } })).toThrow(/blank 3, but .* blanks 1/);
    expect(() => jig([outlineOf(card, { at: 'sheet' })])).toThrow(/Blank 1 .* at the sheet only/);
  });
});

describe('the plan', () => {
  const outlines = [outlineOf(card), outlineOf(plaque, { id: '2-face', blank: 2 })];

  it('leaves a wall of 4 mm by default, in rows and columns, centred', () => {
    const { plan } = jig([outlines[0]!], { rows: 2, columns: 3 });
    expect(plan.reasons).toEqual([]);
    expect(plan.pockets).toHaveLength(6);
    const wall = (k: number) => plan.pockets[k]!.wall[0]!.outer;
    for (const [a, b] of [
      [0, 1],
      [0, 3],
    ] as const) {
      const d = ringDistance(wall(a), wall(b));
      expect(d).toBeGreaterThanOrEqual(4);
      expect(d).toBeLessThan(4.002);
    }
    const xs = plan.pockets.map(({ place }) => place.x);
    const ys = plan.pockets.map(({ place }) => place.y);
    expect((Math.min(...xs) + Math.max(...xs)) / 2).toBeCloseTo(210, 2);
    expect((Math.min(...ys) + Math.max(...ys)) / 2).toBeCloseTo(148.5, 2);
    expect(plan.pockets.map(({ id }) => id)).toEqual(['1', '2', '3', '4', '5', '6']);
    expect(ys[0]!).toBeGreaterThan(ys[3]!);
  });

  it('keeps a pitch that is given', () => {
    const { plan } = jig([outlines[0]!], { rows: 2, columns: 2, pitchMm: [100, 70] });
    const [a, b, c] = plan.pockets.map(({ place }) => place);
    expect(b!.x - a!.x).toBeCloseTo(100, 9);
    expect(a!.y - c!.y).toBeCloseTo(70, 9);
  });

  it('lays several blanks by their counts', () => {
    const { plan } = jig(outlines, { columns: 3 }, { counts: { 1: 4, 2: 2 } });
    expect(plan.pockets.map(({ outlineId }) => outlineId)).toEqual([
      ...Array<string>(4).fill('1-face'),
      ...Array<string>(2).fill('2-face'),
    ]);
    expect(plan.reasons).toEqual([]);
    expect(jig(outlines).plan.pockets).toHaveLength(2);
    expect(jig(outlines, {}, { counts: { 2: 1 } }).plan.pockets).toHaveLength(1);
  });

  it('moves nothing when the zero corner changes, only what places are counted from', () => {
    const corners: ZeroCorner[] = ['bottom-left', 'bottom-right', 'top-left', 'top-right'];
    const plans = corners.map((zero) => jig(outlines, { zero }).plan);
    for (const plan of plans) expect(plan.pockets).toEqual(plans[0]!.pockets);
    const at = { x: 30, y: 40 };
    expect(corners.map((zero) => placeFromZero(at, { ...DEFAULT_BED, zero }))).toEqual([
      { x: 30, y: 40 },
      { x: 390, y: 40 },
      { x: 30, y: 257 },
      { x: 390, y: 257 },
    ]);
  });

  it('turns and mirrors as the place says: mirror in x, then turn counter-clockwise, then shift', () => {
    const to = bedFromBlank({ x: 100, y: 50, turnDeg: 90, mirrored: true });
    // (3, 2) mirrored is (-3, 2), turned by 90 degrees (-2, -3).
    expect(to({ x: 3, y: 2 })).toEqual({ x: 98, y: 47 });
  });

  it('has a digest that node:crypto confirms, the same whatever the order of keys', () => {
    const { plan } = jig(outlines);
    const { jobNumber, jobName, bed, pocketSettings, pockets, digest } = plan;
    const rest = { jobNumber, jobName, bed, pocketSettings, pockets };
    expect(digest).toBe(createHash('sha256').update(canonicalText(rest)).digest('hex'));
    const turned = Object.fromEntries(Object.entries(rest).reverse()) as unknown as typeof rest;
    expect(digestOf(turned)).toBe(digest);
    expect(jig(outlines, { zero: 'top-left' }).plan.digest).not.toBe(digest);
  });
});

describe('where the print lands', () => {
  it("is among the plan's reasons when bleed or safe area are too small for it", () => {
    const bare = { pocket: { ...DEFAULT_POCKET, material: 'acrylic' as const, bleedMm: 0.1 } };
    const codes = (more: Partial<JigSettings>): string[] =>
      jig([outlineOf(card)], {}, more).plan.reasons.map(({ code }) => code);
    expect(codes({ ...bare, registration: REGISTRATION })).toEqual(['edge-bare']);
    expect(codes({ registration: REGISTRATION })).toEqual([]);
    expect(codes(bare)).toEqual([]);
  });
});

describe('job sheet', () => {
  const words = async (bytes: Uint8Array): Promise<string> => {
    const doc = await (await loadPdfjs()).getDocument({ data: bytes.slice(), verbosity: 0 })
      .promise;
    const pages = await Promise.all(
      Array.from({ length: doc.numPages }, async (_, k) => {
        const { items } = await (await doc.getPage(k + 1)).getTextContent();
        return items.map((item) => ('str' in item ? item.str : '')).join(' ');
      }),
    );
    return pages.join(' ').replace(/\s+/g, ' ');
  };
  const made = () => jig([outlineOf(card)], { zero: 'top-right' });
  const traced = { verdict: 'ok', reasons: [] } as const;

  it('says NOT CHECKED, where the kerf is taken, U, and the cautions', async () => {
    const text = await words(jobSheet(made().plan, jobFacts(made(), traced, '2026-03-14')));
    expect(text).toMatch(/NOT CHECKED/);
    expect(text).toMatch(/Kerf 0\.20 mm is already taken: layer cut lies 0\.100 mm/);
    expect(text).toMatch(/85\.60 x 53\.98 ±0\.06/);
    expect(text).toMatch(/from the top right corner/);
    for (const caution of ['Laser', 'Blade', 'Router', 'UV lamp', 'Moving head', 'local codes']) {
      expect(text).toContain(caution);
    }
    expect(text).toContain(made().plan.digest);
  });

  it('gives readings with their verdicts, and no NOT CHECKED', async () => {
    const averaged = average([86, 86], INSTRUMENTS.caliper);
    const judgement = judge(averaged, { valueMm: 85.6, u: 0.03 });
    const check = {
      blank: 1,
      what: 'width',
      with: 'caliper',
      outlineMm: 85.6,
      outlineU: 0.06,
      readingMm: averaged.readMm,
      readingU: 2 * averaged.u,
      readings: 2,
      judgement,
      fit: alongJaws(85.6, averaged, 0.15),
    };
    const facts = jobFacts(made(), traced, '2026-03-14', [check]);
    const text = await words(jobSheet(made().plan, facts));
    expect(text).not.toMatch(/NOT CHECKED/);
    expect(text).toMatch(/0\.40 mm smaller than you read/);
    expect(text).toMatch(/Does not go in: .*0\.10 .* wider than its pocket.*Read 2 times, caliper/);
    expect(text).toMatch(/1 of 1 readings contradict/);
  });
});

import { readFileSync } from 'node:fs';
import { beforeAll, describe, expect, it } from 'vitest';
import { tryDelivery, type Tried } from '../../src/after/delivery.ts';
import { DEFAULT_TRACE, traceFiles, traceSettingsOf, type Traced } from '../../src/cli/trace.ts';
import { layOn, regionMovedBy } from '../../src/geometry/lay.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { boxOf, centroid, regionArea } from '../../src/geometry/measure.ts';
import { Nearest } from '../../src/geometry/nearest.ts';
import { Opening } from '../../src/geometry/within.ts';
import type { Region } from '../../src/geometry/shape.ts';
import { seatOutlines } from '../../src/job/seats.ts';
import { coveredShare, holdingShare, piecesFor } from '../../src/outline/coverage.ts';
import { ofOneKind, type Kind } from '../../src/outline/kind.ts';
import type { Outline, Stroke } from '../../src/outline/outline.ts';
import { handMade } from '../../src/outline/paint.ts';
import { curvesOfMask } from '../../src/outline/potrace.ts';
import { trace } from '../../src/outline/trace.ts';
import { pictureOf } from '../../src/view/model.ts';
import { loadVision } from '../../src/vision/load-node.ts';
import { pieceRing, PIECES } from '../accuracy/pieces.ts';

describe('how far a few pieces speak for the rest', () => {
  // Wilks, Ann. Math. Stat. 12 (1941), 91: the sample sizes that every handbook of tolerance limits prints (from memory).
  it.each([
    [0.9, 0.9, 22],
    [0.95, 0.95, 59],
    [0.99, 0.95, 299],
    [0.99, 0.99, 459],
  ])('covers %d of all with confidence %d by %d pieces', (share, confidence, count) => {
    expect(piecesFor(share, confidence)).toBe(count);
    expect(coveredShare(count, confidence)).toBeGreaterThanOrEqual(share);
    expect(coveredShare(count - 1, confidence)).toBeLessThan(share);
    expect(holdingShare(count, 0, confidence)).toBeCloseTo(coveredShare(count, confidence), 9);
  });

  // Tables of acceptance sampling print these sample sizes for 95 % / 95 % with 0, 1, 2 failures (from memory).
  it.each([
    [59, 0],
    [93, 1],
    [124, 2],
  ])('of %d with %d failures 95 % are sound, with confidence 95 %', (count, failed) => {
    expect(holdingShare(count, failed)).toBeGreaterThanOrEqual(0.95);
    expect(holdingShare(count - 1, failed)).toBeLessThan(0.95);
  });
});

/** The picture: four tokens that differ by known tenths, one more face down, and an oval (rendered; see tests/accuracy/pieces.ts). */
describe('pieces of one kind in one picture', () => {
  const options = {
    ...DEFAULT_TRACE,
    thicknessMm: 1.52,
    thicknessOfBlankMm: {},
    spansMm: { x: 140.12, y: 139.88, d: 141.43 },
    riderSpansMm: {},
  };
  let traced: Traced;
  let seats: readonly Outline[];
  let kind: Kind;
  /** Number on the picture of each entry of PIECES: from left to right. */
  let blankOf: (k: number) => number;
  beforeAll(async () => {
    loadVision();
    traced = await traceFiles(
      [{ name: 'k01-pieces.jpg', bytes: readFileSync('fixtures/k01-pieces.jpg') }],
      options,
    );
    seats = seatOutlines(traced.trace);
    blankOf = (k) => {
      const [x, y] = PIECES[k]!.at;
      const off = (o: Outline): number => {
        const c = centroid(o.region.outer);
        return Math.hypot(c.x - x, c.y - y);
      };
      return [...seats].sort((a, b) => off(a) - off(b))[0]!.blank;
    };
    kind = ofOneKind(await loadClipper(), seats);
  }, 60_000);

  const tokens = PIECES.filter((p) => p.what === 'token');
  /** The tokens are star-shaped about their origin: at every angle the envelope has the greatest radius. */
  const truth = (pick: (...r: number[]) => number): Region<'sheet'> => ({
    outer: pieceRing(tokens[0]!).map((_, k) => {
      const all = tokens.map((t) => Math.hypot(...pieceRing(t)[k]!));
      const [x, y] = pieceRing(tokens[0]!)[k]!;
      const f = pick(...all) / Math.hypot(x, y);
      return { x: f * x, y: f * y };
    }),
    holes: [],
  });

  it('takes the tokens for one kind, and names the others', () => {
    const numbers = PIECES.map((_, k) => blankOf(k));
    expect(new Set(numbers).size).toBe(PIECES.length);
    const of = (what: string): number[] => numbers.filter((_, k) => PIECES[k]!.what === what);
    expect(kind.pieces.map((p) => p.blank).sort()).toEqual(of('token').sort());
    const kinds = numbers.filter((_, k) => PIECES[k]!.what !== 'oval');
    expect(kind.envelope.pieces).toEqual(kinds.sort((a, b) => a - b));
    const named = (code: string): unknown[] =>
      kind.reasons.filter((r) => r.code === code).map((r) => r.facts.blank);
    expect(named('piece-face-down')).toEqual(of('token face down'));
    expect(named('piece-other')).toEqual(of('oval'));
    expect(named('piece-odd')).toEqual([]);
  });

  it('what was painted over a piece holds: where no edge is, the outline follows the brush and says so', async () => {
    const { view, picture } = traced as Required<Traced>;
    const one = seats.find((s) => s.blank === blankOf(0))!;
    const { left, right, bottom, top } = boxOf(one.region.outer);
    const spot = (x: number, y: number): Stroke['points'][number] =>
      pictureOf(view.eye, x, y, one.heightMm);
    // A straight brush of 8 mm over the right end, from outside to outside: it leaves a straight edge 8 mm inside.
    const stroke: Stroke = {
      picture: '',
      as: 'stage',
      points: [spot(right - 4, bottom - 6), spot(right - 4, top + 6)],
      radiusPx: 4 / view.mmPerPx,
    };
    const inside: Stroke = {
      picture: '',
      as: 'blank',
      points: [spot(left + 14, (bottom + top) / 2), spot(right - 16, (bottom + top) / 2)],
      radiusPx: 3 / view.mmPerPx,
    };
    const painted = await trace(await loadClipper(), curvesOfMask, picture, view, {
      ...traceSettingsOf(options),
      strokes: [stroke, inside],
    });
    const cut = painted.outlines.find((o) => Math.abs(boxOf(o.region.outer).left - left) < 0.02)!;
    const { lengthMm, U } = handMade(cut);
    expect(Math.abs(boxOf(cut.region.outer).right - (right - 8))).toBeLessThan(U);
    expect(lengthMm).toBeGreaterThan(10);
    // A third of the brush's half-width, k = 2, and what a contour may wander from its rim.
    expect(U).toBeCloseTo(Math.hypot(8 / 3, 0.9), 1);
    expect(painted.reasons.some((r) => r.code === 'painted-by-hand')).toBe(true);
    expect(painted.verdict).toBe('refused');
    // The edge elsewhere is the one that was measured before, to within its U where that is least.
    const sides = new Nearest([one.region.outer], 1);
    const old = cut.region.outer.filter((p) => p.x < right - 12);
    expect(Math.max(...old.map((p) => sides.distance(p.x, p.y)))).toBeLessThan(
      2 * Math.min(...one.u[0]!),
    );
    for (const o of painted.outlines) if (o !== cut) expect(handMade(o).lengthMm).toBe(0);
  }, 60_000);

  it('draws the true envelope, within its U', () => {
    const envelope = kind.envelope.region;
    const laid = regionMovedBy(layOn(truth(Math.max), envelope, false).motion, truth(Math.max));
    const sides = new Nearest([laid.outer], 1);
    const whole = kind.envelope.wholeFactor;
    const beyond = envelope.outer.filter(
      (p, k) => sides.distance(p.x, p.y) > whole * kind.envelope.u[0]![k]!,
    );
    expect(beyond).toEqual([]);
    expect(regionArea(envelope)).toBeGreaterThan(regionArea(truth(Math.min)));
  });

  it('holds every piece that was measured', () => {
    for (const { blank, motion } of kind.pieces) {
      const { region } = seats.find((s) => s.blank === blank)!;
      const laid = regionMovedBy(motion, region);
      const sides = new Nearest([kind.envelope.region.outer], 1);
      const box = boxOf(kind.envelope.region.outer);
      const middle = { x: (box.left + box.right) / 2, y: (box.bottom + box.top) / 2 };
      const farther = laid.outer.filter((p) => {
        const q = sides.place(p.x, p.y);
        return (
          Math.hypot(p.x - middle.x, p.y - middle.y) > Math.hypot(q.x - middle.x, q.y - middle.y) &&
          q.distance > kind.envelope.fitDeviationMm + 0.005
        );
      });
      expect(farther).toEqual([]);
    }
  });

  it('says how much the pieces differ, within the U it states', () => {
    const radii = tokens.map((t) => pieceRing(t).map((p) => Math.hypot(...p)));
    const apart = radii[0]!.map(
      (_, k) => Math.max(...radii.map((r) => r[k]!)) - Math.min(...radii.map((r) => r[k]!)),
    );
    expect(Math.abs(kind.greatest.mm - Math.max(...apart))).toBeLessThan(kind.greatest.u);
    expect(kind.greatest.u).toBeLessThan(0.15);
    expect(kind.covers).toBeCloseTo(0.05 ** (1 / 4), 12);
  });

  it('offers their mean, within its U, and says how far the largest reaches beyond it', async () => {
    const { mean, reasons } = ofOneKind(await loadClipper(), seats, 'mean');
    const average = truth((...r) => r.reduce((a, b) => a + b, 0) / r.length);
    const { region, wholeFactor, u, pieces } = mean!;
    expect(mean!.at).toBe('mean');
    expect(pieces).toEqual(kind.envelope.pieces);
    const laid = regionMovedBy(layOn(average, region, false).motion, average);
    const sides = new Nearest([laid.outer], 1);
    expect(
      region.outer.filter((p, k) => sides.distance(p.x, p.y) > wholeFactor * u[0]![k]!),
    ).toEqual([]);
    expect(Math.max(...u[0]!)).toBeLessThan(0.1);
    const { beyondMm, uMm } = reasons.find((r) => r.code === 'pieces-mean')!.facts;
    const radii = tokens.map((t) => pieceRing(t).map((p) => Math.hypot(...p)));
    const beyond = radii[0]!.map((_, k) => {
      const all = radii.map((r) => r[k]!);
      return Math.max(...all) - all.reduce((a, b) => a + b, 0) / all.length;
    });
    expect(Math.abs(Number(beyondMm) - Math.max(...beyond))).toBeLessThan(Number(uMm));
  });

  it('lays pieces of several pictures on each other: the same spread, and what two views do not share counts twice', async () => {
    const [a, b] = kind.pieces.slice(-2).map((p) => p.blank);
    const apart = seats.map((s) => (s.blank === a || s.blank === b ? { ...s, inPicture: 1 } : s));
    const both = ofOneKind(await loadClipper(), apart);
    expect(both.greatest.mm).toBeCloseTo(kind.greatest.mm, 9);
    expect(both.greatest.u).toBeGreaterThanOrEqual(kind.greatest.u - 1e-9);
    expect(both.pieces.filter((p) => p.picture === 1).map((p) => p.blank)).toEqual([a, b]);
    const sources = (k: Kind, source: string): number =>
      k.envelope.modes.filter((m) => m.source === source).length;
    // One sheet, measured once; two pictures, each with its own marks.
    expect(sources(both, 'spans')).toBe(sources(kind, 'spans'));
    expect(sources(both, 'marks')).toBe(2 * sources(kind, 'marks'));
    expect(Math.max(...both.envelope.u[0]!)).toBeCloseTo(Math.max(...kind.envelope.u[0]!), 3);
  });

  it('names a piece that differs far more than the others do', async () => {
    const [blank] = kind.pieces.slice(-1).map((p) => p.blank);
    const grown = seats.map((s) =>
      s.blank === blank
        ? {
            ...s,
            region: {
              ...s.region,
              outer: s.region.outer.map((p) => {
                const c = centroid(s.region.outer);
                return { x: c.x + 1.013 * (p.x - c.x), y: c.y + 1.013 * (p.y - c.y) };
              }),
            },
          }
        : s,
    );
    const { reasons } = ofOneKind(await loadClipper(), grown);
    expect(reasons.filter((r) => r.code === 'piece-odd').map((r) => r.facts.blank)).toEqual([
      blank,
    ]);
  });

  it('tries them in a pocket made for one of them', async () => {
    const clipper = await loadClipper();
    const ring = (k: number): Region<'bed'> => ({
      outer: pieceRing(PIECES[k]!).map(([x, y]) => ({ x, y })),
      holes: [],
    });
    const opening = clipper.offset([ring(0)], 0.25, 'outward')[0]!;
    const pockets = [{ id: '1', outlineId: 'token', opening, doubt: { growthU: 0 } }];
    const { tried } = tryDelivery(pockets, seats, 0.25);
    const answer = (k: number): Tried => tried.find((t) => t.blank === blankOf(k))!;
    PIECES.forEach(({ what }, k) => {
      const { answer: said, roomMm, uMm } = answer(k);
      if (what === 'oval') return expect(said).toBe('other');
      if (what === 'token face down') return expect(said).toBe('face down');
      // The drawn shapes themselves, laid by the same search, which the laws of tests/property/delivery hold.
      const truth = new Opening(opening).place(ring(k), layOn(ring(k), opening, false).motion);
      expect(Math.abs(roomMm - truth.roomMm)).toBeLessThan(uMm);
      return expect(said).toBe(truth.roomMm > uMm ? 'proven' : said);
    });
    expect(tried.map((t) => t.uMm).every((u) => u < 0.12)).toBe(true);
  });

  it('refuses one piece, and pieces that are all different', async () => {
    const clipper = await loadClipper();
    expect(() => ofOneKind(clipper, seats.slice(0, 1))).toThrow(/one alone has no envelope/);
    const unlike = seats.filter((s) => [blankOf(0), blankOf(5)].includes(s.blank));
    expect(() => ofOneKind(clipper, unlike)).toThrow(/No two of the 2/);
  });
});

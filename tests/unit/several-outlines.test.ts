import { describe, expect, it } from 'vitest';
import { Refusal } from '../../src/base/reason.ts';
import type { Point } from '../../src/base/measure.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { nearestOnRing, signedArea } from '../../src/geometry/measure.ts';
import type { Outline, Stretch, Trace } from '../../src/outline/outline.ts';
import { combined, type Shown } from '../../src/outline/several.ts';
import { calibrateAll } from '../../src/view/adjust.ts';
import { asStored } from '../../src/picture/turn.ts';
import { simulateSeveral } from '../support/simulate-several.ts';

const clipper = await loadClipper();
const HEIGHT = 40;
const s = simulateSeveral({
  seed: 4,
  photos: 3,
  height: HEIGHT,
  printError: 0.005,
  bow: 0,
  tilt: 0.3,
  fKnown: 0.02,
  every: 2,
});
const views = calibrateAll(s.photos, s.settings);
const MIDDLE = { x: 105, y: 148 };

/** A wavy blank, vertices half a millimetre apart, moved. */
const blank = (dx = 0, dy = 0): Point<'sheet'>[] =>
  Array.from({ length: 500 }, (_, k) => {
    const t = (2 * Math.PI * k) / 500;
    const r = 34 + 4 * Math.cos(3 * t);
    return { x: MIDDLE.x + r * Math.cos(t) + dx, y: MIDDLE.y + r * Math.sin(t) + dy };
  });

function shown(p: number, ring: Point<'sheet'>[], hidden: Stretch[] = [], u = 0.03): Shown {
  const n = ring.length;
  const outline: Outline = {
    id: 'blank-1-face',
    blank: 1,
    at: 'face',
    region: { outer: ring, holes: [] },
    curves: { outer: { start: ring[0]!, segments: [] }, holes: [] },
    fitDeviationMm: 0,
    heightMm: HEIGHT,
    thicknessMm: s.settings.thicknessMm[0]!,
    modes: [],
    edgeU: [new Float64Array(n).fill(u)],
    u: [new Float64Array(n).fill(u)],
    wholeFactor: 3,
    hidden,
    doubtful: [],
    rider: false,
    mirrored: false,
  };
  const trace: Trace = { outlines: [outline], verdict: 'ok', reasons: [] };
  return { trace, view: views[p]! };
}

const settings = {
  thicknessMm: {},
  widestU: 0.05,
  face: 'print' as const,
  wantMm: 0.3,
  fitToleranceMm: 0.005,
};
const code = (all: Shown[]): { code: string; facts: Readonly<Record<string, unknown>> } => {
  try {
    combined(clipper, all, settings);
  } catch (error) {
    if (error instanceof Refusal) return { code: error.reason.code, facts: error.reason.facts };
    throw error;
  }
  return { code: 'none', facts: {} };
};
const farthest = (a: readonly Point<'sheet'>[], b: Point<'sheet'>[]): number =>
  Math.max(...a.map((p) => nearestOnRing(b, p).distanceMm));

describe('outlines of one blank from several photos', () => {
  it('are the blank where they agree, whatever their order', () => {
    const all = [0, 1, 2].map((p) => shown(p, blank()));
    const one = combined(clipper, all, settings);
    expect(one.verdict).toBe('ok');
    const { region, u } = one.outlines[0]!;
    expect(farthest(region.outer, blank())).toBeLessThan(0.01);
    expect(Math.max(...u[0]!)).toBeLessThan(0.03);
    const other = combined(clipper, [...all].reverse(), settings).outlines[0]!;
    expect(farthest(other.region.outer, [...region.outer])).toBeLessThan(0.005);
    expect(Math.abs(signedArea(other.region.outer) / signedArea(region.outer) - 1)).toBeLessThan(
      1e-4,
    );
  });

  it('cut away what one alone could not rule out, and hide only what none saw', () => {
    // The first photo closes two bays: it saw nothing there, its outline runs a millimetre outside.
    const closed = (from: number, to: number): Point<'sheet'>[] =>
      blank().map((p, k) => {
        const f =
          k > from && k < to ? 1 + 0.03 * Math.sin((Math.PI * (k - from)) / (to - from)) : 1;
        return { x: MIDDLE.x + f * (p.x - MIDDLE.x), y: MIDDLE.y + f * (p.y - MIDDLE.y) };
      });
    const gap = (from: number, to: number): Stretch[] => [{ ring: 0, from, to }];
    const one = shown(0, closed(100, 140), gap(100, 140));
    const seenByOthers = combined(clipper, [one, shown(1, blank())], settings).outlines[0]!;
    expect(seenByOthers.hidden).toEqual([]);
    expect(farthest(seenByOthers.region.outer, blank())).toBeLessThan(0.03);
    const two = shown(1, closed(100, 140), gap(100, 140));
    const neither = combined(clipper, [one, two], settings);
    expect(neither.outlines[0]!.hidden.length).toBe(1);
    expect(neither.reasons.map((r) => r.code)).toContain('stretch-hidden');
  });

  it('are refused when the blank was moved', () => {
    const all = [shown(0, blank()), shown(1, blank()), shown(2, blank(0.6, 1.5))];
    expect(code(all).code).toBe('blank-moved');
    const far = [shown(0, blank()), shown(1, blank(30, 0))];
    expect(code(far).code).toBe('blank-moved');
  });

  it('tell a wrong height, and refuse it with both heights', () => {
    // A face d higher than entered appears to every photo shifted and grown away from its own foot point.
    const at = (p: number, d: number): Point<'sheet'>[] => {
      const { foot, cameraHeightMm: H } = views[p]!;
      const grow = (H - HEIGHT) / (H - HEIGHT - d);
      return blank().map((q) => ({
        x: foot.x + grow * (q.x - foot.x),
        y: foot.y + grow * (q.y - foot.y),
      }));
    };
    const wrong = code([0, 1, 2].map((p) => shown(p, at(p, 4))));
    expect(wrong.code).toBe('height-disagrees');
    expect(wrong.facts.thicknessMm).toBeCloseTo(HEIGHT, 0);
    expect(Math.abs((wrong.facts.heightMm as number) - HEIGHT - 4)).toBeLessThan(0.6);
    expect(code([0, 1, 2].map((p) => shown(p, at(p, 0.1)))).code).toBe('none');
    // So far off that the outlines lie where another blank's might: still the height, and no blank that was moved or exchanged.
    for (const d of [-15, 30, 60]) {
      const far = code([0, 1, 2].map((p) => shown(p, at(p, d))));
      expect(far.code, String(d)).toBe('height-disagrees');
      expect(Math.abs((far.facts.heightMm as number) - HEIGHT - d)).toBeLessThan(
        far.facts.uMm as number,
      );
    }
  });

  it('are refused when they are of different things, or of different numbers of them', () => {
    const other = blank().map((p, k) => (k % 100 < 50 ? p : { x: p.x, y: p.y + 2 }));
    expect(code([shown(0, blank()), shown(1, other)]).code).toBe('outlines-disagree');
    const one = shown(0, blank());
    const { outlines } = one.trace;
    const two = { ...one.trace, outlines: [...outlines, { ...outlines[0]!, blank: 2 }] };
    expect(code([one, { view: views[1]!, trace: two }]).code).toBe('blanks-differ');
  });

  it('say where photos that both saw the edge contradict each other', () => {
    const dented = blank().map((p, k) => {
      const d = k > 200 && k < 230 ? 0.4 * Math.sin((Math.PI * (k - 200)) / 30) : 0;
      return { x: p.x + (d * (p.x - MIDDLE.x)) / 34, y: p.y + (d * (p.y - MIDDLE.y)) / 34 };
    });
    const { reasons, verdict, outlines } = combined(
      clipper,
      [shown(0, blank()), shown(1, dented)],
      settings,
    );
    expect(verdict).toBe('doubtful');
    expect(reasons.map((r) => r.code)).toContain('photos-contradict');
    expect(outlines[0]!.doubtful.length).toBeGreaterThan(0);
  });
});

it('turns an upright picture back to how it is stored', () => {
  // Stored 2 x 3: 1 2 / 3 4 / 5 6. Orientation 6 shows it a quarter clockwise, 8 counter-clockwise, 3 upside down.
  const upright: Record<number, { width: number; values: number[] }> = {
    1: { width: 2, values: [1, 2, 3, 4, 5, 6] },
    3: { width: 2, values: [6, 5, 4, 3, 2, 1] },
    6: { width: 3, values: [5, 3, 1, 6, 4, 2] },
    8: { width: 3, values: [2, 4, 6, 1, 3, 5] },
  };
  for (const [orientation, { width, values }] of Object.entries(upright)) {
    const picture = asStored({
      name: 'p',
      widthPx: width,
      heightPx: 6 / width,
      channels: 3,
      data: Uint8Array.from(values.flatMap((v) => [v, v, v])),
      meta: {
        format: 'jpeg',
        storedWidthPx: 2,
        storedHeightPx: 3,
        orientation: Number(orientation),
        hasExif: true,
      },
    });
    expect([picture.widthPx, picture.heightPx]).toEqual([2, 3]);
    expect([...picture.data].filter((_, k) => k % 3 === 0)).toEqual([1, 2, 3, 4, 5, 6]);
  }
});

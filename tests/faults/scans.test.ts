import { describe, expect, it } from 'vitest';
import { curvesOfMask } from '../../src/outline/potrace.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { signedArea } from '../../src/geometry/measure.ts';
import type { Trace } from '../../src/outline/outline.ts';
import { trace } from '../../src/outline/trace.ts';
import { sheetVertex, STRIP } from '../../src/sheet/layout.ts';
import { vertices } from '../../src/view/marks.ts';
import { calibrateScan, DPI_SHARE } from '../../src/view/scan.ts';
import { findScanMarks } from '../../src/view/scan-marks.ts';
import { loadVision } from '../../src/vision/load-node.ts';
import { draw, sheetTone } from '../support/draw-sheet.ts';

/** A scan of 212 x 90 mm at 150 dpi: the strip below, dark boxes (x, y, width, height in the strip's frame) on the glass. */
const PX = 25.4 / 150;
const [W, H] = [Math.round(212 / PX), Math.round(90 / PX)];
const LID = 200;
type Box = readonly [x: number, y: number, w: number, h: number];
const within = (x: number, y: number, b: Box): boolean =>
  x > b[0] && x < b[0] + b[2] && y > b[1] && y < b[1] + b[3];

async function scanOf(boxes: readonly Box[], shadows: readonly Box[] = []): Promise<Trace> {
  const place = (u: number, v: number): [number, number] => [PX * u - 6, 84 - PX * v];
  const strip = sheetTone(STRIP, place);
  const picture = draw(W, H, (u, v) => {
    const [x, y] = place(u, v);
    if (boxes.some((b) => within(x, y, b))) return 40;
    if (within(x, y, [0, 0, STRIP.widthMm, STRIP.heightMm])) return strip(u, v);
    return shadows.some((b) => within(x, y, b)) ? 140 : LID;
  });
  const spansMm = Object.fromEntries(STRIP.spans.map((s) => [s.id, s.nominalMm]));
  const view = calibrateScan(
    findScanMarks({ cv: loadVision().cv }, picture, 150),
    picture.meta,
    W,
    H,
    {
      thicknessMm: [1],
      thicknessU: 0.05,
      spansMm,
      spanU: 0.01,
      riderSpansMm: {},
      riderSpanU: 0.03,
      wantMm: 0.6,
      dpiShare: DPI_SHARE,
    },
  );
  return trace(await loadClipper(), curvesOfMask, picture, view, {
    thicknessMm: {},
    widestU: 0.05,
    face: 'print',
    wantMm: 0.6,
  });
}

const codes = (t: Trace): string[] => t.reasons.map((r) => r.code);
const CARD: Box = [80.3, 47.2, 40, 25];
/**
 * A third of a pixel all round the card, mm²: the picture is drawn by averaging coded values, not light, which alone moves an edge
 * between 40 and 200 by 0.18 px.
 */
const EDGE = (PX / 3) * 130;

describe('things on the glass', () => {
  it('a card is found at its size, where it lies, not mirrored', async () => {
    const t = await scanOf([CARD]);
    expect(t.outlines).toHaveLength(1);
    // The drive is not measured where it lies, far beyond the rows of the strip.
    const uppermost = Math.max(...vertices(STRIP).map(({ i, j }) => sheetVertex(STRIP, i, j).y));
    const { beyondMm } = t.reasons.find((r) => r.code === 'feed-unmeasured')!.facts;
    expect(Math.abs(Number(beyondMm) - (47.2 + 25 - uppermost))).toBeLessThan(0.7);
    const { region } = t.outlines[0]!;
    expect(Math.abs(signedArea(region.outer) - 1000)).toBeLessThan(EDGE);
    const xs = region.outer.map((p) => p.x);
    expect(Math.abs(Math.min(...xs) - 80.3)).toBeLessThan(0.1);
    expect(t.outlines[0]!.mirrored).toBe(false);
  });

  it('a shadow on the lid beside it is not traced', async () => {
    const t = await scanOf([CARD], [[76, 44, 40, 25]]);
    expect(t.outlines).toHaveLength(1);
    expect(Math.abs(signedArea(t.outlines[0]!.region.outer) - 1000)).toBeLessThan(EDGE);
  });

  it('two blanks are two', async () => {
    const t = await scanOf([CARD, [140, 40.5, 20, 4.5]]);
    expect(t.outlines.map((o) => o.blank)).toEqual([1, 2]);
    // The second lies near enough to the strip.
    const beyond = t.reasons.filter((r) => r.code === 'feed-unmeasured');
    expect(beyond.map((r) => r.facts['blank'])).toEqual([1]);
  });

  it('a thing over the edge of the glass is refused, or left out with a sentence where there is another', async () => {
    await expect(scanOf([[80, 70, 40, 30]])).rejects.toThrow(/edge of the scan/);
    const t = await scanOf([CARD, [190, 50, 40, 20]]);
    expect(t.outlines).toHaveLength(1);
    expect(codes(t)).toContain('object-over-glass');
  });

  it('a thing that lies on the strip is refused', async () => {
    await expect(scanOf([[90, 33, 30, 30]])).rejects.toThrow(/onto the strip/);
  });

  it('nothing on the glass is refused', async () => {
    await expect(scanOf([])).rejects.toThrow(/No blank/);
  });
});

import { describe, expect, it } from 'vitest';
import { DEFAULT_TRACE, traceFile } from '../../src/cli/trace.ts';
import { signedArea } from '../../src/geometry/measure.ts';
import type { Trace } from '../../src/outline/outline.ts';
import { hasOpenData, openBytes } from '../open-data.ts';

// Flatbed scans and drawings that others published with what is known of them (SOURCES.md beside them).
const SCANS = 'scans';

/** The tolerance is wide: at 100 dots per inch nothing finer can be asked for, and areas are what is known. */
const scanned = async (name: string, dpi: number): Promise<Trace> =>
  (
    await traceFile(openBytes(SCANS, name), name, {
      ...DEFAULT_TRACE,
      wantMm: 20,
      scan: { dpi },
    })
  ).trace;

/** Areas in cm², holes not counted, of what is larger than 0.7 cm², from left to right. */
const areas = (trace: Trace): number[] =>
  trace.outlines
    .map(
      ({ region }) =>
        (signedArea(region.outer) +
          region.holes.reduce((sum, hole) => sum - Math.abs(signedArea(hole)), 0)) /
        100,
    )
    .filter((a) => a > 0.7);

describe.skipIf(!hasOpenData(SCANS))('scans that others published', () => {
  it('drawn squares, a rectangle and a circle at 300 dpi have the areas they were drawn with', async () => {
    // Source: NEPEM-UFSC/pliman, vignette analyze_objects: 10 x 10, 5 x 5, 4 x 2 cm and a circle of 3 cm.
    const trace = await scanned('objects_300dpi.jpg', 300);
    expect(trace.verdict).toBe('doubtful');
    const found = areas(trace).sort((a, b) => b - a);
    const drawn = [100, 25, 8, (Math.PI * 9) / 4];
    expect(found).toHaveLength(4);
    // 0.1 mm of edge all round: the drawing is of whole pixels of 0.085 mm.
    const round = [400, 200, 120, 94.2];
    found.forEach((a, k) =>
      expect(Math.abs(a - drawn[k]!) * 100, `${drawn[k]} cm²`).toBeLessThan(0.1 * round[k]!),
    );
  });

  it('two leaves have the areas that were published, to half a per cent', async () => {
    // Source: mattocci27/LeafArea, README 4.6: 116.799 and 124.069 cm² at 826 px = 21 cm; own scatter of the method 0.16 %.
    const found = areas(await scanned('A1-01.jpeg', (826 / 210) * 25.4));
    expect(found).toHaveLength(2);
    const [least, most] = [...found].sort((a, b) => a - b);
    expect(Math.abs(least! / 116.799 - 1)).toBeLessThan(0.005);
    expect(Math.abs(most! / 124.069 - 1)).toBeLessThan(0.005);
  });

  it('touching coins are not merged silently', async () => {
    // Source: OpenCV documentation pictures, coins of one kind that touch each other and the picture's edge.
    const trace = await scanned('coins.jpg', 100);
    expect(trace.verdict).not.toBe('ok');
    expect(trace.outlines.length === 0 || trace.reasons.length > 1).toBe(true);
  });

  it('a density that the header contradicts is said', async () => {
    // Header: 300 dpi. The square on it is 3 cm by hand, good to half a millimetre (bbongalov/leafareavision).
    const trace = await scanned('lav_img3_300dpi.jpg', 250);
    expect(trace.reasons.map((r) => r.code)).toContain('density-contradicts-header');
  });
});

import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { beforeAll, describe, expect, it } from 'vitest';
import type { LooseKind } from '../../src/after/lying.ts';
import { looseLoad, type LoadPhoto } from '../../src/after/loose.ts';
import { DEFAULT_TRACE, traceSettingsOf, withLens } from '../../src/cli/trace.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { centroid } from '../../src/geometry/measure.ts';
import { DEFAULT_BED } from '../../src/job/jig.ts';
import { loadPhotoOf } from '../../src/job/loose.ts';
import { curvesOfMask } from '../../src/outline/potrace.ts';
import { readPicture } from '../../src/picture/decode-node.ts';
import { findMarks } from '../../src/view/marks.ts';
import { loadVision } from '../../src/vision/load-node.ts';
import { readTruth } from '../accuracy/truth.ts';
import { seen, type TrueCamera } from '../support/simulate.ts';

const path = (name: string): string =>
  fileURLToPath(new URL(`../../fixtures/${name}`, import.meta.url));
const { blanks, sheet, views } = readTruth(path('e02-mixed-up-1.truth.json'));
const ring = (r: readonly (readonly [number, number])[]) => r.map(([x, y]) => ({ x, y }));

/** Truth by the independent renderer: two pieces that touch, one face down, a fish, two good ones, of which the second photo shows one elsewhere (tests/after/load-scenes.ts). */
describe('a bed on which a lot is mixed up, in two photos', () => {
  const first = ring(blanks[0]!.widest[0]!);
  const origin = centroid(first);
  const own = ({ x, y }: { x: number; y: number }) => ({ x: x - origin.x, y: y - origin.y });
  const kind: LooseKind = {
    blank: 1,
    outlineId: 'blank-1-face',
    region: {
      outer: first.map(own),
      holes: blanks[0]!.widest.slice(1).map((h) => ring(h).map(own)),
    },
    edgeU: 0.02,
    thicknessMm: blanks[0]!.thickness + 0.02,
    count: 6,
  };
  const photos: LoadPhoto[] = [];
  beforeAll(async () => {
    const clipper = await loadClipper();
    const [x, y, d] = sheet.spans.slice(-3).map((s) => s.true) as [number, number, number];
    const options = { ...DEFAULT_TRACE, spansMm: { x: x + 0.02, y: y - 0.02, d } };
    for (const name of ['e02-mixed-up-1.jpg', 'e02-mixed-up-2.jpg']) {
      const picture = await readPicture(readFileSync(path(name)), name);
      photos.push(
        await loadPhotoOf(
          { clipper, curvesOfMask },
          picture,
          findMarks({ cv: loadVision().cv }, picture),
          [kind],
          withLens(options),
          traceSettingsOf(options),
          { ...DEFAULT_BED, widthMm: sheet.size_mm[0], depthMm: sheet.size_mm[1] },
          name,
        ),
      );
    }
  }, 120_000);
  const weigh = { printerMm: 0, spreadMm: 0, bleedMm: 2, safeMm: 2 };
  const middles = blanks.map((b) => centroid(ring(b.widest[0]!)));
  const [, left, right, over, other, fish] = middles;
  const things = {
    'the two that touch': { x: (left!.x + right!.x) / 2, y: (left!.y + right!.y) / 2 },
    'the one face down': over!,
    'the other piece': other!,
    'the fish': fish!,
  };
  /** What is said, and of which thing: that whose true middle lies within 3 mm of where it is said to lie. */
  const said = (of: readonly LoadPhoto[]): string[] =>
    looseLoad([kind], of, weigh)
      .reasons.filter(({ level }) => level !== 'note')
      .map(({ code, facts: { x, y, laid, seen } }) => {
        if (x === undefined) return `${code}: ${String(seen)} of ${String(laid)}`;
        const at = Object.entries(things).find(
          ([, m]) => Math.hypot(Number(x) - m.x, Number(y) - m.y) < 3,
        );
        return `${code}: ${at?.[0] ?? `${x}, ${String(y)}`}`;
      })
      .sort();

  it('names each of them in one photo, and where it lies', () => {
    expect(said(photos.slice(0, 1))).toEqual([
      'loose-face-down: the one face down',
      'loose-missing: 2 of 6',
      'loose-unknown: the fish',
      'loose-unknown: the two that touch',
    ]);
  });

  it('names besides what lies elsewhere in the second', () => {
    const one = new Set(said(photos.slice(0, 1)));
    expect(said(photos).filter((s) => !one.has(s))).toEqual(['loose-moved: the other piece']);
  });

  it('says how far that lies off: as far as the truth of both photos does, within 0.1 mm and 0.1 degrees', () => {
    const later = readTruth(path('e02-mixed-up-2.truth.json')).blanks[4]!.widest[0]!;
    const [a, b] = [other!, centroid(ring(later))];
    const { facts } = looseLoad([kind], photos, weigh).reasons.find(
      ({ code }) => code === 'loose-moved',
    )!;
    expect(Math.abs(Number(facts.apartMm) - Math.hypot(b.x - a.x, b.y - a.y))).toBeLessThan(0.1);
    // Laid at 75 degrees, and then at 76.
    expect(Math.abs(Number(facts.deg) - 1)).toBeLessThan(0.1);
  });

  it('shows each in the photo where the camera of the scene shows it, within a pixel on the mean, as what it is', () => {
    const { things } = looseLoad([kind], photos, weigh);
    expect(things.map(({ is }) => is).sort()).toEqual([
      ...['face down', 'moved', 'placed', 'unknown', 'unknown'],
    ]);
    const { truth } = views[0] as unknown as {
      truth: {
        f_px: number;
        cx: number;
        cy: number;
        k1: number;
        k2: number;
        p1: number;
        p2: number;
      } & {
        R: TrueCamera['axes'];
        centre: TrueCamera['centre'];
      };
    };
    const { f_px: f, cx, cy, k1, k2, p1, p2, R: axes, centre } = truth;
    const camera: TrueCamera = { f, cx, cy, k: [k1, k2, p1, p2], axes, centre };
    const mean = (points: readonly (readonly [number, number])[]) =>
      points.reduce(([a, b], [u, v]) => [a + u / points.length, b + v / points.length], [0, 0]);
    for (const [is, blank] of [
      ['placed', 0],
      ['face down', 3],
      ['moved', 4],
    ] as const) {
      const [outer] = things.find((t) => t.is === is)!.ringsPx;
      // Of equal steps along the edge, as those of the truth are not: by length.
      const [x, y] = mean(evenly(outer!.map((p) => [p.x, p.y] as const)));
      const face = blanks[blank]!.widest[0]!.map((p) => seen(camera, p[0], p[1], 3));
      const [u, v] = mean(evenly(face));
      expect(Math.hypot(x! - u!, y! - v!), is).toBeLessThan(1);
    }
  });

  it('places the piece that nothing is wrong with within 0.15 mm and 0.1 degrees', () => {
    const { pieces } = looseLoad([kind], photos, weigh);
    const { place, placeU } = pieces.find((p) => Math.abs(p.place.x - origin.x) < 5)!;
    const off = Math.hypot(place.x - origin.x, place.y - origin.y);
    expect(off).toBeLessThan(0.15);
    expect(off).toBeLessThan(placeU);
    // The kind was drawn from this very piece: it is turned by nothing.
    expect(Math.abs(place.turnDeg)).toBeLessThan(0.1);
  });
});

/** Places every so often along a closed line. */
function evenly(line: readonly (readonly [number, number])[]): (readonly [x: number, y: number])[] {
  return line.flatMap((p, k) => {
    const q = line[(k + 1) % line.length]!;
    const steps = Math.max(1, Math.round(Math.hypot(q[0] - p[0], q[1] - p[1]) / 0.2));
    return Array.from(
      { length: steps },
      (_, s) => [p[0] + ((q[0] - p[0]) * s) / steps, p[1] + ((q[1] - p[1]) * s) / steps] as const,
    );
  });
}

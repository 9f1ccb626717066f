import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { expect, it } from 'vitest';
import type { LooseKind } from '../../src/after/lying.ts';
import { looseLoad } from '../../src/after/loose.ts';
import { DEFAULT_TRACE, traceSettingsOf, withLens } from '../../src/cli/trace.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { movedBy } from '../../src/geometry/lay.ts';
import { centroid } from '../../src/geometry/measure.ts';
import { DEFAULT_BED } from '../../src/job/jig.ts';
import { loadPhotoOf } from '../../src/job/loose.ts';
import { curvesOfMask } from '../../src/outline/potrace.ts';
import { readPicture } from '../../src/picture/decode-node.ts';
import { findMarks } from '../../src/view/marks.ts';
import { loadVision } from '../../src/vision/load-node.ts';
import { readTruth } from '../accuracy/truth.ts';

const path = (name: string): string =>
  fileURLToPath(new URL(`../../fixtures/${name}`, import.meta.url));

it('places pieces 40 mm thick in one photo within 0.15 mm and within U (truth by the independent renderer): their own walls tell where the camera stood', async () => {
  const { blanks, sheet } = readTruth(path('e03-tall.truth.json'));
  const rings = blanks.map(({ widest }) => widest[0]!.map(([x, y]) => ({ x, y })));
  const middles = rings.map((r) => centroid(r));
  const own = ({ x, y }: { x: number; y: number }) => ({
    x: x - middles[0]!.x,
    y: y - middles[0]!.y,
  });
  const kind: LooseKind = {
    blank: 1,
    outlineId: 'blank-1-face',
    region: {
      outer: rings[0]!.map(own),
      holes: blanks[0]!.widest.slice(1).map((h) => h.map(([x, y]) => own({ x, y }))),
    },
    edgeU: 0.02,
    thicknessMm: 40.03,
    count: 5,
  };
  const [x, y, d] = sheet.spans.slice(-3).map((s) => s.true) as [number, number, number];
  const { designed, size } = blanks.find((b) => b.rider)!.rider!;
  const options = {
    ...DEFAULT_TRACE,
    spansMm: { x: x + 0.02, y: y - 0.02, d: d + 0.01 },
    riderSpansMm: { [designed]: size + 0.01 },
  };
  const picture = await readPicture(readFileSync(path('e03-tall.jpg')), 'e03-tall.jpg');
  const photo = await loadPhotoOf(
    { clipper: await loadClipper(), curvesOfMask },
    picture,
    findMarks({ cv: loadVision().cv }, picture),
    [kind],
    withLens(options),
    traceSettingsOf(options),
    { ...DEFAULT_BED, widthMm: 297, depthMm: 420 },
    'e03-tall.jpg',
  );
  const weigh = { printerMm: 0, spreadMm: 0, bleedMm: 2, safeMm: 2 };
  const { pieces, reasons } = looseLoad([kind], [photo], weigh);
  expect(reasons).toEqual([]);
  expect(pieces).toHaveLength(5);
  // Where the ink lands that is sent to a piece's middle: the printer of the scene is true, the photo finds it off by a little.
  const { scaleX, scaleY, shear } = photo.passes[0]!.view.print;
  for (const { place, placeU } of pieces) {
    const motion = {
      mirrored: false,
      turnRad: (place.turnDeg * Math.PI) / 180,
      xMm: place.x,
      yMm: place.y,
    };
    const at = movedBy<'bed'>(motion, { x: 0, y: 0 });
    const v = at.y / scaleY;
    const u = (at.x - shear * v) / scaleX;
    const off = Math.min(...middles.map((m) => Math.hypot(m.x - u, m.y - v)));
    expect(off).toBeLessThan(0.15);
    expect(off).toBeLessThan(placeU);
  }
}, 120_000);

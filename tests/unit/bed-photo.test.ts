import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { beforeAll, expect, it } from 'vitest';
import { readingOfPhoto } from '../../src/after/bed-photo.ts';
import { Refusal } from '../../src/base/reason.ts';
import { readPicture } from '../../src/picture/decode-node.ts';
import type { Picture } from '../../src/picture/picture.ts';
import {
  bedProfileOf,
  driftOf,
  isBedReading,
  type BedReading,
} from '../../src/plan/bed-profile.ts';
import { layout } from '../../src/sheet/layout.ts';
import { stageOf } from '../../src/sheet/colour.ts';
import { findMarks } from '../../src/view/marks.ts';
import { viewsOf } from '../../src/view/profile.ts';
import type { PhotoView } from '../../src/view/view.ts';
import { loadVision } from '../../src/vision/load-node.ts';
import { BED, PRINTED } from '../after/bed-photo-truth.ts';

/** Rendered by the independent renderer (tests/after/bed-photo.ts): crosses as a printer that is off prints them, an A4 sheet on it. */
let picture: Picture;
let view: PhotoView;
let reading: BedReading;
beforeAll(async () => {
  const file = fileURLToPath(new URL('../../fixtures/b01-bed.jpg', import.meta.url));
  picture = await readPicture(new Uint8Array(readFileSync(file)), 'b01-bed.jpg');
  const { meta, widthPx, heightPx } = picture;
  const found = findMarks(loadVision(), picture);
  const spans = layout(210, 297, stageOf('white').tone).spans;
  const settings = {
    thicknessMm: [0],
    thicknessU: 0,
    spansMm: Object.fromEntries(spans.map(({ id, nominalMm }) => [id, nominalMm])),
    spanU: 0.03,
    riderSpansMm: {},
    riderSpanU: 0.03,
    wantMm: 0.3,
  };
  view = viewsOf([{ found, meta, widthPx, heightPx }], settings)[0]!;
  reading = readingOfPhoto(picture, view, BED, '2026-03-14');
}, 60_000);

it('tells the printer within the doubt that it states, and that doubt is small enough to correct by', () => {
  const profile = bedProfileOf(reading);
  expect(profile.against).toBeUndefined();
  for (const part of ['scaleX', 'scaleY', 'shear'] as const) {
    const { value, u } = profile[part];
    expect(Math.abs(value - PRINTED[part]), part).toBeLessThan(2 * u);
    expect(2 * u, part).toBeLessThan(1e-3);
  }
  expect(profile.assumed).toEqual(['offsetX', 'offsetY']);
});

it('is a reading like any other: kept, completed by hand, and held against a later one', () => {
  expect(isBedReading(JSON.parse(JSON.stringify(reading)))).toBe(true);
  // The shift from the edges of the bed is read with the rule.
  const [first] = reading.spans;
  const shifted = bedProfileOf({
    ...reading,
    edges: [{ axis: 'x', at: first!.from, readMm: first!.from.x + 0.4 }],
  });
  expect(shifted.assumed).toEqual(['offsetY']);
  expect(shifted.offsetX.value).toBeCloseTo(0.4 - 20 * PRINTED.scaleX - 20 * PRINTED.shear, 1);
  // A printer that grew by 0.2 % since is said to have moved.
  const later = {
    ...reading,
    spans: reading.spans.map((s) => ({ ...s, readMm: 1.002 * s.readMm })),
  };
  const drift = driftOf(bedProfileOf(reading), bedProfileOf(later));
  expect(drift.filter(({ en }) => en > 1).map(({ part }) => part)).toEqual(['scaleX', 'scaleY']);
});

it('crosses that a cutter scored light into a dark board tell the same', () => {
  const negative = { ...picture, data: picture.data.map((v) => 255 - v) };
  const scored = readingOfPhoto(negative, view, BED, '2026-03-14');
  expect(scored.spans).toHaveLength(reading.spans.length);
  scored.spans.forEach(({ readMm }, k) =>
    expect(Math.abs(readMm - reading.spans[k]!.readMm)).toBeLessThan(0.02),
  );
  const { against, scaleX, assumed } = bedProfileOf(scored, 'cutter');
  expect(against).toBeUndefined();
  expect(Math.abs(scaleX.value - PRINTED.scaleX)).toBeLessThan(2 * scaleX.u);
  expect(assumed).toEqual(['offsetX', 'offsetY']);
});

it('another bed than the print was made for is refused', () => {
  const other = { ...BED, widthMm: 340 };
  let said: unknown;
  try {
    readingOfPhoto(picture, view, other, '2026-03-14');
  } catch (error) {
    said = error;
  }
  expect(said).toBeInstanceOf(Refusal);
  expect((said as Refusal).reason.code).toBe('bed-crosses-unseen');
});

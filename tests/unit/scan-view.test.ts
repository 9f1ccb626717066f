import { describe, expect, it } from 'vitest';
import type { Picture } from '../../src/picture/picture.ts';
import { STRIP } from '../../src/sheet/layout.ts';
import { sheetOfPicture, pictureOf } from '../../src/view/model.ts';
import {
  calibrateScan,
  densitiesOf,
  scanByDensity,
  type ScanSettings,
} from '../../src/view/scan.ts';
import { findScanMarks } from '../../src/view/scan-marks.ts';
import { profileOf, scanByProfile } from '../../src/view/scan-profile.ts';
import { readScannerJson, scannerJson } from '../../src/files/scanner-json.ts';
import type { Scanner } from '../../src/view/scanner.ts';
import { loadVision } from '../../src/vision/load-node.ts';
import { draw, sheetTone } from '../support/draw-sheet.ts';

const vision = { cv: loadVision().cv };
const span = (id: 'x' | 'y' | 'd'): number => STRIP.spans.find((s) => s.id === id)!.nominalMm;
const SETTINGS: ScanSettings = {
  thicknessMm: [0],
  thicknessU: 0.05,
  spansMm: { x: span('x'), y: span('y'), d: span('d') },
  spanU: 0.01,
  riderSpansMm: {},
  riderSpanU: 0.03,
  wantMm: 0.3,
  dpiShare: 0.005,
};

/** A scanner as it might be, in px of about 200 dpi: line 0.6 % long, feed 0.4 % short, skew, turn, and a drive that errs. */
const PX = 25.4 / 200;
const WAVE_MM = 0.04;
const toGlass =
  (turn = 0, wave = WAVE_MM) =>
  (u: number, v: number): [number, number] => {
    const x = 1.006 * PX * u + 0.0008 * PX * v;
    const y = 0.996 * PX * v + wave * Math.sin((2 * Math.PI * PX * v) / 90);
    const [c, s] = [Math.cos(turn), Math.sin(turn)];
    return [c * x + s * y, s * x - c * y];
  };
/** The strip in the direction `turn`, its middle in the middle of the scan. */
const map = (w: number, h: number, turn: number, wave = WAVE_MM) => {
  const at = toGlass(turn, wave);
  const [mx, my] = at((w - 1) / 2, (h - 1) / 2);
  return (u: number, v: number): [number, number] => {
    const [x, y] = at(u, v);
    return [x - mx + STRIP.widthMm / 2, y - my + STRIP.heightMm / 2];
  };
};
const LID = 205;
const scanOf = (w: number, h: number, turn: number, wave?: number): Picture => {
  const place = map(w, h, turn, wave);
  const strip = sheetTone(STRIP, place);
  return draw(w, h, (u, v) => {
    const [x, y] = place(u, v);
    const on = x > 0 && y > 0 && x < STRIP.widthMm && y < STRIP.heightMm;
    return on ? strip(u, v) : LID;
  });
};
const calibrated = (picture: Picture, settings = SETTINGS, dpi?: number) =>
  calibrateScan(
    findScanMarks(vision, picture, dpi),
    picture.meta,
    picture.widthPx,
    picture.heightPx,
    settings,
  );

/** Greatest distance, after the best shift and turn, between where places of the scan are and where the view says they are, mm. */
function worst(
  view: ReturnType<typeof calibrated>,
  truth: (u: number, v: number) => [number, number],
  box: [number, number, number, number],
): number {
  const pairs: [number, number, number, number][] = [];
  for (let i = 0; i <= 8; i++) {
    for (let j = 0; j <= 8; j++) {
      const u = box[0] + ((box[2] - box[0]) * i) / 8;
      const v = box[1] + ((box[3] - box[1]) * j) / 8;
      const p = sheetOfPicture(view.eye, { x: u, y: v }, 0);
      pairs.push([...truth(u, v), p.x, p.y]);
    }
  }
  const n = pairs.length;
  const [ax, ay, bx, by] = [0, 1, 2, 3].map((k) => pairs.reduce((s, p) => s + p[k]!, 0) / n) as [
    number,
    number,
    number,
    number,
  ];
  let [re, im] = [0, 0];
  for (const [x, y, X, Y] of pairs) {
    re += (x - ax) * (X - bx) + (y - ay) * (Y - by);
    im += (x - ax) * (Y - by) - (y - ay) * (X - bx);
  }
  const turn = Math.atan2(im, re);
  return Math.max(
    ...pairs.map(([x, y, X, Y]) =>
      Math.hypot(
        Math.cos(turn) * (x - ax) - Math.sin(turn) * (y - ay) - (X - bx),
        Math.sin(turn) * (x - ax) + Math.cos(turn) * (y - ay) - (Y - by),
      ),
    ),
  );
}

describe('a strip that lies along the feed', () => {
  const [w, h] = [560, 1680];
  const turn = Math.PI / 2 + 0.01;
  const picture = scanOf(w, h, turn);
  const view = calibrated(picture);

  it('tells scale, skew and the drive to a hundredth of a millimetre', () => {
    expect(worst(view, map(w, h, turn), [20, 60, w - 20, h - 60])).toBeLessThan(0.012);
    const { line, feed } = densitiesOf(view.eye as Scanner);
    expect(line).toBeCloseTo(200 / 1.006, 1);
    expect(Math.abs(feed - 200 / 0.996)).toBeLessThan(0.15);
    expect(view.reasons.filter((r) => r.level !== 'note')).toEqual([]);
  });

  it('is as well known as it says: the spans are left, the drive is not', () => {
    const bySource = new Map<string, number>();
    for (const { source, delta } of view.modes) {
      const size = Math.hypot(delta[0]!, delta[3]!);
      bySource.set(source, Math.hypot(bySource.get(source) ?? 0, size));
    }
    expect(bySource.get('spans')!).toBeGreaterThan(bySource.get('feed')!);
  });

  it('maps back and forth', () => {
    for (const [u, v] of [
      [0, 0],
      [333.3, 1001.7],
      [w, h],
    ] as const) {
      const p = sheetOfPicture(view.eye, { x: u, y: v }, 0);
      const q = pictureOf(view.eye, p.x, p.y, 0);
      expect(Math.hypot(q.x - u, q.y - v)).toBeLessThan(1e-6);
    }
  });

  it('makes a profile that tells another scan of the same scanner, also after it was written and read', () => {
    const profile = readScannerJson(scannerJson(profileOf([{ view, meta: picture.meta }])), 'p');
    const byProfile = scanByProfile(profile, picture.meta, w, h, SETTINGS);
    expect(worst(byProfile, map(w, h, turn), [20, 60, w - 20, h - 60])).toBeLessThan(0.012);
    // The frame's origin is the picture's lower left corner, x to the right.
    const corner = sheetOfPicture(byProfile.eye, { x: -0.5, y: h - 0.5 }, 0);
    expect(Math.hypot(corner.x, corner.y)).toBeLessThan(1e-9);
    const right = sheetOfPicture(byProfile.eye, { x: w - 0.5, y: h - 0.5 }, 0);
    expect(right.x).toBeGreaterThan(60);
    expect(Math.abs(right.y)).toBeLessThan(1e-6);
    expect(() => scanByProfile(profile, picture.meta, w + 1, h, SETTINGS)).toThrow(/profile/);
    expect(() => readScannerJson(new TextEncoder().encode('{}'), 'p')).toThrow(
      /no scanner profile/,
    );
    expect(() => readScannerJson(scannerJson({ ...profile, modes: [] }).slice(0, 99), 'p')).toThrow(
      /JSON/,
    );
  });

  it('says that the drive of a strip laid across is not known beyond it', () => {
    const across = calibrated(scanOf(1680, 560, 0));
    const feed = (v: typeof view): number =>
      Math.sqrt(
        v.modes
          .filter((m) => m.source === 'feed')
          .reduce((s, m) => s + m.delta[3]! ** 2 + m.delta[1]! ** 2, 0),
      );
    expect(feed(across)).toBeGreaterThan(5 * feed(view));
  });
});

describe('what is wrong with a scan is said', () => {
  const [w, h] = [1680, 400];
  const plain = scanOf(w, h, 0, 0);
  const withDensity = (densityDpi: number): Picture => ({
    ...plain,
    meta: { ...plain.meta, densityDpi },
  });
  const codes = (p: Picture, settings = SETTINGS): string[] =>
    calibrated(p, settings).reasons.map((r) => r.code);

  it('a header that contradicts the marks; one that is right is not mentioned', () => {
    expect(codes(withDensity(200))).not.toContain('header-contradicts-marks');
    const wrong = calibrated(withDensity(300));
    const found = wrong.reasons.find((r) => r.code === 'header-contradicts-marks');
    expect(found?.message).toMatch(/300/);
    expect(found?.message).toMatch(/198\.8/);
    // The marks were believed all the same.
    expect(densitiesOf(wrong.eye as Scanner).line).toBeCloseTo(200 / 1.006, 1);
  });

  it('a stated density that contradicts the marks', () => {
    expect(codes(plain, { ...SETTINGS, dpi: 240 })).toContain('density-contradicts-marks');
  });

  it('a scan that was resampled in one direction', () => {
    const place = map(w, h, 0, 0);
    const squeezed = draw(w, Math.round(h * 0.9), (u, v) => {
      const [x, y] = place(u, (v + 0.5) / 0.9 - 0.5);
      return x > 0 && y > 0 && x < STRIP.widthMm && y < STRIP.heightMm
        ? sheetTone(STRIP, () => [x, y])(0, 0)
        : LID;
    });
    expect(codes(squeezed)).toContain('scan-stretched');
  });

  it('spans that nobody measured', () => {
    expect(codes(plain, { ...SETTINGS, spansMm: {} })).toContain('spans-missing');
  });

  it('a strip of which most is covered; what is left is still placed rightly', () => {
    const data = plain.data.slice();
    // A dark thing lies over the right two thirds of the strip.
    for (let v = 0; v < h; v++)
      for (let u = Math.round(w * 0.4); u < w; u++)
        data.fill(40, (v * w + u) * 3, (v * w + u) * 3 + 3);
    const covered = calibrated({ ...plain, data });
    expect(covered.reasons.map((r) => r.code)).toContain('marks-few');
    expect(worst(covered, map(w, h, 0, 0), [60, 60, 0.35 * w, h - 60])).toBeLessThan(0.05);
  });

  it('a strip turned by half a turn is placed as it lies', () => {
    const turned = calibrated(scanOf(w, h, Math.PI, 0));
    // Between the outermost corners of the strip.
    expect(worst(turned, map(w, h, Math.PI, 0), [60, 110, w - 60, 290])).toBeLessThan(0.02);
  });

  it('no strip at all, and a mirrored one', () => {
    const blank = draw(300, 300, () => LID);
    expect(() => findScanMarks(vision, blank, 200)).toThrow(/Neither a strip/);
    const data = new Uint8Array(plain.data.length);
    for (let v = 0; v < h; v++)
      for (let u = 0; u < w; u++)
        data.set(
          plain.data.subarray((v * w + u) * 3, (v * w + u) * 3 + 3),
          (v * w + w - 1 - u) * 3,
        );
    expect(() => findScanMarks(vision, { ...plain, data }, 200)).toThrow(/mirrored/);
  });

  it('a scale by density alone is doubtful, with the uncertainty that was stated', () => {
    const view = scanByDensity({ ...plain.meta, densityDpi: 300 }, w, h, { ...SETTINGS, dpi: 200 });
    expect(view.reasons.map((r) => [r.code, r.level])).toEqual([
      ['scan-by-density', 'doubt'],
      ['density-contradicts-header', 'doubt'],
    ]);
    const a = sheetOfPicture(view.eye, { x: 0, y: 0 }, 0);
    const b = sheetOfPicture(view.eye, { x: 200, y: 0 }, 0);
    expect(Math.hypot(a.x - b.x, a.y - b.y)).toBeCloseTo(25.4, 9);
    // Half a per cent of the line's scale, all modes together.
    const scale = Math.sqrt(view.modes.reduce((s, m) => s + m.delta[0]! ** 2, 0));
    expect(scale).toBeCloseTo(0.005, 3);
  });
});

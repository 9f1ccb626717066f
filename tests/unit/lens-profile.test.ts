import { describe, expect, it } from 'vitest';
import { Refusal } from '../../src/base/reason.ts';
import { calibrate } from '../../src/view/adjust.ts';
import { FOCUS_SHARE } from '../../src/view/lens.ts';
import { faceUncertainty } from '../../src/view/modes.ts';
import { pictureOf } from '../../src/view/model.ts';
import { priorOf, profileOf, readProfile, type LensProfile } from '../../src/view/profile.ts';
import { simulateSeveral } from '../support/simulate-several.ts';

const bare = simulateSeveral({
  seed: 11,
  photos: 8,
  height: 0,
  printError: 0.01,
  bow: 0.05,
  tilt: 0.4,
  fKnown: 0.035,
  every: 2,
});
const { profile, u } = profileOf(bare.photos);
const { camera } = bare.photos[0]!;
const told = [camera.f, camera.cx, camera.cy, ...camera.k];

it('finds the lens that took eight simulated photos, within what it says', () => {
  profile.values.forEach((v, k) =>
    expect(Math.abs(v - told[k]!), profile.parameters[k]!).toBeLessThan(3 * u[k]!),
  );
  expect(u[0]! / profile.values[0]!).toBeLessThan(0.001);
});

it.each([3, 6, 8])('is the same lens from pictures that are turned by orientation %d', (o) => {
  // What the upright picture shows of a stored one (EXIF: 3 half a turn, 6 a quarter clockwise, 8 counter-clockwise).
  const [w, h] = [3000, 4000];
  const upright = ({ x, y }: { x: number; y: number }): { x: number; y: number } =>
    o === 3
      ? { x: w - 1 - x, y: h - 1 - y }
      : o === 6
        ? { x: h - 1 - y, y: x }
        : { x: y, y: w - 1 - x };
  const turned = bare.photos.map((p) => ({
    ...p,
    meta: { ...p.meta, orientation: o },
    found: {
      ...p.found,
      marks: p.found.marks.map((m) => ({ ...m, picture: upright(m.picture) })),
    },
  }));
  const other = profileOf(turned).profile;
  other.values.forEach((v, k) =>
    expect(Math.abs(v - profile.values[k]!)).toBeLessThan(0.01 * u[k]!),
  );
  // And back: the prior of an upright picture projects as the turned stored one.
  const prior = priorOf(profile, { ...bare.photos[0]!.meta, orientation: o }, FOCUS_SHARE);
  const seen = (values: readonly number[], x: number, y: number): { x: number; y: number } => {
    const [fPx, cxPx, cyPx, k1, k2, p1, p2] = values as unknown as [number, ...number[]];
    return pictureOf(
      {
        fPx: fPx,
        cxPx: cxPx!,
        cyPx: cyPx!,
        k1: k1!,
        k2: k2!,
        p1: p1!,
        p2: p2!,
        rotation: [1, 0, 0, 0, 1, 0, 0, 0, 1],
        centre: [0, 0, 0],
      },
      x,
      y,
      1,
    );
  };
  const [x, y] = [0.31, -0.22];
  const direction = upright({ x: x + (w - 1) / 2, y: y + (h - 1) / 2 });
  const middle = o === 3 ? [(w - 1) / 2, (h - 1) / 2] : [(h - 1) / 2, (w - 1) / 2];
  const a = upright(seen(profile.values, x, y));
  const b = seen(prior.told!.values, direction.x - middle[0]!, direction.y - middle[1]!);
  expect(Math.hypot(a.x - b.x, a.y - b.y)).toBeLessThan(1e-6);
});

it('makes a thick face without a rider several times more certain', () => {
  const s = simulateSeveral({
    seed: 12,
    photos: 1,
    height: 30,
    printError: 0.01,
    bow: 0,
    tilt: 0.08,
    fKnown: 0.035,
  });
  const photo = s.photos[0]!;
  const uMm = (with_: boolean): number =>
    faceUncertainty(
      calibrate(
        photo.found,
        photo.meta,
        3000,
        4000,
        s.settings,
        with_
          ? priorOf(
              { ...profile, values: [s.photos[0]!.camera.f, ...told.slice(1)] },
              photo.meta,
              FOCUS_SHARE,
            )
          : undefined,
      ),
      0,
    ).uMm;
  expect(uMm(true)).toBeLessThan(0.5 * uMm(false));
});

describe('a profile that does not fit is refused in a sentence', () => {
  const code = (work: () => unknown): string => {
    try {
      work();
    } catch (error) {
      if (error instanceof Refusal) return error.reason.code;
      throw error;
    }
    return 'none';
  };
  const { meta } = bare.photos[0]!;
  it.each([
    ['size', { ...meta, storedWidthPx: 3024 }],
    ['camera', { ...meta, camera: 'Another' }],
    ['lens', { ...meta, lens: 'Another' }],
    ['zoom', { ...meta, focalLength35Mm: 52 }],
  ])('%s', (_, other) => {
    expect(code(() => priorOf(profile, other, FOCUS_SHARE))).toBe('lens-profile-other');
    expect(code(() => priorOf(profile, meta, FOCUS_SHARE))).toBe('none');
  });

  it('a file that is none', () => {
    const text = JSON.stringify(profile);
    expect(readProfile(text, 'a')).toEqual(JSON.parse(text));
    const broken: readonly ((p: LensProfile) => object)[] = [
      (p) => ({ ...p, version: 2 }),
      (p) => ({ ...p, snugline: 'x' }),
      (p) => ({ ...p, values: p.values.slice(1) }),
      (p) => ({ ...p, values: [-1, ...p.values.slice(1)] }),
      (p) => ({
        ...p,
        covariance: p.covariance.map((r, i) => r.map((v, j) => (i === j ? -v : v))),
      }),
      (p) => ({ ...p, covariance: p.covariance.map((r) => r.map(() => 1)) }),
      (p) => ({ ...p, widthPx: '3000' }),
    ];
    for (const change of broken)
      expect(code(() => readProfile(JSON.stringify(change(profile)), 'a'))).toBe(
        'lens-profile-unread',
      );
    expect(code(() => readProfile('nonsense', 'a'))).toBe('lens-profile-unread');
  });

  it('too few pictures, or of several cameras or sheets', () => {
    expect(code(() => profileOf(bare.photos.slice(0, 4)))).toBe('lens-pictures-few');
    const one = bare.photos[0]!;
    const odd = [...bare.photos.slice(1), { ...one, meta: { ...meta, camera: 'Another' } }];
    expect(code(() => profileOf(odd))).toBe('lens-pictures-differ');
    const sheet = { ...one.found.sheet, widthMm: 216 };
    const sheets = [...bare.photos.slice(1), { ...one, found: { ...one.found, sheet } }];
    expect(code(() => profileOf(sheets))).toBe('sheets-differ');
  });
});

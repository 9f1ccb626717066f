import { describe, expect, it } from 'vitest';
import { newJob, readJob, writeJob, type Job } from '../../src/job/job.ts';
import { profileFor } from '../../src/job/profiles.ts';
import { calibrationOf, type PictureInfo } from '../../src/job/run.ts';
import type { KeptProfile } from '../../src/job/store.ts';
import { coverageOf } from '../../src/view/coverage.ts';
import { usable } from '../../src/view/profile-photos.ts';
import { LENS_NAMES, type LensProfile } from '../../src/view/profile.ts';

const lens: LensProfile = {
  snugline: 'lens profile',
  version: 1,
  camera: 'Invented 1',
  lens: null,
  focalLengthMm: 5,
  focalLength35Mm: 26,
  widthPx: 4000,
  heightPx: 3000,
  parameters: LENS_NAMES,
  values: [3000, 2000, 1500, 0.01, 0, 0, 0],
  covariance: LENS_NAMES.map((_, i) => LENS_NAMES.map((__, j) => (i === j ? 1e-6 : 0))),
  rmsPx: 0.05,
  pictures: 9,
};
const kept: KeptProfile = { key: 'a', on: '2026-01-01', kind: 'lens', profile: lens };
const info = (more: object = {}): PictureInfo => ({
  widthPx: 3000,
  heightPx: 4000,
  meta: {
    format: 'jpeg',
    storedWidthPx: 4000,
    storedHeightPx: 3000,
    orientation: 6,
    camera: 'Invented 1',
    focalLengthMm: 5,
    focalLength35Mm: 26,
    hasExif: true,
    ...more,
  },
});
const job: Job = newJob('S-1', 'a');

describe('which profile a picture is measured with', () => {
  it('the kept one of its camera, lens, zoom and size, without being asked', () => {
    expect(profileFor(job, info(), [kept])).toEqual({ lens });
    for (const other of [
      { camera: 'Invented 2' },
      { storedWidthPx: 2000, storedHeightPx: 1500 },
      { focalLength35Mm: 52 },
      { lens: 'long' },
      { orientation: 5 },
    ])
      expect(profileFor(job, info(other), [kept]), JSON.stringify(other)).toBeUndefined();
  });

  it('not one of a camera that no file names: any would fit', () => {
    const nameless = { ...lens, camera: null };
    const unnamed = info({ camera: undefined });
    expect(profileFor(job, unnamed, [{ ...kept, profile: nameless }])).toBeUndefined();
    // But the operator may have chosen it.
    expect(profileFor({ ...job, lens: nameless }, unnamed, [])).toBeUndefined();
  });

  it('none where she would have none; and one of another camera is given up', () => {
    expect(profileFor({ ...job, lens: 'none' }, info(), [kept])).toBeUndefined();
    expect(profileFor({ ...job, lens }, info({ camera: 'Invented 2' }), [kept])).toEqual({
      lens: null,
    });
  });

  it('is part of what the picture is measured by, and travels in the job file', () => {
    const with_: Job = { ...job, lens };
    expect(JSON.stringify(calibrationOf(with_))).toContain('"rmsPx":0.05');
    expect(JSON.stringify(calibrationOf(with_))).not.toEqual(JSON.stringify(calibrationOf(job)));
    expect(readJob(writeJob(with_)).lens).toEqual(lens);
    // Job files of before have no such entry.
    expect(readJob(JSON.stringify({ ...job, lens: undefined })).lens).toBeNull();
    const damaged = { ...with_, lens: { ...lens, values: [1] } };
    expect(() => readJob(JSON.stringify(damaged))).toThrow(/its values are damaged/);
  });
});

describe('photos on their way to a profile', () => {
  const marks = (
    ...places: [number, number][]
  ): { marks: { picture: { x: number; y: number } }[] } => ({
    marks: places.map(([x, y]) => ({ picture: { x, y } })),
  });

  it('say which corner of the frame has no marks yet', () => {
    const first = coverageOf([marks([600, 400], [80, 420], [600, 60])], 640, 480);
    expect(first.wants).toEqual(['The upper left corner has no marks yet.']);
    const more = coverageOf([marks([600, 400], [80, 420], [600, 60]), marks([100, 90])], 640, 480);
    expect(more.wants).toEqual(['The upper left corner has marks only 66 % of the way out.']);
    // (60, 40) is hypot(260 / 320, 200 / 240) / sqrt(2) = 82 % of the way from the middle to the corner.
    const all = coverageOf([marks([600, 400], [80, 420], [600, 60], [60, 40])], 640, 480);
    expect(all.wants).toEqual([]);
    expect(all.reach[0]).toBeCloseTo(0.823, 3);
  });

  it('are left out where their size is not that of the others', () => {
    const shot = (name: string, storedWidthPx: number) => ({
      name,
      meta: { ...info().meta, storedWidthPx },
    });
    const { used, left } = usable([shot('a', 4000), shot('b', 3000), shot('c', 4000)]);
    expect(used.map((s) => s.name)).toEqual(['a', 'c']);
    expect(left[0]!.message).toMatch(/^b is left out/);
  });
});

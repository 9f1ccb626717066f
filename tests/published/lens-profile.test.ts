import { spawnSync } from 'node:child_process';
import { describe, expect, it } from 'vitest';
import { Refusal } from '../../src/base/reason.ts';
import { readPicture } from '../../src/picture/decode-node.ts';
import type { PictureMeta } from '../../src/picture/picture.ts';
import type { Photographed } from '../../src/view/adjust.ts';
import { findBoard, type Board } from '../../src/view/board.ts';
import { lensPrior } from '../../src/view/lens.ts';
import { lensOf, profileOf } from '../../src/view/profile.ts';
import { loadVision } from '../../src/vision/load-node.ts';
import { findPython } from '../accuracy/render.ts';
import { hasOpenData, openBytes, openData, openFiles } from '../open-data.ts';

const board: Board = { columns: 9, rows: 6, squareMm: 25 };

async function photographed(folder: string, name: string): Promise<Photographed> {
  const picture = await readPicture(openBytes(folder, name), name);
  const { meta, widthPx, heightPx } = picture;
  return { found: findBoard({ cv: loadVision().cv }, picture, board), meta, widthPx, heightPx };
}

const stereo = 'calibration/stereo_pair';

/**
 * OpenCV's calibration of the same pictures, its own corners, the same model (one f, k1 k2 p1 p2): parameters f cx cy k1 k2 and
 * their standard deviations. The figures are those of OpenCV 4.6, for machines without it.
 */
const OPENCV: Readonly<Record<string, { values: number[]; sd: number[] }>> = {
  left: {
    values: [533.024, 342.483, 233.75, -0.28968, 0.09922],
    sd: [0.602, 0.677, 0.735, 0.00323, 0.01127],
  },
  right: {
    values: [536.784, 326.912, 249.039, -0.2901, 0.1045],
    sd: [0.679, 0.728, 0.777, 0.00274, 0.00488],
  },
};
const SCRIPT = `
import cv2, glob, json, numpy as np, sys
o = np.zeros((54, 3), np.float32); o[:, :2] = np.mgrid[0:9, 0:6].T.reshape(-1, 2) * 25
points = []
for f in sorted(glob.glob(sys.argv[1])):
    g = cv2.imread(f, 0)
    ok, c = cv2.findChessboardCorners(g, (9, 6), flags=cv2.CALIB_CB_ADAPTIVE_THRESH | cv2.CALIB_CB_NORMALIZE_IMAGE)
    if ok: points.append(cv2.cornerSubPix(g, c, (5, 5), (-1, -1), (3, 40, 1e-4)))
k = np.array([[500., 0, 320], [0, 500, 240], [0, 0, 1]])
flags = cv2.CALIB_FIX_K3 | cv2.CALIB_FIX_ASPECT_RATIO | cv2.CALIB_USE_INTRINSIC_GUESS
r, k, d, _, _, s, _, _ = cv2.calibrateCameraExtended([o] * len(points), points, (640, 480), k, None, flags=flags)
s, d = s.ravel(), d.ravel()
print(json.dumps(dict(values=[k[0, 0], k[0, 2], k[1, 2], d[0], d[1]], sd=[max(s[0], s[1]), s[2], s[3], s[4], s[5]])))
`;

function openCv(side: 'left' | 'right'): { values: number[]; sd: number[] } {
  const python = findPython();
  if (!python) return OPENCV[side]!;
  const { stdout } = spawnSync(python, ['-c', SCRIPT, `${openData}${stereo}/${side}[0-9]*.jpg`], {
    encoding: 'utf8',
  });
  return JSON.parse(stdout) as { values: number[]; sd: number[] };
}

describe.skipIf(!hasOpenData(stereo))(
  'a checkerboard (OpenCV sample data; left out where they are not at hand)',
  () => {
    it.each(['left', 'right'] as const)(
      'gives the lens that OpenCV gives from the same pictures and model: %s',
      async (side) => {
        const names = openFiles(stereo).filter((n) => new RegExp(`^${side}\\d+\\.jpg$`).test(n));
        const photos: Photographed[] = [];
        for (const name of names) photos.push(await photographed(stereo, name));
        expect(photos.length).toBe(13);
        const { profile, u, reasons } = profileOf(photos, 'true board');
        const { values, sd } = openCv(side);
        // Within two of OpenCV's own standard deviations, ours not even counted.
        values.forEach((v, k) =>
          expect(Math.abs(profile.values[k]! - v), profile.parameters[k]!).toBeLessThan(2 * sd[k]!),
        );
        // OpenCV's corners leave 0.196 and 0.209 px.
        expect(profile.rmsPx).toBeLessThan(0.2);
        // The board is neither flat nor true, which both cameras see: said, and counted into u.
        expect(reasons.map((r) => r.code)).toContain('board-not-true');
        const estimated = profileOf(photos, 'board');
        expect(estimated.profile.rmsPx).toBeLessThan(0.6 * profile.rmsPx);
        estimated.profile.values.forEach((v, k) =>
          expect(Math.abs(v - profile.values[k]!)).toBeLessThan(
            2 * Math.hypot(u[k]!, estimated.u[k]!),
          ),
        );
      },
      120000,
    );
  },
);

const zhang = 'calibration/zhang';

// Source: Z. Zhang, PAMI 22(11), 2000; the corner lists published with it. OpenCV 4.6 without skew: f 832.207 and 832.243 ± 2.0,
// c 304.068, 206.372 ± 1.0, k1 -0.22853 ± 0.006, k2 0.19101 ± 0.035, RMS 0.33689 px.
it.skipIf(!hasOpenData(zhang))(
  "gives Zhang's camera from his corners (left out where they are not at hand)",
  () => {
    const numbers = (name: string): number[] =>
      new TextDecoder().decode(openBytes(zhang, name)).trim().split(/\s+/).map(Number);
    const model = numbers('Model.txt');
    const meta: PictureMeta = {
      format: 'png',
      storedWidthPx: 640,
      storedHeightPx: 480,
      orientation: 1,
      hasExif: false,
    };
    const sheet = {
      version: 0,
      widthMm: 190,
      heightMm: 190,
      pitchMm: 10,
      columns: 16,
      rows: 16,
      bandCells: 8,
      originMm: { x: 0, y: 0 },
      tone: 'white' as const,
      voids: [],
      spans: [],
    };
    const photos = [1, 2, 3, 4, 5].map((n) => {
      const places = numbers(`data${n}.txt`);
      const marks = Array.from({ length: 256 }, (_, k) => ({
        // Neighbouring corners of one square are no neighbours in a lattice: all stand apart.
        i: 8 * (k % 16),
        j: 8 * Math.floor(k / 16),
        // Inches. His model's y runs from the top down to below zero, seen from its back by our frame: mirrored.
        design: { x: 10 + 25.4 * model[2 * k]!, y: 10 - 25.4 * model[2 * k + 1]! },
        picture: { x: places[2 * k]!, y: places[2 * k + 1]! },
      }));
      const found = { sheet, marks, riders: [], expected: 256, blurPx: 1, reasons: [] };
      return { found, meta, widthPx: 640, heightPx: 480 };
    });
    const lens = lensOf(
      photos.map((p) => p.found),
      lensPrior(meta, 640, 480),
      true,
    );
    const published = [832.225, 304.068, 206.372, -0.22853, 0.19101];
    // Ours has p1 and p2 besides, which move the principal point up or down: OpenCV 4.6 with the same model, from the same corners.
    const sameModel = [832.631, 304.117, 208.576, -0.22844, 0.17849];
    const sd = [2.0, 1.0, 1.0, 0.006, 0.035];
    sd.forEach((u, k) => {
      expect(Math.abs(lens.values[k]! - sameModel[k]!)).toBeLessThan(2 * u);
      if (k !== 2) expect(Math.abs(lens.values[k]! - published[k]!)).toBeLessThan(2 * u);
      expect(Math.sqrt(lens.covariance[k]![k]!)).toBeLessThan(2 * u);
    });
    expect(Math.abs(lens.rmsPx - 0.33689)).toBeLessThan(0.005);
  },
  60000,
);

const wide = 'calibration/wide720';

it.skipIf(!hasOpenData(wide))(
  'skips boards that are cut off (open data; left out where they are not at hand)',
  async () => {
    const seen: string[] = [];
    const cut: string[] = [];
    for (const name of openFiles(wide).filter((n) => n.endsWith('.jpg'))) {
      try {
        await photographed(wide, name);
        seen.push(name);
      } catch (error) {
        if (!(error instanceof Refusal)) throw error;
        expect(error.reason.code).toBe('board-not-found');
        cut.push(name);
      }
    }
    // By eye: boards 1, 4 and 5 are cut off by the picture's edge.
    expect(cut).toEqual(['calibration1.jpg', 'calibration4.jpg', 'calibration5.jpg']);
    expect(seen.length).toBe(17);
    // Two of the rest are a pixel wider and higher: no profile can hold both sizes.
    const two = [await photographed(wide, 'calibration7.jpg')];
    for (const n of [2, 3, 6, 8]) two.push(await photographed(wide, `calibration${n}.jpg`));
    expect(() => profileOf(two, 'board')).toThrow(/1281 x 721/);
  },
  120000,
);

import sharp from 'sharp';
import type { Point } from '../src/base/measure.ts';
import { resample, selfCrossing, signedArea } from '../src/geometry/measure.ts';
import type { Region } from '../src/geometry/shape.ts';

/** The largest shape in a black and white picture as a region some 60 mm across, traced along pixel edges, thinned to 400 vertices. */
export async function silhouette(file: string): Promise<Region<'sheet'> | undefined> {
  const { data, info } = await sharp(file)
    .greyscale()
    .resize(200, 200, { fit: 'contain', background: 'black' })
    .extend({ top: 2, bottom: 2, left: 2, right: 2, background: 'black' })
    .raw()
    .toBuffer({ resolveWithObject: true });
  const w = info.width;
  const ink = (x: number, y: number): boolean =>
    x >= 0 && y >= 0 && x < w && y < info.height && data[y * w + x]! > 127;
  // Moore walk round the first shape met, keeping it on the left.
  const start = data.findIndex((v) => v > 127);
  if (start < 0) return undefined;
  const steps = [
    [1, 0],
    [0, 1],
    [-1, 0],
    [0, -1],
  ] as const;
  let [x, y, heading] = [start % w, Math.floor(start / w), 0];
  const [x0, y0] = [x, y];
  const corners: Point<'sheet'>[] = [];
  do {
    corners.push({ x: x * 0.3, y: (info.height - y) * 0.3 });
    // The vertex (x, y) lies between four pixels; the shape stays on the right of the walk in the picture.
    const ahead = [
      [x, y, x, y - 1],
      [x - 1, y, x, y],
      [x - 1, y - 1, x - 1, y],
      [x, y - 1, x - 1, y - 1],
    ] as const;
    for (const turn of [3, 0, 1, 2]) {
      const next = (heading + turn) % 4;
      const [rx, ry, lx, ly] = ahead[next]!;
      if (ink(rx, ry) && !ink(lx, ly)) {
        heading = next;
        break;
      }
    }
    x += steps[heading]![0];
    y += steps[heading]![1];
  } while ((x !== x0 || y !== y0) && corners.length < 20000);
  const thin = resample(corners, Math.max(0.3, (corners.length * 0.3) / 400));
  const outer = signedArea(thin) > 0 ? thin : thin.reverse();
  return selfCrossing(outer) || Math.abs(signedArea(outer)) < 100
    ? undefined
    : { outer, holes: [] };
}

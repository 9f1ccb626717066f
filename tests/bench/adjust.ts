import { performance } from 'node:perf_hooks';
import { calibrateAll } from '../../src/view/adjust.ts';
import { quantile } from '../accuracy/table.ts';
import { simulateSeveral } from '../support/simulate-several.ts';

const PHOTOS = 8;
const MARKS = 400;

/** Adjusting eight photos of 400 marks each, ms of one processor: the median of three. */
export function adjustMs(): number {
  const { photos, settings } = simulateSeveral({
    seed: 3,
    photos: PHOTOS,
    height: 20,
    printError: 0.02,
    bow: 0.1,
    tilt: 0.25,
    fKnown: 0.035,
    rider: 50,
  });
  const thinned = photos.map((photo) => {
    const { marks } = photo.found;
    const every = Math.max(1, marks.length / MARKS);
    const kept = marks.filter((_, k) => Math.floor(k / every) !== Math.floor((k - 1) / every));
    return { ...photo, found: { ...photo.found, marks: kept } };
  });
  const times = [0, 1, 2, 3].map(() => {
    const [wall, used] = [performance.now(), process.cpuUsage()];
    calibrateAll(thinned, settings);
    // On a busy machine the clock on the wall tells of the others.
    return Math.min(performance.now() - wall, process.cpuUsage(used).user / 1000);
  });
  return quantile(times.slice(1), 0.5);
}

/**
 * npm run bench -- --nest [sets]: fifty irregular blanks of the open data's silhouettes nested on one board, beside the same
 * blanks' boxes nested by the same search in the same turns. Prints the share of the board that their openings use, the
 * bound on it, and the time.
 */
import { join } from 'node:path';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { boxOf, mapRegion } from '../../src/geometry/measure.ts';
import type { Ring } from '../../src/geometry/shape.ts';
import { nest, NEST_ROUNDS, type NestPart, type NestSettings } from '../../src/plan/nest.ts';
import { usage, type Usage } from '../../src/plan/usage.ts';
import { bedFromBlank } from '../../src/plan/plan-bed.ts';
import type { FreePlace } from '../../src/plan/plan.ts';
import type { Clipper } from '../../src/geometry/clipper.ts';
import { quantile } from '../accuracy/table.ts';
import { openData, openFiles } from '../open-data.ts';
import { silhouette } from '../silhouettes.ts';

const BLANKS = 50;
/** Larger sides, mm. */
const SIZES_MM = [40, 90] as const;
export const SETTINGS: NestSettings = {
  widthMm: 420,
  depthMm: 2000,
  wallMm: 4,
  marginMm: 5,
  turnsDeg: [0, 90, 180, 270],
};

/** Numbers below 1 that are the same in every run (Park and Miller's minimal standard). */
function numbers(seed: number): () => number {
  let state = seed;
  return () => (state = (state * 16807) % 2147483647) / 2147483647;
}

const FOLDERS = ['silhouettes/shape_sample', 'silhouettes/mpeg7'];
const known = new Map<string, Ring<'sheet'> | undefined>();

/** The outer ring of a silhouette, where it can be traced. */
async function shapeOf(path: string): Promise<Ring<'sheet'> | undefined> {
  if (!known.has(path)) known.set(path, (await silhouette(path))?.outer);
  return known.get(path);
}

/** A set of distinct silhouettes, each at a size of its own. */
export async function setOf(seed: number, count = BLANKS): Promise<NestPart[]> {
  const random = numbers(seed * 7919 + 1);
  const files = FOLDERS.flatMap((f) => openFiles(f).map((name) => join(openData, f, name)));
  for (let k = files.length - 1; k > 0; k--) {
    const j = Math.floor(random() * (k + 1));
    [files[k], files[j]] = [files[j]!, files[k]!];
  }
  const parts: NestPart[] = [];
  for (const path of files) {
    if (parts.length === count) break;
    const ring = await shapeOf(path);
    if (!ring) continue;
    const box = boxOf(ring);
    const side = SIZES_MM[0] + random() * (SIZES_MM[1] - SIZES_MM[0]);
    const scale = side / Math.max(box.right - box.left, box.top - box.bottom);
    const outer = ring.map(({ x, y }) => ({ x: x * scale, y: y * scale }));
    parts.push({ blank: parts.length + 1, opening: [{ outer, holes: [] }], count: 1 });
  }
  return parts;
}

/** The same blanks with their boxes for openings. */
export const boxed = (parts: readonly NestPart[]): NestPart[] =>
  parts.map((part) => {
    const { left, right, bottom, top } = boxOf(part.opening.flatMap(({ outer }) => outer));
    const outer = [
      { x: left, y: bottom },
      { x: right, y: bottom },
      { x: right, y: top },
      { x: left, y: top },
    ];
    return { ...part, opening: [{ outer, holes: [] }] };
  });

/** What the true openings use at these places. */
export function usedBy(
  clipper: Clipper,
  parts: readonly NestPart[],
  places: readonly FreePlace[],
  settings = SETTINGS,
): Usage {
  const kinds = parts.map(({ blank, opening, count }) => ({
    pocket: { outlineId: String(blank), opening },
    count,
  }));
  const placed = places.map((place) => ({
    opening: parts
      .find(({ blank }) => blank === place.blank)!
      .opening.map((region) => mapRegion(region, bedFromBlank(place))),
  }));
  return usage(clipper, kinds, placed, settings);
}

export async function nestTable(sets: number, rounds = NEST_ROUNDS): Promise<void> {
  const clipper = await loadClipper();
  console.log('set  nested, %  bound, %  boxes, %  gain, points  time, s');
  const gains: number[] = [];
  const times: number[] = [];
  const percent = (v: number): string => (100 * v).toFixed(1);
  for (let seed = 1; seed <= sets; seed++) {
    const parts = await setOf(seed);
    const began = process.cpuUsage();
    const true_ = nest(clipper, parts, SETTINGS, undefined, rounds);
    const spent = process.cpuUsage(began);
    const ms = (spent.user + spent.system) / 1000;
    const boxes = nest(clipper, boxed(parts), SETTINGS, undefined, rounds);
    const [a, b] = [true_, boxes].map(({ places }) => usedBy(clipper, parts, places));
    gains.push(100 * (a!.share - b!.share));
    times.push(ms / 1000);
    const row = [
      String(seed),
      percent(a!.share),
      percent(a!.bound),
      percent(b!.share),
      gains.at(-1)!.toFixed(1),
      (ms / 1000).toFixed(1),
    ];
    console.log(row.join('  '));
  }
  console.log(
    `${sets} sets of ${BLANKS} blanks: median gain over their boxes ${quantile(gains, 0.5).toFixed(1)} points (goal 10), least ${Math.min(...gains).toFixed(1)}; ` +
      `processor time of one thread, median ${quantile(times, 0.5).toFixed(1)} s, longest ${Math.max(...times).toFixed(1)} s (at most 10)`,
  );
}

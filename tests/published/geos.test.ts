import { execFileSync } from 'node:child_process';
import { beforeAll, describe, expect, it } from 'vitest';
import type { Clipper } from '../../src/geometry/clipper.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { perimeter, regionArea } from '../../src/geometry/measure.ts';
import type { Region } from '../../src/geometry/shape.ts';
import { asArcs, inArcs } from '../../src/pocket/in-arcs.ts';
import { hasOpenData, openData, openFiles } from '../open-data.ts';
import { silhouette } from '../silhouettes.ts';

/*
 * Offsets of the open silhouettes (shape samples of OpenCV; MPEG-7 CE-Shape-1) against GEOS, by shapely's buffer with
 * round joins of 128 segments a quadrant: area over edge length, and Hausdorff distance, both within 0.002 mm. Round joins in
 * chords, and in lines and arcs; mitred ones are held against GEOS in tests/unit/mouth.test.ts.
 */
const PYTHON = '/usr/bin/python3';
const BOUND_MM = 0.002;

function shapely(): string | undefined {
  try {
    return execFileSync(PYTHON, ['-c', 'import shapely; print(shapely.__version__)'], {
      encoding: 'utf8',
      stdio: ['ignore', 'pipe', 'ignore'],
    }).trim();
  } catch {
    return undefined;
  }
}
const version = shapely();
if (version === undefined)
  console.warn(`Left out: ${PYTHON} with shapely (GEOS) is not on this machine.`);
const there = ['silhouettes/shape_sample', 'silhouettes/mpeg7'].every(hasOpenData);

let clipper: Clipper;
beforeAll(async () => {
  clipper = await loadClipper();
});

const PROGRAM = `
import json, sys
from shapely.geometry import Polygon, MultiPolygon
def shape(regions):
    return MultiPolygon([Polygon(r[0], r[1:]) for r in regions])
def each(case):
    ours = shape(case["ours"])
    theirs = Polygon(case["ring"]).buffer(case["d"], 128)
    a, b = ours.boundary, theirs.boundary
    return dict(area=theirs.area, length=theirs.length, hausdorff=0 if theirs.is_empty and ours.is_empty else a.hausdorff_distance(b))
print(json.dumps([each(c) for c in json.load(sys.stdin)]))
`;

const xy = (ring: readonly { x: number; y: number }[]): number[][] => ring.map((p) => [p.x, p.y]);
const areaOf = (regions: readonly Region<'sheet'>[]): number =>
  regions.reduce((sum, r) => sum + regionArea(r), 0);

describe('offsets against GEOS', () => {
  // Every other silhouette by one of the four distances; SNUGLINE_ALL=1 takes each by all of them, in three minutes.
  const distances = [2, 0.4, -0.4, -1];
  const all = process.env['SNUGLINE_ALL'] === '1';
  it.runIf(version !== undefined && there).each(distances)(
    'of the silhouettes by %d mm, in chords and in arcs: area and Hausdorff within 0.002 mm',
    async (d) => {
      let number = 0;
      let turned = 0;
      const cases: { name: string; ring: number[][]; d: number; ours: number[][][][] }[] = [];
      const areas: { area: number; length: number }[] = [];
      for (const folder of ['silhouettes/shape_sample', 'silhouettes/mpeg7'])
        for (const name of openFiles(folder)) {
          if (!all && number++ % (2 * distances.length) !== distances.indexOf(d)) continue;
          const region = await silhouette(`${openData}${folder}/${name}`);
          if (!region) continue;
          const chords = clipper.offset([region], d, 'outward');
          const exact = clipper.offset([region], d, d > 0 ? 'inward' : 'outward');
          const arcs = inArcs(exact, [[[asArcs(region.outer)], d]]);
          turned += arcs.curves.flatMap((c) => c.segments).filter((s) => s.kind === 'arc').length;
          // Every third in lines and arcs, the others in chords; with SNUGLINE_ALL=1 each in both.
          for (const ours of all
            ? [chords, arcs.regions]
            : cases.length % 3 === 1
              ? [arcs.regions]
              : [chords]) {
            if (ours.length === 0) continue;
            areas.push({
              area: areaOf(ours),
              length: ours
                .flatMap((r) => [r.outer, ...r.holes])
                .reduce((sum, ring) => sum + perimeter(ring), 0),
            });
            cases.push({
              name: `${folder}/${name}`,
              ring: xy(region.outer),
              d,
              ours: ours.map((r) => [r.outer, ...r.holes].map(xy)),
            });
          }
        }
      // Half of the corners are outside ones of the offset, most of which are arcs.
      expect(turned).toBeGreaterThan(20 * cases.length);
      expect(cases.length).toBeGreaterThan(all ? 90 : 10);
      const seen = JSON.parse(
        execFileSync(PYTHON, ['-c', PROGRAM], {
          input: JSON.stringify(cases),
          encoding: 'utf8',
          maxBuffer: 1e8,
        }),
      ) as { area: number; length: number; hausdorff: number }[];
      const off = seen.map((s, k) => ({
        name: cases[k]!.name,
        bySideMm: Math.abs(areas[k]!.area - s.area) / s.length,
        hausdorffMm: s.hausdorff,
      }));
      const worst = (of: 'bySideMm' | 'hausdorffMm') =>
        off.reduce((a, b) => (b[of] > a[of] ? b : a));
      expect(worst('bySideMm').bySideMm).toBeLessThan(BOUND_MM);
      expect(worst('hausdorffMm').hausdorffMm).toBeLessThan(BOUND_MM);
    },
    240_000,
  );
});

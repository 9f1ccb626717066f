import { execFileSync } from 'node:child_process';
import { beforeAll, describe, expect, it } from 'vitest';
import type { Clipper } from '../../src/geometry/clipper.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { boxOf, perimeter, regionArea } from '../../src/geometry/measure.ts';
import type { Region } from '../../src/geometry/shape.ts';
import { pocketOf } from '../../src/pocket/pocket-of.ts';
import type { PocketSettings } from '../../src/pocket/pocket.ts';
import { flattenedMm, warpU } from '../../src/pocket/warp.ts';
import { hasOpenData, openData, openFiles } from '../open-data.ts';
import { card, plaque } from '../outlines.ts';
import { silhouette } from '../silhouettes.ts';

let clipper: Clipper;
beforeAll(async () => {
  clipper = await loadClipper();
});

const made = (
  shape: Region<'sheet'>,
  settings: Partial<PocketSettings>,
  standing: Parameters<typeof pocketOf>[4] = {},
  band?: readonly number[],
) =>
  pocketOf(
    clipper,
    { outlineId: 'w', blank: 1, region: shape, ...(band && { band: [band] }) },
    shape,
    {
      ...{ clearanceMm: 0.3, tool: { kind: 'mill', radiusMm: 1 }, bleedMm: 1, safeMm: 1 },
      ...settings,
    },
    standing,
  );
const area = (regions: readonly Region<'blank'>[]): number =>
  regions.reduce((sum, r) => sum + regionArea(r), 0);

describe('walls that lean or are chamfered', () => {
  // Steiner: a convex outline of area A and perimeter P grown by d has area A + P d + pi d²; the card's by ISO/IEC 7810.
  it.each([
    [5, 0, 6],
    [0, 1.5, 6],
    [3, 0.8, 4],
  ])(
    '%d degrees and %d mm over %d mm: the mouth of a card’s pocket has Steiner’s area',
    (draftDeg, chamferMm, wallMm) => {
      const { mouth, opening, wall } = made(card, { draftDeg, chamferMm }, { wallMm });
      const d = 0.3 + wallMm * Math.tan((draftDeg * Math.PI) / 180) + chamferMm;
      expect(area(mouth)).toBeCloseTo(4612.0074 + 273.7005 * d + Math.PI * d * d, 1);
      expect(area(opening)).toBeCloseTo(area(mouth), 3);
      expect(clipper.difference(wall, mouth)).toEqual([]);
    },
  );

  it('upright walls have none; a lean of unknown height shuts the files; a knife cuts upright', () => {
    expect(made(card, {}).mouth).toEqual([]);
    const codes = (s: Partial<PocketSettings>, wallMm?: number) =>
      made(card, s, wallMm === undefined ? {} : { wallMm }).reasons.map((r) => r.code);
    expect(codes({ draftDeg: 3 })).toEqual(['draft-unmeasured']);
    expect(codes({ draftDeg: 3 }, 5)).toEqual([]);
    expect(codes({ chamferMm: 1 })).toEqual([]);
    expect(codes({ draftDeg: 3, tool: { kind: 'knife', kerfMm: 0.1 } }, 5)).toEqual([
      'draft-needs-mill',
    ]);
  });
});

describe('the smallest inside radius', () => {
  // A rounded corner of radius r grown by the clearance has r + c: the card's corner is 3.18 mm by ISO/IEC 7813.
  it.each([0.1, 0.3, 1])(
    'of a card’s pocket with %d mm of clearance is its corner’s and that',
    (c) => {
      const { insideRadiusMm } = made(card, { clearanceMm: c });
      // What a cutter of radius R leaves in a corner of radius r is (R - r)(√2 - 1); a hundredth is let pass.
      const most = 3.18 + c + 0.01 / (Math.SQRT2 - 1) + 0.02;
      expect(insideRadiusMm).toBeGreaterThan(3.18 + c - 0.02);
      expect(insideRadiusMm).toBeLessThan(most);
    },
  );
  it('of a pocket with sharp corners is next to nothing, and a laser is told none', () => {
    const square: Region<'sheet'> = {
      outer: [
        { x: 0, y: 0 },
        { x: 30, y: 0 },
        { x: 30, y: 30 },
        { x: 0, y: 30 },
      ],
      holes: [],
    };
    expect(made(square, { corners: 'mitred' }).insideRadiusMm).toBeLessThan(0.06);
    expect(made(card, { tool: { kind: 'beam', kerfMm: 0.2 } }).insideRadiusMm).toBeUndefined();
  });
});

describe('a bowed blank', () => {
  it.each([
    [100, 1],
    [100, 3],
    [300, 5],
  ])('%d mm long, bowed by %d mm, is longer by what its arc is over its chord', (long, s) => {
    const ring = [
      { x: 0, y: 0 },
      { x: long, y: 0 },
      { x: long, y: 40 },
      { x: 0, y: 40 },
    ];
    // Exactly: R = (L²/4 + s²) / (2 s), arc = 2 R asin(L / 2R); the formula leaves it by a term in s⁴.
    const R = (long ** 2 / 4 + s ** 2) / (2 * s);
    const exact = (2 * R * Math.asin(long / (2 * R)) - long) / 2;
    expect(flattenedMm(ring, s)).toBeCloseTo(exact, 3);
  });
  it('widens what the clearance must hold, and the wall where the doubt is added', () => {
    const band = card.outer.map(() => 0.1);
    const grows = flattenedMm(
      card.outer.map(({ x, y }) => ({ x, y })),
      4,
    );
    expect(grows).toBeGreaterThan(0.2);
    expect(made(card, {}, {}, band).reasons).toEqual([]);
    expect(made(card, {}, { rockMm: 4 }, band).reasons.map((r) => r.code)).toEqual([
      'clearance-below-u',
    ]);
    const width = (rockMm: number): number => {
      const box = boxOf(made(card, { widen: 'all' }, { rockMm }, band).wall[0]!.outer);
      return box.right - box.left;
    };
    expect(width(4) - width(0)).toBeCloseTo(2 * grows, 2);
    expect(warpU(3)).toBeCloseTo(Math.sqrt(3), 12);
  });
});

describe('clearance that differs by direction', () => {
  const band = card.outer.map(() => 0.35);
  const said = (moreMm: readonly [number, number]) =>
    made(card, { clearanceMm: 0.3, moreMm }, {}, band).reasons.map(({ code, message }) => [
      code,
      message,
    ]);
  it('counts where it faces: a U of 0.35 mm is held by 0.3 mm and 0.2 mm more both ways, not by one way alone', () => {
    expect(said([0.2, 0.2])).toEqual([]);
    for (const one of [said([0, 0]), said([0.2, 0]), said([0, 0.2])]) {
      expect(one.map(([code]) => code)).toEqual(['clearance-below-u']);
      expect(one[0]![1]).toMatch(/0\.30? mm/);
    }
  });
});

/* Mitred joins against GEOS (shapely, join_style mitre with the same limit), where no corner is sharper than the limit of 60
 * degrees. Distances that no bay of these pixels is just twice as wide as: there a slit of no width stays or goes. */
const PYTHON = '/usr/bin/python3';
const PROGRAM = `
import json, sys
from shapely.geometry import Polygon, MultiPolygon
def each(c):
    ours = MultiPolygon([Polygon(r[0], r[1:]) for r in c["ours"]])
    theirs = Polygon(c["ring"]).buffer(c["d"], join_style=2, mitre_limit=2)
    return [abs(ours.area - theirs.area) / theirs.length, ours.boundary.hausdorff_distance(theirs.boundary)]
print(json.dumps([each(c) for c in json.load(sys.stdin)]))
`;
const hasGeos = (() => {
  try {
    execFileSync(PYTHON, ['-c', 'import shapely'], { stdio: 'ignore' });
    return true;
  } catch {
    return false;
  }
})();
if (!hasGeos) console.warn(`Left out: ${PYTHON} with shapely (GEOS) is not on this machine.`);

/** The greatest turn at a vertex, either way, radians. */
function sharpest(ring: Region<'sheet'>['outer']): number {
  return Math.max(
    ...ring.map((p, k) => {
      const a = ring[(k + ring.length - 1) % ring.length]!;
      const b = ring[(k + 1) % ring.length]!;
      const [ux, uy, vx, vy] = [p.x - a.x, p.y - a.y, b.x - p.x, b.y - p.y];
      return Math.abs(Math.atan2(ux * vy - uy * vx, ux * vx + uy * vy));
    }),
  );
}

it.runIf(hasGeos && hasOpenData('silhouettes/shape_sample'))(
  'mitred offsets of the silhouettes lie as GEOS has them, within 0.002 mm',
  async () => {
    const xy = (ring: readonly { x: number; y: number }[]) => ring.map((p) => [p.x, p.y]);
    const cases: { ring: number[][]; d: number; ours: number[][][][] }[] = [];
    const shapes = [plaque, card];
    for (const folder of ['silhouettes/shape_sample', 'silhouettes/mpeg7'].filter(hasOpenData))
      for (const name of openFiles(folder).filter((_, k) => k % 4 === 0)) {
        const region = await silhouette(`${openData}${folder}/${name}`);
        if (region) shapes.push(region);
      }
    for (const { outer } of shapes)
      for (const d of [0.37, 1.43]) {
        if (sharpest(outer) > (Math.PI * 2) / 3 - 0.01) continue;
        const ours = clipper.offset([{ outer, holes: [] }], d, 'outward', 'mitred');
        cases.push({
          ring: xy(outer),
          d,
          ours: ours.map((r) => [r.outer, ...r.holes].map(xy)),
        });
        expect(perimeter(ours[0]!.outer)).toBeGreaterThan(perimeter(outer) / 2);
      }
    expect(cases.length).toBeGreaterThan(20);
    const found = JSON.parse(
      execFileSync(PYTHON, ['-c', PROGRAM], {
        input: JSON.stringify(cases),
        encoding: 'utf8',
        maxBuffer: 1 << 28,
      }),
    ) as [number, number][];
    for (const [areaMm, hausdorffMm] of found) {
      expect(areaMm).toBeLessThan(0.002);
      expect(hausdorffMm).toBeLessThan(0.002);
    }
  },
  60_000,
);

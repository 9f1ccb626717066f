import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { cutDrawing, piecesOf } from '../../src/files/drawing.ts';
import { dxf } from '../../src/files/dxf.ts';
import { prove, seeDxf, seeSvg } from '../../src/files/read-back.ts';
import { FILE_SETTINGS } from '../../src/files/settings.ts';
import { svg } from '../../src/files/svg.ts';
import type { Clipper } from '../../src/geometry/clipper.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import type { Ring } from '../../src/geometry/shape.ts';
import { DEFAULT_BED, DEFAULT_POCKET, makeJig } from '../../src/job/jig.ts';
import type { BedPlan } from '../../src/plan/plan.ts';
import type { PocketSettings } from '../../src/pocket/pocket.ts';
import { outlineOf } from '../outlines.ts';
import { roundedRectangle } from '../shapes.ts';

/*
 * Offsets of lines and arcs in closed form: a line's is its parallel, an arc's the concentric arc whose radius differs by the
 * distance, a corner's an arc of the distance about the corner. The card is ISO/IEC 7810 ID-1, 85.60 x 53.98 mm, R 3.18.
 */
let clipper: Clipper;
beforeAll(async () => {
  clipper = await loadClipper();
});
const folder = mkdtempSync(join(tmpdir(), 'snugline-'));
afterAll(() => rmSync(folder, { recursive: true }));

const [CLEARANCE, KERF] = [0.3, 0.2];
const planOf = (outer: Ring<'sheet'>, more: Partial<PocketSettings> = {}): BedPlan =>
  makeJig(
    clipper,
    { outlines: [outlineOf({ outer, holes: [] })], verdict: 'ok', reasons: [] },
    {
      job: { number: '7-2', name: 'Cards' },
      pocket: {
        ...DEFAULT_POCKET,
        clearanceMm: CLEARANCE,
        tool: { kind: 'beam', kerfMm: KERF },
        corners: 'arcs',
        ...more,
      },
      bed: { ...DEFAULT_BED, rows: 1, columns: 2 },
    },
  ).plan;
const card = roundedRectangle(85.6, 53.98, 3.18, 0.005) as Ring<'sheet'>;

/** Arcs of a ring of a plan: radius, and where the centre lies from the pocket's own place. */
const arcsOf = (ring: Ring<'bed'>) => {
  const { start, segments } = piecesOf(ring, true);
  return segments.flatMap((s, k) => {
    const from = k === 0 ? start : segments[k - 1]!.to;
    return s.kind === 'arc'
      ? [{ ...s.centre, r: Math.hypot(from.x - s.centre.x, from.y - s.centre.y) }]
      : [];
  });
};

it('a card stays four lines and four arcs, wall and path concentric with its corners', () => {
  for (const { wall, cut, place } of planOf(card).pockets) {
    for (const [ring, radius] of [
      [wall[0]!.outer, 3.18 + CLEARANCE],
      [cut[0]!.outer, 3.18 + CLEARANCE - KERF / 2],
    ] as const) {
      expect(
        piecesOf(ring, true)
          .segments.map(({ kind }) => kind)
          .sort(),
      ).toEqual([...'aaaallll'].map((c) => (c === 'a' ? 'arc' : 'line')));
      for (const { x, y, r } of arcsOf(ring)) {
        expect(Math.abs(r - radius)).toBeLessThan(1e-4);
        expect(Math.abs(Math.abs(x - place.x) - (85.6 / 2 - 3.18))).toBeLessThan(1e-4);
        expect(Math.abs(Math.abs(y - place.y) - (53.98 / 2 - 3.18))).toBeLessThan(1e-4);
      }
    }
  }
});

it('sharp corners become arcs about the very corner; into a bay lines meet', () => {
  const ell = [
    [0, 0],
    [40, 0],
    [40, 15],
    [15, 15],
    [15, 40],
    [0, 40],
  ].map(([x, y]) => ({ x: x!, y: y! })) as Ring<'sheet'>;
  const [{ wall, cut, print }] = planOf(ell).pockets as [BedPlan['pockets'][number]];
  const kinds = piecesOf(wall[0]!.outer, true).segments.map(({ kind }) => kind);
  expect([kinds.filter((k) => k === 'arc').length, kinds.length]).toEqual([5, 11]);
  const off = (p: { x: number; y: number }): number =>
    Math.min(...print.outer.map((q) => Math.hypot(p.x - q.x, p.y - q.y)));
  for (const arc of arcsOf(wall[0]!.outer)) {
    expect(off(arc)).toBeLessThan(1e-4);
    expect(Math.abs(arc.r - CLEARANCE)).toBeLessThan(1e-4);
  }
  // The path goes round the wall's own corner in the bay, which lies the clearance from both sides of the blank.
  const path = arcsOf(cut[0]!.outer).map((arc) => [off(arc), arc.r] as const);
  expect(path).toHaveLength(6);
  for (const [fromCorner, r] of path) {
    const bay = fromCorner > 0.1;
    expect(Math.abs(fromCorner - (bay ? CLEARANCE * Math.SQRT2 : 0))).toBeLessThan(2e-4);
    expect(Math.abs(r - (bay ? KERF / 2 : CLEARANCE - KERF / 2))).toBeLessThan(1e-4);
  }
});

const hasEzdxf =
  spawnSync('/usr/bin/python3', ['-c', 'import ezdxf'], { stdio: 'ignore' }).status === 0;
const READ = `
import sys, json
import ezdxf
from ezdxf.math import bulge_center, bulge_radius
out = []
for e in ezdxf.readfile(sys.argv[1]).modelspace().query('LWPOLYLINE[layer=="cut"]'):
    v = list(e.get_points('xyb'))
    for (x, y, b), (u, w, _) in zip(v, v[1:] + (v[:1] if e.closed else [])):
        if b: out.append([bulge_radius((x, y), (u, w), b), *list(bulge_center((x, y), (u, w), b))[:2]])
print(json.dumps(out))`;

it.each([0, 3])('DXF and SVG say lines and arcs, %i bridges in the way', (tabs) => {
  const plan = planOf(card, { tabs, leadInMm: 3 });
  const drawing = cutDrawing(plan);
  const [d, s] = [dxf(drawing), svg(drawing)];
  for (const [file, seen] of [
    ['cut.dxf', seeDxf(d, 'cut.dxf')],
    ['cut.svg', seeSvg(s, 'cut.svg')],
  ] as const)
    // The reader draws arcs in chords that leave them by 0.0001 mm.
    expect(prove(file, drawing, seen).greatestMm).toBeLessThan(1.1e-4);
  const chords = { ...drawing, layers: drawing.layers.map((l) => ({ ...l, arcs: false })) };
  expect(d.length).toBeLessThan(0.2 * dxf(chords).length);
  if (!hasEzdxf) return;
  const file = join(folder, `${tabs}.dxf`);
  writeFileSync(file, d);
  const arcs = JSON.parse(
    execFileSync('/usr/bin/python3', ['-c', READ, file], { encoding: 'utf8' }),
  ) as [number, number, number][];
  expect(arcs.length).toBeGreaterThanOrEqual(8);
  for (const [r] of arcs) expect(Math.abs(r - (3.18 + CLEARANCE - KERF / 2))).toBeLessThan(2e-4);
});

it('a cutter whose lengths are corrected gets chords: a circle that is stretched is none', () => {
  const drawing = cutDrawing(planOf(card), { ...FILE_SETTINGS, cutterPerMille: [1, -2] });
  const layer = (name: string) => drawing.layers.find((l) => l.name === name)?.arcs;
  expect([layer('pocket'), layer('cut')]).toEqual([true, false]);
});

import type { Point } from '../../src/base/measure.ts';
import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { cutDrawing, type Drawing } from '../../src/files/drawing.ts';
import { CHORD_MM, dxf } from '../../src/files/dxf.ts';
import { engravingOf } from '../../src/files/engrave.ts';
import { linesOfDxf } from '../../src/files/lines-dxf.ts';
import { matchLines, matchPrinted, referenceOfPlan } from '../../src/files/match.ts';
import { prove, seeDxf } from '../../src/files/read-back.ts';
import {
  DXF_CURVES,
  DXF_VERSIONS,
  FILE_SETTINGS,
  type FileSettings,
} from '../../src/files/settings.ts';
import { arcsThrough, asCubics } from '../../src/geometry/arcs.ts';
import { onCubic } from '../../src/geometry/curve.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { boxOf } from '../../src/geometry/measure.ts';
import { Nearest } from '../../src/geometry/nearest.ts';
import type { Ring } from '../../src/geometry/shape.ts';
import { DEFAULT_BED, DEFAULT_POCKET, makeJig } from '../../src/job/jig.ts';
import type { BedPlan } from '../../src/plan/plan.ts';
import { card, outlineOf, plaque } from '../outlines.ts';

const hasEzdxf =
  spawnSync('/usr/bin/python3', ['-c', 'import ezdxf'], { stdio: 'ignore' }).status === 0;
if (!hasEzdxf) console.log('left out: checks by python3-ezdxf, which is not installed');

const folder = mkdtempSync(join(tmpdir(), 'snugline-'));
afterAll(() => rmSync(folder, { recursive: true }));

let plan: BedPlan;
const settings = (
  version: (typeof DXF_VERSIONS)[number],
  curves: (typeof DXF_CURVES)[number],
): FileSettings => ({
  ...FILE_SETTINGS,
  operations: { ...FILE_SETTINGS.operations, cut: { spot: 'cut', colour: 'red' } },
  engrave: true,
  dxf: { version, curves },
});
let drawing: Drawing;
beforeAll(async () => {
  const traced = {
    outlines: [outlineOf(card), outlineOf(plaque, { id: '2-face', blank: 2 })],
    verdict: 'ok',
    reasons: [],
  } as const;
  plan = makeJig(await loadClipper(), traced, {
    job: { number: '7-1', name: 'Plaques and cards' },
    pocket: DEFAULT_POCKET,
    bed: DEFAULT_BED,
  }).plan;
  drawing = cutDrawing(plan, settings('2000', 'polylines'));
}, 60_000);

/** What ezdxf makes of it: version, unit, faults, colours of layers, and every closed entity as points on it. */
const READ = `
import sys, json
from ezdxf import recover, path
d, a = recover.readfile(sys.argv[1])
m = d.modelspace()
out = []
for e in m:
    t = e.dxftype()
    if t in ('LWPOLYLINE', 'POLYLINE', 'SPLINE'):
        p = path.make_path(e)
        closed = e.closed if t != 'POLYLINE' else e.is_closed
        out.append([e.dxf.layer, t, bool(closed), [[v.x, v.y] for v in p.flattening(0.0001, segments=8)]])
print(json.dumps([d.dxfversion, d.units, len(a.errors), len(a.fixes), {l.dxf.name: l.dxf.color for l in d.layers}, out]))`;
type Told = [
  version: string,
  unit: number,
  errors: number,
  fixes: number,
  colours: Record<string, number>,
  lines: [layer: string, type: string, closed: boolean, points: [number, number][]][],
];

const reach = (of: Ring<'bed'>, to: Ring<'bed'>): number => {
  const nearest = new Nearest([to], 1);
  return of.reduce((most, { x, y }) => Math.max(most, nearest.distance(x, y)), 0);
};

const kinds = DXF_VERSIONS.flatMap((version) =>
  DXF_CURVES.map((curves) => ({ version, curves })),
).filter(({ version, curves }) => version === '2000' || curves !== 'splines');

describe.each(kinds)('DXF $version with $curves', ({ version, curves }) => {
  it('is the plan for our reader and the match check', () => {
    const bytes = dxf(drawing, settings(version, curves));
    const proof = prove('cut.dxf', drawing, seeDxf(bytes, 'cut.dxf'));
    expect(proof.pockets).toBe(2);
    expect(proof.greatestMm).toBeLessThan(0.001);
    const match = matchLines(referenceOfPlan(plan), linesOfDxf(bytes), 'cut.dxf');
    expect(match.reasons.filter(({ level }) => level !== 'note')).toEqual([]);
  });

  it.runIf(hasEzdxf)('is the plan for ezdxf, within 0.001 mm', () => {
    const file = join(folder, `${version}-${curves}.dxf`);
    const bytes = dxf(drawing, settings(version, curves));
    writeFileSync(file, bytes);
    const told = JSON.parse(
      execFileSync('/usr/bin/python3', ['-c', READ, file], { encoding: 'utf8', maxBuffer: 1e8 }),
    ) as Told;
    const [name, unit, errors, fixes, colours, lines] = told;
    expect([name, errors, fixes]).toEqual([version === 'R12' ? 'AC1009' : 'AC1015', 0, 0]);
    if (version === '2000') expect(unit).toBe(4);
    // Palette 1 is red, 7 black or white: DXF reference.
    expect([colours.cut, colours.engrave]).toEqual([1, 7]);
    const wanted = drawing.layers.flatMap(({ name: layer, closed, open }) => [
      ...closed.map(({ ring }) => ({ layer, ring, closed: true })),
      ...open.map((ring) => ({ layer, ring, closed: false })),
    ]);
    expect(lines).toHaveLength(wanted.length);
    wanted.forEach(({ layer, ring, closed }, k) => {
      const [l, , c, points] = lines[k]!;
      expect([l, c]).toEqual([layer, closed]);
      const seen = points.map(([x, y]) => ({ x, y }));
      expect(reach(ring, seen)).toBeLessThan(0.001);
      expect(reach(seen, ring)).toBeLessThan((closed ? CHORD_MM : 0) + 0.001);
    });
    const cut = lines.filter(([layer]) => layer === 'cut').map(([, type]) => type);
    expect(new Set(cut)).toEqual(
      new Set([version === 'R12' ? 'POLYLINE' : curves === 'splines' ? 'SPLINE' : 'LWPOLYLINE']),
    );
    if (curves !== 'polylines')
      expect(bytes.length).toBeLessThan(0.5 * dxf(drawing, settings(version, 'polylines')).length);
  });
});

it('arcs stand for arcs: the corners of a card are four, with its radius', () => {
  // ISO/IEC 7810 ID-1: corners of 3.18 mm; 0.3 mm of clearance makes walls of 3.48 mm.
  const ring = plan.pockets[0]!.wall[0]!.outer;
  const { segments, start } = arcsThrough(ring, 0.0005, CHORD_MM);
  const radii = segments.flatMap((s, k) => {
    const from = k === 0 ? start : segments[k - 1]!.to;
    return s.kind === 'arc' ? [Math.hypot(from.x - s.centre.x, from.y - s.centre.y)] : [];
  });
  const turned = segments.reduce((sum, s) => sum + (s.kind === 'arc' ? s.sweepRad : 0), 0);
  // The wall's chords leave the corner by up to 0.001 mm; where an arc begins and ends is known to half a degree.
  expect(Math.abs(turned - 2 * Math.PI)).toBeLessThan(4 * 0.0087);
  expect(segments.length).toBeLessThan(40);
  for (const r of radii) expect(Math.abs(r - 3.48)).toBeLessThan(0.05);
});

it('a corner stays a corner, and a polygon of long sides one of straight sides', () => {
  const square = [
    { x: 0, y: 0 },
    { x: 10, y: 0 },
    { x: 10, y: 10 },
    { x: 0, y: 10 },
  ];
  const { segments } = arcsThrough<'bed'>(square, 0.0005, CHORD_MM);
  expect(segments.map(({ kind }) => kind)).toEqual(['line', 'line', 'line', 'line']);
});

it('cubics leave an arc by less than a millionth of its radius', () => {
  const r = 100;
  const curve = asCubics<'bed'>({
    start: { x: r, y: 0 },
    segments: [
      {
        kind: 'arc',
        centre: { x: 0, y: 0 },
        sweepRad: 2.5,
        to: { x: r * Math.cos(2.5), y: r * Math.sin(2.5) },
      },
    ],
  });
  let from = curve.start;
  for (const { c1, c2, to } of curve.segments) {
    for (let t = 0; t <= 1; t += 0.05) {
      const { x, y } = onCubic(from, c1, c2, to, t);
      expect(Math.abs(Math.hypot(x, y) - r)).toBeLessThan(r / 1e6);
    }
    from = to;
  }
  expect(Math.hypot(from.x - r * Math.cos(2.5), from.y - r * Math.sin(2.5))).toBe(0);
});

it('number, revision and code lie on the board, clear of every pocket, nearest the zero corner', () => {
  const { words, strokes, reason } = engravingOf(plan, settings('2000', 'polylines'));
  expect(reason).toBeUndefined();
  expect(words).toBe(`7-1 A ${plan.digest.slice(0, 8).toUpperCase()}`);
  const box = boxOf(strokes.flat());
  expect(box.left).toBeGreaterThanOrEqual(1.9);
  // Above the words that layer mark has along the edge there, and no farther than need be.
  const lettered = cutDrawing(plan).layers.find(({ name }) => name === 'mark')!.lettering;
  const edge = lettered.filter(({ at }) => at.y < 5).map(({ at, heightMm }) => at.y + heightMm / 2);
  expect(edge.length).toBeGreaterThan(1);
  expect(box.bottom).toBeGreaterThan(Math.max(...edge) + 1.5);
  expect(Math.hypot(box.left, box.bottom)).toBeLessThan(8);
  for (const { opening } of plan.pockets) {
    const near = reach(strokes.flat(), opening[0]!.outer);
    expect(near).toBeGreaterThan(2);
  }
  const tight = {
    ...plan,
    bed: { ...plan.bed, keepOuts: [{ what: 'clamp', xMm: 0, yMm: 0, widthMm: 420, depthMm: 297 }] },
  };
  const none = engravingOf(tight, settings('2000', 'polylines'));
  expect(none.strokes).toEqual([]);
  expect(none.reason?.message).toMatch(/No free place of \d+ x \d+ mm/);
});

// Law: a cutter that makes lengths k times too long comes to the plan where it is sent to the k-th part, counted from zero.
describe.each([
  { cutterPerMille: [-0.6, 0.3] as const },
  { cutterPerMille: [-0.6, 0.3, 0.8] as const },
])('a cutter whose scale was measured: $cutterPerMille in a thousand', ({ cutterPerMille }) => {
  const cuts = ({ x, y }: Point<'bed'>): Point<'bed'> => ({
    x: 0.9994 * x + ((cutterPerMille[2] ?? 0) / 1000) * y,
    y: 1.0003 * y,
  });
  const own = { ...FILE_SETTINGS, cutterPerMille };
  const lines = (): ReturnType<typeof linesOfDxf> => linesOfDxf(dxf(cutDrawing(plan, own), own));

  it('comes to the planned path when it follows layer cut; layer pocket is where the walls shall stand', () => {
    const cutting = lines()
      .rings.filter((r) => r.layer === 'cut')
      .map(({ points }) => points.map(cuts));
    const paths = plan.pockets.flatMap((p) => p.cut.map((r) => r.outer));
    expect(cutting).toHaveLength(paths.length);
    cutting.forEach((ring) => {
      expect(Math.min(...paths.map((path) => reach(ring, path)))).toBeLessThan(0.001);
    });
    const walls = lines().rings.filter((r) => r.layer === 'pocket');
    const planned = plan.pockets.flatMap((p) => p.wall.map((r) => r.outer));
    walls.forEach(({ points }) => {
      expect(Math.min(...planned.map((wall) => reach(points, wall)))).toBeLessThan(0.001);
    });
  });

  it('is known to the match check: a file of before is another one', () => {
    const verdict = (of: Pick<FileSettings, 'cutterPerMille'>, bytes: Uint8Array): string =>
      matchPrinted(referenceOfPlan(plan, of), undefined, linesOfDxf(bytes), 'cut.dxf').verdict;
    expect(verdict(own, dxf(cutDrawing(plan, own), own))).toBe('agrees');
    expect(verdict(own, dxf(cutDrawing(plan), FILE_SETTINGS))).toBe('differs');
  });
});

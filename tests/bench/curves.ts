/**
 * npm run bench -- --curves [every]: the silhouettes of the open data, drawn into pictures through a tilted view, their edges
 * measured, and the measured points given curves: nodes, greatest deviation (both ways) and time, beside simplify-js and
 * potrace (on a mask whose pixel is the tolerance). Then smooth analytic shapes, their nodes against the sixth-power law of a cubic on an arc
 * (4.246e-6 R for an eighth of a circle, see tests/published/curves.test.ts).
 */
import { join } from 'node:path';
import sharp from 'sharp';
import { deviation, fitCurves, type Measured } from '../../src/geometry/fit.ts';
import { lightRing } from '../../src/geometry/light.ts';
import { boxOf, signedArea } from '../../src/geometry/measure.ts';
import type { CurveRing, Ring } from '../../src/geometry/shape.ts';
import { measureEdge } from '../../src/outline/edge.ts';
import { codedOfLinear, lightsOf } from '../../src/outline/linear.ts';
import { CORNER, pointsOfCurve, type MaskCurve } from '../../src/outline/mask-curves.ts';
import { curvesOfMask } from '../../src/outline/potrace.ts';
import type { Picture } from '../../src/picture/picture.ts';
import { columns, quantile } from '../accuracy/table.ts';
import { openData, openFiles } from '../open-data.ts';

const FOLDERS = ['silhouettes/shape_sample', 'silhouettes/mpeg7'];
/** Largest side of a silhouette once it is a blank, mm. */
const SIZE_MM = 120;
const PX_PER_MM = 10;
const BLUR_PX = 0.65;
const FINER = 4;
const MARGIN_PX = 60;
const TOLERANCES_MM = [0.02, 0.05];

type Flat = Ring<'blank'>;

/** Sheet mm to picture px of a camera some four degrees aslant, and back. */
const SLANT = { x: 2.2e-4, y: -1.6e-4 };
const toPicture = (p: { x: number; y: number }): [number, number] => {
  const w = 1 + SLANT.x * p.x + SLANT.y * p.y;
  return [MARGIN_PX + (PX_PER_MM * p.x) / w, MARGIN_PX + (PX_PER_MM * p.y) / w];
};
const toSheet = (u: number, v: number): { x: number; y: number } => {
  const a = (u - MARGIN_PX) / PX_PER_MM;
  const b = (v - MARGIN_PX) / PX_PER_MM;
  const w = 1 / (1 - SLANT.x * a - SLANT.y * b);
  return { x: a * w, y: b * w };
};

/** The smooth edge of a silhouette's mask, its largest part without holes, mm; potrace's reading of the pixels counts as the true shape. */
async function shapeOf(path: string): Promise<Flat> {
  const { data, info } = await sharp(path)
    .extend({ top: 4, bottom: 4, left: 4, right: 4, background: 'black' })
    .greyscale()
    .raw()
    .toBuffer({ resolveWithObject: true });
  const most = data.reduce((a, b) => Math.max(a, b), 0);
  const mask = Uint8Array.from({ length: info.width * info.height }, (_, k) =>
    data[k * info.channels]! > most / 2 ? 1 : 0,
  );
  const rings = curvesOfMask(mask, info.width, info.height).map((c) => ringOf(c, 0.2));
  const ring = rings.reduce((a, b) => (Math.abs(signedArea(b)) > Math.abs(signedArea(a)) ? b : a));
  const box = boxOf(ring);
  const scale = SIZE_MM / Math.max(box.right - box.left, box.top - box.bottom);
  return ring.map((p) => ({ x: (p.x - box.left) * scale, y: (p.y - box.bottom) * scale }));
}

function ringOf(curve: MaskCurve, spacing: number): Flat {
  const flat = pointsOfCurve(curve, spacing);
  return Array.from({ length: flat.length / 2 }, (_, k) => ({
    x: flat[2 * k]!,
    y: flat[2 * k + 1]!,
  }));
}

/** A picture of a dark shape on a light ground. */
async function pictureOf(shape: Flat): Promise<Picture> {
  const at = shape.map(toPicture);
  const widthPx = Math.ceil(Math.max(...at.map(([u]) => u)) + MARGIN_PX);
  const heightPx = Math.ceil(Math.max(...at.map(([, v]) => v)) + MARGIN_PX);
  // SVG counts from pixel corners.
  const path = at.map(
    ([u, v]) => `${((u + 0.5) * FINER).toFixed(3)},${((v + 0.5) * FINER).toFixed(3)}`,
  );
  const svg = `<svg xmlns="http://www.w3.org/2000/svg" width="${widthPx * FINER}" height="${heightPx * FINER}"><rect width="100%" height="100%" fill="white"/><polygon points="${path.join(' ')}" fill="black"/></svg>`;
  const large = await sharp(Buffer.from(svg), { limitInputPixels: false, unlimited: true })
    .greyscale()
    .raw()
    .toBuffer();
  const linear = new Float32Array(widthPx * heightPx);
  for (let y = 0; y < heightPx * FINER; y++)
    for (let x = 0; x < widthPx * FINER; x++)
      linear[Math.floor(y / FINER) * widthPx + Math.floor(x / FINER)]! +=
        large[y * widthPx * FINER + x]! / 255 / FINER ** 2;
  const soft = blurred(linear, widthPx, heightPx, BLUR_PX);
  const data = new Uint8Array(3 * widthPx * heightPx);
  let state = 97;
  const noise = (): number => (state = (state * 16807) % 2147483647) / 2147483647 - 0.5;
  soft.forEach((v, k) => {
    const value = 255 * codedOfLinear(0.08 + 0.62 * v) + 4 * (noise() + noise());
    data.fill(Math.round(value), 3 * k, 3 * k + 3);
  });
  const meta = {
    format: 'png' as const,
    bitsPerChannel: 8 as const,
    storedWidthPx: widthPx,
    storedHeightPx: heightPx,
    orientation: 1 as const,
    hasExif: false,
  };
  return { name: 'drawn', widthPx, heightPx, channels: 3, data, meta };
}

function blurred(plane: Float32Array, width: number, height: number, sigma: number): Float32Array {
  const reach = 4;
  const weights = Array.from({ length: 2 * reach + 1 }, (_, k) =>
    Math.exp(-((k - reach) ** 2) / 2 / sigma ** 2),
  );
  const sum = weights.reduce((a, b) => a + b, 0);
  const pass = (
    from: Float32Array,
    step: number,
    count: number,
    place: (k: number) => number,
  ): Float32Array =>
    from.map((_, k) => {
      const at = place(k);
      let v = 0;
      for (let d = -reach; d <= reach; d++)
        v +=
          weights[d + reach]! * from[k + step * (Math.max(0, Math.min(count - 1, at + d)) - at)]!;
      return v / sum;
    });
  const once = pass(plane, 1, width, (k) => k % width);
  return pass(once, width, height, (k) => Math.floor(k / width));
}

/** The points that the edge finder measures on a picture of the shape. */
async function measuredOf(shape: Flat): Promise<Measured<'blank'> | undefined> {
  const lights = lightsOf(await pictureOf(shape));
  const start = Float64Array.from(shape.flatMap(toPicture));
  const edge = measureEdge(lights, start, false, BLUR_PX, 4, undefined);
  if (!edge) return undefined;
  const points = Array.from({ length: edge.count }, (_, k) => toSheet(edge.x[k]!, edge.y[k]!));
  const sigmas = edge.sigma.map((s) => s / PX_PER_MM);
  return { points, corner: edge.corner, sigmaMm: quantile([...sigmas], 0.5), sigmas };
}

/** potrace on a mask of the measured ring with the tolerance as its pixel. */
async function potraced(points: Flat, tolerance: number): Promise<{ nodes: number; ring: Flat }> {
  const box = boxOf(points);
  const place = (p: { x: number; y: number }): [number, number] => [
    (p.x - box.left) / tolerance + 4,
    (p.y - box.bottom) / tolerance + 4,
  ];
  const width = Math.ceil((box.right - box.left) / tolerance) + 8;
  const height = Math.ceil((box.top - box.bottom) / tolerance) + 8;
  const path = points.map(place).map(([u, v]) => `${u.toFixed(3)},${v.toFixed(3)}`);
  const svg = `<svg xmlns="http://www.w3.org/2000/svg" width="${width}" height="${height}"><rect width="100%" height="100%" fill="black"/><polygon points="${path.join(' ')}" fill="white"/></svg>`;
  const grey = await sharp(Buffer.from(svg), { limitInputPixels: false, unlimited: true })
    .greyscale()
    .raw()
    .toBuffer();
  const mask = Uint8Array.from(grey, (v) => (v > 127 ? 1 : 0));
  const curves = curvesOfMask(mask, width, height);
  const curve = curves.reduce((a, b) => (b.kinds.length > a.kinds.length ? b : a));
  const nodes = curve.kinds.reduce((sum, kind) => sum + (kind === CORNER ? 2 : 1), 0);
  const ring = ringOf(curve, 0.5).map((p) => ({
    x: (p.x + 0.5 - 4) * tolerance + box.left,
    y: (p.y + 0.5 - 4) * tolerance + box.bottom,
  }));
  return { nodes, ring };
}

const polyline = (ring: Flat): CurveRing<'blank'> => ({
  start: ring[0]!,
  segments: [...ring.slice(1), ring[0]!].map((to) => ({ kind: 'line', to })),
});

/** Nodes that the sixth-power law allows a smooth curve (every place as an arc of its own curvature): sum of turn, mm. */
function sixthPower(ring: Flat, tolerance: number): number {
  let sum = 0;
  ring.forEach((q, k) => {
    const p = ring[(k + ring.length - 1) % ring.length]!;
    const r = ring[(k + 1) % ring.length]!;
    const [ax, ay, bx, by] = [q.x - p.x, q.y - p.y, r.x - q.x, r.y - q.y];
    const turn = Math.abs(Math.atan2(ax * by - ay * bx, ax * bx + ay * by));
    const length = (Math.hypot(ax, ay) + Math.hypot(bx, by)) / 2;
    const radius = length / Math.max(turn, 1e-12);
    sum += (turn / (Math.PI / 4)) * ((4.246e-6 * radius) / tolerance) ** (1 / 6);
  });
  return sum;
}

interface Row {
  readonly name: string;
  readonly cells: readonly number[];
}

const SMOOTH: readonly (readonly [string, (t: number) => [number, number]])[] = [
  ['circle R 50', (t) => [50 * Math.cos(t), 50 * Math.sin(t)]],
  ['ellipse 50, 30', (t) => [50 * Math.cos(t), 30 * Math.sin(t)]],
  ['ellipse 50, 10', (t) => [50 * Math.cos(t), 10 * Math.sin(t)]],
  [
    'superellipse 30, 20, n 2.5',
    (t) => [
      30 * Math.sign(Math.cos(t)) * Math.abs(Math.cos(t)) ** 0.8,
      20 * Math.sign(Math.sin(t)) * Math.abs(Math.sin(t)) ** 0.8,
    ],
  ],
  [
    'lobes',
    (t) => [(40 + 6 * Math.cos(5 * t)) * Math.cos(t), (40 + 6 * Math.cos(5 * t)) * Math.sin(t)],
  ],
  ['bean', (t) => [45 * Math.cos(t) + 8 * Math.cos(2 * t), 30 * Math.sin(t) + 6 * Math.cos(2 * t)]],
];

export async function curvesTable(every: number): Promise<void> {
  for (const tolerance of TOLERANCES_MM) {
    const rows: Row[] = [];
    const files = FOLDERS.flatMap((f) => openFiles(f).map((name) => ({ f, name })));
    for (const { f, name } of files.filter((_, k) => k % every === 0)) {
      const shape = await shapeOf(join(openData, f, name));
      const measured = await measuredOf(shape);
      if (!measured) continue;
      const began = performance.now();
      const fitted = fitCurves(measured, tolerance);
      const ms = performance.now() - began;
      const light = lightRing(measured.points, tolerance);
      const traced = await potraced(measured.points, tolerance);
      rows.push({
        name: name.replace(/\.png$/, ''),
        cells: [
          fitted.curve.segments.length,
          traced.nodes,
          light.length,
          fitted.deviationMm,
          deviation(polyline(traced.ring), measured.points),
          deviation(polyline(light), measured.points),
          deviation(fitted.curve, shape),
          measured.sigmaMm,
          measured.corner.reduce((a: number, b) => a + (b ? 1 : 0), 0),
          ms,
        ],
      });
    }
    console.log(
      `\nTolerance ${tolerance} mm, ${rows.length} silhouettes of ${SIZE_MM} mm (mm; dev. from the measured points, both ways)`,
    );
    const head = [
      '',
      'nodes',
      'potrace',
      'simplify',
      'dev',
      'dev potr',
      'dev simpl',
      'to shape',
      'sigma',
      'corners',
      'ms',
    ];
    const text = (cells: readonly number[]): string[] =>
      cells.map((c, k) =>
        k < 3 || k === 8 ? c.toFixed(0) : k === 9 ? c.toFixed(0) : c.toFixed(3),
      );
    console.log(columns([head, ...rows.map((r) => [r.name, ...text(r.cells)])]));
    const of = (k: number): number[] => rows.map((r) => r.cells[k]!);
    const total = (k: number): number => of(k).reduce((a, b) => a + b, 0);
    console.log(
      `in all: ${total(0)} nodes, potrace ${total(1)}, simplify-js ${total(2)}; more nodes than potrace in ${rows.filter((r) => r.cells[0]! > r.cells[1]!).length}, than simplify-js in ${rows.filter((r) => r.cells[0]! > r.cells[2]!).length}; ` +
        `beyond the tolerance ${rows.filter((r) => r.cells[3]! > tolerance).length}, potrace ${rows.filter((r) => r.cells[4]! > tolerance).length}; ${total(9).toFixed(0)} ms`,
    );
    const smooth = SMOOTH.map(([name, at]): Row => {
      const n = 4000;
      const points = Array.from({ length: n }, (_, k) => {
        const [x, y] = at((2 * Math.PI * k) / n);
        return { x, y };
      });
      // The points a picture would give, every tenth of a millimetre, without noise.
      const fitted = fitCurves({ points, corner: new Uint8Array(n), sigmaMm: 0.0001 }, tolerance);
      const law = sixthPower(points, tolerance);
      return {
        name,
        cells: [
          fitted.curve.segments.length,
          law,
          fitted.curve.segments.length / Math.max(law, 1),
          fitted.deviationMm,
        ],
      };
    });
    console.log(
      columns([
        ['smooth shapes', 'nodes', 'law', 'ratio', 'dev'],
        ...smooth.map((r) => [
          r.name,
          r.cells[0]!.toFixed(0),
          r.cells[1]!.toFixed(1),
          r.cells[2]!.toFixed(2),
          r.cells[3]!.toFixed(4),
        ]),
      ]),
    );
  }
}

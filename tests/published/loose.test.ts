import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Point } from '../../src/base/measure.ts';
import type { Region } from '../../src/geometry/shape.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { FIXTURE } from '../after/load-scenes.ts';
import { readTruth } from '../accuracy/truth.ts';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));
const hasPoppler = spawnSync('pdftoppm', ['-v'], { stdio: 'ignore' }).status === 0;
if (!hasPoppler) console.log('left out: checks by poppler (pdftoppm), which is not installed');

/** Side of one pixel of the page as poppler draws it, mm. */
const DPI = 200;
const MM = 25.4 / DPI;
const BLEED_MM = 2;

/** Middle and direction of an area: its centroid and the axis of its least moment of inertia, by sums over places. */
function momentsOf(points: Iterable<readonly [x: number, y: number]>) {
  let [n, x, y, xx, yy, xy] = [0, 0, 0, 0, 0, 0];
  for (const [px, py] of points) {
    n++;
    x += px;
    y += py;
    xx += px * px;
    yy += py * py;
    xy += px * py;
  }
  [x, y] = [x / n, y / n];
  const [a, b, c] = [xx / n - x * x, yy / n - y * y, xy / n - x * y];
  return { x, y, deg: (Math.atan2(2 * c, a - b) * 90) / Math.PI, mm2: n };
}

describe.runIf(hasPoppler)(
  'a bed loaded without a jig, from two photos to the printed page',
  () => {
    const folder = mkdtempSync(join(tmpdir(), 'snugline-'));
    const path = (name: string): string => join(folder, name);
    afterAll(() => rmSync(folder, { recursive: true }));
    const snugline = (...args: string[]): string => {
      const { status, stdout, stderr } = spawnSync(
        process.execPath,
        ['--import', 'tsx', join(ROOT, 'src/cli/main.ts'), ...args],
        { cwd: ROOT, encoding: 'utf8' },
      );
      if (status !== 0) throw new Error(`${args[0]}: ${status} ${stderr}`);
      return stdout;
    };
    const loose = (...more: string[]): string =>
      snugline(
        ...['loose', '--outline', path('outline.json'), '--bed', '297x420'],
        ...[join(ROOT, 'fixtures/e01-load.jpg'), '--widest', '8.82'],
        // Truly 140.164, 139.909 and 141.442.
        ...['--spans', 'x=140.17,y=139.89,d=141.45', '--count', '1=3', ...more],
      );

    beforeAll(() => {
      // What the blank's own photo is measured with stands in tests/accuracy/cases.json.
      snugline(
        ...['trace', join(ROOT, 'fixtures/o03-opener-rider.jpg'), '--thickness', '10.02'],
        ...[
          '--widest',
          '8.82',
          '--spans',
          'x=140.09,y=139.91,d=141.41',
          '--rider-span',
          '50=49.97',
        ],
        ...['--out', path('outline.json')],
      );
      writeFileSync(
        path('art.svg'),
        '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" viewBox="0 0 2 2"><rect width="2" height="2"/></svg>',
      );
      loose('--artwork', path('art.svg'), '--art-size', '1', '--out', path('release'));
    }, 300_000);

    it('prints every piece where it lies, as the printer that printed the marks lays ink (truth by the independent renderer; page drawn by poppler)', async () => {
      const page = path('release/load-print.pdf');
      spawnSync('pdftoppm', [
        '-r',
        String(DPI),
        '-gray',
        '-png',
        '-singlefile',
        page,
        path('page'),
      ]);
      const { data, info } = await sharp(readFileSync(path('page.png')))
        .greyscale()
        .raw()
        .toBuffer({ resolveWithObject: true });
      expect(info.width * MM).toBeCloseTo(297, 0);
      expect(info.height * MM).toBeCloseTo(420, 0);
      // What was sent to (u, v) lands at (scaleX u + shear v, scaleY v): the printer of the scene.
      const { scaleX, scaleY, shear } = FIXTURE.print!;
      const clipper = await loadClipper();
      const { blanks } = readTruth(join(ROOT, 'fixtures/e01-load.truth.json'));
      const ring = (r: readonly (readonly [number, number])[]): Point<'bed'>[] =>
        r.map(([x, y]) => ({ x, y }));
      expect(blanks).toHaveLength(3);
      for (const { widest } of blanks) {
        // The face stands back from the widest place by the edge's radius; the artwork reaches past the face by its bleed.
        const grown = (mm: number): Region<'bed'> =>
          clipper.offset<'bed'>(
            [{ outer: ring(widest[0]!), holes: widest.slice(1).map(ring) }],
            mm,
            'outward',
          )[0]!;
        const printed: (readonly [number, number])[] = [];
        // Wherever ink would land on the piece or beside it.
        for (const [x, y] of within([grown(4).outer])) {
          const v = y / scaleY;
          const u = (x - shear * v) / scaleX;
          const [column, row] = [Math.floor(u / MM), Math.floor((420 - v) / MM)];
          if (data[row * info.width + column]! < 128) printed.push([x, y]);
        }
        const area = grown(BLEED_MM - FIXTURE.kinds[0]!.roundMm!);
        const wanted = momentsOf(within([area.outer, ...area.holes]));
        const seen = momentsOf(printed);
        expect(Math.hypot(seen.x - wanted.x, seen.y - wanted.y)).toBeLessThan(0.15);
        expect(Math.abs(seen.deg - wanted.deg)).toBeLessThan(0.1);
      }
    });

    it('is shut where the print may land farther off than the artwork allows', () => {
      expect(() => loose('--bleed', '0.05')).toThrow(
        /may land 0\.\d+ mm off, and its bleed is 0.05 mm/,
      );
    });

    it('refuses a sheet that is not the bed, with both sizes', () => {
      const { stderr } = spawnSync(
        process.execPath,
        [
          ...['--import', 'tsx', join(ROOT, 'src/cli/main.ts'), 'loose'],
          ...['--outline', path('outline.json'), '--bed', '420x297', '--widest', '8.82'],
          ...[join(ROOT, 'fixtures/e01-load.jpg'), '--spans', 'x=140.17,y=139.89,d=141.45'],
        ],
        { cwd: ROOT, encoding: 'utf8' },
      );
      expect(stderr).toMatch(
        /marks in e01-load\.jpg are those of a sheet of 297 x 420 mm, and the bed is 420 x 297 mm/,
      );
    });
  },
);

/** Places of a fine grid that lie within rings. */
function* within(
  rings: readonly (readonly Point<'bed'>[])[],
): Generator<readonly [number, number]> {
  const ys = rings.flatMap((ring) => ring.map((p) => p.y));
  const [y0, y1] = [Math.min(...ys), Math.max(...ys)];
  for (let y = y0; y < y1; y += MM) {
    // Even-odd along a line: between its first and second crossing, its third and fourth.
    const crossings = rings.flatMap((ring) =>
      ring.flatMap((p, k) => {
        const q = ring[(k + 1) % ring.length]!;
        return p.y > y !== q.y > y ? [p.x + ((y - p.y) / (q.y - p.y)) * (q.x - p.x)] : [];
      }),
    );
    crossings.sort((a, b) => a - b);
    for (let k = 0; k + 1 < crossings.length; k += 2)
      for (let x = crossings[k]!; x < crossings[k + 1]!; x += MM) yield [x, y];
  }
}

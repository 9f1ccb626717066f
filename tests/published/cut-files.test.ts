import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { cutDrawing } from '../../src/files/drawing.ts';
import { eps } from '../../src/files/eps.ts';
import { pdf } from '../../src/files/pdf.ts';
import { FILE_SETTINGS, type FileSettings } from '../../src/files/settings.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import type { Ring } from '../../src/geometry/shape.ts';
import { DEFAULT_BED, DEFAULT_POCKET, makeJig } from '../../src/job/jig.ts';
import type { BedPlan } from '../../src/plan/plan.ts';
import { card, outlineOf, plaque } from '../outlines.ts';

const has = (command: string, ...args: string[]): boolean =>
  spawnSync(command, args, { stdio: 'ignore' }).status === 0;
const hasGhostscript = has('gs', '--version');
if (!hasGhostscript) console.log('left out: checks by Ghostscript, which is not installed');

const folder = mkdtempSync(join(tmpdir(), 'snugline-'));
const path = (name: string): string => join(folder, name);
afterAll(() => rmSync(folder, { recursive: true }));

let plan: BedPlan;
beforeAll(async () => {
  const traced = {
    outlines: [outlineOf(card), outlineOf(plaque, { id: '2-face', blank: 2 })],
    verdict: 'ok',
    reasons: [],
  } as const;
  plan = makeJig(await loadClipper(), traced, {
    job: { number: '7-1', name: 'Plaques (two) & cards' },
    pocket: DEFAULT_POCKET,
    bed: { ...DEFAULT_BED, rows: 2, columns: 2 },
  }).plan;
}, 60_000);

/**
 * Instead of painting a line, Ghostscript tells its path in the user's own unit, and whether it is in a spot colour. The
 * box device counts 4000 to the inch and a path 256 to that, so it rounds to 0.00003 mm.
 */
const TELL = `
/spot { currentcolorspace dup 0 get /Separation eq { 1 get } { pop /none } ifelse } bind def
/stroke {
  (path ) print currentlinewidth =only ( ) print spot =
  { exch =only ( ) print = } { exch =only ( ) print = }
  { 6 { pop } repeat (curve) = } { (closed) = } pathforall newpath
} bind def
/showpage {} def
`;

interface Told {
  readonly spot: string;
  readonly widthMm: number;
  readonly closed: boolean;
  readonly points: Ring<'bed'>;
}
function toldByGhostscript(name: string): Told[] {
  writeFileSync(path('tell.ps'), TELL);
  const words = execFileSync(
    'gs',
    ['-q', '-dBATCH', '-dNOPAUSE', '-sDEVICE=bbox', path('tell.ps'), path(name)],
    { encoding: 'utf8', maxBuffer: 1e8, stdio: ['ignore', 'pipe', 'ignore'] },
  );
  return words
    .split('path ')
    .slice(1)
    .map((part) => {
      const [head, ...rest] = part.trim().split('\n');
      const [width, ...spot] = head!.split(' ');
      const closed = rest.includes('closed');
      const points = rest
        .filter((line) => line !== 'closed')
        .map((line) => {
          const [x, y] = line.split(' ').map(Number) as [number, number];
          return { x, y };
        });
      return { spot: spot.join(' '), widthMm: Number(width), closed, points };
    });
}

const settings: FileSettings = {
  ...FILE_SETTINGS,
  operations: { ...FILE_SETTINGS.operations, cut: { spot: 'Through cut', colour: 'red' } },
};

describe.runIf(hasGhostscript)('cut.eps, read by Ghostscript', () => {
  it('shows every line of the plan at its place, those to cut as hairlines in the spot colour', () => {
    const drawing = cutDrawing(plan);
    writeFileSync(path('cut.eps'), eps(drawing, settings));
    const told = toldByGhostscript('cut.eps');
    const wanted = drawing.layers.flatMap(({ name, closed, open }) => [
      ...closed.map(({ ring }) => ({ name, points: ring, closed: true })),
      ...open.map((points) => ({ name, points, closed: false })),
    ]);
    expect(told).toHaveLength(wanted.length);
    let greatest = 0;
    wanted.forEach(({ name, points, closed }, k) => {
      const there = told[k]!;
      expect(there.closed).toBe(closed);
      // PostScript ends a closed path where it began.
      const seen = there.points.slice(0, points.length);
      expect(seen).toHaveLength(points.length);
      points.forEach(({ x, y }, i) => {
        greatest = Math.max(greatest, Math.hypot(x - seen[i]!.x, y - seen[i]!.y));
      });
      expect(there.spot).toBe(name === 'cut' ? 'Through cut' : 'none');
      if (name === 'cut') expect(there.widthMm).toBeCloseTo(0.0254, 3);
    });
    expect(greatest).toBeLessThan(0.001);
  });

  it('has the bed as its box, and paints nothing outside it', () => {
    writeFileSync(path('cut.eps'), eps(cutDrawing(plan), settings));
    const { stderr } = spawnSync(
      'gs',
      ['-q', '-dBATCH', '-dNOPAUSE', '-sDEVICE=bbox', path('cut.eps')],
      {
        encoding: 'utf8',
      },
    );
    // 420 x 297 mm are 1190.5512 x 841.8898 pt; 4000 dots to the inch are 0.018 pt each.
    const [whole, exact] = stderr.trim().split('\n') as [string, string];
    expect(whole).toBe('%%BoundingBox: 0 0 1191 842');
    const figures = exact.split(' ').slice(1).map(Number);
    [0, 0, 1190.5512, 841.8898].forEach((v, k) =>
      expect(Math.abs(figures[k]! - v)).toBeLessThan(0.02),
    );
  });

  it('makes a plate of its own of the spot colour, in EPS and PDF', async () => {
    writeFileSync(path('cut.eps'), eps(cutDrawing(plan), settings));
    writeFileSync(path('cut.pdf'), await pdf(cutDrawing(plan), settings));
    for (const name of ['cut.eps', 'cut.pdf']) {
      execFileSync('gs', [
        ...['-q', '-dBATCH', '-dNOPAUSE', '-sDEVICE=tiffsep', '-r20', '-dEPSCrop'],
        ...[`-sOutputFile=${path(`${name}.tif`)}`, path(name)],
      ]);
      expect(readdirSync(folder)).toContain(`${name}(Through cut).tif`);
    }
  });
});

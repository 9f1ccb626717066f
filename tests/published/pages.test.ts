import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { loadPdfjs } from '../../src/files/load-pdfjs-node.ts';
import { release, type ReleaseFile } from '../../src/files/release.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { DEFAULT_BED, DEFAULT_POCKET, jobFacts, makeJig } from '../../src/job/jig.ts';
import { card, outlineOf, plaque } from '../outlines.ts';

const has = (command: string, ...args: string[]): boolean =>
  spawnSync(command, args, { stdio: 'ignore' }).status === 0;
const hasPoppler = has('pdfinfo', '-v');
const hasEzdxf = has('/usr/bin/python3', '-c', 'import ezdxf');
const hasRsvg = has('rsvg-convert', '--version');
for (const [name, there] of [
  ['poppler (pdfinfo)', hasPoppler],
  ['python3-ezdxf', hasEzdxf],
  ['librsvg (rsvg-convert)', hasRsvg],
] as const) {
  if (!there) console.log(`left out: checks by ${name}, which is not installed`);
}

// A1 is 594 x 841 mm, A3 297 x 420 mm (ISO 216); one point is 25.4 / 72 mm (ISO 32000-1, 8.3.2.3).
const BEDS = [
  { widthMm: 420, depthMm: 297, points: [1190.5512, 841.8898] },
  { widthMm: 841, depthMm: 594, points: [2383.937, 1683.7795] },
] as const;

describe.each(BEDS)('a bed of $widthMm x $depthMm mm', ({ widthMm, depthMm, points }) => {
  const folder = mkdtempSync(join(tmpdir(), 'snugline-'));
  const files = new Map<string, ReleaseFile>();
  const path = (name: string): string => join(folder, name);
  beforeAll(async () => {
    const traced = {
      outlines: [outlineOf(card), outlineOf(plaque, { id: '2-face', blank: 2 })],
      verdict: 'ok',
      reasons: [],
    } as const;
    const jig = makeJig(await loadClipper(), traced, {
      job: { number: '7-1', name: 'Plaques & cards <first>' },
      pocket: DEFAULT_POCKET,
      bed: { ...DEFAULT_BED, widthMm, depthMm, rows: 2, columns: 2 },
    });
    const made = await release(jig.plan, jobFacts(jig, traced, '2026-03-14'), await loadPdfjs());
    for (const file of made) {
      files.set(file.name, file);
      writeFileSync(path(file.name), file.bytes);
    }
  }, 60_000);
  afterAll(() => rmSync(folder, { recursive: true }));

  it.runIf(hasPoppler).each(['cut.pdf', 'artwork.pdf', 'set-up.pdf'])(
    '%s: every box is the bed, says poppler',
    (name) => {
      const told = execFileSync('pdfinfo', ['-box', path(name)], { encoding: 'utf8' });
      for (const box of ['MediaBox', 'CropBox', 'BleedBox', 'TrimBox']) {
        const figures = new RegExp(`${box}:\\s+([\\d.]+)\\s+([\\d.]+)\\s+([\\d.]+)\\s+([\\d.]+)`)
          .exec(told)!
          .slice(1)
          .map(Number);
        expect(figures.slice(0, 2)).toEqual([0, 0]);
        // pdfinfo prints two decimals.
        expect(Math.abs(figures[2]! - points[0])).toBeLessThan(0.0051);
        expect(Math.abs(figures[3]! - points[1])).toBeLessThan(0.0051);
      }
      expect(told).toMatch(/Pages:\s+1\n/);
      expect(told).toMatch(new RegExp(`digest ${digest()}`));
    },
  );

  it.runIf(hasEzdxf)('cut.dxf passes the audit of ezdxf and is in millimetres', () => {
    const program = `
import sys, json
from ezdxf import recover
d, a = recover.readfile(sys.argv[1])
m = d.modelspace()
print(json.dumps([len(a.errors), len(a.fixes), d.units, sorted({e.dxf.layer for e in m}),
  [[list(p) for p in e.get_points('xyb')] for e in m.query('LWPOLYLINE[layer=="pocket"]')],
  all(e.closed for e in m.query('LWPOLYLINE[layer=="pocket" | layer=="cut"]'))]))`;
    const told = execFileSync('/usr/bin/python3', ['-c', program, path('cut.dxf')], {
      encoding: 'utf8',
    });
    const [errors, fixes, units, layers, rings, closed] = JSON.parse(told) as [
      number,
      number,
      number,
      string[],
      number[][][],
      boolean,
    ];
    expect([errors, fixes]).toEqual([0, 0]);
    expect(units).toBe(4); // $INSUNITS 4 is millimetres: DXF reference
    expect(layers).toEqual(['board', 'cut', 'mark', 'pocket']);
    expect(closed).toBe(true);
    const plan = planOf();
    expect(rings).toHaveLength(8);
    rings.forEach((ring, k) => {
      const wanted = plan.pockets[k]!.pocket[0]!;
      expect(ring).toHaveLength(wanted.length);
      ring.forEach(([x, y, bulge], i) => {
        expect(Math.hypot(x! - wanted[i]![0]!, y! - wanted[i]![1]!)).toBeLessThan(1e-6);
        expect(bulge).toBe(0);
      });
    });
  });

  it.runIf(hasRsvg)('the SVGs render at their size in librsvg', () => {
    for (const name of ['cut.svg', 'artwork.svg']) {
      const png = execFileSync('rsvg-convert', ['--dpi-x=25.4', '--dpi-y=25.4', path(name)]);
      // PNG: width and height stand at bytes 16 to 23 (ISO/IEC 15948). At 25.4 dpi one pixel is one mm.
      expect([png.readUInt32BE(16), png.readUInt32BE(20)]).toEqual([widthMm, depthMm]);
    }
  });

  it('every file carries the job number and the digest', () => {
    for (const { name, bytes } of files.values()) {
      if (name.endsWith('.zip')) continue;
      const text = Buffer.from(bytes).toString('latin1');
      const wide = (words: string): boolean =>
        text.includes(words) ||
        text.toLowerCase().includes(Buffer.from(words, 'utf16le').swap16().toString('hex')) ||
        text.includes(Buffer.from(words, 'utf16le').swap16().toString('latin1'));
      expect(wide(digest()), `${name} has the digest`).toBe(true);
      expect(wide('7-1'), `${name} has the job number`).toBe(true);
    }
  });

  it('every file but job sheet and loading card is proved, all eight pockets of it, far below 0.001 mm', () => {
    expect([...files.keys()].sort()).toEqual([
      'artwork.eps',
      'artwork.pdf',
      'artwork.svg',
      'blank-templates.zip',
      'cut.dxf',
      'cut.eps',
      'cut.pdf',
      'cut.svg',
      'job-sheet.pdf',
      'loading-card.pdf',
      'paper-print.pdf',
      'plan.json',
      'send-out.zip',
      'set-up.pdf',
    ]);
    for (const { name, proof } of files.values()) {
      if (name === 'job-sheet.pdf' || name === 'loading-card.pdf') continue;
      expect(proof?.pockets).toBe(name === 'blank-templates.zip' ? 2 : 8);
      expect(proof!.greatestMm).toBeLessThan(1e-6);
    }
  });

  const planOf = () =>
    JSON.parse(new TextDecoder().decode(files.get('plan.json')!.bytes)) as {
      digest: string;
      pockets: { pocket: number[][][] }[];
    };
  const digest = (): string => planOf().digest;
});

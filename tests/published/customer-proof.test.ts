import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import sharp from 'sharp';
import { afterAll, expect, it } from 'vitest';
import { NEW_ARTWORK, PLACED } from '../../src/artwork/artwork.ts';
import { newLine, SHIPPED_NAMES } from '../../src/artwork/run.ts';
import { tableOf } from '../../src/artwork/table.ts';
import { readArt } from '../../src/files/art.ts';
import { customerProof } from '../../src/files/customer-proof.ts';
import { openFont } from '../../src/files/font.ts';
import { loadFont } from '../../src/files/load-fonts-node.ts';
import { loadPdfjs } from '../../src/files/load-pdfjs-node.ts';
import { resolveSvg } from '../../src/files/load-svg-node.ts';
import { FILE_SETTINGS } from '../../src/files/settings.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { DEFAULT_BED, DEFAULT_POCKET, jobFacts, makeJig } from '../../src/job/jig.ts';
import { decodeWithMagick } from '../../src/picture/magick-node.ts';
import { card, outlineOf } from '../outlines.ts';

const hasPoppler = spawnSync('pdffonts', ['-v'], { stdio: 'ignore' }).status === 0;
if (!hasPoppler) console.log('left out: the proof read by poppler, which is not installed');
const folder = mkdtempSync(join(tmpdir(), 'snugline-'));
afterAll(() => rmSync(folder, { recursive: true }));
const path = (name: string): string => join(folder, name);

// A red ring, 40 mm across, on a page as large as an ID-1 card.
const RING = `<svg xmlns="http://www.w3.org/2000/svg" width="85.6mm" height="53.98mm" viewBox="0 0 85.6 53.98">
  <circle cx="42.8" cy="26.99" r="20" fill="none" stroke="#d00000" stroke-width="0.05"/></svg>`;

it.runIf(hasPoppler)(
  'the proof: true size, U, findings, names, vectors, place for a signature',
  async () => {
    const traced = { outlines: [outlineOf(card)], verdict: 'ok', reasons: [] } as const;
    const jig = makeJig(await loadClipper(), traced, {
      job: { number: '7-6', name: 'Swimmers' },
      pocket: DEFAULT_POCKET,
      bed: { ...DEFAULT_BED, columns: 2 },
    });
    const tools = { pdfjs: await loadPdfjs(), decode: decodeWithMagick, resolveSvg };
    const art = await readArt(new TextEncoder().encode(RING), 'ring.svg', tools);
    const long = 'Bartholomew Featherstonehaugh-Cholmondeley';
    const table = tableOf(`Name\nŁucja\n${long}\nBo\n`);
    const work = {
      arts: [art],
      fonts: [openFont(await loadFont('plain'), SHIPPED_NAMES.plain)],
      settings: {
        ...NEW_ARTWORK,
        placement: { ...PLACED, sizing: 'scale' as const },
        revision: 'B',
        run: { table, lines: [{ ...newLine(0, 0), heightMm: 6, roomMm: 60 }] },
      },
    };
    const facts = jobFacts(jig, traced, '2026-03-14');
    const bytes = await customerProof(jig.plan, facts, work, FILE_SETTINGS);
    writeFileSync(path('p.pdf'), bytes);
    const said = execFileSync('pdftotext', ['-layout', path('p.pdf'), '-'], {
      encoding: 'utf8',
    }).replace(/\s+/g, ' ');
    for (const words of [
      '85.60 x 53.98 mm, its edge known to ±0.06 mm (U, k = 2)',
      'ring.svg (SVG), revision B',
      '0.050 mm as printed',
      'vectors only',
      'has a line 0.050 mm wide',
      `longer than 60.00 mm at full size would be "${long}"`,
      'Signature',
      'Łucja',
      `2 ${long}`,
    ])
      expect(said).toContain(words);
    expect(execFileSync('pdffonts', [path('p.pdf')], { encoding: 'utf8' })).toMatch(
      /NotoSans-Medium.* yes +yes/,
    );
    expect(
      execFileSync('pdfimages', ['-list', path('p.pdf')], { encoding: 'utf8' })
        .trim()
        .split('\n'),
    ).toHaveLength(2);
    // The drawing is 1 : 1: red reaches over 40 mm, as poppler paints it at 254 dots to the inch.
    execFileSync('pdftocairo', ['-png', '-singlefile', '-r', '254', path('p.pdf'), path('p')]);
    const { data, info } = await sharp(path('p.png'))
      .removeAlpha()
      .raw()
      .toBuffer({ resolveWithObject: true });
    let [left, right] = [Infinity, -Infinity];
    for (let k = 0; k < info.width * info.height; k++)
      if (data[3 * k]! - data[3 * k + 1]! > 40) {
        left = Math.min(left, k % info.width);
        right = Math.max(right, k % info.width);
      }
    expect(Math.abs((right - left + 1) / 10 - 40.05)).toBeLessThan(0.2);
    const again = await customerProof(jig.plan, facts, work, FILE_SETTINGS);
    expect(Buffer.compare(Buffer.from(again), Buffer.from(bytes))).toBe(0);
  },
  120_000,
);

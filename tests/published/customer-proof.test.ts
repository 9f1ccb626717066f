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
import { jobSheet } from '../../src/files/job-sheet.ts';
import { openFont } from '../../src/files/font.ts';
import { loadFont } from '../../src/files/load-fonts-node.ts';
import { loadPdfjs } from '../../src/files/load-pdfjs-node.ts';
import { resolveSvg } from '../../src/files/load-svg-node.ts';
import { FILE_SETTINGS } from '../../src/files/settings.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import type { Ring } from '../../src/geometry/shape.ts';
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
    const table = tableOf(`Name on it\nŁucja\n${long}\nBo\n`);
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
      '85.60 x 53.98 mm, sides of the smallest rectangle round it; its edge ±0.06 mm (U, k = 2)',
      'ring.svg (SVG), revision B',
      '0.050 mm as printed',
      'vectors only',
      'has a line 0.050 mm wide',
      `longer than 60.00 mm at full size would be "${long}"`,
      'Signature',
      'Łucja',
      'Name on it',
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

// An angle of 90 x 40 mm with arms of 12, turned by 20 degrees, fills little of any box: it stays as it was traced.
const ASKEW_RAD = Math.PI / 9;
const ANGLE = [
  [0, 0],
  [90, 0],
  [90, 12],
  [12, 12],
  [12, 40],
  [0, 40],
].map(([x, y]) => ({
  x: x! * Math.cos(ASKEW_RAD) - y! * Math.sin(ASKEW_RAD),
  y: x! * Math.sin(ASKEW_RAD) + y! * Math.cos(ASKEW_RAD),
})) as Ring<'sheet'>;

it.runIf(hasPoppler)(
  'a blank that lies askew: proof and job sheet give the same width and height, the proof how it is drawn besides',
  async () => {
    const traced = {
      outlines: [outlineOf({ outer: ANGLE, holes: [] })],
      verdict: 'ok',
      reasons: [],
    } as const;
    const jig = makeJig(await loadClipper(), traced, {
      // A name with letters that the standard fonts of PDF lack.
      job: { number: '7-9', name: 'Łódź, žluťoučký kůň' },
      pocket: DEFAULT_POCKET,
      bed: { ...DEFAULT_BED },
    });
    const tools = { pdfjs: await loadPdfjs(), decode: decodeWithMagick, resolveSvg };
    const art = await readArt(new TextEncoder().encode(RING), 'ring.svg', tools);
    const facts = jobFacts(jig, traced, '2026-03-14');
    const said = (bytes: Uint8Array): string => {
      writeFileSync(path('q.pdf'), bytes);
      return execFileSync('pdftotext', ['-layout', path('q.pdf'), '-'], {
        encoding: 'utf8',
      }).replace(/\s+/g, ' ');
    };
    const work = { arts: [art], fonts: [], settings: NEW_ARTWORK };
    const proof = said(await customerProof(jig.plan, facts, work, FILE_SETTINGS));
    const sheet = said(jobSheet(jig.plan, facts));
    const t = ASKEW_RAD;
    // Its arms; and by trigonometry its box as it lies, between (0, 40) and (90, 0), and between (0, 0) and (90, 12).
    expect(proof).toContain('Width x height 90.00 x 40.00 mm');
    // The shop's words stay on the shop's sheet; what they say is said to the customer, too.
    expect(sheet).toContain('NOT CHECKED');
    expect(proof).toContain('Size, measured by hand as well');
    expect(proof).toContain('not yet');
    expect(proof).not.toMatch(/NOT CHECKED|SHA-256|doubtful/);
    const [w, h] = [90 * Math.cos(t) + 40 * Math.sin(t), 90 * Math.sin(t) + 12 * Math.cos(t)];
    expect(proof).toContain(`As drawn ${w.toFixed(2)} x ${h.toFixed(2)} mm`);
    expect(sheet).toMatch(/Width x height mm.*90\.00 x 40\.00/);
    for (const words of [proof, sheet]) expect(words).toContain('Lódz, žlutoucký kun');
  },
  60_000,
);

it.runIf(hasPoppler)(
  'looked at through a clear blank, its edge is seen mirrored and the artwork the right way round',
  async () => {
    const traced = {
      outlines: [outlineOf({ outer: ANGLE, holes: [] })],
      verdict: 'ok',
      reasons: [],
    } as const;
    const jig = makeJig(await loadClipper(), traced, {
      job: { number: '7-10', name: 'Clear' },
      pocket: DEFAULT_POCKET,
      bed: { ...DEFAULT_BED },
    });
    const tools = { pdfjs: await loadPdfjs(), decode: decodeWithMagick, resolveSvg };
    // Red, its left half blue.
    const drawn =
      '<svg xmlns="http://www.w3.org/2000/svg" width="98mm" height="42mm" viewBox="0 0 98 42"><path fill="#d00000" d="M0 0h98v42h-98z"/><path fill="#0000d0" d="M0 0h49v42h-49z"/></svg>';
    const art = await readArt(new TextEncoder().encode(drawn), 'halves.svg', tools);
    const facts = jobFacts(jig, traced, '2026-03-14');
    const seen = async (reverse: boolean) => {
      const work = { arts: [art], fonts: [], settings: { ...NEW_ARTWORK, reverse } };
      writeFileSync(path('r.pdf'), await customerProof(jig.plan, facts, work, FILE_SETTINGS));
      execFileSync('pdftocairo', ['-png', '-singlefile', '-r', '100', path('r.pdf'), path('r')]);
      const { data, info } = await sharp(path('r.png'))
        .removeAlpha()
        .raw()
        .toBuffer({ resolveWithObject: true });
      const inked = (first: number, other: number): [x: number, y: number][] =>
        Array.from({ length: info.width * info.height }, (_, k) => k)
          .filter((k) => data[3 * k + first]! - data[3 * k + other]! > 100)
          .map((k) => [k % info.width, Math.floor(k / info.width)]);
      return { red: inked(0, 2), blue: inked(2, 0) };
    };
    const [plain, through] = [await seen(false), await seen(true)];
    const xs = ({ red, blue }: typeof plain) => [...red, ...blue].map(([x]) => x);
    const mean = (v: readonly number[]): number => v.reduce((a, b) => a + b, 0) / v.length;
    for (const { red, blue } of [plain, through])
      expect(Math.max(...blue.map(([x]) => x))).toBeLessThanOrEqual(
        Math.min(...red.map(([x]) => x)) + 1,
      );
    // The angle's heavy side is on the left as it lies, and on the right as it is looked at; a mirror keeps its area.
    const [left, right] = [Math.min(...xs(plain)), Math.max(...xs(plain))];
    expect(Math.abs(mean(xs(plain)) + mean(xs(through)) - left - right)).toBeLessThan(1);
    expect(Math.abs(mean(xs(plain)) - (left + right) / 2)).toBeGreaterThan(5);
    expect(Math.abs(xs(through).length / xs(plain).length - 1)).toBeLessThan(0.02);
  },
  60_000,
);

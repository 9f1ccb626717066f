import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { PDFDict, PDFDocument, PDFName, type PDFRawStream } from '@cantoo/pdf-lib';
import { unzipSync, unzlibSync } from 'fflate';
import sharp from 'sharp';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { Refusal } from '../../src/base/reason.ts';
import { artworkDrawing, paperDrawing } from '../../src/files/drawing.ts';
import { loadPdfjs } from '../../src/files/load-pdfjs-node.ts';
import { packageOf } from '../../src/files/package.ts';
import { provePaperPrint, tilingOf } from '../../src/files/paper-print.ts';
import { pixelsOf, png } from '../../src/files/png.ts';
import { release, type ReleaseFile } from '../../src/files/release.ts';
import { provePng } from '../../src/files/see-png.ts';
import { FILE_SETTINGS } from '../../src/files/settings.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { DEFAULT_BED, DEFAULT_POCKET, jobFacts, makeJig } from '../../src/job/jig.ts';
import type { BedPlan } from '../../src/plan/plan.ts';
import { card, outlineOf } from '../outlines.ts';

const has = (command: string, ...args: string[]): boolean =>
  spawnSync(command, args, { stdio: 'ignore' }).status === 0;
const [hasPoppler, hasRsvg] = [has('pdftotext', '-v'), has('rsvg-convert', '--version')];
const hasGs = has('gs', '--version');
if (!hasGs) console.log('left out: an EPS painted by Ghostscript, which is not installed');
if (!hasPoppler) console.log('left out: checks by poppler, which is not installed');
if (!hasRsvg) console.log('left out: checks by librsvg (rsvg-convert), which is not installed');

const folder = mkdtempSync(join(tmpdir(), 'snugline-'));
const path = (name: string): string => join(folder, name);
afterAll(() => rmSync(folder, { recursive: true }));

const DPI = 100;
let plan: BedPlan;
const files = new Map<string, ReleaseFile>();
const again = new Map<string, Uint8Array>();
beforeAll(async () => {
  const traced = { outlines: [outlineOf(card)], verdict: 'ok', reasons: [] } as const;
  const jig = makeJig(await loadClipper(), traced, {
    job: { number: 'Ä 7/1', name: 'Cards' },
    pocket: { ...DEFAULT_POCKET, material: 'acrylic' },
    bed: { ...DEFAULT_BED, columns: 2 },
  });
  plan = jig.plan;
  // A grey picture of 600 x 400 px with a square outline on it, its sides at 150 and 450, 100 and 300 px.
  const jpeg = await sharp({
    create: { width: 600, height: 400, channels: 3, background: { r: 120, g: 120, b: 120 } },
  })
    .jpeg()
    .toBuffer();
  const square = [
    [150, 100],
    [450, 100],
    [450, 300],
    [150, 300],
  ] as const;
  const facts = {
    ...jobFacts(jig, traced, '2026-03-14'),
    boardMm: 5,
    picture: {
      jpeg: new Uint8Array(jpeg),
      widthPx: 600,
      heightPx: 400,
      outlines: [{ blank: 1, rings: [square] }],
    },
  };
  const settings = {
    ...FILE_SETTINGS,
    engrave: true,
    pngDpi: DPI,
    revision: 'C',
    changed: 'wider notch',
    contacts: ['food'] as const,
    order: { quantity: 3, toleranceMm: 0.15 },
  };
  const pdfjs = await loadPdfjs();
  for (const f of await release(plan, facts, pdfjs, settings)) {
    files.set(f.name, f);
    writeFileSync(path(f.name), f.bytes);
  }
  for (const f of await release(plan, facts, pdfjs, settings)) again.set(f.name, f.bytes);
}, 240_000);

const bytes = (name: string): Uint8Array => files.get(name)!.bytes;
const told = (name: string): string =>
  execFileSync('pdftotext', ['-layout', path(name), '-'], { encoding: 'utf8' }).replace(
    /\s+/g,
    ' ',
  );

it('the same job is the same files, byte for byte', () => {
  for (const [name, { bytes: b }] of files)
    expect(Buffer.compare(b, again.get(name)!), name).toBe(0);
});

it('artwork.png: size, resolution and alpha, says libvips', async () => {
  const meta = await sharp(bytes('artwork.png')).metadata();
  // 420 x 297 mm at 100 dpi, 25.4 mm to the inch: 1653.5 x 1169.3 px.
  expect([meta.width, meta.height, meta.channels, meta.hasAlpha]).toEqual([1654, 1170, 4, true]);
  expect(meta.density).toBe(DPI);
});

it.runIf(hasRsvg)('artwork.png shows what librsvg makes of artwork.svg, to a pixel', async () => {
  const theirs = execFileSync(
    'rsvg-convert',
    [`--dpi-x=${DPI}`, `--dpi-y=${DPI}`, path('artwork.svg')],
    { maxBuffer: 1e8 },
  );
  const alpha = async (b: Uint8Array) => {
    const { data, info } = await sharp(b)
      .ensureAlpha()
      .extractChannel(3)
      .raw()
      .toBuffer({ resolveWithObject: true });
    return {
      w: info.width,
      h: info.height,
      at: (x: number, y: number) => data[y * info.width + x] ?? 0,
    };
  };
  const [ours, other] = [await alpha(bytes('artwork.png')), await alpha(theirs)];
  const near = (of: typeof ours, x: number, y: number): boolean =>
    [-1, 0, 1].some((dx) => [-1, 0, 1].some((dy) => of.at(x + dx, y + dy) > 0));
  let [counted, lone] = [0, 0];
  for (let y = 1; y < Math.min(ours.h, other.h) - 1; y++)
    for (let x = 1; x < Math.min(ours.w, other.w) - 1; x++) {
      // Letters are drawn otherwise: within 8 mm of a number, and the lowest 6 mm, are left out.
      const [mx, my] = [(x * 25.4) / DPI, 297 - (y * 25.4) / DPI];
      if (my < 6 || plan.pockets.some(({ place }) => Math.hypot(place.x - mx, place.y - my) < 8))
        continue;
      if (ours.at(x, y) > 128) {
        counted++;
        if (!near(other, x, y)) lone++;
      }
      if (other.at(x, y) > 20 && !near(ours, x, y)) lone++;
    }
  expect(counted).toBeGreaterThan(3000);
  // Dashes end half a pixel earlier or later.
  expect(lone).toBeLessThan(0.01 * counted);
});

it('a PNG that another hand moved is not taken for the plan', () => {
  const drawing = artworkDrawing(plan);
  const moved = {
    ...drawing,
    layers: drawing.layers.map((l) => ({
      ...l,
      closed: l.closed.map((c) => ({
        ...c,
        ring: c.ring.map(({ x, y }) => ({ x: x + 1.5, y: y + 1.5 })),
      })),
    })),
  };
  expect(() => provePng('a', drawing, DPI, png(moved, DPI))).toThrow(/is not where it should be/);
  expect(() => provePng('a', drawing, 2 * DPI, png(drawing, DPI))).toThrow(/it is 1654 x 1170 px/);
});

it('a PNG larger than a browser holds is refused with both sizes', () => {
  expect(() => pixelsOf(2500, 1300, 600)).toThrow(Refusal);
  expect(() => pixelsOf(2500, 1300, 600)).toThrow(
    /59056 x 30709 px, 1814 megapixels; .* 16384 px a side and 139 megapixels/,
  );
  const most = Number(
    /at most (\d+) dpi/.exec(
      (() => {
        try {
          pixelsOf(2500, 1300, 600);
        } catch (e) {
          return String(e);
        }
        return '';
      })(),
    )![1],
  );
  expect(() => pixelsOf(2500, 1300, most)).not.toThrow();
});

it('all files lie in one zip with a list, under names that any system takes and that sort', () => {
  const zip = unzipSync(packageOf(plan, [...files.values()]));
  const names = Object.keys(zip);
  expect([...names].sort()).toEqual(names);
  expect(names).toHaveLength(files.size + 1);
  // POSIX portable file name characters: POSIX.1-2017, 3.282.
  for (const name of names) expect(name).toMatch(/^A-7-1-\d\d-[A-Za-z0-9._-]+$/);
  const list = new TextDecoder().decode(zip[names[0]!]);
  for (const name of names.slice(1)) expect(list).toContain(name);
  expect(list).toContain(plan.digest);
  expect(packageOf(plan, [...files.values()])).toEqual(packageOf(plan, [...files.values()]));
});

it.runIf(hasPoppler)('the 1:1 print covers the bed, each page the paper, says poppler', () => {
  const { tiles, tileMm, columns, rows } = tilingOf({ widthMm: 420, heightMm: 297 }, 'A4');
  expect(columns * tileMm[0]).toBeGreaterThanOrEqual(420);
  expect(rows * tileMm[1]).toBeGreaterThanOrEqual(297);
  const info = execFileSync('pdfinfo', ['-l', '99', path('paper-print.pdf')], { encoding: 'utf8' });
  expect(info).toMatch(new RegExp(`Pages: +${tiles.length}\n`));
  expect(info.match(/size: +(595\.\d+ x 841\.\d+|841\.\d+ x 595\.\d+) pts/g)).toHaveLength(
    tiles.length,
  );
  expect(told('paper-print.pdf')).toMatch(/page A1 of .* page A2/);
});

it('a page of the 1:1 print that shows another part, another drawing or too little is found out', async () => {
  const [drawing, name] = [paperDrawing(plan), 'paper-print.pdf'];
  const pdfjs = await loadPdfjs();
  const proven = (file: Uint8Array) => provePaperPrint(name, drawing, 'A4', pdfjs, file);
  expect((await proven(bytes(name))).greatestMm).toBeLessThan(1e-6);
  const spoiled = async (change: (content: string) => string, twice = false) => {
    const doc = await PDFDocument.load(bytes(name), { updateMetadata: false });
    const { node } = doc.getPage(2);
    const { contents } = node.lookup(PDFName.of('Contents')) as PDFRawStream;
    const text = new TextDecoder('latin1').decode(unzlibSync(contents));
    expect(change(text)).not.toBe(text);
    node.set(PDFName.of('Contents'), doc.context.register(doc.context.flateStream(change(text))));
    const objects = node.Resources()!.lookup(PDFName.of('XObject'), PDFDict);
    const [key] = objects.keys();
    if (twice) objects.set(key!, doc.context.register(doc.context.lookup(objects.get(key!)!)!));
    return doc.save({ useObjectStreams: false });
  };
  // A hundredth of a point is 0.0035 mm.
  const hundredth = (found: string): string =>
    found.replace(/^\S+/, (v) => String(Number(v) + 0.01));
  for (const [change, what, twice] of [
    [(t: string) => t.replace(/\S+ cm/, hundredth), 'the drawing on page B1 is off by 0.00'],
    [(t: string) => t.replace(/\S+ re/, hundredth), 'what is seen of it on page B1 is off by'],
    [(t: string) => t.replace(/\S+ Do/, ''), 'page B1 shows the drawing 0 times'],
    [(t: string) => `${t}\n`, 'it holds 2 drawings', true],
  ] as const)
    await expect(proven(await spoiled(change, twice))).rejects.toThrow(what);
});

it.runIf(hasPoppler)('the order page says what a service must know', () => {
  const zip = unzipSync(bytes('send-out.zip'));
  const order = Object.keys(zip).find((n) => n.endsWith('order.pdf'))!;
  writeFileSync(path('order.pdf'), zip[order]!);
  const words = told('order.pdf');
  for (const said of [
    'Kerf not taken off',
    '5 mm, as measured',
    '3 boards',
    '±0.15 mm',
    '100 mm long',
    'crylic',
    '86.20 x 54.58',
  ])
    expect(words).toContain(said);
  const walls = new TextDecoder().decode(
    zip[Object.keys(zip).find((n) => n.endsWith('walls.dxf'))!],
  );
  expect(walls).not.toMatch(/\n8\n(cut|relief|engrave)\n/);
});

it.runIf(hasPoppler)('loading card: one page; job sheet: revision and duties', () => {
  const info = execFileSync('pdfinfo', [path('loading-card.pdf')], { encoding: 'utf8' });
  expect(info).toMatch(/Pages: +1\n/);
  expect(told('loading-card.pdf')).toMatch(
    /NOT CHECKED.*Revision C: what changed since.*wider notch/,
  );
  expect(told('job-sheet.pdf')).toMatch(/C\. wider notch.*Food or mouth/);
});

it.runIf(hasPoppler)(
  'job sheet: the picture with its outline, black in white, as poppler draws it',
  async () => {
    const file = path('job-sheet.pdf');
    const [row, ...more] = execFileSync('pdfimages', ['-list', file], { encoding: 'utf8' })
      .trim()
      .split('\n')
      .slice(2);
    expect(more).toEqual([]);
    const [page, , kind, width, height] = row!.trim().split(/\s+/);
    expect([kind, width, height]).toEqual(['image', '600', '400']);
    const drawn = execFileSync(
      'pdftoppm',
      ['-gray', '-png', '-r', '300', '-f', page!, '-l', page!, file],
      {
        maxBuffer: 1e8,
      },
    );
    const { data, info } = await sharp(drawn)
      .greyscale()
      .raw()
      .toBuffer({ resolveWithObject: true });
    const at = (x: number, y: number): number => data[Math.round(y) * info.width + Math.round(x)]!;
    const grey = (x: number, y: number): boolean => Math.abs(at(x, y) - 120) < 6;
    // From 40 mm right of the sheet's edge down: where the picture begins and ends; then across.
    const mm = 300 / 25.4;
    const longest = (length: number, is: (k: number) => boolean): [number, number] => {
      let best: [number, number] = [0, 0];
      for (let from = 0, k = 0; k <= length; k++)
        if (k === length || !is(k)) {
          if (k - from > best[1] - best[0]) best = [from, k];
          from = k + 1;
        }
      return best;
    };
    const [top, bottom] = longest(info.height, (y) => grey(40 * mm, y));
    const [left, right] = longest(info.width, (x) => grey(x, top + 20));
    expect((right - left) / (bottom - top)).toBeCloseTo(1.5, 2);
    const middle = (top + bottom) / 2 + 40;
    for (const share of [0.25, 0.75]) {
      const x = left + share * (right - left);
      const row = Array.from({ length: 24 }, (_, k) => at(x - 12 + k, middle));
      // The line is 0.3 mm wide, in white of 0.8: 3.5 px in 9.4, to a pixel.
      const shown = row.map((v) => (v < 40 ? 'black' : v > 240 ? 'white' : 'grey')).join(' ');
      expect(shown).toMatch(/grey white white (white )?(black ){3,5}white white (white )?grey/);
      expect(Math.abs(row.findIndex((v) => v < 40) + 1.75 - 12)).toBeLessThan(3);
    }
  },
);

it.runIf(hasPoppler)(
  'the template of one blank: upright, its page twice the bleed from its middle',
  () => {
    const zip = unzipSync(bytes('blank-templates.zip'));
    const named = (end: string): string => Object.keys(zip).find((n) => n.endsWith(end))!;
    expect(Object.keys(zip)).toHaveLength(6);
    // A page for each pocket, as large as the blank's own, which says whose it is.
    writeFileSync(path('pockets.pdf'), zip[named('pockets.pdf')]!);
    const each = execFileSync('pdfinfo', ['-l', '9', path('pockets.pdf')], { encoding: 'utf8' });
    expect(each).toMatch(/Pages: +2\n/);
    expect(each.match(/size: +310\.6\d* x 221\.0\d* pts/g)).toHaveLength(2);
    expect(told('pockets.pdf')).toMatch(/Pocket 1 .*Pocket 2 /);
    // The EPS is painted where the blank lies: its bleed is 2 mm round it, 10 mm from the page's edge.
    writeFileSync(path('blank-1.eps'), zip[named('blank-1.eps')]!);
    if (hasGs) {
      const { stderr } = spawnSync(
        'gs',
        ['-q', '-dBATCH', '-dNOPAUSE', '-sDEVICE=bbox', path('blank-1.eps')],
        { encoding: 'utf8' },
      );
      const box = /%%HiResBoundingBox: (.+)/.exec(stderr)![1]!.split(' ');
      const [l, , r] = box.map((v) => (Number(v) * 25.4) / 72);
      expect(Math.abs(l! - 10)).toBeLessThan(0.1);
      expect(Math.abs(r! - 99.6)).toBeLessThan(0.1);
    }
    writeFileSync(path('blank-1.pdf'), zip[named('blank-1.pdf')]!);
    const info = execFileSync('pdfinfo', [path('blank-1.pdf')], { encoding: 'utf8' });
    const [w, h] = /Page size: +([\d.]+) x ([\d.]+) pts/.exec(info)!.slice(1).map(Number);
    // ID-1 (85.60 x 53.98 mm), its bleed of 2 mm and a margin of 10 mm all round, to the 1/100 point that pdfinfo prints.
    expect(Math.abs((w! * 25.4) / 72 - 109.6)).toBeLessThan(0.01);
    expect(Math.abs((h! * 25.4) / 72 - 77.98)).toBeLessThan(0.01);
    expect(told('blank-1.pdf')).toMatch(
      /85\.60 x 53\.98 mm, centre 42\.80 mm from left and right, 26\.99 mm/,
    );
  },
);

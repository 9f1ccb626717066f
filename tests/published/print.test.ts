import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { PDFDict, PDFDocument, PDFName, PDFRawStream } from '@cantoo/pdf-lib';
import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { NEW_ARTWORK, PLACED, type ArtworkSettings } from '../../src/artwork/artwork.ts';
import { Refusal } from '../../src/base/reason.ts';
import { readArt, type Art } from '../../src/files/art.ts';
import { loadPdfjs } from '../../src/files/load-pdfjs-node.ts';
import { resolveSvg } from '../../src/files/load-svg-node.ts';
import { printPdf, printPlanOf, sheetsOf, type PrintPlan } from '../../src/files/print-pdf.ts';
import { provePrint } from '../../src/files/print-see.ts';
import { regionArea } from '../../src/geometry/measure.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { DEFAULT_BED, DEFAULT_POCKET, makeJig } from '../../src/job/jig.ts';
import { decodeWithMagick } from '../../src/picture/magick-node.ts';
import type { Outline } from '../../src/outline/outline.ts';
import type { BedSettings } from '../../src/plan/plan.ts';
import { byBack, turnedOver } from '../../src/plan/turned-over.ts';
import { card, outlineOf, plaque } from '../outlines.ts';

const has = (command: string, ...args: string[]): boolean =>
  spawnSync(command, args, { stdio: 'ignore' }).status === 0;
const hasGs = has('gs', '--version');
const hasPoppler = has('pdffonts', '-v');
for (const [name, there] of [
  ['Ghostscript, which makes the artwork', hasGs],
  ['poppler (pdffonts, pdfimages, pdftocairo)', hasPoppler],
] as const)
  if (!there) console.log(`left out: checks by ${name}, which is not installed`);

const folder = mkdtempSync(join(tmpdir(), 'snugline-'));
afterAll(() => rmSync(folder, { recursive: true }));
const path = (name: string): string => join(folder, name);
const run = (command: string, ...args: string[]): string =>
  execFileSync(command, args, { encoding: 'utf8', stdio: ['ignore', 'pipe', 'ignore'] });

const clipper = await loadClipper();
const pdfjs = await loadPdfjs();
const tools = { pdfjs, decode: decodeWithMagick, resolveSvg };

const planOf = (bed: Partial<BedSettings>, outlines: readonly Outline[]) =>
  makeJig(
    clipper,
    {
      outlines,
      verdict: 'ok',
      reasons: [],
    },
    {
      job: { number: '7-3', name: 'Cards' },
      pocket: DEFAULT_POCKET,
      bed: { ...DEFAULT_BED, widthMm: 1000, depthMm: 1000, ...bed },
    },
  ).plan;

const BOTH = [outlineOf(card), outlineOf(plaque, { id: '2-face', blank: 2 })];

async function made(
  arts: readonly Art[],
  more: Partial<ArtworkSettings> = {},
  bed = {},
  outlines = BOTH,
) {
  const plan = planOf({ rows: 2, columns: 3, ...bed }, outlines);
  const work = { arts, settings: { ...NEW_ARTWORK, ...more }, fonts: [] };
  const print = printPlanOf(clipper, plan, work);
  const bytes = await printPdf(plan, print, work);
  const proof = await provePrint('print.pdf', print, sheetsOf(arts), bytes, pdfjs);
  return { plan, print, bytes, proof };
}

/** By another program: vectors, words in an embedded font, a separation, and a colour half through. */
const ARTWORK = `%!PS
<< /PageSize [256 164] >> setpagedevice
[ /Separation (Gold Foil) /DeviceCMYK { dup 0.1 mul exch dup 0.3 mul exch 0.8 mul 0 } ] setcolorspace
1 setcolor 20 20 80 60 rectfill
0 0.3 0.6 0.1 setcmykcolor newpath 180 90 50 0 360 arc fill
.5 .setfillconstantalpha
0.9 0.1 0 0 setcmykcolor newpath 140 90 50 0 360 arc fill
1 .setfillconstantalpha
0 0 0 1 setcmykcolor /URWBookman-Light findfont 24 scalefont setfont
30 120 moveto (Harbour Swimmers) show
showpage`;

describe.runIf(hasGs && hasPoppler)('vector artwork in the print file', () => {
  let art: Art;
  let bytes: Uint8Array;
  let print: PrintPlan;
  beforeAll(async () => {
    writeFileSync(path('art.ps'), ARTWORK);
    run(
      'gs',
      '-q',
      '-dBATCH',
      '-dNOPAUSE',
      '-dALLOWPSTRANSPARENCY',
      '-sDEVICE=pdfwrite',
      '-o',
      path('art.pdf'),
      path('art.ps'),
    );
    art = await readArt(new Uint8Array(readFileSync(path('art.pdf'))), 'art.pdf', tools);
    ({ bytes, print } = await made([art], {
      inks: [
        { kind: 'white', name: 'White', growMm: -0.2 },
        { kind: 'clear', name: 'Gloss Coat', growMm: 0.1 },
      ],
    }));
    writeFileSync(path('print.pdf'), bytes);
  }, 240_000);

  it('its page is read as poppler reads it', () => {
    const [sheet] = art.sheets;
    expect(sheet!.widthMm).toBeCloseTo((256 * 25.4) / 72, 6);
    expect(sheet!.heightMm).toBeCloseTo((164 * 25.4) / 72, 6);
    expect(sheet!.separations).toEqual(['Gold Foil']);
    expect(sheet!.missingFonts).toEqual([]);
    expect(sheet!.coarsestPxPerMm).toBeUndefined();
  });

  it('keeps its font, once, and is not turned into a picture', () => {
    const fonts = run('pdffonts', path('print.pdf')).trim().split('\n').slice(2);
    expect(fonts).toHaveLength(1);
    expect(fonts[0]).toMatch(/URWBookman-Light\s+Type 1C\s+\S+\s+yes/);
    expect(run('pdfimages', '-list', path('print.pdf')).trim().split('\n')).toHaveLength(2);
    // Twelve pockets, each with the words of the artwork.
    expect(run('pdftotext', path('print.pdf'), '-').match(/Harbour Swimmers/g)).toHaveLength(12);
  });

  it('keeps its paths as paths when another program draws it', () => {
    run('pdftocairo', '-svg', path('print.pdf'), path('print.svg'));
    const svg = readFileSync(path('print.svg'), 'utf8');
    expect(svg).not.toMatch(/<image/);
    expect((svg.match(/<path/g) ?? []).length).toBeGreaterThan(12 * 3);
  });

  it('every plate is there, and white and clear leave the others as they are', async () => {
    const plates = (name: string): Record<string, Buffer> => {
      run(
        'gs',
        '-q',
        '-dBATCH',
        '-dNOPAUSE',
        '-sDEVICE=tiffsep',
        '-r36',
        '-o',
        path(`${name}.tif`),
        path(`${name}.pdf`),
      );
      return Object.fromEntries(
        ['Cyan', 'Magenta', 'Yellow', 'Black', 'Gold Foil', 'White', 'Gloss Coat'].flatMap(
          (plate) => {
            try {
              return [[plate, readFileSync(path(`${name}(${plate}).tif`))]];
            } catch {
              return [];
            }
          },
        ),
      );
    };
    writeFileSync(path('plain.pdf'), (await made([art])).bytes);
    const [withInks, plain] = [plates('print'), plates('plain')];
    expect(Object.keys(withInks)).toHaveLength(7);
    expect(Object.keys(plain)).toEqual(['Cyan', 'Magenta', 'Yellow', 'Black', 'Gold Foil']);
    for (const [plate, image] of Object.entries(plain)) {
      const [a, b] = await Promise.all(
        [image, withInks[plate]!].map((i) => sharp(i).raw().toBuffer()),
      );
      expect(
        a!.some((v) => v < 200),
        `${plate} prints`,
      ).toBe(true);
      expect(Buffer.compare(a!, b!), plate).toBe(0);
    }
    // The artwork has cut no holes into the white. Ghostscript fills every pixel that an area touches: a little more.
    const white = await sharp(withInks.White).toColourspace('b-w').raw().toBuffer();
    const areaMm2 = white.reduce((sum, v) => sum + (255 - v) / 255, 0) * (25.4 / 36) ** 2;
    const wanted = print.loads[0]!.inks[0]!.areas.reduce((sum, area) => sum + regionArea(area), 0);
    expect(areaMm2 / wanted).toBeGreaterThan(0.99);
    expect(areaMm2 / wanted).toBeLessThan(1.04);
  }, 240_000);

  it('a form that its page turned lies as a viewer turns it', async () => {
    const doc = await PDFDocument.load(art.pdf);
    doc.getPage(0).setRotation({ type: 'degrees', angle: 90 } as never);
    doc.getPage(0).setTrimBox(20, 20, 160, 100);
    doc.getPage(0).setBleedBox(10, 10, 180, 120);
    const turned = await readArt(await doc.save(), 'turned.pdf', tools);
    const [sheet] = turned.sheets;
    expect(sheet!.widthMm).toBeCloseTo((100 * 25.4) / 72, 6);
    // Turned clockwise, what was below the trim by 10 points lies to its left.
    expect(sheet!.reach.left).toBeCloseTo((-60 * 25.4) / 72, 6);
    expect(sheet!.reach.right).toBeCloseTo((60 * 25.4) / 72, 6);
    expect(sheet!.reach.top).toBeCloseTo((90 * 25.4) / 72, 6);
    expect((await made([turned])).proof.greatestMm).toBeLessThan(0.001);
  });

  it('the same job is the same file', async () => {
    const again = await made([art], {
      inks: [
        { kind: 'white', name: 'White', growMm: -0.2 },
        { kind: 'clear', name: 'Gloss Coat', growMm: 0.1 },
      ],
    });
    expect(Buffer.compare(Buffer.from(again.bytes), Buffer.from(bytes))).toBe(0);
  });
});

async function imagesIn(bytes: Uint8Array): Promise<PDFDict[]> {
  const doc = await PDFDocument.load(bytes);
  return doc.context
    .enumerateIndirectObjects()
    .flatMap(([, o]) => (o instanceof PDFRawStream ? [o.dict] : []))
    .filter((d) => d.get(PDFName.of('Subtype')) === PDFName.of('Image'));
}

describe('pictures in the print file', () => {
  const pixels = (channels: 3 | 4) =>
    sharp({
      create: { width: 60, height: 40, channels, background: { r: 200, g: 30, b: 90, alpha: 0.5 } },
    });

  it.runIf(hasPoppler).each([
    ['png', async () => pixels(4).png().toBuffer(), 'image', true, 1],
    [
      'jpeg',
      async () => pixels(3).withMetadata({ density: 100 }).jpeg().toBuffer(),
      'jpeg',
      false,
      100 / 25.4,
    ],
    ['tiff', async () => pixels(4).tiff({ compression: 'lzw' }).toBuffer(), 'image', true, 1],
  ] as const)(
    '%s: once in the file for all pockets',
    async (kind, file, enc, mask, pxPerMm) => {
      const art = await readArt(new Uint8Array(await file()), `a.${kind}`, tools);
      expect(art.sheets[0]!.coarsestPxPerMm).toBeCloseTo(pxPerMm, 2);
      const { bytes, proof } = await made([art]);
      expect(proof.pockets).toBe(12);
      writeFileSync(path('p.pdf'), bytes);
      const rows = run('pdfimages', '-list', path('p.pdf')).trim().split('\n').slice(2);
      // poppler lists every use with the number of its object.
      const uses = rows
        .map((row) => row.trim().split(/\s+/))
        .filter(([, , type]) => type === 'image');
      expect(uses).toHaveLength(12);
      expect(uses[0]).toContain(enc);
      expect(new Set(uses.map((use) => use[10])).size).toBe(1);
      expect(rows.some((r) => r.includes(' smask '))).toBe(mask);
      expect(await imagesIn(bytes)).toHaveLength(mask ? 2 : 1);
    },
    120_000,
  );

  it.each([1, 3, 5, 6, 7, 8])('EXIF orientation %d lies upright', async (orientation) => {
    const stored = await sharp(
      Buffer.from([255, 0, 0, 0, 255, 0, 0, 0, 255, 255, 255, 255, 9, 9, 9, 200, 200, 0]),
      {
        raw: { width: 3, height: 2, channels: 3 },
      },
    )
      .resize(96, 64, { kernel: 'nearest' })
      .withMetadata({ orientation, density: 72 })
      .jpeg({ quality: 100, chromaSubsampling: '4:4:4' })
      .toBuffer();
    const upright = await sharp(stored).autoOrient().raw().toBuffer({ resolveWithObject: true });
    const art = await readArt(new Uint8Array(stored), 'a.jpg', tools);
    expect(
      [art.sheets[0]!.widthMm, art.sheets[0]!.heightMm].map((v) => Math.round((v * 72) / 25.4)),
    ).toEqual([upright.info.width, upright.info.height]);
    if (!hasPoppler) return;
    writeFileSync(path('o.pdf'), art.pdf);
    run('pdftocairo', '-png', '-r', '72', '-singlefile', path('o.pdf'), path('o'));
    const drawn = await sharp(path('o.png'))
      .removeAlpha()
      .raw()
      .toBuffer({ resolveWithObject: true });
    expect(drawn.info.width).toBe(upright.info.width);
    for (const [u, v] of [
      [0.15, 0.25],
      [0.5, 0.25],
      [0.85, 0.25],
      [0.15, 0.75],
      [0.5, 0.75],
      [0.85, 0.75],
    ]) {
      const at =
        (Math.floor(v! * drawn.info.height) * drawn.info.width +
          Math.floor(u! * drawn.info.width)) *
        3;
      for (let c = 0; c < 3; c++)
        expect(Math.abs(drawn.data[at + c]! - upright.data[at + c]!)).toBeLessThan(12);
    }
  });

  it('a JPEG leaves behind where and by whom it was taken, and keeps its colours', async () => {
    const file = await pixels(3)
      .withExif({ IFD0: { Artist: 'A. Nobody' }, IFD3: { GPSLatitude: '51/1 30/1 0/1' } })
      .withIccProfile('p3')
      .jpeg()
      .toBuffer();
    expect(file.includes('A. Nobody')).toBe(true);
    const { bytes } = await made([await readArt(new Uint8Array(file), 'a.jpg', tools)]);
    expect(Buffer.from(bytes).includes('A. Nobody')).toBe(false);
    const spaces = (await imagesIn(bytes)).map((d) => String(d.lookup(PDFName.of('ColorSpace'))));
    expect(spaces[0]).toMatch(/ICCBased/);
  });
});

describe('many pockets', () => {
  it('a hundred pockets share one copy, and the file is read back in seconds', async () => {
    const noise = Buffer.from(
      Array.from({ length: 300 * 200 * 3 }, (_, k) => (Math.sin(k * 12.9898) * 43758.5453) & 255),
    );
    const file = await sharp(noise, { raw: { width: 300, height: 200, channels: 3 } })
      .png()
      .toBuffer();
    const art = await readArt(new Uint8Array(file), 'a.png', tools);
    // Processor time: how long the clock runs depends on what else this machine does.
    const started = process.cpuUsage();
    // Of 720 vertices each, under white: more lines on one layer than a call takes arguments.
    const { bytes, proof } = await made(
      [art],
      { inks: [{ kind: 'white', name: 'White', growMm: -0.2 }] },
      { rows: 10, columns: 10 },
      BOTH.slice(1),
    );
    const { user, system } = process.cpuUsage(started);
    expect((user + system) / 1e6).toBeLessThan(10);
    expect(proof.pockets).toBe(100);
    expect(await imagesIn(bytes)).toHaveLength(1);
  }, 240_000);
});

describe('a line that pdf.js tells in two parts', () => {
  /** Five corners each, 1 mm apart. */
  const AREAS = Array.from({ length: 600 }, (_, k) => {
    const [x, y] = [2 * (k % 40), 2 * Math.floor(k / 40)];
    const outer = [
      [0, 0],
      [1, 0],
      [1.2, 0.5],
      [1, 1],
      [0, 1],
    ].map(([u, v]) => ({ x: x + u!, y: y + v! }));
    return { outer, holes: [] };
  });
  const planWith = (areas: PrintPlan['loads'][0]['inks'][0]['areas']): PrintPlan => ({
    widthMm: 100,
    heightMm: 40,
    digest: '0'.repeat(64),
    loads: [
      {
        pockets: [],
        inks: [{ ink: { kind: 'white', name: 'White', growMm: 0 }, before: true, areas }],
      },
    ],
  });
  /** With one operator more before all others: pdf.js then ends its list of a thousand within a path. */
  const written = async (plan: PrintPlan): Promise<Uint8Array> => {
    const work = { arts: [], settings: NEW_ARTWORK, fonts: [] };
    const bytes = await printPdf({ jobNumber: '7-3', jobName: 'Cards', digest: '' }, plan, work);
    const doc = await PDFDocument.load(bytes, { updateMetadata: false });
    const { node } = doc.getPage(0);
    const before = doc.context.register(doc.context.stream('1 w\n'));
    const content = node.get(PDFName.of('Contents'));
    doc.setKeywords([`digest ${plan.digest}`]);
    node.set(PDFName.of('Contents'), doc.context.obj([before, content!]));
    return doc.save({ useObjectStreams: false });
  };
  const proven = (file: Uint8Array) =>
    provePrint('print.pdf', planWith(AREAS), [], file.slice(), pdfjs);

  it('is held against the plan whole: either part must be there and right', async () => {
    const bytes = await written(planWith(AREAS));
    const task = pdfjs.getDocument({ data: bytes.slice(), verbosity: 0 });
    const page = await (await task.promise).getPage(1);
    const { fnArray, argsArray } = await page.getOperatorList();
    const paths = fnArray.flatMap((fn: number, k: number) =>
      fn === pdfjs.OPS.constructPath ? [argsArray[k] as [number[], number[]]] : [],
    );
    await task.destroy();
    const second = paths.findIndex(([[op]]) => op !== pdfjs.OPS.moveTo);
    expect(second).toBeGreaterThan(0);
    const inFirst = paths[second - 1]![1].length / 2;
    expect(inFirst).toBeLessThan(5);
    const area = second - 1;

    expect((await proven(bytes)).greatestMm).toBeLessThan(0.001);
    const spoiled = (change: (outer: (typeof AREAS)[0]['outer']) => typeof outer) =>
      written(
        planWith(AREAS.map((a, k) => (k === area ? { outer: change(a.outer), holes: [] } : a))),
      );
    // The last corner of the first part, and the first and the last of the second.
    for (const corner of [inFirst - 1, inFirst, 4]) {
      const off = spoiled((outer) =>
        outer.map((p, i) => (i === corner ? { x: p.x + 0.002, y: p.y } : p)),
      );
      await expect(proven(await off)).rejects.toThrow('layer White is off by 0.00');
      const fewer = spoiled((outer) => outer.filter((_, i) => i !== corner));
      await expect(proven(await fewer)).rejects.toThrow('layer White has 4 vertices, not 5');
    }
  });
});

describe.runIf(hasPoppler)('the back of turned pieces', () => {
  const [W, D] = [300, 240];
  /** A flag, black on nothing: its own mirror in no way. */
  const MARK = `<svg xmlns="http://www.w3.org/2000/svg" width="6mm" height="4mm" viewBox="0 0 6 4">
    <path d="M1 .5L5 1.25L2 2V3.5L1 3.5Z"/></svg>`;
  /**
   * Corners of every flag as poppler draws it, mm. The page is made larger before, since cairo counts in 1/256 of a point, and
   * groups are opened, so that all is drawn on one page.
   */
  async function flags(bytes: Uint8Array, name: string): Promise<[number, number][][]> {
    const LARGER = 20;
    const doc = await PDFDocument.load(bytes);
    for (const [, thing] of doc.context.enumerateIndirectObjects())
      if (thing instanceof PDFRawStream) thing.dict.delete(PDFName.of('Group'));
    const [page] = doc.getPages();
    page!.scale(LARGER, LARGER);
    // Poppler lays a page in the middle of one of whole points.
    const [width, height] = [Math.ceil(page!.getWidth()), Math.ceil(page!.getHeight())];
    page!.setMediaBox(0, 0, width, height);
    page!.setCropBox(0, 0, width, height);
    writeFileSync(path(`${name}.pdf`), await doc.save());
    run('pdftocairo', '-svg', path(`${name}.pdf`), path(`${name}.svg`));
    const drawn = readFileSync(path(`${name}.svg`), 'utf8');
    expect(drawn).not.toMatch(/<use|transform=/);
    const mm = 25.4 / 72 / LARGER;
    return [...drawn.matchAll(/<path style[^>]* d="([^"]+)"/g)].map(([, d]) => {
      const figures = d!.match(/-?[\d.]+/g)!.map(Number);
      return Array.from({ length: 5 }, (_, k) => [
        figures[2 * k]! * mm,
        (height - figures[2 * k + 1]!) * mm,
      ]);
    });
  }
  const turnsLeft = (ring: [number, number][]): boolean =>
    ring.reduce((sum, [x, y], k) => {
      const [u, v] = ring[(k + 1) % ring.length]!;
      return sum + x * v - u * y;
    }, 0) > 0;

  it.each(['depth', 'width'] as const)(
    'marks of both sides coincide when pieces are turned over about the %s axis',
    async (turnedAbout) => {
      const art = await readArt(new TextEncoder().encode(MARK), 'mark.svg', tools);
      // Turned and mirrored places too: pieces that lie as their own twins.
      const places: BedSettings['places'] = [
        { blank: 1, x: 80, y: 60, turnDeg: 0, mirrored: false },
        { blank: 2, x: 200, y: 70, turnDeg: 30, mirrored: false },
        { blank: 2, x: 90, y: 170, turnDeg: -70, mirrored: true },
      ];
      const plan = planOf({ widthMm: W, depthMm: D, turnedAbout, layout: 'free', places }, BOTH);
      expect(plan.pockets).toHaveLength(3);
      const at = { ...PLACED, sizing: 'scale', turnDeg: 20 } as const;
      const front = { ...NEW_ARTWORK, placement: { ...at, xMm: 9, yMm: 4 } };
      const back = byBack(turnedOver(plan, turnedAbout).plan);
      const page = async (on: typeof plan, settings: ArtworkSettings, name: string) => {
        const work = { arts: [art], settings, fonts: [] };
        const print = printPlanOf(clipper, on, work);
        const bytes = await printPdf(on, print, work);
        await provePrint(name, print, sheetsOf([art]), bytes, pdfjs);
        return flags(bytes, name);
      };
      const behind = (mirrored: boolean): ArtworkSettings => ({
        ...NEW_ARTWORK,
        placement: { ...at, turnDeg: -20, xMm: -9, yMm: 4, mirrored },
      });
      const [fore, rear, read] = [
        await page(plan, front, `front-${turnedAbout}`),
        await page(back, behind(true), `back-${turnedAbout}`),
        await page(back, behind(false), `read-${turnedAbout}`),
      ];
      expect([fore, rear, read].map((list) => list.length)).toEqual([3, 3, 3]);
      fore.forEach((flag, k) =>
        flag.forEach(([x, y], i) => {
          const [u, v] = turnedAbout === 'depth' ? [W - x, y] : [x, D - y];
          expect(Math.hypot(rear[k]![i]![0] - u, rear[k]![i]![1] - v)).toBeLessThan(0.001);
        }),
      );
      // As it is placed, the back reads as the front does: never mirrored, but on a piece that is its own twin.
      read.forEach((flag, k) => expect(turnsLeft(flag)).toBe(turnsLeft(fore[k]!)));
    },
  );
});

describe('what cannot be artwork', () => {
  it.each([
    ['artwork-kind', new TextEncoder().encode('hello'), 'a.txt'],
    ['artwork-damaged', new TextEncoder().encode('%PDF-1.4\nnothing'), 'a.pdf'],
    ['picture-truncated', new Uint8Array([0xff, 0xd8, 0xff, 0xe0, 0, 16]), 'a.jpg'],
  ])('%s', async (code, bytes, name) => {
    const refused = await readArt(bytes, name, tools).catch((e: unknown) => e);
    expect(refused).toBeInstanceOf(Refusal);
    expect((refused as Refusal).reason.code).toBe(code);
  });
});

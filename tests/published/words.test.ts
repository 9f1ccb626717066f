import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import sharp from 'sharp';
import { afterAll, describe, expect, it } from 'vitest';
import { NEW_ARTWORK, type ArtworkSettings } from '../../src/artwork/artwork.ts';
import { judgeArtwork } from '../../src/artwork/judge.ts';
import { newLine, SHIPPED_FONTS, SHIPPED_NAMES, type Line } from '../../src/artwork/run.ts';
import { tableOf } from '../../src/artwork/table.ts';
import { readArt, type Art } from '../../src/files/art.ts';
import { openFont, typefacesOf, type OpenFont } from '../../src/files/font.ts';
import { loadFont } from '../../src/files/load-fonts-node.ts';
import { loadPdfjs } from '../../src/files/load-pdfjs-node.ts';
import { resolveSvg } from '../../src/files/load-svg-node.ts';
import type { FileLines } from '../../src/files/file-lines.ts';
import { matchPages, referenceOfPlan } from '../../src/files/match.ts';
import { printPdf, printPlanOf, sheetsOf } from '../../src/files/print-pdf.ts';
import { provePrint } from '../../src/files/print-see.ts';
import { readPages } from '../../src/files/read-lines.ts';
import { release } from '../../src/files/release.ts';
import { FILE_SETTINGS } from '../../src/files/settings.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { DEFAULT_BED, DEFAULT_POCKET, furtherPlans, jobFacts, makeJig } from '../../src/job/jig.ts';
import { ORDER } from '../../src/plan/order.ts';
import { decodeWithMagick } from '../../src/picture/magick-node.ts';
import { card, outlineOf } from '../outlines.ts';

const has = (command: string, ...args: string[]): boolean =>
  spawnSync(command, args, { stdio: 'ignore' }).status === 0;
const hasGs = has('gs', '--version');
const hasPoppler = has('pdffonts', '-v');
if (!hasGs || !hasPoppler) console.log('left out: words read by Ghostscript and poppler');

const folder = mkdtempSync(join(tmpdir(), 'snugline-'));
afterAll(() => rmSync(folder, { recursive: true }));
const path = (name: string): string => join(folder, name);
const run = (command: string, ...args: string[]): string =>
  execFileSync(command, args, { encoding: 'utf8', stdio: ['ignore', 'pipe', 'pipe'] });

const clipper = await loadClipper();
const pdfjs = await loadPdfjs();
const fonts = Object.fromEntries(
  await Promise.all(
    SHIPPED_FONTS.map(async (f) => [f, openFont(await loadFont(f), SHIPPED_NAMES[f])] as const),
  ),
) as Record<(typeof SHIPPED_FONTS)[number], OpenFont>;

/** ID-1 cards (ISO/IEC 7810: 85.60 x 53.98 mm). */
const jigOf = (rows: number, columns: number) =>
  makeJig(
    clipper,
    { outlines: [outlineOf(card)], verdict: 'ok', reasons: [] },
    {
      job: { number: '7-5', name: 'Cards' },
      pocket: DEFAULT_POCKET,
      bed: { ...DEFAULT_BED, widthMm: 1000, depthMm: 700, rows, columns },
    },
  );
const planOf = (...of: Parameters<typeof jigOf>) => jigOf(...of).plan;

/** A small picture, which fills the faces. */
const pictureOf = async (): Promise<Art> =>
  readArt(
    new Uint8Array(
      await sharp({ create: { width: 300, height: 200, channels: 3, background: '#20a060' } })
        .png()
        .toBuffer(),
    ),
    'a.png',
    { pdfjs, decode: decodeWithMagick, resolveSvg },
  );

async function made(
  text: string,
  lines: readonly Partial<Line>[],
  { rows = 1, columns = 1, arts = [] as Art[], more = {} as Partial<ArtworkSettings> } = {},
) {
  const plan = planOf(rows, columns);
  const set = lines.map((line, k): Line => ({ ...newLine(0, k), ...line }));
  const personal = { table: tableOf(text), lines: set };
  const used = set.map((l) => fonts[l.font as 'plain']);
  const settings: ArtworkSettings = { ...NEW_ARTWORK, run: personal, ...more };
  const work = { arts, settings, fonts: used };
  const print = printPlanOf(clipper, plan, work);
  const bytes = await printPdf(plan, print, work);
  const proof = await provePrint('print.pdf', print, sheetsOf(arts), bytes, pdfjs);
  const reasons = judgeArtwork(plan, sheetsOf(arts), settings, typefacesOf(personal, used));
  return { plan, print, bytes, proof, reasons };
}

/** Pairs of letters that are set closer, marks above and below, letters of three alphabets. */
const NAMES = ['AVA Torvald', 'Łukasz Święcicki', 'Zoë Q. Brågård', 'Đặng Ngữ', 'Γιάννης', 'Ольга'];

describe.runIf(hasPoppler)('a run of 250 names on 100 pockets', () => {
  it('is three pages within seconds; words stay words, font and artwork are in the file once', async () => {
    const art = await pictureOf();
    const names = Array.from({ length: 250 }, (_, k) => `${NAMES[k % NAMES.length]} ${k + 1}`);
    const text = ['Name\tNo.', ...names.map((n, k) => `${n}\t${1000 + k}`)].join('\n');
    const started = process.cpuUsage();
    const { bytes, proof } = await made(
      text,
      [
        { heightMm: 4, roomMm: 70 },
        { column: 1, heightMm: 3, yMm: -10 },
      ],
      { rows: 10, columns: 10, arts: [art] },
    );
    const { user, system } = process.cpuUsage(started);
    expect((user + system) / 1e6).toBeLessThan(15);
    expect(proof.greatestMm).toBeLessThan(0.001);
    writeFileSync(path('run.pdf'), bytes);
    expect(run('pdfinfo', path('run.pdf'))).toMatch(/Pages: +3\n/);
    const embedded = run('pdffonts', path('run.pdf')).trim().split('\n').slice(2);
    expect(embedded).toHaveLength(1);
    expect(embedded[0]).toMatch(/NotoSans-Medium\S*\s+CID TrueType\s+Identity-H\s+yes +yes +yes/);
    // By page, in the order of the pockets; poppler sorts by place, so only what is there is compared.
    for (const [page, from, to] of [
      [1, 0, 100],
      [2, 100, 200],
      [3, 200, 250],
    ] as const) {
      const said = run('pdftotext', '-raw', '-f', `${page}`, '-l', `${page}`, path('run.pdf'), '-');
      const lines = said.split('\n').map((l) => l.trim().normalize('NFC'));
      for (const name of names.slice(from, to)) expect(lines).toContain(name);
      expect(lines.filter((l) => /^1\d{3}$/.test(l))).toHaveLength(to - from);
    }
    const images = run('pdfimages', '-list', path('run.pdf')).trim().split('\n').slice(2);
    expect(images).toHaveLength(250);
    expect(new Set(images.map((row) => row.trim().split(/\s+/)[10])).size).toBe(1);
    const again = await made(
      text,
      [
        { heightMm: 4, roomMm: 70 },
        { column: 1, heightMm: 3, yMm: -10 },
      ],
      {
        rows: 10,
        columns: 10,
        arts: [art],
      },
    );
    expect(Buffer.compare(Buffer.from(again.bytes), Buffer.from(bytes))).toBe(0);
  }, 240_000);
});

describe.runIf(hasGs)('where words lie, by what Ghostscript paints of them', () => {
  const inkMm = (bytes: Uint8Array): readonly number[] => {
    writeFileSync(path('one.pdf'), bytes);
    const { stderr } = spawnSync(
      'gs',
      ['-q', '-dBATCH', '-dNOPAUSE', '-sDEVICE=bbox', path('one.pdf')],
      {
        encoding: 'utf8',
      },
    );
    const [, box] = /%%HiResBoundingBox: (.+)/.exec(stderr) ?? [];
    return box!.split(' ').map((v) => (Number(v) * 25.4) / 72);
  };

  it.each([
    ['plain', 'AVA Torvald', {}],
    ['plain', 'Zoë Q. Brågård', { align: 'left', xMm: -30, yMm: 5 }],
    ['plain', 'Đặng Ngữ', { align: 'right', xMm: 30, yMm: -12.5 }],
    ['script', 'Faye Jolly', { heightMm: 7 }],
    ['plain', 'Bartholomew Featherstonehaugh', { roomMm: 60 }],
    ['plain', 'TURNED', { turnDeg: 90, xMm: 20 }],
  ] as const)('%s, %s, %o', async (font, name, line) => {
    const { plan, bytes } = await made(name, [{ font, ...line }]);
    const [left, bottom, right, top] = inkMm(bytes) as [number, number, number, number];
    const { x, y } = plan.pockets[0]!.place;
    const {
      align = 'middle',
      xMm = 0,
      yMm = 0,
      roomMm = null,
      turnDeg = 0,
    } = line as Partial<Line>;
    // Ghostscript gives a box to 1/100 of a point, of what it paints at 4000 dots per inch.
    const near = 0.02;
    const turned = turnDeg === 90;
    const [from, to] = turned ? [bottom - y, top - y] : [left - x, right - x];
    const along = turned ? yMm : xMm;
    const found = { left: from, middle: (from + to) / 2, right: to }[align];
    expect(Math.abs(found - along)).toBeLessThan(near);
    if (roomMm !== null) expect(Math.abs(to - from - roomMm)).toBeLessThan(2 * near);
    if (turned) {
      // Capitals of 5 mm stand to the left of their foot, and reach as far past the place as their foot does.
      expect(Math.abs(left - x - (xMm - 2.5))).toBeLessThan(0.1);
    }
  });

  it('capitals are as high as asked, about the height given', async () => {
    const { plan, bytes } = await made('HEIN', [{ heightMm: 8, yMm: 3 }]);
    const [, bottom, , top] = inkMm(bytes) as [number, number, number, number];
    const { y } = plan.pockets[0]!.place;
    expect(Math.abs(bottom - y - (3 - 4))).toBeLessThan(0.02);
    expect(Math.abs(top - y - (3 + 4))).toBeLessThan(0.02);
  });

  it('looked at through a clear blank, they are mirrored about its middle', async () => {
    const plain = await made('PETER', [{ align: 'left', xMm: 5 }]);
    const behind = await made('PETER', [{ align: 'left', xMm: 5 }], { more: { reverse: true } });
    const [a, b] = [inkMm(plain.bytes), inkMm(behind.bytes)];
    const { x } = plain.plan.pockets[0]!.place;
    expect(Math.abs(b[2]! - x + (a[0]! - x))).toBeLessThan(0.02);
    expect(Math.abs(b[0]! - x + (a[2]! - x))).toBeLessThan(0.02);
  });
});

describe('what is said of words', () => {
  it('long names are set smaller and named, never cut off', async () => {
    const long = 'Bartholomew Featherstonehaugh-Cholmondeley';
    const { reasons } = await made(`Name\nAnn\n${long}\n`, [{ heightMm: 6, roomMm: 70 }], {
      columns: 2,
    });
    const [said] = reasons.filter((r) => r.code === 'words-long');
    expect(said!.message).toContain(`"${long}"`);
    expect(said!.message).not.toContain('"Ann"');
    expect(reasons.map((r) => r.code)).not.toContain('words-past-safe');
  });

  it('without a room they reach past the edge, and are named', async () => {
    const { reasons } = await made('Bartholomew Featherstonehaugh-Cholmondeley', [{ heightMm: 8 }]);
    expect(reasons.map((r) => r.code)).toContain('words-past-edge');
  });

  it('empty cells, a load that is not full', async () => {
    const { reasons } = await made('Name,No.\nAnn,1\n,2\nBo,3', [{}], { columns: 2 });
    const said = reasons.map((r) => r.message);
    expect(said).toContainEqual(expect.stringMatching(/Name is empty in row 3/));
    expect(said).toContainEqual(expect.stringMatching(/last of 2 loads fills 1 of 2 pockets/));
  });

  it('letters that the font lacks are refused by name', () => {
    expect(() =>
      typefacesOf({ table: tableOf('Name\n山田 花子'), lines: [newLine(0, 0)] }, [fonts.plain]),
    ).toThrow(/no letters for 山 田 花 子 in "山田 花子"/);
  });

  it('a font whose makers forbid it, and what is no font, are refused', () => {
    const bytes = Uint8Array.from(fonts.plain.bytes);
    const data = new DataView(bytes.buffer);
    // Table directory of an OpenType file: 12 bytes, then 16 for each table; fsType is 8 bytes into OS/2.
    const at = Array.from({ length: data.getUint16(4) }, (_, k) => 12 + 16 * k).find(
      (k) => data.getUint32(k) === 0x4f532f32,
    )!;
    data.setUint16(data.getUint32(at + 8) + 8, 2);
    expect(() => openFont(bytes, 'a.ttf')).toThrow(/do not allow/);
    expect(() => openFont(new TextEncoder().encode('no font'), 'a.ttf')).toThrow(/no font/);
  });

  it('a print file that shows other words, or at another place, is a fault', async () => {
    const { print, bytes } = await made('Ann', [{}]);
    const changed = (words: object) => ({
      ...print,
      loads: print.loads.map((load) => ({
        ...load,
        pockets: load.pockets.map((p) => ({
          ...p,
          words: p.words.map((w) => ({ ...w, ...words })),
        })),
      })),
    });
    const { map } = print.loads[0]!.pockets[0]!.words[0]!;
    const moved = [...map] as unknown as [number, number, number, number, number, number];
    moved[4] += 0.01;
    await expect(provePrint('p', changed({ text: 'Anne' }), [], bytes, pdfjs)).rejects.toThrow(
      /reads/,
    );
    await expect(provePrint('p', changed({ map: moved }), [], bytes, pdfjs)).rejects.toThrow(
      /off by/,
    );
  });
});

describe('a run that ends with a load filled in part', () => {
  const text = ['Name', 'Ann', 'Ben', 'Cay', 'Dee', 'Eve'].join('\n');

  it('is held against the plan page by page; only its last page may lack pockets', async () => {
    const { plan, bytes } = await made(text, [{}], { columns: 2, arts: [await pictureOf()] });
    const reference = referenceOfPlan(plan);
    const pages = await readPages(bytes, 'print.pdf', pdfjs);
    expect(pages).toHaveLength(3);
    const whole = matchPages(reference, undefined, pages, 'print.pdf');
    expect([whole.verdict, whole.reasons.map((r) => r.code)]).toEqual([
      'agrees',
      ['match-part-load'],
    ]);
    expect(whole.reasons[0]!.message).toContain('Page 3 of print.pdf, its last, shows 1 of 2');
    // The same pages with the part-filled one in between: a pocket is missing.
    const [one, two, three] = pages as [FileLines, FileLines, FileLines];
    const mixed = matchPages(reference, undefined, [one, three, two], 'print.pdf');
    expect(mixed.verdict).toBe('differs');
    expect(mixed.reasons.map((r) => r.message).join()).toBe(
      'Pocket 2 is missing in print.pdf, page 2.',
    );
    const shifted = {
      ...three,
      rings: three.rings.map((r) => ({
        ...r,
        points: r.points.map(({ x, y }) => ({ x: x + 1, y })),
      })),
    };
    expect(matchPages(reference, undefined, [one, two, shifted], 'print.pdf').verdict).toBe(
      'differs',
    );
  });

  it('has the print file of that load, with the names that are left for it', async () => {
    const jig = jigOf(1, 2);
    const line = newLine(0, 0);
    const settings = { ...NEW_ARTWORK, run: { table: tableOf(text), lines: [line] } };
    const work = { arts: [await pictureOf()], settings, fonts: [fonts.plain] };
    const facts = jobFacts(jig, { verdict: 'ok', reasons: [] }, '2026-03-14');
    const files = await release(
      jig.plan,
      facts,
      pdfjs,
      FILE_SETTINGS,
      { clipper, work },
      furtherPlans(jig, { ...ORDER, pieces: { 1: 5 } }),
    );
    const file = files.find(({ name }) => name === 'load-3-print.pdf')!;
    const task = pdfjs.getDocument({ data: file.bytes.slice() });
    const doc = await task.promise;
    const words = await (await doc.getPage(1)).getTextContent();
    expect(doc.numPages).toBe(1);
    expect(words.items.map((i) => ('str' in i ? i.str : '')).join('')).toBe('Eve');
    await task.destroy();
  });
});

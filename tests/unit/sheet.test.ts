import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { getDocument } from 'pdfjs-dist/legacy/build/pdf.mjs';
import { describe, expect, it } from 'vitest';
import { MM_PER_POINT } from '../../src/base/measure.ts';
import {
  crc16,
  dotsOf,
  hasCheck,
  hasDot,
  isBlack,
  MESSAGE_BITS,
  messageOf,
  riderHasDot,
  ROW_STEP,
  sheetOfMessage,
} from '../../src/sheet/code.ts';
import { stageOf } from '../../src/sheet/colour.ts';
import type { SheetDesign, StageTone } from '../../src/sheet/design.ts';
import { riderPdf, riderSpan, sheetPdf, stripPdf } from '../../src/sheet/draw.ts';
import { layout, PAPERS, RIDERS, riderVertex, sheetVertex, STRIP } from '../../src/sheet/layout.ts';

const TONES: readonly StageTone[] = ['white', 'grey', 'black', 'hue'];
const SIZES: readonly (readonly [string, number, number])[] = [
  ...Object.entries(PAPERS).map(([name, [w, h]]) => [name, w, h] as const),
  ['A4 on its side', 297, 210],
  ['330x480', 330, 480],
  ['100x100', 100, 100],
  ['600x420', 600, 420],
  ['1600x1600', 1600, 1600],
];
const everySheet = SIZES.flatMap(([name, w, h]) =>
  TONES.map((tone) => [name, tone, layout(w, h, tone)] as const),
);

const cellsOf = function* (s: SheetDesign): Generator<[number, number]> {
  for (let i = 0; i < s.columns; i++)
    for (let j = 0; j < s.rows; j++) if (hasCheck(s, i, j)) yield [i, j];
};

describe('paper', () => {
  it('has the sizes of ISO 216: A0 is 1 m², sides 1 : √2, each size half of the one before, whole mm', () => {
    // Source: ISO 216, 3 (A0 841 x 1189 mm, tolerance of a whole millimetre at each halving).
    let [short, long] = [841, 1189];
    const a: [number, number][] = [[short, long]];
    for (let k = 1; k <= 4; k++) {
      [short, long] = [Math.floor(long / 2), short];
      a.push([short, long]);
    }
    expect(PAPERS.A3).toEqual(a[3]);
    expect(PAPERS.A4).toEqual(a[4]);
  });

  it('has Letter and Tabloid in inches', () => {
    // Source: ANSI/ASME Y14.1, sizes A (8.5 x 11 in) and B (11 x 17 in), from memory.
    expect(PAPERS.Letter).toEqual([8.5 * 25.4, 11 * 25.4].map((v) => expect.closeTo(v, 9)));
    expect(PAPERS.Tabloid).toEqual([11 * 25.4, 17 * 25.4].map((v) => expect.closeTo(v, 9)));
  });

  it.each([
    [99, 300],
    [300, 1601],
    [NaN, 200],
  ])('of %d x %d mm is refused with the limits', (w, h) => {
    expect(() => layout(w, h, 'white')).toThrow(/100 to 1600 mm/);
  });
});

describe('the code', () => {
  it('CRC-16 gives the catalogue value', () => {
    // Source: catalogue of parametrised CRC algorithms, CRC-16/IBM-3740 (CCITT-FALSE): check 0x29B1; from memory.
    const bits = [...'123456789'].flatMap((c) =>
      [...c.charCodeAt(0).toString(2).padStart(8, '0')].map(Number),
    );
    expect(crc16(bits)).toBe(0x29b1);
  });

  it.each(everySheet)('%s, %s: its message names it and no other', (_, __, sheet) => {
    const message = messageOf(sheet);
    expect(message).toHaveLength(MESSAGE_BITS);
    expect(sheetOfMessage(message)).toEqual(sheet);
  });

  it('a message with one or two wrong bits names no sheet', () => {
    const message = messageOf(layout(210, 297, 'white'));
    for (let a = 0; a < MESSAGE_BITS; a++) {
      for (let b = a; b < MESSAGE_BITS; b++) {
        const bent = [...message];
        bent[a]! ^= 1;
        if (b !== a) bent[b]! ^= 1;
        expect(sheetOfMessage(bent)).toBeUndefined();
      }
    }
  });

  /** How often the rarest bit of the message stands in the half of the border that has it least. */
  function leastInAnyHalf(sheet: SheetDesign): number {
    const { columns, rows } = sheet;
    const halves: readonly ((i: number, j: number) => boolean)[] = [
      (i) => i < Math.floor(columns / 2),
      (i) => i >= Math.ceil(columns / 2),
      (_, j) => j < Math.floor(rows / 2),
      (_, j) => j >= Math.ceil(rows / 2),
    ];
    const counts = halves.map((inHalf) => {
      const count = new Array<number>(MESSAGE_BITS).fill(0);
      for (const [i, j] of cellsOf(sheet))
        if (!isBlack(i, j) && inHalf(i, j)) count[(i + ROW_STEP * j) % MESSAGE_BITS]!++;
      return Math.min(...count);
    });
    return Math.min(...counts);
  }

  it.each(Object.entries(PAPERS))(
    '%s: every bit of the message stands at least twice in every half of the border',
    (_, [w, h]) => {
      expect(leastInAnyHalf(layout(w, h, 'white'))).toBeGreaterThanOrEqual(2);
    },
  );

  it.each(SIZES)('%s: every half of the border holds the whole message', (_, w, h) => {
    expect(leastInAnyHalf(layout(w, h, 'white'))).toBeGreaterThanOrEqual(1);
  });

  it('of 1517 other sizes, at most the three known need more than a half of their border', () => {
    // Known failure: sheets of 54 to 78 x 56 checks (182 mm long) lack a bit in one half. The count may only shrink.
    let tried = 0;
    const lacking: string[] = [];
    for (let w = 100; w <= 1600; w += 37) {
      for (let h = 100; h <= 1600; h += 41) {
        tried++;
        if (leastInAnyHalf(layout(w, h, 'white')) < 1) lacking.push(`${w}x${h}`);
      }
    }
    expect(tried).toBe(1517);
    expect(lacking.length).toBeLessThanOrEqual(3);
  });

  it('riders: no cut-out of a sheet comes near one, whichever way it is turned', () => {
    // The whole grid is compared, stage included, as if it carried checks everywhere. Chance alone would give a half.
    const turns: readonly ((n: number, i: number, j: number) => [number, number])[] = [
      (_, i, j) => [i, j],
      (n, i, j) => [n - 1 - j, i],
      (n, i, j) => [n - 1 - i, n - 1 - j],
      (n, i, j) => [j, n - 1 - i],
    ];
    let least = 1;
    for (const [w, h] of Object.values(PAPERS)) {
      for (const tone of TONES) {
        const sheet = layout(w, h, tone);
        const message = messageOf(sheet);
        for (const rider of RIDERS) {
          const n = rider.cells;
          for (const turn of turns) {
            for (let i0 = 0; i0 + n <= sheet.columns; i0++) {
              // Black falls on black only where the corner's sum is even.
              for (let j0 = i0 & 1; j0 + n <= sheet.rows; j0 += 2) {
                let differ = 0;
                for (let i = 0; i < n; i++) {
                  for (let j = 0; j < n; j++) {
                    const [a, b] = turn(n, i, j);
                    if (hasDot(message, i0 + i, j0 + j) !== riderHasDot(rider, a, b)) differ++;
                  }
                }
                least = Math.min(least, differ / (n * n));
              }
            }
          }
        }
      }
    }
    expect(least).toBeGreaterThan(0.2);
  });
});

describe.each(everySheet.filter(([, tone]) => tone !== 'grey'))('%s, %s', (_, __, sheet) => {
  it('has its border inside the page and symmetric to it', () => {
    const right = sheetVertex(sheet, sheet.columns, sheet.rows);
    expect(sheet.originMm.x).toBeGreaterThanOrEqual(6);
    expect(sheet.originMm.y).toBeGreaterThanOrEqual(6);
    expect(sheet.widthMm - right.x).toBeCloseTo(sheet.originMm.x, 2);
    expect(sheet.heightMm - right.y).toBeCloseTo(sheet.originMm.y, 2);
  });

  it('has spans along x, y and a diagonal that a caliper of 150 mm reaches', () => {
    expect(sheet.spans.map((s) => s.id)).toEqual(['x', 'y', 'd']);
    for (const { id, from, to, nominalMm } of sheet.spans) {
      expect(nominalMm).toBeCloseTo(Math.hypot(to.x - from.x, to.y - from.y), 3);
      expect(nominalMm, id).toBeLessThanOrEqual(145);
      expect(nominalMm, id).toBeGreaterThan(30);
    }
    const [x, y, d] = sheet.spans;
    expect(x!.from.y).toBe(x!.to.y);
    expect(y!.from.x).toBe(y!.to.x);
    expect(Math.abs(d!.to.x - d!.from.x)).toBeCloseTo(Math.abs(d!.to.y - d!.from.y), 3);
  });

  it('has no check under a span mark', () => {
    for (const { from, to } of sheet.spans) {
      for (const p of [from, to]) {
        const [u, v] = [
          (p.x - sheet.originMm.x) / sheet.pitchMm,
          (p.y - sheet.originMm.y) / sheet.pitchMm,
        ];
        for (const [di, dj] of [
          [-1, -1],
          [0, -1],
          [-1, 0],
          [0, 0],
        ] as const)
          expect(hasCheck(sheet, Math.round(u) + di, Math.round(v) + dj)).toBe(false);
      }
    }
  });
});

describe('the strip', () => {
  it('agrees with no rider, sheet or other place of itself better than chance lets two codes agree', () => {
    // 24 columns of it are 192 cells: 3 standard deviations of fair coins above a half is 0.61.
    const dot = dotsOf(STRIP);
    const sheet = layout(210, 297, 'white');
    const message = messageOf(sheet);
    const wide = 24;
    let most = 0;
    const against = (other: (i: number, j: number) => boolean, w: number, h: number): void => {
      for (let i0 = 0; i0 + wide <= w; i0++) {
        for (let j0 = i0 & 1; j0 + STRIP.rows <= h; j0 += 2) {
          for (const flip of [false, true]) {
            let agree = 0;
            for (let i = 0; i < wide; i++) {
              for (let j = 0; j < STRIP.rows; j++) {
                const [a, b] = flip ? [wide - 1 - i, STRIP.rows - 1 - j] : [i, j];
                if (dot(i, j) === other(i0 + a, j0 + b)) agree++;
              }
            }
            if (flip || i0 > 0 || other !== dot) most = Math.max(most, agree / (wide * STRIP.rows));
          }
        }
      }
    };
    against((i, j) => hasDot(message, i, j), sheet.columns, sheet.rows);
    against(dot, STRIP.columns, STRIP.rows);
    expect(most).toBeGreaterThan(0.5);
    expect(most).toBeLessThan(0.75);
  });

  it('is 200 mm wide, at most 38 mm high, and a caliper of 150 mm reaches its spans', () => {
    expect(STRIP.widthMm).toBe(200);
    expect(STRIP.heightMm).toBeLessThanOrEqual(38);
    expect(STRIP.spans.map((s) => s.id)).toEqual(['x', 'y', 'd']);
    for (const { from, to, nominalMm } of STRIP.spans) {
      expect(nominalMm).toBeCloseTo(Math.hypot(to.x - from.x, to.y - from.y), 3);
      expect(nominalMm).toBeLessThanOrEqual(145);
      for (const p of [from, to]) {
        const i = (p.x - STRIP.originMm.x) / STRIP.pitchMm;
        const j = (p.y - STRIP.originMm.y) / STRIP.pitchMm;
        for (const [di, dj] of [
          [-1, -1],
          [0, -1],
          [-1, 0],
          [0, 0],
        ] as const)
          expect(hasCheck(STRIP, i + di, j + dj)).toBe(false);
      }
    }
  });

  it('is drawn on a page of exactly its size that says its spans', async () => {
    const { view, pages, words } = await readPdf(stripPdf(STRIP));
    expect(pages).toBe(1);
    expect(Math.abs(view[2]! * MM_PER_POINT - 200)).toBeLessThan(0.001);
    expect(Math.abs(view[3]! * MM_PER_POINT - 38)).toBeLessThan(0.001);
    expect(words).toContain('print at 100 %');
    for (const span of STRIP.spans) expect(words).toContain(span.nominalMm.toFixed(2));
  });
});

/** Pages and words as an independent reader sees them. */
async function readPdf(
  bytes: Uint8Array,
): Promise<{ view: number[]; pages: number; words: string }> {
  const pdf = await getDocument({ data: bytes.slice(), isEvalSupported: false, verbosity: 0 })
    .promise;
  const page = await pdf.getPage(1);
  const text = await page.getTextContent();
  const words = text.items.map((item) => ('str' in item ? item.str : '')).join('\n');
  const read = { view: [...page.view], pages: pdf.numPages, words };
  await pdf.destroy();
  return read;
}

describe('the printed page', () => {
  const papers = SIZES.filter(([, w, h]) => Math.max(w, h) <= 600);

  it.each(papers)('of %s is exactly the paper, and says its spans', async (_, w, h) => {
    const sheet = layout(w, h, 'hue');
    const { view, pages, words } = await readPdf(sheetPdf(sheet, [31, 143, 131]));
    expect(pages).toBe(1);
    expect(view[0]).toBe(0);
    expect(view[1]).toBe(0);
    // 0.001 mm: a PDF number of six digits holds far less than that.
    expect(Math.abs(view[2]! * MM_PER_POINT - w)).toBeLessThan(0.001);
    expect(Math.abs(view[3]! * MM_PER_POINT - h)).toBeLessThan(0.001);
    expect(words).toContain('Print at 100 %');
    for (const span of sheet.spans) expect(words).toContain(span.nominalMm.toFixed(2));
  });

  it.each(RIDERS)('of rider $sizeMm is exactly its square', async (rider) => {
    const { view } = await readPdf(riderPdf(rider));
    expect(Math.abs(view[2]! * MM_PER_POINT - rider.sizeMm)).toBeLessThan(0.001);
    expect(Math.abs(view[3]! * MM_PER_POINT - rider.sizeMm)).toBeLessThan(0.001);
    const span = riderSpan(rider);
    expect(span.to.x - span.from.x).toBe(rider.sizeMm);
    expect(riderVertex(rider, rider.cells, rider.cells).x).toBeLessThan(rider.sizeMm);
  });

  it('is the same file each time', () => {
    const sheet = layout(210, 297, 'white');
    expect(sheetPdf(sheet, [255, 255, 255])).toEqual(sheetPdf(sheet, [255, 255, 255]));
  });

  const hasPdfinfo = (() => {
    try {
      execFileSync('pdfinfo', ['-v'], { stdio: 'ignore' });
      return true;
    } catch {
      console.warn('Left out: pdfinfo (poppler) is not installed.');
      return false;
    }
  })();

  it.skipIf(!hasPdfinfo)('has the same size for a second reader (poppler)', () => {
    const folder = mkdtempSync(join(tmpdir(), 'sheet-'));
    try {
      const path = join(folder, 'sheet.pdf');
      writeFileSync(path, sheetPdf(layout(210, 297, 'white'), [255, 255, 255]));
      const told = execFileSync('pdfinfo', ['-box', path], { encoding: 'utf8' });
      const box = /MediaBox:\s+([\d.]+)\s+([\d.]+)\s+([\d.]+)\s+([\d.]+)/.exec(told)!;
      const [x, y, w, h] = box.slice(1).map((v) => Number(v) * MM_PER_POINT);
      // pdfinfo prints two decimals of a point: 0.002 mm.
      expect([x, y]).toEqual([0, 0]);
      expect(Math.abs(w! - 210)).toBeLessThan(0.002);
      expect(Math.abs(h! - 297)).toBeLessThan(0.002);
    } finally {
      rmSync(folder, { recursive: true });
    }
  });
});

describe('the stage', () => {
  it.each([
    ['white', 'white', [255, 255, 255]],
    ['Black', 'black', [0, 0, 0]],
    // Source of the colours: CSS Color Module Level 4, named colours and functional notations.
    ['teal', 'hue', [0, 128, 128]],
    ['rebeccapurple', 'hue', [102, 51, 153]],
    ['#1f8f83', 'hue', [31, 143, 131]],
    ['#0f8', 'hue', [0, 255, 136]],
    ['rgb(1, 2, 3)', 'hue', [1, 2, 3]],
    ['rgb(1 2 3)', 'hue', [1, 2, 3]],
  ] as const)('%s', (text, tone, rgb) => {
    expect(stageOf(text)).toEqual({ tone, rgb });
  });

  it.each(['', 'blurple', '#12', 'rgb(256, 0, 0)', '#ggg'])('%j is no colour', (text) => {
    expect(() => stageOf(text)).toThrow(/no colour/);
  });
});

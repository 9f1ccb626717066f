import { readFileSync } from 'node:fs';
import DxfParser from 'dxf-parser';
import { getDocument, OPS } from 'pdfjs-dist/legacy/build/pdf.mjs';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { calipersOf, sizeOf } from '../support/calipers.ts';
import { expectSound } from './faults.ts';
import { drop, enter, go, openApp, type Desk } from './page.ts';

interface Case {
  readonly name: string;
  readonly thicknessMm: Readonly<Record<string, number>>;
  readonly widestMm: number;
  readonly spansMm: { readonly x: number; readonly y: number; readonly d: number };
  readonly riderSpansMm: Readonly<Record<string, number>>;
}
const read = (path: string): Buffer => readFileSync(new URL(`../../${path}`, import.meta.url));
const NAME = 'o03-opener-rider';
const entered = (JSON.parse(read('tests/accuracy/cases.json').toString()) as Case[]).find(
  (c) => c.name === NAME,
)!;
const truth = JSON.parse(read(`fixtures/${NAME}.truth.json`).toString()) as {
  blanks: { role: string; widest: [number, number][][] }[];
};

type Ring = readonly (readonly [x: number, y: number])[];
interface Seen {
  readonly pageMm: readonly [number, number];
  /** Rings of layer `pocket`, bed frame (mm, y up). */
  readonly pockets: readonly Ring[];
}

/** What is read on the sheet that the board lies on; truly 140.067, 139.897 and 141.393. */
const BOARD_SPANS = { X: '140.08', Y: '139.89', D: '141.40' };

const BED = { width: 310, depth: 220 };
let desk: Desk;
beforeAll(async () => {
  desk = await openApp();
});
afterAll(() => desk.close());

async function downloaded(page: Page, name: string): Promise<Buffer> {
  const [file] = await Promise.all([
    page.waitForEvent('download'),
    page.getByRole('button', { name: `Download ${name}`, exact: true }).click(),
  ]);
  return readFileSync(await file.path());
}

function seeDxf(bytes: Buffer): Seen {
  const dxf = new DxfParser().parseSync(bytes.toString('utf8'))!;
  const rings = (layer: string): Ring[] =>
    dxf.entities
      .filter((e) => e.layer === layer && 'vertices' in e)
      .map((e) =>
        (e as unknown as { vertices: { x: number; y: number }[] }).vertices.map(
          ({ x, y }): [number, number] => [x, y],
        ),
      );
  const board = rings('board')[0]!;
  return {
    pageMm: [Math.max(...board.map((p) => p[0])), Math.max(...board.map((p) => p[1]))],
    pockets: rings('pocket'),
  };
}

/** The browser's own XML parser and path geometry read the SVG: no line of ours takes part. */
async function seeSvg(page: Page, bytes: Buffer): Promise<Seen> {
  return page.evaluate((text) => {
    const svg = new DOMParser().parseFromString(text, 'image/svg+xml').documentElement;
    const [, , width, height] = svg.getAttribute('viewBox')!.split(/\s+/).map(Number) as [
      number,
      number,
      number,
      number,
    ];
    document.body.append(svg);
    const layer = [...svg.querySelectorAll('g')].find(
      (g) =>
        g.id === 'pocket' ||
        [...g.attributes].some((a) => a.localName === 'label' && a.value === 'pocket'),
    )!;
    const toPage = (node: SVGGraphicsElement): DOMMatrix => {
      const own = node.getCTM()!;
      const root = (svg as unknown as SVGSVGElement).getCTM();
      return DOMMatrix.fromMatrix(root ? root.inverse().multiply(own) : own);
    };
    const rings = [...layer.querySelectorAll<SVGPathElement>('path')].flatMap((path) => {
      const m = toPage(path);
      // Closed rings of straight lines: the vertices are the numbers of the path itself.
      return path
        .getAttribute('d')!
        .split(/(?=M)/)
        .map((d) => (d.match(/-?[\d.]+(?:e-?\d+)?/g) ?? []).map(Number))
        .filter((n) => n.length >= 6)
        .map((n) =>
          Array.from({ length: n.length / 2 }, (_, k) => {
            const p = new DOMPoint(n[2 * k], n[2 * k + 1]).matrixTransform(m);
            return [p.x, height - p.y] as [number, number];
          }),
        );
    });
    svg.remove();
    return { pageMm: [width, height] as [number, number], pockets: rings };
  }, bytes.toString('utf8'));
}

/** pdf.js walks the page; its optional-content marks tell the layer. */
async function seePdf(bytes: Buffer): Promise<Seen> {
  const pdf = await getDocument({ data: new Uint8Array(bytes), isEvalSupported: false }).promise;
  const sheet = await pdf.getPage(1);
  const layers = await pdf.getOptionalContentConfig();
  const { fnArray, argsArray } = await sheet.getOperatorList();
  const MM = 25.4 / 72;
  type Matrix = readonly [number, number, number, number, number, number];
  let now: Matrix = [1, 0, 0, 1, 0, 0];
  const kept: Matrix[] = [];
  const marks: string[] = [];
  const pockets: Ring[] = [];
  fnArray.forEach((fn, k) => {
    const args = argsArray[k] as unknown[];
    if (fn === OPS.save) kept.push(now);
    else if (fn === OPS.restore) now = kept.pop()!;
    else if (fn === OPS.transform) {
      const [a, b, c, d, e, f] = args as unknown as Matrix;
      const [A, B, C, D, E, F] = now;
      now = [
        A * a + C * b,
        B * a + D * b,
        A * c + C * d,
        B * c + D * d,
        A * e + C * f + E,
        B * e + D * f + F,
      ];
    } else if (fn === OPS.beginMarkedContentProps) {
      const group = args[1] as { id?: string } | undefined;
      const known = group?.id ? (layers.getGroup(group.id) as { name?: string } | null) : null;
      marks.push(known?.name ?? '');
    } else if (fn === OPS.beginMarkedContent) marks.push('');
    else if (fn === OPS.endMarkedContent) marks.pop();
    else if (fn === OPS.constructPath && marks.includes('pocket')) {
      const [ops, numbers] = args as [number[], number[]];
      let at = 0;
      let ring: [number, number][] = [];
      const point = (): [number, number] => {
        const [x, y] = [numbers[at]!, numbers[at + 1]!];
        at += 2;
        const [A, B, C, D, E, F] = now;
        return [(A * x + C * y + E) * MM, (B * x + D * y + F) * MM];
      };
      for (const op of ops) {
        if (op === OPS.moveTo) {
          if (ring.length > 0) pockets.push(ring);
          ring = [point()];
        } else if (op === OPS.lineTo) ring.push(point());
        else if (op === OPS.closePath) continue;
        else throw new Error(`a pocket in the PDF holds operator ${op}`);
      }
      if (ring.length > 0) pockets.push(ring);
    }
  });
  const [x0, y0, x1, y1] = sheet.view as [number, number, number, number];
  await pdf.destroy();
  return { pageMm: [(x1 - x0) * MM, (y1 - y0) * MM], pockets };
}

/** Largest distance from a vertex of one ring to the nearest vertex of the other, both ways. */
function apart(a: Ring, b: Ring): number {
  const oneWay = (p: Ring, q: Ring): number =>
    Math.max(...p.map((s) => Math.min(...q.map((t) => Math.hypot(s[0] - t[0], s[1] - t[1])))));
  return Math.max(oneWay(a, b), oneWay(b, a));
}
const order = (s: Seen): readonly Ring[] =>
  [...s.pockets].sort((a, b) => a[0]![0] + a[0]![1] * 1e3 - (b[0]![0] + b[0]![1] * 1e3));

it('expert path: leads from a dropped picture to files that hold the same pockets at the same places', async () => {
  const { page, foreign, errors } = desk;
  await page.getByRole('button', { name: 'New job', exact: true }).click();

  // Sheet: the calipers' figures, one of them in the way of the workshop, with a decimal comma.
  await page.getByRole('radio', { name: 'white' }).check();
  await enter(page, /^X, across/, String(entered.spansMm.x).replace('.', ','));
  await enter(page, /^Y, along/, String(entered.spansMm.y));
  await enter(page, /^D, diagonal/, `${entered.spansMm.d} mm`);
  await enter(page, /^Rider, edge to edge/, String(entered.riderSpansMm['50']));
  await page.getByText(/^Paper moves by 0\.1 to 0\.4 %/).waitFor();
  await page.getByRole('radio', { name: 'same day' }).check();
  await page.getByText('The sheet is as it was measured.').waitFor();

  // Picture, dropped anywhere.
  await drop(page, [
    { name: `${NAME}.jpg`, type: 'image/jpeg', bytes: read(`fixtures/${NAME}.jpg`) },
  ]);
  await page.getByText(/^The sheet was found\. Say how thick/).waitFor({ timeout: 90_000 });

  // A rider may lie on a block beside the blank; this one does not, which is said by leaving it empty.
  await enter(page, /^Block that only carries a rider/, '12');
  await page.getByText('beside the blank; it is not traced').waitFor();
  await enter(page, /^Block that only carries a rider/, '');
  await page.getByText('none: the rider lies on the blank').waitFor();

  // Outline: the rider says how high it lies before anyone does.
  await go(page, 'Outline');
  await page
    .getByText(/the rider says \d+\.\d ± \d/)
    .first()
    .waitFor();
  await page.getByText(/^Thickness ±\s/).click();
  await enter(page, /^Height of the widest edge/, String(entered.widestMm));
  await page.getByRole('radio', { name: 'the face to print' }).check();
  await enter(page, /how thick\?/, String(entered.thicknessMm['1']));
  await page.getByText(/^U of the edge/).waitFor({ timeout: 120_000 });

  // Check: calipers on the true blank, to a hundredth.
  const blank = truth.blanks.find((b) => b.role === 'blank')!;
  await go(page, 'Check');
  const [width, height] = calipersOf(blank.widest[0]!);
  await page.getByRole('button', { name: '0.00', exact: true }).click();
  await enter(page, /^Width: your reading/, width.toFixed(2));
  await enter(page, /^Height: your reading/, height.toFixed(2));
  await page.getByRole('button', { name: /^Check\s*2 of 2 agree/ }).waitFor();
  // The program's own record counts them, by what they were made with.
  await page.getByText('2 of your last 2 readings lay within U.').waitFor();
  await page.getByText('By camera, sheet and instrument').click();
  await page
    .getByRole('listitem')
    .filter({ hasText: /^caliper\s*2 of 2$/ })
    .waitFor();
  await page
    .getByRole('listitem')
    .filter({ hasText: /^sheet A4, white\s*2 of 2$/ })
    .waitFor();
  // Thickness is a check like any other, but says nothing of the edge: the record does not count it.
  await page.getByRole('radio', { name: 'thickness' }).check();
  await enter(page, /^Thickness: your reading/, String(entered.thicknessMm['1']));
  await page.getByRole('button', { name: /^Check\s*3 of 3 agree/ }).waitFor();
  expect(await page.getByText('2 of your last 2 readings lay within U.').count()).toBe(1);

  // Bed: two in a row, zero at the rear right, which moves no geometry.
  await go(page, 'Bed');
  await enter(page, /^Bed, width/, String(BED.width));
  await enter(page, /^Bed, depth/, String(BED.depth));
  await enter(page, /^Rows/, '1');
  await enter(page, /^Columns/, '2');
  await page.getByRole('radio', { name: 'rear right' }).check();
  await page.getByText(/2\s+pockets on the bed/).waitFor();

  // Release.
  await go(page, 'Release');
  await page.getByRole('button', { name: 'Download cut.dxf' }).waitFor({ timeout: 60_000 });
  const proofs = await page.getByText(/^read back: 2 pockets, greatest difference/).count();
  expect(proofs).toBeGreaterThanOrEqual(7);

  const plan = JSON.parse((await downloaded(page, 'plan.json')).toString()) as {
    bed_mm: [number, number];
    pockets: { pocket: [number, number][][] | [number, number][] }[];
  };
  const seen: Record<string, Seen> = {
    'cut.dxf': seeDxf(await downloaded(page, 'cut.dxf')),
    'cut.svg': await seeSvg(page, await downloaded(page, 'cut.svg')),
    'cut.pdf': await seePdf(await downloaded(page, 'cut.pdf')),
    'artwork.pdf': await seePdf(await downloaded(page, 'artwork.pdf')),
    'artwork.svg': await seeSvg(page, await downloaded(page, 'artwork.svg')),
  };
  expect(plan.bed_mm).toEqual([BED.width, BED.depth]);
  const first = order(seen['cut.dxf']!);
  expect(first).toHaveLength(2);
  for (const [name, file] of Object.entries(seen)) {
    expect(Math.abs(file.pageMm[0] - BED.width), `${name}: width`).toBeLessThan(0.001);
    expect(Math.abs(file.pageMm[1] - BED.depth), `${name}: depth`).toBeLessThan(0.001);
    const rings = order(file);
    expect(rings, name).toHaveLength(2);
    rings.forEach((ring, k) => expect(apart(ring, first[k]!), name).toBeLessThan(0.001));
  }

  // The job sheet shows the picture with its outline; nothing of what the camera's file says is in it.
  const sheet = await downloaded(page, 'job-sheet.pdf');
  expect(sheet.includes('/DCTDecode')).toBe(true);
  expect(sheet.includes('Exif')).toBe(false);

  // A sample of one pocket: files of its own, on the same page with the same zero.
  const sample = page.getByLabel('Sample of these pockets alone, by number');
  await sample.fill('3');
  await sample.press('Enter');
  await page.getByText('the plan has pockets 1 to 2').waitFor();
  await sample.fill('2');
  await sample.press('Enter');
  await page.getByRole('button', { name: 'Download sample-cut.dxf' }).waitFor({ timeout: 60_000 });
  const alone = seeDxf(await downloaded(page, 'sample-cut.dxf'));
  expect(alone.pageMm).toEqual(seen['cut.dxf']!.pageMm);
  expect(order(alone)).toEqual([first[1]]);

  // The pocket is the true blank and 0.3 mm of clearance a side, within twice the goal of this workflow (0.10 mm) on either side.
  const [wide, deep] = sizeOf(first[0]!);
  const [trueWide, trueDeep] = sizeOf(blank.widest[0]!);
  expect(Math.abs(wide - (trueWide + 0.6))).toBeLessThan(0.4);
  expect(Math.abs(deep - (trueDeep + 0.6))).toBeLessThan(0.4);

  expect(foreign).toEqual([]);
  expect(errors).toEqual([]);
});

// The board of these entries, rendered (tests/after/fixture.ts): cut 0.06 mm wide per side; what is typed is off the truth by
// 0.02 mm or less.
it('goes on with the board that was cut: measured, tried, printed on, and printed again', async () => {
  const { page, foreign, errors } = desk;
  const picture = (name: string) => ({
    name,
    type: 'image/jpeg',
    bytes: read(`fixtures/${name}`),
  });
  await go(page, 'Board');
  await page.getByText('Once the board is cut, measure it.').waitFor();
  await drop(page, [picture('c01-board.jpg')]);
  await page.getByText(/^It lies on another sheet, 297 × 420/).waitFor({ timeout: 90_000 });
  await page.getByRole('radio', { name: 'same day' }).check({ force: true });
  for (const [span, mm] of Object.entries(BOARD_SPANS))
    await enter(page, new RegExp(`^${span}, cross to cross`), mm);
  // Last, so that the board is traced once.
  await enter(page, /^Board, how thick/, '3.02');
  const stand = page.getByRole('button', { name: /^Board\s*2 measured/ });
  await stand.waitFor({ timeout: 120_000 });
  const [, wide, U] = /(\d\.\d+)\s*± (\d\.\d+) mm wide/.exec(
    await page.getByText('The cutter, per side').locator('xpath=..').innerText(),
  )!;
  expect(Math.abs(Number(wide) - 0.06)).toBeLessThanOrEqual(Number(U));
  // What walls must be measured to.
  expect(Number(U)).toBeLessThan(0.08);
  expect(await page.getByText(/^Goes in: 0\.[34]/).count()).toBe(2);
  await page.getByRole('button', { name: /^Take a kerf of 0\.\d+ mm/ }).click();
  await page.getByText(/^The kerf in force is the one found/).waitFor();
  await page.getByText(/^The plan was changed since this board was cut/).waitFor();
  await page.keyboard.press('Control+z');
  await page.getByRole('button', { name: /^Take a kerf of 0\.\d+ mm/ }).waitFor();
  await expectSound(page, 'board-walls');

  // The next delivery: the same blank, pictured as it was.
  await page.getByRole('radio', { name: 'New pieces' }).check({ force: true });
  await drop(page, [picture(`${NAME}.jpg`)]);
  await page
    .getByText('Tried in the pocket that was measured tightest.')
    .waitFor({ timeout: 90_000 });
  await page.getByText(/^1 of 1\s+0 do not, 0 not proven$/).waitFor();
  await expectSound(page, 'board-pieces');

  // The first print, read at both pockets: 0.3 mm to the right, and turned.
  await page.getByRole('radio', { name: 'First print' }).check({ force: true });
  for (const [field, mm] of [
    ['right, place 1', '0.3'],
    ['rear, place 1', '-0.1'],
    ['right, place 2', '0.3'],
    ['rear, place 2', '0.3'],
  ] as const)
    await enter(page, new RegExp(`^Off to the ${field}`), mm);
  await page.getByText(/^Artwork and its templates are moved 0\.30 mm to the left/).waitFor();
  await expectSound(page, 'board-print');
  await go(page, 'Release');
  await page.getByRole('button', { name: 'Download cut.dxf' }).waitFor({ timeout: 60_000 });
  const middles = (seen: Seen): number[][] =>
    seen.pockets
      .map((ring) => [0, 1].map((k) => ring.reduce((s, p) => s + p[k as 0 | 1], 0) / ring.length))
      .sort((a, b) => a[0]! - b[0]!);
  const cut = middles(seeDxf(await downloaded(page, 'cut.dxf')));
  const artwork = middles(await seePdf(await downloaded(page, 'artwork.pdf')));
  // Taken back what was read; a ring's middle lies up to 10 mm from the place that was read, which the turn of 0.005 moves by 0.05.
  cut.forEach(([x, y], k) => {
    expect(Math.abs(artwork[k]![0]! - x! + 0.3)).toBeLessThan(0.05);
    const dy = artwork[k]![1]! - y!;
    expect(Math.min(Math.abs(dy - 0.1), Math.abs(dy + 0.3))).toBeLessThan(0.05);
  });
  expect(Math.abs(artwork[0]![1]! - cut[0]![1]! - artwork[1]![1]! + cut[1]![1]!)).toBeGreaterThan(
    0.3,
  );

  // The register, months later.
  await go(page, 'Board');
  await page.getByRole('radio', { name: 'Register' }).check({ force: true });
  await page.getByRole('textbox', { name: 'Where it is kept' }).fill('rack 2');
  await page.getByRole('textbox', { name: 'Where it is kept' }).press('Enter');
  await page.getByRole('button', { name: 'Enter this run' }).click();
  await expectSound(page, 'board-register');
  await go(page, 'Jobs');
  await page.getByText(/kept: rack 2; measured .* printed once, 2 pieces/).waitFor();
  await expectSound(page, 'jobs-register');
  await page.getByRole('button', { name: /^Print again/ }).click();
  await page
    .getByText(/lands on this board as it is seated now has not been read/)
    .first()
    .waitFor();
  await page.getByText('2, 310 × 220 mm').waitFor();
  expect(foreign).toEqual([]);
  expect(errors).toEqual([]);
});

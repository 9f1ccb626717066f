import { DxfWriter, LWPolylineFlags } from '@tarikjabiri/dxf';
import { beforeAll, describe, expect, it } from 'vitest';
import { Refusal } from '../../src/base/reason.ts';
import { artworkDrawing, cutDrawing } from '../../src/files/drawing.ts';
import { dxf } from '../../src/files/dxf.ts';
import { eps } from '../../src/files/eps.ts';
import { loadPdfjs } from '../../src/files/load-pdfjs-node.ts';
import { pdf } from '../../src/files/pdf.ts';
import type { Pdfjs } from '../../src/files/pdfjs.ts';
import { planJson } from '../../src/files/plan-json.ts';
import { prove, provePlanJson, seeDxf, seeEps, seePdf, seeSvg } from '../../src/files/read-back.ts';
import { release } from '../../src/files/release.ts';
import { svg } from '../../src/files/svg.ts';
import type { Clipper } from '../../src/geometry/clipper.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { DEFAULT_BED, DEFAULT_POCKET, jobFacts, makeJig, type Jig } from '../../src/job/jig.ts';
import type { BedSettings } from '../../src/plan/plan.ts';
import { card, outlineOf } from '../outlines.ts';

let clipper: Clipper;
let pdfjs: Pdfjs;
beforeAll(async () => {
  [clipper, pdfjs] = [await loadClipper(), await loadPdfjs()];
});

const traced = { outlines: [outlineOf(card)], verdict: 'ok', reasons: [] } as const;
const jigOf = (bed: Partial<BedSettings> = {}, pocket = DEFAULT_POCKET): Jig =>
  makeJig(clipper, traced, {
    job: { number: '1', name: 'Cards' },
    pocket,
    bed: { ...DEFAULT_BED, rows: 2, columns: 2, ...bed },
  });
const text = (bytes: Uint8Array): string => new TextDecoder().decode(bytes);
const bytesOf = (words: string): Uint8Array => new TextEncoder().encode(words);

describe('a file that another hand has changed is not taken for the plan', () => {
  it('SVG: one coordinate, the page, a layer, the digest, the view box', () => {
    const drawing = cutDrawing(jigOf().plan);
    const good = text(svg(drawing));
    const check = (words: string) => prove('cut.svg', drawing, seeSvg(bytesOf(words), 'cut.svg'));
    expect(check(good).greatestMm).toBeLessThan(1e-9);
    const moved = good.replace(/M([\d.]+) /, (_, x: string) => `M${Number(x) + 0.002} `);
    expect(() => check(moved)).toThrow(/pocket 1 is off by 0\.00/);
    const nudged = good.replace(/M([\d.]+) /, (_, x: string) => `M${Number(x) + 0.0005} `);
    expect(check(nudged).greatestMm).toBeCloseTo(0.0005, 6);
    expect(() => check(good.replace('width="420mm"', 'width="420.01mm"'))).toThrow(/view box/);
    expect(() => check(good.replace('id="cut"', 'id="cuts"'))).toThrow(/layer cut is missing/);
    expect(() => check(good.replaceAll(drawing.digest, 'f'.repeat(64)))).toThrow(/digest reads f/);
    expect(() => check(good.replace('</svg>', ''))).toThrow(/not well-formed/);
    expect(() => check(good.replaceAll('420', '1587.4'))).toThrow(/page is 1587\.400/);
    expect(() => check(good.replace(/L[^LZ]+Z/, 'Z'))).toThrow(/vertices, not/);
  });

  it('EPS: one coordinate, the boxes, the scale, a layer, the digest, a line dropped', () => {
    const drawing = cutDrawing(jigOf().plan);
    const good = text(eps(drawing));
    const check = (words: string) => prove('cut.eps', drawing, seeEps(bytesOf(words), 'cut.eps'));
    expect(check(good)).toMatchObject({ reader: 'own', pockets: 4 });
    expect(check(good).greatestMm).toBeLessThan(1e-6);
    const moved = good.replace(
      /\n([\d.]+) ([\d.]+) m/,
      (_, x: string, y) => `\n${Number(x) + 0.002} ${y} m`,
    );
    expect(() => check(moved)).toThrow(/pocket 1 is off by 0\.00/);
    expect(() => check(good.replace('2.834645669291339 2', '2.835 2'))).toThrow(/is off by/);
    expect(() => check(good.replace(/(HiResBoundingBox: 0 0 )[\d.]+/, '$11190.2'))).toThrow(
      /page is 419\.876 x/,
    );
    expect(() => check(good.replace('%%BoundingBox: 0 0 1191', '%%BoundingBox: 0 0 1190'))).toThrow(
      /whole points/,
    );
    expect(() => check(good.replace('% layer cut', '% layer cuts'))).toThrow(
      /layer cut is missing/,
    );
    expect(() => check(good.replaceAll(drawing.digest, 'f'.repeat(64)))).toThrow(/digest reads f/);
    expect(() => check(good.replace(/h S/, 'h n'))).toThrow(/3 closed lines, not 4/);
  });

  it('DXF: unit, scale, a line dropped', () => {
    const drawing = cutDrawing(jigOf().plan);
    const good = text(dxf(drawing));
    const check = (words: string) => prove('cut.dxf', drawing, seeDxf(bytesOf(words), 'cut.dxf'));
    expect(check(good).pockets).toBe(4);
    expect(() => check(good.replace(/(\$INSUNITS\n *70\n *)4/, '$11'))).toThrow(/unit is 1/);
    expect(() => check(good.replace(/\n420\n/g, '\n16.5354\n'))).toThrow(/page is 16\.535/);
    expect(() => check(good.replace(/(LWPOLYLINE\n[\s\S]*?\n8\n)pocket/, '$1mark'))).toThrow(
      /layer pocket has 3 closed lines, not 4/,
    );
  });

  it('DXF: arcs are seen and not taken for straight lines', () => {
    // Bulge 1 is a half circle (tan(180 / 4)): DXF reference, group 42.
    const writer = new DxfWriter();
    writer.setUnits(4);
    writer.addLWPolyline(
      [
        { point: { x: 0, y: 0 }, bulge: 1 },
        { point: { x: 10, y: 0 }, bulge: 1 },
      ],
      { flags: LWPolylineFlags.Closed },
    );
    writer.addLayer('board', 7, 'CONTINUOUS');
    writer.setCurrentLayerName('board');
    writer.addLWPolyline(
      [{ point: { x: 0, y: 0 } }, { point: { x: 20, y: 0 } }, { point: { x: 20, y: 20 } }],
      { flags: LWPolylineFlags.Closed },
    );
    const [ring] = seeDxf(bytesOf(writer.stringify()), 'arcs.dxf').layers.get('0')!;
    expect(ring!.length).toBeGreaterThan(100);
    for (const { x, y } of ring!) expect(Math.hypot(x - 5, y)).toBeCloseTo(5, 9);
  });

  it('PDF: another scale, another plan', async () => {
    const { plan } = jigOf();
    const drawing = artworkDrawing(plan);
    const good = await pdf(drawing);
    expect(prove('a', drawing, await seePdf(pdfjs, good, 'a')).pockets).toBe(4);
    const page = { ...drawing, widthMm: drawing.widthMm * (96 / 72) };
    await expect(async () =>
      prove('a', drawing, await seePdf(pdfjs, await pdf(page), 'a')),
    ).rejects.toThrow(/page is 560\.000 x 297\.000 mm/);
    const shifted = {
      ...drawing,
      layers: drawing.layers.map((layer) => ({
        ...layer,
        closed: layer.closed.map(({ pocket, ring }) => ({
          ...(pocket === undefined ? {} : { pocket }),
          ring: ring.map(({ x, y }) => ({ x: x * 1.002, y })),
        })),
      })),
    };
    await expect(async () =>
      prove('a', drawing, await seePdf(pdfjs, await pdf(shifted), 'a')),
    ).rejects.toThrow(/layer print, pocket 1 is off/);
  });

  it('plan.json: a place, a pocket', () => {
    const { plan } = jigOf();
    const good = text(planJson(plan));
    const check = (words: string) => provePlanJson('plan.json', plan, bytesOf(words));
    expect(check(good).greatestMm).toBe(0);
    expect(() => check(good.replace('"turn_deg":0', '"turn_deg":180'))).toThrow(/another one/);
    expect(() => check(good.replace(/"place":\{"x":/, '"place":{"x":1'))).toThrow(/place is off/);
  });
});

describe('the release stays shut', () => {
  const shut = async (jig: Jig, code: string, words: RegExp): Promise<void> => {
    expect(jig.plan.reasons.map((r) => r.code)).toContain(code);
    const tried = release(jig.plan, jobFacts(jig, traced, '2026-03-14'), pdfjs);
    await expect(tried).rejects.toThrow(Refusal);
    await expect(tried).rejects.toThrow(words);
  };
  it('when the bed holds fewer than asked, with how many would fit', async () => {
    // Walls are 86.2 x 54.58 mm; on 420 x 297 with margins of 5 and 4 mm between: 4 columns, 4 rows.
    await shut(jigOf({ rows: 6, columns: 4 }), 'bed-holds-fewer', /does not hold 24 .*; 16 fit/);
  });
  it('when pockets run into each other', async () => {
    await shut(jigOf({ pitchMm: [86, 80] }), 'pockets-overlap', /Pockets 1 and 2 run into/);
  });
  it('when the cutter is wider than the pocket', async () => {
    await shut(
      jigOf({}, { ...DEFAULT_POCKET, tool: { kind: 'mill', radiusMm: 28 } }),
      'cut-vanishes',
      /nothing is left of its cut path/,
    );
  });
  it('when nothing is laid', async () => {
    await shut(jigOf({ rows: 0 }), 'plan-empty', /No pocket/);
  });
});

describe('what is doubtful is said with its number, and does not shut the release', () => {
  it.each([
    ['wall-thin', { pitchMm: [88, 80] }, /only 1\.8 mm of wall is left; 4 mm/],
    [
      'margin-short',
      { widthMm: 183, depthMm: 297 },
      /within 3\.3 mm of the edge .* margin is 5 mm/,
    ],
  ] as const)('%s', (code, bed, words) => {
    const found = jigOf(bed).plan.reasons.find((r) => r.code === code);
    expect(found?.level).toBe('doubt');
    expect(found?.message).toMatch(words);
  });

  it('clearance below U', () => {
    const found = jigOf({}, { ...DEFAULT_POCKET, material: 'acrylic', clearanceMm: 0.05 }).plan
      .reasons;
    // u = 0.0283 (edge 0.02, rest 0.02), three times that for the whole outline.
    expect(found.map(({ code }) => code)).toEqual(['clearance-below-u']);
    expect(found[0]!.message).toMatch(/0\.05 mm is less than .* 0\.08 mm/);
  });
});

import { StandardFonts } from '@cantoo/pdf-lib';
import { MM_PER_POINT, type Point } from '../base/measure.ts';
import type { Drawing } from './drawing.ts';
import { ascii, figure } from './letters.ts';
import { contentOf, documentOf } from './pdf.ts';
import { operatorStream, setContent } from './pdf-page.ts';
import type { Pdfjs } from './pdfjs.ts';
import { emptied, seeForms } from './print-see.ts';
import { dist, fault, prove, READ_BACK_MM, seePdf, type Proof } from './read-back.ts';
import { PRINT_PAPERS, type FileSettings, type PrintPaper } from './settings.ts';

/** What printers leave white at the edges, with room for the check spans, mm. */
const MARGIN_MM = 14;
/** The drawing goes on past the right and upper side of a tile, for the next one to be glued over, mm. */
const FLAP_MM = 5;

/** Pages that make up the bed: each shows a part of it from `x`, `y` on, bed mm. */
export interface Tiling {
  readonly paperMm: readonly [number, number];
  readonly tileMm: readonly [number, number];
  readonly columns: number;
  readonly rows: number;
  /** From the lower left tile, row by row. */
  readonly tiles: readonly { readonly name: string; readonly x: number; readonly y: number }[];
}

const rowName = (k: number): string =>
  (k >= 26 ? String.fromCharCode(64 + Math.floor(k / 26)) : '') +
  String.fromCharCode(65 + (k % 26));

/** The paper upright or lying, whichever takes fewer pages. */
export function tilingOf(
  { widthMm, heightMm }: Pick<Drawing, 'widthMm' | 'heightMm'>,
  paper: PrintPaper,
): Tiling {
  const [w, h] = PRINT_PAPERS[paper];
  const of = (paperMm: readonly [number, number]): Tiling => {
    const tileMm = [paperMm[0] - 2 * MARGIN_MM, paperMm[1] - 2 * MARGIN_MM] as const;
    const columns = Math.ceil(widthMm / tileMm[0] - 1e-9);
    const rows = Math.ceil(heightMm / tileMm[1] - 1e-9);
    const tiles = Array.from({ length: rows * columns }, (_, k) => {
      const [row, column] = [Math.floor(k / columns), k % columns];
      return { name: `${rowName(row)}${column + 1}`, x: column * tileMm[0], y: row * tileMm[1] };
    });
    return { paperMm, tileMm, columns, rows, tiles };
  };
  const [upright, lying] = [of([w, h]), of([h, w])];
  return lying.tiles.length < upright.tiles.length ? lying : upright;
}

/** How much of the drawing a tile shows: its part, and a flap where another page goes on. */
function shownOf({ tileMm, columns, rows }: Tiling, tile: number) {
  const [column, row] = [tile % columns, Math.floor(tile / columns)];
  return {
    widthMm: tileMm[0] + (column === columns - 1 ? 0 : FLAP_MM),
    heightMm: tileMm[1] + (row === rows - 1 ? 0 : FLAP_MM),
  };
}

/**
 * A drawing at 100 % over as many pages as it takes. Each page has its own part of it, a frame where the next page meets it,
 * joining marks half on either page, and a check span along each direction: printers differ in both.
 */
export async function paperPrint(drawing: Drawing, settings: FileSettings): Promise<Uint8Array> {
  const { paper } = settings;
  const tiling = tilingOf(drawing, paper);
  const { paperMm, tileMm, tiles, columns, rows } = tiling;
  const doc = await documentOf(drawing, `${drawing.title}, on ${paper}`);
  const font = await doc.embedFont(StandardFonts.Helvetica);
  const k = 1 / MM_PER_POINT;
  const { operators, resources } = contentOf(doc, font, drawing, settings);
  // The drawing stands in the file once, however many pages show it.
  const form = doc.context.register(
    operatorStream(doc.context, [operators], {
      Type: 'XObject',
      Subtype: 'Form',
      BBox: [0, 0, drawing.widthMm * k, drawing.heightMm * k],
      Resources: resources,
    }),
  );
  for (const [tile, { name, x, y }] of tiles.entries()) {
    const page = doc.addPage([paperMm[0] * k, paperMm[1] * k]);
    const fontName = page.node.newFontDictionary('F', font.ref).toString();
    const formName = page.node.newXObject('X', form).toString();
    const [column, row] = [Math.round(x / tileMm[0]), Math.round(y / tileMm[1])];
    const last = { column: column === columns - 1, row: row === rows - 1 };
    const [w, h] = tileMm;
    const out: string[] = ['q'];
    const at = (v: number, u: number): string => `${figure(v * k)} ${figure(u * k)}`;
    const line = (...points: readonly (readonly [number, number])[]): void => {
      points.forEach(([v, u], i) => out.push(`${at(v, u)} ${i === 0 ? 'm' : 'l'}`));
      out.push('S');
    };
    const words = (text: string, v: number, u: number, turn = '1 0 0 1'): void => {
      out.push(
        `BT ${fontName} ${figure((2.4 / 0.718) * k)} Tf ${turn} ${at(v, u)} Tm ${font.encodeText(ascii(text)).toString()} Tj ET`,
      );
    };
    const shown = shownOf(tiling, tile);
    out.push('q', `${at(MARGIN_MM, MARGIN_MM)} ${at(shown.widthMm, shown.heightMm)} re W n`);
    out.push(`1 0 0 1 ${at(MARGIN_MM - x, MARGIN_MM - y)} cm ${formName} Do`, 'Q');
    // Cut along the frame on the left and below; the right and the upper side lie under the next page.
    out.push('0.45 0.5 0.52 RG 0.45 0.5 0.52 rg', `${figure(0.1 * k)} w`);
    const [l, b, r, t] = [MARGIN_MM, MARGIN_MM, MARGIN_MM + w, MARGIN_MM + h];
    line([l, b], [r, b], [r, t], [l, t], [l, b]);
    // Joining marks: a rhomb across each joint, at a quarter and three quarters of it.
    for (const share of [0.25, 0.75]) {
      const [u, v] = [b + h * share, l + w * share];
      for (const joint of [...(column > 0 ? [l] : []), ...(last.column ? [] : [r])])
        line([joint - 4, u], [joint, u - 2.5], [joint + 4, u], [joint, u + 2.5], [joint - 4, u]);
      for (const joint of [...(row > 0 ? [b] : []), ...(last.row ? [] : [t])])
        line([v, joint - 4], [v - 2.5, joint], [v, joint + 4], [v + 2.5, joint], [v, joint - 4]);
    }
    // Check spans in the margins.
    const [cx, cy] = [paperMm[0] / 2 - 50, paperMm[1] / 2 - 50];
    out.push('0 0 0 RG 0 0 0 rg');
    line([cx, 8], [cx + 100, 8]);
    line([8, cy], [8, cy + 100]);
    for (const end of [0, 100]) {
      line([cx + end, 6], [cx + end, 10]);
      line([6, cy + end], [10, cy + end]);
    }
    words('100 mm', cx + 103, 7);
    words('100 mm', 9.2, cy + 103, '0 1 -1 0');
    const beside = [
      ...(column > 0 ? [`${rowName(row)}${column} lies left of it`] : []),
      ...(row > 0 ? [`${rowName(row - 1)}${column + 1} lies below it`] : []),
    ];
    // Above the flap, which is not written over.
    words(
      `${[`${drawing.jobNumber}, page ${name} of ${rows} x ${columns}`, ...beside].join('; ')}. Print at 100 %, then measure both spans.`,
      l,
      paperMm[1] - 7.8,
    );
    out.push('Q');
    setContent(page, out);
  }
  return doc.save({ useObjectStreams: false });
}

/**
 * Holds the file, read with pdf.js, against the drawing: number and size of the pages, every line of the drawing as the first page
 * has it, and on every other where it lies and to what it is clipped. It stands in the file once; read anew for each page, a large
 * one takes minutes.
 *
 * @throws Error (a fault of the program) when anything is missing or off
 */
export async function provePaperPrint(
  file: string,
  drawing: Drawing,
  paper: PrintPaper,
  pdfjs: Pdfjs,
  bytes: Uint8Array,
): Promise<Proof> {
  const tiling = tilingOf(drawing, paper);
  const { paperMm, tiles } = tiling;
  const first = await seePdf(pdfjs, bytes, file, { page: 1, pages: tiles.length });
  const onBed = <T extends { readonly x: number; readonly y: number }>(of: readonly T[]) =>
    of.map((p) => ({ x: p.x - MARGIN_MM, y: p.y - MARGIN_MM }));
  const proof = prove(file, drawing, {
    ...first,
    widthMm: drawing.widthMm,
    heightMm: drawing.heightMm,
    layers: new Map([...first.layers].map(([n, r]) => [n, r.map(onBed)])),
    open: new Map([...first.open].map(([n, r]) => [n, r.map(onBed)])),
  });
  const { bytes: light, objects } = await emptied(bytes);
  if (objects !== 1) throw fault(file, `it holds ${objects} drawings, not 1`);
  const { pages } = await seeForms(pdfjs, light);
  let { greatestMm } = proof;
  const near = (off: number, what: string): void => {
    if (!(off <= READ_BACK_MM)) throw fault(file, `${what} is off by ${off} mm`);
    greatestMm = Math.max(greatestMm, off);
  };
  tiles.forEach(({ name, x, y }, k) => {
    const page = pages[k]!;
    near(
      Math.max(Math.abs(page.widthMm - paperMm[0]), Math.abs(page.heightMm - paperMm[1])),
      `page ${name}, ${page.widthMm.toFixed(3)} x ${page.heightMm.toFixed(3)} mm,`,
    );
    const [use, ...more] = page.uses;
    if (!use || more.length > 0)
      throw fault(file, `page ${name} shows the drawing ${page.uses.length} times, not once`);
    const shown = shownOf(tiling, k);
    for (const [what, found, wanted] of [
      ['the drawing', use.corners, cornersOf(MARGIN_MM - x, MARGIN_MM - y, drawing)],
      ['what is seen of it', use.clip.flat(), cornersOf(MARGIN_MM, MARGIN_MM, shown)],
    ] as const) {
      if (found.length !== 4) throw fault(file, `${what} on page ${name} is no rectangle`);
      wanted.forEach((p, i) => near(dist(p, found[i]!), `${what} on page ${name}`));
    }
  });
  return { ...proof, greatestMm };
}

/** Corners of a rectangle from its lower left one on. */
const cornersOf = (
  x: number,
  y: number,
  { widthMm, heightMm }: Pick<Drawing, 'widthMm' | 'heightMm'>,
): Point<'bed'>[] => [
  { x, y },
  { x: x + widthMm, y },
  { x: x + widthMm, y: y + heightMm },
  { x, y: y + heightMm },
];

import { jsPDF } from 'jspdf';
import type { Point } from '../base/measure.ts';
import { DOT_SHARE, dotsOf, hasCheck, isBlack, riderHasDot } from './code.ts';
import type { Rgb } from './colour.ts';
import type { RiderDesign, SheetDesign } from './design.ts';

/** A toned stage begins this far inside the border, so that the last checks keep a white rim. */
const STAGE_RIM_MM = 1;
const LINE_MM = 0.2;

/** The drawing surface both pages use: millimetres, y up; the one flip to jsPDF's y down is here. */
class Page {
  readonly pdf: jsPDF;
  constructor(
    readonly widthMm: number,
    readonly heightMm: number,
    title: string,
  ) {
    this.pdf = new jsPDF({
      unit: 'mm',
      format: [widthMm, heightMm],
      orientation: widthMm > heightMm ? 'landscape' : 'portrait',
      precision: 6,
      floatPrecision: 6,
      compress: true,
    });
    this.pdf.setProperties({ title, creator: 'Snugline' });
    this.pdf.viewerPreferences({ PrintScaling: 'None' });
    // The same sheet is the same file, byte for byte.
    this.pdf.setCreationDate("D:20000101000000+00'00'");
    this.pdf.setFileId('0'.repeat(32));
    this.pdf.setLineWidth(LINE_MM);
  }

  fill(rgb: Rgb, x: number, y: number, w: number, h: number): void {
    this.pdf.setFillColor(...rgb);
    this.pdf.rect(x, this.heightMm - y - h, w, h, 'F');
  }

  line(a: Point<'sheet'>, b: Point<'sheet'>): void {
    this.pdf.line(a.x, this.heightMm - a.y, b.x, this.heightMm - b.y);
  }

  circle(c: Point<'sheet'>, radiusMm: number): void {
    this.pdf.circle(c.x, this.heightMm - c.y, radiusMm, 'S');
  }

  frame(x: number, y: number, w: number, h: number): void {
    this.pdf.rect(x, this.heightMm - y - h, w, h, 'S');
  }

  text(words: string, at: Point<'sheet'>, sizeMm: number, align: 'left' | 'center' = 'left'): void {
    this.pdf.setFontSize((sizeMm * 72) / 25.4);
    this.pdf.text(words, at.x, this.heightMm - at.y, { align, baseline: 'middle' });
  }

  bytes(): Uint8Array {
    return new Uint8Array(this.pdf.output('arraybuffer'));
  }
}

const BLACK: Rgb = [0, 0, 0];
const WHITE: Rgb = [255, 255, 255];

function check(
  page: Page,
  x: number,
  y: number,
  pitch: number,
  black: boolean,
  dot: boolean,
): void {
  if (black) page.fill(BLACK, x, y, pitch, pitch);
  if (!dot) return;
  const inset = (pitch * (1 - DOT_SHARE)) / 2;
  page.fill(black ? WHITE : BLACK, x + inset, y + inset, pitch * DOT_SHARE, pitch * DOT_SHARE);
}

/** The reference sheet as PDF; the page is exactly the paper. `stage` is the ink of the stage, 0 to 255. */
export function sheetPdf(sheet: SheetDesign, stage: Rgb): Uint8Array {
  const page = new Page(
    sheet.widthMm,
    sheet.heightMm,
    `Snugline reference sheet, ${sheetName(sheet)}`,
  );
  if (sheet.tone !== 'white') {
    const { originMm: o, pitchMm: p, bandCells, columns, rows } = sheet;
    const inset = bandCells * p + STAGE_RIM_MM;
    page.fill(stage, o.x + inset, o.y + inset, columns * p - 2 * inset, rows * p - 2 * inset);
  }
  drawChecks(page, sheet);
  drawSpanMarks(page, sheet);
  drawWords(page, sheet);
  return page.bytes();
}

function drawChecks(page: Page, sheet: SheetDesign): void {
  const { originMm: o, pitchMm: p, columns, rows } = sheet;
  const dot = dotsOf(sheet);
  for (let i = 0; i < columns; i++) {
    for (let j = 0; j < rows; j++) {
      if (hasCheck(sheet, i, j)) check(page, o.x + i * p, o.y + j * p, p, isBlack(i, j), dot(i, j));
    }
  }
}

/** Fine crosses in a ring: the jaws' tips are set on the crosses. A cross that two spans share carries both letters. */
function drawSpanMarks(page: Page, sheet: SheetDesign): void {
  const { pitchMm, originMm, bandCells } = sheet;
  const arm = Math.min(pitchMm * 0.8, 3);
  const letters = new Map<string, { at: Point<'sheet'>; words: string }>();
  for (const { id, from, to } of sheet.spans) {
    for (const at of [from, to]) {
      const key = `${at.x} ${at.y}`;
      const before = letters.get(key);
      letters.set(key, { at, words: (before ? `${before.words} ` : '') + id.toUpperCase() });
    }
  }
  for (const { at, words } of letters.values()) {
    page.line({ x: at.x - arm, y: at.y }, { x: at.x + arm, y: at.y });
    page.line({ x: at.x, y: at.y - arm }, { x: at.x, y: at.y + arm });
    page.circle(at, arm / 2);
    // The letter stands along the block's long side, outward of the cross.
    const inBottom = at.y < originMm.y + bandCells * pitchMm;
    const away = pitchMm * 1.5;
    const place = inBottom ? { x: at.x, y: at.y - away } : { x: at.x - away, y: at.y };
    page.text(words, place, pitchMm * 0.6, 'center');
  }
}

/** The words in the top border, and a small drawing of where the calipers go. */
function drawWords(page: Page, sheet: SheetDesign): void {
  const block = sheet.voids[sheet.voids.length - 1]!;
  const { originMm: o, pitchMm: p } = sheet;
  const x0 = o.x + block.i0 * p + p * 0.4;
  const y0 = o.y + block.j0 * p;
  const height = (block.j1 - block.j0) * p;
  const width = (block.i1 - block.i0) * p;
  const scale = (height * 0.86) / sheet.heightMm;
  const small = (q: Point<'sheet'>): Point<'sheet'> => ({
    x: x0 + q.x * scale,
    y: y0 + height * 0.07 + q.y * scale,
  });
  const corner = small({ x: 0, y: 0 });
  page.frame(corner.x, corner.y, sheet.widthMm * scale, sheet.heightMm * scale);
  for (const { from, to } of sheet.spans) page.line(small(from), small(to));
  const size = Math.min(height / 6.2, width / 26);
  const x = x0 + sheet.widthMm * scale + size;
  const lines = [
    `Snugline 1 · ${sheetName(sheet)}`,
    'Print at 100 %, then measure, cross to cross:',
    ...sheet.spans.map((s) => `${s.id.toUpperCase()}  ${s.nominalMm.toFixed(2)} mm as designed`),
  ];
  lines.forEach((words, k) => page.text(words, { x, y: y0 + height - size * (1 + k * 1.2) }, size));
}

/** Arms of the strip's crosses, mm: they must not reach its cut edge. */
const STRIP_ARM_MM = 2;

/** The strip for scanning as PDF; the page is exactly the strip, to be cut out. */
export function stripPdf(strip: SheetDesign): Uint8Array {
  const { widthMm: w, heightMm: h, originMm: o, spans } = strip;
  const page = new Page(w, h, 'Snugline strip for scanning');
  drawChecks(page, strip);
  for (const { id, from, to } of spans) {
    for (const at of [from, to]) {
      const arm = STRIP_ARM_MM;
      page.line({ x: at.x - arm, y: at.y }, { x: at.x + arm, y: at.y });
      page.line({ x: at.x, y: at.y - arm }, { x: at.x, y: at.y + arm });
      page.circle(at, arm / 2);
      const inward = at.y > h / 2 ? -1 : 1;
      page.text(
        id.toUpperCase(),
        { x: at.x + 3.1, y: at.y + 2.7 * (id === 'x' ? 1 : inward) },
        1.6,
        'center',
      );
    }
  }
  const figures = spans.map((s) => `${s.id.toUpperCase()} ${s.nominalMm.toFixed(2)}`).join(', ');
  page.text(
    `Snugline 1 · strip ${w} x ${h} mm · print at 100 %, measure cross to cross: ${figures} mm as designed`,
    { x: o.x + 100, y: o.y / 2 },
    1.6,
  );
  page.text(
    'blanks on this side · print face down on the glass',
    { x: o.x + 100, y: h - o.y / 2 },
    1.6,
  );
  return page.bytes();
}

/** A sheet's name in words, for instance "210 x 297 mm, white stage". */
export const sheetName = (sheet: SheetDesign): string =>
  `${sheet.widthMm} x ${sheet.heightMm} mm, ${sheet.tone === 'hue' ? 'coloured' : sheet.tone} stage`;

/** A rider as PDF; the page is exactly its square. The frame line's outer edges are its span. */
export function riderPdf(rider: RiderDesign): Uint8Array {
  const { sizeMm: s, pitchMm: p, cells } = rider;
  const page = new Page(s, s, `Snugline rider, ${s} mm`);
  const margin = (s - cells * p) / 2;
  for (let i = 0; i < cells; i++) {
    for (let j = 0; j < cells; j++) {
      check(page, margin + i * p, margin + j * p, p, isBlack(i, j), riderHasDot(rider, i, j));
    }
  }
  page.frame(LINE_MM / 2, LINE_MM / 2, s - LINE_MM, s - LINE_MM);
  return page.bytes();
}

/** The rider's one span: outer edge to outer edge of its frame line, along the rider's x. */
export const riderSpan = (
  rider: RiderDesign,
): { id: 'size'; from: Point<'rider'>; to: Point<'rider'>; nominalMm: number } => ({
  id: 'size',
  from: { x: 0, y: rider.sizeMm / 2 },
  to: { x: rider.sizeMm, y: rider.sizeMm / 2 },
  nominalMm: rider.sizeMm,
});

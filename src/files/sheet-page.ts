import { jsPDF } from 'jspdf';
import type { Point } from '../base/measure.ts';
import type { Ring } from '../geometry/shape.ts';
import { boardRing, seatHoles } from '../plan/board-on-bed.ts';
import { zeroCorner } from '../plan/plan-bed.ts';
import type { BedPlan } from '../plan/plan.ts';
import { westEuropean } from './letters.ts';
import type { JobFacts } from './facts.ts';

/** Upright papers that sheets for people are written on, mm: ISO 216; Letter is 8.5 x 11 in. */
const PAPERS = {
  A4: { width: 210, height: 297 },
  Letter: { width: 215.9, height: 279.4 },
} as const;
export type SheetPaper = keyof typeof PAPERS;
/** The title block of ISO 7200 is 180 mm wide: on A4 upright, the whole frame. */
const BLOCK = { width: 180, height: 40 };
const PAD = 4;

/** Reduction scales of ISO 5455. */
export const REDUCTIONS = [1, 2, 5, 10, 20, 50];

export const INK = [24, 36, 42] as const;
export const PALE = [70, 85, 91] as const;
export const WIDE = 0.5;
export const NARROW = 0.25;

/** A sheet for people, with the frame of ISO 5457: 20 mm at the filing edge, 10 mm elsewhere. Lengths in mm, y down. */
export class Sheet {
  readonly pdf: jsPDF;
  readonly frame: {
    readonly left: number;
    readonly right: number;
    readonly top: number;
    readonly bottom: number;
  };
  y: number;

  constructor(paper: SheetPaper) {
    const { width, height } = PAPERS[paper];
    this.frame = { left: 20, right: width - 10, top: 10, bottom: height - 10 };
    this.y = this.frame.top + PAD;
    this.pdf = new jsPDF({
      unit: 'mm',
      format: [width, height],
      orientation: 'portrait',
      precision: 6,
      floatPrecision: 6,
      compress: true,
    });
    this.pdf.setCreationDate("D:20000101000000+00'00'");
    this.pdf.setFileId('0'.repeat(32));
  }

  get left(): number {
    return this.frame.left + PAD;
  }

  get right(): number {
    return this.frame.right - PAD;
  }

  /** Begins a new page when less than `heightMm` is left above the title block. */
  need(heightMm: number): void {
    if (this.y + heightMm <= this.frame.bottom - BLOCK.height - 5) return;
    this.pdf.addPage();
    this.y = this.frame.top + PAD;
  }

  font(sizeMm: number, bold = false, colour: readonly [number, number, number] = INK): void {
    this.pdf.setFont('helvetica', bold ? 'bold' : 'normal');
    this.pdf.setFontSize((sizeMm * 72) / 25.4);
    this.pdf.setTextColor(...colour);
  }

  /** Words whose capitals' foot stands at y; sizes are em sizes in mm. */
  write(words: string, x: number, y: number, align: 'left' | 'center' | 'right' = 'left'): void {
    this.pdf.text(westEuropean(words), x, y, { align });
  }

  /** Words in lines that are no wider, in the font that was chosen last. */
  lines(words: string, widthMm: number): readonly string[] {
    return this.pdf.splitTextToSize(westEuropean(words), widthMm) as string[];
  }

  stroke(widthMm: number, colour: readonly [number, number, number] = INK): void {
    this.pdf.setLineWidth(widthMm);
    this.pdf.setDrawColor(...colour);
  }

  heading(words: string): void {
    this.need(24);
    this.y += 6;
    this.font(3.5, true);
    this.write(words, this.left, this.y);
    this.stroke(NARROW);
    this.pdf.line(this.left, this.y + 1.4, this.right, this.y + 1.4);
    this.y += 2;
  }

  /** Running words, broken to the width. */
  paragraph(words: string, { x = this.left, bold = false, size = 3.2 } = {}): void {
    this.font(size, bold);
    const lines = this.lines(words, this.right - x - 1);
    for (const line of lines) {
      this.need(size * 1.4);
      this.font(size, bold);
      this.y += size * 1.4;
      this.write(line, x, this.y);
    }
  }

  /** A row of name and value; the value may run over several lines. */
  row(name: string, value: string, nameWidth = 34): void {
    this.font(3.2);
    const lines = this.lines(value, this.right - this.left - nameWidth - 1);
    this.need(lines.length * 4.5);
    lines.forEach((line, k) => {
      this.y += 4.5;
      if (k === 0) {
        this.font(3.2, false, PALE);
        this.write(name, this.left, this.y);
      }
      this.font(3.2);
      this.write(line, this.left + nameWidth, this.y);
    });
  }

  /** A table: columns at the given places from the left, the last one broken to the width. */
  table(
    head: readonly string[],
    at: readonly number[],
    rows: readonly (readonly string[])[],
  ): void {
    const header = (): void => {
      this.font(2.8, false, PALE);
      this.y += 4.5;
      head.forEach((words, k) => this.write(words, this.left + at[k]!, this.y));
      this.stroke(0.13, PALE);
      this.pdf.line(this.left, this.y + 1.2, this.right, this.y + 1.2);
      this.y += 0.6;
    };
    this.need(12);
    header();
    for (const row of rows) {
      this.font(3.2);
      const last = row.length - 1;
      const lines = this.lines(row[last]!, this.right - this.left - at[last]! - 1);
      const page = this.pdf.getNumberOfPages();
      this.need(lines.length * 4.5);
      if (this.pdf.getNumberOfPages() !== page) header();
      this.font(3.2);
      row.slice(0, -1).forEach((words, k) => this.write(words, this.left + at[k]!, this.y + 4.5));
      lines.forEach((line, k) => this.write(line, this.left + at[last]!, this.y + 4.5 * (k + 1)));
      this.y += lines.length * 4.5;
    }
  }
}

type Reader = 'shop' | 'customer';

/** What the title block says, by who reads it. */
const WORDS: Readonly<
  Record<
    Reader,
    {
      readonly checks: string;
      readonly unchecked: string;
      readonly contradict: string;
      readonly agree: string;
      readonly digest: string;
      readonly verdict: (verdict: JobFacts['verdict']) => string;
    }
  >
> = {
  shop: {
    checks: 'Checks',
    unchecked: 'NOT CHECKED',
    contradict: 'readings contradict',
    agree: 'readings agree',
    digest: 'Digest of the plan (SHA-256)',
    verdict: (verdict) => verdict,
  },
  customer: {
    checks: 'Size, measured by hand as well',
    unchecked: 'not yet',
    contradict: 'sizes differ',
    agree: 'sizes agree',
    digest: 'Mark of this version',
    verdict: (verdict) =>
      verdict === 'ok' ? 'measured from a picture' : 'from a picture; parts of it not certain',
  },
};

/**
 * Frame and title block on every page, and the file's own words.
 *
 * @param kind what the sheet is called
 * @param reader who reads it: a customer knows nothing of the shop's words
 */
export function finished(
  sheet: Sheet,
  kind: string,
  plan: BedPlan,
  facts: JobFacts,
  scale: string,
  reader: Reader = 'shop',
): Uint8Array {
  const { pdf, frame } = sheet;
  pdf.setProperties({
    title: `${plan.jobNumber} ${plan.jobName}: ${kind.toLowerCase()}`,
    subject: kind,
    keywords: `job ${plan.jobNumber}, digest ${plan.digest}`,
    creator: 'Snugline',
  });
  const pages = pdf.getNumberOfPages();
  for (let page = 1; page <= pages; page++) {
    pdf.setPage(page);
    sheet.stroke(WIDE);
    pdf.rect(frame.left, frame.top, frame.right - frame.left, frame.bottom - frame.top);
    titleBlock(sheet, kind, plan, facts, { scale, page, pages, reader });
  }
  return new Uint8Array(pdf.output('arraybuffer'));
}

function titleBlock(
  sheet: Sheet,
  kind: string,
  plan: BedPlan,
  facts: JobFacts,
  { scale, page, pages, reader }: { scale: string; page: number; pages: number; reader: Reader },
): void {
  const { pdf, frame } = sheet;
  const top = frame.bottom - BLOCK.height;
  const left = frame.right - BLOCK.width;
  const rows = [top, top + 10, top + 20, top + 30, frame.bottom];
  sheet.stroke(WIDE);
  pdf.line(left, top, frame.right, top);
  if (left > frame.left) pdf.line(left, top, left, frame.bottom);
  const cell = (
    row: number,
    from: number,
    to: number,
    name: string,
    value: string,
    { bold = false, size = 3.5 } = {},
  ): void => {
    sheet.stroke(NARROW);
    pdf.line(left + from, rows[row + 1]!, left + to, rows[row + 1]!);
    if (from > 0) pdf.line(left + from, rows[row]!, left + from, rows[row + 1]!);
    sheet.font(2, false, PALE);
    sheet.write(name, left + from + 1.5, rows[row]! + 3);
    // What is too long is set smaller, then in two lines; nothing is cut off unseen.
    const fitting = [size, 0.85 * size, 0.7 * size].find((em) => {
      sheet.font(em, bold);
      return sheet.lines(value, to - from - 3).length === 1;
    });
    const words = [...sheet.lines(value, to - from - 3)];
    if (words.length > 2) words.splice(1, words.length, `${words[1]} ...`);
    words.forEach((line, k) =>
      sheet.write(line, left + from + 1.5, rows[row]! + (fitting ? 7.8 : 5.8 + 3 * k)),
    );
  };
  const say = WORDS[reader];
  const judged = (verdict: string): number =>
    facts.checks.filter(({ judgement }) => judgement.verdict === verdict).length;
  const contradicted = judged('contradicts');
  const checked =
    facts.checks.length === 0
      ? say.unchecked
      : contradicted > 0
        ? `${contradicted} of ${facts.checks.length} ${say.contradict}`
        : `${judged('agrees')} of ${facts.checks.length} ${say.agree}`;
  cell(0, 0, 60, 'Made by', '');
  cell(0, 60, 120, 'Approved by', facts.override?.by ?? '');
  cell(0, 120, 180, say.checks, checked, { bold: true });
  cell(1, 0, 60, 'Document type', kind);
  cell(1, 60, 180, 'Title', plan.jobName, { bold: true, size: 4.2 });
  cell(2, 0, 60, 'Scale of the drawing', `${scale}, lengths in mm`);
  cell(2, 60, 120, 'Outline', say.verdict(facts.verdict));
  cell(2, 120, 180, 'Identification number', plan.jobNumber, { bold: true });
  cell(3, 0, 120, say.digest, plan.digest, { size: 2.75 });
  cell(3, 120, 155, 'Date of issue', facts.date);
  cell(3, 155, 180, 'Sheet', `${page} / ${pages}`);
}

/** The bed from above with its pockets, numbers, zero corner and outer dimensions, at most so high on paper. Returns its scale in words. */
export function drawBed(sheet: Sheet, plan: BedPlan, mostMm = 105): string {
  const { pdf } = sheet;
  const { widthMm, depthMm } = plan.bed;
  const room = { width: sheet.right - sheet.left - 14, height: mostMm };
  const reduction =
    REDUCTIONS.find((n) => widthMm / n <= room.width && depthMm / n <= room.height) ??
    Math.ceil(Math.max(widthMm / room.width, depthMm / room.height));
  const w = widthMm / reduction;
  const h = depthMm / reduction;
  const x0 = (sheet.left + sheet.right) / 2 - w / 2 + 5;
  const y0 = sheet.y + 4;
  const place = ({ x, y }: Point<'bed'>): [number, number] => [
    x0 + x / reduction,
    y0 + (depthMm - y) / reduction,
  ];
  const ring = (r: Ring<'bed'>): void => {
    // Curves at this scale need no more than a vertex each 0.1 mm of paper.
    let last: [number, number] | undefined;
    const points = r.map(place).filter((p) => {
      const keep = !last || Math.hypot(p[0] - last[0], p[1] - last[1]) > 0.1;
      if (keep) last = p;
      return keep;
    });
    const [first, ...rest] = points;
    if (!first) return;
    pdf.moveTo(...first);
    rest.forEach((p) => pdf.lineTo(...p));
    pdf.close();
    pdf.stroke();
  };
  sheet.stroke(NARROW);
  pdf.rect(x0, y0, w, h);
  if (plan.bed.board) {
    sheet.stroke(WIDE);
    ring(boardRing(plan.bed));
    for (const hole of seatHoles(plan.bed)) {
      ring(hole.ring);
      sheet.stroke(NARROW);
      if (hole.head) ring(hole.head);
      sheet.stroke(WIDE);
    }
  }
  for (const { id, wall, print, place: at } of plan.pockets) {
    sheet.stroke(WIDE);
    // Pieces that lie loose have no wall: their own edge.
    (wall.length > 0 ? wall : [print]).forEach(({ outer }) => ring(outer));
    const [x, y] = place(at);
    sheet.font(3);
    sheet.write(id, x, y + 1, 'center');
  }
  const [zx, zy] = place(zeroCorner(plan.bed));
  quarteredCircle(pdf, zx, zy);

  // Dimensions after ISO 129-1: extension lines, closed arrowheads, the figure above the line.
  const below = y0 + h + 8;
  const beside = x0 - 8;
  sheet.stroke(0.18);
  pdf.line(x0, y0 + h + 1, x0, below + 1.5);
  pdf.line(x0 + w, y0 + h + 1, x0 + w, below + 1.5);
  dimensionLine(pdf, x0, below, x0 + w, below);
  pdf.line(x0 - 1, y0, beside - 1.5, y0);
  pdf.line(x0 - 1, y0 + h, beside - 1.5, y0 + h);
  dimensionLine(pdf, beside, y0, beside, y0 + h);
  sheet.font(3.2);
  sheet.write(`${trim(widthMm)}`, x0 + w / 2, below - 1, 'center');
  pdf.text(`${trim(depthMm)}`, beside - 1, y0 + h / 2, { angle: 90, align: 'center' });
  sheet.font(2.6, false, PALE);
  sheet.write('front of the bed', x0 + w - 4, below - 1, 'right');
  sheet.y = below + 3;
  return `1 : ${reduction}`;
}

export const trim = (v: number): string => String(Math.round(v * 100) / 100);

export function dimensionLine(pdf: jsPDF, xa: number, ya: number, xb: number, yb: number): void {
  pdf.line(xa, ya, xb, yb);
  const length = Math.hypot(xb - xa, yb - ya);
  const [ux, uy] = [(xb - xa) / length, (yb - ya) / length];
  pdf.setFillColor(...INK);
  for (const [x, y, s] of [
    [xa, ya, 1],
    [xb, yb, -1],
  ] as const) {
    const [bx, by] = [x + s * ux * 2.6, y + s * uy * 2.6];
    pdf.triangle(x, y, bx - uy * 0.45, by + ux * 0.45, bx + uy * 0.45, by - ux * 0.45, 'F');
  }
}

/** The sign of a zero point: a circle in quarters, two of them filled. */
function quarteredCircle(pdf: jsPDF, x: number, y: number): void {
  const r = 2.2;
  const k = 0.5522847498 * r;
  pdf.setFillColor(255, 255, 255);
  pdf.setDrawColor(...INK);
  pdf.setLineWidth(NARROW);
  pdf.circle(x, y, r, 'FD');
  pdf.setFillColor(...INK);
  for (const s of [1, -1]) {
    pdf.moveTo(x, y);
    pdf.lineTo(x + s * r, y);
    pdf.curveTo(x + s * r, y - s * k, x + s * k, y - s * r, x, y - s * r);
    pdf.close();
    pdf.fill();
  }
}

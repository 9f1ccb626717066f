import { jsPDF } from 'jspdf';
import type { Point } from '../base/measure.ts';
import type { Ring } from '../geometry/shape.ts';
import { placeFromZero, zeroCorner } from '../plan/plan-bed.ts';
import type { BedPlan } from '../plan/plan.ts';
import { materialOf } from '../pocket/material.ts';
import { full } from '../pocket/pocket.ts';
import { cutSeconds, lengthOf, toolWords } from '../pocket/trails.ts';
import { depthNote, kerfNote } from './drawing.ts';
import type { JobFacts } from './facts.ts';

/** A4 upright with the frame of ISO 5457: 20 mm at the filing edge, 10 mm elsewhere. */
const PAGE = { width: 210, height: 297 };
const FRAME = { left: 20, right: 200, top: 10, bottom: 287 };
/** The title block of ISO 7200 is 180 mm wide: on A4 upright, the whole frame. */
const BLOCK_HEIGHT = 40;
const BODY_BOTTOM = FRAME.bottom - BLOCK_HEIGHT - 5;
const PAD = 4;
const LEFT = FRAME.left + PAD;
const RIGHT = FRAME.right - PAD;

/** Reduction scales of ISO 5455. */
const REDUCTIONS = [1, 2, 5, 10, 20, 50];

const INK = [24, 36, 42] as const;
const PALE = [70, 85, 91] as const;
const WIDE = 0.5;
const NARROW = 0.25;

const figure = (v: number, decimals = 2): string => v.toFixed(decimals);

/** What the tools can do to people and boards. Usual cautions; the rules in force go before them. */
const CAUTIONS: readonly [string, string][] = [
  [
    'Laser',
    'Cut only sheet that is known to be fit for it; PVC and other chlorinated plastics give off corrosive, poisonous gas. Extraction on, cover shut, never unattended, an extinguisher within reach.',
  ],
  ['Blade', 'Hands out of the path; guard on; the blade off before anything is reached for.'],
  [
    'Router, mill',
    'Board clamped, clamps and pins clear of the path, eyes and ears protected, dust drawn off. Run the path once above the board first.',
  ],
  [
    'UV lamp',
    'Keep eyes and skin out of its light and from uncured ink; gloves, shields in place, room aired.',
  ],
  [
    'Moving head and table',
    'Before the first print, measure that no blank, board or pin stands higher than the set print height; keep hands out while anything moves.',
  ],
];
const DEFERENCE =
  "These are usual cautions and not a safety instruction. The machine's manual, the ink's and the material's safety data sheets, local codes and licensed practice go before this sheet.";

class Sheet {
  readonly pdf: jsPDF;
  y = FRAME.top + PAD;

  constructor() {
    this.pdf = new jsPDF({
      unit: 'mm',
      format: [PAGE.width, PAGE.height],
      orientation: 'portrait',
      precision: 6,
      floatPrecision: 6,
      compress: true,
    });
    this.pdf.setCreationDate("D:20000101000000+00'00'");
    this.pdf.setFileId('0'.repeat(32));
  }

  /** Begins a new page when less than `heightMm` is left above the title block. */
  need(heightMm: number): void {
    if (this.y + heightMm <= BODY_BOTTOM) return;
    this.pdf.addPage();
    this.y = FRAME.top + PAD;
  }

  font(sizeMm: number, bold = false, colour: readonly [number, number, number] = INK): void {
    this.pdf.setFont('helvetica', bold ? 'bold' : 'normal');
    this.pdf.setFontSize((sizeMm * 72) / 25.4);
    this.pdf.setTextColor(...colour);
  }

  /** Words whose capitals' foot stands at y; sizes are em sizes in mm. */
  write(words: string, x: number, y: number, align: 'left' | 'center' | 'right' = 'left'): void {
    this.pdf.text(words, x, y, { align });
  }

  stroke(widthMm: number, colour: readonly [number, number, number] = INK): void {
    this.pdf.setLineWidth(widthMm);
    this.pdf.setDrawColor(...colour);
  }

  heading(words: string): void {
    this.need(24);
    this.y += 6;
    this.font(3.5, true);
    this.write(words, LEFT, this.y);
    this.stroke(NARROW);
    this.pdf.line(LEFT, this.y + 1.4, RIGHT, this.y + 1.4);
    this.y += 2;
  }

  /** Running words, broken to the width. */
  paragraph(words: string, { x = LEFT, bold = false, size = 3.2 } = {}): void {
    this.font(size, bold);
    const lines = this.pdf.splitTextToSize(words, RIGHT - x - 1) as string[];
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
    const lines = this.pdf.splitTextToSize(value, RIGHT - LEFT - nameWidth - 1) as string[];
    this.need(lines.length * 4.5);
    lines.forEach((line, k) => {
      this.y += 4.5;
      if (k === 0) {
        this.font(3.2, false, PALE);
        this.write(name, LEFT, this.y);
      }
      this.font(3.2);
      this.write(line, LEFT + nameWidth, this.y);
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
      head.forEach((words, k) => this.write(words, LEFT + at[k]!, this.y));
      this.stroke(0.13, PALE);
      this.pdf.line(LEFT, this.y + 1.2, RIGHT, this.y + 1.2);
      this.y += 0.6;
    };
    this.need(12);
    header();
    for (const row of rows) {
      this.font(3.2);
      const last = row.length - 1;
      const lines = this.pdf.splitTextToSize(row[last]!, RIGHT - LEFT - at[last]! - 1) as string[];
      const page = this.pdf.getNumberOfPages();
      this.need(lines.length * 4.5);
      if (this.pdf.getNumberOfPages() !== page) header();
      this.font(3.2);
      row.slice(0, -1).forEach((words, k) => this.write(words, LEFT + at[k]!, this.y + 4.5));
      lines.forEach((line, k) => this.write(line, LEFT + at[last]!, this.y + 4.5 * (k + 1)));
      this.y += lines.length * 4.5;
    }
  }
}

/**
 * The job sheet, A4: the bed drawn to a scale of ISO 5455, settings, checks, what is open, outlines with U, places
 * from the zero corner, cautions, digest. Title block after ISO 7200 on every page.
 */
export function jobSheet(plan: BedPlan, facts: JobFacts): Uint8Array {
  const sheet = new Sheet();
  const { pdf } = sheet;
  pdf.setProperties({
    title: `${plan.jobNumber} ${plan.jobName}: job sheet`,
    subject: 'Job sheet',
    keywords: `job ${plan.jobNumber}, digest ${plan.digest}`,
    creator: 'Snugline',
  });
  const scale = drawBed(sheet, plan);
  checks(sheet, facts);
  open(sheet, plan, facts);
  heights(sheet, plan);
  settings(sheet, plan);
  outlines(sheet, facts);
  places(sheet, plan);
  cautions(sheet);
  const pages = pdf.getNumberOfPages();
  for (let k = 1; k <= pages; k++) {
    pdf.setPage(k);
    frame(sheet);
    titleBlock(sheet, plan, facts, { scale, page: k, pages });
  }
  return new Uint8Array(pdf.output('arraybuffer'));
}

function frame(sheet: Sheet): void {
  sheet.stroke(WIDE);
  sheet.pdf.rect(FRAME.left, FRAME.top, FRAME.right - FRAME.left, FRAME.bottom - FRAME.top);
}

function titleBlock(
  sheet: Sheet,
  plan: BedPlan,
  facts: JobFacts,
  { scale, page, pages }: { scale: string; page: number; pages: number },
): void {
  const { pdf } = sheet;
  const top = FRAME.bottom - BLOCK_HEIGHT;
  const rows = [top, top + 10, top + 20, top + 30, FRAME.bottom];
  sheet.stroke(WIDE);
  pdf.line(FRAME.left, top, FRAME.right, top);
  const cell = (
    row: number,
    from: number,
    to: number,
    name: string,
    value: string,
    { bold = false, size = 3.5 } = {},
  ): void => {
    sheet.stroke(NARROW);
    pdf.line(FRAME.left + from, rows[row + 1]!, FRAME.left + to, rows[row + 1]!);
    if (from > 0) pdf.line(FRAME.left + from, rows[row]!, FRAME.left + from, rows[row + 1]!);
    sheet.font(2, false, PALE);
    sheet.write(name, FRAME.left + from + 1.5, rows[row]! + 3);
    sheet.font(size, bold);
    const room = to - from - 3;
    const words = pdf.splitTextToSize(value, room) as string[];
    sheet.write(words[0] ?? '', FRAME.left + from + 1.5, rows[row]! + 7.8);
  };
  const contradicted = facts.checks.filter(({ judgement }) => judgement.verdict === 'contradicts');
  const checked =
    facts.checks.length === 0
      ? 'NOT CHECKED'
      : contradicted.length > 0
        ? `${contradicted.length} of ${facts.checks.length} readings contradict`
        : `${facts.checks.filter(({ judgement }) => judgement.verdict === 'agrees').length} of ${facts.checks.length} readings agree`;
  cell(0, 0, 60, 'Made by', '');
  cell(0, 60, 120, 'Approved by', facts.override?.by ?? '');
  cell(0, 120, 180, 'Checks', checked, { bold: true });
  cell(1, 0, 60, 'Document type', 'Job sheet');
  cell(1, 60, 180, 'Title', plan.jobName, { bold: true, size: 4.2 });
  cell(2, 0, 60, 'Scale of the drawing', `${scale}, lengths in mm`);
  cell(2, 60, 120, 'Outline', facts.verdict);
  cell(2, 120, 180, 'Identification number', plan.jobNumber, { bold: true });
  cell(3, 0, 120, 'Digest of the plan (SHA-256)', plan.digest, { size: 2.75 });
  cell(3, 120, 155, 'Date of issue', facts.date);
  cell(3, 155, 180, 'Sheet', `${page} / ${pages}`);
}

/** The bed from above with its pockets, numbers, zero corner and outer dimensions. Returns its scale in words. */
function drawBed(sheet: Sheet, plan: BedPlan): string {
  const { pdf } = sheet;
  const { widthMm, depthMm } = plan.bed;
  const room = { width: RIGHT - LEFT - 14, height: 105 };
  const reduction =
    REDUCTIONS.find((n) => widthMm / n <= room.width && depthMm / n <= room.height) ??
    Math.ceil(Math.max(widthMm / room.width, depthMm / room.height));
  const w = widthMm / reduction;
  const h = depthMm / reduction;
  const x0 = (LEFT + RIGHT) / 2 - w / 2 + 5;
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
  for (const { id, wall, place: at } of plan.pockets) {
    sheet.stroke(WIDE);
    wall.forEach(({ outer }) => ring(outer));
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

const trim = (v: number): string => String(Math.round(v * 100) / 100);

function dimensionLine(pdf: jsPDF, xa: number, ya: number, xb: number, yb: number): void {
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

function checks(sheet: Sheet, { checks: made, remarks = [], override }: JobFacts): void {
  sheet.heading('Checks');
  if (made.length === 0) {
    sheet.paragraph('NOT CHECKED', { bold: true, size: 4.2 });
    sheet.paragraph(
      'No caliper reading has been held against the outlines. Measure each blank across its largest width and height before a board is cut.',
    );
  } else {
    sheet.table(
      ['Blank', 'Measured', 'Outline, U mm', 'Read, U mm', 'E_n', 'Verdict'],
      [0, 10, 34, 60, 86, 95],
      made.map((c) => [
        String(c.blank),
        c.what,
        `${figure(c.outlineMm)} ±${figure(c.outlineU)}`,
        `${figure(c.readingMm)} ±${figure(c.readingU)}`,
        figure(c.judgement.en),
        [
          c.judgement.sentence,
          c.fit?.sentence ?? '',
          `Read ${c.readings === 1 ? 'once' : `${c.readings} times`}, ${c.with}.`,
        ]
          .filter((words) => words !== '')
          .join(' '),
      ]),
    );
  }
  for (const words of remarks) sheet.paragraph(words);
  if (!override) return;
  sheet.heading('Released although not settled');
  for (const words of override.over) sheet.row('Passed over', words);
  sheet.row('Because', override.reason || 'no reason was given');
  sheet.row('Answered for by', override.by || 'no name was given');
}

function open(sheet: Sheet, plan: BedPlan, facts: JobFacts): void {
  sheet.heading('What is open');
  const all = [...facts.reasons, ...plan.reasons];
  const seen = new Set<string>();
  const once = all.filter(({ message }) => !seen.has(message) && seen.add(message));
  if (once.length === 0) {
    sheet.paragraph('Nothing that the program could tell.');
    return;
  }
  const words = { refuse: 'Refused', doubt: 'In doubt', note: 'To note' };
  for (const { level, message, remedy } of once)
    sheet.row(words[level], `${message} ${remedy}`, 22);
}

function settings(sheet: Sheet, plan: BedPlan): void {
  const { bed } = plan;
  const s = full(plan.pocketSettings);
  const widened = {
    none: '',
    hidden: "; hidden stretches moved out by the outline's own band",
    all: "; the wall moved out everywhere by the outline's own band (k for the whole edge, 95 %)",
  };
  sheet.heading('Settings');
  sheet.row(
    'Clearance',
    `${figure(s.clearanceMm)} mm per side, between blank and wall${widened[s.widen]}`,
  );
  sheet.row('Board', s.material === undefined ? 'not said' : materialOf(s.material).words);
  sheet.row('Tool', toolWords(s.tool));
  sheet.row('Where kerf is taken', kerfNote(plan));
  sheet.row('Pocket', depthNote(plan));
  const notches = 'radiusMm' in s.notches ? 2 : s.notches.length;
  const extras = [
    s.relief === 'none' ? '' : `relief in corners: ${s.relief.replace('-', ' ')}`,
    notches === 0 ? '' : `${notches} finger notches a pocket`,
    s.ejectorMm === 0 ? '' : `ejector hole ${figure(s.ejectorMm, 1)} mm`,
    s.posts ? "posts in the blank's holes" : '',
    s.tabs === 0 ? '' : `${s.tabs} bridges of ${figure(s.tabMm)} mm a pocket`,
    s.leadInMm === 0 ? '' : `lead-in ${figure(s.leadInMm)} mm`,
  ].filter((words) => words !== '');
  if (extras.length > 0) sheet.row('Also', extras.join('; '));
  if (s.tool.kind !== 'hand') {
    const lengthMm = cutLengthMm(plan);
    const minutes = cutSeconds(lengthMm, s) / 60;
    sheet.row(
      'Cut',
      `${(lengthMm / 1000).toFixed(2)} m, ${s.passes} ${s.passes === 1 ? 'pass' : 'passes'} at ${trim(s.speedMmPerS)} mm/s: about ${minutes < 1 ? '1 min' : `${Math.ceil(minutes)} min`} under the tool, ways through the air not counted. Inside before outside.`,
    );
  }
  sheet.row(
    'Bleed, safe area',
    `${figure(s.bleedMm)} mm outward, ${figure(s.safeMm)} mm inward of the print outline`,
  );
  sheet.row(
    'Bed',
    `${trim(bed.widthMm)} x ${trim(bed.depthMm)} mm, margin ${trim(bed.marginMm)} mm, least wall ${trim(bed.wallMm)} mm`,
  );
  sheet.row(
    'Zero corner',
    `${bed.zero.replace('-', ' ')}, seen from the front. Files count from the bottom left corner; only the places below count from the zero corner.`,
  );
}

/** The ways of all pockets, mm. */
function cutLengthMm({ pockets }: BedPlan): number {
  return pockets.reduce(
    (sum, { trails, relief, eject }) =>
      sum +
      lengthOf(trails) +
      2 * lengthOf(relief.map((points) => ({ closed: false, points }))) +
      lengthOf(eject.map(({ outer }) => ({ closed: true, points: outer }))),
    0,
  );
}

/** In the order of use: where the head stands for each print. */
function heights(sheet: Sheet, { heights: h }: BedPlan): void {
  sheet.heading('Heights over the table, in order of use');
  if (!h) {
    sheet.paragraph('NOT SETTLED', { bold: true, size: 4.2 });
    sheet.paragraph(
      'Board, base plate and blank were not all measured. Measure the highest point of the load before anything is printed.',
    );
    return;
  }
  sheet.table(
    ['Use', 'Print', 'Type into the panel, mm', 'Highest point mm', 'Head mm'],
    [0, 14, 50, 98, 134],
    h.prints.map((p, k) => [
      String(k + 1),
      p.what,
      `${figure(p.valueMm)}  (${p.panel === 'load' ? 'height of the load' : 'height of the head'})`,
      figure(p.highestMm),
      figure(p.headMm),
    ]),
  );
  sheet.paragraph("A start: confirm with the machine's own height check and a dry pass.", {
    bold: true,
  });
  for (const b of h.blanks)
    sheet.row(
      `Blank ${b.blank}`,
      `floor ${figure(b.floorMm)}, face ${figure(b.faceMm)}, highest ${figure(b.highestMm)}; ink falls up to ${figure(b.farthestMm)} mm`,
    );
  sheet.row('Board top', `${figure(h.boardTopMm)} mm`);
  sheet.row(
    'UV thrown back',
    'Mirror, polished and dished faces and glossy boards throw UV light back into the head: cover or dull them, and keep the gap.',
  );
}

function outlines(sheet: Sheet, facts: JobFacts): void {
  sheet.heading('Outlines');
  sheet.table(
    ['Outline', 'Blank', 'At', 'Size mm', 'U (k = 2) mm', 'Thickness mm', ''],
    [0, 30, 44, 64, 94, 118, 142],
    facts.outlines.map((o) => [
      o.id,
      String(o.blank),
      o.at,
      `${figure(o.widthMm)} x ${figure(o.heightMm)}`,
      `±${figure(o.greatestU)}`,
      o.thicknessMm === undefined ? 'not given' : figure(o.thicknessMm),
      [o.mirrored ? 'seen from its back, mirrored' : '', o.rider ? 'rider on it' : '']
        .filter((words) => words !== '')
        .join('; '),
    ]),
  );
}

function places(sheet: Sheet, plan: BedPlan): void {
  const zero = plan.bed.zero.replace('-', ' ');
  sheet.heading(`Places of the blanks' centres, from the ${zero} corner, into the bed`);
  sheet.table(
    ['Pocket', 'Outline', 'x mm', 'y mm', 'Turned'],
    [0, 20, 64, 94, 124],
    plan.pockets.map(({ id, outlineId, place }) => {
      const { x, y } = placeFromZero(place, plan.bed);
      return [
        id,
        outlineId,
        figure(x),
        figure(y),
        `${trim(place.turnDeg)}°${place.mirrored ? ', mirrored' : ''}`,
      ];
    }),
  );
}

function cautions(sheet: Sheet): void {
  sheet.heading('Cautions');
  for (const [name, words] of CAUTIONS) sheet.row(name, words);
  sheet.y += 1.5;
  sheet.paragraph(DEFERENCE);
}

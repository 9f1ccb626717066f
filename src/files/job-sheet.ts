import { boardSentences, boardWays } from '../plan/board-on-bed.ts';
import { placeFromZero } from '../plan/plan-bed.ts';
import type { BedPlan } from '../plan/plan.ts';
import { boardWords } from '../pocket/material.ts';
import { full } from '../pocket/pocket.ts';
import { cutSeconds, lengthOf, toolWords } from '../pocket/trails.ts';
import { CONTACTS } from './contacts.ts';
import { depthNote, kerfNote, scaleNote } from './drawing.ts';
import type { JobFacts } from './facts.ts';
import { FILE_SETTINGS, sheetPaper, type FileSettings } from './settings.ts';
import { drawBed, finished, NARROW, Sheet, trim } from './sheet-page.ts';

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
const PRINTING = new Set(['UV lamp', 'Moving head and table']);
const DEFERENCE =
  "These are usual cautions and not a safety instruction. The machine's manual, the ink's and the material's safety data sheets, local codes and licensed practice go before this sheet.";

/**
 * The job sheet, A4 or Letter: the bed drawn to a scale of ISO 5455, settings, checks, what is open, outlines with U, places
 * from the zero corner, cautions, digest. Title block after ISO 7200 on every page.
 */
export function jobSheet(
  plan: BedPlan,
  facts: JobFacts,
  said: FileSettings = FILE_SETTINGS,
): Uint8Array {
  const sheet = new Sheet(sheetPaper(said));
  const scale = drawBed(sheet, plan);
  checks(sheet, facts);
  open(sheet, plan, facts);
  picture(sheet, facts);
  heights(sheet, plan);
  settings(sheet, plan, said);
  revision(sheet, said);
  outlines(sheet, facts);
  places(sheet, plan);
  duties(sheet, said);
  cautions(sheet);
  return finished(sheet, 'Job sheet', plan, facts, scale);
}

/** Which issue this is, and what its maker says that changed. */
function revision(sheet: Sheet, { revision: letter, changed }: FileSettings): void {
  sheet.row('Revision', `${letter}. ${changed === '' ? 'What changed was not said.' : changed}`);
}

/** What the operator said the blanks come into contact with, and what that asks of whoever sells them. */
function duties(sheet: Sheet, { contacts }: FileSettings): void {
  sheet.heading('What the items touch');
  if (contacts === null) {
    sheet.paragraph('NOT ASKED', { bold: true });
    sheet.paragraph('Whether food, mouths, children or skin touch these items was not said.');
    return;
  }
  if (contacts.length === 0)
    sheet.paragraph('Neither food or mouth, toys, nor skin, says the operator.');
  for (const contact of contacts) sheet.row(CONTACTS[contact].words, CONTACTS[contact].duty);
}

/** The picture is no higher on paper than this, mm. */
const PICTURE_MM = 92;

/** What was measured, its outline over it: black in white, so that it shows on any blank and in black and white. */
function picture(sheet: Sheet, { picture: shown }: JobFacts): void {
  if (!shown) {
    sheet.heading('Picture');
    sheet.paragraph('None: this sheet was made from an outline file, which holds no picture.');
    return;
  }
  const { pdf } = sheet;
  const { jpeg, widthPx, heightPx, outlines: drawn } = shown;
  const mmPerPx = Math.min((sheet.right - sheet.left) / widthPx, PICTURE_MM / heightPx);
  const [w, h] = [widthPx * mmPerPx, heightPx * mmPerPx];
  sheet.need(h + 24);
  sheet.heading('Picture with its outline');
  const [x0, y0] = [sheet.left, sheet.y + 3];
  pdf.addImage(jpeg, 'JPEG', x0, y0, w, h);
  const at = ([x, y]: readonly [number, number]): [number, number] => [
    x0 + x * mmPerPx,
    y0 + y * mmPerPx,
  ];
  for (const [widthMm, colour] of [
    [0.8, [255, 255, 255]],
    [0.3, [0, 0, 0]],
  ] as const) {
    sheet.stroke(widthMm, colour);
    for (const [first, ...rest] of drawn.flatMap(({ rings }) => rings)) {
      if (!first) continue;
      pdf.moveTo(...at(first));
      rest.forEach((p) => pdf.lineTo(...at(p)));
      pdf.close();
      pdf.stroke();
    }
  }
  for (const { blank, rings } of drawn) {
    const [outer = []] = rings;
    const mean = (of: 0 | 1): number => outer.reduce((sum, p) => sum + p[of], 0) / outer.length;
    const [x, y] = at([mean(0), mean(1)]);
    pdf.setFillColor(255, 255, 255);
    pdf.circle(x, y, 2.6, 'F');
    sheet.font(3.2, true);
    sheet.write(String(blank), x, y + 1.1, 'center');
  }
  sheet.stroke(NARROW);
  pdf.rect(x0, y0, w, h);
  sheet.y = y0 + h;
  sheet.paragraph(
    'As it was measured, each outline over its blank by its number. Only pixels: place, owner and camera that the file may have named are left out.',
    { size: 2.8 },
  );
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
  if (remarks.length > 0) sheet.heading('Remarks');
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

function settings(sheet: Sheet, plan: BedPlan, said: FileSettings): void {
  const { bed } = plan;
  const s = full(plan.pocketSettings);
  const widened = {
    none: '',
    hidden: "; hidden stretches moved out by the outline's own band",
    all: "; the wall moved out everywhere by the outline's own band (k for the whole edge, 95 %)",
  };
  const along = [...new Set(s.along.map(({ clearanceMm }) => figure(clearanceMm)))];
  sheet.heading('Settings');
  sheet.row(
    'Clearance',
    `${figure(s.clearanceMm)} mm per side, between blank and wall${s.moreMm.some((v) => v > 0) ? `, ${figure(s.moreMm[0])} mm more to left and right, ${figure(s.moreMm[1])} mm to front and rear` : ''}${along.length > 0 ? `; along stretches of the edge ${along.join(', ')} mm` : ''}${widened[s.widen]}`,
  );
  sheet.row(bed.board ? 'Board, material' : 'Board', boardWords(s) ?? 'not said');
  sheet.row('Tool', toolWords(s.tool));
  sheet.row('Where kerf is taken', [kerfNote(plan), ...scaleNote(plan, said)].join(' '));
  sheet.row('Pocket', depthNote(plan));
  const notches = 'radiusMm' in s.notches ? 2 : s.notches.length;
  const extras = [
    s.relief === 'none' ? '' : `relief in corners: ${s.relief.replace('-', ' ')}`,
    { round: '', mitred: 'corners of the wall mitred', arcs: 'wall and path in lines and arcs' }[
      s.corners
    ],
    s.draftDeg === 0 ? '' : `walls lean by ${figure(s.draftDeg, 1)} degrees`,
    s.chamferMm === 0 ? '' : `upper edge chamfered by ${figure(s.chamferMm)} mm at 45 degrees`,
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
  if (bed.board) sheet.row('Board', boardSentences(bed).join(' '));
  sheet.row(
    'Zero corner',
    `${bed.zero.replace('-', ' ')}, seen from the front. Files count from the bottom left corner; only the places below count from the zero corner.`,
  );
}

/** The ways of all pockets, and of the board's own holes and edge, mm. */
function cutLengthMm({ pockets, bed, pocketSettings }: BedPlan): number {
  const { holes, edge } = boardWays(bed, pocketSettings);
  const own = lengthOf([
    ...holes.map(({ points }) => ({ closed: true, points })),
    ...edge.map((points) => ({ closed: false, points })),
  ]);
  return pockets.reduce(
    (sum, { trails, relief, eject }) =>
      sum +
      lengthOf(trails) +
      2 * lengthOf(relief.map((points) => ({ closed: false, points }))) +
      lengthOf(eject.map(({ outer }) => ({ closed: true, points: outer }))),
    own,
  );
}

/** In the order of use: where the head stands for each print. */
export function heights(sheet: Sheet, { heights: h }: BedPlan): void {
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
    ['Outline', 'Blank', 'At', 'Width x height mm', 'Edge, U mm', 'Thickness mm', 'Face'],
    [0, 28, 38, 52, 80, 105, 126],
    facts.outlines.map((o) => [
      o.id,
      String(o.blank),
      o.at,
      `${figure(o.widthMm)} x ${figure(o.heightMm)}`,
      `±${figure(o.greatestU)}`,
      o.thicknessMm === undefined ? 'not given' : figure(o.thicknessMm),
      [o.mirrored ? 'back pictured, mirrored' : 'print face pictured', o.rider ? 'rider on it' : '']
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

/** @param printing only what printing can do, where nothing is cut */
export function cautions(sheet: Sheet, printing = false): void {
  const told = CAUTIONS.filter(([name]) => !printing || PRINTING.has(name));
  // Together on one page: what is cut off from its heading is not read.
  sheet.need(12 + told.length * 9 + 12);
  sheet.heading('Cautions');
  for (const [name, words] of told) sheet.row(name, words);
  sheet.y += 1.5;
  sheet.paragraph(DEFERENCE);
}

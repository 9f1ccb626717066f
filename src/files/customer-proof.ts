import { PDFDocument, PDFName } from '@cantoo/pdf-lib';
import { judgeArtwork, lieOf, nameOf } from '../artwork/judge.ts';
import { blankFromArt, facesOf, type Face } from '../artwork/place.ts';
import { blankFromWords, loadsOf, wordsAt, type Piece, type Typeface } from '../artwork/run.ts';
import { columnsOf, rowsOf } from '../artwork/table.ts';
import { IDENTITY, mapPoint, times, type Affine } from '../geometry/affine.ts';
import { mapRegion } from '../geometry/measure.ts';
import type { BedPlan, PlacedPocket } from '../plan/plan.ts';
import type { JobFacts } from './facts.ts';
import { embedFonts, showWords, typefacesOf } from './font.ts';
import { POINTS_PER_MM, resource } from './pdf-page.ts';
import { cm, fillOf, layForms, path, sheetsOf, type PrintWork } from './print-pdf.ts';
import { sheetPaper, type FileSettings } from './settings.ts';
import { dimensionLine, finished, NARROW, REDUCTIONS, Sheet, trim } from './sheet-page.ts';

/** Pieces that are drawn; more are counted. */
const MOST_DRAWN = 12;
/** Highest drawing on a page, and room beside it for its dimensions, mm. */
const HIGH = 92;
const ASIDE = 14;
/** Em of the words in the list, and from one row to the next, mm. */
const LIST_EM = 3.4;
const LIST_ROW = 5.2;

/** One look of a piece: an artwork on a blank, with the words of the first piece that has it. */
interface View {
  readonly pocket: PlacedPocket;
  readonly piece: Piece;
  readonly face: Face;
}

/** What the sheet's own writer cannot draw; operators in mm from the lower left corner of the page. */
interface Paint {
  artwork(sheet: number, map: Affine): string;
  words(line: number, text: string, map: Affine, colour: string): string[];
}

interface Overlay {
  /** From 1. */
  readonly page: number;
  readonly draw: (paint: Paint) => readonly string[];
}

/**
 * The proof that a customer signs, A4 or Letter: every artwork on the true outline of its blank, as it is looked at; size with
 * U; revision; what the program found in the artwork; place for a signature; all words of a personalised run. Artwork keeps its
 * vectors and is in the file once.
 */
export async function customerProof(
  plan: BedPlan,
  facts: JobFacts,
  work: PrintWork,
  said: FileSettings,
): Promise<Uint8Array> {
  const { run } = work.settings;
  const typefaces = run ? typefacesOf(run, work.fonts) : [];
  const views = viewsOf(plan, work);
  const drawn = views.slice(0, MOST_DRAWN);
  const sheet = new Sheet(sheetPaper(said));
  const reduction = reductionOf(drawn, sheet);
  const overlays: Overlay[] = [];
  drawn.forEach((view, k) => {
    if (k > 0) {
      sheet.pdf.addPage();
      sheet.y = sheet.frame.top + 4;
    }
    overlays.push(drawView(sheet, view, reduction, work, typefaces));
    describe(sheet, view, facts, work);
    if (k > 0) return;
    findings(sheet, plan, work, typefaces, views.length - drawn.length);
    signature(sheet, work);
  });
  overlays.push(...listWords(sheet, work, typefaces));
  const bytes = finished(sheet, 'Proof', plan, facts, `1 : ${reduction}`, 'customer');
  return painted(bytes, work, drawn, overlays, plan.digest);
}

/** Every artwork on every kind of blank, once each. */
function viewsOf(plan: BedPlan, { settings, arts }: PrintWork): View[] {
  const faces = facesOf(plan.pockets);
  const seen = new Set<string>();
  return loadsOf(settings, sheetsOf(arts).length, plan.pockets.length).flatMap((load) =>
    load.flatMap((piece, k): View[] => {
      const pocket = plan.pockets[k]!;
      const key = `${piece?.sheet} ${pocket.outlineId}`;
      if (!piece || seen.has(key)) return [];
      seen.add(key);
      return [{ pocket, piece, face: faces.get(pocket.outlineId)! }];
    }),
  );
}

function reductionOf(views: readonly View[], sheet: Sheet): number {
  const most = (of: (face: Face) => number): number =>
    views.reduce((m, { face }) => Math.max(m, of(face)), 1);
  const [w, h] = [most((f) => f.widthMm), most((f) => f.heightMm)];
  const across = sheet.right - sheet.left - 2 * ASIDE;
  return (
    REDUCTIONS.find((n) => w / n <= across && h / n <= HIGH) ??
    Math.ceil(Math.max(w / across, h / HIGH))
  );
}

/** A piece in the middle of the page, upright, cut off at its edge as the print is, with its outer dimensions. */
function drawView(
  sheet: Sheet,
  { piece, face }: View,
  reduction: number,
  { settings, arts }: PrintWork,
  typefaces: readonly Typeface[],
): Overlay {
  const { pdf } = sheet;
  const { run } = settings;
  const [w, h] = [face.widthMm / reduction, face.heightMm / reduction];
  const left = (sheet.left + sheet.right - w) / 2 + ASIDE / 2;
  const top = sheet.y + 4;
  const pageHeight = sheet.frame.bottom + 10;
  // From the blank to the page, y up: its upright along the page's sides, its middle in the middle.
  const k = 1 / reduction;
  const [c, s] = [k * Math.cos(face.leanRad), k * Math.sin(face.leanRad)];
  const middle = { x: left + w / 2, y: pageHeight - top - h / 2 };
  const { reverse } = settings;
  const upright = times(
    [c, -s, s, c, middle.x, middle.y],
    [1, 0, 0, 1, -face.middle.x, -face.middle.y],
  );
  // Looked at through a clear blank, its edge is seen mirrored, and what was printed mirrored the right way round.
  const pageFromBlank = reverse ? times([-1, 0, 0, 1, 2 * middle.x, 0], upright) : upright;
  const edge = mapRegion<'blank', 'bed'>(
    face.print,
    (p) => mapPoint<'bed'>(pageFromBlank, p as never),
    reverse,
  );

  sheet.stroke(0.18);
  const below = top + h + 7;
  pdf.line(left, top + h + 1, left, below + 1.5);
  pdf.line(left + w, top + h + 1, left + w, below + 1.5);
  dimensionLine(pdf, left, below, left + w, below);
  const beside = left - 7;
  pdf.line(left - 1, top, beside - 1.5, top);
  pdf.line(left - 1, top + h, beside - 1.5, top + h);
  dimensionLine(pdf, beside, top, beside, top + h);
  sheet.font(3.2);
  sheet.write(face.widthMm.toFixed(2), left + w / 2, below - 1, 'center');
  pdf.text(face.heightMm.toFixed(2), beside - 1, top + h / 2, { angle: 90, align: 'center' });
  sheet.y = below + 3;

  const art = piece.sheet === undefined ? undefined : sheetsOf(arts)[piece.sheet]!;
  return {
    page: pdf.getNumberOfPages(),
    draw: (paint) => [
      'q',
      ...path(edge),
      'W* n',
      ...(art
        ? [paint.artwork(piece.sheet!, times(pageFromBlank, blankFromArt(face, art, settings)))]
        : []),
      'Q',
      ...(run?.lines ?? []).flatMap((line, i) => {
        const text = piece.row === undefined ? '' : wordsAt(run!, line, piece.row);
        const set = typefaces[i]!.words.get(text);
        if (!set) return [];
        const own = blankFromWords(face, line, typefaces[i]!, set, reverse);
        return paint.words(i, text, times(pageFromBlank, own), line.colour);
      }),
      `q 0 G 0.35 w 1 j ${path(edge).join(' ')} S Q`,
    ],
  };
}

/** Size, artwork and how it is printed, in rows. */
function describe(
  sheet: Sheet,
  { pocket, piece, face }: View,
  facts: JobFacts,
  { settings, arts }: PrintWork,
): void {
  const { blank } = facts.outlines.find(({ id }) => id === pocket.outlineId) ?? {};
  const own = facts.outlines.filter((o) => o.blank === blank);
  const outline = own.find(({ at }) => at === 'face') ?? own[0];
  const row = (name: string, words: string): void => sheet.row(name, words, 40);
  sheet.heading(blank === undefined ? 'The piece' : `Blank ${blank}`);
  const lies = `${face.widthMm.toFixed(2)} x ${face.heightMm.toFixed(2)} mm`;
  if (!outline) row('Face, as drawn', lies);
  else {
    const main = `${outline.widthMm.toFixed(2)} x ${outline.heightMm.toFixed(2)} mm`;
    const edge = `its edge ±${outline.greatestU.toFixed(2)} mm (U, k = 2)`;
    row('Width x height', `${main}, sides of the smallest rectangle round it; ${edge}`);
    if (main !== lies) row('As drawn', `${lies}, left to right and top to bottom of this sheet`);
  }
  const art = piece.sheet === undefined ? undefined : sheetsOf(arts)[piece.sheet]!;
  if (art) {
    const lie = lieOf(face, art, settings);
    row('Artwork', `${nameOf(art)} (${art.kind}), revision ${settings.revision}`);
    row(
      'Printed size',
      `${lie.widthMm.toFixed(1)} x ${lie.heightMm.toFixed(1)} mm, ${(100 * lie.scale).toFixed(1)} % of its own`,
    );
    row(
      'Fonts',
      art.missingFonts.length > 0
        ? `NOT IN THE FILE: ${art.missingFonts.join(', ')}`
        : 'all words bring their fonts, or are outlines',
    );
    row(
      'Thinnest line',
      art.thinnestMm === undefined
        ? 'no lines'
        : `${(art.thinnestMm * lie.scale).toFixed(3)} mm as printed`,
    );
    row(
      'Coarsest picture',
      lie.dpi === undefined
        ? 'none: vectors only'
        : `${Math.floor(lie.dpi)} dots per inch as printed`,
    );
    if (art.separations.length > 0) row('Spot colours', art.separations.join(', '));
  } else row('Artwork', `none, revision ${settings.revision}`);
  for (const { kind, name, growMm } of settings.inks)
    row(
      kind === 'white' ? 'White' : 'Clear',
      `${name}, ${growMm < 0 ? `${trim(-growMm)} mm inside the edge` : growMm > 0 ? `${trim(growMm)} mm past the edge` : 'to the edge'}`,
    );
  if (settings.reverse) row('Looked at', 'through the clear blank; drawn here as it is then seen');
}

function findings(
  sheet: Sheet,
  plan: BedPlan,
  { settings, arts }: PrintWork,
  typefaces: readonly Typeface[],
  more: number,
): void {
  const reasons = judgeArtwork(plan, sheetsOf(arts), settings, typefaces);
  sheet.heading('What was found');
  if (reasons.length === 0) sheet.paragraph('Nothing that the program could tell.');
  for (const { message } of reasons) sheet.paragraph(message);
  if (more > 0)
    sheet.paragraph(`${more} more artworks are printed that are not drawn here.`, { bold: true });
  sheet.paragraph(
    'Colours on a screen and on office paper are not those of the machine: ask for a printed sample where they matter.',
  );
}

function signature(sheet: Sheet, { settings: { run } }: PrintWork): void {
  const { pdf } = sheet;
  sheet.need(34);
  sheet.heading('Agreed');
  sheet.y += 2;
  sheet.stroke(NARROW);
  sheet.font(3.2);
  for (const words of [
    `to be printed as shown${run && run.lines.length > 0 ? ', with the words listed after this' : ''}`,
    'to be printed with the changes noted here; a new proof is not needed',
  ]) {
    pdf.rect(sheet.left, sheet.y + 1, 3.5, 3.5);
    sheet.write(words, sheet.left + 6, sheet.y + 4);
    sheet.y += 6;
  }
  sheet.y += 8;
  const third = (sheet.right - sheet.left) / 3;
  ['Name', 'Date', 'Signature'].forEach((words, k) => {
    const x = sheet.left + k * third;
    pdf.line(x, sheet.y, x + third - 5, sheet.y);
    sheet.font(2.6, false, [70, 85, 91]);
    sheet.write(words, x, sheet.y + 3.5);
  });
  sheet.y += 5;
}

/** The words of every piece in the fonts they are printed in, to be read through before they are signed for. */
function listWords(
  sheet: Sheet,
  { settings: { run } }: PrintWork,
  typefaces: readonly Typeface[],
): Overlay[] {
  if (!run || run.lines.length === 0) return [];
  const pageHeight = sheet.frame.bottom + 10;
  const overlays: Overlay[] = [];
  const wide = (sheet.right - sheet.left - 12) / run.lines.length;
  const head = (page = true): void => {
    if (page) {
      sheet.pdf.addPage();
      sheet.y = sheet.frame.top + 4;
    }
    sheet.heading('All words, as they are printed');
    sheet.y += LIST_ROW;
    sheet.font(2.8, false, [70, 85, 91]);
    run.lines.forEach(({ column }, k) => {
      const name = columnsOf(run.table)[column] ?? '';
      const [shown = ''] = sheet.lines(name, wide - 3);
      sheet.write(shown, sheet.left + 12 + k * wide, sheet.y);
    });
  };
  // Below a signature that stands alone on its page there is room.
  head(sheet.y > sheet.frame.top + 60);
  rowsOf(run.table).forEach((_, row) => {
    if (sheet.y + LIST_ROW > sheet.frame.bottom - 46) head();
    sheet.y += LIST_ROW;
    sheet.font(2.8, false, [70, 85, 91]);
    sheet.write(String(row + 1), sheet.left + 8, sheet.y, 'right');
    const y = pageHeight - sheet.y;
    overlays.push({
      page: sheet.pdf.getNumberOfPages(),
      draw: (paint) =>
        run.lines.flatMap((line, k) => {
          const text = wordsAt(run, line, row);
          const set = typefaces[k]!.words.get(text);
          if (!set) return [];
          const em = Math.min(LIST_EM, (wide - 3) / Math.max(set.ink.right, 1e-6));
          return paint.words(k, text, [em, 0, 0, em, sheet.left + 12 + k * wide, y], '#18242a');
        }),
    });
  });
  return overlays;
}

/** Draws artwork and words over the pages of a sheet. */
async function painted(
  sheet: Uint8Array,
  { arts, fonts }: PrintWork,
  views: readonly View[],
  overlays: readonly Overlay[],
  digest: string,
): Promise<Uint8Array> {
  const doc = await PDFDocument.load(sheet, { updateMetadata: false });
  const { forms } = await layForms(
    doc,
    arts,
    views.map(({ piece: { sheet: at } }) =>
      at === undefined ? {} : { art: { sheet: at, map: IDENTITY } },
    ),
  );
  const open = [...new Set(fonts)];
  const embedded = await embedFonts(doc, open, digest);
  const byPage = new Map<number, Overlay[]>();
  for (const overlay of overlays)
    byPage.set(overlay.page, [...(byPage.get(overlay.page) ?? []), overlay]);
  for (const [at, list] of byPage) {
    const page = doc.getPage(at - 1);
    const paint: Paint = {
      artwork: (k, map) => {
        const { ref, artFromPage } = forms.get(k)!;
        resource(page, 'XObject').set(PDFName.of(`A${k}`), ref);
        return `q ${cm(times(map, artFromPage))} cm /A${k} Do Q`;
      },
      words: (line, text, map, colour) => {
        const k = open.indexOf(fonts[line]!);
        resource(page, 'Font').set(PDFName.of(`W${k}`), embedded[k]!.ref);
        return [
          `${fillOf(colour)} BT /W${k} 1 Tf ${cm(map)} Tm`,
          ...showWords(open[k]!, embedded[k]!, text),
          'ET',
        ];
      },
    };
    const lines = [
      `q ${POINTS_PER_MM} 0 0 ${POINTS_PER_MM} 0 0 cm`,
      ...list.flatMap(({ draw }) => draw(paint)),
      'Q',
    ];
    page.node.addContentStream(doc.context.register(doc.context.flateStream(lines.join('\n'))));
  }
  return doc.save({ useObjectStreams: false });
}

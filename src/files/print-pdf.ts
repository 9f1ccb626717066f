import {
  PDFName,
  type PDFDocument,
  type PDFFont,
  type PDFPage,
  type PDFRef,
} from '@cantoo/pdf-lib';
import type { ArtSheet, ArtworkSettings, Ink } from '../artwork/artwork.ts';
import { bedFromArt, facesOf } from '../artwork/place.ts';
import { bedFromWords, loadsOf, wordsAt } from '../artwork/run.ts';
import type { Correction } from '../after/first-print.ts';
import { mapPoint, times, type Affine } from '../geometry/affine.ts';
import type { Clipper } from '../geometry/clipper.ts';
import { mapRegion } from '../geometry/measure.ts';
import type { Region } from '../geometry/shape.ts';
import type { BedPlan } from '../plan/plan.ts';
import { layArt, type Art, type Laid } from './art.ts';
import { embedFonts, showWords, typefacesOf, type OpenFont } from './font.ts';
import { figure, trail } from './letters.ts';
import { addPage, layerGroup, newPdf, POINTS_PER_MM, resource, setContent } from './pdf-page.ts';

/** What goes into the print file: the artwork as read, and how the operator wants it. */
export interface PrintWork {
  readonly arts: readonly Art[];
  readonly settings: ArtworkSettings;
  /** Of the lines of a personalised run, one for each. */
  readonly fonts: readonly OpenFont[];
}

/** Whether there is anything to print. */
export const prints = ({ arts, settings }: Pick<PrintWork, 'arts' | 'settings'>): boolean =>
  arts.length > 0 || (settings.run?.lines.length ?? 0) > 0;

export const sheetsOf = (arts: readonly Art[]): readonly ArtSheet[] =>
  arts.flatMap(({ sheets }) => sheets);

/** What the print file must show; written from it and read back against it. Bed mm. */
export interface PrintPlan {
  readonly widthMm: number;
  readonly heightMm: number;
  readonly digest: string;
  /** One page each. */
  readonly loads: readonly PrintLoad[];
}

export interface PrintLoad {
  readonly pockets: readonly PrintPocket[];
  /** In the order they are printed, `before` the colours or after them. */
  readonly inks: readonly {
    readonly ink: Ink;
    readonly before: boolean;
    readonly areas: readonly Region<'bed'>[];
  }[];
}

/** A pocket that something is printed in. */
export interface PrintPocket {
  readonly id: string;
  /** What the artwork is clipped to: the pocket's bleed. */
  readonly clip: readonly Region<'bed'>[];
  /** Which sheet, and from its art mm to the bed; absent where there is no artwork. */
  readonly art?: { readonly sheet: number; readonly map: Affine };
  /** Words of its own, not clipped. */
  readonly words: readonly PrintWords[];
}

export interface PrintWords {
  readonly text: string;
  /** Which of the fonts. */
  readonly font: number;
  /** From em to the bed. */
  readonly map: Affine;
  /** "#rrggbb". */
  readonly colour: string;
}

/** Name of the layer that holds the artwork. */
export const ARTWORK_LAYER = 'artwork';
/** Name of the layer that holds names and numbers. */
export const WORDS_LAYER = 'words';

/** In which order the printer lays down what the file holds; one sentence, empty where there is nothing but the artwork. */
export function orderWords({ loads }: Pick<PrintPlan, 'loads'>): string {
  const { inks = [] } = loads[0] ?? {};
  if (inks.length === 0) return '';
  const names = (before: boolean): string[] =>
    inks.filter((i) => i.before === before).map(({ ink }) => `separation ${ink.name}`);
  return `To be printed in this order: ${[...names(true), 'colours', ...names(false)].join(', ')}.`;
}

/**
 * Where everything lies on the bed. White is printed before the colours, or last of all where they are looked at through the
 * blank.
 *
 * @param onBoard how many pockets the board has, where the plan holds only those of a load that is filled in part
 */
export function printPlanOf(
  clipper: Clipper,
  plan: BedPlan,
  work: PrintWork,
  onBoard = plan.pockets.length,
): PrintPlan {
  const { settings, arts, fonts } = work;
  const { run, reverse } = settings;
  const sheets = sheetsOf(arts);
  const faces = facesOf(plan.pockets);
  const typefaces = run ? typefacesOf(run, fonts) : [];
  const once = [...new Set(fonts)];
  const grown = settings.inks.map(({ growMm }) =>
    plan.pockets.map(({ print }) => clipper.offset([print], growMm, 'inward')),
  );
  const all = loadsOf(settings, sheets.length, onBoard);
  // By its number: in a load that is filled in part others are left out.
  const loads = (onBoard > plan.pockets.length ? all.slice(0, 1) : all).map((load) =>
    plan.pockets.map(({ id }) => load[Number(id) - 1]),
  );
  return {
    widthMm: plan.bed.widthMm,
    heightMm: plan.bed.depthMm,
    digest: plan.digest,
    loads: loads.map((load): PrintLoad => {
      const inks = settings.inks.map((ink, i) => ({
        ink,
        before: ink.kind === 'white' && !reverse,
        areas: load.flatMap((piece, k) => (piece ? grown[i]![k]! : [])),
      }));
      return {
        pockets: load.flatMap((piece, k): PrintPocket[] => {
          if (!piece) return [];
          const pocket = plan.pockets[k]!;
          const face = faces.get(pocket.outlineId)!;
          const { sheet, row } = piece;
          return [
            {
              id: pocket.id,
              clip: pocket.bleed,
              ...(sheet !== undefined &&
                pocket.bleed.length > 0 && {
                  art: { sheet, map: bedFromArt(pocket, face, sheets[sheet]!, settings) },
                }),
              words: (run?.lines ?? []).flatMap((line, i) => {
                const text = row === undefined ? '' : wordsAt(run!, line, row);
                if (text === '') return [];
                const set = typefaces[i]!.words.get(text)!;
                const map = bedFromWords(pocket, face, line, typefaces[i]!, set, reverse);
                return [{ text, font: once.indexOf(fonts[i]!), map, colour: line.colour }];
              }),
            },
          ];
        }),
        inks: [
          ...inks.filter(({ before }) => before),
          ...inks.filter(({ before, ink }) => !before && ink.kind !== 'white'),
          ...inks.filter(({ before, ink }) => !before && ink.kind === 'white'),
        ],
      };
    }),
  };
}

/** The same, moved as bed profile and first print ask. */
export function corrected(print: PrintPlan, correction: Correction | undefined): PrintPlan {
  if (!correction) return print;
  const moved = (areas: readonly Region<'bed'>[]): Region<'bed'>[] =>
    areas.map((area) => mapRegion(area, (p) => mapPoint(correction.map, p)));
  const onBed = (map: Affine): Affine => times(correction.map, map);
  return {
    ...print,
    loads: print.loads.map(({ pockets, inks }) => ({
      pockets: pockets.map(({ id, clip, art, words }) => ({
        id,
        clip: moved(clip),
        ...(art && { art: { ...art, map: onBed(art.map) } }),
        words: words.map((word) => ({ ...word, map: onBed(word.map) })),
      })),
      inks: inks.map((ink) => ({ ...ink, areas: moved(ink.areas) })),
    })),
  };
}

/**
 * The print file: for each load one page, as large as the bed, at 100 %. Each artwork is in it once, as a form, and used in
 * every pocket, clipped to the pocket's bleed; names and numbers are text in fonts that are in the file once; white and clear
 * are layers on separations of their own, which leave the colours as they are.
 */
export async function printPdf(
  plan: Pick<BedPlan, 'jobNumber' | 'jobName' | 'digest'>,
  print: PrintPlan,
  work: PrintWork,
): Promise<Uint8Array> {
  const doc = await newPdf({
    title: `${plan.jobNumber} ${plan.jobName}: print`,
    subject: `The page is the bed, at 100 %. Artwork revision ${work.settings.revision}. ${orderWords(print)}`,
    jobNumber: plan.jobNumber,
    digest: plan.digest,
  });
  const pockets = print.loads.flatMap((load) => load.pockets);
  const { forms, own } = await layForms(doc, work.arts, pockets);
  const open = [...new Set(work.fonts)];
  const fonts = await embedFonts(doc, open, plan.digest);

  const [load] = print.loads;
  const named = [
    ARTWORK_LAYER,
    ...(open.length > 0 ? [WORDS_LAYER] : []),
    ...(load?.inks ?? []).map(({ ink }) => ink.name),
  ];
  const groups = new Map(named.map((name) => [name, layerGroup(doc, name)] as const));
  const spaces = new Map((load?.inks ?? []).map(({ ink }) => [ink.name, separation(doc, ink)]));
  const over = spaces.size > 0 ? multiplied(doc) : undefined;
  for (const { pockets, inks } of print.loads) {
    const page = addPage(doc, print.widthMm, print.heightMm);
    const properties = resource(page, 'Properties');
    const content = [`q ${POINTS_PER_MM} 0 0 ${POINTS_PER_MM} 0 0 cm`];
    const layer = (name: string, lines: readonly string[]): void => {
      const key = `L${named.indexOf(name)}`;
      properties.set(PDFName.of(key), groups.get(name)!);
      // One by one: a call takes only so many arguments, and a hundred pockets have more lines than that.
      content.push(`/OC /${key} BDC`);
      for (const line of lines) content.push(line);
      content.push('EMC');
    };
    layer(ARTWORK_LAYER, artworkLines(page, pockets, forms));
    if (open.length > 0) layer(WORDS_LAYER, wordLines(page, pockets, open, fonts));
    inks.forEach(({ ink, areas }, k) => {
      resource(page, 'ColorSpace').set(PDFName.of(`S${k}`), spaces.get(ink.name)!);
      resource(page, 'ExtGState').set(OVER, over!);
      layer(ink.name, [
        'q /Over gs',
        `/S${k} cs 1 scn`,
        ...areas.flatMap((area) => [...path(area), 'f*']),
        'Q',
      ]);
    });
    content.push('Q');
    setContent(page, content);
  }
  // As they are printed.
  const below = (load?.inks ?? []).filter(({ before }) => before).map(({ ink }) => ink.name);
  const inOrder = [...below, ...named.filter((name) => !below.includes(name))];
  doc.catalog.set(
    PDFName.of('OCProperties'),
    doc.context.obj({
      OCGs: [...groups.values(), ...own.all],
      D: {
        Order: inOrder.map((name) => groups.get(name)!),
        ON: [...groups.values()],
        OFF: own.off,
        BaseState: 'ON',
      },
    }),
  );
  return doc.save({ useObjectStreams: false });
}

/** Every artwork that is used, laid into a file once; by its number among all sheets. */
export async function layForms(
  doc: PDFDocument,
  arts: readonly Art[],
  pockets: readonly Pick<PrintPocket, 'art'>[],
): Promise<{ forms: ReadonlyMap<number, Laid>; own: { all: PDFRef[]; off: PDFRef[] } }> {
  const used = [...new Set(pockets.flatMap(({ art }) => art?.sheet ?? []))].sort((a, b) => a - b);
  const forms = new Map<number, Laid>();
  const own: { all: PDFRef[]; off: PDFRef[] } = { all: [], off: [] };
  let first = 0;
  for (const art of arts) {
    const wanted = used.filter((k) => k >= first && k < first + art.sheets.length);
    if (wanted.length > 0) {
      const { laid, layers } = await layArt(
        doc,
        art,
        wanted.map((k) => k - first),
      );
      for (const k of wanted) forms.set(k, laid.get(k - first)!);
      own.all.push(...layers.all);
      own.off.push(...layers.off);
    }
    first += art.sheets.length;
  }
  return { forms, own };
}

/** A map as operands of `cm` and `Tm`. */
export const cm = (map: Affine): string => map.map(significant).join(' ');

function artworkLines(
  page: PDFPage,
  pockets: readonly PrintPocket[],
  forms: ReadonlyMap<number, Laid>,
): string[] {
  const objects = resource(page, 'XObject');
  return pockets.flatMap(({ clip, art }) => {
    if (!art) return [];
    const { ref, artFromPage } = forms.get(art.sheet)!;
    objects.set(PDFName.of(`A${art.sheet}`), ref);
    const map = cm(times(art.map, artFromPage));
    return ['q', ...clip.flatMap(path), 'W* n', `q ${map} cm /A${art.sheet} Do Q`, 'Q'];
  });
}

function wordLines(
  page: PDFPage,
  pockets: readonly PrintPocket[],
  open: readonly OpenFont[],
  fonts: readonly PDFFont[],
): string[] {
  const own = resource(page, 'Font');
  return pockets.flatMap(({ words }) =>
    words.flatMap(({ text, font, map, colour }) => {
      own.set(PDFName.of(`F${font}`), fonts[font]!.ref);
      return [
        `${fillOf(colour)} BT /F${font} 1 Tf ${cm(map)} Tm`,
        ...showWords(open[font]!, fonts[font]!, text),
        'ET',
      ];
    }),
  );
}

/** The operator of a fill; a grey is black alone, so that letters do not have to meet on four plates. */
export function fillOf(colour: string): string {
  const [r, g, b] = [1, 3, 5].map((k) => parseInt(colour.slice(k, k + 2), 16) / 255) as [
    number,
    number,
    number,
  ];
  return r === g && g === b ? `${figure(r)} g` : `${[r, g, b].map(figure).join(' ')} rg`;
}

/** A factor in a map: so many figures that a page of a hundred metres still ends where it should. */
const significant = (v: number): string => {
  const text = v.toFixed(12).replace(/\.?0+$/, '');
  return text === '-0' ? '0' : text;
};

/** A region as path operators, one text for each of its rings. */
export const path = ({ outer, holes }: Region<'bed'>): string[] =>
  [outer, ...holes].map((ring) => `${trail(ring)}\nh`);

/** How a separation is shown where it has no plate of its own, as CMYK: faint, so that the artwork stays to be seen. */
const SHOWN: Readonly<Record<Ink['kind'], readonly number[]>> = {
  white: [0.12, 0, 0.04, 0.06],
  clear: [0, 0.02, 0.14, 0],
};

function separation(doc: PDFDocument, { name, kind }: Ink): PDFRef {
  const tint = { FunctionType: 2, Domain: [0, 1], C0: [0, 0, 0, 0], C1: [...SHOWN[kind]], N: 1 };
  return doc.context.register(
    doc.context.obj(['Separation', PDFName.of(name), 'DeviceCMYK', tint]),
  );
}

const OVER = PDFName.of('Over');

/**
 * White and clear must leave every other plate as it is, and the artwork must not cut holes into them: they are painted over
 * it, multiplied, which changes no plate but their own (ISO 32000-1, 11.7.4.2) and needs no heed paid to overprint, which
 * viewers and some printers' programs ignore. In which order they are printed is the printer's to be told.
 */
function multiplied(doc: PDFDocument): PDFRef {
  return doc.context.register(doc.context.obj({ Type: 'ExtGState', BM: 'Multiply' }));
}

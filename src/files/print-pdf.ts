import { PDFName, type PDFDocument, type PDFRef } from '@cantoo/pdf-lib';
import { sheetFor, type ArtSheet, type ArtworkSettings, type Ink } from '../artwork/artwork.ts';
import { bedFromArt, facesOf } from '../artwork/place.ts';
import type { Point } from '../base/measure.ts';
import { times, type Affine } from '../geometry/affine.ts';
import type { Clipper } from '../geometry/clipper.ts';
import type { Region, Ring } from '../geometry/shape.ts';
import type { BedPlan } from '../plan/plan.ts';
import { layArt, type Art, type Laid } from './art.ts';
import { figure } from './letters.ts';
import { addPage, layerGroup, newPdf, POINTS_PER_MM, resource, setContent } from './pdf-page.ts';

/** What goes into the print file: the artwork as read, and how the operator wants it. */
export interface PrintWork {
  readonly arts: readonly Art[];
  readonly settings: ArtworkSettings;
}

export const sheetsOf = (arts: readonly Art[]): readonly ArtSheet[] =>
  arts.flatMap(({ sheets }) => sheets);

/** What the print file must show; written from it and read back against it. Bed mm. */
export interface PrintPlan {
  readonly widthMm: number;
  readonly heightMm: number;
  readonly digest: string;
  readonly pockets: readonly PrintPocket[];
  /** In the order they are printed, `before` the colours or after them. */
  readonly inks: readonly {
    readonly ink: Ink;
    readonly before: boolean;
    readonly areas: readonly Region<'bed'>[];
  }[];
}

export interface PrintPocket {
  readonly id: string;
  /** What the artwork is clipped to: the pocket's bleed. */
  readonly clip: readonly Region<'bed'>[];
  /** Which sheet, and from its art mm to the bed; absent where the pocket stays without. */
  readonly sheet?: number;
  readonly map?: Affine;
}

/** Name of the layer that holds the artwork. */
export const ARTWORK_LAYER = 'artwork';

/** In which order the printer lays down what the file holds; one sentence, empty where there is nothing but the artwork. */
export function orderWords({ inks }: Pick<PrintPlan, 'inks'>): string {
  if (inks.length === 0) return '';
  const names = (before: boolean): string[] =>
    inks.filter((i) => i.before === before).map(({ ink }) => `separation ${ink.name}`);
  return `To be printed in this order: ${[...names(true), 'colours', ...names(false)].join(', ')}.`;
}

/** Where everything lies on the bed. White is printed before the colours, or last of all where they are looked at through the blank. */
export function printPlanOf(clipper: Clipper, plan: BedPlan, work: PrintWork): PrintPlan {
  const { settings, arts } = work;
  const sheets = sheetsOf(arts);
  const faces = facesOf(plan.pockets);
  const inks = settings.inks.map((ink) => ({
    ink,
    before: ink.kind === 'white' && !settings.reverse,
    areas: plan.pockets.flatMap(({ print }) => clipper.offset([print], ink.growMm, 'inward')),
  }));
  return {
    widthMm: plan.bed.widthMm,
    heightMm: plan.bed.depthMm,
    digest: plan.digest,
    pockets: plan.pockets.map((pocket): PrintPocket => {
      // By its number: in a load that is filled in part others are left out.
      const sheet = sheetFor(settings, sheets.length, Number(pocket.id) - 1);
      const { id, outlineId, bleed } = pocket;
      if (sheet === undefined) return { id, clip: bleed };
      const map = bedFromArt(pocket, faces.get(outlineId)!, sheets[sheet]!, settings);
      return { id, clip: bleed, sheet, map };
    }),
    inks: [
      ...inks.filter(({ before }) => before),
      ...inks.filter(({ before, ink }) => !before && ink.kind !== 'white'),
      ...inks.filter(({ before, ink }) => !before && ink.kind === 'white'),
    ],
  };
}

/**
 * The print file: one page, as large as the bed, at 100 %. Each artwork is in it once, as a form, and used in every pocket,
 * clipped to the pocket's bleed; white and clear are layers on separations of their own, which leave the colours as they are.
 */
export async function printPdf(
  plan: BedPlan,
  print: PrintPlan,
  work: PrintWork,
): Promise<Uint8Array> {
  const doc = await newPdf({
    title: `${plan.jobNumber} ${plan.jobName}: print`,
    subject: `The page is the bed, at 100 %. Artwork revision ${work.settings.revision}. ${orderWords(print)}`,
    jobNumber: plan.jobNumber,
    digest: plan.digest,
  });
  const page = addPage(doc, print.widthMm, print.heightMm);
  const used = [...new Set(print.pockets.flatMap(({ sheet }) => sheet ?? []))].sort(
    (a, b) => a - b,
  );
  const forms = new Map<number, Laid>();
  const own: { all: PDFRef[]; off: PDFRef[] } = { all: [], off: [] };
  let first = 0;
  for (const art of work.arts) {
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
  const objects = resource(page, 'XObject');
  for (const [k, { ref }] of forms) objects.set(PDFName.of(`A${k}`), ref);

  const properties = resource(page, 'Properties');
  const groups: PDFRef[] = [];
  const content = [`q ${POINTS_PER_MM} 0 0 ${POINTS_PER_MM} 0 0 cm`];
  const layer = (name: string, lines: readonly string[]): void => {
    const group = layerGroup(doc, name);
    properties.set(PDFName.of(`L${groups.length}`), group);
    content.push(`/OC /L${groups.length} BDC`, ...lines, 'EMC');
    groups.push(group);
  };
  const inkLayer = ({ ink, areas }: PrintPlan['inks'][number], k: number): void => {
    resource(page, 'ColorSpace').set(PDFName.of(`S${k}`), separation(doc, ink));
    const states = resource(page, 'ExtGState');
    if (!states.has(OVER)) states.set(OVER, multiplied(doc));
    layer(ink.name, [
      'q /Over gs',
      `/S${k} cs 1 scn`,
      ...areas.flatMap((area) => [...path(area), 'f*']),
      'Q',
    ]);
  };
  layer(
    ARTWORK_LAYER,
    print.pockets.flatMap(({ clip, sheet, map }) => {
      const form = sheet === undefined ? undefined : forms.get(sheet);
      if (!form || !map || clip.length === 0) return [];
      const cm = times(map, form.artFromPage).map(significant).join(' ');
      return ['q', ...clip.flatMap(path), 'W* n', `q ${cm} cm /A${sheet} Do Q`, 'Q'];
    }),
  );
  print.inks.forEach(inkLayer);
  content.push('Q');
  setContent(page, content);
  // As they are printed: the artwork is the first that was made.
  const [colours, ...coats] = groups as [PDFRef, ...PDFRef[]];
  const below = print.inks.filter(({ before }) => before).length;
  const inOrder = [...coats.slice(0, below), colours, ...coats.slice(below)];
  doc.catalog.set(
    PDFName.of('OCProperties'),
    doc.context.obj({
      OCGs: [...groups, ...own.all],
      D: { Order: inOrder, ON: groups, OFF: own.off, BaseState: 'ON' },
    }),
  );
  return doc.save({ useObjectStreams: false });
}

/** A factor in a map: so many figures that a page of a hundred metres still ends where it should. */
const significant = (v: number): string => {
  const text = v.toFixed(12).replace(/\.?0+$/, '');
  return text === '-0' ? '0' : text;
};

const ring = (points: Ring<'bed'>): string[] => [
  ...points.map((p: Point<'bed'>, k) => `${figure(p.x)} ${figure(p.y)} ${k === 0 ? 'm' : 'l'}`),
  'h',
];
const path = ({ outer, holes }: Region<'bed'>): string[] => [outer, ...holes].flatMap(ring);

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

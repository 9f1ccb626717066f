import { Refusal } from '../base/reason.ts';
import type { Contact } from './contacts.ts';
import type { SheetPaper } from './sheet-page.ts';

/** What a machine does along a line; each is sorted by a colour, and by a spot colour in PDF and EPS. */
export const OPERATIONS = ['cut', 'relief', 'eject', 'engrave'] as const;
export type Operation = (typeof OPERATIONS)[number];

/**
 * The colours that every cutter's program tells apart: the pure ones. In DXF they are the first seven of its palette
 * (DXF reference, group 62), of which the seventh is black or white.
 */
export const LINE_COLOURS = {
  red: { aci: 1, rgb: [255, 0, 0] },
  yellow: { aci: 2, rgb: [255, 255, 0] },
  green: { aci: 3, rgb: [0, 255, 0] },
  cyan: { aci: 4, rgb: [0, 255, 255] },
  blue: { aci: 5, rgb: [0, 0, 255] },
  magenta: { aci: 6, rgb: [255, 0, 255] },
  black: { aci: 7, rgb: [0, 0, 0] },
} as const;
export type LineColour = keyof typeof LINE_COLOURS;
export const LINE_COLOUR_NAMES = Object.keys(LINE_COLOURS) as readonly LineColour[];

export const DXF_VERSIONS = ['2000', 'R12'] as const;
/** How curves are written: as short chords, as arcs, or as splines (arcs in R12, which has none). */
export const DXF_CURVES = ['polylines', 'arcs', 'splines'] as const;

/** Papers of the 1:1 print, upright, mm (ISO 216; Letter is 8.5 x 11 in). */
export const PRINT_PAPERS = { A4: [210, 297], A3: [297, 420], Letter: [215.9, 279.4] } as const;
export type PrintPaper = keyof typeof PRINT_PAPERS;
export const PRINT_PAPER_NAMES = Object.keys(PRINT_PAPERS) as readonly PrintPaper[];

/**
 * What a cutter makes of lengths, counted from the zero corner, parts in a thousand: too long along x, along y, and by how much
 * x grows with y; absent: its axes stand square. What it is told to follow is made shorter by as much.
 */
export type CutterScale = readonly [x: number, y: number, shear?: number];

/** How the files of a release are written; the plan says what is in them. */
export interface FileSettings {
  /** Spot colour (its name in PDF and EPS) and line colour of each operation, as the cutter's program sorts by them. */
  readonly operations: Readonly<
    Record<Operation, { readonly spot: string; readonly colour: LineColour }>
  >;
  readonly dxf: {
    readonly version: (typeof DXF_VERSIONS)[number];
    readonly curves: (typeof DXF_CURVES)[number];
  };
  readonly cutterPerMille: CutterScale;
  /** What that was read of: "cut test of the laser, 2026-03-14"; empty: a board that was measured. */
  readonly cutterBy: string;
  /** Job number, revision and code are cut into the board. */
  readonly engrave: boolean;
  /** Letter of this issue of the board. */
  readonly revision: string;
  /** Resolution of the artwork template as PNG; null: none is written. */
  readonly pngDpi: number | null;
  /** What the 1:1 print is tiled over; job sheet and cards are Letter where this is, else A4. */
  readonly paper: PrintPaper;
  /** What changed since the last issue, in the operator's words. */
  readonly changed: string;
  /** What the items will touch; null: not asked yet. */
  readonly contacts: readonly Contact[] | null;
  /** Numbers of the pockets that a sample is made of, "1, 4, 6-8"; empty: no sample. */
  readonly sample: string;
  /** What a cutting service is asked for. */
  readonly order: {
    readonly quantity: number;
    /** Greatest deviation of a wall that is accepted, mm, either way. */
    readonly toleranceMm: number;
  };
}

export const FILE_SETTINGS: FileSettings = {
  operations: {
    cut: { spot: 'cut', colour: 'blue' },
    relief: { spot: 'cut', colour: 'cyan' },
    eject: { spot: 'cut', colour: 'magenta' },
    engrave: { spot: 'engrave', colour: 'black' },
  },
  dxf: { version: '2000', curves: 'polylines' },
  cutterPerMille: [0, 0],
  cutterBy: '',
  engrave: false,
  revision: 'A',
  pngDpi: null,
  paper: 'A4',
  changed: '',
  contacts: null,
  sample: '',
  order: { quantity: 1, toleranceMm: 0.1 },
};

/** Whether data of a file is what a cutter makes of lengths. */
export const isCutterScale = (v: unknown): v is CutterScale =>
  Array.isArray(v) && (v.length === 2 || v.length === 3) && v.every((s) => Number.isFinite(s));

/** Everything said, from what a job says. */
export const fileSettings = (said: Partial<FileSettings> | undefined): FileSettings => ({
  ...FILE_SETTINGS,
  ...said,
});

/** What job sheet and cards are written on. */
export const sheetPaper = ({ paper }: FileSettings): SheetPaper =>
  paper === 'Letter' ? 'Letter' : 'A4';

/** The operation of a layer; undefined for lines that no tool follows. */
export const operationOf = (layer: string): Operation | undefined =>
  layer === 'kerf'
    ? 'cut'
    : layer === 'through'
      ? 'eject'
      : layer === 'tally'
        ? 'engrave'
        : OPERATIONS.find((operation) => operation === layer);

/**
 * A name that every program takes for a spot colour.
 * @throws Refusal `spot-name`
 */
export function spotName(text: string): string {
  const name = text.trim();
  if (!/^[A-Za-z0-9][A-Za-z0-9 _-]{0,30}$/.test(name)) throw new Refusal('spot-name', { name });
  return name;
}

/**
 * One letter, as drawings are revised.
 * @throws Refusal `revision-letter`
 */
export function revisionLetter(text: string): string {
  const letter = text.trim().toUpperCase();
  if (!/^[A-Z]$/.test(letter)) throw new Refusal('revision-letter', { text });
  return letter;
}

import { INK_KINDS, SHARES, SIZINGS, type ArtworkSettings } from '../artwork/artwork.ts';
import { ALIGNS, SHIPPED_FONTS } from '../artwork/run.ts';
import { LAYOUTS, TURNS, type BedSettings } from '../plan/plan.ts';
import type { KnownFit } from '../pocket/fits.ts';
import { isStock, MATERIALS } from '../pocket/material.ts';
import type { LadderSettings } from '../plan/ladder.ts';
import { isBedReading, profileMarks, type BedReading } from '../plan/bed-profile.ts';
import type { MachineSettings } from '../plan/machines.ts';
import { FIGURED, SEAT_KINDS, SEATS, type SeatSettings } from '../seat/kinds.ts';
import { ORDER, type OrderSettings } from '../plan/order.ts';
import { AXES } from '../plan/turned-over.ts';
import { REGISTRATION, type RegistrationSettings } from '../plan/registration.ts';
import {
  CORNERS,
  HOLDS,
  LINE_SIDES,
  RELIEFS,
  TOOL_KINDS,
  WIDENS,
  type PocketSettings,
} from '../pocket/pocket.ts';
import { DEFAULT_HEIGHTS, type HeightSettings } from '../plan/heights.ts';
import { Refusal } from '../base/reason.ts';
import { without } from '../base/without.ts';
import {
  INSTRUMENTS,
  type Instrument,
  type InstrumentKind,
  type Reading,
} from '../check/reading.ts';
import { TOLERANCE_CLASSES, type Asked } from '../check/tolerance.ts';
import { CARRIERS, KEPT, type Carrier, type Kept } from '../sheet/growth.ts';
import { CONTACT_NAMES } from '../files/contacts.ts';
import {
  DXF_CURVES,
  DXF_VERSIONS,
  isCutterScale,
  LINE_COLOUR_NAMES,
  OPERATIONS,
  PRINT_PAPER_NAMES,
  type FileSettings,
} from '../files/settings.ts';
import { readScannerJson, scannerJson } from '../files/scanner-json.ts';
import { readProfile, type LensProfile } from '../view/profile.ts';
import type { ScannerProfile } from '../view/scan.ts';
import type { KindBy } from '../outline/kind.ts';
import type { Mend } from '../outline/mend.ts';
import { SHAPES } from '../outline/regular.ts';
import { CUT_ALONG, isBoard, type Board, type CutAlong } from './boards.ts';
import { isLooseBed, type LooseBed } from './loose-bed.ts';
import { isLibrary, type InsertLibrary } from '../seat/inserts.ts';
import type { Override } from './gate.ts';
import { isAnswered, type Answered } from './which.ts';

/** The printed reference sheet and the riders, as chosen and as measured. */
export interface SheetSettings {
  /** How the picture is taken: photographed on the sheet; scanned beside the strip, with the sheet on the glass, or with nothing. */
  readonly by: 'camera' | 'strip' | 'glass' | 'bare';
  /** A4, A3, Letter, Tabloid, or width x height in mm as "330x480". */
  readonly paper: string;
  /** white, grey, black or a CSS colour. */
  readonly stage: string;
  /** Measured distances between the check marks, mm; an absent one has not been read. */
  readonly spansMm: Readonly<Partial<Record<'x' | 'y' | 'd', number>>>;
  /** Standard uncertainty of one measured span, mm (k = 1). */
  readonly spanU: number;
  /** Which rider is printed with the sheet; 0 for none. */
  readonly riderSizeMm: 0 | 20 | 30 | 40 | 50;
  /** Measured size of riders, mm, by their nominal size. */
  readonly riderSpansMm: Readonly<Record<string, number>>;
  readonly riderSpanU: number;
  /** Where the sheet was since its spans were read; absent: nobody has said. */
  readonly kept?: Kept;
  /** What carries the print; absent: paper. */
  readonly carrier?: Carrier;
}

/** What was pictured; the pixels themselves are not part of the job. */
export interface PictureReference {
  readonly name: string;
  /** SHA-256 of the file, hexadecimal. */
  readonly digest: string;
}

/** The zero of the caliper that spans, rider, thickness and checks are read with: an error that they all share. */
export interface ZeroCheck {
  readonly readMm: number;
  /** Day, ISO 8601. */
  readonly on: string;
}

/** A caliper that closes to within two steps of its display closes to zero. Common practice, no source. */
export const ZERO_MM = 0.02;

/** Version of the job's shape that this program writes. */
export const VERSION = 3;

/** Everything an operator entered, and nothing that can be computed from it. Plain data; never changed in place. */
export interface Job {
  readonly snugline: 'job';
  readonly version: typeof VERSION;
  readonly number: string;
  readonly name: string;
  /** What the operator calls the blank. */
  readonly blankName: string;
  /** Set on the sample: studio and blank are invented, the picture is rendered; shown with the job. */
  readonly invented?: string;
  readonly sheet: SheetSettings;
  readonly picture: PictureReference | null;
  /** Further photos of the same blanks, none moved in between. */
  readonly more: readonly PictureReference[];
  /** Lens profile that photos are measured with; 'none': not even where one would serve; null: none serves. */
  readonly lens: LensProfile | 'none' | null;
  /** The same for a scan with nothing beside the blanks. */
  readonly scanner: ScannerProfile | 'none' | null;
  /** Density that the operator states for such a scan, dots per inch; null: not stated. */
  readonly dpi: number | null;
  /** What was changed by hand of what is traced, in order. */
  readonly mends: readonly Mend[];
  /** Thickness by blank number, mm; a blank that is not named has that of blank 1. Empty: not entered yet. */
  readonly thicknessMm: Readonly<Record<string, number>>;
  /** Heights of what lies beside the blanks and only carries a rider, mm; absent: nothing does. */
  readonly blocksMm?: readonly number[];
  /** Standard uncertainty of the thickness, mm (k = 1). */
  readonly thicknessU: number;
  /** Height of the widest edge over the sheet, mm; null: that of the face. */
  readonly widestMm: number | null;
  readonly widestU: number;
  /** The blanks are pieces of one kind: one pocket is made for all of them, from their envelope. */
  readonly oneKind: boolean;
  /** Further pictures with pieces of that kind, each measured alone; absent: none. */
  readonly pieces?: readonly PictureReference[];
  /** What the one pocket is made for; absent: the envelope. */
  readonly kindBy?: KindBy;
  /** Which face the picture shows; null: not answered yet. */
  readonly face: 'print' | 'back' | null;
  /** Largest U (k = 2) that the operator accepts, mm. */
  readonly wantMm: number;
  /** What sizes of the outline must keep to; absent: the room that the pocket leaves. */
  readonly tolerance?: Asked;
  readonly readings: readonly Reading[];
  /** The instrument that the next reading is made with. */
  readonly instrument: InstrumentKind;
  readonly instruments: Readonly<Record<InstrumentKind, Instrument>>;
  /** What the caliper reads with its jaws closed, mm, and the day it was tried; null: not tried. */
  readonly zero: ZeroCheck | null;
  /** Why the files may go out although something is not settled; null: they may not. */
  readonly override: Override | null;
  readonly pocket: PocketSettings;
  readonly bed: BedSettings;
  readonly heights: HeightSettings;
  /** What test boards showed; absent: none was cut. */
  readonly fits?: readonly KnownFit[];
  /** How far board, cutter, printer and pieces may be off; absent: what is common. */
  readonly registration?: RegistrationSettings;
  /** Clearances of the fit ladder; absent: those to start with. */
  readonly ladder?: LadderSettings;
  /** How the files are written; what is not said is as in `FILE_SETTINGS`. */
  readonly files?: Partial<FileSettings>;
  /** What is printed and how it lies; absent: nothing was dropped yet. */
  readonly artwork?: ArtworkSettings;
  /** Seats that need no pocket; absent: those to start with. */
  readonly seats?: SeatSettings;
  /** Pockets kept as inserts, and which lie in the carrier's slots; absent: none. */
  readonly inserts?: InsertLibrary;
  /** What was answered of which seat to take; absent: what follows from the job. */
  readonly holding?: Answered;
  /** Printers and cutters by name, and those that the job is set for; absent: the examples. */
  readonly machines?: MachineSettings;
  /** Whose lines boards are cut along; absent: the cutter's own, and not said where the tool is a hand's. */
  readonly cutAlong?: CutAlong;
  /** Pieces that are ordered, and the operator's own rates; absent: no order. */
  readonly order?: OrderSettings;
  /** How many of each blank, by its number; absent: rows x columns of each. */
  readonly counts?: Readonly<Record<string, number>>;
  /** Boards that were cut from it; absent: none was entered. */
  readonly boards?: readonly Board[];
  /** Number of the one that lies on the printer; absent: the last. */
  readonly board?: number;
  /** The bed as it is loaded without a board; absent: it was not. */
  readonly loose?: LooseBed;
  /** Entries that a damaged job file had lost, which stand as in a new job until they were looked through. */
  readonly lost?: readonly string[];
}

export const isScanned = ({ sheet }: Job): boolean => sheet.by !== 'camera';

/** A scan with nothing beside the blanks: known by its scanner's profile, or by its density alone. */
export const isBare = ({ sheet }: Job): boolean => sheet.by === 'bare';

/** Whether everything is entered that the outline needs: a scan shows the face that lay on the glass, however thick the blank is. */
export const canTrace = (job: Job): boolean => isScanned(job) || hasThickness(job);

export const hasThickness = (job: Job): boolean => Object.keys(job.thicknessMm).length > 0;

/** A job in which nothing has been measured yet. */
export function newJob(number: string, name: string): Job {
  return {
    snugline: 'job',
    version: VERSION,
    number,
    name,
    blankName: '',
    sheet: {
      by: 'camera',
      paper: 'A4',
      stage: '#1f8f83',
      spansMm: {},
      spanU: 0.03,
      riderSizeMm: 50,
      riderSpansMm: {},
      riderSpanU: 0.03,
    },
    picture: null,
    more: [],
    lens: null,
    scanner: null,
    dpi: null,
    mends: [],
    thicknessMm: {},
    thicknessU: 0.05,
    widestMm: null,
    widestU: 0.3,
    oneKind: false,
    face: null,
    wantMm: 0.3,
    readings: [],
    instrument: 'caliper',
    instruments: INSTRUMENTS,
    zero: null,
    override: null,
    pocket: {
      clearanceMm: 0.3,
      tool: { kind: 'beam', kerfMm: 0.15 },
      bleedMm: 2,
      safeMm: 2,
    },
    bed: {
      widthMm: 420,
      depthMm: 300,
      zero: 'bottom-left',
      rows: 2,
      columns: 2,
      wallMm: 4,
      marginMm: 5,
    },
    heights: DEFAULT_HEIGHTS,
  };
}

/**
 * A job for another blank on the same sheet, machines and tools. What belongs to one blank or one picture (readings, mends,
 * why its files may go out) starts anew; a thickness is taken only where it stood for every blank.
 */
export function jobLike(job: Job, number: string, name: string): Job {
  const { sheet, lens, scanner, dpi, thicknessMm, thicknessU, widestMm, widestU, face } = job;
  const { wantMm, instrument, instruments, zero, pocket, bed, heights } = job;
  const {
    fits,
    registration,
    ladder,
    order,
    machines,
    seats,
    holding,
    inserts,
    blocksMm,
    cutAlong,
  } = job;
  return {
    ...newJob(number, name),
    ...{ sheet, lens, scanner, dpi, thicknessU, widestMm, widestU, face, wantMm },
    ...{ instrument, instruments, zero, pocket, bed, heights },
    thicknessMm: Object.keys(thicknessMm).join() === '1' ? thicknessMm : {},
    ...(fits && { fits }),
    ...(registration && { registration }),
    ...(ladder && { ladder }),
    ...(machines && { machines }),
    ...(seats && { seats }),
    ...(inserts && { inserts }),
    // What is there to make a seat with is the shop's; the rest is of one blank.
    ...(holding?.makers && { holding: { makers: holding.makers } }),
    ...(blocksMm && { blocksMm }),
    ...(cutAlong && { cutAlong }),
    // Rates are the operator's; what is ordered is of one blank.
    ...(order && { order: { ...order, pieces: {} } }),
  };
}

/** Entries that job files of the first releases do not have. */
const ADDED: Partial<Job> = {
  more: [],
  lens: null,
  scanner: null,
  dpi: null,
  oneKind: false,
  mends: [],
  zero: null,
  override: null,
  heights: DEFAULT_HEIGHTS,
  instrument: 'caliper',
  instruments: INSTRUMENTS,
};

/** Readings as the first job files have them: of width and height only, one figure each. */
function newReading(r: unknown): unknown {
  if (!isObject(r) || 'feature' in r) return r;
  return {
    blank: r.blank,
    feature: { kind: 'main', side: r.which },
    valuesMm: [r.valueMm],
    with: 'caliper',
  };
}

/** A cutter as job files of before have it: length cut over length drawn becomes what was read of two sides of its bed. */
function withCutTest(c: unknown): unknown {
  if (!isObject(c) || !Array.isArray(c.scale)) return c;
  const [x, y] = c.scale as unknown[];
  const rest = without(c, 'scale');
  const { widthMm, depthMm } = c;
  if (![x, y, widthMm, depthMm].every(isNumber) || (x === 1 && y === 1)) return rest;
  const bed = { widthMm: Number(widthMm), depthMm: Number(depthMm), zero: 'bottom-left' } as const;
  const marks = profileMarks(bed);
  const span = (to: string, share: unknown) => {
    const [a, b] = ['A', to].map((n) => marks.find((m) => m.name === n)!.at) as [Spot, Spot];
    return { from: a, to: b, readMm: Number(share) * Math.hypot(b.x - a.x, b.y - a.y) };
  };
  if (marks.length === 0) return rest;
  const reading: BedReading = {
    on: 'an earlier day',
    bed,
    spans: [span('B', x), span('D', y)],
    edges: [],
    with: 'rule',
    instrument: INSTRUMENTS.rule,
  };
  return { ...rest, readings: [reading] };
}
type Spot = BedReading['spans'][number]['from'];

function isReading(r: unknown): boolean {
  return (
    isObject(r) &&
    Number.isInteger(r.blank) &&
    isObject(r.feature) &&
    typeof r.feature.kind === 'string' &&
    Array.isArray(r.valuesMm) &&
    r.valuesMm.every((v) => typeof v === 'number' && Number.isFinite(v)) &&
    typeof r.with === 'string' &&
    r.with in INSTRUMENTS &&
    (r.use === undefined || r.use === 'fit')
  );
}

const isObject = (v: unknown): v is Record<string, unknown> =>
  typeof v === 'object' && v !== null && !Array.isArray(v);

/** The text of a job file. */
export const writeJob = (job: Job): string => `${JSON.stringify(job, null, 2)}\n`;

/** From the shape of version k + 1 to the next one. A file of any earlier version goes through all that follow. */
const MIGRATIONS: readonly ((
  data: Readonly<Record<string, unknown>>,
) => Record<string, unknown>)[] = [
  // 2: readings of any feature, several figures each; a sheet that may be scanned.
  (data) => ({
    ...data,
    version: 2,
    ...(Array.isArray(data.readings) && { readings: data.readings.map(newReading) }),
    ...(isObject(data.sheet) && { sheet: { by: 'camera', ...data.sheet } }),
  }),
  // 3: what a cutter makes of lengths is read off a cut test, where it was two shares that were typed.
  (data) => ({
    ...data,
    version: 3,
    ...(isObject(data.machines) &&
      Array.isArray(data.machines.cutters) && {
        machines: { ...data.machines, cutters: data.machines.cutters.map(withCutTest) },
      }),
  }),
];

/**
 * Reads the text of a job.
 * @throws Refusal `job-file` when it is not one, `job-version` when a newer program wrote it
 */
export function readJob(text: string): Job {
  let data: unknown;
  try {
    data = JSON.parse(text);
  } catch {
    throw new Refusal('job-file', { what: 'it is not JSON' });
  }
  return acceptJob(data);
}

/**
 * A job from data of this or of an earlier version.
 * @throws Refusal `job-file` when it is not one, `job-version` when a newer program wrote it
 */
export function acceptJob(data: unknown): Job {
  if (!isObject(data) || data.snugline !== 'job')
    throw new Refusal('job-file', { what: 'its first entry does not say so' });
  const { version } = data;
  if (!(Number.isInteger(version) && (version as number) >= 1 && (version as number) <= VERSION))
    throw new Refusal('job-version', { version: String(version), reads: VERSION });
  const now = MIGRATIONS.slice((version as number) - 1).reduce((d, migrate) => migrate(d), data);
  const fresh = newJob('', '') as unknown as Record<string, unknown>;
  // What later versions of the program added, as it stands in a job that never heard of it.
  const whole: Record<string, unknown> = { ...ADDED, ...now };
  if (Array.isArray(whole.readings) && !whole.readings.every(isReading))
    throw new Refusal('job-file', { what: 'one of its readings cannot be read' });
  // Seats, and settings of theirs, that came later stand as they begin.
  if (isObject(whole.seats)) whole.seats = seatsOf(whole.seats);
  const profile = misfitOfProfiles(whole);
  if (profile) throw new Refusal('job-file', { what: profile });
  const missing = firstMisfit(fresh, whole, '') ?? misfitOfOptions(whole as unknown as Job);
  if (missing) throw new Refusal('job-file', { what: `${missing} is missing or of another kind` });
  return whole as unknown as Job;
}

/** Why one of its profiles cannot be used, in words. */
function misfitOfProfiles({ lens, scanner, dpi }: Record<string, unknown>): string | undefined {
  if (dpi !== null && !(isNumber(dpi) && dpi > 0)) return 'its density is no figure';
  try {
    if (lens !== null && lens !== 'none') readProfile(JSON.stringify(lens), 'its lens profile');
    if (scanner !== null && scanner !== 'none')
      readScannerJson(scannerJson(scanner as ScannerProfile), 'its scanner profile');
  } catch (error) {
    if (error instanceof Refusal) return error.reason.message.replace(/\.$/, '');
    if (error instanceof TypeError) return 'its scanner profile is damaged';
    throw error;
  }
  return undefined;
}

const isNumber = (v: unknown): v is number => typeof v === 'number' && Number.isFinite(v);

function isMend(m: unknown): m is Mend {
  const isLine = (of: unknown, least: number): boolean =>
    Array.isArray(of) && of.length >= least && of.every(isSpot);
  const isPositive = (v: unknown): boolean => isNumber(v) && v > 0;
  if (!isObject(m) || typeof m.picture !== 'string') return false;
  const isDrawn = isLine(m.points, 2) && typeof m.straight === 'boolean' && isPositive(m.uPx);
  switch (m.kind) {
    case 'stretch':
    case 'split':
      return isDrawn;
    case 'join':
      return isDrawn && isLine(m.back, 2);
    case 'node':
      return [m.from, m.at, m.till, m.to].every(isSpot) && isPositive(m.uPx);
    case 'paint':
      return (
        (m.as === 'blank' || m.as === 'stage') && isLine(m.points, 1) && isPositive(m.radiusPx)
      );
    case 'close':
    case 'drop':
      return isSpot(m.at);
    case 'regular':
      return isSpot(m.at) && SHAPES.some((shape) => shape === m.shape);
    default:
      return false;
  }
}

const isNamedFile = (f: unknown): boolean =>
  isObject(f) && typeof f.name === 'string' && /^[0-9a-f]{64}$/.test(String(f.digest));

function isRun(r: unknown): boolean {
  if (!isObject(r) || !isObject(r.table) || !Array.isArray(r.lines)) return false;
  const { cells, headed } = r.table;
  if (!Array.isArray(cells) || cells.length === 0 || typeof headed !== 'boolean') return false;
  const columns = columnsIn(r);
  const isRow = (row: unknown): boolean =>
    Array.isArray(row) && row.length === columns && row.every((c) => typeof c === 'string');
  return cells.every(isRow) && areLines(r.lines, columns);
}

/** Columns of what claims to be a run; 0 where it is none. */
function columnsIn(r: unknown): number {
  const table = isObject(r) ? r.table : undefined;
  const cells = isObject(table) ? table.cells : undefined;
  return Array.isArray(cells) && Array.isArray(cells[0]) ? cells[0].length : 0;
}

function areLines(lines: unknown, columns: number): boolean {
  const isLine = (l: unknown): boolean =>
    isObject(l) &&
    Number.isInteger(l.column) &&
    (l.column as number) >= 0 &&
    (l.column as number) < columns &&
    (SHIPPED_FONTS.some((f) => f === l.font) || isNamedFile(l.font)) &&
    isNumber(l.heightMm) &&
    l.heightMm > 0 &&
    ['xMm', 'yMm', 'turnDeg'].every((k) => isNumber(l[k])) &&
    ALIGNS.some((w) => w === l.align) &&
    /^#[0-9a-f]{6}$/.test(String(l.colour)) &&
    (l.roomMm === null || (isNumber(l.roomMm) && l.roomMm > 0));
  return Array.isArray(lines) && lines.every(isLine);
}

const isArtwork = (a: unknown): a is ArtworkSettings =>
  isObject(a) &&
  isPlaced(a) &&
  (a.run === undefined || isRun(a.run)) &&
  (a.back === undefined ||
    (isObject(a.back) && isPlaced(a.back) && areLines(a.back.lines, columnsIn(a.run)))) &&
  typeof a.reverse === 'boolean' &&
  typeof a.revision === 'string';

/** What either side of the artwork has: files, which where, how they lie, white and clear. */
function isPlaced(a: Record<string, unknown>): boolean {
  if (!isObject(a.placement)) return false;
  const { files, inks, placement: p } = a;
  return (
    Array.isArray(files) &&
    files.every(isNamedFile) &&
    SHARES.some((s) => s === a.share) &&
    SIZINGS.some((s) => s === p.sizing) &&
    ['scale', 'xMm', 'yMm', 'turnDeg'].every((k) => isNumber(p[k])) &&
    (p.scale as number) > 0 &&
    typeof p.mirrored === 'boolean' &&
    Array.isArray(inks) &&
    inks.every(
      (i) =>
        isObject(i) &&
        INK_KINDS.some((k) => k === i.kind) &&
        typeof i.name === 'string' &&
        isNumber(i.growMm),
    )
  );
}

function isAsked(a: unknown): boolean {
  if (!isObject(a)) return false;
  if (a.by === 'own') return isNumber(a.mm) && a.mm > 0;
  return (
    a.by === 'clearance' || (a.by === 'general' && TOLERANCE_CLASSES.some((c) => c === a.class))
  );
}

/** Seats of a file, whatever is not in it as it begins. */
const seatsOf = (seats: Record<string, unknown>): Record<string, unknown> => ({
  ...SEATS,
  ...seats,
  ...Object.fromEntries(
    FIGURED.filter((kind) => isObject(seats[kind])).map((kind) => [
      kind,
      { ...SEATS[kind], ...(seats[kind] as object) },
    ]),
  ),
});

/** Seats of a known kind, each with all its figures. */
const isSeats = (s: unknown): boolean =>
  isObject(s) &&
  [...SEAT_KINDS, 'pocket'].some((kind) => kind === s.kind) &&
  FIGURED.every((kind) => {
    const own = s[kind];
    return isObject(own) && Object.keys(SEATS[kind]).every((k) => isNumber(own[k]));
  });

const isSpot = (p: unknown): boolean => isObject(p) && isNumber(p.x) && isNumber(p.y);

function isBoardSeat(s: unknown): boolean {
  if (!isObject(s) || !isNumber(s.proudMm)) return false;
  const figures = (...keys: string[]): boolean =>
    keys.every((k) => isNumber(s[k]) && (s[k] as number) >= 0);
  const places = Array.isArray(s.at) && s.at.every(isSpot) ? s.at.length : 0;
  switch (s.kind) {
    case 'stop':
      return true;
    case 'pins':
      return figures('pinMm', 'playMm', 'slotMm') && places === 2;
    case 'screws':
      return figures('screwMm', 'playMm', 'headMm') && places >= 1;
    default:
      return false;
  }
}

/** A board of its own size: sizes above nothing, its corner where it is said, a seat of a known kind. */
const isBoardOnBed = (v: unknown): boolean =>
  isObject(v) &&
  [v.widthMm, v.depthMm].every((mm) => isNumber(mm) && mm > 0) &&
  (v.fromZeroMm === undefined ||
    (Array.isArray(v.fromZeroMm) && v.fromZeroMm.length === 2 && v.fromZeroMm.every(isNumber))) &&
  (v.seat === undefined || isBoardSeat(v.seat));

/** Machines whose figures are figures; of a tool, what its kind needs. */
function isMachines(m: unknown): boolean {
  const each = (
    list: unknown,
    keys: readonly string[],
    more: (o: Record<string, unknown>) => boolean,
  ) =>
    Array.isArray(list) &&
    list.every(
      (o) =>
        isObject(o) && typeof o.name === 'string' && keys.every((k) => isNumber(o[k])) && more(o),
    );
  const isPair = (v: unknown): boolean => Array.isArray(v) && v.length === 2 && v.every(isNumber);
  const areReadings = (v: unknown): boolean =>
    v === undefined || (Array.isArray(v) && v.every(isBedReading));
  return (
    isObject(m) &&
    (m.stock === undefined || (Array.isArray(m.stock) && m.stock.every(isStock))) &&
    each(
      m.printers,
      ['widthMm', 'depthMm', 'marginMm', 'headGapMm'],
      (p) =>
        isPair(p.onTableMm) &&
        Array.isArray(p.keepOuts) &&
        typeof p.inks === 'string' &&
        (p.seat === undefined || isBoardSeat(p.seat)) &&
        areReadings(p.readings),
    ) &&
    each(
      m.cutters,
      ['widthMm', 'depthMm', 'speedMmPerS'],
      (c) => isObject(c.tool) && isTool(c.tool) && areReadings(c.readings),
    )
  );
}

function isTool(v: Record<string, unknown>): boolean {
  switch (v.kind) {
    case 'beam':
    case 'knife':
      return isNumber(v.kerfMm);
    case 'mill':
      return isNumber(v.radiusMm);
    case 'drag':
      return isNumber(v.offsetMm);
    default:
      return TOOL_KINDS.some((kind) => kind === v.kind);
  }
}

const isFiles = (f: unknown): boolean =>
  isObject(f) &&
  (f.operations === undefined ||
    (isObject(f.operations) &&
      OPERATIONS.every((name) => {
        const o = (f.operations as Record<string, unknown>)[name];
        return (
          isObject(o) &&
          typeof o.spot === 'string' &&
          LINE_COLOUR_NAMES.some((colour) => colour === o.colour)
        );
      }))) &&
  (f.dxf === undefined ||
    (isObject(f.dxf) &&
      DXF_VERSIONS.some((v) => v === (f.dxf as Record<string, unknown>).version) &&
      DXF_CURVES.some((c) => c === (f.dxf as Record<string, unknown>).curves))) &&
  (f.cutterPerMille === undefined || isCutterScale(f.cutterPerMille)) &&
  (f.cutterBy === undefined || typeof f.cutterBy === 'string') &&
  (f.engrave === undefined || typeof f.engrave === 'boolean') &&
  (f.revision === undefined || typeof f.revision === 'string') &&
  (f.pngDpi === undefined || f.pngDpi === null || isNumber(f.pngDpi)) &&
  (f.paper === undefined || PRINT_PAPER_NAMES.some((p) => p === f.paper)) &&
  (f.changed === undefined || typeof f.changed === 'string') &&
  (f.sample === undefined || typeof f.sample === 'string') &&
  (f.contacts === undefined ||
    f.contacts === null ||
    (Array.isArray(f.contacts) && f.contacts.every((c) => CONTACT_NAMES.some((n) => n === c)))) &&
  (f.order === undefined ||
    (isObject(f.order) && isNumber(f.order.quantity) && isNumber(f.order.toleranceMm)));

/** The first of the entries that may be absent which is there and of another kind. */
function misfitOfOptions({
  pocket,
  bed,
  heights,
  sheet,
  more,
  mends,
  pieces,
  kindBy,
  zero,
  lost,
  tolerance,
  fits,
  ladder,
  registration,
  files,
  artwork,
  boards,
  board,
  order,
  machines,
  seats,
  holding,
  inserts,
  blocksMm,
  cutAlong,
  loose,
}: Job): string | undefined {
  if (loose !== undefined && !isLooseBed(loose)) return 'loose';
  const p = pocket as unknown as Record<string, unknown>;
  const b = bed as unknown as Record<string, unknown>;
  const h = heights as unknown as Record<string, unknown>;
  const s = sheet as unknown as Record<string, unknown>;
  const words: readonly [Record<string, unknown>, string, readonly string[]][] = [
    [p, 'material', MATERIALS.map(({ id }) => id)],
    [p, 'widen', WIDENS],
    [p, 'relief', RELIEFS],
    [p, 'corners', CORNERS],
    [p, 'hold', HOLDS],
    [p, 'line', LINE_SIDES],
    [b, 'layout', LAYOUTS],
    [b, 'turns', Object.keys(TURNS)],
    [b, 'turnedAbout', Object.keys(AXES)],
    [s, 'by', ['camera', 'strip', 'glass', 'bare']],
    [s, 'kept', KEPT],
    [s, 'carrier', CARRIERS],
  ];
  for (const [of, key, known] of words)
    if (of[key] !== undefined && !known.some((w) => w === of[key])) return key;
  for (const key of [
    'draftDeg',
    'chamferMm',
    'ejectorMm',
    'tabs',
    'tabMm',
    'leadInMm',
    'speedMmPerS',
    'passes',
    'depthMm',
  ])
    if (p[key] !== undefined && !isNumber(p[key])) return key;
  for (const key of ['boardMm', 'baseMm', 'headMm', 'tallestMm'])
    if (h[key] !== null && !isNumber(h[key])) return key;
  if (h.rockMm !== undefined && !isNumber(h.rockMm)) return 'rockMm';
  if (h.shiny !== undefined && typeof h.shiny !== 'boolean') return 'shiny';
  if (
    p.moreMm !== undefined &&
    !(Array.isArray(p.moreMm) && p.moreMm.length === 2 && p.moreMm.every(isNumber))
  )
    return 'moreMm';
  if (!more.every((m) => typeof m.name === 'string' && typeof m.digest === 'string')) return 'more';
  if (!mends.every(isMend)) return 'mends';
  if (pieces !== undefined && !(Array.isArray(pieces) && pieces.every(isNamedFile)))
    return 'pieces';
  if (kindBy !== undefined && kindBy !== 'envelope' && kindBy !== 'mean') return 'kindBy';
  if (blocksMm !== undefined && !(Array.isArray(blocksMm) && blocksMm.every(isNumber)))
    return 'blocksMm';
  if (zero !== null && !(isObject(zero) && isNumber(zero.readMm) && typeof zero.on === 'string'))
    return 'zero';
  if (lost !== undefined && !(Array.isArray(lost) && lost.every((l) => typeof l === 'string')))
    return 'lost';
  if (tolerance !== undefined && !isAsked(tolerance)) return 'tolerance';
  if (p.posts !== undefined && typeof p.posts !== 'boolean') return 'posts';
  const all = (list: unknown, keys: readonly string[]): boolean =>
    list === undefined ||
    (Array.isArray(list) && list.every((o) => isObject(o) && keys.every((k) => isNumber(o[k]))));
  const pair = isObject(p.notches) && isNumber(p.notches.radiusMm) && isNumber(p.notches.reachMm);
  if (!pair && !all(p.notches, ['at', 'radiusMm', 'reachMm'])) return 'notches';
  if (p.stock !== undefined && !isStock(p.stock)) return 'stock';
  if (!all(p.along, ['blank', 'from', 'to', 'clearanceMm'])) return 'along';
  const isFit = (f: KnownFit): boolean =>
    isObject(f) &&
    MATERIALS.some(({ id }) => id === f.material) &&
    TOOL_KINDS.some((kind) => kind === f.tool) &&
    (f.stock === undefined || typeof f.stock === 'string') &&
    typeof f.on === 'string' &&
    [f.clearanceMm, f.stepMm, f.kerfMm, f.kerfU].every((v) => v === undefined || isNumber(v));
  if (fits !== undefined && !(Array.isArray(fits) && fits.every(isFit))) return 'fits';
  if (registration !== undefined && !all([registration], Object.keys(REGISTRATION)))
    return 'registration';
  if (ladder !== undefined && !all([ladder], ['leastMm', 'stepMm', 'steps'])) return 'ladder';
  if (files !== undefined && !isFiles(files)) return 'files';
  if (artwork !== undefined && !isArtwork(artwork)) return 'artwork';
  if (board !== undefined && !isNumber(board)) return 'board';
  if (boards !== undefined && !(Array.isArray(boards) && boards.every(isBoard))) return 'boards';
  if (machines !== undefined && !isMachines(machines)) return 'machines';
  if (cutAlong !== undefined && !CUT_ALONG.some((w) => w === cutAlong)) return 'cutAlong';
  if (seats !== undefined && !isSeats(seats)) return 'seats';
  if (inserts !== undefined && !isLibrary(inserts)) return 'inserts';
  if (holding !== undefined && !isAnswered(holding)) return 'holding';
  if (
    order !== undefined &&
    !(
      all([order], Object.keys(without(ORDER, 'pieces'))) &&
      isObject(order.pieces) &&
      Object.values(order.pieces).every(isNumber)
    )
  )
    return 'order';
  if (b.boards !== undefined && !(Number.isInteger(b.boards) && (b.boards as number) >= 1))
    return 'boards';
  if (!all(b.places, ['blank', 'x', 'y', 'turnDeg'])) return 'places';
  if (!all(b.keepOuts, ['xMm', 'yMm', 'widthMm', 'depthMm'])) return 'keepOuts';
  if (b.board !== undefined && !isBoardOnBed(b.board)) return 'board on the bed';
  return undefined;
}

/** The first entry of `want` that `got` lacks or has with another type; entries that may be null, or vary, are judged by name. */
function firstMisfit(
  want: Record<string, unknown>,
  got: Record<string, unknown>,
  at: string,
): string | undefined {
  for (const [key, value] of Object.entries(want)) {
    const path = at === '' ? key : `${at}.${key}`;
    const found = got[key];
    if (value === null) {
      if (found === undefined) return path;
    } else if (Array.isArray(value)) {
      if (!Array.isArray(found)) return path;
    } else if (isObject(value)) {
      if (!isObject(found)) return path;
      if (key !== 'tool') {
        const inner = firstMisfit(value, found, path);
        if (inner) return inner;
      } else if (!isTool(found)) return path;
    } else if (typeof found !== typeof value) return path;
    else if (typeof found === 'number' && !Number.isFinite(found)) return path;
  }
  return undefined;
}

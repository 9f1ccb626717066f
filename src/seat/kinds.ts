import { Refusal } from '../base/reason.ts';
import { without } from '../base/without.ts';
import type { Ring } from '../geometry/shape.ts';
import type { BedSettings } from '../plan/plan.ts';
import type { Clipper } from '../geometry/clipper.ts';
import { BALL, ballSeat, type BallSettings } from './ball.ts';
import { cutTest } from './cut-test.ts';
import { BLOCK, blockSeat, type BlockSettings } from './block.ts';
import { FORM, formSeat, type FormSettings } from './form.ts';
import {
  insertSeat,
  INSERTS,
  NO_INSERTS,
  type InsertLibrary,
  type InsertSettings,
} from './inserts.ts';
import { NEST, nestSeat, type NestSettings } from './nest.ts';
import { RIM, rimSeat, type RimSettings } from './rim.ts';
import { PLATES, plateSeat, type PlatePocket, type PlateSettings } from './plates.ts';
import { PEGS, pegSeat, type PegSettings } from './pegs.ts';
import { rulerSeat } from './ruler.ts';
import type { SeatSheet } from './seat.ts';
import { STOP, stopSeat, type StopSettings } from './stop.ts';
import { WRAP, wrapSeat, type WrapSettings } from './wrap.ts';

export const SEAT_KINDS = [
  'ball',
  'wrap',
  'stop',
  'rim',
  'ruler',
  'nest',
  'pegs',
  'form',
  'block',
  'inserts',
  'plates',
] as const;
export type SeatKind = (typeof SEAT_KINDS)[number];

/** What is made as a seat is, and holds nothing. */
export type SheetKind = SeatKind | 'cut-test';

/** Settings of every kind of seat; each keeps its own while another is looked at. */
export interface SeatSettings {
  /** The kind that is looked at; pocket: none of these. */
  readonly kind: SeatKind | 'pocket';
  readonly ball: Omit<BallSettings, 'toolMm'>;
  readonly wrap: WrapSettings;
  readonly stop: StopSettings;
  readonly pegs: PegSettings;
  readonly rim: RimSettings;
  readonly nest: NestSettings;
  readonly form: FormSettings;
  readonly block: BlockSettings;
  readonly inserts: InsertSettings;
  readonly plates: PlateSettings;
}

export const SEATS: SeatSettings = {
  kind: 'pocket',
  ball: without(BALL, 'toolMm'),
  wrap: WRAP,
  stop: STOP,
  pegs: PEGS,
  rim: RIM,
  nest: NEST,
  form: FORM,
  block: BLOCK,
  inserts: INSERTS,
  plates: PLATES,
};

/** The same with the bed of a cutter as what plates may be large. */
export const withBed = (
  seats: SeatSettings,
  takesWidthMm: number,
  takesDepthMm: number,
): SeatSettings => ({ ...seats, plates: { ...seats.plates, takesWidthMm, takesDepthMm } });

/** What a seat is made from beside its own settings. */
export interface SeatFrom {
  readonly bed: Pick<BedSettings, 'widthMm' | 'depthMm' | 'zero' | 'board'>;
  /** What the tool takes to one side of its path, mm. */
  readonly toolMm: number;
  /** The blank's seat outline, centroid at 0, 0, and its thickness, mm. */
  readonly outline?: { readonly ring: Ring<'blank'>; readonly thicknessMm: number };
  /** What the pocket leaves free round it, per side, mm. */
  readonly clearanceMm?: number;
  /** Pockets as they lie on the bed, and the thickness of the thinnest blank there, mm. */
  readonly pockets?: readonly PlatePocket[];
  readonly thinnestMm?: number;
  readonly inserts?: InsertLibrary;
  /** What the printer's program calls clear ink. */
  readonly clearName?: string;
}

/** Seats whose settings are figures. */
export const FIGURED = SEAT_KINDS.filter(
  (kind): kind is Exclude<SeatKind, 'ruler'> => kind !== 'ruler',
);

/**
 * The seat of a kind, or the sheet.
 *
 * @throws Refusal `seat-needs-outline`, `seat-needs-plan`, and as each kind has it
 */
export function seatOf(
  kind: SheetKind,
  settings: SeatSettings,
  from: SeatFrom,
  clipper: Clipper,
): SeatSheet {
  const { bed, outline, pockets, toolMm, clearanceMm = 0 } = from;
  /** The blank that is looked at. */
  const blank = (): NonNullable<SeatFrom['outline']> => {
    if (!outline) throw new Refusal('seat-needs-outline');
    return outline;
  };
  const laid = (): readonly PlatePocket[] => {
    if (!pockets) throw new Refusal('seat-needs-plan');
    return pockets;
  };
  switch (kind) {
    case 'ball':
      return ballSeat({ ...settings.ball, toolMm });
    case 'wrap':
      return wrapSeat(settings.wrap);
    case 'stop':
      return stopSeat(settings.stop, bed);
    case 'ruler':
      return rulerSeat(bed);
    case 'cut-test':
      return cutTest(bed);
    case 'rim': {
      const name = from.clearName ?? 'Clear';
      return rimSeat(bed, laid(), settings.rim, name, clipper, from.thinnestMm);
    }
    case 'nest':
      return nestSeat(blank().ring, blank().thicknessMm, bed, settings.nest, toolMm, clipper);
    case 'pegs':
      return pegSeat(blank().ring, blank().thicknessMm, settings.pegs);
    case 'form':
      return formSeat(blank().ring, blank().thicknessMm, clearanceMm, settings.form, clipper);
    case 'block':
      return blockSeat(blank().ring, blank().thicknessMm, clearanceMm, settings.block, clipper);
    case 'inserts':
      return insertSeat(bed, settings.inserts, from.inserts ?? NO_INSERTS, toolMm);
    case 'plates':
      return plateSeat(bed, laid(), settings.plates, toolMm);
  }
}

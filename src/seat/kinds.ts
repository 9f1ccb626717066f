import { Refusal } from '../base/reason.ts';
import { without } from '../base/without.ts';
import type { Ring } from '../geometry/shape.ts';
import type { BedSettings } from '../plan/plan.ts';
import { BALL, ballSeat, type BallSettings } from './ball.ts';
import { cutTest } from './cut-test.ts';
import { PLATES, plateSeat, type PlatePocket, type PlateSettings } from './plates.ts';
import { PEGS, pegSeat, type PegSettings } from './pegs.ts';
import { rulerSeat } from './ruler.ts';
import type { SeatSheet } from './seat.ts';
import { STOP, stopSeat, type StopSettings } from './stop.ts';
import { WRAP, wrapSeat, type WrapSettings } from './wrap.ts';

export const SEAT_KINDS = ['ball', 'wrap', 'stop', 'ruler', 'pegs', 'plates'] as const;
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
  readonly plates: PlateSettings;
}

export const SEATS: SeatSettings = {
  kind: 'pocket',
  ball: without(BALL, 'toolMm'),
  wrap: WRAP,
  stop: STOP,
  pegs: PEGS,
  plates: PLATES,
};

/** What a seat is made from beside its own settings. */
export interface SeatFrom {
  readonly bed: Pick<BedSettings, 'widthMm' | 'depthMm' | 'zero'>;
  /** What the tool takes to one side of its path, mm. */
  readonly toolMm: number;
  /** The blank's seat outline, centroid at 0, 0, and its thickness, mm. */
  readonly outline?: { readonly ring: Ring<'blank'>; readonly thicknessMm: number };
  /** Pockets as they lie on the bed. */
  readonly pockets?: readonly PlatePocket[];
}

/**
 * The seat of a kind, or the sheet.
 *
 * @throws Refusal `seat-needs-outline`, `seat-needs-plan`, and as each kind has it
 */
export function seatOf(kind: SheetKind, settings: SeatSettings, from: SeatFrom): SeatSheet {
  switch (kind) {
    case 'ball':
      return ballSeat({ ...settings.ball, toolMm: from.toolMm });
    case 'wrap':
      return wrapSeat(settings.wrap);
    case 'stop':
      return stopSeat(settings.stop, from.bed);
    case 'ruler':
      return rulerSeat(from.bed);
    case 'cut-test':
      return cutTest(from.bed);
    case 'pegs': {
      if (!from.outline) throw new Refusal('seat-needs-outline');
      return pegSeat(from.outline.ring, from.outline.thicknessMm, settings.pegs);
    }
    case 'plates': {
      if (!from.pockets) throw new Refusal('seat-needs-plan');
      return plateSeat(from.bed, from.pockets, settings.plates, from.toolMm);
    }
  }
}

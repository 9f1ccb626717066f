import type { Point } from '../base/measure.ts';
import type { Reason } from '../base/reason.ts';
import type { Region } from '../geometry/shape.ts';
import type { PocketSettings, Trail } from '../pocket/pocket.ts';
import type { Heights } from './heights.ts';

export type ZeroCorner = 'top-left' | 'top-right' | 'bottom-left' | 'bottom-right';

export interface BedSettings {
  readonly widthMm: number;
  readonly depthMm: number;
  readonly zero: ZeroCorner;
  readonly rows: number;
  readonly columns: number;
  /** Distance between neighbours' centroids; absent: the least that leaves `wallMm` between the pockets' boxes. */
  readonly pitchMm?: readonly [number, number];
  readonly wallMm: number;
  readonly marginMm: number;
  /** Absent: rows. */
  readonly layout?: Layout;
  readonly keepOuts?: readonly KeepOut[];
  /** A mark at the zero corner and two locating holes that the board fits over one way only. */
  readonly keyed?: boolean;
}

/** Rows; rows of which every other one is moved by half a pitch; rows in which every other blank is turned by half a turn. */
export type Layout = 'rows' | 'brick' | 'head-to-tail';
export const LAYOUTS: readonly Layout[] = ['rows', 'brick', 'head-to-tail'];

/** A place that no pocket may touch: a clamp, a pin, a vacuum hole. Bed frame, lower left corner and size. */
export interface KeepOut {
  readonly what: string;
  readonly xMm: number;
  readonly yMm: number;
  readonly widthMm: number;
  readonly depthMm: number;
}

/** bed = turn · (mirror in x first, if mirrored) · blank + (x, y). */
export interface Place {
  readonly x: number;
  readonly y: number;
  readonly turnDeg: number;
  readonly mirrored: boolean;
}

export interface PlacedPocket {
  readonly id: string;
  readonly outlineId: string;
  readonly place: Place;
  readonly wall: readonly Region<'bed'>[];
  readonly cut: readonly Region<'bed'>[];
  readonly print: Region<'bed'>;
  readonly bleed: readonly Region<'bed'>[];
  readonly safe: readonly Region<'bed'>[];
  readonly trails: readonly Trail<'bed'>[];
  readonly relief: readonly (readonly [Point<'bed'>, Point<'bed'>])[];
  readonly notches: readonly Region<'bed'>[];
  readonly eject: readonly Region<'bed'>[];
  /** Wall and relief: what keeps away from the neighbour. */
  readonly opening: readonly Region<'bed'>[];
}

/** Everything that leaves, in the bed frame; `digest` is the same for every file of one release. */
export interface BedPlan {
  readonly jobNumber: string;
  readonly jobName: string;
  readonly bed: BedSettings;
  readonly pocketSettings: PocketSettings;
  readonly pockets: readonly PlacedPocket[];
  readonly heights?: Heights;
  readonly digest: string;
  readonly reasons: readonly Reason[];
}

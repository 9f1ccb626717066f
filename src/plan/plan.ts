import type { Point } from '../base/measure.ts';
import type { Reason } from '../base/reason.ts';
import type { Region } from '../geometry/shape.ts';
import type { PocketSettings, Trail } from '../pocket/pocket.ts';
import type { Heights } from './heights.ts';
import type { Usage } from './usage.ts';

export const ZERO_CORNERS = ['top-left', 'top-right', 'bottom-left', 'bottom-right'] as const;
export type ZeroCorner = (typeof ZERO_CORNERS)[number];

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
  /** Where pockets lie that were placed one by one, by hand or by nesting. */
  readonly places?: readonly FreePlace[];
  /** The turns that nesting may lay a blank in; absent: quarter turns. */
  readonly turns?: Turns;
  readonly keepOuts?: readonly KeepOut[];
  /** Boards that are cut alike and told apart by their number; absent: one. */
  readonly boards?: number;
  /** Both sides are printed: the axis that pieces are turned over about; absent: one side. */
  readonly turnedAbout?: Axis;
  /** The corner of the board at zero is cut off, so that it lies one way only. */
  readonly keyed?: boolean;
  /** The board where it has a size of its own; absent: it covers the bed. */
  readonly board?: BoardOnBed;
}

/** A board that does not cover the bed. */
export interface BoardOnBed {
  readonly widthMm: number;
  readonly depthMm: number;
  /** Its corner at zero, counted from the zero corner into the bed; absent: at zero itself. */
  readonly fromZeroMm?: readonly [x: number, y: number];
  /** What it is seated by, the same every time; absent: not said. */
  readonly seat?: BoardSeat;
}

export const BOARD_SEATS = ['stop', 'pins', 'screws'] as const;

/**
 * What holds a board where it lies. Places are in the bed frame; `proudMm` is how far the stop, the pins or the heads stand above
 * the face of the board. A hole is larger than its pin or screw by `playMm`.
 */
export type BoardSeat =
  /** Pushed against two arms at its corner at zero. */
  | { readonly kind: 'stop'; readonly proudMm: number }
  /** The first pin stands in a round hole, the second in a slot along the line between them, longer than the hole by `slotMm`. */
  | {
      readonly kind: 'pins';
      readonly pinMm: number;
      readonly playMm: number;
      readonly slotMm: number;
      readonly at: readonly [Point<'bed'>, Point<'bed'>];
      readonly proudMm: number;
    }
  /** Screws in clearance holes, their heads on the board. */
  | {
      readonly kind: 'screws';
      readonly screwMm: number;
      readonly playMm: number;
      readonly headMm: number;
      readonly at: readonly Point<'bed'>[];
      readonly proudMm: number;
    };

/** From front to rear, or from left to right. */
export type Axis = 'depth' | 'width';

/** Rows; rows of which every other one is moved by half a pitch; rows in which every other blank is turned by half a turn. */
export type Step = 'rows' | 'brick' | 'head-to-tail';
export const STEPS: readonly Step[] = ['rows', 'brick', 'head-to-tail'];
/** Free: each at a place of its own. */
export type Layout = Step | 'free';
export const LAYOUTS: readonly Layout[] = [...STEPS, 'free'];

/** What a blank may be turned by: artwork or grain may forbid it. */
export type Turns = 'none' | 'half' | 'quarter' | 'eighth';
export const TURNS: Readonly<Record<Turns, readonly number[]>> = {
  none: [0],
  half: [0, 180],
  quarter: [0, 90, 180, 270],
  eighth: [0, 45, 90, 135, 180, 225, 270, 315],
};

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

/** A place of one piece of a blank. */
export interface FreePlace extends Place {
  readonly blank: number;
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
  readonly mouth: readonly Region<'bed'>[];
  readonly eject: readonly Region<'bed'>[];
  /** Wall or mouth, and relief: what keeps away from the neighbour. */
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
  /** How much of the board the pockets take; a figure about the plan, not part of it. */
  readonly usage?: Usage;
  /** Numbers of the pockets that reach beyond the bed, lie on a place to keep out of, or leave too thin a wall; no part of the plan either. */
  readonly troubled?: readonly string[];
  readonly digest: string;
  readonly reasons: readonly Reason[];
}

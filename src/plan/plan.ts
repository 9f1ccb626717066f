import type { Reason } from '../base/reason.ts';
import type { Region } from '../geometry/shape.ts';
import type { PocketSettings } from '../pocket/pocket.ts';

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
}

/** Everything that leaves, in the bed frame; `digest` is the same for every file of one release. */
export interface BedPlan {
  readonly jobNumber: string;
  readonly jobName: string;
  readonly bed: BedSettings;
  readonly pocketSettings: PocketSettings;
  readonly pockets: readonly PlacedPocket[];
  readonly digest: string;
  readonly reasons: readonly Reason[];
}

import type { Reason } from '../base/reason.ts';
import type { Region } from '../geometry/shape.ts';

export type Tool =
  | { readonly kind: 'beam'; readonly kerfMm: number }
  | { readonly kind: 'mill'; readonly radiusMm: number };

export interface PocketSettings {
  /** Per side. */
  readonly clearanceMm: number;
  readonly tool: Tool;
  readonly bleedMm: number;
  /** Print outline to safe area, inward. */
  readonly safeMm: number;
}

/** A pocket for one blank, blank frame, mm. */
export interface Pocket {
  readonly outlineId: string;
  /** Where the wall shall stand. */
  readonly wall: readonly Region<'blank'>[];
  /** Where the tool's centre goes. */
  readonly cut: readonly Region<'blank'>[];
  /** The face to be printed. */
  readonly print: Region<'blank'>;
  readonly bleed: readonly Region<'blank'>[];
  readonly safe: readonly Region<'blank'>[];
  /** What the tool leaves standing inside the wall. */
  readonly unreached: readonly Region<'blank'>[];
  readonly reasons: readonly Reason[];
}

import type { Point } from '../base/measure.ts';
import type { Reason } from '../base/reason.ts';
import type { Region } from '../geometry/shape.ts';
import type { MaterialId, Stock } from './material.ts';

/** What cuts the board. Whatever it takes away, it takes here and nowhere else. */
export type Tool =
  | { readonly kind: 'beam' | 'knife'; readonly kerfMm: number }
  | { readonly kind: 'mill'; readonly radiusMm: number }
  /** A blade that trails behind its pivot; 0 where the cutter's own program takes the offset. */
  | { readonly kind: 'drag'; readonly offsetMm: number }
  | { readonly kind: 'hand' };

export const TOOL_KINDS = ['beam', 'knife', 'mill', 'drag', 'hand'] as const;

/** How the pocket holds: a hole down to the table, one with a floor, or a hole in a board that lies on a base plate. */
export type Hold = 'through' | 'blind' | 'base';
export const HOLDS: readonly Hold[] = ['base', 'blind', 'through'];

/** On which side of the wall's line a tool with a width runs: inside it the pocket keeps its size, outside the piece that falls out does. */
export type LineSide = 'inside' | 'outside';
export const LINE_SIDES: readonly LineSide[] = ['inside', 'outside'];

/** Where the outline's own uncertainty is added to the clearance. */
export type Widen = 'none' | 'hidden' | 'all';
export const WIDENS: readonly Widen[] = ['none', 'hidden', 'all'];

/** How a mill clears a corner: not, along the corner's bisector, or along that wall of the corner that lies nearer to x or y. */
export type Relief = 'none' | 'bisector' | 'along-x' | 'along-y';
export const RELIEFS: readonly Relief[] = ['none', 'bisector', 'along-x', 'along-y'];

/**
 * How the wall goes round an outside corner of the blank: at the clearance from it, in straight lines to a corner of its own, or
 * at the clearance with wall and path in lines and arcs, as files then have them, instead of short chords.
 */
export type Corners = 'round' | 'mitred' | 'arcs';
export const CORNERS: readonly Corners[] = ['round', 'mitred', 'arcs'];

/** Room for a finger beside the blank: half round where it reaches as far as its radius, a slot where farther. */
export interface Notch {
  /** Place on the seat's outer ring, as a fraction of its length, counter-clockwise from its rightmost vertex; 0 to 1. */
  readonly at: number;
  readonly radiusMm: number;
  /** How far it reaches beyond the wall. */
  readonly reachMm: number;
}

/** A stretch of one blank's edge that has a clearance of its own. */
export interface Stretched {
  readonly blank: number;
  /** Where it begins and ends, counter-clockwise; places on the seat's outer ring as a notch has them. */
  readonly from: number;
  readonly to: number;
  /** Per side, instead of the pocket's; more or less. */
  readonly clearanceMm: number;
}

/** Two notches across from each other, placed by the program, on each blank where they lift it best. */
export interface NotchPair {
  readonly radiusMm: number;
  readonly reachMm: number;
}

export interface PocketSettings {
  /** Per side. */
  readonly clearanceMm: number;
  /** More of it per side to the left and right, and to front and rear, of the blank as it is drawn; absent: none. */
  readonly moreMm?: readonly [across: number, inDepth: number];
  /** Stretches with a clearance of their own; where some lie on each other the greatest holds. */
  readonly along?: readonly Stretched[];
  readonly tool: Tool;
  readonly bleedMm: number;
  /** Print outline to safe area, inward. */
  readonly safeMm: number;
  /** What the board is made of; absent: not said. */
  readonly material?: MaterialId;
  /** The operator's own board of that material; absent: any. */
  readonly stock?: Stock;
  readonly widen?: Widen;
  /** Posts of the board stand in the blank's holes. */
  readonly posts?: boolean;
  readonly relief?: Relief;
  readonly corners?: Corners;
  /** Lean of the wall from upright, opening upward, degrees: a tapered cutter's, or that of a printed body. */
  readonly draftDeg?: number;
  /** Width, and depth, of a chamfer of 45 degrees round the upper edge of the wall; 0 for none. */
  readonly chamferMm?: number;
  readonly notches?: readonly Notch[] | NotchPair;
  /** Diameter of a hole through floor or base plate to push the blank out; 0 for none. */
  readonly ejectorMm?: number;
  /** Bridges that keep the drop-out in the board. */
  readonly tabs?: number;
  readonly tabMm?: number;
  /** From where the tool enters the drop-out to the line it then follows. */
  readonly leadInMm?: number;
  readonly speedMmPerS?: number;
  readonly passes?: number;
  readonly hold?: Hold;
  readonly line?: LineSide;
  /** Depth of a blind pocket. */
  readonly depthMm?: number;
}

/** What holds where the operator said nothing. */
export const PLAIN = {
  moreMm: [0, 0],
  along: [],
  widen: 'none',
  posts: false,
  relief: 'none',
  corners: 'round',
  draftDeg: 0,
  chamferMm: 0,
  notches: [],
  ejectorMm: 0,
  tabs: 0,
  tabMm: 1,
  leadInMm: 0,
  speedMmPerS: 10,
  passes: 1,
  hold: 'base',
  line: 'inside',
  depthMm: 2,
} as const satisfies Partial<PocketSettings>;

/** Settings with everything said; the board alone may stay open. */
export type FullSettings = Required<Omit<PocketSettings, 'material' | 'stock'>> &
  Pick<PocketSettings, 'material' | 'stock'>;

export const full = (settings: PocketSettings): FullSettings => ({ ...PLAIN, ...settings });

/** The least room per side that is asked for anywhere, and the greatest, mm. */
export function clearances(settings: PocketSettings): {
  readonly leastMm: number;
  readonly greatestMm: number;
} {
  const { clearanceMm, along, moreMm } = full(settings);
  const all = [clearanceMm, ...along.map((s) => s.clearanceMm)];
  return { leastMm: Math.min(...all), greatestMm: Math.max(...all) + Math.max(...moreMm) };
}

/** A way of the tool's centre, in the order it is cut. */
export interface Trail<F extends 'blank' | 'bed'> {
  readonly closed: boolean;
  readonly points: readonly Point<F>[];
}

/** Where the wall was moved out because the outline is not sure there. */
export interface Widened {
  /** The seat's edge along it. */
  readonly points: readonly Point<'blank'>[];
  readonly lengthMm: number;
  /** Greatest addition to the clearance along it. */
  readonly addedMm: number;
  readonly hidden: boolean;
}

/** A pocket for one blank, blank frame, mm. */
export interface Pocket {
  readonly outlineId: string;
  /** Where the wall shall stand: notches are part of it, posts are its holes, relief is not. */
  readonly wall: readonly Region<'blank'>[];
  /** Where the tool's centre goes; a drag knife's pivot, whose rings may cross themselves in tight bays. */
  readonly cut: readonly Region<'blank'>[];
  /** The same as ways to follow: posts first, with lead-in and bridges. */
  readonly trails: readonly Trail<'blank'>[];
  /** The face to be printed. */
  readonly print: Region<'blank'>;
  readonly bleed: readonly Region<'blank'>[];
  readonly safe: readonly Region<'blank'>[];
  /** Where a wall that leans or is chamfered ends at the upper face; none where it stands upright. */
  readonly mouth: readonly Region<'blank'>[];
  /** The largest cutter, by its radius, that reaches all of the wall to a hundredth of a millimetre; told of a mill. */
  readonly insideRadiusMm?: number;
  /** What the tool leaves standing inside the wall. */
  readonly unreached: readonly Region<'blank'>[];
  /** From the cut path into a corner, and back: ways of the cutter's centre. */
  readonly relief: readonly (readonly [Point<'blank'>, Point<'blank'>])[];
  /** Everything that is opened: wall or mouth, and relief. What must keep away from the neighbour. */
  readonly opening: readonly Region<'blank'>[];
  /** The finger notches, whole. */
  readonly notches: readonly Region<'blank'>[];
  /** Where they are. */
  readonly notchPlaces: readonly Notch[];
  /** Way of the tool's centre round the ejector hole. */
  readonly eject: readonly Region<'blank'>[];
  readonly widened: readonly Widened[];
  readonly lengthMm: number;
  readonly reasons: readonly Reason[];
}

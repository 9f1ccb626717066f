import type { Point } from '../base/measure.ts';
import type { Reason } from '../base/reason.ts';
import type { Solid } from '../geometry/solid.ts';
import type { Region, Ring } from '../geometry/shape.ts';

export { arcPoints, circleRing, rectangle } from '../geometry/figures.ts';

/** One layer of a seat's page. */
export interface SeatLayer {
  readonly name: string;
  readonly what: string;
  readonly closed?: readonly Ring<'bed'>[];
  readonly open?: readonly (readonly Point<'bed'>[])[];
  /** Words, by the middle of them. */
  readonly words?: readonly {
    readonly at: Point<'bed'>;
    readonly heightMm: number;
    readonly words: string;
  }[];
}

/** What a line of the section shows: cut board, the item, what is printed, the table below. */
export type SectionLine = 'board' | 'item' | 'print' | 'table';

/** A seat as it leaves: its page, a section through it, and the figures that it follows from. Lengths in mm. */
export interface SeatSheet {
  readonly name: string;
  /** The page, lower left corner at 0, 0. */
  readonly widthMm: number;
  readonly depthMm: number;
  readonly layers: readonly SeatLayer[];
  /** Seen from the front, x right, y up; closed lines are areas. */
  readonly section: readonly {
    readonly line: SectionLine;
    readonly points: readonly Point<'bed'>[];
    readonly closed: boolean;
  }[];
  /** What the section draws as printed; absent: what is printed. */
  readonly standsOut?: string;
  readonly figures: readonly {
    readonly name: string;
    readonly mm: number;
    readonly places?: number;
    /** It is a number of things, and no length. */
    readonly count?: true;
  }[];
  /** What whoever opens a file must know, a sentence each. */
  readonly notes: readonly string[];
  readonly reasons: readonly Reason[];
  /** Pages of its own for what the seat is made of; absent: it is one page. */
  readonly parts?: readonly SeatSheet[];
  /** What is printed of it, in one ink; absent: it is not made by printing. */
  readonly print?: {
    readonly ink: { readonly kind: 'clear'; readonly name: string; readonly growMm: number };
    readonly areas: readonly Region<'bed'>[];
  };
  /** Its body; absent: it is cut from a board. */
  readonly solid?: Solid;
}

/** The table that a section stands on, from left to right. */
export const tableLine = (fromMm: number, toMm: number): SeatSheet['section'][number] => ({
  line: 'table',
  closed: false,
  points: [
    { x: fromMm, y: 0 },
    { x: toMm, y: 0 },
  ],
});

/** Where a horizontal line crosses rings, from left to right. */
export const crossings = (rings: readonly Ring<'bed'>[], y: number): number[] =>
  rings
    .flatMap((ring) =>
      ring.flatMap((p, k) => {
        const q = ring[(k + 1) % ring.length]!;
        return p.y > y !== q.y > y ? [p.x + ((y - p.y) / (q.y - p.y)) * (q.x - p.x)] : [];
      }),
    )
    .sort((a, b) => a - b);

import type { Point } from '../base/measure.ts';
import type { Reason } from '../base/reason.ts';
import type { Solid } from '../geometry/solid.ts';
import type { Region, Ring } from '../geometry/shape.ts';

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

/** How far chords leave a circle, mm. */
const CHORD_MM = 0.002;

/** A circle as a ring, counter-clockwise: its vertices lie on it. */
export function circleRing(centre: Point<'bed'>, radiusMm: number): Ring<'bed'> {
  return arcPoints(centre, radiusMm, 0, 2 * Math.PI).slice(0, -1);
}

/** Points of an arc, both ends included, mm; counter-clockwise where `toRad` is larger. */
export function arcPoints(
  { x, y }: Point<'bed'>,
  radiusMm: number,
  fromRad: number,
  toRad: number,
): Point<'bed'>[] {
  const step = 2 * Math.acos(Math.max(0, 1 - CHORD_MM / Math.max(radiusMm, CHORD_MM)));
  const n = Math.max(8, Math.ceil(Math.abs(toRad - fromRad) / step));
  return Array.from({ length: n + 1 }, (_, k) => {
    const a = fromRad + ((toRad - fromRad) * k) / n;
    return { x: x + radiusMm * Math.cos(a), y: y + radiusMm * Math.sin(a) };
  });
}

/** An upright rectangle from its lower left corner, counter-clockwise. */
export const rectangle = (x: number, y: number, w: number, h: number): Ring<'bed'> => [
  { x, y },
  { x: x + w, y },
  { x: x + w, y: y + h },
  { x, y: y + h },
];

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

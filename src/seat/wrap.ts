import { reason, Refusal, type Reason } from '../base/reason.ts';
import type { Point } from '../base/measure.ts';
import { arcPoints, circleRing, rectangle, tableLine, type SeatSheet } from './seat.ts';

/** What goes round a cylinder or a cone. */
export interface WrapSettings {
  /** Diameters at the upper and the lower edge of the print; equal for a cylinder. */
  readonly topMm: number;
  readonly footMm: number;
  /** Height of the print, upright, not along a leaning wall. */
  readonly heightMm: number;
  /** How far the end lies over the beginning; 0 where they meet. */
  readonly overlapMm: number;
  /** Thickness of what is wrapped; 0 where the ware itself is printed. */
  readonly sheetMm: number;
}

export const WRAP: WrapSettings = { topMm: 82, footMm: 82, heightMm: 90, overlapMm: 3, sheetMm: 0 };

/** The unrolled wall of a cylinder (radii absent) or of a cone cut off (a sector of a ring), mm and radians. */
export interface Unrolled {
  /** Along the wall. */
  readonly slantMm: number;
  /** Once round at the upper edge and at the foot, without the overlap. */
  readonly topRoundMm: number;
  readonly footRoundMm: number;
  readonly sector?: {
    /** Radii of the wide and the narrow edge, from the cone's tip. */
    readonly wideMm: number;
    readonly narrowMm: number;
    /** Once round, without the overlap. */
    readonly angleRad: number;
  };
}

/** Diameters nearer than this make a cylinder, mm: the tip would lie farther away than any page. */
const STRAIGHT_MM = 0.02;

/**
 * Unrolls a cylinder, pi D by its height, or a cone cut off: slant s = sqrt(h² + ((D - d)/2)²), outer radius R = s D / (D - d),
 * inner radius R - s, angle pi (D - d) / s (arc pi D over R). A sheet wrapped round bends about its middle: its thickness is
 * added to both diameters once.
 *
 * @throws Refusal `wrap-figures` for figures that no ware has
 */
export function unroll({
  topMm,
  footMm,
  heightMm,
  sheetMm,
}: Omit<WrapSettings, 'overlapMm'>): Unrolled {
  if (!(topMm > 0 && footMm > 0 && heightMm > 0 && sheetMm >= 0))
    throw new Refusal('wrap-figures', { topMm, footMm, heightMm });
  const [top, foot] = [topMm + sheetMm, footMm + sheetMm];
  const [wide, narrow] = [Math.max(top, foot), Math.min(top, foot)];
  const slantMm = Math.hypot(heightMm, (wide - narrow) / 2);
  const round = { slantMm, topRoundMm: Math.PI * top, footRoundMm: Math.PI * foot };
  if (wide - narrow < STRAIGHT_MM) return round;
  const wideMm = (slantMm * wide) / (wide - narrow);
  return {
    ...round,
    sector: {
      wideMm,
      narrowMm: wideMm - slantMm,
      angleRad: (Math.PI * (wide - narrow)) / slantMm,
    },
  };
}

const MARGIN_MM = 5;

/** The flat page of a wrap: a rectangle, or a sector of a ring with its middle upright. */
export function wrapSeat(s: WrapSettings): SeatSheet {
  const flat = unroll(s);
  const reasons: Reason[] = [];
  if (s.overlapMm > flat.topRoundMm / 4)
    reasons.push(reason('wrap-overlap', { overlapMm: s.overlapMm }));
  const { sector } = flat;
  let print: Point<'bed'>[];
  let lap: Point<'bed'>[];
  if (!sector) {
    print = [...rectangle(0, 0, flat.topRoundMm, s.heightMm)];
    lap = [...rectangle(flat.topRoundMm, 0, s.overlapMm, s.heightMm)];
  } else {
    const { wideMm, narrowMm, angleRad } = sector;
    // The overlap is its length at the wide edge.
    const more = s.overlapMm / wideMm;
    // A ware that is wider above curves with its tip below.
    const up = s.topMm > s.footMm ? 1 : -1;
    const ring = (from: number, to: number): Point<'bed'>[] => {
      const turn = (a: number): number => (up * Math.PI) / 2 - up * a;
      const o = { x: 0, y: 0 };
      return [
        ...arcPoints(o, wideMm, turn(from), turn(to)),
        ...arcPoints(o, narrowMm, turn(to), turn(from)),
      ];
    };
    print = ring(-angleRad / 2, angleRad / 2);
    lap = ring(angleRad / 2, angleRad / 2 + more);
  }
  const all = s.overlapMm > 0 ? [...print, ...lap] : print;
  const left = Math.min(...all.map((p) => p.x)) - MARGIN_MM;
  const foot = Math.min(...all.map((p) => p.y)) - MARGIN_MM;
  const moved = (ring: readonly Point<'bed'>[]): Point<'bed'>[] =>
    ring.map(({ x, y }) => ({ x: x - left, y: y - foot }));
  const widthMm = Math.max(...all.map((p) => p.x)) - left + MARGIN_MM;
  const depthMm = Math.max(...all.map((p) => p.y)) - foot + MARGIN_MM;
  const [a, b] = [s.footMm / 2, s.topMm / 2];
  return {
    name: sector ? 'arc wrap' : 'flat wrap',
    widthMm,
    depthMm,
    layers: [
      { name: 'print', what: 'once round, no overlap', closed: [moved(print)] },
      {
        name: 'overlap',
        what: 'what lies under the other end',
        closed: s.overlapMm > 0 ? [moved(lap)] : [],
      },
      { name: 'board', what: 'the page', closed: [rectangle(0, 0, widthMm, depthMm)] },
    ],
    section: [
      tableLine(-a * 1.3, a * 1.3),
      {
        line: 'item',
        closed: true,
        points: [
          { x: -a, y: 0 },
          { x: a, y: 0 },
          { x: b, y: s.heightMm },
          { x: -b, y: s.heightMm },
        ],
      },
      {
        line: 'print',
        closed: false,
        points: [
          { x: a, y: 0 },
          { x: b, y: s.heightMm },
        ],
      },
      {
        line: 'item',
        closed: true,
        points: circleRing({ x: 2.4 * Math.max(a, b), y: s.heightMm / 2 }, Math.max(a, b)),
      },
    ],
    figures: [
      { name: 'Once round, above', mm: flat.topRoundMm },
      { name: 'Once round, at the foot', mm: flat.footRoundMm },
      { name: 'Along the wall', mm: flat.slantMm },
      ...(sector
        ? [
            { name: 'Radius of the wide edge', mm: sector.wideMm },
            { name: 'Radius of the narrow edge', mm: sector.narrowMm },
          ]
        : []),
      { name: 'Page, wide', mm: widthMm },
      { name: 'Page, high', mm: depthMm },
    ],
    notes: [
      sector
        ? `Sector of ${((sector.angleRad * 180) / Math.PI).toFixed(2)} degrees, radii ${sector.wideMm.toFixed(2)} and ${sector.narrowMm.toFixed(2)} mm.`
        : `Once round ${flat.topRoundMm.toFixed(2)} mm, ${s.heightMm.toFixed(2)} mm high.`,
      `Overlap ${s.overlapMm.toFixed(2)} mm${sector ? ', along the wide edge' : ''}; measure round the ware with a tape before it is printed.`,
    ],
    reasons,
  };
}

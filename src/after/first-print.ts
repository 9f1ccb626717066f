import type { Point } from '../base/measure.ts';
import { reason, Refusal, type Reason } from '../base/reason.ts';
import { IDENTITY, inverse, mapPoint, times, type Affine } from '../geometry/affine.ts';
import { affineOf, type Motion } from '../geometry/lay.ts';
import type { Figure } from './board.ts';

/** How the first print landed at one place: where it lies less where it should, as read on the loaded board, bed mm. */
export interface Miss {
  readonly at: Point<'bed'>;
  readonly dxMm: number;
  readonly dyMm: number;
}

/** How a print lands on a board that lies as it lies. Figures with U, k = 2. */
export interface Landing {
  /** From where the plan has a place to where the printer puts it on this board, what is known of the printer itself included. */
  readonly map: Affine;
  /** What of that is due to how the board lies. */
  readonly motion: Motion;
  /** The shift, at the middle of the places that were read, and the turn about it, counter-clockwise. */
  readonly middle: Point<'bed'>;
  readonly x: Figure;
  readonly y: Figure;
  readonly turnRad: Figure;
  /** How much too long the print is, parts in a thousand: what no shift and no turn can mend. */
  readonly longPerMille: Figure;
  /** At every place that was read: how far it missed, and how far it will once shift and turn are taken back, mm. */
  readonly places: readonly { readonly beforeMm: number; readonly afterMm: number }[];
  readonly reasons: readonly Reason[];
}

/** A miss read with a rule on the print, U (k = 2), mm. Common practice, no source. */
export const MISS_U_MM = 0.2;
/** Places nearer to each other than this say too little of the turn, mm. Common practice, no source. */
export const FAR_MM = 50;
/** Farther than this no board lies off its seat: something else is wrong, mm. Common practice, no source. */
export const MOST_MM = 20;
/** A place that lies off the others by so many times its U was read wrongly. Common practice, no source. */
const OFF_K = 1.5;

/**
 * The rigid motion that brings the places of the plan nearest to where they were printed, by least squares, every reading
 * alike. Source: the plane case of W. Kabsch, Acta Cryst. A32, 1976, 922 (closed form); covariance of the shift at the middle,
 * of turn and length by linear least squares, which are independent of each other there.
 *
 * @param uMm U (k = 2) of each reading along one direction
 * @param printer where the printer puts what is meant for a place, by its bed profile; and whether what was read was corrected for that
 * @throws Refusal `print-places-near` for fewer than two places, or places too near to each other; `print-far-off`
 */
export function landingOf(
  read: readonly Miss[],
  uMm: number,
  { map: printer, taken } = { map: IDENTITY, taken: true },
): Landing {
  // What was printed uncorrected left the printer where its profile says: only what is left is how the board lies.
  const misses = read.map((miss): Miss => {
    if (taken) return miss;
    const at = mapPoint(printer, miss.at);
    return { at, dxMm: miss.at.x + miss.dxMm - at.x, dyMm: miss.at.y + miss.dyMm - at.y };
  });
  const n = misses.length;
  const mean = (of: (m: Miss) => number): number => misses.reduce((s, m) => s + of(m), 0) / n;
  const reachMm = Math.max(
    0,
    ...misses.flatMap((a) => misses.map((b) => Math.hypot(a.at.x - b.at.x, a.at.y - b.at.y))),
  );
  if (n < 2 || reachMm < FAR_MM)
    throw new Refusal('print-places-near', {
      count: n,
      apartMm: reachMm.toFixed(0),
      leastMm: FAR_MM,
    });
  const most = Math.max(...read.map((m) => Math.hypot(m.dxMm, m.dyMm)));
  if (most > MOST_MM)
    throw new Refusal('print-far-off', { offMm: most.toFixed(1), mostMm: MOST_MM });
  const middle = { x: mean((m) => m.at.x), y: mean((m) => m.at.y) };
  const shift = { x: mean((m) => m.dxMm), y: mean((m) => m.dyMm) };
  let [along, across, square] = [0, 0, 0];
  for (const { at, dxMm, dyMm } of misses) {
    const [px, py] = [at.x - middle.x, at.y - middle.y];
    const [qx, qy] = [px + dxMm - shift.x, py + dyMm - shift.y];
    along += px * qx + py * qy;
    across += px * qy - py * qx;
    square += px * px + py * py;
  }
  const turnRad = Math.atan2(across, along);
  const [c, s] = [Math.cos(turnRad), Math.sin(turnRad)];
  const long = Math.hypot(along, across) / square - 1;
  const U = uMm / Math.sqrt(square);
  const motion: Motion = {
    mirrored: false,
    turnRad,
    xMm: middle.x + shift.x - (c * middle.x - s * middle.y),
    yMm: middle.y + shift.y - (s * middle.x + c * middle.y),
  };
  const left = misses.map(({ at, dxMm, dyMm }) => {
    const [px, py] = [at.x - middle.x, at.y - middle.y];
    const x = px + dxMm - shift.x - (c * px - s * py);
    const y = py + dyMm - shift.y - (s * px + c * py);
    // Of these, what the length explains lies along the turned way from the middle.
    const own = Math.hypot(x - long * (c * px - s * py), y - long * (s * px + c * py));
    return { afterMm: Math.hypot(x, y), own };
  });
  const reasons: Reason[] = [];
  if (Math.abs(long) > U)
    reasons.push(
      reason('print-long', {
        perMille: Math.abs(1000 * long).toFixed(2),
        uPerMille: (1000 * U).toFixed(2),
        way: long > 0 ? 'long' : 'short',
        leftMm: ((Math.abs(long) * reachMm) / 2).toFixed(2),
      }),
    );
  const worst = left.reduce((b, l, k) => (l.own > left[b]!.own ? k : b), 0);
  if (left[worst]!.own > OFF_K * uMm)
    reasons.push(
      reason('print-place-off', {
        which: worst + 1,
        offMm: left[worst]!.own.toFixed(2),
        uMm: uMm.toFixed(2),
      }),
    );
  return {
    map: times(affineOf(motion), printer),
    motion,
    middle,
    x: { value: shift.x, U: uMm / Math.sqrt(n) },
    y: { value: shift.y, U: uMm / Math.sqrt(n) },
    turnRad: { value: turnRad, U },
    longPerMille: { value: 1000 * long, U: 1000 * U },
    places: read.map((m, k) => ({
      beforeMm: Math.hypot(m.dxMm, m.dyMm),
      afterMm: left[k]!.afterMm,
    })),
    reasons,
  };
}

/** How far the print may still land off at a place once it is corrected: U of shift and turn there, and what the length leaves, mm. */
export function leftAt({ middle, x, y, turnRad, longPerMille }: Landing, at: Point<'bed'>): number {
  const far = Math.hypot(at.x - middle.x, at.y - middle.y);
  const long = Math.abs(longPerMille.value) > longPerMille.U ? Math.abs(longPerMille.value) : 0;
  return Math.hypot(Math.max(x.U, y.U), far * turnRad.U) + (long / 1000) * far;
}

/** What artwork is moved by before it is printed, so that it lands where the plan has it. */
export interface Correction {
  readonly map: Affine;
  /** Who asks for it: "the first print asks". */
  readonly asks: string;
  /** "0.31 mm to the left, 0.12 mm to the rear, turned by 0.08 degrees clockwise", at the middle of the places read. */
  readonly words: string;
  /** What it holds for: "board 1 on the flatbed at the window"; and until when. */
  readonly holds: string;
  readonly until: string;
  /** The part that holds for any board on this printer. */
  readonly ofPrinter?: Correction;
}

/** The landing, taken back. */
export function correctionOf(landing: Landing, holds: string, ofPrinter?: Correction): Correction {
  const words = moveWords(-landing.x.value, -landing.y.value, -landing.motion.turnRad);
  return {
    map: inverse(landing.map),
    asks: ofPrinter ? 'bed profile and first print ask' : 'the first print asks',
    words: ofPrinter ? `${ofPrinter.words}; ${words}` : words,
    holds,
    until: 'until that is seated anew',
    ...(ofPrinter && { ofPrinter }),
  };
}

/** A printer's profile, taken back. */
export const correctionOfPrinter = (map: Affine, profile: string, holds: string): Correction => {
  const own = {
    map: inverse(map),
    asks: 'the bed profile asks',
    words: `against a print that is ${profile}`,
    holds,
    until: 'until that printer is measured anew',
  };
  return { ...own, ofPrinter: own };
};

/** A small motion in words, as seen from the front of the bed. */
export function moveWords(xMm: number, yMm: number, turnRad: number): string {
  const parts = [
    Math.abs(xMm) >= 0.005
      ? `${Math.abs(xMm).toFixed(2)} mm to the ${xMm > 0 ? 'right' : 'left'}`
      : '',
    Math.abs(yMm) >= 0.005
      ? `${Math.abs(yMm).toFixed(2)} mm to the ${yMm > 0 ? 'rear' : 'front'}`
      : '',
    Math.abs(turnRad) >= 5e-5
      ? `turned by ${Math.abs((turnRad * 180) / Math.PI).toFixed(3)} degrees ${turnRad > 0 ? 'counter-clockwise' : 'clockwise'}`
      : '',
  ].filter(Boolean);
  return parts.length > 0 ? parts.join(', ') : 'not moved';
}

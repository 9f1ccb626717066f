import type { Point } from '../base/measure.ts';
import { silent, type Progress } from '../base/progress.ts';
import { reason, type Reason } from '../base/reason.ts';
import type { Decision } from '../check/decide.ts';
import { waysToLay, type Laid, type Motion } from '../geometry/lay.ts';
import { boxOf } from '../geometry/measure.ts';
import { Opening } from '../geometry/within.ts';
import type { Region } from '../geometry/shape.ts';
import { holdingShare, piecesFor } from '../outline/coverage.ts';
import { zoneOf, type KeptPocket } from './kept.ts';
import { roomOf, type Measured, type Room } from './room.ts';

/** A piece of a delivery, as it was measured, in its own sheet's frame. */
export type NewPiece = Measured & {
  /** Its number in the picture, from the left. */
  readonly blank: number;
  /** The picture that shows it. */
  readonly picture?: string;
};

/** face down: it goes in, or goes in better, turned over. other: it is no piece of what the pocket was made for. */
export type Answer = Decision | 'face down' | 'other';

/** One piece tried in the pocket that was made for its like. */
export interface Tried {
  readonly blank: number;
  readonly picture?: string;
  /** The pocket it was laid into. */
  readonly pocket: string;
  readonly answer: Answer;
  /** Room per side at the tightest place of the best position, mm; negative: it is too large by so much. U with k = 2. */
  readonly roomMm: number;
  readonly uMm: number;
  /** Where it is tightest, bed mm, and the zones of the pocket that these places lie in. */
  readonly tight: readonly Point<'bed'>[];
  readonly zones: readonly string[];
  /** How the piece lies in the pocket: bed from its sheet. */
  readonly motion: Motion;
  /** Clearance to add per side for it to go in, proven, mm; 0 where it does. */
  readonly moreMm: number;
  readonly sentence: string;
}

export interface Delivery {
  readonly tried: readonly Tried[];
  /** Pieces that go in, proven; that do not, proven; and the rest. */
  readonly goIn: number;
  readonly doNot: number;
  readonly open: number;
  /** Clearance per side that would take all that are of the kind and the right way up, mm, up to the next 0.05. */
  readonly clearanceMm: number;
  /** Share of the delivery that goes in, with 95 % confidence. */
  readonly share: number;
  readonly reasons: readonly Reason[];
}

/** A piece whose edge lies farther off than the clearance and this share of its size, RMS, is another item, mm. Common practice, no source. */
const OTHER_SHARE = 0.015;
const OTHER_MM = 0.4;
/** Other ways to lie that are followed up: those that lie no worse than the best by this, RMS, mm. */
const AS_GOOD_MM = 0.6;
/** A piece lies face down where turned over it has more room by this many times U. */
const TURNED_K = 1;
/** Held at more zones than this it is as tight all round. */
const MOST_ZONES = 6;
/** Clearances are given in steps of this, mm. */
const STEP_MM = 0.05;

/** A kind of pocket that pieces are tried in: one of those that are alike. */
interface Kind {
  readonly pocket: KeptPocket;
  readonly opening: Opening<'bed'>;
}

/**
 * Lays each piece into the pocket that was made for its like, at its best place, and says whether it goes in.
 *
 * @param pockets of the board; of those that are alike one is tried
 * @param clearanceMm per side, as the pockets were made
 */
export function tryDelivery(
  pockets: readonly KeptPocket[],
  pieces: readonly NewPiece[],
  clearanceMm: number,
  progress: Progress = silent,
): Delivery {
  const kinds = pockets
    .filter((p, k) => pockets.findIndex((q) => q.outlineId === p.outlineId) === k)
    .map((pocket): Kind => ({ pocket, opening: new Opening(pocket.opening) }));
  const tried = pieces.map((piece, k) => {
    progress('Laying pieces into their pockets', k, pieces.length);
    return tryIn(kinds, piece);
  });
  const count = (...answers: Answer[]): number =>
    tried.filter((t) => answers.includes(t.answer)).length;
  const right = tried.filter((t) => t.answer !== 'other' && t.answer !== 'face down');
  const most = Math.max(0, ...right.map((t) => t.moreMm));
  const goIn = count('proven');
  const share = holdingShare(right.length, right.length - goIn);
  const needed = most === 0 ? clearanceMm : roundedUp(clearanceMm + most);
  const facts = { count: right.length, goIn, percent: Math.floor(100 * share) };
  const next = [0.75, 0.9, 0.95].find((s) => s > share + 0.05) ?? 0.99;
  const reasons: Reason[] = [];
  if (right.length > 0)
    reasons.push(
      goIn === right.length
        ? reason('delivery-goes-in', {
            ...facts,
            more: Math.max(1, piecesFor(next) - right.length),
            nextPercent: Math.round(100 * next),
          })
        : reason('delivery-tight', {
            ...facts,
            not: count('proven not'),
            open: count('not proven'),
            clearanceMm: clearanceMm.toFixed(2),
            neededMm: needed.toFixed(2),
          }),
    );
  for (const t of tried) {
    const named = t.picture ? `${t.blank} in ${t.picture}` : String(t.blank);
    if (t.answer === 'face down') reasons.push(reason('delivery-face-down', { blank: named }));
    if (t.answer === 'other') reasons.push(reason('delivery-other', { blank: named }));
  }
  return {
    tried,
    goIn,
    doNot: count('proven not'),
    open: count('not proven'),
    clearanceMm: needed,
    share,
    reasons,
  };
}

const roundedUp = (mm: number): number => Math.ceil(mm / STEP_MM - 1e-9) * STEP_MM;

/** A piece laid on one kind of pocket, in every way that lies well. */
interface Laying {
  readonly kind: Kind;
  readonly ways: readonly Laid[];
}

/** The ways a piece may lie in a pocket, the best first. */
function waysInto(piece: NewPiece, { pocket }: Kind, mirrored: boolean): Laid[] {
  const ways = waysToLay(
    piece.region as unknown as Region<'bed'>,
    { outer: pocket.opening.outer, holes: [] },
    mirrored,
  );
  return ways.filter((w) => w.rmsMm < ways[0]!.rmsMm + AS_GOOD_MM);
}

function bestRoom({ pocket, opening }: Kind, piece: NewPiece, ways: readonly Laid[]): Room {
  const region = piece.region as unknown as Region<'bed'>;
  const within = ways
    .map(({ motion }) => opening.place(region, motion))
    .reduce((a, b) => (b.roomMm > a.roomMm ? b : a));
  return roomOf(within, pocket.doubt, piece);
}

function tryIn(kinds: readonly Kind[], piece: NewPiece): Tried {
  const laid = kinds
    .map((kind) => ({ kind, ways: waysInto(piece, kind, false) }))
    .reduce((a, b) => (b.ways[0]!.rmsMm < a.ways[0]!.rmsMm ? b : a));
  const room = bestRoom(laid.kind, piece, laid.ways);
  if (room.decision !== 'proven') {
    const over = kinds
      .map((kind) => ({ kind, ways: waysInto(piece, kind, true) }))
      .reduce((a, b) => (b.ways[0]!.rmsMm < a.ways[0]!.rmsMm ? b : a));
    const turned = bestRoom(over.kind, piece, over.ways);
    if (turned.roomMm - room.roomMm > TURNED_K * Math.hypot(room.uMm, turned.uMm))
      return told(piece, over, turned, isOther(over, turned) ? 'other' : 'face down');
  }
  return told(piece, laid, room, isOther(laid, room) ? 'other' : room.decision);
}

/** Of another kind: it lies off all round, and does not go in. */
function isOther({ kind, ways }: Laying, room: Room): boolean {
  const { left, right, bottom, top } = boxOf(kind.pocket.opening.outer);
  const limit = Math.max(OTHER_MM, OTHER_SHARE * Math.max(right - left, top - bottom));
  return ways[0]!.rmsMm > 3 * limit || (ways[0]!.rmsMm > limit && -room.roomMm > 2 * limit);
}

function told(
  piece: NewPiece,
  { kind: { pocket }, ways }: Laying,
  room: Room,
  answer: Answer,
): Tried {
  const { roomMm, uMm, within } = room;
  const tight = apart(within.holds.map((h) => h.at));
  const zones = [...new Set(tight.map((p) => zoneOf(pocket, p)))];
  const moreMm = answer === 'proven' ? 0 : Math.max(0, uMm - roomMm);
  return {
    blank: piece.blank,
    ...(piece.picture !== undefined && { picture: piece.picture }),
    pocket: pocket.id,
    answer,
    roomMm,
    uMm,
    tight,
    zones,
    motion: within.motion,
    moreMm,
    sentence: sentenceOf(answer, room, zones, moreMm, ways[0]!.rmsMm),
  };
}

/** One of each group of places that lie close to each other. */
function apart(places: readonly Point<'bed'>[]): Point<'bed'>[] {
  const kept: Point<'bed'>[] = [];
  for (const p of places) if (!kept.some((q) => Math.hypot(p.x - q.x, p.y - q.y) < 5)) kept.push(p);
  return kept;
}

function sentenceOf(
  answer: Answer,
  { roomMm, uMm, unseen }: Room,
  zones: readonly string[],
  moreMm: number,
  offMm: number,
): string {
  const figure = `${Math.abs(roomMm).toFixed(2)} ± ${uMm.toFixed(2)} mm`;
  const at = zones.length > MOST_ZONES ? ', all round' : ` at ${zones.join(', ')}`;
  const more = roundedUp(moreMm).toFixed(2);
  switch (answer) {
    case 'proven':
      return `Goes in: ${figure} of room per side where it is tightest${zones.length > MOST_ZONES ? at : `,${at}`}.`;
    case 'proven not':
      return `Does not go in: too large by ${figure}${at}. It needs ${more} mm more clearance per side.`;
    case 'not proven':
      return `Not proven: ${roomMm < 0 ? `too large by ${figure}` : `${figure} of room per side`}${at}${
        unseen ? ', where no picture saw the edge' : ''
      }. ${unseen ? 'Take a picture that shows it, or give' : 'Give'} ${more} mm more clearance per side.`;
    case 'face down':
      return `Lies face down: turned over it has ${roomMm < 0 ? '-' : ''}${figure} of room per side${at}. Turn it over and take the picture again.`;
    case 'other':
      return `Another item: its edge lies ${offMm.toFixed(1)} mm off that of the pocket (RMS). Take it off the sheet, or open the job it belongs to.`;
  }
}

import { reason, type Reason } from '../base/reason.ts';
import { cutSeconds, lengthOf } from '../pocket/trails.ts';
import { full } from '../pocket/pocket.ts';
import { boardWays } from './board-on-bed.ts';
import { onlyPockets } from './chosen.ts';
import type { BedPlan, PlacedPocket } from './plan.ts';

/** An order, and the operator's own rates. */
export interface OrderSettings {
  /** Pieces wanted, by blank number. */
  readonly pieces: Readonly<Record<string, number>>;
  /** Blanks to buy besides, for pieces that are spoiled, per cent of the pieces. */
  readonly sparesPercent: number;
  /** To put a piece in, and to take it out again, s. */
  readonly putInS: number;
  readonly takeOutS: number;
  /** To change the board and start the print, s a load. */
  readonly changeS: number;
  /** The printer's own time for a load, min. */
  readonly printMin: number;
}

/** Rates to start with; common practice, no source: time one load and put in what it took. */
export const ORDER: OrderSettings = {
  pieces: {},
  sparesPercent: 3,
  putInS: 6,
  takeOutS: 4,
  changeS: 30,
  printMin: 5,
};

/** Loads that follow each other and hold the same pieces. */
export interface Load {
  /** Number of the first of them, from 1. */
  readonly first: number;
  readonly count: number;
  /** Pieces in each, by blank number; a blank that is not named is not in it. */
  readonly pieces: Readonly<Record<string, number>>;
  readonly total: number;
  /** Fewer than the board takes. */
  readonly part: boolean;
}

const sum = (of: Readonly<Record<string, number>>): number =>
  Object.values(of).reduce((a, b) => a + b, 0);

/**
 * The loads that an order takes, each filled as far as the board takes pieces and pieces are left.
 *
 * @param perLoad pieces that the board takes, by blank number
 * @param wanted pieces wanted; a blank of which the board takes none is left out
 */
export function loadsOf(
  perLoad: Readonly<Record<string, number>>,
  wanted: Readonly<Record<string, number>>,
): Load[] {
  const left = new Map(Object.entries(wanted).filter(([b, n]) => n > 0 && (perLoad[b] ?? 0) > 0));
  const loads: Load[] = [];
  let first = 1;
  while (left.size > 0) {
    const pieces = Object.fromEntries([...left].map(([b, n]) => [b, Math.min(n, perLoad[b]!)]));
    // As many loads are alike as the blank that runs out first fills.
    const count = Math.max(1, Math.min(...[...left].map(([b, n]) => Math.floor(n / perLoad[b]!))));
    const total = sum(pieces);
    loads.push({ first, count, pieces, total, part: total < sum(perLoad) });
    first += count;
    for (const [b, n] of left) {
      const rest = n - count * pieces[b]!;
      if (rest > 0) left.set(b, rest);
      else left.delete(b);
    }
  }
  return loads;
}

/** What an order takes, as far as it follows from plan and rates. */
export interface Order {
  readonly perLoad: Readonly<Record<string, number>>;
  readonly loads: readonly Load[];
  readonly loadCount: number;
  readonly pieces: number;
  /** Blanks to buy, by blank number: the pieces and the spares, whole ones. */
  readonly buy: Readonly<Record<string, number>>;
  readonly boards: number;
  /** Board that all of them take, m²; absent where the plan does not say. */
  readonly boardM2?: number;
  /** To cut one board, min. */
  readonly cutMin: number;
  /** Hands at the boards, the printer at work, and from the first piece put in to the last one taken out, min. */
  readonly handMin: number;
  readonly printMin: number;
  readonly wholeMin: number;
  /** What the same loads would take with one board, min. */
  readonly oneBoardMin: number;
  readonly reasons: readonly Reason[];
}

/**
 * From the first piece put in to the last one taken out, s. With one board, hands and printer take turns. With two or more,
 * a board is emptied and filled while the other is printed: print j + 1 begins when the printer is free and its board is
 * full. One operator; with equal loads and nothing to take out this is the two-machine flow shop with equal jobs,
 * l + p + (n - 1) max(l, p) (S. M. Johnson 1954, from memory).
 *
 * @param totals pieces of each load, in order
 */
export function wholeSeconds(
  totals: readonly number[],
  { putInS, takeOutS, changeS, printMin }: Omit<OrderSettings, 'pieces' | 'sparesPercent'>,
  boards: number,
): number {
  const print = 60 * printMin;
  const fill = totals.map((n) => n * putInS);
  const empty = totals.map((n) => n * takeOutS);
  if (totals.length === 0) return 0;
  if (boards < 2)
    return totals.reduce((all, _, j) => all + fill[j]! + changeS + print + empty[j]!, 0);
  // Hands are with the printer until a print begins.
  let begun = fill[0]! + changeS;
  for (let j = 1; j < totals.length; j++) {
    const before = j >= 2 ? empty[j - 2]! : 0;
    begun = Math.max(begun + print, begun + before + fill[j]!) + changeS;
  }
  const last = totals.length - 1;
  const other = last >= 1 ? empty[last - 1]! : 0;
  return Math.max(begun + print, begun + other) + empty[last]!;
}

/** What an order takes of a plan. */
export function orderOf(
  plan: BedPlan,
  blanks: readonly {
    readonly blank: number;
    readonly pocket: { readonly outlineId: string; readonly lengthMm: number };
  }[],
  settings: OrderSettings,
): Order {
  const of = new Map(blanks.map((b) => [b.pocket.outlineId, b]));
  const perLoad: Record<string, number> = {};
  let lengthMm = 0;
  for (const { outlineId } of plan.pockets) {
    const { blank, pocket } = of.get(outlineId)!;
    perLoad[blank] = (perLoad[blank] ?? 0) + 1;
    lengthMm += pocket.lengthMm;
  }
  const own = boardWays(plan.bed, plan.pocketSettings);
  lengthMm += lengthOf([
    ...own.holes.map(({ points }) => ({ closed: true, points })),
    ...own.edge.map((points) => ({ closed: false, points })),
  ]);
  const wanted = Object.fromEntries(Object.entries(settings.pieces).filter(([, n]) => n > 0));
  const loads = loadsOf(perLoad, wanted);
  const laid = Object.entries(wanted).filter(([b]) => perLoad[b]);
  const missing = Object.keys(wanted).filter((b) => !perLoad[b]);
  const totals = loads.flatMap(({ count, total }) => Array<number>(count).fill(total));
  const boards = plan.bed.boards ?? 1;
  const pieces = totals.reduce((a, b) => a + b, 0);
  const { sparesPercent, putInS, takeOutS, changeS, printMin } = settings;
  return {
    perLoad,
    loads,
    loadCount: totals.length,
    pieces,
    buy: Object.fromEntries(
      laid.map(([b, n]) => [b, n + Math.ceil((n * sparesPercent) / 100 - 1e-9)]),
    ),
    boards,
    // Of a board of its own size all is paid for.
    ...(plan.usage && {
      boardM2:
        (boards *
          (plan.bed.board
            ? plan.bed.board.widthMm * plan.bed.board.depthMm
            : plan.usage.boardMm2)) /
        1e6,
    }),
    cutMin: cutSeconds(lengthMm, full(plan.pocketSettings)) / 60,
    handMin: (pieces * (putInS + takeOutS) + totals.length * changeS) / 60,
    printMin: totals.length * printMin,
    wholeMin: wholeSeconds(totals, settings, boards) / 60,
    oneBoardMin: wholeSeconds(totals, settings, 1) / 60,
    reasons: missing.map((blank) => reason('order-not-laid', { blank, pieces: wanted[blank]! })),
  };
}

/** Minutes as hours and minutes, rounded up. */
export function minutesWords(minutes: number): string {
  const all = Math.ceil(minutes - 1e-9);
  return all < 60 ? `${all} min` : `${Math.floor(all / 60)} h ${all % 60} min`;
}

const many = (n: number, one: string): string => `${n} ${n === 1 ? one : `${one}s`}`;

/** "4 loads of 30, then 1 of 10." */
export const loadsWords = ({ loads }: Pick<Order, 'loads'>): string =>
  `${loads
    .map(({ count, total, part }, k) =>
      k === 0
        ? `${many(count, 'load')} of ${total}${part ? ', part-filled' : ''}`
        : `then ${count} of ${total}${part ? ', part-filled' : ''}`,
    )
    .join(', ')}.`;

/** The order in sentences, for job sheet and terminal. */
export function orderWords(order: Order, { sparesPercent }: OrderSettings): string[] {
  if (order.pieces === 0) return [];
  const { buy, boards, boardM2, cutMin, handMin, printMin, wholeMin, oneBoardMin } = order;
  const kinds = Object.entries(buy);
  const bought =
    kinds.length === 1
      ? many(kinds[0]![1], 'blank')
      : kinds.map(([b, n]) => `${n} of blank ${b}`).join(', ');
  return [
    `Order of ${many(order.pieces, 'piece')}: ${loadsWords(order)} To buy: ${bought}, with ${sparesPercent} % spares.`,
    `${many(boards, 'board')}${boardM2 === undefined ? '' : `, ${boardM2.toFixed(2)} m² of board`}: ${minutesWords(boards * cutMin)} to cut, ways through the air not counted.`,
    `Hands ${minutesWords(handMin)}, printer ${minutesWords(printMin)}, first piece in to last piece out ${minutesWords(wholeMin)}${boards > 1 ? `; with one board ${minutesWords(oneBoardMin)}` : ''}. The rates are the operator's own.`,
  ];
}

/**
 * The plan of a load that fills only part of the board: the first pockets of each blank stay, where they are and by their
 * numbers; the others are empty and nothing may be printed there.
 */
export function partPlan(
  plan: BedPlan,
  blankOf: (outlineId: string) => number,
  load: Pick<Load, 'first' | 'pieces'>,
): BedPlan {
  const left: Record<string, number> = { ...load.pieces };
  const stays = ({ outlineId }: PlacedPocket): boolean => {
    const blank = blankOf(outlineId);
    const rest = left[blank] ?? 0;
    left[blank] = rest - 1;
    return rest > 0;
  };
  return onlyPockets(plan, stays, `load ${load.first}`);
}

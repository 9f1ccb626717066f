import {
  fieldBit,
  hasCheck,
  isBlack,
  MESSAGE_BITS,
  ROW_STEP,
  sheetOfMessage,
} from '../sheet/code.ts';
import type { RiderDesign, SheetDesign } from '../sheet/design.ts';
import { RIDERS } from '../sheet/layout.ts';
import type { Cell } from './cells.ts';

/** Where a fragment lies: its vertex (a, b), turned by `turns` quarter turns counter-clockwise, plus (i, j). */
export interface Placement {
  readonly turns: number;
  readonly i: number;
  readonly j: number;
  /** log10 of the chance that anything in the picture would have agreed so well by accident. */
  readonly log10Chance: number;
  readonly agreed: number;
  readonly read: number;
}

/** Cells 0 to 127 of the code field belong to sheets. */
const FIELD = 128;
/**
 * Greatest log10 of chance agreement that is believed. Over 1500 random fragments the least value was -3.0 and true
 * sheets gave -25 to -152 (prototype); -8 leaves five orders of magnitude to either side.
 */
export const BELIEVED = -8;
const DOT = 0.45;

const field = (() => {
  const bits = new Uint8Array(FIELD * FIELD);
  for (let j = 0; j < FIELD; j++)
    for (let i = 0; i < FIELD; i++) bits[j * FIELD + i] = fieldBit(i, j);
  return bits;
})();

/** Vertex (a, b) after quarter turns counter-clockwise. */
export function turned(turns: number, a: number, b: number): readonly [number, number] {
  switch (turns & 3) {
    case 0:
      return [a, b];
    case 1:
      return [-b, a];
    case 2:
      return [-a, -b];
    default:
      return [b, -a];
  }
}

/** Cell (a, b) after quarter turns: its lower left vertex is another one then. */
function turnedCell(turns: number, a: number, b: number): readonly [number, number] {
  const [x, y] = turned(turns, 2 * a + 1, 2 * b + 1);
  return [(x - 1) / 2, (y - 1) / 2];
}

/**
 * log10 of the chance that at least `agreed` of `n` fair coins agree.
 */
export function log10Tail(n: number, agreed: number): number {
  let logTerm = -n * Math.LN2;
  const terms: number[] = [];
  for (let k = 0; k <= n; k++) {
    if (k >= agreed) terms.push(logTerm);
    logTerm += Math.log((n - k) / (k + 1));
  }
  if (terms.length === 0) return -Infinity;
  const most = Math.max(...terms);
  return (most + Math.log(terms.reduce((s, t) => s + Math.exp(t - most), 0))) / Math.LN10;
}

/** Limits a search to places about (i, j) of a known turn: what an already identified neighbour predicts. */
export interface Expectation {
  readonly turns: number;
  readonly i: number;
  readonly j: number;
  readonly slack: number;
}

/** Hypotheses are weighed on few bits first; a true one with 15 % wrong bits passes each stage almost surely. */
const STAGES: readonly (readonly [bits: number, least: number])[] = [
  [16, 10],
  [48, 30],
];
/** No other hypothesis need be looked at after agreement this unlikely. */
const CERTAIN = -30;

/**
 * The likeliest place of a fragment in the sheets' part of the code field, by its black checks. Hypotheses: four turns and
 * every place (or the expected ones). The chance counts all of them.
 */
export function placeInField(
  cells: readonly Cell[],
  expected?: Expectation,
): Placement | undefined {
  const black = spread(cells.filter((c) => c.black));
  const n = black.length;
  if (n < 12) return undefined;
  const at = new Int32Array(n);
  const bits = Uint8Array.from(black, (c) => (c.dot > DOT ? 1 : 0));
  let best = { turns: 0, i: 0, j: 0, agreed: -1 };
  let hypotheses = 0;
  for (let turns = 0; turns < 4; turns++) {
    if (expected && expected.turns !== turns) continue;
    let [i0, j0, i1, j1] = [Infinity, Infinity, -Infinity, -Infinity];
    let parity = 0;
    black.forEach((c, k) => {
      const [i, j] = turnedCell(turns, c.a, c.b);
      at[k] = j * FIELD + i;
      parity = (i + j) & 1;
      i0 = Math.min(i0, i);
      j0 = Math.min(j0, j);
      i1 = Math.max(i1, i);
      j1 = Math.max(j1, j);
    });
    const fromI = Math.max(-i0, expected ? expected.i - expected.slack : -Infinity);
    const toI = Math.min(FIELD - 1 - i1, expected ? expected.i + expected.slack : Infinity);
    const fromJ = Math.max(-j0, expected ? expected.j - expected.slack : -Infinity);
    const toJ = Math.min(FIELD - 1 - j1, expected ? expected.j + expected.slack : Infinity);
    for (let j = fromJ; j <= toJ; j++) {
      for (let i = fromI; i <= toI; i++) {
        if (((i + j) & 1) !== parity) continue;
        hypotheses++;
        const agreed = agreement(at, bits, j * FIELD + i);
        if (agreed > best.agreed) best = { turns, i, j, agreed };
      }
    }
    if (best.agreed > 0.8 * n && log10Tail(n, best.agreed) < CERTAIN) {
      // As many as would have been looked at, so that the chance stays what it says.
      hypotheses *= expected ? 1 : 4 / (turns + 1);
      break;
    }
  }
  if (best.agreed < 0) return undefined;
  return { ...best, read: n, log10Chance: Math.log10(hypotheses) + log10Tail(n, best.agreed) };
}

/** Cells in an order in which any first few lie all over the fragment. */
function spread(cells: readonly Cell[]): Cell[] {
  const n = cells.length;
  let stride = Math.max(1, Math.round(n * 0.618));
  while (gcd(stride, n) !== 1) stride++;
  return cells.map((_, k) => cells[(k * stride) % n]!);
}

const gcd = (a: number, b: number): number => (b === 0 ? a : gcd(b, a % b));

/** Number of agreeing bits at a shift; -1 when an early stage rules it out. */
function agreement(at: Int32Array, bits: Uint8Array, shift: number): number {
  let agreed = 0;
  let k = 0;
  for (const [count, least] of STAGES) {
    const end = Math.min(count, bits.length);
    for (; k < end; k++) agreed += field[at[k]! + shift]! ^ bits[k]! ^ 1;
    if (end === count && agreed < least) return -1;
  }
  for (; k < bits.length; k++) agreed += field[at[k]! + shift]! ^ bits[k]! ^ 1;
  return agreed;
}

/** A cell of an identified fragment, in the sheet's or rider's own indices. */
export interface PlacedCell {
  readonly i: number;
  readonly j: number;
  readonly dot: number;
}

export const placedCells = (cells: readonly Cell[], p: Placement): PlacedCell[] =>
  cells.map((c) => {
    const [i, j] = turnedCell(p.turns, c.a, c.b);
    return { i: i + p.i, j: j + p.j, dot: c.dot };
  });

/** What the white checks say: the sheet, or why not. */
export type Message =
  | { readonly sheet: SheetDesign; readonly unread: number }
  | { readonly sheet: undefined; readonly unread: number };

/** Joins the repeats of the message that the white checks carry; a sheet only if its CRC and its layout fit what was seen. */
export function readMessage(cells: readonly PlacedCell[]): Message {
  const sum = new Float64Array(MESSAGE_BITS);
  const white = cells.filter((c) => !isBlack(c.i, c.j));
  for (const { i, j, dot } of white) {
    sum[(i + ROW_STEP * j) % MESSAGE_BITS]! += Math.max(-0.5, Math.min(0.5, dot - DOT));
  }
  const unread = sum.reduce((n, s) => n + (Math.abs(s) < 0.2 ? 1 : 0), 0);
  const sheet = sheetOfMessage(Array.from(sum, (s) => (s > 0 ? 1 : 0)));
  return { sheet: sheet && legalShare(sheet, cells) > 0.9 ? sheet : undefined, unread };
}

const legalShare = (sheet: SheetDesign, cells: readonly PlacedCell[]): number =>
  cells.reduce((n, c) => n + (hasCheck(sheet, c.i, c.j) ? 1 : 0), 0) / cells.length;

/** A piece of the code field in both colours: a rider, or the strip. */
export interface CutOut {
  readonly columns: number;
  readonly rows: number;
  readonly fieldI: number;
  readonly fieldJ: number;
}

/** The likeliest rider for a fragment, by both colours' bits; the chance counts every rider, turn and shift tried. */
export function placeInRider(
  cells: readonly Cell[],
): { rider: RiderDesign; placement: Placement } | undefined {
  const found = placeInCutOut(
    cells,
    RIDERS.map((r) => ({ ...r, columns: r.cells, rows: r.cells })),
  );
  return found && { rider: RIDERS[found.which]!, placement: found.placement };
}

/** The likeliest place of a fragment in any of several cut-outs; the chance counts every cut-out, turn and shift tried. */
export function placeInCutOut(
  cells: readonly Cell[],
  cutOuts: readonly CutOut[],
): { which: number; placement: Placement } | undefined {
  let best:
    | {
        which: number;
        turns: number;
        i: number;
        j: number;
        agreed: number;
        read: number;
        tail: number;
      }
    | undefined;
  let hypotheses = 0;
  for (const [which, cutOut] of cutOuts.entries()) {
    const { columns, rows, fieldI, fieldJ } = cutOut;
    for (let turns = 0; turns < 4; turns++) {
      const placed = cells.map((c) => turnedCell(turns, c.a, c.b));
      const is = placed.map((c) => c[0]);
      const js = placed.map((c) => c[1]);
      const slack = 2;
      const parity = cells[0]!.black === (((is[0]! + js[0]!) & 1) === 0) ? 0 : 1;
      for (let j = -Math.min(...js) - slack; j <= rows - 1 - Math.max(...js) + slack; j++) {
        for (let i = -Math.min(...is) - slack; i <= columns - 1 - Math.max(...is) + slack; i++) {
          if (((i + j) & 1) !== parity) continue;
          hypotheses++;
          let agreed = 0;
          let read = 0;
          for (let k = 0; k < cells.length; k++) {
            const ci = is[k]! + i;
            const cj = js[k]! + j;
            if (ci < 0 || cj < 0 || ci >= columns || cj >= rows) continue;
            read++;
            if ((fieldBit(fieldI + ci, fieldJ + cj) === 1) === cells[k]!.dot > DOT) agreed++;
          }
          if (read < 20) continue;
          const tail = log10Tail(read, agreed);
          if (!best || tail < best.tail) best = { which, turns, i, j, agreed, read, tail };
        }
      }
    }
  }
  if (!best) return undefined;
  const { which, turns, i, j, agreed, read, tail } = best;
  return {
    which,
    placement: { turns, i, j, agreed, read, log10Chance: Math.log10(hypotheses) + tail },
  };
}

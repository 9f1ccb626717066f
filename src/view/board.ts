import type { Point } from '../base/measure.ts';
import { Refusal } from '../base/reason.ts';
import type { Picture } from '../picture/picture.ts';
import type { SheetDesign } from '../sheet/design.ts';
import type { Vision } from '../vision/cv.ts';
import { homography, mapped } from '../vision/homography.ts';
import { greenPlane, pictureOfPlane, type Plane } from '../vision/luma.ts';
import { findSaddles, type Saddles } from '../vision/saddles.ts';
import { growFragments, type Fragment } from './grid.ts';
import { Refiner, type Corner } from './refine.ts';
import type { FoundMarks, Mark } from './view.ts';

/** A plain checkerboard: inner corners across and up, and the side of a square. */
export interface Board {
  readonly columns: number;
  readonly rows: number;
  readonly squareMm: number;
}

/** Lengths of the picture's longer side at which it is looked at, px: squares must come out some 5 to 45 px long in one of them. */
const LOOKS_PX = [2000, 1000, 500, 250];
/** Saddles with less contrast than this share of the board's weakest are none of its corners. */
const WEAK = 0.35;
/** How many corners the first look may have overlooked, and how much fuller the board must be than the next best window. */
const OVERLOOKED = 3;
const CLEARLY = 3;
/** A corner lies this near to where a homography has it, as a share of a square: the rest is distortion. */
const OFF = 0.35;
/** Corners of less contrast than this share of the usual, or as far from point-symmetric, lie in glare or under a thumb. */
const LEAST_CONTRAST = 0.12;
const MOST_ASYMMETRY = 0.4;

/**
 * Finds a plain checkerboard in a picture: the one lattice of saddles that has as many corners both ways as the board.
 *
 * A board whose two counts differ in parity looks different when it is turned by half; the corner counted first is then always
 * the same one, and the board's own print error can be told apart from the lens. Others start at either end.
 *
 * @throws Refusal `board-not-found` also where part of the board is cut off or covered
 */
export function findBoard(vision: Vision, picture: Picture, board: Board): FoundMarks {
  const long = Math.max(picture.widthPx, picture.heightPx);
  const factors = [...new Set(LOOKS_PX.map((px) => Math.max(1, Math.round(long / px))))];
  for (const factor of factors) {
    const plane = greenPlane(picture, factor);
    const saddles = strong(findSaddles(vision, plane), board.columns * board.rows);
    for (const fragment of growFragments(saddles)) {
      const lattice = latticeOf(fragment, saddles, board);
      const at = lattice && placesOf(vision, lattice, saddles, plane);
      const found = at && measure(picture, board, at);
      if (found) return found;
    }
  }
  const { columns, rows } = board;
  throw new Refusal('board-not-found', { name: picture.name, columns, rows });
}

/** Leaves out saddles of little contrast beside the `count` strongest: grain, cloth, lettering. */
function strong(saddles: Saddles, count: number): Saddles {
  const sorted = saddles.contrast.slice().sort().reverse();
  const least = WEAK * (sorted[Math.min(count, sorted.length) - 1] ?? 0);
  const kept = [...saddles.contrast.keys()].filter((k) => saddles.contrast[k]! >= least);
  const of = (values: Float64Array): Float64Array => Float64Array.from(kept, (k) => values[k]!);
  return {
    count: kept.length,
    x: of(saddles.x),
    y: of(saddles.y),
    bright: of(saddles.bright),
    contrast: of(saddles.contrast),
  };
}

/**
 * Saddles by row and column of the board, -1 where one was overlooked; undefined where the fragment does not hold the board.
 * What else grew on to it stands outside the one window that is as good as full.
 */
function latticeOf(
  { vertices }: Fragment,
  saddles: Saddles,
  { columns, rows }: Board,
): number[][] | undefined {
  if (vertices.length < columns * rows - OVERLOOKED) return undefined;
  const at = new Map(vertices.map((v) => [`${v.a} ${v.b}`, v.saddle]));
  const range = (values: readonly number[]): [number, number] => [
    Math.min(...values),
    Math.max(...values),
  ];
  const [a0, a1] = range(vertices.map((v) => v.a));
  const [b0, b1] = range(vertices.map((v) => v.b));
  const windows: { lattice: number[][]; filled: number }[] = [];
  for (const upright of columns === rows ? [true] : [true, false]) {
    const [wide, high] = upright ? [columns, rows] : [rows, columns];
    for (let a = a0 - 1; a + wide <= a1 + 2; a++) {
      for (let b = b0 - 1; b + high <= b1 + 2; b++) {
        // b runs a quarter turn counter-clockwise from a, and so must rows from columns.
        const lattice = Array.from({ length: rows }, (_, j) =>
          Array.from({ length: columns }, (_, i) => {
            const key = upright ? `${a + i} ${b + j}` : `${a + j} ${b + columns - 1 - i}`;
            return at.get(key) ?? -1;
          }),
        );
        const filled = lattice.flat().filter((k) => k >= 0).length;
        if (filled >= columns * rows - OVERLOOKED) windows.push({ lattice, filled });
      }
    }
  }
  windows.sort((p, q) => q.filled - p.filled);
  const [best, second] = windows;
  // Two windows that are as good as full: the board is larger than it was said to be.
  if (!best || (second && second.filled > best.filled - CLEARLY)) return undefined;
  const { lattice } = best;
  if (!startsDark(lattice, saddles)) {
    lattice.reverse();
    lattice.forEach((row) => row.reverse());
  }
  return lattice;
}

/** Places of a lattice in the picture; those overlooked where a homography lets them be expected. undefined where none fits all. */
function placesOf(
  vision: Vision,
  lattice: readonly (readonly number[])[],
  saddles: Saddles,
  plane: Plane,
): Point<'picture'>[][] | undefined {
  const known = lattice.flatMap((row, j) =>
    row.flatMap((k, i) =>
      k < 0 ? [] : [{ i, j, at: pictureOfPlane(plane, saddles.x[k]!, saddles.y[k]!) }],
    ),
  );
  const found = homography(
    vision,
    Float64Array.from(known.flatMap(({ i, j }) => [i, j])),
    Float64Array.from(known.flatMap(({ at }) => [at.x, at.y])),
    12,
  );
  if (!found) return undefined;
  const places = lattice.map((row, j) => row.map((_, i) => mapped(found.h, i, j)));
  for (const { i, j, at } of known) {
    const near = places[j]![i + 1] ?? places[j]![i - 1]!;
    const expected = places[j]![i]!;
    const pitch = Math.hypot(near.x - expected.x, near.y - expected.y);
    if (Math.hypot(at.x - expected.x, at.y - expected.y) > OFF * pitch) return undefined;
  }
  known.forEach(({ i, j, at }) => (places[j]![i] = at));
  return places;
}

/** Whether the square inside the first corner, towards the others, is a dark one. */
function startsDark(lattice: readonly (readonly number[])[], { x, y, bright }: Saddles): boolean {
  for (let j = 0; j + 1 < lattice.length; j++) {
    for (let i = 0; i + 1 < lattice[j]!.length; i++) {
      const [at, right, up] = [lattice[j]![i]!, lattice[j]![i + 1]!, lattice[j + 1]![i]!];
      if (at < 0 || right < 0 || up < 0) continue;
      const dx = x[right]! + x[up]! - 2 * x[at]!;
      const dy = y[right]! + y[up]! - 2 * y[at]!;
      const dark = Math.cos(2 * (Math.atan2(dy, dx) - bright[at]!)) < 0;
      return dark === ((i + j) % 2 === 0);
    }
  }
  return true;
}

function measure(
  picture: Picture,
  { columns, rows, squareMm }: Board,
  at: readonly (readonly { x: number; y: number }[])[],
): FoundMarks | undefined {
  const refiner = new Refiner(picture);
  const measured: { mark: Mark; corner: Corner }[] = [];
  for (let j = 0; j < rows; j++) {
    for (let i = 0; i < columns; i++) {
      const p = at[j]![i]!;
      const steps = [
        [j, i - 1],
        [j, i + 1],
        [j - 1, i],
        [j + 1, i],
      ].flatMap(([r, c]) => {
        const q = at[r!]?.[c!];
        return q ? [Math.hypot(q.x - p.x, q.y - p.y)] : [];
      });
      const pitch = Math.min(...steps);
      const corner = refiner.corner(p, pitch, Math.max(2, 0.15 * pitch));
      if (!corner || corner.asymmetry > MOST_ASYMMETRY * corner.contrast) return undefined;
      const design = { x: (i + 1) * squareMm, y: (j + 1) * squareMm };
      measured.push({ mark: { i, j, picture: corner.at, design }, corner });
    }
  }
  const contrasts = measured.map(({ corner }) => corner.contrast).sort((a, b) => a - b);
  const usual = contrasts[contrasts.length >> 1]!;
  if (contrasts[0]! < LEAST_CONTRAST * usual) return undefined;
  return {
    sheet: sheetOf({ columns, rows, squareMm }),
    marks: measured.map(({ mark }) => mark),
    riders: [],
    expected: measured.length,
    blurPx: 1,
    reasons: [],
  };
}

/** The board in the terms of a sheet: its page reaches to the middle of the outer squares' far sides. */
const sheetOf = ({ columns, rows, squareMm }: Board): SheetDesign => ({
  version: 0,
  widthMm: (columns + 1) * squareMm,
  heightMm: (rows + 1) * squareMm,
  pitchMm: squareMm,
  columns: columns + 1,
  rows: rows + 1,
  bandCells: Math.ceil(Math.max(columns, rows) / 2),
  originMm: { x: 0, y: 0 },
  tone: 'white',
  voids: [],
  spans: [],
});

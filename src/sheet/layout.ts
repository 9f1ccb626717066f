import type { Point } from '../base/measure.ts';
import { Refusal } from '../base/reason.ts';
import type { CellBlock, RiderDesign, SheetDesign, Span, StageTone } from './design.ts';

/**
 * Paper sizes upright, mm. A sizes: ISO 216. Letter 8.5 x 11 in and Tabloid 11 x 17 in: ANSI/ASME Y14.1 (from memory).
 */
export const PAPERS: Readonly<Record<string, readonly [widthMm: number, heightMm: number]>> = {
  A4: [210, 297],
  A3: [297, 420],
  Letter: [215.9, 279.4],
  Tabloid: [279.4, 431.8],
};

const BAND_CELLS = 4;
/** Printers leave an edge of 4 to 6 mm white (common practice, no source). */
const LEAST_MARGIN_MM = 6;
/** A common caliper reaches 150 mm. */
const LONGEST_SPAN_MM = 145;
const LEAST_SIDE_MM = 100;
const GREATEST_SIDE_MM = 1600;

/** The sheet's message has five bits for the pitch, in steps of 0.5 mm. */
const GREATEST_PITCH_MM = 15.5;

/** The largest multiple of 0.5 mm that keeps 49 checks on the short side, 56 where the checks are larger than 4 mm. */
function pitchFor(shortSideMm: number): number {
  const inner = shortSideMm - 2 * LEAST_MARGIN_MM;
  const whole = Math.floor((inner / 49) * 2) / 2;
  if (whole <= 4) return whole;
  return Math.min(GREATEST_PITCH_MM, Math.max(4, Math.floor((inner / 56) * 2) / 2));
}

/**
 * Lays out the reference sheet for a paper of any size.
 *
 * @param widthMm, heightMm of the page, 100 to 1600 mm
 * @throws Refusal `sheet-size` outside that range
 */
export function layout(widthMm: number, heightMm: number, tone: StageTone): SheetDesign {
  const short = Math.min(widthMm, heightMm);
  if (!(short >= LEAST_SIDE_MM && Math.max(widthMm, heightMm) <= GREATEST_SIDE_MM)) {
    throw new Refusal('sheet-size', {
      widthMm,
      heightMm,
      leastMm: LEAST_SIDE_MM,
      greatestMm: GREATEST_SIDE_MM,
    });
  }
  const pitchMm = pitchFor(short);
  const columns = Math.floor((widthMm - 2 * LEAST_MARGIN_MM) / pitchMm);
  const rows = Math.floor((heightMm - 2 * LEAST_MARGIN_MM) / pitchMm);
  const microns = (v: number): number => Math.round(v * 1000) / 1000;
  const originMm = {
    x: microns((widthMm - columns * pitchMm) / 2),
    y: microns((heightMm - rows * pitchMm) / 2),
  };
  const vertex = (i: number, j: number): Point<'sheet'> => ({
    x: microns(originMm.x + i * pitchMm),
    y: microns(originMm.y + j * pitchMm),
  });
  const middle = BAND_CELLS / 2;

  // The diagonal runs from the left border to the bottom border at 45 degrees; y starts where it starts.
  const corner = BAND_CELLS + 3;
  const diagonal = Math.min(
    Math.floor(LONGEST_SPAN_MM / Math.SQRT2 / pitchMm),
    Math.min(columns, rows) - corner - middle,
  );
  const foot = middle + diagonal;
  const most = Math.floor(LONGEST_SPAN_MM / pitchMm);
  const across = Math.min(Math.floor(140 / pitchMm), columns - 2 * corner, most);
  const up = Math.min(Math.floor(140 / pitchMm), rows - corner - foot, most);
  const left = Math.round((columns - across) / 2);
  // On a short page the stretch above the diagonal's start is short: measure from below it instead.
  const upFrom = up >= across / 2 ? foot : corner;
  const upCells =
    up >= across / 2 ? up : Math.min(Math.floor(140 / pitchMm), rows - 2 * corner, most);
  const span = (id: Span['id'], from: Point<'sheet'>, to: Point<'sheet'>): Span => ({
    id,
    from,
    to,
    nominalMm: microns(Math.hypot(to.x - from.x, to.y - from.y)),
  });
  const spans = [
    span('x', vertex(left, middle), vertex(left + across, middle)),
    span('y', vertex(middle, upFrom), vertex(middle, upFrom + upCells)),
    span('d', vertex(middle, foot), vertex(foot, middle)),
  ];

  const below = (i: number): CellBlock => ({ i0: i - 1, j0: 0, i1: i + 1, j1: BAND_CELLS });
  const beside = (j: number): CellBlock => ({ i0: 0, j0: j - 1, i1: BAND_CELLS, j1: j + 1 });
  const voids = [
    below(left),
    below(left + across),
    below(foot),
    beside(upFrom),
    beside(upFrom + upCells),
  ];
  if (upFrom !== foot) voids.push(beside(foot));
  voids.push(wordsBlock(columns, rows, pitchMm));
  return {
    version: 1,
    widthMm,
    heightMm,
    pitchMm,
    columns,
    rows,
    bandCells: BAND_CELLS,
    originMm,
    tone,
    voids,
    spans,
  };
}

/** The block in the middle of the top border that holds the words; about 64 mm long, at most a third of the side. */
function wordsBlock(columns: number, rows: number, pitchMm: number): CellBlock {
  const half = Math.min(Math.round(32 / pitchMm), Math.floor(columns / 6));
  const middle = Math.round(columns / 2);
  return { i0: middle - half, j0: rows - BAND_CELLS, i1: middle + half, j1: rows };
}

const STRIP_PITCH_MM = 4;
/** Vertices of the strip's grid at which its check marks stand. */
const STRIP_MARKS = {
  x: [
    [6, 4],
    [41, 4],
  ],
  y: [
    [24, 0],
    [24, 8],
  ],
  d: [
    [6, 0],
    [41, 8],
  ],
} as const;

/**
 * The strip of marks that lies beside the blanks on a scanner's glass: a cut-out of the code field in both colours, far from
 * any sheet's and rider's. Its frame is its page; blanks lie above it.
 */
export const STRIP: SheetDesign = strip();

function strip(): SheetDesign {
  const [widthMm, heightMm, columns, rows] = [200, 38, 48, 8];
  const originMm = {
    x: (widthMm - columns * STRIP_PITCH_MM) / 2,
    y: (heightMm - rows * STRIP_PITCH_MM) / 2,
  };
  const vertex = ([i, j]: readonly [number, number]): Point<'sheet'> => ({
    x: originMm.x + i * STRIP_PITCH_MM,
    y: originMm.y + j * STRIP_PITCH_MM,
  });
  const spans = (['x', 'y', 'd'] as const).map((id): Span => {
    const [from, to] = [vertex(STRIP_MARKS[id][0]), vertex(STRIP_MARKS[id][1])];
    const nominalMm = Math.round(Math.hypot(to.x - from.x, to.y - from.y) * 1000) / 1000;
    return { id, from, to, nominalMm };
  });
  const voids = Object.values(STRIP_MARKS)
    .flat()
    .map(([i, j]): CellBlock => ({
      i0: i - 1,
      i1: i + 1,
      j0: Math.max(0, j - 1),
      j1: Math.min(rows, j + 1),
    }));
  return {
    version: 1,
    widthMm,
    heightMm,
    pitchMm: STRIP_PITCH_MM,
    columns,
    rows,
    bandCells: rows / 2,
    originMm,
    tone: 'white',
    voids,
    spans,
    field: { i: 640, j: 512 },
  };
}

/** The riders: small cut-outs of the same code field, far from any sheet's. */
export const RIDERS: readonly RiderDesign[] = [
  { sizeMm: 20, pitchMm: 2.6, cells: 7, fieldI: 512, fieldJ: 512 },
  { sizeMm: 30, pitchMm: 4.0, cells: 7, fieldI: 512, fieldJ: 544 },
  { sizeMm: 40, pitchMm: 4.2, cells: 9, fieldI: 544, fieldJ: 512 },
  { sizeMm: 50, pitchMm: 4.3, cells: 11, fieldI: 544, fieldJ: 544 },
];

/** Place of vertex (i, j) of the sheet's grid as designed. */
export const sheetVertex = (s: SheetDesign, i: number, j: number): Point<'sheet'> => ({
  x: s.originMm.x + i * s.pitchMm,
  y: s.originMm.y + j * s.pitchMm,
});

/** Place of vertex (i, j) of a rider's grid as designed. */
export const riderVertex = (r: RiderDesign, i: number, j: number): Point<'rider'> => {
  const margin = (r.sizeMm - r.cells * r.pitchMm) / 2;
  return { x: margin + i * r.pitchMm, y: margin + j * r.pitchMm };
};

import type { Point } from '../base/measure.ts';
import type { Box } from '../geometry/measure.ts';
import { crossOf, profileMarks } from '../plan/bed-profile.ts';
import { placeFromZero, zeroCorner } from '../plan/plan-bed.ts';
import type { BedSettings } from '../plan/plan.ts';
import { rectangle, tableLine, type SeatSheet, type SeatLayer } from './seat.ts';

/** Lengths of the graduations, mm: every one, every fifth, every tenth. */
const TICK_MM = { one: 3, five: 5, ten: 8 } as const;
const FIGURE_MM = 3;

const lengthOf = (mm: number): number =>
  mm % 10 === 0 ? TICK_MM.ten : mm % 5 === 0 ? TICK_MM.five : TICK_MM.one;

/** Rulers along both edges of the bed that meet at zero, graduated in mm, figures every ten. */
export function rulerSeat(bed: Pick<BedSettings, 'widthMm' | 'depthMm' | 'zero'>): SeatSheet {
  const { x: zx, y: zy } = zeroCorner(bed);
  const [sx, sy] = [zx === 0 ? 1 : -1, zy === 0 ? 1 : -1];
  const at = (x: number, y: number): Point<'bed'> => ({ x: zx + sx * x, y: zy + sy * y });
  const across = (mm: number, far: number): Point<'bed'> => at(mm, far);
  const inDepth = (mm: number, far: number): Point<'bed'> => at(far, mm);
  const ticks = (length: number, to: typeof across): Point<'bed'>[][] =>
    Array.from({ length: Math.floor(length) }, (_, k) => [
      to(k + 1, 0),
      // At zero the two rulers meet in a mitre.
      to(k + 1, Math.min(lengthOf(k + 1), k + 1)),
    ]);
  const heightMm = FIGURE_MM * 0.8;
  const far = TICK_MM.ten + FIGURE_MM;
  /** The first figure, which both rulers have at one place, stands between them; the last one wholly on the bed. */
  const figures = (
    length: number,
    to: typeof across,
    halfMm: (words: string) => number,
  ): NonNullable<SeatLayer['words']> =>
    Array.from({ length: Math.floor(length / 10) - 1 }, (_, k) => {
      const words = String(10 * (k + 2));
      return { at: to(Math.min(10 * (k + 2), length - halfMm(words)), far), heightMm, words };
    });
  const shown = Math.min(60, bed.widthMm);
  const marks = profileMarks(bed);
  return {
    name: 'bed ruler',
    widthMm: bed.widthMm,
    depthMm: bed.depthMm,
    layers: [
      {
        name: 'mark',
        what: 'graduations from zero, mm',
        open: [...ticks(bed.widthMm, across), ...ticks(bed.depthMm, inDepth)],
        words: [
          { at: at(far + 0.5, far + 0.5), heightMm, words: '10' },
          ...figures(bed.widthMm, across, (words) => words.length * 0.4 * heightMm + 0.5),
          ...figures(bed.depthMm, inDepth, () => heightMm / 2 + 0.5),
          ...(bed.widthMm > 120
            ? [
                {
                  at: at(bed.widthMm / 2, far + 6),
                  heightMm,
                  words: 'mm from zero, printed at 100 %',
                },
              ]
            : []),
        ],
      },
      ...(marks.length > 0
        ? [
            {
              name: 'cross',
              what: 'crosses to read the bed profile by',
              open: marks.flatMap((m) => crossOf(m.at)),
              words: marks.map((m) => ({
                at: { x: m.at.x + 3, y: m.at.y + 2.5 },
                heightMm: FIGURE_MM,
                words: m.name,
              })),
            },
          ]
        : []),
      { name: 'board', what: 'the bed', closed: [rectangle(0, 0, bed.widthMm, bed.depthMm)] },
    ],
    section: [
      tableLine(0, shown),
      { line: 'board', closed: true, points: rectangle(0, 0, shown, 0.4) },
      { line: 'item', closed: true, points: rectangle(shown / 3, 0.4, shown / 2, 5) },
      ...Array.from({ length: Math.floor(shown) }, (_, k) => ({
        line: 'print' as const,
        closed: false,
        points: [
          { x: k + 1, y: 0.4 },
          { x: k + 1, y: 0.4 + lengthOf(k + 1) / 8 },
        ],
      })),
    ],
    figures: [
      { name: 'Graduated across', mm: Math.floor(bed.widthMm) },
      { name: 'Graduated in depth', mm: Math.floor(bed.depthMm) },
    ],
    notes: [
      'Print it at 100 % on a sheet that covers the bed, lay the blank on it, and read where its edges nearest to zero lie.',
      marks.length > 0
        ? 'While it lies on the bed, read how far the crosses A to D are from each other: they tell the bed profile, by which artwork is corrected.'
        : 'Measure 100 mm of each ruler: a printer that prints long moves everything that is read off it.',
    ],
    reasons: [],
  };
}

/**
 * The place of a blank's centroid on the bed from two readings of the bed ruler: where its print's edges nearest to zero lie.
 *
 * @param print what the face covers from its own centroid, as it lies turned, mm
 * @param readMm the readings across and in depth, counted from zero, mm
 */
export function placeFromRuler(
  print: Box,
  readMm: readonly [across: number, inDepth: number],
  bed: BedSettings,
): { readonly x: number; readonly y: number } {
  const edge = placeFromZero({ x: readMm[0], y: readMm[1] }, bed);
  return {
    x: edge.x - (bed.zero.endsWith('left') ? print.left : print.right),
    y: edge.y - (bed.zero.startsWith('bottom') ? print.bottom : print.top),
  };
}

/** Since its spans were read: the same day in the same room; lying in that room; elsewhere, or in the damp. */
export const KEPT = ['today', 'room', 'elsewhere'] as const;
export type Kept = (typeof KEPT)[number];
/** What carries the print: paper by itself; or a board, printed on or with the paper glued to it all over. */
export const CARRIERS = ['paper', 'board'] as const;
export type Carrier = (typeof CARRIERS)[number];

/**
 * Share of its length that a sheet may have grown or shrunk since its spans were read, the mean of both sides (k = 1).
 * Paper moves 0.1 to 0.2 % along its grain and 0.2 to 0.4 % across it over the step in humidity that paper is tested with
 * (tables of the paper trade): at most 0.3 % in the mean, either way, rectangular, where it may have seen such a step; half of
 * that in one room. Boards: common practice, no source.
 */
const GROWTH_U: Readonly<Record<Carrier, Readonly<Record<Kept, number>>>> = {
  paper: { today: 0, room: 0.0015 / Math.sqrt(3), elsewhere: 0.003 / Math.sqrt(3) },
  board: { today: 0, room: 0.0003, elsewhere: 0.001 },
};

/** What nobody has said: as if it were today; that it was not said is told elsewhere. */
export const growthU = (kept: Kept | undefined, carrier: Carrier = 'paper'): number =>
  GROWTH_U[carrier][kept ?? 'today'];

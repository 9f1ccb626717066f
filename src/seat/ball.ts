import { reason, Refusal, type Reason } from '../base/reason.ts';
import { arcPoints, circleRing, rectangle, tableLine, type SeatSheet } from './seat.ts';

/** A ball in a ring: one hole of a plate, or an array of them. */
export interface BallSettings {
  readonly ballMm: number;
  /** The ring's hole, finished. */
  readonly ringMm: number;
  /** The plate that the holes are cut in, and how high its underside stands over the table. */
  readonly plateMm: number;
  readonly underMm: number;
  /** How much lower than the ball's top the print may reach: what the head gap allows. */
  readonly gapMm: number;
  readonly rows: number;
  readonly columns: number;
  /** From ball to ball. */
  readonly apartMm: number;
  /** What the tool takes to one side of its path: half the kerf, or the cutter's radius. */
  readonly toolMm: number;
}

export const BALL: BallSettings = {
  ballMm: 42.7,
  ringMm: 30,
  plateMm: 5,
  underMm: 20,
  gapMm: 2,
  rows: 2,
  columns: 3,
  apartMm: 8,
  toolMm: 0.075,
};

/**
 * Width of the cap that lies no lower than g below a ball's top: 2 sqrt(D g - g²), for g up to half of D.
 *
 * @throws Refusal `ball-figures`
 */
export function capWidth(ballMm: number, gapMm: number): number {
  if (!(gapMm >= 0 && gapMm <= ballMm / 2))
    throw new Refusal('ball-figures', { ballMm, ringMm: gapMm });
  return 2 * Math.sqrt(ballMm * gapMm - gapMm * gapMm);
}

/**
 * How far a ball's top stands above the edge that it rests on: D/2 + sqrt(D²/4 - d²/4) (Pythagoras).
 *
 * @throws Refusal `ball-figures` where the ring is no narrower than the ball
 */
export function topAboveRing(ballMm: number, ringMm: number): number {
  if (!(ringMm > 0 && ringMm < ballMm)) throw new Refusal('ball-figures', { ballMm, ringMm });
  return ballMm / 2 + Math.sqrt(ballMm ** 2 - ringMm ** 2) / 2;
}

/**
 * The ring that holds a ball with its top so far above the ring's edge.
 *
 * @param topMm from half of the ball's diameter to all of it
 * @throws Refusal `ball-figures`
 */
export function ringFor(ballMm: number, topMm: number): number {
  const rise = topMm - ballMm / 2;
  if (!(rise >= 0 && rise < ballMm / 2))
    throw new Refusal('ball-figures', { ballMm, ringMm: topMm });
  return 2 * Math.sqrt(ballMm ** 2 / 4 - rise * rise);
}

/** A ring narrower than this share of the ball lets it roll, a wider one holds it too deep. Common practice, no source. */
const NARROW = 0.5;
const WIDE = 0.9;

/** Width of what is drawn below the plate. */
const FOOT_MM = 3;

/** A plate with rings for balls. */
export function ballSeat(s: BallSettings): SeatSheet {
  const topMm = topAboveRing(s.ballMm, s.ringMm);
  const capMm = capWidth(s.ballMm, s.gapMm);
  const belowMm = s.ballMm - topMm;
  const reasons: Reason[] = [];
  const share = s.ringMm / s.ballMm;
  if (share < NARROW || share > WIDE)
    reasons.push(
      reason(share < NARROW ? 'ring-narrow' : 'ring-wide', {
        ringMm: round(s.ringMm),
        leastMm: round(NARROW * s.ballMm),
        mostMm: round(WIDE * s.ballMm),
      }),
    );
  const roomMm = s.plateMm + s.underMm;
  if (belowMm > roomMm)
    reasons.push(reason('ball-on-table', { belowMm: round(belowMm), roomMm: round(roomMm) }));
  const pitch = s.ballMm + s.apartMm;
  const widthMm = Math.ceil(s.columns * pitch + s.apartMm);
  const depthMm = Math.ceil(s.rows * pitch + s.apartMm);
  const centres = Array.from({ length: s.rows * s.columns }, (_, k) => ({
    x: (widthMm - (s.columns - 1) * pitch) / 2 + (k % s.columns) * pitch,
    y: depthMm - (depthMm - (s.rows - 1) * pitch) / 2 - Math.floor(k / s.columns) * pitch,
  }));
  const r = s.ballMm / 2;
  const edge = s.underMm + s.plateMm;
  const centre = { x: 0, y: edge + topMm - r };
  const half = pitch / 2;
  const wall = half - s.ringMm / 2;
  const lean = Math.asin(Math.min(1, capMm / s.ballMm));
  return {
    name: 'ring seat',
    widthMm,
    depthMm,
    layers: [
      {
        name: 'pocket',
        what: 'the ring, finished: the ball rests on its upper edge',
        closed: centres.map((c) => circleRing(c, s.ringMm / 2)),
      },
      {
        name: 'cut',
        what: "where the tool's centre goes",
        closed: centres.map((c) => circleRing(c, s.ringMm / 2 - s.toolMm)),
      },
      {
        name: 'print',
        what: 'the cap that can be printed',
        closed: centres.map((c) => circleRing(c, capMm / 2)),
      },
      { name: 'board', what: 'the plate', closed: [rectangle(0, 0, widthMm, depthMm)] },
      {
        name: 'mark',
        what: 'numbers; not to be cut',
        words: centres.map((at, k) => ({ at, heightMm: 4, words: String(k + 1) })),
      },
    ],
    section: [
      tableLine(-half, half),
      // What carries the plate, by its edges.
      ...(s.underMm > 0
        ? [-half, half - FOOT_MM].map((x) => ({
            line: 'table' as const,
            closed: true,
            points: rectangle(x, 0, FOOT_MM, s.underMm),
          }))
        : []),
      { line: 'board', closed: true, points: rectangle(-half, s.underMm, wall, s.plateMm) },
      { line: 'board', closed: true, points: rectangle(s.ringMm / 2, s.underMm, wall, s.plateMm) },
      { line: 'item', closed: true, points: circleRing(centre, r) },
      {
        line: 'print',
        closed: false,
        points: arcPoints(centre, r, Math.PI / 2 + lean, Math.PI / 2 - lean),
      },
    ],
    figures: [
      { name: 'Top of the ball over the plate', mm: topMm },
      { name: 'Ball below the plate’s top', mm: belowMm },
      { name: 'Top of the ball over the table', mm: edge + topMm },
      { name: 'Cap that can be printed, across', mm: capMm },
      // d top / d ring, for a tenth of a millimetre.
      {
        name: 'A ring wider by 0.1 mm lowers the ball by',
        mm: topMm - topAboveRing(s.ballMm, Math.min(s.ringMm + 0.1, s.ballMm - 1e-9)),
        places: 3,
      },
    ],
    notes: [
      `Ring ${s.ringMm.toFixed(2)} mm for a ball of ${s.ballMm.toFixed(2)} mm: its top stands ${topMm.toFixed(2)} mm over the plate.`,
      `Printable: a cap ${capMm.toFixed(2)} mm across, where the ball lies no more than ${s.gapMm.toFixed(2)} mm below its top.`,
      `Layer cut lies ${s.toolMm.toFixed(3)} mm inside layer pocket: what the tool takes is taken.`,
    ],
    reasons,
  };
}

const round = (v: number): number => Math.round(v * 100) / 100;

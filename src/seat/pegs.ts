import { reason, type Reason } from '../base/reason.ts';
import type { Point } from '../base/measure.ts';
import { boxOf, inside } from '../geometry/measure.ts';
import { Nearest } from '../geometry/nearest.ts';
import type { Ring } from '../geometry/shape.ts';
import { circleRing, crossings, rectangle, tableLine, type SeatSheet } from './seat.ts';

/** Pegs of a grid round a blank. */
export interface PegSettings {
  readonly pitchMm: number;
  readonly pegMm: number;
  /** How high they stand over the panel. */
  readonly highMm: number;
  /** Least room between blank and peg. */
  readonly gapMm: number;
}

export const PEGS: PegSettings = { pitchMm: 20, pegMm: 6, highMm: 4, gapMm: 0.2 };

/** Offsets of the blank on the grid that are tried, along x and y. */
const TRIED = 10;
/** A blank that can go farther than this one way is not held there, mm. */
const HELD_MM = 3;
const WAYS = [
  { name: 'to the right', x: 1, y: 0 },
  { name: 'to the left', x: -1, y: 0 },
  { name: 'to the rear', x: 0, y: 1 },
  { name: 'to the front', x: 0, y: -1 },
] as const;

export interface PegPlan {
  /** From the blank's centroid to the grid hole that is taken as its origin. */
  readonly offset: Point<'bed'>;
  /** Middles of the pegs, blank's centroid at 0, 0. */
  readonly pegs: readonly Point<'bed'>[];
  /** How far the blank can go right, left, to the rear, to the front before a peg stops it, mm; at most a pitch. */
  readonly playMm: readonly [number, number, number, number];
}

/**
 * Where a blank lies on a grid of holes so that pegs round it leave it the least play: offsets within a pitch are tried, all
 * holes taken whose peg stands clear of the blank by the gap and within half a pitch beyond.
 *
 * @param ring the blank's seat outline, its centroid at 0, 0
 */
export function pegsRound(ring: Ring<'blank'>, s: PegSettings): PegPlan {
  const { pitchMm, pegMm, gapMm } = s;
  const box = boxOf(ring);
  const near = new Nearest([ring], Math.max(1, (box.right - box.left) / 40));
  const r = pegMm / 2;
  const reach = pitchMm + r;
  const pegsAt = (ox: number, oy: number): Point<'bed'>[] => {
    const pegs: Point<'bed'>[] = [];
    const first = (low: number, o: number): number => o + pitchMm * Math.ceil((low - o) / pitchMm);
    for (let x = first(box.left - reach, ox); x <= box.right + reach; x += pitchMm)
      for (let y = first(box.bottom - reach, oy); y <= box.top + reach; y += pitchMm) {
        const d = near.distance(x, y);
        const beside = d >= r + gapMm - 1e-9 && d <= r + gapMm + pitchMm / 2;
        if (beside && !inside(ring, { x, y })) pegs.push({ x, y });
      }
    return pegs;
  };
  /** How far the blank goes one way before a peg touches it: by steps no larger than what is free, so that none is jumped over. */
  const play = (pegs: readonly Point<'bed'>[], way: (typeof WAYS)[number]): number => {
    let gone = 0;
    for (let step = 0; step < 200 && gone < pitchMm; step++) {
      const free = Math.min(
        ...pegs.map((p) => near.distance(p.x - gone * way.x, p.y - gone * way.y) - r),
        pitchMm - gone,
      );
      if (free < 1e-4) break;
      gone += free;
    }
    return gone;
  };
  let best: PegPlan | undefined;
  let least = Infinity;
  for (let i = 0; i < TRIED; i++)
    for (let j = 0; j < TRIED; j++) {
      const offset = { x: (i * pitchMm) / TRIED, y: (j * pitchMm) / TRIED };
      const pegs = pegsAt(offset.x, offset.y);
      const playMm = WAYS.map((way) => play(pegs, way)) as unknown as PegPlan['playMm'];
      const worst = Math.max(playMm[0] + playMm[1], playMm[2] + playMm[3]);
      if (worst < least - 1e-9) {
        least = worst;
        best = { offset, pegs, playMm };
      }
    }
  return best!;
}

/** A panel with pegs round one blank, its lowest and leftmost hole at the page's lower left. */
export function pegSeat(ring: Ring<'blank'>, thicknessMm: number, s: PegSettings): SeatSheet {
  const { pegs, playMm } = pegsRound(ring, s);
  const blank = ring.map(({ x, y }): Point<'bed'> => ({ x, y }));
  const box = boxOf([...blank, ...pegs]);
  const left = Math.min(box.left, ...pegs.map((p) => p.x)) - s.pitchMm;
  const foot = Math.min(box.bottom, ...pegs.map((p) => p.y)) - s.pitchMm;
  const moved = ({ x, y }: Point<'bed'>): Point<'bed'> => ({ x: x - left, y: y - foot });
  const [widthMm, depthMm] = [
    Math.ceil(box.right - left + s.pitchMm),
    Math.ceil(box.top - foot + s.pitchMm),
  ];
  const reasons: Reason[] = [];
  const open = WAYS.filter((_, k) => playMm[k]! > HELD_MM);
  if (open.length > 0)
    reasons.push(
      reason('pegs-open', {
        ways: open.map(({ name }) => name).join(', '),
        playMm: round(Math.max(...playMm)),
      }),
    );
  if (s.highMm >= thicknessMm)
    reasons.push(
      reason('pegs-too-high', { highMm: round(s.highMm), thicknessMm: round(thicknessMm) }),
    );
  // Cut through the row of pegs nearest the blank's centre, where the row meets the blank at all.
  const cutAt = pegs.reduce((y, p) => (Math.abs(p.y) < Math.abs(y) ? p.y : y), Infinity);
  const row = pegs.filter((p) => Math.abs(p.y - cutAt) < s.pitchMm / 2);
  const across = crossings([blank], cutAt);
  const own = boxOf(blank);
  return {
    name: 'pegs',
    widthMm,
    depthMm,
    layers: [
      {
        name: 'cut',
        what: 'the pegs, or their holes',
        closed: pegs.map((p) => circleRing(moved(p), s.pegMm / 2)),
      },
      { name: 'print', what: 'the blank', closed: [blank.map(moved)] },
      { name: 'board', what: 'the panel', closed: [rectangle(0, 0, widthMm, depthMm)] },
      {
        name: 'mark',
        what: 'numbers of the pegs',
        words: pegs.map((p, k) => ({ at: moved(p), heightMm: s.pegMm / 2, words: String(k + 1) })),
      },
    ],
    section: [
      tableLine(own.left - s.pitchMm, own.right + s.pitchMm),
      ...row.map((p) => ({
        line: 'board' as const,
        closed: true,
        points: rectangle(p.x - s.pegMm / 2, 0, s.pegMm, s.highMm),
      })),
      ...Array.from({ length: across.length / 2 }, (_, k): SeatSheet['section'] => {
        const [left, right] = [across[2 * k]!, across[2 * k + 1]!];
        return [
          { line: 'item', closed: true, points: rectangle(left, 0, right - left, thicknessMm) },
          {
            line: 'print',
            closed: false,
            points: [
              { x: left, y: thicknessMm },
              { x: right, y: thicknessMm },
            ],
          },
        ];
      }).flat(),
    ],
    figures: [
      { name: 'Play across', mm: playMm[0] + playMm[1] },
      { name: 'Play in depth', mm: playMm[2] + playMm[3] },
    ],
    notes: [
      `${pegs.length} pegs of ${s.pegMm.toFixed(2)} mm on a grid of ${s.pitchMm.toFixed(2)} mm; play ${(playMm[0] + playMm[1]).toFixed(2)} mm across, ${(playMm[2] + playMm[3]).toFixed(2)} mm in depth.`,
      'Pegs hold no better than their play: for print up to the edge take a pocket.',
    ],
    reasons,
  };
}

const round = (v: number): number => Math.round(v * 100) / 100;

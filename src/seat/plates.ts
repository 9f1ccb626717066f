import type { Point } from '../base/measure.ts';
import { reason, Refusal, type Reason } from '../base/reason.ts';
import { boxOf, inside, nearestOnRing, type Box } from '../geometry/measure.ts';
import type { Region } from '../geometry/shape.ts';
import { boardBox, boardWays, offByPlay, seatHoles } from '../plan/board-on-bed.ts';
import type { BedPlan, BedSettings } from '../plan/plan.ts';
import { circleRing, rectangle, tableLine, type SeatLayer, type SeatSheet } from './seat.ts';

export interface PlateSettings {
  /** What the cutter takes, across and in depth. */
  readonly takesWidthMm: number;
  readonly takesDepthMm: number;
  /** Least material between a pocket, or a pin, and an edge. */
  readonly edgeMm: number;
  /** What each edge stands back from a joint, so that plates do not press on each other. */
  readonly backMm: number;
  readonly pinMm: number;
  /** Hole less pin. */
  readonly playMm: number;
  /** The board, and the base that it is pinned to; for the section. */
  readonly boardMm: number;
  readonly baseMm: number;
}

/** To start from; common practice, no source. */
export const PLATES: PlateSettings = {
  takesWidthMm: 300,
  takesDepthMm: 200,
  edgeMm: 3,
  backMm: 0.05,
  pinMm: 4,
  playMm: 0.05,
  boardMm: 5,
  baseMm: 6,
};

/** A pocket as plates need it; bed mm. */
export interface PlatePocket {
  readonly id: string;
  readonly wall: readonly Region<'bed'>[];
  /** Ways of the tool: what is cut for it, in order. */
  readonly ways: readonly { readonly closed: boolean; readonly points: readonly Point<'bed'>[] }[];
}

/** The pockets of a plan, with everything that the tool does for them. */
export const platePockets = ({ pockets }: Pick<BedPlan, 'pockets'>): PlatePocket[] =>
  pockets.map(({ id, wall, trails, relief, eject }) => ({
    id,
    wall,
    ways: [
      ...relief.map((points) => ({ closed: false, points })),
      ...eject.map(({ outer }) => ({ closed: true, points: outer })),
      ...trails,
    ],
  }));

/** The holes of the board's own seat, which plates have as well. */
export function plateHoles({
  bed,
  pocketSettings,
}: Pick<BedPlan, 'bed' | 'pocketSettings'>): PlatePocket[] {
  const { holes } = boardWays(bed, pocketSettings);
  return seatHoles(bed).map(({ what, ring }) => ({
    id: what,
    wall: [{ outer: ring, holes: [] }],
    ways: holes.filter((h) => h.what === what).map(({ points }) => ({ closed: true, points })),
  }));
}

/** One plate of a board; bed mm. */
export interface Plate {
  /** Its finished edges. */
  readonly box: Box;
  readonly pockets: readonly PlatePocket[];
  /** Middles of its pins: the first in a round hole, the second in a slot towards it. */
  readonly pins: readonly [Point<'bed'>, Point<'bed'>];
  /** How far any place of it may lie off by the play of its pins, mm. */
  readonly offMm: number;
}

/** Places that are tried for a pin lie so far apart, mm. */
const STEP_MM = 5;

const clearOf = (box: Box, by: number): Box => ({
  left: box.left - by,
  right: box.right + by,
  bottom: box.bottom - by,
  top: box.top + by,
});

/**
 * Cuts across a length so that no part is longer than `most` and none runs through what is taken, as few as may be and then each as far
 * from what is taken as its gap allows; without both ends. Undefined where there are none.
 */
export function cutsAcross(
  length: number,
  most: number,
  taken: readonly (readonly [from: number, to: number])[],
): number[] | undefined {
  const sorted = [...taken].sort((a, b) => a[0] - b[0]);
  const gaps: [number, number][] = [];
  let end = 0;
  for (const [from, to] of sorted) {
    if (from >= end) gaps.push([end, from]);
    end = Math.max(end, to);
  }
  if (end <= length) gaps.push([end, length]);
  interface Way {
    readonly at: number;
    readonly cuts: number;
    /** How far cuts stand from the middles of their gaps, summed. */
    readonly off: number;
    readonly before?: Way;
  }
  // In the middle of a gap at best; at its ends where the next cut would not be reached else.
  const places: { at: number; off: number }[] = gaps.flatMap(([from, to]) => {
    const middle = (from + to) / 2;
    return [...new Set([middle, from, to])].map((at) => ({ at, off: Math.abs(at - middle) }));
  });
  // The farthest that each cut can stand gives the fewest (an exchange argument, the same from either end).
  for (const reach of [
    (at: number) =>
      Math.max(0, ...gaps.flatMap(([a, b]) => (a <= at + most ? [Math.min(b, at + most)] : []))),
    (at: number) =>
      length -
      Math.min(
        length,
        ...gaps.flatMap(([a, b]) =>
          b >= length - at - most ? [Math.max(a, length - at - most)] : [],
        ),
      ),
  ].entries()) {
    const [end, next] = reach;
    for (let at = 0, to = next(at); to > at + 1e-9 && to < length; at = to, to = next(at))
      places.push({ at: end === 0 ? to : length - to, off: most });
  }
  const inner = places
    .filter(({ at }) => at > 1e-9 && at < length - 1e-9)
    .sort((a, b) => a.at - b.at);
  const better = (a: Way, b: Way | undefined): boolean =>
    !b || a.cuts < b.cuts || (a.cuts === b.cuts && a.off < b.off);
  const ways: Way[] = [{ at: 0, cuts: 0, off: 0 }];
  for (const { at, off } of [...inner, { at: length, off: 0 }]) {
    let best: Way | undefined;
    for (const before of ways) {
      if (at - before.at > most + 1e-9 || at <= before.at) continue;
      const way = { at, cuts: before.cuts + 1, off: before.off + off, before };
      if (better(way, best)) best = way;
    }
    if (best) ways.push(best);
  }
  const last = ways.at(-1)!;
  if (last.at !== length) return undefined;
  const cuts: number[] = [];
  for (let way = last.before; way && way.at > 0; way = way.before) cuts.unshift(way.at);
  return cuts;
}

/** Strips along one axis, each divided along the other by itself; the fewer plates of both ways. */
function dividedBoxes(
  board: Box,
  boxes: readonly Box[],
  { takesWidthMm, takesDepthMm, edgeMm, backMm }: PlateSettings,
): Box[] | undefined {
  const keep = edgeMm + backMm;
  const { left: x0, bottom: y0 } = board;
  const across = (first: 'x' | 'y', most: readonly [number, number]): Box[] | undefined => {
    const size = { x: board.right - board.left, y: board.top - board.bottom };
    const second = first === 'x' ? 'y' : 'x';
    const span = (b: Box, axis: 'x' | 'y'): [number, number] =>
      axis === 'x'
        ? [b.left - x0 - keep, b.right - x0 + keep]
        : [b.bottom - y0 - keep, b.top - y0 + keep];
    const limit = { x: most[0], y: most[1] };
    const cuts = cutsAcross(
      size[first],
      limit[first],
      boxes.map((b) => span(b, first)),
    );
    if (!cuts) return undefined;
    const edges = [0, ...cuts, size[first]];
    const all: Box[] = [];
    for (let k = 0; k + 1 < edges.length; k++) {
      const [from, to] = [edges[k]!, edges[k + 1]!];
      const own = boxes.filter((b) => {
        const [low, high] = span(b, first);
        return (low + high) / 2 > from && (low + high) / 2 < to;
      });
      const inner = cutsAcross(
        size[second],
        limit[second],
        own.map((b) => span(b, second)),
      );
      if (!inner) return undefined;
      const ends = [0, ...inner, size[second]];
      for (let j = 0; j + 1 < ends.length; j++)
        all.push(
          first === 'x'
            ? { left: from, right: to, bottom: ends[j]!, top: ends[j + 1]! }
            : { left: ends[j]!, right: ends[j + 1]!, bottom: from, top: to },
        );
    }
    return all;
  };
  // A plate may lie turned on the cutter.
  const ways = (['x', 'y'] as const).flatMap((first) =>
    [[takesWidthMm, takesDepthMm] as const, [takesDepthMm, takesWidthMm] as const].flatMap(
      (most) => {
        const found = across(first, most);
        return found ? [found] : [];
      },
    ),
  );
  return ways
    .sort((a, b) => a.length - b.length)[0]
    ?.map((b) => ({
      left: x0 + b.left,
      right: x0 + b.right,
      bottom: y0 + b.bottom,
      top: y0 + b.top,
    }));
}

/** Distance from a place to the nearest wall, less than nothing within a pocket. */
function toWalls(p: Point<'bed'>, pockets: readonly PlatePocket[]): number {
  let least = Infinity;
  for (const { wall } of pockets)
    for (const { outer } of wall) {
      const { distanceMm } = nearestOnRing(outer, p);
      least = Math.min(least, inside(outer, p) ? -distanceMm : distanceMm);
    }
  return least;
}

/** Two free places for pins, as far from each other as may be; undefined where there are no two. */
function pinsOf(
  box: Box,
  pockets: readonly PlatePocket[],
  { edgeMm, pinMm, playMm }: PlateSettings,
): [Point<'bed'>, Point<'bed'>] | undefined {
  // The slot is longer than the hole by the play that plates may need of it.
  const keep = edgeMm + (pinMm + playMm) / 2 + SLOT_MM / 2;
  const inner = clearOf(box, -keep);
  if (inner.right < inner.left || inner.top < inner.bottom) return undefined;
  const steps = (from: number, to: number): number[] => {
    const n = Math.max(1, Math.floor((to - from) / STEP_MM));
    return Array.from({ length: n + 1 }, (_, k) => from + ((to - from) * k) / n);
  };
  const places = steps(inner.left, inner.right).flatMap((x) =>
    steps(inner.bottom, inner.top).map((y) => ({ x, y })),
  );
  const corners = [
    [inner.left, inner.bottom],
    [inner.right, inner.top],
    [inner.left, inner.top],
    [inner.right, inner.bottom],
  ].map(([x, y]) => {
    const off = (p: Point<'bed'>): number => Math.hypot(p.x - x!, p.y - y!);
    return [...places].sort((a, b) => off(a) - off(b)).find((p) => toWalls(p, pockets) >= keep);
  });
  const apart = (a: Point<'bed'>, b: Point<'bed'>): number => Math.hypot(a.x - b.x, a.y - b.y);
  let best: [Point<'bed'>, Point<'bed'>] | undefined;
  for (const a of corners)
    for (const b of corners)
      if (a && b && apart(a, b) > Math.max(2 * pinMm, best ? apart(...best) : 0)) best = [a, b];
  return best;
}

/** A slot is longer than a hole by this, mm: what the board may grow between its pins. */
const SLOT_MM = 1;

/**
 * A board divided into plates that the cutter takes: joints run between pockets, each plate is pinned to one base by a round hole and a
 * slot, and every place is counted from the one zero of the bed.
 *
 * @throws Refusal `plates-none` where the cutter takes the whole board, `plates-no-way` where no joint finds room, `plates-no-pin`
 */
export function platesOf(
  bed: Parameters<typeof boardBox>[0],
  pockets: readonly PlatePocket[],
  settings: PlateSettings,
  toolMm: number,
): readonly Plate[] {
  const { takesWidthMm, takesDepthMm, edgeMm, backMm, playMm } = settings;
  // The tool runs round the plate's edge.
  const takes = {
    ...settings,
    takesWidthMm: takesWidthMm - 2 * toolMm,
    takesDepthMm: takesDepthMm - 2 * toolMm,
  };
  const size = (w: number, d: number): string => `${w.toFixed(0)} x ${d.toFixed(0)} mm`;
  const boxes = pockets.map(({ wall }) => boxOf(wall.flatMap(({ outer }) => outer)));
  const board = boardBox(bed);
  const divided = dividedBoxes(board, boxes, takes);
  if (!divided)
    throw new Refusal('plates-no-way', {
      size: size(takesWidthMm, takesDepthMm),
      needMm: (2 * (edgeMm + backMm)).toFixed(1),
    });
  if (divided.length === 1)
    throw new Refusal('plates-none', {
      size: size(takesWidthMm, takesDepthMm),
      board: size(board.right - board.left, board.top - board.bottom),
    });
  return divided.map((cell): Plate => {
    const own = pockets.filter((_, k) => {
      const { left, right, bottom, top } = boxes[k]!;
      const [x, y] = [(left + right) / 2, (bottom + top) / 2];
      return x > cell.left && x < cell.right && y > cell.bottom && y < cell.top;
    });
    const back = (at: number, edge: number): number => (Math.abs(at - edge) < 1e-9 ? 0 : backMm);
    const box = {
      left: cell.left + back(cell.left, board.left),
      right: cell.right - back(cell.right, board.right),
      bottom: cell.bottom + back(cell.bottom, board.bottom),
      top: cell.top - back(cell.top, board.top),
    };
    const pins = pinsOf(box, own, settings);
    if (!pins)
      throw new Refusal('plates-no-pin', {
        size: size(box.right - box.left, box.top - box.bottom),
        needMm: (settings.pinMm + 2 * edgeMm + SLOT_MM).toFixed(1),
      });
    const corners = rectangle(box.left, box.bottom, box.right - box.left, box.top - box.bottom);
    return {
      box,
      pockets: own,
      pins,
      offMm: Math.max(...corners.map((p) => offByPlay(p, pins, playMm))),
    };
  });
}

/** A slot round `at` that runs towards another place, counter-clockwise. */
function slotRing(at: Point<'bed'>, towards: Point<'bed'>, radiusMm: number): Point<'bed'>[] {
  const a = Math.atan2(towards.y - at.y, towards.x - at.x);
  const half = SLOT_MM / 2;
  return circleRing({ x: 0, y: 0 }, radiusMm).map(({ x, y }) => {
    const u = x + (x >= 0 ? half : -half);
    return {
      x: at.x + u * Math.cos(a) - y * Math.sin(a),
      y: at.y + u * Math.sin(a) + y * Math.cos(a),
    };
  });
}

/** The board in plates as a seat: an overview on the bed with the pins of the base, and a page for each plate. */
export function plateSeat(
  bed: Pick<BedSettings, 'widthMm' | 'depthMm' | 'zero' | 'board'>,
  pockets: readonly PlatePocket[],
  s: PlateSettings,
  toolMm: number,
): SeatSheet {
  const plates = platesOf(bed, pockets, s, toolMm);
  const hole = (s.pinMm + s.playMm) / 2;
  const sheetOf = (plate: Plate, k: number): SeatSheet => {
    const { box, pins } = plate;
    // Room on the page for the tool, which runs round the plate.
    const margin = Math.ceil(toolMm) + 2;
    const [dx, dy] = [margin - box.left, margin - box.bottom];
    const [w, d] = [box.right - box.left, box.top - box.bottom];
    const on = (points: readonly Point<'bed'>[]): Point<'bed'>[] =>
      points.map(({ x, y }) => ({ x: x + dx, y: y + dy }));
    const holes = (radius: number): Point<'bed'>[][] => [
      on(circleRing(pins[0], radius)),
      on(slotRing(pins[1], pins[0], radius)),
    ];
    const ways = plate.pockets.flatMap((p) => p.ways);
    const layers: SeatLayer[] = [
      {
        name: 'pocket',
        what: 'finished walls of pockets and pin holes, and the finished edge; not to be cut along',
        closed: [
          ...plate.pockets.flatMap(({ wall }) =>
            wall.flatMap(({ outer, holes }) => [outer, ...holes].map(on)),
          ),
          ...holes(hole),
          rectangle(margin, margin, w, d),
        ],
      },
      {
        name: 'cut',
        what: "where the tool's centre goes: pockets, pin holes, and the edge of the plate last",
        closed: [
          ...ways.filter((t) => t.closed).map((t) => on(t.points)),
          ...(hole > toolMm ? holes(hole - toolMm) : []),
          rectangle(margin - toolMm, margin - toolMm, w + 2 * toolMm, d + 2 * toolMm),
        ],
        open: ways.filter((t) => !t.closed).map((t) => on(t.points)),
      },
      {
        name: 'board',
        what: 'the page; not to be cut',
        closed: [rectangle(0, 0, w + 2 * margin, d + 2 * margin)],
      },
      {
        name: 'mark',
        what: 'number of the plate; not to be cut',
        words: [
          {
            at: { x: margin + w / 2, y: margin / 2 },
            heightMm: 1.6,
            words: `plate ${k + 1} of ${plates.length}`,
          },
        ],
      },
    ];
    return {
      name: `plate ${k + 1}`,
      widthMm: w + 2 * margin,
      depthMm: d + 2 * margin,
      layers,
      section: [],
      figures: [],
      notes: [
        `Plate ${k + 1} of ${plates.length}: its lower left corner lies at ${box.left.toFixed(3)}, ${box.bottom.toFixed(3)} mm of the bed and at ${margin}, ${margin} mm of this page.`,
        `Pins of ${s.pinMm.toFixed(2)} mm: one in a round hole, one in a slot that lets the board grow.`,
      ],
      reasons: [],
    };
  };
  const reasons: Reason[] =
    hole > toolMm ? [] : [reason('plates-pin-small', { holeMm: (2 * hole).toFixed(2) })];
  const worst = Math.max(...plates.map((p) => p.offMm));
  const first = plates[0]!;
  const [a, b] = first.pins;
  const [x0, x1] = [first.box.left, Math.min(first.box.right + 40, bed.widthMm)];
  return {
    name: 'plates',
    widthMm: bed.widthMm,
    depthMm: bed.depthMm,
    layers: [
      {
        name: 'pocket',
        what: 'walls of the pockets, for the eye',
        closed: plates.flatMap((p) =>
          p.pockets.flatMap(({ wall }) => wall.flatMap(({ outer, holes }) => [outer, ...holes])),
        ),
      },
      {
        name: 'cut',
        what: 'holes of the pins, to drill through the base at just these places',
        closed: plates.flatMap((p) => p.pins.map((at) => circleRing(at, s.pinMm / 2))),
      },
      {
        name: 'plate',
        what: 'edges of the plates',
        closed: plates.map(({ box }) =>
          rectangle(box.left, box.bottom, box.right - box.left, box.top - box.bottom),
        ),
      },
      { name: 'board', what: 'the bed', closed: [rectangle(0, 0, bed.widthMm, bed.depthMm)] },
      {
        name: 'mark',
        what: 'numbers of the plates',
        words: plates.map(({ box }, k) => ({
          at: { x: (box.left + box.right) / 2, y: box.bottom + 8 },
          heightMm: 4,
          words: String(k + 1),
        })),
      },
    ],
    section: [
      tableLine(x0, x1),
      { line: 'board', closed: true, points: rectangle(x0, 0, x1 - x0, s.baseMm) },
      {
        line: 'board',
        closed: true,
        points: rectangle(first.box.left, s.baseMm, first.box.right - first.box.left, s.boardMm),
      },
      ...(x1 > first.box.right + 2 * s.backMm
        ? [
            {
              line: 'board' as const,
              closed: true,
              points: rectangle(
                first.box.right + 2 * s.backMm,
                s.baseMm,
                x1 - first.box.right - 2 * s.backMm,
                s.boardMm,
              ),
            },
          ]
        : []),
      ...[a, b].map((pin) => ({
        line: 'item' as const,
        closed: true,
        points: rectangle(pin.x - s.pinMm / 2, 0, s.pinMm, s.baseMm + s.boardMm),
      })),
    ],
    figures: [
      { name: 'Plates', mm: plates.length, count: true },
      {
        name: 'Widest plate',
        mm: Math.max(...plates.map(({ box }) => box.right - box.left)),
      },
      { name: 'Deepest plate', mm: Math.max(...plates.map(({ box }) => box.top - box.bottom)) },
      { name: 'Any place off by the play of the pins, at most', mm: worst, places: 3 },
    ],
    notes: [
      `${plates.length} plates make up the board; every place is counted from the one zero of the bed, and artwork stays one file.`,
      'Drill the base through the plates, or at the circles of layer cut; pins stand in the base and end below the face of the board.',
      'Lay every plate on both of its pins, the round hole first. Their files are named by their numbers.',
    ],
    reasons,
    parts: plates.map(sheetOf),
  };
}

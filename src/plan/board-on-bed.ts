import type { Point } from '../base/measure.ts';
import { reason, type Reason } from '../base/reason.ts';
import { circleRing, rectangle, slotRing } from '../geometry/figures.ts';
import { boxOf, ringDistance, type Box } from '../geometry/measure.ts';
import type { Ring } from '../geometry/shape.ts';
import { full, type PocketSettings } from '../pocket/pocket.ts';
import { toolRadiusMm } from '../pocket/pocket-of.ts';
import { pivotRing } from '../pocket/trails.ts';
import type { BedSettings, BoardOnBed, BoardSeat, KeepOut } from './plan.ts';

type Size = Pick<BedSettings, 'widthMm' | 'depthMm' | 'board'> & Partial<Pick<BedSettings, 'zero'>>;
type Lies = Pick<BedSettings, 'widthMm' | 'depthMm' | 'zero' | 'board'>;
type Kept = Size & Pick<BedSettings, 'marginMm' | 'wallMm'>;

/** Coordinates of a plan are kept to a nanometre. */
const nanometres = (v: number): number => Math.round(v * 1e6) / 1e6 + 0;
const rounded = (ring: Ring<'bed'>): Ring<'bed'> =>
  ring.map(({ x, y }) => ({ x: nanometres(x), y: nanometres(y) }));
const shown = (value: number): number => Math.round(value * 100) / 100 + 0;

/** What the board covers of the bed: all of it where no size is said. Bed mm. */
export function boardBox({ widthMm, depthMm, zero = 'bottom-left', board }: Size): Box {
  if (!board) return { left: 0, bottom: 0, right: widthMm, top: depthMm };
  const [x, y] = board.fromZeroMm ?? [0, 0];
  const left = zero.endsWith('left') ? x : widthMm - x - board.widthMm;
  const bottom = zero.startsWith('bottom') ? y : depthMm - y - board.depthMm;
  return { left, bottom, right: left + board.widthMm, top: bottom + board.depthMm };
}

/** The board that has this edge: its size, and where its corner lies from zero. */
export function boardFrom(
  edge: Ring<'bed'>,
  { widthMm, depthMm, zero }: Pick<BedSettings, 'widthMm' | 'depthMm' | 'zero'>,
): BoardOnBed {
  const { left, right, bottom, top } = boxOf(edge);
  const x = zero.endsWith('left') ? left : widthMm - right;
  const y = zero.startsWith('bottom') ? bottom : depthMm - top;
  return { widthMm: right - left, depthMm: top - bottom, fromZeroMm: [x, y] };
}

/** The board's own corner at zero, which a stop holds. */
export function boardCorner(bed: Lies): Point<'bed'> {
  const { left, right, bottom, top } = boardBox(bed);
  return {
    x: bed.zero.endsWith('left') ? left : right,
    y: bed.zero.startsWith('bottom') ? bottom : top,
  };
}

/** Where openings may lie: within the bed's margin and, on a board of its own size, a wall away from its edge. */
export function roomOf(bed: Kept): Box {
  const m = bed.marginMm;
  const room = { left: m, bottom: m, right: bed.widthMm - m, top: bed.depthMm - m };
  if (!bed.board) return room;
  const { left, bottom, right, top } = boardBox(bed);
  return {
    left: Math.max(room.left, left + bed.wallMm),
    bottom: Math.max(room.bottom, bottom + bed.wallMm),
    right: Math.min(room.right, right - bed.wallMm),
    top: Math.min(room.top, top - bed.wallMm),
  };
}

/** The middle of the board: of the bed where it covers that. */
export function middleOf(bed: Size): Point<'bed'> {
  const { left, right, bottom, top } = boardBox(bed);
  return { x: (left + right) / 2, y: (bottom + top) / 2 };
}

/** What a keyed board lacks at its corner at zero, along x and y: neither turned by half a turn nor turned over does it lie there again. */
export const keyOf = (bed: Size): readonly [alongMm: number, upMm: number] => {
  const { left, right, bottom, top } = boardBox(bed);
  return [Math.min(12, (right - left) / 4), Math.min(7, (top - bottom) / 4)];
};

/** The finished edge of the board, counter-clockwise, its corner at zero cut off where it is keyed. */
export function boardRing(bed: Lies & Pick<BedSettings, 'keyed'>): Ring<'bed'> {
  const { left, right, bottom, top } = boardBox(bed);
  const ring = rectangle(left, bottom, right - left, top - bottom);
  if (!bed.keyed) return rounded(ring);
  const [along, up] = keyOf(bed);
  const at = boardCorner(bed);
  const x = { x: at.x === left ? left + along : right - along, y: at.y };
  const y = { x: at.x, y: at.y === bottom ? bottom + up : top - up };
  // Counter-clockwise, the lower left and the upper right corner are come to along y.
  const cut = (at.x === left) === (at.y === bottom) ? [y, x] : [x, y];
  return rounded(
    ring.flatMap((p) => (Math.abs(p.x - at.x) + Math.abs(p.y - at.y) < 1e-9 ? cut : [p])),
  );
}

/** How far a place lies within the finished edge, mm; less than nothing beyond it. */
export function withinBoard(edge: Ring<'bed'>, { x, y }: Point<'bed'>): number {
  let least = Infinity;
  edge.forEach((a, k) => {
    const b = edge[(k + 1) % edge.length]!;
    const length = Math.hypot(b.x - a.x, b.y - a.y);
    least = Math.min(least, ((b.x - a.x) * (y - a.y) - (b.y - a.y) * (x - a.x)) / length);
  });
  return least;
}

/** A hole of the board's seat. */
export interface SeatHole {
  /** "pin 1", "slot of pin 2", "screw 3". */
  readonly what: string;
  readonly at: Point<'bed'>;
  readonly radiusMm: number;
  /** Where its finished wall stands. */
  readonly ring: Ring<'bed'>;
  /** What lies on the board round it; absent: nothing does. */
  readonly head?: Ring<'bed'>;
}

/** How far chords leave the walls of holes: as everywhere, or so little that lines and arcs stand for them, mm. */
const CHORD_MM = 0.002;
const ARC_CHORD_MM = 5e-5;

const holes = (
  seat: BoardSeat | undefined,
  insetMm: number,
  chordMm: number,
): readonly SeatHole[] => {
  if (!seat || seat.kind === 'stop') return [];
  if (seat.kind === 'screws') {
    const radiusMm = (seat.screwMm + seat.playMm) / 2;
    return seat.at.map((at, k) => ({
      what: `screw ${k + 1}`,
      at,
      radiusMm,
      ring: rounded(circleRing(at, radiusMm - insetMm, chordMm)),
      ...(seat.headMm > 0 && { head: circleRing(at, seat.headMm / 2, CHORD_MM) }),
    }));
  }
  const [a, b] = seat.at;
  const radiusMm = (seat.pinMm + seat.playMm) / 2;
  const along = Math.atan2(b.y - a.y, b.x - a.x);
  return [
    {
      what: 'pin 1',
      at: a,
      radiusMm,
      ring: rounded(circleRing(a, radiusMm - insetMm, chordMm)),
    },
    {
      what: 'slot of pin 2',
      at: b,
      radiusMm,
      ring: rounded(slotRing(b, along, seat.slotMm, radiusMm - insetMm, chordMm)),
    },
  ];
};

/** The holes of the board's seat; none where it has none. */
export const seatHoles = ({ board }: Pick<BedSettings, 'board'>): readonly SeatHole[] =>
  holes(board?.seat, 0, CHORD_MM);

/** What stands above the face of the board, or would with it gone. */
export interface Proud {
  readonly mm: number;
  readonly what: string;
  /** It stands on the table and stays there when the board is off. */
  readonly stays: boolean;
}

const PROUD: Readonly<Record<BoardSeat['kind'], Omit<Proud, 'mm'>>> = {
  stop: { what: 'The stop of the board', stays: true },
  pins: { what: 'A pin of the board', stays: true },
  screws: { what: 'A screw of the board', stays: false },
};

export const proudOf = ({ board }: Pick<BedSettings, 'board'>): Proud | undefined =>
  board?.seat && { ...PROUD[board.seat.kind], mm: board.seat.proudMm };

/** Boxes that nesting keeps half a wall away from, so that openings keep a whole one from holes and lie under no head; and the corner that is cut off. */
export function seatKeepOuts(
  bed: Lies & Pick<BedSettings, 'wallMm' | 'keyed'>,
): readonly KeepOut[] {
  if (!bed.board) return [];
  const kept = (what: string, { left, right, bottom, top }: Box, by: number): KeepOut => ({
    what,
    xMm: left - by,
    yMm: bottom - by,
    widthMm: right - left + 2 * by,
    depthMm: top - bottom + 2 * by,
  });
  const [along, up] = keyOf(bed);
  const { x, y } = boardCorner(bed);
  const key = { left: x - along, right: x + along, bottom: y - up, top: y + up };
  return [
    ...seatHoles(bed).flatMap(({ what, ring, head }) => [
      kept(what, boxOf(ring), bed.wallMm / 2),
      ...(head ? [kept(what, boxOf(head), 0)] : []),
    ]),
    ...(bed.keyed ? [kept('corner cut off', key, bed.wallMm / 2)] : []),
  ];
}

/** The two places that hold a board from turning: its pins, or the screws that are farthest from each other. Undefined where no two do. */
export function heldBy(
  seat: BoardSeat | undefined,
): readonly [Point<'bed'>, Point<'bed'>] | undefined {
  if (!seat || seat.kind === 'stop') return undefined;
  let best: readonly [Point<'bed'>, Point<'bed'>] | undefined;
  let most = 0;
  seat.at.forEach((a, k) =>
    seat.at.slice(k + 1).forEach((b) => {
      const apart = Math.hypot(b.x - a.x, b.y - a.y);
      if (apart > most) [best, most] = [[a, b], apart];
    }),
  );
  return best;
}

/**
 * How far a place of a plate may lie off along a direction by the play p of a round hole and a slot, mm; less than so, with as much
 * play in two round holes. Small angles: the hole lets the plate move by d, |d| <= p/2; the slot lets it turn by t until it meets its
 * pin, |d·n + t L| <= p/2, L from pin to pin and n across that line. A place r from the hole moves by d·u + t k along u, k = u × r turned
 * by a quarter; with t = (e - d·n)/L, |e| <= p/2, the greatest is p/2 (|u - (k/L) n| + |k|/L), and t itself no more than p/L.
 * Source: plane kinematics of a rigid body.
 *
 * @param along a unit vector
 */
export function offAlong(
  at: Point<'bed'>,
  along: Point<'bed'>,
  [hole, slot]: readonly [Point<'bed'>, Point<'bed'>],
  playMm: number,
): number {
  const [lx, ly] = [slot.x - hole.x, slot.y - hole.y];
  const apart = Math.hypot(lx, ly);
  const [nx, ny] = [-ly / apart, lx / apart];
  const k = (along.y * (at.x - hole.x) - along.x * (at.y - hole.y)) / apart;
  return (playMm / 2) * (Math.hypot(along.x - k * nx, along.y - k * ny) + Math.abs(k));
}

/** Ways that the round hole is pushed to, tried for the farthest. */
const WAYS = 720;

/**
 * How far a place of a plate may lie off by the play of its pins, mm (small angles): the round hole lets the plate move by half the
 * play any way, the slot lets it turn until it meets its pin. What is farthest lies at an end of both.
 */
export function offByPlay(
  at: Point<'bed'>,
  [hole, slot]: readonly [Point<'bed'>, Point<'bed'>],
  playMm: number,
): number {
  const [lx, ly] = [slot.x - hole.x, slot.y - hole.y];
  const apart = Math.hypot(lx, ly);
  const [x, y] = [at.x - hole.x, at.y - hole.y];
  let most = 0;
  for (let k = 0; k < WAYS; k++) {
    const a = (2 * Math.PI * k) / WAYS;
    const [dx, dy] = [(playMm / 2) * Math.cos(a), (playMm / 2) * Math.sin(a)];
    const across = (dy * lx - dx * ly) / apart;
    for (const end of [-playMm / 2, playMm / 2]) {
      const turn = (end - across) / apart;
      most = Math.max(most, Math.hypot(dx - turn * y, dy + turn * x));
    }
  }
  return most;
}

/** How far the board may lie off along x or y of the bed at any of these places by the play of its seat, mm; undefined where that is the operator's to say. */
export function seatOff(
  { board }: Pick<BedSettings, 'board'>,
  places: readonly Point<'bed'>[],
): number | undefined {
  const seat = board?.seat;
  const pair = heldBy(seat);
  if (!pair || !seat || seat.kind === 'stop') return undefined;
  return Math.max(
    0,
    ...places.flatMap((p) =>
      [
        { x: 1, y: 0 },
        { x: 0, y: 1 },
      ].map((u) => offAlong(p, u, pair, seat.playMm)),
    ),
  );
}

/** The place that stays where it is while the board grows: its round hole, the middle of its screws, its corner at zero. */
export function staysAt(bed: Lies): Point<'bed'> {
  const seat = bed.board?.seat;
  if (seat?.kind === 'pins') return seat.at[0];
  const pair = heldBy(seat);
  return pair
    ? { x: (pair[0].x + pair[1].x) / 2, y: (pair[0].y + pair[1].y) / 2 }
    : boardCorner(bed);
}

/** Where a place of the board goes when all of it grows by a share of its length: away from what stays, along the slot at the second pin. */
export function grown(bed: Lies, { x, y }: Point<'bed'>, share: number): Point<'bed'> {
  const from = staysAt(bed);
  return { x: x + share * (x - from.x), y: y + share * (y - from.y) };
}

/** What the tool does for the board itself: its holes first, its edge last. */
export interface BoardWays {
  readonly holes: readonly { readonly what: string; readonly points: Ring<'bed'> }[];
  /** As far as it lies within the page: a side on the edge of the bed is the sheet's own. */
  readonly edge: readonly (readonly Point<'bed'>[])[];
}

/** Ways of the tool round holes and edge, its middle on the side of the waste. */
export function boardWays(
  bed: Lies & Pick<BedSettings, 'keyed'>,
  { tool, ...rest }: PocketSettings,
): BoardWays {
  if (!bed.board) return { holes: [], edge: [] };
  const radius = toolRadiusMm(tool);
  const chord = full({ tool, ...rest }).corners === 'arcs' ? ARC_CHORD_MM : CHORD_MM;
  const pivot = (ring: Ring<'bed'>): Ring<'bed'> =>
    tool.kind === 'drag' && tool.offsetMm > 0
      ? rounded(
          pivotRing(ring as unknown as Ring<'blank'>, tool.offsetMm) as unknown as Ring<'bed'>,
        )
      : ring;
  const all = holes(bed.board.seat, radius, chord).filter(({ radiusMm }) => radiusMm > radius);
  return {
    holes: all.map(({ what, ring }) => ({ what, points: pivot(ring) })),
    edge: withinPage(pivot(outside(boardRing(bed), radius)), bed),
  };
}

/** A convex ring, every side moved out. */
function outside(ring: Ring<'bed'>, by: number): Ring<'bed'> {
  if (by === 0) return ring;
  const normals = ring.map((a, k) => {
    const b = ring[(k + 1) % ring.length]!;
    const d = Math.hypot(b.x - a.x, b.y - a.y);
    return { x: (b.y - a.y) / d, y: (a.x - b.x) / d };
  });
  return rounded(
    ring.map((p, k) => {
      const m = normals[(k + ring.length - 1) % ring.length]!;
      const n = normals[k]!;
      // The corner of two lines that are moved out by as much.
      const f = by / (1 + m.x * n.x + m.y * n.y);
      return { x: p.x + f * (m.x + n.x), y: p.y + f * (m.y + n.y) };
    }),
  );
}

/** What of a closed way lies within the page, as open ways; one that runs along the page's own edge does not. */
function withinPage(
  ring: Ring<'bed'>,
  { widthMm, depthMm }: Pick<BedSettings, 'widthMm' | 'depthMm'>,
): Point<'bed'>[][] {
  const ways: Point<'bed'>[][] = [];
  let way: Point<'bed'>[] = [];
  ring.forEach((a, k) => {
    const b = ring[(k + 1) % ring.length]!;
    // Liang and Barsky, ACM Transactions on Graphics 3(1), 1984.
    let [from, to] = [0, 1];
    let lies = true;
    for (const [p, q] of [
      [a.x - b.x, a.x],
      [b.x - a.x, widthMm - a.x],
      [a.y - b.y, a.y],
      [b.y - a.y, depthMm - a.y],
    ] as const) {
      if (Math.abs(p) < 1e-12) lies &&= q > 1e-9;
      else if (p < 0) from = Math.max(from, q / p);
      else to = Math.min(to, q / p);
    }
    if (!lies || to - from < 1e-12) {
      if (way.length > 1) ways.push(way);
      way = [];
      return;
    }
    const at = (t: number): Point<'bed'> => ({
      x: nanometres(a.x + t * (b.x - a.x)),
      y: nanometres(a.y + t * (b.y - a.y)),
    });
    if (from > 0 || way.length === 0) {
      if (way.length > 1) ways.push(way);
      way = [at(from)];
    }
    way.push(at(to));
    if (to < 1) {
      ways.push(way);
      way = [];
    }
  });
  if (way.length > 1) ways.push(way);
  // What ends where the first one begins goes on in it.
  const [first, last] = [ways[0], ways.at(-1)];
  if (first && last && first !== last) {
    const [p, q] = [last.at(-1)!, first[0]!];
    if (Math.hypot(p.x - q.x, p.y - q.y) < 1e-6)
      return [[...last, ...first.slice(1)], ...ways.slice(1, -1)];
  }
  return ways;
}

/** Pins whose play lets the farthest corner lie off by more than this hold no board, mm: half of a common bleed. Common practice, no source. */
export const FAR_OFF_MM = 1;

/** What is wrong with the board itself: where it lies, its holes, what the tool makes of them. */
export function boardOnBedReasons(bed: BedSettings, pocket: PocketSettings): Reason[] {
  const { board } = bed;
  if (!board) return [];
  const reasons: Reason[] = [];
  const box = boardBox(bed);
  const size = sizeWords(board);
  const beyond = Math.max(-box.left, -box.bottom, box.right - bed.widthMm, box.top - bed.depthMm);
  if (beyond > 1e-6)
    reasons.push(
      reason('board-beyond-bed', {
        size,
        bed: `${shown(bed.widthMm)} x ${shown(bed.depthMm)} mm`,
        beyondMm: shown(beyond),
      }),
    );
  const radius = toolRadiusMm(pocket.tool);
  const near = Object.entries({
    left: box.left,
    front: box.bottom,
    right: bed.widthMm - box.right,
    rear: bed.depthMm - box.top,
  }).filter(([, mm]) => mm > 1e-6 && mm < radius);
  if (near.length > 0 && beyond <= 1e-6)
    reasons.push(
      reason('board-near-page', {
        sides: near.map(([side]) => side).join(', '),
        needMm: shown(radius),
      }),
    );
  const all = seatHoles(bed);
  const edge = boardRing(bed);
  for (const { what, ring } of all) {
    const wallMm = Math.min(...ring.map((p) => withinBoard(edge, p)));
    if (wallMm <= 1e-6) reasons.push(reason('hole-off-board', { what, size }));
    else if (wallMm < bed.wallMm - 1e-6)
      reasons.push(
        reason('hole-edge-thin', { what, wallMm: shown(wallMm), leastMm: shown(bed.wallMm) }),
      );
  }
  all.forEach((a, k) =>
    all.slice(k + 1).forEach((b) => {
      if (ringDistance(a.ring, b.ring) <= 0)
        reasons.push(reason('holes-meet', { a: a.what, b: b.what }));
    }),
  );
  const { seat } = board;
  const pair = heldBy(seat);
  if (pair && seat && seat.kind !== 'stop') {
    const [a, b] = pair;
    const apartMm = Math.hypot(b.x - a.x, b.y - a.y);
    const offMm = Math.max(...edge.map((p) => offByPlay(p, pair, seat.playMm)));
    if (offMm > FAR_OFF_MM)
      reasons.push(
        reason('pins-near', {
          what: seat.kind === 'pins' ? 'pins' : 'screws',
          apartMm: shown(apartMm),
          playMm: shown(seat.playMm),
          turnDeg: ((seat.playMm / apartMm) * (180 / Math.PI)).toFixed(2),
          offMm: shown(offMm),
          limitMm: FAR_OFF_MM,
        }),
      );
  }
  if (seat?.kind === 'pins' && !pair) reasons.push(reason('pins-one-place'));
  if (seat?.kind === 'screws' && !pair)
    reasons.push(reason('screws-few', { count: seat.at.length }));
  const small = all.filter(({ radiusMm }) => radiusMm <= radius);
  if (small.length > 0)
    reasons.push(reason('board-holes-small', { holeMm: (2 * small[0]!.radiusMm).toFixed(2) }));
  return reasons;
}

/** What the board grows along its slot at the most beside what the slot has room for. */
export function slotReasons({ board }: Pick<BedSettings, 'board'>, share: number): Reason[] {
  const seat = board?.seat;
  const pair = heldBy(seat);
  if (seat?.kind !== 'pins' || !pair) return [];
  const [a, b] = pair;
  const growsMm = share * Math.hypot(b.x - a.x, b.y - a.y);
  return growsMm > (seat.slotMm + seat.playMm) / 2
    ? [
        reason('slot-short', {
          growsMm: shown(growsMm),
          slotMm: shown(seat.slotMm),
          needMm: (Math.ceil(20 * growsMm) / 10).toFixed(1),
        }),
      ]
    : [];
}

const sizeWords = ({ widthMm, depthMm }: BoardOnBed): string =>
  `${shown(widthMm)} x ${shown(depthMm)} mm`;

/** "300 x 200 mm": the board's own size, or that of the bed which it covers. */
export const boardSizeWords = (bed: Pick<BedSettings, 'widthMm' | 'depthMm' | 'board'>): string =>
  sizeWords(bed.board ?? bed);

/** Where the finished edge and the holes of a board lie on the bed, to tell one board from another; of a board that covers the bed that. */
export function boardLies(
  edge: Ring<'bed'> | undefined,
  of: readonly Pick<SeatHole, 'what' | 'at'>[],
): string {
  if (!edge) return 'covering the bed';
  const { left, right, bottom, top } = boxOf(edge);
  const from = ({ x, y }: Point<'bed'>): string => `${shown(x)}, ${shown(y)}`;
  return [
    `${sizeWords({ widthMm: right - left, depthMm: top - bottom })} from ${from({ x: left, y: bottom })}`,
    ...of.map(({ what, at }) => `${what} at ${from(at)}`),
  ].join('; ');
}

const cornerWords: Readonly<Record<BedSettings['zero'], string>> = {
  'top-left': 'rear left',
  'top-right': 'rear right',
  'bottom-left': 'front left',
  'bottom-right': 'front right',
};

/** Where the board lies and what it is seated by, a sentence each, for those who lay it; places counted from the zero corner. */
export function boardSentences(bed: Lies): string[] {
  const { board } = bed;
  if (!board) return [];
  const [x, y] = board.fromZeroMm ?? [0, 0];
  const corner = cornerWords[bed.zero];
  const where =
    x === 0 && y === 0
      ? `its ${corner} corner at zero`
      : `its ${corner} corner ${shown(x)} and ${shown(y)} mm from zero`;
  const from = (p: Point<'bed'>): string =>
    `${shown(bed.zero.endsWith('left') ? p.x : bed.widthMm - p.x)}, ${shown(bed.zero.startsWith('bottom') ? p.y : bed.depthMm - p.y)} mm`;
  const { seat } = board;
  const stands = (what: string): string[] =>
    seat && seat.proudMm > 0
      ? [`${what} ${shown(seat.proudMm)} mm above the board: mind the head.`]
      : [];
  const lies = `Board ${sizeWords(board)}, ${where}.`;
  switch (seat?.kind) {
    case undefined:
      return [lies, 'What seats it is not said: lay it to the same place every time, and hold it.'];
    case 'stop':
      return [
        lies,
        'Push it into the stop at that corner, the same two sides every time, and hold it down: a stop keeps it neither from lifting nor from sliding back.',
        ...stands('The stop stands'),
      ];
    case 'pins':
      return [
        lies,
        `Two pins of ${shown(seat.pinMm)} mm: the round hole goes over the one at ${from(seat.at[0])}, the slot over the one at ${from(seat.at[1])} from zero.`,
        ...stands('The pins stand'),
      ];
    case 'screws':
      return [
        lies,
        `${seat.at.length} ${seat.at.length === 1 ? 'screw' : 'screws'} of ${shown(seat.screwMm)} mm, at ${seat.at.map(from).join('; ')} from zero.`,
        ...stands('Their heads stand'),
      ];
  }
}

/** A board to start from where none was said: what a common bed leaves round it; common practice, no source. */
export const boardStart = (bed: Pick<BedSettings, 'widthMm' | 'depthMm'>): BoardOnBed => ({
  widthMm: Math.min(300, bed.widthMm),
  depthMm: Math.min(200, bed.depthMm),
});

/** Figures to start from: pins of 5 mm with little play, screws of 4 mm in clearance holes; common practice, no source. */
export const PINS = { pinMm: 5, playMm: 0.05, slotMm: 1, proudMm: 0 } as const;
export const SCREWS = { screwMm: 4, playMm: 0.5, headMm: 8, proudMm: 2.5 } as const;

/** A seat to start from on this bed: pins and screws a little within opposite corners of the board, as far from each other as it allows. */
export function seatStart(kind: BoardSeat['kind'], bed: Lies): BoardSeat {
  if (kind === 'stop') return { kind, proudMm: 0 };
  const { left, right, bottom, top } = boardBox(bed);
  const inset = Math.min(12, (right - left) / 4, (top - bottom) / 4);
  const { x, y } = boardCorner(bed);
  const near = {
    x: x === left ? left + inset : right - inset,
    y: y === bottom ? bottom + inset : top - inset,
  };
  const far = { x: left + right - near.x, y: bottom + top - near.y };
  // Where the board is keyed, its corner at zero is gone: the other two are as far from each other.
  const at = [
    { x: near.x, y: far.y },
    { x: far.x, y: near.y },
  ] as const;
  return kind === 'pins' ? { kind, ...PINS, at } : { kind, ...SCREWS, at };
}

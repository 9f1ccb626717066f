import { sha256 } from '@noble/hashes/sha2.js';
import { bytesToHex, utf8ToBytes } from '@noble/hashes/utils.js';
import type { Point } from '../base/measure.ts';
import { reason, type Reason } from '../base/reason.ts';
import {
  boxesApart,
  boxOf,
  mapRegion,
  nearestOnRing,
  perimeter,
  resample,
  ringDistance,
  type Box,
} from '../geometry/measure.ts';
import type { Region, Ring } from '../geometry/shape.ts';
import { wallDistance } from '../pocket/pocket-of.ts';
import type { Pocket, PocketSettings } from '../pocket/pocket.ts';
import {
  boardBox,
  boardOnBedReasons,
  boardRing,
  boardSizeWords,
  middleOf,
  roomOf,
  seatHoles,
  withinBoard,
} from './board-on-bed.ts';
import type { HeightsAnswer } from './heights.ts';
import type { BedPlan, BedSettings, KeepOut, Place, PlacedPocket } from './plan.ts';

export interface Batch {
  readonly blank: number;
  readonly pocket: Pocket;
  readonly count: number;
}

/** Coordinates of a plan are kept to a nanometre, places to a micrometre: the same digits in every file. */
const nanometres = (v: number): number => Math.round(v * 1e6) / 1e6 + 0;
const micrometres = (v: number): number => Math.round(v * 1e3) / 1e3 + 0;
/** Distances between places are rounded up, so that rounding never thins a wall. */
const roundedUp = (v: number): number => Math.ceil(v * 1e3 - 1e-6) / 1e3;

/** bed = turn · (mirror in x first, if mirrored) · blank + (x, y). */
export function bedFromBlank(place: Place): (p: Point<'blank'>) => Point<'bed'> {
  const turnRad = (place.turnDeg * Math.PI) / 180;
  const c = Math.cos(turnRad);
  const s = Math.sin(turnRad);
  return (p) => {
    const x = place.mirrored ? -p.x : p.x;
    return {
      x: nanometres(c * x - s * p.y + place.x),
      y: nanometres(s * x + c * p.y + place.y),
    };
  };
}

/**
 * A place counted from the chosen zero corner, both figures growing into the bed, mm. The only thing that the zero
 * corner changes: geometry always counts from the lower left corner.
 */
export function placeFromZero(
  { x, y }: { readonly x: number; readonly y: number },
  { widthMm, depthMm, zero }: Pick<BedSettings, 'widthMm' | 'depthMm' | 'zero'>,
): { readonly x: number; readonly y: number } {
  return {
    x: zero.endsWith('left') ? x : widthMm - x,
    y: zero.startsWith('bottom') ? y : depthMm - y,
  };
}

/** The zero corner's own place in the bed frame. */
export const zeroCorner = ({
  widthMm,
  depthMm,
  zero,
}: Pick<BedSettings, 'widthMm' | 'depthMm' | 'zero'>): Point<'bed'> => ({
  x: zero.endsWith('left') ? 0 : widthMm,
  y: zero.startsWith('bottom') ? 0 : depthMm,
});

const boxOfPocket = ({ opening }: Pocket): Box => boxOf(opening.flatMap(({ outer }) => outer));

/** The box that holds a shape and the same shape turned by half a turn about the origin. */
const bothWays = ({ left, right, bottom, top }: Box): Box => {
  const x = Math.max(right, -left);
  const y = Math.max(top, -bottom);
  return { left: -x, right: x, bottom: -y, top: y };
};

interface Shelf {
  readonly pocket: Pocket;
  readonly box: Box;
  readonly count: number;
  /** From an even place in the row to the next, and from an odd one. */
  readonly pitchX: readonly [number, number];
  /** Brick: every other shelf of a blank is moved by this. */
  readonly shiftX: number;
  readonly heightMm: number;
  /** From this shelf's place to the next one's of the same blank. */
  readonly pitchY: number;
}

/** Openings as light rings for looking for a pitch, and how far these fall short of the true ones, mm. */
function lightly({ opening }: Pocket): { rings: Ring<'blank'>[]; shortMm: number } {
  const rings = opening.map(({ outer }) => resample(outer, perimeter(outer) / 240));
  const shortMm = Math.max(
    0,
    ...opening.flatMap(({ outer }, k) => outer.map((p) => nearestOnRing(rings[k]!, p).distanceMm)),
  );
  return { rings, shortMm };
}

/** How many steps a pitch goes down before it is known to a two-hundredth of itself. */
const PITCH_STEPS = 100;

/**
 * The least distance at which shapes keep `wallMm`: down from the pitch of their boxes by steps, until the wall is too
 * thin. Shapes that interlock only farther down are not looked for.
 */
function leastPitch(fromMm: number, keeps: (pitchMm: number) => boolean): number {
  let least = fromMm;
  for (let k = 1; k < PITCH_STEPS; k++) {
    const next = (fromMm * (PITCH_STEPS - k)) / PITCH_STEPS;
    if (!keeps(next)) break;
    least = next;
  }
  const finer = least - fromMm / PITCH_STEPS / 2;
  return roundedUp(least < fromMm && keeps(finer) ? finer : least);
}

/** Rows of one blank each, the first row on top; a row holds at most `columns`. */
function shelvesOf(batches: readonly Batch[], bed: BedSettings): Shelf[] {
  const [askedX, askedY] = bed.pitchMm ?? [];
  const layout = bed.layout ?? 'rows';
  return batches.flatMap(({ pocket, count }) => {
    const own = boxOfPocket(pocket);
    const box = layout === 'head-to-tail' ? bothWays(own) : own;
    const boxX = roundedUp(own.right - own.left + bed.wallMm);
    const boxY = roundedUp(box.top - box.bottom + bed.wallMm);
    const { rings, shortMm } = layout === 'rows' ? { rings: [], shortMm: 0 } : lightly(pocket);
    type Way = 'as it lies' | 'turned';
    const apart = (dx: number, dy: number, a: Way, b: Way): boolean => {
      const [s, t] = [a === 'turned' ? -1 : 1, b === 'turned' ? -1 : 1];
      return rings.every((p) =>
        rings.every(
          (q) =>
            ringDistance<'blank'>(
              p.map(({ x, y }) => ({ x: s * x, y: s * y })),
              q.map(({ x, y }) => ({ x: dx + t * x, y: dy + t * y })),
            ) >=
            bed.wallMm + 2 * shortMm,
        ),
      );
    };
    const steps = (): [number, number] => {
      if (askedX !== undefined) return [askedX, askedX];
      if (layout !== 'head-to-tail') return [boxX, boxX];
      const from = roundedUp(box.right - box.left + bed.wallMm);
      // What interlocks one way round need not do so the other.
      const there = leastPitch(from, (p) => apart(p, 0, 'as it lies', 'turned'));
      const back = leastPitch(
        from,
        (p) =>
          apart(p, 0, 'turned', 'as it lies') && apart(there + p, 0, 'as it lies', 'as it lies'),
      );
      return [there, back];
    };
    const pitchX = steps();
    const shiftX = layout === 'brick' ? micrometres(pitchX[0] / 2) : 0;
    const pitchY =
      askedY ??
      (layout === 'brick'
        ? leastPitch(boxY, (p) =>
            [
              [shiftX, p],
              [shiftX - pitchX[0], p],
              [0, 2 * p],
            ].every(([dx, dy]) => apart(dx!, -dy!, 'as it lies', 'as it lies')),
          )
        : boxY);
    const shelves: Shelf[] = [];
    for (let placed = 0; placed < count; placed += bed.columns) {
      shelves.push({
        pocket,
        box,
        count: Math.min(bed.columns, count - placed),
        pitchX,
        shiftX: shelves.length % 2 === 1 ? shiftX : 0,
        heightMm: box.top - box.bottom,
        pitchY,
      });
    }
    return shelves;
  });
}

/** Half a micrometre more than is asked for, so that rounding a place never leaves less, mm. */
const ROUND_MM = 5e-4;
/** Nearest to a place between two others; where there is no between, the place itself. */
const between = (at: number, low: number, high: number): number =>
  low + ROUND_MM > high - ROUND_MM ? at : Math.min(Math.max(at, low + ROUND_MM), high - ROUND_MM);

/** Places of all pockets, row by row from the upper left, in the middle of the board; of one of its own size as near to it as the margin allows. */
function placesOf(shelves: readonly Shelf[], bed: BedSettings): { pocket: Pocket; place: Place }[] {
  const headToTail = bed.layout === 'head-to-tail';
  const middle = middleOf(bed);
  const room = roomOf(bed);
  // Height of each shelf's centroid line, the first at 0, downward.
  const lines: number[] = [];
  shelves.forEach((shelf, k) => {
    const before = shelves[k - 1];
    if (!before) lines.push(0);
    else if (before.pocket === shelf.pocket) lines.push(lines[k - 1]! - shelf.pitchY);
    else {
      lines.push(lines[k - 1]! - roundedUp(shelf.box.top + bed.wallMm - before.box.bottom));
    }
  });
  const top = Math.max(...shelves.map((s, k) => lines[k]! + s.box.top));
  const bottom = Math.min(...shelves.map((s, k) => lines[k]! + s.box.bottom));
  const up = middle.y - (top + bottom) / 2;
  const lift = micrometres(bed.board ? between(up, room.bottom - bottom, room.top - top) : up);
  return shelves.flatMap(({ pocket, box, count, pitchX, shiftX }, k) => {
    // A short last row of a blank stays under the row above it.
    const own = shelves.filter((s) => s.pocket === pocket);
    const full = Math.max(...own.map((s) => s.count));
    const along = (i: number): number =>
      Math.ceil(i / 2) * pitchX[0] + Math.floor(i / 2) * pitchX[1];
    const widest = along(full - 1) + Math.max(...own.map((s) => s.shiftX));
    const across = middle.x - (widest + box.right + box.left) / 2;
    const left = micrometres(
      bed.board ? between(across, room.left - box.left, room.right - box.right - widest) : across,
    );
    return Array.from({ length: count }, (_, i) => ({
      pocket,
      place: {
        x: micrometres(left + shiftX + along(i)),
        y: micrometres(lines[k]! + lift),
        turnDeg: headToTail && i % 2 === 1 ? 180 : 0,
        mirrored: false,
      },
    }));
  });
}

/** How many pockets of one size bed and board take inside their margins, in rows and columns at the least pitch. */
function capacity(batches: readonly Batch[], bed: BedSettings): number {
  const { box, pitchX, pitchY } = shelvesOf(batches.slice(0, 1), bed)[0]!;
  const { left, right, bottom, top } = roomOf(bed);
  const along = (size: number, room: number, pitch: number): number =>
    size > room ? 0 : Math.floor((room - size) / pitch + 1e-9) + 1;
  return (
    along(box.right - box.left, right - left, pitchX[0]) *
    along(box.top - box.bottom, top - bottom, pitchY)
  );
}

/**
 * Lays pockets on the bed: each blank in rows of `bed.columns`, at the pitch given or, without one, the least that
 * keeps `bed.wallMm` between the pockets' boxes; different blanks in rows below each other; all of it centred.
 * What is wrong with the plan is in its reasons; a `refuse` among them shuts the release.
 */
export function planBed(
  batches: readonly Batch[],
  pocketSettings: PocketSettings,
  bed: BedSettings,
  job: { readonly number: string; readonly name: string },
  high?: HeightsAnswer,
): BedPlan {
  const wanted = batches.filter(({ count }) => count > 0);
  const places =
    bed.layout === 'free'
      ? (bed.places ?? []).flatMap(({ blank, ...place }) => {
          const batch = wanted.find((b) => b.blank === blank);
          return batch ? [{ pocket: batch.pocket, place }] : [];
        })
      : wanted.length === 0
        ? []
        : placesOf(shelvesOf(wanted, bed), bed);
  const pockets = places.map(({ pocket, place }, k) => placedPocket(String(k + 1), pocket, place));
  const checks =
    pockets.length === 0
      ? { reasons: [reason('plan-empty')], troubled: [] }
      : planChecks(pockets, wanted, bed);
  const reasons = [
    ...once(wanted.flatMap(({ pocket }) => pocket.reasons)),
    ...boardOnBedReasons(bed, pocketSettings),
    ...checks.reasons,
    ...(high?.reasons ?? []),
  ];
  const plan = {
    jobNumber: job.number,
    jobName: job.name,
    bed,
    pocketSettings,
    pockets,
    ...(high?.heights && { heights: high.heights }),
  };
  return { ...plan, troubled: checks.troubled, digest: digestOf(plan), reasons };
}

/**
 * A pocket at its place. Its rings are computed when they are first asked for: a bed of fifty pockets is laid out in the
 * page without them, and drawn from the blanks' own pockets.
 */
export function placedPocket(id: string, pocket: Pocket, place: Place): PlacedPocket {
  const move = bedFromBlank(place);
  const all = (regions: readonly Region<'blank'>[]): Region<'bed'>[] =>
    regions.map((region) => mapRegion(region, move, place.mirrored));
  const { outlineId } = pocket;
  return lazily<PlacedPocket, 'id' | 'outlineId' | 'place'>(
    { id, outlineId, place },
    {
      wall: () => all(pocket.wall),
      cut: () => all(pocket.cut),
      print: () => mapRegion(pocket.print, move, place.mirrored),
      bleed: () => all(pocket.bleed),
      safe: () => all(pocket.safe),
      trails: () =>
        pocket.trails.map(({ closed, points }) => ({ closed, points: points.map(move) })),
      relief: () => pocket.relief.map(([a, b]) => [move(a), move(b)] as const),
      notches: () => all(pocket.notches),
      mouth: () => all(pocket.mouth),
      eject: () => all(pocket.eject),
      opening: () => all(pocket.opening),
    },
  );
}

/** An object some of whose entries are made when they are first read; to others they are entries like any. */
function lazily<T extends object, K extends keyof T>(
  known: Pick<T, K>,
  made: { readonly [key in Exclude<keyof T, K>]: () => T[key] },
): T {
  const object = { ...known };
  for (const [key, make] of Object.entries<() => unknown>(made))
    Object.defineProperty(object, key, {
      enumerable: true,
      configurable: true,
      get() {
        const value = make();
        Object.defineProperty(object, key, { value, enumerable: true });
        return value;
      },
    });
  return object as T;
}

/** A plan whose pockets' rings were left out: they follow from the blanks' pockets and the places. */
export type LightPlan = Omit<BedPlan, 'pockets'> & {
  readonly pockets: readonly Pick<PlacedPocket, 'id' | 'outlineId' | 'place'>[];
};

export const lightPlan = (plan: BedPlan): LightPlan => ({
  ...plan,
  pockets: plan.pockets.map(({ id, outlineId, place }) => ({ id, outlineId, place })),
});

/** The whole plan again. */
export function wholePlan(light: LightPlan, pockets: readonly Pocket[]): BedPlan {
  const of = new Map(pockets.map((pocket) => [pocket.outlineId, pocket]));
  return {
    ...light,
    pockets: light.pockets.map(({ id, outlineId, place }) =>
      placedPocket(id, of.get(outlineId)!, place),
    ),
  };
}

/** The four corners of a place to keep out of. */
export const keepOutRing = ({ xMm, yMm, widthMm, depthMm }: KeepOut): Ring<'bed'> => [
  { x: xMm, y: yMm },
  { x: xMm + widthMm, y: yMm },
  { x: xMm + widthMm, y: yMm + depthMm },
  { x: xMm, y: yMm + depthMm },
];

/** What concerns the board is said with every blank, and once in the plan. */
const once = (reasons: readonly Reason[]): Reason[] =>
  reasons.filter((r, k) => reasons.findIndex(({ message }) => message === r.message) === k);

const shown = (value: number): number => Math.round(value * 100) / 100;

/** What is wrong with where pockets lie on a bed, and which of them. */
export const checksOf = (
  pockets: readonly PlacedPocket[],
  bed: BedSettings,
): ReturnType<typeof planChecks> => planChecks(pockets, [], bed);

function planChecks(
  pockets: readonly PlacedPocket[],
  batches: readonly Batch[],
  bed: BedSettings,
): { readonly reasons: Reason[]; readonly troubled: readonly string[] } {
  const reasons: Reason[] = [];
  const troubled = new Set<string>();
  const free = bed.layout === 'free' ? 1 : 0;
  const boxes = pockets.map(({ opening }) => boxOf(opening.flatMap(({ outer }) => outer)));
  const sticksOut = (box: Box): number =>
    Math.max(-box.left, -box.bottom, box.right - bed.widthMm, box.top - bed.depthMm);

  const beyond = boxes.map(sticksOut);
  const outside = beyond.filter((mm) => mm > 1e-6).length;
  beyond.forEach((mm, k) => {
    if (mm > 1e-6) troubled.add(pockets[k]!.id);
  });
  const size = `${shown(bed.widthMm)} x ${shown(bed.depthMm)} mm`;
  if (outside > 0) {
    const fits = batches.length === 1 && bed.layout !== 'free' ? capacity(batches, bed) : undefined;
    reasons.push(
      fits === undefined || fits >= pockets.length
        ? reason('bed-too-small', { size, outside, beyondMm: shown(Math.max(...beyond)) })
        : reason('bed-holds-fewer', { size, asked: pockets.length, fits, outside }),
    );
  } else {
    const edge = Math.min(...beyond.map((mm) => -mm));
    if (edge < bed.marginMm - 1e-6) {
      reasons.push(reason('margin-short', { edgeMm: shown(edge), marginMm: shown(bed.marginMm) }));
    }
  }

  if (bed.board) {
    const { reasons: more, troubled: ids } = onBoard(pockets, boxes, bed);
    reasons.push(...more);
    ids.forEach((id) => troubled.add(id));
  }

  for (const { id, opening } of pockets)
    for (const place of bed.keepOuts ?? []) {
      const ring = keepOutRing(place);
      if (opening.some(({ outer }) => ringDistance(outer, ring) <= 0)) {
        reasons.push(reason('on-keep-out', { pocket: id, what: place.what }));
        troubled.add(id);
      }
    }

  // Neighbours repeat: what lies alike is measured once.
  const known = new Map<string, number>();
  const between = (a: PlacedPocket, b: PlacedPocket): number => {
    const [p, q] = [a.place, b.place];
    const key = [
      a.outlineId,
      b.outlineId,
      micrometres(q.x - p.x),
      micrometres(q.y - p.y),
      p.turnDeg,
      q.turnDeg,
      p.mirrored,
      q.mirrored,
    ].join();
    const mm = known.get(key) ?? wallDistance(a.opening, b.opening);
    known.set(key, mm);
    return mm;
  };
  let thinnest: { mm: number; a: string; b: string } | undefined;
  for (let i = 0; i < pockets.length; i++) {
    for (let j = i + 1; j < pockets.length; j++) {
      const [p, q] = [boxes[i]!, boxes[j]!];
      if (boxesApart(p, q) >= bed.wallMm) continue;
      const mm = between(pockets[i]!, pockets[j]!);
      if (mm < bed.wallMm - 1e-6) {
        troubled.add(pockets[i]!.id);
        troubled.add(pockets[j]!.id);
      }
      if (!thinnest || mm < thinnest.mm) {
        thinnest = { mm, a: pockets[i]!.id, b: pockets[j]!.id };
      }
    }
  }
  if (thinnest && thinnest.mm < bed.wallMm - 1e-6) {
    const facts = {
      a: thinnest.a,
      b: thinnest.b,
      wallMm: shown(thinnest.mm),
      leastMm: shown(bed.wallMm),
      free,
    };
    reasons.push(reason(thinnest.mm <= 0 ? 'pockets-overlap' : 'wall-thin', facts));
  }
  return { reasons, troubled: [...troubled] };
}

/** Walls to the edge and to the holes of a board of its own size, and the bleed that the print area cuts off. */
function onBoard(
  pockets: readonly PlacedPocket[],
  boxes: readonly Box[],
  bed: BedSettings,
): { readonly reasons: Reason[]; readonly troubled: readonly string[] } {
  const reasons: Reason[] = [];
  const troubled: string[] = [];
  const edge = boardRing(bed);
  const board = boardBox(bed);
  const holes = seatHoles(bed);
  const leastMm = bed.wallMm;
  let beyond = { count: 0, mm: 0 };
  let thin: { readonly pocket: string; readonly mm: number } | undefined;
  let unprinted: { readonly pocket: string; readonly mm: number } | undefined;
  let thinHole: { readonly pocket: string; readonly what: string; readonly mm: number } | undefined;
  pockets.forEach((p, k) => {
    const { id, opening } = p;
    const box = boxes[k]!;
    const toSides = Math.min(
      box.left - board.left,
      box.bottom - board.bottom,
      board.right - box.right,
      board.top - box.top,
    );
    // Only the corner that is cut off is nearer than the sides of a box.
    const mm = bed.keyed
      ? Math.min(...opening.flatMap(({ outer }) => outer.map((q) => withinBoard(edge, q))))
      : toSides;
    if (mm < leastMm - 1e-6) troubled.push(id);
    if (mm < -1e-6) beyond = { count: beyond.count + 1, mm: Math.max(beyond.mm, -mm) };
    else if (mm < leastMm - 1e-6 && !(thin && thin.mm <= mm)) thin = { pocket: id, mm };
    for (const { what, ring, head } of holes) {
      const near = boxOf(head ? [...ring, ...head] : ring);
      if (boxesApart(box, near) >= leastMm) continue;
      const to = (of: Ring<'bed'>): number =>
        Math.min(...opening.map(({ outer }) => ringDistance(outer, of)));
      const wallMm = to(ring);
      const under = head !== undefined && to(head) <= 0;
      if (wallMm >= leastMm - 1e-6 && !under) continue;
      troubled.push(id);
      if (wallMm <= 0 || under)
        reasons.push(reason('hole-meets-pocket', { pocket: id, what, head: under ? 1 : 0 }));
      else if (!(thinHole && thinHole.mm <= wallMm)) thinHole = { pocket: id, what, mm: wallMm };
    }
    const bleed = boxOf((p.bleed.length > 0 ? p.bleed : [p.print]).flatMap(({ outer }) => outer));
    const off = Math.max(
      -bleed.left,
      -bleed.bottom,
      bleed.right - bed.widthMm,
      bleed.top - bed.depthMm,
    );
    if (off > 1e-6 && mm >= -1e-6 && !(unprinted && unprinted.mm >= off))
      unprinted = { pocket: id, mm: off };
  });
  const size = boardSizeWords(bed);
  if (beyond.count > 0)
    reasons.push(
      reason('board-too-small', { size, outside: beyond.count, beyondMm: shown(beyond.mm) }),
    );
  if (thin)
    reasons.push(
      reason('board-edge-thin', {
        pocket: thin.pocket,
        wallMm: shown(thin.mm),
        leastMm: shown(leastMm),
      }),
    );
  if (thinHole)
    reasons.push(
      reason('hole-wall-thin', {
        pocket: thinHole.pocket,
        what: thinHole.what,
        wallMm: shown(thinHole.mm),
        leastMm: shown(leastMm),
      }),
    );
  if (unprinted)
    reasons.push(reason('off-print-area', { pocket: unprinted.pocket, byMm: shown(unprinted.mm) }));
  return { reasons, troubled };
}

/** SHA-256 (FIPS 180-4) of the plan's canonical text, as 64 hex digits; the same in a browser and in a terminal. */
export const digestOf = (plan: Omit<BedPlan, 'digest' | 'reasons'>): string =>
  bytesToHex(sha256(utf8ToBytes(canonicalText(plan))));

/** The plan as JSON with the keys of every object in order and rings as x, y, x, y ...: the same plan is the same text. */
export function canonicalText(plan: Omit<BedPlan, 'digest' | 'reasons'>): string {
  const rings = (regions: readonly Region<'bed'>[]): number[][] =>
    regions.flatMap(({ outer, holes }) =>
      [outer, ...holes].map((ring) => ring.flatMap(({ x, y }) => [x, y])),
    );
  const value = {
    ...plan,
    usage: undefined,
    troubled: undefined,
    pockets: plan.pockets.map((p) => ({
      ...p,
      wall: rings(p.wall),
      cut: rings(p.cut),
      print: rings([p.print]),
      bleed: rings(p.bleed),
      safe: rings(p.safe),
      trails: p.trails.map(({ closed, points }) => [
        closed ? 1 : 0,
        ...points.flatMap(({ x, y }) => [x, y]),
      ]),
      relief: p.relief.map(([a, b]) => [a.x, a.y, b.x, b.y]),
      notches: rings(p.notches),
      mouth: p.mouth.length > 0 ? rings(p.mouth) : undefined,
      eject: rings(p.eject),
      opening: undefined,
    })),
  };
  return JSON.stringify(sorted(value));
}

function sorted(value: unknown): unknown {
  if (Array.isArray(value)) return typeof value[0] === 'number' ? value : value.map(sorted);
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(
    Object.entries(value)
      .sort(([a], [b]) => (a < b ? -1 : a > b ? 1 : 0))
      .map(([key, v]) => [key, sorted(v)]),
  );
}

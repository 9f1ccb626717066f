import { reason, Refusal, type Reason } from '../base/reason.ts';
import type { Point } from '../base/measure.ts';
import { boxOf, mapRegion, type Box } from '../geometry/measure.ts';
import type { Region, Ring } from '../geometry/shape.ts';
import { placeFromZero, zeroCorner } from '../plan/plan-bed.ts';
import type { BedSettings, FreePlace } from '../plan/plan.ts';
import type { Pocket } from '../pocket/pocket.ts';
import { rectangle, tableLine, type SeatLayer, type SeatSheet } from './seat.ts';

/** A carrier plate with slots that are all alike, for inserts with one pocket each. */
export interface InsertSettings {
  /** An insert, finished. */
  readonly insertWidthMm: number;
  readonly insertDepthMm: number;
  /** Slot less insert, across and in depth alike. */
  readonly playMm: number;
  readonly rows: number;
  readonly columns: number;
  /** Wall between slots, and from zero to the first of them. */
  readonly betweenMm: number;
  readonly edgeMm: number;
  /** Cut off the corner nearest to zero, so that an insert goes in one way only. */
  readonly keyMm: number;
  /** Board of carrier and inserts, and the base below. */
  readonly boardMm: number;
  readonly baseMm: number;
}

/** To start from; common practice, no source. */
export const INSERTS: InsertSettings = {
  insertWidthMm: 120,
  insertDepthMm: 200,
  playMm: 0.1,
  rows: 1,
  columns: 3,
  betweenMm: 8,
  edgeMm: 15,
  keyMm: 8,
  boardMm: 5,
  baseMm: 3,
};

/** A pocket that is kept as an insert. Its frame: middle of the insert at 0, 0, x right, y up, mm. */
export interface Insert {
  readonly name: string;
  /** Day it was kept, ISO 8601. */
  readonly on: string;
  /** The job and blank that it was made from. */
  readonly job: string;
  readonly blank: number;
  /** Where the blank's centroid lies in it. */
  readonly at: readonly [number, number];
  readonly wall: readonly Region<'blank'>[];
  readonly ways: readonly {
    readonly closed: boolean;
    readonly points: readonly Point<'blank'>[];
  }[];
  readonly print: Region<'blank'>;
  readonly thicknessMm: number;
}

/** Inserts that are kept, and which lies in which slot, by the slot's number from 1. */
export interface InsertLibrary {
  readonly kept: readonly Insert[];
  readonly slots: Readonly<Record<string, string>>;
}
export const NO_INSERTS: InsertLibrary = { kept: [], slots: {} };

/** Least material between a pocket and the edge of its insert, mm. */
const EDGE_MM = 3;

/**
 * A blank's pocket as an insert, its box in the middle.
 *
 * @throws Refusal `insert-small` where the insert has no room for it
 */
export function insertOf(
  named: Pick<Insert, 'name' | 'on' | 'job' | 'blank' | 'thicknessMm'>,
  { wall, trails, relief, eject, print, opening }: Pocket,
  s: InsertSettings,
): Insert {
  const box = boxOf(opening.flatMap(({ outer }) => outer));
  const [w, d] = [box.right - box.left + 2 * EDGE_MM, box.top - box.bottom + 2 * EDGE_MM];
  if (w > s.insertWidthMm || d > s.insertDepthMm)
    throw new Refusal('insert-small', { needs: `${w.toFixed(1)} x ${d.toFixed(1)} mm` });
  const at = [0 - (box.left + box.right) / 2, 0 - (box.bottom + box.top) / 2] as const;
  const on = ({ x, y }: Point<'blank'>): Point<'blank'> => ({ x: x + at[0], y: y + at[1] });
  const region = (r: Region<'blank'>): Region<'blank'> => mapRegion(r, on);
  return {
    ...named,
    at,
    wall: wall.map(region),
    ways: [
      ...relief.map((points) => ({ closed: false, points: points.map(on) })),
      ...eject.map(({ outer }) => ({ closed: true, points: outer.map(on) })),
      ...trails.map(({ closed, points }) => ({ closed, points: points.map(on) })),
    ],
    print: region(print),
  };
}

/** Middles of the slots on the bed, counted from zero row by row. */
export function slotsOf(
  s: InsertSettings,
  bed: Pick<BedSettings, 'widthMm' | 'depthMm' | 'zero'>,
): readonly Point<'bed'>[] {
  const [w, d] = [s.insertWidthMm + s.playMm, s.insertDepthMm + s.playMm];
  return Array.from({ length: s.rows * s.columns }, (_, k) => {
    const [row, column] = [Math.floor(k / s.columns), k % s.columns];
    return placeFromZero(
      {
        x: s.edgeMm + w / 2 + column * (w + s.betweenMm),
        y: s.edgeMm + d / 2 + row * (d + s.betweenMm),
      },
      bed,
    );
  });
}

/** The insert that lies in each slot; undefined where none does. */
export const inSlots = (
  { rows, columns }: InsertSettings,
  { kept, slots }: InsertLibrary,
): readonly (Insert | undefined)[] =>
  Array.from({ length: rows * columns }, (_, k) => kept.find(({ name }) => name === slots[k + 1]));

/** Where a job's own blanks lie by their slots: what is printed on them follows. */
export const placesInSlots = (
  s: InsertSettings,
  bed: Pick<BedSettings, 'widthMm' | 'depthMm' | 'zero'>,
  library: InsertLibrary,
  job: string,
): readonly FreePlace[] => {
  const slots = slotsOf(s, bed);
  return inSlots(s, library).flatMap((insert, k) =>
    insert?.job === job
      ? [
          {
            blank: insert.blank,
            x: slots[k]!.x + insert.at[0],
            y: slots[k]!.y + insert.at[1],
            turnDeg: 0,
            mirrored: false,
          },
        ]
      : [],
  );
};

/** An insert's edge grown by so much: a rectangle with the corner towards zero cut off, counter-clockwise. */
function edgeRing(
  s: InsertSettings,
  bed: Pick<BedSettings, 'widthMm' | 'depthMm' | 'zero'>,
  growMm: number,
): Ring<'bed'> {
  const [w, d] = [s.insertWidthMm / 2 + growMm, s.insertDepthMm / 2 + growMm];
  const zero = zeroCorner(bed);
  const [sx, sy] = [zero.x === 0 ? -1 : 1, zero.y === 0 ? -1 : 1];
  // A line across the corner keeps its distance: what is cut off grows by (2 - √2) of it.
  const key = s.keyMm + growMm * (2 - Math.SQRT2);
  const corners = rectangle(-w, -d, 2 * w, 2 * d);
  if (s.keyMm <= 0) return corners;
  return corners.flatMap((p) => {
    if (Math.sign(p.x) !== sx || Math.sign(p.y) !== sy) return [p];
    const along = { x: p.x - sx * key, y: p.y };
    const up = { x: p.x, y: p.y - sy * key };
    // In the order that the ring runs.
    return sx * sy > 0 ? [up, along] : [along, up];
  });
}

const moved = (points: readonly Point<'blank' | 'bed'>[], by: Point<'bed'>): Point<'bed'>[] =>
  points.map(({ x, y }) => ({ x: x + by.x, y: y + by.y }));
const ringsOf = (regions: readonly Region<'blank'>[]): Ring<'blank'>[] =>
  regions.flatMap(({ outer, holes }) => [outer, ...holes]);

/** The carrier on the bed with what lies in its slots, and a page for each insert that is kept. */
export function insertSeat(
  bed: Pick<BedSettings, 'widthMm' | 'depthMm' | 'zero'>,
  s: InsertSettings,
  library: InsertLibrary,
  toolMm: number,
): SeatSheet {
  const slots = slotsOf(s, bed);
  const lying = inSlots(s, library);
  const slot = edgeRing(s, bed, s.playMm / 2);
  const reasons: Reason[] = [];
  const reach: Box = boxOf(slots.flatMap((at) => moved(slot, at)));
  if (reach.left < 0 || reach.bottom < 0 || reach.right > bed.widthMm || reach.top > bed.depthMm)
    reasons.push(
      reason('inserts-beyond', {
        needs: `${(reach.right - reach.left + s.edgeMm).toFixed(1)} x ${(reach.top - reach.bottom + s.edgeMm).toFixed(1)} mm`,
      }),
    );
  const used = lying.flatMap((i) => i ?? []);
  // Faces stand on the base, or on a packer that brings them level with the thickest.
  const thickest = Math.max(0, ...used.map((i) => i.thicknessMm));
  const once = [...new Set(used)];
  const filled = lying.flatMap((insert, k) => (insert ? [{ insert, at: slots[k]! }] : []));
  const sheetOf = (insert: Insert): SeatSheet => {
    const margin = Math.ceil(toolMm) + 2;
    const [w, d] = [s.insertWidthMm + 2 * margin, s.insertDepthMm + 2 * margin];
    const middle = { x: w / 2, y: d / 2 };
    const layers: SeatLayer[] = [
      {
        name: 'pocket',
        what: 'finished walls of pocket and insert; not to be cut along',
        closed: [
          ...ringsOf(insert.wall).map((r) => moved(r, middle)),
          moved(edgeRing(s, bed, 0), middle),
        ],
      },
      {
        name: 'cut',
        what: "where the tool's centre goes: the pocket, and the edge of the insert last",
        closed: [
          ...insert.ways.filter((t) => t.closed).map((t) => moved(t.points, middle)),
          moved(edgeRing(s, bed, toolMm), middle),
        ],
        open: insert.ways.filter((t) => !t.closed).map((t) => moved(t.points, middle)),
      },
      { name: 'board', what: 'the page; not to be cut', closed: [rectangle(0, 0, w, d)] },
      {
        name: 'mark',
        what: 'its name; not to be cut',
        words: [{ at: { x: w / 2, y: margin / 2 }, heightMm: 1.6, words: insert.name }],
      },
    ];
    return {
      name: `insert ${insert.name}`,
      widthMm: w,
      depthMm: d,
      layers,
      section: [],
      figures: [],
      notes: [
        `Insert ${insert.name}, of job ${insert.job}, blank ${insert.blank}, kept on ${insert.on}: the blank's centre lies at ${(middle.x + insert.at[0]).toFixed(3)}, ${(middle.y + insert.at[1]).toFixed(3)} mm of this page.`,
      ],
      reasons: [],
    };
  };
  const wide = s.insertWidthMm;
  const high = s.baseMm + s.boardMm;
  const shown = used[0];
  const own = shown && boxOf(shown.print.outer);
  const hole = shown && boxOf(shown.wall.flatMap(({ outer }) => outer));
  const packerOf = (i: Insert): number => thickest - i.thicknessMm;
  const carrier = s.betweenMm + 10;
  return {
    name: 'carrier',
    widthMm: bed.widthMm,
    depthMm: bed.depthMm,
    layers: [
      { name: 'slot', what: 'slots, finished', closed: slots.map((at) => moved(slot, at)) },
      {
        name: 'cut',
        what: "where the tool's centre goes in the slots",
        closed: slots.map((at) => moved(edgeRing(s, bed, s.playMm / 2 - toolMm), at)),
      },
      {
        name: 'pocket',
        what: 'walls of the inserts that lie there; not to be cut in the carrier',
        closed: filled.flatMap(({ insert, at }) => ringsOf(insert.wall).map((r) => moved(r, at))),
      },
      {
        name: 'print',
        what: 'faces to be printed, as the inserts lie',
        closed: filled.flatMap(({ insert, at }) =>
          ringsOf([insert.print]).map((r) => moved(r, at)),
        ),
      },
      { name: 'board', what: 'the bed', closed: [rectangle(0, 0, bed.widthMm, bed.depthMm)] },
      {
        name: 'mark',
        what: 'numbers of the slots; not to be cut',
        words: slots.map((at, k) => ({
          // In the wall below its slot, where no pocket is.
          at: {
            x: at.x,
            y: Math.max(3, at.y - (s.insertDepthMm + s.playMm) / 2 - s.betweenMm / 2),
          },
          heightMm: Math.min(4, 0.6 * s.betweenMm),
          words: String(k + 1),
        })),
      },
    ],
    section: [
      tableLine(-wide / 2 - carrier - 5, wide / 2 + carrier + 5),
      {
        line: 'board',
        closed: true,
        points: rectangle(-wide / 2 - carrier, 0, wide + 2 * carrier, s.baseMm),
      },
      ...[-wide / 2 - s.playMm / 2 - carrier, wide / 2 + s.playMm / 2].map((x) => ({
        line: 'board' as const,
        closed: true,
        points: rectangle(x, s.baseMm, carrier, s.boardMm),
      })),
      ...(hole && own && shown
        ? [
            {
              line: 'board' as const,
              closed: true,
              points: rectangle(-wide / 2, s.baseMm, hole.left + wide / 2, s.boardMm),
            },
            {
              line: 'board' as const,
              closed: true,
              points: rectangle(hole.right, s.baseMm, wide / 2 - hole.right, s.boardMm),
            },
            {
              line: 'item' as const,
              closed: true,
              points: rectangle(
                own.left,
                s.baseMm + packerOf(shown),
                own.right - own.left,
                shown.thicknessMm,
              ),
            },
            {
              line: 'print' as const,
              closed: false,
              points: [
                { x: own.left, y: s.baseMm + thickest },
                { x: own.right, y: s.baseMm + thickest },
              ],
            },
          ]
        : [
            {
              line: 'item' as const,
              closed: true,
              points: rectangle(-wide / 2, s.baseMm, wide, s.boardMm),
            },
          ]),
    ],
    figures: [
      { name: 'Slots', mm: slots.length, count: true },
      { name: 'Slot across', mm: s.insertWidthMm + s.playMm },
      { name: 'Slot in depth', mm: s.insertDepthMm + s.playMm },
      ...(once.length > 0
        ? [
            { name: 'All faces over the table', mm: s.baseMm + thickest },
            { name: 'Faces over the carrier', mm: s.baseMm + thickest - high },
            ...once.map((i) => ({ name: `Packer under ${i.name}`, mm: packerOf(i) })),
          ]
        : []),
    ],
    notes: [
      `Every insert is ${s.insertWidthMm.toFixed(2)} x ${s.insertDepthMm.toFixed(2)} mm and goes into any slot, one way only: the corner towards zero is cut off.`,
      filled.length > 0
        ? `In the slots: ${lying.map((i, k) => `${k + 1} ${i?.name ?? 'empty'}`).join(', ')}. Layer print is for this filling.`
        : 'No slot is filled yet.',
    ],
    reasons,
    parts: once.map(sheetOf),
  };
}

const isNumber = (v: unknown): boolean => typeof v === 'number' && Number.isFinite(v);
const isObject = (v: unknown): v is Record<string, unknown> => typeof v === 'object' && v !== null;
const isLine = (points: unknown): boolean =>
  Array.isArray(points) && points.every((p) => isObject(p) && isNumber(p.x) && isNumber(p.y));
const isRegion = (r: unknown): boolean =>
  isObject(r) && isLine(r.outer) && Array.isArray(r.holes) && r.holes.every(isLine);

/** Whether data of a job file are such a library. */
export const isLibrary = (l: unknown): l is InsertLibrary =>
  isObject(l) &&
  isObject(l.slots) &&
  Object.values(l.slots).every((name) => typeof name === 'string') &&
  Array.isArray(l.kept) &&
  l.kept.every(
    (i) =>
      isObject(i) &&
      [i.name, i.on, i.job].every((w) => typeof w === 'string') &&
      [i.blank, i.thicknessMm].every(isNumber) &&
      Array.isArray(i.at) &&
      i.at.length === 2 &&
      i.at.every(isNumber) &&
      Array.isArray(i.wall) &&
      i.wall.every(isRegion) &&
      isRegion(i.print) &&
      Array.isArray(i.ways) &&
      i.ways.every((w) => isObject(w) && typeof w.closed === 'boolean' && isLine(w.points)),
  );

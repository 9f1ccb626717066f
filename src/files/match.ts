import { Matrix, solve } from 'ml-matrix';
import type { Correction } from '../after/first-print.ts';
import { MM_PER_POINT, type Point } from '../base/measure.ts';
import { reason, type Reason } from '../base/reason.ts';
import {
  determinant,
  fitAffine,
  IDENTITY,
  inverse,
  mapPoint,
  type Affine,
} from '../geometry/affine.ts';
import { inside, nearestOnRing, nearestOnSegment } from '../geometry/measure.ts';
import type { Region, Ring } from '../geometry/shape.ts';
import { boardWays } from '../plan/board-on-bed.ts';
import type { BedPlan, PlacedPocket, ZeroCorner } from '../plan/plan.ts';
import { bedRing, scaleFor, sentTo, zeroMark } from './drawing.ts';
import { FILE_SETTINGS, type CutterScale, type FileSettings } from './settings.ts';
import type { FileLine, FileLines } from './file-lines.ts';
import { deviation, mapsBetween, Shape } from './match-shape.ts';

/**
 * Places agree to this, mm: ten times what the coarsest common way of writing coordinates rounds (two decimals of a
 * point, 0.0018 mm), and a fifth of what a hand can see between cut edge and print.
 */
export const MATCH_MM = 0.02;
/** A page that another program rounded to whole points is off by at most half of one, 0.18 mm. */
const PAGE_ROUNDED_MM = 0.18;
const PAGE_MM = 0.05;

/** One line of a pocket that a file of the job may show. */
interface Item {
  /** Absent: the bed itself. */
  readonly pocket?: string;
  readonly kind: string;
  readonly shape: Shape;
}

/** What files are held against. */
export interface Reference {
  /** "the plan", or the name of a file. */
  readonly name: string;
  readonly widthMm?: number;
  readonly heightMm?: number;
  readonly items: readonly Item[];
  readonly zero?: ZeroCorner;
  /** Where the tool's paths lay if nothing were allowed for of the cutter's scale; absent: nothing is. */
  readonly unscaled?: readonly Item[];
}

const ringsOf = (regions: readonly Region<'bed'>[]): readonly Ring<'bed'>[] =>
  regions.flatMap(({ outer, holes }) => [outer, ...holes]);

const KINDS: Readonly<Record<string, (p: PlacedPocket) => readonly Ring<'bed'>[]>> = {
  pocket: (p) => ringsOf(p.wall),
  cut: (p) => ringsOf(p.cut),
  print: (p) => ringsOf([p.print]),
  bleed: (p) => ringsOf(p.bleed),
  safe: (p) => ringsOf(p.safe),
};

/** The tool's way round a hole of the board's seat, of no pocket. */
const HOLE = 'hole';

/** The lines that any file of a plan may show. */
export function referenceOfPlan(
  plan: BedPlan,
  settings: Pick<FileSettings, 'cutterPerMille'> = FILE_SETTINGS,
  name = 'the plan',
): Reference {
  const cutterPerMille = scaleFor(plan, settings);
  const sent = sentTo(plan.bed, cutterPerMille);
  const itemsOf = (only: readonly string[], to: (p: Point<'bed'>) => Point<'bed'>): Item[] =>
    plan.pockets.flatMap((p) =>
      only.flatMap((kind) =>
        KINDS[kind]!(p).map((ring) => ({
          pocket: p.id,
          kind,
          shape: new Shape(kind === 'cut' ? ring.map(to) : ring),
        })),
      ),
    );
  const holes = (as: (p: Point<'bed'>) => Point<'bed'>): Item[] =>
    boardWays(plan.bed, plan.pocketSettings).holes.map(({ points }) => ({
      kind: HOLE,
      shape: new Shape(points.map(as)),
    }));
  return {
    name,
    widthMm: plan.bed.widthMm,
    heightMm: plan.bed.depthMm,
    zero: plan.bed.zero,
    items: [
      { kind: 'bed', shape: new Shape(bedRing(plan.bed)) },
      ...itemsOf(Object.keys(KINDS), sent),
      ...holes(sent),
    ],
    ...(cutterPerMille.some((v) => v !== 0) && { unscaled: itemsOf(['cut'], (p) => p) }),
  };
}

/** The same from plan.json, which holds fewer lines. @throws Error when it is no plan */
export function referenceOfPlanJson(text: string, name: string): Reference {
  const value = JSON.parse(text) as {
    bed_mm?: [number, number];
    zero?: ZeroCorner;
    settings?: { cutter_per_mille?: CutterScale };
    pockets?: { id: string; pocket: Pairs; cut: Pairs; print: Pairs; bleed?: Pairs }[];
    board_mm?: { holes?: { cut?: [number, number][] }[] };
  };
  type Pairs = [number, number][][];
  const { bed_mm: bed, pockets, zero = 'bottom-left' } = value;
  if (!bed || !Array.isArray(pockets)) throw new Error('it is not a plan');
  const [widthMm, depthMm] = bed;
  const sent = sentTo({ widthMm, depthMm, zero }, value.settings?.cutter_per_mille ?? [0, 0]);
  const scaled = value.settings?.cutter_per_mille?.some((v) => v !== 0);
  const shape = (ring: [number, number][], as: (p: Point<'bed'>) => Point<'bed'>): Shape =>
    new Shape(ring.map(([x, y]) => as({ x, y })));
  const same = (p: Point<'bed'>): Point<'bed'> => p;
  return {
    name,
    widthMm: bed[0],
    heightMm: bed[1],
    ...(value.zero && { zero: value.zero }),
    items: [
      { kind: 'bed', shape: new Shape(bedRing({ widthMm: bed[0], depthMm: bed[1] })) },
      ...pockets.flatMap((p) =>
        (['pocket', 'cut', 'print', 'bleed'] as const).flatMap((kind) =>
          (p[kind] ?? []).map((ring) => ({
            pocket: p.id,
            kind,
            shape: shape(ring, kind === 'cut' ? sent : same),
          })),
        ),
      ),
      ...(value.board_mm?.holes ?? []).flatMap(({ cut }) =>
        cut ? [{ kind: HOLE, shape: shape(cut, sent) }] : [],
      ),
    ],
    ...(scaled && {
      unscaled: pockets.flatMap((p) =>
        p.cut.map((ring) => ({ pocket: p.id, kind: 'cut', shape: shape(ring, same) })),
      ),
    }),
  };
}

/** Rings smaller than this, mm, are letters and marks. */
const LETTER_MM = 2.5;

/**
 * The lines of one file, for another one to be held against where there is no plan: rings that lie round the same middle
 * are one pocket, numbered as they come.
 */
export function referenceOfFile(lines: FileLines, name: string): Reference {
  const shapes = lines.rings.map(({ points }) => new Shape(points));
  const page = lines.page;
  const whole = shapes.filter((s) =>
    shapes.some((t) => t !== s && t.sizeMm > 3 * LETTER_MM && holds(s, t) && !around(s, t)),
  );
  const pockets: Shape[][] = [];
  for (const shape of shapes) {
    if (shape.sizeMm < LETTER_MM || whole.includes(shape)) continue;
    const group = pockets.find((all) => all.some((s) => around(s, shape) || around(shape, s)));
    if (group) group.push(shape);
    else pockets.push([shape]);
  }
  return {
    name,
    ...(page && { widthMm: page.widthMm, heightMm: page.heightMm }),
    items: [
      ...whole.map((shape) => ({ kind: 'bed', shape })),
      ...pockets.flatMap((all, k) =>
        [...all]
          .sort((a, b) => b.areaMm2 - a.areaMm2)
          .map((shape, rank) => ({
            pocket: String(k + 1),
            kind: `line ${rank + 1} from outside`,
            shape,
          })),
      ),
    ],
  };
}

const holds = (outer: Shape, inner: Shape): boolean =>
  outer.areaMm2 > inner.areaMm2 && inside(outer.ring, inner.ring[0]!);
/** Whether one ring runs round another at a small distance, as a wall round a tool's path. */
const around = (outer: Shape, inner: Shape): boolean =>
  holds(outer, inner) &&
  Math.hypot(outer.middle.x - inner.middle.x, outer.middle.y - inner.middle.y) <
    0.1 * outer.sizeMm &&
  outer.sizeMm - inner.sizeMm < Math.max(20, 0.1 * outer.sizeMm);

/** One row of the verdict, for screen and terminal. */
export interface MatchRow {
  readonly what: string;
  readonly agrees: boolean;
  readonly words: string;
}

/** What has become of one pocket. */
export interface MatchedPocket {
  readonly id: string;
  readonly state: 'agrees' | 'moved' | 'changed' | 'missing';
  /** Greatest distance of its lines from their places, mm. */
  readonly offMm?: number;
  /** Where it was moved as it is, mm. */
  readonly by?: Point<'bed'>;
  /** Its outermost line as the file has it, on the plan's bed after what befell the whole file is taken back. */
  readonly there?: Ring<'bed'>;
}

export interface Match {
  readonly file: string;
  readonly reference: string;
  readonly verdict: 'agrees' | 'differs';
  readonly rows: readonly MatchRow[];
  readonly pockets: readonly MatchedPocket[];
  /** From the reference to the file: what befell the file as a whole. */
  readonly map: Affine;
  readonly page?: { readonly widthMm: number; readonly heightMm: number };
  readonly reasons: readonly Reason[];
}

interface Found {
  readonly item: Item;
  readonly shape: Shape;
  readonly offMm: number;
}

/** The file's rings, found by the place of their middle. */
class Middles {
  private readonly cells = new Map<string, Shape[]>();
  constructor(
    readonly shapes: readonly Shape[],
    private readonly cellMm: number,
  ) {
    for (const shape of shapes) {
      const key = this.key(shape.middle.x, shape.middle.y);
      const there = this.cells.get(key);
      if (there) there.push(shape);
      else this.cells.set(key, [shape]);
    }
  }
  private key(x: number, y: number): string {
    return `${Math.floor(x / this.cellMm)} ${Math.floor(y / this.cellMm)}`;
  }
  near(p: Point<'bed'>): Shape[] {
    const out: Shape[] = [];
    for (let dx = -1; dx <= 1; dx++)
      for (let dy = -1; dy <= 1; dy++)
        out.push(
          ...(this.cells.get(this.key(p.x + dx * this.cellMm, p.y + dy * this.cellMm)) ?? []),
        );
    return out.filter((s) => Math.hypot(s.middle.x - p.x, s.middle.y - p.y) <= this.cellMm);
  }
}

const scaleOf = (map: Affine): number => Math.sqrt(Math.abs(determinant(map)));

/** How many lines of the reference lie in the file where a map says, by their middles and sizes. */
function roughScore(map: Affine, items: readonly Item[], middles: Middles): number {
  const grown = scaleOf(map);
  let count = 0;
  for (const { shape } of items) {
    const near = middles.near(mapPoint(map, shape.middle));
    if (near.some((s) => Math.abs(s.areaMm2 / (shape.areaMm2 * grown ** 2) - 1) < 0.01)) count++;
  }
  return count;
}

/** While it is searched, lines lie where a map says if they lie no farther beside it, mm. */
const SEARCH_MM = 0.25;

/** The line of the file nearest to where a map puts an item, and how far off it is. */
function findItem(
  map: Affine,
  item: Item,
  middles: Middles,
  withinMm: number,
  step: number,
): Found | undefined {
  const grown = scaleOf(map);
  let best: Found | undefined;
  for (const shape of middles.near(mapPoint(map, item.shape.middle))) {
    if (Math.abs(shape.areaMm2 / (item.shape.areaMm2 * grown ** 2) - 1) > 0.03) continue;
    const offMm = deviation(
      map,
      item.shape,
      shape,
      step,
      Math.min(withinMm, best?.offMm ?? withinMm),
    );
    if (offMm <= withinMm && (!best || offMm < best.offMm)) best = { item, shape, offMm };
  }
  return best;
}

/** How much a map does: ties between maps go to the one that does least. */
function effort(map: Affine): number {
  const turn = Math.abs(Math.atan2(map[1], map[0]));
  return (
    (determinant(map) < 0 ? 100 : 0) +
    10 * Math.min(turn, 2) +
    5 * Math.abs(Math.log(scaleOf(map))) +
    1e-3 * Math.hypot(map[4], map[5])
  );
}

/** The map from the reference to the file under which most lines are found, and whether any is. */
function searchMap(
  reference: Reference,
  shapes: readonly Shape[],
  zero: readonly FileLine[],
): Affine | undefined {
  const { items } = reference;
  const walls = items.filter((i) => i.pocket !== undefined);
  const pool = walls.length > 0 ? walls : items;
  const first = pool[0];
  if (!first) return undefined;
  const middle = (i: Item): Point<'bed'> => i.shape.middle;
  const far = pool.reduce((a, b) =>
    dist(middle(a), middle(first)) >= dist(middle(b), middle(first)) ? a : b,
  );
  // A pocket in the middle, too: the first and the last may both have been deleted or moved.
  const between = pool[Math.floor(pool.length / 2)]!;
  const bed = items.find((i) => i.kind === 'bed');
  const bases = [...new Set([first, far, between, ...ofKind(items, first), ...(bed ? [bed] : [])])];
  const largest = [...shapes].sort((a, b) => b.sizeMm - a.sizeMm).slice(0, 1500);

  const maps = new Map<string, Affine>();
  const add = (map: Affine): void => {
    const grown = Math.max(scaleOf(map), 1e-6);
    const key = [
      ...map.slice(0, 4).map((v) => Math.round((v / grown) * 500)),
      ...[map[4], map[5]].map((v) => Math.round(v / grown / 0.2)),
      Math.round(Math.log(grown) * 2000),
    ].join(' ');
    if (!maps.has(key)) maps.set(key, map);
  };
  add(IDENTITY);
  for (const base of bases)
    for (const shape of largest) for (const map of mapsBetween(base.shape, shape)) add(map);
  // Two rings settle a turn that round ones leave open.
  for (const map of mapsOfPairs(pool, largest)) add(map);

  const scored = [...maps.values()].map((map) => {
    const grown = scaleOf(map);
    return {
      map,
      score: roughScore(map, items, middlesFor(shapes, SEARCH_MM * Math.max(grown, 0.2))),
      effort: effort(map),
    };
  });
  scored.sort((a, b) => b.score - a.score || a.effort - b.effort);
  const within = (map: Affine): number => SEARCH_MM * Math.max(scaleOf(map), 0.2);
  const likely = scored
    .slice(0, 40)
    .map(({ map, effort }) => {
      const reach = within(map);
      const middles = middlesFor(shapes, reach);
      // Lines of the file, not of the reference: lines that lie close together may find the same one.
      const there = new Set(
        items.map((item) => findItem(map, item, middles, reach, stepFor(item.shape))?.shape),
      );
      there.delete(undefined);
      return { map, score: there.size + zeroScore(map, reference, zero), effort };
    })
    .filter(({ score }) => score > 0)
    .sort((a, b) => b.score - a.score || a.effort - b.effort);
  // A layout that nearly looks the same mirrored or turned is told apart only when everything is made exact.
  const most = likely[0]?.score ?? 0;
  const rivals = likely.slice(0, 4).filter(({ score }) => score >= 0.9 * most - 1);
  if (rivals.length < 2) return rivals[0]?.map;
  const exact = rivals.map(({ map: start }) => {
    const map = refined(start, items, shapes);
    const reach = MATCH_MM * Math.max(scaleOf(map), 1);
    const middles = middlesFor(shapes, within(map));
    const count = items.filter((item) => findItem(map, item, middles, reach, 1)).length;
    return { start, score: count + zeroScore(map, reference, zero), effort: effort(map) };
  });
  exact.sort((a, b) => b.score - a.score || a.effort - b.effort);
  return exact[0]?.start;
}

const ofKind = (items: readonly Item[], first: Item): Item[] =>
  items.filter((i) => i.pocket === first.pocket).slice(0, 5);

const stepFor = (shape: Shape): number => Math.max(2, Math.floor(shape.ring.length / 24));
const dist = (a: Point<'bed'>, b: Point<'bed'>): number => Math.hypot(a.x - b.x, a.y - b.y);

let lastMiddles: { shapes: readonly Shape[]; byCell: Map<number, Middles> } | undefined;
/** Grids of one file's rings by the size of their cells, the last file's kept. */
function middlesFor(shapes: readonly Shape[], cellMm: number): Middles {
  if (lastMiddles?.shapes !== shapes) lastMiddles = { shapes, byCell: new Map() };
  const cell = Number(cellMm.toPrecision(2));
  let found = lastMiddles.byCell.get(cell);
  if (!found) lastMiddles.byCell.set(cell, (found = new Middles(shapes, cell)));
  return found;
}

/** Maps from two far rings and two of the file whose sizes and distance grew alike. */
function mapsOfPairs(pool: readonly Item[], shapes: readonly Shape[]): Affine[] {
  const [a] = pool;
  if (!a) return [];
  const b = pool.reduce((x, y) =>
    dist(x.shape.middle, a.shape.middle) >= dist(y.shape.middle, a.shape.middle) ? x : y,
  );
  const apart = dist(a.shape.middle, b.shape.middle);
  if (apart < 1) return [];
  const roundness = (s: Shape): number => s.perimeterMm ** 2 / s.areaMm2;
  const like = (i: Item): Shape[] =>
    shapes.filter((s) => Math.abs(roundness(s) / roundness(i.shape) - 1) < 0.01).slice(0, 250);
  const [forA, forB] = [like(a), like(b)];
  const maps: Affine[] = [];
  for (const p of forA)
    for (const q of forB) {
      const grown = Math.sqrt(p.areaMm2 / a.shape.areaMm2);
      if (Math.abs(dist(p.middle, q.middle) / apart / grown - 1) > 0.005) continue;
      if (Math.abs(q.areaMm2 / b.shape.areaMm2 / grown ** 2 - 1) > 0.01) continue;
      for (const mirrored of [false, true]) {
        const map = fitAffine([a.shape.middle, b.shape.middle], [p.middle, q.middle], { mirrored });
        if (map) maps.push(map);
      }
      if (maps.length > 4000) return maps;
    }
  return maps;
}

/** Whether an open line of the file runs along the mark of a corner. */
const runsAlong = (
  mark: readonly Point<'bed'>[],
  { points }: FileLine,
  withinMm: number,
): boolean =>
  mark.every((p) => {
    let least = Infinity;
    for (let k = 0; k + 1 < points.length; k++)
      least = Math.min(least, nearestOnSegment(points[k]!, points[k + 1]!, p).distanceMm);
    return least <= withinMm;
  });

function zeroScore(map: Affine, reference: Reference, open: readonly FileLine[]): number {
  const mark = markOf(reference);
  if (!mark) return 0;
  const mapped = mark.map((p) => mapPoint(map, p));
  const near = SEARCH_MM * Math.max(scaleOf(map), 0.2);
  // More than one line: layouts that look the same mirrored are told apart by this alone.
  return open.some((line) => runsAlong(mapped, line, near)) ? 2 : 0;
}

const markOf = (
  { widthMm, heightMm, zero }: Reference,
  corner = zero,
): Point<'bed'>[] | undefined =>
  corner && widthMm !== undefined && heightMm !== undefined
    ? zeroMark({ widthMm, depthMm: heightMm, zero: corner })
    : undefined;

/** The map made exact with every line that was found under it; lines that lie off the others are left out. */
function refined(map: Affine, items: readonly Item[], shapes: readonly Shape[]): Affine {
  let best = map;
  for (let round = 0; round < 6; round++) {
    const reach = (round === 0 ? SEARCH_MM : SEARCH_MM / 2) * Math.max(scaleOf(best), 0.2);
    const middles = middlesFor(shapes, reach);
    const found = items
      .map((item) => findItem(best, item, middles, reach, stepFor(item.shape)))
      .filter((f) => f !== undefined);
    if (found.length === 0) return best;
    const offs = found.map((f) => f.offMm).sort((a, b) => a - b);
    const usual = offs[Math.floor((offs.length - 1) / 2)]!;
    const next = nearer(
      best,
      found.filter(({ offMm }) => offMm <= 2 * usual + 0.01),
    );
    const moved = Math.max(
      ...found.map(({ item: { shape } }) =>
        dist(mapPoint(next, shape.middle), mapPoint(best, shape.middle)),
      ),
    );
    best = next;
    if (moved < 1e-4) break;
  }
  return best;
}

/**
 * One step of the map that brings points of the reference onto the sides of the file's lines, which may be slid along.
 * Source: Y. Chen and G. Medioni, Image and Vision Computing 10(3), 1992 (distance to the tangent instead of to the point).
 */
function nearer(map: Affine, found: readonly Found[]): Affine {
  const rows: number[][] = [];
  const off: number[] = [];
  const { x: x0, y: y0 } = found[0]!.item.shape.middle;
  for (const { item, shape } of found) {
    for (let k = 0; k < item.shape.even.length; k += 6) {
      const p = item.shape.even[k]!;
      const there = mapPoint(map, p);
      const { at, edge } = nearestOnRing(shape.ring, there);
      const from = shape.ring[edge]!;
      const to = shape.ring[(edge + 1) % shape.ring.length]!;
      const length = dist(from, to);
      if (length === 0) continue;
      const [nx, ny] = [(to.y - from.y) / length, (from.x - to.x) / length];
      // Hundredths of the shape's place keep all six numbers of a size.
      const [x, y] = [(p.x - x0) / 100, (p.y - y0) / 100];
      rows.push([nx, ny, nx * x, ny * x, nx * y, ny * y]);
      off.push(nx * (at.x - there.x) + ny * (at.y - there.y));
    }
  }
  if (rows.length < 6) return map;
  const a = new Matrix(rows);
  const normal = a.transpose().mmul(a);
  // What the lines leave open (a round one's turn) stays as it is.
  for (let k = 0; k < 6; k++) normal.set(k, k, normal.get(k, k) + 1e-9 * rows.length);
  const step = solve(normal, a.transpose().mmul(Matrix.columnVector(off))).to1DArray();
  const [e, f, ax, bx, cy, dy] = step as [number, number, number, number, number, number];
  const [da, db, dc, dd] = [ax / 100, bx / 100, cy / 100, dy / 100];
  return [
    map[0] + da,
    map[1] + db,
    map[2] + dc,
    map[3] + dd,
    map[4] + e - da * x0 - dc * y0,
    map[5] + f - db * x0 - dd * y0,
  ];
}

const greatestShift = (map: Affine, widthMm: number, heightMm: number): number =>
  Math.max(
    ...[
      { x: 0, y: 0 },
      { x: widthMm, y: 0 },
      { x: 0, y: heightMm },
      { x: widthMm, y: heightMm },
    ].map((p) => dist(mapPoint<'bed'>(map, p), p)),
  );

const figure = (v: number, digits: number): string => String(Number(v.toFixed(digits)) + 0);
const listed = (ids: readonly string[]): string =>
  ids.length <= 8 ? ids.join(', ') : `${ids.slice(0, 8).join(', ')} and ${ids.length - 8} more`;

/**
 * Holds a file, as any program may have saved it, against the plan or another file of the job: page, zero, scale, turn,
 * mirroring, and every pocket's place. Geometry alone decides.
 */
export function matchLines(reference: Reference, lines: FileLines, file: string): Match {
  const { items } = reference;
  const shapes = lines.rings.map(({ points }) => new Shape(points)).filter((s) => s.sizeMm > 1e-3);
  const ids = [...new Set(items.flatMap((i) => i.pocket ?? []))];
  const say: Reason[] = [];
  const rows: MatchRow[] = [];
  const facts = { file, reference: reference.name };
  const base = {
    file,
    reference: reference.name,
    ...(lines.page && { page: lines.page }),
  };
  const answer = (map: Affine, pockets: readonly MatchedPocket[]): Match => ({
    ...base,
    map,
    pockets,
    rows,
    reasons: say,
    verdict: say.some(({ level }) => level === 'refuse') ? 'differs' : 'agrees',
  });

  const missing = ids.map((id): MatchedPocket => ({ id, state: 'missing' }));
  if (shapes.length === 0) {
    say.push(reason(lines.pictures > 0 ? 'match-only-pixels' : 'match-no-lines', facts));
    rows.push({ what: 'pockets', agrees: false, words: `0 of ${ids.length}` });
    return answer(IDENTITY, missing);
  }

  const strict = strictly(items, shapes, ids);
  // What lies where it should with the zero corner's mark in place need not be searched for.
  const asItWas = strict === ids.length && zeroScore(IDENTITY, reference, lines.open) > 0;
  const searched = asItWas ? IDENTITY : searchMap(reference, shapes, lines.open);
  if (!searched) {
    say.push(reason('match-none', { ...facts, count: shapes.length }));
    rows.push({ what: 'pockets', agrees: false, words: `0 of ${ids.length}` });
    return answer(IDENTITY, missing);
  }
  const [w, h] = [
    reference.widthMm ?? widest(items, 'x'),
    reference.heightMm ?? widest(items, 'y'),
  ];
  let map = searched;
  if (searched === IDENTITY && 2 * strict >= ids.length) map = IDENTITY;
  else {
    map = refined(searched, items, shapes);
    if (greatestShift(map, w, h) <= MATCH_MM) map = IDENTITY;
  }

  const of = { rows: [] as MatchRow[], say: [] as Reason[] };
  const pockets = pocketRows(reference, lines, shapes, ids, facts, map, of.rows, of.say);
  if (ids.length > 0 && pockets.every(({ state }) => state === 'missing')) {
    // Any rectangle is the bed by some map: that says nothing of a file without a pocket.
    pageRow(reference, lines, facts, IDENTITY, rows, say);
    say.push(reason('match-none', { ...facts, count: shapes.length }));
    rows.push({ what: 'pockets', agrees: false, words: `0 of ${ids.length}` });
    return answer(IDENTITY, missing);
  }
  pageRow(reference, lines, facts, map, rows, say);
  wholeRows(reference, lines, facts, map, rows, say);
  rows.push(...of.rows);
  say.push(...of.say);
  return answer(map, pockets);
}

/** How many pockets have a line exactly at its place. */
const strictly = (
  items: readonly Item[],
  shapes: readonly Shape[],
  ids: readonly string[],
): number => {
  const middles = middlesFor(shapes, SEARCH_MM);
  const there = new Set(
    items
      .filter((item) => findItem(IDENTITY, item, middles, MATCH_MM, 1))
      .map((item) => item.pocket),
  );
  return ids.filter((id) => there.has(id)).length;
};

const widest = (items: readonly Item[], axis: 'x' | 'y'): number =>
  Math.max(...items.map(({ shape: { box } }) => (axis === 'x' ? box.right : box.top)));

function pageRow(
  { widthMm: w, heightMm: h }: Reference,
  { page, pages }: FileLines,
  facts: { file: string; reference: string },
  map: Affine,
  rows: MatchRow[],
  say: Reason[],
): void {
  if (pages > 1) say.push(reason('match-pages', { ...facts, pages }));
  if (!page || w === undefined || h === undefined) {
    rows.push({ what: 'page', agrees: true, words: page ? 'none to compare with' : 'has none' });
    return;
  }
  const off = Math.max(Math.abs(page.widthMm - w), Math.abs(page.heightMm - h));
  const size = (a: number, b: number): string => `${figure(a, 2)} x ${figure(b, 2)} mm`;
  rows.push({ what: 'page', agrees: off <= PAGE_MM, words: size(page.widthMm, page.heightMm) });
  if (off <= PAGE_MM) return;
  const sizes = { ...facts, found: size(page.widthMm, page.heightMm), wanted: size(w, h) };
  const swapped = Math.abs(page.widthMm - h) <= PAGE_MM && Math.abs(page.heightMm - w) <= PAGE_MM;
  const k = scaleOf(map);
  const grown = Math.max(Math.abs(page.widthMm / w / k - 1), Math.abs(page.heightMm / h / k - 1));
  // A page that grew with what it shows is one mistake, and the scale names it.
  if (Math.abs(k - 1) > 1e-3 && grown < 2e-3) return;
  if (off <= PAGE_ROUNDED_MM)
    say.push(reason('match-page-rounded', { ...sizes, offMm: figure(off, 2) }));
  else if (swapped) say.push(reason('match-page-turned', sizes));
  else say.push(reason('match-page', sizes));
}

/** What two programs count differently, by the factor that comes of it. */
const MISTAKES: readonly {
  readonly factor: number;
  readonly code: 'match-dpi' | 'match-unit';
  readonly words: string;
}[] = [
  ...(
    [
      [72, 96],
      [96, 72],
      [72, 90],
      [90, 72],
      [90, 96],
      [96, 90],
    ] as const
  ).map(([a, b]) => ({
    factor: a / b,
    code: 'match-dpi' as const,
    words: `one program counts ${a}, the other ${b} units to the inch`,
  })),
  { factor: 25.4, code: 'match-unit', words: 'millimetres were taken for inches' },
  { factor: 1 / 25.4, code: 'match-unit', words: 'inches were taken for millimetres' },
  { factor: 10, code: 'match-unit', words: 'millimetres were taken for centimetres' },
  { factor: 0.1, code: 'match-unit', words: 'centimetres were taken for millimetres' },
  { factor: 1000, code: 'match-unit', words: 'millimetres were taken for metres' },
  { factor: 1e-3, code: 'match-unit', words: 'metres were taken for millimetres' },
  { factor: 25.4 / 72, code: 'match-unit', words: 'millimetres were taken for points (1/72 inch)' },
  { factor: 72 / 25.4, code: 'match-unit', words: 'points (1/72 inch) were taken for millimetres' },
  { factor: 25.4 / 96, code: 'match-unit', words: 'millimetres were taken for pixels (1/96 inch)' },
  { factor: 96 / 25.4, code: 'match-unit', words: 'pixels (1/96 inch) were taken for millimetres' },
  { factor: 25.4 / 90, code: 'match-unit', words: 'millimetres were taken for pixels (1/90 inch)' },
  { factor: 90 / 25.4, code: 'match-unit', words: 'pixels (1/90 inch) were taken for millimetres' },
];

/** White edges that printers leave, mm; what is fitted to a page is fitted to what they leave. */
const PRINTER_EDGE_MM = 15;

/** Zero, scale, turn and mirroring: what befell the file as a whole, and its name. */
function wholeRows(
  reference: Reference,
  lines: FileLines,
  facts: { file: string; reference: string },
  map: Affine,
  rows: MatchRow[],
  say: Reason[],
): void {
  const flipped = determinant(map) < 0;
  // The map is a turn after a stretch, which is after a mirroring left to right.
  const u = Math.hypot(map[0], map[1]);
  const v = Math.hypot(map[2], map[3]);
  let turn = Math.atan2(flipped ? -map[1] : map[1], flipped ? -map[0] : map[0]);
  const shear = (map[0] * map[2] + map[1] * map[3]) / (u * v);
  const w = reference.widthMm ?? widest(reference.items, 'x');
  const h = reference.heightMm ?? widest(reference.items, 'y');
  const size = Math.max(w, h);
  // Below this a change moves nothing by as much as is asked for.
  const small = MATCH_MM / size;
  const scale = Math.sqrt(u * v);
  const even = Math.abs(u - v) * size <= 2 * MATCH_MM * Math.max(1, scale);
  const scaled = Math.abs(scale - 1) > small || !even;
  const mistake = MISTAKES.find((m) => Math.abs(scale / m.factor - 1) < 1e-3 && even);
  const turnedBy = (turn * 180) / Math.PI;
  const turned = Math.abs(turn) > small;
  const sheared = Math.abs(shear) > 2 * small;
  if (Math.abs(Math.abs(turn) - Math.PI) < small) turn = Math.PI;
  const percent = (k: number): string => figure(100 * k, 3);

  rows.push({
    what: 'zero',
    agrees: !flipped && !turned && Math.hypot(map[4], map[5]) <= MATCH_MM,
    words:
      !flipped && !turned && Math.hypot(map[4], map[5]) <= MATCH_MM
        ? 'agrees'
        : `lies at ${figure(map[4], 2)}, ${figure(map[5], 2)} mm`,
  });
  rows.push({
    what: 'scale',
    agrees: !scaled,
    words: even ? `${percent(scale)} %` : `${percent(u)} % across, ${percent(v)} % along`,
  });
  if (flipped || turned)
    rows.push({
      what: flipped ? 'mirroring' : 'turn',
      agrees: false,
      words: flipped ? mirrorWords(turn) : `${figure(turnedBy, 3)} degrees`,
    });

  if (lines.unitLost) say.push(reason('match-unit-lost', facts));
  if (greatestShift(map, w, h) > MATCH_MM && roundedToPoints(map, w, h)) {
    say.push(reason('match-rounded', { ...facts, offMm: figure(greatestShift(map, w, h), 2) }));
    return;
  }
  if (flipped) say.push(reason('match-mirrored', { ...facts, how: mirrorWords(turn) }));
  else if (turned) say.push(reason('match-rotated', { ...facts, degrees: figure(turnedBy, 3) }));
  if (scaled) {
    const k = { ...facts, percent: percent(scale) };
    if (!even)
      say.push(reason('match-stretched', { ...facts, across: percent(u), along: percent(v) }));
    else if (mistake) {
      // Without a unit in the file the wrong size is the same mistake, named once.
      if (!(lines.unitLost && mistake.code === 'match-unit'))
        say.push(reason(mistake.code, { ...k, cause: mistake.words }));
    } else if (fitted(map, scale, lines.page, w, h) && !flipped) say.push(reason('match-fit', k));
    else say.push(reason('match-scaled', k));
  }
  if (sheared && even)
    say.push(
      reason('match-sheared', {
        ...facts,
        degrees: figure((Math.asin(Math.abs(shear)) * 180) / Math.PI, 3),
      }),
    );
  const shift = Math.hypot(map[4], map[5]);
  if (!flipped && !turned && !scaled && !sheared && shift > MATCH_MM) {
    const fromTop = lines.page && Math.abs(map[5] - (lines.page.heightMm - h)) <= MATCH_MM;
    say.push(
      reason(fromTop && Math.abs(map[4]) <= MATCH_MM ? 'match-counts-from-top' : 'match-shifted', {
        ...facts,
        dx: figure(map[4], 3),
        dy: figure(map[5], 3),
      }),
    );
  }
}

const mirrorWords = (turn: number): string =>
  Math.abs(turn) < 1e-3
    ? 'left to right'
    : Math.abs(Math.abs(turn) - Math.PI) < 1e-3
      ? 'top to bottom'
      : `and turned by ${figure((turn * 180) / Math.PI, 2)} degrees`;

/**
 * Whether a program rounded the page to whole points (1/72 inch) and moved or shrank what is on it by that and no more:
 * every figure must be one that this gives.
 */
function roundedToPoints(map: Affine, w: number, h: number): boolean {
  const most = MM_PER_POINT;
  const small = 2e-3;
  if (Math.abs(map[1]) * w > small || Math.abs(map[2]) * h > small) return false;
  if (Math.abs(map[0] - map[3]) * w > 2 * small) return false;
  const gap = (side: number): number[] => {
    const points = side / MM_PER_POINT;
    return [Math.ceil(points) - points, Math.floor(points) - points].map((p) => p * most);
  };
  const [gw, gh] = [gap(w), gap(h)];
  const is = (value: number, ...ones: number[]): boolean =>
    ones.some((one) => Math.abs(value - one) <= 0.002);
  if (Math.abs(map[0] - 1) * w <= small)
    return [gw, gh].every((gaps, axis) =>
      is(map[4 + axis]!, 0, ...gaps.flatMap((g) => [g, -g, g / 2, -g / 2])),
    );
  const shrunk = is((1 / map[0] - 1) * w, gw[0]!) || is((1 / map[0] - 1) * h, gh[0]!);
  return shrunk && Math.abs(map[4]) <= gw[0]! + gh[0]! && Math.abs(map[5]) <= gw[0]! + gh[0]!;
}

/** Whether the bed was scaled to what a printer leaves of the page, and set in its middle. */
function fitted(
  map: Affine,
  scale: number,
  page: FileLines['page'],
  w: number,
  h: number,
): boolean {
  if (!page) return false;
  const turned = Math.abs(map[0]) < Math.abs(map[1]);
  const [bw, bh] = turned ? [h, w] : [w, h];
  const fit = (edge: number): number =>
    Math.min((page.widthMm - 2 * edge) / bw, (page.heightMm - 2 * edge) / bh);
  const middle = mapPoint<'bed'>(map, { x: w / 2, y: h / 2 });
  // Set in the middle to a tenth of the white that is left beside it.
  const beside = (1 - Math.min(scale, 1)) / 20;
  const centred =
    Math.abs(middle.x - page.widthMm / 2) <= 0.1 + beside * bw &&
    Math.abs(middle.y - page.heightMm / 2) <= 0.1 + beside * bh;
  const inCorner = [0, page.heightMm - bh * scale].some(
    (y) => Math.abs(map[4]) < 0.5 && Math.abs(map[5] - y) < 0.5,
  );
  const otherPage = Math.abs(page.widthMm - w) > 1 || Math.abs(page.heightMm - h) > 1;
  const within = scale <= fit(0) + 1e-3 && scale >= fit(PRINTER_EDGE_MM) - 1e-3;
  return within && (centred || (otherPage && inCorner && Math.abs(scale - fit(0)) < 2e-3));
}

/** Every pocket's place, after what befell the file as a whole is taken back. */
function pocketRows(
  reference: Reference,
  lines: FileLines,
  shapes: readonly Shape[],
  ids: readonly string[],
  facts: { file: string; reference: string },
  map: Affine,
  rows: MatchRow[],
  say: Reason[],
): MatchedPocket[] {
  const { items } = reference;
  const grown = scaleOf(map);
  const tolerance = MATCH_MM * Math.max(1, grown);
  const middles = middlesFor(shapes, SEARCH_MM * Math.max(1, grown));
  const found = new Map<Item, Found>();
  const used = new Map<Shape, number>();
  for (const item of items) {
    const f = findItem(map, item, middles, tolerance, 1);
    if (!f) continue;
    found.set(item, f);
    used.set(f.shape, (used.get(f.shape) ?? 0) + 1);
  }
  // A kind of line that the file shows for no pocket is not one of its kinds.
  const kinds = [...new Set(items.flatMap((i) => (i.pocket !== undefined ? i.kind : [])))].filter(
    (kind) => items.some((i) => i.kind === kind && i.pocket !== undefined && found.has(i)),
  );
  const left = shapes.filter((s) => !used.has(s));
  const back = inverse(map);
  const taken = new Set<Shape>();
  const pockets = ids.map((id): MatchedPocket => {
    const own = items.filter((i) => i.pocket === id && kinds.includes(i.kind));
    const here = own.map((i) => found.get(i)).filter((f) => f !== undefined);
    const lost = own.filter((i) => !found.has(i));
    const outer = (of: readonly Shape[]): Ring<'bed'> =>
      of.reduce((a, b) => (a.sizeMm >= b.sizeMm ? a : b)).ring.map((p) => mapPoint(back, p));
    if (own.length > 0 && lost.length === 0)
      return {
        id,
        state: 'agrees',
        offMm: Math.max(...here.map((f) => f.offMm)),
        there: outer(here.map((f) => f.shape)),
      };
    // Somewhere else, as it was or not?
    const wanted = lost.length > 0 ? lost : items.filter((i) => i.pocket === id);
    for (const item of wanted) {
      const other = elsewhere(
        map,
        item,
        left.filter((s) => !taken.has(s)),
        own.length === 0 || here.length === 0,
      );
      if (!other) continue;
      taken.add(other.shape);
      const [was, is] = [item.shape.middle, mapPoint(back, other.shape.middle)];
      return {
        id,
        state: other.state,
        offMm: other.offMm,
        there: outer([other.shape]),
        ...(other.state === 'moved' && { by: { x: is.x - was.x, y: is.y - was.y } }),
      };
    }
    if (here.length > 0) {
      say.push(
        reason('match-line-missing', {
          ...facts,
          id,
          kinds: [...new Set(lost.map((i) => i.kind))].join(', '),
        }),
      );
      return { id, state: 'changed', there: outer(here.map((f) => f.shape)) };
    }
    return { id, state: 'missing' };
  });

  const of = (state: MatchedPocket['state']): string[] =>
    pockets.filter((p) => p.state === state).map((p) => p.id);
  const agreeing = pockets.filter((p) => p.state === 'agrees');
  const most = Math.max(0, ...agreeing.map((p) => p.offMm ?? 0));
  rows.push({
    what: `${agreeing.length} of ${ids.length} pockets`,
    agrees: agreeing.length === ids.length,
    words:
      agreeing.length === 0
        ? 'at their place'
        : `within ${most < 5e-4 ? 'less than 0.001' : most.toFixed(3)} mm`,
  });
  for (const p of pockets.filter(
    (q) => q.state === 'moved' || (q.state === 'changed' && q.offMm !== undefined),
  ))
    rows.push({
      what: `pocket ${p.id} ${p.state === 'moved' ? 'moved' : 'turned or reshaped'}`,
      agrees: false,
      words: `${figure(p.offMm ?? 0, 2)} mm`,
    });
  const holes = items.filter((i) => i.kind === HOLE);
  if (holes.length > 0 && kinds.includes('cut')) {
    const here = holes.filter((i) => found.has(i)).length;
    rows.push({
      what: `${here} of ${holes.length} holes of the board`,
      agrees: here === holes.length,
      words: here === holes.length ? 'at their places' : 'not all at their places',
    });
    if (here < holes.length)
      say.push(reason('match-holes', { ...facts, lost: holes.length - here, all: holes.length }));
  }
  if (of('missing').length > 0) {
    rows.push({ what: 'missing', agrees: false, words: `pocket ${listed(of('missing'))}` });
    say.push(
      reason('match-missing', {
        ...facts,
        count: of('missing').length,
        ids: listed(of('missing')),
      }),
    );
  }
  for (const p of pockets) {
    if (p.state === 'moved')
      say.push(reason('match-moved', { ...facts, id: p.id, offMm: figure(p.offMm ?? 0, 2) }));
    if (p.state === 'changed' && p.offMm !== undefined)
      say.push(reason('match-changed', { ...facts, id: p.id, offMm: figure(p.offMm, 2) }));
  }

  // More than there should be: the same line twice is cut twice.
  const exact = middlesFor(shapes, SEARCH_MM * Math.max(1, grown));
  const doubled = [...found.values()].filter(
    ({ shape }) =>
      exact
        .near(shape.middle)
        .filter(
          (s) =>
            s !== shape &&
            Math.abs(s.areaMm2 / shape.areaMm2 - 1) < 1e-3 &&
            deviation(IDENTITY, s, shape, stepFor(s)) <= tolerance,
        ).length > 0,
  );
  const doubles = [...new Set(doubled.flatMap((f) => f.item.pocket ?? []))];
  if (doubles.length > 0) say.push(reason('match-doubled', { ...facts, ids: listed(doubles) }));
  const outlines = ids.flatMap((id) =>
    items
      .filter((i) => i.pocket === id)
      .sort((a, b) => b.shape.sizeMm - a.shape.sizeMm)
      .slice(0, 1),
  );
  // What lies in or round a pocket that was moved or reshaped went with it.
  const gone = pockets.flatMap((p) =>
    p.state !== 'agrees' && p.there ? [new Shape(p.there)] : [],
  );
  const extra = left.filter(
    (s) =>
      !taken.has(s) &&
      s.sizeMm > LETTER_MM &&
      !gone.some((g) => dist(g.middle, mapPoint(back, s.middle)) < 0.5 * g.sizeMm) &&
      outlines.some(
        ({ shape }) =>
          Math.abs(s.areaMm2 / (shape.areaMm2 * grown ** 2) - 1) < 1e-3 &&
          Math.abs(s.perimeterMm / (shape.perimeterMm * grown) - 1) < 1e-3 &&
          dist(mapPoint(map, shape.middle), s.middle) > 1,
      ),
  );
  const extras = extra.filter((s) => !doubled.some((f) => dist(f.shape.middle, s.middle) < 0.1));
  if (extras.length > 0) say.push(reason('match-extra', { ...facts, count: extras.length }));

  zeroRow(reference, lines, facts, map, say);
  const layers = new Set(
    [...found.values()]
      .filter((f) => f.item.pocket !== undefined)
      .map((f) => lines.rings.find((r) => r.points === f.shape.ring)?.layer),
  );
  if (kinds.length > 1 && layers.size === 1) {
    say.push(
      reason(
        kinds.includes('cut') && kinds.includes('pocket')
          ? 'match-flattened-cut'
          : 'match-flattened',
        {
          ...facts,
          kinds: kinds.join(', '),
        },
      ),
    );
    rows.push({ what: 'layers', agrees: true, words: 'flattened into one' });
  }
  return pockets;
}

/** Where a line that is not at its place has gone: the same shape moved, or one near its place that is another. */
function elsewhere(
  map: Affine,
  item: Item,
  shapes: readonly Shape[],
  anywhere: boolean,
): { state: 'moved' | 'changed'; shape: Shape; offMm: number } | undefined {
  const grown = scaleOf(map);
  const at = mapPoint(map, item.shape.middle);
  const byDistance = shapes
    .map((shape) => ({ shape, off: dist(shape.middle, at) }))
    .sort((a, b) => a.off - b.off);
  const reach = 2 * MATCH_MM * Math.max(1, grown);
  for (const { shape, off } of byDistance) {
    const area = shape.areaMm2 / (item.shape.areaMm2 * grown ** 2);
    if (Math.abs(area - 1) > 0.005) continue;
    const shifted: Affine = [
      map[0],
      map[1],
      map[2],
      map[3],
      map[4] + shape.middle.x - at.x,
      map[5] + shape.middle.y - at.y,
    ];
    if (
      (anywhere || off < item.shape.sizeMm) &&
      deviation(shifted, item.shape, shape, 1, reach) <= reach
    )
      // What lies at its place and is not as it was has not moved.
      return off > MATCH_MM * grown
        ? { state: 'moved', shape, offMm: off / grown }
        : { state: 'changed', shape, offMm: deviation(map, item.shape, shape, 1) / grown };
  }
  const near = byDistance.find(
    ({ shape, off }) =>
      off < 0.25 * item.shape.sizeMm * grown &&
      Math.abs(Math.log(shape.areaMm2 / (item.shape.areaMm2 * grown ** 2))) < 0.4,
  );
  return (
    near && {
      state: 'changed',
      shape: near.shape,
      offMm: deviation(map, item.shape, near.shape, 1) / grown,
    }
  );
}

/** Whether the mark of the zero corner stands at another corner than the plan's. */
function zeroRow(
  reference: Reference,
  { open }: FileLines,
  facts: { file: string; reference: string },
  map: Affine,
  say: Reason[],
): void {
  const has = (corner: ZeroCorner): boolean => {
    const mark = markOf(reference, corner)?.map((p) => mapPoint(map, p));
    return mark !== undefined && open.some((line) => runsAlong(mark, line, MATCH_MM * 2));
  };
  if (!reference.zero || has(reference.zero)) return;
  const corners: readonly ZeroCorner[] = ['top-left', 'top-right', 'bottom-left', 'bottom-right'];
  const other = corners.find((corner) => corner !== reference.zero && has(corner));
  const words = (corner: ZeroCorner): string =>
    corner.replace('bottom', 'front').replace('top', 'back').replace('-', ' ');
  if (other)
    say.push(
      reason('match-zero-corner', { ...facts, found: words(other), wanted: words(reference.zero) }),
    );
}

/** Whether the tool's paths in the file lie where they lay before the cutter's scale was allowed for: no match says so, for they look like no paths of the plan at all. */
function withScale(reference: Reference, match: Match, lines: FileLines, file: string): Match {
  const { unscaled, items, ...page } = reference;
  if (!unscaled) return match;
  const agrees = (only: readonly Item[]): boolean =>
    matchLines({ ...page, items: only }, lines, file).verdict === 'agrees';
  const old = agrees(unscaled) && !agrees(items.filter((i) => i.kind === 'cut'));
  return old
    ? {
        ...match,
        verdict: 'differs',
        rows: [
          ...match.rows,
          { what: 'scale of the cutter', agrees: false, words: 'not allowed for' },
        ],
        reasons: [reason('match-cutter-scale', { file }), ...match.reasons],
      }
    : match;
}

/** What artwork shows and no cut file does. */
const OF_ARTWORK = ['print', 'bleed'];

/**
 * A file held against a plan whose artwork is moved as bed profile and first print ask. Artwork that is moved by just that agrees;
 * artwork that is not is said; anything else is held against the plan as it is: a cut file is never moved.
 */
export function matchPrinted(
  reference: Reference,
  correction: Correction | undefined,
  lines: FileLines,
  file: string,
): Match {
  const plain = withScale(reference, matchLines(reference, lines, file), lines, file);
  if (!correction) return plain;
  const { map, asks, words, holds, until } = correction;
  const ofArtwork = (of: Reference, moves: boolean): Reference => ({
    ...of,
    items: of.items
      .filter((i) => OF_ARTWORK.includes(i.kind))
      .map((i) =>
        moves ? { ...i, shape: new Shape(i.shape.ring.map((p) => mapPoint(map, p))) } : i,
      ),
  });
  const agrees = (moves: boolean): boolean =>
    matchLines(ofArtwork(reference, moves), lines, file).verdict === 'agrees';
  if (agrees(true)) {
    const moved: Reference = {
      ...reference,
      items: reference.items
        .filter((i) => i.kind !== 'cut')
        .map((i) =>
          i.kind === 'bed'
            ? i
            : { ...i, shape: new Shape(i.shape.ring.map((p) => mapPoint(map, p))) },
        ),
    };
    const match = matchLines(moved, lines, file);
    const row = { what: `moved as ${asks}`, agrees: true, words };
    return {
      ...match,
      rows: [row, ...match.rows],
      reasons: [reason('match-corrected', { file, asks, words, holds, until }), ...match.reasons],
    };
  }
  return plain.verdict === 'agrees' && agrees(false)
    ? {
        ...plain,
        reasons: [reason('match-uncorrected', { file, asks, words, holds }), ...plain.reasons],
      }
    : plain;
}

/**
 * A file of any number of pages held against a plan, page by page: a print file has one for each load. On its last page pockets may
 * be missing, if every one before it has them all and nothing else is wrong: a load that is filled in part.
 */
export function matchPages(
  reference: Reference,
  correction: Correction | undefined,
  pages: readonly FileLines[],
  file: string,
): Match {
  const named = (k: number): string => (pages.length > 1 ? `${file}, page ${k + 1}` : file);
  const each = pages.map((lines, k) =>
    matchPrinted(reference, correction, { ...lines, pages: 1 }, named(k)),
  );
  const [first] = each as [Match];
  if (pages.length === 1) return first;
  const last = each.at(-1)!;
  const shown = last.pockets.filter(({ state }) => state === 'agrees').length;
  const part =
    shown > 0 &&
    last.verdict === 'differs' &&
    last.reasons.every(({ level, code }) => level !== 'refuse' || code === 'match-missing') &&
    last.pockets.every(({ state }) => state === 'agrees' || state === 'missing');
  const wrong = each.filter((m) => m.verdict === 'differs' && !(part && m === last));
  const facts = { file, page: pages.length, shown, all: last.pockets.length };
  const worst = wrong[0] ?? first;
  return {
    ...worst,
    file,
    rows: [
      {
        what: `${pages.length} pages`,
        agrees: wrong.length === 0,
        words:
          wrong.length > 0
            ? `wrong on ${wrong.map((m) => each.indexOf(m) + 1).join(', ')}`
            : part
              ? `all agree; the last shows ${shown} of ${last.pockets.length} pockets`
              : 'all agree',
      },
      ...worst.rows,
    ],
    reasons: [
      ...(wrong.length > 0 ? wrong.flatMap((m) => m.reasons) : first.reasons),
      ...(part && wrong.length === 0 ? [reason('match-part-load', facts)] : []),
    ],
  };
}

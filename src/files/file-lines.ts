import type { Point } from '../base/measure.ts';
import { mapPoint, type Affine } from '../geometry/affine.ts';
import { flatten } from '../geometry/curve.ts';
import { boxOf } from '../geometry/measure.ts';
import type { Ring } from '../geometry/shape.ts';

/** A line as it stands in a file, in mm from the lower left corner of its page, y up. */
export interface FileLine {
  readonly points: readonly Point<'bed'>[];
  /** Layer or group it lies in, where the file says one. */
  readonly layer?: string;
}

/**
 * What any program's file shows, geometry alone: nothing of our own notes in it is asked. Lengths are what a program
 * that follows the format's rules takes them for.
 */
export interface FileLines {
  readonly format: 'DXF' | 'SVG' | 'PDF' | 'EPS';
  /** Absent in DXF, which has no page. */
  readonly page?: { readonly widthMm: number; readonly heightMm: number };
  readonly pages: number;
  /** The unit is not written in the file: every program takes one of its own. */
  readonly unitLost: boolean;
  readonly rings: readonly FileLine[];
  readonly open: readonly FileLine[];
  /** Pictures made of pixels. */
  readonly pictures: number;
}

/** Chords leave a curve by at most this, mm. */
export const FLATTEN_MM = 0.002;

/** Ends this near to each other meet, mm. */
const JOIN_MM = 0.01;
const TOUCH_MM = 1e-4;
/** A loose piece as short as this is a joint and no line, mm. */
const SPECK_MM = 5e-4;

const distance = (a: Point<'bed'>, b: Point<'bed'>): number => Math.hypot(a.x - b.x, a.y - b.y);

const isRing = (points: readonly Point<'bed'>[]): boolean => {
  const [a, b] = [points[0]!, points[points.length - 1]!];
  return points.length > 3 && Math.hypot(a.x - b.x, a.y - b.y) <= JOIN_MM;
};

/**
 * Rings and open lines out of whatever pieces a program has left: closed ones, those whose ends meet, and loose pieces
 * that meet two by two.
 */
export function joined(
  pieces: readonly (FileLine & { readonly closed: boolean })[],
): Pick<FileLines, 'rings' | 'open'> {
  const rings: FileLine[] = [];
  const open: FileLine[] = [];
  const named = (points: readonly Point<'bed'>[], layer?: string): FileLine => ({
    points,
    ...(layer !== undefined && { layer }),
  });
  const close = (points: readonly Point<'bed'>[], layer?: string): void => {
    const ring = withoutRepeats(points);
    if (ring.length >= 3) rings.push(named(ring, layer));
  };
  const loose: FileLine[] = [];
  for (const { points, layer, closed } of pieces) {
    if (points.length < 2) continue;
    if (closed || isRing(points)) close(points, layer);
    else if (points.some((p) => distance(p, points[0]!) > SPECK_MM))
      loose.push(named(points, layer));
  }
  for (const { points, layer } of chained(loose)) {
    if (isRing(points)) close(points, layer);
    else open.push(named(points, layer));
  }
  return { rings, open };
}

/** Vertices that repeat the one before them say nothing. */
function withoutRepeats(points: readonly Point<'bed'>[]): Ring<'bed'> {
  const out: Point<'bed'>[] = [];
  for (const p of points) {
    const before = out[out.length - 1];
    if (!before || Math.hypot(p.x - before.x, p.y - before.y) > 1e-6) out.push(p);
  }
  while (out.length > 1) {
    const [a, b] = [out[0]!, out[out.length - 1]!];
    if (Math.hypot(a.x - b.x, a.y - b.y) > 1e-6) break;
    out.pop();
  }
  return out;
}

/** Pieces whose ends meet, and nothing else meets there, as one line. */
function chained(pieces: readonly FileLine[]): FileLine[] {
  const ends = new Map<string, { piece: number; at: Point<'bed'> }[]>();
  const cell = (v: number): number => Math.floor(v / (4 * JOIN_MM));
  const endsOf = ({ points }: FileLine): readonly [Point<'bed'>, Point<'bed'>] => [
    points[0]!,
    points[points.length - 1]!,
  ];
  pieces.forEach((line, piece) => {
    for (const at of endsOf(line)) {
      const key = `${cell(at.x)} ${cell(at.y)}`;
      const there = ends.get(key);
      if (there) there.push({ piece, at });
      else ends.set(key, [{ piece, at }]);
    }
  });
  const used = new Set<number>();
  const nextAt = (p: Point<'bed'>, from: number): number | undefined => {
    const met = new Map<number, number>();
    for (let dx = -1; dx <= 1; dx++)
      for (let dy = -1; dy <= 1; dy++)
        for (const { piece, at } of ends.get(`${cell(p.x) + dx} ${cell(p.y) + dy}`) ?? []) {
          const off = distance(at, p);
          if (piece !== from && off <= JOIN_MM)
            met.set(piece, Math.min(off, met.get(piece) ?? off));
        }
    // Short pieces have several ends near: the nearest goes on, unless a second one touches here as well.
    const [nearest, second] = [...met].sort(([, a], [, b]) => a - b);
    if (!nearest || (second && second[1] <= TOUCH_MM)) return undefined;
    const [piece] = nearest;
    return used.has(piece) || pieces[piece]!.layer !== pieces[from]!.layer ? undefined : piece;
  };
  const out: FileLine[] = [];
  pieces.forEach((line, k) => {
    if (used.has(k)) return;
    used.add(k);
    let points = [...line.points];
    for (let way = 0; way < 2; way++) {
      let last = k;
      for (;;) {
        const end = points[points.length - 1]!;
        const next = nextAt(end, last);
        if (next === undefined) break;
        used.add(next);
        const more = pieces[next]!.points;
        const forward = distance(more[0]!, end) <= distance(more[more.length - 1]!, end);
        for (const p of (forward ? more : [...more].reverse()).slice(1)) points.push(p);
        last = next;
      }
      if (isRing(points)) break;
      points = points.reverse();
    }
    out.push({ ...line, points });
  });
  return out;
}

/** The same for lines that fill the same box, to a twentieth of a millimetre. */
function boxKey({ points }: FileLine): string {
  const { left, bottom, right, top } = boxOf(points);
  return [left, bottom, right, top].map((v) => Math.round(20 * v)).join(' ');
}

/** Collects the paths that a reader meets, in a unit of the file's own, as lines in mm. */
export class Pen {
  readonly painted: (FileLine & { closed: boolean })[] = [];
  private readonly clipped: (FileLine & { closed: boolean })[] = [];
  private pieces: (FileLine & { closed: boolean })[] = [];
  private points: Point<'bed'>[] = [];
  private at: Point<'bed'> = { x: 0, y: 0 };

  /** @param matrix from the file's numbers to mm on the page */
  moveTo(matrix: Affine, x: number, y: number): void {
    this.leave(false);
    this.points = [mapPoint(matrix, { x, y })];
    this.at = { x, y };
  }

  lineTo(matrix: Affine, x: number, y: number): void {
    this.points.push(mapPoint(matrix, { x, y }));
    this.at = { x, y };
  }

  curveTo(
    matrix: Affine,
    ...[x1, y1, x2, y2, x, y]: [number, number, number, number, number, number]
  ): void {
    const [start, c1, c2, to] = [this.at, { x: x1, y: y1 }, { x: x2, y: y2 }, { x, y }].map((p) =>
      mapPoint<'bed'>(matrix, p),
    ) as [Point<'bed'>, Point<'bed'>, Point<'bed'>, Point<'bed'>];
    const curve = flatten({ start, segments: [{ kind: 'cubic', c1, c2, to }] }, FLATTEN_MM);
    this.points.push(...curve.slice(1), to);
    this.at = { x, y };
  }

  /** Where a path goes on after it was closed. */
  close(start: { readonly x: number; readonly y: number }): void {
    this.leave(true);
    this.at = { ...start };
  }

  private leave(closed: boolean): void {
    if (this.points.length > 1) this.pieces.push({ points: this.points, closed });
    this.points = [];
  }

  /** The path is painted: everything since the last one. @param fills an open path that is filled is closed */
  paint(fills: boolean, layer?: string): void {
    this.leave(false);
    for (const piece of this.pieces)
      this.painted.push({
        ...piece,
        closed: piece.closed || fills,
        ...(layer !== undefined && { layer }),
      });
    this.pieces = [];
  }

  /** The path only clips: it is kept aside. */
  clip(): void {
    this.leave(false);
    this.clipped.push(...this.pieces.map((piece) => ({ ...piece, closed: true })));
    this.pieces = [];
  }

  /** Lines that are clipped by and not drawn as well, each once: what artwork is clipped to tells its place. */
  onlyClipped(): readonly (FileLine & { closed: boolean })[] {
    const seen = new Set(this.painted.map(boxKey));
    return this.clipped.filter((piece) => {
      const key = boxKey(piece);
      if (seen.has(key)) return false;
      seen.add(key);
      return true;
    });
  }

  /** Nothing is done with the path. */
  drop(): void {
    this.points = [];
    this.pieces = [];
  }
}

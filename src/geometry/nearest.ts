import type { Frame } from '../base/measure.ts';
import type { Ring } from './shape.ts';

/** A place on a polygon's side. Sides are numbered through all rings, each by its first vertex; `along` runs from 0 to 1. */
export interface Place {
  readonly distance: number;
  readonly x: number;
  readonly y: number;
  readonly side: number;
  readonly along: number;
}

/** No more cells than these along the longer side of what is searched. */
const MOST_CELLS = 1500;

/** Distances from points to closed polygons, by a grid of the polygons' sides. */
export class Nearest {
  private readonly cellMm: number;
  /** The grid: its lower left cell, its size, and the sides in each cell. */
  private readonly left: number;
  private readonly bottom: number;
  private readonly columns: number;
  private readonly rows: number;
  private readonly cells: (number[] | undefined)[];
  private readonly ax: number[] = [];
  private readonly ay: number[] = [];
  private readonly bx: number[] = [];
  private readonly by: number[] = [];

  constructor(rings: readonly Ring<Frame>[], cellMm: number) {
    let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
    for (const ring of rings)
      for (const { x, y } of ring) {
        x0 = Math.min(x0, x);
        y0 = Math.min(y0, y);
        x1 = Math.max(x1, x);
        y1 = Math.max(y1, y);
      }
    this.cellMm = Math.max(cellMm, Math.max(x1 - x0, y1 - y0) / MOST_CELLS) || 1;
    const cell = this.cellMm;
    const whole = (v: number): number => (Number.isFinite(v) ? v : 0);
    this.left = whole(Math.floor(x0 / cell));
    this.bottom = whole(Math.floor(y0 / cell));
    this.columns = whole(Math.floor(x1 / cell) - this.left + 1);
    this.rows = whole(Math.floor(y1 / cell) - this.bottom + 1);
    this.cells = new Array<number[] | undefined>(this.columns * this.rows);
    for (const ring of rings) {
      ring.forEach((p, k) => {
        const q = ring[(k + 1) % ring.length]!;
        const id = this.ax.push(p.x) - 1;
        this.ay.push(p.y);
        this.bx.push(q.x);
        this.by.push(q.y);
        const steps = Math.max(1, Math.ceil((2 * Math.hypot(q.x - p.x, q.y - p.y)) / cell));
        let last = -1;
        for (let s = 0; s <= steps; s++) {
          const i = Math.floor((p.x + ((q.x - p.x) * s) / steps) / cell) - this.left;
          const j = Math.floor((p.y + ((q.y - p.y) * s) / steps) / cell) - this.bottom;
          // A side's points lie within its ends but for rounding.
          const at =
            Math.min(this.rows - 1, Math.max(0, j)) * this.columns +
            Math.min(this.columns - 1, Math.max(0, i));
          if (at === last) continue;
          last = at;
          const here = this.cells[at];
          if (here) here.push(id);
          else this.cells[at] = [id];
        }
      });
    }
  }

  /** Distance from (x, y) to the nearest side; where it is more than `within`, anything more than that. */
  distance(x: number, y: number, within = Infinity): number {
    return this.place(x, y, within).distance;
  }

  /** The nearest place on a side; cells are searched outward until none can be nearer, or none within a distance. */
  place(x: number, y: number, within = Infinity): Place {
    let best = Infinity;
    let square = Infinity;
    let [side, along] = [-1, 0];
    const cell = this.cellMm;
    const [i0, j0] = [Math.floor(x / cell) - this.left, Math.floor(y / cell) - this.bottom];
    // Nearer rings of cells hold nothing.
    const first = Math.max(0, -i0, i0 - this.columns + 1, -j0, j0 - this.rows + 1);
    const all = first + Math.max(this.columns, this.rows);
    for (let ring = first; ring <= all; ring++) {
      // Sides were entered by points at most half a cell apart: half a cell may be missing.
      if (Math.min(best, within) < (ring - 1.5) * cell) break;
      for (let i = Math.max(0, i0 - ring); i <= Math.min(this.columns - 1, i0 + ring); i++) {
        const step = Math.abs(i - i0) === ring ? 1 : 2 * ring || 1;
        for (let j = j0 - ring; j <= j0 + ring; j += step) {
          if (j < 0 || j >= this.rows) continue;
          const here = this.cells[j * this.columns + i];
          if (here === undefined) continue;
          for (const id of here) {
            const ux = this.bx[id]! - this.ax[id]!;
            const uy = this.by[id]! - this.ay[id]!;
            const length = ux * ux + uy * uy;
            const t = length
              ? Math.max(
                  0,
                  Math.min(1, ((x - this.ax[id]!) * ux + (y - this.ay[id]!) * uy) / length),
                )
              : 0;
            const dx = x - this.ax[id]! - t * ux;
            const dy = y - this.ay[id]! - t * uy;
            if (dx * dx + dy * dy < square) {
              square = dx * dx + dy * dy;
              // Rounded alike by every engine, which the language does not ask of hypot.
              best = Math.sqrt(square);
              side = id;
              along = t;
            }
          }
        }
      }
    }
    if (side < 0) return { distance: best, x, y, side, along };
    return {
      distance: best,
      x: this.ax[side]! + along * (this.bx[side]! - this.ax[side]!),
      y: this.ay[side]! + along * (this.by[side]! - this.ay[side]!),
      side,
      along,
    };
  }
}

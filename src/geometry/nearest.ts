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

/** Distances from points to closed polygons, by a grid of the polygons' sides. */
export class Nearest {
  private readonly cells = new Map<number, number[]>();
  private readonly ax: number[] = [];
  private readonly ay: number[] = [];
  private readonly bx: number[] = [];
  private readonly by: number[] = [];

  constructor(
    rings: readonly Ring<Frame>[],
    private readonly cellMm: number,
  ) {
    for (const ring of rings) {
      ring.forEach((p, k) => {
        const q = ring[(k + 1) % ring.length]!;
        const id = this.ax.push(p.x) - 1;
        this.ay.push(p.y);
        this.bx.push(q.x);
        this.by.push(q.y);
        const steps = Math.max(1, Math.ceil((2 * Math.hypot(q.x - p.x, q.y - p.y)) / cellMm));
        let last = NaN;
        for (let s = 0; s <= steps; s++) {
          const key = this.key(p.x + ((q.x - p.x) * s) / steps, p.y + ((q.y - p.y) * s) / steps);
          if (key === last) continue;
          last = key;
          const cell = this.cells.get(key);
          if (cell) cell.push(id);
          else this.cells.set(key, [id]);
        }
      });
    }
  }

  private key(x: number, y: number): number {
    return Math.floor(x / this.cellMm) * 65536 + Math.floor(y / this.cellMm);
  }

  /** Distance from (x, y) to the nearest side; where it is more than `within`, anything more than that. */
  distance(x: number, y: number, within = Infinity): number {
    return this.place(x, y, within).distance;
  }

  /** The nearest place on a side; cells are searched outward until none can be nearer, or none within a distance. */
  place(x: number, y: number, within = Infinity): Place {
    let best = Infinity;
    let [side, along] = [-1, 0];
    const cell = this.cellMm;
    for (let ring = 0; ring < 400; ring++) {
      // Sides were entered by points at most half a cell apart: half a cell may be missing.
      if (Math.min(best, within) < (ring - 1.5) * cell) break;
      for (let dx = -ring; dx <= ring; dx++) {
        const step = Math.abs(dx) === ring ? 1 : 2 * ring || 1;
        for (let dy = -ring; dy <= ring; dy += step) {
          const here = this.cells.get(this.key(x + dx * cell, y + dy * cell));
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
            const d = Math.hypot(x - this.ax[id]! - t * ux, y - this.ay[id]! - t * uy);
            if (d < best) [best, side, along] = [d, id, t];
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

/** A straight line through a point, along a unit direction; in whatever frame its points are. */
export interface Line {
  readonly x: number;
  readonly y: number;
  readonly tx: number;
  readonly ty: number;
}

interface P {
  readonly x: number;
  readonly y: number;
}

/** The line of least squares through points (across it), along a way: that from the first to the last. */
export function lineThrough(
  points: readonly P[],
  way: P = { x: points.at(-1)!.x - points[0]!.x, y: points.at(-1)!.y - points[0]!.y },
): Line {
  const n = points.length;
  const x = points.reduce((sum, p) => sum + p.x, 0) / n;
  const y = points.reduce((sum, p) => sum + p.y, 0) / n;
  let [xx, xy, yy] = [0, 0, 0];
  for (const p of points) {
    xx += (p.x - x) ** 2;
    xy += (p.x - x) * (p.y - y);
    yy += (p.y - y) ** 2;
  }
  const angle = 0.5 * Math.atan2(2 * xy, xx - yy);
  const sign = Math.cos(angle) * way.x + Math.sin(angle) * way.y < 0 ? -1 : 1;
  return { x, y, tx: sign * Math.cos(angle), ty: sign * Math.sin(angle) };
}

/** How far a point lies beside a line, to the left of its way positive (y up). */
export const offOf = (l: Line, p: P): number => (p.x - l.x) * -l.ty + (p.y - l.y) * l.tx;

/** Root mean square of what points stray from a line. */
export const strayOf = (l: Line, points: readonly P[]): number =>
  Math.sqrt(points.reduce((sum, p) => sum + offOf(l, p) ** 2, 0) / points.length);

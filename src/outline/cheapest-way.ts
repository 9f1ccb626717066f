import TinyQueue from 'tinyqueue';

/** Where a way may begin or end: places of the grid with the vertex there and what beginning or ending there costs. */
export type Ends = ReadonlyMap<number, { readonly vertex: number; readonly cost: number }>;

/** A way over a grid: its places, neighbours all, its length in steps of the grid, and what it costs. */
export interface Way {
  readonly places: readonly number[];
  readonly length: number;
  readonly spent: number;
}

/**
 * The cheapest way over a grid from any of some places to any of others (Dijkstra, Numerische Mathematik 1, 1959, pages 269 to
 * 271), straight and aslant; undefined where none leads there.
 *
 * @param open 1 for places that may be taken, row by row
 * @param cost of a step to each place
 * @param width places in a row
 */
export function cheapestWay(
  open: Uint8Array,
  cost: Float32Array,
  width: number,
  starts: Ends,
  stops: Ends,
): Way | undefined {
  const spent = new Float64Array(open.length).fill(Infinity);
  const before = new Int32Array(open.length).fill(-1);
  const done = new Uint8Array(open.length);
  const waiting = new TinyQueue<{ at: number; cost: number }>([], (a, b) => a.cost - b.cost);
  for (const [at, { cost }] of starts) {
    spent[at] = cost;
    waiting.push({ at, cost });
  }
  let end = -1;
  let least = Infinity;
  for (let next = waiting.pop(); next && next.cost < least; next = waiting.pop()) {
    const { at } = next;
    if (done[at]) continue;
    done[at] = 1;
    const stop = stops.get(at);
    if (stop && spent[at]! + stop.cost < least) {
      least = spent[at]! + stop.cost;
      end = at;
    }
    const column = at % width;
    for (let dy = -1; dy <= 1; dy++)
      for (let dx = -1; dx <= 1; dx++) {
        const to = at + dy * width + dx;
        if (to < 0 || to >= open.length || column + dx < 0 || column + dx >= width) continue;
        if (!open[to] || done[to]) continue;
        const there = spent[at]! + Math.hypot(dx, dy) * cost[to]!;
        if (there >= spent[to]!) continue;
        spent[to] = there;
        before[to] = at;
        waiting.push({ at: to, cost: there });
      }
  }
  if (end < 0) return undefined;
  const places = [end];
  while (before[places.at(-1)!]! >= 0) places.push(before[places.at(-1)!]!);
  places.reverse();
  let length = 0;
  for (let k = 1; k < places.length; k++) {
    const apart = Math.abs(places[k]! - places[k - 1]!);
    length += apart === 1 || apart === width ? 1 : Math.SQRT2;
  }
  return { places, length, spent: spent[end]! - starts.get(places[0]!)!.cost };
}

/**
 * Cheapest division of a grid of pixels into two classes (minimum cut).
 * Source: Boykov and Kolmogorov, An experimental comparison of min-cut/max-flow algorithms, TPAMI 26(9), 2004.
 */
export interface Grid {
  readonly width: number;
  readonly height: number;
  /** Cost of calling a pixel background less the cost of calling it object; positive pulls to the object. */
  readonly pull: Float32Array;
  /** Cost of dividing a pixel from its neighbour to the right and below; 0 at the grid's end. */
  readonly right: Float32Array;
  readonly below: Float32Array;
}

const FREE = 0;
const OBJECT = 1;
const BACKGROUND = 2;
const NONE = -1;
const ROOT = 4;
const ORPHAN = 5;

/** 1 where the cheapest division calls the pixel object. */
export function cut(grid: Grid): Uint8Array {
  const { width, height, pull, right, below } = grid;
  const count = width * height;
  // Arcs 0 right, 1 left, 2 down, 3 up; the reverse of arc d is d ^ 1.
  const step = [1, -1, width, -width];
  const spare = new Float32Array(4 * count);
  for (let y = 0; y < height; y++) {
    for (let x = 0; x < width; x++) {
      const i = y * width + x;
      if (x + 1 < width) {
        spare[4 * i] = right[i]!;
        spare[4 * (i + 1) + 1] = right[i]!;
      }
      if (y + 1 < height) {
        spare[4 * i + 2] = below[i]!;
        spare[4 * (i + width) + 3] = below[i]!;
      }
    }
  }
  const terminal = Float32Array.from(pull);
  const tree = new Uint8Array(count);
  const parent = new Int8Array(count).fill(NONE);
  const distance = new Int32Array(count);
  const stamp = new Int32Array(count);
  const queue = new Int32Array(count);
  const queued = new Uint8Array(count);
  let head = 0;
  let waiting = 0;
  const activate = (i: number): void => {
    if (queued[i]) return;
    queued[i] = 1;
    queue[(head + waiting++) % count] = i;
  };
  for (let i = 0; i < count; i++) {
    if (terminal[i] === 0) continue;
    tree[i] = terminal[i]! > 0 ? OBJECT : BACKGROUND;
    parent[i] = ROOT;
    distance[i] = 1;
    activate(i);
  }
  const orphans: number[] = [];
  let time = 0;

  /** Distance to the root over a chain of parents, or 0 when the chain ends at an orphan. */
  const rootDistance = (start: number): number => {
    let j = start;
    let steps = 0;
    for (;;) {
      if (stamp[j] === time) {
        steps += distance[j]!;
        break;
      }
      const a = parent[j]!;
      steps++;
      if (a === ROOT) {
        stamp[j] = time;
        distance[j] = 1;
        break;
      }
      if (a === ORPHAN || a === NONE) return 0;
      j += step[a]!;
    }
    let left = steps;
    for (j = start; stamp[j] !== time; j += step[parent[j]!]!) {
      stamp[j] = time;
      distance[j] = left--;
    }
    return steps;
  };

  const augment = (from: number, arc: number): void => {
    // `from` is in the object's tree, its neighbour over `arc` in the background's.
    const to = from + step[arc]!;
    let flow = spare[4 * from + arc]!;
    let i = from;
    for (; parent[i] !== ROOT; i += step[parent[i]!]!) {
      flow = Math.min(flow, spare[4 * (i + step[parent[i]!]!) + (parent[i]! ^ 1)]!);
    }
    flow = Math.min(flow, terminal[i]!);
    for (i = to; parent[i] !== ROOT; i += step[parent[i]!]!) {
      flow = Math.min(flow, spare[4 * i + parent[i]!]!);
    }
    flow = Math.min(flow, -terminal[i]!);
    spare[4 * from + arc]! -= flow;
    spare[4 * to + (arc ^ 1)]! += flow;
    for (i = from; parent[i] !== ROOT;) {
      const a = parent[i]!;
      const up = i + step[a]!;
      spare[4 * i + a]! += flow;
      const back = 4 * up + (a ^ 1);
      spare[back]! -= flow;
      if (spare[back]! <= 1e-7) {
        spare[back] = 0;
        parent[i] = ORPHAN;
        orphans.push(i);
      }
      i = up;
    }
    terminal[i]! -= flow;
    if (terminal[i]! <= 1e-7) {
      terminal[i] = 0;
      parent[i] = ORPHAN;
      orphans.push(i);
    }
    for (i = to; parent[i] !== ROOT;) {
      const a = parent[i]!;
      const up = i + step[a]!;
      spare[4 * up + (a ^ 1)]! += flow;
      const forth = 4 * i + a;
      spare[forth]! -= flow;
      if (spare[forth]! <= 1e-7) {
        spare[forth] = 0;
        parent[i] = ORPHAN;
        orphans.push(i);
      }
      i = up;
    }
    terminal[i]! += flow;
    if (terminal[i]! >= -1e-7) {
      terminal[i] = 0;
      parent[i] = ORPHAN;
      orphans.push(i);
    }
  };

  const adopt = (i: number): void => {
    const mine = tree[i]!;
    let best = NONE;
    let least = 1e9;
    for (let a = 0; a < 4; a++) {
      const j = i + step[a]!;
      // From parent to child in the object's tree, from child to parent in the background's.
      const room =
        mine === OBJECT ? (j >= 0 && j < count ? spare[4 * j + (a ^ 1)]! : 0) : spare[4 * i + a]!;
      if (room <= 0 || tree[j] !== mine || parent[j] === NONE) continue;
      const d = rootDistance(j);
      if (d > 0 && d < least) {
        least = d;
        best = a;
      }
    }
    if (best !== NONE) {
      parent[i] = best;
      stamp[i] = time;
      distance[i] = least + 1;
      return;
    }
    for (let a = 0; a < 4; a++) {
      const j = i + step[a]!;
      if (j < 0 || j >= count || tree[j] !== mine) continue;
      const room = mine === OBJECT ? spare[4 * j + (a ^ 1)]! : spare[4 * i + a]!;
      if (room > 0) activate(j);
      if (parent[j]! < ROOT && parent[j] !== NONE && parent[j] === (a ^ 1)) {
        parent[j] = ORPHAN;
        orphans.push(j);
      }
    }
    tree[i] = FREE;
    parent[i] = NONE;
  };

  while (waiting > 0) {
    const i = queue[head]!;
    if (tree[i] !== FREE) {
      let found = NONE;
      const mine = tree[i]!;
      for (let a = 0; a < 4 && found === NONE; a++) {
        const j = i + step[a]!;
        if (j < 0 || j >= count) continue;
        const room = mine === OBJECT ? spare[4 * i + a]! : spare[4 * j + (a ^ 1)]!;
        if (room <= 0) continue;
        if (tree[j] === FREE) {
          tree[j] = mine;
          parent[j] = a ^ 1;
          distance[j] = distance[i]! + 1;
          stamp[j] = stamp[i]!;
          activate(j);
        } else if (tree[j] !== mine) {
          found = a;
        } else if (
          stamp[j]! <= stamp[i]! &&
          distance[j]! > distance[i]! + 1 &&
          parent[j] !== ROOT
        ) {
          parent[j] = a ^ 1;
          distance[j] = distance[i]! + 1;
          stamp[j] = stamp[i]!;
        }
      }
      if (found !== NONE) {
        time++;
        if (mine === OBJECT) augment(i, found);
        else augment(i + step[found]!, found ^ 1);
        for (let k = 0; k < orphans.length; k++) adopt(orphans[k]!);
        orphans.length = 0;
        continue;
      }
    }
    queued[i] = 0;
    head = (head + 1) % count;
    waiting--;
  }
  const object = new Uint8Array(count);
  for (let i = 0; i < count; i++) object[i] = tree[i] === OBJECT ? 1 : 0;
  return object;
}

type Ring = readonly (readonly [x: number, y: number])[];

/** Sides of a ring's box, x first. */
export function sizeOf(ring: Ring): [number, number] {
  const span = (k: 0 | 1): number => {
    const all = ring.map((p) => p[k]);
    return Math.max(...all) - Math.min(...all);
  };
  return [span(0), span(1)];
}

/**
 * What calipers read as width and height: the sides of the smallest rectangle round a ring, by trying every tenth of a degree; the
 * one nearer to x first.
 */
export function calipersOf(ring: Ring): [number, number] {
  let best: [number, number, number] = [Infinity, 0, 0];
  for (let k = -450; k < 450; k++) {
    const a = (k * Math.PI) / 1800;
    const [c, s] = [Math.cos(a), Math.sin(a)];
    const [w, h] = sizeOf(ring.map(([x, y]) => [c * x + s * y, c * y - s * x] as const));
    if (w * h < best[0]) best = [w * h, w, h];
  }
  return [best[1], best[2]];
}

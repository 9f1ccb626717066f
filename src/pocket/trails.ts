import type { Point } from '../base/measure.ts';
import { apart, insideRegion, nearestOnRing, perimeter } from '../geometry/measure.ts';
import type { Region, Ring } from '../geometry/shape.ts';
import type { FullSettings, Tool, Trail } from './pocket.ts';

type P = Point<'blank'>;

/** Neighbouring vertices nearer than this are one: at steps of nanometres a cutter halts, mm. */
export const APART_MM = 0.0005;

/** Chords of the arcs that a drag knife's pivot swings leave them by less than this, mm. */
const SWING_SAG_MM = 0.002;

/**
 * Where the pivot of a drag knife goes so that its tip follows the ring: the blade's offset ahead along every edge, and
 * round each vertex on an arc of that radius, on which the tip stands and turns.
 */
export function pivotRing(ring: Ring<'blank'>, offsetMm: number): Ring<'blank'> {
  const n = ring.length;
  const headings = ring.map((p, k) => {
    const q = ring[(k + 1) % n]!;
    return Math.atan2(q.y - p.y, q.x - p.x);
  });
  const most = 2 * Math.acos(1 - Math.min(SWING_SAG_MM / offsetMm, 1));
  const way = ring.flatMap((p, k) => {
    const before = headings[(k + n - 1) % n]!;
    let turn = headings[k]! - before;
    turn = Math.atan2(Math.sin(turn), Math.cos(turn));
    const steps = Math.max(1, Math.ceil(Math.abs(turn) / most));
    return Array.from({ length: steps + 1 }, (_, i): P => {
      const a = before + (turn * i) / steps;
      return { x: p.x + offsetMm * Math.cos(a), y: p.y + offsetMm * Math.sin(a) };
    });
  });
  return apart(way, APART_MM);
}

/** A ring begun at one of its vertices. */
const from = (ring: Ring<'blank'>, k: number): Ring<'blank'> => [
  ...ring.slice(k),
  ...ring.slice(0, k),
];

/** Where the tool enters: a point inside the drop-out, `leadInMm` square off a vertex, well away from every other edge. */
function leadIn(
  region: Region<'blank'>,
  ring: Ring<'blank'>,
  leadInMm: number,
): { start: number; enter: P } | undefined {
  const rings = [region.outer, ...region.holes];
  const step = Math.max(1, Math.floor(ring.length / 48));
  for (const length of [leadInMm, leadInMm / 2, leadInMm / 4]) {
    for (let k = 0; k < ring.length; k += step) {
      const a = ring[(k + ring.length - 1) % ring.length]!;
      const p = ring[k]!;
      const b = ring[(k + 1) % ring.length]!;
      const d = Math.hypot(b.x - a.x, b.y - a.y) || 1;
      // Outer rings run counter-clockwise and holes clockwise: the drop-out always lies to the left.
      const enter = { x: p.x - ((b.y - a.y) / d) * length, y: p.y + ((b.x - a.x) / d) * length };
      if (!insideRegion(region, enter)) continue;
      const near = Math.min(...rings.map((r) => nearestOnRing(r, enter).distanceMm));
      if (near > 0.9 * length) return { start: k, enter };
    }
  }
  return undefined;
}

/** A closed way with `count` gaps of `gapMm`, evenly spread, the first half a space from its start. */
export function withGaps(ring: Ring<'blank'>, count: number, gapMm: number): P[][] {
  const length = perimeter(ring);
  const gaps = Array.from({ length: count }, (_, k) => {
    const middle = ((k + 0.5) * length) / count;
    return [middle - gapMm / 2, middle + gapMm / 2] as const;
  });
  const closed = [...ring, ring[0]!];
  const pieces: P[][] = [];
  let piece: P[] = [closed[0]!];
  let before = 0;
  let next = 0;
  let off = false;
  for (let k = 1; k < closed.length; k++) {
    const [a, b] = [closed[k - 1]!, closed[k]!];
    const edge = Math.hypot(b.x - a.x, b.y - a.y);
    const at = (mm: number): P => ({
      x: a.x + ((b.x - a.x) * (mm - before)) / edge,
      y: a.y + ((b.y - a.y) * (mm - before)) / edge,
    });
    for (;;) {
      const mark = gaps[next]?.[off ? 1 : 0];
      if (mark === undefined || mark > before + edge) break;
      if (off) {
        piece = [at(mark)];
        next++;
      } else {
        piece.push(at(mark));
        pieces.push(piece);
      }
      off = !off;
    }
    if (!off) piece.push(b);
    before += edge;
  }
  pieces.push(piece);
  return pieces;
}

/** How many bridges a ring takes: no more than leave as much cut as bridge. */
export const bridgesOn = (ring: Ring<'blank'>, count: number, gapMm: number): number =>
  Math.min(count, Math.floor(perimeter(ring) / (2 * gapMm)));

/**
 * The ways that the tool follows for one pocket, what lies inside first: posts, then the pocket's own wall, each from
 * where the tool enters the drop-out. Bridges are left in the outer ways only, and only where something would fall out.
 */
export function trailsOf(
  cut: readonly Region<'blank'>[],
  settings: FullSettings,
  radiusMm: number,
): Trail<'blank'>[] {
  const { tool, tabs, tabMm, leadInMm, hold } = settings;
  if (tool.kind === 'drag' && tool.offsetMm > 0)
    return inOrder(cut).map(({ ring }) => ({
      closed: true,
      points: pivotRing(ring, tool.offsetMm),
    }));
  return inOrder(cut).flatMap(({ region, ring, outer }): Trail<'blank'>[] => {
    const lead = leadInMm > 0 && tool.kind !== 'hand' ? leadIn(region, ring, leadInMm) : undefined;
    const way = lead ? from(ring, lead.start) : ring;
    const gap = tabMm + 2 * radiusMm;
    const bridges =
      outer && hold !== 'blind' && tool.kind !== 'hand' ? bridgesOn(ring, tabs, gap) : 0;
    if (!lead && bridges === 0) return [{ closed: true, points: way }];
    const pieces = bridges > 0 ? withGaps(way, bridges, gap) : [[...way, way[0]!]];
    if (lead) pieces[0] = [lead.enter, ...pieces[0]!];
    return pieces.map((points) => ({ closed: false, points }));
  });
}

const inOrder = (
  cut: readonly Region<'blank'>[],
): { region: Region<'blank'>; ring: Ring<'blank'>; outer: boolean }[] => [
  ...cut.flatMap((region) => region.holes.map((ring) => ({ region, ring, outer: false }))),
  ...cut.map((region) => ({ region, ring: region.outer, outer: true })),
];

/** Length of the ways, mm. */
export const lengthOf = <F extends 'blank' | 'bed'>(trails: readonly Trail<F>[]): number =>
  trails.reduce((sum, { closed, points }) => {
    let length = 0;
    for (let k = closed ? 0 : 1; k < points.length; k++) {
      const [a, b] = [points[(k + points.length - 1) % points.length]!, points[k]!];
      length += Math.hypot(b.x - a.x, b.y - a.y);
    }
    return sum + length;
  }, 0);

/** Seconds under the tool at the operator's own speed; ways through the air not counted. */
export const cutSeconds = (
  lengthMm: number,
  { speedMmPerS, passes }: Pick<FullSettings, 'speedMmPerS' | 'passes'>,
): number => (lengthMm * passes) / speedMmPerS;

/** Tool in a few words, with its figure. */
export function toolWords(tool: Tool): string {
  switch (tool.kind) {
    case 'beam':
      return `laser, kerf ${tool.kerfMm.toFixed(2)} mm in all`;
    case 'knife':
      return `knife, kerf ${tool.kerfMm.toFixed(2)} mm in all`;
    case 'mill':
      return `mill, cutter radius ${tool.radiusMm.toFixed(2)} mm`;
    case 'drag':
      return tool.offsetMm > 0
        ? `drag knife, blade offset ${tool.offsetMm.toFixed(2)} mm`
        : "drag knife, blade offset left to the cutter's own program";
    case 'hand':
      return 'by hand, along a print';
  }
}

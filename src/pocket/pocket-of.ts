import type { Point } from '../base/measure.ts';
import { reason, type Reason } from '../base/reason.ts';
import { decide } from '../check/decide.ts';
import type { Clipper } from '../geometry/clipper.ts';
import { lightRing } from '../geometry/light.ts';
import { apart, centroid, mapRegion, perimeter, ringDistance } from '../geometry/measure.ts';
import { Nearest } from '../geometry/nearest.ts';
import type { Region } from '../geometry/shape.ts';
import type { Stretch } from '../outline/outline.ts';
import { asArcs, inArcs } from './in-arcs.ts';
import { notchRegion, roomiest, suggestNotches } from './notch.ts';
import {
  full,
  type FullSettings,
  type Pocket,
  type PocketSettings,
  type Relief,
  type Tool,
  type Widened,
} from './pocket.ts';
import { reliefLine, type ReliefLine } from './relief.ts';
import { APART_MM, bridgesOn, lengthOf, pivotRing, trailsOf } from './trails.ts';
import { flattenedMm } from './warp.ts';
import { grown, pushed, RUN_OUT, runsOf, stretchOf, withPlaces } from './widen.ts';

/** What a cutter leaves at a corner is reported from this depth on, mm; below it lies the polygons' own error. */
const LEAST_DEPTH_MM = 0.01;

/** Relief is milled where the cutter would take at least this much from the clearance, or stand in the blank's way, mm. */
export const RELIEF_FROM_MM = 0.05;

/** A post thinner than this breaks off: it is left out, mm; common practice, no source. */
export const LEAST_POST_MM = 2;

const plain = ({ outer, holes }: Region<'blank'>): Region<'blank'> => ({
  outer: apart(outer, APART_MM),
  holes: holes.map((ring) => apart(ring, APART_MM)),
});

/** Board left round an ejector hole, to the edge of the blank, mm. */
const EJECTOR_WALL_MM = 1;

/** Half the width of what the tool takes away: kerf / 2, or the cutter's radius; a drag knife and a hand part without loss. */
export function toolRadiusMm(tool: Tool): number {
  switch (tool.kind) {
    case 'beam':
    case 'knife':
      return tool.kerfMm / 2;
    case 'mill':
      return tool.radiusMm;
    default:
      return 0;
  }
}

/** How far the tool's centre runs from the seat outline, outward where positive: clearance less the tool's radius, or with it outside the line. */
export const cutShiftMm = ({ clearanceMm, tool, line }: PocketSettings): number =>
  clearanceMm + (line === 'outside' ? 1 : -1) * toolRadiusMm(tool);

export interface Seat {
  readonly outlineId: string;
  readonly blank: number;
  /** The widest outline within the pocket's depth. */
  readonly region: Region<'sheet'>;
  /**
   * Half-width of the band that holds a whole ring of the seat in 95 % of cases, mm, at each vertex, ring by ring
   * (outer first). Absent: nothing is said about it.
   */
  readonly band?: readonly ArrayLike<number>[];
  /** Stretches that no picture could see. */
  readonly hidden?: readonly Stretch[];
}

/** What is known of how pocket and blank stand. */
export interface Standing {
  /** How high the wall of the pocket stands, mm; absent: not measured. */
  readonly wallMm?: number;
  /** How far a corner of the blank lifts as it rocks, mm. */
  readonly rockMm?: number;
}

const onStretch = ({ from, to }: Pick<Stretch, 'from' | 'to'>, k: number): boolean =>
  from <= to ? k >= from && k <= to : k >= from || k <= to;

/**
 * The pocket for one blank, in the blank frame: its origin is the centroid of the seat's outer ring, its axes are the
 * sheet's.
 *
 * - wall: the seat's outer ring grown by the clearance, that of a stretch of its own where there is one, and on request by the outline's own uncertainty; finger notches
 *   opened in it; posts in the blank's holes shrunk by the same, or, without posts, a plain opening.
 * - mouth: where a leaning or chamfered wall ends above, by tan(lean) of its height and the chamfer farther out.
 * - cut: the wall shrunk by the tool's radius, or grown by it where the tool runs outside the line; kerf is taken here and nowhere else.
 * - unreached: what the tool on its path, relief included, leaves standing inside the wall; a beam is as round as a mill.
 * - bleed, safe: the print outline, its holes included, grown and shrunk.
 *
 * Wall and cut err outward, each by at most the clipper's arc tolerance (in lines and arcs: their vertices lie on those, which the
 * tolerance is inside of), and vertices nearer than 0.5 micrometres to the one
 * before are left out: the pocket is never tighter than asked for by more than that.
 */
export function pocketOf(
  clipper: Clipper,
  seat: Seat,
  print: Region<'sheet'>,
  settings: PocketSettings,
  { wallMm, rockMm = 0 }: Standing = {},
): Pocket {
  const set = full(settings);
  const { clearanceMm, tool, bleedMm, safeMm } = set;
  const radiusMm = toolRadiusMm(tool);
  const facts = { blank: seat.blank };
  const reasons: Reason[] = [];
  if (set.hold === 'blind' && tool.kind !== 'mill') reasons.push(reason('blind-needs-mill'));

  const origin = centroid(seat.region.outer);
  const toBlank = (p: Point<'sheet'>): Point<'blank'> => ({ x: p.x - origin.x, y: p.y - origin.y });
  const { solid, leastMm, added, roomMm, bandMm, widened } = roomOf(
    seat.region.outer.map(toBlank),
    seat,
    set,
    rockMm,
  );
  const face: Region<'blank'> = mapRegion<'sheet', 'blank'>(print, toBlank);

  // Where the clearance closes a bay, the ground inside it would be a loose island: it goes with the opening.
  const notchPlaces =
    'radiusMm' in set.notches
      ? suggestNotches(solid.outer, set.notches, (k) =>
          (seat.hidden ?? []).some((s) => s.ring === 0 && onStretch(s, k)),
        )
      : set.notches;
  const notches = notchPlaces.flatMap((notch) =>
    notchRegion(clipper, solid.outer, notch, clearanceMm),
  );
  const open = clipper
    .union(
      pushed(clipper, grown(clipper, solid.outer, leastMm, added, set.corners), set.moreMm),
      notches,
    )
    .map(({ outer }): Region<'blank'> => ({ outer, holes: [] }));
  const posts = set.posts ? postsOf(clipper, seat, toBlank, set, reasons) : [];
  const closed = posts.length > 0 ? clipper.difference(open, posts) : open;
  const outside = set.line === 'outside' && radiusMm > 0;
  const arcs = set.corners === 'arcs';
  // Where nothing is added the wall keeps the clearance, else the least of what is added everywhere.
  const kept = new Set([clearanceMm, leastMm + Math.min(...added)]);
  const edges = arcs
    ? [solid.outer, ...seat.region.holes.map((hole) => hole.map(toBlank))].map(asArcs)
    : [];
  const { regions: wall, curves } = arcs
    ? inArcs(
        closed,
        [...kept].map((mm) => [edges, mm] as const),
      )
    : { regions: closed, curves: [] };
  const shiftMm = outside ? radiusMm : -radiusMm;
  const shifted = clipper.offset(wall, shiftMm, arcs && outside ? 'inward' : 'outward');
  const cut = arcs ? inArcs(shifted, [[curves, shiftMm]]).regions : shifted;
  if (outside)
    reasons.push(
      reason(set.hold === 'blind' ? 'line-outside-blind' : 'line-outside', {
        ...facts,
        widerMm: round(2 * radiusMm),
      }),
    );
  const taken = clipper.offset(cut, radiusMm, 'outward');

  const outMm = mouthOutMm(set, wallMm);
  if (outMm === undefined) reasons.push(reason('draft-unmeasured', { degrees: set.draftDeg }));
  if (set.draftDeg > 0 && tool.kind !== 'mill') reasons.push(reason('draft-needs-mill'));
  const mouth = outMm ? clipper.offset(wall, outMm, 'outward').map(plain) : [];

  const near = new Map<readonly Region<'blank'>[], Nearest>();
  const depthOf = ({ outer }: Region<'blank'>, from: readonly Region<'blank'>[]): number => {
    const rings =
      near.get(from) ??
      new Nearest(
        from.flatMap((r) => [r.outer, ...r.holes]),
        1,
      );
    near.set(from, rings);
    return Math.max(...outer.map((p) => rings.distance(p.x, p.y)));
  };
  const leftBy = (what: readonly Region<'blank'>[]): Region<'blank'>[] =>
    radiusMm > 0 && cut.length > 0 && !outside
      ? clipper.difference(wall, what).filter((region) => depthOf(region, what) > LEAST_DEPTH_MM)
      : [];
  const intoBlank = (region: Region<'blank'>, what: readonly Region<'blank'>[]): number =>
    Math.max(0, ...clipper.intersection([region], [solid]).map((inside) => depthOf(inside, what)));
  const first = leftBy(taken);
  const kind = set.relief;
  // Where one pass of the cutter does not clear all that is left, it clears what the blank itself needs.
  const own = clipper.offset([solid], leastMm, 'outward');
  const relieve = (region: Region<'blank'>, way: Exclude<Relief, 'none'>): ReliefLine[] => {
    for (const needed of [undefined, own, [solid]]) {
      const parts = needed ? clipper.intersection([region], needed) : [region];
      const lines = parts
        .filter((part) => !needed || depthOf(part, taken) > LEAST_DEPTH_MM)
        .map((part) => reliefLine(part, cut, wall, radiusMm, way));
      if (lines.length > 0 && lines.every((line) => line !== undefined)) return lines;
    }
    return [];
  };
  const relief =
    kind === 'none' || tool.kind !== 'mill' || outside
      ? []
      : first
          .filter((r) => depthOf(r, taken) > RELIEF_FROM_MM || intoBlank(r, taken) > LEAST_DEPTH_MM)
          .flatMap((r) => relieve(r, kind));
  const relieved = clipper.stroke(relief, radiusMm);
  const reached = relief.length > 0 ? clipper.union(taken, relieved) : taken;
  const unreached = relief.length > 0 ? leftBy(reached) : first;
  if (relief.length > 0 && clipper.intersection(relieved, posts).length > 0)
    reasons.push(reason('relief-cuts-post', facts));

  if (cut.length === 0) {
    reasons.push(reason('cut-vanishes', { ...facts, radiusMm: round(radiusMm) }));
  } else if (cut.length > wall.length) {
    reasons.push(
      reason('cut-falls-apart', { ...facts, parts: cut.length, radiusMm: round(radiusMm) }),
    );
  }
  if (cut.length > 0 && unreached.length > 0) {
    const blocking = unreached
      .map((region) => intoBlank(region, reached))
      .filter((depth) => depth > LEAST_DEPTH_MM);
    reasons.push(
      blocking.length > 0
        ? reason('corner-blocks', {
            ...facts,
            corners: blocking.length,
            depthMm: round(Math.max(...blocking)),
            radiusMm: round(radiusMm),
          })
        : reason('corner-unreached', {
            ...facts,
            corners: unreached.length,
            depthMm: round(Math.max(...unreached.map((region) => depthOf(region, reached)))),
            radiusMm: round(radiusMm),
          }),
    );
  }
  // The play per side is the room, known to the outline's band; the blank goes in when it is proven not below zero.
  if (bandMm) {
    const [across, inDepth] = set.moreMm;
    // What a direction has more is an edge's own by how far it faces there.
    const plays = solid.outer.flatMap((p, k) => {
      const next = (k + 1) % solid.outer.length;
      const q = solid.outer[next]!;
      const long = Math.hypot(q.x - p.x, q.y - p.y) || 1;
      const moreMm = (across * Math.abs(q.y - p.y) + inDepth * Math.abs(q.x - p.x)) / long;
      return [k, next].map((at) => ({ clearanceMm: roomMm[at]! + moreMm, uMm: bandMm[at]! }));
    });
    const worst = plays.reduce((w, play) =>
      play.clearanceMm - play.uMm < w.clearanceMm - w.uMm ? play : w,
    );
    if (decide(worst.clearanceMm, worst.uMm, { least: 0 }) !== 'proven')
      reasons.push(
        reason('clearance-below-u', {
          ...facts,
          clearanceMm: round(worst.clearanceMm),
          uMm: round(worst.uMm),
        }),
      );
  }
  const safe = clipper.offset([face], -safeMm, 'inward');
  if (safe.length === 0) reasons.push(reason('safe-vanishes', { ...facts, safeMm: round(safeMm) }));

  const eject = ejectorOf(clipper, seat, toBlank, set, radiusMm, reasons);
  const path = cut.map(plain);
  // A way in lies in what falls out, which is kept where the tool runs outside the line.
  const trails = trailsOf(path, outside ? { ...set, leadInMm: 0 } : set, radiusMm);
  const asked = set.hold === 'blind' || tool.kind === 'hand' ? 0 : set.tabs;
  const gap = set.tabMm + 2 * radiusMm;
  if (cut.some(({ outer }) => bridgesOn(outer, asked, gap) < asked))
    reasons.push(reason('tabs-too-many', { ...facts, asked }));

  return {
    outlineId: seat.outlineId,
    wall: wall.map(plain),
    cut:
      tool.kind === 'drag' && tool.offsetMm > 0
        ? path.map(({ outer, holes }) => ({
            outer: pivotRing(outer, tool.offsetMm),
            holes: holes.map((ring) => pivotRing(ring, tool.offsetMm)),
          }))
        : path,
    trails,
    print: plain(face),
    bleed: clipper.offset([face], bleedMm, 'outward').map(plain),
    safe: safe.map(plain),
    unreached,
    relief,
    mouth,
    opening: clipper.union(mouth.length > 0 ? mouth : wall, outside ? taken : relieved).map(plain),
    ...(tool.kind === 'mill' && { insideRadiusMm: insideRadiusMm(clipper, wall) }),
    notches: notches.map(plain),
    notchPlaces,
    eject,
    widened,
    lengthMm:
      lengthOf(trails) +
      lengthOf(eject.map(({ outer }) => ({ closed: true, points: outer }))) +
      2 * lengthOf(relief.map((points) => ({ closed: false, points }))),
    reasons,
  };
}

/** How much farther out the wall ends above than below; undefined where its height is not known. */
function mouthOutMm(
  { draftDeg, chamferMm }: FullSettings,
  wallMm: number | undefined,
): number | undefined {
  if (draftDeg === 0) return chamferMm;
  return wallMm === undefined
    ? undefined
    : wallMm * Math.tan((draftDeg * Math.PI) / 180) + chamferMm;
}

/** No cutter is larger, mm. */
const MOST_RADIUS_MM = 25;

/** The greatest radius whose cutter leaves nothing of the walls deeper than `LEAST_DEPTH_MM`, by halving. */
function insideRadiusMm(clipper: Clipper, walls: readonly Region<'blank'>[]): number {
  const light = walls.map(({ outer, holes }) => ({
    outer: lightRing(outer, LEAST_DEPTH_MM / 5),
    holes: holes.map((ring) => lightRing(ring, LEAST_DEPTH_MM / 5)),
  }));
  const clears = (radiusMm: number): boolean => {
    const cut = clipper.offset(light, -radiusMm, 'outward');
    const taken = clipper.offset(cut, radiusMm + LEAST_DEPTH_MM, 'outward');
    return clipper.difference(light, taken).length === 0;
  };
  let [least, most] = [0, MOST_RADIUS_MM];
  if (clears(most)) return most;
  while (most - least > 0.01) {
    const middle = (least + most) / 2;
    if (clears(middle)) least = middle;
    else most = middle;
  }
  return least;
}

/** What the wall keeps from the seat's outer ring. */
interface Room {
  /** The seat without its holes; a vertex more where a stretch of its own begins, ends or has run out. */
  readonly solid: Region<'blank'>;
  /** Everywhere, and so much more at each vertex. */
  readonly leastMm: number;
  readonly added: Float64Array;
  /** Both together, before additions run out. */
  readonly roomMm: Float64Array;
  /** Half-width of the outline's own band at each vertex; absent: nothing is said about it. */
  readonly bandMm?: Float64Array;
  /** Where the band was added. */
  readonly widened: readonly Widened[];
}

function roomOf(
  outer: Region<'blank'>['outer'],
  { band, hidden = [], blank }: Seat,
  set: FullSettings,
  rockMm: number,
): Room {
  const { clearanceMm, widen } = set;
  const length = perimeter(outer);
  const own = set.along
    .filter((s) => s.blank === blank)
    .map((s) => {
      const longMm = length * ((((s.to - s.from) % 1) + 1) % 1);
      return { ...s, longMm, outMm: Math.abs(s.clearanceMm - clearanceMm) / RUN_OUT };
    });
  // More room runs out past its stretch, less of it begins within: both ends of both are vertices.
  const { ring, sources, placesMm } = withPlaces(
    outer,
    own.flatMap(({ from, longMm, outMm, clearanceMm: c }) => {
      const [a, b, out] = [from * length, from * length + longMm, c > clearanceMm ? outMm : -outMm];
      return 2 * Math.abs(out) < longMm || out > 0
        ? [a - out, a, b, b + out]
        : [a, a + longMm / 2, b];
    }),
  );
  const asked = placesMm.map((mm) => {
    const inside = own.flatMap(({ from, longMm, outMm, clearanceMm: c }) => {
      const along = (((mm - from * length) % length) + length) % length;
      if (along > longMm + 1e-6 && along < length - 1e-6) return [];
      const toEnd = Math.max(0, Math.min(along, longMm - along));
      return c >= clearanceMm ? [c] : [Math.max(c, clearanceMm - RUN_OUT * Math.min(toEnd, outMm))];
    });
    return inside.length > 0 ? Math.max(...inside) : clearanceMm;
  });

  const unseen = hidden.filter((s) => s.ring === 0);
  const n = outer.length;
  const vertexHidden = (k: number): boolean => unseen.some((s) => onStretch(s, k));
  const isHidden = (k: number): boolean => {
    const { vertex, share } = sources[k]!;
    return vertexHidden(vertex) && (share === 0 || vertexHidden((vertex + 1) % n));
  };
  /** A figure of the given vertices at every vertex, in proportion where one was put between two. */
  const between = (of: (k: number) => number): Float64Array =>
    Float64Array.from(
      sources,
      ({ vertex, share }) =>
        (1 - share) * of(vertex) + (share > 0 ? share * of((vertex + 1) % n) : 0),
    );
  const edge = band?.[0];
  // Pressed flat, a bowed piece reaches farther than it was seen to.
  const flatMm = rockMm > 0 ? flattenedMm(outer, rockMm) : 0;
  const bandMm = edge && between((k) => edge[k]! + flatMm);
  const doubt = between((k) =>
    edge && (widen === 'all' || (widen === 'hidden' && vertexHidden(k))) ? edge[k]! + flatMm : 0,
  );
  const roomMm = Float64Array.from(ring, (_, k) => asked[k]! + doubt[k]!);
  const leastMm = Math.min(...asked);
  return {
    solid: { outer: ring, holes: [] },
    leastMm,
    added: roomMm.map((mm) => mm - leastMm),
    roomMm,
    ...(bandMm && { bandMm }),
    widened: widenedOf(ring, doubt, isHidden),
  };
}

/** Stretches to show: the hidden ones, and those surer or less sure than a tenth of a millimetre from each other. */
function widenedOf(
  ring: Region<'blank'>['outer'],
  added: Float64Array,
  isHidden: (k: number) => boolean,
): Widened[] {
  const step = (k: number): number => Math.ceil(added[k]! * 10 - 1e-9);
  const widened: Widened[] = [];
  const classes = new Set(Array.from(ring, (_, k) => `${step(k)} ${isHidden(k)}`));
  for (const name of classes) {
    const mine = (k: number): boolean => added[k]! > 0 && `${step(k)} ${isHidden(k)}` === name;
    for (const [from, to] of runsOf(ring.length, mine)) {
      const points = stretchOf(ring, from, to);
      widened.push({
        points,
        lengthMm: lengthOf([{ closed: false, points }]),
        addedMm: Math.max(...points.map((_, i) => added[(from + i) % ring.length]!)),
        hidden: isHidden(from),
      });
    }
  }
  return widened.sort((a, b) => b.addedMm - a.addedMm);
}

/** The blank's holes shrunk by the clearance, and by their own band where that is asked for; too thin ones are left out and said. */
function postsOf(
  clipper: Clipper,
  { region, band, blank }: Seat,
  toBlank: (p: Point<'sheet'>) => Point<'blank'>,
  { clearanceMm, moreMm, widen, hold }: FullSettings,
  reasons: Reason[],
): Region<'blank'>[] {
  let thin = 0;
  const posts = region.holes.flatMap((hole, h) => {
    const own = widen === 'all' ? Math.max(0, ...Array.from(band?.[h + 1] ?? [])) : 0;
    const outer = hole.map(toBlank).reverse();
    const post = clipper.offset(
      [{ outer, holes: [] }],
      -clearanceMm - Math.max(...moreMm) - own,
      'inward',
    );
    const stout = post.filter((p) => clipper.offset([p], -LEAST_POST_MM / 2, 'inward').length > 0);
    if (stout.length === 0) thin++;
    return stout;
  });
  if (thin > 0) reasons.push(reason('post-thin', { blank, posts: thin, leastMm: LEAST_POST_MM }));
  if (posts.length > 0 && hold !== 'blind')
    reasons.push(
      reason(hold === 'base' ? 'post-loose' : 'post-falls', { blank, posts: posts.length }),
    );
  return posts;
}

/** The tool's way round the ejector hole, under the blank where it is roomiest. */
function ejectorOf(
  clipper: Clipper,
  { region, blank }: Seat,
  toBlank: (p: Point<'sheet'>) => Point<'blank'>,
  { ejectorMm, hold }: FullSettings,
  radiusMm: number,
  reasons: Reason[],
): Region<'blank'>[] {
  if (ejectorMm === 0 || hold === 'through') return [];
  const own = mapRegion<'sheet', 'blank'>(region, toBlank);
  const wantMm = ejectorMm / 2 + EJECTOR_WALL_MM;
  const { at, roomMm } = roomiest(own, wantMm);
  const way = ejectorMm / 2 - radiusMm;
  if (roomMm < wantMm || way <= 0) {
    reasons.push(
      reason('ejector-no-room', {
        blank,
        ejectorMm,
        roomMm: round(Math.max(0, 2 * (roomMm - EJECTOR_WALL_MM))),
      }),
    );
    return [];
  }
  return clipper.stroke([[at, { x: at.x + 1e-4, y: at.y }]], way);
}

const round = (value: number): number => Math.round(value * 100) / 100;

/** Least distance between two pockets' walls, mm; 0 where they touch or overlap. */
export const wallDistance = <F extends 'blank' | 'bed'>(
  a: readonly Region<F>[],
  b: readonly Region<F>[],
): number => Math.min(...a.flatMap((p) => b.map((q) => ringDistance<F>(p.outer, q.outer))));

import { reason, type Reason } from '../base/reason.ts';
import type { Point } from '../base/measure.ts';
import type { Clipper } from '../geometry/clipper.ts';
import { boxOf, centroid } from '../geometry/measure.ts';
import type { Ring } from '../geometry/shape.ts';
import { placeFromZero } from '../plan/plan-bed.ts';
import type { BedSettings } from '../plan/plan.ts';
import { rectangle, tableLine, type SeatSheet } from './seat.ts';

/** A soft piece in a hollow of foam, set by its centre under marks on a film. */
export interface NestSettings {
  readonly foamMm: number;
  /** How much narrower the hollow is than the piece, per side: its rim carries the piece. */
  readonly gripMm: number;
  /** How far the piece sinks in, laid down and smoothed; measure it. */
  readonly sinkMm: number;
  readonly filmMm: number;
  /** Where the piece's centre lies, counted from zero. */
  readonly acrossMm: number;
  readonly inDepthMm: number;
  /** How far the centre marks reach beyond the piece. */
  readonly reachMm: number;
}

export const NEST: NestSettings = {
  foamMm: 20,
  gripMm: 5,
  sinkMm: 3,
  filmMm: 0.1,
  acrossMm: 210,
  inDepthMm: 150,
  reachMm: 15,
};

/** How far its centre lies from the piece's own edges, for marking it there. */
export function centreOf(ring: Ring<'blank'>): {
  readonly leftMm: number;
  readonly rightMm: number;
  readonly frontMm: number;
  readonly rearMm: number;
} {
  const [box, c] = [boxOf(ring), centroid(ring)];
  return {
    leftMm: c.x - box.left,
    rightMm: box.right - c.x,
    frontMm: c.y - box.bottom,
    rearMm: box.top - c.y,
  };
}

/** A film over the bed with the centre's marks, and the hollow in the foam as a page of its own. */
export function nestSeat(
  ring: Ring<'blank'>,
  thicknessMm: number,
  bed: Pick<BedSettings, 'widthMm' | 'depthMm' | 'zero'>,
  s: NestSettings,
  toolMm: number,
  clipper: Clipper,
): SeatSheet {
  const c = centroid(ring);
  const about = ring.map(({ x, y }): Point<'bed'> => ({ x: x - c.x, y: y - c.y }));
  const box = boxOf(about);
  const at = placeFromZero({ x: s.acrossMm, y: s.inDepthMm }, bed);
  const on = (points: readonly Point<'bed'>[]): Point<'bed'>[] =>
    points.map(({ x, y }) => ({ x: x + at.x, y: y + at.y }));
  const hollow = clipper.offset([{ outer: about, holes: [] }], -s.gripMm, 'inward');
  const reasons: Reason[] = [];
  if (hollow.length === 0) reasons.push(reason('nest-no-hollow', { gripMm: s.gripMm }));
  if (s.sinkMm >= thicknessMm)
    reasons.push(
      reason('nest-too-deep', {
        sinkMm: s.sinkMm,
        thicknessMm: Math.round(thicknessMm * 100) / 100,
      }),
    );
  const lies = boxOf(on(about));
  if (lies.left < 0 || lies.bottom < 0 || lies.right > bed.widthMm || lies.top > bed.depthMm)
    reasons.push(reason('nest-beyond'));
  const faceMm = s.foamMm - s.sinkMm + thicknessMm;
  const { leftMm, rightMm, frontMm, rearMm } = centreOf(ring);
  const far = s.reachMm;
  // The cross runs through the piece and beyond; short strokes mark where it leaves the edge's box.
  const cross = [
    [
      { x: box.left - far, y: 0 },
      { x: box.right + far, y: 0 },
    ],
    [
      { x: 0, y: box.bottom - far },
      { x: 0, y: box.top + far },
    ],
  ].map(on);
  const margin = 30;
  const size = { w: box.right - box.left + 2 * margin, d: box.top - box.bottom + 2 * margin };
  const inFoam = (points: readonly Point<'bed'>[]): Point<'bed'>[] =>
    points.map(({ x, y }) => ({ x: x - box.left + margin, y: y - box.bottom + margin }));
  const cut = clipper.offset(hollow, -toolMm, 'inward');
  const foam: SeatSheet = {
    name: 'nest',
    widthMm: size.w,
    depthMm: size.d,
    layers: [
      {
        name: 'pocket',
        what: 'the hollow, finished',
        closed: hollow.map(({ outer }) => inFoam(outer)),
      },
      {
        name: 'cut',
        what: "where the tool's centre goes",
        closed: cut.map(({ outer }) => inFoam(outer)),
      },
      { name: 'print', what: 'the piece that lies over it', closed: [inFoam(about)] },
      { name: 'board', what: 'the foam', closed: [rectangle(0, 0, size.w, size.d)] },
    ],
    section: [],
    figures: [],
    notes: [
      `Foam ${s.foamMm.toFixed(1)} mm; the hollow is ${s.gripMm.toFixed(1)} mm narrower than the piece on every side.`,
      `The piece's centre lies at ${(margin - box.left).toFixed(2)}, ${(margin - box.bottom).toFixed(2)} mm of this page.`,
    ],
    reasons: [],
  };
  const inner = boxOf(hollow.flatMap(({ outer }) => outer));
  const [l, r] = hollow.length > 0 ? [inner.left, inner.right] : [0, 0];
  const top = s.foamMm;
  return {
    name: 'centre marks',
    widthMm: bed.widthMm,
    depthMm: bed.depthMm,
    layers: [
      { name: 'cross', what: 'the centre, to lay the piece under', open: cross },
      { name: 'print', what: 'outline of the piece', closed: [on(about)] },
      {
        name: 'board',
        what: 'the bed',
        closed: [rectangle(0, 0, bed.widthMm, bed.depthMm)],
      },
      {
        name: 'mark',
        what: 'place of the centre from zero',
        words: [
          {
            at: on([{ x: 0, y: box.bottom - far - 5 }])[0]!,
            heightMm: 3,
            words: `${s.acrossMm.toFixed(1)}, ${s.inDepthMm.toFixed(1)}`,
          },
        ],
      },
    ],
    section: [
      tableLine(box.left - 25, box.right + 25),
      { line: 'board', closed: true, points: rectangle(box.left - 20, 0, l - box.left + 20, top) },
      { line: 'board', closed: true, points: rectangle(r, 0, box.right + 20 - r, top) },
      {
        line: 'item',
        closed: true,
        points: rectangle(box.left, top - s.sinkMm, box.right - box.left, thicknessMm),
      },
      {
        line: 'print',
        closed: false,
        points: [
          { x: box.left - 20, y: faceMm + s.filmMm },
          { x: box.right + 20, y: faceMm + s.filmMm },
        ],
      },
    ],
    standsOut: 'the film',
    figures: [
      { name: 'Face over the table', mm: faceMm },
      { name: 'Centre from the left edge', mm: leftMm },
      { name: 'Centre from the right edge', mm: rightMm },
      { name: 'Centre from the front edge', mm: frontMm },
      { name: 'Centre from the rear edge', mm: rearMm },
    ],
    notes: [
      'Mark the centre on the piece, lay it on the nest, and print this page on film laid over the bed.',
      'Push the piece until its mark lies under the cross, then take the film away before the artwork is printed.',
      `Its centre lies ${s.acrossMm.toFixed(2)} mm across and ${s.inDepthMm.toFixed(2)} mm in depth from zero; its face ${faceMm.toFixed(2)} mm over the table. Measure that height: soft pieces differ.`,
    ],
    reasons,
    parts: hollow.length > 0 ? [foam] : [],
  };
}

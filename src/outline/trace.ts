import type { Point } from '../base/measure.ts';
import { silent, type Progress } from '../base/progress.ts';
import { reason, Refusal, type Reason } from '../base/reason.ts';
import type { Clipper } from '../geometry/clipper.ts';
import { flatten, mirrored } from '../geometry/curve.ts';
import { fitCurves } from '../geometry/fit.ts';
import { centroid, inside, outwardNormals, signedArea } from '../geometry/measure.ts';
import type { RayVertex } from '../geometry/radial.ts';
import type { CurveRing, Ring } from '../geometry/shape.ts';
import type { Picture } from '../picture/picture.ts';
import { faceHeights, isScanner, sheetOfPicture } from '../view/model.ts';
import type { Source, View } from '../view/view.ts';
import { intoBays } from './bays.ts';
import { backdropOf, STAGE, type Backdrop } from './backdrop.ts';
import { FITTED_CORNER, measureEdge, type Edge } from './edge.ts';
import { huedFor, type Hued } from './hue.ts';
import { lightsOf } from './linear.ts';
import { pointsOfCurve, type CurvesOfMask } from './mask-curves.ts';
import type {
  At,
  Outline,
  OutlineMode,
  Stretch,
  Trace,
  TraceSettings,
  Verdict,
} from './outline.ts';
import { withoutDust } from './dust.ts';
import { faceContour, farSideU, wallBeside, wallSeen, type WallSeen } from './glass-face.ts';
import {
  alongRim,
  handMade,
  handMode,
  keepPaint,
  paintedOn,
  reachPx,
  withPaint,
  type Painted,
} from './paint.ts';
import { planesOf, type Planes } from './planes.ts';
import { withPoints } from './points.ts';
import {
  evidenceOf,
  holesOrPrint,
  maskOf,
  palePatch,
  ridersOn,
  thingsOf,
  type Thing,
} from './silhouette.ts';
import { stepsOf } from './steps.ts';
import { tipsOf, tipUncertainty } from './tips.ts';
import { MOST_WALL_PX, onFeet } from './feet.ts';
import { insideBulge, overhangMode, rimOf, widestBehind } from './rim.ts';
import {
  alongNormal,
  outlineModes,
  processingModes,
  seenPlanes,
  wholeFactorOf,
  type Seen,
} from './uncertainty.ts';
import { heldAt, plumbed, wallPlaces, type Wall } from './plumb.ts';
import { throughBoth } from './rim-and-foot.ts';
import { behindWall, sheetRing, wallWidths } from './wall.ts';

/** What is drawn across a gap may miss the edge by this share of its length (k = 1): half the sagitta where the edge turns by 45 degrees. */
const GAP_SHARE = 0.1;
/** A rider that covers more of a thing lies on a mere support. */
const SUPPORT_SHARE = 0.65;
/** Less of a thing than this on the stage: it lies on the border or the table. */
const LEAST_ON_STAGE = 0.25;
/** Smaller holes are left out, mm²: crumbs and dots of print look like them. */
export const LEAST_HOLE_MM2 = 0.6;
/** An inset polygon turns by more than this at a vertex only where the blank has a corner. */
export const CORNER_RAD = 0.4;
/** Shorter pieces that close a gap are not worth a mark, mm. */
export const LEAST_HIDDEN_MM = 0.25;
export const LEAST_DOUBTFUL_MM = 1.5;
/** Chords of the outline leave its curves by less, mm; half of what is promised. */
export const CHORD_MM = 0.0025;
/** Vertices stand at most this far apart, so that u along the outline is told everywhere. */
const LONGEST_CHORD_MM = 1;
/** Standard uncertainties of the edge's place, px (measured on rendered pictures with known edges). */
const SLOW_PX = 0.02;
const BIAS_PX = 0.03;
/** Where print changes at the edge the line may follow the print: RMS within the reach of such a place, measured on a render. */
const BIAS_PRINT_PX = 0.6;
const BIAS_RAMP_PX = 0.06;
/** Stretches placed by coarser colour lay 0.25, -0.33, -0.07, 0.11 and -0.07 px off those placed by brightness on the same blanks. */
const BIAS_COLOUR_PX = 0.2;
/** Half of what lies between the places that the colours give the edge. */
const APART_SHARE = 0.5;
/** From the median error of such stretches over the rendered pictures, 0.24 px. */
const BIAS_FAINT_PX = 0.36;
/** The others were measured at this blur, px, and grow with it. */
const BIAS_BLUR_PX = 0.65;
/**
 * A rounded or bevelled edge fewer than so many px wide is one step in the picture. Where brightness places it, its middle is the
 * widest place (-0.04 of the edge's depth); where it is faint, or print or colour, the middle lay 0.32 and 0.31 of the depth within.
 */
const NARROW_EDGE_PX = 4;
const NARROW_SHARE = 0.3;
/** Scatter of a fitted curve as a share of the points' scatter: one independent point in 6 px, pieces of some 20 px. */
const FIT_SHARE = 0.6;
const FAINT = 0.15;
/** Standard uncertainty of an edge taken to be square: its widest place lies below the face by this share of the thickness. */
const SQUARE_SHARE = 0.08;
const SQUARE_MOST_MM = 0.2;
/** What a scanner's drive does is smooth over so much, mm: farther beyond the marks nothing is known of it. */
const FEED_KNOWN_MM = 15;
/** From this share of the thickness on, the widest place is so far below the face that the edge is no mere rounding or bevel. */
const LEANING_SHARE = 1 / 3;
/** Share of a visible wall's width by which its foot may be missed on a darker stage (k = 1), and the widest such wall, mm. */
const WALL_SHARE = 0.4;
const WALL_MM = 1;

/**
 * Finds every blank on the stage and draws its outline at true scale in the sheet frame.
 *
 * @param clipper insets the face of an edge that is not square
 * @param curvesOfMask smooth curves round a coarse mask (potrace, possibly in a worker)
 * @param picture, view the picture and its calibration
 * @returns outlines (mm, sheet frame), numbered from left to right, with uncertainty, verdict and reasons
 * @throws Refusal `no-blank`, `only-block`, `outline-lost`, `blank-over-edge`, `blank-cut-off`, `widest-above-face`
 */
export async function trace(
  clipper: Clipper,
  curvesOfMask: CurvesOfMask,
  picture: Picture,
  view: View,
  settings: TraceSettings,
  progress: Progress = silent,
): Promise<Trace> {
  progress('compare with the bare sheet', 0, 4);
  const lights = lightsOf(picture);
  const planes = planesOf(picture, view);
  const backdrop = backdropOf(planes, view);
  progress('find the blanks', 1, 4);
  const inRider = ridersOn(planes, view);
  const evidence = evidenceOf(backdrop, inRider, planes.width);
  const painted = paintedOn(settings.strokes, planes, evidence);
  if (painted) withPaint(evidence, painted);
  const steps = stepsOf(planes, backdrop, evidence.sure, lights.luma, view.blurPx);
  const mask = maskOf(planes, backdrop, steps, evidence, view.mmPerPx);
  if (painted) keepPaint(mask, painted);
  const reasons: Reason[] = [];
  const things = blanksAmong(
    thingsOf(mask, planes, backdrop, inRider, view.mmPerPx),
    planes,
    view,
    reasons,
  );
  // What she painted is no patch that nobody knows what to make of.
  const told = painted ? mask.map((m, k) => (painted.as[k] === 0 ? m : 1)) : mask;
  const pale = palePatch(told, planes, backdrop, inRider, view.mmPerPx);
  if (pale) {
    const at = coarseOnSheet(pale.x, pale.y, planes, view);
    const areaMm2 = round(pale.areaMm2, 0);
    reasons.push(reason('stage-off-colour', { ...at, areaMm2, stage: otherStage(view) }));
  }
  const closed = holesOrPrint(mask, planes, backdrop, steps, evidence, inRider, view.mmPerPx);
  if (closed[0]) {
    const at = coarseOnSheet(closed[0].x, closed[0].y, planes, view);
    const facts = { count: closed.length, areaMm2: round(closed[0].areaMm2, 1) };
    reasons.push(reason('hole-or-print', { ...at, ...facts, stage: otherStage(view) }));
  }
  progress('measure their edges', 2, 4);
  const silhouettes: Silhouette[] = [];
  for (const thing of things) {
    const hued = huedFor(thing.mask, planes, backdrop, lights, settings.oneOfSeveral);
    const silhouette = await silhouetteOf(thing, planes, hued, view, backdrop, curvesOfMask);
    if (silhouette) silhouettes.push(silhouette);
  }
  if (!silhouettes.length) throw new Refusal('no-blank', { stage: otherStage(view) });
  silhouettes.sort((a, b) => a.middle.x - b.middle.x);
  progress('draw the outlines', 3, 4);
  const outlines: Outline[] = [];
  const walls = silhouettes.map((s, k) => wallOf(s, k + 1, view, settings));
  const plumb = plumbed(
    view,
    walls.filter((w) => w !== undefined),
  );
  silhouettes.forEach((s, k) => {
    const held = walls[k] ? heldAt(plumb, view, walls[k].heights) : view;
    const own = settings.inFrame ? plumb : held;
    outlines.push(
      ...outlinesOf(clipper, s, k + 1, own, settings, backdrop, planes, inRider, painted, reasons),
    );
  });
  const heights = new Set(Object.values(settings.thicknessMm));
  if (painted && heights.size > 1)
    reasons.push(reason('paint-renumbers', { found: silhouettes.length }));
  const named = Math.max(0, ...Object.keys(settings.thicknessMm).map(Number));
  if (named > silhouettes.length) {
    reasons.push(reason('blanks-fewer', { named, found: silhouettes.length }));
  }
  progress('draw the outlines', 4, 4);
  return {
    outlines,
    verdict: verdictOf([...view.reasons, ...reasons]),
    reasons,
    ...(settings.inFrame && { view: plumb }),
  };
}

export const verdictOf = (reasons: readonly Reason[]): Verdict =>
  reasons.some((r) => r.level === 'refuse')
    ? 'refused'
    : reasons.some((r) => r.level === 'doubt')
      ? 'doubtful'
      : 'ok';

/** The stage to propose where this one does not do. */
const otherStage = (view: View): string =>
  view.sheet.tone === 'hue' ? 'white or black' : 'coloured (for instance teal)';

const round = (v: number, digits = 2): number => Number(v.toFixed(digits));

/** To a hundredth, never down: what is above a limit must read so. */
export const roundedUp = (mm: number): number => Math.ceil(100 * mm - 1e-9) / 100;

/** Where a coarse pixel looks on the sheet, whole mm. */
function coarseOnSheet(x: number, y: number, planes: Planes, view: View): { x: number; y: number } {
  const { left, top, step } = planes;
  const p = sheetOfPicture(
    view.eye,
    { x: left + (x + 0.5) * step - 0.5, y: top + (y + 0.5) * step - 0.5 },
    0,
  );
  return { x: round(p.x, 0), y: round(p.y, 0) };
}

function placeOf(thing: Thing, planes: Planes, view: View): { x: number; y: number } {
  const [x0, y0, x1, y1] = thing.box;
  return coarseOnSheet((x0 + x1) / 2, (y0 + y1) / 2, planes, view);
}

/**
 * What only carries a rider: as many things as blocks of their height were entered, those that their riders cover most, and
 * whatever a rider covers nearly all of.
 */
function supportsAmong(things: readonly Thing[], view: View): Set<Thing> {
  const { blocksMm = [] } = view.settings;
  const heights = faceHeights(view.settings);
  const out = new Set<Thing>();
  const carriers = things
    .filter((t) => t.riders.length > 0)
    .sort((a, b) => b.riderShare - a.riderShare);
  for (const mm of blocksMm) {
    const block = carriers.find(
      (t) => !out.has(t) && t.riders.every((r) => heights[view.riders[r]!.thicknessIndex] === mm),
    );
    if (block) out.add(block);
  }
  const rest = things.filter((t) => !out.has(t));
  const small = rest.filter((t) => t.riders.length > 0 && t.riderShare >= SUPPORT_SHARE);
  // A rider on the only thing there is measures a blank, however small.
  if (small.length < rest.length) small.forEach((t) => out.add(t));
  return out;
}

/** Leaves out what lies on the border only or reaches over the paper's edge, and what only carries a rider. */
function blanksAmong(
  things: readonly Thing[],
  planes: Planes,
  view: View,
  reasons: Reason[],
): Thing[] {
  const onStage = things.filter((t) => t.onStage >= LEAST_ON_STAGE && !t.reachesEdge);
  for (const thing of things) {
    if (onStage.includes(thing)) continue;
    const place = placeOf(thing, planes, view);
    if (!onStage.length && thing.onStage >= LEAST_ON_STAGE)
      throw new Refusal(isScanner(view.eye) ? 'blank-over-glass' : 'blank-over-edge', place);
    reasons.push(reason(isScanner(view.eye) ? 'object-over-glass' : 'object-over-edge', place));
  }
  const supports = supportsAmong(onStage, view);
  for (const support of supports) {
    const place = placeOf(support, planes, view);
    if (supports.size === onStage.length) throw new Refusal('only-block', place);
    reasons.push(reason('support-left-out', place));
  }
  return onStage.filter((t) => !supports.has(t));
}

/** The edges of one blank in the picture, the outer one first. */
interface Silhouette {
  readonly thing: Thing;
  readonly hued: Hued;
  /** What a scanner's lens shows of its wall. */
  readonly beside: WallSeen | undefined;
  readonly edges: readonly Edge[];
  readonly middle: Point<'sheet'>;
}

async function silhouetteOf(
  thing: Thing,
  planes: Planes,
  hued: Hued,
  view: View,
  backdrop: Backdrop,
  curvesOfMask: CurvesOfMask,
): Promise<Silhouette | undefined> {
  const { lights, sheetHue } = hued;
  const PAD = 2;
  const [bx0, by0, bx1, by1] = thing.box;
  const width = bx1 - bx0 + 1 + 2 * PAD;
  const height = by1 - by0 + 1 + 2 * PAD;
  const crop = new Uint8Array(width * height);
  for (let y = by0; y <= by1; y++) {
    for (let x = bx0; x <= bx1; x++) {
      crop[(y - by0 + PAD) * width + x - bx0 + PAD] = thing.mask[y * planes.width + x]!;
    }
  }
  const { step } = planes;
  const contours = (await curvesOfMask(crop, width, height))
    .map((curve) => {
      const points = pointsOfCurve(curve, 0.5);
      for (let k = 0; k < points.length; k += 2) {
        points[k] = planes.left + (points[k]! + bx0 - PAD + 0.5) * step - 0.5;
        points[k + 1] = planes.top + (points[k + 1]! + by0 - PAD + 0.5) * step - 0.5;
      }
      return { points, area: Math.abs(areaOf(points)) * view.mmPerPx ** 2 };
    })
    .sort((a, b) => b.area - a.area);
  const inkAt = thing.coversMarks ? backdrop.inkAt : undefined;
  const edges: Edge[] = [];
  for (const [k, { points, area }] of contours.entries()) {
    if (k > 0 && area < LEAST_HOLE_MM2) continue;
    const reach = Math.min(
      reachPx(step),
      k > 0 ? (0.35 * Math.sqrt(area)) / view.mmPerPx : Infinity,
    );
    const edge = measureEdge(lights, points, k > 0, view.blurPx, reach, sheetHue, inkAt);
    if (edge) edges.push(edge);
    else if (k === 0) return undefined;
  }
  const { eye } = view;
  const wall = isScanner(eye)
    ? wallSeen(eye, lights, edges, Math.max(...view.settings.thicknessMm) || undefined)
    : undefined;
  const onFace =
    isScanner(eye) && wall?.share
      ? edges.map((edge, k) => {
          const reach = Math.max(2, 0.4 * wall.widestPx);
          const contour = faceContour(lights, edge, wall);
          const beside = wallBeside(wall);
          return (
            measureEdge(lights, contour, k > 0, view.blurPx, reach, undefined, undefined, beside) ??
            edge
          );
        })
      : edges;
  const clean = isScanner(eye) ? onFace.map(withoutDust) : onFace;
  const ring = sheetRing(clean[0]!, view, 0);
  return { thing, hued, beside: wall, edges: clean, middle: centroid(ring) };
}

function areaOf(points: Float64Array): number {
  let sum = 0;
  const n = points.length >> 1;
  for (let k = 0; k < n; k++) {
    const m = (k + 1) % n;
    sum += points[2 * k]! * points[2 * m + 1]! - points[2 * m]! * points[2 * k + 1]!;
  }
  return sum / 2;
}

/** What is known of a measured point, whichever ring it ends in. */
interface Origin {
  readonly edge: Edge;
  readonly k: number;
}

/**
 * By how much a face may differ in height from the piece or block beside it that carries the rider of its height (k = 1), mm:
 * one reading of its thickness, the instrument's own error being common to both.
 */
const besideU = ({ riders, settings }: View, thing: Thing, thicknessIndex: number): number =>
  riders.some((r) => r.thicknessIndex === thicknessIndex) &&
  !thing.riders.some((r) => riders[r]!.thicknessIndex === thicknessIndex)
    ? settings.thicknessU
    : 0;

/** The thickness of a blank, and which of a view's it is. */
function thicknessOf(
  blank: number,
  view: View,
  settings: TraceSettings,
): { thicknessMm: number; thicknessIndex: number } {
  const thicknessMm = settings.thicknessMm[blank] ?? view.settings.thicknessMm[0] ?? 0;
  const thicknessIndex = Math.max(
    0,
    view.settings.thicknessMm.findIndex((t) => Math.abs(t - thicknessMm) < 1e-6),
  );
  return { thicknessMm, thicknessIndex };
}

/** What the wall of a blank shows, where it is straight and nothing else tells from where it was seen. */
function wallOf(
  { hued, edges: strongest, middle }: Silhouette,
  blank: number,
  view: View,
  settings: TraceSettings,
): Wall | undefined {
  const { thicknessMm, thicknessIndex } = thicknessOf(blank, view, settings);
  if (isScanner(view.eye) || settings.oneOfSeveral) return undefined;
  if ((settings.widestMm ?? thicknessMm) < thicknessMm) return undefined;
  const heights = { thicknessIndex, belowFaceMm: 0, at: middle };
  const planes = seenPlanes(view, heights);
  const edges = strongest.map((edge) =>
    onFeet(hued.lights, edge, wallWidths(edge, view, planes), view.blurPx, hued.sheetHue),
  );
  const { rings, foot, scale, mmPerPx } = behindWall(view, edges, planes);
  if (!foot) return undefined;
  return {
    places: wallPlaces(rings, { foot, scale, mmPerPx }, hued.lights.luma, view, planes),
    heights,
  };
}

/** How far an edge reaches beyond the rows of a scan that its marks lie on, mm; 0 of a scan without marks of its own. */
function beyondMarks({ residuals, mmPerPx }: View, { y }: Edge): number {
  const rows = residuals.filter(({ kept }) => kept).map(({ at }) => at.y);
  if (rows.length === 0) return 0;
  const [least, most] = [Math.min(...y), Math.max(...y)];
  return mmPerPx * Math.max(0, Math.min(...rows) - least, most - Math.max(...rows));
}

function outlinesOf(
  clipper: Clipper,
  { thing, hued, beside, edges: strongest, middle }: Silhouette,
  blank: number,
  view: View,
  settings: TraceSettings,
  backdrop: Backdrop,
  planes: Planes,
  inRider: Uint8Array,
  painted: Painted | undefined,
  reasons: Reason[],
): Outline[] {
  const { lights, sheetHue } = hued;
  const { thicknessMm, thicknessIndex } = thicknessOf(blank, view, settings);
  const widestMm = settings.widestMm ?? thicknessMm;
  if (widestMm > thicknessMm + 1e-9)
    throw new Refusal('widest-above-face', { widestMm, thicknessMm });
  const belowFaceMm = thicknessMm - widestMm;
  // Over the sheet it lies on; a scanned face lies on the glass.
  const ofWidest = seenPlanes(view, { thicknessIndex, belowFaceMm, at: middle });
  const heightAbove = isScanner(view.eye) ? 0 : ofWidest[1] - ofWidest[0];
  // A rounded or bevelled edge leaves the silhouette to the widest place; a leaning wall's face may hide it.
  const leans = belowFaceMm > LEANING_SHARE * thicknessMm;
  const ofFace = seenPlanes(view, { thicknessIndex, belowFaceMm: 0, at: middle });
  const rim = leans ? rimOf(lights.luma, strongest, view, [ofWidest[1], ofFace[1]]) : undefined;
  const seenOn = rim ? ofFace : ofWidest;

  // Where the rim was seen, the strongest edge is the foot.
  const edges = rim
    ? strongest
    : strongest.map((edge) =>
        onFeet(lights, edge, wallWidths(edge, view, seenOn), view.blurPx, sheetHue),
      );
  const origins: Origin[] = edges.flatMap((edge) =>
    Array.from({ length: edge.count }, (_, k) => ({ edge, k })),
  );
  const { rings: behind, foot, scale, mmPerPx } = behindWall(view, edges, seenOn);
  const through =
    foot && !rim && !settings.oneOfSeveral
      ? throughBoth(
          behind,
          foot,
          scale,
          lights,
          view,
          seenOn,
          mmPerPx,
          sheetHue,
          (from) => from >= 0 && origins[from]!.edge.corner[origins[from]!.k] === FITTED_CORNER,
        )
      : behind;
  const inBays =
    foot && !rim && !settings.oneOfSeveral
      ? intoBays(through, strongest, lights, view, seenOn[1], mmPerPx)
      : through;
  const ofEdge = withPoints(inBays, edges, strongest, view, seenOn);
  const seenFrom = isScanner(view.eye) ? 0 : view.eye.centre[2] - ofWidest[1];
  const all = ofEdge.map((ring) => {
    if (!foot || belowFaceMm <= 0) return ring;
    if (rim) return widestBehind(ring, rim, foot, scale);
    return leans ? ring : insideBulge(ring, belowFaceMm, foot, seenFrom);
  });
  const large = all.filter((ring) => Math.abs(signedArea(ring)) > LEAST_HOLE_MM2 / 2);
  if (large.length === 0)
    throw new Refusal('outline-lost', {
      ...{ x: round(middle.x, 0), y: round(middle.y, 0) },
      thicknessMm,
    });
  const outer = large.reduce((a, b) => (signedArea(b) > signedArea(a) ? b : a));
  const rings = [outer, ...large.filter((ring) => signedArea(ring) < 0 && inside(outer, ring[0]!))];

  const sigmaPx = Float64Array.from(edges.flatMap((e) => [...e.sigma])).sort();
  const sigmaMm = sigmaPx[sigmaPx.length >> 1]! * mmPerPx;
  const traced = rings.map((ring) => withCorners(ring, origins));

  const farSide = (edge: Edge, k: number): number =>
    beside ? farSideU(beside, edge, k, mmPerPx, thicknessMm || undefined) : 0;
  const narrowMm = belowFaceMm < NARROW_EDGE_PX * mmPerPx ? NARROW_SHARE * belowFaceMm : 0;
  const wall = { foot, scale, farSide, narrowMm, blurPx: view.blurPx };
  if (isScanner(view.eye)) {
    const beyondMm = beyondMarks(view, strongest[0]!);
    if (beyondMm > FEED_KNOWN_MM)
      reasons.push(reason('feed-unmeasured', { blank, beyondMm: round(beyondMm, 0) }));
  }
  if (beside && beside.widestPx * mmPerPx > 0) {
    reasons.push(reason('wall-beside-face', { blank, wallMm: round(beside.widestPx * mmPerPx) }));
  }
  const resolvedMm = Math.max(2, 3 * view.blurPx) * mmPerPx;
  // First what the view leaves uncertain, then curves that may use a third of it.
  const plain = traced.map((t) =>
    t.points.filter((_, k) => k % Math.ceil(t.points.length / 60) === 0),
  );
  // Nobody said where the edge is widest: it is taken to be square, and may be a little rounded or bevelled; below, always.
  const lowestU = Math.min(SQUARE_MOST_MM, SQUARE_SHARE * thicknessMm);
  const widestU = settings.widestMm !== undefined ? settings.widestU : lowestU;
  const heights = {
    thicknessIndex,
    belowFaceMm: rim ? 0 : belowFaceMm,
    widestU: rim ? 0 : widestU,
    lowestU,
    besideU: Math.hypot(besideU(view, thing, thicknessIndex), settings.warpU ?? 0),
    at: middle,
  };
  const rough = describe(plain, traced, origins, mmPerPx, [], wall, 0);
  const roughModes = outlineModes(view, rough.seen, heights);
  const roughU = alongNormal(rough.seen, roughModes, rough.edgeU);
  // A third of U as it is along most of the edge: its greatest may be that of one faint stretch.
  const typical = roughU.filter((_, k) => !rough.hidden[k]).sort();
  const typicalU = 2 * (typical[typical.length >> 1] ?? Math.max(...roughU));
  const tolerance = settings.fitToleranceMm ?? Math.min(0.05, typicalU / 3);
  const fitted = traced.map((t) =>
    fitCurves({ ...t, sigmaMm, sigmas: sigmasOf(t, origins, mmPerPx) }, tolerance),
  );
  const deviations = fitted.map((f) => f.deviationMm);
  const fitDeviationMm = Math.max(...deviations);

  const make = (
    at: At,
    curves: readonly CurveRing<'sheet'>[],
    extraBiasMm: number,
  ): { outline: Outline; expanded: number; worst: Source } => {
    const polygons = curves.map((c) => divided(flatten(c, CHORD_MM)));
    const d = describe(polygons, traced, origins, mmPerPx, deviations, wall, resolvedMm);
    // Only now: curves are not fitted more loosely because the camera may have sharpened.
    let modes = [...outlineModes(view, d.seen, heights), ...processingModes(view, d.seen)];
    if (belowFaceMm > 0 && !isScanner(view.eye))
      modes = [...modes, overhangMode(d.seen, view.eye, ofWidest[1], ofFace[1], rim, leans)];
    if (extraBiasMm > 0) {
      modes = [
        ...modes,
        {
          source: 'edge depth',
          dx: Float64Array.from(d.seen, (v) => v.nx * extraBiasMm),
          dy: Float64Array.from(d.seen, (v) => v.ny * extraBiasMm),
        },
      ];
    }
    const heightMm = heightAbove + (at === 'face' && belowFaceMm > 0 ? belowFaceMm : 0);
    const hand = painted && alongRim(painted, planes, d.seen, d.doubtful, heightMm, view);
    // Of several pictures each has it, that their modes stay in step.
    if (settings.strokes)
      modes = [...modes, handMode(d.seen, hand ?? new Float64Array(d.seen.length))];
    const byHand = hand
      ? stretches(
          polygons,
          Uint8Array.from(hand, (v) => (v > 0 ? 1 : 0)),
          0,
        )
      : [];
    const unsure = hand ? d.doubtful.map((v, k) => (hand[k]! > 0 ? 0 : v)) : d.doubtful;
    const u = alongNormal(d.seen, modes, d.edgeU);
    let worstAt = 0;
    d.seen.forEach((_, k) => {
      if (!d.hidden[k] && (d.hidden[worstAt] || u[k]! > u[worstAt]!)) worstAt = k;
    });
    const perRing = (values: Float64Array): Float64Array[] => {
      let first = 0;
      return polygons.map((p) => values.slice(first, (first += p.length)));
    };
    const outline: Outline = {
      id: `blank-${blank}-${at}`,
      blank,
      at,
      region: { outer: polygons[0]!, holes: polygons.slice(1) },
      curves: { outer: curves[0]!, holes: curves.slice(1) },
      fitDeviationMm,
      heightMm,
      ...(at === 'widest' && { belowFaceMm }),
      thicknessMm,
      modes,
      edgeU: perRing(d.edgeU),
      u: perRing(u),
      wholeFactor: wholeFactorOf(d.seen, modes, d.edgeU, u),
      hidden: stretches(polygons, d.hidden, LEAST_HIDDEN_MM),
      ...(byHand.length > 0 && { byHand }),
      doubtful: stretches(polygons, unsure, LEAST_DOUBTFUL_MM).map((stretch) => ({
        ...stretch,
        why: 'the edge is faint, blurred or beside another step',
      })),
      rider: thing.riders.length > 0,
      mirrored: false,
    };
    return {
      outline,
      expanded: 2 * u[worstAt]!,
      worst: largestSource(d.seen[worstAt]!, worstAt, modes, d.edgeU),
    };
  };

  const measured = make(
    belowFaceMm > 0 ? 'widest' : 'face',
    fitted.map((f) => f.curve),
    0,
  );
  const made = [measured.outline];
  const { lengthMm, U } = handMade(measured.outline);
  if (lengthMm > 0)
    reasons.push(
      reason('painted-by-hand', { blank, lengthMm: round(lengthMm, 1), uMm: roundedUp(U) }),
    );
  if (belowFaceMm > 0) {
    // Where nothing in the picture says otherwise, the edge is taken to be as deep as it is high.
    const { insetMm: depthMm, uMm: u } = rim ?? { insetMm: belowFaceMm, uMm: belowFaceMm / 3 };
    const inner = insetCurves(
      clipper,
      fitted.map((f) => f.curve),
      depthMm,
      sigmaMm,
      tolerance,
    );
    if (inner.length) {
      made.push(make('face', inner, u).outline);
      reasons.push(
        reason(rim ? 'edge-depth-seen' : 'edge-depth-assumed', {
          blank,
          depthMm: round(depthMm),
          uMm: round(u),
        }),
      );
    }
  }
  judgeBlank(
    measured,
    blank,
    { thing, hued, beside, edges, middle },
    view,
    settings,
    backdrop,
    planes,
    inRider,
    thicknessMm,
    resolvedMm,
    reasons,
  );
  return settings.face === 'back' ? made.map((o) => seenFromBehind(o, middle.x)) : made;
}

const sigmasOf = (t: Traced, origins: readonly Origin[], mmPerPx: number): Float64Array =>
  Float64Array.from(t.from, (from) => {
    if (from < 0) return 0;
    const { edge, k } = origins[from]!;
    return edge.sigma[k]! * mmPerPx;
  });

interface Traced {
  readonly points: Ring<'sheet'>;
  readonly corner: Uint8Array;
  /** Index into the measured points, -1 for a meeting. */
  readonly from: Int32Array;
  readonly far: Uint8Array;
  readonly hiddenAfter: Uint8Array;
  /** Length of the straight piece instead of which a gap was drawn anew, mm; 0 elsewhere. */
  readonly gapMm: Float64Array;
}

/** Angle at which two curves that meet count as a corner. */
const MEETING_CORNER_RAD = (18 * Math.PI) / 180;

function withCorners(ring: readonly RayVertex<'sheet'>[], origins: readonly Origin[]): Traced {
  const n = ring.length;
  const corner = new Uint8Array(n);
  const direction = (k: number, sign: number): [number, number] => {
    // Over about half a millimetre, so that noise does not turn it.
    let m = k;
    for (let c = 0; c < 12; c++) {
      m = (m + sign + n) % n;
      if (Math.hypot(ring[m]!.x - ring[k]!.x, ring[m]!.y - ring[k]!.y) > 0.5) break;
    }
    return [sign * (ring[m]!.x - ring[k]!.x), sign * (ring[m]!.y - ring[k]!.y)];
  };
  ring.forEach((v, k) => {
    if (v.kind === 'gap') {
      const before = ring[(k + n - 1) % n]!;
      const length = v.hiddenAfter
        ? Math.hypot(ring[(k + 1) % n]!.x - v.x, ring[(k + 1) % n]!.y - v.y)
        : Math.hypot(before.x - v.x, before.y - v.y);
      if (length > 0.1) corner[k] = 1;
      return;
    }
    if (v.from >= 0) {
      const { edge, k: at } = origins[v.from]!;
      corner[k] = edge.corner[at]!;
      return;
    }
    const [ax, ay] = direction(k, -1);
    const [bx, by] = direction(k, 1);
    if (Math.abs(Math.atan2(ax * by - ay * bx, ax * bx + ay * by)) > MEETING_CORNER_RAD)
      corner[k] = 1;
  });
  return {
    points: ring.map((v) => ({ x: v.x, y: v.y })),
    corner,
    from: Int32Array.from(ring, (v) => v.from),
    far: Uint8Array.from(ring, (v) => (v.kind === 'near' ? 0 : 1)),
    hiddenAfter: Uint8Array.from(ring, (v) => (v.hiddenAfter ? 1 : 0)),
    gapMm: Float64Array.from(ring, (v) => v.gapMm ?? 0),
  };
}

/** Splits long chords, so that every millimetre has a vertex. */
export function divided(ring: Ring<'sheet'>): Point<'sheet'>[] {
  const out: Point<'sheet'>[] = [];
  ring.forEach((p, k) => {
    const q = ring[(k + 1) % ring.length]!;
    const count = Math.max(1, Math.ceil(Math.hypot(q.x - p.x, q.y - p.y) / LONGEST_CHORD_MM));
    for (let c = 0; c < count; c++) {
      out.push({ x: p.x + ((q.x - p.x) * c) / count, y: p.y + ((q.y - p.y) * c) / count });
    }
  });
  return out;
}

interface Description {
  readonly seen: Seen[];
  readonly edgeU: Float64Array;
  readonly hidden: Uint8Array;
  readonly doubtful: Uint8Array;
}

/** Hands every vertex what is known of the measured point nearest to it. */
function describe(
  polygons: readonly Ring<'sheet'>[],
  traced: readonly Traced[],
  origins: readonly Origin[],
  mmPerPx: number,
  fitDeviationsMm: readonly number[],
  wall: {
    readonly foot: Point<'sheet'> | undefined;
    readonly scale: number;
    /** See `farSideU`, mm. */
    readonly farSide: (edge: Edge, k: number) => number;
    /** By how much the widest place may be missed where the edge is not plain, mm. */
    readonly narrowMm: number;
    readonly blurPx: number;
  },
  resolvedMm: number,
): Description {
  const seen: Seen[] = [];
  const edgeU: number[] = [];
  const hidden: number[] = [];
  const doubtful: number[] = [];
  polygons.forEach((polygon, r) => {
    const t = traced[r]!;
    const { nx, ny } = outwardNormals(polygon);
    const tips = resolvedMm > 0 ? tipUncertainty(polygon, resolvedMm) : undefined;
    let at = nearestIndex(t.points, polygon[0]!, 0, t.points.length);
    polygon.forEach((p, k) => {
      // Both run the same way round: look on from the last one found.
      at = nearestIndex(
        t.points,
        p,
        at - 20,
        60 + Math.ceil((2 * t.points.length) / polygon.length),
      );
      const next = polygon[(k + 1) % polygon.length]!;
      const before = polygon[(k + polygon.length - 1) % polygon.length]!;
      let from = t.from[at]!;
      for (let s = 1; from < 0 && s < t.points.length; s++)
        from = t.from[(at + s) % t.points.length]!;
      const origin = origins[Math.max(0, from)]!;
      const { edge, k: m } = origin;
      const faint = edge.contrast[m]! < FAINT || edge.poor[m] === 1;
      const plain = Math.max(
        (edge.ramp[m] ? BIAS_RAMP_PX : BIAS_PX) * Math.max(1, wall.blurPx / BIAS_BLUR_PX),
        edge.byColour[m] ? BIAS_COLOUR_PX : 0,
        APART_SHARE * edge.apart[m]!,
      );
      const bias = edge.printed[m] ? BIAS_PRINT_PX : faint ? Math.max(plain, BIAS_FAINT_PX) : plain;
      // A wider wall that lies in its own shade looks like a dark stage: its foot may be missed.
      const { foot, scale } = wall;
      const wide = foot ? (scale - 1) * ((foot.x - p.x) * nx[k]! + (foot.y - p.y) * ny[k]!) : 0;
      const shaded = wide > MOST_WALL_PX * mmPerPx && edge.inside[m]! > edge.outside[m]!;
      const unseen = shaded ? WALL_SHARE * Math.min(WALL_MM, wide) : edge.footU[m]! * mmPerPx;
      const missed = t.far[at] ? 0 : unseen;
      const unplain = faint || edge.printed[m] === 1 || edge.byColour[m] === 1;
      const gapMm = gapAt(t, at, p);
      const own = Math.hypot(
        FIT_SHARE * edge.sigma[m]! * mmPerPx,
        SLOW_PX * mmPerPx,
        (fitDeviationsMm[r] ?? 0) / 3,
        tips?.[k] ?? 0,
        GAP_SHARE * gapMm,
      );
      seen.push({
        x: p.x,
        y: p.y,
        nx: nx[k]!,
        ny: ny[k]!,
        far: t.far[at] === 1,
        share:
          (Math.hypot(next.x - p.x, next.y - p.y) + Math.hypot(p.x - before.x, p.y - before.y)) / 2,
        biasMm: Math.hypot(bias * mmPerPx, missed, unplain ? wall.narrowMm : 0),
        farSideMm: wall.farSide(edge, m),
      });
      edgeU.push(own);
      hidden.push(gapMm > 0 ? 1 : 0);
      doubtful.push(edge.poor[m]! | edge.printed[m]!);
    });
  });
  return {
    seen,
    edgeU: Float64Array.from(edgeU),
    hidden: Uint8Array.from(hidden),
    doubtful: Uint8Array.from(doubtful),
  };
}

/** Index of the point nearest to p among `count` points from `from` on, cyclically. */
function nearestIndex(
  points: Ring<'sheet'>,
  p: Point<'sheet'>,
  from: number,
  count: number,
): number {
  const n = points.length;
  let best = 0;
  let least = Infinity;
  for (let c = 0; c < Math.min(n, count); c++) {
    const k = (((from + c) % n) + n) % n;
    const d = (points[k]!.x - p.x) ** 2 + (points[k]!.y - p.y) ** 2;
    if (d < least) {
      least = d;
      best = k;
    }
  }
  return best;
}

/**
 * Length of the stretch drawn across a gap on which p lies, at one of whose pieces' ends `at` is, mm; 0 where p lies on none. A
 * stretch that was moved since consists of many pieces.
 */
function gapAt(t: Traced, at: number, p: Point<'sheet'>): number {
  const n = t.points.length;
  const lengthOf = (k: number): number => {
    const [q, r] = [t.points[(k + n) % n]!, t.points[(k + 1) % n]!];
    return Math.hypot(r.x - q.x, r.y - q.y);
  };
  for (const a of [at, (at + n - 1) % n]) {
    if (!t.hiddenAfter[a]) continue;
    const q = t.points[a]!;
    const r = t.points[(a + 1) % n]!;
    const piece = lengthOf(a);
    const along = ((p.x - q.x) * (r.x - q.x) + (p.y - q.y) * (r.y - q.y)) / (piece || 1);
    if (along < -0.01 || along > piece + 0.01) continue;
    let stretch = piece;
    for (let k = a + 1; k < a + n && t.hiddenAfter[k % n]; k++) stretch += lengthOf(k % n);
    for (let k = a - 1; k > a - n && t.hiddenAfter[(k + n) % n]; k--) stretch += lengthOf(k);
    if (stretch >= LEAST_HIDDEN_MM) return Math.max(stretch, t.gapMm[a]!);
  }
  return 0;
}

/** By ring, 1 at the vertices of these stretches: what `stretches` undoes. */
export function marked(rings: readonly Ring<'sheet'>[], list: readonly Stretch[]): Uint8Array[] {
  const out = rings.map((ring) => new Uint8Array(ring.length));
  for (const { ring, from, to } of list) {
    const flags = out[ring]!;
    for (let k = from; ; k = (k + 1) % flags.length) {
      flags[k] = 1;
      if (k === to) break;
    }
  }
  return out;
}

/** Runs of marked vertices of at least a length, per ring. */
export function stretches(
  polygons: readonly Ring<'sheet'>[],
  marked: Uint8Array,
  leastMm: number,
): Stretch[] {
  const out: Stretch[] = [];
  let first = 0;
  polygons.forEach((polygon, ring) => {
    const n = polygon.length;
    const on = (k: number): boolean => marked[first + ((k + n) % n)] === 1;
    const start = Array.from({ length: n }, (_, k) => k).find((k) => !on(k));
    if (start === undefined) out.push({ ring, from: 0, to: n - 1 });
    else {
      for (let c = 0; c < n; c++) {
        const k = (start + c) % n;
        if (!on(k) || on(k - 1)) continue;
        let length = 0;
        let end = k;
        while (on(end + 1)) {
          const p = polygon[end % n]!;
          const q = polygon[(end + 1) % n]!;
          length += Math.hypot(q.x - p.x, q.y - p.y);
          end++;
        }
        if (length >= leastMm) out.push({ ring, from: k, to: end % n });
      }
    }
    first += n;
  });
  return out;
}

export function largestSource(
  v: Seen,
  k: number,
  modes: readonly OutlineMode[],
  edgeU: Float64Array,
): Source {
  const shares = new Map<Source, number>([['edge', edgeU[k]! ** 2]]);
  for (const { source, dx, dy } of modes) {
    shares.set(source, (shares.get(source) ?? 0) + (v.nx * dx[k]! + v.ny * dy[k]!) ** 2);
  }
  return [...shares].reduce((a, b) => (b[1] > a[1] ? b : a))[0];
}

export const ADVICE: Readonly<Record<Source, string>> = {
  spans: 'measure the check spans of the printed sheet with calipers',
  'sheet age': 'read one span of the sheet again on the day the picture is taken',
  'focal length': 'lay a rider on the blank, or step back and use the longer lens',
  lens: 'lay a rider on the blank, or keep the sheet away from the corners of the picture',
  marks: 'go nearer, or use the full resolution of the camera',
  'print error': 'print the sheet on the flatbed printer itself',
  'sheet flatness': 'glue the sheet to a flat board, or print it on one',
  'rider size': 'measure the rider with calipers',
  'rider height': 'lay the rider flat on the face and tape it down',
  thickness: 'measure the thickness of the blank with calipers',
  scanner: 'lay the strip beside the blanks, or make a profile of the scanner',
  feed: 'lay the strip along the long side of the glass, where it follows the drive',
  'far side': 'measure the blank with its middle under the middle of the glass, or photograph it',
  'edge depth':
    'bring the camera straight above the blank and nearer to it, or lay the blank with its wider side up',
  'widest height': 'measure how high the widest place of the edge lies',
  edge: 'go nearer, hold the camera still and give it more light',
  'edge bias': 'use a stage against which the blank stands out, and soft light from all sides',
  'camera processing': 'switch portrait mode, filters and beauty programs of the camera off',
  'curve fit': 'ask for a smaller fit tolerance',
  'by hand': 'draw it once more, closer up, or read it with calipers',
  readings: 'read once more, or with a finer instrument',
};

/** 1 where a polygon turns so sharply that it has a corner there. */
export function cornersOf(ring: Ring<'sheet'>): Uint8Array {
  const n = ring.length;
  return Uint8Array.from(ring, (p, k) => {
    const a = ring[(k + n - 1) % n]!;
    const b = ring[(k + 1) % n]!;
    const cross = (p.x - a.x) * (b.y - p.y) - (p.y - a.y) * (b.x - p.x);
    const dot = (p.x - a.x) * (b.x - p.x) + (p.y - a.y) * (b.y - p.y);
    return Math.abs(Math.atan2(cross, dot)) > CORNER_RAD ? 1 : 0;
  });
}

/** Moves curves (the outer one first) inward by a depth and fits them anew; the largest piece, empty when nothing is left. */
function insetCurves(
  clipper: Clipper,
  [outer, ...holes]: readonly CurveRing<'sheet'>[],
  depthMm: number,
  sigmaMm: number,
  toleranceMm: number,
): CurveRing<'sheet'>[] {
  const polygon = (c: CurveRing<'sheet'>): Ring<'sheet'> => flatten(c, CHORD_MM);
  const pieces = clipper.offset<'sheet'>(
    [{ outer: polygon(outer!), holes: holes.map(polygon) }],
    -depthMm,
    'inward',
  );
  if (!pieces.length) return [];
  const largest = pieces.reduce((a, b) => (signedArea(b.outer) > signedArea(a.outer) ? b : a));
  // In the order of the curves; a hole that grows into another or through the edge leaves no face to speak of.
  const grown = holes.map((hole) => largest.holes.find((h) => inside(h, hole.start)));
  if (new Set(grown).size < holes.length || grown.includes(undefined)) return [];
  return [largest.outer, ...grown.map((h) => h!)].map((ring) => {
    const points = divided(ring);
    const corner = cornersOf(points);
    return fitCurves<'sheet'>({ points, corner, sigmaMm }, toleranceMm).curve;
  });
}

/** The outline of the face that lay below: mirrored left to right about x = axis. */
export function seenFromBehind(o: Outline, axis: number): Outline {
  const flip = <T>(values: readonly T[]): T[] => [values[0]!, ...values.slice(1).reverse()];
  const rings = [o.region.outer, ...o.region.holes];
  const ringOf = (ring: Ring<'sheet'>): Ring<'sheet'> =>
    flip(ring).map((p) => ({ x: 2 * axis - p.x, y: p.y }));
  const values = (v: Float64Array): Float64Array => Float64Array.from(flip([...v]));
  const all = (v: Float64Array, sign: number): Float64Array => {
    let first = 0;
    return Float64Array.from(
      rings.flatMap((ring) => flip([...v.subarray(first, (first += ring.length))])),
      (x) => sign * x,
    );
  };
  const stretch = <S extends Stretch>(s: S): S => {
    const n = rings[s.ring]!.length;
    return { ...s, from: (n - s.to) % n, to: (n - s.from) % n };
  };
  return {
    ...o,
    region: { outer: ringOf(o.region.outer), holes: o.region.holes.map(ringOf) },
    curves: {
      outer: mirrored<'sheet'>(o.curves.outer, axis),
      holes: o.curves.holes.map((hole) => mirrored<'sheet'>(hole, axis)),
    },
    modes: o.modes.map((m) => ({ ...m, dx: all(m.dx, -1), dy: all(m.dy, 1) })),
    edgeU: o.edgeU.map(values),
    u: o.u.map(values),
    hidden: o.hidden.map(stretch),
    doubtful: o.doubtful.map(stretch),
    ...(o.byHand && { byHand: o.byHand.map(stretch) }),
    mirrored: true,
    mirroredAtMm: axis,
  };
}

/** Share of the contour whose inner side looks like sheet: refuse above, doubt above. */
const LIKE_STAGE_REFUSE = 0.5;
const LIKE_STAGE_DOUBT = 0.05;
const UNCLEAR_DOUBT = 0.1;

function judgeBlank(
  { outline, expanded, worst }: { outline: Outline; expanded: number; worst: Source },
  blank: number,
  { thing, edges }: Silhouette,
  view: View,
  settings: TraceSettings,
  backdrop: Backdrop,
  planes: Planes,
  inRider: Uint8Array,
  thicknessMm: number,
  resolvedMm: number,
  reasons: Reason[],
): void {
  const { wantMm } = settings;
  const facts = { blank, uMm: roundedUp(expanded), wantMm, source: worst, advice: ADVICE[worst] };
  if (expanded > 3 * wantMm) reasons.push(reason('outline-too-uncertain', facts));
  else if (expanded > wantMm) reasons.push(reason('outline-uncertain', facts));

  const tips = [outline.region.outer, ...outline.region.holes]
    .flatMap((ring) => tipsOf(ring, resolvedMm).map((tip) => ({ ...tip, at: ring[tip.vertex]! })))
    .filter(({ unseenMm }) => unseenMm > wantMm / 2)
    .sort((p, q) => q.unseenMm - p.unseenMm);
  if (tips.length) {
    const { at, unseenMm } = tips[0]!;
    reasons.push(
      reason('tip-unresolved', {
        blank,
        count: tips.length,
        x: round(at.x, 0),
        y: round(at.y, 0),
        lengthMm: round(unseenMm),
      }),
    );
  }

  let like = 0;
  let counted = 0;
  let clipped = 0;
  let poor = 0;
  let printed = 0;
  let cut = 0;
  const inward = 1.5 * planes.step;
  for (const edge of edges) {
    for (let k = 0; k < edge.count; k++) {
      counted++;
      clipped += edge.clipped[k]!;
      poor += edge.poor[k]!;
      printed += edge.printed[k]!;
      const x = edge.x[k]!;
      const y = edge.y[k]!;
      if (x < 2 || y < 2 || x > view.widthPx - 3 || y > view.heightPx - 3) cut++;
      const i = Math.floor((x - edge.nx[k]! * inward - planes.left) / planes.step);
      const j = Math.floor((y - edge.ny[k]! * inward - planes.top) / planes.step);
      if (i < 0 || j < 0 || i >= planes.width || j >= planes.height) continue;
      const q = j * planes.width + i;
      if (
        backdrop.kind[q] === STAGE &&
        !inRider[q] &&
        Math.abs(backdrop.level[q]!) < 0.15 &&
        backdrop.chroma[q]! < 0.05
      )
        like++;
    }
  }
  const stage = otherStage(view);
  const percent = Math.round((100 * like) / counted);
  if (like > LIKE_STAGE_REFUSE * counted)
    reasons.push(reason('blank-like-stage', { blank, percent, stage }));
  else if (like > LIKE_STAGE_DOUBT * counted)
    reasons.push(reason('edge-like-stage', { blank, percent, stage }));
  if (printed > 0) {
    reasons.push(reason('print-at-edge', { blank, lengthMm: round(printed * view.mmPerPx, 0) }));
  }
  if (poor > UNCLEAR_DOUBT * counted) {
    const lengthMm = round(poor * view.mmPerPx, 0);
    reasons.push(
      reason('edge-unclear', { blank, percent: Math.round((100 * poor) / counted), lengthMm }),
    );
  }
  const clippedMm = clipped * view.mmPerPx;
  if (clippedMm > 1) reasons.push(reason('edge-clipped', { blank, lengthMm: round(clippedMm, 1) }));
  if (cut > 3) reasons.push(reason('blank-cut-off', { blank }));
  if (thing.coversMarks) reasons.push(reason('blank-on-border', { blank }));
  const { foot } = view;
  if (foot && thicknessMm > 2 && !inside(outline.region.outer, foot)) {
    reasons.push(
      reason('foot-beside-blank', { blank, thicknessMm, x: round(foot.x, 0), y: round(foot.y, 0) }),
    );
  }
  const rings = [outline.region.outer, ...outline.region.holes];
  let hiddenMm = 0;
  for (const { ring, from, to } of outline.hidden) {
    const p = rings[ring]!;
    for (let k = from; k !== to; k = (k + 1) % p.length) {
      const q = p[(k + 1) % p.length]!;
      hiddenMm += Math.hypot(q.x - p[k]!.x, q.y - p[k]!.y);
    }
  }
  if (hiddenMm > 0) reasons.push(reason('stretch-hidden', { blank, lengthMm: round(hiddenMm, 1) }));
}

import { Matrix, inverse, pseudoInverse } from 'ml-matrix';
import type { Point } from '../base/measure.ts';
import { movedBy, waysToLay, type Motion } from '../geometry/lay.ts';
import { boxOf, centroid, outwardNormals } from '../geometry/measure.ts';
import { Nearest } from '../geometry/nearest.ts';
import type { Region, Ring } from '../geometry/shape.ts';
import type { Outline } from '../outline/outline.ts';
import { marked } from '../outline/trace.ts';
import { EDGE_CORRELATION_MM } from '../outline/uncertainty.ts';
import { designOfSheet, eyeOf, pictureOf, sheetOfDesign, sheetOfPicture } from '../view/model.ts';
import type { PhotoView } from '../view/view.ts';

/** A kind of blank whose pieces are laid on a bed: its outline as it was measured before, in the blank frame. */
export interface LooseKind {
  /** Its number in the job. */
  readonly blank: number;
  readonly outlineId: string;
  readonly region: Region<'blank'>;
  /** Standard uncertainty of its edge along most of it, mm. */
  readonly edgeU: number;
  readonly thicknessMm: number;
  /** How many were laid; absent: any number. */
  readonly count?: number;
}

/**
 * Where a piece lies, and how sure that is. The marked sheet was printed by the printer that prints the pieces, in one frame: a piece
 * is placed against the ink about it, as if that lay where it was sent to but for the print's scale and shear (`View.print`), which
 * the artwork is corrected by. So what the printer makes of lengths moves nothing.
 */
export interface Lying {
  /** Bed from blank. */
  readonly motion: Motion;
  /** The centroid of its outline, bed mm. */
  readonly middle: Point<'bed'>;
  /** Covariance of x, y (mm) and turn (rad, about `middle`), row-major; k = 1. */
  readonly covariance: Float64Array;
  /** Root mean square distance of its edge from that of its kind, what no picture saw left out, mm. */
  readonly offMm: number;
  /** The turns (degrees, from this one) at which its outline lies no worse. */
  readonly alsoDeg: readonly number[];
}

/** Rounds of the fit, and the step at which it has come to rest, mm and rad. */
const ROUNDS = 12;
const REST = 1e-6;
/** Distances beyond this many times their median pull no harder (Huber, 1964, with his 1.345 / 0.6745). */
const HUBER = 2;
/** Another way to lie is as good where it lies off by no more than this many times the best, and this, mm. */
const AS_GOOD_TIMES = 1.5;
const AS_GOOD_MM = 0.05;

/** Fewer vertices than these say nothing of a place. */
const LEAST_VERTICES = 12;
/** A view's modes are smooth: they are followed at so many places of an edge. */
const COARSE = 48;

const ringsOf = <R>({ outer, holes }: { outer: R; holes: readonly R[] }): readonly R[] => [
  outer,
  ...holes,
];

/** A vertex of an outline that a picture saw. */
interface SeenVertex {
  readonly x: number;
  readonly y: number;
  readonly nx: number;
  readonly ny: number;
  /** Length of edge that it stands for, mm. */
  readonly share: number;
  readonly edgeU: number;
  /** Its place in the arrays of the modes. */
  readonly at: number;
}

function seenVertices({ region, hidden, doubtful, edgeU }: Outline): SeenVertex[] {
  const rings = ringsOf(region);
  const left = marked(rings, [...hidden, ...doubtful]);
  let first = 0;
  return rings.flatMap((ring, r) => {
    const { nx, ny } = outwardNormals(ring);
    const from = first;
    first += ring.length;
    return ring.flatMap((p, k) => {
      if (left[r]![k] === 1) return [];
      const q = ring[(k + 1) % ring.length]!;
      const o = ring[(k + ring.length - 1) % ring.length]!;
      const share = (Math.hypot(q.x - p.x, q.y - p.y) + Math.hypot(p.x - o.x, p.y - o.y)) / 2;
      return [
        { x: p.x, y: p.y, nx: nx[k]!, ny: ny[k]!, share, edgeU: edgeU[r]![k]!, at: from + k },
      ];
    });
  });
}

/** How a kind's outline lies on one that was traced, in the sheet's frame. */
export interface Fit {
  readonly motion: Motion;
  readonly offMm: number;
  readonly alsoDeg: readonly number[];
}

/**
 * Lays a kind's outline on one that was traced where a piece lies: least squares of the distances along the edge's normals over what
 * the picture saw, holes included.
 *
 * @param turnedOver the kind mirrored, as a piece shows it that lies on its face
 * @returns undefined where too little of the edge was seen
 */
export function fitOf(
  { region: kind }: Pick<LooseKind, 'region'>,
  outline: Outline,
  turnedOver = false,
): Fit | undefined {
  const seen = seenVertices(outline);
  if (seen.length < LEAST_VERTICES) return undefined;
  const region = kind as unknown as Region<'sheet'>;
  const { left, right, bottom, top } = boxOf(region.outer);
  const target = new Nearest(ringsOf(region), Math.max(right - left, top - bottom) / 60);
  const fitted = waysToLay(region, outline.region, turnedOver)
    .map(({ motion }) => fittedTo(seen, motion, target))
    .sort((a, b) => a.offMm - b.offMm);
  const least = fitted[0]!.offMm;
  const turnedFrom = (a: Fitted, b: Fitted): number =>
    degreesOf(a.motion.turnRad - b.motion.turnRad);
  const good = fitted.filter(
    (f, k) =>
      f.offMm < AS_GOOD_TIMES * least + AS_GOOD_MM &&
      // Ways that were followed up may lead to the same one.
      !fitted.slice(0, k).some((g) => Math.abs(turnedFrom(g, f)) < 1),
  );
  // Of ways that lie equally well, the one turned least from how the blank was measured.
  const turn = ({ motion }: Fitted): number => Math.abs(degreesOf(motion.turnRad));
  const best = good.reduce((a, b) => (turn(b) < turn(a) - 1e-3 ? b : a));
  return {
    ...best,
    alsoDeg: good.filter((f) => f !== best).map((f) => turnedFrom(f, best)),
  };
}

/**
 * Where that is on the bed, and how sure: what the same estimate makes of the view's modes, of what biases an edge all along it, of
 * each stretch's own error, and of a kind that is larger or smaller than it was measured: on an edge that is seen all round the last
 * moves nothing, on one that is hidden to one side it does.
 *
 * @param print by which the artwork will be corrected, the same for all pictures of a load: each finds another by a little
 */
export function lyingOf(
  kind: LooseKind,
  outline: Outline,
  view: PhotoView,
  fit: Fit,
  print: PhotoView['print'] = view.print,
): Lying {
  const { x, y } = centroid(kind.region.outer);
  const at = movedBy<'sheet'>(fit.motion, { x, y });
  // As it would lie there if the ink about it were off by the print's scale and shear alone.
  const ink = printed(print, designOfSheet(view, at));
  const { xMm, yMm } = fit.motion;
  return {
    ...fit,
    motion: { ...fit.motion, xMm: xMm + ink.x - at.x, yMm: yMm + ink.y - at.y },
    middle: ink,
    covariance: covarianceOf(kind, outline, seenVertices(outline), view, at),
  };
}

const printed = (
  { scaleX, scaleY, shear }: PhotoView['print'],
  { x, y }: { readonly x: number; readonly y: number },
): Point<'bed'> => ({ x: scaleX * x + shear * y, y: scaleY * y });

/** Between -180 and 180 degrees. */
export function degreesOf(turnRad: number): number {
  const deg = ((turnRad * 180) / Math.PI) % 360;
  return deg > 180 ? deg - 360 : deg <= -180 ? deg + 360 : deg;
}

interface Fitted {
  readonly motion: Motion;
  readonly offMm: number;
}

/** Gauss-Newton: the outline's vertices are carried back onto the kind's edge, so that what the picture did not see has no say. */
function fittedTo(seen: readonly SeenVertex[], start: Motion, target: Nearest): Fitted {
  let motion = start;
  let offMm = Infinity;
  for (let round = 0; round < ROUNDS; round++) {
    const [c, s] = [Math.cos(motion.turnRad), Math.sin(motion.turnRad)];
    const flip = motion.mirrored ? -1 : 1;
    const rows = seen.map((v) => {
      const [dx, dy] = [v.x - motion.xMm, v.y - motion.yMm];
      const [u, w] = [flip * (c * dx + s * dy), -s * dx + c * dy];
      const { x, y, distance } = target.place(u, w);
      // The kind's nearest place, where it lies now.
      const px = motion.xMm + c * flip * x - s * y;
      const py = motion.yMm + s * flip * x + c * y;
      return { v, e: v.nx * (v.x - px) + v.ny * (v.y - py), distance };
    });
    const length = rows.reduce((sum, { v }) => sum + v.share, 0);
    offMm = Math.sqrt(rows.reduce((sum, r) => sum + r.v.share * r.distance ** 2, 0) / length);
    const sizes = Float64Array.from(rows, (r) => r.distance).sort();
    const far = HUBER * Math.max(1e-6, sizes[sizes.length >> 1]!);
    const about = { x: motion.xMm, y: motion.yMm };
    const { normal, right } = normalOf(
      rows.map(({ v, e, distance }) => ({
        row: rowOf(v, about),
        weight: v.share * (distance > far ? far / distance : 1),
        e,
      })),
    );
    const [dx, dy, turn] = pseudoInverse(normal).mmul(right).to1DArray() as [
      number,
      number,
      number,
    ];
    motion = {
      mirrored: motion.mirrored,
      turnRad: motion.turnRad + turn,
      xMm: motion.xMm + dx,
      yMm: motion.yMm + dy,
    };
    if (Math.hypot(dx, dy) < REST && Math.abs(turn) < REST) break;
  }
  return { motion, offMm };
}

type Row = readonly [number, number, number];

/** How far a vertex goes along its normal with a shift in x, in y, and a turn about a place. */
const rowOf = (v: SeenVertex, about: { readonly x: number; readonly y: number }): Row => [
  v.nx,
  v.ny,
  v.ny * (v.x - about.x) - v.nx * (v.y - about.y),
];

function normalOf(rows: readonly { row: Row; weight: number; e: number }[]): {
  normal: Matrix;
  right: Matrix;
} {
  const normal = Matrix.zeros(3, 3);
  const right = Matrix.zeros(3, 1);
  for (const { row, weight, e } of rows)
    for (let a = 0; a < 3; a++) {
      right.set(a, 0, right.get(a, 0) + weight * row[a]! * e);
      for (let b = 0; b < 3; b++) normal.set(a, b, normal.get(a, b) + weight * row[a]! * row[b]!);
    }
  return { normal, right };
}

/** A round shape may be turned without moving its edge: what nothing sees is as unsure as a whole turn allows, rad. */
const ANY_TURN_RAD = Math.PI;
/** An eigenvalue below this share of the largest (lengths by the shape's own size) tells nothing of its direction. */
const BLIND_SHARE = 1e-5;

function covarianceOf(
  kind: LooseKind,
  outline: Outline,
  seen: readonly SeenVertex[],
  view: PhotoView,
  middle: Point<'sheet'>,
): Float64Array {
  const rows = seen.map((v) => rowOf(v, middle));
  const { normal } = normalOf(seen.map((v, k) => ({ row: rows[k]!, weight: v.share, e: 0 })));
  const length = seen.reduce((sum, v) => sum + v.share, 0);
  const size2 =
    seen.reduce((s, v) => s + v.share * ((v.x - middle.x) ** 2 + (v.y - middle.y) ** 2), 0) /
    length;
  const turnSeen = normal.get(2, 2) / size2 / length > BLIND_SHARE;
  if (!turnSeen) {
    for (const k of [0, 1]) {
      normal.set(2, k, 0);
      normal.set(k, 2, 0);
    }
    normal.set(2, 2, 1);
  }
  const inverted = inverse(normal);
  const sum = Matrix.zeros(3, 3);
  const add = (shift: Matrix): void => {
    sum.add(shift.mmul(shift.transpose()));
  };
  /** What a displacement of the edge, along its normals, makes of the place. */
  const placed = (along: (v: SeenVertex, k: number) => number): Matrix => {
    const right = Matrix.zeros(3, 1);
    seen.forEach((v, k) => {
      const e = v.share * along(v, k);
      for (let a = 0; a < (turnSeen ? 3 : 2); a++)
        right.set(a, 0, right.get(a, 0) + e * rows[k]![a]!);
    });
    return inverted.mmul(right);
  };
  for (const move of movesOf(view, outline, seen))
    add(placed((v, k) => v.nx * move.x[k]! + v.ny * move.y[k]!));
  // What else biases an edge along itself; the first of its modes are the view's, and these have their motion taken out.
  for (const { source, dx, dy } of outline.modes.slice(view.modes.length))
    if (source !== 'widest height') add(placed((v) => v.nx * dx[v.at]! + v.ny * dy[v.at]!));
  // The kind as measured is a little too large or too small all round.
  add(placed(() => kind.edgeU));
  // Each stretch of edge errs for itself.
  const own = Matrix.zeros(3, 3);
  seen.forEach((v, k) => {
    const w = v.share * EDGE_CORRELATION_MM * v.edgeU ** 2;
    for (let a = 0; a < 3; a++)
      for (let b = 0; b < 3; b++) own.set(a, b, own.get(a, b) + w * rows[k]![a]! * rows[k]![b]!);
  });
  sum.add(inverted.mmul(own).mmul(inverted));
  if (!turnSeen) sum.set(2, 2, ANY_TURN_RAD ** 2);
  return Float64Array.from(sum.to1DArray());
}

/**
 * How each mode of the view moves the vertices against the ink about them, and what an edge that is widest farther down does: the picture
 * stays, each is projected anew onto its plane, at the edge's height where it faces away from the foot point and at the sheet where
 * it faces it.
 */
function movesOf(
  view: PhotoView,
  { heightMm, thicknessMm, modes }: Outline,
  seen: readonly SeenVertex[],
): { readonly x: Float64Array; readonly y: Float64Array }[] {
  const { eye, values, settings, foot } = view;
  const index = Math.max(
    0,
    settings.thicknessMm.findIndex((t) => Math.abs(t - thicknessMm) < 1e-6),
  );
  const face = view.places.faces + index;
  const far = seen.map((v) => v.nx * (v.x - foot.x) + v.ny * (v.y - foot.y) > 0);
  const stride = Math.max(1, Math.floor(seen.length / COARSE));
  // Both sides of a change of plane, so that nothing is taken across it.
  const chosen = seen.flatMap((_, k) =>
    k % stride === 0 || far[k] !== far[k - 1] || far[k] !== far[k + 1] ? [k] : [],
  );
  const isChosen = new Set(chosen);
  const pictures = chosen.map((k) => pictureOf(eye, seen[k]!.x, seen[k]!.y, far[k] ? heightMm : 0));
  const designs = chosen.map((k) => designOfSheet(view, seen[k]!));
  const moved = (
    then: ArrayLike<number>,
    higherMm: number,
  ): { x: Float64Array; y: Float64Array } => {
    const eyeThen = eyeOf(view, then);
    const x = new Float64Array(seen.length);
    const y = new Float64Array(seen.length);
    chosen.forEach((k, n) => {
      const p = sheetOfPicture(eyeThen, pictures[n]!, far[k] ? heightMm + higherMm : 0);
      // How far it comes to lie from the ink that was beside it, which is moved too.
      const q = sheetOfDesign(view, designs[n]!, then);
      x[k] = p.x - q.x;
      y[k] = p.y - q.y;
    });
    // As at the nearest chosen vertex before it.
    let last = chosen[0]!;
    for (let k = 0; k < seen.length; k++) {
      if (isChosen.has(k)) last = k;
      x[k] = x[last]!;
      y[k] = y[last]!;
    }
    return { x, y };
  };
  return [
    ...view.modes.map(({ delta }) =>
      moved(
        Float64Array.from(values, (v, k) => v + delta[k]!),
        delta[face]!,
      ),
    ),
    ...modes
      .filter(({ source }) => source === 'widest height')
      .map(({ belowMm = 0 }) => moved(values, -belowMm)),
  ];
}

/** Standard uncertainty of where a place of the piece lies, in the direction that is least sure, mm. */
export function placeU({ covariance: c, middle }: Lying, at: Point<'bed'>): number {
  const [x, y] = [at.x - middle.x, at.y - middle.y];
  // Rows of the place's derivatives: (1, 0, -y) and (0, 1, x).
  const xx = c[0]! - 2 * y * c[2]! + y * y * c[8]!;
  const yy = c[4]! + 2 * x * c[5]! + x * x * c[8]!;
  const xy = c[1]! + x * c[2]! - y * c[5]! - x * y * c[8]!;
  return Math.sqrt((xx + yy) / 2 + Math.hypot((xx - yy) / 2, xy));
}

/** The greatest of these along the piece's edge, mm. */
export const worstU = (lying: Lying, kind: Pick<LooseKind, 'region'>): number =>
  edgeOf(lying, kind).reduce((most, p) => Math.max(most, placeU(lying, p)), 0);

/** The kind's outer ring where the piece lies. */
export const edgeOf = (
  { motion }: Pick<Lying, 'motion'>,
  { region }: Pick<LooseKind, 'region'>,
): Ring<'bed'> => region.outer.map((p) => movedBy<'bed'>(motion, { x: p.x, y: p.y }));

/** One place from several pictures of the same piece, each weighted by what it knows. */
export function meanOf(lies: readonly Lying[], kind: Pick<LooseKind, 'region'>): Lying {
  const [first] = lies as readonly [Lying];
  if (lies.length === 1) return first;
  const weights = lies.map(({ covariance }) => inverse(matrixOf(covariance)));
  const all = weights.reduce((a, b) => Matrix.add(a, b), Matrix.zeros(3, 3));
  const covariance = inverse(all);
  const right = weights.reduce(
    (sum, w, k) => {
      const { x, y, turn } = between(first, lies[k]!);
      return Matrix.add(sum, w.mmul(Matrix.columnVector([x, y, turn])));
    },
    Matrix.zeros(3, 1),
  );
  const [x, y, turn] = covariance.mmul(right).to1DArray() as [number, number, number];
  const motion = turnedAbout(first.motion, first.middle, x, y, turn);
  return {
    ...first,
    motion,
    middle: middleOf(motion, kind),
    covariance: Float64Array.from(covariance.to1DArray()),
    offMm: Math.max(...lies.map((l) => l.offMm)),
  };
}

const middleOf = (motion: Motion, { region }: Pick<LooseKind, 'region'>): Point<'bed'> => {
  const { x, y } = centroid(region.outer);
  return movedBy<'bed'>(motion, { x, y });
};

const matrixOf = (c: Float64Array): Matrix => Matrix.from1DArray(3, 3, c);

/** How one place lies to another: shift of the middle, mm, and turn, rad. */
export function between(a: Lying, b: Lying): { x: number; y: number; turn: number } {
  return {
    x: b.middle.x - a.middle.x,
    y: b.middle.y - a.middle.y,
    turn: (degreesOf(b.motion.turnRad - a.motion.turnRad) * Math.PI) / 180,
  };
}

/** How many standard uncertainties two places lie apart, each direction by its own (Mahalanobis's distance). */
export function apartK(a: Lying, b: Lying): number {
  const { x, y, turn } = between(a, b);
  const d = Matrix.columnVector([x, y, turn]);
  const both = Matrix.add(matrixOf(a.covariance), matrixOf(b.covariance));
  return Math.sqrt(d.transpose().mmul(inverse(both)).mmul(d).get(0, 0));
}

function turnedAbout(
  m: Motion,
  { x: cx, y: cy }: Point<'bed'>,
  x: number,
  y: number,
  turn: number,
): Motion {
  const [c, s] = [Math.cos(turn), Math.sin(turn)];
  return {
    mirrored: m.mirrored,
    turnRad: m.turnRad + turn,
    xMm: cx + x + c * (m.xMm - cx) - s * (m.yMm - cy),
    yMm: cy + y + s * (m.xMm - cx) + c * (m.yMm - cy),
  };
}

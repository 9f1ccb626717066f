import type { Point } from '../base/measure.ts';
import { bowAt, eyeOf, heightOf, isScanner, pictureOf, sheetOfPicture } from '../view/model.ts';
import type { Source, View } from '../view/view.ts';
import type { OutlineMode } from './outline.ts';

/** A vertex of an outline and how it was seen. */
export interface Seen {
  readonly x: number;
  readonly y: number;
  /** Unit normal, outward. */
  readonly nx: number;
  readonly ny: number;
  /** Seen at the face (or widest place); otherwise at the sheet. */
  readonly far: boolean;
  /** Length of outline this vertex stands for, mm. */
  readonly share: number;
  /** Systematic error of the edge's place (k = 1), mm. */
  readonly biasMm: number;
  /** What a wall that a scanner's lens shows beside the face may have moved the edge by (k = 1), mm. */
  readonly farSideMm: number;
}

export interface Heights {
  readonly thicknessIndex: number;
  /** How far below the face the far vertices were seen, mm: face less widest. */
  readonly belowFaceMm: number;
  /** Standard uncertainty of the height of the widest place, mm. */
  readonly widestU: number;
  /** Standard uncertainty of the height of the lowest place that is as wide, mm: the back's edge may be rounded too. */
  readonly lowestU: number;
  /**
   * Standard uncertainty of the face's height against that of the piece or block beside it whose rider speaks for its plane, mm;
   * 0 where the rider lies on the blank itself; and what a bowed blank's edge may lie off from its middle. Absent: nobody asks.
   */
  readonly besideU?: number;
  readonly at: Point<'sheet'>;
}

/** Planes on which a blank's silhouette was seen, mm: near the foot point at the sheet, else at the face (on a scanner's glass both). */
export const seenPlanes = (
  view: View,
  { thicknessIndex, belowFaceMm, at }: Omit<Heights, 'widestU' | 'lowestU' | 'besideU'>,
  values: ArrayLike<number> = view.values,
): readonly [near: number, far: number] =>
  isScanner(view.eye)
    ? [0, 0]
    : [bowAt(view, values, at), heightOf(view, thicknessIndex, values, at) - belowFaceMm];

/** Vertices are displaced on this many of them; the displacement is smooth between. */
const COARSE = 64;

/**
 * The view's covariance as displacements of the outline: every mode moves all parameters, the picture stays, each vertex is
 * projected anew onto its plane. The outline's own rigid motion is taken out: what remains changes its shape or size.
 */
export function outlineModes(view: View, seen: readonly Seen[], heights: Heights): OutlineMode[] {
  const planes = (values: ArrayLike<number>): readonly [near: number, far: number] =>
    seenPlanes(view, heights, values);
  const [near, far] = planes(view.values);
  const chosen: number[] = [];
  const stride = Math.max(1, Math.floor(seen.length / COARSE));
  seen.forEach((v, k) => {
    // Both sides of a change of plane are computed, so that nothing is interpolated over it.
    const changes =
      v.far !== seen[(k + 1) % seen.length]!.far ||
      v.far !== seen[(k + seen.length - 1) % seen.length]!.far;
    if (k % stride === 0 || k === seen.length - 1 || changes) chosen.push(k);
  });
  const pictures = chosen.map((k) => {
    const v = seen[k]!;
    return pictureOf(view.eye, v.x, v.y, v.far ? far : near);
  });
  const modes: OutlineMode[] = [];
  const values = new Float64Array(view.values.length);
  const push = (
    source: Source,
    moved: (k: number, n: number) => Point<'sheet'>,
    heights: Pick<OutlineMode, 'heightMm' | 'belowMm'>,
  ): void => {
    const dx = new Float64Array(seen.length);
    const dy = new Float64Array(seen.length);
    let last = 0;
    chosen.forEach((k, n) => {
      const p = moved(k, n);
      dx[k] = p.x - seen[k]!.x;
      dy[k] = p.y - seen[k]!.y;
      for (let m = last + 1; m < k; m++) {
        const f = (m - last) / (k - last);
        dx[m] = dx[last]! + f * (dx[k]! - dx[last]!);
        dy[m] = dy[last]! + f * (dy[k]! - dy[last]!);
      }
      last = k;
    });
    removeMotion(seen, dx, dy);
    modes.push({ source, dx, dy, ...heights });
  };
  for (const { source, delta } of view.modes) {
    for (let k = 0; k < values.length; k++) values[k] = view.values[k]! + delta[k]!;
    const eye = eyeOf(view, values);
    const [nearThen, farThen] = planes(values);
    push(
      source,
      (k, n) => sheetOfPicture(eye, pictures[n]!, seen[k]!.far ? farThen : nearThen),
      isScanner(view.eye) ? {} : { heightMm: delta[view.places.faces + heights.thicknessIndex]! },
    );
  }
  const { widestU, lowestU, besideU } = heights;
  if (besideU !== undefined && !isScanner(view.eye)) {
    push(
      'thickness',
      (k, n) =>
        besideU > 0 && seen[k]!.far
          ? sheetOfPicture(view.eye, pictures[n]!, far + besideU)
          : { x: seen[k]!.x, y: seen[k]!.y },
      { heightMm: besideU },
    );
  }
  // A maker rounds both edges alike: one mode.
  if (widestU + lowestU > 0 && !isScanner(view.eye)) {
    push(
      'widest height',
      (k, n) =>
        sheetOfPicture(view.eye, pictures[n]!, seen[k]!.far ? far - widestU : near + lowestU),
      { belowMm: widestU },
    );
  }
  const bias = {
    source: 'edge bias' as const,
    dx: Float64Array.from(seen, (v) => v.nx * v.biasMm),
    dy: Float64Array.from(seen, (v) => v.ny * v.biasMm),
  };
  if (!isScanner(view.eye)) return [...modes, bias];
  const farSide = {
    source: 'far side' as const,
    dx: Float64Array.from(seen, (v) => v.nx * v.farSideMm),
    dy: Float64Array.from(seen, (v) => v.ny * v.farSideMm),
  };
  return [...modes, bias, farSide];
}

/**
 * Displacement of the whole edge by what cameras do to their pictures (k = 1), px: root mean square over sharpening halos,
 * chromatic shift, distortion corrected in the phone and rolling shutter, each done to two rendered pictures
 * (`npm run accuracy -- --optics`).
 */
const PROCESSED_PX = 0.07;
/** The same of a background that was blurred afterwards and the blank was not, as a share of the marks' blur. */
const PORTRAIT_SHARE = 0.2;

/** What the camera did to the picture once it was taken, as a displacement of the whole outline; none for a scan. */
export function processingModes(view: View, seen: readonly Seen[]): OutlineMode[] {
  if (isScanner(view.eye)) return [];
  const mm = processedPx(view) * view.mmPerPx;
  const dx = Float64Array.from(seen, (v) => v.nx * mm);
  const dy = Float64Array.from(seen, (v) => v.ny * mm);
  return [{ source: 'camera processing', dx, dy }];
}

/** Where the marks are soft nobody can tell whether the lens did it or portrait mode, which leaves the blank's inside sharp. */
const processedPx = ({ blurPx, reasons }: View): number =>
  Math.hypot(
    PROCESSED_PX,
    reasons.some(({ code }) => code === 'blur-strong') ? PORTRAIT_SHARE * blurPx : 0,
  );

/** Takes the rigid motion out of a displacement, least squares over the outline's length. */
function removeMotion(seen: readonly Seen[], dx: Float64Array, dy: Float64Array): void {
  let [w, mx, my, ax, ay] = [0, 0, 0, 0, 0];
  seen.forEach((v, k) => {
    w += v.share;
    mx += v.share * v.x;
    my += v.share * v.y;
    ax += v.share * dx[k]!;
    ay += v.share * dy[k]!;
  });
  [mx, my, ax, ay] = [mx / w, my / w, ax / w, ay / w];
  let turn = 0;
  let inertia = 0;
  seen.forEach((v, k) => {
    const x = v.x - mx;
    const y = v.y - my;
    turn += v.share * (x * (dy[k]! - ay) - y * (dx[k]! - ax));
    inertia += v.share * (x * x + y * y);
  });
  turn /= inertia;
  seen.forEach((v, k) => {
    dx[k]! -= ax - turn * (v.y - my);
    dy[k]! -= ay + turn * (v.x - mx);
  });
}

/** Standard uncertainty along the normal at every vertex: all modes and the edge's own, mm. */
export function alongNormal(
  seen: readonly Seen[],
  modes: readonly OutlineMode[],
  edgeU: Float64Array,
): Float64Array {
  return Float64Array.from(seen, (v, k) => {
    let sum = edgeU[k]! ** 2;
    for (const { dx, dy } of modes) sum += (v.nx * dx[k]! + v.ny * dy[k]!) ** 2;
    return Math.sqrt(sum);
  });
}

const DRAWS = 400;
/** The edge's own error is one over this length, mm. */
export const EDGE_CORRELATION_MM = 2;
/** For outlines that do not say theirs: about twenty places along the edge that are wrong independently of each other, Phi^-1(1 - 0.05 / 40) = 3.0. */
export const WHOLE_FACTOR = 3;

/**
 * Factor on u that holds along the whole outline at once in 95 % of cases: the 95 % quantile of the largest |error| / u over
 * simulated outlines (modes shared by all vertices, edge error independent every 2 mm). The same numbers give the same factor.
 */
export function wholeFactorOf(
  seen: readonly Seen[],
  modes: readonly OutlineMode[],
  edgeU: Float64Array,
  u: Float64Array,
): number {
  const places: number[] = [];
  let along = EDGE_CORRELATION_MM;
  seen.forEach((v, k) => {
    along += v.share;
    if (along >= EDGE_CORRELATION_MM) {
      places.push(k);
      along = 0;
    }
  });
  const normal = gaussian();
  const weights = modes
    .map(({ dx, dy }) =>
      Float64Array.from(places, (k) => (seen[k]!.nx * dx[k]! + seen[k]!.ny * dy[k]!) / u[k]!),
    )
    // What is nowhere a fiftieth of u changes no quantile.
    .filter((weight) => weight.some((w) => Math.abs(w) > 0.02));
  const own = Float64Array.from(places, (k) => edgeU[k]! / u[k]!);
  const most = new Float64Array(DRAWS);
  const error = new Float64Array(places.length);
  for (let draw = 0; draw < DRAWS; draw++) {
    for (let k = 0; k < error.length; k++) error[k] = own[k]! * normal();
    for (const weight of weights) {
      const z = normal();
      for (let k = 0; k < error.length; k++) error[k]! += z * weight[k]!;
    }
    let largest = 0;
    for (let k = 0; k < error.length; k++) largest = Math.max(largest, Math.abs(error[k]!));
    most[draw] = largest;
  }
  return most.sort()[Math.ceil(0.95 * DRAWS) - 1]!;
}

/** Normal deviates, always the same sequence (linear congruence after Park and Miller, polar method). */
export function gaussian(): () => number {
  let state = 20_731;
  const uniform = (): number => (state = (state * 16_807) % 2_147_483_647) / 2_147_483_647;
  let spare: number | undefined;
  return () => {
    if (spare !== undefined) {
      const z = spare;
      spare = undefined;
      return z;
    }
    for (;;) {
      const a = 2 * uniform() - 1;
      const b = 2 * uniform() - 1;
      const r = a * a + b * b;
      if (r > 0 && r < 1) {
        const f = Math.sqrt((-2 * Math.log(r)) / r);
        spare = b * f;
        return a * f;
      }
    }
  };
}

import { Matrix, solve } from 'ml-matrix';
import type { Point } from '../base/measure.ts';
import { reason, Refusal, type Reason } from '../base/reason.ts';
import type { Clipper } from '../geometry/clipper.ts';
import { flatten } from '../geometry/curve.ts';
import { fitCurves } from '../geometry/fit.ts';
import {
  centroid,
  mapRegion,
  nearestOnRing,
  nearestOnSegment,
  outwardNormals,
  signedArea,
} from '../geometry/measure.ts';
import type { Region, Ring } from '../geometry/shape.ts';
import { eyeOf, heightOf, pictureOf, sheetOfPicture } from '../view/model.ts';
import type { PhotoView } from '../view/view.ts';
import {
  axisOf,
  type Outline,
  type OutlineMode,
  type Trace,
  type TraceSettings,
} from './outline.ts';
import {
  ADVICE,
  CHORD_MM,
  CORNER_RAD,
  divided,
  largestSource,
  LEAST_DOUBTFUL_MM,
  LEAST_HIDDEN_MM,
  LEAST_HOLE_MM2,
  seenFromBehind,
  stretches,
  verdictOf,
  marked,
  roundedUp,
} from './trace.ts';
import { alongNormal, wholeFactorOf, type Seen } from './uncertainty.ts';

/** One photo of the blanks: what it shows alone, and its view out of the adjustment of all photos. */
export interface Shown {
  readonly trace: Trace;
  readonly view: PhotoView;
}

/** Blanks whose middles lie farther apart in two photos are not the same one, mm. */
const SAME_BLANK_MM = 12;
/** Beyond this many standard uncertainties two things that should agree do not. */
const CONTRADICTION = 3;
/** What the place of an aligned outline is worth besides the views' uncertainty, mm. */
const ALIGNED_MM = 0.02;
/** Beyond this share of the stretches that two photos both saw their outlines are not those of one thing. */
const UNLIKE_SHARE = 0.1;
const UNLIKE_MM = 0.3;
/** Points of the common outline stand this far apart, mm. */
const STEP_MM = 0.4;
/** Corners of two photos' outlines nearer than this are one corner, mm. */
const ONE_CORNER_MM = 0.4;
/** What one photo alone has reason to say, and several together may not. */
const SETTLED_TOGETHER = new Set([
  'stretch-hidden',
  'foot-beside-blank',
  'foot-outside',
  'outline-uncertain',
  'outline-too-uncertain',
  'view-uncertain',
]);

/**
 * The outlines of blanks that several photos show, lying where they lay: what no photo rules out.
 *
 * Each photo's outline holds the blank's (see `behindSilhouette`), so the blank lies in their intersection. Along its edge every
 * photo that saw the edge there has a say, weighted by what it knows; what none saw is marked as hidden. Before that the
 * outlines are laid on each other: how they lie apart tells the face's height (a wrong height moves each away from its own foot
 * point) and whether the blank was moved.
 *
 * @param shown of the print face (not mirrored), their views' modes in step (`calibrateAll`)
 * @throws Refusal `blanks-differ`, `blank-moved`, `height-disagrees`, `outlines-disagree`
 */
export function combined(
  clipper: Clipper,
  shown: readonly Shown[],
  settings: TraceSettings,
): Trace {
  const reasons: Reason[] = [];
  for (const { trace } of shown) {
    for (const r of trace.reasons) {
      const said = reasons.some((o) => o.code === r.code && o.facts.blank === r.facts.blank);
      if (!said && !SETTLED_TOGETHER.has(r.code)) reasons.push(r);
    }
  }
  const outlines = matched(shown).flatMap((same, k) => {
    const blank = k + 1;
    const motions = orHeight(same, shown, blank, () => alignment(same, shown, blank));
    const first = same[0]!;
    return first.map((_, which) => {
      const laid = same.map((all, p) => new Laid(all[which]!, motions[p]!));
      return together(clipper, laid, blank, settings, reasons);
    });
  });
  const doubts = shown.flatMap(({ view }) =>
    view.reasons.filter((r) => !SETTLED_TOGETHER.has(r.code)),
  );
  const mirrored =
    settings.face === 'back'
      ? outlines.map((o) =>
          seenFromBehind(o, axisOf(outlines.find(({ blank }) => blank === o.blank)!)),
        )
      : outlines;
  return { outlines: mirrored, verdict: verdictOf([...doubts, ...reasons]), reasons };
}

/** By blank, from left to right: every photo's outlines of it, in the same order. */
function matched(shown: readonly Shown[]): Outline[][][] {
  const blanksOf = ({ trace }: Shown): Outline[][] =>
    [...new Set(trace.outlines.map((o) => o.blank))].map((blank) =>
      trace.outlines.filter((o) => o.blank === blank),
    );
  const all = shown.map(blanksOf);
  const counts = all.map((blanks) => blanks.length);
  if (new Set(counts).size > 1) throw new Refusal('blanks-differ', { counts: counts.join(', ') });
  return all[0]!
    .map((first) => {
      const middle = centroid(first[0]!.region.outer);
      return all.map((blanks) => {
        const near = blanks
          .map((outlines) => {
            const c = centroid(outlines[0]!.region.outer);
            return { outlines, off: Math.hypot(c.x - middle.x, c.y - middle.y) };
          })
          .sort((p, q) => p.off - q.off)[0]!;
        const alike =
          near.outlines.length === first.length &&
          near.outlines[0]!.thicknessMm === first[0]!.thicknessMm;
        return { ...near, alike };
      });
    })
    .map((found) => {
      const same = found.map(({ outlines }) => outlines);
      const { blank } = same[0]![0]!;
      return orHeight(same, shown, blank, () => {
        const far = found.find(({ off, alike }) => off > SAME_BLANK_MM || !alike);
        if (!far) return same;
        throw new Refusal('blank-moved', { blank, shiftMm: round(far.off, 1), turnDeg: 0 });
      });
    })
    .sort((a, b) => centroid(a[0]![0]!.region.outer).x - centroid(b[0]![0]!.region.outer).x);
}

/** p' = p turned by `turn` about (cx, cy), then shifted. */
interface Motion {
  readonly x: number;
  readonly y: number;
  readonly turn: number;
  readonly cx: number;
  readonly cy: number;
}

const movedBy = ({ x, y, turn, cx, cy }: Motion, p: Point<'sheet'>): Point<'sheet'> => {
  const [c, s] = [Math.cos(turn), Math.sin(turn)];
  return {
    x: cx + x + c * (p.x - cx) - s * (p.y - cy),
    y: cy + y + s * (p.x - cx) + c * (p.y - cy),
  };
};

/** An outline laid on the others. */
class Laid {
  readonly region: Region<'sheet'>;
  readonly rings: readonly Ring<'sheet'>[];
  /** Standard uncertainty along the normal by ring and vertex, the greatest within a short way: ends of stretches are rounded. */
  readonly u: readonly Float64Array[];
  private readonly hidden: readonly Uint8Array[];
  private readonly doubtful: readonly Uint8Array[];
  private readonly byHand: readonly Uint8Array[];
  /** Number of each ring's first vertex among all. */
  private readonly first: readonly number[];

  constructor(
    readonly outline: Outline,
    motion: Motion,
  ) {
    this.region = mapRegion(outline.region, (p) => movedBy(motion, p));
    this.rings = [this.region.outer, ...this.region.holes];
    this.u = this.rings.map((ring, r) => widened(ring, outline.u[r]!));
    this.hidden = marked(this.rings, outline.hidden);
    this.doubtful = marked(this.rings, outline.doubtful);
    this.byHand = marked(this.rings, outline.byHand ?? []);
    let first = 0;
    this.first = this.rings.map((ring) => (first += ring.length) - ring.length);
  }

  /**
   * Where the blank may reach to by this photo: grown by U (k = 2), a wall's foot is easily missed by half a millimetre. A stretch
   * that is hidden here makes room for what another photo saw beside it; where none saw anything it is the best that is known.
   */
  allowed(others: readonly Laid[]): Region<'sheet'> {
    const [outer, ...holes] = this.rings.map((ring, r) => {
      const { nx, ny } = outwardNormals(ring);
      const u = this.u[r]!;
      const usual = [...u].sort((a, b) => a - b)[u.length >> 1]!;
      // As far as another photo's edge and what that may be off.
      const room = (p: Point<'sheet'>): number =>
        Math.max(
          2 * usual,
          ...others.map((o) => {
            const { hidden, distance, ring, at } = o.near(p);
            return hidden ? 0 : distance + 2 * o.outline.u[ring]![at]!;
          }),
        );
      return ring.map((p, k) => {
        const most = u[k]! > 2 * usual ? room(p) : Infinity;
        const d = Math.min(MOST_GROWN_MM, 2 * u[k]!, most);
        return { x: p.x + d * nx[k]!, y: p.y + d * ny[k]! };
      });
    });
    return { outer: outer!, holes };
  }

  /** The nearest place of the outline. */
  near(p: Point<'sheet'>): Near {
    let best: Near = {
      x: 0,
      y: 0,
      distance: Infinity,
      hidden: false,
      doubtful: false,
      byHand: false,
      ring: 0,
      at: 0,
      vertex: 0,
    };
    this.rings.forEach((ring, r) => {
      for (let k = 0; k < ring.length; k++) {
        const a = ring[k]!;
        // Chords are a millimetre long at most.
        if (Math.abs(a.x - p.x) > best.distance + 1.1 || Math.abs(a.y - p.y) > best.distance + 1.1)
          continue;
        const next = (k + 1) % ring.length;
        const b = ring[next]!;
        const { at: q, distanceMm: distance } = nearestOnSegment(a, b, p);
        if (distance >= best.distance) continue;
        const closer =
          Math.hypot(q.x - a.x, q.y - a.y) < Math.hypot(q.x - b.x, q.y - b.y) ? k : next;
        best = {
          x: q.x,
          y: q.y,
          distance,
          hidden: this.hidden[r]![closer] === 1,
          doubtful: this.doubtful[r]![closer] === 1,
          byHand: this.byHand[r]![closer] === 1,
          ring: r,
          at: closer,
          vertex: this.first[r]! + closer,
        };
      }
    });
    return best;
  }
}

interface Near extends Point<'sheet'> {
  readonly distance: number;
  readonly hidden: boolean;
  readonly doubtful: boolean;
  readonly byHand: boolean;
  readonly ring: number;
  /** The vertex nearest to it in its ring, and among those of all rings. */
  readonly at: number;
  readonly vertex: number;
}

/** The greatest value within `ROUNDED_MM` along a ring. */
function widened(ring: Ring<'sheet'>, values: Float64Array): Float64Array {
  const n = ring.length;
  return values.map((value, k) => {
    let most = value;
    for (const sign of [1, n - 1]) {
      let along = 0;
      for (let m = k; along < ROUNDED_MM;) {
        const next = (m + sign) % n;
        along += Math.hypot(ring[next]!.x - ring[m]!.x, ring[next]!.y - ring[m]!.y);
        m = next;
        if (m === k) break;
        most = Math.max(most, values[m]!);
      }
    }
    return most;
  });
}

/** How far a wrong stretch reaches into the next where curves were fitted across, mm. */
const ROUNDED_MM = 1.5;

/**
 * How each photo's outline is to be moved so that all lie on each other, half-way; and whether they may.
 *
 * @param same per photo the outlines of one blank
 */
function alignment(
  same: readonly (readonly Outline[])[],
  shown: readonly Shown[],
  blank: number,
): Motion[] {
  const [first] = same as [readonly [Outline]];
  const middle = centroid(first[0].region.outer);
  const still: Motion = { x: 0, y: 0, turn: 0, cx: middle.x, cy: middle.y };
  const reference = new Laid(first[0], still);
  const found = same.map(([outline], p) =>
    p === 0 ? still : laidOn(reference, outline!, still, blank),
  );
  const { thicknessMm } = first[0];
  const index = Math.max(
    0,
    shown[0]!.view.settings.thicknessMm.findIndex((t) => Math.abs(t - thicknessMm) < 1e-6),
  );
  agreement(
    found,
    shown.map(({ view }) => view),
    middle,
    index,
    blank,
  );
  const mean = (of: (m: Motion) => number): number =>
    found.reduce((sum, m) => sum + of(m), 0) / found.length;
  const [x, y, turn] = [mean((m) => m.x), mean((m) => m.y), mean((m) => m.turn)];
  return found.map((m) => ({ ...m, x: m.x - x, y: m.y - y, turn: m.turn - turn }));
}

/** Outlines that disagree over more than this share even at the best height are not told by it. */
const TOLD_SHARE = 0.25;
/** Sine of how far an edge must face away from a foot point, and how many places of the outline must. */
const AWAY = 0.2;
const LEAST_PLACES = 25;
/** Heights are tried this far up, mm, and this finely: first, then round the best. */
const HIGHEST_MM = 120;
const TRIED_MM = [2, 0.25] as const;

/**
 * What `work` gives; where it finds that the outlines do not lie on each other, whether another height of the face would lay them
 * so: then it is the height that is wrong, and not the blank that was moved or exchanged.
 *
 * A wrong height moves and scales every outline about its own foot point. That is tried here as it is, for any error: `agreement`
 * takes it for small. A blank moved just along the line between two cameras looks the same; its remedy says so.
 *
 * @param same per photo the outlines of one blank
 */
function orHeight<T>(
  same: readonly (readonly Outline[])[],
  shown: readonly Shown[],
  blank: number,
  work: () => T,
): T {
  try {
    return work();
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    if (error.reason.code !== 'blank-moved' && error.reason.code !== 'outlines-disagree')
      throw error;
    const height = heightOfAgreement(
      same.map(([outline]) => outline!),
      shown,
    );
    if (!height) throw error;
    const { thicknessMm } = same[0]![0]!;
    throw new Refusal('height-disagrees', {
      blank,
      heightMm: round(thicknessMm + height.dMm, 1),
      uMm: round(2 * height.uMm, 1),
      thicknessMm,
    });
  }
}

/** By how much the face lies higher than entered, where that alone lays the outlines on each other; k = 1. */
function heightOfAgreement(
  outlines: readonly Outline[],
  shown: readonly Shown[],
): { dMm: number; uMm: number } | undefined {
  const { thicknessMm } = outlines[0]!;
  const places = outlines.map(({ region }, p) => {
    const { outer } = region;
    const { nx, ny } = outwardNormals(outer);
    const stride = Math.max(1, Math.floor(outer.length / 300));
    // Towards a foot point the wall's foot is seen and not the face's edge, and says nothing of the face's height.
    const away = (q: Point<'sheet'>, k: number, { x, y }: Point<'sheet'>): boolean =>
      nx[k]! * (q.x - x) + ny[k]! * (q.y - y) > AWAY * Math.hypot(q.x - x, q.y - y);
    return outer.filter(
      (q, k) =>
        k % stride === 0 && away(q, k, shown[0]!.view.foot) && away(q, k, shown[p]!.view.foot),
    );
  });
  if (places.slice(1).some((points) => points.length < LEAST_PLACES)) return undefined;
  const { thicknessU } = shown[0]!.view.settings;
  const homothety = (p: number, dMm: number): ((q: Point<'sheet'>) => Point<'sheet'>) => {
    const { foot, cameraHeightMm } = shown[p]!.view;
    const t = dMm / (cameraHeightMm - thicknessMm);
    return (q) => ({ x: q.x + t * (foot.x - q.x), y: q.y + t * (foot.y - q.y) });
  };
  const apart = (dMm: number): number[] => {
    const first = mapRegion(outlines[0]!.region, homothety(0, dMm)).outer;
    return places
      .slice(1)
      .flatMap((points, p) =>
        points.map((q) => nearestOnRing(first, homothety(p + 1, dMm)(q)).distanceMm),
      );
  };
  const mean = (values: readonly number[]): number =>
    // A little of everything, much of nothing: bays that were undone for the wrong height count little.
    values.reduce((s, v) => s + Math.min(v, 2), 0) / values.length;
  let best = 0;
  let [from, to] = [1 - thicknessMm, HIGHEST_MM - thicknessMm];
  for (const step of TRIED_MM) {
    let least = Infinity;
    for (let d = from; d <= to; d += step) {
      const value = mean(apart(d));
      if (value < least) [least, best] = [value, d];
    }
    [from, to] = [best - step, best + step];
  }
  const left = apart(best);
  const unlike = left.filter((v) => v > 2 * UNLIKE_MM).length / left.length;
  const slope = Math.max(
    ...shown.slice(1).map(({ view }) => {
      const [a, b] = [shown[0]!.view.foot, view.foot];
      return Math.hypot(a.x - b.x, a.y - b.y) / (view.cameraHeightMm - thicknessMm);
    }),
  );
  const uMm = UNLIKE_MM / Math.max(slope, 1e-3);
  const told = unlike < TOLD_SHARE && Math.abs(best) > CONTRADICTION * Math.hypot(uMm, thicknessU);
  return told ? { dMm: best, uMm } : undefined;
}

/** Lays an outline on the reference by the stretches that both saw: robust least squares of the distances along the normal. */
function laidOn(reference: Laid, outline: Outline, still: Motion, blank: number): Motion {
  let motion = still;
  let reach = 6;
  let unlike = 0;
  let counted = 0;
  for (let round = 0; round < 25; round++) {
    const laid = new Laid(outline, motion);
    const n = Matrix.zeros(3, 3);
    const g = Matrix.zeros(3, 1);
    unlike = counted = 0;
    laid.rings.forEach((ring, r) => {
      const { nx, ny } = outwardNormals(ring);
      const stride = Math.max(1, Math.floor(ring.length / 300));
      for (let k = 0; k < ring.length; k += stride) {
        const p = ring[k]!;
        if (laid.near(p).hidden) continue;
        const q = reference.near(p);
        if (q.hidden) continue;
        const e = (q.x - p.x) * nx[k]! + (q.y - p.y) * ny[k]!;
        const u = Math.hypot(laid.u[r]![k]!, reference.u[q.ring]![q.at]!, ALIGNED_MM);
        counted++;
        if (q.distance > UNLIKE_MM + CONTRADICTION * u) unlike++;
        if (q.distance > reach) continue;
        const w = 1 / (u * u + (e / 2) ** 2);
        const row = [nx[k]!, ny[k]!, nx[k]! * -(p.y - still.cy) + ny[k]! * (p.x - still.cx)];
        for (let i = 0; i < 3; i++) {
          g.set(i, 0, g.get(i, 0) + w * row[i]! * e);
          for (let j = 0; j < 3; j++) n.set(i, j, n.get(i, j) + w * row[i]! * row[j]!);
        }
      }
    });
    // A little damping: a round thing's turn has no answer.
    for (let i = 0; i < 3; i++) n.set(i, i, n.get(i, i) * 1.0001 + (i === 2 ? 1e4 : 1e-2));
    const [x, y, turn] = solve(n, g).to1DArray() as [number, number, number];
    motion = { ...motion, x: motion.x + x, y: motion.y + y, turn: motion.turn + turn };
    reach = Math.max(1, reach * 0.8);
    if (Math.hypot(x, y) < 1e-4 && Math.abs(turn) < 1e-6 && round > 8) break;
  }
  if (counted === 0 || unlike > UNLIKE_SHARE * counted) {
    const percent = counted === 0 ? 100 : Math.round((100 * unlike) / counted);
    throw new Refusal('outlines-disagree', { blank, percent, limitMm: UNLIKE_MM });
  }
  return motion;
}

/**
 * Whether the motions that lay the outlines on each other are what the views' uncertainty and a face height leave open.
 *
 * A face higher by d than entered moves photo p's outline by d·(foot_p − middle)/(H_p − h): the one d that explains the motions
 * best, by generalised least squares, is the height's correction.
 */
function agreement(
  motions: readonly Motion[],
  views: readonly PhotoView[],
  middle: Point<'sheet'>,
  thicknessIndex: number,
  blank: number,
): void {
  const size = 2 * (motions.length - 1);
  const shifts = motions.slice(1).flatMap(({ x, y }) => [x, y]);
  const answers = views.map((view) => answersOf(view, middle, thicknessIndex));
  const covariance = Matrix.zeros(size, size);
  const turns = new Float64Array(motions.length);
  const [reference, ...others] = answers as [Answers, ...Answers[]];
  reference.modes.forEach((zero, m) => {
    if (views[0]!.modes[m]!.source === 'thickness') return;
    const d = others.flatMap(({ modes }) => [modes[m]!.x - zero.x, modes[m]!.y - zero.y]);
    d.forEach((v, i) => d.forEach((w, j) => covariance.set(i, j, covariance.get(i, j) + v * w)));
    others.forEach(({ modes }, p) => (turns[p + 1]! += (modes[m]!.turn - zero.turn) ** 2));
  });
  for (let i = 0; i < size; i++) covariance.set(i, i, covariance.get(i, i) + 2 * ALIGNED_MM ** 2);
  const slope = Matrix.columnVector(
    others.flatMap(({ height }) => [height.x - reference.height.x, height.y - reference.height.y]),
  );
  const seen = Matrix.columnVector(shifts);
  const weighted = solve(covariance, slope);
  const information = slope.transpose().mmul(weighted).get(0, 0);
  const dMm = information > 0 ? seen.transpose().mmul(weighted).get(0, 0) / information : 0;
  const left = Matrix.sub(seen, Matrix.mul(slope, dMm));
  const chi2 = left.transpose().mmul(solve(covariance, left)).get(0, 0);
  motions.forEach(({ x, y, turn }, p) => {
    const turned = Math.abs(turn) > CONTRADICTION * Math.sqrt(turns[p]! + TURN_RAD ** 2);
    if (p === 0 || !(turned || chi2 > CONTRADICTION ** 2 * (size - 1))) return;
    throw new Refusal('blank-moved', {
      blank,
      shiftMm: round(Math.hypot(x, y)),
      turnDeg: round((turn * 180) / Math.PI),
    });
  });
  const { thicknessMm, thicknessU } = views[0]!.settings;
  const uMm = information > 0 ? 1 / Math.sqrt(information) : Infinity;
  if (Math.abs(dMm) > CONTRADICTION * Math.hypot(uMm, thicknessU)) {
    throw new Refusal('height-disagrees', {
      blank,
      heightMm: round(thicknessMm[thicknessIndex]! + dMm, 1),
      uMm: round(2 * uMm, 1),
      thicknessMm: thicknessMm[thicknessIndex]!,
    });
  }
}

/** What the turn of an aligned outline is worth besides the views' uncertainty, rad: a few hundredths of a mm over its size. */
const TURN_RAD = 5e-4;

interface Answers {
  /** How the face at the middle moves with each mode of the view: shift, mm, and turn, rad. */
  readonly modes: readonly { readonly x: number; readonly y: number; readonly turn: number }[];
  /** And with the face's height, mm per mm. */
  readonly height: Point<'sheet'>;
}

function answersOf(view: PhotoView, middle: Point<'sheet'>, thicknessIndex: number): Answers {
  const ARM_MM = 40;
  const height = heightOf(view, thicknessIndex, view.values, middle);
  const around = [
    middle,
    { x: middle.x + ARM_MM, y: middle.y },
    { x: middle.x, y: middle.y + ARM_MM },
  ];
  const pictures = around.map((p) => pictureOf(view.eye, p.x, p.y, height));
  const modes = view.modes.map(({ delta }) => {
    const values = view.values.map((v, k) => v + delta[k]!);
    const eye = eyeOf(view, values);
    const h = heightOf(view, thicknessIndex, values, middle);
    const [o, a, b] = pictures.map((q) => sheetOfPicture(eye, q, h)) as [
      Point<'sheet'>,
      Point<'sheet'>,
      Point<'sheet'>,
    ];
    return {
      x: o.x - middle.x,
      y: o.y - middle.y,
      turn: (a.y - o.y - (b.x - o.x)) / (2 * ARM_MM),
    };
  });
  const above = sheetOfPicture(view.eye, pictures[0]!, height + 1);
  return { modes, height: { x: above.x - middle.x, y: above.y - middle.y } };
}

/** What the photos say about one place of the common outline. */
interface Say {
  readonly near: readonly Near[];
  /** Weights of the photos that saw the edge here, of sum 1; the nearest one's where none did. */
  readonly weights: readonly number[];
  readonly hidden: boolean;
  /** Where they have the edge, along the normal from the place, mm, and how far they lie apart (k = 1, of the mean). */
  readonly off: number;
  readonly spread: number;
  /** By how much a photo contradicts the others that saw the edge here, mm; 0 where none does. */
  readonly conflict: number;
}

function sayAt(laid: readonly Laid[], p: Point<'sheet'>, nx: number, ny: number): Say {
  const near = laid.map((l) => l.near(p));
  const raw = near.map((q, i) => {
    if (q.hidden) return 0;
    const u = laid[i]!.u[q.ring]![q.at]!;
    const most = Math.max(LEAST_REACH_MM, 4 * u);
    return q.distance < most ? (1 - (q.distance / most) ** 2) ** 2 / u ** 2 : 0;
  });
  const sum = raw.reduce((a, b) => a + b, 0);
  const hidden = sum === 0;
  const nearest = near.reduce((a, b) => (b.distance < a.distance ? b : a));
  const weights = hidden ? near.map((q) => (q === nearest ? 1 : 0)) : raw.map((w) => w / sum);
  const offs = near.map((q) => (q.x - p.x) * nx + (q.y - p.y) * ny);
  const off = hidden ? 0 : offs.reduce((s, d, i) => s + weights[i]! * d, 0);
  const variance = offs.reduce((s, d, i) => s + weights[i]! * (d - off) ** 2, 0);
  const count = 1 / weights.reduce((s, w) => s + w * w, 0);
  let conflict = 0;
  near.forEach((q, i) => {
    const apart = Math.abs(offs[i]! - off);
    const u = laid[i]!.u[q.ring]![q.at]!;
    if (!hidden && !q.hidden && q.distance < CONFLICT_MM && apart > 4 * u + ALIGNED_MM)
      conflict = Math.max(conflict, apart);
  });
  const spread = hidden ? 0 : Math.hypot(Math.sqrt(variance / count), conflict / 2);
  return { near, weights, hidden, off, spread, conflict };
}

/** An edge farther off than this is another edge, mm. */
const CONFLICT_MM = 1;
/** An outline is grown by this at most, mm. */
const MOST_GROWN_MM = 1.5;
/** A photo whose outline lies farther from a place than this (or four of its u) did not see the edge there, mm. */
const LEAST_REACH_MM = 0.25;

function together(
  clipper: Clipper,
  laid: readonly Laid[],
  blank: number,
  settings: TraceSettings,
  reasons: Reason[],
): Outline {
  const [first] = laid as [Laid];
  // Grown a little differently from vertex to vertex a ring may cross itself: the union with nothing makes it whole.
  const allowed = laid.map((l) => clipper.union([l.allowed(laid.filter((o) => o !== l))]));
  const regions = allowed.reduce((all, one) => clipper.intersection(all, one));
  if (!regions.length)
    throw new Refusal('outlines-disagree', { blank, percent: 100, limitMm: UNLIKE_MM });
  const largest = regions.reduce((a, b) => (signedArea(b.outer) > signedArea(a.outer) ? b : a));
  const rings = [
    largest.outer,
    ...largest.holes.filter((hole) => Math.abs(signedArea(hole)) > LEAST_HOLE_MM2 / 2),
  ];
  const measured = rings.map((ring) => agreed(ring, laid));
  const greatestU = Math.max(
    ...laid.map(({ outline }) => Math.max(...outline.u.map((u) => Math.max(...u)))),
  );
  const tolerance = settings.fitToleranceMm ?? Math.min(0.05, (2 * greatestU) / 3);
  const fitted = measured.map((m) => fitCurves({ ...m, sigmaMm: SIGMA_MM }, tolerance));
  const fitDeviationMm = Math.max(...fitted.map((f) => f.deviationMm));
  const polygons = fitted.map((f) => divided(flatten(f.curve, CHORD_MM)));

  const seen: Seen[] = [];
  const says: Say[] = [];
  for (const polygon of polygons) {
    const { nx, ny } = outwardNormals(polygon);
    polygon.forEach((p, k) => {
      const before = polygon[(k + polygon.length - 1) % polygon.length]!;
      const next = polygon[(k + 1) % polygon.length]!;
      const share =
        (Math.hypot(next.x - p.x, next.y - p.y) + Math.hypot(p.x - before.x, p.y - before.y)) / 2;
      seen.push({
        x: p.x,
        y: p.y,
        nx: nx[k]!,
        ny: ny[k]!,
        far: true,
        share,
        biasMm: 0,
        farSideMm: 0,
      });
      says.push(sayAt(laid, p, nx[k]!, ny[k]!));
    });
  }
  const flat = laid.map(({ outline }) => Float64Array.from(outline.edgeU.flatMap((u) => [...u])));
  const edgeU = Float64Array.from(says, ({ near, weights, spread }) => {
    const own = near.reduce((s, q, i) => s + (weights[i]! * flat[i]![q.vertex]!) ** 2, 0);
    return Math.hypot(Math.sqrt(own), spread, fitDeviationMm / 3);
  });
  const mixed = (of: (i: number) => Float64Array): Float64Array =>
    Float64Array.from(says, ({ near, weights }) =>
      near.reduce((s, q, i) => s + (weights[i]! > 0 ? weights[i]! * of(i)[q.vertex]! : 0), 0),
    );
  const modes = first.outline.modes.map((mode, m): OutlineMode => ({
    ...mode,
    dx: mixed((i) => laid[i]!.outline.modes[m]!.dx),
    dy: mixed((i) => laid[i]!.outline.modes[m]!.dy),
  }));
  const u = alongNormal(seen, modes, edgeU);
  const hidden = Uint8Array.from(says, (s) => (s.hidden ? 1 : 0));
  const doubtful = Uint8Array.from(says, ({ near, weights }) =>
    near.every((q, i) => weights[i] === 0 || q.doubtful) ? 1 : 0,
  );
  const byHand = stretches(
    polygons,
    Uint8Array.from(says, ({ near, weights }) =>
      near.some((q, i) => weights[i]! > 0 && q.byHand) ? 1 : 0,
    ),
    0,
  );
  let conflictMm = 0;
  let contradicted = 0;
  says.forEach(({ conflict }, k) => {
    if (conflict === 0) return;
    doubtful[k] = 1;
    contradicted += seen[k]!.share;
    conflictMm = Math.max(conflictMm, conflict);
  });
  if (contradicted > LEAST_DOUBTFUL_MM)
    reasons.push(
      reason('photos-contradict', {
        blank,
        lengthMm: round(contradicted, 1),
        apartMm: round(conflictMm),
      }),
    );
  const perRing = (values: Float64Array): Float64Array[] => {
    let from = 0;
    return polygons.map((p) => values.slice(from, (from += p.length)));
  };
  const outline: Outline = {
    ...first.outline,
    id: `blank-${blank}-${first.outline.at}`,
    blank,
    region: { outer: polygons[0]!, holes: polygons.slice(1) },
    curves: { outer: fitted[0]!.curve, holes: fitted.slice(1).map((f) => f.curve) },
    fitDeviationMm,
    modes,
    edgeU: perRing(edgeU),
    u: perRing(u),
    wholeFactor: wholeFactorOf(seen, modes, edgeU, u),
    hidden: stretches(polygons, hidden, LEAST_HIDDEN_MM),
    doubtful: stretches(polygons, doubtful, LEAST_DOUBTFUL_MM).map((stretch) => ({
      ...stretch,
      why: 'the edge is faint or beside another step, or the pictures contradict each other',
    })),
    byHand,
    rider: laid.some((l) => l.outline.rider),
  };
  say(outline, seen, hidden, u, edgeU, settings, reasons);
  return outline;
}

/** Scatter of the agreed points: those of fitted curves, mm. */
const SIGMA_MM = 0.003;

/** The points of a ring of the intersection, moved to where the photos that saw the edge agree to have it; corners kept. */
function agreed(
  ring: Ring<'sheet'>,
  laid: readonly Laid[],
): { points: Point<'sheet'>[]; corner: Uint8Array } {
  const corners = cornersOf(ring);
  const points: Point<'sheet'>[] = [];
  const corner: number[] = [];
  const from = corners.length ? corners : [0];
  from.forEach((start, c) => {
    const stop = from[(c + 1) % from.length]!;
    const piece = [ring[start]!];
    for (let k = (start + 1) % ring.length; k !== stop; k = (k + 1) % ring.length)
      piece.push(ring[k]!);
    piece.push(ring[stop]!);
    const steps = spaced(piece, STEP_MM);
    steps.forEach((p, k) => {
      if (k === 0 && corners.length) {
        points.push(cornerAt(p, laid));
        corner.push(1);
        return;
      }
      const [a, b] = [steps[Math.max(0, k - 1)]!, steps[k + 1] ?? ring[stop]!];
      const length = Math.hypot(b.x - a.x, b.y - a.y);
      if (!(length > 0)) return;
      const [nx, ny] = [(b.y - a.y) / length, -(b.x - a.x) / length];
      const { off } = sayAt(laid, p, nx, ny);
      points.push({ x: p.x + off * nx, y: p.y + off * ny });
      corner.push(0);
    });
  });
  return { points, corner: Uint8Array.from(corner) };
}

/** Points along a line about `stepMm` apart, the first included and the last not. */
function spaced(line: readonly Point<'sheet'>[], stepMm: number): Point<'sheet'>[] {
  const along = [0];
  for (let k = 1; k < line.length; k++) {
    const [a, b] = [line[k - 1]!, line[k]!];
    along.push(along[k - 1]! + Math.hypot(b.x - a.x, b.y - a.y));
  }
  const whole = along[along.length - 1]!;
  const count = Math.max(1, Math.round(whole / stepMm));
  const out: Point<'sheet'>[] = [];
  for (let c = 0, k = 0; c < count; c++) {
    const at = (whole * c) / count;
    while (k + 2 < line.length && along[k + 1]! < at) k++;
    const [a, b] = [line[k]!, line[k + 1]!];
    const t = along[k + 1]! > along[k]! ? (at - along[k]!) / (along[k + 1]! - along[k]!) : 0;
    out.push({ x: a.x + t * (b.x - a.x), y: a.y + t * (b.y - a.y) });
  }
  return out;
}

/** Angle by which a polygon turns at a vertex. */
function turnAt(ring: Ring<'sheet'>, k: number): number {
  const n = ring.length;
  const [a, p, b] = [ring[(k + n - 1) % n]!, ring[k]!, ring[(k + 1) % n]!];
  const cross = (p.x - a.x) * (b.y - p.y) - (p.y - a.y) * (b.x - p.x);
  const dot = (p.x - a.x) * (b.x - p.x) + (p.y - a.y) * (b.y - p.y);
  return Math.abs(Math.atan2(cross, dot));
}

/** The same over a length on both sides, so that a crossing of two lines that nearly agree does not count. */
function wideTurn(ring: Ring<'sheet'>, k: number): number {
  const n = ring.length;
  const reach = (sign: 1 | -1): Point<'sheet'> => {
    let m = k;
    for (let c = 0; c < 60; c++) {
      m = (m + sign + n) % n;
      if (Math.hypot(ring[m]!.x - ring[k]!.x, ring[m]!.y - ring[k]!.y) > ONE_CORNER_MM) break;
    }
    return ring[m]!;
  };
  return turnAt([reach(-1), ring[k]!, reach(1)], 1);
}

/** Corners of a ring, by their vertices in order; of several within a short way the sharpest. */
function cornersOf(ring: Ring<'sheet'>): number[] {
  const sharp = ring.flatMap((_, k) =>
    turnAt(ring, k) > CORNER_RAD && wideTurn(ring, k) > CORNER_RAD
      ? [{ k, turn: wideTurn(ring, k) }]
      : [],
  );
  const near = (a: number, b: number): boolean =>
    Math.hypot(ring[a]!.x - ring[b]!.x, ring[a]!.y - ring[b]!.y) < ONE_CORNER_MM;
  const kept: number[] = [];
  for (const { k } of [...sharp].sort((p, q) => q.turn - p.turn))
    if (!kept.some((o) => near(o, k))) kept.push(k);
  return kept.sort((p, q) => p - q);
}

/** Where the photos have a corner: the mean of theirs near a place; the place itself where none has one. */
function cornerAt(p: Point<'sheet'>, laid: readonly Laid[]): Point<'sheet'> {
  const theirs = laid.flatMap((l) => {
    const { ring, at, hidden } = l.near(p);
    if (hidden) return [];
    const points = l.rings[ring]!;
    const n = points.length;
    let best: Point<'sheet'> | undefined;
    let turn = CORNER_RAD;
    for (let d = -12; d <= 12; d++) {
      const k = (at + d + 2 * n) % n;
      const q = points[k]!;
      if (Math.hypot(q.x - p.x, q.y - p.y) > ONE_CORNER_MM || !(turnAt(points, k) > turn)) continue;
      best = q;
      turn = turnAt(points, k);
    }
    return best ? [best] : [];
  });
  if (!theirs.length) return p;
  return {
    x: theirs.reduce((s, q) => s + q.x, 0) / theirs.length,
    y: theirs.reduce((s, q) => s + q.y, 0) / theirs.length,
  };
}

function say(
  outline: Outline,
  seen: readonly Seen[],
  hidden: Uint8Array,
  u: Float64Array,
  edgeU: Float64Array,
  { wantMm }: TraceSettings,
  reasons: Reason[],
): void {
  const { blank, modes } = outline;
  let worst = 0;
  let hiddenMm = 0;
  seen.forEach(({ share }, k) => {
    if (hidden[k]) hiddenMm += share;
    else if (hidden[worst] || u[k]! > u[worst]!) worst = k;
  });
  const expanded = 2 * u[worst]!;
  const source = largestSource(seen[worst]!, worst, modes, edgeU);
  const facts = { blank, uMm: roundedUp(expanded), wantMm, source, advice: ADVICE[source] };
  if (
    outline.at === 'face' &&
    reasons.some((r) => r.code === 'outline-uncertain' && r.facts.blank === blank)
  )
    return;
  if (expanded > 3 * wantMm) reasons.push(reason('outline-too-uncertain', facts));
  else if (expanded > wantMm) reasons.push(reason('outline-uncertain', facts));
  const told = reasons.some((r) => r.code === 'stretch-hidden' && r.facts.blank === blank);
  if (outline.hidden.length > 0 && !told)
    reasons.push(reason('stretch-hidden', { blank, lengthMm: round(hiddenMm, 1) }));
}

const round = (v: number, digits = 2): number => Number(v.toFixed(digits));

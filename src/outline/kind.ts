import type { Point } from '../base/measure.ts';
import { reason, Refusal, type Reason } from '../base/reason.ts';
import type { Clipper } from '../geometry/clipper.ts';
import { flatten } from '../geometry/curve.ts';
import { fitCurves } from '../geometry/fit.ts';
import { layOn, offsetsTo, regionMovedBy, STILL, type Motion } from '../geometry/lay.ts';
import { boxOf, outwardNormals, regionArea, signedArea } from '../geometry/measure.ts';
import { Nearest, type Place } from '../geometry/nearest.ts';
import type { Region, Ring } from '../geometry/shape.ts';
import type { Source } from '../view/view.ts';
import { coveredShare, piecesFor } from './coverage.ts';
import type { Outline, OutlineMode, Stretch, Trace } from './outline.ts';
import {
  CHORD_MM,
  cornersOf,
  divided,
  LEAST_DOUBTFUL_MM,
  LEAST_HIDDEN_MM,
  LEAST_HOLE_MM2,
  marked,
  stretches,
} from './trace.ts';
import { alongNormal, wholeFactorOf, type Seen } from './uncertainty.ts';

/** A piece whose edge lies farther off, RMS, as a share of the piece's size, is another item; but nothing below this, mm. Common practice, no source. */
const OTHER_SHARE = 0.015;
const OTHER_MM = 0.4;
/** A piece lies face down where it fits so many times better mirrored. */
const MIRRORED_GAIN = 2;
/** A piece that lies so many times farther off than the others do, and by more than its uncertainty, is named as odd. */
const ODD_TIMES = 3;
const ODD_K = 3;

/** A piece, and how it is laid on the one that all are compared with. */
export interface Piece {
  readonly blank: number;
  /** Which picture it lies in, counted from 0. */
  readonly picture: number;
  readonly motion: Motion;
  readonly rmsMm: number;
  /** How far its edge lies outside each vertex of the reference, mm; NaN where either is hidden. By ring. */
  readonly offsetsMm: readonly Float64Array[];
}

/** What a pocket for several pieces is made for. */
export type KindBy = 'envelope' | 'mean';

/** Pieces of one kind, laid on each other. */
export interface Kind {
  /** The piece that the others are laid on; the envelope lies as it lies. */
  readonly reference: Outline;
  /** In order of their numbers, the reference among them. */
  readonly pieces: readonly Piece[];
  readonly envelope: Outline;
  /** Where it was asked for: the mean of the pieces, which then takes the pocket. */
  readonly mean?: Outline;
  /** How far the outermost and the innermost piece lie apart at each vertex of the reference, mm; NaN where fewer than two show it. By ring. */
  readonly spreadMm: readonly Float64Array[];
  /** The greatest of these, its U (k = 2) and where. */
  readonly greatest: { readonly mm: number; readonly u: number; readonly at: Point<'sheet'> };
  /** The middle one of these, mm. */
  readonly typicalMm: number;
  /** Share of a delivery that the largest of the measured pieces covers, with 95 % confidence. */
  readonly covers: number;
  readonly reasons: readonly Reason[];
}

/**
 * Lays the blanks of one kind on each other and draws the smallest outline that holds them all, with what they differ by.
 *
 * @param seats one outline for each blank: of its widest place, or of its face; numbered through all pictures
 * @param by what the pocket is to be made for
 * @throws Refusal `pieces-alone` for fewer than two, `pieces-unlike` when no two are alike
 */
export function ofOneKind(
  clipper: Clipper,
  seats: readonly Outline[],
  by: KindBy = 'envelope',
): Kind {
  if (seats.length < 2) throw new Refusal('pieces-alone', { found: seats.length });
  const { reference, laid, unlike } = lay(seats);
  const reasons: Reason[] = unlike.map(({ blank, rmsMm, faceDown }) =>
    faceDown
      ? reason('piece-face-down', { blank, reference: reference.blank, offMm: round(rmsMm) })
      : reason('piece-other', { blank, reference: reference.blank, offMm: round(rmsMm) }),
  );
  const rings = ringsOf(reference.region);
  const pieces = laid.map(({ outline, motion, rmsMm }) => ({
    blank: outline.blank,
    picture: outline.inPicture ?? 0,
    motion,
    rmsMm,
    offsetsMm: outline === reference ? rings.map(zeros) : offsetsOf(outline, motion, reference),
  }));
  const spreadMm = rings.map((ring, r) =>
    Float64Array.from(ring, (_, k) => {
      const all = pieces.map((p) => p.offsetsMm[r]![k]!).filter((d) => !Number.isNaN(d));
      return all.length > 1 ? Math.max(...all) - Math.min(...all) : NaN;
    }),
  );
  const greatest = greatestOf(reference, spreadMm, pieces, laid);
  const covers = coveredShare(pieces.length);
  reasons.push(...odd(pieces, reference));
  const next = [0.75, 0.9, 0.95].find((share) => share > covers + 0.05) ?? 0.99;
  reasons.push(
    reason('pieces-measured', {
      count: pieces.length,
      spreadMm: round(greatest.mm),
      uMm: round(greatest.u),
      percent: Math.floor(100 * covers),
      more: piecesFor(next) - pieces.length,
      nextPercent: Math.round(100 * next),
    }),
  );
  const own = [...pieces, ...unlike.filter((l) => l.faceDown)].map((p) => p.blank).sort(ascending);
  const mean = by === 'mean' ? meanOf(reference, laid, pieces) : undefined;
  if (mean) {
    const most = Math.max(
      ...rings.flatMap((ring, r) =>
        ring.map((_, k) => {
          const all = pieces.map((p) => p.offsetsMm[r]![k]!).filter((d) => !Number.isNaN(d));
          return all.length > 0 ? Math.max(...all) - meanIn(all) : 0;
        }),
      ),
    );
    reasons.push(
      reason('pieces-mean', {
        count: pieces.length,
        beyondMm: round(most),
        uMm: round(greatest.u),
      }),
    );
  }
  const known = spreadMm
    .flatMap((ring) => [...ring].filter((v) => !Number.isNaN(v)))
    .sort(ascending);
  return {
    reference,
    pieces,
    envelope: { ...envelopeOf(clipper, reference, laid), pieces: own },
    ...(mean && { mean: { ...mean, pieces: own } }),
    spreadMm,
    greatest,
    typicalMm: known[known.length >> 1] ?? 0,
    covers,
    reasons,
  };
}

/** The trace with the envelope of its pieces, or their mean; a pocket is then made for that. */
export function withEnvelope(
  trace: Trace,
  { envelope, mean, reasons }: Pick<Kind, 'envelope' | 'mean' | 'reasons'>,
): Trace {
  const doubt = reasons.some((r) => r.level === 'doubt');
  return {
    outlines: [...trace.outlines, mean ?? envelope],
    verdict: doubt && trace.verdict === 'ok' ? 'doubtful' : trace.verdict,
    reasons: [...trace.reasons, ...reasons],
  };
}

const round = (v: number): number => Number(v.toFixed(2));
const ascending = (a: number, b: number): number => a - b;
const zeros = (ring: Ring<'sheet'>): Float64Array => new Float64Array(ring.length);
const ringsOf = ({ outer, holes }: Region<'sheet'>): readonly Ring<'sheet'>[] => [outer, ...holes];

/** Root mean square distance up to which two pieces are taken to be of one kind, mm. */
function limitOf({ region }: Outline): number {
  const { left, right, bottom, top } = boxOf(region.outer);
  return Math.max(OTHER_MM, OTHER_SHARE * Math.max(right - left, top - bottom));
}

interface LaidPiece {
  readonly outline: Outline;
  readonly motion: Motion;
  readonly rmsMm: number;
}

/** All pieces laid on the first one that most others are like. */
function lay(seats: readonly Outline[]): {
  readonly reference: Outline;
  readonly laid: readonly LaidPiece[];
  readonly unlike: readonly {
    readonly blank: number;
    readonly rmsMm: number;
    readonly faceDown: boolean;
  }[];
} {
  let best: { reference: Outline; laid: LaidPiece[] } | undefined;
  for (const reference of seats) {
    const laid = seats.map((outline) =>
      outline === reference
        ? { outline, motion: STILL, rmsMm: 0 }
        : { outline, ...layOn(outline.region, reference.region, false) },
    );
    const alike = laid.filter((l) => l.rmsMm < limitOf(reference) && !liesFaceDown(l, reference));
    if (!best || alike.length > best.laid.length) best = { reference, laid: alike };
    if (2 * alike.length > seats.length) break;
  }
  const { reference, laid } = best!;
  if (laid.length < 2) throw new Refusal('pieces-unlike', { count: seats.length });
  const unlike = seats
    .filter((outline) => !laid.some((l) => l.outline === outline))
    .map(({ blank, region }) => {
      const { rmsMm } = layOn(region, reference.region, false);
      const mirroredMm = layOn(region, reference.region, true).rmsMm;
      const faceDown = mirroredMm < limitOf(reference) && mirroredMm * MIRRORED_GAIN < rmsMm;
      return { blank, rmsMm, faceDown };
    });
  return { reference, laid, unlike };
}

/** A shape that is nearly its own mirror image may lie within the limit either way up: it must lie clearly better mirrored. */
function liesFaceDown({ outline, rmsMm }: LaidPiece, reference: Outline): boolean {
  if (outline === reference) return false;
  const noise = Math.hypot(middleOf(outline.u), middleOf(reference.u));
  if (rmsMm < ODD_K * noise) return false;
  return layOn(outline.region, reference.region, true).rmsMm * MIRRORED_GAIN < rmsMm;
}

function middleOf(u: readonly Float64Array[]): number {
  const all = Float64Array.from(u.flatMap((ring) => [...ring])).sort();
  return all[all.length >> 1]!;
}

function offsetsOf(outline: Outline, motion: Motion, reference: Outline): Float64Array[] {
  const region = regionMovedBy(motion, outline.region);
  const hidden = marked(ringsOf(outline.region), outline.hidden);
  const theirs = ringsOf(region);
  const own = marked(ringsOf(reference.region), reference.hidden);
  return ringsOf(reference.region).map((ring, r) => {
    const same = r === 0 ? [0] : theirs.map((_, k) => k).slice(1);
    if (same.length === 0) return new Float64Array(ring.length).fill(NaN);
    const sides = new Nearest(
      same.map((k) => theirs[k]!),
      sizeOf(ring) / 60,
    );
    const flags = same.flatMap((k) => [...hidden[k]!]);
    const offsets = offsetsTo(ring, sides);
    ring.forEach((p, k) => {
      if (own[r]![k] || flags[sides.place(p.x, p.y).side]) offsets[k] = NaN;
    });
    return offsets;
  });
}

function sizeOf(ring: Ring<'sheet'>): number {
  const { left, right, bottom, top } = boxOf(ring);
  return Math.max(right - left, top - bottom);
}

/** Where the pieces lie farthest apart. What their edges share there, the view's errors, parts them only as far as they lie differently in the picture. */
function greatestOf(
  reference: Outline,
  spreadMm: readonly Float64Array[],
  pieces: readonly Piece[],
  laid: readonly LaidPiece[],
): Kind['greatest'] {
  let [ring, at] = [0, 0];
  spreadMm.forEach((values, r) =>
    values.forEach((v, k) => {
      const most = spreadMm[ring]![at]!;
      if (!Number.isNaN(v) && (Number.isNaN(most) || v > most)) [ring, at] = [r, k];
    }),
  );
  const place = ringsOf(reference.region)[ring]![at]!;
  const { nx, ny } = outwardNormals(ringsOf(reference.region)[ring]!);
  const along = pieces.map((p) => p.offsetsMm[ring]![at]!);
  const most = (sign: 1 | -1): LaidPiece =>
    laid[
      along.reduce((b, d, k) => (sign * d > sign * along[b]! || Number.isNaN(along[b]!) ? k : b), 0)
    ]!;
  const [outer, inner] = [most(1), most(-1)].map((piece) =>
    errorsAt(piece, place, nx[at]!, ny[at]!),
  ) as [EdgeErrors, EdgeErrors];
  const keys = new Set([...outer.shared.keys(), ...inner.shared.keys()]);
  const apart = [...keys].map((k) => (outer.shared.get(k) ?? 0) - (inner.shared.get(k) ?? 0));
  const u = Math.hypot(...apart, outer.own, inner.own);
  return { mm: spreadMm[ring]![at]!, u: 2 * u, at: place };
}

/** Sources that go through the same sheet and the same entries, whichever picture a piece lies in. */
const COMMON: readonly Source[] = ['spans', 'sheet age', 'rider size', 'thickness'];

/**
 * What a piece's modes are called: those of the same name are one error, of all pieces in one picture, or in all pictures. What a
 * hand drew is its own.
 */
function namesOf({ outline }: LaidPiece): string[] {
  const { inPicture: picture = 0, blank } = outline;
  const before = new Map<Source, number>();
  return outline.modes.map(({ source }) => {
    const n = before.get(source) ?? 0;
    before.set(source, n + 1);
    if (COMMON.includes(source)) return `${source} ${n}`;
    return `${source === 'by hand' ? `blank ${blank}` : `picture ${picture}`} ${source} ${n}`;
  });
}

/** Standard uncertainties along a normal, mm: one for each error that pieces share, with its sign, and what the edge has of its own. */
interface EdgeErrors {
  readonly shared: ReadonlyMap<string, number>;
  readonly own: number;
}

function errorsAt(piece: LaidPiece, place: Point<'sheet'>, nx: number, ny: number): EdgeErrors {
  const { outline, motion } = piece;
  const rings = ringsOf(regionMovedBy(motion, outline.region));
  const vertex = new Nearest(rings, sizeOf(rings[0]!) / 60).place(place.x, place.y).side;
  const [c, s] = [Math.cos(motion.turnRad), Math.sin(motion.turnRad)];
  const along = outline.modes.map(
    ({ dx, dy }) =>
      nx * (c * dx[vertex]! - s * dy[vertex]!) + ny * (s * dx[vertex]! + c * dy[vertex]!),
  );
  // Light and shade fall otherwise on every piece.
  const isOwn = (k: number): boolean => outline.modes[k]!.source === 'edge bias';
  const edgeU = outline.edgeU.flatMap((ring) => [...ring])[vertex]!;
  const names = namesOf(piece);
  return {
    shared: new Map(along.flatMap((e, k) => (isOwn(k) ? [] : [[names[k]!, e] as const]))),
    own: Math.hypot(edgeU, ...along.filter((_, k) => isOwn(k))),
  };
}

/** Pieces that lie much farther from the reference than the others do. */
function odd(pieces: readonly Piece[], reference: Outline): Reason[] {
  const others = pieces.filter((p) => p.blank !== reference.blank);
  if (others.length < 3) return [];
  const noise = Math.SQRT2 * middleOf(reference.u);
  return others.flatMap((p) => {
    const rest = others.filter((o) => o !== p).map((o) => o.rmsMm);
    const usual = rest.sort(ascending)[rest.length >> 1]!;
    if (p.rmsMm < ODD_TIMES * usual || p.rmsMm < ODD_K * noise) return [];
    return [reason('piece-odd', { blank: p.blank, offMm: round(p.rmsMm), usualMm: round(usual) })];
  });
}

/** Which vertices of which pieces a vertex comes from, and with what weight. */
type From = readonly (readonly [piece: number, vertex: number, weight: number])[];

/** The union of the pieces as they lie on the reference, with what is known of the piece that reaches farthest at each place. */
function envelopeOf(clipper: Clipper, reference: Outline, laid: readonly LaidPiece[]): Outline {
  const regions = laid.map(({ outline, motion }) => regionMovedBy(motion, outline.region));
  const union = clipper
    .union<'sheet'>(regions)
    .reduce((a, b) => (regionArea(b) > regionArea(a) ? b : a));
  const whole = [union.outer, ...union.holes.filter((h) => -signedArea(h) > LEAST_HOLE_MM2 / 2)];
  return outlineFrom('envelope', whole, reference, laid, (near) => {
    const piece = near.reduce((b, q, k) => (q.distance < near[b]!.distance ? k : b), 0);
    return [[piece, near[piece]!.side, 1]];
  });
}

const meanIn = (values: readonly number[]): number =>
  values.reduce((sum, v) => sum + v, 0) / values.length;

/** The reference moved to where its pieces have their edges on average: what a piece of the delivery is like, as far as these tell. */
function meanOf(reference: Outline, laid: readonly LaidPiece[], pieces: readonly Piece[]): Outline {
  const spread: number[] = [];
  const rings = ringsOf(reference.region).map((ring, r) => {
    const { nx, ny } = outwardNormals(ring);
    return ring.map((p, k) => {
      const all = pieces.map((q) => q.offsetsMm[r]![k]!).filter((d) => !Number.isNaN(d));
      const mean = all.length > 0 ? meanIn(all) : 0;
      const squares = all.map((d) => (d - mean) ** 2);
      if (all.length > 1) spread.push(squares.reduce((a, b) => a + b, 0) / (all.length - 1));
      return { x: p.x + mean * nx[k]!, y: p.y + mean * ny[k]! };
    });
  });
  // How far the mean of so few lies from that of all (k = 1), along most of the edge.
  const scatter = Math.sqrt(meanIn(spread) / laid.length);
  const share = 1 / laid.length;
  return outlineFrom(
    'mean',
    rings,
    reference,
    laid,
    (near) => near.map(({ side }, piece) => [piece, side, share] as const),
    scatter,
  );
}

/**
 * An outline made of several pieces laid on each other.
 *
 * @param whole its rings
 * @param pick which pieces a place comes from, by the nearest side of each of them
 * @param scatterMm standard uncertainty beside that of the pieces' own edges
 */
function outlineFrom(
  at: 'envelope' | 'mean',
  whole: readonly Ring<'sheet'>[],
  reference: Outline,
  laid: readonly LaidPiece[],
  pick: (near: readonly Place[]) => From,
  scatterMm = 0,
): Outline {
  const regions = laid.map(({ outline, motion }) => regionMovedBy(motion, outline.region));
  const toleranceMm = Math.max(reference.fitDeviationMm, CHORD_MM);
  const fitted = whole.map((ring) => {
    const points = divided(ring);
    return fitCurves<'sheet'>(
      { points, corner: cornersOf(points), sigmaMm: CHORD_MM },
      toleranceMm,
    );
  });
  const polygons = fitted.map(({ curve }) => divided(flatten(curve, CHORD_MM)));
  const sides = regions.map((region) => new Nearest(ringsOf(region), sizeOf(region.outer) / 60));
  const ownU = laid.map(({ outline }) => outline.edgeU.flatMap((ring) => [...ring]));

  const seen: Seen[] = [];
  const from: From[] = [];
  polygons.forEach((ring) => {
    const { nx, ny } = outwardNormals(ring);
    ring.forEach((p, k) => {
      from.push(pick(sides.map((s) => s.place(p.x, p.y))));
      const [a, b] = [ring[(k + ring.length - 1) % ring.length]!, ring[(k + 1) % ring.length]!];
      const share = (Math.hypot(p.x - a.x, p.y - a.y) + Math.hypot(b.x - p.x, b.y - p.y)) / 2;
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
    });
  });
  const modes = sharedModes(laid, from);
  const edgeU = Float64Array.from(from, (of) =>
    Math.hypot(
      ...of.map(([piece, vertex, weight]) => weight * ownU[piece]![vertex]!),
      toleranceMm / 3,
      scatterMm,
    ),
  );
  const u = alongNormal(seen, modes, edgeU);
  /** Stretches that come from such stretches of the pieces. */
  const inherited = (of: (o: Outline) => readonly Stretch[], leastMm: number): Stretch[] => {
    const flags = laid.map(({ outline }) =>
      marked(ringsOf(outline.region), of(outline)).flatMap((ring) => [...ring]),
    );
    const here = Uint8Array.from(from, (all) =>
      all.some(([piece, vertex]) => flags[piece]![vertex]! === 1) ? 1 : 0,
    );
    return stretches(polygons, here, leastMm);
  };
  const byHand = inherited((o) => o.byHand ?? [], 0);
  const perRing = (values: Float64Array): Float64Array[] => {
    let first = 0;
    return polygons.map((p) => values.slice(first, (first += p.length)));
  };
  return {
    ...reference,
    id: `blank-${reference.blank}-${at}`,
    at,
    region: { outer: polygons[0]!, holes: polygons.slice(1) },
    curves: { outer: fitted[0]!.curve, holes: fitted.slice(1).map((f) => f.curve) },
    fitDeviationMm: Math.max(...fitted.map((f) => f.deviationMm)),
    modes,
    edgeU: perRing(edgeU),
    u: perRing(u),
    wholeFactor: wholeFactorOf(seen, modes, edgeU, u),
    hidden: inherited((o) => o.hidden, LEAST_HIDDEN_MM),
    byHand,
    doubtful: inherited((o) => o.doubtful, LEAST_DOUBTFUL_MM).map((stretch) => ({
      ...stretch,
      why:
        at === 'mean'
          ? 'the edge of one of the pieces is doubtful here'
          : 'the edge of the piece that reaches farthest is doubtful here',
    })),
    rider: laid.some(({ outline }) => outline.rider),
  };
}

/** Displacements of an outline made of pieces: every place moves as the pieces do that it comes from. What pieces share, the view's errors, stays one mode. */
function sharedModes(laid: readonly LaidPiece[], from: readonly From[]): OutlineMode[] {
  const names = laid.map(namesOf);
  return [...new Set(names.flat())].map((name): OutlineMode => {
    const dx = new Float64Array(from.length);
    const dy = new Float64Array(from.length);
    const its = names.map((of) => of.indexOf(name));
    from.forEach((of, i) => {
      for (const [piece, vertex, weight] of of) {
        const k = its[piece]!;
        if (k < 0) continue;
        const { outline, motion } = laid[piece]!;
        const mode = outline.modes[k]!;
        const [c, s] = [Math.cos(motion.turnRad), Math.sin(motion.turnRad)];
        dx[i]! += weight * (c * mode.dx[vertex]! - s * mode.dy[vertex]!);
        dy[i]! += weight * (s * mode.dx[vertex]! + c * mode.dy[vertex]!);
      }
    });
    const piece = its.findIndex((k) => k >= 0);
    return { source: laid[piece]!.outline.modes[its[piece]!]!.source, dx, dy };
  });
}

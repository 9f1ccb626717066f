import type { Point } from '../base/measure.ts';
import { reason, type Reason } from '../base/reason.ts';
import { combine, lawOf, type Input } from '../check/budget.ts';
import { waysToLay } from '../geometry/lay.ts';
import { boxOf, centroid } from '../geometry/measure.ts';
import type { Outline } from '../outline/outline.ts';
import { inPicture } from '../outline/pictured.ts';
import type { Place } from '../plan/plan.ts';
import { pictureOf } from '../view/model.ts';
import type { PhotoView } from '../view/view.ts';
import {
  apartK,
  between,
  degreesOf,
  fitOf,
  lyingOf,
  meanOf,
  worstU,
  type LooseKind,
  type Lying,
} from './lying.ts';

/** One photo of the loaded bed, traced once for each thickness that its pieces have. */
export interface LoadPhoto {
  readonly name: string;
  readonly passes: readonly {
    readonly thicknessMm: number;
    readonly view: PhotoView;
    /** The outline of each piece at its widest place. */
    readonly outlines: readonly Outline[];
  }[];
  /** What is doubtful about the photo as a whole. */
  readonly reasons: readonly Reason[];
}

/** A piece that was found, told what it is, and placed. */
export interface LoosePiece {
  /** Counted from the left. */
  readonly number: number;
  readonly blank: number;
  readonly outlineId: string;
  /** Bed from blank. */
  readonly place: Place;
  /** U (k = 2) of the place where the piece's edge is least sure, mm; of its turn, degrees. */
  readonly placeU: number;
  readonly turnU: number;
  /** How far the print may land off on it: U (k = 2) with what the printer and the pieces themselves bring, mm. */
  readonly offMm: number;
  /** Root mean square distance of its edge from that of its blank, mm. */
  readonly unlikeMm: number;
}

/** Something that the first photo shows, where it shows it. */
export interface LooseThing {
  /** What it was taken for, and whether another photo agrees. */
  readonly is: 'placed' | 'moved' | 'face down' | 'either' | 'unknown';
  /** Of the piece that was placed; absent: none was. */
  readonly number?: number;
  /** Its edge, upright px. */
  readonly ringsPx: readonly (readonly Point<'picture'>[])[];
}

export interface LooseLoad {
  readonly pieces: readonly LoosePiece[];
  readonly things: readonly LooseThing[];
  /** The greatest `offMm`; 0 without pieces. */
  readonly offMm: number;
  /** What that piece's is made of, the greatest first. */
  readonly budget: readonly (Input & { readonly share: number })[];
  readonly reasons: readonly Reason[];
}

/** What the photo does not tell: half-widths, mm, as the registration of a board has them. */
export interface LooseSettings {
  /** How far the printer may set its picture off from one print to the next. */
  readonly printerMm: number;
  /** Largest less smallest piece, across. */
  readonly spreadMm: number;
  readonly bleedMm: number;
  readonly safeMm: number;
}

/** A piece whose edge lies farther off, RMS, as a share of its size, is another item; but nothing below this, mm. Common practice, no source. */
const OTHER_SHARE = 0.015;
const OTHER_MM = 0.4;
/** A piece lies face down where it fits so many times better turned over. */
const FACE_DOWN_GAIN = 2;
/** Up to so many times the blank's own uncertainty it need not be tried. */
const NOISE_K = 3;
/** Two kinds fit alike where the second lies off by no more than this many times the first, and this, mm. */
const EITHER_TIMES = 1.5;
const EITHER_MM = 0.05;
/** A shape that lies on its own mirror image within this shows no side, mm. */
const SAME_MIRRORED_MM = 0.15;
/** Two photos contradict each other beyond so many standard uncertainties of shift and turn together: chi-square with 3 degrees, 99.9 %. */
const MOVED_K = Math.sqrt(16.27);

type Found = Told & { readonly at: At; readonly ringsPx: LooseThing['ringsPx'] };
type Told =
  | { readonly is: 'placed'; readonly kind: LooseKind; readonly lying: Lying }
  | { readonly is: 'face down'; readonly kind: LooseKind }
  | {
      readonly is: 'either';
      readonly kinds: readonly [LooseKind, LooseKind];
      readonly offMm: readonly [number, number];
    }
  | { readonly is: 'unknown'; readonly offMm: number };
/** Where to look for it, in the sentences. */
type At = Point<'sheet'>;

/**
 * The pieces on a bed: every one that the photos show is told by its outline, placed and turned, and what is wrong with the load is
 * named. Several photos are each placed alone and then weighed together; where they contradict each other, something was moved.
 *
 * @param photos of one load, in the order they were taken
 */
export function looseLoad(
  kinds: readonly LooseKind[],
  photos: readonly LoadPhoto[],
  settings: LooseSettings,
): LooseLoad {
  const reasons: Reason[] = photos.flatMap((photo) => photo.reasons);
  const all = photos.map((photo) => foundIn(kinds, photo, printOf(photos)));
  const [first, ...later] = all as [Found[], ...Found[][]];
  const pairs = later.map((others) =>
    first.map((found) => (found.is === 'placed' ? sameAs(found, others) : undefined)),
  );
  const leaning = pairs.map((same) => leaningBetween(first, same));
  const moved = new Set<Found>();
  const lies = first.flatMap((found, k): { kind: LooseKind; lying: Lying; found: Found }[] => {
    if (found.is !== 'placed') {
      reasons.push(wrongWith(found));
      return [];
    }
    const same = pairs.map((of) => of[k]);
    same.forEach((other, p) => {
      const facts = { ...spot(found.at), first: photos[0]!.name, other: photos[p + 1]!.name };
      if (!other) {
        moved.add(found);
        reasons.push(reason('loose-one-only', facts));
        return;
      }
      const { x, y } = leaning[p]!;
      const h = found.kind.thicknessMm;
      const upright = shifted(other, -h * x, -h * y);
      if (apartK(found.lying, upright) <= MOVED_K) return;
      const apart = between(found.lying, upright);
      moved.add(found);
      reasons.push(
        reason('loose-moved', {
          ...facts,
          apartMm: shown(Math.hypot(apart.x, apart.y)),
          deg: shown(Math.abs((apart.turn * 180) / Math.PI)),
        }),
      );
    });
    const told = [found.lying, ...same.filter((s) => s !== undefined)];
    return [{ kind: found.kind, lying: meanOf(told, found.kind), found }];
  });
  later.forEach((others, p) => {
    for (const other of others)
      if (other.is === 'placed' ? !sameAs(other, first) : !near(other, first))
        reasons.push(
          reason('loose-one-only', {
            ...spot(other.at),
            first: photos[p + 1]!.name,
            other: photos[0]!.name,
          }),
        );
  });
  for (const kind of kinds) {
    const own = lies.filter((l) => l.kind === kind);
    if (kind.count !== undefined && own.length !== kind.count)
      reasons.push(
        reason(own.length < kind.count ? 'loose-missing' : 'loose-more', {
          blank: kind.blank,
          laid: kind.count,
          seen: own.length,
        }),
      );
    const turns = own.find(({ lying }) => lying.alsoDeg.length > 0);
    if (turns)
      reasons.push(
        reason('loose-turns', {
          blank: kind.blank,
          turns: turns.lying.alsoDeg.length > 3 ? 'any turn' : degrees(turns.lying.alsoDeg),
        }),
      );
    if (own.length > 0 && sameMirrored(kind))
      reasons.push(reason('loose-sides', { blank: kind.blank }));
  }
  const numbers = new Map<Found, number>();
  const pieces = lies
    .sort((a, b) => a.lying.middle.x - b.lying.middle.x)
    .map(({ kind, lying, found }, k): LoosePiece & { budget: LooseLoad['budget'] } => {
      numbers.set(found, k + 1);
      const { motion, covariance, offMm } = lying;
      const placed = 2 * worstU(lying, kind);
      const { u, inputs } = budgetOf(placed / 2, kind, settings);
      return {
        number: k + 1,
        blank: kind.blank,
        outlineId: kind.outlineId,
        place: {
          x: motion.xMm,
          y: motion.yMm,
          turnDeg: degreesOf(motion.turnRad),
          mirrored: false,
        },
        placeU: placed,
        turnU: (360 / Math.PI) * Math.sqrt(covariance[8]!),
        offMm: 2 * u,
        unlikeMm: offMm,
        budget: inputs,
      };
    });
  if (pieces.length === 0) reasons.push(reason('loose-none'));
  const worst = pieces.reduce<(typeof pieces)[number] | undefined>(
    (a, b) => (a && a.offMm >= b.offMm ? a : b),
    undefined,
  );
  const offMm = worst?.offMm ?? 0;
  for (const [what, mm] of [
    ['bleed', settings.bleedMm],
    ['safe area', settings.safeMm],
  ] as const)
    if (worst && offMm > mm + 1e-9)
      reasons.push(
        reason('loose-off', {
          piece: worst.number,
          offMm: shown(offMm),
          what,
          widthMm: shown(mm),
          most: worst.budget[0]!.name,
        }),
      );
  return {
    pieces: pieces.map(({ budget: _, ...piece }) => piece),
    things: first.map((found) => ({
      is: moved.has(found) ? 'moved' : found.is,
      ...(numbers.has(found) && { number: numbers.get(found)! }),
      ringsPx: found.ringsPx,
    })),
    offMm,
    budget: worst?.budget ?? [],
    reasons,
  };
}

/** What the printer made of lengths, as the first photo of a load tells it: by that the artwork is corrected. */
export const printOf = ([first]: readonly LoadPhoto[]): PhotoView['print'] =>
  first!.passes[0]!.view.print;

const shown = (v: number): number => Math.round(v * 100) / 100;
const spot = ({ x, y }: At): { x: number; y: number } => ({ x: Math.round(x), y: Math.round(y) });
const degrees = (turns: readonly number[]): string =>
  turns
    .map((t) => Math.round(((t % 360) + 360) % 360))
    .sort((a, b) => a - b)
    .map((t) => `${t}`)
    .join(' or ');

function wrongWith(found: Exclude<Found, { is: 'placed' }>): Reason {
  const at = spot(found.at);
  switch (found.is) {
    case 'face down':
      return reason('loose-face-down', { ...at, blank: found.kind.blank });
    case 'either':
      return reason('loose-either', {
        ...at,
        blank: found.kinds[0].blank,
        other: found.kinds[1].blank,
        offMm: shown(found.offMm[0]),
        otherMm: shown(found.offMm[1]),
      });
    case 'unknown':
      return reason('loose-unknown', { ...at, offMm: found.offMm.toFixed(1) });
  }
}

/** How far one printed piece may be off, after JCGM 100: the place as measured, and rectangular half-widths for the rest. */
function budgetOf(
  placeU: number,
  kind: LooseKind,
  { printerMm, spreadMm }: LooseSettings,
): { u: number; inputs: LooseLoad['budget'] } {
  const input = (name: string, u: number, source: string): Input => ({
    name,
    unit: 'mm',
    u,
    sensitivity: 1,
    source,
  });
  const all = [
    input('place', placeU, 'photo'),
    input('printer', lawOf.rectangular(printerMm), 'entered'),
    input('spread of the pieces', lawOf.rectangular(spreadMm / 2), 'entered'),
    input('outline', kind.edgeU, 'its own budget'),
  ];
  const { u, contributions } = combine(all);
  return {
    u,
    inputs: all
      .map((i, k) => ({ ...i, share: contributions[k]!.share }))
      .sort((a, b) => b.share - a.share),
  };
}

const sizeOf = (kind: LooseKind): number => {
  const { left, right, bottom, top } = boxOf(kind.region.outer);
  return Math.max(right - left, top - bottom);
};
const limitOf = (kind: LooseKind): number => Math.max(OTHER_MM, OTHER_SHARE * sizeOf(kind));

const sameMirrored = ({ region }: LooseKind): boolean =>
  waysToLay({ outer: region.outer, holes: [] }, { outer: region.outer, holes: [] }, true)[0]!
    .rmsMm < SAME_MIRRORED_MM;

/** What each photo shows, a thing at a time: seen at several heights it is one thing, where the picture shows it. */
function foundIn(
  kinds: readonly LooseKind[],
  { passes }: LoadPhoto,
  print: PhotoView['print'],
): Found[] {
  const things: {
    readonly px: Point<'picture'>;
    readonly seen: { readonly pass: LoadPhoto['passes'][number]; readonly outline: Outline }[];
  }[] = [];
  for (const pass of passes)
    for (const outline of pass.outlines) {
      const { x, y } = centroid(outline.region.outer);
      const px = pictureOf(pass.view.eye, x, y, outline.heightMm);
      const box = boxOf(outline.region.outer);
      const within = Math.min(box.right - box.left, box.top - box.bottom) / 3 / pass.view.mmPerPx;
      const known = things.find(
        (t) =>
          !t.seen.some((s) => s.pass === pass) && Math.hypot(t.px.x - px.x, t.px.y - px.y) < within,
      );
      if (known) known.seen.push({ pass, outline });
      else things.push({ px, seen: [{ pass, outline }] });
    }
  return things.map(({ seen }) => toldApart(kinds, seen, print));
}

function toldApart(
  kinds: readonly LooseKind[],
  seen: readonly { readonly pass: LoadPhoto['passes'][number]; readonly outline: Outline }[],
  print: PhotoView['print'],
): Found {
  const at = centroid(seen[0]!.outline.region.outer);
  /** What it is, and where the picture shows it, by the outline that says so. */
  const found = (
    told: Told,
    {
      outline,
      pass,
    }: { outline: Outline; pass: Pick<LoadPhoto['passes'][number], 'view'> } = seen[0]!,
  ): Found => ({ ...told, at, ringsPx: inPhoto(outline, pass.view) });
  const tried = (turnedOver: boolean) =>
    kinds
      .flatMap((kind) =>
        seen
          .filter(({ pass }) => Math.abs(pass.thicknessMm - kind.thicknessMm) < 1e-6)
          .flatMap(({ pass, outline }) => {
            const fit = fitOf(kind, outline, turnedOver);
            return fit ? [{ kind, fit, outline, pass }] : [];
          }),
      )
      .sort((a, b) => a.fit.offMm - b.fit.offMm);
  const [best, second] = tried(false);
  const fits = best && best.fit.offMm < limitOf(best.kind);
  if (fits && second && second.fit.offMm < EITHER_TIMES * best.fit.offMm + EITHER_MM)
    return found(
      {
        is: 'either',
        kinds: [best.kind, second.kind],
        offMm: [best.fit.offMm, second.fit.offMm],
      },
      best,
    );
  if (!best || best.fit.offMm > NOISE_K * best.kind.edgeU) {
    const [over] = tried(true);
    if (
      over &&
      over.fit.offMm < limitOf(over.kind) &&
      (!best || over.fit.offMm * FACE_DOWN_GAIN < best.fit.offMm)
    )
      return found({ is: 'face down', kind: over.kind }, over);
  }
  if (!fits) return found({ is: 'unknown', offMm: best?.fit.offMm ?? 0 }, best);
  const { kind, fit, outline, pass } = best;
  const lying = lyingOf(kind, outline, pass.view, fit, print);
  return found({ is: 'placed', kind, lying }, best);
}

/** Where a photo shows an outline: a vertex every half a millimetre or so is enough to draw. */
function inPhoto(outline: Outline, view: PhotoView): LooseThing['ringsPx'] {
  const px = inPicture(view.eye, outline);
  return [outline.region.outer, ...outline.region.holes].map((ring) =>
    ring.filter((_, k) => k % DRAWN_EVERY === 0).map(px),
  );
}
const DRAWN_EVERY = 2;

/** The same piece in another photo: of the same kind, and nearer than half its size. */
function sameAs(
  { kind, lying }: Extract<Found, { is: 'placed' }>,
  others: readonly Found[],
): Lying | undefined {
  let best: { lying: Lying; mm: number } | undefined;
  for (const other of others) {
    if (other.is !== 'placed' || other.kind !== kind) continue;
    const { x, y } = between(lying, other.lying);
    const mm = Math.hypot(x, y);
    if (mm < sizeOf(kind) / 2 && (!best || mm < best.mm)) best = { lying: other.lying, mm };
  }
  // A shape that looks the same after a turn is taken as it lies nearest to the other.
  return best && turnedTo(best.lying, lying);
}

function turnedTo(lying: Lying, other: Lying): Lying {
  const turn = (deg: number): number =>
    Math.abs(degreesOf(lying.motion.turnRad + (deg * Math.PI) / 180 - other.motion.turnRad));
  const deg = lying.alsoDeg.reduce((a, b) => (turn(b) < turn(a) ? b : a), 0);
  return deg === 0 ? lying : turnedBy(lying, deg);
}

const shifted = (lying: Lying, x: number, y: number): Lying => ({
  ...lying,
  motion: { ...lying.motion, xMm: lying.motion.xMm + x, yMm: lying.motion.yMm + y },
  middle: { x: lying.middle.x + x, y: lying.middle.y + y },
});

/** So many pieces tell apart what the camera does to all of them from what was done to one. */
const LEAST_TOGETHER = 3;

/**
 * How much farther to one side all pieces lie in another photo, mm for each mm of their height: where the camera stood is a little wrong in
 * either, which leans everything above the sheet alike. The median, each piece by its height, so that a piece that was moved has no say.
 */
function leaningBetween(
  first: readonly Found[],
  same: readonly (Lying | undefined)[],
): { readonly x: number; readonly y: number } {
  const leans = first.flatMap((found, k) => {
    const other = same[k];
    if (found.is !== 'placed' || !other || found.kind.thicknessMm <= 0) return [];
    const { x, y } = between(found.lying, other);
    const h = found.kind.thicknessMm;
    return [{ x: x / h, y: y / h, h }];
  });
  if (leans.length < LEAST_TOGETHER) return { x: 0, y: 0 };
  const half = leans.reduce((sum, { h }) => sum + h, 0) / 2;
  const median = (of: 'x' | 'y'): number => {
    let sum = 0;
    return leans.sort((a, b) => a[of] - b[of]).find(({ h }) => (sum += h) >= half)![of];
  };
  return { x: median('x'), y: median('y') };
}

/** Turned about the piece's own middle. */
function turnedBy(lying: Lying, deg: number): Lying {
  const turnRad = (deg * Math.PI) / 180;
  const [c, s] = [Math.cos(turnRad), Math.sin(turnRad)];
  const { middle, motion } = lying;
  const [x, y] = [motion.xMm - middle.x, motion.yMm - middle.y];
  return {
    ...lying,
    motion: {
      ...motion,
      turnRad: motion.turnRad + turnRad,
      xMm: middle.x + c * x - s * y,
      yMm: middle.y + s * x + c * y,
    },
  };
}

/** Whether something lies there in the other photo too. */
const near = ({ at }: Found, others: readonly Found[]): boolean =>
  others.some((o) => Math.hypot(o.at.x - at.x, o.at.y - at.y) < 15);

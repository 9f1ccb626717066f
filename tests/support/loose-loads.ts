/*
 * Beds loaded without a jig at the level of marks and edge points: a true sheet as a printer printed it, a camera, pieces that lie
 * anyhow, and the program's own adjustment, outline covariance, telling apart and placing. What can go wrong with a load is done to
 * it before the program sees it.
 */
import type { LooseKind } from '../../src/after/lying.ts';
import { looseLoad, type LoadPhoto, type LooseLoad } from '../../src/after/loose.ts';
import type { Point } from '../../src/base/measure.ts';
import type { Clipper } from '../../src/geometry/clipper.ts';
import { movedBy, regionMovedBy, type Motion } from '../../src/geometry/lay.ts';
import { centroid, mapRegion, ringDistance } from '../../src/geometry/measure.ts';
import type { Region } from '../../src/geometry/shape.ts';
import { calibrate } from '../../src/view/adjust.ts';
import { outlineFrom, picturePoints } from '../faults/simulated-job.ts';
import { Random, simulate, type Simulated } from './simulate.ts';

/** What was done wrong; nothing: a good load. */
export const MIX_UPS = [
  'nothing',
  'missing',
  'extra',
  'face down',
  'touching',
  'on another',
  'moved',
  'turned',
  'exchanged',
  'one more',
] as const;
export type MixUp = (typeof MIX_UPS)[number];

/** What names each of them. */
export const NAMED_BY: Readonly<Record<Exclude<MixUp, 'nothing'>, readonly string[]>> = {
  missing: ['loose-missing'],
  extra: ['loose-unknown'],
  'face down': ['loose-face-down'],
  touching: ['loose-unknown'],
  'on another': ['loose-unknown'],
  moved: ['loose-moved', 'loose-one-only'],
  turned: ['loose-moved', 'loose-one-only'],
  exchanged: ['loose-missing', 'loose-more'],
  'one more': ['loose-more'],
};
/** What happens between two photos. */
const BETWEEN_PHOTOS: readonly MixUp[] = ['moved', 'turned'];

export interface PlayedLoad {
  readonly mixUp: MixUp;
  readonly load: LooseLoad;
  /** Of each piece that was placed: how far the ink that is sent to its edge lands off it at most, mm, its U, and how far its turn is off, degrees, with U. */
  readonly landed: readonly {
    readonly offMm: number;
    readonly U: number;
    readonly turnDeg: number;
    readonly turnU: number;
  }[];
  /** Whether the load is said to be fit to print. */
  readonly fit: boolean;
}

/** A closed smooth shape by its distance from a middle; no turn and no mirroring brings it onto itself. */
const blob = (scale: number, waves: readonly (readonly [n: number, mm: number, at: number])[]) => {
  const outer = Array.from({ length: 420 }, (_, k) => {
    const a = (2 * Math.PI * k) / 420;
    const r = waves.reduce((sum, [n, mm, at]) => sum + mm * Math.cos(n * a + at), scale);
    return { x: r * Math.cos(a), y: r * Math.sin(a) };
  });
  const { x, y } = centroid(outer);
  return outer.map((p) => ({ x: p.x - x, y: p.y - y }));
};

/** Two kinds of a job, and an item of neither. All invented. */
const SHAPES = [
  blob(17, [
    [2, 3.2, 0.3],
    [3, 1.6, 1.1],
    [5, 0.5, 0],
  ]),
  blob(14, [
    [1, 1, 0],
    [2, 2.6, 0.9],
    [3, 2, 2.2],
    [4, 0.7, 0],
  ]),
  blob(15, [
    [2, 1, 0],
    [3, 3, 0.4],
    [4, 1.4, 1.9],
  ]),
] as const;

const region = (k: number): Region<'blank'> => ({ outer: SHAPES[k]!, holes: [] });
/** The kinds' outlines were measured before: a little too large, as their U allows. */
const EDGE_U = 0.02;

interface Lies {
  readonly shape: number;
  readonly motion: Motion;
}

/** Pieces strewn over the middle of an A4 sheet, none nearer than 4 mm to another. */
function strewn(random: Random, count: number): Lies[] {
  const lies: Lies[] = [];
  const rings: Point<'blank'>[][] = [];
  for (let tries = 0; lies.length < count && tries < 4000; tries++) {
    const shape = Math.floor(random.between(0, 2));
    const motion = {
      mirrored: false,
      turnRad: random.between(-Math.PI, Math.PI),
      xMm: random.between(50, 160),
      yMm: random.between(55, 242),
    };
    const ring = SHAPES[shape]!.map((p) => movedBy<'blank'>(motion, p));
    if (rings.some((r) => ringDistance(r, ring) < 4)) continue;
    lies.push({ shape, motion });
    rings.push(ring);
  }
  return lies;
}

/**
 * One load: made, pictured once or (where something is moved in between) twice, and judged.
 *
 * @param heightMm of every piece; riders lie on one of them from 6 mm on
 */
export function playLoad(clipper: Clipper, seed: number, mixUp: MixUp): PlayedLoad {
  const random = new Random(seed * 104_729 + 7);
  const heightMm = [1, 3, 8, 20, 40][Math.floor(random.between(0, 5))]!;
  const laid = strewn(random, 5 + Math.floor(random.between(0, 4)));
  const counted = mixUp === 'one more' ? laid.slice(1) : laid;
  const counts = [0, 1].map((k) => counted.filter((l) => l.shape === k).length);
  const pictured = mixedUp(laid, mixUp, random);
  const between = BETWEEN_PHOTOS.includes(mixUp);
  const seen = Array.from({ length: between ? 2 : 1 }, (_, p) =>
    photoOf(clipper, p === 0 && between ? laid : pictured, mixUp, {
      seed: seed * 10 + p,
      printSeed: seed,
      heightMm,
      random,
    }),
  );
  const kinds = [0, 1].map((k): LooseKind => ({
    blank: k + 1,
    outlineId: `blank-${k + 1}`,
    region: mapRegion<'blank', 'blank'>(region(k), (p) => {
      const r = Math.hypot(p.x, p.y);
      return { x: p.x * (1 + EDGE_U / r), y: p.y * (1 + EDGE_U / r) };
    }),
    edgeU: EDGE_U,
    thicknessMm: seen[0]!.photo.passes[0]!.thicknessMm,
    count: counts[k]!,
  }));
  const same = seen.map(({ photo }) => ({
    ...photo,
    passes: photo.passes.map((pass) => ({ ...pass, thicknessMm: kinds[0]!.thicknessMm })),
  }));
  const load = looseLoad(kinds, same, { printerMm: 0, spreadMm: 0, bleedMm: 2, safeMm: 2 });
  const { s, print } = seen[0]!;
  const landed = load.pieces.map((piece) => {
    const shape = SHAPES[piece.blank - 1]!;
    const placed: Motion = {
      mirrored: false,
      turnRad: (piece.place.turnDeg * Math.PI) / 180,
      xMm: piece.place.x,
      yMm: piece.place.y,
    };
    // Artwork is sent to where the print's scale and shear, as measured, bring it here; the ink lands where the true print puts it.
    const inked = shape.map((p) => {
      const at = movedBy<'blank'>(placed, p);
      const v = at.y / print.scaleY;
      return s.ink((at.x - print.shear * v) / print.scaleX, v);
    });
    const truth = pictured
      .filter((l) => l.shape === piece.blank - 1)
      .map((l) => {
        const offMm = Math.max(
          ...shape.map((p, k) => {
            const q = movedBy<'blank'>(l.motion, p);
            return Math.hypot(inked[k]![0] - q.x, inked[k]![1] - q.y);
          }),
        );
        const turn = piece.place.turnDeg - (l.motion.turnRad * 180) / Math.PI;
        return { offMm, turnDeg: Math.abs(turn - 360 * Math.round(turn / 360)) };
      })
      .reduce((a, b) => (b.offMm < a.offMm ? b : a), { offMm: Infinity, turnDeg: Infinity });
    return { ...truth, U: piece.placeU, turnU: piece.turnU };
  });
  return { mixUp, load, landed, fit: !load.reasons.some(({ level }) => level !== 'note') };
}

function mixedUp(laid: readonly Lies[], mixUp: MixUp, random: Random): Lies[] {
  const [first, ...others] = laid as [Lies, ...Lies[]];
  switch (mixUp) {
    case 'missing':
      return others;
    case 'extra':
      return [...laid.slice(0, -1), { ...laid.at(-1)!, shape: 2 }, ...laid.slice(-1).map(aside)];
    case 'face down':
      return [{ ...first, motion: { ...first.motion, mirrored: true } }, ...others];
    case 'exchanged':
      return [{ ...first, shape: 1 - first.shape }, ...others];
    case 'moved': {
      const way = random.between(0, 2 * Math.PI);
      const { motion } = first;
      return [
        {
          ...first,
          motion: {
            ...motion,
            xMm: motion.xMm + 1.5 * Math.cos(way),
            yMm: motion.yMm + 1.5 * Math.sin(way),
          },
        },
        ...others,
      ];
    }
    case 'turned': {
      const { motion } = first;
      const turnRad = motion.turnRad + ((random.next() < 0.5 ? 3 : -3) * Math.PI) / 180;
      return [{ ...first, motion: { ...motion, turnRad } }, ...others];
    }
    default:
      return [...laid];
  }
}

/** Off the sheet's other pieces: what the item that is extra stands for lies beyond them. */
const aside = (l: Lies): Lies => ({
  ...l,
  motion: { ...l.motion, xMm: l.motion.xMm, yMm: l.motion.yMm > 150 ? 25 : 272 },
});

/** What a camera makes of a load, and the program of the picture. */
function photoOf(
  clipper: Clipper,
  lies: readonly Lies[],
  mixUp: MixUp,
  {
    seed,
    printSeed,
    heightMm,
    random,
  }: { seed: number; printSeed: number; heightMm: number; random: Random },
): { photo: LoadPhoto; s: Simulated; print: LoadPhoto['passes'][number]['view']['print'] } {
  const s = simulate({
    seed,
    printSeed,
    height: heightMm,
    printError: 0.008,
    bow: 0,
    fKnown: 0.035,
    ...(heightMm >= 6 && { rider: 50 as const }),
  });
  const view = calibrate(s.found, s.meta, s.widthPx, s.heightPx, s.settings);
  const things = lies.map(({ shape, motion }) =>
    regionMovedBy(motion, region(shape) as unknown as Region<'sheet'>),
  );
  const reach = mixUp === 'touching' ? 0.6 : mixUp === 'on another' ? 12 : undefined;
  const joined = reach === undefined ? things : pushedTogether(clipper, things, reach);
  const thicknessMm = s.settings.thicknessMm[0]!;
  // A side in line with the foot point faces either way: by the true one, as the points were made.
  const [x, y] = s.camera.centre;
  const facing = { ...view, foot: { x, y } };
  const outlines = joined.map((thing, k) => {
    const eased = random.normal(Math.min(0.2, 0.08 * heightMm));
    const wall = { heightMm, roundedMm: 0, easedMm: eased };
    const points = picturePoints(thing, s, wall, () => 0, random);
    const job = { thicknessMm: { 1: thicknessMm }, widestMm: null, widestU: 0 };
    return { ...outlineFrom(facing, points, thing, job), blank: k + 1 };
  });
  return {
    photo: { name: `picture ${seed}`, passes: [{ thicknessMm, view, outlines }], reasons: [] },
    s,
    print: view.print,
  };
}

/** The first piece pushed against or onto its nearest neighbour, so many mm beyond its edge: one silhouette. */
function pushedTogether(
  clipper: Clipper,
  things: readonly Region<'sheet'>[],
  reachMm: number,
): Region<'sheet'>[] {
  const [first, ...others] = things as [Region<'sheet'>, ...Region<'sheet'>[]];
  const middle = (r: Region<'sheet'>): Point<'sheet'> => centroid(r.outer);
  const near = others.reduce((a, b) => (gap(first, b) < gap(first, a) ? b : a));
  const [a, b] = [middle(first), middle(near)];
  const way = Math.hypot(b.x - a.x, b.y - a.y);
  const pushed = (mm: number): Region<'sheet'> =>
    mapRegion<'sheet', 'sheet'>(first, (p) => ({
      x: p.x + ((b.x - a.x) / way) * mm,
      y: p.y + ((b.y - a.y) / way) * mm,
    }));
  for (let mm = gap(first, near) + reachMm; mm < way; mm += 0.5) {
    const [one, another] = clipper.union([pushed(mm)], [near]);
    if (one && !another)
      return [{ outer: one.outer, holes: [] }, ...others.filter((o) => o !== near)];
  }
  throw new Error('the two pieces do not touch');
}

const gap = (a: Region<'sheet'>, b: Region<'sheet'>): number => ringDistance(a.outer, b.outer);

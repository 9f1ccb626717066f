/* Pieces with known play, as a camera would have measured them: outlines with errors drawn from the law that their U claims. */
import { tryDelivery, type NewPiece, type Tried } from '../../src/after/delivery.ts';
import type { KeptPocket } from '../../src/after/kept.ts';
import { normalBelow } from '../../src/check/student.ts';
import type { Clipper } from '../../src/geometry/clipper.ts';
import { movedBy, type Motion } from '../../src/geometry/lay.ts';
import { outwardNormals, resample } from '../../src/geometry/measure.ts';
import type { Ring } from '../../src/geometry/shape.ts';
import type { OutlineMode } from '../../src/outline/outline.ts';
import { Random } from './simulate.ts';

/** Distance from the origin along a direction, of a shape without corners; radians, mm. */
const BLOB = (a: number): number =>
  24 + 4 * Math.cos(a) + 2.5 * Math.sin(2 * a + 0.4) + 1.2 * Math.cos(3 * a - 1);

/** A shape that is its own image under no turn, nor mirrored. */
export const blob = (): Ring<'bed'> =>
  resample(
    Array.from({ length: 3000 }, (_, k) => {
      const a = (2 * Math.PI * k) / 3000;
      return { x: BLOB(a) * Math.cos(a), y: BLOB(a) * Math.sin(a) };
    }),
    0.6,
  );

/** A slot with round ends, its straight sides `lengthMm` long. */
export const stadium = (lengthMm: number, radiusMm: number): Ring<'bed'> =>
  resample(
    Array.from({ length: 3000 }, (_, k) => {
      const a = (2 * Math.PI * k) / 3000 - Math.PI / 2;
      const side = a < Math.PI / 2 ? lengthMm / 2 : -lengthMm / 2;
      return { x: side + radiusMm * Math.cos(a), y: radiusMm * Math.sin(a) };
    }),
    0.6,
  );

export interface MeasuredAs {
  /** Standard uncertainties: of the scale along each axis (a share), of the edge itself (mm). */
  readonly scaleU: number;
  readonly edgeU: number;
  /** Of the edge that faces one side, mm. */
  readonly leanU: number;
}

/** The piece as it is measured: laid anyhow on the sheet, its outline off by errors drawn from what is stated of them. */
export function measuredPiece(
  truth: Ring<'bed'>,
  blank: number,
  random: Random,
  { scaleU, edgeU, leanU }: MeasuredAs,
): NewPiece {
  const motion: Motion = {
    mirrored: false,
    turnRad: random.between(0, 2 * Math.PI),
    xMm: random.between(60, 140),
    yMm: random.between(60, 140),
  };
  const lies = truth.map((p) => movedBy(motion, p));
  const middle = { x: motion.xMm, y: motion.yMm };
  const modes: OutlineMode[] = [
    {
      source: 'spans',
      dx: Float64Array.from(lies, (p) => scaleU * (p.x - middle.x)),
      dy: new Float64Array(lies.length),
    },
    {
      source: 'spans',
      dx: new Float64Array(lies.length),
      dy: Float64Array.from(lies, (p) => scaleU * (p.y - middle.y)),
    },
    {
      source: 'edge bias',
      dx: Float64Array.from(outwardNormals(lies).nx, (n) => (n * edgeU) / 2),
      dy: Float64Array.from(outwardNormals(lies).ny, (n) => (n * edgeU) / 2),
    },
  ];
  // A widest edge taken too high or too low, seen from a foot point to the side: by half of the edge's length.
  const side = random.between(0, 2 * Math.PI);
  const leans = outwardNormals(lies);
  const lean = Float64Array.from(leans.nx, (x, k) =>
    Math.max(0, Math.cos(side) * x + Math.sin(side) * leans.ny[k]!),
  );
  modes.push({
    source: 'widest height',
    dx: Float64Array.from(leans.nx, (x, k) => leanU * lean[k]! * x),
    dy: Float64Array.from(leans.ny, (y, k) => leanU * lean[k]! * y),
  });
  const drawn = modes.map(() => random.normal());
  const { nx, ny } = outwardNormals(lies);
  // A smooth error of the edge itself, one over some 2 mm: a value every 2 mm, and a line between them.
  const every = 3;
  const knots = Array.from({ length: Math.floor(lies.length / every) }, () => random.normal(edgeU));
  const own = (k: number): number => {
    const [at, t] = [Math.floor(k / every), (k % every) / every];
    const [a, b] = [knots[at % knots.length]!, knots[(at + 1) % knots.length]!];
    // Of the same standard deviation everywhere.
    return ((1 - t) * a + t * b) / Math.hypot(1 - t, t);
  };
  const outer = lies.map((p, k) => {
    const e = own(k);
    return modes.reduce(
      (q, m, i) => ({ x: q.x + drawn[i]! * m.dx[k]!, y: q.y + drawn[i]! * m.dy[k]! }),
      { x: p.x + e * nx[k]!, y: p.y + e * ny[k]! },
    );
  });
  return {
    blank,
    region: { outer, holes: [] },
    hidden: [],
    modes,
    edgeU: [new Float64Array(outer.length).fill(edgeU)],
    u: [
      Float64Array.from(outer, (_, k) =>
        Math.hypot(edgeU, ...modes.map((m) => nx[k]! * m.dx[k]! + ny[k]! * m.dy[k]!)),
      ),
    ],
    wholeFactor: 3,
  };
}

export const CLEARANCE_MM = 0.3;
/** As photos of thin pieces on a measured sheet have them (the medians of fixtures/k01-pieces). */
const MEASURED: MeasuredAs = { scaleU: 0.0004, edgeU: 0.008, leanU: 0.025 };

export interface Played {
  /** True room per side, by geometry: a shape grown by d has c - d all round, a slot longer by 2 e has c - e at its ends; mm. */
  readonly rooms: readonly number[];
  readonly tried: readonly Tried[];
  readonly wrong: readonly string[];
  /** How many stayed "not proven", and how many of a perfect judge's would with the same U. */
  readonly open: number;
  readonly best: number;
}

/** Pieces with known play, measured with errors, tried in pockets with a clearance of 0.3 mm. */
export function playDeliveries(clipper: Clipper, count: number): Played {
  const random = new Random(20261129);
  const grown = (ring: Ring<'bed'>, mm: number): Ring<'bed'> =>
    clipper.offset<'bed'>([{ outer: ring, holes: [] }], mm, 'outward')[0]!.outer;
  const pockets = [blob(), stadium(40, 12)].map((shape, k): KeptPocket => ({
    id: String(k + 1),
    outlineId: `blank-${k + 1}`,
    opening: { outer: grown(shape, CLEARANCE_MM), holes: [] },
    doubt: { growthU: 0 },
  }));
  const rooms: number[] = [];
  const tried = Array.from({ length: count }, (_, k) => {
    const size = random.between(-0.05, 0.65);
    const longer = k % 2 === 1;
    const truth = longer ? stadium(40 + 2 * size, 12) : resample(grown(blob(), size), 0.6);
    rooms.push(Math.min(longer ? CLEARANCE_MM : Infinity, CLEARANCE_MM - size));
    const piece = measuredPiece(truth, k + 1, random, MEASURED);
    return tryDelivery(pockets, [piece], CLEARANCE_MM).tried[0]!;
  });
  const wrong = tried.flatMap(({ answer, roomMm, uMm }, k) =>
    answer === 'not proven' || answer === (rooms[k]! < 0 ? 'proven not' : 'proven')
      ? []
      : [`piece ${k + 1}: ${answer} with ${roomMm} +- ${uMm}, truly ${rooms[k]}`],
  );
  const best = tried.reduce((sum, { uMm }, k) => {
    const [r, u] = [rooms[k]!, uMm / 2];
    return sum + normalBelow((uMm - r) / u) - normalBelow((-uMm - r) / u);
  }, 0);
  return { rooms, tried, wrong, open: tried.filter((t) => t.answer === 'not proven').length, best };
}

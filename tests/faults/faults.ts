/* Ways to go wrong, each put into the scene, the marks, the picture's edge or the typed values, with a random size. */
import type { Point } from '../../src/base/measure.ts';
import type { Job } from '../../src/job/job.ts';
import type { Random } from '../support/simulate.ts';
import type { Fault } from './simulated-job.ts';

const sign = (r: Random): 1 | -1 => (r.next() < 0.5 ? 1 : -1);
const spans = (job: Job, by: (id: 'x' | 'y' | 'd', mm: number) => number | undefined): Job => ({
  ...job,
  sheet: {
    ...job.sheet,
    spansMm: Object.fromEntries(
      (['x', 'y', 'd'] as const).flatMap((id) => {
        const was = job.sheet.spansMm[id];
        const is = was === undefined ? undefined : by(id, was);
        return is === undefined ? [] : [[id, is]];
      }),
    ),
  },
});
const thickness = (job: Job, to: (mm: number) => number): Job => ({
  ...job,
  thicknessMm: Object.fromEntries(Object.entries(job.thicknessMm).map(([k, mm]) => [k, to(mm)])),
});
/** By how much a skew of 1 lengthens the diagonal span, which falls at 45 degrees, as a share of it. */
const DIAGONAL = -0.5;
/** A direction of light, as a side of the blank. */
const side = (r: Random): Point<'sheet'> => {
  const a = r.between(0, 2 * Math.PI);
  return { x: Math.cos(a), y: Math.sin(a) };
};

export interface FaultKind {
  readonly row: string;
  /** How it is put in. */
  readonly how: string;
  readonly draw: (r: Random) => Omit<Fault, 'row'>;
}

/** Rows of the table of ways to waste a board that lie before the pocket, some in several forms. */
export const FAULTS: readonly FaultKind[] = [
  {
    row: 'sheet printed to fit the page',
    how: 'true sheet 0.4 to 2.8 % off size, the designed lengths typed as if measured',
    draw: (r) => {
      const by = 1 + sign(r) * r.between(0.004, 0.028);
      return {
        words: `printed at ${(100 * by).toFixed(1)} %, spans typed as designed`,
        scene: { printed: [by, by] },
        typed: (j) => spans(j, (_, mm) => mm / by),
      };
    },
  },
  {
    row: 'sheet stretched in one direction',
    how: 'true sheet 0.4 to 2.8 % longer or shorter along y, the span along x typed for both',
    draw: (r) => {
      const by = 1 + sign(r) * r.between(0.004, 0.028);
      return {
        words: `stretched to ${(100 * by).toFixed(1)} % along y, spans typed as designed`,
        scene: { printed: [1, by] },
        typed: (j) =>
          spans(j, (id, mm) =>
            id === 'x' ? mm : id === 'y' ? mm / by : mm / Math.sqrt((1 + by * by) / 2),
          ),
      };
    },
  },
  {
    row: 'sheet skewed',
    how: 'true sheet out of square by 0.2 to 1.5 %, the diagonal typed as of a square one',
    draw: (r) => {
      const skew = sign(r) * r.between(0.002, 0.015);
      return {
        words: `skewed by ${(100 * skew).toFixed(1)} %, diagonal typed as designed`,
        scene: { skew },
        typed: (j) => spans(j, (id, mm) => (id === 'd' ? mm / (1 + skew * DIAGONAL) : mm)),
      };
    },
  },
  {
    row: 'spans not measured',
    how: 'sheet up to 3 % off size, no span typed',
    draw: (r) => {
      const by = 1 + sign(r) * r.between(0.002, 0.03);
      return {
        words: `printed at ${(100 * by).toFixed(1)} %, no span read`,
        scene: { printed: [by, by] },
        typed: (j) => spans(j, () => undefined),
      };
    },
  },
  {
    row: 'a span typed wrong',
    how: 'one span with two digits swapped, or off by 1 mm or more',
    draw: (r) => {
      const which = (['x', 'y', 'd'] as const)[Math.floor(3 * r.next())]!;
      const by = sign(r) * r.between(0.7, 9);
      return {
        words: `span ${which} typed ${by.toFixed(2)} mm off`,
        typed: (j) => spans(j, (id, mm) => (id === which ? mm + by : mm)),
      };
    },
  },
  {
    row: 'sheet bowed',
    how: 'the true sheet arched by 1 to 6 mm under the blank',
    draw: (r) => {
      const bow = r.between(1, 6);
      return { words: `arched by ${bow.toFixed(1)} mm`, scene: { bow } };
    },
  },
  {
    row: 'marks covered, on one side only',
    how: 'all marks but those of one or two sides taken away',
    draw: (r) => {
      const corner = r.next() < 0.5;
      return {
        words: corner ? 'marks of half the border only' : 'marks of one side only',
        marks: (marks) => {
          const most = Math.max(...marks.map((m) => m.i + m.j));
          const high = Math.max(...marks.map((m) => m.j));
          return marks.filter((m) => (corner ? m.i + m.j < most / 2 : m.j < high / 6));
        },
      };
    },
  },
  {
    row: 'thickness wrong',
    how: 'thickness typed 0.5 to 10 mm off',
    draw: (r) => {
      const by = sign(r) * r.between(0.5, 10);
      return {
        words: `thickness typed ${by.toFixed(1)} mm off`,
        typed: (j) => thickness(j, (mm) => (mm + by > 0.1 ? mm + by : mm - by)),
      };
    },
  },
  {
    row: 'thickness in inches',
    how: 'thickness typed in inches and taken for millimetres, or the other way round',
    draw: (r) => {
      const inches = r.next() < 0.5;
      return {
        words: inches ? 'inches typed for mm' : 'mm taken for inches',
        scene: { height: r.between(5, 20), rider: 50 },
        typed: (j) => thickness(j, (mm) => (inches ? mm / 25.4 : mm * 25.4)),
      };
    },
  },
  {
    row: 'thickness forgotten',
    how: 'no thickness, or 0',
    draw: (r) => ({
      words: 'thickness 0',
      scene: { height: r.between(3, 20) },
      typed: (j) => thickness(j, () => 0),
    }),
  },
  {
    row: 'camera to the side',
    how: 'tilted by 15 to 35 degrees, the blank between 5 and 20 mm thick',
    draw: (r) => {
      const tilt = r.between(15, 35);
      return {
        words: `camera tilted by ${tilt.toFixed(0)} degrees`,
        scene: { tilt: (tilt * Math.PI) / 180, height: r.between(5, 20), rider: 50 },
      };
    },
  },
  {
    row: 'picture cropped',
    how: 'a corner of the picture cut off by 5 to 15 % of its width, header kept',
    draw: (r) => {
      const [dx, dy] = [
        sign(r) * r.between(0.05, 0.15) * 3000,
        sign(r) * r.between(0, 0.15) * 3000,
      ];
      return {
        words: `cropped by ${Math.abs(dx).toFixed(0)} x ${Math.abs(dy).toFixed(0)} px`,
        scene: { height: r.between(3, 20), rider: 50 },
        picture: (p) => ({ x: p.x + dx, y: p.y + dy }),
      };
    },
  },
  {
    row: 'picture zoomed or resized',
    how: 'the picture enlarged digitally 1.15 to 2 times about its middle, header kept',
    draw: (r) => {
      const by = r.between(1.15, 2);
      return {
        words: `enlarged ${by.toFixed(2)} times`,
        scene: { height: r.between(3, 20), ...(r.next() < 0.5 && { rider: 50 as const }) },
        picture: (p) => ({ x: 1499.5 + by * (p.x - 1499.5), y: 1999.5 + by * (p.y - 1999.5) }),
      };
    },
  },
  {
    row: 'flattened by a scanning app',
    how: 'the picture stretched in one direction by 1 to 6 %, as an app that makes pages of pictures does; header gone',
    draw: (r) => {
      const by = 1 + sign(r) * r.between(0.01, 0.06);
      return {
        words: `stretched to ${(100 * by).toFixed(1)} % along y`,
        scene: { height: r.between(3, 20), rider: 50 },
        picture: (p) => ({ x: p.x, y: 1999.5 + by * (p.y - 1999.5) }),
        meta: ({ focalLength35Mm: _, ...m }) => ({ ...m, hasExif: false }),
      };
    },
  },
  {
    row: 'shake, blur',
    how: 'marks off by 0.3 to 1.5 px each',
    draw: (r) => {
      const noisePx = r.between(0.3, 1.5);
      return { words: `marks off by ${noisePx.toFixed(1)} px`, scene: { noisePx } };
    },
  },
  {
    row: 'shadow traced as blank',
    how: 'the edge that looks away from the light moved outward by 0.4 to 3 mm',
    draw: (r) => {
      const from = side(r);
      const mm = r.between(0.4, 3);
      return {
        words: `a shadow of ${mm.toFixed(1)} mm on one side`,
        edge: (n) => mm * Math.max(0, n.x * from.x + n.y * from.y),
      };
    },
  },
  {
    row: 'rounded edge, widest place not at the face',
    how: 'widest place 1.5 to 6 mm below the face, nobody says so',
    draw: (r) => {
      const below = r.between(1.5, 6);
      return {
        words: `widest ${below.toFixed(1)} mm below the face`,
        scene: { height: r.between(8, 20), rider: 50 },
        roundedMm: below,
      };
    },
  },
  {
    row: 'face not answered',
    how: 'nobody says whether the picture shows the back',
    draw: () => ({ words: 'face not answered', typed: (j) => ({ ...j, face: null }) }),
  },
  {
    row: 'a reading typed wrong',
    how: 'one reading with swapped digits, in inches, or 0.3 to 9 mm off',
    draw: (r) => {
      const by = sign(r) * r.between(0.3, 9);
      const which = r.next() < 0.5 ? 0 : 1;
      return {
        words: `a reading typed ${by.toFixed(2)} mm off`,
        reading: (mm, k) => (k === which ? mm + by : mm),
      };
    },
  },
  {
    row: 'a wrong reading used to correct the outline',
    how: 'the same, and the readings are used for the correction',
    draw: (r) => {
      const by = sign(r) * r.between(0.3, 9);
      const which = r.next() < 0.5 ? 0 : 1;
      return {
        words: `a reading typed ${by.toFixed(2)} mm off, used`,
        reading: (mm, k) => (k === which ? mm + by : mm),
        correct: true,
      };
    },
  },
  {
    row: 'sheet measured weeks ago, kept in the damp',
    how: 'the true sheet 0.1 to 0.4 % longer than when its spans were read; every second time she says that they were read earlier',
    draw: (r) => {
      const by = 1 + sign(r) * r.between(0.001, 0.004);
      const says = r.next() < 0.5;
      return {
        words: `sheet ${(100 * (by - 1)).toFixed(2)} % longer than measured${says ? ', said to be' : ''}`,
        typed: (j) => {
          const then = spans(j, (_, mm) => mm / by);
          return says ? { ...then, sheet: { ...then.sheet, kept: 'elsewhere' } } : then;
        },
      };
    },
  },
  {
    row: "one instrument's own error in spans, rider and checks alike",
    how: 'a caliper that does not close to zero: 0.05 to 0.4 mm added to spans, rider, thickness, readings and to what it reads closed',
    draw: (r) => {
      const by = sign(r) * r.between(0.05, 0.4);
      return {
        words: `zero error of ${by.toFixed(2)} mm everywhere`,
        typed: (j) => ({
          ...thickness(
            spans(j, (_, mm) => mm + by),
            (mm) => Math.max(0.2, mm + by),
          ),
          zero: { readMm: Math.round(100 * by) / 100, on: '2026-03-14' },
          sheet: {
            ...spans(j, (_, mm) => mm + by).sheet,
            riderSpansMm: Object.fromEntries(
              Object.entries(j.sheet.riderSpansMm).map(([k, mm]) => [k, mm + by]),
            ),
          },
        }),
        reading: (mm) => mm + by,
      };
    },
  },
  {
    row: 'rider measured wrong',
    how: 'its size typed 0.3 to 2 mm off',
    draw: (r) => {
      const by = sign(r) * r.between(0.3, 2);
      return {
        words: `rider typed ${by.toFixed(2)} mm off`,
        scene: { height: r.between(5, 20), rider: 50 },
        typed: (j) => ({
          ...j,
          sheet: {
            ...j.sheet,
            riderSpansMm: Object.fromEntries(
              Object.entries(j.sheet.riderSpansMm).map(([k, mm]) => [k, mm + by]),
            ),
          },
        }),
      };
    },
  },
  {
    row: 'rider not on the face',
    how: 'it lies 0.5 to 4 mm above it',
    draw: (r) => {
      const mm = r.between(0.5, 4);
      return {
        words: `rider ${mm.toFixed(1)} mm above the face`,
        scene: { height: r.between(5, 20), rider: 50, underRiderMm: mm },
      };
    },
  },
];

export const drawFault = ({ row, draw }: FaultKind, r: Random): Fault => ({ row, ...draw(r) });

import { Matrix } from 'ml-matrix';
import type { Point } from '../base/measure.ts';
import { Refusal } from '../base/reason.ts';
import { INSTRUMENTS } from '../check/reading.ts';
import type { Picture } from '../picture/picture.ts';
import { BED_SPANS, profileMarks, type BedReading } from '../plan/bed-profile.ts';
import { eyeOf, pictureOf, sheetOfPicture } from '../view/model.ts';
import type { PhotoView } from '../view/view.ts';
import { greenPlane, lumaAt, pictureOfPlane, type Plane } from '../vision/luma.ts';

/**
 * How high the sheet lies over the print that is photographed with it, mm: its own thickness. Office paper is 0.1 mm thick; that,
 * and how flat either lies, is known to as much (k = 1). Common practice, no source.
 */
const BELOW_MM = 0.1;
const BELOW_U_MM = 0.1;
/** What a film or a paper on the bed lies off from flat at each cross by itself, mm (k = 1). Common practice, no source. */
const FLAT_U_MM = 0.1;

/** Crosses are looked for at this many mm a pixel; their lines, a quarter of a millimetre wide, are made wider before. */
const LOOK_MM = 0.2;
/** A cross as it is drawn: where its arms are dark, where beside them it is light, and where beyond their ends, mm from its middle. */
const DARK_MM = [1.4, 2.3, 3.2];
const LIGHT_MM = [1.9];
const BEYOND_MM = 5.6;
/** Turns that are tried, over a quarter. */
const TURNS = 12;
/** How much darker than the ground beside it a line must be, as a share of the ground. */
const CONTRAST = 0.12;
/** Crosses are not nearer to each other than this, mm. */
const APART_MM = 4;
/** Prints are no farther from their design than this share: more is no printer's error, but a print that was scaled. */
const OFF = 0.02;
/** A line is sought this far to either side, mm, and along both arms from here to there. */
const ACROSS_MM = 0.8;
const ALONG_MM = [0.9, 3.5] as const;

/** A cross in the picture, on the plane of the print; sheet frame, mm. */
interface Cross {
  readonly at: Point<'sheet'>;
  /** Standard uncertainty of its place along each axis as its lines tell it, mm. */
  readonly u: number;
}

/**
 * The distances between the crosses of a bed ruler or set-up print, or of those that a cutter scored, read off a photo of them with
 * the reference sheet lying on them or beside them. The rear of the bed is at the top of the picture. Lines are darker than what they
 * lie on, or else, scored into a dark board, lighter. The covariance is the view's, carried to the plane of the crosses,
 * with the height of the sheet over it and what each cross's own lines leave open.
 *
 * @param on day, ISO 8601
 * @throws Refusal `bed-crosses-unseen` where fewer than three of the crosses are found where they must be
 */
export function readingOfPhoto(
  picture: Picture,
  view: PhotoView,
  bed: BedReading['bed'],
  on: string,
): BedReading {
  const marks = profileMarks(bed);
  const dark = crossesIn(picture, view);
  let found = assigned(marks, dark, view);
  if (!found) {
    const negative = { ...picture, data: picture.data.map((v) => 255 - v) };
    const light = crossesIn(negative, view);
    found = assigned(marks, light, view);
    if (!found) {
      const seen = Math.max(dark.length, light.length);
      throw new Refusal('bed-crosses-unseen', { file: picture.name, seen });
    }
  }
  const known = marks.flatMap(({ name, at }, k) => (found[k] ? [{ name, at, ...found[k] }] : []));
  const of = (name: string) => known.findIndex((m) => m.name === name);
  // The sixth distance of four places follows from the others: it would make their covariance singular.
  const pairs = BED_SPANS.map(([a, b]) => [of(a), of(b)] as const)
    .filter(([a, b]) => a >= 0 && b >= 0)
    .slice(0, known.length === 4 ? 5 : 3);
  const covariance = covarianceOf(view, known);
  const J = new Matrix(
    pairs.map(([a, b]) => {
      const [p, q] = [known[a]!.place, known[b]!.place];
      const length = Math.hypot(q.x - p.x, q.y - p.y);
      const row = new Array<number>(2 * known.length).fill(0);
      const [ux, uy] = [(q.x - p.x) / length, (q.y - p.y) / length];
      [row[2 * a], row[2 * a + 1], row[2 * b], row[2 * b + 1]] = [-ux, -uy, ux, uy];
      return row;
    }),
  );
  return {
    on,
    bed,
    spans: pairs.map(([a, b]) => {
      const [p, q] = [known[a]!, known[b]!];
      return {
        from: p.at,
        to: q.at,
        readMm: Math.hypot(q.place.x - p.place.x, q.place.y - p.place.y),
      };
    }),
    edges: [],
    with: 'rule',
    instrument: INSTRUMENTS.rule,
    picture: {
      name: picture.name,
      covarianceMm2: J.mmul(covariance).mmul(J.transpose()).to2DArray(),
    },
  };
}

interface Known {
  readonly place: Point<'sheet'>;
  readonly u: number;
}

/** Covariance of the places, x and y of each in turn, mm². */
function covarianceOf(view: PhotoView, known: readonly Known[]): Matrix {
  const covariance = Matrix.zeros(2 * known.length, 2 * known.length);
  const pictures = known.map(({ place: { x, y } }) => pictureOf(view.eye, x, y, -BELOW_MM));
  /** What moves together: how far each place goes. */
  const add = (moved: (k: number) => Point<'sheet'>, only?: number): void => {
    const off = known.flatMap(({ place }, k) => {
      if (only !== undefined && only !== k) return [0, 0];
      const p = moved(k);
      return [p.x - place.x, p.y - place.y];
    });
    const column = Matrix.columnVector(off);
    covariance.add(column.mmul(column.transpose()));
  };
  for (const { delta } of view.modes) {
    const eye = eyeOf(
      view,
      view.values.map((v, k) => v + delta[k]!),
    );
    add((k) => sheetOfPicture(eye, pictures[k]!, -BELOW_MM));
  }
  add((k) => sheetOfPicture(view.eye, pictures[k]!, -BELOW_MM + BELOW_U_MM));
  known.forEach(({ place: { x, y }, u }, k) => {
    add(() => sheetOfPicture(view.eye, pictures[k]!, -BELOW_MM + FLAT_U_MM), k);
    add(() => ({ x: x + u, y }), k);
    add(() => ({ x, y: y + u }), k);
  });
  return covariance;
}

/**
 * Which of what was seen is which cross: the one set of places that lie to each other as the crosses do, within what printers are
 * off, its rear upward in the picture; the more of them the better.
 */
function assigned(
  marks: ReturnType<typeof profileMarks>,
  seen: readonly Cross[],
  view: PhotoView,
): readonly (Known | undefined)[] | undefined {
  const [A, B, C, D] = marks;
  if (!A || !B || !C || !D) return undefined;
  let best: { found: (Known | undefined)[]; count: number; off: number } | undefined;
  for (const [p, q] of [
    [A, B],
    [D, C],
  ] as const)
    for (const one of seen)
      for (const other of seen) {
        const [dx, dy] = [other.at.x - one.at.x, other.at.y - one.at.y];
        const length = q.at.x - p.at.x;
        if (Math.abs(Math.hypot(dx, dy) - length) > OFF * length) continue;
        const [c, s] = [dx / Math.hypot(dx, dy), dy / Math.hypot(dx, dy)];
        const placed = ({ x, y }: Point<'bed'>): Point<'sheet'> => ({
          x: one.at.x + c * (x - p.at.x) - s * (y - p.at.y),
          y: one.at.y + s * (x - p.at.x) + c * (y - p.at.y),
        });
        const [front, rear] = [A, D].map(({ at }) => {
          const { x, y } = placed(at);
          return pictureOf(view.eye, x, y, -BELOW_MM);
        });
        if (!(rear!.y < front!.y)) continue;
        const far = OFF * Math.hypot(C.at.x - A.at.x, C.at.y - A.at.y);
        let off = 0;
        const found = marks.map(({ at }): Known | undefined => {
          const { x, y } = placed(at);
          const away = (cross: Cross): number => Math.hypot(cross.at.x - x, cross.at.y - y);
          const nearest = seen.reduce((a, b) => (away(b) < away(a) ? b : a));
          if (away(nearest) > far) return undefined;
          off += away(nearest);
          return { place: nearest.at, u: nearest.u };
        });
        const count = found.filter(Boolean).length;
        if (count < 3) continue;
        if (!best || count > best.count || (count === best.count && off < best.off))
          best = { found, count, off };
      }
  return best?.found;
}

/** Every cross of thin lines in the picture, as it lies on the plane of the print. */
function crossesIn(picture: Picture, view: PhotoView): Cross[] {
  const factor = Math.max(1, Math.round(LOOK_MM / view.mmPerPx));
  const plane = greenPlane(picture, factor);
  const dark = darkened(plane);
  const perMm = 1 / (view.mmPerPx * factor);
  const { width, height } = plane;
  const reach = Math.ceil(BEYOND_MM * perMm) + 1;
  const at = (data: Float32Array, x: number, y: number, r: number, turn: number): number =>
    data[
      Math.round(y + r * perMm * Math.sin(turn)) * width +
        Math.round(x + r * perMm * Math.cos(turn))
    ]!;
  const quarter = Math.PI / 2;
  const found: { x: number; y: number; turn: number; score: number }[] = [];
  for (let y = reach; y < height - reach; y += 2)
    for (let x = reach; x < width - reach; x += 2) {
      const middle = dark[y * width + x]!;
      // Most of a page is plain: what is no darker than its surroundings is no cross.
      if (
        middle > (1 - CONTRAST) * plane.data[y * width + x + Math.round(LIGHT_MM[0]! * perMm)]! &&
        middle > (1 - CONTRAST) * plane.data[(y + Math.round(LIGHT_MM[0]! * perMm)) * width + x]!
      ) {
        const k = Math.round(LIGHT_MM[0]! * perMm * Math.SQRT1_2);
        if (middle > (1 - CONTRAST) * plane.data[(y + k) * width + x + k]!) continue;
      }
      let [best, bestTurn] = [0, 0];
      for (let n = 0; n < TURNS; n++) {
        const turn = (quarter * n) / TURNS;
        let [ground, line, beyond] = [Infinity, 0, Infinity];
        // Every arm can only lessen the contrast: most turns end with the first one.
        for (let arm = 0; arm < 4 && (ground - line > CONTRAST * ground || arm === 0); arm++) {
          const along = turn + arm * quarter;
          for (const r of DARK_MM) line = Math.max(line, at(dark, x, y, r, along));
          for (const r of LIGHT_MM)
            ground = Math.min(ground, at(dark, x, y, r, along + quarter / 2));
          beyond = Math.min(beyond, at(dark, x, y, BEYOND_MM, along));
        }
        const contrast = (ground - line) / ground;
        if (contrast > CONTRAST && beyond > (ground + line) / 2 && contrast > best)
          [best, bestTurn] = [contrast, turn];
      }
      if (best > 0) found.push({ x, y, turn: bestTurn, score: best });
    }
  found.sort((a, b) => b.score - a.score);
  const crosses: Cross[] = [];
  for (const { x, y, turn } of found) {
    const p = pictureOfPlane(plane, x, y);
    const middle = sheetOfPicture(view.eye, p, -BELOW_MM);
    if (crosses.some((c) => Math.hypot(c.at.x - middle.x, c.at.y - middle.y) < APART_MM)) continue;
    const q = pictureOfPlane(plane, x + perMm * Math.cos(turn), y + perMm * Math.sin(turn));
    const toward = sheetOfPicture(view.eye, q, -BELOW_MM);
    const cross = measured(
      picture,
      view,
      middle,
      Math.atan2(toward.y - middle.y, toward.x - middle.x),
    );
    if (cross) crosses.push(cross);
  }
  return crosses;
}

/** Every pixel as dark as the darkest within two of it, so that thin lines are met by steps that are wider than they are. */
function darkened({ data, width, height }: Plane): Float32Array {
  const least = (from: Float32Array, step: number, inRow: number): Float32Array =>
    from.map((v, k) => {
      const place = step === 1 ? k % width : Math.floor(k / width);
      let low = v;
      for (let d = -2; d <= 2; d++)
        if (place + d >= 0 && place + d < inRow) low = Math.min(low, from[k + d * step]!);
      return low;
    });
  return least(least(data, 1, width), width, height);
}

/** A line n · p = c on the plane, and the standard uncertainty of c, mm. */
interface Line {
  readonly nx: number;
  readonly ny: number;
  readonly c: number;
  readonly u: number;
}

/** The middle of a cross from straight lines through the middles of its arms; undefined where it has none. */
function measured(
  picture: Picture,
  view: PhotoView,
  start: Point<'sheet'>,
  turn: number,
): Cross | undefined {
  let at = start;
  let turns: readonly [number, number] = [turn, turn + Math.PI / 2];
  let u = Infinity;
  for (let round = 0; round < 3; round++) {
    const lines = turns.map((t) => lineAt(picture, view, at, t));
    const [a, b] = lines;
    if (!a || !b) return undefined;
    const det = a.nx * b.ny - a.ny * b.nx;
    if (Math.abs(det) < 0.9) return undefined;
    at = { x: (a.c * b.ny - b.c * a.ny) / det, y: (a.nx * b.c - b.nx * a.c) / det };
    if (Math.hypot(at.x - start.x, at.y - start.y) > 1) return undefined;
    turns = [Math.atan2(-a.nx, a.ny), Math.atan2(-b.nx, b.ny)];
    u = Math.max(a.u, b.u);
  }
  return { at, u };
}

function lineAt(
  picture: Picture,
  view: PhotoView,
  at: Point<'sheet'>,
  turn: number,
): Line | undefined {
  const [c, s] = [Math.cos(turn), Math.sin(turn)];
  const STEP = 0.04;
  const middles: { t: number; d: number }[] = [];
  for (let t = -ALONG_MM[1]; t <= ALONG_MM[1]; t += 0.1) {
    if (Math.abs(t) < ALONG_MM[0]) continue;
    const values: number[] = [];
    for (let d = -ACROSS_MM; d <= ACROSS_MM + 1e-9; d += STEP) {
      const p = pictureOf(view.eye, at.x + c * t - s * d, at.y + s * t + c * d, -BELOW_MM);
      values.push(lumaBetween(picture, p));
    }
    // What is darker than half of what the line is darker than its ground belongs to it.
    const ground = [...values].sort((a, b) => b - a)[Math.floor(values.length / 4)]!;
    const low = Math.min(...values);
    if (!(ground - low > CONTRAST * ground)) continue;
    let [sum, moment] = [0, 0];
    values.forEach((v, k) => {
      const weight = Math.max(0, ground - v - 0.25 * (ground - low));
      sum += weight;
      moment += weight * (k * STEP - ACROSS_MM);
    });
    middles.push({ t, d: moment / sum });
  }
  if (middles.length < 30) return undefined;
  const n = middles.length;
  const mean = (of: (m: { t: number; d: number }) => number): number =>
    middles.reduce((all, m) => all + of(m), 0) / n;
  const [mt, md] = [mean(({ t }) => t), mean(({ d }) => d)];
  const slope = mean(({ t, d }) => (t - mt) * (d - md)) / mean(({ t }) => (t - mt) ** 2);
  const rms = Math.sqrt(mean(({ t, d }) => (d - md - slope * (t - mt)) ** 2));
  // A print that is no straight line, or a picture that shows none.
  if (rms > 0.1) return undefined;
  const angle = turn + Math.atan(slope);
  const [nx, ny] = [-Math.sin(angle), Math.cos(angle)];
  const offset = md - slope * mt;
  const on = { x: at.x - s * offset, y: at.y + c * offset };
  // Neighbours 0.1 mm apart share pixels: a third of them counts.
  return { nx, ny, c: nx * on.x + ny * on.y, u: rms / Math.sqrt(n / 3) };
}

/** Luma between pixels; NaN outside the picture. */
function lumaBetween(picture: Picture, { x, y }: Point<'picture'>): number {
  const [i, j] = [Math.floor(x), Math.floor(y)];
  if (!(i >= 0 && j >= 0 && i < picture.widthPx - 1 && j < picture.heightPx - 1)) return NaN;
  const [u, v] = [x - i, y - j];
  return (
    (1 - v) * ((1 - u) * lumaAt(picture, i, j) + u * lumaAt(picture, i + 1, j)) +
    v * ((1 - u) * lumaAt(picture, i, j + 1) + u * lumaAt(picture, i + 1, j + 1))
  );
}

/**
 * Scenes drawn by lot: shapes, places, cameras, light, tone, edges, noise and compression within stated ranges, from the
 * scene's own seed. Nothing of the program was tuned on them when they were drawn; draw.ts renders them.
 */
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { Random } from '../support/simulate.ts';
import { silhouette } from '../silhouettes.ts';
import type { RowId } from './cases.ts';
import { ROOT, type Scene } from './render.ts';
import type { Place } from './score.ts';

/** Which rows get how many scenes more; the names count on from `f01`, so that a longer list leaves those of before as they are. */
const ORDER: readonly (readonly [RowId, number])[] = [
  ['rigid-thin', 3],
  ['rider-rigid', 3],
  ['lens-10', 6],
  ['scan-300', 3],
  ['scan-600', 5],
  ['rider-paper', 5],
  ['lens-thick', 6],
  ['bowed', 6],
  ['several', 6],
];

export interface Lot {
  readonly name: string;
  readonly row: RowId;
  readonly seed: number;
  /** Its place in the shuffled list of silhouettes, so that none comes again before all have come. */
  readonly mask: number;
}

export const LOTS: readonly Lot[] = ORDER.flatMap(([row, n]) => Array<RowId>(n).fill(row)).map(
  (row, k) => ({
    name: `f${String(k + 1).padStart(2, '0')}-${row}`,
    row,
    seed: 9100 + 37 * k,
    mask: k,
  }),
);

export interface DrawnScene extends Scene {
  readonly seed: number;
  readonly sheet: Scene['sheet'] & { readonly size_mm: Place };
  readonly blanks: readonly DrawnBlank[];
  /** Name of the bare sheet's scene whose views make the lens profile. */
  readonly lens?: string;
}

interface DrawnBlank {
  readonly thickness: number;
  readonly at: Place;
  readonly role?: 'support';
  readonly edge: { readonly kind: string; readonly r?: number; readonly c?: number };
  readonly rider?: { readonly size_mm: number; readonly print_scale: number };
}

type Shape = {
  readonly shape?: string;
  readonly args?: Record<string, number>;
  readonly name?: string;
  readonly rings?: Place[][];
  /** No neck or bay is narrower than what an edge of 1.2 mm takes away. */
  readonly stout?: boolean;
  /** A rider of 50 mm fits its middle. */
  readonly roomy?: boolean;
};

const SILHOUETTES = join(ROOT, '../shared/data/open/silhouettes');
const MASKS = [
  ...[2, 4, 6, 8, 9, 11, 13, 15, 16, 18, 20].map((n) => `shape_sample/${n}.png`),
  ...['apple-1', 'bell-7', 'bird-1', 'butterfly-1', 'car-07', 'cup-1', 'device1-1', 'device7-7'],
  ...['elephant-1', 'flatfish-1', 'guitar-1', 'hammer-7', 'key-1', 'pocket-1', 'shoe-1', 'watch-7'],
].map((file) => (file.includes('/') ? file : `mpeg7/${file}.png`));
const SHUFFLED = (() => {
  const random = new Random(91);
  return MASKS.map((file) => [random.next(), file] as const)
    .sort(([a], [b]) => a - b)
    .map(([, file]) => file);
})();

const round = (v: number, digits = 3): number => Number(v.toFixed(digits));

class Draw extends Random {
  /** Rounded, so that a scene reads well. */
  override between(a: number, b: number, digits = 3): number {
    return round(super.between(a, b), digits);
  }
  whole(a: number, b: number): number {
    return a + Math.floor(this.next() * (b - a + 1));
  }
  one<T>(of: readonly T[]): T {
    return of[Math.floor(this.next() * of.length)]!;
  }
  chance(share: number): boolean {
    return this.next() < share;
  }
}

const ring = (n: number, at: (t: number) => Place): Place[] =>
  Array.from({ length: n }, (_, k) => at((2 * Math.PI * k) / n)).map(([x, y]): Place => [
    round(x),
    round(y),
  ]);
const circle = (r: number, x = 0, y = 0): Place[] =>
  ring(360, (t) => [x + r * Math.cos(t), y + r * Math.sin(t)]);

/** A closed ring without the steps of the mask that it was traced in: averaged over its neighbours, then its corners cut three times (Chaikin). */
function smooth(points: readonly Place[]): Place[] {
  const n = points.length;
  const weights = [-5, -4, -3, -2, -1, 0, 1, 2, 3, 4, 5].map(
    (k) => [k, Math.exp((-k * k) / 8)] as const,
  );
  const sum = weights.reduce((s, [, w]) => s + w, 0);
  let out = points.map((_, i): Place => {
    let [x, y] = [0, 0];
    for (const [k, w] of weights) {
      const [px, py] = points[(i + k + n) % n]!;
      x += (w / sum) * px;
      y += (w / sum) * py;
    }
    return [x, y];
  });
  for (let k = 0; k < 3; k++)
    out = out.flatMap(([ax, ay], i): Place[] => {
      const [bx, by] = out[(i + 1) % out.length]!;
      return [
        [0.75 * ax + 0.25 * bx, 0.75 * ay + 0.25 * by],
        [0.25 * ax + 0.75 * bx, 0.25 * ay + 0.75 * by],
      ];
    });
  return out.map(([x, y]) => [round(x), round(y)]);
}

/** Moved to its middle and scaled so that its longer side is so long. */
function sized(points: readonly Place[], sizeMm: number): Place[] {
  const xs = points.map(([x]) => x);
  const ys = points.map(([, y]) => y);
  const [x0, x1, y0, y1] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  const k = sizeMm / Math.max(x1 - x0, y1 - y0);
  return points.map(([x, y]) => [(x - (x0 + x1) / 2) * k, (y - (y0 + y1) / 2) * k]);
}

/** Shapes of our own, each with its longer side of about the size asked for. */
const OWN: readonly ((d: Draw, sizeMm: number) => Shape)[] = [
  (d, size) => {
    // A smooth lobed body with a hole.
    const waves = [2, 3, 4, 5].map((k) => [k, d.between(0, 0.16 / k), d.between(0, 6.28)] as const);
    const r = size / 2.25;
    return {
      name: 'body',
      stout: true,
      roomy: r > 42,
      rings: [
        ring(1500, (t) => {
          const s = r * (1 + waves.reduce((v, [k, a, p]) => v + a * Math.cos(k * t + p), 0));
          return [s * Math.cos(t), s * Math.sin(t)];
        }),
        ...(r > 42 ? [] : [circle(d.between(1.5, 5), d.between(-5, 5), d.between(-5, 5))]),
      ],
    };
  },
  (d, size) => {
    // A polygon with sharp corners of any angle.
    const n = d.whole(5, 9);
    const r = size / 2;
    return {
      name: 'polygon',
      stout: true,
      roomy: r > 46,
      rings: [
        Array.from({ length: n }, (_, k): Place => {
          const t = (2 * Math.PI * (k + d.between(-0.25, 0.25))) / n;
          const s = r * d.between(0.82, 1);
          return [round(s * Math.cos(t)), round(s * Math.sin(t))];
        }),
      ],
    };
  },
  (d, size) => {
    // A plate with rounded corners and four holes.
    const [w, h] = [size, size * d.between(0.55, 0.9)];
    const r = d.between(2, 9);
    const [x, y] = [w / 2 - r, h / 2 - r];
    const quarter = (cx: number, cy: number, from: number): Place[] =>
      Array.from({ length: 61 }, (_, k): Place => {
        const t = from + (Math.PI / 120) * k;
        return [round(cx + r * Math.cos(t), 4), round(cy + r * Math.sin(t), 4)];
      });
    const hole = d.between(1, 2.5);
    const inset = d.between(6, 9);
    return {
      name: 'plate',
      stout: true,
      roomy: h > 84,
      rings: [
        [
          ...quarter(x, y, 0),
          ...quarter(-x, y, Math.PI / 2),
          ...quarter(-x, -y, Math.PI),
          ...quarter(x, -y, 1.5 * Math.PI),
        ],
        ...([1, -1] as const).flatMap((sx) =>
          ([1, -1] as const).map((sy) =>
            circle(hole, sx * (w / 2 - inset), sy * (h / 2 - inset)).reverse(),
          ),
        ),
      ],
    };
  },
  (d, size) => {
    // A wheel of round lobes.
    const n = d.whole(4, 8);
    const r = size / 2.2;
    const a = d.between(0.05, 0.1);
    return {
      name: 'wheel',
      stout: true,
      roomy: r > 44,
      rings: [
        ring(1800, (t) => {
          const s = r * (1 + a * Math.cos(n * t));
          return [s * Math.cos(t), s * Math.sin(t)];
        }),
      ],
    };
  },
];

/** The renderer's shapes, other sizes than its own. */
const THEIRS: readonly ((d: Draw, sizeMm: number) => Shape)[] = [
  (d, s) => ({
    shape: 'ellipse',
    args: { a: s / 2, b: (s / 2) * d.between(0.5, 0.9) },
    stout: true,
  }),
  (d, s) => ({ shape: 'disc', args: { d: s * d.between(0.6, 1) }, stout: true }),
  (d, s) => ({ shape: 'teardrop', args: { r: s * 0.28, tip: s * d.between(0.62, 0.72), eye: 4 } }),
  (d, s) => ({ shape: 'spoon', args: { length: s * d.between(1, 1.1) } }),
  (d, s) => ({
    shape: 'comb',
    args: { w: s, h: 34, teeth: d.whole(5, 9), gap: d.between(2.5, 5) },
  }),
  (d, s) => ({
    shape: 'arrow',
    args: { length: s, head: s * 0.5, shaft: s * d.between(0.18, 0.3) },
  }),
  (d, s) => ({ shape: 'letter_s', args: { h: s, w: s * d.between(0.15, 0.2) } }),
  (d, s) => ({ shape: 'paddle', args: { d: s * 0.6, handle: s * d.between(0.4, 0.5) } }),
  (d, s) => ({ shape: 'live_edge', args: { w: s, h: s * 0.55, seed: d.whole(20, 99) } }),
  (d, s) => ({
    shape: 'flower',
    args: { r: s / 2.3, a: d.between(0.06, 0.12), n: d.whole(5, 11) },
    stout: true,
  }),
  (d, s) => ({ shape: 'fish', args: { length: s * d.between(0.9, 1.1) } }),
];

async function shapeOf(d: Draw, sizeMm: number, mask: number): Promise<Shape> {
  const kind = d.next();
  if (kind < 0.42) {
    const file = SHUFFLED[mask % SHUFFLED.length]!;
    const path = join(SILHOUETTES, file);
    if (!existsSync(path)) throw new Error(`there is no ${path}`);
    const region = await silhouette(path);
    if (!region) throw new Error(`no shape in ${path}`);
    const outer = region.outer.map(({ x, y }): Place => [x, y]);
    return { name: file.replace(/^.*\/|\.png$/g, ''), rings: [smooth(sized(outer, sizeMm))] };
  }
  return d.one(kind < 0.72 ? OWN : THEIRS)(d, sizeMm);
}

/** CIE 1976 L*a*b* of an sRGB colour (D65), formulas of CIE 15 and IEC 61966-2-1 from memory; for telling tones apart only. */
function lab(rgb: readonly number[]): readonly number[] {
  const [r, g, b] = rgb.map((v) => (v <= 10.3 ? v / 3294.6 : ((v / 255 + 0.055) / 1.055) ** 2.4));
  const f = (t: number): number => (t > 0.008856 ? Math.cbrt(t) : 7.787 * t + 16 / 116);
  const x = f((0.4124 * r! + 0.3576 * g! + 0.1805 * b!) / 0.9505);
  const y = f(0.2126 * r! + 0.7152 * g! + 0.0722 * b!);
  const z = f((0.0193 * r! + 0.1192 * g! + 0.9505 * b!) / 1.089);
  return [116 * y - 16, 500 * (x - y), 200 * (y - z)];
}
const apart = (a: readonly number[], b: readonly number[]): number => {
  const [p, q] = [lab(a), lab(b)];
  return Math.hypot(...p.map((v, k) => v - q[k]!));
};
const hex = (rgb: readonly number[]): string =>
  `#${rgb.map((v) => Math.round(v).toString(16).padStart(2, '0')).join('')}`;

/** A colour of any hue, lightness 8 to 92 %, saturation up to `most`. */
function anyColour(d: Draw, [hue0, hue1] = [0, 360], most = 0.8): number[] {
  const [h, l, s] = [d.between(hue0, hue1), d.between(0.08, 0.92), d.between(0, most)];
  const a = s * Math.min(l, 1 - l);
  return [0, 8, 4].map((n) => {
    const k = (n + h / 30) % 12;
    return Math.round(255 * (l - a * Math.max(-1, Math.min(k - 3, 9 - k, 1))));
  });
}

interface Surface {
  readonly kind: string;
  readonly colour: string;
  readonly colour2: string;
  readonly wall?: string;
  readonly gloss: number;
  readonly tones: readonly (readonly number[])[];
}

function surfaceOf(d: Draw): Surface {
  const kind = d.one(['plain', 'plain', 'wood', 'noise', 'print']);
  const first = kind === 'wood' ? anyColour(d, [18, 42], 0.6) : anyColour(d);
  const second =
    kind === 'print' ? anyColour(d) : first.map((v) => v * (kind === 'wood' ? 0.62 : 0.82));
  const tones = kind === 'plain' ? [first] : [first, second];
  const gloss = d.chance(0.5) ? 0 : d.between(0.1, 0.5);
  return { kind, colour: hex(first), colour2: hex(second), gloss, tones };
}

const STAGES: readonly (readonly [name: string, grey: number, rgb: readonly number[]])[] = [
  ['white', 255, [255, 255, 255]],
  ['grey', 128, [128, 128, 128]],
  ['black', 20, [0, 0, 0]],
  ['teal', 130, [31, 143, 131]],
];
/** An operator takes a stage that contrasts; below this the program itself proposes another. */
const LEAST_APART = 35;

const edgeOf = (d: Draw, shape: Shape, thickness: number): DrawnBlank['edge'] => {
  const most = Math.min(1.2, thickness / 4);
  if (!shape.stout || most < 0.2 || d.chance(0.5)) return { kind: 'straight' };
  const by = d.between(0.15, most, 2);
  return d.chance(0.5) ? { kind: 'round', r: by } : { kind: 'chamfer', c: by };
};

const bare = ({ stout: _, roomy: __, ...shape }: Shape): Omit<Shape, 'stout' | 'roomy'> => shape;
const paint = ({ tones: _, ...surface }: Surface): Omit<Surface, 'tones'> => surface;

/** The scene of a lot. @throws Error where the open silhouettes are not on this machine */
export async function drawnScene(lot: Lot): Promise<DrawnScene> {
  return lot.row.startsWith('scan') ? scanned(lot) : photographed(lot);
}

async function photographed({ name, row, seed, mask }: Lot): Promise<DrawnScene> {
  const d = new Draw(seed);
  const paper = row === 'rider-paper' || row === 'bowed';
  const ridden = row === 'rider-paper' || row === 'rider-rigid';
  const thickness =
    row === 'rigid-thin' || row === 'bowed'
      ? d.between(0.4, 1, 2)
      : row === 'lens-10'
        ? d.between(8, 12, 1)
        : row === 'lens-thick'
          ? d.between(20, 40, 1)
          : row === 'several'
            ? d.between(35, 40, 1)
            : d.between(5, 40, 1);
  const pair = row === 'rigid-thin' && d.chance(0.4);
  const shapes: Shape[] = [];
  for (let k = 0; k < (pair ? 2 : 1); k++)
    shapes.push(await shapeOf(d, pair ? d.between(30, 62) : d.between(55, 105), mask + 14 * k));
  let surfaces: Surface[];
  let stages: typeof STAGES;
  do {
    surfaces = shapes.map(() => surfaceOf(d));
    stages = STAGES.filter(([, , rgb]) =>
      surfaces.every(({ tones }) => tones.every((tone) => apart(tone, rgb) >= LEAST_APART)),
    );
  } while (!stages.length);
  const [stage, grey] = d.one(stages);
  const onFace = ridden && shapes[0]!.roomy === true;
  const beside = ridden && !onFace;
  const centre: Place = [105 + d.between(-5, 5), 149 + d.between(-5, 5)];
  const rider = {
    size_mm: 50,
    at: [d.between(-1, 1), d.between(-1, 1)],
    turn_deg: d.between(-15, 15, 1),
    print_scale: round(1 + d.normal(0.0007), 5),
    paper_mm: 0.1,
  };
  const blanks = shapes.map((shape, k) => ({
    ...bare(shape),
    at: (pair
      ? [k === 0 ? 68 : 142, centre[1] + d.between(-35, 35)]
      : beside
        ? [centre[0], 192 + d.between(-4, 4)]
        : centre) as Place,
    rot: d.between(0, 360, 1),
    thickness: k === 0 ? thickness : d.between(0.4, 1, 2),
    edge: edgeOf(d, shape, thickness),
    surface: paint(surfaces[k]!),
    ...(onFace && { rider }),
  }));
  const block = {
    name: 'block',
    rings: [SQUARE],
    at: [centre[0] + d.between(-25, 25), 80 + d.between(-8, 4)] as Place,
    rot: d.between(0, 90, 1),
    thickness,
    edge: { kind: 'straight' },
    surface: { colour: hex(anyColour(d)) },
    role: 'support' as const,
    rider,
  };
  const lens = row === 'lens-10' || row === 'lens-thick' ? d.one(LENSES) : undefined;
  const camera = lens?.camera ?? cameraOf(d);
  const upright = camera.picture[0] < camera.picture[1];
  const long = Math.max(...camera.picture);
  const views = row === 'several' ? d.whole(2, 4) : 1;
  const around = d.between(0, 360, 1);
  // What fills the picture, and room for the thickness; nobody holds a phone at 0.1 mm.
  const height = Math.max(
    (camera.f_px * d.between(355, 395, 1)) / long,
    thickness * d.between(9.5, 12),
  );
  const process = {
    sharpen: d.between(0, 0.7, 2),
    sharpen_px: d.between(0.9, 1.5, 2),
    denoise: d.between(0.3, 0.9, 2),
    quality: d.whole(82, 96),
    ...(d.chance(1 / 3) && { tone: d.between(0.05, 0.2, 2) }),
  };
  const optics = {
    blur_px: d.between(0.55, 1, 2),
    vignette: d.between(0.1, 0.35, 2),
    chromatic_px: d.between(0.1, 0.7, 2),
  };
  const sensor = { full_well: d.between(3500, 8000, 0), read: d.between(4, 8, 1) };
  const spread = paper ? 0.0028 : 0.001;
  let held: number | undefined;
  return {
    name,
    seed,
    sheet: {
      slot: `A4-${stage}`,
      size_mm: [210, 297],
      stage: grey,
      print: {
        scale_x: round(1 + d.between(-spread, spread, 5), 5),
        scale_y: round(1 + d.between(-spread, spread, 5), 5),
        shear: d.between(-0.0005, 0.0005, 5),
        local_mm: paper ? 0.03 : 0.008,
        seed: seed + 1,
        ...(row === 'bowed'
          ? { bow_mm: 0.3, bow: d.one(BOWS) }
          : paper && { bow_mm: d.between(0, 0.3, 2), bow: d.one(BOWS) }),
      },
    },
    blanks: beside ? [...blanks, block] : blanks,
    light: {
      ambient: d.between(0.35, 0.75, 2),
      lights: Array.from({ length: d.whole(1, 3) }, () => ({
        azimuth: d.whole(0, 359),
        elevation: d.whole(42, 70),
        size: d.whole(8, 32),
        strength: d.between(0.3, 0.7, 2),
      })),
      ...(d.chance(0.5) && {
        gradient: { ratio: d.between(1.2, 2.5, 2), azimuth: d.whole(0, 359) },
      }),
    },
    views: Array.from({ length: views }, (_, k) => {
      const pose = {
        height: round(height * (k === 0 ? 1 : d.between(0.97, 1.04)), 1),
        tilt: d.between(1, row === 'several' ? 14 : thickness > 2 ? 5 : 8, 1),
        azimuth: round((around + (360 / views) * k + d.between(-20, 20)) % 360, 1),
        roll: upright ? 0 : 90,
        looks_at: [105 + d.between(-4, 4, 1), 148.5 + d.between(-4, 4, 1)],
      };
      // A camera whose lens was measured keeps its pictures as it kept those, or stands on its head.
      const drawn = d.one(lens ? [1, 1, 3, 1, 3] : [1, 1, 3, 6, 8]);
      // One camera takes all photos of a blank: a lens turned against its picture would be another lens.
      const orientation = (held ??= drawn);
      return {
        camera: lens && orientation === 3 ? onItsHead(lens.camera) : camera,
        ...{ pose, optics, process, sensor },
        exif: { orientation },
      };
    }),
    ...(lens && { lens: lens.profile }),
  } as DrawnScene;
}

const SQUARE: Place[] = [
  [27, 27],
  [-27, 27],
  [-27, -27],
  [27, -27],
];
const BOWS = ['arch-x', 'arch-y', 'curl-x', 'dome', 'corner', 'wave'] as const;

interface Camera {
  readonly picture: Place;
  readonly f_px: number;
}

/** One whose lens was measured. */
interface Measured extends Camera {
  readonly p1: number;
  readonly p2: number;
  readonly principal_offset_px: Place;
}

function cameraOf(d: Draw): Camera {
  const k1 = d.between(-0.26, 0.09, 4);
  return {
    picture: d.one<Place>([
      [3000, 4000],
      [3024, 4032],
      [3072, 4096],
      [4032, 3024],
    ]),
    f_px: d.between(2450, 3350, 1),
    principal_offset_px: [d.between(-18, 18, 1), d.between(-18, 18, 1)],
    k1,
    k2: round(-0.43 * k1 + d.between(-0.012, 0.012), 4),
    p1: d.between(-0.0005, 0.0005, 5),
    p2: d.between(-0.0005, 0.0005, 5),
    k3: d.between(-0.015, 0.005, 4),
  } as Camera;
}

/** A camera as it draws upright pictures when it is held by half a turn. */
function onItsHead(camera: Measured): Measured {
  const {
    p1,
    p2,
    principal_offset_px: [x, y],
  } = camera;
  return { ...camera, p1: -p1, p2: -p2, principal_offset_px: [-x, -y] };
}

/** Cameras of the renderer's scenes of the bare sheet, as they stand there. */
const LENSES: readonly { readonly profile: string; readonly camera: Measured }[] = [
  {
    profile: 'profile-A',
    camera: {
      picture: [3000, 4000],
      f_px: 2951,
      ...{ k1: -0.06, k2: 0.025, p1: 0.0002, p2: -0.0003, principal_offset_px: [11, -8] },
    },
  },
  {
    profile: 'profile-C',
    camera: {
      picture: [4032, 3024],
      f_px: 3262,
      ...{ k1: 0.085, k2: -0.03, p1: 0.0001, p2: 0.0004, principal_offset_px: [6, 15] },
    },
  },
  {
    profile: 'profile-E',
    camera: {
      picture: [3024, 4032],
      f_px: 2890,
      ...{ k1: -0.15, k2: 0.06, p1: 0.0005, p2: 0.0001, principal_offset_px: [20, 12] },
    },
  },
];

async function scanned({ name, row, seed, mask }: Lot): Promise<DrawnScene> {
  const d = new Draw(seed);
  const dpi = row === 'scan-300' ? 300 : 600;
  const pair = d.chance(0.5);
  const lens = d.chance(0.35);
  // At 600 dpi a part of the glass, at 300 dpi all of the strip; the strip along the feed or across it.
  const along = d.chance(0.6);
  const reach = dpi === 600 ? 120 : 206;
  const x0 = dpi === 600 ? d.between(0, 60, 1) : -4;
  const deep = 132;
  const most = Math.min(pair ? reach / 2 - 14 : reach - 30, 78);
  const shapes: Shape[] = [];
  for (let k = 0; k < (pair ? 2 : 1); k++)
    shapes.push(await shapeOf(d, d.between(0.5 * most, most), mask + 14 * k));
  const lid = d.chance(0.65) ? d.between(0.72, 0.9, 2) : d.between(0.03, 0.08, 2);
  const lidTone = Array<number>(3).fill(255 * lid ** (1 / 2.2));
  let surfaces: Surface[];
  do surfaces = shapes.map(() => surfaceOf(d));
  while (
    !surfaces.every(({ tones }) => tones.every((tone) => apart(tone, lidTone) >= LEAST_APART))
  );
  const turn = d.between(-1.2, 1.2, 2);
  return {
    name,
    seed,
    sheet: {
      slot: 'strip-white',
      size_mm: [200, 38],
      stage: 255,
      print: {
        scale_x: round(1 + d.between(-0.0015, 0.0015, 5), 5),
        scale_y: round(1 + d.between(-0.0015, 0.0015, 5), 5),
        shear: d.between(-0.0003, 0.0003, 5),
        local_mm: d.between(0.003, 0.008),
        seed: seed + 1,
      },
    },
    blanks: shapes.map((shape, k) => {
      const thickness = d.between(0.5, 6, 1);
      return {
        ...bare(shape),
        at: [
          round(x0 + reach * (pair ? (k === 0 ? 0.27 : 0.73) : 0.5) + d.between(-3, 3), 1),
          round(84 + d.between(-3, 3), 1),
        ] as Place,
        rot: d.between(0, 360, 1),
        thickness,
        edge: edgeOf(d, shape, lens ? 0 : thickness),
        surface: {
          ...paint(surfaces[k]!),
          ...(lens && d.chance(0.5) && { wall: hex(anyColour(d, [20, 60], 0.4)) }),
        },
      };
    }),
    light: { ambient: 0.5, lamp_azimuth: 90 },
    views: [
      {
        scan: {
          dpi,
          dpi_header: dpi,
          ...(along
            ? { area_mm: [deep + 6, reach + 6], rot: 90 + turn, origin: [x0 + reach + 3, -7] }
            : { area_mm: [reach + 6, deep + 6], rot: turn, origin: [x0 - 3, -7] }),
          scale_x: round(1 + d.between(-0.008, 0.008, 5), 5),
          scale_y: round(1 + d.between(-0.008, 0.008, 5), 5),
          skew: d.between(-0.0012, 0.0012, 5),
          wobble_mm: d.between(0.01, 0.05),
          lens_mm: lens ? d.between(280, 360, 0) : 0,
          ...(lens && { lens_x: round((along ? deep : reach) / 2 + d.between(-15, 15), 1) }),
          lid,
          dust: d.whole(5, 35),
          seed: seed + 2,
        },
        optics: { blur_px: d.between(0.45, 0.75, 2) },
        sensor: { full_well: d.between(6000, 11000, 0), read: 4, exposure: 1 },
        process: {},
      },
    ],
  } as DrawnScene;
}

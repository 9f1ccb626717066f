import type { PictureMeta } from '../../src/picture/picture.ts';
import type { RiderDesign, SheetDesign } from '../../src/sheet/design.ts';
import { layout, riderVertex, RIDERS, sheetVertex } from '../../src/sheet/layout.ts';
import { vertices } from '../../src/view/marks.ts';
import type { CalibrationSettings, FoundMarks, Mark } from '../../src/view/view.ts';

/** Pseudo-random numbers of a seed: mulberry32 (a published public-domain generator, from memory). */
export class Random {
  constructor(private state: number) {}
  next(): number {
    this.state = (this.state + 0x6d2b79f5) | 0;
    let t = Math.imul(this.state ^ (this.state >>> 15), 1 | this.state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  }
  between(a: number, b: number): number {
    return a + (b - a) * this.next();
  }
  normal(sd = 1): number {
    return sd * Math.sqrt(-2 * Math.log(1 - this.next())) * Math.cos(2 * Math.PI * this.next());
  }
}

/** The true camera of a simulated picture; its projection is written out here, apart from the program's. */
export interface TrueCamera {
  readonly f: number;
  readonly cx: number;
  readonly cy: number;
  readonly k: readonly [k1: number, k2: number, p1: number, p2: number];
  readonly axes: readonly (readonly [number, number, number])[];
  readonly centre: readonly [number, number, number];
}

export function seen(c: TrueCamera, x: number, y: number, z: number): [number, number] {
  const d = [x - c.centre[0], y - c.centre[1], z - c.centre[2]] as const;
  const [a, b, depth] = c.axes.map((r) => r[0] * d[0] + r[1] * d[1] + r[2] * d[2]) as [
    number,
    number,
    number,
  ];
  const u = a / depth;
  const v = b / depth;
  const [k1, k2, p1, p2] = c.k;
  const r2 = u * u + v * v;
  const g = 1 + k1 * r2 + k2 * r2 * r2;
  return [
    c.cx + c.f * (u * g + 2 * p1 * u * v + p2 * (r2 + 2 * u * u)),
    c.cy + c.f * (v * g + p1 * (r2 + 2 * v * v) + 2 * p2 * u * v),
  ];
}

/** A camera above (x, y), tilted by `tilt` towards `azimuth` (radians) and looking at that place. */
export function cameraAt(o: {
  x: number;
  y: number;
  height: number;
  tilt: number;
  azimuth: number;
  roll: number;
  f: number;
  cx: number;
  cy: number;
  k: TrueCamera['k'];
}): TrueCamera {
  const centre = [
    o.x + o.height * Math.tan(o.tilt) * Math.cos(o.azimuth),
    o.y + o.height * Math.tan(o.tilt) * Math.sin(o.azimuth),
    o.height,
  ] as const;
  const unit = (v: readonly number[]): [number, number, number] => {
    const n = Math.hypot(...v);
    return [v[0]! / n, v[1]! / n, v[2]! / n];
  };
  const z = unit([o.x - centre[0], o.y - centre[1], -centre[2]]);
  const y = unit([z[1] * z[0], z[1] * z[1] - 1, z[1] * z[2]]);
  const x = [y[1] * z[2] - y[2] * z[1], y[2] * z[0] - y[0] * z[2], y[0] * z[1] - y[1] * z[0]];
  const [c, s] = [Math.cos(o.roll), Math.sin(o.roll)];
  return {
    f: o.f,
    cx: o.cx,
    cy: o.cy,
    k: o.k,
    centre,
    axes: [
      [c * x[0]! + s * y[0], c * x[1]! + s * y[1], c * x[2]! + s * y[2]],
      [-s * x[0]! + c * y[0], -s * x[1]! + c * y[1], -s * x[2]! + c * y[2]],
      z,
    ],
  };
}

export interface Case {
  readonly seed: number;
  /** Height of the face, mm. */
  readonly height: number;
  /** Root mean square of the smooth print error, mm. */
  readonly printError: number;
  /** Height of the sheet's arch, mm. */
  readonly bow: number;
  readonly rider?: 20 | 30 | 40 | 50;
  /** Relative standard deviation of the focal length that the file states; none when left out. */
  readonly fKnown?: number;
  readonly cameraHeight?: number;
  readonly noisePx?: number;
  readonly thicknessU?: number;
  readonly riderU?: number;
  /** What was entered minus what is so, mm. */
  readonly thicknessError?: number;
  readonly tilt?: number;
  readonly half?: boolean;
  /** How much larger than designed the sheet came out, along x and y, on top of what printers always do. */
  readonly printed?: readonly [x: number, y: number];
  /** Shear of the print on top of what printers always do: x shifted by this share of y. */
  readonly skew?: number;
  /** How far the camera's aim is from the middle of the sheet, mm. */
  readonly aside?: readonly [x: number, y: number];
  /** Riders on blocks or second pieces beside the blank: how high each is; its own reading counts as a block where told. */
  readonly beside?: readonly {
    readonly size: 20 | 30 | 40 | 50;
    readonly heightMm: number;
    readonly block: boolean;
  }[];
  /** Print that lies under the rider, mm, for instance a stack of paper. */
  readonly underRiderMm?: number;
  /** The sheet's own: further pictures of one sheet share it; absent: a sheet for each picture. */
  readonly printSeed?: number;
}

export interface Simulated {
  readonly sheet: SheetDesign;
  readonly camera: TrueCamera;
  readonly found: FoundMarks;
  readonly meta: PictureMeta;
  readonly settings: CalibrationSettings;
  readonly widthPx: number;
  readonly heightPx: number;
  /** Height of the face above the frame's plane: thickness and the sheet's bow under it. */
  readonly faceZ: number;
  /** Where the ink of a designed place lies, sheet mm. */
  readonly ink: (x: number, y: number) => [number, number];
}

/**
 * Marks of an A4 sheet as a 12 MP camera would show them, with every quantity drawn from the law that its stated uncertainty
 * claims: camera, lens, print scale, smooth print error (six waves of 70 to 260 mm per direction), arch, rider, readings.
 */
export function simulate(o: Case): Simulated {
  const random = new Random(o.seed * 7919 + 17);
  const sheet = layout(210, 297, 'white');
  const [widthPx, heightPx] = [3000, 4000];
  const f35 = 26;
  const nominalF = (f35 / Math.hypot(36, 24)) * Math.hypot(widthPx, heightPx);
  const f = nominalF / (1 + random.normal(o.fKnown ?? 0.05));
  const camera = cameraAt({
    x: 105 + random.between(-5, 5) + (o.aside?.[0] ?? 0),
    y: 148 + random.between(-5, 5) + (o.aside?.[1] ?? 0),
    height: o.cameraHeight ?? 300,
    tilt: o.tilt ?? random.between(0, (5 * Math.PI) / 180),
    azimuth: random.between(0, 2 * Math.PI),
    roll: random.between(-0.05, 0.05),
    f: f * ((o.cameraHeight ?? 300) / 300),
    cx: (widthPx - 1) / 2 + random.normal(12),
    cy: (heightPx - 1) / 2 + random.normal(12),
    k: [random.normal(0.12), random.normal(0.05), random.normal(3e-4), random.normal(3e-4)],
  });
  const print = o.printSeed === undefined ? random : new Random(o.printSeed);
  const scaleX = (1 + print.normal(0.002)) * (o.printed?.[0] ?? 1);
  const scaleY = (1 + print.normal(0.002)) * (o.printed?.[1] ?? 1);
  const shear = print.normal(0.0005) + (o.skew ?? 0);
  const waves = [0, 1].map(() =>
    Array.from({ length: 6 }, () => {
      const angle = print.between(0, 2 * Math.PI);
      const length = print.between(70, 260);
      const q = (2 * Math.PI) / length;
      return [q * Math.cos(angle), q * Math.sin(angle), print.between(0, 2 * Math.PI)] as const;
    }),
  );
  const local = (k: number, x: number, y: number): number =>
    waves[k]!.reduce((s, [a, b, p]) => s + Math.cos(a * x + b * y + p), 0) *
    (o.printError / Math.sqrt(3));
  const ink = (x: number, y: number): [number, number] => [
    scaleX * x + shear * y + local(0, x, y),
    scaleY * y + local(1, x, y),
  ];
  const bow = (x: number): number => o.bow * (1 - (2 * (x / sheet.widthMm) - 1) ** 2);
  const noise = o.noisePx ?? 0.03;
  const mark = (x: number, y: number, z: number) => {
    const [u, v] = seen(camera, x, y, z);
    return { x: u + random.normal(noise), y: v + random.normal(noise) };
  };
  const all = vertices(sheet);
  const marks = all
    .filter(({ i, j }) => !o.half || i + j < (sheet.columns + sheet.rows) / 2)
    .map(({ i, j }) => {
      const design = sheetVertex(sheet, i, j);
      const [x, y] = ink(design.x, design.y);
      return { i, j, design, picture: mark(x, y, bow(x)) };
    });
  const faceZ = o.height + bow(105);
  const riders: { design: RiderDesign; marks: Mark<'rider'>[] }[] = [];
  const riderSpansMm: Record<number, number> = {};
  const riderU = o.riderU ?? 0.03;
  const lay = (rider: number, middle: number, faceMm: number): void => {
    const design = RIDERS.find((r) => r.sizeMm === rider)!;
    const size = 1 + random.normal(0.001);
    riderSpansMm[rider] = rider * size + random.normal(riderU);
    const turn = random.between(0, 2 * Math.PI);
    const [rx, ry] = [middle + random.between(-20, 20), 148 + random.between(-40, 40)];
    const z = faceMm + 0.1 + random.normal(0.05) + (o.underRiderMm ?? 0);
    const [a, b] = [random.normal(0.005), random.normal(0.005)];
    const points = [];
    for (let j = 1; j < design.cells; j++) {
      for (let i = 1; i < design.cells; i++) {
        const d = riderVertex(design, i, j);
        const u = size * (d.x - rider / 2);
        const v = size * (d.y - rider / 2);
        const x = rx + Math.cos(turn) * u - Math.sin(turn) * v;
        const y = ry + Math.sin(turn) * u + Math.cos(turn) * v;
        points.push({ i, j, design: d, picture: mark(x, y, z + a * u + b * v) });
      }
    }
    riders.push({ design, marks: points });
  };
  if (o.rider) lay(o.rider, 105, faceZ);
  const spansMm = Object.fromEntries(
    sheet.spans.map((s) => {
      const [ax, ay] = ink(s.from.x, s.from.y);
      const [bx, by] = ink(s.to.x, s.to.y);
      return [s.id, Math.hypot(bx - ax, by - ay) + random.normal(0.025)];
    }),
  );
  const thicknessU = o.thicknessU ?? 0.05;
  const entered = o.height + (o.thicknessError ?? random.normal(thicknessU));
  const beside = o.beside ?? [];
  beside.forEach(({ size, heightMm }, k) => lay(size, k % 2 ? 65 : 145, heightMm + bow(105)));
  const blocksMm = beside.flatMap(({ heightMm, block }) =>
    block ? [heightMm + random.normal(thicknessU)] : [],
  );
  const meta: PictureMeta = {
    format: 'jpeg',
    bitsPerChannel: 8,
    storedWidthPx: widthPx,
    storedHeightPx: heightPx,
    orientation: 1,
    hasExif: true,
    ...(o.fKnown ? { focalLength35Mm: (f35 * (o.cameraHeight ?? 300)) / 300 } : {}),
  };
  return {
    sheet,
    camera,
    widthPx,
    heightPx,
    faceZ,
    ink,
    meta,
    found: { sheet, marks, riders, expected: all.length, blurPx: 0.7, reasons: [] },
    settings: {
      thicknessMm: [entered],
      ...(blocksMm.length > 0 && { blocksMm }),
      thicknessU,
      spansMm,
      spanU: 0.025,
      riderSpansMm,
      riderSpanU: riderU,
      wantMm: 100,
    },
  };
}

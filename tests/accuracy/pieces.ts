/** Pieces of one kind on one sheet, drawn by a formula: each differs from the others by known tenths of a millimetre. */
import type { Scene } from './render.ts';

const VERTICES = 240;

/** Growth all round, and waves of the radius: how many, how high (mm), where. */
interface Deviation {
  readonly growMm: number;
  readonly waves: readonly (readonly [count: number, highMm: number, phase: number])[];
}

/** Blanks 1 to 6 by place in this list; numbers on the picture run from left to right. */
export const PIECES: readonly {
  readonly what: 'token' | 'token face down' | 'oval';
  readonly at: readonly [number, number];
  readonly turnDeg: number;
  readonly deviation: Deviation;
}[] = [
  {
    what: 'token',
    at: [55, 215],
    turnDeg: 12,
    deviation: { growMm: -0.06, waves: [[2, 0.05, 1]] },
  },
  {
    what: 'token',
    at: [155, 222],
    turnDeg: 100,
    deviation: { growMm: 0.08, waves: [[3, 0.06, 4]] },
  },
  { what: 'token', at: [60, 150], turnDeg: -75, deviation: { growMm: 0, waves: [[5, 0.07, 2]] } },
  { what: 'token face down', at: [152, 158], turnDeg: 200, deviation: { growMm: 0.03, waves: [] } },
  {
    what: 'token',
    at: [105, 95],
    turnDeg: 33,
    deviation: { growMm: -0.02, waves: [[2, 0.08, 5]] },
  },
  { what: 'oval', at: [160, 85], turnDeg: -20, deviation: { growMm: 0, waves: [] } },
];

type Place = readonly [number, number];

const around = (radiusOf: (a: number) => readonly [rx: number, ry: number]): Place[] =>
  Array.from({ length: VERTICES }, (_, k) => {
    const a = (2 * Math.PI * k) / VERTICES;
    const [rx, ry] = radiusOf(a);
    return [rx * Math.cos(a), ry * Math.sin(a)];
  });

/** The outline of a piece about its own origin, mm, counter-clockwise, print face up. */
export function pieceRing({ what, deviation }: (typeof PIECES)[number]): Place[] {
  if (what === 'oval') return around(() => [25, 17]);
  const token = around((a) => {
    const r =
      22 +
      4.5 * Math.cos(a) +
      2.6 * Math.sin(2 * a + 0.4) +
      1.6 * Math.cos(3 * a - 1) +
      deviation.growMm +
      deviation.waves.reduce((sum, [n, high, phase]) => sum + high * Math.cos(n * a + phase), 0);
    return [r, r];
  });
  return what === 'token' ? token : token.map(([x, y]): Place => [-x, y]).reverse();
}

export const PIECES_SCENE: Scene = {
  name: 'k01-pieces',
  seed: 301,
  sheet: {
    slot: 'A4-white',
    size_mm: [210, 297],
    stage: 255,
    print: { scale_x: 1.0008, scale_y: 0.9991, shear: 0.0002, local_mm: 0.008, seed: 61 },
  },
  blanks: PIECES.map((piece) => ({
    name: piece.what,
    rings: [pieceRing(piece)],
    at: piece.at,
    rot: piece.turnDeg,
    thickness: 1.5,
    edge: { kind: 'straight' },
    surface: { colour: piece.what === 'oval' ? '#6b2a1d' : '#2f3d52' },
  })),
  light: {
    ambient: 0.5,
    lights: [
      { azimuth: 120, elevation: 52, size: 20, strength: 0.6 },
      { azimuth: -40, elevation: 62, size: 26, strength: 0.4 },
    ],
  },
  views: [
    {
      camera: {
        picture: [2400, 3200],
        f_px: 2376,
        k1: -0.05,
        k2: 0.02,
        p1: 0.0001,
        p2: -0.0002,
        principal_offset_px: [8, -6],
      },
      pose: { height: 262, tilt: 2, azimuth: 60, roll: 0, looks_at: [105, 149] },
      optics: { blur_px: 0.65, vignette: 0.2, chromatic_px: 0.4 },
      process: { sharpen: 0.4, sharpen_px: 1.2, denoise: 0.6, quality: 84 },
      sensor: { full_well: 5000, read: 6 },
      exif: { f35: 26, orientation: 1 },
    },
  ],
} as Scene;

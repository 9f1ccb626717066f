import type { CalibrationSettings, FoundMarks } from '../../src/view/view.ts';
import type { Photographed } from '../../src/view/adjust.ts';
import { vertices } from '../../src/view/marks.ts';
import { layout, RIDERS, riderVertex, sheetVertex } from '../../src/sheet/layout.ts';
import { cameraAt, Random, seen, type TrueCamera } from './simulate.ts';

export interface Several {
  readonly seed: number;
  readonly photos: number;
  /** Height of the face, mm. */
  readonly height: number;
  readonly printError: number;
  /** Standard deviation of the arch of the sheet, mm; drawn for each photo anew. */
  readonly bow: number;
  /** Greatest tilt, radians. */
  readonly tilt: number;
  readonly fKnown?: number;
  readonly rider?: 50;
  /** One mark of so many is kept. */
  readonly every?: number;
}

export interface SimulatedSeveral {
  readonly photos: readonly (Photographed & {
    readonly camera: TrueCamera;
    readonly faceZ: number;
  })[];
  readonly settings: CalibrationSettings;
}

/** Several photos of one A4 sheet through one lens, every quantity drawn from the law that its uncertainty claims. */
export function simulateSeveral(o: Several): SimulatedSeveral {
  const random = new Random(o.seed * 6367 + 5);
  const sheet = layout(210, 297, 'white');
  const [widthPx, heightPx] = [3000, 4000];
  const f35 = 26;
  const nominal = (f35 / Math.hypot(36, 24)) * Math.hypot(widthPx, heightPx);
  const lens = {
    f: nominal / (1 + random.normal(o.fKnown ?? 0.05)),
    cx: (widthPx - 1) / 2 + random.normal(12),
    cy: (heightPx - 1) / 2 + random.normal(12),
    k: [
      random.normal(0.12),
      random.normal(0.05),
      random.normal(3e-4),
      random.normal(3e-4),
    ] as TrueCamera['k'],
  };
  const [scaleX, scaleY] = [1 + random.normal(0.002), 1 + random.normal(0.002)];
  const waves = [0, 1].map(() =>
    Array.from({ length: 6 }, () => {
      const angle = random.between(0, 2 * Math.PI);
      const q = (2 * Math.PI) / random.between(70, 260);
      return [q * Math.cos(angle), q * Math.sin(angle), random.between(0, 2 * Math.PI)] as const;
    }),
  );
  const ink = (x: number, y: number): [number, number] => {
    const [ex, ey] = waves.map(
      (w) =>
        (o.printError / Math.sqrt(3)) *
        w.reduce((s, [a, b, p]) => s + Math.cos(a * x + b * y + p), 0),
    ) as [number, number];
    return [scaleX * x + ex, scaleY * y + ey];
  };
  const riderSize = 1 + random.normal(0.001);
  const riderSpansMm: Record<number, number> = o.rider
    ? { 50: 50 * riderSize + random.normal(0.03) }
    : {};
  const photos = Array.from({ length: o.photos }, (_, p) => {
    const camera = cameraAt({
      x: 105 + random.between(-10, 10),
      y: 148 + random.between(-10, 10),
      height: random.between(280, 360),
      tilt: random.between(0.3, 1) * o.tilt,
      azimuth: (2 * Math.PI * p) / o.photos + random.between(-0.3, 0.3),
      roll: random.between(-0.05, 0.05) + (p % 4) * (Math.PI / 2),
      ...lens,
    });
    const arch = random.normal(o.bow);
    const bow = (x: number): number => arch * (1 - (2 * (x / sheet.widthMm) - 1) ** 2);
    const at = (x: number, y: number, z: number) => {
      const [u, v] = seen(camera, x, y, z);
      return { x: u + random.normal(0.03), y: v + random.normal(0.03) };
    };
    const marks = vertices(sheet)
      .filter((_, k) => k % (o.every ?? 1) === 0)
      .map(({ i, j }) => {
        const design = sheetVertex(sheet, i, j);
        return { i, j, design, picture: at(...ink(design.x, design.y), bow(design.x)) };
      });
    const faceZ = o.height + bow(105);
    const rider = RIDERS.find((r) => r.sizeMm === o.rider);
    const riders: FoundMarks['riders'] = !rider
      ? []
      : [
          {
            design: rider,
            marks: Array.from({ length: (rider.cells - 1) ** 2 }, (_, k) => {
              const [i, j] = [1 + (k % (rider.cells - 1)), 1 + Math.floor(k / (rider.cells - 1))];
              const d = riderVertex(rider, i, j);
              const [u, v] = [riderSize * (d.x - 25), riderSize * (d.y - 25)];
              return { i, j, design: d, picture: at(105 + u, 148 + v, faceZ + 0.1) };
            }),
          },
        ];
    const found = { sheet, marks, riders, expected: marks.length, blurPx: 0.7, reasons: [] };
    const meta = {
      format: 'jpeg' as const,
      storedWidthPx: widthPx,
      storedHeightPx: heightPx,
      orientation: 1,
      hasExif: true,
      ...(o.fKnown && { focalLength35Mm: f35 }),
    };
    return { found, meta, widthPx, heightPx, camera, faceZ };
  });
  const spansMm = Object.fromEntries(
    sheet.spans.map((s) => {
      const [ax, ay] = ink(s.from.x, s.from.y);
      const [bx, by] = ink(s.to.x, s.to.y);
      return [s.id, Math.hypot(bx - ax, by - ay) + random.normal(0.025)];
    }),
  );
  return {
    photos,
    settings: {
      thicknessMm: o.height > 0 ? [o.height + random.normal(0.05)] : [],
      thicknessU: 0.05,
      spansMm,
      spanU: 0.025,
      riderSpansMm,
      riderSpanU: 0.03,
      wantMm: 100,
    },
  };
}

/** sRGB's primaries adapted to D50, as XYZ columns. Source: IEC 61966-2-1 with the Bradford adaptation of ICC.1:2022, annex E (the values that common sRGB profiles hold, from memory). */
const COLUMNS = {
  rXYZ: [0.43607, 0.22249, 0.01392],
  gXYZ: [0.38515, 0.71687, 0.09708],
  bXYZ: [0.14307, 0.06061, 0.7141],
} as const;
const D50 = [0.9642, 1, 0.8249] as const;
/** The sRGB curve as parametricCurveType 3: (a x + b)^g from d on, c x below (IEC 61966-2-1). */
const CURVE = [2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045] as const;

/** XYZ of each primary adapted to D50, and the curve from a sample to light as parametricCurveType 3 has it: g, a, b, c, d. */
export interface MatrixProfile {
  readonly name: string;
  readonly rXYZ: readonly number[];
  readonly gXYZ: readonly number[];
  readonly bXYZ: readonly number[];
  readonly curve: readonly number[];
}
const SRGB: MatrixProfile = { name: 'sRGB', ...COLUMNS, curve: CURVE };

/**
 * A colour profile of three primaries and one curve.
 * Source: ICC.1:2022 (profile version 4.4), 7.2 (header), 9.2 (tags), 10 (types).
 */
export function matrixProfile({ name, rXYZ, gXYZ, bXYZ, curve }: MatrixProfile = SRGB): Uint8Array {
  const text = (words: string): number[] => [
    ...ascii('mluc'),
    ...[0, 0, 0, 0, 0, 0, 0, 1, 0, 0, 0, 12],
    ...ascii('enUS'),
    ...[0, 0, 0, 2 * words.length, 0, 0, 0, 28],
    ...[...words].flatMap((c) => [0, c.charCodeAt(0)]),
  ];
  const xyz = (values: readonly number[]): number[] => [
    ...ascii('XYZ '),
    ...[0, 0, 0, 0],
    ...values.flatMap(fixed),
  ];
  const transfer = [...ascii('para'), 0, 0, 0, 0, 0, 3, 0, 0, ...curve.flatMap(fixed)];
  const tags: readonly (readonly [string, readonly number[]])[] = [
    ['desc', text(name)],
    ['cprt', text('No copyright')],
    ['wtpt', xyz(D50)],
    ...Object.entries({ rXYZ, gXYZ, bXYZ }).map(([tag, values]) => [tag, xyz(values)] as const),
    ...['rTRC', 'gTRC', 'bTRC'].map((tag) => [tag, transfer] as const),
  ];
  const places: number[] = [];
  const body: number[] = [];
  const bodyAt = HEADER + 4 + 12 * tags.length;
  for (const [, bytes] of tags) {
    places.push(bodyAt + body.length);
    body.push(...bytes);
    while (body.length % 4 !== 0) body.push(0);
  }
  const out = new Uint8Array(bodyAt + body.length);
  const data = new DataView(out.buffer);
  data.setUint32(0, out.length);
  data.setUint32(8, 0x04400000);
  out.set(ascii('mntrRGB XYZ '), 12);
  [2022, 1, 1, 0, 0, 0].forEach((part, k) => data.setUint16(24 + 2 * k, part));
  out.set(ascii('acsp'), 36);
  out.set(D50.flatMap(fixed), 68);
  data.setUint32(HEADER, tags.length);
  tags.forEach(([tag, bytes], k) => {
    out.set(ascii(tag), HEADER + 4 + 12 * k);
    data.setUint32(HEADER + 8 + 12 * k, places[k]!);
    data.setUint32(HEADER + 12 + 12 * k, bytes.length);
  });
  out.set(body, bodyAt);
  return out;
}

const HEADER = 128;
const ascii = (words: string): number[] => [...words].map((c) => c.charCodeAt(0));
/** s15Fixed16Number. */
const fixed = (v: number): number[] => {
  const whole = Math.round(v * 65536);
  return [(whole >>> 24) & 255, (whole >>> 16) & 255, (whole >>> 8) & 255, whole & 255];
};

import { describe, expect, it } from 'vitest';
import { Refusal, reason } from '../../src/base/reason.ts';
import { outlineJson, readOutlineJson } from '../../src/files/outline-json.ts';
import { card, outlineOf, plaque } from '../outlines.ts';

const trace = {
  outlines: [
    { ...outlineOf(card), hidden: [{ ring: 0, from: 3, to: 9 }] },
    outlineOf(plaque, { id: '2-face', blank: 2 }),
  ],
  verdict: 'doubtful',
  reasons: [reason('seat-hidden', { blank: 1, stretches: 1 })],
} as const;
const bytes = outlineJson(trace);
const read = (change: (v: { [key: string]: unknown }) => unknown) => {
  const value = JSON.parse(new TextDecoder().decode(bytes)) as { [key: string]: unknown };
  const changed = change(value) ?? value;
  return readOutlineJson(new TextEncoder().encode(JSON.stringify(changed)), 'outline.json');
};
interface Feature {
  geometry: { type: string; coordinates: number[][][] };
  properties: Record<string, unknown>;
}
const features = (v: { [key: string]: unknown }): Feature[] => v.features as Feature[];

describe('outline.json', () => {
  it('comes back as it went, to a nanometre', () => {
    const file = readOutlineJson(bytes, 'outline.json');
    expect(file.verdict).toBe('doubtful');
    expect(file.reasons[0]).toMatchObject({ code: 'seat-hidden', level: 'doubt' });
    expect(file.outlines).toHaveLength(2);
    file.outlines.forEach((found, k) => {
      const sent = trace.outlines[k]!;
      expect(found.region.holes).toHaveLength(sent.region.holes.length);
      found.region.outer.forEach((p, i) => {
        expect(Math.abs(p.x - sent.region.outer[i]!.x)).toBeLessThan(6e-7);
        expect(Math.abs(p.y - sent.region.outer[i]!.y)).toBeLessThan(6e-7);
      });
      expect(found.u.map((ring) => ring.length)).toEqual(
        [found.region.outer, ...found.region.holes].map((ring) => ring.length),
      );
      expect(found.u[0]![0]).toBeCloseTo(sent.u[0]![0]!, 5);
      expect({ id: found.id, at: found.at, blank: found.blank, hidden: found.hidden }).toEqual({
        id: sent.id,
        at: sent.at,
        blank: sent.blank,
        hidden: sent.hidden,
      });
    });
  });

  it('has the form of RFC 7946: rings closed, outer ones counter-clockwise', () => {
    const value = JSON.parse(new TextDecoder().decode(bytes)) as { [key: string]: unknown };
    expect(value.type).toBe('FeatureCollection');
    for (const { geometry, properties } of features(value)) {
      expect(geometry.type).toBe('Polygon');
      geometry.coordinates.forEach((ring, k) => {
        expect(ring[0]).toEqual(ring[ring.length - 1]);
        const twice = ring
          .slice(0, -1)
          .reduce((sum, [x, y], i) => sum + x! * ring[i + 1]![1]! - ring[i + 1]![0]! * y!, 0);
        expect(twice > 0).toBe(k === 0);
      });
      expect(Object.keys(properties)).toEqual(
        expect.arrayContaining(['id', 'blank', 'at', 'u_mm', 'hidden', 'rider']),
      );
    }
  });

  it('holds the reasons and no features when refused', () => {
    const value = JSON.parse(
      new TextDecoder().decode(outlineJson({ ...trace, verdict: 'refused' })),
    ) as { features: unknown[]; snugline: { reasons: unknown[]; verdict: string } };
    expect(value.features).toEqual([]);
    expect(value.snugline.reasons).toHaveLength(1);
    expect(value.snugline.verdict).toBe('refused');
  });

  it('takes one number as u, and arrays that count the repeated last position', () => {
    const one = read((v) => void (features(v)[1]!.properties.u_mm = 0.04));
    expect([...new Set(one.outlines[1]!.u.flatMap((ring) => [...ring]))]).toEqual([0.04]);
    const more = read((v) => {
      const p = features(v)[0]!.properties;
      p.u_mm = (p.u_mm as number[][]).map((ring) => [...ring, ring[0]]);
    });
    expect(more.outlines[0]!.u[0]!.length).toBe(card.outer.length);
  });

  it.each<[string, (v: { [key: string]: unknown }) => unknown, RegExp]>([
    ['no collection', () => [1, 2], /no FeatureCollection/],
    ['no block', (v) => void delete v.snugline, /"snugline" is missing/],
    ['another version', (v) => void (v.snugline = { version: 9 }), /version is 9, not 1/],
    [
      'unknown verdict',
      (v) => void (v.snugline = { version: 1, verdict: 'fine' }),
      /verdict "fine"/,
    ],
    [
      'a line',
      (v) => void (features(v)[0]!.geometry.type = 'LineString'),
      /feature 1 is no Polygon/,
    ],
    [
      'a word as figure',
      (v) => void ((features(v)[0]!.geometry.coordinates[0]![4] as unknown[])[0] = 'x'),
      /ring 1 has a position that is no pair/,
    ],
    [
      'clockwise',
      (v) => void features(v)[0]!.geometry.coordinates[0]!.reverse(),
      /runs the wrong way/,
    ],
    [
      'two points',
      (v) => void features(v)[0]!.geometry.coordinates[0]!.splice(2),
      /fewer than three/,
    ],
    [
      'a bow tie',
      (v) =>
        void (features(v)[0]!.geometry.coordinates[0] = [
          [0, 0],
          [10, 10],
          [10, 0],
          [0, 12],
        ]),
      /crosses itself|runs the wrong way/,
    ],
    ['u too short', (v) => void (features(v)[0]!.properties.u_mm = [[0.1]]), /u_mm is neither/],
    ['negative u', (v) => void (features(v)[0]!.properties.u_mm = -1), /u_mm is neither/],
    ['unknown place', (v) => void (features(v)[0]!.properties.at = 'top'), /at "top" is none of/],
    ['blank 0', (v) => void (features(v)[0]!.properties.blank = 0), /no blank number/],
    ['the same id twice', (v) => void (features(v)[1]!.properties.id = '1-face'), /two features/],
  ])('refuses %s with a sentence', (_, change, words) => {
    expect(() => read(change)).toThrow(Refusal);
    expect(() => read(change)).toThrow(words);
    expect(() => read(change)).toThrow(/Give the outline\.json/);
  });

  it('refuses bytes that are no JSON', () => {
    for (const bad of [new Uint8Array(), new Uint8Array([0xff, 0xfe, 0]), new Uint8Array([123])]) {
      expect(() => readOutlineJson(bad, 'x.json')).toThrow(/x\.json cannot be read.*not JSON/);
    }
  });
});

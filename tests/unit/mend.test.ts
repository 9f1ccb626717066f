import { describe, expect, it } from 'vitest';
import { measure } from '../../src/check/feature.ts';
import { improve } from '../../src/check/improve.ts';
import { INSTRUMENTS } from '../../src/check/reading.ts';
import { flatten } from '../../src/geometry/curve.ts';
import { centroid, perimeter, regionArea, signedArea } from '../../src/geometry/measure.ts';
import { Nearest } from '../../src/geometry/nearest.ts';
import type { Region, Ring } from '../../src/geometry/shape.ts';
import { newJob, readJob, writeJob } from '../../src/job/job.ts';
import { outlineJson, readOutlineJson } from '../../src/files/outline-json.ts';
import { mended, offers, type Mend } from '../../src/outline/mend.ts';
import type { Outline, Trace } from '../../src/outline/outline.ts';
import { divided, seenFromBehind } from '../../src/outline/trace.ts';
import { pictureOf } from '../../src/view/model.ts';
import type { Camera } from '../../src/view/view.ts';
import { card, modeOf, outlineOf, plaque } from '../outlines.ts';
import { sampled } from '../shapes.ts';

/** A camera 303 mm straight above, 10 px to the mm on a face 3 mm up; pictures have y down. */
const eye: Camera = {
  fPx: 3000,
  cxPx: 2000,
  cyPx: 1500,
  k1: 0,
  k2: 0,
  p1: 0,
  p2: 0,
  rotation: [1, 0, 0, 0, -1, 0, 0, 0, -1],
  centre: [100, 130, 303],
};
const eyes = new Map([['a', eye]]);
const px = (x: number, y: number): { x: number; y: number } => pictureOf(eye, x, y, 3);
const traceOf = (...outlines: Outline[]): Trace => ({ outlines, verdict: 'ok', reasons: [] });
const close = (region: Region<'sheet'>): Region<'sheet'> => ({
  outer: divided(region.outer),
  holes: region.holes.map(divided),
});

/** The card of ISO/IEC 7810 with a crumb of 3 mm, 1.5 mm high, at its lower edge: 85.60 x 53.98, R 3.18 at (60, 100). */
const crumbed: Ring<'sheet'> = (() => {
  const bump = Array.from({ length: 31 }, (_, k) => ({
    x: 95 + (3 * k) / 30,
    y: 100 - 1.5 * Math.sin((Math.PI * k) / 30),
  }));
  const at = card.outer.findIndex((p, k) => {
    const q = card.outer[(k + 1) % card.outer.length]!;
    return Math.abs(p.y - 100) < 1e-9 && Math.abs(q.y - 100) < 1e-9 && q.x > p.x;
  });
  return [...card.outer.slice(0, at + 1), ...bump, ...card.outer.slice(at + 1)];
})();
const stretch = (...points: [number, number][]): Mend => ({
  picture: 'a',
  kind: 'stretch',
  points: points.map(([x, y]) => px(x, y)),
  straight: true,
  uPx: 2,
});

describe('a stretch drawn by hand', () => {
  const before = outlineOf(close({ outer: crumbed, holes: [] }), { edgeU: 0.02 });
  const { trace, effects } = mended(traceOf(before), [stretch([93, 100], [100, 100])], eyes);
  const after = trace.outlines[0]!;

  it('takes a crumb off: the area is that of the card (ISO/IEC 7810 ID-1)', () => {
    // 85.60 x 53.98 - (4 - pi) 3.18² = 4612.0074 mm².
    expect(Math.abs(regionArea(before.region) - 4612.0074)).toBeGreaterThan(2);
    expect(Math.abs(regionArea(after.region) - 4612.0074)).toBeLessThan(0.1);
    expect(Math.abs(signedArea(flatten(after.curves.outer, 1e-4)) - 4612.0074)).toBeLessThan(0.1);
  });

  it('says how far the edge moved, and that it is beyond its U', () => {
    const [effect] = effects;
    expect(effect).toMatchObject({ blank: 1 });
    if (!effect || 'lost' in effect) throw new Error('lost');
    expect(effect.movedMm).toBeCloseTo(1.5, 1);
    expect(effect.lengthMm).toBeCloseTo(7, 1);
    expect(effect.movedMm).toBeGreaterThan(effect.U);
    expect(trace.verdict).toBe('doubtful');
    expect(trace.reasons.map((r) => r.code)).toEqual(['drawn-by-hand']);
  });

  it('is marked, with the uncertainty of the hand, and stands in the budget of what is measured over it', () => {
    expect(after.byHand).toHaveLength(1);
    const { ring, from, to } = after.byHand![0]!;
    expect(ring).toBe(0);
    const middle = Math.floor((from + to) / 2);
    // 2 px at 10 px to the mm.
    expect(after.u[0]![middle]!).toBeCloseTo(0.2, 2);
    expect(Math.min(...after.u[0]!)).toBeLessThan(0.05);
    const sheet = { x: after.region.outer[middle]!.x, y: 130 };
    const c = centroid(after.region.outer);
    const across = measure(after, {
      kind: 'edges',
      a: { x: sheet.x - c.x, y: 100 - c.y },
      b: { x: sheet.x - c.x, y: 153.98 - c.y },
    });
    expect(across.valueMm).toBeCloseTo(53.98, 1);
    expect(across.budget[0]!.source).toBe('by hand');
    expect(across.u).toBeGreaterThan(0.19);
  });

  it('is written to outline files and read from them', () => {
    const read = readOutlineJson(outlineJson(trace), 'x.json');
    expect(read.outlines[0]!.byHand).toEqual(after.byHand);
  });

  it('can be corrected by a reading across it, on all outlines of the blank', () => {
    const widest = outlineOf(close({ outer: crumbed, holes: [] }), {
      at: 'widest',
      id: '1-widest',
    });
    const lower = modeOf(before.region, 'widest height', () => [0, 0.1]);
    const both = [widest, { ...before, modes: [...before.modes, lower] }];
    // Drawn 0.3 mm too low: the caliper over it knows better.
    const low = stretch([80, 100], [85, 99.7], [110, 99.7], [115, 100]);
    const { trace: wrong } = mended(traceOf(...both), [low], eyes);
    const seat = wrong.outlines[0]!;
    const c = centroid(seat.region.outer);
    const feature = {
      kind: 'edges' as const,
      a: { x: 97 - c.x, y: 99.7 - c.y },
      b: { x: 97 - c.x, y: 153.98 - c.y },
    };
    const reading = {
      blank: 1,
      feature,
      valuesMm: [53.98],
      with: 'caliper' as const,
      use: 'fit' as const,
    };
    const { trace: right } = improve(wrong, [seat], [reading], INSTRUMENTS);
    expect(measure(seat, feature).valueMm).toBeCloseTo(54.28, 1);
    expect(measure(right.outlines[0]!, feature).valueMm).toBeCloseTo(53.98, 1);
    expect(measure(right.outlines[0]!, feature).u).toBeLessThan(0.06);
    expect(right.outlines).toHaveLength(2);
  });

  it('goes the way round that the hand went', () => {
    // Round the right end of the card, far outside: a new end.
    const round = stretch([140, 100], [149, 101], [149, 153], [140, 153.98]);
    const wide = mended(traceOf(before), [round], eyes).trace.outlines[0]!;
    expect(Math.max(...wide.region.outer.map((p) => p.x))).toBeCloseTo(149, 1);
    expect(Math.min(...wide.region.outer.map((p) => p.x))).toBeCloseTo(60, 1);
  });

  it('is tangent to the edge where it is smooth', () => {
    const smooth: Mend = {
      ...stretch([93, 100], [96.5, 100], [100, 100]),
      straight: false,
    } as Mend;
    const { region } = mended(traceOf(before), [smooth], eyes).trace.outlines[0]!;
    const low = region.outer.filter((p) => p.x > 90 && p.x < 104 && p.y < 105);
    expect(Math.max(...low.map((p) => Math.abs(p.y - 100)))).toBeLessThan(0.01);
  });

  it('moves with the outline when the face lies higher, for it was drawn on the picture', () => {
    const higher = { ...before, heightMm: 4 };
    const moved = mended(traceOf(higher), [stretch([93, 100], [100, 100])], eyes).effects[0]!;
    // Its ends now lie some tenths off the edge, which counts as doubt of the hand.
    expect('lost' in moved).toBe(false);
  });

  it('is left out, and said, where no edge is any more, or where it would cross it', () => {
    const far = mended(traceOf(before), [stretch([10, 10], [20, 10])], eyes);
    expect(far.trace.outlines[0]).toBe(before);
    expect(far.effects[0]).toMatchObject({ lost: { code: 'mend-lost' } });
    expect(far.trace.verdict).toBe('doubtful');
    const across = stretch([93, 100], [100, 170], [110, 100]);
    expect(mended(traceOf(before), [across], eyes).effects[0]).toMatchObject({
      lost: { code: 'mend-lost' },
    });
    expect(
      mended(traceOf(before), [stretch([93, 100], [100, 100])], new Map()).effects[0],
    ).toMatchObject({ lost: { code: 'mend-lost' } });
  });

  it('comes to the same on a blank that is seen from its back', () => {
    const axis = centroid(before.region.outer).x;
    const back = mended(
      traceOf(seenFromBehind(before, axis)),
      [stretch([93, 100], [100, 100])],
      eyes,
    ).trace.outlines[0]!;
    expect(back.mirrored).toBe(true);
    expect(regionArea(back.region)).toBeCloseTo(regionArea(after.region), 6);
    const turned = seenFromBehind(back, centroid(back.region.outer).x).region.outer;
    const near = new Nearest([after.region.outer], 1);
    expect(Math.max(...turned.map((p) => near.distance(p.x, p.y)))).toBeLessThan(1e-6);
  });
});

describe('holes and blanks', () => {
  const before = outlineOf(close(plaque));
  it('a closed hole is gone, the edge stays as it was', () => {
    const { trace } = mended(
      traceOf(before),
      [{ picture: 'a', kind: 'close', at: px(111, 168) }],
      eyes,
    );
    const [after] = trace.outlines;
    expect(after!.region.holes).toEqual([]);
    expect(after!.curves.holes).toEqual([]);
    expect(after!.u).toHaveLength(1);
    for (const { dx } of after!.modes) expect(dx).toHaveLength(after!.region.outer.length);
    expect(regionArea(after!.region)).toBeCloseTo(Math.abs(signedArea(before.region.outer)), 6);
    expect(trace.verdict).toBe('ok');
  });
  it('a blank that is none is left out, the others keep their numbers', () => {
    const other = outlineOf(
      close({ outer: card.outer.map((p) => ({ x: p.x, y: p.y - 90 })), holes: [] }),
      {
        blank: 2,
        id: '2-face',
      },
    );
    const { trace } = mended(
      traceOf(before, other),
      [{ picture: 'a', kind: 'drop', at: px(110, 150) }],
      eyes,
    );
    expect(trace.outlines).toEqual([other]);
  });
});

describe('regular shapes', () => {
  let state = 7;
  const noise = (): number => (state = (state * 16807) % 2147483647) / 2147483647 - 0.5;
  const rough = (ring: Ring<'sheet'>, mm: number): Ring<'sheet'> =>
    ring.map((p) => ({ x: p.x + mm * noise(), y: p.y + mm * noise() }));
  const made = (
    outer: Ring<'sheet'>,
    shape: 'circle' | 'rounded rectangle' | 'symmetric',
  ): Outline => {
    const p = outer[0]!;
    const mend: Mend = { picture: 'a', kind: 'regular', at: px(p.x, p.y), shape };
    const { trace, effects } = mended(traceOf(outlineOf({ outer, holes: [] })), [mend], eyes);
    expect(effects[0]).not.toHaveProperty('lost');
    return trace.outlines[0]!;
  };

  it('a rough circle becomes one of its radius', () => {
    const ring = rough(
      sampled(400, (t) => [110 + 20 * Math.cos(t), 120 + 20 * Math.sin(t)]),
      0.02,
    );
    const { curves, region } = made(ring, 'circle');
    expect(curves.outer.segments.map((s) => s.kind)).toEqual(['arc', 'arc']);
    expect(perimeter(region.outer) / (2 * Math.PI)).toBeCloseTo(20, 2);
  });

  it('a rough card becomes the card (ISO/IEC 7810 ID-1), whichever way it lies', () => {
    for (const turn of [0, 0.3, 1.2]) {
      const [c, s] = [Math.cos(turn), Math.sin(turn)];
      const ring = rough(
        divided(card.outer).map((p) => ({
          x: 110 + c * (p.x - 100) - s * (p.y - 120),
          y: 125 + s * (p.x - 100) + c * (p.y - 120),
        })),
        0.02,
      );
      const { curves } = made(ring, 'rounded rectangle');
      expect(curves.outer.segments.map((x) => x.kind).join(' ')).toBe(
        'line arc line arc line arc line arc',
      );
      const fine = flatten(curves.outer, 1e-4);
      expect(Math.abs(signedArea(fine) - 4612.0074)).toBeLessThan(1);
      // P = 2 (w + h) - (8 - 2 pi) r = 273.7005 mm.
      expect(Math.abs(perimeter(fine) - 273.7005)).toBeLessThan(0.1);
    }
  });

  it('what is nearly symmetric becomes symmetric, and no worse than that', () => {
    const ring = rough(
      sampled(900, (t) => {
        const r = 30 + 5 * Math.cos(3 * t) + 2 * Math.cos(t);
        const [x, y] = [r * Math.cos(t), r * Math.sin(t)];
        return [
          110 + x * Math.cos(0.4) - y * Math.sin(0.4),
          130 + x * Math.sin(0.4) + y * Math.cos(0.4),
        ];
      }),
      0.01,
    );
    const { region } = made(ring, 'symmetric');
    const c = centroid(region.outer);
    // The shape's own axis lies at 0.4 rad.
    const n = { x: -Math.sin(0.4), y: Math.cos(0.4) };
    const near = new Nearest([region.outer], 1);
    const off = region.outer.map((p) => {
      const d = (p.x - c.x) * n.x + (p.y - c.y) * n.y;
      return near.distance(p.x - 2 * d * n.x, p.y - 2 * d * n.y);
    });
    expect(Math.max(...off)).toBeLessThan(0.02);
    const was = new Nearest([ring], 1);
    expect(Math.max(...region.outer.map((p) => was.distance(p.x, p.y)))).toBeLessThan(0.03);
  });

  it('are offered where the edge comes near to them, with how far it would move', () => {
    const ring = sampled(400, (t) => [110 + 20 * Math.cos(t), 120 + 20.1 * Math.sin(t)]);
    const [first, ...rest] = offers(outlineOf({ outer: ring, holes: [] }));
    const circle = [first!, ...rest].find((o) => o.shape === 'circle')!;
    expect(circle.movedMm).toBeCloseTo(0.05, 2);
    expect(circle.movedMm < circle.U).toBe(true);
    expect([first!, ...rest].some((o) => o.shape === 'rounded rectangle')).toBe(false);
    expect(offers(outlineOf(close(plaque))).some((o) => o.shape === 'circle' && o.ring === 0)).toBe(
      false,
    );
  });
});

describe('mends in a job', () => {
  const job = { ...newJob('S-1', 'a'), mends: [stretch([93, 100], [100, 100])] };
  it('are kept in its file', () => {
    expect(readJob(writeJob(job)).mends).toEqual(job.mends);
    // JSON leaves out what is undefined: a file of before.
    const older = JSON.stringify({ ...job, mends: undefined });
    expect(readJob(older).mends).toEqual([]);
  });
  it.each([
    [{ picture: 'a', kind: 'stretch', points: [{ x: 1, y: 1 }], straight: true, uPx: 2 }],
    [
      {
        picture: 'a',
        kind: 'stretch',
        points: [
          { x: 1, y: 1 },
          { x: 'b', y: 1 },
        ],
        straight: true,
        uPx: 2,
      },
    ],
    [
      {
        picture: 'a',
        kind: 'stretch',
        points: [
          { x: 1, y: 1 },
          { x: 2, y: 1 },
        ],
        straight: true,
        uPx: 0,
      },
    ],
    [{ kind: 'close', at: { x: 1, y: 1 } }],
    [{ picture: 'a', kind: 'drop', at: null }],
    [{ picture: 'a', kind: 'regular', at: { x: 1, y: 1 }, shape: 'heart' }],
    [{ picture: 'a', kind: 'other' }],
  ])('are refused where they cannot be read: %j', (mend) => {
    expect(() => readJob(JSON.stringify({ ...job, mends: [mend] }))).toThrow(/mends/);
  });
});

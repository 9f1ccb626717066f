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
    const turned = seenFromBehind(back, axis).region.outer;
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

describe('blanks that touch, and a blank that was seen as two', () => {
  const rectangle = (x0: number, x1: number): Ring<'sheet'> => [
    { x: x0, y: 100 },
    { x: x1, y: 100 },
    { x: x1, y: 140 },
    { x: x0, y: 140 },
  ];
  const hand = { picture: 'a', straight: true, uPx: 2 } as const;
  const spots = (...points: [number, number][]): { x: number; y: number }[] =>
    points.map(([x, y]) => px(x, y));
  const whole = outlineOf(
    close({
      outer: rectangle(60, 140),
      holes: [sampled(60, (t) => [120 + 4 * Math.cos(t), 120 - 4 * Math.sin(t)])],
    }),
    { edgeU: 0.02 },
  );

  it('one is divided along a line: both halves have their area, the hole its side, the line its U', () => {
    const mend: Mend = { ...hand, kind: 'split', points: spots([100, 99.5], [100, 141]) };
    const { trace, effects } = mended(traceOf(whole), [mend], eyes);
    const [left, right] = trace.outlines as [Outline, Outline];
    expect(trace.outlines.map((o) => [o.blank, o.id])).toEqual([
      [1, '1-face'],
      [2, 'blank-2-face'],
    ]);
    expect(regionArea(left.region)).toBeCloseTo(40 * 40, 2);
    expect(regionArea(right.region)).toBeCloseTo(
      40 * 40 - Math.abs(signedArea(whole.region.holes[0]!)),
      2,
    );
    expect([left, right].map((o) => o.region.holes.length)).toEqual([0, 1]);
    for (const o of [left, right]) {
      const [drawn] = o.byHand!;
      const at = o.region.outer[Math.floor((drawn!.from + drawn!.to) / 2) % o.region.outer.length]!;
      expect(at.x).toBeCloseTo(100, 6);
      expect(Math.max(...o.u[0]!)).toBeCloseTo(0.2, 2);
      expect(Math.min(...o.u[0]!)).toBeLessThan(0.05);
      for (const { dx } of o.modes)
        expect(dx).toHaveLength([o.region.outer, ...o.region.holes].flat().length);
    }
    expect(effects[0]).toMatchObject({ blank: 1, other: 2 });
    expect(trace.reasons.map((r) => r.code)).toEqual(['divided-by-hand']);
    expect(trace.verdict).toBe('doubtful');
    // Through the hole it cannot go, and not along the edge.
    for (const points of [spots([120, 99], [120, 141]), spots([60, 100.1], [140, 100.1])])
      expect(mended(traceOf(whole), [{ ...mend, points }], eyes).effects[0]).toMatchObject({
        lost: { code: 'mend-lost' },
      });
  });

  it('two are joined by the two edges that were missing, whichever is drawn first and from wherever', () => {
    const a = outlineOf(close({ outer: rectangle(60, 98), holes: [] }), { edgeU: 0.02 });
    const b = outlineOf(
      close({
        outer: rectangle(102, 140),
        holes: [sampled(60, (t) => [120 + 4 * Math.cos(t), 120 - 4 * Math.sin(t)])],
      }),
      { blank: 2, id: '2-face', edgeU: 0.02 },
    );
    const low = spots([98, 100], [102, 100]);
    const high = spots([102, 140], [98, 140]);
    for (const [points, back] of [
      [low, high],
      [high, low],
      [[...low].reverse(), high],
    ] as const) {
      const mend: Mend = { ...hand, kind: 'join', points, back };
      const { trace } = mended(traceOf(a, b), [mend], eyes);
      expect(trace.outlines).toHaveLength(1);
      const [one] = trace.outlines;
      expect(regionArea(one!.region)).toBeCloseTo(regionArea(whole.region), 1);
      expect(one!.byHand).toHaveLength(2);
      expect(trace.reasons[0]).toMatchObject({
        code: 'joined-by-hand',
        facts: { lengthMm: '8.0', uMm: '0.40' },
      });
      // Its length is known by both blanks' edges and by no hand.
      const across = measure(one!, {
        kind: 'across',
        directionRad: 0,
      });
      expect(across.valueMm).toBeCloseTo(80, 6);
      expect(across.u).toBeLessThan(0.05);
    }
    const other = { ...b, heightMm: 9 };
    expect(
      mended(traceOf(a, other), [{ ...hand, kind: 'join', points: low, back: high }], eyes)
        .effects[0],
    ).toMatchObject({ lost: { code: 'mend-lost' } });
  });

  it('what is divided and joined again is as large as before', () => {
    const apart: Mend = { ...hand, kind: 'split', points: spots([100, 100], [100, 140]) };
    const again: Mend = {
      ...hand,
      kind: 'join',
      points: spots([99, 100], [101, 100]),
      back: spots([101, 140], [99, 140]),
    };
    const { trace } = mended(traceOf(whole), [apart, again], eyes);
    expect(trace.outlines.map((o) => o.blank)).toEqual([1]);
    expect(regionArea(trace.outlines[0]!.region)).toBeCloseTo(regionArea(whole.region), 1);
  });

  it('are divided as well where the picture shows the back', () => {
    const back = seenFromBehind(whole, centroid(whole.region.outer).x);
    const mend: Mend = { ...hand, kind: 'split', points: spots([90, 100], [90, 140]) };
    const halves = mended(traceOf(back), [mend], eyes).trace.outlines;
    expect(halves.map((o) => o.mirrored)).toEqual([true, true]);
    expect(regionArea(halves[0]!.region)).toBeCloseTo(30 * 40, 2);
  });

  it('a node is moved: its neighbours stay, corners stay corners', () => {
    const node = (
      from: [number, number],
      at: [number, number],
      till: [number, number],
      to: [number, number],
    ): Mend => ({
      picture: 'a',
      kind: 'node',
      from: px(...from),
      at: px(...at),
      till: px(...till),
      to: px(...to),
      uPx: 1,
    });
    const square = outlineOf({ outer: rectangle(60, 140), holes: [] });
    const move = node([60, 100], [140, 100], [140, 140], [142, 99]);
    const { trace, effects } = mended(traceOf(square), [move], eyes);
    const [o] = trace.outlines;
    // Shoelace of (60, 100) (142, 99) (140, 140) (60, 140).
    expect(regionArea(o!.region)).toBeCloseTo(3280, 3);
    expect(o!.curves.outer.segments.map((s) => s.kind)).toEqual(['line', 'line', 'line', 'line']);
    expect(effects[0]).toMatchObject({ blank: 1 });
    expect((effects[0] as { movedMm: number }).movedMm).toBeCloseTo(Math.hypot(2, 1), 1);
    expect(trace.reasons[0]!.code).toBe('drawn-by-hand');
    // 1 px at 10 px to the mm.
    expect(Math.max(...o!.u[0]!)).toBeCloseTo(0.1, 2);

    // A place of an arc between two nodes: the ends keep their direction, the place its own.
    const r = 20;
    const disc = {
      ...outlineOf({
        outer: sampled(360, (t) => [100 + r * Math.cos(t), 120 + r * Math.sin(t)]),
        holes: [],
      }),
      curves: {
        outer: {
          start: { x: 100 + r, y: 120 },
          segments: [Math.PI, 2 * Math.PI].map((a) => ({
            kind: 'arc' as const,
            centre: { x: 100, y: 120 },
            sweepRad: Math.PI,
            to: { x: 100 + r * Math.cos(a), y: 120 + r * Math.sin(a) },
          })),
        },
        holes: [],
      },
    };
    const top: [number, number] = [100, 120 + r];
    const still = mended(traceOf(disc), [node([100 + r, 120], top, [100 - r, 120], top)], eyes);
    expect(regionArea(still.trace.outlines[0]!.region)).toBeCloseTo(Math.PI * r * r, 0);
    expect((still.effects[0] as { movedMm: number }).movedMm).toBeLessThan(0.003);
    const up = mended(
      traceOf(disc),
      [node([100 + r, 120], top, [100 - r, 120], [100, 120 + r + 1])],
      eyes,
    ).trace.outlines[0]!;
    const { outer } = up.region;
    expect(Math.max(...outer.map((p) => p.y))).toBeCloseTo(141, 2);
    const turns = outer.map((p, k) => {
      const [a, b] = [outer.at(k - 1)!, outer[(k + 1) % outer.length]!];
      return Math.abs(
        Math.atan2(
          (p.x - a.x) * (b.y - p.y) - (p.y - a.y) * (b.x - p.x),
          (p.x - a.x) * (b.x - p.x) + (p.y - a.y) * (b.y - p.y),
        ),
      );
    });
    expect(Math.max(...turns)).toBeLessThan(0.1);
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
    [{ picture: 'a', kind: 'split', points: [{ x: 1, y: 1 }], straight: true, uPx: 2 }],
    [{ picture: 'a', kind: 'join', points: [], back: [], straight: true, uPx: 2 }],
    [{ picture: 'a', kind: 'node', at: { x: 1, y: 1 }, uPx: 2 }],
    [{ picture: 'a', kind: 'paint', as: 'shade', points: [{ x: 1, y: 1 }], radiusPx: 5 }],
  ])('are refused where they cannot be read: %j', (mend) => {
    expect(() => readJob(JSON.stringify({ ...job, mends: [mend] }))).toThrow(/mends/);
  });
});

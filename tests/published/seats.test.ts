import fc from 'fast-check';
import GeometryFactory from 'jsts/org/locationtech/jts/geom/GeometryFactory.js';
import Coordinate from 'jsts/org/locationtech/jts/geom/Coordinate.js';
import DistanceOp from 'jsts/org/locationtech/jts/operation/distance/DistanceOp.js';
import OverlayOp from 'jsts/org/locationtech/jts/operation/overlay/OverlayOp.js';
import { describe, expect, it } from 'vitest';
import { loadPdfjs } from '../../src/files/load-pdfjs-node.ts';
import { seatFiles } from '../../src/files/seat.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { aboutCentroid, boxOf, selfCrossing, signedArea } from '../../src/geometry/measure.ts';
import type { Ring } from '../../src/geometry/shape.ts';
import { bedFromBlank, zeroCorner } from '../../src/plan/plan-bed.ts';
import { DEFAULT_BED } from '../../src/job/jig.ts';
import type { ZeroCorner } from '../../src/plan/plan.ts';
import { BALL, ballSeat, capWidth, ringFor, topAboveRing } from '../../src/seat/ball.ts';
import { SEAT_KINDS, seatOf, SEATS } from '../../src/seat/kinds.ts';
import { PEGS, pegSeat, pegsRound } from '../../src/seat/pegs.ts';
import { placeFromRuler, rulerSeat } from '../../src/seat/ruler.ts';
import type { SeatSheet } from '../../src/seat/seat.ts';
import { STOP, stopSeat } from '../../src/seat/stop.ts';
import { unroll, WRAP, wrapSeat } from '../../src/seat/wrap.ts';
import { plaque } from '../outlines.ts';

/* jsts (a port of JTS, the root of GEOS) shares no code with the program. */
const factory = new GeometryFactory();
const polygon = (ring: readonly { x: number; y: number }[]) =>
  factory.createPolygon(
    factory.createLinearRing([...ring, ring[0]!].map(({ x, y }) => new Coordinate(x, y))),
    [],
  ) as { getArea(): number };
const layer = (s: SeatSheet, name: string): readonly Ring<'bed'>[] =>
  s.layers.find((l) => l.name === name)!.closed ?? [];
const length = (points: readonly { x: number; y: number }[]): number =>
  points
    .slice(1)
    .reduce((sum, p, k) => sum + Math.hypot(p.x - points[k]!.x, p.y - points[k]!.y), 0);
const ring = aboutCentroid(plaque.outer);

describe('a ball in a ring', () => {
  // 2 sqrt(D g - g²) by the trade's formula; the chord of a circle at a depth g (Euclid III.35: product of the parts g and D - g).
  it.each([
    [42.7, 2, 18.0444],
    [40, 1, 12.49],
    [57.2, 3, 25.5],
    [50, 25, 50],
  ])('of %d mm has, down to %d mm, a cap of %d mm', (ballMm, gapMm, capMm) => {
    expect(capWidth(ballMm, gapMm)).toBeCloseTo(capMm, 2);
    expect((capWidth(ballMm, gapMm) / 2) ** 2).toBeCloseTo(gapMm * (ballMm - gapMm), 9);
  });

  it('touches the ring’s upper edge, and height and ring give each other back', () => {
    const number = fc.double({ min: 0.05, max: 0.98, noNaN: true });
    fc.assert(
      fc.property(fc.double({ min: 5, max: 200, noNaN: true }), number, (ballMm, share) => {
        const ringMm = share * ballMm;
        const top = topAboveRing(ballMm, ringMm);
        // The ball's middle is as far from the edge as its radius.
        expect(Math.hypot(ringMm / 2, top - ballMm / 2)).toBeCloseTo(ballMm / 2, 9);
        expect(ringFor(ballMm, top)).toBeCloseTo(ringMm, 6);
      }),
    );
    expect(() => topAboveRing(40, 40)).toThrow(/does not rest/);
    expect(() => capWidth(40, 21)).toThrow(/no cap/);
  });

  it('its section is drawn so, and its array keeps the balls apart', () => {
    const seat = ballSeat(BALL);
    const item = seat.section.find((s) => s.line === 'item')!.points;
    const box = boxOf(item);
    const middle = { x: (box.left + box.right) / 2, y: (box.top + box.bottom) / 2 };
    for (const { points } of seat.section.filter((s) => s.line === 'board')) {
      const near = Math.min(...points.map((p) => Math.hypot(p.x - middle.x, p.y - middle.y)));
      expect(near).toBeCloseTo(BALL.ballMm / 2, 2);
      expect(DistanceOp.distance(polygon(item), polygon(points))).toBeLessThan(0.01);
    }
    const centres = layer(seat, 'pocket')
      .map((r) => boxOf(r))
      .map((b) => [b.left + b.right, b.top + b.bottom].map((v) => v / 2));
    expect(centres).toHaveLength(6);
    const apart = centres.flatMap((a, i) =>
      centres.slice(i + 1).map((b) => Math.hypot(a[0]! - b[0]!, a[1]! - b[1]!)),
    );
    expect(Math.min(...apart)).toBeCloseTo(BALL.ballMm + BALL.apartMm, 2);
    const [wall] = layer(seat, 'pocket');
    const [cut] = layer(seat, 'cut');
    expect((boxOf(wall!).right - boxOf(cut!).right) / BALL.toolMm).toBeCloseTo(1, 2);
  });

  it('says what is wrong: it rolls, wedges, rests on the table', () => {
    const codes = (patch: Partial<typeof BALL>) =>
      ballSeat({ ...BALL, ...patch }).reasons.map(({ code }) => code);
    expect(codes({})).toEqual([]);
    expect(codes({ ringMm: 15 })).toEqual(['ring-narrow']);
    expect(codes({ ringMm: 41 })).toEqual(['ring-wide']);
    expect(codes({ underMm: 0, plateMm: 1 })).toEqual(['ball-on-table']);
  });
});

describe('a wrap', () => {
  it('of a cylinder is pi D by its height, with the sheet bent about its middle', () => {
    const flat = unroll({ ...WRAP, topMm: 82, footMm: 82 });
    expect(flat.sector).toBeUndefined();
    expect(flat.topRoundMm).toBeCloseTo(257.6106, 4);
    expect(unroll({ ...WRAP, sheetMm: 0.5 }).topRoundMm).toBeCloseTo(Math.PI * 82.5, 9);
    const seat = wrapSeat(WRAP);
    expect(Math.abs(signedArea(layer(seat, 'print')[0]!))).toBeCloseTo(Math.PI * 82 * 90, 6);
    expect(Math.abs(signedArea(layer(seat, 'overlap')[0]!))).toBeCloseTo(3 * 90, 6);
  });

  // Lateral area of a frustum, pi (R + r) s: textbook geometry. The drawn edges must be as long as the ware is round.
  it.each([
    [90, 60, 110],
    [60, 90, 110],
    [80, 78, 90],
  ])(
    'of a cone %d above, %d at the foot, %d high keeps lengths and area',
    (topMm, footMm, heightMm) => {
      const s = { topMm, footMm, heightMm, overlapMm: 0, sheetMm: 0 };
      const seat = wrapSeat(s);
      const [print] = layer(seat, 'print');
      // The two leaning sides are the longest; the edges are chords of arcs.
      const steps = print!
        .slice(1)
        .map((p, k) => Math.hypot(p.x - print![k]!.x, p.y - print![k]!.y));
      const half = steps.indexOf(Math.max(...steps)) + 1;
      const [wide, narrow] = [print!.slice(0, half), print!.slice(half)];
      const slant = Math.hypot(heightMm, (topMm - footMm) / 2);
      expect(Math.abs(length(wide) / (Math.PI * Math.max(topMm, footMm)) - 1)).toBeLessThan(2e-5);
      expect(Math.abs(length(narrow) / (Math.PI * Math.min(topMm, footMm)) - 1)).toBeLessThan(2e-5);
      const area = (Math.PI * (topMm + footMm) * slant) / 2;
      expect(Math.abs(Math.abs(signedArea(print!)) / area - 1)).toBeLessThan(5e-5);
      // Every straight line from edge to edge is as long as the wall leans.
      expect(Math.hypot(wide[0]!.x - narrow.at(-1)!.x, wide[0]!.y - narrow.at(-1)!.y)).toBeCloseTo(
        slant,
        9,
      );
      // The wide edge is above where the ware is wide above.
      const up = boxOf(wide).top > boxOf(narrow).top;
      expect(up).toBe(topMm > footMm);
    },
  );
});

describe('a corner stop', () => {
  it.each(['bottom-left', 'bottom-right', 'top-left', 'top-right'] as ZeroCorner[])(
    'at %s touches the item along both arms and nowhere runs into it',
    (zero) => {
      const bed = { ...DEFAULT_BED, zero };
      const seat = stopSeat(STOP, bed);
      const [stop] = layer(seat, 'cut');
      const [item] = layer(seat, 'print');
      expect(signedArea(stop!)).toBeGreaterThan(0);
      expect(signedArea(item!)).toBeCloseTo(STOP.itemWidthMm * STOP.itemDepthMm, 6);
      expect(DistanceOp.distance(polygon(stop!), polygon(item!))).toBeLessThan(1e-9);
      expect(OverlayOp.intersection(polygon(stop!), polygon(item!)).getArea()).toBeLessThan(1e-6);
      const z = zeroCorner(bed);
      const near = item!.map((p) => [Math.abs(p.x - z.x), Math.abs(p.y - z.y)]);
      expect(near.some(([x, y]) => x === STOP.armMm && y === STOP.armMm)).toBe(true);
      // The item's corner stands free: a disc of the hollow's radius round it touches no stop but at its rim.
      const corner = polygon(
        [
          [0, 0],
          [1e-6, 0],
          [0, 1e-6],
        ].map(([x, y]) => ({
          x: z.x + Math.sign(bed.widthMm / 2 - z.x) * STOP.armMm + x!,
          y: z.y + Math.sign(bed.depthMm / 2 - z.y) * STOP.armMm + y!,
        })),
      );
      expect(DistanceOp.distance(polygon(stop!), corner)).toBeGreaterThan(STOP.hollowMm - 0.01);
    },
  );

  it('is refused where it is higher than the item or reaches beyond the bed', () => {
    const codes = (patch: Partial<typeof STOP>) =>
      stopSeat({ ...STOP, ...patch }, DEFAULT_BED).reasons.map(({ code }) => code);
    expect(codes({})).toEqual([]);
    expect(codes({ stopMm: 6 })).toEqual(['stop-too-high']);
    expect(codes({ itemWidthMm: 410 })).toEqual(['stop-beyond']);
    expect(codes({ reachMm: 120 })).toEqual(['stop-long']);
  });
});

describe('a bed ruler', () => {
  it.each(['bottom-left', 'top-right'] as ZeroCorner[])('counts from zero at %s', (zero) => {
    const bed = { ...DEFAULT_BED, zero };
    const marks = rulerSeat(bed).layers[0]!;
    const z = zeroCorner(bed);
    const across = marks.open!.slice(0, 420);
    across.forEach(([p], k) => expect(Math.abs(p!.x - z.x)).toBe(k + 1));
    expect(marks.open).toHaveLength(420 + 297);
    expect(marks.words!.map((w) => w.words).slice(0, 3)).toEqual(['10', '20', '30']);
  });

  it('a place that is read off it puts the blank’s edges there', () => {
    for (const zero of ['bottom-left', 'bottom-right', 'top-left', 'top-right'] as ZeroCorner[])
      for (const turnDeg of [0, 35, 270]) {
        const bed = { ...DEFAULT_BED, zero };
        const turned = boxOf(ring.map(bedFromBlank({ x: 0, y: 0, turnDeg, mirrored: false })));
        const at = placeFromRuler(turned, [61.5, 40.25], bed);
        const lies = boxOf(ring.map(bedFromBlank({ ...at, turnDeg, mirrored: false })));
        const across = zero.endsWith('left') ? lies.left : bed.widthMm - lies.right;
        const inDepth = zero.startsWith('bottom') ? lies.bottom : bed.depthMm - lies.top;
        expect(across).toBeCloseTo(61.5, 5);
        expect(inDepth).toBeCloseTo(40.25, 5);
      }
  });
});

describe('pegs of a grid', () => {
  it('stand clear of the blank, and stop it where they say', () => {
    const { pegs, offset, playMm } = pegsRound(ring, PEGS);
    const blank = polygon(ring);
    const r = PEGS.pegMm / 2;
    const away = (p: { x: number; y: number }, dx = 0, dy = 0): number =>
      DistanceOp.distance(factory.createPoint(new Coordinate(p.x - dx, p.y - dy)), blank);
    expect(pegs.length).toBeGreaterThan(4);
    for (const p of pegs) {
      expect(away(p)).toBeGreaterThan(r + PEGS.gapMm - 1e-6);
      for (const axis of ['x', 'y'] as const) {
        const steps = (p[axis] - offset[axis]) / PEGS.pitchMm;
        expect(Math.abs(steps - Math.round(steps))).toBeLessThan(1e-9);
      }
    }
    const ways = [
      [1, 0],
      [-1, 0],
      [0, 1],
      [0, -1],
    ] as const;
    ways.forEach(([x, y], k) => {
      const least = (by: number): number => Math.min(...pegs.map((p) => away(p, by * x, by * y)));
      expect(least(playMm[k]! * 0.99)).toBeGreaterThan(r - 1e-6);
      if (playMm[k]! < PEGS.pitchMm - 1e-6) expect(least(playMm[k]! + 0.01)).toBeLessThan(r);
    });
    // A square as wide as three pitches less a peg and the gaps fits between holes exactly.
    const side = 3 * PEGS.pitchMm - PEGS.pegMm - 2 * PEGS.gapMm;
    const square = [
      [-1, -1],
      [1, -1],
      [1, 1],
      [-1, 1],
    ].map(([x, y]) => ({ x: (x! * side) / 2, y: (y! * side) / 2 }));
    const held = pegsRound(square, PEGS).playMm;
    expect(held[0] + held[1]).toBeLessThan(2 * PEGS.gapMm + PEGS.pitchMm / 6);
  });

  it('says where the blank is open, and that pegs are too high', () => {
    const codes = (mm: number, patch: Partial<typeof PEGS>) =>
      pegSeat(ring, mm, { ...PEGS, ...patch }).reasons.map(({ code }) => code);
    expect(codes(3, {})).toContain('pegs-too-high');
    expect(codes(9, { pitchMm: 150, pegMm: 2 })).toContain('pegs-open');
  });
});

describe('files', () => {
  const from = {
    bed: DEFAULT_BED,
    toolMm: 0.1,
    outline: { ring, thicknessMm: 9 },
    pockets: [
      {
        id: '1',
        wall: [{ outer: ring.map(({ x, y }) => ({ x: x + 200, y: y + 140 })), holes: [] }],
        ways: [],
      },
    ],
  };
  const job = { number: 'S-1', name: 'seats' };

  it.each(SEAT_KINDS)('of %s are read back by readers that others wrote', async (kind) => {
    const sheet = seatOf(kind, SEATS, from, await loadClipper());
    const files = await seatFiles(sheet, job, await loadPdfjs());
    expect(files.slice(0, 3).map(({ proof }) => proof.reader)).toEqual([
      'dxf-parser',
      'svgpath',
      'pdf.js',
    ]);
    for (const { proof } of files) expect(proof.greatestMm).toBeLessThan(0.001);
    // The section: all of it stands on the table, an item lies in it, and no board stands in the item; but where that is soft
    // and where it is a pin in its hole.
    const of = (line: SeatSheet['section'][number]['line']) =>
      sheet.section.filter((part) => part.line === line);
    expect(of('table').length).toBeGreaterThan(0);
    expect(of(kind === 'form' ? 'print' : 'item').length).toBeGreaterThan(0);
    for (const { points, closed } of sheet.section) {
      expect(Math.min(...points.map(({ y }) => y))).toBeGreaterThan(-1e-9);
      if (closed) expect(selfCrossing(points)).toBeUndefined();
    }
    for (const item of of('item').filter(
      ({ closed }) => closed && !['nest', 'plates'].includes(kind),
    ))
      for (const board of of('board').filter(({ closed }) => closed)) {
        const both = OverlayOp.intersection(polygon(item.points), polygon(board.points)) as {
          getArea(): number;
        };
        expect(both.getArea()).toBeLessThan(0.01);
      }
  });

  it('leave no seat that is refused, and no pegs without an outline', async () => {
    const high = { ...SEATS, stop: { ...STOP, stopMm: 9 } };
    const clipper = await loadClipper();
    await expect(
      seatFiles(seatOf('stop', high, from, clipper), job, await loadPdfjs()),
    ).rejects.toThrow(/meet the stop first/);
    expect(() => seatOf('pegs', SEATS, { bed: DEFAULT_BED, toolMm: 0 }, clipper)).toThrow(
      /measured outline/,
    );
  });
});

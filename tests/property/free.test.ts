import fc from 'fast-check';
import GeometryFactory from 'jsts/org/locationtech/jts/geom/GeometryFactory.js';
import Coordinate from 'jsts/org/locationtech/jts/geom/Coordinate.js';
import DistanceOp from 'jsts/org/locationtech/jts/operation/distance/DistanceOp.js';
import { describe, expect, it } from 'vitest';
import { boxOf } from '../../src/geometry/measure.ts';
import type { Ring } from '../../src/geometry/shape.ts';
import {
  inReadingOrder,
  lightOpening,
  lyingAt,
  snapPlace,
  troubleOf,
} from '../../src/plan/free.ts';
import { bedFromBlank, keepOutRing } from '../../src/plan/plan-bed.ts';
import { turnedPlace, turnedPoint } from '../../src/plan/turned-over.ts';
import { broken, move, MOVE_BED, moves } from '../pockets/moves.ts';

/* Distances by jsts, which shares no code with the program; 2,000 moves against GEOS with `npm run pockets -- --moves`. */
const factory = new GeometryFactory();
const polygon = (ring: Ring<'bed'>): unknown =>
  factory.createPolygon(
    factory.createLinearRing([...ring, ring[0]!].map(({ x, y }) => new Coordinate(x, y))),
    [],
  );
const apart = (a: Ring<'bed'>, b: Ring<'bed'>): number =>
  DistanceOp.distance(polygon(a), polygon(b));

describe('a pocket moved by hand', () => {
  it('is drawn to what it says, keeps the wall that it says, and the live check says what jsts says', () => {
    let walls = 0;
    let guides = 0;
    let troubles = 0;
    fc.assert(
      fc.property(moves, (one) => {
        const moved = move(one);
        walls += moved.snapped.wallTo === undefined ? 0 : 1;
        guides += moved.snapped.guides.length;
        troubles += moved.trouble.length;
        const distances = moved.others.map(({ ring }) => apart(moved.ring, ring));
        expect(broken(one, moved, distances)).toEqual([]);
        const box = boxOf(moved.ring);
        const beyond = Math.max(
          -box.left,
          -box.bottom,
          box.right - MOVE_BED.widthMm,
          box.top - MOVE_BED.depthMm,
        );
        const kinds = moved.trouble.map((t) => t.kind);
        if (Math.abs(beyond) > 0.02) expect(kinds.includes('beyond')).toBe(beyond > 0);
        const clamp = apart(moved.ring, keepOutRing(MOVE_BED.keepOuts[0]!));
        if (clamp > 0.02) expect(kinds).not.toContain('keep-out');
      }),
      { numRuns: 60 },
    );
    expect(Math.min(walls, guides, troubles)).toBeGreaterThan(5);
  });

  const square = lightOpening([
    {
      outer: [
        { x: -10, y: -10 },
        { x: 10, y: -10 },
        { x: 10, y: 10 },
        { x: -10, y: 10 },
      ],
      holes: [],
    },
  ]);
  const at = (x: number, y: number) => ({ x, y, turnDeg: 0, mirrored: false });
  const bed = { ...MOVE_BED, keepOuts: [] };
  const other = lyingAt('1', square, at(60, 60));

  it('keeps row and least wall at once; with nothing near it stays where it is', () => {
    const beside = snapPlace(square, at(84.9, 61.2), [other], bed, 2);
    expect(beside.guides).toMatchObject([{ axis: 'y', what: 'row', of: '1', atMm: 60 }]);
    expect(beside.wallTo).toBe('1');
    expect(beside.place.y).toBe(60);
    expect(beside.place.x).toBeGreaterThanOrEqual(84);
    expect(beside.place.x).toBeLessThan(84.02);
    expect(snapPlace(square, at(100.5, 120.25), [other], bed, 2)).toEqual({
      place: at(100.5, 120.25),
      guides: [],
    });
  });

  it('is drawn to the middle of the bed and to the margin', () => {
    const middle = snapPlace(square, at(124, 91), [], bed, 2);
    expect(middle.place).toEqual(at(125, 90));
    expect(middle.guides.map((g) => g.what)).toEqual(['centre', 'centre']);
    expect(snapPlace(square, at(16.4, 163.5), [], bed, 2).place).toEqual(at(15, 165));
  });

  it('says what is wrong, the gravest first', () => {
    const say = (x: number, y: number) =>
      troubleOf(lyingAt('2', square, at(x, y)), [other], MOVE_BED).map((t) => t.kind);
    expect(say(120, 60)).toEqual([]);
    expect(say(82, 60)).toEqual(['thin']);
    expect(say(75, 60)).toEqual(['overlap']);
    expect(say(60, 60)).toEqual(['overlap']);
    expect(say(8, 60)).toEqual(['beyond']);
    expect(say(12, 60)).toEqual(['margin']);
    expect(say(110, 20)).toEqual(['keep-out']);
  });

  it('numbers row by row from the rear, each row from the left', () => {
    const places = [at(50, 10), at(10, 99), at(90, 101), at(10, 12)];
    expect(inReadingOrder(places, 5)).toEqual([at(10, 99), at(90, 101), at(10, 12), at(50, 10)]);
  });
});

describe('pieces turned over', () => {
  it('lie where the turned bed has every point of them', () => {
    const number = fc.double({ min: -200, max: 200, noNaN: true });
    fc.assert(
      fc.property(
        fc.record({
          x: number,
          y: number,
          turnDeg: fc.double({ min: 0, max: 359, noNaN: true }),
          mirrored: fc.boolean(),
        }),
        fc.record({ x: number, y: number }),
        fc.constantFrom('depth' as const, 'width' as const),
        (place, p, axis) => {
          const direct = turnedPoint(bedFromBlank(place)(p), MOVE_BED, axis);
          const by = bedFromBlank(turnedPlace(place, MOVE_BED, axis))(p);
          expect(Math.hypot(direct.x - by.x, direct.y - by.y)).toBeLessThan(1e-5);
          const again = turnedPlace(turnedPlace(place, MOVE_BED, axis), MOVE_BED, axis);
          const back = bedFromBlank(again)(p);
          const was = bedFromBlank(place)(p);
          expect(Math.hypot(back.x - was.x, back.y - was.y)).toBeLessThan(1e-5);
        },
      ),
    );
  });
});

import { beforeAll, describe, expect, it } from 'vitest';
import type { Clipper } from '../../src/geometry/clipper.ts';
import { STILL } from '../../src/geometry/lay.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import type { Ring } from '../../src/geometry/shape.ts';
import { Opening } from '../../src/geometry/within.ts';
import { blob, CLEARANCE_MM, playDeliveries, stadium } from '../support/deliveries.ts';

describe('pieces of known play against pockets', () => {
  let clipper: Clipper;
  const grown = (ring: Ring<'bed'>, mm: number): Ring<'bed'> =>
    mm === 0 ? ring : clipper.offset<'bed'>([{ outer: ring, holes: [] }], mm, 'outward')[0]!.outer;
  beforeAll(async () => {
    clipper = await loadClipper();
  });

  // Laws: a shape grown by d has c - d of room all round in its pocket; a slot that is longer by 2 e has c - e at both ends.
  it('finds the room that geometry gives, and no more', () => {
    for (const grow of [-0.4, 0, 0.2, 0.5]) {
      const { roomMm } = new Opening({ outer: grown(blob(), CLEARANCE_MM), holes: [] }).place(
        { outer: grown(blob(), grow), holes: [] },
        { ...STILL, turnRad: 0.01, xMm: 0.4, yMm: -0.3 },
      );
      expect(Math.abs(roomMm - (CLEARANCE_MM - grow))).toBeLessThan(0.002);
    }
    for (const longer of [-0.5, 0.3, 0.9]) {
      const { roomMm, holds } = new Opening({
        outer: grown(stadium(40, 12), CLEARANCE_MM),
        holes: [],
      }).place(
        { outer: stadium(40 + longer, 12), holes: [] },
        { ...STILL, turnRad: -0.02, xMm: -0.3, yMm: 0.2 },
      );
      const ends = CLEARANCE_MM - longer / 2;
      expect(Math.abs(roomMm - Math.min(CLEARANCE_MM, ends))).toBeLessThan(0.002);
      if (longer > 0) for (const { at } of holds) expect(Math.abs(at.x)).toBeGreaterThan(30);
    }
  });

  it('says what is so, or that it is not proven', () => {
    const { rooms, tried, wrong, open, best } = playDeliveries(clipper, 20);
    expect(wrong).toEqual([]);
    // U holds in about 95 % of cases.
    const outside = tried.filter((t, k) => Math.abs(t.roomMm - rooms[k]!) > t.uMm).length;
    expect(outside).toBeLessThanOrEqual(4);
    // Of as few as with these U is possible, some more stay open by chance.
    expect(open).toBeLessThan(best + 4);
  });
});

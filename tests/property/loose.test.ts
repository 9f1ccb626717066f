import { beforeAll, describe, expect, it } from 'vitest';
import { meanOf, placeU, type Lying } from '../../src/after/lying.ts';
import type { Clipper } from '../../src/geometry/clipper.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { MIX_UPS, NAMED_BY, playLoad, type PlayedLoad } from '../support/loose-loads.ts';

describe('beds loaded without a jig, at the level of marks and edge points', () => {
  let clipper: Clipper;
  const played: PlayedLoad[] = [];
  beforeAll(async () => {
    clipper = await loadClipper();
    MIX_UPS.forEach((mixUp, k) => played.push(playLoad(clipper, 100 + k, mixUp)));
  }, 120_000);

  it('names what is wrong with a load, and says nothing against a good one', () => {
    for (const { mixUp, load, fit } of played) {
      const said = load.reasons.map(({ code }) => code);
      if (mixUp === 'nothing') expect(fit, said.join()).toBe(true);
      else
        expect(
          said.some((code) => NAMED_BY[mixUp].includes(code)),
          `${mixUp}: ${said.join()}`,
        ).toBe(true);
    }
  });

  it('lands the ink on the pieces: within 1.5 U of where the true print puts it, turn within 0.1 degrees', () => {
    const landed = played
      .filter((p) => p.mixUp !== 'moved' && p.mixUp !== 'turned')
      .flatMap((p) => p.landed);
    expect(landed.length).toBeGreaterThan(20);
    for (const { offMm, U, turnDeg, turnU } of landed) {
      expect(offMm).toBeLessThan(1.5 * U + 0.02);
      expect(turnDeg).toBeLessThan(Math.max(0.1, 1.5 * turnU));
    }
  });
});

describe('the uncertainty of a place', () => {
  const lying = (covariance: number[], xMm = 0): Lying => ({
    motion: { mirrored: false, turnRad: 0, xMm, yMm: 0 },
    middle: { x: xMm, y: 0 },
    covariance: Float64Array.from(covariance),
    offMm: 0.01,
    alsoDeg: [],
  });
  const own = [0.04, 0, 0, 0, 0.01, 0, 0, 0, 1e-6];

  it('grows from the middle outward as a turn asks: u² = u_y² + (u_turn · r)² along x (law of propagation, JCGM 100, 5.1.2)', () => {
    const at = placeU(lying([0.01, 0, 0, 0, 0.01, 0, 0, 0, 1e-4]), { x: 30, y: 0 });
    expect(at).toBeCloseTo(Math.hypot(0.1, 0.01 * 30), 12);
    expect(placeU(lying(own), { x: 0, y: 0 })).toBeCloseTo(0.2, 12);
  });

  it('of two pictures alike is that of one over the square root of two, the place their mean (weighted mean, JCGM 100, H.5 in the simplest case)', () => {
    const region = {
      outer: [
        { x: -1, y: -1 },
        { x: 1, y: -1 },
        { x: 1, y: 1 },
        { x: -1, y: 1 },
      ],
      holes: [],
    };
    const both = meanOf([lying(own, 0), lying(own, 0.3)], { region });
    expect(both.motion.xMm).toBeCloseTo(0.15, 12);
    expect(placeU(both, both.middle)).toBeCloseTo(0.2 / Math.SQRT2, 12);
  });
});

import type { Lights } from './linear.ts';
import type { Sides } from './mixture.ts';
import { place, sample, SAMPLE_STEP, type ModelSet } from './profile.ts';

/** The edge is placed in each colour at every fourth point, and where most of five such places have it is taken. */
const EVERY = 4;
const AROUND = 2;
/** A colour tells where the edge is if its step is at least this share of the largest one's, in roots of light. */
const TELLING_STEP = 0.5;

const middleOf = (values: readonly number[]): number =>
  [...values].sort((a, b) => a - b)[values.length >> 1]!;

/**
 * How far apart red, green and blue, as far as they tell, and the contour itself have the edge, px, for every point of it. What the
 * lens and the camera do to each colour, a shade, or a texture that is not alike in all of them puts it elsewhere in each.
 *
 * @param ring, normals closed contour (picture px, x and y interleaved) about a px apart, and its unit normals, away from the material
 * @param rooms see `roomsOf`
 * @param ramp 1 where the two sides are ramps
 */
export function coloursApart(
  lights: Lights,
  ring: Float64Array,
  normals: Float64Array,
  modelSet: ModelSet,
  rooms: Float64Array,
  sides: readonly Sides[],
  ramp: Uint8Array,
): Float64Array {
  const n = ring.length >> 1;
  const count = Math.ceil(n / EVERY);
  const rests = new Float64Array(modelSet.whole.places.length);
  const places = [lights.red, lights.green, lights.blue].map((plane, c) => {
    const out = new Float64Array(count).fill(NaN);
    for (let m = 0; m < count; m++) {
      const k = m * EVERY;
      const steps = sides[k]!.inner.map((v, i) =>
        Math.abs(Math.sqrt(Math.max(0, v)) - Math.sqrt(Math.max(0, sides[k]!.outer[i]!))),
      );
      if (steps[c]! < TELLING_STEP * Math.max(...steps)) continue;
      const models = modelSet.within(rooms[k]!);
      const { samples, innerPx } = models;
      const half = Math.max(innerPx, samples * SAMPLE_STEP - innerPx);
      const [x, y] = [ring[2 * k]!, ring[2 * k + 1]!];
      const [ux, uy] = [normals[2 * k]!, normals[2 * k + 1]!];
      plane.need(x - half - 4, y - half - 4, x + half + 4, y + half + 4);
      const profile = new Float64Array(samples);
      let power = 0;
      for (let s = 0; s < samples; s++) {
        const d = s * SAMPLE_STEP - innerPx;
        const light = sample(plane, x + d * ux, y + d * uy);
        profile[s] = light;
        power += light * light;
      }
      const ramps = ramp[k] === 1 && models === modelSet.whole;
      out[m] = place(profile, power, ramps ? models.ramp : models.erf, models.places, rests).at;
    }
    return out;
  });
  const apart = new Float64Array(n);
  for (let m = 0; m < count; m++) {
    let [least, most] = [0, 0];
    for (const all of places) {
      const near: number[] = [];
      for (let s = -AROUND; s <= AROUND; s++) {
        const at = all[(m + s + count) % count]!;
        if (!Number.isNaN(at)) near.push(at);
      }
      if (near.length <= AROUND) continue;
      const at = middleOf(near);
      least = Math.min(least, at);
      most = Math.max(most, at);
    }
    apart.fill(most - least, m * EVERY, Math.min(n, (m + 1) * EVERY));
  }
  return apart;
}

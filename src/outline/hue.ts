import type { Backdrop } from './backdrop.ts';
import { OWN_HUE } from './edge.ts';
import type { LinearChannel, LinearPlane, Lights } from './linear.ts';
import type { Planes } from './planes.ts';
import { roughly } from './profile.ts';

/** Light that shows a blank's hue against the stage's, and the stage's. */
export interface Hued {
  readonly lights: Lights;
  readonly sheetHue: SheetHue;
}

/** Light is not told from noise below this when hues are compared. */
const DARKEST = 0.005;

/** The hue of the lit stage, and how far from it the picture is. */
export class SheetHue {
  private readonly light: number[];

  /**
   * @param planes red, green and blue, or two of them
   * @param logs ln of their light on the lit stage, to a common constant
   */
  constructor(
    readonly planes: readonly LinearPlane[],
    private readonly logs: readonly number[],
  ) {
    this.light = planes.map(() => 0);
  }

  /** How far the picture is from it at a place, px, that the planes were told to hold (`need`). */
  at(x: number, y: number): number {
    this.planes.forEach((plane, c) => (this.light[c] = roughly(plane, x, y)));
    return this.off(this.light);
  }

  /** How far light is from it: the most by which the logarithms of two channels differ otherwise than on the stage. */
  off(light: ArrayLike<number>): number {
    let [least, most] = [Infinity, -Infinity];
    for (let c = 0; c < this.logs.length; c++) {
      const log = Math.log(Math.max(0, light[c]!) + DARKEST) - this.logs[c]!;
      least = Math.min(least, log);
      most = Math.max(most, log);
    }
    return most - least;
  }
}

/** Another pair of channels must tell a blank this many times as well before it is taken instead of red and blue. */
const BETTER = 3;

/**
 * Chooses the two channels whose ratio parts a blank from the stage: red and blue do for most, but not for a green or a magenta
 * one, which has both as the stage has them.
 *
 * @param mask 1 where the blank lies, on the coarse grid
 * @param byPair hues are compared by those two channels alone: for one of several photos, which must all see the same edge
 */
export function huedFor(
  mask: Uint8Array,
  { colour }: Planes,
  { hueOf }: Backdrop,
  lights: Lights,
  byPair = false,
): Hued {
  const sums = [0, 0, 0];
  let count = 0;
  for (let k = 0; k < mask.length; k += 3) {
    if (!mask[k]) continue;
    count++;
    for (let c = 0; c < 3; c++) sums[c]! += Math.log(colour[c]![k]! + DARKEST);
  }
  const off = (up: number, down: number): number =>
    count === 0 ? 0 : Math.abs((sums[up]! - sums[down]!) / count - hueOf(up, down));
  const channels: readonly LinearChannel[] = [lights.red, lights.green, lights.blue];
  const usual = off(0, 2);
  const [up, down] = [
    [1, 0],
    [1, 2],
  ].reduce((a, b) => (off(b[0]!, b[1]!) > off(a[0]!, a[1]!) ? b : a)) as [number, number];
  const better = off(up, down) >= Math.max(OWN_HUE, BETTER * usual);
  const pair: readonly number[] = better ? [up, down] : [0, 2];
  const told = byPair ? pair : [0, 1, 2];
  const sheetHue = new SheetHue(
    told.map((c) => channels[c]!),
    told.map((c) => (c === 2 ? 0 : hueOf(c, 2))),
  );
  return better
    ? { lights: { ...lights, up: channels[up]!, down: channels[down]! }, sheetHue }
    : { lights, sheetHue };
}

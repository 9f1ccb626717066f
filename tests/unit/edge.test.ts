import { expect, it } from 'vitest';
import { measureEdge, type Edge } from '../../src/outline/edge.ts';
import { onFeet } from '../../src/outline/feet.ts';
import { SheetHue } from '../../src/outline/hue.ts';
import { codedOfLinear, lightsOf, type Lights } from '../../src/outline/linear.ts';
import { erf } from '../../src/outline/profile.ts';

const SIDE = 240;

/** A picture of a shape by its exact signed distance (px, negative inside), blurred as a straight edge would be. */
function pictured(
  distance: (x: number, y: number) => number,
  blurPx: number,
  inside: readonly [number, number, number],
  outside: (d: number) => readonly [number, number, number],
) {
  const data = new Uint8Array(SIDE * SIDE * 3);
  for (let y = 0; y < SIDE; y++) {
    for (let x = 0; x < SIDE; x++) {
      const d = distance(x, y);
      const share = 0.5 * (1 - erf(d / blurPx / Math.SQRT2));
      const out = outside(Math.max(0, d));
      for (let c = 0; c < 3; c++) {
        const light = share * inside[c]! + (1 - share) * out[c]!;
        data[3 * (y * SIDE + x) + c] = Math.round(255 * codedOfLinear(light));
      }
    }
  }
  return { widthPx: SIDE, heightPx: SIDE, channels: 3 as const, data };
}

/** An edge on a stage of a colour (linear light); undefined where it borders on none. */
const edgeOn = (
  lights: Lights,
  start: Float64Array,
  hole: boolean,
  blurPx: number,
  reach: number,
  stage: readonly number[] | undefined,
  inkAt?: (x: number, y: number) => number,
): Edge | undefined => {
  const hue =
    stage &&
    new SheetHue(
      [lights.red, lights.green, lights.blue],
      stage.map((v) => Math.log(v + 0.005)),
    );
  return measureEdge(lights, start, hole, blurPx, reach, hue, inkAt);
};
/** A stage without a hue. */
const NEUTRAL = [0.2, 0.2, 0.2] as const;

const CENTRE = [119.3, 121.8] as const;
const round = (radius: number, wobble: number): Float64Array =>
  Float64Array.from({ length: 400 }, (_, k) => {
    const a = (2 * Math.PI * (k >> 1)) / 200;
    const r = radius + wobble * Math.sin(7 * a);
    return k % 2 === 0 ? CENTRE[0] + r * Math.cos(a) : CENTRE[1] + r * Math.sin(a);
  });
const ofDisc = (radius: number) => (x: number, y: number) =>
  Math.hypot(x - CENTRE[0], y - CENTRE[1]) - radius;
const errors = (edge: Edge, distance: (x: number, y: number) => number): number[] =>
  Array.from({ length: edge.count }, (_, k) => distance(edge.x[k]!, edge.y[k]!));
const mean = (v: readonly number[]): number => v.reduce((a, b) => a + b, 0) / v.length;
const GREY = [0.8, 0.8, 0.8] as const;
const DARK = [0.05, 0.05, 0.05] as const;

// Closed form: the disc's own radius. The pixel grid's convention (centres at integers) is in the centre's digits:
// half a pixel lost would show as a mean of the signed x or y error of 0.5.
it.each([
  ['dark on light', DARK, GREY],
  ['light on dark', GREY, DARK],
] as const)('places the edge of a disc, %s', (_, inside, outside) => {
  const distance = ofDisc(70);
  const edge = edgeOn(
    lightsOf(pictured(distance, 0.7, inside, () => outside)),
    round(70, 3),
    false,
    0.7,
    7,
    NEUTRAL,
  )!;
  const off = errors(edge, distance);
  expect(edge.count).toBeGreaterThan(380);
  expect(Math.abs(mean(off))).toBeLessThan(0.02);
  expect(Math.max(...off.map(Math.abs))).toBeLessThan(0.12);
  expect(mean([...edge.x])).toBeCloseTo(CENTRE[0], 1);
  expect(mean([...edge.y])).toBeCloseTo(CENTRE[1], 1);
});

// Half way between two colours is not half way between their lumas (ITU-T T.871's weights on values coded by IEC 61966-2-1): taken
// for grey the orange disc would come out half a pixel too large, the yellow one a fifth too small.
const bySrgb = (...rgb: [number, number, number]): [number, number, number] =>
  rgb.map((v) => (v / 255 <= 0.04045 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4)) as [
    number,
    number,
    number,
  ];
const TEAL = bySrgb(31, 143, 131);
it.each([
  ['orange on teal', bySrgb(230, 130, 40), TEAL],
  ['grey on teal', bySrgb(128, 128, 128), TEAL],
  ['cream on teal', bySrgb(230, 220, 200), TEAL],
  ['yellow on white', bySrgb(250, 220, 60), bySrgb(240, 240, 235)],
  ['green on white', bySrgb(40, 160, 70), bySrgb(240, 240, 235)],
] as const)('places the edge between two colours, %s', (_, inside, outside) => {
  const distance = ofDisc(70);
  const lights = lightsOf(pictured(distance, 0.7, inside, () => outside));
  const edge = edgeOn(lights, round(70, 3), false, 0.7, 7, outside)!;
  expect(Math.abs(mean(errors(edge, distance)))).toBeLessThan(0.04);
});

it('does not take the contact shadow beside a blank for part of it', () => {
  const distance = ofDisc(70);
  const shadow = (d: number): [number, number, number] => {
    // Down to 60 % at the edge, gone within about 2 mm.
    const v = 0.8 * (1 - 0.4 * Math.exp(-d / 8));
    return [v, v, v];
  };
  const edge = edgeOn(
    lightsOf(pictured(distance, 0.7, [0.2, 0.2, 0.2], shadow)),
    round(70, 2),
    false,
    0.7,
    7,
    NEUTRAL,
  )!;
  expect(Math.abs(mean(errors(edge, distance)))).toBeLessThan(0.1);
  expect(mean([...edge.ramp])).toBeGreaterThan(0.5);
});

it('sees an edge of equal brightness by its colour', () => {
  // Red and blue of one luma: neither is brighter.
  const red = [0.45, 0.16, 0.16] as const;
  const blue = [0.16, 0.2, 0.75] as const;
  const distance = ofDisc(60);
  const edge = edgeOn(
    lightsOf(pictured(distance, 0.8, red, () => blue)),
    round(60, 2),
    false,
    0.8,
    7,
    blue,
  )!;
  expect(Math.abs(mean(errors(edge, distance)))).toBeLessThan(0.1);
});

/** Colour kept at half size and coarsely, as JPEG does (ITU-T T.871's weights); brightness as it was. */
function coarse(picture: ReturnType<typeof pictured>, step: number): ReturnType<typeof pictured> {
  const { data } = picture;
  const out = data.slice();
  const luma = (at: number): number =>
    0.299 * data[at]! + 0.587 * data[at + 1]! + 0.114 * data[at + 2]!;
  for (let y = 0; y < SIDE; y += 2) {
    for (let x = 0; x < SIDE; x += 2) {
      const four = [0, 1, SIDE, SIDE + 1].map((o) => 3 * (y * SIDE + x + o));
      const kept = (c: 0 | 2): number =>
        step * Math.round(four.reduce((sum, at) => sum + data[at + c]! - luma(at), 0) / 4 / step);
      const [r, b] = [kept(0), kept(2)];
      for (const at of four) {
        const v = luma(at);
        [v + r, v - (0.299 * r + 0.114 * b) / 0.587, v + b].forEach(
          (value, c) => (out[at + c] = Math.max(0, Math.min(255, Math.round(value)))),
        );
      }
    }
  }
  return { ...picture, data: out };
}

it('follows a grained blank as bright as its stage by its hue', () => {
  // Wood on grey of the mean of its lumas; its bands of brightness cross the edge at every angle.
  const distance = ofDisc(70);
  const outside = bySrgb(128, 128, 128);
  const picture = pictured(distance, 0.7, [0, 0, 0], () => outside);
  const bands = Array.from({ length: 9 }, (_, k) =>
    pictured(distance, 0.7, bySrgb(132 + 9 * k, 92 + 6 * k, 55 + 4 * k), () => outside),
  );
  for (let y = 0; y < SIDE; y++) {
    for (let x = 0; x < SIDE; x++) {
      const band = bands[Math.round(4 + 4 * Math.sin((y + 0.3 * x) / 5))]!;
      for (let c = 0; c < 3; c++)
        picture.data[3 * (y * SIDE + x) + c] = band.data[3 * (y * SIDE + x) + c]!;
    }
  }
  const edge = edgeOn(lightsOf(coarse(picture, 18)), round(70, 2), false, 0.7, 7, NEUTRAL)!;
  const off = errors(edge, distance);
  expect(Math.abs(mean(off))).toBeLessThan(0.15);
  expect(Math.sqrt(mean(off.map((v) => v * v)))).toBeLessThan(0.2);
  expect(Math.max(...off.map(Math.abs))).toBeLessThan(0.8);
});

it('measures a hole from inside the material', () => {
  const distance = ofDisc(30);
  const edge = edgeOn(
    lightsOf(pictured(distance, 0.7, GREY, () => DARK)),
    round(30, 1),
    true,
    0.7,
    5,
    NEUTRAL,
  )!;
  expect(Math.abs(mean(errors(edge, distance)))).toBeLessThan(0.03);
  // The material is outside: its outward normal points into the hole.
  const inward = mean(
    Array.from(
      { length: edge.count },
      (_, k) => edge.nx[k]! * (CENTRE[0] - edge.x[k]!) + edge.ny[k]! * (CENTRE[1] - edge.y[k]!),
    ),
  );
  expect(inward).toBeGreaterThan(0);
});

it('keeps the corners of a square sharp', () => {
  const turn = 0.3;
  const half = 55;
  const local = (x: number, y: number): [number, number] => {
    const dx = x - CENTRE[0];
    const dy = y - CENTRE[1];
    return [dx * Math.cos(turn) + dy * Math.sin(turn), -dx * Math.sin(turn) + dy * Math.cos(turn)];
  };
  const distance = (x: number, y: number): number => {
    const [u, v] = local(x, y);
    return Math.max(Math.abs(u), Math.abs(v)) - half;
  };
  const start = Float64Array.from({ length: 480 }, (_, k) => {
    // A rounded start, 4 px off at the corners.
    const a = (2 * Math.PI * (k >> 1)) / 240;
    const r = half / Math.max(Math.abs(Math.cos(a)), Math.abs(Math.sin(a))) ** 0.93;
    const u = r * Math.cos(a);
    const v = r * Math.sin(a);
    return k % 2 === 0
      ? CENTRE[0] + u * Math.cos(turn) - v * Math.sin(turn)
      : CENTRE[1] + u * Math.sin(turn) + v * Math.cos(turn);
  });
  const edge = edgeOn(
    lightsOf(pictured(distance, 0.7, DARK, () => GREY)),
    start,
    false,
    0.7,
    8,
    NEUTRAL,
  )!;
  const corners = Array.from({ length: edge.count }, (_, k) => k).filter((k) => edge.corner[k]);
  expect(corners).toHaveLength(4);
  for (const k of corners) {
    const [u, v] = local(edge.x[k]!, edge.y[k]!);
    expect(Math.abs(Math.abs(u) - half)).toBeLessThan(0.25);
    expect(Math.abs(Math.abs(v) - half)).toBeLessThan(0.25);
  }
});

// Closed form: two concentric circles, the face's and the foot's, the wall's light between. Without a look for the wall the
// edge of the face is found, a wall's width inside the foot.
it.each([
  ['a shaded wall on a dark sheet', 0.75, 0.15, 0.04],
  ['a wall as bright as the face', 0.75, 0.75, 0.04],
  ['a dark blank on a light sheet', 0.2, 0.15, 0.8],
])('finds the foot of %s', (_, faceLight, wallLight, sheetLight) => {
  const WALL_PX = 2.3;
  const grey = (v: number): [number, number, number] => [v, v, v];
  const distance = ofDisc(70);
  const share = (d: number): number => 0.5 * (1 - erf(d / 0.65 / Math.SQRT2));
  const blurred = pictured(distance, 0.65, grey(wallLight), () => grey(sheetLight));
  const picture = {
    ...blurred,
    data: Uint8Array.from(blurred.data, (_v, k) => {
      const pixel = Math.floor(k / 3);
      const d = distance(pixel % SIDE, Math.floor(pixel / SIDE));
      const light =
        share(d + WALL_PX) * faceLight +
        (share(d) - share(d + WALL_PX)) * wallLight +
        (1 - share(d)) * sheetLight;
      return Math.round(255 * codedOfLinear(light));
    }),
  };
  const lights = lightsOf(picture);
  const edge = edgeOn(lights, round(69, 2), false, 0.65, 7, NEUTRAL)!;
  const feet = onFeet(lights, edge, new Float64Array(edge.count).fill(WALL_PX), 0.65, undefined);
  const off = errors(feet, distance);
  expect(Math.abs(mean(off))).toBeLessThan(0.15);
  expect(Math.max(...off.map(Math.abs))).toBeLessThan(0.4);
});

// Closed form: a wedge of 30 degrees between two straight sides; its end is sought along the sides, which blur leaves as they
// are. Blur takes 1.35 blurs / (2 tan 15°) of the end, more than three pixels, and a contour that is followed by steps more.
it.each([
  ['the point of a dark wedge', DARK, GREY, false],
  ['a cleft between two arms', GREY, DARK, true],
] as const)('draws %s to its end', (_, wedge, around, cleft) => {
  const HALF = Math.PI / 12;
  const [tipX, tipY] = [178.4, 120.7];
  const distance = (x: number, y: number): number => {
    const dx = tipX - x;
    const dy = Math.abs(y - tipY);
    return Math.max(dy * Math.cos(HALF) - dx * Math.sin(HALF), dx - 130);
  };
  const blurPx = 0.65;
  // Samples of a fine grid, so that the blurred end is right as well as the sides.
  const FINE = 4;
  const light = (x: number, y: number): number => {
    let sum = 0;
    let total = 0;
    for (let j = -10; j <= 10; j++) {
      for (let i = -10; i <= 10; i++) {
        const weight = Math.exp(-(i * i + j * j) / (2 * (FINE * blurPx) ** 2));
        total += weight;
        if (distance(x + i / FINE, y + j / FINE) < 0) sum += weight;
      }
    }
    return sum / total;
  };
  const data = new Uint8Array(SIDE * SIDE * 3);
  for (let y = 0; y < SIDE; y++) {
    for (let x = 0; x < SIDE; x++) {
      const d = distance(x, y);
      const share = d > 6 ? 0 : d < -6 ? 1 : light(x, y);
      for (let c = 0; c < 3; c++)
        data[3 * (y * SIDE + x) + c] = Math.round(
          255 * codedOfLinear(share * wedge[c]! + (1 - share) * around[c]!),
        );
    }
  }
  // The start stops short of the end, as a coarse contour does.
  const open = 130 * Math.tan(HALF);
  const corners = [
    [tipX - 130, tipY - open],
    [tipX - 14, tipY - 14 * Math.tan(HALF)],
    [tipX - 14, tipY + 14 * Math.tan(HALF)],
    [tipX - 130, tipY + open],
  ] as const;
  const start = Float64Array.from({ length: 400 }, (_v, k) => {
    const s = (k >> 1) / 50;
    const [a, b] = [corners[Math.floor(s)]!, corners[(Math.floor(s) + 1) % 4]!];
    return a[k % 2]! + (s % 1) * (b[k % 2]! - a[k % 2]!);
  });
  const picture = { widthPx: SIDE, heightPx: SIDE, channels: 3 as const, data };
  const edge = edgeOn(lightsOf(picture), start, cleft, blurPx, 8, NEUTRAL)!;
  expect(Math.abs(Math.max(...edge.x) - tipX)).toBeLessThan(1.5);
  expect(Math.max(...errors(edge, distance).map(Math.abs))).toBeLessThan(0.5);
});

// Closed form: a circle has no corner, however small; with noise as of a grainy material.
it.each([12, 16, 20])('finds no corner in a hole of %s px radius', (radius) => {
  let state = 7;
  const random = (): number => (state = (state * 16_807) % 2_147_483_647) / 2_147_483_647;
  for (let round_ = 0; round_ < 6; round_++) {
    const distance = ofDisc(radius);
    const picture = pictured(distance, 0.65, GREY, () => DARK);
    const data = picture.data.map((v) => Math.min(255, Math.max(0, v + 40 * (random() - 0.5))));
    const edge = edgeOn(
      lightsOf({ ...picture, data }),
      round(radius, 0.7),
      true,
      0.65,
      4,
      NEUTRAL,
    )!;
    expect(edge.corner.reduce((sum, c) => sum + c, 0)).toBe(0);
  }
});

it('draws a corner that covers part of a printed mark where its own sides meet', () => {
  // Closed form: a square turned by 14 degrees; one corner lies within a black mark, so that slivers of ink run beside it.
  const TURN = 0.24;
  const [half, blurPx] = [70, 0.65];
  const covers = (x: number, y: number): boolean => {
    const [dx, dy] = [x - CENTRE[0], y - CENTRE[1]];
    const u = dx * Math.cos(TURN) + dy * Math.sin(TURN);
    const v = dy * Math.cos(TURN) - dx * Math.sin(TURN);
    return Math.max(Math.abs(u), Math.abs(v)) < half;
  };
  const apex = [
    CENTRE[0] + half * (Math.cos(TURN) - Math.sin(TURN)),
    CENTRE[1] + half * (Math.sin(TURN) + Math.cos(TURN)),
  ] as const;
  const inkAt = (x: number, y: number): number =>
    x > apex[0] - 30 && x < apex[0] + 2 && y > apex[1] - 24 && y < apex[1] + 3 ? 1 : 0;
  const data = new Uint8Array(SIDE * SIDE * 3);
  for (let y = 0; y < SIDE; y++) {
    for (let x = 0; x < SIDE; x++) {
      let [sum, total] = [0, 0];
      for (let i = -4; i <= 4; i++) {
        for (let j = -4; j <= 4; j++) {
          const w = Math.exp(-(i * i + j * j) / 8);
          const [px, py] = [x + (i * blurPx) / 2, y + (j * blurPx) / 2];
          sum += w * (covers(px, py) ? 0.06 : inkAt(px, py) ? 0.015 : 0.75);
          total += w;
        }
      }
      const coded = Math.round(255 * codedOfLinear(sum / total));
      for (let c = 0; c < 3; c++) data[3 * (y * SIDE + x) + c] = coded;
    }
  }
  const start = Float64Array.from({ length: 480 }, (_, k) => {
    const a = (2 * Math.PI * (k >> 1)) / 240;
    const r = half / Math.max(Math.abs(Math.cos(a)), Math.abs(Math.sin(a))) ** 0.93;
    const [u, v] = [r * Math.cos(a), r * Math.sin(a)];
    return k % 2 === 0
      ? CENTRE[0] + u * Math.cos(TURN) - v * Math.sin(TURN)
      : CENTRE[1] + u * Math.sin(TURN) + v * Math.cos(TURN);
  });
  const lights = lightsOf({ widthPx: SIDE, heightPx: SIDE, channels: 3, data });
  const edge = edgeOn(lights, start, false, blurPx, 8, NEUTRAL, inkAt)!;
  const near = Array.from({ length: edge.count }, (_, k) =>
    Math.hypot(edge.x[k]! - apex[0], edge.y[k]! - apex[1]),
  );
  const at = near.indexOf(Math.min(...near));
  expect(near[at]).toBeLessThan(0.5);
  expect(edge.corner[at]).toBeGreaterThan(0);
  // It is said to be doubtful all the same.
  expect(edge.poor[at]).toBe(1);
});

it('follows an S of the edge where a shadow of the blank’s own tone begins', () => {
  // Lilac beside grey of one luma to the left of the S, where luma shows nothing, and beside light grey to its right.
  const edgeAt = (x: number): number => 100 - 9 * Math.tanh((x - 120) / 3);
  const covers = (x: number, y: number): boolean =>
    Math.abs(x - 120) < 90 && y > edgeAt(x) && y < 200;
  const blurPx = 0.6;
  const [lilac, shadow, lit] = [
    bySrgb(181, 136, 222),
    bySrgb(159, 159, 159),
    bySrgb(205, 205, 205),
  ];
  const data = new Uint8Array(SIDE * SIDE * 3);
  for (let y = 0; y < SIDE; y++) {
    for (let x = 0; x < SIDE; x++) {
      const sum = [0, 0, 0];
      let total = 0;
      for (let i = -4; i <= 4; i++) {
        for (let j = -4; j <= 4; j++) {
          const w = Math.exp(-(i * i + j * j) / 8);
          const [px, py] = [x + (i * blurPx) / 2, y + (j * blurPx) / 2];
          const colour = covers(px, py) ? lilac : px < 121 && py < 112 ? shadow : lit;
          for (let c = 0; c < 3; c++) sum[c]! += w * colour[c]!;
          total += w;
        }
      }
      for (let c = 0; c < 3; c++)
        data[3 * (y * SIDE + x) + c] = Math.round(255 * codedOfLinear(sum[c]! / total));
    }
  }
  const start: number[] = [];
  for (let x = 31; x < 209; x++) start.push(x, edgeAt(x) + 1);
  for (let y = 95; y < 199; y++) start.push(209, y);
  for (let x = 209; x > 31; x--) start.push(x, 199);
  for (let y = 199; y > 110; y--) start.push(31, y);
  const lights = lightsOf({ widthPx: SIDE, heightPx: SIDE, channels: 3, data });
  const edge = edgeOn(lights, Float64Array.from(start), false, blurPx, 5, undefined)!;
  const nearest = (x: number, y: number): number => {
    let least = Infinity;
    for (let k = 0; k < edge.count; k++) {
      const m = (k + 1) % edge.count;
      const [ux, uy] = [edge.x[m]! - edge.x[k]!, edge.y[m]! - edge.y[k]!];
      const t = ((x - edge.x[k]!) * ux + (y - edge.y[k]!) * uy) / (ux * ux + uy * uy || 1);
      const s = Math.max(0, Math.min(1, t));
      least = Math.min(least, Math.hypot(x - edge.x[k]! - s * ux, y - edge.y[k]! - s * uy));
    }
    return least;
  };
  const off = Array.from({ length: 60 }, (_, s) => nearest(105 + s / 2, edgeAt(105 + s / 2)));
  expect(Math.max(...off)).toBeLessThan(1);
});

// A shadow beside the blank that is as bright as the blank itself: in luma the edge is the shadow's end, in colour it is plain.
it('places an edge in a shadow of its own tone by colour, where the file keeps colour at full size', () => {
  const ORANGE = [0.6, 0.25, 0.12] as const;
  const tone = (c: readonly number[]): number => 0.299 * c[0]! + 0.587 * c[1]! + 0.114 * c[2]!;
  const shadow = (d: number): readonly [number, number, number] => {
    const v = d < 1 ? tone(ORANGE) : Math.min(0.85, tone(ORANGE) + 0.2 * (d - 1));
    return [v, v, v];
  };
  const distance = ofDisc(70);
  const picture = pictured(distance, 0.7, ORANGE, shadow);
  const off = (format: 'png' | 'jpeg'): number => {
    const lights = lightsOf({ ...picture, meta: { format } });
    return mean(errors(edgeOn(lights, round(70, 1), false, 0.7, 4, NEUTRAL)!, distance));
  };
  expect(Math.abs(off('png'))).toBeLessThan(0.1);
  expect(off('jpeg')).toBeGreaterThan(0.3);
});

// A silhouette of coarse pixels cuts an inner corner off by as much as they are wide. The shadow in it is as bright as the blank, and
// ends softly farther out: by brightness alone that end is the stronger step.
it('goes down an inner corner that the silhouette cut off', () => {
  const PINK = [0.55, 0.25, 0.4] as const;
  const tone = 0.299 * PINK[0] + 0.587 * PINK[1] + 0.114 * PINK[2];
  const half = 80;
  const local = (x: number, y: number): [number, number] => [x - CENTRE[0], y - CENTRE[1]];
  const distance = (x: number, y: number): number => {
    const [u, v] = local(x, y);
    const square = Math.max(Math.abs(u), Math.abs(v)) - half;
    return Math.max(square, Math.min(u, v));
  };
  const picture = pictured(distance, 0.7, PINK, (d) => {
    const v = tone + 0.3 / (1 + Math.exp((18 - d) / 3));
    return [v, v, v];
  });
  const cut = 26;
  const corners = [
    [-half, -half],
    [half, -half],
    [half, 0],
    [cut, 0],
    [0, cut],
    [0, half],
    [-half, half],
  ] as const;
  const start = corners.flatMap(([u, v], k) => {
    const [nextU, nextV] = corners[(k + 1) % corners.length]!;
    const steps = Math.ceil(Math.hypot(nextU - u, nextV - v) / 2);
    return Array.from({ length: steps }, (_, s) => [
      CENTRE[0] + u + (s / steps) * (nextU - u),
      CENTRE[1] + v + (s / steps) * (nextV - v),
    ]).flat();
  });
  const lights = lightsOf({ ...picture, meta: { format: 'png' } });
  const edge = edgeOn(lights, Float64Array.from(start), false, 0.7, 15.6, NEUTRAL)!;
  const near = Array.from({ length: edge.count }, (_, k) => k).filter((k) => {
    const [u, v] = local(edge.x[k]!, edge.y[k]!);
    return Math.abs(u) < 40 && Math.abs(v) < 40;
  });
  expect(near.length).toBeGreaterThan(60);
  expect(Math.max(...near.map((k) => Math.abs(distance(edge.x[k]!, edge.y[k]!))))).toBeLessThan(
    0.5,
  );
  const deepest = Math.min(
    ...near.map((k) => Math.hypot(edge.x[k]! - CENTRE[0], edge.y[k]! - CENTRE[1])),
  );
  expect(deepest).toBeLessThan(0.5);
});

// A wall's foot lies within the wall's width of the rim, whatever the neighbours beyond a stretch that was left out do.
it('moves no point of an edge farther than its wall is wide, beside a gap in the edge neither', () => {
  const distance = ofDisc(70);
  const lights = lightsOf(pictured(distance, 0.7, [0.35, 0.25, 0.15], () => [0.1, 0.35, 0.3]));
  const whole = edgeOn(lights, round(70, 2), false, 0.7, 7, [0.1, 0.35, 0.3])!;
  const wallPx = 2.2;
  for (let from = 0; from < whole.count; from += 13) {
    const kept = Array.from({ length: whole.count }, (_, k) => k).filter(
      (k) => (k - from + whole.count) % whole.count >= 17,
    );
    const only = <T extends Float64Array | Uint8Array>(values: T): T =>
      values.filter((_, k) => (k - from + whole.count) % whole.count >= 17) as T;
    const edge = Object.fromEntries(
      Object.entries(whole).map(([key, v]) => [
        key,
        typeof v === 'number' ? kept.length : only(v as Float64Array),
      ]),
    ) as unknown as Edge;
    // Beyond the gap the contour ran along something else.
    const bent = { ...edge, x: edge.x.slice(), y: edge.y.slice() };
    for (let s = 0; s < 5; s++) {
      const k = (from + s) % edge.count;
      bent.x[k]! += (5 - s) * 1.2 * edge.nx[k]!;
      bent.y[k]! += (5 - s) * 1.2 * edge.ny[k]!;
    }
    const foot = onFeet(lights, bent, new Float64Array(edge.count).fill(wallPx), 0.7, undefined);
    const most = Math.max(
      ...Array.from({ length: edge.count }, (_, k) =>
        Math.hypot(foot.x[k]! - bent.x[k]!, foot.y[k]! - bent.y[k]!),
      ),
    );
    expect(most).toBeLessThan(wallPx + 2);
  }
});

// A hole of 1 mm at 0.09 mm/px; smaller ones are left out (trace.ts).
it('places the edge of a hole of 1 mm', () => {
  const distance = (x: number, y: number): number => -ofDisc(5.6)(x, y);
  const picture = pictured(distance, 0.65, GREY, () => DARK);
  const edge = edgeOn(lightsOf(picture), round(5.6, 0.2), true, 0.65, 2, NEUTRAL)!;
  const radii = Array.from({ length: edge.count }, (_, k) =>
    Math.hypot(edge.x[k]! - CENTRE[0], edge.y[k]! - CENTRE[1]),
  );
  expect(Math.abs(mean(radii) - 5.6)).toBeLessThan(0.1);
  expect(Math.max(...radii) - Math.min(...radii)).toBeLessThan(0.4);
});

// By construction, each of two places to 0.05 px: red is drawn of a disc that is larger by the shift, as a lens with lateral colour
// does.
it.each([0, 0.4, 0.8])('tells how far apart the colours place an edge: %s px', (shift) => {
  const [aligned, larger] = [ofDisc(70), ofDisc(70 + shift)].map((distance) =>
    pictured(distance, 0.7, GREY, () => DARK),
  );
  const data = aligned!.data.map((v, k) => (k % 3 === 0 ? larger!.data[k]! : v));
  const edge = edgeOn(lightsOf({ ...aligned!, data }), round(70, 3), false, 0.7, 7, NEUTRAL)!;
  const apart = [...edge.apart].sort((a, b) => a - b)[edge.count >> 1]!;
  expect(Math.abs(apart - shift)).toBeLessThan(0.1);
});

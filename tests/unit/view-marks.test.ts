import { expect, it } from 'vitest';
import { Refusal } from '../../src/base/reason.ts';
import type { Picture } from '../../src/picture/picture.ts';
import { layout } from '../../src/sheet/layout.ts';
import { scoped } from '../../src/vision/cv.ts';
import { loadVision } from '../../src/vision/load-node.ts';
import { findMarks } from '../../src/view/marks.ts';
import { draw, sheetTone } from '../support/draw-sheet.ts';
import { Random } from '../support/simulate.ts';

const vision = loadVision();
const sheet = layout(210, 297, 'white');
const PX_PER_MM = 3.1;
const [W, H] = [700, 960];

/** A gentle perspective: sheet mm -> px, and back in closed form. */
const skew = 4e-5;
const toPicture = (x: number, y: number): readonly [number, number] => {
  const w = 1 + skew * x + 0.5 * skew * y;
  return [(PX_PER_MM * x) / w + 20.3, H - 25.6 - (PX_PER_MM * y) / w];
};
const toSheet = (u: number, v: number): readonly [number, number] => {
  const a = (u - 20.3) / PX_PER_MM;
  const b = (H - 25.6 - v) / PX_PER_MM;
  const w = 1 / (1 - skew * a - 0.5 * skew * b);
  return [a * w, b * w];
};

const upright = draw(W, H, sheetTone(sheet, toSheet));

/** Worst and root mean square distance, px, of the marks from where they were drawn. */
function errors(picture: Picture, place: (x: number, y: number) => readonly [number, number]) {
  const found = findMarks(vision, picture);
  let sum = 0;
  let shiftX = 0;
  let shiftY = 0;
  for (const { design, picture: p } of found.marks) {
    const [u, v] = place(design.x, design.y);
    sum += (p.x - u) ** 2 + (p.y - v) ** 2;
    shiftX += (p.x - u) / found.marks.length;
    shiftY += (p.y - v) / found.marks.length;
  }
  return { found, rms: Math.sqrt(sum / found.marks.length), shift: Math.hypot(shiftX, shiftY) };
}

const refusal = (picture: Picture): string => {
  try {
    findMarks(vision, picture);
  } catch (error) {
    if (error instanceof Refusal) return error.reason.code;
    throw error;
  }
  return 'found';
};

it('finds every corner of a drawn sheet where it was drawn, pixel centres at integers', () => {
  const { found, rms, shift } = errors(upright, toPicture);
  expect(found.sheet).toEqual(sheet);
  expect(found.marks.length).toBeGreaterThan(0.97 * found.expected);
  expect(rms).toBeLessThan(0.05);
  expect(shift).toBeLessThan(0.01);
});

it('finds them at half size: (u + 1/2) / 2 - 1/2', () => {
  const large = draw(
    2 * W,
    2 * H,
    sheetTone(sheet, (u, v) => toSheet((u - 0.5) / 2, (v - 0.5) / 2)),
  );
  const { rms, shift, found } = errors(large, (x, y) => {
    const [u, v] = toPicture(x, y);
    return [2 * u + 0.5, 2 * v + 0.5];
  });
  expect(found.marks.length).toBeGreaterThan(0.97 * found.expected);
  expect(rms).toBeLessThan(0.05);
  expect(shift).toBeLessThan(0.01);
});

it.each([1, 2, 3])('finds them turned by %d quarter turns', (turns) => {
  const turn = (u: number, v: number): readonly [number, number] =>
    turns === 1 ? [H - 1 - v, u] : turns === 2 ? [W - 1 - u, H - 1 - v] : [v, W - 1 - u];
  const back = (u: number, v: number): readonly [number, number] =>
    turns === 1 ? [v, H - 1 - u] : turns === 2 ? [W - 1 - u, H - 1 - v] : [W - 1 - v, u];
  const tone = sheetTone(sheet, (u, v) => toSheet(...back(u, v)));
  const picture = draw(turns % 2 ? H : W, turns % 2 ? W : H, tone);
  const { rms, found } = errors(picture, (x, y) => turn(...toPicture(x, y)));
  expect(found.marks.length).toBeGreaterThan(0.97 * found.expected);
  expect(rms).toBeLessThan(0.05);
});

it('says that a mirrored sheet is mirrored', () => {
  const mirrored = draw(
    W,
    H,
    sheetTone(sheet, (u, v) => toSheet(W - 1 - u, v)),
  );
  expect(refusal(mirrored)).toBe('sheet-mirrored');
});

it('knows two sheets for two', () => {
  const small = layout(100, 140, 'black');
  const left = sheetTone(small, (u, v) => [u / 7, (1000 - v) / 7]);
  const right = sheetTone(small, (u, v) => [(u - 720) / 7, (1000 - v) / 7]);
  expect(refusal(draw(1430, 1000, (u, v) => (u < 710 ? left(u, v) : right(u, v))))).toBe(
    'several-sheets',
  );
});

it('recognises nothing where there is no sheet', () => {
  const random = new Random(5);
  const noise = draw(W, H, () => 255 * random.next());
  const checks = draw(W, H, (u, v) => ((Math.floor(u / 12) + Math.floor(v / 12)) & 1 ? 230 : 30));
  // Like text: lines of dark strokes of random width.
  const strokes = Array.from({ length: 80 * 60 }, () => random.next());
  const text = draw(W, H, (u, v) => {
    const line = Math.floor(v / 16);
    const column = Math.floor(u / 9);
    const s = strokes[(line * 80 + column) % strokes.length]!;
    return v - 16 * line < 10 && u - 9 * column < 7 * s ? 30 : 235;
  });
  // A checker with dots at random is no sheet of ours.
  const dots = Array.from({ length: 64 * 90 }, () => random.next() < 0.5);
  const dotted = draw(W, H, (u, v) => {
    const [i, j] = [Math.floor(u / 12), Math.floor(v / 12)];
    const inside = Math.max(Math.abs(u / 12 - i - 0.5), Math.abs(v / 12 - j - 0.5)) < 0.2;
    return ((i + j) & 1) === (inside && dots[j * 64 + i] ? 1 : 0) ? 30 : 230;
  });
  for (const picture of [noise, checks, text, dotted]) expect(refusal(picture)).toBe('no-sheet');
});

it('frees what it allocates', () => {
  let freed = 0;
  expect(() =>
    scoped((keep) => {
      keep({ delete: () => freed++ });
      throw new Error('inside');
    }),
  ).toThrow('inside');
  expect(freed).toBe(1);
  const { cv } = vision;
  const counted = countMats(() => findMarks(vision, upright));
  expect(counted.made).toBeGreaterThan(3);
  expect(counted.deleted).toBe(counted.made);

  /** Mats made by name and deleted while `work` runs. */
  function countMats(work: () => void) {
    let made = 0;
    let deleted = 0;
    const holder = cv as unknown as Record<string, unknown>;
    const kept = { Mat: holder.Mat, from: holder.matFromArray };
    const watched = <T extends object>(object: T): T => {
      made++;
      const own = object as { delete(): void };
      const free = own.delete.bind(own);
      own.delete = () => {
        deleted++;
        free();
      };
      return object;
    };
    holder.Mat = new Proxy(kept.Mat as new () => object, {
      construct: (target, args) => watched(Reflect.construct(target, args)),
    });
    holder.matFromArray = (...args: unknown[]) =>
      watched((kept.from as (...args: unknown[]) => object)(...args));
    try {
      work();
    } finally {
      holder.Mat = kept.Mat;
      holder.matFromArray = kept.from;
    }
    return { made, deleted };
  }
});

import { describe, expect, it } from 'vitest';
import { eyeOf, pictureOf } from '../../src/view/model.ts';
import { viewsOf } from '../../src/view/profile.ts';
import { turnedPlace, uprightView } from '../../src/view/turned.ts';
import type { FoundMarks } from '../../src/view/view.ts';
import { simulateSeveral } from '../support/simulate-several.ts';

const s = simulateSeveral({
  seed: 5,
  photos: 2,
  height: 20,
  printError: 0.02,
  bow: 0.1,
  tilt: 0.25,
  fKnown: 0.035,
});
/** The same marks in the picture turned by quarters counter-clockwise. */
const turned = (found: FoundMarks, quarters: number, w: number, h: number): FoundMarks => ({
  ...found,
  marks: found.marks.map((m) => {
    const [x, y] = turnedPlace(m.picture.x, m.picture.y, quarters, w, h);
    return { ...m, picture: { x, y } };
  }),
});

describe('photos held different ways up', () => {
  const together = viewsOf(s.photos, s.settings);

  // CIPA DC-008, 4.6.4 (orientation): 6 is stored a quarter turned, 3 by half, 8 three quarters.
  it.each([
    [8, 1],
    [3, 2],
    [6, 3],
  ])(
    'are measured as if they had all been held alike (orientation %d)',
    (orientation, quarters) => {
      const [first, second] = s.photos as [(typeof s.photos)[0], (typeof s.photos)[0]];
      const { widthPx: w, heightPx: h } = second;
      const other = {
        found: turned(second.found, quarters, w, h),
        meta: { ...second.meta, orientation },
        widthPx: quarters & 1 ? h : w,
        heightPx: quarters & 1 ? w : h,
      };
      const mixed = viewsOf([first, other], s.settings);
      mixed.forEach((view, p) =>
        expect(Math.abs(view.eye.fPx - together[p]!.eye.fPx)).toBeLessThan(1e-3),
      );
      // What is shown over the upright picture lies where its marks do.
      const upright = uprightView(mixed[1]!, other.meta);
      expect([upright.widthPx, upright.heightPx]).toEqual([other.widthPx, other.heightPx]);
      upright.residuals.forEach((r, m) => {
        const { picture } = other.found.marks[m]!;
        expect(Math.hypot(r.at.x - picture.x, r.at.y - picture.y)).toBeLessThan(1e-6);
      });
    },
  );

  it('move with every mode as the stored view does', () => {
    const stored = together[1]!;
    for (const orientation of [3, 6, 8]) {
      const upright = uprightView(stored, { orientation });
      const quarters = { 8: 1, 3: 2, 6: 3 }[orientation]!;
      for (const mode of [undefined, ...stored.modes.keys()]) {
        const moved = (v: typeof stored): Float64Array =>
          v.values.map((x, k) => x + (mode === undefined ? 0 : v.modes[mode]!.delta[k]!));
        for (const [x, y, z] of [
          [20, 30, 0],
          [150, 220, 20],
        ] as const) {
          const a = pictureOf(eyeOf(stored, moved(stored)), x, y, z);
          const b = pictureOf(eyeOf(upright, moved(upright)), x, y, z);
          const [u, v] = turnedPlace(a.x, a.y, quarters, stored.widthPx, stored.heightPx);
          expect(Math.hypot(b.x - u, b.y - v)).toBeLessThan(1e-6);
        }
      }
    }
  });
});

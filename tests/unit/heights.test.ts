import { describe, expect, it } from 'vitest';
import { DEFAULT_HEIGHTS, heightsOf, type HeightSettings } from '../../src/plan/heights.ts';
import type { PocketSettings } from '../../src/pocket/pocket.ts';

const pocket: PocketSettings = {
  clearanceMm: 0.3,
  tool: { kind: 'mill', radiusMm: 1.5 },
  bleedMm: 2,
  safeMm: 2,
};
const of = (
  thicknessMm: readonly number[],
  more: Partial<HeightSettings> = {},
  set: Partial<PocketSettings> = {},
) =>
  heightsOf(
    thicknessMm.map((mm, k) => ({ blank: k + 1, thicknessMm: mm })),
    { ...pocket, ...set },
    { ...DEFAULT_HEIGHTS, boardMm: 5, baseMm: 3, ...more },
  );
const codes = (answer: ReturnType<typeof of>): string[] => answer.reasons.map((r) => r.code);

/* Sums that can be done on paper: a board of 5 on a base of 3, the head gap 1.5. */
describe('heights over the table', () => {
  it.each([
    ['base', 6.2, {}, {}, [3, 9.2, 9.2, 10.7]],
    ['through', 6.2, {}, { hold: 'through' }, [0, 6.2, 6.2, 7.7]],
    ['blind, 2 deep', 6.2, {}, { hold: 'blind', depthMm: 2 }, [3, 9.2, 9.2, 10.7]],
    ['with a packer', 6.2, { packerMm: 1 }, {}, [4, 10.2, 10.2, 11.7]],
    ['a knob 2 above the face', 6.2, { aboveFaceMm: 2 }, {}, [3, 9.2, 11.2, 12.7]],
    ['pieces 0.4 apart', 6.2, { spreadMm: 0.4 }, {}, [3, 9.2, 9.4, 10.9]],
    ['a corner that lifts by 0.6', 6.2, { rockMm: 0.6 }, {}, [3, 9.2, 9.8, 11.3]],
    ['a screw head above all', 6.2, { onBoardMm: 3 }, {}, [3, 9.2, 11, 12.5]],
  ] as const)('%s', (_, thick, more, set, [floor, face, highest, head]) => {
    const { heights } = of([thick], more, set);
    expect(heights!.blanks[0]!.floorMm).toBeCloseTo(floor, 9);
    expect(heights!.blanks[0]!.faceMm).toBeCloseTo(face, 9);
    expect(heights!.highestMm).toBeCloseTo(highest, 9);
    expect(heights!.headMm).toBeCloseTo(head, 9);
  });

  it('gives the figure this panel wants, set-up print first', () => {
    expect(of([6.2]).heights!.prints.map((p) => [p.what, p.valueMm])).toEqual([
      ['set-up print', 0.2],
      ['artwork', 9.2],
    ]);
    expect(
      of([6.2], { panel: 'head', setUpOn: 'board' }).heights!.prints.map((p) => p.valueMm),
    ).toEqual([9.5, 10.7]);
  });

  it('a head lower than the highest point is a strike, and refuses', () => {
    const strike = of([6.2], { headMm: 9.1 });
    expect(strike.reasons[0]).toMatchObject({ code: 'head-strike', level: 'refuse' });
    expect(strike.reasons[0]!.message).toContain('0.1 mm above');
    // Touching is a strike too.
    expect(codes(of([6.2], { headMm: 9.2 }))).toContain('head-strike');
    expect(codes(of([6.2], { headMm: 10 }))).toEqual(['head-gap-short']);
    expect(codes(of([6.2], { headMm: 10.7 }))).toEqual([]);
    expect(codes(of([6.2], { tallestMm: 9 }))).toEqual(['load-too-tall']);
  });

  it('says where print goes soft, and what is not measured', () => {
    expect(codes(of([6.2, 5.3]))).toEqual([]);
    expect(codes(of([6.2, 5.1]))).toEqual(['face-low']);
    expect(of([6.2, 5.1]).reasons[0]!.facts).toMatchObject({ blanks: '2', farMm: 2.6 });
    const open = of([6.2], { boardMm: null });
    expect(open.heights).toBeUndefined();
    expect(codes(open)).toEqual(['height-unmeasured']);
    // A base plate that is not there need not be measured.
    expect(of([6.2], { baseMm: null }, { hold: 'through' }).heights).toBeDefined();
    expect(codes(of([6.2], {}, { hold: 'blind', depthMm: 5 }))).toEqual(['floor-gone']);
    expect(codes(of([4]))).toContain('face-sunk');
  });
});

it('a blank that rocks and a face that shines are named, each with what to do', () => {
  expect(codes(of([6.2]))).toEqual([]);
  const said = of([6.2], { rockMm: 0.6, shiny: true });
  expect(codes(said)).toEqual(['blank-rocks', 'shines-back']);
  expect(said.reasons[0]!.message).toContain('0.6 mm');
  expect(said.reasons[1]!.message).toMatch(/UV light back into the head/);
});

import type { Outline } from '../outline/outline.ts';

type Listed = Pick<Outline, 'at' | 'blank'>;

/** The outlines of one blank. */
export const outlinesOf = <O extends Listed>(
  { outlines }: { readonly outlines: readonly O[] },
  blank: number,
): readonly O[] => outlines.filter((o) => o.blank === blank);

/** The outline that must fit the pocket: the envelope, else the widest, else the face. */
export const seatOutline = <O extends Listed>(outlines: readonly O[]): O | undefined =>
  outlines.find((o) => o.at === 'envelope' || o.at === 'mean') ??
  outlines.find((o) => o.at === 'widest') ??
  outlines.find((o) => o.at === 'face') ??
  outlines[0];

/** Every blank's seat outline, in order of their numbers. */
export const seatOutlines = <O extends Listed>(trace: {
  readonly outlines: readonly O[];
}): readonly O[] =>
  [...new Set(trace.outlines.map((o) => o.blank))]
    .sort((a, b) => a - b)
    .flatMap((blank) => seatOutline(outlinesOf(trace, blank)) ?? []);

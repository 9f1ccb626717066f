/** A corner of a profile lies within this share of the picture's half diagonal from its middle: beyond it the lens is guessed. */
export const COVERED = 0.7;
/** Marks that reach less than this share of the way say nothing of a corner. */
const NOTHING_YET = 0.5;

export const CORNERS = ['upper left', 'upper right', 'lower left', 'lower right'] as const;

/** What the photos cover of the frame so far. */
export interface Coverage {
  /** How far marks reach into each corner of the stored picture, as a share of its half diagonal, in the order of CORNERS. */
  readonly reach: readonly number[];
  /** What is still missing, the worst first, in whole sentences. */
  readonly wants: readonly string[];
}

/** How far the marks of all photos together reach into the corners of the picture as the camera stores it. */
export function coverageOf(
  photos: readonly { readonly marks: readonly { readonly picture: { x: number; y: number } }[] }[],
  widthPx: number,
  heightPx: number,
): Coverage {
  const reach = [0, 0, 0, 0];
  for (const { marks } of photos) {
    for (const { picture: q } of marks) {
      const x = (2 * q.x) / widthPx - 1;
      const y = (2 * q.y) / heightPx - 1;
      const corner = (x > 0 ? 1 : 0) + (y > 0 ? 2 : 0);
      reach[corner] = Math.max(reach[corner]!, Math.hypot(x, y) / Math.SQRT2);
    }
  }
  const wants = CORNERS.map((name, k) => ({ name, reach: reach[k]! }))
    .filter((c) => c.reach < COVERED)
    .sort((a, b) => a.reach - b.reach)
    .map((c) =>
      c.reach < NOTHING_YET
        ? `The ${c.name} corner has no marks yet.`
        : `The ${c.name} corner has marks only ${Math.round(100 * c.reach)} % of the way out.`,
    );
  return { reach, wants };
}

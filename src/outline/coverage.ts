/**
 * Share of a delivery that is no larger than the largest of `n` pieces taken from it at random, with a given confidence: one-sided,
 * without assuming how sizes are spread.
 *
 * Source: S. S. Wilks, "Determination of sample sizes for setting tolerance limits", Ann. Math. Stat. 12 (1941), 91.
 */
export const coveredShare = (n: number, confidence = 0.95): number => (1 - confidence) ** (1 / n);

/** How many pieces must be measured for the largest of them to cover a share of the delivery. */
export const piecesFor = (share: number, confidence = 0.95): number =>
  Math.ceil(Math.log(1 - confidence) / Math.log(share) - 1e-9);

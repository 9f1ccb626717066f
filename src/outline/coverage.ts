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

/**
 * Share of a delivery that is sound, with a given confidence, where `failed` of `n` pieces taken from it at random are not
 * (or are not proven to be): the one-sided limit of the binomial law. Without a failure it is `coveredShare`.
 *
 * Source: C. J. Clopper and E. S. Pearson, Biometrika 26 (1934), 404.
 */
export function holdingShare(n: number, failed: number, confidence = 0.95): number {
  if (failed >= n) return 0;
  // The share at which so few failures, or fewer, would come about in 1 - confidence of all samples.
  const chance = (share: number): number => {
    let [sum, term] = [0, share ** n];
    for (let k = 0; k <= failed; k++) {
      sum += term;
      term *= ((n - k) / (k + 1)) * ((1 - share) / share);
    }
    return sum;
  };
  let [low, high] = [1e-9, 1];
  for (let round = 0; round < 60; round++) {
    const middle = (low + high) / 2;
    if (chance(middle) > 1 - confidence) high = middle;
    else low = middle;
  }
  return low;
}

/** Integral from a to b by Simpson's rule in n (even) steps. */
function simpson(f: (x: number) => number, a: number, b: number, n = 2000): number {
  const h = (b - a) / n;
  let sum = f(a) + f(b);
  for (let k = 1; k < n; k++) sum += (k % 2 === 1 ? 4 : 2) * f(a + k * h);
  return (sum * h) / 3;
}

/** Probability that a standard normal deviate is less than x. */
export const normalBelow = (x: number): number =>
  0.5 +
  simpson((t) => Math.exp((-t * t) / 2), 0, Math.min(9, Math.max(-9, x))) / Math.sqrt(2 * Math.PI);

/** Above so many degrees of freedom Student's t is normal to four digits. */
const MANY = 2000;

/** Probability that |t| < x for Student's t. With t = sqrt(ν) tan φ its density is cos^(ν-1) φ. */
function studentWithin(x: number, degrees: number): number {
  if (degrees > MANY) return 2 * normalBelow(x) - 1;
  const density = (phi: number): number => Math.cos(phi) ** (degrees - 1);
  const reach = Math.atan(x / Math.sqrt(degrees));
  return simpson(density, 0, reach) / simpson(density, 0, Math.PI / 2);
}

/**
 * The factor t that |t| keeps within with a probability, two-sided.
 *
 * @param probability between 0 and 1, for instance 0.95
 * @param degrees of freedom, >= 1; Infinity for the normal law
 */
export function expansion(probability: number, degrees: number): number {
  const key = `${probability} ${degrees}`;
  const known = found.get(key) ?? solved(probability, degrees);
  found.set(key, known);
  return known;
}

/** Factors found before: degrees are asked for in whole numbers, so there are few. */
const found = new Map<string, number>();

function solved(probability: number, degrees: number): number {
  let [low, high] = [0, 1];
  while (studentWithin(high, degrees) < probability && high < 1e6) high *= 2;
  for (let step = 0; step < 60; step++) {
    const middle = (low + high) / 2;
    if (studentWithin(middle, degrees) < probability) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

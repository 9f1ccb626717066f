/*
 * `npm run pockets [-- --long] [--count N] [--seed N]`: the laws of law.ts over 500 random pairs of outline and settings,
 * or 10,000. Prints what was tried and the least clearance left; ends with 1 when any law is broken.
 */
import fc from 'fast-check';
import { parseArgs } from 'node:util';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { cases, check } from './law.ts';

const { values } = parseArgs({
  options: {
    long: { type: 'boolean', default: false },
    count: { type: 'string' },
    seed: { type: 'string', default: '1' },
  },
});
const clipper = await loadClipper();
const count = Number(values.count ?? (values.long ? 10_000 : 500));
let broken = 0;
let leastMarginMm = Infinity;
const sum = { relieved: 0, posts: 0, notches: 0, square: 0 };
const began = Date.now();
for (const [k, one] of fc.sample(cases, { numRuns: count, seed: Number(values.seed) }).entries()) {
  const shown = check(clipper, one);
  leastMarginMm = Math.min(leastMarginMm, shown.leastMarginMm);
  sum.relieved += shown.relieved;
  sum.posts += shown.posts;
  sum.notches += shown.notches;
  sum.square += shown.squareCorners;
  if (shown.broken.length > 0) {
    broken++;
    if (broken <= 20) {
      console.log(`case ${k}: ${shown.broken.slice(0, 3).join('; ')}`);
      if (broken <= 3) console.log(JSON.stringify(one));
    }
  }
}
console.log(
  `${count} pairs (seed ${values.seed}): ${broken} break a law; ` +
    `least clearance left over what was asked ${leastMarginMm.toFixed(5)} mm (goal: not below -0.002); ` +
    `${sum.relieved} corners relieved, ${sum.square} square corners tried against relief, ${sum.posts} posts, ${sum.notches} notches; ` +
    `${((Date.now() - began) / 1000).toFixed(0)} s`,
);
process.exit(broken > 0 ? 1 : 0);

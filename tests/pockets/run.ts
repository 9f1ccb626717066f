/*
 * `npm run pockets [-- --long] [--count N] [--seed N] [--corners KIND]`: the laws of law.ts over 500 random pairs of outline and settings,
 * or 10,000; with `--corners` all of them with that kind of corner. Prints what was tried and the least clearance left; ends with 1 when any law is broken.
 * `-- --moves`: pockets moved by hand on a bed, held against GEOS (shapely of /usr/bin/python3) instead.
 */
import fc from 'fast-check';
import { execFileSync } from 'node:child_process';
import { parseArgs } from 'node:util';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { CORNERS } from '../../src/pocket/pocket.ts';
import { cases, check } from './law.ts';
import { broken as brokenMove, move, moves } from './moves.ts';

const { values } = parseArgs({
  options: {
    long: { type: 'boolean', default: false },
    moves: { type: 'boolean', default: false },
    count: { type: 'string' },
    seed: { type: 'string', default: '1' },
    corners: { type: 'string' },
  },
});
if (values.moves) process.exit(tryMoves(Number(values.count ?? 2000), Number(values.seed)));
const clipper = await loadClipper();
const corners = CORNERS.find((kind) => kind === values.corners);
const count = Number(values.count ?? (values.long ? 10_000 : 500));
let broken = 0;
let leastMarginMm = Infinity;
const sum = { relieved: 0, posts: 0, notches: 0, along: 0, square: 0 };
const began = Date.now();
for (const [k, drawn] of fc
  .sample(cases, { numRuns: count, seed: Number(values.seed) })
  .entries()) {
  const one = corners ? { ...drawn, settings: { ...drawn.settings, corners } } : drawn;
  const shown = check(clipper, one);
  leastMarginMm = Math.min(leastMarginMm, shown.leastMarginMm);
  sum.relieved += shown.relieved;
  sum.posts += shown.posts;
  sum.notches += shown.notches;
  sum.along += shown.along;
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
  `${count} pairs (seed ${values.seed}${corners ? `, corners ${corners}` : ''}): ${broken} break a law; ` +
    `least clearance left over what was asked ${leastMarginMm.toFixed(5)} mm (goal: not below -0.002); ` +
    `${sum.relieved} corners relieved, ${sum.square} square corners tried against relief, ${sum.posts} posts, ${sum.notches} notches, ${sum.along} stretches with a clearance of their own; ` +
    `${((Date.now() - began) / 1000).toFixed(0)} s`,
);
process.exit(broken > 0 ? 1 : 0);

/** Random moves, their distances by GEOS; 1 where any law is broken. */
function tryMoves(count: number, seed: number): number {
  const tried = fc
    .sample(moves, { numRuns: count, seed })
    .map((one) => ({ one, moved: move(one) }));
  const rings = tried.map(({ moved }) =>
    [moved.ring, ...moved.others.map(({ ring }) => ring)].map((r) => r.map((p) => [p.x, p.y])),
  );
  const program = `
import json, sys
from shapely.geometry import Polygon
print(json.dumps([[Polygon(c[0]).distance(Polygon(o)) for o in c[1:]] for c in json.load(sys.stdin)]))
`;
  const apart = JSON.parse(
    execFileSync('/usr/bin/python3', ['-c', program], {
      input: JSON.stringify(rings),
      encoding: 'utf8',
      maxBuffer: 1 << 28,
    }),
  ) as number[][];
  let bad = 0;
  tried.forEach(({ one, moved }, k) => {
    const said = brokenMove(one, moved, apart[k]!);
    if (said.length === 0) return;
    if (++bad <= 10) console.log(`move ${k}: ${said.join('; ')}`);
  });
  const walls = tried.filter(({ moved }) => moved.snapped.wallTo !== undefined).length;
  const guides = tried.reduce((sum, { moved }) => sum + moved.snapped.guides.length, 0);
  const troubles = tried.filter(({ moved }) => moved.trouble.length > 0).length;
  console.log(
    `${count} moves (seed ${seed}) against GEOS: ${bad} break a law; ${walls} drawn to a wall, ` +
      `${guides} to rows, columns, middles and margins, ${troubles} with something wrong`,
  );
  return bad > 0 ? 1 : 0;
}

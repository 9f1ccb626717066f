import type { MainModule, PathsD } from 'clipper2-wasm';
import type { Frame, Point } from '../base/measure.ts';
import { inside, perimeter, signedArea } from './measure.ts';
import type { Region, Ring } from './shape.ts';

/**
 * Round joins leave the true arc by at most this, mm. At the tip of a bay of angle a that is this over sin(a/2): so small
 * that even there an offset lies within 0.002 mm of the true one.
 */
export const ARC_TOLERANCE_MM = 0.00005;

/** Coordinates are kept to this many decimals of a millimetre: nanometres. */
const DECIMALS = 6;

/** Offsets and boolean operations on regions of any mm frame; every native object is freed before a call returns. */
export interface Clipper {
  /**
   * All points within `distanceMm` of the regions (round joins), or, where it is negative, those farther than
   * -distanceMm from their edge. The library inscribes its arcs: left alone, the result is too small outward and
   * too large inward, by up to the arc tolerance. `err` says on which side the result shall lie instead:
   * 'outward': it contains the true offset and leaves it by no more than `ARC_TOLERANCE_MM`;
   * 'inward': it lies within the true offset and falls short of it by no more than that.
   * Both hold to a few nanometres. May return no region, or several.
   *
   * @param joins 'mitred': outside corners run out straight, those sharper than 60 degrees are cut off square at the distance;
   *   that holds the offset with round joins
   */
  offset<F extends Frame>(
    regions: readonly Region<F>[],
    distanceMm: number,
    err: 'outward' | 'inward',
    joins?: 'round' | 'mitred',
  ): Region<F>[];
  /**
   * All points within `distanceMm` (more than 0) of open lines, their ends round. Contains the true region and leaves
   * it by no more than `ARC_TOLERANCE_MM`.
   */
  stroke<F extends Frame>(lines: readonly (readonly Point<F>[])[], distanceMm: number): Region<F>[];
  union<F extends Frame>(a: readonly Region<F>[], b?: readonly Region<NoInfer<F>>[]): Region<F>[];
  difference<F extends Frame>(
    a: readonly Region<F>[],
    b: readonly Region<NoInfer<F>>[],
  ): Region<F>[];
  intersection<F extends Frame>(
    a: readonly Region<F>[],
    b: readonly Region<NoInfer<F>>[],
  ): Region<F>[];
}

/** A mitred corner reaches no farther than this many distances: that of 60 degrees. */
const MITRE = 2;

/** Slivers no wider than this are what rounding to DECIMALS leaves, and may turn either way, mm. */
const SLIVER_MM = 2e-6;

/** Groups loose rings into regions: every hole goes to the smallest outer ring that holds it. */
function nest<F extends Frame>(loose: readonly Ring<F>[]): Region<F>[] {
  const rings = loose.filter(
    (ring) => 2 * Math.abs(signedArea(ring)) > SLIVER_MM * perimeter(ring),
  );
  const outers = rings
    .map((outer) => ({ outer, area: signedArea(outer), holes: [] as Ring<F>[] }))
    .filter(({ area }) => area > 0)
    .sort((a, b) => a.area - b.area);
  for (const hole of rings) {
    if (signedArea(hole) >= 0) continue;
    // A vertex may lie on the outer ring itself, so most of the hole's vertices decide.
    const home = outers.find(
      ({ outer }) => hole.filter((p) => inside(outer, p)).length * 2 > hole.length,
    );
    if (!home) throw new Error('Clipper: a hole without an outer ring');
    home.holes.push(hole);
  }
  return outers.reverse().map(({ outer, holes }) => ({ outer, holes }));
}

/** The typed face over a loaded clipper2-wasm module. */
export function createClipper(module: MainModule): Clipper {
  const { FillRule, JoinType, EndType } = module;

  function scoped<T>(work: (keep: <D extends { delete(): void }>(d: D) => D) => T): T {
    const kept: { delete(): void }[] = [];
    try {
      return work((d) => {
        kept.push(d);
        return d;
      });
    } finally {
      for (const d of kept.reverse()) d.delete();
    }
  }

  const pathsOf = <F extends Frame>(regions: readonly Region<F>[]): PathsD =>
    pathsOfLines(regions.flatMap(({ outer, holes }) => [outer, ...holes]));

  function pathsOfLines<F extends Frame>(lines: readonly (readonly Point<F>[])[]): PathsD {
    const paths = new module.PathsD();
    for (const line of lines) {
      // Three numbers a vertex: x, y and an unused z.
      const flat = new Float64Array(line.length * 3);
      line.forEach((p, k) => {
        flat[3 * k] = p.x;
        flat[3 * k + 1] = p.y;
      });
      const path = new module.PathD();
      path.assign(flat);
      paths.push_back(path);
      path.delete();
    }
    return paths;
  }

  function regionsOf<F extends Frame>(paths: PathsD): Region<F>[] {
    const rings: Ring<F>[] = [];
    for (let k = 0; k < paths.size(); k++) {
      const path = paths.get(k);
      const flat = path.view();
      const ring: Point<F>[] = [];
      for (let i = 0; i < flat.length; i += 3) ring.push({ x: flat[i]!, y: flat[i + 1]! });
      path.delete();
      if (ring.length >= 3) rings.push(ring);
    }
    return nest(rings);
  }

  return {
    offset: (regions, distanceMm, err, joins = 'round') =>
      scoped((keep) => {
        if (regions.length === 0) return [];
        // Self-touching rings first become plain ones, else their offset has holes of its own.
        const plain = keep(module.UnionSelfD(keep(pathsOf(regions)), FillRule.NonZero, DECIMALS));
        if (distanceMm === 0) return regionsOf(plain);
        const outward = distanceMm > 0;
        // Inscribed arcs err inward when growing and outward when shrinking; the other side costs one tolerance.
        const shift =
          outward && err === 'outward'
            ? ARC_TOLERANCE_MM
            : !outward && err === 'inward'
              ? -ARC_TOLERANCE_MM
              : 0;
        return regionsOf(
          keep(
            module.InflatePathsD(
              plain,
              distanceMm + shift,
              joins === 'round' ? JoinType.Round : JoinType.Miter,
              EndType.Polygon,
              MITRE,
              DECIMALS,
              ARC_TOLERANCE_MM,
            ),
          ),
        );
      }),
    stroke: (lines, distanceMm) =>
      scoped((keep) => {
        if (lines.length === 0) return [];
        return regionsOf(
          keep(
            module.InflatePathsD(
              keep(pathsOfLines(lines)),
              distanceMm + ARC_TOLERANCE_MM,
              JoinType.Round,
              EndType.Round,
              2,
              DECIMALS,
              ARC_TOLERANCE_MM,
            ),
          ),
        );
      }),
    union: (a, b = []) =>
      scoped((keep) =>
        regionsOf(
          keep(module.UnionD(keep(pathsOf(a)), keep(pathsOf(b)), FillRule.NonZero, DECIMALS)),
        ),
      ),
    difference: (a, b) =>
      scoped((keep) =>
        regionsOf(
          keep(module.DifferenceD(keep(pathsOf(a)), keep(pathsOf(b)), FillRule.NonZero, DECIMALS)),
        ),
      ),
    intersection: (a, b) =>
      scoped((keep) =>
        regionsOf(
          keep(module.IntersectD(keep(pathsOf(a)), keep(pathsOf(b)), FillRule.NonZero, DECIMALS)),
        ),
      ),
  };
}

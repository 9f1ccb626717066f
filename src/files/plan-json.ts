import type { Region } from '../geometry/shape.ts';
import type { BedPlan } from '../plan/plan.ts';

type Pair = readonly [number, number];
const rings = (regions: readonly Region<'bed'>[]): Pair[][] =>
  regions.flatMap(({ outer, holes }) =>
    [outer, ...holes].map((r) => r.map((p): Pair => [p.x, p.y])),
  );

/**
 * The plan as data: `bed_mm`, `pockets` (`id`, `outline`, `place`, rings `pocket`, `cut`, `print` in the bed frame, mm;
 * outer rings counter-clockwise, holes clockwise, the first vertex not repeated), `digest`.
 */
export function planJson(plan: BedPlan): Uint8Array {
  const { bed, pocketSettings: s } = plan;
  const value = {
    snugline: 1,
    job: { number: plan.jobNumber, name: plan.jobName },
    unit: 'mm',
    frame: 'origin at the lower left corner of the bed seen from its front, x right, y up',
    bed_mm: [bed.widthMm, bed.depthMm],
    zero: bed.zero,
    settings: {
      clearance_mm: s.clearanceMm,
      ...(s.tool.kind === 'beam'
        ? { kerf_mm: s.tool.kerfMm }
        : { cutter_radius_mm: s.tool.radiusMm }),
      bleed_mm: s.bleedMm,
      safe_mm: s.safeMm,
      rows: bed.rows,
      columns: bed.columns,
      ...(bed.pitchMm ? { pitch_mm: bed.pitchMm } : {}),
      wall_mm: bed.wallMm,
      margin_mm: bed.marginMm,
    },
    pockets: plan.pockets.map((p) => ({
      id: p.id,
      outline: p.outlineId,
      place: {
        x: p.place.x,
        y: p.place.y,
        turn_deg: p.place.turnDeg,
        mirrored: p.place.mirrored,
      },
      pocket: rings(p.wall),
      cut: rings(p.cut),
      print: rings([p.print]),
    })),
    reasons: plan.reasons.map(({ code, level, message, remedy }) => ({
      code,
      level,
      message,
      remedy,
    })),
    digest: plan.digest,
  };
  return new TextEncoder().encode(`${JSON.stringify(value)}\n`);
}

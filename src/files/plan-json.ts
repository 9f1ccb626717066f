import type { Point } from '../base/measure.ts';
import type { Region } from '../geometry/shape.ts';
import type { BedPlan } from '../plan/plan.ts';
import { full } from '../pocket/pocket.ts';

type Pair = readonly [number, number];
const pair = ({ x, y }: Point<'bed'>): Pair => [x, y];
const rings = (regions: readonly Region<'bed'>[]): Pair[][] =>
  regions.flatMap(({ outer, holes }) => [outer, ...holes].map((r) => r.map(pair)));

/**
 * The plan as data: `bed_mm`, `pockets` (`id`, `outline`, `place`, rings `pocket`, `cut`, `print`, `bleed` in the bed frame, mm;
 * outer rings counter-clockwise, holes clockwise, the first vertex not repeated), `digest`.
 */
export function planJson(plan: BedPlan): Uint8Array {
  const { bed } = plan;
  const s = full(plan.pocketSettings);
  const value = {
    snugline: 1,
    job: { number: plan.jobNumber, name: plan.jobName },
    unit: 'mm',
    frame: 'origin at the lower left corner of the bed seen from its front, x right, y up',
    bed_mm: [bed.widthMm, bed.depthMm],
    zero: bed.zero,
    settings: {
      clearance_mm: s.clearanceMm,
      tool: s.tool.kind,
      ...('kerfMm' in s.tool && { kerf_mm: s.tool.kerfMm }),
      ...('radiusMm' in s.tool && { cutter_radius_mm: s.tool.radiusMm }),
      ...('offsetMm' in s.tool && { blade_offset_mm: s.tool.offsetMm }),
      ...(s.material !== undefined && { material: s.material }),
      hold: s.hold,
      ...(s.hold === 'blind' && { depth_mm: s.depthMm }),
      widened: s.widen,
      relief: s.relief,
      layout: bed.layout ?? 'rows',
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
      bleed: rings(p.bleed),
      ...(p.relief.length > 0 && { relief: p.relief.map((way) => way.map(pair)) }),
      ...(p.notches.length > 0 && { notch: rings(p.notches) }),
      ...(p.eject.length > 0 && { eject: rings(p.eject) }),
    })),
    ...(plan.heights && {
      heights_mm: plan.heights.prints.map((h) => ({
        what: h.what,
        panel: h.panel,
        value: h.valueMm,
        highest: h.highestMm,
        head: h.headMm,
      })),
    }),
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

import { Refusal, type Level, type Reason } from '../base/reason.ts';
import { selfCrossing, signedArea } from '../geometry/measure.ts';
import type { Region, Ring } from '../geometry/shape.ts';
import type { At, Outline, Stretch, Trace, Verdict } from '../outline/outline.ts';
import { isScanner } from '../view/model.ts';
import type { View } from '../view/view.ts';

/** What an outline file says about one outline: enough for a pocket, too little for a budget. */
export type FiledOutline = Pick<
  Outline,
  'id' | 'blank' | 'at' | 'region' | 'u' | 'hidden' | 'rider' | 'mirrored'
> &
  Partial<Pick<Outline, 'wholeFactor' | 'thicknessMm' | 'pieces' | 'byHand'>>;

export interface OutlineFile {
  readonly outlines: readonly FiledOutline[];
  readonly verdict: Verdict;
  /** As the file has them; `code` may come from another version. */
  readonly reasons: readonly (Pick<Reason, 'message' | 'remedy'> & {
    readonly code: string;
    readonly level: Level;
  })[];
}

export const OUTLINE_FILE_VERSION = 1;

const round = (v: number, decimals: number): number => {
  const f = 10 ** decimals;
  return Math.round(v * f) / f + 0;
};

type Position = readonly [number, number];

/** RFC 7946, 3.1.6: the first position is repeated at the end. */
const closedRing = (ring: Ring<'sheet'>): Position[] =>
  [...ring, ring[0]!].map((p): Position => [round(p.x, 6), round(p.y, 6)]);

/** How the picture was calibrated, as the file tells it. */
function calibrationOf(view: View, heightMm: number): Record<string, unknown> {
  const { eye, cameraHeightMm = 0, foot } = view;
  const residuals = {
    residual_rms_px: round(view.residualRmsPx, 4),
    residual_rms_mm: round(view.residualRmsMm, 5),
  };
  if (isScanner(eye)) {
    const [a, b, c, d] = eye.matrix;
    return {
      model: 'scanner: affine, with a smooth correction along the feed',
      mm_per_px: round(view.mmPerPx, 6),
      mm_per_px_line: round(Math.hypot(a, c) * eye.pxMm, 7),
      mm_per_px_feed: round(Math.hypot(b, d) * eye.pxMm, 7),
      // How far the two axes are from a right angle.
      skew_rad: round((a * b + c * d) / (Math.hypot(a, c) * Math.hypot(b, d)), 7),
      rotation_rad: round(Math.atan2(c, a), 6),
      ...residuals,
    };
  }
  return {
    model: 'camera: pinhole with radial (k1, k2) and tangential (p1, p2) distortion',
    focal_px: round(eye.fPx, 2),
    principal_point_px: [round(eye.cxPx, 2), round(eye.cyPx, 2)],
    distortion: [eye.k1, eye.k2, eye.p1, eye.p2],
    camera_height_mm: round(cameraHeightMm, 3),
    ...(foot && { foot_mm: [round(foot.x, 3), round(foot.y, 3)] }),
    ...residuals,
    mm_per_px: round((view.mmPerPx * (cameraHeightMm - heightMm)) / cameraHeightMm, 6),
  };
}

const perRing = (stretches: readonly Stretch[], rings: number): Position[][] =>
  Array.from({ length: rings }, (_, ring) =>
    stretches.filter((s) => s.ring === ring).map((s): Position => [s.from, s.to]),
  );

/**
 * Outlines as GeoJSON (RFC 7946 structure, planar millimetres in the sheet frame). `u_mm` has one array per ring and
 * one value per vertex, the repeated last position not counted; `hidden` lists, per ring, ranges of vertices. A refused
 * trace holds its reasons and no features.
 */
export function outlineJson(trace: Trace, view?: View): Uint8Array {
  const refused = trace.verdict === 'refused';
  const outlines = refused ? [] : trace.outlines;
  const value = {
    type: 'FeatureCollection',
    snugline: {
      version: OUTLINE_FILE_VERSION,
      unit: 'mm',
      verdict: trace.verdict,
      reasons: trace.reasons.map(({ code, level, message, remedy, facts }) => ({
        code,
        level,
        message,
        remedy,
        facts,
      })),
      ...(view ? { calibration: calibrationOf(view, outlines[0]?.thicknessMm ?? 0) } : {}),
    },
    features: outlines.map((o) => {
      const rings = [o.region.outer, ...o.region.holes];
      return {
        type: 'Feature',
        geometry: { type: 'Polygon', coordinates: rings.map(closedRing) },
        properties: {
          id: o.id,
          blank: o.blank,
          at: o.at,
          ...(o.pieces && { pieces: o.pieces }),
          u_mm: o.u.map((ring) => Array.from(ring, (u) => round(u, 5))),
          hidden: perRing(o.hidden, rings.length),
          ...(o.byHand && { by_hand: perRing(o.byHand, rings.length) }),
          rider: o.rider,
          mirrored: o.mirrored,
          height_mm: o.heightMm,
          thickness_mm: o.thicknessMm,
          whole_factor: o.wholeFactor,
          fit_deviation_mm: round(o.fitDeviationMm, 5),
          doubtful: o.doubtful.map(({ ring, from, to, why }) => ({ ring, from, to, why })),
          sources: [...new Set(o.modes.map(({ source }) => source))],
        },
      };
    }),
  };
  return new TextEncoder().encode(`${JSON.stringify(value)}\n`);
}

const refuse = (file: string, what: string): Refusal =>
  new Refusal('outline-file-unread', { file, what });

const isRecord = (v: unknown): v is Record<string, unknown> =>
  typeof v === 'object' && v !== null && !Array.isArray(v);

const AT: readonly At[] = ['face', 'widest', 'sheet', 'envelope', 'mean'];

/**
 * Reads an outline file, our own or one that another program wrote in the same form.
 *
 * @param file its name, for the sentences
 * @throws Refusal `outline-file-unread` with what is wrong and where
 */
export function readOutlineJson(bytes: Uint8Array, file: string): OutlineFile {
  let value: unknown;
  try {
    value = JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(bytes));
  } catch {
    throw refuse(file, 'it is not JSON in UTF-8');
  }
  if (!isRecord(value) || value.type !== 'FeatureCollection' || !Array.isArray(value.features)) {
    throw refuse(file, 'it is no FeatureCollection');
  }
  const head = isRecord(value.snugline) ? value.snugline : undefined;
  if (!head) throw refuse(file, 'the block "snugline" is missing');
  if (head.version !== OUTLINE_FILE_VERSION) {
    throw refuse(file, `its version is ${String(head.version)}, not ${OUTLINE_FILE_VERSION}`);
  }
  const verdict = (['ok', 'doubtful', 'refused'] as const).find((v) => v === head.verdict);
  if (!verdict) throw refuse(file, `its verdict "${String(head.verdict)}" is unknown`);
  const reasons = (Array.isArray(head.reasons) ? head.reasons : []).filter(isRecord).map((r) => ({
    code: String(r.code),
    level: (['refuse', 'doubt', 'note'] as const).find((l) => l === r.level) ?? 'doubt',
    message: String(r.message),
    remedy: String(r.remedy),
  }));
  const outlines = value.features.map((f: unknown, k) => featureOf(f, `feature ${k + 1}`, file));
  const seen = new Set<string>();
  for (const { id } of outlines) {
    if (seen.has(id)) throw refuse(file, `two features have the id "${id}"`);
    seen.add(id);
  }
  return { outlines, verdict, reasons };
}

function featureOf(feature: unknown, where: string, file: string): FiledOutline {
  const geometry = isRecord(feature) ? feature.geometry : undefined;
  const p = isRecord(feature) ? feature.properties : undefined;
  if (!isRecord(geometry) || geometry.type !== 'Polygon' || !Array.isArray(geometry.coordinates)) {
    throw refuse(file, `${where} is no Polygon`);
  }
  if (!isRecord(p)) throw refuse(file, `${where} has no properties`);
  const { id, blank } = p;
  const at = AT.find((a) => a === p.at);
  if (typeof id !== 'string' || id === '') throw refuse(file, `${where} has no id`);
  if (typeof blank !== 'number' || !Number.isInteger(blank) || blank < 1) {
    throw refuse(file, `${where} has no blank number from 1`);
  }
  if (!at) throw refuse(file, `${where}: at "${String(p.at)}" is none of ${AT.join(', ')}`);
  const rings = geometry.coordinates.map((r: unknown, k) => ringOf(r, k, where, file));
  if (rings.length === 0) throw refuse(file, `${where} has no ring`);
  const region: Region<'sheet'> = { outer: rings[0]!, holes: rings.slice(1) };
  return {
    id,
    blank,
    at,
    region,
    u: uOf(p.u_mm, rings, where, file),
    hidden: hiddenOf(p.hidden, rings.length),
    ...(p.by_hand !== undefined && { byHand: hiddenOf(p.by_hand, rings.length) }),
    rider: p.rider === true,
    mirrored: p.mirrored === true,
    ...(typeof p.whole_factor === 'number' ? { wholeFactor: p.whole_factor } : {}),
    ...(typeof p.thickness_mm === 'number' ? { thicknessMm: p.thickness_mm } : {}),
    ...(Array.isArray(p.pieces) && p.pieces.every((n) => typeof n === 'number')
      ? { pieces: p.pieces }
      : {}),
  };
}

function ringOf(value: unknown, index: number, where: string, file: string): Ring<'sheet'> {
  const name = `${where}, ring ${index + 1}`;
  if (!Array.isArray(value)) throw refuse(file, `${name} is no list`);
  const ring = value.map((c: unknown) => {
    const [x, y] = Array.isArray(c) ? (c as unknown[]) : [];
    if (typeof x !== 'number' || typeof y !== 'number' || !Number.isFinite(x + y)) {
      throw refuse(file, `${name} has a position that is no pair of numbers`);
    }
    return { x, y };
  });
  const first = ring[0];
  const last = ring[ring.length - 1];
  if (ring.length > 1 && first!.x === last!.x && first!.y === last!.y) ring.pop();
  if (ring.length < 3) throw refuse(file, `${name} has fewer than three vertices`);
  const area = signedArea(ring);
  if (area === 0) throw refuse(file, `${name} has no area`);
  if (area > 0 !== (index === 0)) {
    throw refuse(
      file,
      `${name} runs the wrong way: outer rings run counter-clockwise, holes clockwise`,
    );
  }
  const crossing = selfCrossing(ring);
  if (crossing) {
    throw refuse(file, `${name} crosses itself at edges ${crossing[0]} and ${crossing[1]}`);
  }
  return ring;
}

function uOf(
  value: unknown,
  rings: readonly Ring<'sheet'>[],
  where: string,
  file: string,
): Float64Array[] {
  const good = (u: unknown): u is number => typeof u === 'number' && Number.isFinite(u) && u >= 0;
  if (good(value)) return rings.map((ring) => new Float64Array(ring.length).fill(value));
  const lists = rings.map((ring, k) => {
    const list: unknown = Array.isArray(value) ? (value as unknown[])[k] : undefined;
    if (!Array.isArray(list) || !list.every(good)) return undefined;
    // One value per vertex, or one per position with the repeated one at the end.
    return list.length === ring.length || list.length === ring.length + 1
      ? Float64Array.from(list.slice(0, ring.length))
      : undefined;
  });
  if (lists.some((list) => list === undefined)) {
    throw refuse(
      file,
      `${where}: u_mm is neither one number nor one array per ring with a value, 0 or more, per vertex`,
    );
  }
  return lists as Float64Array[];
}

function hiddenOf(value: unknown, rings: number): Stretch[] {
  if (!Array.isArray(value)) return [];
  return value.slice(0, rings).flatMap((ranges: unknown, ring) =>
    (Array.isArray(ranges) ? ranges : []).flatMap((range: unknown) => {
      const [from, to] = Array.isArray(range) ? (range as unknown[]) : [];
      return typeof from === 'number' && typeof to === 'number' ? [{ ring, from, to }] : [];
    }),
  );
}

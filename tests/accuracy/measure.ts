/** One case through the same function as the command line's `trace`. */
import { DEFAULT_TRACE, traceFile, type Timings, type TraceOptions } from '../../src/cli/trace.ts';
import type { Reason } from '../../src/base/reason.ts';
import type { Outline, Verdict } from '../../src/outline/outline.ts';
import { loadVision } from '../../src/vision/load-node.ts';
import { readPicture } from '../../src/picture/decode-node.ts';
import { calibrateScan, DPI_SHARE } from '../../src/view/scan.ts';
import { findScanMarks } from '../../src/view/scan-marks.ts';
import { profileOf, type ScannerProfile } from '../../src/view/scan-profile.ts';
import { material, type Case } from './cases.ts';
import type { Measured, Place } from './score.ts';

export const STAGES = ['decode', 'marks', 'view', 'outline'] as const satisfies (keyof Timings)[];

export interface Measurement {
  readonly verdict: Verdict;
  readonly reasons: readonly Reason[];
  /** One for each blank, at its widest place. */
  readonly outlines: readonly Measured[];
  /** Milliseconds by stage, as far as it went, and in all. */
  readonly stages: Partial<Timings>;
  readonly ms: number;
}

/** What the operator of this case enters on the command line. */
export function optionsOf(one: Case): TraceOptions {
  const named = Object.entries(one.thicknessMm);
  return {
    ...DEFAULT_TRACE,
    ...(named.length === 1
      ? { thicknessMm: named[0]![1] }
      : { thicknessOfBlankMm: Object.fromEntries(named.map(([k, v]) => [Number(k), v])) }),
    ...(one.widestMm === undefined ? {} : { widestMm: one.widestMm }),
    ...(one.scan && { scan: {} }),
    spansMm: one.spansMm,
    riderSpansMm: Object.fromEntries(
      Object.entries(one.riderSpansMm).map(([size, span]) => [Number(size), span]),
    ),
  };
}

/** The scanner's profile from its scan of the measured sheet, as the verb `scanner` makes it. */
async function profileFrom(scene: string, { spansMm }: Case): Promise<ScannerProfile> {
  const sheet = material({ name: scene, picture: 'scene' });
  if ('missing' in sheet) throw new Error(sheet.missing);
  const picture = await readPicture(sheet.bytes, sheet.name);
  const { meta, widthPx, heightPx } = picture;
  const found = findScanMarks({ cv: loadVision().cv }, picture, meta.densityDpi);
  const view = calibrateScan(found, meta, widthPx, heightPx, {
    ...DEFAULT_TRACE,
    thicknessMm: [0],
    spansMm,
    dpiShare: DPI_SHARE,
  });
  return profileOf([{ view, meta }]);
}

/** The outline in the scorer's terms. */
export function measuredOf(outline: Outline): Measured {
  const { region } = outline;
  return {
    rings: [region.outer, ...region.holes].map((ring) => ring.map(({ x, y }): Place => [x, y])),
    u: outline.u,
    hidden: outline.hidden,
    wholeFactor: outline.wholeFactor,
  };
}

export async function measure(
  bytes: Uint8Array,
  name: string,
  one: Case,
  options: TraceOptions = optionsOf(one),
): Promise<Measurement> {
  loadVision();
  const start = performance.now();
  const profile = one.scan?.profile;
  const made = profile === undefined ? undefined : await profileFrom(profile, one);
  const { trace, timings } = await traceFile(
    bytes,
    name,
    made ? { ...options, scan: { profile: made } } : options,
  );
  const ms = performance.now() - start;
  const widest = new Map<number, Outline>();
  for (const outline of trace.outlines) {
    if (outline.at === 'widest' || !widest.has(outline.blank)) widest.set(outline.blank, outline);
  }
  return {
    verdict: trace.verdict,
    reasons: trace.reasons,
    // What is refused is not handed on.
    outlines: trace.verdict === 'refused' ? [] : [...widest.values()].map(measuredOf),
    stages: timings,
    ms,
  };
}

/** Milliseconds of loading OpenCV; nothing where it was loaded before. */
export function loadTimed(): number {
  const start = performance.now();
  loadVision();
  return performance.now() - start;
}

/** One case through the same function as the command line's `trace`. */
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { DEFAULT_TRACE, traceFiles, type Timings, type TraceOptions } from '../../src/cli/trace.ts';
import type { Reason } from '../../src/base/reason.ts';
import type { Outline, Verdict } from '../../src/outline/outline.ts';
import type { Picture } from '../../src/picture/picture.ts';
import { readPicture } from '../../src/picture/decode-node.ts';
import type { View } from '../../src/view/view.ts';
import { findMarks } from '../../src/view/marks.ts';
import { profileOf } from '../../src/view/profile.ts';
import { loadVision } from '../../src/vision/load-node.ts';
import { calibrateScan, DPI_SHARE } from '../../src/view/scan.ts';
import { findScanMarks } from '../../src/view/scan-marks.ts';
import type { ScannerProfile } from '../../src/view/scan.ts';
import { profileOf as scannerProfileOf } from '../../src/view/scan-profile.ts';
import { material, type Case, type Material } from './cases.ts';
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
  /** What it was measured on; of several pictures nothing. */
  readonly seen?: { readonly view: View; readonly picture: Picture };
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
    ...(one.blocksMm && { blocksMm: one.blocksMm }),
    ...(one.scan && { scan: {} }),
    spansMm: one.spansMm,
    riderSpansMm: Object.fromEntries(
      Object.entries(one.riderSpansMm).map(([size, span]) => [Number(size), span]),
    ),
  };
}

/** The scanner's profile from its scan of the measured sheet, as the verb `scanner` makes it. */
export async function profileFrom(scene: string, { spansMm }: Case): Promise<ScannerProfile> {
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
  return scannerProfileOf([{ view, meta }]);
}

/** The outline in the scorer's terms. */
export function measuredOf(outline: Outline): Measured {
  const { region } = outline;
  return {
    rings: [region.outer, ...region.holes].map((ring) => ring.map(({ x, y }): Place => [x, y])),
    u: outline.u,
    hidden: outline.hidden,
    wholeFactor: outline.wholeFactor,
    heightMm: outline.heightMm,
  };
}

const profiles = new Map<string, string>();

/** The lens profile from the views of a folder, as its file. */
export async function lensText(folder: string): Promise<string> {
  const known = profiles.get(folder);
  if (known !== undefined) return known;
  const vision = { cv: loadVision().cv };
  const photos = [];
  for (const file of readdirSync(folder).filter((f) => f.endsWith('.jpg'))) {
    const picture = await readPicture(readFileSync(join(folder, file)), file);
    const { meta, widthPx, heightPx } = picture;
    photos.push({ found: findMarks(vision, picture), meta, widthPx, heightPx });
  }
  const text = JSON.stringify(profileOf(photos).profile);
  profiles.set(folder, text);
  return text;
}

export async function measure(
  bytes: Uint8Array,
  name: string,
  one: Case,
  plain: TraceOptions = optionsOf(one),
  { lensFolder, more = [] }: Partial<Pick<Material, 'lensFolder' | 'more'>> = {},
): Promise<Measurement> {
  loadVision();
  const options =
    lensFolder === undefined
      ? plain
      : { ...plain, lens: { name: `${one.lens}.json`, text: await lensText(lensFolder) } };
  const profile = one.scan?.profile;
  const made = profile === undefined ? undefined : await profileFrom(profile, one);
  const start = performance.now();
  const { trace, timings, view, picture } = await traceFiles(
    [{ bytes, name }, ...more],
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
    ...(view && picture && more.length === 0 && { seen: { view, picture } }),
  };
}

/** Milliseconds of loading OpenCV; nothing where it was loaded before. */
export function loadTimed(): number {
  const start = performance.now();
  loadVision();
  return performance.now() - start;
}

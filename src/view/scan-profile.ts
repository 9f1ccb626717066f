import { reason, Refusal, type Reason } from '../base/reason.ts';
import type { PictureMeta } from '../picture/picture.ts';
import {
  calibrateScan,
  feedSizes,
  glassView,
  off,
  scanByDensity,
  type ScannerProfile,
  type ScanSettings,
} from './scan.ts';
import { feedAt, glassOf, SCANNER_SIZE, type Scanner } from './scanner.ts';
import type { FoundMarks, Mode, Source, View } from './view.ts';

/** How far a drive differs from scan to scan where only one scan tells, mm: a third of its error (assumed). */
const REPEAT_MM = 0.01;
/** Scale from scan to scan: warming moves the belt by some hundred parts in a million (assumed). */
const REPEAT_SCALE = 1e-4;

/** A calibrated scan of a measured sheet and what its file said. */
export interface ProfiledScan {
  readonly view: View;
  readonly meta: PictureMeta;
}

/**
 * The profile of the scanner that made these scans of a measured sheet.
 *
 * @throws Refusal `profile-sizes-differ`
 */
export function profileOf(scans: readonly ProfiledScan[]): ScannerProfile {
  const [{ view, meta }] = scans as [ProfiledScan];
  const { widthPx, heightPx } = view;
  for (const { view: other } of scans) {
    if (other.widthPx !== widthPx || other.heightPx !== heightPx)
      throw new Refusal('profile-sizes-differ', {
        first: `${widthPx} x ${heightPx}`,
        other: `${other.widthPx} x ${other.heightPx}`,
      });
  }
  const turned = scans.map((scan) => inPictureFrame(scan.view));
  const first = turned[0]!;
  const mean = (of: (s: Scanner) => number): number =>
    turned.reduce((sum, { scanner }) => sum + of(scanner), 0) / turned.length;
  const { pxMm } = first.scanner;
  const scanner: Scanner = {
    ...first.scanner,
    matrix: [0, 1, 2, 3].map((k) =>
      mean((s) => (s.matrix[k]! * s.pxMm) / pxMm),
    ) as unknown as Scanner['matrix'],
    feed: {
      ...first.scanner.feed,
      coefficients: first.scanner.feed.coefficients.map((_, k) =>
        mean((s) => s.feed.coefficients[k] ?? 0),
      ),
    },
  };
  return {
    widthPx,
    heightPx,
    ...(meta.densityDpi !== undefined && { headerDpi: meta.densityDpi }),
    scanner: { ...scanner, shiftMm: cornerAtOrigin(scanner, heightPx) },
    modes: first.modes,
    repeatMm: repeatOf(
      turned.map((t) => t.scanner),
      heightPx,
    ),
    scans: scans.length,
  };
}

/** Root mean square difference of the drive's course between scans, per scan, mm. */
function repeatOf(scanners: readonly Scanner[], heightPx: number): number {
  if (scanners.length < 2) return REPEAT_MM;
  const rows = Array.from({ length: 60 }, (_, k) => ((k + 0.5) / 60) * heightPx);
  const courses = scanners.map((s) => rows.map((v) => feedAt(s.feed, v)));
  let sum = 0;
  rows.forEach((_, r) => {
    const mean = courses.reduce((m, c) => m + c[r]!, 0) / courses.length;
    for (const c of courses) sum += (c[r]! - mean) ** 2;
  });
  return Math.max(0.002, Math.sqrt(sum / (rows.length * (scanners.length - 1))));
}

/** Turns a scan's calibration so that x runs along the sensor's line. */
function inPictureFrame(view: View): { scanner: Scanner; modes: ScannerProfile['modes'] } {
  const scanner = view.eye as Scanner;
  const [a, , c] = scanner.matrix;
  const length = Math.hypot(a, c);
  const [cos, sin] = [a / length, c / length];
  const turn = (x: number, y: number): [number, number] => [cos * x + sin * y, cos * y - sin * x];
  const matrix = (m: ArrayLike<number>): [number, number, number, number] => {
    const [xu, yu] = turn(m[0]!, m[2]!);
    const [xv, yv] = turn(m[1]!, m[3]!);
    return [xu, xv, yu, yv];
  };
  const size = SCANNER_SIZE + scanner.feed.coefficients.length;
  return {
    scanner: {
      ...scanner,
      matrix: matrix(scanner.matrix),
      feed: { ...scanner.feed, direction: turn(...scanner.feed.direction) },
    },
    modes: view.modes.map(({ source, delta }) => ({
      source,
      delta: [
        ...matrix(delta),
        ...turn(delta[4]!, delta[5]!),
        ...delta.subarray(SCANNER_SIZE, size),
      ],
    })),
  };
}

/** The shift that puts the picture's lower left corner at the origin. */
function cornerAtOrigin(scanner: Scanner, heightPx: number): readonly [number, number] {
  const corner = glassOf({ ...scanner, shiftMm: [0, 0] }, -0.5, heightPx - 0.5);
  return [-corner.x, -corner.y];
}

/**
 * A scan without marks by a profile of its scanner; the frame's origin is the picture's lower left corner.
 *
 * @throws Refusal `profile-other-scan` where the picture's size is not the profile's
 */
export function scanByProfile(
  profile: ScannerProfile,
  meta: PictureMeta,
  widthPx: number,
  heightPx: number,
  settings: ScanSettings,
): View {
  if (widthPx !== profile.widthPx || heightPx !== profile.heightPx)
    throw new Refusal('profile-other-scan', {
      widthPx,
      heightPx,
      profileWidthPx: profile.widthPx,
      profileHeightPx: profile.heightPx,
    });
  const view = glassView(profile.scanner, widthPx, heightPx, settings);
  const mode = (source: Source, set: (delta: Float64Array) => void): Mode => {
    const delta = new Float64Array(view.names.length);
    set(delta);
    return { source, delta };
  };
  const [a, b, c, d] = profile.scanner.matrix;
  const modes = [
    ...profile.modes.map(({ source, delta }) => mode(source, (v) => v.set(delta))),
    ...feedSizes(profile.scanner, profile.scanner.pxMm).map((sd, k) =>
      mode('feed', (v) => (v[SCANNER_SIZE + k] = sd * profile.repeatMm)),
    ),
    mode('scanner', (v) => v.set([a * REPEAT_SCALE, 0, c * REPEAT_SCALE])),
    mode('scanner', (v) => v.set([0, b * REPEAT_SCALE, 0, d * REPEAT_SCALE])),
  ];
  const reasons: Reason[] = [];
  if (profile.headerDpi !== undefined && off(meta.densityDpi, profile.headerDpi)) {
    reasons.push(
      reason('profile-other-density', {
        header: Math.round(meta.densityDpi!),
        profile: Math.round(profile.headerDpi),
      }),
    );
  }
  return { ...view, modes, reasons };
}

/** Whether a profile serves a scan: the same part of the glass at the same density, by size and by what the file says. */
export const servesScan = (
  { widthPx, heightPx, headerDpi }: ScannerProfile,
  picture: { readonly widthPx: number; readonly heightPx: number; readonly meta: PictureMeta },
): boolean =>
  picture.widthPx === widthPx &&
  picture.heightPx === heightPx &&
  (headerDpi === undefined || !off(picture.meta.densityDpi, headerDpi));

/** Of which setting a profile is: two with the same words cannot both serve. */
export const scannerKey = (p: ScannerProfile): string =>
  JSON.stringify([p.widthPx, p.heightPx, Math.round(p.headerDpi ?? 0)]);

/**
 * The view of a scan by what is known of it: its marks, else its scanner's profile, else the density that the operator states.
 *
 * @param found absent, or without marks, where none lay on the glass
 * @throws Refusal `scan-unscaled`, `profile-other-scan`, and as `calibrateScan` does
 */
export function scanView(
  found: FoundMarks | undefined,
  { meta, widthPx, heightPx }: { meta: PictureMeta; widthPx: number; heightPx: number },
  settings: ScanSettings,
): View {
  const { profile, dpi } = settings;
  if (found && found.marks.length > 0)
    return calibrateScan(found, meta, widthPx, heightPx, settings);
  if (profile) return scanByProfile(profile, meta, widthPx, heightPx, settings);
  if (dpi === undefined) throw new Refusal('scan-unscaled');
  return scanByDensity(meta, widthPx, heightPx, { ...settings, dpi });
}

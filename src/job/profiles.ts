import { fits } from '../view/profile-photos.ts';
import { servesScan } from '../view/scan-profile.ts';
import { isBare, isScanned, type Job } from './job.ts';
import type { PictureInfo } from './run.ts';
import type { KeptProfile } from './store.ts';

/** The kept lens profiles that a picture may be measured with. */
export const lensesFor = (
  { meta }: PictureInfo,
  kept: readonly KeptProfile[],
): readonly Extract<KeptProfile, { kind: 'lens' }>[] =>
  kept.flatMap((k) => (k.kind === 'lens' && fits(k.profile, meta) ? [k] : []));

/** The kept scanner profiles that a scan may be measured with. */
export const scannersFor = (
  info: PictureInfo,
  kept: readonly KeptProfile[],
): readonly Extract<KeptProfile, { kind: 'scanner' }>[] =>
  kept.flatMap((k) => (k.kind === 'scanner' && servesScan(k.profile, info) ? [k] : []));

/**
 * What a picture makes of the job's choice of profile: one that is not of its camera or scanner is given up, one of those kept on
 * this machine is taken; undefined where nothing changes. Nothing is taken where the operator would have none, nor a lens of a
 * camera that the files do not name: any camera of that picture size would fit it. She may choose such a one herself.
 */
export function profileFor(
  job: Job,
  info: PictureInfo,
  kept: readonly KeptProfile[],
): Partial<Job> | undefined {
  const { lens, scanner } = job;
  if (isBare(job)) {
    if (scanner === 'none' || (scanner && servesScan(scanner, info))) return undefined;
    const next = scannersFor(info, kept)[0]?.profile ?? null;
    return next === scanner ? undefined : { scanner: next };
  }
  if (isScanned(job) || lens === 'none' || (lens && fits(lens, info.meta))) return undefined;
  const next = lensesFor(info, kept).find((k) => k.profile.camera !== null)?.profile ?? null;
  return next === lens ? undefined : { lens: next };
}

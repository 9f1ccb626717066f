import { isUpright } from '../check/check.ts';
import type { RecordEntry } from '../check/record.ts';
import { isScanned, type Job } from './job.ts';
import type { Results } from './run.ts';

/** The camera, or the scanner's setting, that a picture came from, in words; undefined before it has been read. */
export function cameraOf(job: Job, { info }: Results): string | undefined {
  if (!info?.ok) return undefined;
  const { meta, widthPx, heightPx } = info.value;
  if (isScanned(job))
    return `scans of ${widthPx} x ${heightPx} px${meta.densityDpi ? ` at ${Math.round(meta.densityDpi)} per inch` : ''}`;
  return [meta.camera ?? 'a camera that the file does not name', meta.lens]
    .filter(Boolean)
    .join(', ');
}

export const sheetWords = ({ sheet }: Job): string =>
  sheet.by === 'strip'
    ? 'strip'
    : sheet.by === 'bare'
      ? 'nothing'
      : `${sheet.paper}, ${sheet.stage}`;

/**
 * The readings of a job that the record remembers: those of a real blank that were held against an outline they had not
 * corrected, over an edge that was seen; what stands upright says nothing of the edge.
 *
 * @param id of the job; entries of one job begin with it
 * @param factor by which every U of these results was widened
 */
export function entriesOf(
  id: string,
  job: Job,
  results: Results,
  factor: number,
  on: string,
): readonly RecordEntry[] {
  const camera = cameraOf(job, results);
  if (job.invented || !results.checks?.ok || camera === undefined) return [];
  const picture = [job.picture, ...job.more]
    .flatMap((p) => p?.digest ?? [])
    .sort()
    .join(' ');
  return results.checks.value.checked
    .filter(({ used, dimension }) => !used && !dimension.unseen && !isUpright(dimension.kind))
    .map(({ reading, dimension, averaged }) => ({
      key: `${id} ${reading.blank} ${JSON.stringify(reading.feature)}`,
      picture: `${picture} ${reading.blank}`,
      on,
      camera,
      sheet: sheetWords(job),
      with: reading.with,
      readMm: averaged.readMm,
      readU: averaged.u,
      outlineMm: dimension.valueMm,
      outlineU: dimension.u / factor,
    }));
}

import { readJob, type Job } from '../../job/job.ts';

const files = import.meta.glob<string>('../../../demo-data/{job.json,photo.jpg}', {
  query: '?url',
  import: 'default',
  eager: true,
});
const address = (name: string): string | undefined =>
  Object.entries(files).find(([path]) => path.endsWith(name))?.[1];

/** The sample job with its picture: an invented studio and an invented blank, the picture rendered. */
export async function sample(): Promise<{ job: Job; picture: File }> {
  const [job, photo] = [address('job.json'), address('photo.jpg')];
  if (!job || !photo) throw new Error('the sample job is missing from this build');
  const [text, picture] = await Promise.all([
    fetch(job).then((r) => r.text()),
    fetch(photo).then((r) => r.blob()),
  ]);
  return { job: readJob(text), picture: new File([picture], 'photo.jpg', { type: 'image/jpeg' }) };
}

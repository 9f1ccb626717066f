import { expose } from 'comlink';
import { outcome } from '../src/base/reason.ts';
import type { Job } from '../src/job/job.ts';
import { readJobFile, writeJobFile, type JobPicture } from '../src/job/job-file.ts';
import type { PictureFile, ReadJob } from '../src/job/run.ts';

/** Job files: every picture in them is hashed, which holds up whoever does it. */
const api = {
  read: outcome(async (file: Blob): Promise<ReadJob> => {
    const { job, pictures, reasons } = readJobFile(new Uint8Array(await file.arrayBuffer()));
    const files = pictures.map(({ name, digest, bytes }) => ({
      name,
      digest,
      bytes: new Blob([bytes as Uint8Array<ArrayBuffer>]),
    }));
    return { job, files, reasons };
  }),
  write: async (job: Job | string, files: readonly PictureFile[]): Promise<Blob> => {
    const pictures: JobPicture[] = [];
    for (const { name, digest, bytes } of files)
      pictures.push({ name, digest, bytes: new Uint8Array(await bytes.arrayBuffer()) });
    return new Blob([writeJobFile(job, pictures) as Uint8Array<ArrayBuffer>]);
  },
};

export type JobApi = typeof api;
expose(api);

import type { Reason } from '../base/reason.ts';
import type { History } from './history.ts';
import type { RecordEntry } from '../check/record.ts';
import type { LensProfile } from '../view/profile.ts';
import type { ScannerProfile } from '../view/scan.ts';
import type { Job } from './job.ts';

/** A job as it is kept between visits. */
export interface KeptJob {
  readonly id: string;
  /** Place in the list: jobs come back in the order they were made. */
  readonly place: number;
  readonly job: Job;
  /** What can be undone and done again. */
  readonly history: History;
}

/** A job whose record could not be read; it is left where it is. */
export interface LostJob {
  readonly id: string;
  readonly place: number;
  readonly reason: Reason;
  /** The record as it is. */
  readonly text: string;
}

export interface KeptPicture {
  /** SHA-256 of the bytes, hexadecimal. */
  readonly digest: string;
  readonly name: string;
  readonly type: string;
  readonly bytes: ArrayBuffer;
}

/** A profile as it is kept on this machine; the key says which camera or setting it is of, so that a newer one replaces it. */
export type KeptProfile = { readonly key: string; readonly on: string } & (
  | { readonly kind: 'lens'; readonly profile: LensProfile }
  | { readonly kind: 'scanner'; readonly profile: ScannerProfile }
);

/**
 * Where jobs and their pictures are kept on this machine. What a promise was fulfilled for outlives the page; a picture is kept
 * before the job that names it.
 */
export interface Store {
  jobs(): Promise<{ readonly kept: readonly KeptJob[]; readonly lost: readonly LostJob[] }>;
  /** @throws Refusal `store-full`, `store-fault` */
  keep(job: KeptJob): Promise<void>;
  forget(id: string): Promise<void>;
  picture(digest: string): Promise<KeptPicture | undefined>;
  /** @throws Refusal `store-full`, `store-fault` */
  keepPicture(picture: KeptPicture): Promise<void>;
  /** Those that can be read; one that cannot is left where it is. */
  profiles(): Promise<readonly KeptProfile[]>;
  /** @throws Refusal `store-full`, `store-fault` */
  keepProfile(profile: KeptProfile): Promise<void>;
  forgetProfile(key: string): Promise<void>;
  /** Every reading that was ever held against an outline, in the order of their days. */
  record(): Promise<readonly RecordEntry[]>;
  /** Writes entries in place of those of the same key, and takes others away. @throws Refusal `store-full`, `store-fault` */
  keepRecord(entries: readonly RecordEntry[], without: readonly string[]): Promise<void>;
  /** Takes away pictures that no kept job names, and tells their digests. */
  tidy(): Promise<readonly string[]>;
}

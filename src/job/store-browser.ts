import { openDB, type DBSchema, type IDBPDatabase } from 'idb';
import { Refusal } from '../base/reason.ts';
import { readHistory, type History } from './history.ts';
import { acceptJob, readJob, writeJob } from './job.ts';
import { readScannerJson, scannerJson } from '../files/scanner-json.ts';
import type { RecordEntry } from '../check/record.ts';
import { readProfile } from '../view/profile.ts';
import type { KeptJob, KeptPicture, KeptProfile, LostJob, Store } from './store.ts';

interface Shelves extends DBSchema {
  /** The job as the text of a job file, so that one reader and its migrations serve both. */
  jobs: { key: string; value: { id: string; place: number; text: string; history?: History } };
  /** Bytes, not Blobs: some engines do not keep those. */
  pictures: { key: string; value: KeptPicture };
  /** The profile as the text of its file. */
  profiles: { key: string; value: Omit<KeptProfile, 'profile'> & { text: string } };
  readings: { key: string; value: RecordEntry };
}

/** The browser's own database. @throws Refusal `store-none` where it has none, as in some private windows */
export async function browserStore(name = 'snugline'): Promise<Store> {
  const none = (error: unknown): never => {
    throw new Refusal('store-none', { what: told(error) });
  };
  // Where storage is shut the browser throws at once, elsewhere it answers with an error.
  const opening = async (): Promise<IDBPDatabase<Shelves>> =>
    openDB<Shelves>(name, 2, {
      upgrade: (db, before) => {
        if (before < 1) {
          db.createObjectStore('jobs', { keyPath: 'id' });
          db.createObjectStore('pictures', { keyPath: 'digest' });
        }
        db.createObjectStore('profiles', { keyPath: 'key' });
        db.createObjectStore('readings', { keyPath: 'key' });
      },
      // A newer version of the program in another window must not wait for this one.
      blocking: (_, __, event) => (event.target as IDBDatabase).close(),
    });
  const shelves = await opening().catch(none);
  const kept = async (write: () => Promise<unknown>): Promise<void> => {
    try {
      await write();
    } catch (error) {
      if (error instanceof DOMException && error.name === 'QuotaExceededError')
        throw new Refusal('store-full', {});
      throw new Refusal('store-fault', { what: told(error) });
    }
  };
  return {
    jobs: async () => {
      const jobs: KeptJob[] = [];
      const lost: LostJob[] = [];
      for (const { id, place, text, history } of await shelves.getAll('jobs').catch(none)) {
        try {
          jobs.push({ id, place, job: readJob(text), history: readHistory(history, acceptJob) });
        } catch (error) {
          if (!(error instanceof Refusal)) throw error;
          lost.push({ id, place, reason: error.reason, text });
        }
      }
      return { kept: jobs.sort((a, b) => a.place - b.place), lost };
    },
    // One record: a job and what can be undone of it are kept together or not at all. Copied as they are, parts that jobs of the history share are kept once.
    keep: ({ id, place, job, history }) =>
      kept(() => shelves.put('jobs', { id, place, text: writeJob(job), history })),
    forget: (id) => kept(() => shelves.delete('jobs', id)),
    picture: (digest) => shelves.get('pictures', digest),
    keepPicture: (picture) => kept(() => shelves.put('pictures', picture)),
    profiles: async () => {
      const read = (await shelves.getAll('profiles')).map((kept) => profileOf(kept));
      return read.filter((p) => p !== undefined);
    },
    keepProfile: ({ key, on, kind, profile }) => {
      const text =
        kind === 'lens' ? JSON.stringify(profile) : new TextDecoder().decode(scannerJson(profile));
      return kept(() => shelves.put('profiles', { key, on, kind, text }));
    },
    record: async () =>
      (await shelves.getAll('readings')).sort((a, b) => (a.on < b.on ? -1 : a.on > b.on ? 1 : 0)),
    keepRecord: (entries, without) =>
      kept(async () => {
        const change = shelves.transaction('readings', 'readwrite');
        await Promise.all([
          ...without.map((key) => change.store.delete(key)),
          ...entries.map((entry) => change.store.put(entry)),
          change.done,
        ]);
      }),
    forgetProfile: (key) => kept(() => shelves.delete('profiles', key)),
    tidy: async () => {
      const jobs = await shelves.getAll('jobs');
      // The text names its picture by the digest; a record that cannot be read keeps its picture all the same, and so does a change that can be undone.
      const texts = jobs.map(({ text, history }) => text + JSON.stringify(history ?? ''));
      const named = (digest: string): boolean => texts.some((text) => text.includes(digest));
      const gone = (await shelves.getAllKeys('pictures')).filter((digest) => !named(digest));
      for (const digest of gone) await shelves.delete('pictures', digest);
      return gone;
    },
  };
}

const told = (error: unknown): string => (error instanceof Error ? error.message : String(error));

/** Read as any file of the program's is; undefined where it cannot be. */
function profileOf({ key, on, kind, text }: Shelves['profiles']['value']): KeptProfile | undefined {
  try {
    if (kind === 'lens') return { key, on, kind, profile: readProfile(text, key) };
    return { key, on, kind, profile: readScannerJson(new TextEncoder().encode(text), key) };
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    return undefined;
  }
}

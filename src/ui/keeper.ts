import { Refusal, type Reason } from '../base/reason.ts';
import { filesOf } from '../job/job-file.ts';
import type { PictureFile } from '../job/run.ts';
import type { KeptJob, Store } from '../job/store.ts';

/** A job with its picture, as it is to be kept. */
export interface Keepable extends KeptJob {
  readonly file?: PictureFile;
  readonly more: readonly PictureFile[];
}

/** Keeps jobs and pictures, one after the other, the newest state of each; remembers the pictures of this visit. */
export class Keeper {
  /** Jobs whose last change is still to be kept, and pictures that are kept already. */
  readonly #due = new Set<string>();
  readonly #kept = new Set<string>();
  /** Pictures seen in this visit, by digest: a change of picture can be undone. */
  readonly #files = new Map<string, PictureFile>();
  #store: Store | undefined;
  #writing = false;

  /**
   * @param find a job as it is now; undefined where it is no more
   * @param told what came of keeping: the job that is kept now, or why it is not
   */
  constructor(
    readonly find: (id: string) => Keepable | undefined,
    readonly told: (answer: Keepable | Reason) => void,
  ) {}

  /** Begins to keep: what is due first. */
  begin(store: Store): void {
    this.#store = store;
    void this.#write();
  }

  keep(id: string): void {
    this.#due.add(id);
    void this.#write();
  }

  /** A job that is found no more is forgotten, after whatever is being written. */
  drop(id: string): void {
    this.keep(id);
  }

  /** What was to be kept is left as the store has it. */
  leave(id: string): void {
    this.#due.delete(id);
  }

  remember(file: PictureFile): void {
    this.#files.set(file.digest, file);
  }

  /** A picture that this visit or the store has seen. */
  seen(digest: string): PictureFile | undefined {
    return this.#files.get(digest);
  }

  async picture(digest: string, store = this.#store): Promise<PictureFile | undefined> {
    const seen = this.#files.get(digest);
    if (seen) return seen;
    const kept = await store?.picture(digest);
    if (!kept) return undefined;
    const bytes = new Blob([kept.bytes], { type: kept.type });
    const file = { name: kept.name, digest, bytes };
    this.#files.set(digest, file);
    this.#kept.add(digest);
    return file;
  }

  async #write(): Promise<void> {
    const store = this.#store;
    if (!store || this.#writing) return;
    this.#writing = true;
    try {
      // A job that changes while it is written becomes due again, and comes round again.
      for (const id of this.#due) {
        this.#due.delete(id);
        const now = this.find(id);
        try {
          if (now) await this.#writeOrMakeRoom(store, now);
          else await store.forget(id);
        } catch (error) {
          this.#due.add(id);
          if (!(error instanceof Refusal)) throw error;
          this.told(error.reason);
          return;
        }
        if (now) this.told(now);
      }
    } finally {
      this.#writing = false;
    }
  }

  /**
   * Where there is no room, jobs that were taken off the list are forgotten first, and pictures that no job names any more: taking
   * jobs off is what the operator was told to do.
   */
  async #writeOrMakeRoom(store: Store, job: Keepable): Promise<void> {
    try {
      await this.#writeOne(store, job);
    } catch (error) {
      if (!(error instanceof Refusal) || error.reason.code !== 'store-full') throw error;
      for (const id of this.#due) {
        if (this.find(id)) continue;
        await store.forget(id);
        this.#due.delete(id);
      }
      const gone = await store.tidy();
      for (const digest of gone) this.#kept.delete(digest);
      if (gone.length === 0) throw error;
      await this.#writeOne(store, job);
    }
  }

  /** The picture first: a kept job never names one that is not there. */
  async #writeOne(store: Store, { id, place, job, history, file, more }: Keepable): Promise<void> {
    const others = filesOf(job).flatMap((f) => this.#files.get(f.digest) ?? []);
    for (const picture of [...(file ? [file] : []), ...more, ...others]) {
      if (this.#kept.has(picture.digest)) continue;
      const { digest, name, bytes } = picture;
      await store.keepPicture({ digest, name, type: bytes.type, bytes: await bytes.arrayBuffer() });
      this.#kept.add(digest);
    }
    await store.keep({ id, place, job, history });
  }
}

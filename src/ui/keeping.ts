import { browserStore } from '../job/store-browser.ts';
import type { Store } from '../job/store.ts';

/** Held by the window that writes. */
const LOCK = 'snugline-jobs';

/** Where jobs are kept, and whether this window is the one that writes there. */
export interface Keeping {
  readonly store: Store;
  /** Another window writes: two would overwrite each other's jobs. */
  readonly elsewhere: boolean;
  /** Fulfilled when this window is the one that writes. */
  readonly ours: Promise<void>;
  /** How safe it is there; asked for by the window that writes. */
  readonly safety: Promise<Safety>;
}

/** What the browser says of what is kept. */
export interface Safety {
  /** It throws nothing away of its own accord; undefined where it does not say. */
  readonly promised: boolean | undefined;
  readonly usedBytes: number | undefined;
  readonly mostBytes: number | undefined;
}

/** @throws Refusal `store-none` */
export async function browserKeeping(): Promise<Keeping> {
  const store = await browserStore();
  // The lock is held as long as the window lives: the promise inside never settles.
  let granted = (): void => {};
  const ours = new Promise<void>((resolve) => (granted = resolve));
  const hold = (): Promise<never> => {
    granted();
    return new Promise<never>(() => {});
  };
  // Pages that came over plain http have no locks: there every window takes itself for the only one.
  const locks = navigator.locks as LockManager | undefined;
  const elsewhere = await new Promise<boolean>((resolve) => {
    if (!locks) resolve(false);
    void locks?.request(LOCK, { ifAvailable: true }, (lock) => {
      resolve(!lock);
      return lock ? hold() : undefined;
    });
  });
  if (elsewhere) void locks?.request(LOCK, hold);
  return { store, elsewhere, ours, safety: safetyOf(!elsewhere) };
}

/** Asks the browser, or only looks, whether it would throw away what is kept when it is short of room. */
async function safetyOf(ask: boolean): Promise<Safety> {
  const storage = navigator.storage as StorageManager | undefined;
  const promised = await (ask ? storage?.persist?.() : storage?.persisted?.())?.catch(
    () => undefined,
  );
  const estimate = await storage?.estimate?.().catch(() => undefined);
  return { promised, usedBytes: estimate?.usage, mostBytes: estimate?.quota };
}

/** Whether this is the only window of the program: another one would wait for the lock, or hold it. */
export async function alone(): Promise<boolean> {
  const locks = navigator.locks as LockManager | undefined;
  if (!locks) return true;
  const { pending = [] } = await locks.query();
  return !pending.some(({ name }) => name === LOCK);
}

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
  // A browser that is short of room then asks before it throws pictures away.
  else void navigator.storage?.persist?.();
  return { store, elsewhere, ours };
}

/** Whether this is the only window of the program: another one would wait for the lock, or hold it. */
export async function alone(): Promise<boolean> {
  const locks = navigator.locks as LockManager | undefined;
  if (!locks) return true;
  const { pending = [] } = await locks.query();
  return !pending.some(({ name }) => name === LOCK);
}

import { Workbox } from 'workbox-window';
import { alone } from './keeping.ts';

/** How far the program is kept on this machine, so that it starts and works without a network. */
export class Offline {
  /** 'never': not over plain http from another machine, nor in a browser that keeps nothing. */
  state = $state<'begun' | 'ready' | 'never'>('begun');
  /** A newer version lies ready; it starts when the operator says so, or when the last window was closed. */
  newer = $state(false);
  /** Why the newer version cannot start now. */
  waits = $state<'' | 'another window is open'>('');
  #worker: Workbox | undefined;

  /** Fetches what is missing, after the page has loaded. */
  async begin(): Promise<void> {
    if (!('serviceWorker' in navigator) || import.meta.env.MODE === 'development') {
      this.state = 'never';
      return;
    }
    const worker = new Workbox('./sw.js');
    this.#worker = worker;
    worker.addEventListener('activated', () => (this.state = 'ready'));
    worker.addEventListener('waiting', () => (this.newer = true));
    try {
      const registration = await worker.register();
      if (registration?.active) this.state = 'ready';
    } catch {
      // Refused by the browser (a private window, storage switched off) or the server is gone: the page works all the same.
      this.state = 'never';
    }
  }

  /** Starts the newer version: the page is loaded again. Two windows must not end up with two versions. */
  async start(): Promise<void> {
    this.waits = (await alone()) ? '' : 'another window is open';
    if (this.waits) return;
    this.#worker?.addEventListener('controlling', () => location.reload());
    this.#worker?.messageSkipWaiting();
  }
}

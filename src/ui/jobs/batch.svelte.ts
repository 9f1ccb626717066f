import { Run, type Results } from '../../job/run.ts';
import type { Entry, Workshop } from '../desk.svelte.ts';

/** One picture of many: where it stands. */
export interface BatchRow {
  readonly id: string;
  /** What is being done with it; empty while it waits, and once it is done. */
  readonly step: string;
  readonly done: boolean;
}

/** More at once would not fit into a common machine's memory: each holds a picture of up to 50 megapixels. */
const MOST_AT_ONCE = 4;

/** Many pictures, measured one job each, several at once, on machines of their own. */
export class Batch {
  rows = $state.raw<readonly BatchRow[]>([]);
  readonly busy = $derived(this.rows.some((r) => r.step !== ''));
  readonly left = $derived(this.rows.filter((r) => !r.done).length);
  #lanes: Workshop[] = [];
  /** Another one after each Stop: what an older one still answers is no news. */
  #turn = 0;

  /**
   * @param start fresh machines for one lane
   * @param find a job as it is now; undefined where it was taken off the list
   * @param take what was computed of it
   */
  constructor(
    readonly start: () => Workshop,
    readonly find: (id: string) => Entry | undefined,
    readonly take: (entry: Entry, results: Results) => void,
    readonly fault: (error: unknown) => void,
  ) {}

  /** Adds jobs to the table and measures whatever in it is not done; answers when all is done or stopped. */
  async add(ids: readonly string[]): Promise<void> {
    this.rows = [...this.rows, ...ids.map((id) => ({ id, step: '', done: false }))];
    await this.go();
  }

  async go(): Promise<void> {
    const turn = this.#turn;
    const most = Math.max(1, Math.min(MOST_AT_ONCE, (navigator.hardwareConcurrency || 2) - 1));
    const lanes = Math.min(most, this.left) - this.#lanes.length;
    await Promise.all(Array.from({ length: Math.max(0, lanes) }, () => this.#lane(turn)));
  }

  /** What is done stays; the rest can be gone on with. */
  stop(): void {
    this.#turn++;
    for (const lane of this.#lanes) lane.stop();
    this.#lanes = [];
    this.rows = this.rows.map((r) => ({ ...r, step: '' }));
  }

  clear(): void {
    this.stop();
    this.rows = [];
  }

  #set(id: string, row: Partial<BatchRow>): void {
    this.rows = this.rows.map((r) => (r.id === id ? { ...r, ...row } : r));
  }

  async #lane(turn: number): Promise<void> {
    const workshop = this.start();
    this.#lanes.push(workshop);
    for (;;) {
      const row = this.rows.find((r) => !r.done && r.step === '');
      if (!row || turn !== this.#turn) break;
      this.#set(row.id, { step: 'begins' });
      const entry = this.find(row.id);
      try {
        if (entry?.file) {
          const run = new Run(workshop.machines, (_, busy) => {
            if (busy && turn === this.#turn) this.#set(row.id, { step: busy.step });
          });
          const results = await run.start(entry.job, [entry.file], false);
          if (turn !== this.#turn) return;
          this.take(entry, results);
        }
      } catch (error) {
        if (turn !== this.#turn) return;
        this.fault(error);
      }
      this.#set(row.id, { step: '', done: true });
    }
    if (turn !== this.#turn) return;
    this.#lanes = this.#lanes.filter((l) => l !== workshop);
    // Memory of the picture reader is given back no other way.
    workshop.stop();
  }
}

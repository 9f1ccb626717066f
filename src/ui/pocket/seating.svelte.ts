import type { Outcome } from '../../base/reason.ts';
import type { Desk, SeatMade } from '../desk.svelte.ts';

/** The seat that is looked at, as it was made last. */
export class Seating {
  made = $state.raw<Outcome<SeatMade>>();
  /** It is made anew: what is there is of settings before. */
  waiting = $state(false);
  /** The kind that it was made as: of another kind nothing is shown. */
  #kind = '';
  #turn = 0;

  constructor(readonly desk: Desk) {}

  /** Makes it anew; an answer that a later call has overtaken is dropped. */
  async make(): Promise<void> {
    const turn = ++this.#turn;
    const kind = this.desk.job?.seats?.kind ?? '';
    if (kind !== this.#kind) this.made = undefined;
    this.#kind = kind;
    this.waiting = true;
    const made = await this.desk.makeSeat();
    if (turn !== this.#turn) return;
    this.made = made;
    this.waiting = false;
  }
}

import { reason, Refusal, type Reason } from '../../base/reason.ts';
import type { Machines, PictureFile } from '../../job/run.ts';
import type { Board } from '../../view/board.ts';
import { coverageOf, type Coverage } from '../../view/coverage.ts';
import { LEAST_PICTURES, type LensProfile } from '../../view/profile.ts';
import { storedShots, usable, type Shot } from '../../view/profile-photos.ts';

/** One photo on the bench: being read, what was found in it, or why it cannot be used. */
export interface Laid {
  readonly file: PictureFile;
  readonly answer?: { readonly shot: Shot } | { readonly why: Reason };
}

export interface Made {
  readonly profile: LensProfile;
  readonly u: readonly number[];
  readonly reasons: readonly Reason[];
}

/** Photos of a sheet or a checkerboard on their way to a lens profile. Lives as long as the page; only the profile is kept. */
export class LensBench {
  of = $state<'sheet' | 'board'>('sheet');
  board = $state.raw<Board>({ columns: 9, rows: 6, squareMm: 25 });
  /** A board that is taken for flat and true, or one whose errors are estimated. */
  trueBoard = $state(true);
  photos = $state.raw<readonly Laid[]>([]);
  making = $state(false);
  refused = $state.raw<Reason>();
  made = $state.raw<Made>();

  readonly shots = $derived(
    this.photos.flatMap(({ answer }) => (answer && 'shot' in answer ? [answer.shot] : [])),
  );
  readonly choice = $derived(usable(this.shots));
  readonly reading = $derived(this.photos.some((p) => !p.answer));
  readonly enough = $derived(this.choice.used.length >= LEAST_PICTURES);
  /** Marks of the photos that count, in px of the stored picture. */
  readonly stored = $derived(storedShots(this.choice.used));
  readonly size = $derived.by(() => {
    const meta = this.choice.used[0]?.meta;
    return meta && { widthPx: meta.storedWidthPx, heightPx: meta.storedHeightPx };
  });
  readonly coverage = $derived<Coverage | undefined>(
    this.size && coverageOf(this.stored, this.size.widthPx, this.size.heightPx),
  );

  #turn = 0;

  constructor(
    readonly machines: Pick<Machines, 'shot' | 'lens'>,
    readonly pictureFile: (file: File) => Promise<PictureFile>,
    /** A fault of the program, told loudly. */
    readonly fault: (error: unknown) => void,
  ) {}

  async add(files: readonly File[]): Promise<void> {
    this.made = undefined;
    this.refused = undefined;
    for (const one of files) {
      try {
        const file = await this.pictureFile(one);
        if (this.photos.some((p) => p.file.digest === file.digest)) continue;
        this.photos = [...this.photos, { file }];
      } catch (error) {
        if (!(error instanceof Refusal)) throw error;
        this.refused = error.reason;
      }
    }
    await this.#read();
  }

  drop(digest: string): void {
    this.made = undefined;
    this.photos = this.photos.filter((p) => p.file.digest !== digest);
  }

  clear(): void {
    this.#turn++;
    this.photos = [];
    this.made = undefined;
    this.refused = undefined;
  }

  /** Another kind of board, or another size of it: every photo is looked at anew. */
  change(patch: { of?: 'sheet' | 'board'; board?: Partial<Board>; trueBoard?: boolean }): void {
    this.made = undefined;
    this.refused = undefined;
    if (patch.trueBoard !== undefined) this.trueBoard = patch.trueBoard;
    if (patch.of === undefined && patch.board === undefined) return;
    if (patch.of) this.of = patch.of;
    if (patch.board) this.board = { ...this.board, ...patch.board };
    this.photos = this.photos.map(({ file }) => ({ file }));
    void this.#read();
  }

  /** Reads what has not been read, one photo after the other. */
  async #read(): Promise<void> {
    const turn = ++this.#turn;
    const board = this.of === 'board' ? { ...this.board } : undefined;
    for (;;) {
      const next = this.photos.find((p) => !p.answer);
      if (!next) return;
      let answer: Laid['answer'];
      try {
        const outcome = await this.machines.shot(next.file, board);
        answer = outcome.ok ? { shot: outcome.value } : { why: outcome.reason };
      } catch (error) {
        this.fault(error);
        return;
      }
      if (turn !== this.#turn) return;
      this.photos = this.photos.map((p) =>
        p.file.digest === next.file.digest ? { file: p.file, answer } : p,
      );
    }
  }

  async make(): Promise<Made | undefined> {
    const { used } = this.choice;
    if (used.length < LEAST_PICTURES) {
      this.refused = reason('lens-pictures-few', { found: used.length, least: LEAST_PICTURES });
      return undefined;
    }
    this.making = true;
    this.refused = undefined;
    const target = this.of === 'sheet' ? 'sheet' : this.trueBoard ? 'true board' : 'board';
    try {
      const outcome = await this.machines.lens(used, target);
      if (outcome.ok) this.made = outcome.value;
      else this.refused = outcome.reason;
    } catch (error) {
      this.fault(error);
    } finally {
      this.making = false;
    }
    return this.made;
  }
}

import type { PictureFile } from '../../job/run.ts';
import type { PictureMeta } from '../../picture/picture.ts';
import type { ShownPicture } from '../../picture/shown-browser.ts';

/** A picture in use by a drawing. */
export interface Use {
  readonly ready: Promise<ShownPicture>;
  release(): void;
}

interface Held {
  readonly ready: Promise<ShownPicture>;
  /** Drawings that show it. */
  users: number;
  here: boolean;
}

/**
 * Pictures as the drawings show them, each decoded once: drawings come and go with the steps, and to decode 12 MP anew takes a
 * processor longer than to adjust the camera. One that no drawing shows any more is kept until another is asked for.
 */
export class ShownPictures {
  readonly #held = new Map<string, Held>();

  constructor(readonly load: (file: PictureFile, meta: PictureMeta) => Promise<ShownPicture>) {}

  take(file: PictureFile, meta: PictureMeta): Use {
    const { digest } = file;
    for (const [other, { users }] of this.#held)
      if (other !== digest && users === 0) this.#drop(other);
    let held = this.#held.get(digest);
    if (!held) {
      const made: Held = { ready: this.load(file, meta), users: 0, here: false };
      made.ready.then(
        () => (made.here = true),
        () => this.#drop(digest, made),
      );
      this.#held.set(digest, (held = made));
    }
    const mine = held;
    mine.users++;
    return {
      ready: mine.ready,
      release: () => {
        mine.users--;
        // One that may never come, for its worker was ended, must not be waited for by the next drawing.
        if (mine.users === 0 && !mine.here) this.#drop(digest, mine);
      },
    };
  }

  #drop(digest: string, held = this.#held.get(digest)): void {
    if (held && this.#held.get(digest) === held) this.#held.delete(digest);
    held?.ready.then(
      ({ whole, small }) => {
        whole.close();
        small.close();
      },
      () => {},
    );
  }
}

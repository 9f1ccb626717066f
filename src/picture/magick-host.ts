import { Refusal } from '../base/reason.ts';
import type { Answer, Decoded, MagickKind } from './magick.ts';

/** A thread that decodes one picture at a time, and can be ended. */
export interface Thread {
  /** Rejects when the thread itself fails. */
  ask(bytes: Uint8Array, kind: MagickKind): Promise<Answer>;
  end(): void;
}

/** Starting and a small picture take a second; a phone takes ten times as long for a large one. */
const LEAST_SECONDS = 30;
const SECONDS_PER_MEGAPIXEL = 4;

/** Seconds after which a picture counts as one that never ends. */
export const patience = (megapixels: number): number =>
  Math.ceil(LEAST_SECONDS + SECONDS_PER_MEGAPIXEL * megapixels);

/**
 * Decodes in a thread of its own, so that a damaged file can neither hang nor break anything else: a thread that takes
 * too long or fails is ended, and the next picture gets a fresh one.
 *
 * @throws Refusal `picture-undecodable`, `picture-slow`
 */
export function magickHost(start: () => Thread, keep: boolean) {
  let thread: Thread | undefined;
  const drop = (used: Thread): void => {
    used.end();
    if (thread === used) thread = undefined;
  };
  const decodeNow = async (
    bytes: Uint8Array,
    kind: MagickKind,
    name: string,
    seconds: number,
  ): Promise<Decoded> => {
    const mine = (thread ??= start());
    let timer: ReturnType<typeof setTimeout> | undefined;
    const late = new Promise<'late'>((resolve) => {
      timer = setTimeout(() => resolve('late'), seconds * 1000);
    });
    try {
      const answer = await Promise.race([mine.ask(bytes, kind), late]);
      if (answer === 'late') {
        drop(mine);
        throw new Refusal('picture-slow', { name, seconds });
      }
      if ('decoded' in answer) return answer.decoded;
      if (answer.broken) drop(mine);
      throw new Refusal('picture-undecodable', { name, why: answer.why });
    } catch (error) {
      if (!(error instanceof Refusal)) drop(mine);
      throw error;
    } finally {
      clearTimeout(timer);
      if (!keep) drop(mine);
    }
  };
  let last: Promise<unknown> = Promise.resolve();
  return (bytes: Uint8Array, kind: MagickKind, name: string, seconds: number): Promise<Decoded> => {
    const mine = last.then(() => decodeNow(bytes, kind, name, seconds));
    last = mine.catch(() => {});
    return mine;
  };
}

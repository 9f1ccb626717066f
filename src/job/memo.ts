/** What a step was computed from, and its answer. */
interface Known {
  readonly inputs: readonly unknown[];
  readonly answer: Promise<unknown>;
}

const same = (a: readonly unknown[], b: readonly unknown[]): boolean =>
  a.length === b.length && a.every((value, k) => value === b[k]);

/** The last answer of each step by its name; it stands while its inputs are the same. */
export class Memo {
  readonly #known = new Map<string, Known>();

  /** @param begin called when a step has to be computed: what follows from it is no longer right */
  constructor(readonly begin: () => void = () => undefined) {}

  clear(): void {
    this.#known.clear();
  }

  step<T>(name: string, inputs: readonly unknown[], work: () => Promise<T>): Promise<T> {
    const before = this.#known.get(name);
    if (before && same(before.inputs, inputs)) return before.answer as Promise<T>;
    this.begin();
    const answer = work();
    this.#known.set(name, { inputs, answer });
    answer.catch(() => {
      if (this.#known.get(name)?.answer === answer) this.#known.delete(name);
    });
    return answer;
  }
}

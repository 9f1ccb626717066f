import { catalogue, type Code } from './catalogue.ts';

/** refuse: nothing is handed on. doubt: a result, but not to be trusted as it stands. note: worth knowing. */
export type Level = 'refuse' | 'doubt' | 'note';
export type Facts = Readonly<Record<string, number | string>>;

/** Something the operator must know, as data: what is so (with its number), and what to do next. */
export interface Reason {
  readonly code: Code;
  readonly level: Level;
  readonly message: string;
  readonly remedy: string;
  readonly facts: Facts;
}

/** A reason from the catalogue, its sentence filled in with the facts of the case. */
export function reason(code: Code, facts: Facts = {}): Reason {
  const entry = catalogue[code];
  return {
    code,
    level: entry.level,
    message: entry.message(facts),
    remedy: entry.remedy(facts),
    facts,
  };
}

/** A known "cannot". Anything else that is thrown is a fault of the program and stays loud. */
export class Refusal extends Error {
  readonly reason: Reason;
  constructor(code: Code, facts: Facts = {}) {
    const r = reason(code, facts);
    super(`${r.message} ${r.remedy}`);
    this.name = 'Refusal';
    this.reason = r;
  }
}

/** A result, or the reason why there is none, as plain data that crosses a worker's boundary. */
export type Outcome<T> =
  { readonly ok: true; readonly value: T } | { readonly ok: false; readonly reason: Reason };

/** Wraps a function so that a Refusal becomes a value; any other error is thrown on. */
export const outcome =
  <A extends unknown[], T>(work: (...args: A) => T | Promise<T>) =>
  async (...args: A): Promise<Outcome<T>> => {
    try {
      return { ok: true, value: await work(...args) };
    } catch (error) {
      if (error instanceof Refusal) return { ok: false, reason: error.reason };
      throw error;
    }
  };

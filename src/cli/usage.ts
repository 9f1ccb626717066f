import { parseArgs, type ParseArgsConfig } from 'node:util';
import { Refusal } from '../base/reason.ts';

/** The command was not written as it can be read. Exit status 2. */
export class Usage extends Error {
  override readonly name = 'Usage';
}

export interface Verb {
  readonly help: string;
  readonly run: (args: readonly string[]) => Promise<number>;
}

type Options = NonNullable<ParseArgsConfig['options']>;

/**
 * Reads a verb's arguments. Every option takes a value except those of kind boolean; each may be given once.
 *
 * @param later options that a later version brings, by name: refused in a sentence of their own
 * @throws Usage
 */
export function readArgs<O extends Options>(
  verb: string,
  args: readonly string[],
  options: O,
  {
    later = [],
    positionals = 'none',
  }: { later?: readonly string[]; positionals?: 'some' | 'none' } = {},
): { values: Record<string, string | boolean | undefined>; positionals: string[] } {
  let parsed;
  try {
    parsed = parseArgs({
      args: joinNegative(args),
      options,
      allowPositionals: true,
      strict: false,
      tokens: true,
    });
  } catch (error) {
    throw new Usage(`The arguments of ${verb} cannot be read: ${(error as Error).message}`);
  }
  const seen = new Set<string>();
  for (const token of parsed.tokens) {
    if (token.kind !== 'option') continue;
    const { name, rawName } = token;
    if (later.includes(name))
      throw new Usage(`${rawName} is not part of this version; leave it out.`);
    const option = options[name];
    if (!option || rawName !== `--${name}`)
      throw new Usage(`${verb} has no option ${rawName}; "${verb} --help" lists what it has.`);
    if (option.type === 'boolean' && token.value !== undefined)
      throw new Usage(`${rawName} takes no value; give it alone.`);
    if (option.type === 'string' && (token.value === undefined || token.value === ''))
      throw new Usage(`${rawName} needs a value after it; "${verb} --help" shows an example.`);
    if (seen.has(name)) throw new Usage(`${rawName} is given twice; give it once.`);
    seen.add(name);
  }
  const [extra] = parsed.positionals;
  if (positionals === 'none' && extra !== undefined)
    throw new Usage(
      `${verb} does not know what to do with "${extra}"; "${verb} --help" tells its options.`,
    );
  return {
    values: parsed.values as Record<string, string | boolean | undefined>,
    positionals: parsed.positionals,
  };
}

/** "--kerf -1" reads as two options; joined, the number's own check can answer. */
function joinNegative(args: readonly string[]): string[] {
  const joined: string[] = [];
  for (const arg of args) {
    const before = joined.at(-1);
    if (/^-\d/.test(arg) && before?.startsWith('--') && !before.includes('='))
      joined[joined.length - 1] = `${before}=${arg}`;
    else joined.push(arg);
  }
  return joined;
}

/** A plain decimal number; comma, unit or words are told apart so that the sentence helps. @throws Usage */
export function figure(
  option: string,
  text: string,
  range: { least?: number; above?: number; most?: number; unit?: string; whole?: boolean } = {},
): number {
  const { least, above, most = 1e6, unit = 'mm', whole = false } = range;
  const written = text.trim();
  if (!/^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(written)) {
    const why = /^\d+,\d+$/.test(written)
      ? 'write decimals with a point, not a comma'
      : `give a plain number${unit ? ` in ${unit}` : ''}, without the unit`;
    throw new Usage(`${option} cannot be "${text}": ${why}.`);
  }
  const value = Number(written);
  if (whole && !Number.isInteger(value))
    throw new Usage(`${option} cannot be ${text}: give a whole number.`);
  if (least !== undefined && value < least)
    throw new Usage(`${option} cannot be ${text}: give ${least} or more.`);
  if (above !== undefined && value <= above)
    throw new Usage(`${option} cannot be ${text}: give more than ${above}.`);
  if (value > most) throw new Usage(`${option} cannot be ${text}: give at most ${most}.`);
  return value;
}

/** One of several words. @throws Usage */
export function oneOf<T extends string>(option: string, text: string, words: readonly T[]): T {
  const given = text.trim().toLowerCase();
  const found = words.find((w) => w.toLowerCase() === given);
  if (found === undefined)
    throw new Usage(
      `${option} cannot be "${text}": give ${words.join(', ').replace(/, ([^,]*)$/, ' or $1')}.`,
    );
  return found;
}

/** Two lengths as WxH. @throws Usage */
export function pairOf(option: string, text: string, above = 0): [number, number] {
  const parts = text.trim().toLowerCase().split('x');
  if (parts.length !== 2)
    throw new Usage(`${option} cannot be "${text}": give two lengths in mm, for instance 420x300.`);
  return parts.map((p) => figure(option, p, { above, most: 10_000 })) as [number, number];
}

/** A list "a=1,b=2" with at most one bare value. @throws Usage */
export function listOf<T = number>(
  option: string,
  text: string,
  readKey: (key: string) => string,
  readValue: (value: string) => T,
): { bare?: T; named: Map<string, T> } {
  const named = new Map<string, T>();
  let bare: T | undefined;
  for (const part of text.split(',')) {
    const [key, value, ...more] = part.split('=');
    if (more.length > 0) throw new Usage(`${option} cannot be read at "${part}".`);
    if (value === undefined) {
      if (bare !== undefined)
        throw new Usage(
          `${option} cannot be "${text}": one number for all, or number=value pairs; decimals are written with a point.`,
        );
      bare = readValue(part);
      continue;
    }
    const name = readKey(key!.trim());
    if (named.has(name)) throw new Usage(`${option} names ${name} twice.`);
    named.set(name, readValue(value));
  }
  return { ...(bare !== undefined && { bare }), named };
}

/** Runs a reader of an option's value; its refusal is then a matter of usage. */
export function asUsage<T>(option: string, work: () => T): T {
  try {
    return work();
  } catch (error) {
    if (error instanceof Refusal) throw new Usage(`${option}: ${error.message}`);
    throw error;
  }
}

/**
 * Runs a verb's work; what it refuses is said, and is exit status 3.
 * @throws whatever is no refusal
 */
export async function refusing(work: () => number | Promise<number>): Promise<number> {
  try {
    return await work();
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    console.error(`snugline: ${error.message}`);
    return REFUSED;
  }
}
export const REFUSED = 3;

/**
 * A list of readings and U (k = 2) of each, mm, which is given as --NAME-u; undefined where they are not given.
 * @throws Usage where there is a U of no readings
 */
export function readingsOf(
  values: Readonly<Record<string, string | boolean | undefined>>,
  name: string,
  usualU: number,
): { readonly text: string; readonly uMm: number } | undefined {
  const [text, u] = [textOf(values[name]), textOf(values[`${name}-u`])];
  if (text === undefined && u !== undefined) throw new Usage(`--${name}-u goes with --${name}.`);
  if (text === undefined) return undefined;
  return { text, uMm: u === undefined ? usualU : figure(`--${name}-u`, u, { above: 0, most: 5 }) };
}

/** The option's text, or nothing. */
export const textOf = (value: string | boolean | undefined): string | undefined =>
  typeof value === 'string' ? value : undefined;

/** @throws Usage when an option that must be given is not */
export function needed(verb: string, option: string, value: string | boolean | undefined): string {
  const text = textOf(value);
  if (text === undefined)
    throw new Usage(`${verb} needs ${option}; "${verb} --help" shows an example.`);
  return text;
}

/** Figures by the blank's number, and one that names none. */
export function byBlank(
  option: string,
  text: string,
  most: number,
): ReturnType<typeof listOf<number>> {
  const whole = { least: 0, most, whole: true, unit: '' };
  return listOf(
    option,
    text,
    (key) => String(figure(`${option}, the blank number`, key, { ...whole, least: 1 })),
    (value) => figure(option, value, whole),
  );
}

/** How many of each blank, every one named. @throws Usage */
export function countsOf(text: string): Record<number, number> {
  const { bare, named } = byBlank('--count', text, 1000);
  if (bare !== undefined)
    throw new Usage(`--count cannot be "${text}": name the blanks, for instance 1=4,2=2.`);
  return Object.fromEntries(named);
}

/** The day on this machine's calendar, ISO 8601. */
export function today(): string {
  const now = new Date();
  const two = (v: number): string => String(v).padStart(2, '0');
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}

import { createHash } from 'node:crypto';
import { appendFileSync, existsSync, mkdirSync, readFileSync, rmSync } from 'node:fs';
import { dirname, join } from 'node:path';

/**
 * What a long campaign has played so far, a line of JSON each, so that it can be played in parts: it goes on where it was
 * stopped, and a change of what it runs through begins it anew.
 *
 * @param folder where it is kept
 * @param module path of the campaign's own module
 * @param of what else tells one campaign from another, as a part of a file's name
 */
export function keptRecords<T>(
  folder: string,
  module: string,
  nameOf: (record: T) => string,
  { of = '', afresh = false } = {},
): { readonly records: ReadonlyMap<string, T>; readonly keep: (record: T) => void } {
  const file = join(folder, `${digestOf(module)}${of}.jsonl`);
  if (afresh) rmSync(file, { force: true });
  mkdirSync(folder, { recursive: true });
  const lines = existsSync(file) ? readFileSync(file, 'utf8').split('\n').filter(Boolean) : [];
  const records = new Map(lines.map((l) => JSON.parse(l) as T).map((r) => [nameOf(r), r]));
  return {
    records,
    keep: (record) => {
      records.set(nameOf(record), record);
      appendFileSync(file, `${JSON.stringify(record)}\n`);
    },
  };
}

/** Of a module's text and of all that it takes in: what the screens or the terminal say does not begin a campaign anew. */
function digestOf(module: string): string {
  const texts = new Map<string, string>();
  const take = (path: string): void => {
    if (texts.has(path)) return;
    const text = readFileSync(path, 'utf8');
    texts.set(path, text);
    for (const [, typesOnly, from] of text.matchAll(
      /^(?:import|export)( type)?[^;]*?from '(\.[^']+)'/gm,
    ))
      if (!typesOnly) take(join(dirname(path), from!));
  };
  take(module);
  const hash = createHash('sha256');
  for (const path of [...texts.keys()].sort()) hash.update(texts.get(path)!);
  return hash.digest('hex').slice(0, 12);
}

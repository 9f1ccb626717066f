import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { FAULTS } from './faults.ts';

// The table of README.md against the faults that are injected and the tests that it names.

const here = fileURLToPath(new URL('.', import.meta.url));
const rows = readFileSync(join(here, 'README.md'), 'utf8')
  .split('\n')
  .filter((line) => /^\| (?!---|fault \|)/.test(line))
  .map((line) => line.split(/(?<!\\)\|/).slice(1, -1))
  .map((cells) => cells.map((cell) => cell.trim()));
const named = (test = ''): string[] => [...test.matchAll(/`([^`]+)`/g)].map(([, name]) => name!);

describe('the table of faults', () => {
  it.each(rows)('%s: how it is put in, what catches it, and a test', (fault, how, caught, test) => {
    for (const cell of [fault, how, caught]) expect(cell).not.toBe('');
    expect(named(test).length).toBeGreaterThan(0);
    for (const name of named(test)) {
      const [file, title] = name.split(/: (.*)/);
      if (!file!.endsWith('.test.ts')) expect(FAULTS.map((f) => f.row)).toContain(name);
      else
        expect(readFileSync(join(here, '../..', file!), 'utf8')).toMatch(
          new RegExp(`(it|describe)\\('${title!}`),
        );
    }
  });

  it('has every fault that is injected', () => {
    const all = rows.flatMap(([, , , test]) => named(test));
    expect(FAULTS.map((f) => f.row).filter((row) => !all.includes(row))).toEqual([]);
  });
});

import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { catalogue, type Code } from '../../src/base/catalogue.ts';
import { lengthsIn, parseLength } from '../../src/base/length.ts';
import { Refusal } from '../../src/base/reason.ts';

// 1 in = 25.4 mm exactly (yard and pound agreement, 1959).
describe('parseLength', () => {
  it.each([
    ['85.6', 85.6],
    ['12,5', 12.5],
    [' 12.5 mm ', 12.5],
    ['12.5MM', 12.5],
    ['8.56 cm', 85.6],
    ['3.37in', 85.598],
    ['3.37 in', 85.598],
    ['3.37"', 85.598],
    ['1/2in', 12.7],
    ['1/2', 12.7],
    ['3 3/8', 85.725],
    ['3-3/8 in', 85.725],
    ['3 3/8"', 85.725],
    ['1/2 mm', 0.5],
    ['.5', 0.5],
    ['5.', 5],
    ['0', 0],
  ])('%s is %d mm', (text, value) => {
    expect(parseLength(text)).toBeCloseTo(value, 9);
  });

  it.each([
    '',
    ' ',
    'mm',
    '12 parsecs',
    '1,234.5',
    '1.234,5',
    '-3',
    '1/0',
    '3 3',
    'NaN',
    '1e3',
    '1/2/3',
    '5..',
  ])('refuses "%s"', (text) => {
    expect(() => parseLength(text)).toThrow(Refusal);
    expect(() => parseLength(text)).toThrow(/is no length\. Write it like/);
  });
});

describe('a bare number where inches are shown', () => {
  it.each([
    ['3.37', 85.598],
    ['0,5', 12.7],
    ['85.6 mm', 85.6],
    ['8.56cm', 85.6],
    ['3 3/8', 85.725],
    ['1/2 mm', 0.5],
  ])('%s is %d mm', (text, value) => {
    expect(parseLength(text, 'in')).toBeCloseTo(value, 9);
  });
});

describe('lengthsIn', () => {
  it.each([
    ['It is 25.4 mm thick.', 'It is 1.000 in thick.'],
    ['A sheet of 210 x 297 mm is A4.', 'A sheet of 8.27 x 11.69 in is A4.'],
    ['3 to 5.08 mm', '0.12 to 0.2000 in'],
    ['agrees: 0.04 mm apart, within ±0.09 mm.', 'agrees: 0.0016 in apart, within ±0.0035 in.'],
    ['Thing at 12.70, \u22125.08 mm', 'Thing at 0.5000, \u22120.2000 in'],
    ['with 0.60 ± 0.25 mm of play', 'with 0.0236 ± 0.0098 in of play'],
    ['64.516 cm² and 645 mm²', '10.0000 in² and 1.00 in²'],
    ['at 25.4 mm/s, 0.100 mm/px', 'at 1.000 in/s, 0.00394 in/px'],
    // What is named by millimetres keeps its name.
    ['Lay a 50 mm rider on it; the 35 mm focal length.', undefined],
    ['through a lens of 26 mm, and no scan', undefined],
    ['blank 2, 3 corners', undefined],
  ])('%s', (text, inches) => {
    expect(lengthsIn(text, 'in')).toBe(inches ?? text);
    expect(lengthsIn(text, 'mm')).toBe(text);
  });

  it('reaches every length of every sentence of the catalogue, and nothing else', () => {
    const left: string[] = [];
    const named = /rider|lens of|as typed|12,5 mm|in millimetres/;
    for (const code of Object.keys(catalogue) as Code[]) {
      const lengths = new Map<string, string>();
      const others = new Map<string, string>();
      const facts = new Proxy({} as Record<string, string>, {
        get: (_, key) => {
          const name = String(key);
          const all = /Mm2?$|^mmPer|^(x|y|dx|dy)$/.test(name) ? lengths : others;
          if (all === others) return `<${name}>`;
          if (!all.has(name)) all.set(name, `${700 + lengths.size}.25`);
          return all.get(name);
        },
      });
      for (const text of [catalogue[code].message(facts), catalogue[code].remedy(facts)]) {
        const told = lengthsIn(text, 'in');
        if (named.test(text)) continue;
        const missed = [...lengths.values()].filter((figure) => told.includes(figure));
        if (/\bmm\b|cm²|mm²/.test(told) || missed.length > 0) left.push(`${code}: ${told}`);
      }
    }
    expect(left).toEqual([]);
  });
});

it('no screen writes a unit of length by hand', () => {
  const ui = new URL('../../src/ui/', import.meta.url);
  const screens = readdirSync(ui, { recursive: true, encoding: 'utf8' }).filter((f) =>
    f.endsWith('.svelte'),
  );
  expect(screens.length).toBeGreaterThan(40);
  for (const file of screens) {
    const text = readFileSync(new URL(file, ui), 'utf8')
      .replace(/<!--.*?-->/gs, '')
      .replace(/\/\*.*?\*\//gs, '')
      .replace(/\/\/.*$/gm, '');
    const by = /(?:\}|\d) ?(?:mm|cm²|mm²)(?:\/s)?(?![\w.'])/.exec(
      text.replace(/(?:35|(?:focalLength35Mm|sizeMm)\}) mm/g, ''),
    );
    expect(by?.[0], `${file}: say lengths by src/ui/parts/figure.ts`).toBeUndefined();
  }
});

import { describe, expect, it } from 'vitest';
import { parseLength } from '../../src/base/length.ts';
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

import { describe, expect, it } from 'vitest';
import { catalogue, type Code } from '../../src/base/catalogue.ts';
import { outcome, reason, Refusal, type Facts } from '../../src/base/reason.ts';

const codes = Object.keys(catalogue) as Code[];

/** Facts that answer to any name with the name itself, in brackets. */
const anyFacts = new Proxy({} as Record<string, string>, {
  get: (_, key) => `<${String(key)}>`,
}) as Facts;

describe.each(codes)('%s', (code) => {
  const entry = catalogue[code];

  it('says with its facts what is so', () => {
    const message = entry.message(anyFacts);
    expect(message).toMatch(/\.$/);
    expect(message).not.toMatch(/undefined|NaN|!|sorry|please|oops/i);
    expect(message.length).toBeGreaterThan(15);
  });

  it('says what to do next', () => {
    const remedy = entry.remedy(anyFacts);
    // Some sentences hand on the remedy of another one, which is tested under its own code.
    if (remedy === '<remedy>') return;
    expect(remedy).toMatch(/^[A-Z"].*\.$/s);
    expect(remedy).not.toMatch(/undefined|NaN|!|sorry|please|oops/i);
    expect(remedy.split(' ').length, 'a remedy is a sentence').toBeGreaterThanOrEqual(4);
    expect(remedy).not.toBe(entry.message(anyFacts));
  });

  it('has a name in small letters and a level', () => {
    expect(code).toMatch(/^[a-z0-9]+(-[a-z0-9]+)*$/);
    expect(['refuse', 'doubt', 'note']).toContain(entry.level);
  });
});

describe('reasons', () => {
  it('are plain data that survives a worker', () => {
    const made = reason('picture-too-large', {
      name: 'a.jpg',
      widthPx: 10000,
      heightPx: 8000,
      megapixels: '80.0',
      greatest: 50,
    });
    expect(structuredClone(made)).toEqual(made);
    expect(made.message).toContain('80.0');
    expect(made.message).toContain('50');
  });

  it('a refusal becomes a value, a fault stays loud', async () => {
    const refuse = outcome(() => {
      throw new Refusal('picture-empty', { name: 'a.jpg' });
    });
    expect(await refuse()).toMatchObject({ ok: false, reason: { code: 'picture-empty' } });
    const fault = outcome(() => {
      throw new TypeError('a fault');
    });
    await expect(fault()).rejects.toThrow('a fault');
    expect(await outcome((a: number) => a + 1)(1)).toEqual({ ok: true, value: 2 });
  });
});

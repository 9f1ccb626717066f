import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { handbookPages } from '../../vite.handbook.ts';

it('every page that the program leads to is in the handbook, and every page is led to', () => {
  // Read as text: the module itself is only built into the page.
  const source = readFileSync(
    new URL('../../src/ui/handbook/handbook.svelte.ts', import.meta.url),
    'utf8',
  );
  const named = [.../PAGES = \[([\s\S]*?)\]/.exec(source)![1]!.matchAll(/'([^']+)'/g)].map(
    (m) => m[1],
  );
  expect(handbookPages().map((p) => p.id)).toEqual(named);
  for (const { html } of handbookPages()) {
    expect(html).toMatch(/<p>|<ul>/);
    expect(html).not.toMatch(/<script|on\w+=/i);
  }
});

import { expect, it } from 'vitest';
import { catalogue, type Code } from '../../src/base/catalogue.ts';
import { STEPS } from '../../src/job/steps.ts';
import { OF_STEP, PAGES, pageFor, titleOf } from '../../src/ui/handbook/handbook.svelte.ts';
import { handbookPages } from '../../vite.handbook.ts';

it('every page that the program leads to is in the handbook, and every page is named', () => {
  expect(handbookPages().map((p) => p.id)).toEqual(PAGES);
  for (const { html } of handbookPages()) {
    expect(html).toMatch(/<p>|<ul>/);
    expect(html).not.toMatch(/<script|<img|on\w+=/i);
  }
});

it('every sentence of the catalogue leads to a page, by what it is about or by its step', () => {
  const codes = Object.keys(catalogue) as Code[];
  for (const step of STEPS) {
    expect(titleOf(OF_STEP[step])).not.toBe(OF_STEP[step]);
    for (const code of codes) expect(PAGES).toContain(pageFor(code, step));
  }
  expect(pageFor('store-full', 'bed')).toBe('keeping-jobs');
  expect(pageFor('picture-empty', 'sheet')).toBe('photograph');
  expect(pageFor('match-without-plan', 'release')).toBe('files');
});

it('holds what the work can hurt, and drawings of our own that speak', () => {
  const page = (id: string): string => handbookPages().find((p) => p.id === id)!.html;
  for (const word of ['Laser', 'UV lamp', 'Matt spray', 'Food contact', 'template', 'extract'])
    expect(page('cautions')).toContain(word);
  expect(page('the-board')).toContain('Cleaning and storing');
  for (const id of ['measure-it', 'photograph', 'trace-and-check', 'pocket'])
    expect(page(id)).toMatch(/<svg role="img" aria-label="[^"]{20,}"/);
});

import { expect, inject, it } from 'vitest';
import { campaign } from '../kills/kills.ts';

// Five kills of the two hundred of `npm run kills`, the last one of the whole browser.
it('nothing that was kept is lost when the page is killed at random moments', async () => {
  const { lost, kills, ofBrowser, entered, kept } = await campaign(inject('address'), 5, 7);
  expect(lost).toEqual([]);
  expect([kills, ofBrowser]).toEqual([5, 1]);
  expect(entered).toBeGreaterThan(10);
  expect(kept).toBeGreaterThan(5);
});

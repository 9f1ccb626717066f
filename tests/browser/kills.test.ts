import { expect, inject, it } from 'vitest';
import { campaign } from '../kills/kills.ts';

// Ten kills of the two hundred of `npm run kills`, the last one of the whole browser.
it('nothing that was kept is lost when the page is killed at random moments', async () => {
  const { lost, kills, ofBrowser, entered, kept } = await campaign(inject('address'), 10, 7);
  expect(lost).toEqual([]);
  expect([kills, ofBrowser]).toEqual([10, 1]);
  expect(entered).toBeGreaterThan(20);
  expect(kept).toBeGreaterThan(10);
});

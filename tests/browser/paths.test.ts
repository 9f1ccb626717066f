/**
 * The ways through the program, as `npm run engines` goes them in every engine; here one page goes them all. The expert's is the
 * first test of whole-job.test.ts, which also looks into the files.
 */
import { afterAll, beforeAll, expect, inject, it } from 'vitest';
import { pageHands, type Hands } from '../paths/hands.ts';
import { PATHS } from '../paths/paths.ts';
import { clear, openApp, type Desk } from './page.ts';

let desk: Desk;
let hands: Hands;
beforeAll(async () => {
  desk = await openApp();
  // Its workers stay from way to way, which spares the time to make new ones.
  const visit = async (_: string, width: number, height: number): Promise<Desk['page']> => {
    await desk.page.setViewportSize({ width, height });
    await clear(desk.page);
    return desk.page;
  };
  hands = pageHands(visit, () => desk.close());
});
afterAll(() => hands.close());

it.each(['first job', 'phone', 'repair'] as const)('%s path', async (name) => {
  await PATHS[name](hands, inject('address'));
  expect(desk.foreign).toEqual([]);
  expect(desk.errors).toEqual([]);
});

import { expect, it } from 'vitest';
import { Refusal, type Reason } from '../../src/base/reason.ts';
import { NO_HISTORY } from '../../src/job/history.ts';
import { newJob } from '../../src/job/job.ts';
import type { KeptJob, KeptPicture, Store } from '../../src/job/store.ts';
import { Keeper, type Keepable } from '../../src/ui/keeper.ts';

const turn = (): Promise<void> => new Promise((resolve) => setTimeout(resolve));

/** A store in memory that can be out of room, and that notes in which order things came. */
function memory(): {
  store: Store;
  jobs: Map<string, KeptJob>;
  order: string[];
  room: { left: boolean; most: number };
} {
  const jobs = new Map<string, KeptJob>();
  const pictures = new Map<string, KeptPicture>();
  const order: string[] = [];
  const room = { left: true, most: Infinity };
  const check = (): void => {
    if (!room.left || jobs.size + pictures.size >= room.most) throw new Refusal('store-full', {});
  };
  const store: Store = {
    jobs: () => Promise.resolve({ kept: [...jobs.values()], lost: [] }),
    keep: async (job) => {
      await turn();
      check();
      order.push(`job ${job.job.name}`);
      jobs.set(job.id, job);
    },
    forget: (id) => Promise.resolve(void jobs.delete(id)),
    picture: (digest) => Promise.resolve(pictures.get(digest)),
    keepPicture: async (picture) => {
      await turn();
      check();
      order.push(`picture ${picture.name}`);
      pictures.set(picture.digest, picture);
    },
    profiles: () => Promise.resolve([]),
    keepProfile: () => Promise.resolve(),
    forgetProfile: () => Promise.resolve(),
    record: () => Promise.resolve([]),
    keepRecord: () => Promise.resolve(),
    tidy: () => {
      const texts = [...jobs.values()].map(({ job }) => JSON.stringify(job));
      const gone = [...pictures.keys()].filter((d) => !texts.some((t) => t.includes(`"${d}"`)));
      for (const digest of gone) pictures.delete(digest);
      return Promise.resolve(gone);
    },
  };
  return { store, jobs, order, room };
}

const file = { name: 'a.jpg', digest: 'a', bytes: new Blob([Uint8Array.of(1, 2, 3)]) };
const named = (name: string): Keepable => ({
  id: '1',
  place: 1,
  job: newJob('S-0001', name),
  history: NO_HISTORY,
  file,
  more: [],
});

it('keeps the picture before the job that names it, once, and the newest state of the job', async () => {
  let now = named('first');
  const answers: (Keepable | Reason)[] = [];
  const { store, jobs, order } = memory();
  const keeper = new Keeper(
    () => now,
    (answer) => answers.push(answer),
  );
  keeper.keep('1');
  keeper.begin(store);
  now = named('second');
  keeper.keep('1');
  now = named('third');
  keeper.keep('1');
  await turn();
  await turn();
  await turn();
  await turn();
  expect(order[0]).toBe('picture a.jpg');
  expect(order.filter((o) => o.startsWith('picture'))).toHaveLength(1);
  expect(jobs.get('1')!.job.name).toBe('third');
  expect(answers.at(-1)).toBe(now);
  // A later visit gets the very bytes.
  const later = new Keeper(
    () => undefined,
    () => {},
  );
  const back = await later.picture('a', store);
  expect([...new Uint8Array(await back!.bytes.arrayBuffer())]).toEqual([1, 2, 3]);
});

it('says when there is no room, keeps trying, and takes up again', async () => {
  const now = named('first');
  const answers: (Keepable | Reason)[] = [];
  const { store, jobs, room } = memory();
  room.left = false;
  const keeper = new Keeper(
    () => now,
    (answer) => answers.push(answer),
  );
  keeper.begin(store);
  keeper.keep('1');
  await turn();
  await turn();
  expect(answers.at(-1)).toMatchObject({ code: 'store-full' });
  expect(jobs.size).toBe(0);
  room.left = true;
  keeper.keep('1');
  await turn();
  await turn();
  await turn();
  expect(jobs.get('1')).toBeDefined();
});

it('finds room by forgetting what was taken off the list, as it told the operator to', async () => {
  const of = (id: string): Keepable => ({
    ...named(`job ${id}`),
    id,
    job: { ...newJob(id, `job ${id}`), picture: { name: `${id}.jpg`, digest: `digest-${id}` } },
    file: { ...file, name: `${id}.jpg`, digest: `digest-${id}` },
  });
  const list = new Map([
    ['1', of('1')],
    ['2', of('2')],
  ]);
  const answers: (Keepable | Reason)[] = [];
  const { store, jobs, room } = memory();
  const settled = async (): Promise<void> => {
    for (let k = 0; k < 12; k++) await turn();
  };
  room.most = 3;
  const keeper = new Keeper(
    (id) => list.get(id),
    (answer) => answers.push(answer),
  );
  keeper.begin(store);
  keeper.keep('1');
  keeper.keep('2');
  await settled();
  expect(answers.at(-1)).toMatchObject({ code: 'store-full' });
  expect([...jobs.keys()]).toEqual(['1']);
  list.delete('1');
  keeper.drop('1');
  await settled();
  expect(answers.at(-1)).toBe(list.get('2'));
  expect([...jobs.keys()]).toEqual(['2']);
  expect(await store.picture('digest-2')).toBeDefined();
  expect(await store.picture('digest-1')).toBeUndefined();
});

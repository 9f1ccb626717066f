import { describe, expect, it, vi } from 'vitest';
import { judge } from '../../src/check/judge.ts';
import { average } from '../../src/check/reading.ts';
import { reason, type Outcome } from '../../src/base/reason.ts';
import { newJob, type Job } from '../../src/job/job.ts';
import { listed } from '../../src/job/listed.ts';
import { Run, type Machines, type PictureFile, type Results } from '../../src/job/run.ts';
import { openPoints, standings, trust } from '../../src/job/standing.ts';
import { layout } from '../../src/sheet/layout.ts';

const file: PictureFile = { name: 'a.jpg', digest: 'a', bytes: new Blob([]) };
const sheet = layout(210, 297, 'white');
const ok = <T>(value: unknown): Promise<Outcome<T>> =>
  Promise.resolve({ ok: true, value: value as T });
const size = {
  kind: 'width' as const,
  directionRad: 0,
  valueMm: 50,
  u: 0.04,
  touches: [],
  budget: [],
};
const outline = {
  id: 'o',
  blank: 1,
  at: 'face',
  region: {
    outer: [
      { x: 0, y: 0 },
      { x: 9, y: 0 },
      { x: 0, y: 9 },
    ],
    holes: [],
  },
  u: [Float64Array.of(0.02, 0.02, 0.02)],
  hidden: [],
  doubtful: [],
};

/** Machines that only count how often each is asked. */
function counting(): { machines: Machines; asked: Record<string, number> } {
  const asked: Record<string, number> = {};
  const step =
    (name: string, value: unknown) =>
    <T>(): Promise<Outcome<T>> => {
      asked[name] = (asked[name] ?? 0) + 1;
      return ok<T>(value);
    };
  const machines: Machines = {
    open: step('open', { widthPx: 1, heightPx: 1, meta: {} }),
    find: step('find', { sheet, marks: [], riders: [{ design: { sizeMm: 50 } }], reasons: [] }),
    look: step('look', { reasons: [], light: [] }),
    view: step('view', { riders: [], reasons: [] }),
    trace: step('trace', { outlines: [outline], verdict: 'ok', reasons: [] }),
    snap: () => Promise.resolve(undefined),
    shot: step('shot', {}),
    lens: step('lens', {}),
    kind: step('kind', { envelope: { ...outline, at: 'envelope', pieces: [1, 2] }, reasons: [] }),
    mend: step('mend', {
      trace: { outlines: [outline], verdict: 'doubtful', reasons: [] },
      effects: [{ blank: 1, lengthMm: 0, movedMm: 0, U: 0 }],
    }),
    improve: step('improve', {
      trace: { outlines: [outline], verdict: 'ok', reasons: [] },
      improvements: [{ blank: 1, changes: [], scale: { width: 1, height: 1 } }],
    }),
    check: (_, readings, instruments) =>
      step('check', {
        sizes: { 1: { width: size, height: { ...size, directionRad: Math.PI / 2 } } },
        checked: readings.map((reading) => {
          const { feature } = reading;
          const across = feature.kind === 'main' && feature.side === 'height';
          const directionRad =
            feature.kind === 'across' ? feature.directionRad : across ? Math.PI / 2 : 0;
          const dimension = { ...size, directionRad };
          const averaged = average(reading.valuesMm, instruments[reading.with]);
          return { reading, dimension, averaged, judgement: judge(averaged, dimension) };
        }),
        lost: [],
        next: {},
      })(),
    pockets: step('pockets', [
      { blank: 1, seat: outline, print: outline, pocket: { reasons: [] } },
    ]),
    plan: step('plan', { pockets: [], reasons: [] }),
    photo: step('photo', { jpeg: new Uint8Array(), widthPx: 1, heightPx: 1 }),
    art: step('art', { sheets: [], pictures: [] }),
    letters: step('letters', []),
    facts: step('facts', []),
    release: step('release', []),
  };
  return { machines, asked };
}
const measured: Job = { ...newJob('S-1', 'a'), thicknessMm: { 1: 3 } };

describe('the way from a job to its files', () => {
  it('computes again only what follows from a change', async () => {
    const { machines, asked } = counting();
    const run = new Run(machines, () => {});
    await run.start(measured, [file], false);
    const once = { open: 1, find: 1, look: 1, view: 1, trace: 1, check: 1, pockets: 1, plan: 1 };
    expect(asked).toEqual(once);

    await run.start({ ...measured, bed: { ...measured.bed, columns: 5 } }, [file], false);
    expect(asked).toEqual({ ...once, plan: 2 });
    await run.start({ ...measured, face: 'back' }, [file], false);
    expect(asked).toEqual({ ...once, trace: 2, check: 2, pockets: 2, plan: 3 });
    await run.start({ ...measured, face: 'back', thicknessMm: { 1: 4 } }, [file], false);
    expect(asked).toMatchObject({ open: 1, find: 1, view: 2, trace: 3, plan: 4 });
    expect(asked.release).toBeUndefined();
  });

  it('judges a photo before it is measured; what the look said of it gives way to the measurement', async () => {
    const { machines } = counting();
    const beside = reason('camera-beside', { x: -5, y: 90, thickMm: 2 });
    const glare = reason('glare', { washed: 40, expected: 576 });
    const look: Machines['look'] = () => ok({ reasons: [beside], light: [glare] });
    let measure: (view: unknown) => void = () => {};
    const view: Machines['view'] = () =>
      new Promise((resolve) => (measure = (value) => resolve(value as Outcome<never>)));
    const shown: Results[] = [];
    const run = new Run({ ...machines, look, view }, (results) => shown.push(results));
    const done = run.start(measured, [file], false);
    await vi.waitFor(() => expect(shown.at(-1)?.look?.ok).toBe(true));
    expect(shown.at(-1)?.view).toBeUndefined();
    const words = (): readonly string[] => openPoints(measured, shown.at(-1)!).map((p) => p.words);
    expect(words()).toEqual(expect.arrayContaining([beside.message, glare.message]));
    await vi.waitFor(() => measure({ ok: true, value: { riders: [], reasons: [] } }));
    await done;
    expect(words()).not.toContain(beside.message);
    expect(words()).toContain(glare.message);
    const scanned: Job = { ...measured, sheet: { ...measured.sheet, by: 'strip' } };
    expect((await new Run(machines, () => {}).start(scanned, [file], false)).look).toBeUndefined();
  });

  it('keeps showing what a change leaves as it is, and takes away at once what follows from it', async () => {
    const { machines } = counting();
    const shown: Results[] = [];
    const run = new Run(machines, (results) => shown.push(results));
    await run.start(measured, [file], false);
    shown.length = 0;
    const renamed = await run.start({ ...measured, blankName: 'x' }, [file], false);
    expect(shown.at(-1)).toBe(renamed);
    expect(shown.every((results) => results.plan?.ok)).toBe(true);

    shown.length = 0;
    await run.start({ ...measured, bed: { ...measured.bed, columns: 5 } }, [file], false);
    const before = shown.findIndex((results) => results.plan === undefined);
    expect(shown[before]!.pockets).toBe(renamed.pockets);
    expect(shown.slice(before + 1, -1).every((results) => results.plan !== renamed.plan)).toBe(
      true,
    );
  });

  it('makes pockets from the envelope where the blanks are pieces of one kind, and checks the pieces', async () => {
    const { machines, asked } = counting();
    const given: string[][] = [];
    const watching: Machines = {
      ...machines,
      pockets: (trace, ...more) => {
        given.push(trace.outlines.map((o) => o.at));
        return machines.pockets(trace, ...more);
      },
      check: (seats, ...more) => {
        given.push(seats.map((o) => o.at));
        return machines.check(seats, ...more);
      },
    };
    const run = new Run(watching, () => {});
    await run.start({ ...measured, oneKind: true }, [file], false);
    expect(asked.kind).toBe(1);
    expect(given).toEqual([['face'], ['face', 'envelope']]);
    await run.start({ ...measured, oneKind: true, blankName: 'x' }, [file], false);
    expect(asked).toMatchObject({ kind: 1, pockets: 1 });
  });

  it('measures pieces in further pictures each alone, numbers them on, and says which one cannot be', async () => {
    const { machines, asked } = counting();
    const given: (readonly [number, number | undefined])[][] = [];
    let refuse = false;
    const watching: Machines = {
      ...machines,
      view: (files, ...rest) =>
        refuse && files[0]!.name === 'two.jpg'
          ? Promise.resolve({ ok: false, reason: reason('no-sheet', {}) })
          : machines.view(files, ...rest),
      kind: (seats, by) => {
        given.push(seats.map((o) => [o.blank, o.inPicture] as const));
        expect(by).toBe('mean');
        return machines.kind(seats, by);
      },
    };
    const named = ['one.jpg', 'two.jpg'].map((name, k) => ({ name, digest: String(k).repeat(64) }));
    const files = named.map((f) => ({ ...f, bytes: file.bytes }));
    const job: Job = { ...measured, oneKind: true, pieces: named, kindBy: 'mean' };
    const run = new Run(watching, () => {});
    await run.start(job, [file], false, undefined, [], files);
    expect(given).toEqual([
      [
        [1, undefined],
        [2, 1],
        [3, 2],
      ],
    ]);
    expect(asked).toMatchObject({ trace: 3, view: 3, kind: 1 });
    const missing = await run.start(job, [file], false, undefined, [], files.slice(1));
    expect(missing.kind).toMatchObject({ ok: false, reason: { code: 'piece-picture-wanted' } });
    expect(missing.pockets).toBeUndefined();
    refuse = true;
    const bad = await new Run(watching, () => {}).start(job, [file], false, undefined, [], files);
    expect(bad.kind).toMatchObject({
      ok: false,
      reason: { code: 'piece-picture-refused', facts: { name: 'two.jpg' } },
    });
  });

  it('mends anew when the outline is traced again, and not before', async () => {
    const { machines, asked } = counting();
    const run = new Run(machines, () => {});
    const mends = [{ picture: 'a', kind: 'close', at: { x: 1, y: 1 } }] as const;
    const results = await run.start({ ...measured, mends }, [file], false);
    expect(asked).toMatchObject({ trace: 1, mend: 1, pockets: 1 });
    expect(results.trace?.ok && results.trace.value.verdict).toBe('doubtful');
    expect(results.mended).toHaveLength(1);
    await run.start({ ...measured, mends, wantMm: measured.wantMm }, [file], false);
    expect(asked).toMatchObject({ trace: 1, mend: 1, pockets: 1 });
    await run.start({ ...measured, mends, thicknessMm: { 1: 4 } }, [file], false);
    expect(asked).toMatchObject({ trace: 2, mend: 2, pockets: 2 });
  });

  it('traces nothing without a thickness, but asks the rider', async () => {
    const { machines, asked } = counting();
    const results = await new Run(machines, () => {}).start(newJob('S-1', 'a'), [file], true);
    expect(asked).toEqual({ open: 1, find: 1, look: 1, view: 1 });
    expect(results.guess?.ok).toBe(true);
    expect(results.view).toBeUndefined();
  });

  it('tells of every photo how it stands, whichever is looked at', async () => {
    const { machines, asked } = counting();
    const other: PictureFile = { ...file, name: 'b.jpg', digest: 'b' };
    const refusing: Machines = {
      ...machines,
      find: (seen, scanned, progress) =>
        seen === file
          ? Promise.resolve({ ok: false, reason: reason('no-blank', { stage: 'grey' }) })
          : machines.find(seen, scanned, progress),
    };
    for (const files of [
      [file, other],
      [other, file],
    ]) {
      const { photos, trace } = await new Run(refusing, () => {}).start(measured, files, false);
      expect(photos).toMatchObject({ a: { ok: false }, b: { ok: true } });
      expect(trace).toBeUndefined();
    }
    expect(asked.view).toBeUndefined();
  });

  it('stops at a refusal and tries again once its inputs change', async () => {
    const { machines, asked } = counting();
    const refusing: Machines = {
      ...machines,
      view: (files, settings) =>
        settings.thicknessMm[0] === 3
          ? Promise.resolve({ ok: false, reason: reason('thickness-zero', { valueMm: 0 }) })
          : machines.view(files, settings, () => {}),
    };
    const run = new Run(refusing, () => {});
    expect((await run.start(measured, [file], false)).view?.ok).toBe(false);
    expect(asked.trace).toBeUndefined();
    await run.start({ ...measured, thicknessMm: { 1: 5 } }, [file], false);
    expect(asked.trace).toBe(1);
  });

  it('does not show what a later start has overtaken', async () => {
    const { machines } = counting();
    const shown: Results[] = [];
    let letGo = (): void => {};
    const slow: Machines = {
      ...machines,
      trace: (...args) =>
        new Promise((resolve) => (letGo = () => void machines.trace(...args).then(resolve))),
    };
    const run = new Run(slow, (results) => shown.push(results));
    const first = run.start(measured, [file], false);
    await new Promise((r) => setTimeout(r, 5));
    const freed = letGo;
    const second = run.start({ ...measured, face: 'back' }, [file], false);
    await new Promise((r) => setTimeout(r, 5));
    const before = shown.length;
    freed();
    await first;
    expect(shown.slice(before).every((r) => r.trace === undefined)).toBe(true);
    letGo();
    expect((await second).plan?.ok).toBe(true);
  });

  it('shows nothing of a former picture beside a new one', async () => {
    const { machines } = counting();
    const shown: Results[] = [];
    const run = new Run(machines, (results) => shown.push(results));
    await run.start(measured, [file], false);
    const before = shown.length;
    void run.start(measured, [{ ...file, digest: 'b' }], false);
    expect(shown.length).toBeGreaterThan(before);
    for (const results of shown.slice(before)) expect(results).toEqual({});
  });

  it('throws what is not a refusal', async () => {
    const { machines } = counting();
    const broken: Machines = { ...machines, find: () => Promise.reject(new Error('a bug')) };
    await expect(new Run(broken, () => {}).start(measured, [file], false)).rejects.toThrow('a bug');
  });
});

describe('how a job stands', () => {
  it('an unread sheet, an unasked face and missing checks are open, whatever else is done', async () => {
    const { machines } = counting();
    const job = { ...measured, picture: { name: 'a.jpg', digest: 'a' } };
    const results = await new Run(machines, () => {}).start(job, [file], false);
    const steps = openPoints(job, results).map((p) => p.step);
    expect(steps).toEqual(expect.arrayContaining(['sheet', 'outline', 'check']));
    const stands = standings(job, results, 1);
    expect(stands.check).toEqual({ condition: 'open', word: 'not checked' });
    expect(stands.release).toEqual({ condition: 'not yet', word: 'shut' });
  });

  it('what was not computed yet, or fell to a fault, is open however much was entered', async () => {
    const { machines } = counting();
    const job: Job = {
      ...measured,
      picture: { name: 'a.jpg', digest: 'a' },
      face: 'print',
      zero: { readMm: 0, on: '2026-03-14' },
      sheet: {
        ...measured.sheet,
        spansMm: { x: 140, y: 140, d: 141.4 },
        riderSizeMm: 0,
        kept: 'today',
      },
      readings: [
        { kind: 'main' as const, side: 'width' as const },
        { kind: 'main' as const, side: 'height' as const },
        { kind: 'across' as const, directionRad: Math.PI / 4 },
      ].map((feature) => ({ blank: 1, feature, valuesMm: [50], with: 'caliper' as const })),
    };
    const results = await new Run(machines, () => {}).start(job, [file], false);
    expect(trust(job, results, 1)).toMatchObject({ open: [], help: { step: 'release' } });
    // A list of jobs says the same of it.
    expect(standings(job, listed(results), 1)).toEqual(standings(job, results, 1));
    const { trace } = listed(results);
    const [kept] = trace?.ok ? trace.value.outlines : [];
    expect(kept).toMatchObject({ region: outline.region, u: outline.u, modes: [], edgeU: [] });
    expect(kept).toHaveProperty('curves.outer.segments', []);
    // Along the sheet's sides alone no skew shows; what nobody said of the sheet is asked.
    const along = { ...job, readings: job.readings.slice(0, 2) };
    const less = await new Run(machines, () => {}).start(along, [file], false);
    expect(trust(along, less, 1).open).toMatchObject([{ step: 'check', weight: 'doubt' }]);
    const sheet = {
      ...measured.sheet,
      spansMm: job.sheet.spansMm,
      riderSizeMm: 0 as const,
    };
    expect(trust({ ...job, sheet }, results, 1).help).toEqual({
      step: 'sheet',
      words: 'Say when the spans were read',
      bad: false,
    });
    const earlier = { ...job, sheet: { ...sheet, kept: 'room' as const } };
    expect(trust(earlier, results, 1).help.words).toBe('Read one span of the sheet again');
    for (const [step, left] of [
      ['picture', {}],
      ['outline', { info: results.info, found: results.found, view: results.view }],
    ] as const) {
      const { open, help } = trust(job, left as Results, 1);
      expect(open.map((p) => p.step)).toEqual([step]);
      expect(help.step).toBe(step);
      expect(standings(job, left as Results, 1).release.condition).toBe('not yet');
    }
  });

  it('another sheet in the picture than chosen is said', async () => {
    const { machines } = counting();
    const job: Job = { ...measured, sheet: { ...measured.sheet, paper: 'A3' } };
    const results = await new Run(machines, () => {}).start(job, [file], false);
    expect(
      openPoints(job, results)
        .map((p) => p.words)
        .join(' '),
    ).toMatch(/shows a sheet of 210 x 297 mm, but one of 297 x 420 mm was chosen/);
  });
});

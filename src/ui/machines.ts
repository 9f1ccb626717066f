import { proxy, wrap } from 'comlink';
import type { Progress } from '../base/progress.ts';
import type { Jig } from '../job/jig.ts';
import type { LooseMachines } from './board/loose.svelte.ts';
import type { AfterMachines } from '../job/after.ts';
import type { Machines } from '../job/run.ts';
import { browserShows, type ShownPicture } from '../picture/shown-browser.ts';
import type { Trace } from '../outline/outline.ts';
import { lightPlan, wholePlan } from '../plan/plan-bed.ts';
import type { JobApi } from '../../workers/job.worker.ts';
import type { PlanApi } from '../../workers/plan.worker.ts';
import type { VisionApi } from '../../workers/vision.worker.ts';
import { breath } from './breath.ts';
import type { Workshop } from './desk.svelte.ts';

/** A worker that is started when first needed, and ended to stop it: wasm memory is given back no other way. */
class Room<Api> {
  #worker: Worker | undefined;
  #remote: Api | undefined;
  /** Of the worker at hand: one that was ended is asked nothing more. */
  #life = 0;
  #fail: (error: Error) => void = () => {};
  #failed: Promise<never> = new Promise(() => {});

  constructor(readonly start: () => Worker) {}

  get remote(): Api {
    if (this.#remote) return this.#remote;
    const worker = this.start();
    this.#failed = new Promise((_, reject) => (this.#fail = reject));
    this.#failed.catch(() => {});
    worker.addEventListener('error', (event) =>
      this.#fail(new Error(event.message || 'a worker could not be loaded')),
    );
    this.#worker = worker;
    // Every function of a face is asynchronous and takes plain data, so that the remote one reads the same.
    this.#remote = wrap<Api>(worker) as unknown as Api;
    return this.#remote;
  }

  /** The answer, or the error that broke the worker before it could give one. */
  async ask<T>(question: (remote: Api) => Promise<T>): Promise<T> {
    // To send, to receive and to show what came are tasks of their own: together they would hold up the page.
    const life = this.#life;
    await breath();
    if (life !== this.#life) return new Promise<never>(() => {});
    const answer = question(this.remote);
    const given = await Promise.race([answer, this.#failed]);
    await breath();
    return life === this.#life ? given : new Promise<never>(() => {});
  }

  end(): void {
    this.#life++;
    this.#worker?.terminate();
    this.#worker = undefined;
    this.#remote = undefined;
  }
}

/** A picture as the browser decodes it, in a worker that ends with it. */
function decodedToShow(file: Blob): Promise<ShownPicture> {
  const worker = new Worker(new URL('../../workers/shown.worker.ts', import.meta.url), {
    type: 'module',
  });
  return new Promise<ShownPicture>((resolve, reject) => {
    worker.addEventListener(
      'message',
      ({ data }: MessageEvent<ShownPicture | { readonly error: string }>) =>
        'error' in data ? reject(new Error(data.error)) : resolve(data),
    );
    worker.addEventListener('error', (event) =>
      reject(new Error(event.message || 'a worker could not be loaded')),
    );
    worker.postMessage(file);
  }).finally(() => worker.terminate());
}

/** The steps in module workers: one for pixels, one for polygons and files. */
export function browserMachines(): Workshop {
  const vision = new Room<VisionApi>(
    () =>
      new Worker(new URL('../../workers/vision.worker.ts', import.meta.url), { type: 'module' }),
  );
  const plan = new Room<PlanApi>(
    () => new Worker(new URL('../../workers/plan.worker.ts', import.meta.url), { type: 'module' }),
  );
  // Of its own: nesting can be stopped, and goes on while settings are changed.
  const nesting = new Room<PlanApi>(
    () => new Worker(new URL('../../workers/plan.worker.ts', import.meta.url), { type: 'module' }),
  );
  const filing = new Room<JobApi>(
    () => new Worker(new URL('../../workers/job.worker.ts', import.meta.url), { type: 'module' }),
  );
  /** What the worker calls pockets that it made. */
  const tokens = new WeakMap<Jig['blanks'], string>();
  const told = (progress: Progress): Progress => proxy(progress);
  const machines: Machines = {
    open: (file) => vision.ask((v) => v.open(file)),
    find: (file, scanned, progress) => vision.ask((v) => v.find(file, scanned, told(progress))),
    look: (file) => vision.ask((v) => v.look(file)),
    view: (files, settings, progress) => vision.ask((v) => v.view(files, settings, told(progress))),
    trace: (files, calibration, settings, progress) => {
      // Loaded beside the tracing, for what follows it.
      plan.ask((p) => p.warm()).catch(() => {});
      return vision.ask((v) => v.trace(files, calibration, settings, told(progress)));
    },
    snap: (file, at, reachPx) => vision.ask((v) => v.snap(file, at, reachPx)),
    shot: (file, board) => vision.ask((v) => v.shot(file, board)),
    lens: (shots, target) => vision.ask((v) => v.lens(shots, target)),
    kind: (seats, by) => plan.ask((p) => p.kind(seats, by)),
    mend: (trace, mends, eyes) => plan.ask((p) => p.mend(trace, mends, eyes)),
    improve: (trace, seats, readings, instruments) =>
      plan.ask((p) => p.improve(trace, seats, readings, instruments)),
    check: (seats, readings, instruments, clearanceMm, corrected, asked) =>
      plan.ask((p) => p.check(seats, readings, instruments, clearanceMm, corrected, asked)),
    pockets: async (trace, settings, standing) => {
      const made = await plan.ask((p) => p.pockets(lean(trace), settings, standing));
      if (!made.ok) return made;
      const { token, blanks } = made.value;
      tokens.set(blanks, token);
      return { ok: true, value: blanks };
    },
    plan: async (blanks, settings) => {
      const token = tokens.get(blanks) ?? '';
      let light = await plan.ask((p) => p.plan(token, settings));
      // A worker that was ended and begun anew does not know them.
      if (light.ok && !light.value) light = await plan.ask((p) => p.plan(token, settings, blanks));
      if (!light.ok) return light;
      const pockets = blanks.map(({ pocket }) => pocket);
      return { ok: true, value: wholePlan(light.value!, pockets) };
    },
    photo: (file, box, mostPx) => vision.ask((v) => v.photo(file, box, mostPx)),
    art: (file) => plan.ask((p) => p.art(file)),
    letters: (run, fonts) => plan.ask((p) => p.letters(run, fonts)),
    facts: (seats) => plan.ask((p) => p.facts(seats)),
    release: async ({ plan: bedPlan, blanks }, ...of) => {
      // Where the pockets' rings lie follows from the pockets, which are there already.
      const light = lightPlan(bedPlan);
      const token = tokens.get(blanks) ?? '';
      const made = await plan.ask((p) => p.release(light, token, undefined, ...of));
      if (!made.ok) return made;
      if (made.value) return { ok: true, value: made.value };
      const anew = await plan.ask((p) => p.release(light, token, blanks, ...of));
      return anew.ok ? { ok: true, value: anew.value! } : anew;
    },
  };
  const after: AfterMachines = {
    find: machines.find,
    view: machines.view,
    trace: machines.trace,
    board: (filed, outline, blanks, progress) =>
      plan.ask((p) => p.board(filed, outline, blanks, told(progress))),
    delivery: (filed, pieces, board, progress) =>
      plan.ask((p) => p.delivery(filed, pieces, board, told(progress))),
  };
  const loose: LooseMachines = {
    place: (files, kinds, calibration, settings, weigh, bed, progress) =>
      vision.ask((v) => v.loose(files, kinds, calibration, settings, weigh, bed, told(progress))),
    files: (...of) => plan.ask((p) => p.loose(...of)),
  };
  return {
    machines,
    after,
    loose,
    stop: () => {
      vision.end();
      plan.end();
      nesting.end();
    },
    shown: (file, meta) =>
      browserShows(meta) ? decodedToShow(file.bytes) : vision.ask((v) => v.shown(file)),
    bedRead: (file, settings, bed, on) => vision.ask((v) => v.bedRead(file, settings, bed, on)),
    offers: (outline) => nesting.ask((p) => p.offers(outline)),
    match: (...of) => plan.ask((p) => p.match(...of)),
    nest: (trace, settings, fill, progress) =>
      nesting.ask((p) => p.nest(lean(trace), settings, fill, told(progress))),
    ladder: (trace, blank, settings, steps) =>
      plan.ask((p) => p.ladder(lean(trace), blank, settings, steps)),
    seat: (kind, settings, from, job, files) =>
      plan.ask((p) => p.seat(kind, settings, from, job, files)),
    pack: ({ jobNumber, jobName, digest }, files) =>
      plan.ask((p) => p.pack({ jobNumber, jobName, digest }, files)),
    readJob: (file) => filing.ask((f) => f.read(file)),
    writeJob: (job, files) => filing.ask((f) => f.write(job, files)),
    warm: () => void vision.ask((v) => v.warm()),
    another: browserMachines,
  };
}

/** The trace without its displacement modes, which pockets and places have no use for. */
const lean = (trace: Trace): Trace => ({
  ...trace,
  outlines: trace.outlines.map((o) => ({ ...o, modes: [] })),
});

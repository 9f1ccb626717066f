/** An event of Chromium's own trace. */
export interface Event {
  readonly name: string;
  readonly ph: string;
  readonly pid: number;
  readonly tid: number;
  /** Begin and length by the clock, µs. */
  readonly ts: number;
  readonly dur?: number;
  /** Processor time of the thread, µs: what others do on the machine is not in it. */
  readonly tdur?: number;
  readonly args?: { readonly name?: string };
}

/** What the page's main thread did: of all main threads the one that worked most. */
export function mainThread(bytes: Buffer): readonly Event[] {
  const { traceEvents: all } = JSON.parse(bytes.toString()) as { traceEvents: Event[] };
  const mains = all
    .filter((e) => e.name === 'thread_name' && e.args?.name === 'CrRendererMain')
    .map(({ pid, tid }) => all.filter((e) => e.pid === pid && e.tid === tid));
  const total = (list: readonly Event[]): number => list.reduce((s, e) => s + (e.tdur ?? 0), 0);
  return mains.sort((a, b) => total(b) - total(a))[0] ?? [];
}

import { Refusal } from '../base/reason.ts';
import { entryName } from './history.ts';
import { acceptJob, newJob, readJob, VERSION, type Job } from './job.ts';

/** What was read of a damaged job. */
export interface Salvaged {
  readonly job: Job;
  /** Names of the entries that stand as in a new job, for they could not be read. */
  readonly lost: readonly string[];
}

type Data = Readonly<Record<string, unknown>>;
const isData = (v: unknown): v is Data => typeof v === 'object' && v !== null && !Array.isArray(v);

/**
 * A job from its text, whole or damaged: every entry that can be read by itself is taken, the rest is as in a new job. What
 * was lost stands in the job too, which shuts its release until it has been looked through.
 * @throws Refusal `job-file` when nothing in it is a job's, `job-version`
 */
export function salvageJob(text: string): Salvaged {
  try {
    return { job: readJob(text), lost: [] };
  } catch (error) {
    if (!(error instanceof Refusal) || error.reason.code === 'job-version') throw error;
  }
  const { found, torn } = entriesOf(text);
  const fresh = newJob('', 'Job from a damaged file') as unknown as Data;
  const known = Object.keys(found).filter((key) => key in fresh && key !== 'version');
  if (known.length === 0) throw new Refusal('job-file', { what: 'nothing in it can be read' });
  // Read as the version that it says it is of; where that is lost, as the present one.
  const version = typeof found.version === 'number' ? found.version : VERSION;
  let job: Data = { ...fresh, version, snugline: 'job' };
  const fits = (tried: Data): boolean => {
    try {
      acceptJob(tried);
      return true;
    } catch (error) {
      if (error instanceof Refusal && error.reason.code === 'job-version') throw error;
      return false;
    }
  };
  const lost = new Set<string>();
  for (const [key, value] of Object.entries(found)) {
    if (key === 'snugline' || key === 'version') continue;
    const whole = { ...job, [key]: value };
    if (fits(whole)) {
      job = whole;
      continue;
    }
    const inner = job[key];
    if (Array.isArray(value)) {
      // A list keeps those of its items that can be read.
      const kept = value.filter((item) => fits({ ...job, [key]: [item] }));
      if (kept.length < value.length) lost.add(key);
      job = { ...job, [key]: kept };
    } else if (isData(value) && isData(inner)) {
      for (const [part, figure] of Object.entries(value)) {
        const tried = { ...job, [key]: { ...(job[key] as Data), [part]: figure } };
        if (fits(tried)) job = tried;
        else lost.add(`${key}.${part}`);
      }
      for (const part of Object.keys(inner)) if (!(part in value)) lost.add(`${key}.${part}`);
    } else lost.add(key);
  }
  // An old file knows nothing of what came later; a torn one, or one of today, may have known it.
  if (torn || version === VERSION)
    for (const key of Object.keys(fresh)) if (!(key in found)) lost.add(key);
  for (const key of ['snugline', 'version']) lost.delete(key);
  const names = [...new Set([...lost].map(entryName))];
  const before = Array.isArray(job.lost) ? (job.lost as readonly string[]) : [];
  const all = [...new Set([...before, ...names])];
  return { job: acceptJob({ ...job, ...(all.length > 0 && { lost: all }) }), lost: names };
}

/** The entries of a job's text, each read by itself where the whole cannot be. */
function entriesOf(text: string): { readonly found: Data; readonly torn: boolean } {
  try {
    const data: unknown = JSON.parse(text);
    return { found: isData(data) ? data : {}, torn: false };
  } catch {
    // Below.
  }
  // As `writeJob` lays it out, every entry of the job begins a line of its own, set in by two.
  const found: Record<string, unknown> = {};
  for (const piece of text.split(/\n(?= {2}")/).slice(1)) {
    const [, key, value] = /^ {2}"(\w+)": ([\s\S]*)$/.exec(piece) ?? [];
    if (key === undefined || value === undefined) continue;
    const bare = value.replace(/\n}\s*$/, '').replace(/,\s*$/, '');
    try {
      found[key] = JSON.parse(bare);
    } catch {
      const part = partOf(bare);
      if (part) found[key] = part;
    }
  }
  return { found, torn: true };
}

/** What can be read of an object one level down. */
function partOf(text: string): Data | undefined {
  if (!text.startsWith('{')) return undefined;
  const found: Record<string, unknown> = {};
  for (const piece of text.split(/\n(?= {4}")/).slice(1)) {
    const [, key, value] = /^ {4}"(\w+)": ([\s\S]*)$/.exec(piece) ?? [];
    if (key === undefined || value === undefined) continue;
    try {
      found[key] = JSON.parse(value.replace(/\n {2}}\s*$/, '').replace(/,\s*$/, ''));
    } catch {
      // Lost; it is named, since the new job has it.
    }
  }
  return found;
}

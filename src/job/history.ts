import type { Job } from './job.ts';

/** A job as it was, and what was done to it then. */
export interface Done {
  readonly before: Job;
  /** In the operator's words: "clearance 0.3 mm". */
  readonly words: string;
  /** Which entries changed, for telling a figure that is typed on from a new change. */
  readonly what: string;
  /** When, ms. */
  readonly at: number;
}

/** What was done to a job and can be undone, the last one last; what was undone and can be done again, the next one last. */
export interface History {
  readonly done: readonly Done[];
  readonly undone: readonly Done[];
}

export const NO_HISTORY: History = { done: [], undone: [] };

/** Changes of the same entry within this are one, ms: a figure that is stepped up, a notch that is dragged. */
const ONE_CHANGE_MS = 1000;
/** So many changes can be undone. */
const MOST_DONE = 200;

/** The history after a change; the same one where nothing changed. */
export function changed(history: History, before: Job, after: Job, now: number): History {
  const paths = changedPaths(before, after, '');
  if (paths.length === 0) return history;
  const what = paths.map(([path]) => path).join(' ');
  const last = history.done[history.done.length - 1];
  if (last && last.what === what && now - last.at < ONE_CHANGE_MS) {
    const one = { ...last, words: wordsOf(paths), at: now };
    return { done: [...history.done.slice(0, -1), one], undone: [] };
  }
  const done = [...history.done, { before, words: wordsOf(paths), what, at: now }];
  return { done: done.slice(-MOST_DONE), undone: [] };
}

/** The job before the last change; undefined where there is none. */
export function undo(history: History, job: Job): { job: Job; history: History } | undefined {
  const last = history.done[history.done.length - 1];
  if (!last) return undefined;
  return {
    job: last.before,
    history: {
      done: history.done.slice(0, -1),
      undone: [...history.undone, { ...last, before: job }],
    },
  };
}

/** The job with the change that was undone last; undefined where there is none. */
export function redo(history: History, job: Job): { job: Job; history: History } | undefined {
  const next = history.undone[history.undone.length - 1];
  if (!next) return undefined;
  return {
    job: next.before,
    history: {
      // Whatever comes next is a change of its own.
      done: [...history.done, { ...next, before: job, at: -Infinity }],
      undone: history.undone.slice(0, -1),
    },
  };
}

/** Which of the same photos is looked at is no change of the job: one that comes back keeps to the one looked at now. */
export function lookingAsNow(to: Job, now: Job): Job {
  const digests = ({ picture, more }: Job): string =>
    [...(picture ? [picture] : []), ...more]
      .map((p) => p.digest)
      .sort()
      .join(' ');
  return digests(to) === digests(now) ? { ...to, picture: now.picture, more: now.more } : to;
}

/** A history as it was kept, as far back as its jobs can still be read. */
export function readHistory(kept: unknown, read: (job: unknown) => Job): History {
  const steps = (list: unknown): Done[] => {
    if (!Array.isArray(list)) return [];
    const good: Done[] = [];
    for (const step of [...(list as Done[])].reverse()) {
      try {
        good.unshift({
          before: read(step.before),
          words: String(step.words),
          what: String(step.what),
          // Whatever comes next is a change of its own.
          at: -Infinity,
        });
      } catch {
        break;
      }
    }
    return good;
  };
  if (typeof kept !== 'object' || kept === null) return NO_HISTORY;
  const { done, undone } = kept as Partial<Record<keyof History, unknown>>;
  return { done: steps(done), undone: steps(undone) };
}

type Change = readonly [path: string, after: unknown];

/** Innermost entries that differ, by their path; a list counts as one. */
function changedPaths(before: unknown, after: unknown, path: string): Change[] {
  if (Object.is(before, after)) return [];
  if (isPlain(before) && isPlain(after)) {
    return [...new Set([...Object.keys(before), ...Object.keys(after)])].flatMap((key) =>
      changedPaths(before[key], after[key], path === '' ? key : `${path}.${key}`),
    );
  }
  return JSON.stringify(before) === JSON.stringify(after) ? [] : [[path, after]];
}

const isPlain = (v: unknown): v is Record<string, unknown> =>
  typeof v === 'object' && v !== null && !Array.isArray(v);

/** What entries are called where their own name does not say it. */
const NAMES: readonly (readonly [RegExp, string])[] = [
  [/^picture/, 'picture'],
  [/^more/, 'further photos'],
  [/^lens/, 'lens profile'],
  [/^scanner/, 'scanner profile'],
  [/^dpi/, 'density of the scan'],
  [/^mends/, 'mending by hand'],
  [/^pieces/, 'pictures of pieces'],
  [/^kindBy/, 'what the pocket is made for'],
  [/^thicknessMm\./, 'thickness'],
  [/^blocksMm/, 'height of the block'],
  [/^sheet\.spansMm\./, 'span of the sheet'],
  [/^sheet\.riderSpansMm\./, 'span of the rider'],
  [/^sheet\.riderSizeMm/, 'size of the rider'],
  [/^sheet\.stage/, 'colour of the stage'],
  [/^sheet\.kept/, 'where the sheet was'],
  [/^sheet\.carrier/, 'what carries the print'],
  [/^readings/, 'reading'],
  [/^instruments?/, 'instrument'],
  [/^override/, 'the reason to release all the same'],
  [/^boards?/, 'board'],
  [/^artwork\.files/, 'artwork'],
  [/^artwork\.placement/, 'place of the artwork'],
  [/^artwork\.inks/, 'white and clear'],
  [/^artwork\.share/, 'which artwork where'],
  [/^artwork\.run/, 'names and numbers'],
  [/^artwork\.back/, 'artwork of the back'],
  [/^fits/, 'what fits'],
  [/^ladder/, 'fit ladder'],
  [/^files\.cutter/, 'scale of the cutter'],
  [/^files\.sample/, 'sample of pockets'],
  [/^files/, 'how the files are written'],
  [/^registration/, 'how far things may be off'],
  [/^pocket\.tool/, 'tool'],
  [/^pocket\.notches/, 'notches'],
  [/^pocket\.along/, 'clearance along a stretch'],
  [/^bed\.keepOuts/, 'places kept free'],
  [/^bed\.board$/, 'board on the bed'],
  [/^bed\.board\.seat/, 'seat of the board'],
  [/^bed\.board\.widthMm/, 'width of the board'],
  [/^bed\.board\.depthMm/, 'depth of the board'],
  [/^bed\.board\.fromZeroMm/, 'corner of the board'],
  [/^bed\.places/, 'where the pockets lie'],
  [/^counts/, 'how many'],
  [/^seats\.kind/, 'kind of seat'],
  [/^holding/, 'what decides the seat'],
  [/^inserts\.slots/, 'what lies in the slots'],
  [/^inserts/, 'inserts'],
  [/^machines\.stock/, 'boards of the shop'],
  [/^pocket\.stock/, 'board'],
  [/^machines\.printer$/, 'printer'],
  [/^machines\.cutter$/, 'cutter'],
  [/^machines/, 'machines'],
  [/^order\.pieces/, 'pieces ordered'],
  [/^order/, 'rates'],
  [/^bed\.turnedAbout/, 'axis of the back'],
  [/^loose\.pictures/, 'photos of the loaded bed'],
  [/^loose\.counts/, 'how many were laid'],
  [/^loose/, "the marked sheet's spans"],
  [/^lost/, 'what a damaged file had lost'],
  [/^wantMm/, 'U that is accepted'],
  [/^blankName/, 'name of the blank'],
];

/** "pocket.wallMm" → "wall". */
export function entryName(path: string): string {
  const known = NAMES.find(([pattern]) => pattern.test(path))?.[1];
  if (known) return known;
  return path
    .slice(path.lastIndexOf('.') + 1)
    .replace(/(Mm|MmPerS)$/, '')
    .replace(/([A-Z])/g, ' $1')
    .toLowerCase();
}

/** "wallMm", 4 → "wall 4 mm". */
function wordsOf(paths: readonly Change[]): string {
  const [[path, value]] = paths as [Change];
  const name = entryName(path);
  const inMm = /Mm(\.|$)/.test(path);
  if (typeof value === 'number') return `${name} ${Number(value.toFixed(3))}${inMm ? ' mm' : ''}`;
  if (typeof value === 'string')
    return `${name} ${value.length > 24 ? `${value.slice(0, 23)}…` : value}`;
  return value === undefined || value === null ? `${name} taken away` : name;
}

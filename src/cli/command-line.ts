import { readFileSync } from 'node:fs';
import { Usage, type Verb } from './usage.ts';

/** Each verb is loaded when it is asked for: a sheet needs no picture reader, and the terminal answers at once. */
const VERBS: Readonly<Record<string, { does: string; load: () => Promise<Verb> }>> = {
  sheet: {
    does: 'writes the reference sheet as PDF',
    load: async () => (await import('./sheet.ts')).sheet,
  },
  rider: {
    does: 'writes a rider, the mark that lies on the face, as PDF',
    load: async () => (await import('./rider.ts')).rider,
  },
  strip: {
    does: 'writes the strip of marks for scanning as PDF',
    load: async () => (await import('./strip.ts')).strip,
  },
  lens: {
    does: 'makes a lens profile from photos of a sheet or a checkerboard',
    load: async () => (await import('./lens.ts')).lens,
  },
  trace: {
    does: 'measures a photo and writes the outlines',
    load: async () => (await import('./trace-verb.ts')).traceVerb,
  },
  scanner: {
    does: 'makes a profile of a scanner from scans of a measured sheet',
    load: async () => (await import('./scanner.ts')).scanner,
  },
  jig: {
    does: 'makes pockets, the bed plan and the matching files',
    load: async () => (await import('./jig.ts')).jig,
  },
  seat: {
    does: 'makes a seat that needs no pocket: ring, wrap, stop, ruler, pegs, plates',
    load: async () => (await import('./seat.ts')).seat,
  },
  board: {
    does: 'measures a board that was cut against its plan',
    load: async () => (await import('./board.ts')).board,
  },
  fits: {
    does: 'tries new pieces in the pockets of a board that was cut',
    load: async () => (await import('./fits.ts')).fits,
  },
  loose: {
    does: 'places pieces that lie on the bed without a jig, and makes their print',
    load: async () => (await import('./loose.ts')).loose,
  },
  'bed-profile': {
    does: 'tells what a printer makes of lengths and of a square',
    load: async () => (await import('./bed-profile.ts')).bedProfile,
  },
  'cut-test': {
    does: 'tells what a cutter makes of lengths and of a square',
    load: async () => (await import('./bed-profile.ts')).cutTest,
  },
  'first-print': {
    does: 'tells from the first print how the artwork has to be moved',
    load: async () => (await import('./first-print.ts')).firstPrint,
  },
  match: {
    does: 'tells whether files of one job still match, whatever program saved them',
    load: async () => (await import('./match.ts')).match,
  },
};

/** Exit statuses; others use the terminal by them. */
export const DONE = 0;
export const FAULT = 1;
export const WRONG_USAGE = 2;

const overview = (): string =>
  `npm run --silent snugline -- VERB ...

${Object.entries(VERBS)
  .map(([name, { does }]) => `  ${name.padEnd(13)}${does}`)
  .join('\n')}

"VERB --help" tells the rest. Lengths are in mm, uncertainties are standard uncertainties (k = 1).
`;

async function verbOf(args: readonly string[]): Promise<number> {
  const [name, ...rest] = args;
  if (name === '--help' || name === '-h') {
    console.log(overview());
    return DONE;
  }
  if (name === '--version') {
    const { version } = JSON.parse(
      readFileSync(new URL('../../package.json', import.meta.url), 'utf8'),
    ) as { version: string };
    console.log(version);
    return DONE;
  }
  const verbs = Object.keys(VERBS).join(', ');
  if (name === undefined) throw new Usage(`Say what to do: ${verbs}; "--help" tells more.`);
  if (!Object.hasOwn(VERBS, name))
    throw new Usage(`There is no verb "${name}"; there are ${verbs}.`);
  const verb = await VERBS[name]!.load();
  if (rest.includes('--help') || rest.includes('-h')) {
    console.log(verb.help);
    return DONE;
  }
  return verb.run(rest);
}

/** Whatever is neither usage nor refusal is a fault of the program; it is said in one sentence, never as a stack. */
export function tellFault(error: unknown): void {
  const what = (error instanceof Error ? error.message : String(error)).split('\n')[0];
  console.error(
    `snugline: a fault of the program: ${what}; keep the input, and report it with this sentence (SNUGLINE_STACK=1 shows where it happened).`,
  );
  if (process.env.SNUGLINE_STACK) console.error(error);
}

/**
 * Does what a command line says, and tells on stdout and stderr what came of it.
 *
 * @param args verb, options and files, as typed after the program's name
 * @returns exit status, never an error
 */
export async function run(args: readonly string[]): Promise<number> {
  try {
    return await verbOf(args);
  } catch (error) {
    if (error instanceof Usage) {
      console.error(`snugline: ${error.message}`);
      return WRONG_USAGE;
    }
    tellFault(error);
    return FAULT;
  }
}

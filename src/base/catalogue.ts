import type { Facts, Level } from './reason.ts';

interface Entry {
  readonly level: Level;
  /** What is so, one sentence, with its number. */
  readonly message: (facts: Facts) => string;
  /** What to do next, one sentence. */
  readonly remedy: (facts: Facts) => string;
}

const entries = {
  'thickness-reaches-camera': {
    level: 'refuse',
    message: (f) =>
      `A blank ${f.heightMm} mm thick does not fit under a camera ${f.cameraHeightMm} mm above the sheet.`,
    remedy: () => 'Check the thickness, or take the picture from farther away.',
  },

  // sheet
  'sheet-size': {
    level: 'refuse',
    message: (f) =>
      `A sheet of ${f.widthMm} x ${f.heightMm} mm cannot be laid out; sides from ${f.leastMm} to ${f.greatestMm} mm can.`,
    remedy: () =>
      'Give A4, A3, Letter, Tabloid, or width x height in millimetres, for instance 330x480.',
  },
  'stage-colour': {
    level: 'refuse',
    message: (f) => `"${f.colour}" is no colour.`,
    remedy: () =>
      'Give white, grey, black, or a colour as #1f8f83, rgb(31, 143, 131) or a CSS name.',
  },

  // job
  'job-file': {
    level: 'refuse',
    message: (f) => `This is not a job file: ${f.what}.`,
    remedy: () => 'Choose a file that Snugline saved under "Save the job", or start a new job.',
  },
  'job-version': {
    level: 'refuse',
    message: (f) => `The job file is of version ${f.version}; this program reads version 1.`,
    remedy: () => 'Open it with the program that saved it, or with a newer one.',
  },
} satisfies Record<string, Entry>;

export type Code = keyof typeof entries;

/** Every sentence that says "no" or "careful", in one place; grouped by the room that says it. */
export const catalogue: Readonly<Record<Code, Entry>> = entries;

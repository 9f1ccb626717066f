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

  // base
  'length-unread': {
    level: 'refuse',
    message: (f) => `"${f.text}" is no length.`,
    remedy: () =>
      'Write it like 85.6, 12,5 mm, 3.37in, 1/2in or 3 3/8 (a bare fraction is inches).',
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
  'two-files': {
    level: 'refuse',
    message: (f) => `${f.count} files came at once; a job is measured from one picture.`,
    remedy: () => 'Drop or choose the one picture that shows the blank best.',
  },
  'picture-another': {
    level: 'note',
    message: (f) => `"${f.name}" is not the picture this job was made with ("${f.expected}").`,
    remedy: () =>
      'Go on with it, or choose the former one again; all figures are those of this picture.',
  },
  'picture-wanted': {
    level: 'note',
    message: (f) => `A job file holds what was entered, not the picture "${f.name}".`,
    remedy: () => 'Drop or choose that picture, and everything is computed again.',
  },
  'paper-unread': {
    level: 'refuse',
    message: (f) => `"${f.text}" is no size of paper.`,
    remedy: () => 'Enter width x height in millimetres, for instance 330x480.',
  },
  'count-not-whole': {
    level: 'refuse',
    message: (f) => `"${f.text}" is not a whole number.`,
    remedy: () => 'Enter how many in figures, for instance 3.',
  },
  'span-far-off': {
    level: 'refuse',
    message: (f) =>
      `${f.valueMm} mm is ${f.percent} % away from the ${f.nominalMm} mm that span ${f.id} was designed with.`,
    remedy: () =>
      'Read it again from cross to cross; when it stays, print the sheet again at 100 %, without "fit to page".',
  },
  'thickness-zero': {
    level: 'refuse',
    message: (f) => `A blank ${f.valueMm} mm thick cannot be measured.`,
    remedy: () => 'Measure its thickness with calipers where its edge is widest, and enter that.',
  },
  'thickness-too-large': {
    level: 'refuse',
    message: (f) =>
      `${f.valueMm} mm is thicker than the ${f.greatestMm} mm that this way of measuring reaches.`,
    remedy: () => 'Check the figure and its unit; inches are entered as 3/8in.',
  },
  'entry-out-of-range': {
    level: 'refuse',
    message: (f) => `${f.what}: ${f.value} does not lie between ${f.least} and ${f.greatest}.`,
    remedy: () => 'Check the figure and its unit, and enter it again.',
  },
} satisfies Record<string, Entry>;

export type Code = keyof typeof entries;

/** Every sentence that says "no" or "careful", in one place; grouped by the room that says it. */
export const catalogue: Readonly<Record<Code, Entry>> = entries;

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

  // view: marks
  'no-sheet': {
    level: 'refuse',
    message: () => 'No reference sheet was recognised in this picture.',
    remedy: () =>
      'Print the sheet at 100 %, lay the blank in its middle, and photograph it so that at least half of the patterned border is sharp and in view.',
  },
  'sheet-mirrored': {
    level: 'refuse',
    message: () => 'The reference sheet appears mirrored in this picture.',
    remedy: () =>
      'Use the picture as the camera took it: switch off mirroring (front cameras do it), or undo the flip.',
  },
  'several-sheets': {
    level: 'refuse',
    message: (f) => `${f.count} reference sheets are in this picture.`,
    remedy: () => 'Keep one sheet in view and take the picture again.',
  },
  'message-unreadable': {
    level: 'refuse',
    message: (f) =>
      `The sheet was recognised, but ${f.unread} of the bits that tell its size could not be read.`,
    remedy: () =>
      'Take the picture again, sharper, nearer or in even light, with more of the border uncovered.',
  },
  blurred: {
    level: 'refuse',
    message: (f) =>
      `The picture is blurred over ${f.blurPx} px (${f.blurMm} mm, one standard deviation).`,
    remedy: () => 'Hold the camera still or use its timer, wait for the focus, and take it again.',
  },
  'blur-strong': {
    level: 'doubt',
    message: (f) =>
      `The picture is soft: ${f.blurPx} px (${f.blurMm} mm, one standard deviation) of blur.`,
    remedy: () => 'Take it again with the camera held still and focused on the sheet.',
  },
  'too-few-marks': {
    level: 'refuse',
    message: (f) =>
      `Only ${f.found} of the sheet's ${f.expected} marks were found; ${f.least} are the least.`,
    remedy: () => 'Uncover more of the border, get all of it into the picture, and avoid glare.',
  },
} satisfies Record<string, Entry>;

export type Code = keyof typeof entries;

/** Every sentence that says "no" or "careful", in one place; grouped by the room that says it. */
export const catalogue: Readonly<Record<Code, Entry>> = entries;

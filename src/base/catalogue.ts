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

  // picture
  'picture-empty': {
    level: 'refuse',
    message: (f) => `${f.name} is empty: it has 0 bytes.`,
    remedy: () => 'Copy the picture from the camera or the phone once more.',
  },
  'picture-none': {
    level: 'refuse',
    message: (f) => `${f.name} is not a picture: it looks like ${f.what}.`,
    remedy: () => 'Give the photograph itself, as JPEG, PNG or WebP.',
  },
  'picture-other': {
    level: 'refuse',
    message: (f) => `${f.name} looks like ${f.what}, which is not read yet.`,
    remedy: () => 'Export it as JPEG or PNG at full size, without cropping, and give that file.',
  },
  'picture-truncated': {
    level: 'refuse',
    message: (f) =>
      `${f.name} is cut off: it stops after ${f.bytes} bytes, before the picture ends.`,
    remedy: () =>
      'Copy the picture from the camera or the phone once more, and let the copy finish.',
  },
  'picture-damaged': {
    level: 'refuse',
    message: (f) => `${f.name} is damaged: ${f.what}.`,
    remedy: () => 'Copy the original once more, or take the picture again.',
  },
  'picture-undecodable': {
    level: 'refuse',
    message: (f) => `The pixels of ${f.name} are damaged and cannot be decoded (${f.why}).`,
    remedy: () => 'Copy the original once more, or take the picture again.',
  },
  'picture-zero-size': {
    level: 'refuse',
    message: (f) =>
      `${f.name} says that it is ${f.widthPx} x ${f.heightPx} px: there is nothing in it.`,
    remedy: () => 'Copy the original once more, or take the picture again.',
  },
  'picture-too-large': {
    level: 'refuse',
    message: (f) =>
      `${f.name} has ${f.widthPx} x ${f.heightPx} px, which is ${f.megapixels} megapixels; up to ${f.greatest} are read.`,
    remedy: () =>
      'Set the camera to a smaller picture size and take the picture again; do not crop.',
  },
  'picture-kind': {
    level: 'refuse',
    message: (f) => `${f.name} is a ${f.kind} JPEG, which is not read.`,
    remedy: () => 'Save it as an ordinary JPEG or as PNG, at full size.',
  },
  'picture-cmyk': {
    level: 'refuse',
    message: (f) =>
      `${f.name} is a CMYK JPEG, made for a press; its colours do not say how bright the scene was.`,
    remedy: () => 'Give the photograph as the camera wrote it, or export it in sRGB at full size.',
  },
  'picture-deep': {
    level: 'refuse',
    message: (f) => `${f.name} has ${f.bits} bits per channel; 8 are read in this version.`,
    remedy: () => 'Save it with 8 bits per channel, as JPEG or PNG, at full size.',
  },
  'picture-animated': {
    level: 'refuse',
    message: (f) => `${f.name} is animated: it holds more than one picture.`,
    remedy: () => 'Save one frame as a still JPEG or PNG, or take a photograph.',
  },
  'picture-gamma': {
    level: 'doubt',
    message: (f) =>
      `${f.name} names a tone curve of its own (gamma ${f.gamma}); it was read as sRGB, which can move edges.`,
    remedy: () => 'Export it in sRGB, or give the photograph as the camera wrote it.',
  },
  'picture-exif': {
    level: 'note',
    message: (f) =>
      `The camera's notes (EXIF) in ${f.name} are damaged and were left out; the focal length is not known from them.`,
    remedy: () => 'Give the file as the camera wrote it, or lay a rider on the face.',
  },
  'picture-name': {
    level: 'note',
    message: (f) =>
      `${f.name} is ${f.format} by its content, whatever its name says, and was read as such.`,
    remedy: () => 'Nothing need be done; rename the file if other programs stumble over it.',
  },
  'picture-transparent': {
    level: 'doubt',
    message: (f) =>
      `${f.name} has transparent places, as no camera makes them; they were laid on white.`,
    remedy: () => 'Give the photograph as the camera wrote it, with its background.',
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

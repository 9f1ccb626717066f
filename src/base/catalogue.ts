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

  // pocket
  'cut-vanishes': {
    level: 'refuse',
    message: (f) =>
      `The pocket of ${f.outline} is narrower everywhere than the tool: nothing is left of its cut path at ${f.radiusMm} mm inside the wall.`,
    remedy: () => 'Choose a smaller cutter, or give more clearance.',
  },
  'cut-falls-apart': {
    level: 'doubt',
    message: (f) =>
      `The cut path of ${f.outline} falls into ${f.parts} pieces: between them the pocket is narrower than the tool, ${f.radiusMm} mm to each side.`,
    remedy: () => 'Choose a smaller cutter; as it stands the bridge between the pieces stays in.',
  },
  'corner-blocks': {
    level: 'doubt',
    message: (f) =>
      `A cutter of ${f.radiusMm} mm radius leaves ${f.depthMm} mm standing where ${f.outline} shall lie, at ${f.corners} ${f.corners === 1 ? 'corner' : 'corners'}: the blank will not go in.`,
    remedy: () => 'Choose a smaller cutter, give more clearance, or clear the corners by hand.',
  },
  'corner-unreached': {
    level: 'note',
    message: (f) =>
      `A cutter of ${f.radiusMm} mm radius misses up to ${f.depthMm} mm at ${f.corners} ${f.corners === 1 ? 'corner' : 'corners'} of the pocket of ${f.outline}; the blank itself clears it.`,
    remedy: () => 'Nothing need be done; the clearance is smaller there than set.',
  },
  'clearance-below-u': {
    level: 'doubt',
    message: (f) =>
      `The clearance of ${f.clearanceMm} mm is less than what ${f.outline} is uncertain by, ${f.uMm} mm: the blank may not go in.`,
    remedy: () =>
      'Give more clearance, or make the outline surer: a rider, measured spans, a second picture.',
  },
  'safe-vanishes': {
    level: 'note',
    message: (f) =>
      `Nothing of ${f.outline} lies ${f.safeMm} mm inside its edge: it has no safe area.`,
    remedy: () => 'Set a smaller distance from print outline to safe area.',
  },

  // plan
  'plan-empty': {
    level: 'refuse',
    message: () => 'No pocket is to be laid on the bed.',
    remedy: () => 'Choose at least one blank, and a count of at least 1.',
  },
  'bed-holds-fewer': {
    level: 'refuse',
    message: (f) =>
      `The bed of ${f.size} does not hold ${f.asked} of these pockets; ${f.fits} fit. ${f.outside} would reach beyond it.`,
    remedy: (f) =>
      f.fits === 0
        ? 'Check the size of the bed, or lay the blank the other way round before it is pictured.'
        : 'Lay fewer, or set a smaller pitch or wall.',
  },
  'bed-too-small': {
    level: 'refuse',
    message: (f) =>
      `The bed of ${f.size} does not hold this plan: ${f.outside} ${f.outside === 1 ? 'pocket reaches' : 'pockets reach'} beyond it, by up to ${f.beyondMm} mm.`,
    remedy: () => 'Lay fewer, change the columns, or set a smaller pitch or wall.',
  },
  'margin-short': {
    level: 'doubt',
    message: (f) =>
      `A pocket comes within ${f.edgeMm} mm of the edge of the bed; the margin is ${f.marginMm} mm.`,
    remedy: () => 'Lay fewer, or make sure that board and print head reach that far.',
  },
  'wall-thin': {
    level: 'doubt',
    message: (f) =>
      `Between pockets ${f.a} and ${f.b} only ${f.wallMm} mm of wall is left; ${f.leastMm} mm is asked for.`,
    remedy: () => 'Set a larger pitch.',
  },
  'pockets-overlap': {
    level: 'refuse',
    message: (f) => `Pockets ${f.a} and ${f.b} run into each other.`,
    remedy: (f) => `Set a larger pitch: one that leaves ${f.leastMm} mm of wall.`,
  },

  // files
  'outline-file-unread': {
    level: 'refuse',
    message: (f) => `${f.file} cannot be read as outlines: ${f.what}.`,
    remedy: () => 'Give the outline.json that "trace" wrote, unchanged.',
  },
  'release-shut': {
    level: 'refuse',
    message: (f) => `The plan cannot be released: ${f.why}`,
    remedy: (f) => String(f.remedy),
  },

  // job
  'outline-refused': {
    level: 'refuse',
    message: (f) => `The outline was refused, so no pocket is made from it. ${f.why}`,
    remedy: (f) => String(f.remedy),
  },
  'outline-file-empty': {
    level: 'refuse',
    message: () => 'The outline file holds no outline.',
    remedy: () => 'Trace a picture with at least one blank on the stage.',
  },
  'blank-without-face': {
    level: 'refuse',
    message: (f) =>
      `Blank ${f.blank} has an outline at the sheet only; neither its face nor its widest place is given.`,
    remedy: () => 'Trace the picture again with the thickness of the blank.',
  },
  'count-unknown-blank': {
    level: 'refuse',
    message: (f) =>
      `A count is given for blank ${f.blank}, but the outlines hold blanks ${f.known}.`,
    remedy: () => 'Blanks are numbered from the left of the sheet; give counts for those only.',
  },
  'seat-hidden': {
    level: 'doubt',
    message: (f) =>
      `${f.outline} has ${f.stretches} ${f.stretches === 1 ? 'stretch' : 'stretches'} of edge that no picture could see; the pocket there is larger than need be.`,
    remedy: () => 'Look at the stretch in the outline; a picture from above it would settle it.',
  },
} satisfies Record<string, Entry>;

export type Code = keyof typeof entries;

/** Every sentence that says "no" or "careful", in one place; grouped by the room that says it. */
export const catalogue: Readonly<Record<Code, Entry>> = entries;

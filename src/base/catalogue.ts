import type { Facts, Level } from './reason.ts';

interface Entry {
  readonly level: Level;
  /** What is so, one sentence, with its number. */
  readonly message: (facts: Facts) => string;
  /** What to do next, one sentence. */
  readonly remedy: (facts: Facts) => string;
}

/** What lowers the uncertainty that a source brings into a view. */
function remedyFor(source: string): string {
  switch (source) {
    case 'spans':
      return 'Measure the spans printed on the sheet, cross to cross, and enter them.';
    case 'thickness':
      return 'Measure the thickness more closely, or lay a measured rider on the face.';
    case 'rider size':
      return "Measure the rider's frame line more closely, or use a larger rider.";
    case 'rider height':
      return 'Lay the rider flat on the face, or on something of exactly its height.';
    case 'sheet flatness':
      return 'Glue or tape the sheet to a flat board, and take the picture again.';
    default:
      return 'Lay a measured rider on the face, or step back and use the longer lens.';
  }
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
      `The picture is blurred over ${f.blurPx} px, ${f.percent} % of a check of the sheet.`,
    remedy: () => 'Hold the camera still or use its timer, wait for the focus, and take it again.',
  },
  'blur-strong': {
    level: 'doubt',
    message: (f) =>
      `The picture is soft: blurred over ${f.blurPx} px, ${f.percent} % of a check of the sheet.`,
    remedy: () => 'Take it again with the camera held still and focused on the sheet.',
  },
  'too-few-marks': {
    level: 'refuse',
    message: (f) =>
      `Only ${f.found} of the sheet's ${f.expected} marks were found; ${f.least} are the least.`,
    remedy: () => 'Uncover more of the border, get all of it into the picture, and avoid glare.',
  },

  // view: calibration
  'no-camera': {
    level: 'refuse',
    message: () => 'No camera above the sheet explains where the marks are.',
    remedy: () =>
      'Use a photograph of the sheet as the camera took it, not a warped or composed one.',
  },
  'rider-height': {
    level: 'refuse',
    message: (f) =>
      `The ${f.riderMm} mm rider lies ${f.heightMm} mm (± ${f.uMm}) above the sheet by the picture, but ${f.thicknessMm} mm was entered as thickness.`,
    remedy: () =>
      'Measure the thickness again, in millimetres, and see that the rider lies flat on the face; then correct the one that is wrong.',
  },
  'view-too-uncertain': {
    level: 'refuse',
    message: (f) =>
      `A face ${f.thicknessMm} mm above the sheet would be known to ± ${f.uMm} mm only; ${f.wantMm} mm is asked for. Most of it comes from: ${f.source}.`,
    remedy: (f) => remedyFor(String(f.source)),
  },
  'view-uncertain': {
    level: 'doubt',
    message: (f) =>
      `A face ${f.thicknessMm} mm above the sheet is known to ± ${f.uMm} mm; ${f.wantMm} mm is asked for. Most of it comes from: ${f.source}.`,
    remedy: (f) => remedyFor(String(f.source)),
  },
  'marks-few': {
    level: 'doubt',
    message: (f) => `Only ${f.found} of the sheet's ${f.expected} marks could be used.`,
    remedy: () => 'Uncover more of the border, get all of it into the picture, and avoid glare.',
  },
  'marks-one-sided': {
    level: 'doubt',
    message: (f) => `No marks were found along the sheet's ${f.sides}.`,
    remedy: () => 'Get all four sides of the border into the picture, uncovered.',
  },
  'marks-one-side-only': {
    level: 'refuse',
    message: (f) => `Marks were found on one side of the sheet only (none along its ${f.sides}).`,
    remedy: () =>
      'Get at least two adjoining sides of the border into the picture, better all four.',
  },
  'sheet-not-flat': {
    level: 'doubt',
    message: (f) =>
      `The sheet is not flat: about ${f.bowMm} mm between its highest and lowest marks.`,
    remedy: () =>
      'Glue or tape the sheet to a flat board, or print it on a rigid one, and take the picture again.',
  },
  'residual-unexplained': {
    level: 'doubt',
    message: (f) =>
      `The marks do not fit a flat sheet and a lens: ${f.residualMm} mm is left over, most along the sheet's ${f.side}.`,
    remedy: () =>
      'Look for a crease or a lifted edge there, and use the picture as the camera took it.',
  },
  'spans-missing': {
    level: 'doubt',
    message: (f) =>
      `The printed sheet was not measured along ${f.spans}, so its scale is taken as good to 1 % only.`,
    remedy: () => 'Measure the spans printed on the sheet, cross to cross, and enter them.',
  },
  'rider-unmeasured': {
    level: 'doubt',
    message: (f) =>
      `The ${f.riderMm} mm rider was not measured, so its size is taken as good to 1 % only.`,
    remedy: () => "Measure the rider's frame line, outer edge to outer edge, and enter it.",
  },
  'picture-scaled': {
    level: 'doubt',
    message: (f) =>
      `The picture is ${f.widthPx} x ${f.heightPx} px, but the camera noted ${f.exifWidthPx} x ${f.exifHeightPx}: another program scaled or cropped it.`,
    remedy: () => 'Use the file as the camera wrote it.',
  },
  'picture-cropped': {
    level: 'doubt',
    message: (f) =>
      `The lens looks ${f.offPx} px (${f.offPercent} % of the picture) beside the middle: the picture seems to be cropped.`,
    remedy: () => 'Use the whole picture as the camera wrote it.',
  },
  'no-exif': {
    level: 'doubt',
    message: () =>
      'The file says nothing about the camera: a messenger or another program has probably removed it, and may have scaled the picture.',
    remedy: () => 'Send the original file, or lay a measured rider on the blank.',
  },
  'foot-outside': {
    level: 'doubt',
    message: (f) =>
      `The camera stood beside the stage (above ${f.x}, ${f.y} mm), and the blank is ${f.thicknessMm} mm thick: its far edges are hidden by it.`,
    remedy: () => 'Hold the camera straight above the blank.',
  },
  'scale-coarse': {
    level: 'doubt',
    message: (f) => `One pixel is ${f.mmPerPx} mm on the sheet, coarse for ± ${f.wantMm} mm.`,
    remedy: () => 'Go nearer, or use the full resolution of the camera.',
  },

  // outline
  'no-blank': {
    level: 'refuse',
    message: () => 'No blank was found on the stage.',
    remedy: (f) =>
      `Lay the blank on the stage, clear of the border; if it is there, use a ${f.stage} stage, against which it stands out.`,
  },
  'blank-like-stage': {
    level: 'refuse',
    message: (f) =>
      `Blank ${f.blank} looks like the stage along ${f.percent} % of its outline: its edge cannot be told from its shadow.`,
    remedy: (f) => `Use a ${f.stage} stage.`,
  },
  'edge-like-stage': {
    level: 'doubt',
    message: (f) =>
      `Blank ${f.blank} looks like the stage along ${f.percent} % of its outline; the edge there is doubtful.`,
    remedy: (f) => `Use a ${f.stage} stage, or check these stretches against the picture.`,
  },
  'edge-unclear': {
    level: 'doubt',
    message: (f) =>
      `The edge of blank ${f.blank} is unclear along ${f.percent} % of its outline (${f.lengthMm} mm): faint, blurred, or beside another step.`,
    remedy: () =>
      'Look at the marked stretches; light the blank from all sides, or use another stage.',
  },
  'edge-clipped': {
    level: 'doubt',
    message: (f) =>
      `The picture is burnt out along ${f.lengthMm} mm of the edge of blank ${f.blank}; a burnt-out edge lies in the wrong place.`,
    remedy: () => 'Expose less, or turn the light so that nothing shines at the edge.',
  },
  'object-over-edge': {
    level: 'note',
    message: (f) =>
      `Something at ${f.x}, ${f.y} mm reaches over the paper's edge or lies on the border only; it was not taken for a blank.`,
    remedy: () => 'Take it away if it is not needed; move it onto the stage if it is a blank.',
  },
  'blank-over-edge': {
    level: 'refuse',
    message: (f) =>
      `The only thing on the sheet reaches over the paper's edge at ${f.x}, ${f.y} mm.`,
    remedy: () => 'Lay the blank wholly on the sheet, or print a larger sheet.',
  },
  'blank-on-border': {
    level: 'doubt',
    message: (f) =>
      `Blank ${f.blank} covers part of the border; its edge is unsafe where it runs over marks.`,
    remedy: () => 'Lay it wholly on the stage, or print a larger sheet.',
  },
  'blank-cut-off': {
    level: 'refuse',
    message: (f) => `Blank ${f.blank} reaches the picture's edge.`,
    remedy: () => 'Take the picture again with the whole sheet in it.',
  },
  'support-left-out': {
    level: 'note',
    message: (f) =>
      `The block under the rider at ${f.x}, ${f.y} mm was taken for its support, not for a blank.`,
    remedy: () => 'Lay the rider on something larger if the block itself is a blank.',
  },
  'blanks-fewer': {
    level: 'doubt',
    message: (f) =>
      `A thickness was given for blank ${f.named}, but only ${f.found} can be told apart; blanks may touch each other.`,
    remedy: () => 'Lay the blanks at least 5 mm apart, or correct the numbers.',
  },
  'blanks-touching': {
    level: 'doubt',
    message: (f) =>
      `Blank ${f.blank} narrows to less than ${f.neckMm} mm: it may be two blanks that touch.`,
    remedy: () => 'Lay touching blanks at least 5 mm apart; if it is one, the outline stands.',
  },
  'foot-beside-blank': {
    level: 'doubt',
    message: (f) =>
      `The camera stood above ${f.x}, ${f.y} mm, outside blank ${f.blank}, which is ${f.thicknessMm} mm thick: far edges may be hidden.`,
    remedy: () => 'Hold the camera straight above the blank.',
  },
  'stretch-hidden': {
    level: 'note',
    message: (f) =>
      `${f.lengthMm} mm of the outline of blank ${f.blank} could not be seen past the blank itself; straight lines stand there.`,
    remedy: () => 'Take another picture from the other side, or check these places by hand.',
  },
  'widest-above-face': {
    level: 'refuse',
    message: (f) =>
      `The widest place at ${f.widestMm} mm lies above the face at ${f.thicknessMm} mm.`,
    remedy: () => 'Give the height of the widest place above the sheet, at most the thickness.',
  },
  'edge-depth-assumed': {
    level: 'note',
    message: (f) =>
      `The face of blank ${f.blank} was drawn ${f.depthMm} mm inside its widest outline, as deep as the edge is high; standard uncertainty ${f.uMm} mm.`,
    remedy: () => 'Measure the face with calipers where the artwork must meet its edge.',
  },
  'outline-uncertain': {
    level: 'doubt',
    message: (f) =>
      `The outline of blank ${f.blank} is known to ± ${f.uMm} mm (k = 2) only, ± ${f.wantMm} mm was asked for; most of it comes from: ${f.source}.`,
    remedy: (f) => `${f.advice}`,
  },
  'outline-too-uncertain': {
    level: 'refuse',
    message: (f) =>
      `The outline of blank ${f.blank} is known to ± ${f.uMm} mm (k = 2) only, more than three times the ± ${f.wantMm} mm asked for; most of it comes from: ${f.source}.`,
    remedy: (f) => `${f.advice}`,
  },
} satisfies Record<string, Entry>;

export type Code = keyof typeof entries;

/** Every sentence that says "no" or "careful", in one place; grouped by the room that says it. */
export const catalogue: Readonly<Record<Code, Entry>> = entries;

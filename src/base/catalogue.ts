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
    case 'sheet age':
      return 'Read one span of the sheet again, and say on the Sheet step that it was today.';
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

/** What a machine draws, to be read. */
const drawn = (machine: Facts[string] | undefined): string =>
  machine === 'cutter' ? 'cut test' : 'print';

const entries = {
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

  // picture
  'picture-empty': {
    level: 'refuse',
    message: (f) => `${f.name} is empty: it has 0 bytes.`,
    remedy: () => 'Copy the picture from the camera or the phone once more.',
  },
  'picture-none': {
    level: 'refuse',
    message: (f) => `${f.name} is not a picture: it looks like ${f.what}.`,
    remedy: () => 'Give the photograph or scan itself, as JPEG, PNG, TIFF, HEIC, AVIF or WebP.',
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
      'Set the camera to a smaller picture size, or the scanner to fewer dots per inch, and take it again; do not crop. ' +
      'The verb trace of the terminal reads single ones up to 150 megapixels.',
  },
  'picture-too-heavy': {
    level: 'refuse',
    message: (f) =>
      `${f.name} is a file of ${f.megabytes} MB; up to ${f.greatest} MB are taken into memory.`,
    remedy: () =>
      'Save it compressed, with 8 bits per channel and without further layers or pages, at full size.',
  },
  'picture-kind': {
    level: 'refuse',
    message: (f) => `${f.name} is ${f.kind}, which is not read.`,
    remedy: () => 'Save it as an ordinary JPEG, PNG or TIFF in RGB, at full size.',
  },
  'picture-cmyk': {
    level: 'refuse',
    message: (f) =>
      `${f.name} is a CMYK ${f.format}, made for a press; its colours do not say how bright the scene was.`,
    remedy: () =>
      'Give the picture as the camera or scanner wrote it, or export it in sRGB at full size.',
  },
  'picture-deep': {
    level: 'refuse',
    message: (f) =>
      `${f.name} has ${f.bits} bits per channel; a ${f.format} is read with up to ${f.greatest}.`,
    remedy: () => 'Save it with 8 or 16 bits per channel, as PNG or TIFF, at full size.',
  },
  'picture-hdr': {
    level: 'refuse',
    message: (f) =>
      `${f.name} is an HDR picture (its tone curve is ${f.curve}); how bright its edges are cannot be told from it alone.`,
    remedy: () => 'Switch HDR off in the camera and take it again, or export it as JPEG in sRGB.',
  },
  'picture-animated': {
    level: 'refuse',
    message: (f) => `${f.name} is animated: it holds more than one picture.`,
    remedy: () => 'Save one frame as a still JPEG or PNG, or take a photograph.',
  },
  'picture-gamut': {
    level: 'doubt',
    message: (f) =>
      `${f.name} names colours other than sRGB by a number (primaries ${f.primaries}) and carries no profile; they were read as sRGB.`,
    remedy: () => 'Export it in sRGB, or with its profile embedded, at full size.',
  },
  'picture-profile': {
    level: 'doubt',
    message: (f) =>
      `The colour profile in ${f.name} is damaged or does not fit the picture; its colours were read as sRGB, which can move edges.`,
    remedy: () => 'Export it in sRGB, or give the picture as the camera or scanner wrote it.',
  },
  'picture-pages': {
    level: 'note',
    message: (f) => `${f.name} has ${f.pages} pages; the first one was read.`,
    remedy: () => 'Save the page that is meant as a file of its own where it is not the first.',
  },
  'picture-slow': {
    level: 'refuse',
    message: (f) => `${f.name} was not decoded within ${f.seconds} s; it is probably damaged.`,
    remedy: () => 'Copy the original once more, or save it as PNG or JPEG at full size.',
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
  'no-strip': {
    level: 'refuse',
    message: () => 'Neither a strip of marks nor a reference sheet was recognised in this scan.',
    remedy: () =>
      'Lay the printed strip beside the blanks, print face down on the glass and uncovered, and scan again; or give a scanner profile, or the density of the scan.',
  },
  'strip-mirrored': {
    level: 'refuse',
    message: () => 'The strip of marks appears mirrored in this scan.',
    remedy: () =>
      'Use the scan as the scanner made it: switch off mirroring, and lay the strip with its print down on the glass.',
  },
  'scan-blurred': {
    level: 'doubt',
    message: (f) =>
      `The strip is blurred by ${f.blurPx} px, ${f.percent} % of a check: it does not lie on the glass, or the glass is dirty.`,
    remedy: () => 'Clean the glass, press the strip flat on it, and scan again.',
  },
  'scan-stretched': {
    level: 'doubt',
    message: (f) =>
      `By the marks this scan has ${f.line} dots per inch along the line but ${f.feed} along the feed: another program scaled it, or the strip was printed stretched.`,
    remedy: () => 'Use the scan as the scanner made it, and measure the spans of the strip.',
  },
  'header-contradicts-marks': {
    level: 'note',
    message: (f) =>
      `The file says ${f.header} dots per inch, the marks say ${f.line} along the line and ${f.feed} along the feed; the marks were believed.`,
    remedy: () =>
      'If another program scaled the scan, use the original: it shows the edges more sharply.',
  },
  'density-contradicts-marks': {
    level: 'doubt',
    message: (f) =>
      `${f.dpi} dots per inch were stated, but the marks say ${f.line} along the line and ${f.feed} along the feed; the marks were believed.`,
    remedy: () => 'State the density that was set in the scanner, and use the scan as it made it.',
  },
  'scan-by-density': {
    level: 'doubt',
    message: (f) =>
      `The scale comes from ${f.dpi} dots per inch alone, taken as good to ${f.percent} % (k = 1).`,
    remedy: () =>
      'Lay the strip of marks beside the blanks, or make a profile of the scanner from a measured sheet.',
  },
  'density-contradicts-header': {
    level: 'doubt',
    message: (f) => `${f.dpi} dots per inch were stated, but the file says ${f.header}.`,
    remedy: () =>
      'Find out which is right: lay something of known length beside the blanks and measure it.',
  },
  'scan-unscaled': {
    level: 'refuse',
    message: () =>
      'Nothing tells the scale of this scan: no saved profile of a scanner fits its size and density, and no density was stated.',
    remedy: () =>
      'State the density that was set in the scanner, make a profile from one scan of the measured sheet, or scan the strip beside the blanks.',
  },
  'scan-residual': {
    level: 'doubt',
    message: (f) =>
      `The marks do not fit a scanner: ${f.residualMm} mm is left over, more than line, feed and print explain.`,
    remedy: () => 'Lay the marks flat on the glass, without creases, and scan again.',
  },
  'feed-unmeasured': {
    level: 'doubt',
    message: (f) =>
      `Blank ${f.blank} reaches ${f.beyondMm} mm beyond the rows of the scan that the marks lie on: what the drive of the scanner does there is not measured.`,
    remedy: () =>
      'Lay the strip along the blank the way that the lamp travels, as far as the blank reaches, or make a profile of the scanner from a measured sheet.',
  },
  'scan-coarse': {
    level: 'doubt',
    message: (f) => `One pixel is ${f.mmPerPx} mm; ${f.wantMm} mm is asked for.`,
    remedy: () => 'Scan at 300 dots per inch or more.',
  },
  'profile-sizes-differ': {
    level: 'refuse',
    message: (f) => `These scans differ in size: ${f.first} and ${f.other} px.`,
    remedy: () => 'Scan the whole glass each time, at one density, and give those scans.',
  },
  'profile-other-scan': {
    level: 'refuse',
    message: (f) =>
      `This scan is ${f.widthPx} x ${f.heightPx} px, but the profile was made from scans of ${f.profileWidthPx} x ${f.profileHeightPx} px.`,
    remedy: () =>
      'Scan the same part of the glass at the same density as for the profile, or make a profile for this setting.',
  },
  'profile-other-density': {
    level: 'doubt',
    message: (f) =>
      `The file says ${f.header} dots per inch, those of the profile said ${f.profile}: it may be another setting, or another scanner.`,
    remedy: () => 'Make a profile for this setting, or scan again at the density of the profile.',
  },
  'scanner-file-unread': {
    level: 'refuse',
    message: (f) => `The scanner profile ${f.file} cannot be read: ${f.what}.`,
    remedy: () => 'Make it again with the verb scanner, and give that file.',
  },
  'wall-beside-face': {
    level: 'note',
    message: (f) =>
      `The scanner's lens shows the wall of blank ${f.blank} beside its face, up to ${f.wallMm} mm wide; the edge of the face on the glass was measured.`,
    remedy: () =>
      'Lay the blank across the middle of the glass, where no lens sees its walls, if it must be surer.',
  },
  'blank-over-glass': {
    level: 'refuse',
    message: (f) =>
      `The only thing on the glass reaches over the edge of the scan or onto the strip at ${f.x}, ${f.y} mm.`,
    remedy: () => 'Lay the blank wholly on the glass, clear of the strip and of other things.',
  },
  'object-over-glass': {
    level: 'note',
    message: (f) =>
      `Something at ${f.x}, ${f.y} mm reaches over the edge of the scan or onto the strip; it was not taken for a blank.`,
    remedy: () => 'Take it away if it is not needed; lay it clear of both if it is a blank.',
  },
  'sheet-lifted': {
    level: 'doubt',
    message: (f) =>
      `A blank ${f.thicknessMm} mm thick lifts the sheet off the glass, so that its marks show another scale than the face.`,
    remedy: () => 'Use the strip, which lies beside the blanks on the glass.',
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
      `The picture is soft: blurred over ${f.blurPx} px, ${f.percent} % of a check of the sheet.`,
    remedy: () => 'Take it again with the camera held still and focused on the sheet.',
  },
  'too-few-marks': {
    level: 'refuse',
    message: (f) =>
      `Only ${f.found} of the sheet's ${f.expected} marks were found; ${f.least} are the least.`,
    remedy: () => 'Uncover more of the border, get all of it into the picture, and avoid glare.',
  },
  blurred: {
    level: 'refuse',
    message: (f) =>
      `The picture is blurred over ${f.blurPx} px, ${f.percent} % of a check of the sheet.`,
    remedy: () => 'Hold the camera still or use its timer, wait for the focus, and take it again.',
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
      'Measure the thickness again, in millimetres, and see that the rider lies flat on the face; then correct the one that is wrong. Enter the height of the block, where the rider lies on one beside the blank.',
  },
  'photos-differ': {
    level: 'refuse',
    message: (f) =>
      `The pictures differ in ${f.what}; pictures are measured together only when one lens took them all.`,
    remedy: () =>
      'Take them with one camera, lens, zoom and picture size, or measure one picture alone.',
  },
  'sheets-differ': {
    level: 'refuse',
    message: (f) => `The pictures show different reference sheets: ${f.first} and ${f.other}.`,
    remedy: () => 'Give pictures of one and the same sheet.',
  },
  'picture-mirrored': {
    level: 'refuse',
    message: (f) =>
      `The picture says that it is stored mirrored (orientation ${f.orientation}), which neither a lens profile nor several photos allow.`,
    remedy: () => 'Take it with the camera on the back, not the one for self-portraits.',
  },

  // view: lens profile
  'lens-picture-left-out': {
    level: 'note',
    message: (f) => `${f.name} is left out of the lens profile: ${f.why}`,
    remedy: () => 'Nothing need be done as long as enough pictures are left.',
  },
  'lens-pictures-few': {
    level: 'refuse',
    message: (f) =>
      `${f.found} pictures can be used; a lens profile takes at least ${f.least} of one picture size.`,
    remedy: () =>
      'Take 8 to 12 pictures of the sheet with this camera, from straight above and tilted to each side, some of them turned a quarter, so that the sheet reaches into every corner of the picture.',
  },
  'lens-pictures-differ': {
    level: 'refuse',
    message: (f) => `The pictures differ in ${f.what}; a lens profile is of one lens only.`,
    remedy: () =>
      'Make a profile of each, from pictures of one camera, lens, zoom and picture size.',
  },
  'lens-unknown': {
    level: 'refuse',
    message: (f) =>
      `These pictures tell the focal length to ± ${f.percent} % (k = 1) only, which is no better than a guess.`,
    remedy: () =>
      'Add pictures that are tilted by 20 to 30 degrees, each towards another side of the sheet.',
  },
  'lens-corners-unseen': {
    level: 'doubt',
    message: (f) =>
      `The sheet reaches only ${f.percent} % of the way into at least one corner of the pictures: the lens is guessed beyond.`,
    remedy: () => 'Add pictures in which the sheet fills the frame, or lies in that corner.',
  },
  'board-not-true': {
    level: 'doubt',
    message: (f) =>
      `The board is not flat and true: taken as such its corners miss by ${f.leftPx} px; with a print error of some ${f.printMm} mm and a bow of some ${f.bowMm} mm by ${f.otherPx} px, and another lens. The difference is counted into the uncertainty.`,
    remedy: () =>
      'Let the print error and the bow of the board be estimated as well (--board-error in the terminal), or use a board on glass or a metal plate.',
  },
  'board-not-found': {
    level: 'refuse',
    message: (f) =>
      `${f.name} shows no whole checkerboard with ${f.columns} x ${f.rows} inner corners.`,
    remedy: () =>
      'Keep the whole board in the picture, sharp and without glare; count the corners inside, not the squares.',
  },
  'lens-profile-unread': {
    level: 'refuse',
    message: (f) => `${f.name} cannot be used as a lens profile: ${f.why}.`,
    remedy: () => 'Give a lens profile as this program wrote it, unchanged.',
  },
  'lens-profile-other': {
    level: 'refuse',
    message: (f) => `The lens profile and the picture differ in ${f.what}.`,
    remedy: () =>
      'Make a profile with this camera, lens, zoom and picture size, or measure without one.',
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
  'spans-contradict': {
    level: 'doubt',
    message: (f) =>
      `Span ${f.span} is ${f.offMm} mm (± ${f.uMm} mm) ${f.way} than it was read, by the picture and the other spans.`,
    remedy: () =>
      'Read the spans again. If they read the same, the camera moved while it read its picture out, or the phone straightened it: take it again from a stand, by timer, at the plain setting.',
  },
  'rider-unmeasured': {
    level: 'doubt',
    message: (f) =>
      `The ${f.riderMm} mm rider was not measured, so its size is taken as good to 1 % only.`,
    remedy: () => "Measure the rider's frame line, outer edge to outer edge, and enter it.",
  },
  'picture-composed': {
    level: 'refuse',
    message: (f) =>
      f.how === 'panorama'
        ? 'The camera notes that it stitched this picture as a panorama: there is no one place from which it was taken.'
        : 'The camera notes portrait mode: it blurred what it took for background, up to the edge of the blank and over it.',
    remedy: () => 'Take the picture again as an ordinary photo.',
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
  'camera-beside': {
    level: 'doubt',
    message: (f) =>
      `The camera stood beside the stage (above ${f.x}, ${f.y} mm): of a blank more than ${f.thickMm} mm thick the far edges are hidden by it.`,
    remedy: () => 'Hold the camera straight above the blank and take the picture again.',
  },
  glare: {
    level: 'doubt',
    message: (f) =>
      `${f.washed} of the sheet's ${f.expected} marks are washed out: light is mirrored there, or something white lies over them. An edge under such light is lost, too.`,
    remedy: () => 'Turn the lamp or the sheet until nothing shines, and take the picture again.',
  },
  'scale-coarse': {
    level: 'doubt',
    message: (f) => `One pixel is ${f.mmPerPx} mm on the sheet, coarse for ± ${f.wantMm} mm.`,
    remedy: () => 'Go nearer, or use the full resolution of the camera.',
  },

  // outline
  'blanks-differ': {
    level: 'refuse',
    message: (f) => `The pictures show different numbers of blanks: ${f.counts}.`,
    remedy: () =>
      'Give pictures of the same blanks, not moved between them; for pictures of different blanks add --separate.',
  },
  'blank-moved': {
    level: 'refuse',
    message: (f) =>
      `Blank ${f.blank} lies in another place from picture to picture: shifted by ${f.shiftMm} mm, turned by ${f.turnDeg} degrees.`,
    remedy: () =>
      'Measure the thickness again; if it is right, take all pictures again without touching blank or sheet, or measure one picture alone.',
  },
  'height-disagrees': {
    level: 'refuse',
    message: (f) =>
      `The pictures agree with each other when blank ${f.blank} is ${f.heightMm} ± ${f.uMm} mm high; ${f.thicknessMm} mm was entered.`,
    remedy: () =>
      'Measure the thickness again, in millimetres; if it is right, the blank was moved between the pictures: take them again.',
  },
  'photos-contradict': {
    level: 'doubt',
    message: (f) =>
      `Along ${f.lengthMm} mm of the edge of blank ${f.blank} the pictures contradict each other, by up to ${f.apartMm} mm.`,
    remedy: () =>
      'Look at the marked stretches, and hold them against calipers; light from all sides, and a stage against which the blank stands out, help most.',
  },
  'pieces-alone': {
    level: 'refuse',
    message: (f) =>
      `${Number(f.found) === 1 ? 'One piece was' : `${f.found} pieces were`} found, and one alone has no envelope: it says nothing about how much pieces of its kind differ.`,
    remedy: () =>
      'Lay two or more pieces on the sheet, all with the same face up and none touching another, and take the picture again.',
  },
  'pieces-unlike': {
    level: 'refuse',
    message: (f) => `No two of the ${f.count} blanks are alike enough to be pieces of one kind.`,
    remedy: () =>
      'Lay pieces of one kind on the sheet with the same face up, or give each blank a pocket of its own.',
  },
  'piece-other': {
    level: 'doubt',
    message: (f) =>
      `Blank ${f.blank} is a different item: laid on blank ${f.reference} its edge lies ${f.offMm} mm off, RMS. The envelope leaves it out, and it keeps a pocket of its own.`,
    remedy: () =>
      'Take it off the sheet and take the picture again, or give each blank a pocket of its own.',
  },
  'piece-face-down': {
    level: 'doubt',
    message: (f) =>
      `Blank ${f.blank} lies upside down: mirrored it fits blank ${f.reference}, as it lies it is ${f.offMm} mm off, RMS. The envelope leaves it out.`,
    remedy: () => 'Turn it over and take the picture again.',
  },
  'piece-odd': {
    level: 'doubt',
    message: (f) =>
      `Blank ${f.blank} lies ${f.offMm} mm off the others (RMS), where they lie ${f.usualMm} mm off each other. The envelope holds it.`,
    remedy: () =>
      'Look whether it is bent, chipped or of another batch; if it is, leave it out and take the picture again.',
  },
  'pieces-mean': {
    level: 'doubt',
    message: (f) =>
      `The pocket is made for the mean of ${f.count} pieces; the largest of them reaches up to ${f.beyondMm} ± ${f.uMm} mm beyond it.`,
    remedy: (f) =>
      `Give at least ${f.beyondMm} mm of clearance per side beside the play, or make the pocket for the envelope.`,
  },
  'piece-picture-refused': {
    level: 'refuse',
    message: (f) => `The pieces in ${f.name} could not be measured: ${f.what}.`,
    remedy: () => 'Take that picture again, or take it off the pieces.',
  },
  'piece-picture-wanted': {
    level: 'refuse',
    message: (f) =>
      `The picture ${f.file}, which shows pieces of this kind, is not on this machine.`,
    remedy: () => 'Add it again under the pieces, or take it off.',
  },
  'pieces-measured': {
    level: 'note',
    message: (f) =>
      `${f.count} pieces were measured; they differ by up to ${f.spreadMm} ± ${f.uMm} mm. With 95 % confidence the largest of them covers ${f.percent} % of a delivery.`,
    remedy: (f) => `Measure ${f.more} more to cover ${f.nextPercent} %.`,
  },
  'outlines-disagree': {
    level: 'refuse',
    message: (f) =>
      `The pictures show blank ${f.blank} with different outlines: they lie more than ${f.limitMm} mm apart over ${f.percent} % of what two pictures saw.`,
    remedy: () =>
      'Give pictures of one blank only; those of another make a job of their own (in the terminal: --separate).',
  },
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
  'print-at-edge': {
    level: 'doubt',
    message: (f) =>
      `Along ${f.lengthMm} mm of the edge of blank ${f.blank} its colour changes: the line may follow the print there and not the edge.`,
    remedy: () =>
      'Look at the marked stretches; hold them against calipers, or lay the blank back up and say so.',
  },
  'tip-unresolved': {
    level: 'doubt',
    message: (f) =>
      `Blank ${f.blank} has ${f.count === 1 ? 'a tip or cleft' : `${f.count} tips or clefts`} finer than the picture resolves, the worst at ${f.x}, ${f.y} mm: its last ${f.lengthMm} mm or more are drawn on from its sides.`,
    remedy: () =>
      'Go nearer or use the full resolution of the camera, and give the pocket room there.',
  },
  'stage-off-colour': {
    level: 'doubt',
    message: (f) =>
      `${f.areaMm2} mm² of what was taken for stage, around ${f.x}, ${f.y} mm, are as bright as the stage but of another colour: part of a blank may have been left out.`,
    remedy: (f) => `Look at the outline there; if it is wrong, use a stage that is ${f.stage}.`,
  },
  'hole-or-print': {
    level: 'doubt',
    message: (f) =>
      `${f.count === 1 ? 'One part' : `${f.count} parts`} of what was taken for blank ${f.count === 1 ? 'looks' : 'look'} like the stage and ${f.count === 1 ? 'ends' : 'end'} sharply, the largest (${f.areaMm2} mm²) around ${f.x}, ${f.y} mm: a hole, or print of the stage's tone. It was taken for print.`,
    remedy: (f) =>
      `If it is a hole, paint over it with Paint stage (Outline, Mend), or use a stage that is ${f.stage}.`,
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
    remedy: () =>
      "Lay the rider on something larger, or clear the block's height, if the block itself is a blank.",
  },
  'outline-lost': {
    level: 'refuse',
    message: (f) =>
      `No blank ${f.thicknessMm} mm high has the edge that is seen at ${f.x}, ${f.y} mm.`,
    remedy: () =>
      'Measure its thickness again; take it away if it is no blank, or enter its height as that of a block if it only carries a rider.',
  },
  'only-block': {
    level: 'refuse',
    message: (f) =>
      `Nothing lies on the stage but what carries a rider at ${f.x}, ${f.y} mm, and its height was entered as that of a block.`,
    remedy: () =>
      "Lay the blank beside it; or clear the block's height if the rider lies on the blank itself.",
  },
  'blanks-fewer': {
    level: 'doubt',
    message: (f) =>
      `A thickness was given for blank ${f.named}, but only ${f.found} can be told apart; blanks may touch each other.`,
    remedy: () => 'Lay the blanks at least 5 mm apart, or correct the numbers.',
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
  'drawn-by-hand': {
    level: 'doubt',
    message: (f) =>
      `${f.lengthMm} mm of the outline of blank ${f.blank} were drawn by hand; the edge moved there by up to ${f.movedMm} mm, its U before was ${f.uMm} mm.`,
    remedy: () => 'Read the blank with calipers across that stretch before a board is cut.',
  },
  'divided-by-hand': {
    level: 'doubt',
    message: (f) =>
      `What was seen as one blank was divided by hand into blanks ${f.blank} and ${f.other}, along ${f.lengthMm} mm; U there is ${f.uMm} mm.`,
    remedy: () =>
      'Read both with calipers across that line, or lay them 5 mm apart and take the picture again.',
  },
  'joined-by-hand': {
    level: 'doubt',
    message: (f) =>
      `What was seen as blanks ${f.blank} and ${f.other} was joined by hand into blank ${f.blank}: ${f.lengthMm} mm of its outline were drawn, U there is ${f.uMm} mm.`,
    remedy: () => 'Read the whole blank with calipers over the place where they were joined.',
  },
  'painted-by-hand': {
    level: 'doubt',
    message: (f) =>
      `${f.lengthMm} mm of the outline of blank ${f.blank} follow what was painted by hand, no edge shows there; U there is up to ${f.uMm} mm.`,
    remedy: () =>
      'Draw the edge there with points, paint with a finer brush, or read the blank with calipers across it.',
  },
  'paint-renumbers': {
    level: 'doubt',
    message: (f) =>
      `Something was painted by hand, and the ${f.found} blanks that are now seen are numbered anew from left to right; their thicknesses differ.`,
    remedy: () => 'See that every thickness stands by its own blank.',
  },
  'hole-closed': {
    level: 'note',
    message: (f) => `A hole of blank ${f.blank} was closed by hand.`,
    remedy: () => 'Make sure that no pin or light is to come through the blank there.',
  },
  'made-regular': {
    level: 'note',
    message: (f) =>
      `${f.lengthMm} mm of the outline of blank ${f.blank} were taken for a regular shape; the edge moved by up to ${f.movedMm} mm, its U there is ${f.uMm} mm.`,
    remedy: () => 'Read a size of that shape with calipers if the blank may differ from it.',
  },
  'mend-lost': {
    level: 'doubt',
    message: (f) =>
      `What was mended by hand as number ${f.number} lies on no edge of the outline any more, or would cross it; it was left out.`,
    remedy: () => 'Take it off the list, or mend the place once more.',
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
  'edge-depth-seen': {
    level: 'note',
    message: (f) =>
      `The picture shows the face of blank ${f.blank} end ${f.depthMm} mm inside its widest outline, standard uncertainty ${f.uMm} mm; both outlines were drawn so.`,
    remedy: () => 'Check that the blank’s edge leans evenly all round.',
  },
  'outline-uncertain': {
    level: 'doubt',
    message: (f) =>
      `The outline of blank ${f.blank} is known to ± ${f.uMm} mm (k = 2) only, ± ${f.wantMm} mm was asked for; most of it comes from: ${f.source}.`,
    remedy: (f) => `To narrow it, ${f.advice}.`,
  },
  'outline-too-uncertain': {
    level: 'refuse',
    message: (f) =>
      `The outline of blank ${f.blank} is known to ± ${f.uMm} mm (k = 2) only, more than three times the ± ${f.wantMm} mm asked for; most of it comes from: ${f.source}.`,
    remedy: (f) => `To narrow it, ${f.advice}.`,
  },

  // check
  'record-widens': {
    level: 'doubt',
    message: (f) =>
      `Of ${f.made} readings made before with ${f.of} only ${f.within} lie within U, which should hold for 95 %: every U is taken ${f.factor} times as wide.`,
    remedy: () =>
      'Look for what all of them share: the spans of the sheet, the caliper, the thickness; a sheet that is printed and measured anew begins a record of its own.',
  },
  'readings-one-off': {
    level: 'doubt',
    message: (f) =>
      `The outline was not corrected: the ${f.what} that you read (${f.readMm} mm) is ${f.offMm} mm off from what the outline of blank ${f.blank} and your other readings lead to expect.`,
    remedy: () => 'Read that one again at the drawn jaws, or take it out of the correction.',
  },
  'readings-against-outline': {
    level: 'doubt',
    message: (f) =>
      `The outline was not corrected: your readings of blank ${f.blank} (${f.count}) disagree with it by more than its uncertainty explains, the ${f.what} by ${f.offMm} mm.`,
    remedy: () =>
      'Something entered is wrong, and a correction would hide it: look at the thickness, the spans and the rider first.',
  },
  'reading-unseen': {
    level: 'doubt',
    message: (f) =>
      `The outline was not corrected: the jaws of the ${f.what} of blank ${f.blank} touch a stretch of edge that was hidden or is doubtful.`,
    remedy: () => 'Take that reading out of the correction, and read where the edge was seen.',
  },
  'sheet-stands': {
    level: 'note',
    message: (f) =>
      `Span ${f.span} reads as before (${f.byMm} mm apart, within ± ${f.uMm} mm): the sheet has not moved, and all its spans hold for today.`,
    remedy: () => 'Go on; nothing else of the sheet need be read again.',
  },
  'sheet-moved': {
    level: 'doubt',
    message: (f) =>
      `The sheet has moved: span ${f.span} is ${f.byMm} mm (${f.percent} %) off from what was read before, and ± ${f.uMm} mm is all that two readings explain.`,
    remedy: () => 'Read the other spans again as well; their old figures were taken out.',
  },
  'height-not-pictured': {
    level: 'refuse',
    message: () =>
      'The picture does not show how high this blank is, so nothing can be held against it.',
    remedy: () => 'Enter the thickness on the Outline step; it is used for the height of the head.',
  },
  'pieces-thickness-differ': {
    level: 'doubt',
    message: (f) =>
      `Pieces of one kind differ in thickness by ${f.apartMm} mm (blank ${f.thickest} is ${f.mostMm} mm, blank ${f.thinnest} ${f.leastMm} mm), and ± ${f.uMm} mm is all that your readings explain.`,
    remedy: () =>
      'Enter the thickness of each piece on the Outline step, and set the head by the thickest; or sort the delivery.',
  },
  'edges-one': {
    level: 'refuse',
    message: () => 'Both places lie on one spot of the edge: there is nothing between them.',
    remedy: () => 'Choose two places on different edges, or two different holes.',
  },
  'edges-no-hold': {
    level: 'refuse',
    message: (f) =>
      `Jaws find no hold there: within ${f.slideMm} mm the two edges slope by ${f.degrees} degrees against each other.`,
    remedy: () => 'Choose two places where the edges run side by side.',
  },
  'hole-none': {
    level: 'refuse',
    message: () => 'This blank has no hole.',
    remedy: () => 'Measure from edge to edge instead.',
  },
  'hole-not-round': {
    level: 'refuse',
    message: (f) => `That hole is not round: its edge leaves a circle by ${f.byMm} mm.`,
    remedy: () => 'Measure it from edge to edge instead.',
  },
  'corner-not-round': {
    level: 'refuse',
    message: () => 'There is no round corner there: no arc of 30 degrees or more fits the edge.',
    remedy: () => 'Choose a place on the arc itself, or measure from edge to edge.',
  },

  // pocket
  'cut-vanishes': {
    level: 'refuse',
    message: (f) =>
      `The pocket of blank ${f.blank} is narrower everywhere than the tool: nothing is left of its cut path at ${f.radiusMm} mm inside the wall.`,
    remedy: () => 'Choose a smaller cutter, or give more clearance.',
  },
  'cut-falls-apart': {
    level: 'doubt',
    message: (f) =>
      `The cut path of blank ${f.blank} falls into ${f.parts} pieces: between them the pocket is narrower than the tool, ${f.radiusMm} mm to each side.`,
    remedy: () => 'Choose a smaller cutter; as it stands the bridge between the pieces stays in.',
  },
  'corner-blocks': {
    level: 'doubt',
    message: (f) =>
      `A cutter of ${f.radiusMm} mm radius leaves ${f.depthMm} mm standing where blank ${f.blank} shall lie, at ${f.corners} ${f.corners === 1 ? 'corner' : 'corners'}: the blank will not go in.`,
    remedy: () => 'Choose a smaller cutter, give more clearance, or clear the corners by hand.',
  },
  'corner-unreached': {
    level: 'note',
    message: (f) =>
      `A cutter of ${f.radiusMm} mm radius misses up to ${f.depthMm} mm at ${f.corners} ${f.corners === 1 ? 'corner' : 'corners'} of the pocket of blank ${f.blank}; the blank itself clears it.`,
    remedy: () => 'Nothing need be done; the clearance is smaller there than set.',
  },
  'draft-unmeasured': {
    level: 'refuse',
    message: (f) =>
      `The walls lean by ${f.degrees} degrees, and how high they stand is not known: where they end above cannot be said.`,
    remedy: () =>
      'Measure the board with calipers and enter its thickness, or let the walls stand upright.',
  },
  'draft-needs-mill': {
    level: 'doubt',
    message: () => 'The walls lean, and laser, knife and hand cut them upright.',
    remedy: () =>
      'Take a mill with a tapered cutter of that lean, print the board as a body, or let the walls stand upright.',
  },
  'edge-bare': {
    level: 'doubt',
    message: (f) =>
      `The print may land ${f.offMm} mm off, and the bleed is ${f.bleedMm} mm: up to ${f.bareMm} mm of the edge may stay bare.`,
    remedy: (f) =>
      `Give ${f.leastMm} mm of bleed, or less play: a tighter clearance, a surer seat of the board.`,
  },
  'safe-short': {
    level: 'doubt',
    message: (f) =>
      `The print may land ${f.offMm} mm off, and the safe area lies ${f.safeMm} mm inside the edge: lettering there may be cut off.`,
    remedy: (f) => `Give ${f.leastMm} mm of safe area, or less play.`,
  },
  'clearance-below-u': {
    level: 'doubt',
    message: (f) =>
      `The clearance of ${f.clearanceMm} mm is less than what blank ${f.blank} is uncertain by, ${f.uMm} mm: the blank may not go in.`,
    remedy: () =>
      'Give more clearance, or make the outline surer: a rider, measured spans, a second picture.',
  },
  'board-unsaid': {
    level: 'doubt',
    message: () =>
      'What the board is made of has not been said: PVC and vinyl give off acid and toxic gas under a laser.',
    remedy: () => 'Choose the board; what must not be lasered shuts the cut file.',
  },
  'board-not-by-laser': {
    level: 'refuse',
    message: (f) => `No laser may cut ${f.board}: ${f.notByLaser}.`,
    remedy: () => 'Cut it with a knife, a mill or by hand, or take another board.',
  },
  'board-unknown-to-laser': {
    level: 'doubt',
    message: () => 'Whether a laser may cut this board is not known here.',
    remedy: () =>
      "Read the data sheet of the board and the laser maker's list first; anything with chlorine in it stays out of the laser.",
  },
  'line-outside': {
    level: 'doubt',
    message: (f) =>
      `The tool runs outside the line of blank ${f.blank}: the piece that falls out has the size of the pocket, and the opening in the board is ${f.widerMm} mm larger per side, so that a blank lies loose in it.`,
    remedy: () =>
      'For a pocket let the tool run inside the line; keep it where the piece that falls out is what you want.',
  },
  'line-outside-blind': {
    level: 'refuse',
    message: (f) =>
      `The tool runs outside the line of blank ${f.blank}, and from a blind pocket nothing falls out; it would come out ${f.widerMm} mm too large per side.`,
    remedy: () => 'Let the tool run inside the line, or cut through the board.',
  },
  'blind-needs-mill': {
    level: 'doubt',
    message: () => 'Only a mill cuts a pocket with an even floor.',
    remedy: () => 'Choose a mill, or a through pocket on a base plate.',
  },
  'post-thin': {
    level: 'note',
    message: (f) =>
      `In ${f.posts} ${f.posts === 1 ? 'hole' : 'holes'} of blank ${f.blank} a post would be thinner than ${f.leastMm} mm: none is made there.`,
    remedy: () => 'Set a pin there by hand if the blank needs one.',
  },
  'post-loose': {
    level: 'note',
    message: (f) =>
      `${f.posts} ${f.posts === 1 ? 'post' : 'posts'} of blank ${f.blank} ${f.posts === 1 ? 'comes' : 'come'} loose when the board is cut through.`,
    remedy: () => 'Glue them to the base plate before the board is lifted off their places.',
  },
  'post-falls': {
    level: 'doubt',
    message: (f) =>
      `Nothing holds ${f.posts} ${f.posts === 1 ? 'post' : 'posts'} of blank ${f.blank}: the pocket goes through and has no base plate.`,
    remedy: () => 'Lay the board on a base plate, make the pocket blind, or leave posts out.',
  },
  'relief-cuts-post': {
    level: 'doubt',
    message: (f) => `A corner's relief of blank ${f.blank} runs into a post.`,
    remedy: () => 'Choose a smaller cutter or another direction of relief, or leave posts out.',
  },
  'tabs-too-many': {
    level: 'note',
    message: (f) => `The cut path of blank ${f.blank} is too short for ${f.asked} bridges.`,
    remedy: () => 'Fewer were left in; set fewer or narrower ones.',
  },
  'ejector-no-room': {
    level: 'doubt',
    message: (f) =>
      `An ejector hole of ${f.ejectorMm} mm does not go under blank ${f.blank} with this tool; the widest place there takes ${f.roomMm} mm.`,
    remedy: () => 'Set another diameter, or lift the blank by finger notches.',
  },
  'safe-vanishes': {
    level: 'note',
    message: (f) =>
      `Nothing of blank ${f.blank} lies ${f.safeMm} mm inside its edge: it has no safe area.`,
    remedy: () => 'Set a smaller distance from print outline to safe area.',
  },

  // plan
  'height-unmeasured': {
    level: 'doubt',
    message: (f) => `The print height is not known: nobody has measured ${f.what}.`,
    remedy: () =>
      'Measure the thickness with calipers and enter it; until then the head has no height to go by.',
  },
  'floor-gone': {
    level: 'refuse',
    message: (f) => `A pocket ${f.depthMm} mm deep leaves no floor in a board of ${f.boardMm} mm.`,
    remedy: () => 'Set a smaller depth, take a thicker board, or cut through onto a base plate.',
  },
  'head-strike': {
    level: 'refuse',
    message: (f) =>
      `Head strike: ${f.what === 'What stands on the board' ? 'what stands on the board' : f.what} reaches ${f.overMm} mm above the head's path at ${f.headMm} mm.`,
    remedy: (f) => `Set the head to ${f.needMm} mm or more, or lower the floor or the packer.`,
  },
  'head-gap-short': {
    level: 'doubt',
    message: (f) =>
      `${f.what} comes within ${f.gapMm} mm of the head; a gap of ${f.wantMm} mm is asked for.`,
    remedy: () => 'Raise the head, or lower what stands highest.',
  },
  'load-too-tall': {
    level: 'refuse',
    message: (f) =>
      `The load stands ${f.highestMm} mm high; the machine takes ${f.tallestMm} mm at most.`,
    remedy: () =>
      'Take a thinner board, base plate or packer, or lay the blank on the table itself.',
  },
  'face-low': {
    level: 'doubt',
    message: (f) =>
      `Ink falls up to ${f.farMm} mm onto ${f.many === 1 ? 'blank' : 'blanks'} ${f.blanks} where ${f.leastMm} mm is meant: print goes soft there.`,
    remedy: () =>
      'Put a packer under the lower pieces, sort them by thickness, or lower what stands highest.',
  },
  'blank-rocks': {
    level: 'doubt',
    message: (f) =>
      `The blank rocks on its floor: a corner lifts by ${f.rockMm} mm. The head stands that much higher, and the edge's own U takes in the bow.`,
    remedy: () =>
      'Lay pads under the high corners until it lies still, press it to one wall by spring fingers, or hold it with tape outside of the print; then enter 0.',
  },
  'shines-back': {
    level: 'doubt',
    message: () =>
      'A mirror, polished or dished face, or a glossy board, throws UV light back into the head: ink cures in its nozzles, and the light harms eyes.',
    remedy: () =>
      'Cover what shines and is not printed with matt tape or board, keep all shields in place, and ask the maker of the machine before the first pass.',
  },
  'face-sunk': {
    level: 'doubt',
    message: (f) =>
      `The face of blank ${f.blank} lies ${f.sunkMm} mm below the top of the board: the board is nearer to the head than the blank.`,
    remedy: () =>
      'Use a packer, a shallower pocket or a thinner board, so that the face stands highest.',
  },
  'on-keep-out': {
    level: 'refuse',
    message: (f) => `Pocket ${f.pocket} lies on a place to keep out of: ${f.what}.`,
    remedy: () => 'Move or turn the layout, lay fewer, or take that place out of the list.',
  },
  'board-beyond-bed': {
    level: 'refuse',
    message: (f) =>
      `The board of ${f.size} reaches ${f.beyondMm} mm beyond the bed of ${f.bed}, which is the page of every file.`,
    remedy: () =>
      'Enter a smaller board, or lay its corner elsewhere; where the real one is larger than the print area, let it cover the bed and cut its outer edge by itself.',
  },
  'board-near-page': {
    level: 'doubt',
    message: (f) =>
      `Between the board's edge (${f.sides}) and that of the bed there is no room for the tool: its way there would leave the page and is cut off.`,
    remedy: (f) =>
      `Lay the board to the very edge of the bed, or ${f.needMm} mm or more within it.`,
  },
  'board-too-small': {
    level: 'refuse',
    message: (f) =>
      `The board of ${f.size} does not hold this plan: ${f.outside} ${f.outside === 1 ? 'pocket reaches' : 'pockets reach'} beyond its edge, by up to ${f.beyondMm} mm.`,
    remedy: () =>
      'Lay fewer, change the columns, set a smaller pitch or wall, or take a larger board.',
  },
  'board-edge-thin': {
    level: 'doubt',
    message: (f) =>
      `Between pocket ${f.pocket} and the edge of the board only ${f.wallMm} mm of wall is left; ${f.leastMm} mm is asked for.`,
    remedy: () => 'Move it inward, lay fewer, or take a larger board.',
  },
  'hole-meets-pocket': {
    level: 'refuse',
    message: (f) =>
      f.head === 1
        ? `Pocket ${f.pocket} lies under the head of ${f.what}.`
        : `Pocket ${f.pocket} runs into the hole of the board's seat: ${f.what}.`,
    remedy: () => 'Move the pocket, lay fewer, or seat the board at another place.',
  },
  'hole-wall-thin': {
    level: 'doubt',
    message: (f) =>
      `Between pocket ${f.pocket} and ${f.what} of the board's seat only ${f.wallMm} mm of wall is left; ${f.leastMm} mm is asked for.`,
    remedy: () => 'Move the pocket away from it, or seat the board at another place.',
  },
  'hole-off-board': {
    level: 'refuse',
    message: (f) =>
      `The hole of the board's seat, ${f.what}, does not lie within the board of ${f.size}.`,
    remedy: () =>
      'Correct its place, counted from the front left corner of the bed, or lay the board over it.',
  },
  'hole-edge-thin': {
    level: 'doubt',
    message: (f) =>
      `Between ${f.what} of the board's seat and the edge of the board only ${f.wallMm} mm is left; ${f.leastMm} mm of wall is asked for.`,
    remedy: () => 'Move the hole inward, or take a larger board: a thin edge breaks out.',
  },
  'holes-meet': {
    level: 'refuse',
    message: (f) => `Two holes of the board's seat run into each other: ${f.a} and ${f.b}.`,
    remedy: () => 'Set them farther apart, or shorten the slot.',
  },
  'pins-near': {
    level: 'refuse',
    message: (f) =>
      `The ${f.what} of the board stand ${f.apartMm} mm apart: with ${f.playMm} mm of play it may turn by ${f.turnDeg} degrees, and its farthest corner lie ${f.offMm} mm off.`,
    remedy: (f) =>
      `Set them farther apart, or take less play, until that corner lies within ${f.limitMm} mm.`,
  },
  'pins-one-place': {
    level: 'refuse',
    message: () => 'Both pins of the board have the same place: they do not keep it from turning.',
    remedy: () => 'Enter where each of the two pins stands on the bed.',
  },
  'screws-few': {
    level: 'doubt',
    message: (f) =>
      `${f.count === 0 ? 'No screw' : 'One screw'} of the board has a place: nothing keeps the board from turning.`,
    remedy: () => 'Add a second screw far from the first, or seat the board by two pins or a stop.',
  },
  'board-holes-small': {
    level: 'doubt',
    message: (f) =>
      `The tool is too thick for holes of ${f.holeMm} mm in the board: they are in no cut path.`,
    remedy: () => 'Drill them at layer board, or take thicker pins or screws.',
  },
  'slot-short': {
    level: 'doubt',
    message: (f) =>
      `The board may grow by ${f.growsMm} mm between its pins, and the slot of ${f.slotMm} mm has no room for that: it is forced onto them.`,
    remedy: (f) =>
      `Make the slot ${f.needMm} mm or more longer than its hole, or set the pins nearer.`,
  },
  'board-over-cutter': {
    level: 'doubt',
    message: (f) => `The bed of ${f.name} is ${f.size}; the board of ${f.board} does not go on it.`,
    remedy: () =>
      'Divide it into pinned plates with one origin (step Pocket, seat), or take a smaller board or a larger cutter.',
  },
  'off-print-area': {
    level: 'doubt',
    message: (f) =>
      `The bleed of pocket ${f.pocket} lies on the board, but reaches ${f.byMm} mm beyond the print area.`,
    remedy: () => 'Move the pocket inward, or accept a bleed that is cut off there.',
  },
  'set-up-under-seat': {
    level: 'doubt',
    message: (f) =>
      `${f.what} stands ${f.overMm} mm above what the set-up print is printed on: its head clears that, at ${f.highMm} mm, and the print is soft.`,
    remedy: (f) =>
      f.onBoard === 1
        ? 'Print it before the board is seated so, or take shorter pins or flat heads.'
        : `Take it off the table for the set-up print and set ${f.lowMm} mm by hand, or print on the board.`,
  },
  'nest-holds-fewer': {
    level: 'doubt',
    message: (f) => `${f.left} of ${f.asked} pieces find no room on the bed: ${f.which}.`,
    remedy: () =>
      'Print them in a further load, allow more turns, or set a smaller wall or margin.',
  },
  'seat-needs-plan': {
    level: 'refuse',
    message: () => 'There are no pockets on the bed yet.',
    remedy: () =>
      'Measure the outline and lay its pockets on the bed; or give plan.json in the terminal.',
  },
  'plates-none': {
    level: 'refuse',
    message: (f) =>
      `The cutter takes ${f.size}, and the board of ${f.board} with it: it need not be divided.`,
    remedy: () => 'Cut it in one; or enter what your cutter takes.',
  },
  'plates-no-way': {
    level: 'refuse',
    message: (f) =>
      `No joints between the pockets give plates of at most ${f.size}: a joint needs ${f.needMm} mm between walls.`,
    remedy: () =>
      'Lay the pockets in rows with wider walls, lessen the edge at a joint, or take a larger cutter.',
  },
  'plates-no-pin': {
    level: 'refuse',
    message: (f) =>
      `A plate of ${f.size} has no room for two pins: ${f.needMm} mm free across each.`,
    remedy: () => 'Take thinner pins, or leave more room between the pockets.',
  },
  'plates-pin-small': {
    level: 'doubt',
    message: (f) => `The tool is too thick for holes of ${f.holeMm} mm: they are in no cut path.`,
    remedy: () => 'Drill them at layer pocket, or take thicker pins.',
  },
  'bed-reading-none': {
    level: 'refuse',
    message: (f) => `No distance of the ${drawn(f.machine)} was read yet.`,
    remedy: () => 'Read one along x and one along y at least, as long as the bed allows.',
  },
  'bed-crosses-unseen': {
    level: 'refuse',
    message: (f) =>
      `${f.file} shows ${f.seen} crosses, and no three of them lie as those for this bed do.`,
    remedy: () =>
      'Photograph all of it sharply from above, the rear of the bed at the top of the picture, the reference sheet on it and no cross covered; or read the distances by hand.',
  },
  'bed-reading-short': {
    level: 'refuse',
    message: (f) => `A distance of ${f.lengthMm} mm tells nothing of the ${f.machine}'s scale.`,
    remedy: () => 'Read one of 50 mm or more, better as long as the bed.',
  },
  'bed-reading-few': {
    level: 'refuse',
    message: (f) => `What was read does not tell the ${f.machine}'s scale along ${f.axis}.`,
    remedy: (f) =>
      `Read a distance along ${f.axis} too, as long as the bed allows; until then nothing is corrected.`,
  },
  'bed-readings-contradict': {
    level: 'refuse',
    message: (f) =>
      `The distance read as ${f.readMm} mm is ${f.byMm} mm off what ${f.others} would make it; U of a reading is ${f.uMm} mm.`,
    remedy: () => 'Read both again, from the middle of one cross to the middle of the other.',
  },
  'bed-scale-far': {
    level: 'refuse',
    message: (f) =>
      `The ${drawn(f.machine)} is ${f.percent} % ${f.what}: no ${f.machine} is so far off by itself.`,
    remedy: (f) =>
      f.machine === 'cutter'
        ? 'Look for another scale than 100 %, or inches for mm, in its program, cut again and read anew.'
        : 'Look for "fit to page" or another scale than 100 % in its program, print again and read anew.',
  },
  'bed-profile-unsure': {
    level: 'refuse',
    message: (f) =>
      `The ${drawn(f.machine)} is up to ${f.offMm} mm off by these readings, and their U there is ${f.uMm} mm: nothing is corrected by it.`,
    remedy: (f) =>
      `Where that U suffices, the ${f.machine} is true; else read longer distances, or with a better instrument.`,
  },
  'bed-profile-zero': {
    level: 'refuse',
    message: (f) =>
      `The bed profile was measured with zero at the ${f.was}, and zero is at the ${f.is} now.`,
    remedy: () => 'Set zero as it was, or print the bed ruler again and read it.',
  },
  'bed-lines-unsaid': {
    level: 'refuse',
    message: (f) =>
      `Nobody has said whose lines the board is cut along by hand: artwork is not corrected by the bed profile of ${f.printer}.`,
    remedy: () => 'Say on the step Bed, under the printer, whether this printer printed the lines.',
  },
  'bed-shear-unread': {
    level: 'doubt',
    message: (f) =>
      `No reading tells whether the axes stand square: up to ${f.uMm} mm at the far edge stay uncorrected.`,
    remedy: () => 'Read both diagonals, A to C and B to D.',
  },
  'bed-drift': {
    level: 'doubt',
    message: (f) =>
      `Since it was measured on ${f.before} the ${f.machine} has changed by more than U allows: ${f.what}.`,
    remedy: (f) =>
      `${f.machine === 'cutter' ? 'Cut the boards' : 'Print the artwork'} of running jobs from files made anew; look for what moved: belts, rails, temperature.`,
  },

  // seat
  'ball-figures': {
    level: 'refuse',
    message: (f) =>
      `A ball of ${f.ballMm} mm does not rest on a ring, and has no cap, of ${f.ringMm} mm.`,
    remedy: () => 'Enter a ring narrower than the ball, and a cap of at most half the ball.',
  },
  'ring-narrow': {
    level: 'doubt',
    message: (f) => `In a ring of ${f.ringMm} mm the ball may roll out.`,
    remedy: (f) => `Take ${f.leastMm} to ${f.mostMm} mm; that range is common practice, no source.`,
  },
  'ring-wide': {
    level: 'doubt',
    message: (f) => `In a ring of ${f.ringMm} mm the ball sits deep and wedges.`,
    remedy: (f) => `Take ${f.leastMm} to ${f.mostMm} mm; that range is common practice, no source.`,
  },
  'ball-on-table': {
    level: 'refuse',
    message: (f) =>
      `The ball reaches ${f.belowMm} mm below the plate's top, and ${f.roomMm} mm are there: it would rest on the table.`,
    remedy: () => 'Raise the plate, or take a narrower ring.',
  },
  'wrap-figures': {
    level: 'refuse',
    message: (f) =>
      `No ware is ${f.topMm} mm wide above, ${f.footMm} mm at the foot and ${f.heightMm} mm high.`,
    remedy: () => 'Enter both diameters and the height as measured, each more than 0 mm.',
  },
  'wrap-overlap': {
    level: 'doubt',
    message: (f) => `An overlap of ${f.overlapMm} mm is more than a quarter of the way round.`,
    remedy: () => 'Check it; 2 to 5 mm are common practice, no source.',
  },
  'stop-beyond': {
    level: 'refuse',
    message: (f) => `Item and stop reach ${f.beyondMm} mm beyond the bed.`,
    remedy: () => 'Take narrower or shorter arms, or turn the item by a quarter.',
  },
  'stop-too-high': {
    level: 'refuse',
    message: (f) =>
      `The stop is ${f.stopMm} mm thick and the item ${f.itemMm} mm: the head would meet the stop first.`,
    remedy: () => 'Take a stop that is thinner than the item.',
  },
  'stop-long': {
    level: 'doubt',
    message: (f) => `An arm of ${f.reachMm} mm is longer than the item's side of ${f.sideMm} mm.`,
    remedy: () => 'Shorten the arms, so that the item can be gripped at its corner.',
  },
  'pegs-open': {
    level: 'doubt',
    message: (f) => `No peg stops the blank ${f.ways}: it can go ${f.playMm} mm and more.`,
    remedy: () => 'Take a finer grid or thicker pegs, or a pocket.',
  },
  'pegs-too-high': {
    level: 'refuse',
    message: (f) =>
      `Pegs stand ${f.highMm} mm high and the blank is ${f.thicknessMm} mm thick: the head would meet the pegs first.`,
    remedy: () => 'Take pegs that are lower than the blank.',
  },
  'seat-needs-outline': {
    level: 'refuse',
    message: () =>
      'This seat is made round a measured outline, and there is none of this blank yet.',
    remedy: () => 'Take its picture and trace it first.',
  },
  'rim-too-high': {
    level: 'refuse',
    message: (f) =>
      `The rim stands ${f.highMm} mm high and the thinnest blank is ${f.thicknessMm} mm thick: the head would meet the rim first.`,
    remedy: () => 'Take a lower rim: half of the blank holds it well.',
  },
  'rim-low': {
    level: 'doubt',
    message: (f) => `A rim of ${f.highMm} mm is low: a piece may ride over it.`,
    remedy: (f) =>
      `Take ${f.leastMm} mm at least where the blank is thick enough; common practice, no source.`,
  },
  'rim-beyond': {
    level: 'refuse',
    message: () => 'A rim reaches beyond the bed, where nothing is printed.',
    remedy: () => 'Move the pockets inwards on the step Bed, or take a narrower rim.',
  },
  'nest-no-hollow': {
    level: 'refuse',
    message: (f) => `A hollow that is ${f.gripMm} mm narrower per side has nothing left.`,
    remedy: () => 'Take a smaller grip.',
  },
  'nest-too-deep': {
    level: 'refuse',
    message: (f) =>
      `The piece sinks ${f.sinkMm} mm and is ${f.thicknessMm} mm thick: its face lies below the foam.`,
    remedy: () => 'Take firmer foam, or a wider grip.',
  },
  'nest-beyond': {
    level: 'refuse',
    message: () => 'With its centre there the piece reaches beyond the bed.',
    remedy: () => 'Enter another place of the centre, counted from zero.',
  },
  'form-too-deep': {
    level: 'refuse',
    message: (f) =>
      `The tray is ${f.deepMm} mm deep and the blank is ${f.thicknessMm} mm thick: the head would meet the tray first.`,
    remedy: () => 'Make the tool lower than the blank is thick.',
  },
  'form-steep': {
    level: 'doubt',
    message: (f) => `Walls that lean by ${f.degrees}° may hold the tray on the tool.`,
    remedy: (f) => `Take ${f.least}° at least; common practice, no source.`,
  },
  'form-no-vents': {
    level: 'doubt',
    message: () =>
      'The tool has no vents: air stays under the sheet, and its foot is not drawn down.',
    remedy: () => 'Enter a diameter and a distance for vents.',
  },
  'insert-small': {
    level: 'refuse',
    message: (f) => `The pocket with its edge takes ${f.needs}: the insert is smaller.`,
    remedy: () => 'Make the inserts larger, or turn the blank on the sheet and trace it again.',
  },
  'inserts-beyond': {
    level: 'refuse',
    message: (f) => `The slots take ${f.needs} of the bed, and reach beyond it.`,
    remedy: () => 'Take fewer rows or columns, or smaller inserts.',
  },
  'block-too-deep': {
    level: 'refuse',
    message: (f) =>
      `The pocket is ${f.deepMm} mm deep and the blank is ${f.thicknessMm} mm thick: the head would meet the block first.`,
    remedy: () => 'Make the pocket less deep than the blank is thick.',
  },

  'machine-board-serves': {
    level: 'note',
    message: (f) =>
      `The board that was cut serves on ${f.name}: its pockets lie to each other as before.`,
    remedy: (f) =>
      `Lay it so that pocket 1 is ${f.xMm} mm across and ${f.yMm} mm in depth from zero (before: ${f.wasXMm} mm and ${f.wasYMm} mm).`,
  },
  'machine-board-again': {
    level: 'doubt',
    message: (f) =>
      `On ${f.name} the pockets lie otherwise to each other: a board that was cut does not serve.`,
    remedy: () => 'Cut a board for that printer, or lay the pockets freely before you change.',
  },
  'machine-not-fit': {
    level: 'doubt',
    message: (f) => `As it is laid, the job does not go onto ${f.name}: ${f.why}`,
    remedy: (f) => String(f.remedy),
  },
  'machine-files-again': {
    level: 'note',
    message: (f) =>
      `Set-up print, artwork template and print file are made again for ${f.name}: their page is its bed, ${f.size}.`,
    remedy: () => 'Take all files of the release anew; none of the old ones matches that bed.',
  },
  'cutter-too-small': {
    level: 'doubt',
    message: (f) => `The bed of ${f.name} is ${f.size}; the board is up to ${f.board}.`,
    remedy: () =>
      'Cut the board to the part that is used, divide it into pinned plates (step Pocket, seat), or take a larger cutter.',
  },
  'cutter-files-again': {
    level: 'note',
    message: (f) => `The cut files are made again for ${f.name}: ${f.is} instead of ${f.was}.`,
    remedy: () =>
      'Boards that were cut already serve as they are; look at inside corners on the step Pocket.',
  },
  'cutter-clearance': {
    level: 'note',
    message: (f) =>
      `A test board of ${f.name} was snug at ${f.isMm} mm per side; so far it is ${f.wasMm} mm.`,
    remedy: () => 'New boards are cut to that clearance; boards that were cut keep theirs.',
  },
  'cutter-the-same': {
    level: 'note',
    message: (f) => `Nothing need be cut again for ${f.name}: tool and clearance are the same.`,
    remedy: () => 'Take the same cut files to that machine.',
  },
  'cutter-scale': {
    level: 'doubt',
    message: (f) =>
      `By its cut test of ${f.on}, ${f.name} cuts ${f.words}; cut files are not corrected by that of themselves.`,
    remedy: () => 'Say under the cutter, on the step Pocket, whether they are to be.',
  },
  'cutter-by-hand': {
    level: 'refuse',
    message: (f) => `The board is cut by hand: the cut test of ${f.cutter} says nothing of it.`,
    remedy: () => 'Set the tool that this cutter cuts with, or read nothing of it for this board.',
  },
  'cutter-scale-dropped': {
    level: 'doubt',
    message: (f) =>
      `Cut files are corrected for the scale of the cutter in use now; for ${f.name} they will not be.`,
    remedy: () => 'Read a cut test of that cutter, on the step Pocket, and correct them by it.',
  },
  'order-not-laid': {
    level: 'doubt',
    message: (f) =>
      `${f.pieces} pieces of blank ${f.blank} are ordered, and none of them is laid on the bed.`,
    remedy: () => 'Lay at least one pocket for that blank, or take it out of the order.',
  },
  'back-same-board': {
    level: 'note',
    message: () => 'Turned over, the pieces lie in the same board: every pocket is its own mirror.',
    remedy: () => 'Cut one board, and turn every piece over about the axis that is named.',
  },
  'back-face-outline': {
    level: 'note',
    message: () =>
      "The board for the back is made from the print face's outline, seen from behind.",
    remedy: () =>
      'Where the back is larger or smaller than the face, measure it as a blank of its own.',
  },
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
    remedy: (f) => (f.free === 1 ? 'Move one of them away from the other.' : 'Set a larger pitch.'),
  },
  'pockets-overlap': {
    level: 'refuse',
    message: (f) => `Pockets ${f.a} and ${f.b} run into each other.`,
    remedy: (f) =>
      f.free === 1
        ? `Move one of them away: ${f.leastMm} mm of wall is asked for.`
        : `Set a larger pitch: one that leaves ${f.leastMm} mm of wall.`,
  },

  // artwork
  'artwork-wanted': {
    level: 'doubt',
    message: (f) => `The artwork ${f.file} is not on this machine: no print file is made.`,
    remedy: () => 'Drop that file on the Artwork part of the step Release, or take it off.',
  },
  'artwork-kind': {
    level: 'refuse',
    message: (f) => `${f.file} is no artwork that can be read: PDF, SVG, PNG, JPEG and TIFF can.`,
    remedy: () => 'Save it as PDF from the program it was made in, and drop that file.',
  },
  'svg-cannot': {
    level: 'refuse',
    message: (f) => `${f.file} holds what would be lost on the way to the print file: ${f.what}.`,
    remedy: () =>
      'Turn words into outlines and effects into shapes or pictures in the program it was made in, or save it as PDF.',
  },
  'artwork-locked': {
    level: 'refuse',
    message: (f) => `${f.file} is locked with a password.`,
    remedy: () => 'Ask whoever made it for a copy without a password.',
  },
  'artwork-damaged': {
    level: 'refuse',
    message: (f) => `${f.file} cannot be read: ${f.why}.`,
    remedy: () => 'Export it once more from the program it was made in, and drop that file.',
  },
  'artwork-pages': {
    level: 'refuse',
    message: (f) => `${f.file} has ${f.pages} pages; at most ${f.most} are read.`,
    remedy: () => 'Save the pages that are printed as a file of their own.',
  },
  'artwork-misses-edge': {
    level: 'doubt',
    message: (f) =>
      `${f.file} in pocket ${f.pocket} misses the edge of the face by up to ${f.shortMm} mm: the blank shows there.`,
    remedy: () =>
      'Fill the face with it, make it larger or move it, or bring it wholly inside the safe area.',
  },
  'artwork-short-of-bleed': {
    level: 'doubt',
    message: (f) =>
      `${f.file} in pocket ${f.pocket} covers the face but ends ${f.shortMm} mm short of the bleed.`,
    remedy: () => 'Fill the bleed with it, or ask for artwork that goes on past its trim.',
  },
  'artwork-near-edge': {
    level: 'doubt',
    message: (f) =>
      `${f.file} in pocket ${f.pocket} ends between the safe area and the edge, where it may be cut off or look crooked.`,
    remedy: () => 'Make it smaller until it lies in the safe area, or large enough to bleed.',
  },
  'artwork-coarse': {
    level: 'doubt',
    message: (f) =>
      `${f.file} has a picture of ${f.dpi} dots per inch at the size it has in pocket ${f.pocket}; below ${f.least} the dots are seen.`,
    remedy: () => 'Ask for the picture in more pixels, or print it smaller.',
  },
  'artwork-thin': {
    level: 'doubt',
    message: (f) =>
      `${f.file} has a line ${f.thinMm} mm wide at the size it has in pocket ${f.pocket}; below ${f.leastMm} mm lines break up.`,
    remedy: () => 'Make the line wider in the artwork, or print a trial of it first.',
  },
  'artwork-font-missing': {
    level: 'doubt',
    message: (f) =>
      `${f.file} does not bring these fonts with it: ${f.fonts}. The printer will set the words in another.`,
    remedy: () => 'Ask for the file with fonts embedded, or with words turned into outlines.',
  },
  'artwork-notes': {
    level: 'note',
    message: (f) =>
      `${f.file} has ${f.count} notes or form fields on its page, which are not printed.`,
    remedy: () => 'Flatten them into the page where they are part of the artwork.',
  },
  'artwork-ink-twice': {
    level: 'doubt',
    message: (f) =>
      `${f.file} has a separation named ${f.name} of its own, and one of that name is made from the outline.`,
    remedy: () => 'Leave one of the two out, or give yours another name.',
  },
  'artwork-too-few': {
    level: 'doubt',
    message: (f) =>
      `There are ${f.sheets} artworks for ${f.pockets} pockets: the others stay without.`,
    remedy: () => 'Add the missing ones, use one for all, or lay out fewer pockets.',
  },
  'back-left-over': {
    level: 'doubt',
    message: (f) =>
      `There are ${f.sheets} artworks for the backs of ${f.pieces} pieces: the last of them are not printed.`,
    remedy: () => 'Add artwork or rows for the fronts, or take off what is too much for the backs.',
  },
  'load-not-full': {
    level: 'note',
    message: (f) =>
      `${f.loads === 1 ? 'The load' : `The last of ${f.loads} loads`} fills ${f.pieces} of ${f.pockets} pockets; the others stay without print.`,
    remedy: () => 'Leave those pockets empty, or add rows or artwork for them.',
  },
  'run-not-order': {
    level: 'doubt',
    message: (f) =>
      `The table has ${f.rows} rows, ${f.by} ${f.way} than the ${f.pieces} pieces that are ordered; the print file follows the table.`,
    remedy: () => 'Bring the table up to date, or put the number right on the step Bed, order.',
  },
  'table-kind': {
    level: 'refuse',
    message: (f) => `${f.file} is no text: a table is read from CSV, or from rows that are pasted.`,
    remedy: () =>
      'Save the sheet as CSV (UTF-8) in the program it was made in, or copy its cells and paste them.',
  },
  'table-empty': {
    level: 'refuse',
    message: (f) => `${f.file} has no rows for pieces.`,
    remedy: () => 'Give one row for each piece, below a first row that names the columns.',
  },
  'table-uneven': {
    level: 'refuse',
    message: (f) =>
      `Row ${f.row} of ${f.file} has ${f.cells} cells where there are ${f.columns} columns.`,
    remedy: () =>
      'Put words that hold the separating mark between quotation marks, or separate the cells by tabs.',
  },
  'column-unknown': {
    level: 'refuse',
    message: (f) => `${f.file} has no column "${f.column}"; it has ${f.columns}.`,
    remedy: () => 'Name a column as its first row does, or column 1, column 2 where there is none.',
  },
  'table-long': {
    level: 'refuse',
    message: (f) => `${f.file} has ${f.rows} rows; at most ${f.most} are read.`,
    remedy: () => 'Split the table, and make a job of each part.',
  },
  'font-kind': {
    level: 'refuse',
    message: (f) => `${f.file} is no font that can be read: ${f.why}.`,
    remedy: () => 'Give one font as TTF, OTF, WOFF or WOFF2.',
  },
  'font-locked': {
    level: 'refuse',
    message: (f) => `The makers of ${f.name} do not allow it to be put into files (its own word).`,
    remedy: () => 'Use another font, or one of those that come with the program.',
  },
  'font-wanted': {
    level: 'doubt',
    message: (f) => `The font ${f.file} is not on this machine: no print file is made.`,
    remedy: () => 'Drop that font on the Artwork part of the step Release, or choose another.',
  },
  'font-without-run': {
    level: 'refuse',
    message: (f) => `${f.file} is a font, and there are no words yet that could be set in it.`,
    remedy: () => 'Give a table of names and numbers first, then drop the font again.',
  },
  'words-letters': {
    level: 'refuse',
    message: (f) =>
      `${f.font} has no letters for ${f.missing} in ${f.words}: boxes would be printed in their place.`,
    remedy: () => 'Choose or drop a font that has them, or write those words otherwise.',
  },
  'words-smaller': {
    level: 'note',
    message: (f) =>
      `${f.column}: longer than ${f.roomMm} mm at full size would be ${f.words}; set smaller, down to ${f.percent} %.`,
    remedy: () => 'Look at it in its pocket, or give the line more room.',
  },
  'words-long': {
    level: 'doubt',
    message: (f) =>
      `${f.column}: longer than ${f.roomMm} mm at full size would be ${f.words}; set smaller, down to ${f.percent} % with capitals of ${f.lowestMm} mm, which looks like another design.`,
    remedy: () => 'Give the line more room, set all of it smaller, or shorten what is long.',
  },
  'words-low': {
    level: 'doubt',
    message: (f) =>
      `${f.column}: capitals come out as low as ${f.lowestMm} mm; below ${f.leastMm} mm they are hard to read.`,
    remedy: () => 'Set the line larger, give it more room, or shorten the longest words.',
  },
  'words-past-edge': {
    level: 'doubt',
    message: (f) =>
      `${f.column}: part of ${f.words} lies past the edge of the face and is printed on the board.`,
    remedy: () => 'Give the line a room that ends on the face, move it, or set it smaller.',
  },
  'words-past-safe': {
    level: 'doubt',
    message: (f) =>
      `${f.column}: ${f.words} reach past the safe area, where they may look crooked.`,
    remedy: () => 'Give the line less room, move it, or set it smaller.',
  },
  'words-empty': {
    level: 'doubt',
    message: (f) =>
      `${f.column} is empty in ${f.count === 1 ? 'row' : `${f.count} rows:`} ${f.rows}: those pieces are printed without.`,
    remedy: () => 'Fill those cells, or take the rows out of the table.',
  },
  'artwork-spray': {
    level: 'doubt',
    message: (f) =>
      `The artwork bleeds, and the pockets go through: past the edge it sprays through the gap of ${f.clearanceMm} mm onto the table.`,
    remedy: () => 'Lay a sheet under the board, or have the pockets on a base plate.',
  },
  'white-at-edge': {
    level: 'doubt',
    message: (f) =>
      `White layer ${f.name} is not choked (${f.growMm} mm): wherever the print lands off it shows beside the artwork.`,
    remedy: () => 'Choke it by the least that the registration on the step Bed asks for.',
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
  'spot-name': {
    level: 'refuse',
    message: (f) => `"${f.name}" is no name that every program takes for a spot colour.`,
    remedy: () =>
      'Use up to 31 letters from A to Z, digits, spaces, hyphens and low lines, as the program of the cutter names it.',
  },
  'sample-pockets': {
    level: 'refuse',
    message: (f) => `"${f.text}" is no number of a pocket.`,
    remedy: () => 'Give the numbers with commas between, for instance 1, 4, 6-8.',
  },
  'sample-unknown': {
    level: 'refuse',
    message: (f) =>
      `A sample is asked of pocket ${f.which}, and the plan has pockets 1 to ${f.pockets}.`,
    remedy: () => 'Give numbers that stand on the bed, or none for no sample.',
  },
  'revision-letter': {
    level: 'refuse',
    message: (f) => `"${f.text}" is no letter of a revision.`,
    remedy: () => 'Give one letter from A to Z.',
  },
  'engrave-no-room': {
    level: 'doubt',
    message: (f) =>
      `No free place of ${f.widthMm} x ${f.heightMm} mm is left on the board for "${f.words}", so nothing is cut into it.`,
    remedy: () => 'Leave a wider margin or wall, or write it on the board by hand.',
  },
  'png-too-large': {
    level: 'refuse',
    message: (f) =>
      `At ${f.dpi} dpi the bed is ${f.widthPx} x ${f.heightPx} px, ${f.megapixels} megapixels; a browser holds up to ${f.mostPx} px a side and ${f.mostMegapixels} megapixels.`,
    remedy: (f) => `Take at most ${f.mostDpi} dpi, or artwork.pdf, which has no pixels.`,
  },
  'match-unread': {
    level: 'refuse',
    message: (f) => `${f.file} cannot be held against the plan: ${f.why}.`,
    remedy: () => 'Save it as DXF, SVG, PDF or EPS with its lines as lines, and try again.',
  },
  'match-without-plan': {
    level: 'refuse',
    message: () => 'There is no plan yet for a file to be held against.',
    remedy: () => 'Trace the blanks and lay their pockets on the bed first.',
  },
  'match-no-lines': {
    level: 'refuse',
    message: (f) => `${f.file} shows no lines, so no pocket's place can be told.`,
    remedy: () =>
      'Save it with the outlines visible; an EPS that another program wrote is better saved as PDF.',
  },
  'match-only-pixels': {
    level: 'refuse',
    message: (f) =>
      `${f.file} holds a picture made of pixels and no lines: its places cannot be told.`,
    remedy: () => 'Save it with the outlines kept as lines, not flattened into a picture.',
  },
  'match-none': {
    level: 'refuse',
    message: (f) => `None of the ${f.count} shapes in ${f.file} is a pocket of ${f.reference}.`,
    remedy: () => 'Check whether it is a file of this job.',
  },
  'match-page': {
    level: 'refuse',
    message: (f) => `The page of ${f.file} is ${f.found}; the bed is ${f.wanted}.`,
    remedy: () => 'Set the page to the size of the bed and do not scale what is on it.',
  },
  'match-page-rounded': {
    level: 'doubt',
    message: (f) =>
      `The page of ${f.file} is ${f.found} instead of ${f.wanted}: ${f.offMm} mm, as where sides are rounded to whole points.`,
    remedy: () => 'Place it by the zero corner, not by the middle or the far edge of the page.',
  },
  'match-rounded': {
    level: 'doubt',
    message: (f) =>
      `Everything in ${f.file} lies up to ${f.offMm} mm beside its place, as where a program rounds the page to whole points.`,
    remedy: () =>
      'Save it with another program, or take the file of the release, if that is too much.',
  },
  'match-page-turned': {
    level: 'refuse',
    message: (f) =>
      `The page of ${f.file} stands the other way: ${f.found} instead of ${f.wanted}.`,
    remedy: () => 'Turn the page back by a quarter, with what is on it.',
  },
  'match-pages': {
    level: 'refuse',
    message: (f) => `${f.file} has ${f.pages} pages; only the first one was looked at.`,
    remedy: () => 'Save the page of the bed alone.',
  },
  'match-part-load': {
    level: 'doubt',
    message: (f) =>
      `Page ${f.page} of ${f.file}, its last, shows ${f.shown} of ${f.all} pockets: a load that is filled in part.`,
    remedy: () => 'See in print-list.csv or the order that so many pieces are left for it.',
  },
  'match-dpi': {
    level: 'refuse',
    message: (f) => `${f.file} is drawn at ${f.percent} %: ${f.cause}.`,
    remedy: () =>
      'Set both programs to the same units per inch, or exchange the file as PDF, which says its size.',
  },
  'match-unit': {
    level: 'refuse',
    message: (f) => `${f.file} is drawn at ${f.percent} %: ${f.cause}.`,
    remedy: () => 'Set the unit to millimetres when it is opened and when it is saved.',
  },
  'match-unit-lost': {
    level: 'refuse',
    message: (f) => `${f.file} says no unit: every program takes one of its own.`,
    remedy: () => 'Save it again with millimetres set as the unit.',
  },
  'match-fit': {
    level: 'refuse',
    message: (f) => `${f.file} is drawn at ${f.percent} %: it was saved or printed "fit to page".`,
    remedy: () => 'Choose 100 % or "actual size" instead.',
  },
  'match-scaled': {
    level: 'refuse',
    message: (f) => `${f.file} is drawn at ${f.percent} % of ${f.reference}.`,
    remedy: () => 'Undo the scaling, or take the file of the release again.',
  },
  'match-stretched': {
    level: 'refuse',
    message: (f) =>
      `${f.file} is stretched: ${f.across} % from left to right, ${f.along} % from front to back.`,
    remedy: () => 'Undo the scaling, or take the file of the release again.',
  },
  'match-sheared': {
    level: 'refuse',
    message: (f) => `${f.file} is sheared by ${f.degrees} degrees.`,
    remedy: () => 'Undo the shearing, or take the file of the release again.',
  },
  'match-rotated': {
    level: 'refuse',
    message: (f) =>
      `${f.file} is turned by ${f.degrees} degrees (counter-clockwise) against ${f.reference}.`,
    remedy: () => 'Turn it back, or take the file of the release again.',
  },
  'match-mirrored': {
    level: 'refuse',
    message: (f) => `${f.file} is mirrored ${f.how} against ${f.reference}.`,
    remedy: () =>
      'Mirror it back; where the print is meant to be seen from behind, mirror the artwork, never the places.',
  },
  'match-shifted': {
    level: 'refuse',
    message: (f) =>
      `All of ${f.file} is moved by ${f.dx} mm to the right and ${f.dy} mm to the back.`,
    remedy: () => 'Move it back as a whole, or take the file of the release again.',
  },
  'match-counts-from-top': {
    level: 'refuse',
    message: (f) =>
      `In ${f.file} places are right from the upper left corner of the page, and ${f.dy} mm off from its lower left.`,
    remedy: () => 'Make the page as high as the bed; then both corners agree.',
  },
  'match-zero-corner': {
    level: 'refuse',
    message: (f) =>
      `The mark of the zero corner stands at the ${f.found} in ${f.file}, not at the ${f.wanted}.`,
    remedy: () => 'It belongs to another release of this job: write all files anew.',
  },
  'match-holes': {
    level: 'refuse',
    message: (f) =>
      `${f.lost} of ${f.all} holes of the board's seat ${f.lost === 1 ? 'is' : 'are'} not in ${f.file} where ${f.reference} has ${f.lost === 1 ? 'it' : 'them'}: the board would lie elsewhere.`,
    remedy: () => 'Take the cut file as it was released, holes included.',
  },
  'match-missing': {
    level: 'refuse',
    message: (f) =>
      `${f.count === 1 ? `Pocket ${f.ids} is` : `${f.count} pockets are`} missing in ${f.file}${f.count === 1 ? '' : `: ${f.ids}`}.`,
    remedy: () => 'Put back what was deleted, or take the file of the release again.',
  },
  'match-line-missing': {
    level: 'refuse',
    message: (f) => `In ${f.file} pocket ${f.id} lacks a line that other pockets have: ${f.kinds}.`,
    remedy: () => 'Put back what was deleted, or take the file of the release again.',
  },
  'match-moved': {
    level: 'refuse',
    message: (f) => `Pocket ${f.id} lies ${f.offMm} mm beside its place in ${f.file}.`,
    remedy: () => 'Move it back, or take the file of the release again.',
  },
  'match-changed': {
    level: 'refuse',
    message: (f) =>
      `Pocket ${f.id} is turned or reshaped in ${f.file}: its line is up to ${f.offMm} mm off.`,
    remedy: () => 'Undo the change, or take the file of the release again.',
  },
  'match-extra': {
    level: 'doubt',
    message: (f) =>
      `${f.file} shows ${f.count === 1 ? 'one more shape' : `${f.count} more shapes`} like a pocket, at no pocket's place.`,
    remedy: () => 'Delete what the plan does not have, or place it in the plan.',
  },
  'match-doubled': {
    level: 'refuse',
    message: (f) => `In ${f.file} a line lies twice in the same place, at pocket ${f.ids}.`,
    remedy: () => 'Delete one of them: a cutter would cut it twice.',
  },
  'match-flattened': {
    level: 'note',
    message: (f) => `The layers of ${f.file} are flattened into one: ${f.kinds} lie together.`,
    remedy: () => 'Places agree all the same; hide template lines by hand before printing.',
  },
  'match-flattened-cut': {
    level: 'doubt',
    message: (f) =>
      `The layers of ${f.file} are flattened into one: the wall of a pocket and the way of the tool can no longer be told apart.`,
    remedy: () => 'Cut from a file that has its layers, so that nothing is cut along the wall.',
  },

  // job
  'job-file': {
    level: 'refuse',
    message: (f) => `This is not a job file: ${f.what}.`,
    remedy: () => 'Choose a file that Snugline saved under "Save the job", or start a new job.',
  },
  'job-version': {
    level: 'refuse',
    message: (f) =>
      `The job file is of version ${f.version}; this program reads up to version ${f.reads}.`,
    remedy: () => 'Open it with the program that saved it, or with a newer one.',
  },
  'job-lost': {
    level: 'doubt',
    message: (f) =>
      `${f.count === 1 ? 'One kept job' : `${f.count} kept jobs`} cannot be read (${f.what}).`,
    remedy: () =>
      'It is left as it is, with its picture. Under Jobs it can be saved to a file, or opened as far as it can be read.',
  },
  'job-entries-lost': {
    level: 'doubt',
    message: (f) => `What could not be read of this job stands as in a new one: ${f.what}.`,
    remedy: () => 'Look through every step before anything is cut, then say so here.',
  },
  'job-file-damaged': {
    level: 'doubt',
    message: (f) => `The job file is damaged: ${f.what}.`,
    remedy: () =>
      'What could be read is opened; save the job anew once it has been looked through.',
  },
  'other-window': {
    level: 'doubt',
    message: () => 'Snugline is open in another window, which keeps the jobs.',
    remedy: () =>
      'Go on there, or close it: what was changed here is then kept as jobs of their own.',
  },
  'store-none': {
    level: 'doubt',
    message: (f) =>
      `This browser keeps nothing here (${f.what}): jobs last until this page is closed.`,
    remedy: () => 'Leave the private window, or save each job as a file under Release.',
  },
  'store-full': {
    level: 'doubt',
    message: () => 'The browser has no room left: the last change is not kept.',
    remedy: () =>
      'Take jobs off the list that are done with, or save this one as a file under Release.',
  },
  'store-fault': {
    level: 'doubt',
    message: (f) => `The last change could not be kept: ${f.what}.`,
    remedy: () => 'Save the job as a file under Release, then load the page again.',
  },
  'two-files': {
    level: 'refuse',
    message: (f) => `${f.count} files came at once, and not all of them are photos of the blank.`,
    remedy: () => 'Drop one job file, one scan, or up to eight photos of the same blanks.',
  },
  'too-many-photos': {
    level: 'refuse',
    message: (f) => `That makes ${f.count} photos; a job is measured from eight at most.`,
    remedy: () => 'Take those off the strip that show the blank worst.',
  },
  'photo-refused': {
    level: 'refuse',
    message: (f) => `"${f.name}" cannot be used with the others: ${f.what}.`,
    remedy: () => 'Take it off the strip of photos, or take it anew.',
  },
  'picture-another': {
    level: 'note',
    message: (f) => `"${f.name}" is not the picture this job was made with ("${f.expected}").`,
    remedy: () =>
      'Go on with it, or choose the former one again; all figures are those of this picture.',
  },
  'looks-scanned': {
    level: 'doubt',
    message: (f) => `This looks like a scan: no lens, and ${f.dpi} pixels per inch in the file.`,
    remedy: () => 'If it is one, choose a scanner at the step Sheet; else go on.',
  },
  'looks-photographed': {
    level: 'doubt',
    message: (f) => `This looks like a photograph, through a lens of ${f.lens} mm, and no scan.`,
    remedy: () => 'Choose the camera at the step Sheet, or take the scan that was meant.',
  },
  'picture-wanted': {
    level: 'note',
    message: (f) => `The job file does not hold the picture "${f.name}" as it was.`,
    remedy: () => 'Drop or choose that picture, and everything is computed again.',
  },
  'paper-unread': {
    level: 'refuse',
    message: (f) => `"${f.text}" is no size of paper.`,
    remedy: () => 'Enter width x height in millimetres, for instance 330x480.',
  },
  'sheet-another': {
    level: 'doubt',
    message: (f) =>
      `The picture shows a sheet of ${f.found}, but one of ${f.chosen} was chosen: the spans entered may be another sheet's.`,
    remedy: () =>
      'Choose the paper under Sheet, and read the spans of the sheet that was pictured.',
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
    message: (f) => {
      const [, what, per = ''] = /^(.*?)(?:, (\S+))?$/.exec(String(f.what))!;
      const unit = per === '' ? '' : ` ${per}`;
      return `${what}: ${f.value}${unit} does not lie between ${f.least} and ${f.greatest}${unit}.`;
    },
    remedy: () => 'Check the figure and its unit, and enter it again.',
  },
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
      `Blank ${f.blank} has ${f.stretches} ${f.stretches === 1 ? 'stretch' : 'stretches'} of edge that no picture could see; the pocket there is larger than need be.`,
    remedy: () => 'Look at the stretch in the outline; a picture from above it would settle it.',
  },

  'seat-by-hand': {
    level: 'doubt',
    message: (f) =>
      `Blank ${f.blank} has ${f.stretches} ${f.stretches === 1 ? 'stretch' : 'stretches'} of edge that were drawn by hand; the pocket there is as good as the hand.`,
    remedy: () => 'Read the blank with calipers there, or cut the pocket in card first.',
  },

  // after the cut
  'delivery-goes-in': {
    level: 'note',
    message: (f) =>
      `${Number(f.count) === 1 ? 'The one piece goes' : `All ${f.count} pieces go`} in. With 95 % confidence ${f.percent} % or more of the delivery they were taken from does.`,
    remedy: (f) => `Try ${f.more} more, taken at random, to speak for ${f.nextPercent} %.`,
  },
  'delivery-tight': {
    level: 'doubt',
    message: (f) =>
      `Of ${f.count} pieces ${f.goIn} go in, ${f.not} do not and ${f.open} are not proven. With 95 % confidence ${f.percent} % or more of the delivery goes in.`,
    remedy: (f) =>
      `Give ${f.neededMm} mm of clearance per side, instead of ${f.clearanceMm} mm: it takes all that were tried; or sort the delivery by trying each.`,
  },
  'delivery-face-down': {
    level: 'doubt',
    message: (f) => `Piece ${f.blank} lies face down: turned over it has more room.`,
    remedy: () => 'Turn it over and take the picture again.',
  },
  'delivery-other': {
    level: 'doubt',
    message: (f) => `Piece ${f.blank} is another item: it is like none of the pockets.`,
    remedy: () => 'Take it off the sheet, or open the job that it belongs to.',
  },
  'loose-sheet': {
    level: 'refuse',
    message: (f) =>
      `The marks in ${f.picture} are those of a sheet of ${f.widthMm} x ${f.heightMm} mm, and the bed is ${f.bedWidthMm} x ${f.bedDepthMm} mm.`,
    remedy: (f) =>
      `Print the marked sheet of this bed, ${f.bedWidthMm} x ${f.bedDepthMm} mm, at the zero of the bed, and lay the pieces on it where it lies.`,
  },
  'loose-thickness': {
    level: 'refuse',
    message: (f) => `The outline of blank ${f.blank} does not say how thick the blank is.`,
    remedy: () => 'Measure the blank anew with its thickness; a scan needs it entered.',
  },
  'loose-none': {
    level: 'refuse',
    message: () => 'No piece on the bed is like a blank of this job.',
    remedy: () =>
      'Measure the blank first, then lay its pieces on the marked sheet, face up, and take the picture.',
  },
  'loose-unknown': {
    level: 'refuse',
    message: (f) =>
      `What lies at ${f.x}, ${f.y} mm is like none of the blanks: its edge lies ${f.offMm} mm off the nearest of them (RMS).`,
    remedy: () =>
      'Take it off the bed; or, where two pieces touch or lie on each other, lay them apart. Then take the picture again.',
  },
  'loose-face-down': {
    level: 'refuse',
    message: (f) => `The piece of blank ${f.blank} at ${f.x}, ${f.y} mm lies face down.`,
    remedy: () => 'Turn it over and take the picture again.',
  },
  'loose-either': {
    level: 'refuse',
    message: (f) =>
      `The piece at ${f.x}, ${f.y} mm may be blank ${f.blank} or blank ${f.other}: its edge lies ${f.offMm} and ${f.otherMm} mm off theirs (RMS).`,
    remedy: () => 'Lay the two kinds in loads of their own.',
  },
  'loose-missing': {
    level: 'doubt',
    message: (f) =>
      `Of blank ${f.blank}, ${f.laid} were laid, and ${f.seen} ${f.seen === 1 ? 'is' : 'are'} placed.`,
    remedy: () => 'Lay what is missing and take the picture again, or enter how many lie there.',
  },
  'loose-more': {
    level: 'doubt',
    message: (f) =>
      `Of blank ${f.blank}, ${f.laid} ${f.laid === 1 ? 'was' : 'were'} laid, and ${f.seen} are seen.`,
    remedy: () => 'Take off what does not belong there, or enter how many lie there.',
  },
  'loose-turns': {
    level: 'note',
    message: (f) =>
      `Blank ${f.blank} looks the same after ${f.turns === 'any turn' ? f.turns : `a turn of ${f.turns} degrees`}: its outline does not tell which way round a piece lies.`,
    remedy: () =>
      'Pieces are printed as they lie turned least from the picture that the blank was measured in; lay those that have a right way round so.',
  },
  'loose-sides': {
    level: 'note',
    message: (f) =>
      `Blank ${f.blank} is its own mirror image: its outline does not tell which face is up.`,
    remedy: () => 'Look that every piece lies with its print face up.',
  },
  'loose-moved': {
    level: 'refuse',
    message: (f) =>
      `The piece at ${f.x}, ${f.y} mm lies ${f.apartMm} mm and ${f.deg} degrees elsewhere in ${f.other} than in ${f.first}, which is more than both pictures leave open.`,
    remedy: () =>
      'Something was moved: take the pictures again, and touch nothing between them and the print.',
  },
  'loose-one-only': {
    level: 'refuse',
    message: (f) =>
      `The piece at ${f.x}, ${f.y} mm is in ${f.first} and not there, or not alike, in ${f.other}.`,
    remedy: () =>
      'Something was moved: take the pictures again, and touch nothing between them and the print.',
  },
  'loose-off': {
    level: 'refuse',
    message: (f) =>
      `On piece ${f.piece} the print may land ${f.offMm} mm off, and its ${f.what} is ${f.widthMm} mm; most of that comes from: ${f.most}.`,
    remedy: (f) =>
      f.most === 'place'
        ? 'Take a second picture from straight above with the camera turned by half a turn, use a lens profile, lay a measured rider on a piece, or give the artwork more bleed and safe area.'
        : 'Give the artwork more bleed and safe area.',
  },
  'loose-ink': {
    level: 'doubt',
    message: (f) => `The bleed of piece ${f.piece} reaches piece ${f.other}: ink lands on it.`,
    remedy: () => 'Lay the two farther apart, or give less bleed.',
  },
  'board-unlike': {
    level: 'refuse',
    message: (f) =>
      `This is not the board of this plan: of ${f.holes} holes in it ${f.found} lie as the plan's ${f.pockets} pockets do.`,
    remedy: () =>
      'Picture the whole empty board face up, its drop-outs taken out, on a stage that shows through its pockets; or open the job it was cut for.',
  },
  'board-missing': {
    level: 'doubt',
    message: (f) =>
      `${f.count} ${Number(f.count) === 1 ? 'pocket' : 'pockets'} of the plan ${Number(f.count) === 1 ? 'is' : 'are'} not seen in the board: ${f.which}.`,
    remedy: () => 'Push out what still stands in them, and take the picture again.',
  },
  'board-extra': {
    level: 'note',
    message: (f) =>
      `The board has ${f.count} ${Number(f.count) === 1 ? 'hole' : 'holes'} that no pocket of the plan makes.`,
    remedy: () => 'Holes for pins and marks are no pockets; if one should be, it is another board.',
  },
  'board-kerf': {
    level: 'note',
    message: (f) =>
      `The cutter runs ${f.wideMm} ± ${f.uMm} mm ${f.way} per side: a kerf of ${f.kerfMm} mm, not ${f.wasMm} mm.`,
    remedy: () => 'Take the kerf that was found for the next board of this material.',
  },
  'board-as-planned': {
    level: 'note',
    message: (f) => `The walls stand as planned, to ${f.uMm} mm per side: the kerf is right.`,
    remedy: () => 'Keep kerf and clearance as they are.',
  },
  'print-places-near': {
    level: 'refuse',
    message: (f) =>
      `How the print lies is read at ${f.count} ${Number(f.count) === 1 ? 'place' : 'places'}, ${f.apartMm} mm apart: that tells no turn.`,
    remedy: (f) =>
      `Read the miss at two places at least ${f.leastMm} mm apart, the farther the better.`,
  },
  'print-far-off': {
    level: 'refuse',
    message: (f) => `The print is read to land ${f.offMm} mm off, more than ${f.mostMm} mm.`,
    remedy: () =>
      'Look whether the board lies on its seat and the file was printed at 100 % at the zero of the bed; then print again and read anew.',
  },
  'print-long': {
    level: 'doubt',
    message: (f) =>
      `The print is ${f.perMille} ± ${f.uPerMille} parts in a thousand too ${f.way}: shift and turn leave ${f.leftMm} mm at its ends.`,
    remedy: () =>
      "Look for a scale in the printer's program that is not 100 %, and whether the board has grown with damp or heat since it was cut.",
  },
  'print-place-off': {
    level: 'doubt',
    message: (f) =>
      `Place ${f.which} lies ${f.offMm} mm off what the others say, more than its U of ${f.uMm} mm allows.`,
    remedy: () => 'Read that place again, its signs too: to the right and to the rear are plus.',
  },
  'print-void': {
    level: 'doubt',
    message: (f) =>
      `The first print was corrected for the board as it lay until ${f.on}; it has been seated anew.`,
    remedy: () =>
      'Print the set-up print again and read where it lands; until then the artwork is not moved.',
  },
  'print-other-profile': {
    level: 'refuse',
    message: (f) =>
      `What was read of the first print had been corrected by the bed profile of ${f.on}, which is not in force any more.`,
    remedy: () => 'Print on the loaded board again and read where it lands.',
  },
  'print-other-plan': {
    level: 'note',
    message: (f) => `Board ${f.board} was cut by another plan than the files are made from.`,
    remedy: () =>
      'Enter the board that was cut by the plan as it is now; its artwork is not moved until its own print is read.',
  },
  'match-cutter-scale': {
    level: 'refuse',
    message: (f) =>
      `In ${f.file} the tool's paths lie as before the scale of the cutter was allowed for.`,
    remedy: () =>
      'Cut from a file that was made since; or allow for no scale, under the cutter on the step Pocket.',
  },
  'match-corrected': {
    level: 'note',
    message: (f) => `The artwork in ${f.file} lies as ${f.asks} on ${f.holds}: ${f.words}.`,
    remedy: (f) => `Print it there and nowhere else, ${f.until}.`,
  },
  'match-uncorrected': {
    level: 'doubt',
    message: (f) =>
      `The artwork in ${f.file} lies as planned, not as ${f.asks} on ${f.holds}: ${f.words}.`,
    remedy: () =>
      'Make the files again and use the new one; or print this where that was not measured.',
  },
  'board-worn': {
    level: 'refuse',
    message: (f) => `Board ${f.board} is not to be used since ${f.on}: ${f.why}.`,
    remedy: () => 'Take another board of this job, or cut a new one.',
  },
  'again-no-plan': {
    level: 'doubt',
    message: (f) =>
      `The job of board ${f.board} has no plan now: its picture or an entry is missing.`,
    remedy: () =>
      'Open the job file that was saved with the board, or look which step is to settle.',
  },
  'again-plan': {
    level: 'doubt',
    message: (f) => `The plan was changed since board ${f.board} was cut: ${f.what}.`,
    remedy: () =>
      'Undo what was changed, or cut a new board: artwork of this plan does not belong on the old one.',
  },
  'again-height': {
    level: 'doubt',
    message: (f) =>
      `The height for the ${f.what} was ${f.wasMm} mm when it was cut, and is ${f.nowMm} mm now.`,
    remedy: () => 'Measure board, base and a piece again before the head moves over them.',
  },
  'again-old': {
    level: 'note',
    message: (f) => `The board was last looked at ${f.days} days ago, on ${f.on}.`,
    remedy: () => 'Picture it again, empty on the sheet, and see how its walls stand now.',
  },
  'again-damp': {
    level: 'doubt',
    message: (f) =>
      `The board was last looked at ${f.days} days ago, on ${f.on}; over a change of ${f.percent} % in humidity ${f.material} of this size moves by ${f.byMm} mm.`,
    remedy: () => 'Picture it again, empty on the sheet, and see how its walls stand now.',
  },
  'again-program': {
    level: 'note',
    message: (f) => `The board was entered with version ${f.was} of the program; this is ${f.now}.`,
    remedy: () => 'Look whether its plan is still the same; it says so where it is not.',
  },
  'again-lens': {
    level: 'note',
    message: () => 'The lens profile that the blank is measured with is another one than then.',
    remedy: () => 'Look whether its plan is still the same; it says so where it is not.',
  },
  'again-print': {
    level: 'doubt',
    message: (f) => `How ${f.machine} lands on this board as it is seated now has not been read.`,
    remedy: () =>
      'Print the set-up print on the loaded board, and read where it lands under First print.',
  },
  'two-boards': {
    level: 'refuse',
    message: (f) => `${f.count} files came at once, and one picture shows the board.`,
    remedy: () => 'Give the picture of the whole empty board; new pieces come under New pieces.',
  },
  'board-without-plan': {
    level: 'refuse',
    message: () => 'There are no pockets on the bed that a board could have been cut by.',
    remedy: () => 'Lay pockets on the bed first, or give the plan.json that the board was cut by.',
  },
  'board-file-wanted': {
    level: 'doubt',
    message: (f) => `The file ${f.file} is not on this machine.`,
    remedy: () => 'Open the job file that was saved with it, or give the file again.',
  },
  'plan-file-unread': {
    level: 'refuse',
    message: (f) => `The plan ${f.file} cannot be read: ${f.what}.`,
    remedy: () => 'Give the plan.json that was written with the files of the board.',
  },

  // terminal
  'not-checked': {
    level: 'doubt',
    message: () => 'NOT CHECKED: no caliper reading has been held against these outlines.',
    remedy: () =>
      'Measure each blank in two directions before a board is cut, and say with --because TEXT why it goes out unchecked; the job sheet prints it.',
  },
  'nobody-answers': {
    level: 'note',
    message: (f) =>
      `It goes out unchecked because "${f.because}", and nobody is named who answers for it.`,
    remedy: () => 'Say who with --by NAME, or sign the job sheet.',
  },
  'picture-unreadable': {
    level: 'refuse',
    message: (f) => `The picture ${f.name} cannot be read: ${f.why}.`,
    remedy: () => 'Check the name and the folder, and give the command again.',
  },
  'thickness-of-blank-missing': {
    level: 'refuse',
    message: (f) =>
      `The picture shows ${f.found} blanks, and no thickness is given for blank ${f.blank}.`,
    remedy: () =>
      'Name every blank, from left to right, as in --thickness 1=10,2=4, or give one figure for all.',
  },
  'thickness-names-no-blank': {
    level: 'refuse',
    message: (f) =>
      `A thickness is given for blank ${f.blank}, but the picture shows ${f.found} ${f.found === 1 ? 'blank' : 'blanks'}.`,
    remedy: () =>
      'Blanks are numbered from the left of the sheet; give thicknesses for those only.',
  },

  // ?
  'thickness-reaches-camera': {
    level: 'refuse',
    message: (f) =>
      `A blank ${f.heightMm} mm thick does not fit under a camera ${f.cameraHeightMm} mm above the sheet.`,
    remedy: () => 'Check the thickness, or take the picture from farther away.',
  },
} satisfies Record<string, Entry>;

export type Code = keyof typeof entries;

/** Every sentence that says "no" or "careful", in one place; grouped by the room that says it. */
export const catalogue: Readonly<Record<Code, Entry>> = entries;

import { MM_PER_POINT } from '../base/measure.ts';
import type { Drawing } from './drawing.ts';
import { ascii, figure, trail } from './letters.ts';
import { FILE_SETTINGS, type FileSettings } from './settings.ts';
import { strokeOf } from './strokes.ts';

/** In PostScript brackets and backslashes of a string are escaped. */
const quoted = (words: string): string => `(${ascii(words).replace(/[()\\]/g, '\\$&')})`;

/** Comment lines of a PostScript file hold at most 255 characters (Adobe 5001, Document Structuring Conventions, 3). */
function comments(words: string): string[] {
  const lines: string[] = [];
  let line = '%';
  for (const word of ascii(words).split(' ')) {
    if (line.length + word.length > 200) {
      lines.push(line);
      line = '%  ';
    }
    line += ` ${word}`;
  }
  return [...lines, line];
}

/**
 * A drawing as EPS (Adobe 5002, Encapsulated PostScript 3.0): the box is the bed, rounded outward in whole points and exact
 * beside it. One `scale` makes the coordinates millimetres; a comment names each layer. Lines that a tool follows are
 * hairlines in a spot colour (PostScript Language Reference, 4.8.4, Separation), which prints as itself or, where there is
 * no such ink, as the red, green and blue that the other files have. Letters are in Helvetica, which every interpreter has, and are not to be cut.
 */
export function eps(drawing: Drawing, settings: FileSettings = FILE_SETTINGS): Uint8Array {
  const { widthMm, heightMm } = drawing;
  const [w, h] = [widthMm / MM_PER_POINT, heightMm / MM_PER_POINT];
  const strokes = drawing.layers.map(({ name }) => strokeOf(name, settings));
  const spots = new Map(
    strokes.flatMap(({ spot }) =>
      spot === undefined ? [] : [[spot.name, spot.rgb.map((v) => figure(v / 255))]],
    ),
  );
  const lines = [
    '%!PS-Adobe-3.0 EPSF-3.0',
    `%%BoundingBox: 0 0 ${Math.ceil(w - 1e-6)} ${Math.ceil(h - 1e-6)}`,
    `%%HiResBoundingBox: 0 0 ${figure(w)} ${figure(h)}`,
    '%%Creator: Snugline',
    `%%Title: ${quoted(drawing.title)}`,
    '%%LanguageLevel: 2',
    '%%Pages: 1',
    '%%DocumentNeededResources: font Helvetica',
    ...[...spots.keys()].map(
      (spot, k) => `${k === 0 ? '%%DocumentCustomColors:' : '%%+'} ${quoted(spot)}`,
    ),
    ...[...spots].map(
      ([spot, rgb], k) =>
        `${k === 0 ? '%%RGBCustomColor:' : '%%+'} ${rgb.join(' ')} ${quoted(spot)}`,
    ),
    '%%EndComments',
    `% Job ${ascii(drawing.jobNumber)}`,
    ...drawing.notes.flatMap(comments),
    '%%BeginProlog',
    '/m /moveto load def /l /lineto load def /h /closepath load def /S /stroke load def',
    '%%EndProlog',
    '%%Page: 1 1',
    'gsave',
    `${1 / MM_PER_POINT} ${1 / MM_PER_POINT} scale`,
    // A line along the edge is drawn by half, so that nothing is painted outside the box.
    `0 0 ${figure(widthMm)} ${figure(heightMm)} rectclip`,
    '1 setlinecap 1 setlinejoin',
  ];
  drawing.layers.forEach(({ name, what, closed, open, lettering }, k) => {
    const { rgb, widthMm: width, dashMm, spot } = strokes[k]!;
    lines.push(`% layer ${name}`, ...comments(what));
    lines.push(
      spot === undefined
        ? `${rgb.map((v) => figure(v / 255)).join(' ')} setrgbcolor`
        : `[/Separation ${quoted(spot.name)} /DeviceRGB {${spots
            .get(spot.name)!
            .map((v) => `dup 1 ${v} sub mul 1 exch sub exch`)
            .join(' ')} pop}] setcolorspace 1 setcolor`,
      `${width} setlinewidth [${dashMm.join(' ')}] 0 setdash`,
    );
    for (const { ring } of closed) lines.push(trail(ring), 'h S');
    for (const points of open) lines.push(trail(points), 'S');
    for (const { at, from, heightMm: tall, words } of lettering) {
      lines.push(
        // Capitals of Helvetica are 718 thousandths of its size (Adobe font metrics).
        `/Helvetica findfont ${figure(tall / 0.718)} scalefont setfont`,
        `${figure(at.x)} ${figure(at.y - tall / 2)} m`,
        `${quoted(words)} ${from ? '' : 'dup stringwidth pop 2 div neg 0 rmoveto '}show`,
      );
    }
  });
  lines.push('grestore', 'showpage', '%%Trailer', '%%EOF', '');
  return new TextEncoder().encode(lines.join('\n'));
}

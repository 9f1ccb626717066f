import { MM_PER_POINT } from '../base/measure.ts';
import { IDENTITY, times, type Affine } from '../geometry/affine.ts';
import { joined, Pen, type FileLine, type FileLines } from './file-lines.ts';

/** Path operators by their PostScript names, and by the short ones that most programs define for them. */
const OPERATORS: Readonly<Record<string, string>> = {
  m: 'moveto',
  l: 'lineto',
  c: 'curveto',
  h: 'closepath',
  S: 'stroke',
  s: 'closestroke',
  f: 'fill',
  n: 'newpath',
  q: 'gsave',
  Q: 'grestore',
  cm: 'concat',
};

/**
 * The lines of an EPS whose paths stand in it plainly, as numbers and path operators after the prologue. PostScript is a
 * language; what a program computes in it is not followed, and such a file then shows no lines.
 *
 * @throws Error when it is not an EPS
 */
export function linesOfEps(bytes: Uint8Array): FileLines {
  const { painted, ...rest } = paintedOfEps(bytes);
  return { ...rest, ...joined(painted) };
}

/**
 * The same, each piece as it was painted: nothing is joined.
 *
 * @throws Error when it is not an EPS
 */
export function paintedOfEps(bytes: Uint8Array): Omit<FileLines, 'rings' | 'open'> & {
  readonly page: { readonly widthMm: number; readonly heightMm: number };
  readonly painted: readonly (FileLine & { readonly closed: boolean })[];
} {
  const text = new TextDecoder('latin1').decode(bytes);
  if (!text.startsWith('%!PS')) throw new Error('it does not begin like PostScript');
  const box =
    /^%%HiResBoundingBox:\s*([-\d.]+)\s+([-\d.]+)\s+([-\d.]+)\s+([-\d.]+)/m.exec(text) ??
    /^%%BoundingBox:\s*([-\d.]+)\s+([-\d.]+)\s+([-\d.]+)\s+([-\d.]+)/m.exec(text);
  if (!box) throw new Error('it has no bounding box');
  const [x0, y0, x1, y1] = box.slice(1).map(Number) as [number, number, number, number];
  const k = MM_PER_POINT;
  const pen = new Pen();
  let matrix: Affine = [k, 0, 0, k, -x0 * k, -y0 * k];
  const saved: Affine[] = [];
  let stack: number[] = [];
  let start = { x: 0, y: 0 };
  let layer: string | undefined;
  const numbers = (count: number): number[] => stack.slice(-count);
  const body = text.slice(
    Math.max(
      text.indexOf('%%EndProlog'),
      text.indexOf('%%EndPageSetup'),
      text.indexOf('%%EndSetup'),
      0,
    ),
  );
  for (const line of body.split(/\r\n|\r|\n/)) {
    const named = /^% layer (.*)$/.exec(line);
    if (named) layer = named[1];
    for (const word of wordsOf(line)) {
      const value = Number(word);
      if (Number.isFinite(value)) {
        stack.push(value);
        continue;
      }
      if (word === '[' || word === ']') continue;
      const operator = OPERATORS[word] ?? word;
      switch (operator) {
        case 'moveto': {
          const [x, y] = numbers(2) as [number, number];
          start = { x, y };
          pen.moveTo(matrix, x, y);
          break;
        }
        case 'lineto':
          pen.lineTo(matrix, ...(numbers(2) as [number, number]));
          break;
        case 'curveto':
          pen.curveTo(matrix, ...(numbers(6) as [number, number, number, number, number, number]));
          break;
        case 'closepath':
          pen.close(start);
          break;
        case 'stroke':
        case 'closestroke':
        case 'fill':
        case 'eofill':
        case 'f*':
          pen.paint(operator !== 'stroke', layer);
          break;
        case 'newpath':
          pen.drop();
          break;
        case 'gsave':
          saved.push(matrix);
          break;
        case 'grestore':
          matrix = saved.pop() ?? matrix;
          break;
        case 'concat':
          matrix = times(matrix, numbers(6) as unknown as Affine);
          break;
        case 'scale': {
          const [sx, sy] = numbers(2) as [number, number];
          matrix = times(matrix, [sx, 0, 0, sy, 0, 0]);
          break;
        }
        case 'translate': {
          const [tx, ty] = numbers(2) as [number, number];
          matrix = times(matrix, [...(IDENTITY.slice(0, 4) as [1, 0, 0, 1]), tx, ty]);
          break;
        }
      }
      stack = [];
    }
  }
  return {
    format: 'EPS',
    page: { widthMm: (x1 - x0) * k, heightMm: (y1 - y0) * k },
    pages: 1,
    unitLost: false,
    pictures: 0,
    painted: pen.painted,
  };
}

/** What stands in a line besides strings and comments; most lines are a place and an operator, and have neither. */
function wordsOf(line: string): readonly string[] {
  if (/^[-\w. *]*$/.test(line)) return line.split(' ').filter((word) => word !== '');
  const bare = line.replace(/\((?:\\.|[^\\)])*\)/g, ' ').replace(/%.*$/, '');
  return bare.match(/[[\]{}]|[^\s[\]{}]+/g) ?? [];
}

import { XMLParser, XMLValidator } from 'fast-xml-parser';
import svgpath from 'svgpath';
import { MM_PER_INCH } from '../base/measure.ts';
import { times, type Affine } from '../geometry/affine.ts';
import { joined, Pen, type FileLines } from './file-lines.ts';

/** Millimetres of each unit of CSS; a number alone is px, 1/96 inch (CSS Values and Units 3, 6.2). */
const UNIT_MM: Readonly<Record<string, number>> = {
  mm: 1,
  cm: 10,
  in: MM_PER_INCH,
  pt: MM_PER_INCH / 72,
  pc: MM_PER_INCH / 6,
  px: MM_PER_INCH / 96,
  q: 0.25,
};

interface XmlNode {
  readonly [tag: string]: unknown;
}
const tagOf = (node: XmlNode): string => Object.keys(node).find((k) => k !== ':@') ?? '';
const attribute = (node: XmlNode, name: string): string | undefined => {
  const all = node[':@'] as Record<string, unknown> | undefined;
  const value = all?.[`@_${name}`];
  return value === undefined ? undefined : String(value);
};
const childrenOf = (node: XmlNode): XmlNode[] => {
  const inner = node[tagOf(node)];
  return Array.isArray(inner) ? (inner as XmlNode[]) : [];
};

const lengthMm = (text: string | undefined): number | undefined => {
  const found = /^\s*([\d.]+(?:e[+-]?\d+)?)\s*([a-z]*)\s*$/i.exec(text ?? '');
  if (!found) return undefined;
  const unit = UNIT_MM[found[2] === '' ? 'px' : found[2]!.toLowerCase()];
  return unit === undefined ? undefined : Number(found[1]) * unit;
};

/** What is not drawn where it stands. */
const NOT_DRAWN = new Set([
  'defs',
  'clipPath',
  'mask',
  'symbol',
  'marker',
  'pattern',
  'metadata',
  'title',
  'desc',
  'style',
]);

/** The path of a basic shape (SVG 1.1, 9). */
function pathOf(node: XmlNode, tag: string): string | undefined {
  const n = (name: string): number => Number.parseFloat(attribute(node, name) ?? '0') || 0;
  switch (tag) {
    case 'path':
      return attribute(node, 'd');
    case 'rect': {
      const [x, y, w, h] = [n('x'), n('y'), n('width'), n('height')];
      const rx = Math.min(n('rx') || n('ry'), w / 2);
      const ry = Math.min(n('ry') || n('rx'), h / 2);
      return rx > 0
        ? `M${x + rx} ${y}h${w - 2 * rx}a${rx} ${ry} 0 0 1 ${rx} ${ry}v${h - 2 * ry}a${rx} ${ry} 0 0 1 ${-rx} ${ry}h${2 * rx - w}a${rx} ${ry} 0 0 1 ${-rx} ${-ry}v${2 * ry - h}a${rx} ${ry} 0 0 1 ${rx} ${-ry}z`
        : `M${x} ${y}h${w}v${h}h${-w}z`;
    }
    case 'circle':
    case 'ellipse': {
      const rx = n(tag === 'circle' ? 'r' : 'rx');
      const ry = n(tag === 'circle' ? 'r' : 'ry');
      const [x, y] = [n('cx'), n('cy')];
      return `M${x - rx} ${y}a${rx} ${ry} 0 0 1 ${2 * rx} 0a${rx} ${ry} 0 0 1 ${-2 * rx} 0z`;
    }
    case 'line':
      return `M${n('x1')} ${n('y1')}L${n('x2')} ${n('y2')}`;
    case 'polyline':
    case 'polygon':
      return `M${attribute(node, 'points') ?? ''}${tag === 'polygon' ? 'z' : ''}`;
    default:
      return undefined;
  }
}

/** A `transform` attribute as one map, computed by the path library: where it takes three corners. */
function transformOf(text: string | undefined): Affine | undefined {
  if (text === undefined || text.trim() === '') return undefined;
  const out: number[] = [];
  svgpath('M0 0L1 0L0 1')
    .transform(text)
    .abs()
    .iterate((segment) => void out.push(Number(segment[1]), Number(segment[2])));
  const [e, f, x1, y1, x2, y2] = out as [number, number, number, number, number, number];
  return [x1 - e, y1 - f, x2 - e, y2 - f, e, f];
}

/**
 * The lines of any SVG, read with an XML parser and a path parser: paths and basic shapes with all their transforms,
 * `use` included. Transforms in style sheets are not followed.
 *
 * @throws Error when it is not well-formed or has no svg element
 */
export function linesOfSvg(bytes: Uint8Array): FileLines {
  const text = new TextDecoder().decode(bytes);
  const valid = XMLValidator.validate(text);
  if (valid !== true) throw new Error(`it is not well-formed: ${valid.err.msg}`);
  const nodes = new XMLParser({
    ignoreAttributes: false,
    preserveOrder: true,
    parseAttributeValue: false,
    processEntities: true,
  }).parse(text) as XmlNode[];
  const root = nodes.find((node) => tagOf(node) === 'svg');
  if (!root) throw new Error('it has no svg element');

  const box = (attribute(root, 'viewBox') ?? '')
    .trim()
    .split(/[\s,]+/)
    .map(Number);
  const [bx, by, bw, bh] =
    box.length === 4 && box.every(Number.isFinite) && box[2]! > 0 && box[3]! > 0
      ? (box as [number, number, number, number])
      : [0, 0, NaN, NaN];
  const px = UNIT_MM.px!;
  const [saidW, saidH] = [lengthMm(attribute(root, 'width')), lengthMm(attribute(root, 'height'))];
  const unitLost = saidW === undefined && saidH === undefined;
  const widthMm = saidW ?? (saidH !== undefined && bh > 0 ? (saidH * bw) / bh : bw * px);
  const heightMm = saidH ?? (saidW !== undefined && bw > 0 ? (saidW * bh) / bw : bh * px);
  // preserveAspectRatio is "xMidYMid meet" where nothing else is said (SVG 1.1, 7.8).
  const stretch = attribute(root, 'preserveAspectRatio')?.includes('none') === true;
  const [kx, ky] = bw > 0 ? [widthMm / bw, heightMm / bh] : [px, px];
  const k = Math.min(kx, ky);
  const [sx, sy] = stretch ? [kx, ky] : [k, k];
  const left = bw > 0 ? (widthMm - bw * sx) / 2 : 0;
  const top = bw > 0 ? (heightMm - bh * sy) / 2 : 0;
  const toPage: Affine = [sx, 0, 0, -sy, left - bx * sx, heightMm - top + by * sy];

  const byId = new Map<string, XmlNode>();
  const index = (node: XmlNode): void => {
    const id = attribute(node, 'id');
    if (id !== undefined) byId.set(id, node);
    childrenOf(node).forEach(index);
  };
  index(root);

  const pen = new Pen();
  let pictures = 0;
  const draw = (node: XmlNode, above: Affine, group: string | undefined, depth: number): void => {
    const tag = tagOf(node);
    if (tag === '' || NOT_DRAWN.has(tag) || depth > 40) return;
    const style = attribute(node, 'style') ?? '';
    if (attribute(node, 'display') === 'none' || /display\s*:\s*none/.test(style)) return;
    const own = transformOf(attribute(node, 'transform'));
    const m = own ? times(above, own) : above;
    if (tag === 'image') pictures++;
    else if (tag === 'g' || tag === 'svg' || tag === 'a' || tag === 'switch') {
      const name = attribute(node, 'inkscape:label') ?? attribute(node, 'id') ?? group;
      for (const child of childrenOf(node)) draw(child, m, name, depth + 1);
    } else if (tag === 'use') {
      const target = byId.get(
        (attribute(node, 'href') ?? attribute(node, 'xlink:href') ?? '').slice(1),
      );
      const x = Number.parseFloat(attribute(node, 'x') ?? '0') || 0;
      const y = Number.parseFloat(attribute(node, 'y') ?? '0') || 0;
      if (!target) return;
      const moved = times(m, [1, 0, 0, 1, x, y]);
      if (tagOf(target) === 'symbol')
        for (const child of childrenOf(target)) draw(child, moved, group, depth + 1);
      else draw(target, moved, group, depth + 1);
    } else {
      const d = pathOf(node, tag);
      if (d !== undefined) trace(pen, d, m);
      pen.paint(false, group);
    }
  };
  for (const child of childrenOf(root)) draw(child, toPage, undefined, 0);
  return {
    format: 'SVG',
    page: { widthMm, heightMm },
    pages: 1,
    unitLost,
    pictures,
    ...joined(pen.painted),
  };
}

function trace(pen: Pen, d: string, m: Affine): void {
  let start = { x: 0, y: 0 };
  let at = { x: 0, y: 0 };
  let fresh = false;
  // After Z the next command goes on from where the path began.
  const begin = (): void => {
    if (fresh) pen.moveTo(m, at.x, at.y);
    fresh = false;
  };
  svgpath(d)
    .abs()
    .unshort()
    .unarc()
    .iterate((segment) => {
      const [command, ...n] = segment as [string, ...number[]];
      if (command === 'M') {
        start = { x: n[0]!, y: n[1]! };
        pen.moveTo(m, start.x, start.y);
        [at, fresh] = [start, false];
        return;
      }
      if (command.toUpperCase() === 'Z') {
        pen.close(start);
        [at, fresh] = [start, true];
        return;
      }
      begin();
      let to = { x: n[n.length - 2]!, y: n[n.length - 1]! };
      if (command === 'H') to = { x: n[0]!, y: at.y };
      if (command === 'V') to = { x: at.x, y: n[0]! };
      if (command === 'C') pen.curveTo(m, n[0]!, n[1]!, n[2]!, n[3]!, n[4]!, n[5]!);
      else if (command === 'Q') {
        const [qx, qy] = [n[0]!, n[1]!];
        const third = (a: number, b: number): number => a + (2 / 3) * (b - a);
        pen.curveTo(
          m,
          third(at.x, qx),
          third(at.y, qy),
          third(to.x, qx),
          third(to.y, qy),
          to.x,
          to.y,
        );
      } else pen.lineTo(m, to.x, to.y);
      at = to;
    });
}

import { Refusal } from '../base/reason.ts';
import { judgeCodePoints, view, type Header } from './header.ts';

/** Boxes nest, properties and items are listed; more than this is no picture. */
const MOST_ENTRIES = 20_000;

interface Box {
  readonly type: string;
  readonly from: number;
  readonly to: number;
}

/** Quarter turns anticlockwise (irot) as EXIF orientations: none, 90, 180, 270 degrees. */
const TURNS = [1, 8, 3, 6] as const;
/**
 * Walks the boxes of a HEIC or AVIF without decoding it: size, depth, turns and EXIF of its primary item.
 * What turns the picture are the properties irot and imir; the EXIF orientation repeats them and is not to be used.
 *
 * @throws Refusal `picture-truncated`, `picture-damaged`, `picture-animated`, `picture-hdr`
 * Source: ISO/IEC 14496-12 (boxes, meta, iloc, iinf), ISO/IEC 23008-12 (ispe, pixi, irot, imir, Exif item), from memory;
 * held against libheif's own example files.
 */
export function readHeif(bytes: Uint8Array, name: string): Header {
  const data = view(bytes);
  const damaged = (what: string): never => {
    throw new Refusal('picture-damaged', { name, what });
  };
  const truncated = (): never => {
    throw new Refusal('picture-truncated', { name, bytes: bytes.length });
  };

  /** The boxes between two places; a box that runs past `to` is cut off at the end of the file, damaged elsewhere. */
  const boxes = (from: number, to: number): Box[] => {
    const found: Box[] = [];
    for (let at = from; at + 8 <= to;) {
      if (found.length > MOST_ENTRIES) damaged('it has too many parts');
      let length = data.getUint32(at);
      const type = String.fromCharCode(...bytes.subarray(at + 4, at + 8));
      let head = 8;
      if (length === 1) {
        if (at + 16 > to) truncated();
        length = Number(data.getBigUint64(at + 8));
        head = 16;
      } else if (length === 0) length = to - at;
      if (length < head) damaged(`its ${printable(type)} box has a length of ${length}`);
      if (at + length > to) {
        if (to === bytes.length) truncated();
        damaged(`its ${printable(type)} box runs past the box around it`);
      }
      found.push({ type, from: at + head, to: at + length });
      at += length;
    }
    return found;
  };
  const named = (all: readonly Box[], type: string): Box | undefined =>
    all.find((box) => box.type === type);
  /** Reads fields one after another, never past the box. */
  const reader = (box: Box) => {
    let at = box.from;
    const take = (size: number): number => {
      if (at + size > box.to) damaged(`its ${printable(box.type)} box is too short`);
      at += size;
      return at - size;
    };
    const uint = (size: number): number => {
      if (size === 0) return 0;
      const place = take(size);
      if (size === 1) return bytes[place]!;
      if (size === 2) return data.getUint16(place);
      if (size === 4) return data.getUint32(place);
      if (size === 8) return Number(data.getBigUint64(place));
      return damaged(`its ${printable(box.type)} box has fields of ${size} bytes`);
    };
    return { uint, at: () => at, left: () => box.to - at };
  };

  const top = boxes(0, bytes.length);
  const meta = named(top, 'meta');
  if (!meta) {
    if (named(top, 'moov')) throw new Refusal('picture-animated', { name });
    return top.length < 2 ? truncated() : damaged('it has no list of its pictures');
  }
  const inside = boxes(meta.from + 4, meta.to);

  const pitm =
    named(inside, 'pitm') ?? damaged('it does not say which of its pictures is the main one');
  const primary = (() => {
    const r = reader(pitm);
    const version = r.uint(4) >>> 24;
    return r.uint(version === 0 ? 2 : 4);
  })();

  const properties = (() => {
    const iprp = named(inside, 'iprp') ?? damaged('it does not tell the size of its pictures');
    const parts = boxes(iprp.from, iprp.to);
    const ipco = named(parts, 'ipco') ?? damaged('it does not tell the size of its pictures');
    const all = boxes(ipco.from, ipco.to);
    const mine: Box[] = [];
    for (const ipma of parts.filter((box) => box.type === 'ipma')) {
      const r = reader(ipma);
      const head = r.uint(4);
      const [version, flags] = [head >>> 24, head & 0xffffff];
      const items = r.uint(4);
      if (items > MOST_ENTRIES) damaged(`it lists ${items} pictures`);
      for (let k = 0; k < items; k++) {
        const item = r.uint(version < 1 ? 2 : 4);
        for (let left = r.uint(1); left > 0; left--) {
          const index = flags & 1 ? r.uint(2) & 0x7fff : r.uint(1) & 0x7f;
          const property = all[index - 1];
          if (item === primary && property) mine.push(property);
        }
      }
    }
    return mine;
  })();

  let widthPx = 0;
  let heightPx = 0;
  let bits = 8;
  let orientation = 1;
  let profiled = false;
  let nclx: { primaries: number; transfer: number } | undefined;
  for (const box of properties) {
    const r = reader(box);
    if (box.type === 'ispe') {
      r.uint(4);
      widthPx = r.uint(4);
      heightPx = r.uint(4);
    } else if (box.type === 'clap') {
      // A cut in whole pixels: width and height as fractions.
      const [wn, wd, hn, hd] = [r.uint(4), r.uint(4), r.uint(4), r.uint(4)];
      if (wd > 0 && hd > 0) {
        widthPx = Math.round(wn / wd);
        heightPx = Math.round(hn / hd);
      }
    } else if (box.type === 'pixi') {
      r.uint(4);
      if (r.uint(1) > 0) bits = r.uint(1);
    } else if (box.type === 'irot') {
      orientation = turned(orientation, TURNS[r.uint(1) & 3]!);
    } else if (box.type === 'imir') {
      // 0 exchanges top and bottom, 1 left and right.
      orientation = turned(orientation, (r.uint(1) & 1) === 0 ? 4 : 2);
    } else if (box.type === 'colr') {
      const type = String.fromCharCode(r.uint(1), r.uint(1), r.uint(1), r.uint(1));
      if (type === 'nclx') nclx = { primaries: r.uint(2), transfer: r.uint(2) };
      else if (type === 'prof' || type === 'rICC') profiled = true;
    }
  }
  const reasons = nclx ? judgeCodePoints(nclx.primaries, nclx.transfer, name) : [];

  const locations = (() => {
    const found = new Map<number, { method: number; extents: { at: number; length: number }[] }>();
    const iloc = named(inside, 'iloc') ?? damaged('it does not say where its pictures are');
    const r = reader(iloc);
    const version = r.uint(4) >>> 24;
    const sizes = r.uint(2);
    const [offset, length, base] = [(sizes >> 12) & 15, (sizes >> 8) & 15, (sizes >> 4) & 15];
    const index = version > 0 ? sizes & 15 : 0;
    const items = r.uint(version < 2 ? 2 : 4);
    if (items > MOST_ENTRIES) damaged(`it lists ${items} pictures`);
    for (let k = 0; k < items; k++) {
      const id = r.uint(version < 2 ? 2 : 4);
      const method = version > 0 ? r.uint(2) & 15 : 0;
      r.uint(2);
      const from = r.uint(base);
      const extents: { at: number; length: number }[] = [];
      for (let left = r.uint(2); left > 0; left--) {
        r.uint(index);
        const at = from + r.uint(offset);
        extents.push({ at, length: r.uint(length) });
      }
      found.set(id, { method, extents });
    }
    return found;
  })();
  for (const { method, extents } of locations.values())
    if (method === 0)
      for (const { at, length } of extents) if (at + length > bytes.length) truncated();

  const exif = exifItem();
  function exifItem(): Uint8Array | undefined {
    const iinf = named(inside, 'iinf');
    if (!iinf) return undefined;
    const r = reader(iinf);
    const version = r.uint(4) >>> 24;
    r.uint(version === 0 ? 2 : 4);
    for (const infe of boxes(r.at(), iinf.to)) {
      if (infe.type !== 'infe') continue;
      const e = reader(infe);
      const v = e.uint(4) >>> 24;
      if (v < 2) continue;
      const id = e.uint(v === 2 ? 2 : 4);
      e.uint(2);
      const type = String.fromCharCode(e.uint(1), e.uint(1), e.uint(1), e.uint(1));
      const place = locations.get(id);
      if (type !== 'Exif' || place?.method !== 0 || place.extents.length !== 1) continue;
      const { at, length } = place.extents[0]!;
      if (length < 4) return new Uint8Array(0);
      // The item begins with the distance from there to the TIFF header.
      const skip = data.getUint32(at);
      return bytes.subarray(Math.min(at + 4 + skip, at + length), at + length);
    }
    return undefined;
  }

  return {
    widthPx,
    heightPx,
    bits,
    orientation,
    ...(exif && { exif }),
    reasons: profiled ? [] : reasons,
  };
}

/** The orientation that first does `first` and then `second` (rotations of 1, 3, 6, 8 or the mirrors 2 and 4). */
function turned(first: number, second: number): number {
  const matrix: Readonly<Record<number, readonly [number, number, number, number]>> = {
    1: [1, 0, 0, 1],
    2: [-1, 0, 0, 1],
    3: [-1, 0, 0, -1],
    4: [1, 0, 0, -1],
    5: [0, 1, 1, 0],
    6: [0, -1, 1, 0],
    7: [0, -1, -1, 0],
    8: [0, 1, -1, 0],
  };
  const [a, b, c, d] = matrix[second]!;
  const [e, f, g, h] = matrix[first]!;
  const both = [a * e + b * g, a * f + b * h, c * e + d * g, c * f + d * h].map((v) => v + 0);
  const found = Object.entries(matrix).find(([, m]) => m.every((v, k) => v === both[k]));
  return Number(found![0]);
}

const printable = (type: string): string => type.replaceAll(/[^ -~]/g, '?');

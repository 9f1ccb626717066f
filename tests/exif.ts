/** What an EXIF block for a test says; rationals as [numerator, denominator]. */
export interface ExifFacts {
  make?: string;
  model?: string;
  lens?: string;
  orientation?: number;
  focalLength?: readonly [number, number];
  focalLength35?: number;
  width?: number;
  height?: number;
  planeX?: readonly [number, number];
  planeUnit?: number;
  zoom?: readonly [number, number];
  rendered?: number;
}

type Entry = { tag: number } & (
  { short: number } | { long: number } | { ascii: string } | { rational: readonly [number, number] }
);

/**
 * An EXIF block as TIFF bytes, little-endian: IFD0 and the Exif IFD.
 * Source: TIFF 6.0, section 2 (directory entries); CIPA DC-008, 4.6 (tag numbers).
 */
export function tiffBlock(facts: ExifFacts): Uint8Array {
  const ifd0: Entry[] = [];
  const exif: Entry[] = [];
  if (facts.make) ifd0.push({ tag: 0x010f, ascii: facts.make });
  if (facts.model) ifd0.push({ tag: 0x0110, ascii: facts.model });
  if (facts.orientation !== undefined) ifd0.push({ tag: 0x0112, short: facts.orientation });
  if (facts.focalLength) exif.push({ tag: 0x920a, rational: facts.focalLength });
  if (facts.width !== undefined) exif.push({ tag: 0xa002, long: facts.width });
  if (facts.height !== undefined) exif.push({ tag: 0xa003, long: facts.height });
  if (facts.planeX) exif.push({ tag: 0xa20e, rational: facts.planeX });
  if (facts.planeUnit !== undefined) exif.push({ tag: 0xa210, short: facts.planeUnit });
  if (facts.rendered !== undefined) exif.push({ tag: 0xa401, short: facts.rendered });
  if (facts.zoom) exif.push({ tag: 0xa404, rational: facts.zoom });
  if (facts.focalLength35 !== undefined) exif.push({ tag: 0xa405, short: facts.focalLength35 });
  if (facts.lens) exif.push({ tag: 0xa434, ascii: facts.lens });

  const sizeOf = (count: number): number => 2 + 12 * count + 4;
  const exifAt = 8 + sizeOf(ifd0.length + 1);
  let free = exifAt + sizeOf(exif.length);
  const out = new DataView(new ArrayBuffer(4096));
  out.setUint16(0, 0x4949);
  out.setUint16(2, 42, true);
  out.setUint32(4, 8, true);

  const write = (at: number, entries: readonly Entry[]): void => {
    out.setUint16(at, entries.length, true);
    entries.forEach((entry, k) => {
      const e = at + 2 + 12 * k;
      out.setUint16(e, entry.tag, true);
      const head = (type: number, count: number): void => {
        out.setUint16(e + 2, type, true);
        out.setUint32(e + 4, count, true);
      };
      if ('short' in entry) {
        head(3, 1);
        out.setUint16(e + 8, entry.short, true);
      } else if ('long' in entry) {
        head(4, 1);
        out.setUint32(e + 8, entry.long, true);
      } else if ('rational' in entry) {
        head(5, 1);
        out.setUint32(e + 8, free, true);
        out.setUint32(free, entry.rational[0], true);
        out.setUint32(free + 4, entry.rational[1], true);
        free += 8;
      } else {
        const text = `${entry.ascii}\0`.padEnd(5, '\0');
        head(2, text.length);
        out.setUint32(e + 8, free, true);
        for (const c of text) out.setUint8(free++, c.charCodeAt(0));
        free += free & 1;
      }
    });
  };
  write(8, [...ifd0, { tag: 0x8769, long: exifAt }]);
  write(exifAt, exif);
  return new Uint8Array(out.buffer, 0, free);
}

/** A JPEG with an EXIF block put right after its SOI. */
export function withExif(jpeg: Uint8Array, tiff: Uint8Array): Uint8Array {
  const length = 2 + 6 + tiff.length;
  const head = [0xff, 0xd8, 0xff, 0xe1, length >> 8, length & 0xff, 0x45, 0x78, 0x69, 0x66, 0, 0];
  return new Uint8Array([...head, ...tiff, ...jpeg.subarray(2)]);
}

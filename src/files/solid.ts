import { XMLParser } from 'fast-xml-parser';
import { strFromU8, strToU8, unzipSync, zipSync } from 'fflate';
import { extentOf, openEdges, volumeOf, type Solid } from '../geometry/solid.ts';
import { fault, READ_BACK_MM, type Proof } from './read-back.ts';

/** A body as its files say it: three corners of each triangle, mm. */
interface Facets {
  readonly solid: Solid;
}

/** Binary STL: 80 bytes of words, the number of triangles, and for each normal and corners, 32 bits a figure. It has no unit; this one is mm. */
export function stl({ corners, triangles }: Solid, words: string): Uint8Array {
  const count = triangles.length / 3;
  const bytes = new Uint8Array(84 + 50 * count);
  const view = new DataView(bytes.buffer);
  // A header that begins with "solid" would be taken for the format in letters.
  bytes.set(strToU8(`mm. ${words}`.slice(0, 80), true));
  view.setUint32(80, count, true);
  for (let t = 0; t < count; t++) {
    const at = 84 + 50 * t;
    const v = [0, 1, 2].map((i) => {
      const c = 3 * triangles[3 * t + i]!;
      return [corners[c]!, corners[c + 1]!, corners[c + 2]!] as const;
    });
    const [a, b, c] = v as [
      readonly [number, number, number],
      readonly [number, number, number],
      readonly [number, number, number],
    ];
    const [u, w] = [
      [b[0] - a[0], b[1] - a[1], b[2] - a[2]],
      [c[0] - a[0], c[1] - a[1], c[2] - a[2]],
    ] as [number[], number[]];
    const normal = [
      u[1]! * w[2]! - u[2]! * w[1]!,
      u[2]! * w[0]! - u[0]! * w[2]!,
      u[0]! * w[1]! - u[1]! * w[0]!,
    ];
    const size = Math.hypot(...normal) || 1;
    [...normal.map((n) => n / size), ...a, ...b, ...c].forEach((f, k) =>
      view.setFloat32(at + 4 * k, f, true),
    );
  }
  return bytes;
}

/** 3MF (core specification 1.4): a zip of three XML parts, unit millimetre. */
export function threeMf({ corners, triangles }: Solid, words: string): Uint8Array {
  const vertices: string[] = [];
  for (let k = 0; k < corners.length; k += 3)
    vertices.push(
      `<vertex x="${corners[k]!.toFixed(5)}" y="${corners[k + 1]!.toFixed(5)}" z="${corners[k + 2]!.toFixed(5)}"/>`,
    );
  const facets: string[] = [];
  for (let k = 0; k < triangles.length; k += 3)
    facets.push(
      `<triangle v1="${triangles[k]}" v2="${triangles[k + 1]}" v3="${triangles[k + 2]}"/>`,
    );
  const text = words.replace(/[<>&"]/g, ' ');
  const head = '<?xml version="1.0" encoding="UTF-8"?>\n';
  const parts = {
    '[Content_Types].xml': `${head}<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>`,
    '_rels/.rels': `${head}<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Target="/3D/3dmodel.model" Id="rel0" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>`,
    '3D/3dmodel.model': `${head}<model unit="millimeter" xml:lang="en-US" xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"><metadata name="Title">${text}</metadata><resources><object id="1" type="model"><mesh><vertices>${vertices.join('')}</vertices><triangles>${facets.join('')}</triangles></mesh></object></resources><build><item objectid="1"/></build></model>`,
  };
  // The same body is the same file, byte for byte.
  return zipSync(
    Object.fromEntries(
      Object.entries(parts).map(([name, words]) => [
        name,
        [strToU8(words), { mtime: '1980-01-01T00:00:00' }],
      ]),
    ),
    { level: 6 },
  );
}

/** Corners that are the same become one: the format says each triangle by itself. */
function seeStl(bytes: Uint8Array): Facets {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const count = view.getUint32(80, true);
  if (bytes.length !== 84 + 50 * count) throw new Error('STL: its length is not what it says');
  const corners: number[] = [];
  const triangles = new Uint32Array(3 * count);
  const known = new Map<string, number>();
  for (let t = 0; t < count; t++)
    for (let i = 0; i < 3; i++) {
      const at = 84 + 50 * t + 12 + 12 * i;
      const p = [0, 4, 8].map((k) => view.getFloat32(at + k, true));
      const key = p.join(' ');
      let index = known.get(key);
      if (index === undefined) {
        index = corners.length / 3;
        known.set(key, index);
        corners.push(...p);
      }
      triangles[3 * t + i] = index;
    }
  return { solid: { corners: Float64Array.from(corners), triangles } };
}

interface Model {
  readonly model: {
    readonly unit: string;
    readonly resources: {
      readonly object: {
        readonly mesh: {
          readonly vertices: { readonly vertex: readonly Record<'x' | 'y' | 'z', string>[] };
          readonly triangles: { readonly triangle: readonly Record<'v1' | 'v2' | 'v3', string>[] };
        };
      };
    };
  };
}

function seeThreeMf(bytes: Uint8Array, file: string): Facets {
  const part = unzipSync(bytes)['3D/3dmodel.model'];
  if (!part) throw fault(file, 'it holds no model');
  const parser = new XMLParser({ ignoreAttributes: false, attributeNamePrefix: '' });
  const { model } = parser.parse(strFromU8(part)) as Model;
  if (model.unit !== 'millimeter') throw fault(file, `its unit is ${model.unit}`);
  const { vertices, triangles } = model.resources.object.mesh;
  return {
    solid: {
      corners: Float64Array.from(
        vertices.vertex.flatMap(({ x, y, z }) => [Number(x), Number(y), Number(z)]),
      ),
      triangles: Uint32Array.from(
        triangles.triangle.flatMap(({ v1, v2, v3 }) => [Number(v1), Number(v2), Number(v3)]),
      ),
    },
  };
}

/** Rounding of the volume to the formats' figures, as a share of it. */
const VOLUME_SHARE = 1e-4;

/**
 * Holds a body that was read back against the one that was written: extent, volume, number of triangles, and that it is closed.
 *
 * @throws Error (a fault of the program) where it differs
 */
export function proveSolid(file: string, bytes: Uint8Array, solid: Solid): Proof {
  const isStl = file.endsWith('.stl');
  const seen = (isStl ? seeStl(bytes) : seeThreeMf(bytes, file)).solid;
  if (seen.triangles.length !== solid.triangles.length)
    throw fault(
      file,
      `it has ${seen.triangles.length / 3} triangles, not ${solid.triangles.length / 3}`,
    );
  const open = openEdges(seen);
  if (open > 0) throw fault(file, `${open} of its edges are open`);
  const [is, shall] = [volumeOf(seen), volumeOf(solid)];
  if (!(shall > 0 && Math.abs(is / shall - 1) < VOLUME_SHARE))
    throw fault(file, `its volume is ${is} mm³, not ${shall}`);
  const [a, b] = [extentOf(seen), extentOf(solid)];
  let greatestMm = 0;
  for (const side of ['least', 'most'] as const)
    for (const axis of [0, 1, 2] as const)
      greatestMm = Math.max(greatestMm, Math.abs(a[side][axis] - b[side][axis]));
  if (greatestMm > READ_BACK_MM) throw fault(file, `its extent is off by ${greatestMm} mm`);
  return { file, reader: isStl ? 'own' : 'fast-xml-parser', pockets: 1, greatestMm };
}

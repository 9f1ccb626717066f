import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { PDFDict, PDFDocument, PDFName, PDFString } from '@cantoo/pdf-lib';

/** Programs that share no code with ours; what is missing is said by the tests that need it. */
const has = (command: string, ...args: string[]): boolean =>
  spawnSync(command, args, { stdio: 'ignore' }).status === 0;
export const PROGRAMS = {
  Ghostscript: has('gs', '--version'),
  poppler: has('pdftocairo', '-v'),
  librsvg: has('rsvg-convert', '--version'),
  ezdxf: has('/usr/bin/python3', '-c', 'import ezdxf'),
} as const;
export type Program = keyof typeof PROGRAMS;

/** Runs a program from one file to another in a folder of its own. */
export function through(
  bytes: Uint8Array,
  [from, to]: readonly [string, string],
  run: (input: string, output: string) => readonly [string, ...string[]],
): Uint8Array {
  const folder = mkdtempSync(join(tmpdir(), 'snugline-'));
  try {
    const [input, output] = [join(folder, from), join(folder, to)];
    writeFileSync(input, bytes);
    const [command, ...args] = run(input, output);
    execFileSync(command, args, { stdio: ['ignore', 'ignore', 'pipe'] });
    return new Uint8Array(readFileSync(output));
  } finally {
    rmSync(folder, { recursive: true });
  }
}

export const byGhostscript = (bytes: Uint8Array, ...more: string[]): Uint8Array =>
  through(bytes, ['in.pdf', 'out.pdf'], (i, o) => [
    'gs',
    '-q',
    '-dBATCH',
    '-dNOPAUSE',
    '-sDEVICE=pdfwrite',
    `-sOutputFile=${o}`,
    ...more,
    i,
  ]);
export const byCairo = (
  bytes: Uint8Array,
  kind: 'pdf' | 'svg' | 'eps' | 'ps',
  ...more: string[]
): Uint8Array =>
  through(bytes, ['in.pdf', `out.${kind}`], (i, o) => ['pdftocairo', `-${kind}`, ...more, i, o]);
export const byRsvg = (bytes: Uint8Array, kind: 'pdf' | 'svg', ...more: string[]): Uint8Array =>
  through(bytes, ['in.svg', `out.${kind}`], (i, o) => [
    'rsvg-convert',
    '-f',
    kind,
    ...more,
    '-o',
    o,
    i,
  ]);
/** `program` changes the document `d`, of which `m` is the model space. */
export const byEzdxf = (bytes: Uint8Array, program: string): Uint8Array =>
  through(bytes, ['in.dxf', 'out.dxf'], (i, o) => [
    '/usr/bin/python3',
    '-c',
    `import ezdxf\nfrom ezdxf.math import Matrix44\nd = ezdxf.readfile(${JSON.stringify(i)})\nm = d.modelspace()\n${program}\nd.saveas(${JSON.stringify(o)})`,
  ]);

export const text = (bytes: Uint8Array): string => new TextDecoder().decode(bytes);
export const bytesOf = (words: string): Uint8Array => new TextEncoder().encode(words);

/** A PDF's only page drawn anew on a page of another size, mapped by a matrix in mm (by pdf-lib, as a form). */
export async function redrawn(
  bytes: Uint8Array,
  page: readonly [number, number],
  { a = 1, b = 0, c = 0, d = 1, e = 0, f = 0 },
): Promise<Uint8Array> {
  const k = 72 / 25.4;
  const doc = await PDFDocument.create();
  const [form] = await doc.embedPdf(bytes);
  const sheet = doc.addPage([page[0] * k, page[1] * k]);
  const name = sheet.node.newXObject('X', form!.ref).toString();
  const content = `q ${a} ${b} ${c} ${d} ${e * k} ${f * k} cm ${name} Do Q`;
  sheet.node.addContentStream(doc.context.register(doc.context.stream(content)));
  return doc.save({ useObjectStreams: false });
}

/** An SVG's contents in a group with a transform. */
export const grouped = (bytes: Uint8Array, transform: string): Uint8Array =>
  bytesOf(
    text(bytes)
      .replace(/(<svg[^>]*>)/, `$1<g transform="${transform}">`)
      .replace('</svg>', '</g></svg>'),
  );

/**
 * The same file without a word of ours: titles, notes, comments, job number and digest gone, and every layer and line that has a
 * name has another one, "n1", "n2", ... What is drawn stays as it is.
 */
export async function nameless(bytes: Uint8Array): Promise<Uint8Array> {
  const head = text(bytes.subarray(0, 1024));
  const names = new Map<string, string>();
  const other = (name: string): string => {
    if (!names.has(name)) names.set(name, `n${names.size + 1}`);
    return names.get(name)!;
  };
  if (head.includes('%PDF-')) {
    const doc = await PDFDocument.load(bytes, { updateMetadata: false });
    delete (doc.context.trailerInfo as { Info?: unknown }).Info;
    doc.catalog.delete(PDFName.of('Metadata'));
    for (const [, object] of doc.context.enumerateIndirectObjects())
      if (object instanceof PDFDict && object.get(PDFName.of('Type')) === PDFName.of('OCG'))
        object.set(PDFName.of('Name'), PDFString.of(other(String(names.size))));
    return doc.save({ useObjectStreams: false });
  }
  if (head.startsWith('%!PS'))
    return bytesOf(text(bytes).replace(/^%%(Title|Creator|CreationDate|For)[^\n]*\n/gm, ''));
  if (/<svg[\s>]/.test(head))
    return bytesOf(
      text(bytes)
        .replace(/<(title|desc|metadata)>[\s\S]*?<\/\1>/g, '')
        .replace(/ aria-label="[^"]*"/g, '')
        .replace(/ (id|[a-z]+:label)="([^"]*)"/g, (_, key: string, name: string) =>
          key === 'id' ? ` id="${other(name)}"` : '',
        )
        .replace(
          /(href="|url\()#([^")]+)/g,
          (_, how: string, name: string) => `${how}#${other(name)}`,
        ),
    );
  // DXF: comments (999), and the layer (8) of every entity with its entry in the table of layers (2 after AcDbLayerTableRecord or 0 LAYER).
  return bytesOf(
    text(bytes)
      .replace(/^ *999\r?\n[^\n]*\n/gm, '')
      .replace(
        /(\n *8\r?\n)([^\r\n]+)/g,
        (_, code: string, name: string) => `${code}${other(name)}`,
      )
      .replace(
        /(\n *0\r?\nLAYER\r?\n(?: *(?:5|330|100|102|360)\r?\n[^\n]*\n)* *2\r?\n)([^\r\n]+)/g,
        (_, code: string, name: string) => `${code}${other(name)}`,
      ),
  );
}

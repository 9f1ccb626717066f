import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import sharp from 'sharp';
import { afterAll, describe, expect, it } from 'vitest';
import { Refusal } from '../../src/base/reason.ts';
import { readArt } from '../../src/files/art.ts';
import { loadPdfjs } from '../../src/files/load-pdfjs-node.ts';
import { resolveSvg } from '../../src/files/load-svg-node.ts';
import { decodeWithMagick } from '../../src/picture/magick-node.ts';

const has = (command: string, ...args: string[]): boolean =>
  spawnSync(command, args, { stdio: 'ignore' }).status === 0;
const drawn = has('rsvg-convert', '--version') && has('pdftocairo', '-v');
if (!drawn) console.log('left out: SVG artwork drawn by librsvg and poppler, not both installed');

const folder = mkdtempSync(join(tmpdir(), 'snugline-'));
afterAll(() => rmSync(folder, { recursive: true }));
const path = (name: string): string => join(folder, name);
const tools = { pdfjs: await loadPdfjs(), decode: decodeWithMagick, resolveSvg };
const read = (svg: string) => readArt(new TextEncoder().encode(svg), 'a.svg', tools);

const page = (inner: string, attributes = 'width="80mm" height="50mm" viewBox="0 0 160 100"') =>
  `<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" ${attributes}>${inner}</svg>`;

const PIXELS = sharp({
  create: { width: 4, height: 4, channels: 4, background: { r: 200, g: 30, b: 60, alpha: 0.6 } },
})
  .png()
  .toBuffer()
  .then((b) => `data:image/png;base64,${b.toString('base64')}`);

const CASES: readonly (readonly [string, string | (() => Promise<string>)])[] = [
  [
    'shapes, a style sheet, use, nested views, strokes and dashes',
    `<style>.a{fill:#c02040;stroke:#101010;stroke-width:3}.b{fill:none;stroke:#2040c0;stroke-width:5}</style>
     <defs><g id="star"><polygon points="20,2 25,15 39,15 28,24 32,38 20,30 8,38 12,24 1,15 15,15" fill-rule="evenodd"/></g></defs>
     <rect class="a" x="5" y="5" width="40" height="25" rx="6"/><circle cx="70" cy="20" r="15" fill="rgb(20,160,90)"/>
     <ellipse class="b" cx="110" cy="20" rx="20" ry="10" stroke-dasharray="8 4"/>
     <path class="b" d="M10 60 Q30 40 50 60 T90 60 A12 8 30 0 1 110 80" stroke-linecap="round" stroke-linejoin="bevel"/>
     <use xlink:href="#star" x="115" y="45" fill="#e0a000" transform="rotate(12 135 65)"/>
     <svg x="5" y="70" width="30" height="25" viewBox="0 0 10 10" preserveAspectRatio="xMidYMid meet"><path d="M0 0h10v10h-10zM3 3h4v4h-4z" fill-rule="evenodd" fill="#803090"/></svg>`,
  ],
  [
    'gradients in shares and in units, turned, fading',
    `<defs><linearGradient id="l"><stop offset="0" stop-color="#f02020"/><stop offset=".5" stop-color="#20c040"/><stop offset="1" stop-color="#2030e0"/></linearGradient>
     <radialGradient id="r" gradientUnits="userSpaceOnUse" cx="115" cy="30" r="30" fx="105" fy="25" gradientTransform="rotate(10)"><stop offset="0" stop-color="#fff"/><stop offset="1" stop-color="#d02090"/></radialGradient>
     <linearGradient id="f" x1="0" x2="1" y1="0" y2="1"><stop offset="0" stop-color="#104080"/><stop offset="1" stop-color="#104080" stop-opacity="0"/></linearGradient></defs>
     <rect x="5" y="5" width="60" height="40" fill="url(#l)"/><circle cx="115" cy="30" r="25" fill="url(#r)"/>
     <rect x="10" y="55" width="60" height="40" fill="url(#f)"/><path d="M90 60h50v30" fill="none" stroke="url(#l)" stroke-width="9"/>`,
  ],
  [
    'clips of one shape, of several that overlap, and one inside the other',
    `<defs><clipPath id="one"><circle cx="30" cy="25" r="20"/></clipPath>
     <clipPath id="two"><circle cx="90" cy="25" r="18"/><rect x="90" y="20" width="40" height="12"/></clipPath>
     <clipPath id="in"><circle cx="40" cy="75" r="20"/></clipPath><clipPath id="band"><rect x="0" y="65" width="160" height="20"/></clipPath></defs>
     <rect width="60" height="50" fill="#a03030" clip-path="url(#one)"/><rect x="60" width="90" height="50" fill="#3050a0" clip-path="url(#two)"/>
     <g clip-path="url(#band)"><rect y="50" width="80" height="50" fill="#208040" clip-path="url(#in)"/></g>`,
  ],
  [
    'opacity, a mask that fades, multiplied colours',
    `<defs><linearGradient id="g"><stop offset="0" stop-color="#fff"/><stop offset="1" stop-color="#000"/></linearGradient>
     <mask id="m"><rect x="80" y="10" width="70" height="80" fill="url(#g)"/></mask></defs>
     <g opacity=".5"><rect x="10" y="10" width="40" height="40" fill="#d03020"/><rect x="30" y="30" width="40" height="40" fill="#2030d0"/></g>
     <rect x="80" y="10" width="70" height="80" fill="#107050" mask="url(#m)"/>
     <rect x="20" y="60" width="40" height="30" fill="#e0c020" style="mix-blend-mode:multiply"/>`,
  ],
  [
    'a pattern, and a picture of pixels',
    async () =>
      `<defs><pattern id="p" width="10" height="10" patternUnits="userSpaceOnUse" patternTransform="rotate(20)"><rect width="10" height="10" fill="#f4e8d0"/><circle cx="5" cy="5" r="3" fill="#b04020"/></pattern></defs>
     <rect x="5" y="5" width="70" height="90" fill="url(#p)"/><image x="90" y="20" width="50" height="60" xlink:href="${await PIXELS}" image-rendering="optimizeSpeed"/>`,
  ],
];

describe.runIf(drawn)('SVG artwork as poppler draws it is SVG artwork as librsvg draws it', () => {
  it.each(CASES)('%s', async (name, inner) => {
    const svg = page(typeof inner === 'string' ? inner : await inner());
    const art = await read(svg);
    const [sheet] = art.sheets;
    expect(sheet!.kind).toBe('SVG');
    expect(sheet!.widthMm).toBeCloseTo(80, 3);
    expect(sheet!.heightMm).toBeCloseTo(50, 3);
    writeFileSync(path('a.svg'), svg);
    writeFileSync(path('a.pdf'), art.pdf);
    const DPI = 254;
    execFileSync('rsvg-convert', [
      `--dpi-x=${DPI}`,
      `--dpi-y=${DPI}`,
      '-o',
      path('a.png'),
      path('a.svg'),
    ]);
    execFileSync('pdftocairo', [
      '-png',
      '-singlefile',
      '-r',
      String(DPI),
      path('a.pdf'),
      path('b'),
    ]);
    const pixels = (file: string) =>
      sharp(path(file)).flatten({ background: '#fff' }).raw().toBuffer({ resolveWithObject: true });
    const [a, b] = await Promise.all([pixels('a.png'), pixels('b.png')]);
    expect([a.info.width, a.info.height]).toEqual([800, 500]);
    // The size is held in 32 bits: a page that ends a hair past a pixel gets one more, below.
    expect([b.info.width - 800, b.info.height - 500].every((n) => n === 0 || n === 1)).toBe(true);
    let [sum, far, all] = [0, 0, 0];
    for (let y = 0; y < 500; y++)
      for (let x = 0; x < 800 * 3; x++) {
        const off = Math.abs(a.data[y * 2400 + x]! - b.data[y * 3 * b.info.width + x]!);
        sum += off;
        all++;
        if (off > 40) far++;
      }
    // Edges are smoothed each in its own way: a pixel wide.
    expect(sum / all, name).toBeLessThan(1.5);
    expect(far / all, name).toBeLessThan(0.012);
    // Nothing of it has become pixels but what was pixels.
    const images = execFileSync('pdfimages', ['-list', path('a.pdf')], { encoding: 'utf8' });
    expect(images.trim().split('\n').length - 2).toBe(name.includes('picture') ? 2 : 0);
  });
});

// SVG 1.1, 14.3.5; librsvg 2.54 leaves it out.
it.runIf(drawn)('a clip that is clipped itself is as one inside the other', async () => {
  const clips = (more: string) =>
    `<defs><clipPath id="a"${more}><circle cx="40" cy="50" r="30"/></clipPath><clipPath id="b"><rect y="40" width="160" height="20"/></clipPath></defs>`;
  const rect = '<rect width="90" height="100" fill="#208040" clip-path="url(#a)"/>';
  const pictures = [];
  for (const inner of [
    `${clips(' clip-path="url(#b)"')}${rect}`,
    `${clips('')}<g clip-path="url(#b)">${rect}</g>`,
  ]) {
    writeFileSync(path('a.pdf'), (await read(page(inner))).pdf);
    execFileSync('pdftocairo', ['-png', '-singlefile', '-r', '96', path('a.pdf'), path('a')]);
    pictures.push(await sharp(path('a.png')).removeAlpha().raw().toBuffer());
  }
  const [a, b] = pictures as [Buffer, Buffer];
  expect(a.some((v) => v < 100)).toBe(true);
  // The mask is smoothed at its edges otherwise than a clip.
  expect(a.filter((v, k) => Math.abs(v - b[k]!) > 64).length / a.length).toBeLessThan(0.002);
});

describe('what an SVG cannot bring into the print file is named', () => {
  it.each([
    ['<text x="5" y="20" font-family="Futura">Ann</text>', /words in the font Futura/],
    [
      '<defs><filter id="b"><feGaussianBlur stdDeviation="3"/></filter></defs><rect width="40" height="40" filter="url(#b)"/>',
      /a filter/,
    ],
    ['<foreignObject width="10" height="10"/>', /foreignObject/],
    ['<image width="10" height="10" xlink:href="photo.png"/>', /in another file \(photo\.png\)/],
    [
      '<defs><linearGradient id="l" spreadMethod="repeat" x2=".2"><stop offset="0" stop-color="red"/><stop offset="1"/></linearGradient></defs><rect width="40" height="40" fill="url(#l)"/>',
      /repeats/,
    ],
  ])('%s', async (inner, words) => {
    const refused = await read(page(inner)).catch((e: unknown) => e);
    expect(refused).toBeInstanceOf(Refusal);
    expect((refused as Refusal).reason.code).toBe('svg-cannot');
    expect((refused as Refusal).message).toMatch(words);
  });

  it('one that is damaged', async () => {
    const refused = await read('<svg xmlns="http://www.w3.org/2000/svg"><rect>').catch(
      (e: unknown) => e,
    );
    expect((refused as Refusal).reason.code).toBe('artwork-damaged');
  });
});

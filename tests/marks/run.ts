/**
 * npm run marks [-- --long]: how often the sheet is missed under hard conditions, and whether anything else is taken for it.
 * Ends with status 1 when more than one picture in 300 is missed, or anything at all is wrongly identified.
 */
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { Refusal } from '../../src/base/reason.ts';
import { readPicture } from '../../src/picture/decode-node.ts';
import type { Picture } from '../../src/picture/picture.ts';
import { findMarks } from '../../src/view/marks.ts';
import { loadVision } from '../../src/vision/load-node.ts';
import { hasOpenData, openData } from '../open-data.ts';
import { HARDSHIPS, sheetPicture, STRANGERS, strangerPicture, type Hardship } from './pictures.ts';

const long = process.argv.includes('--long');
const SHEETS = long ? 300 : 40;
const SMALL = long ? 10_000 : 140;
const LARGE = long ? 200 : 7;
/** A mark this far from where it was drawn, px, was taken for another. */
const ASTRAY_PX = 3;

const vision = loadVision();
const codeOf = (picture: Picture): ReturnType<typeof findMarks> | string => {
  try {
    return findMarks(vision, picture);
  } catch (error) {
    if (error instanceof Refusal) return error.reason.code;
    throw error;
  }
};

const by = new Map<
  Hardship,
  { n: number; found: number; missed: string[]; share: number; square: number; marks: number }
>();
let wrong = 0;
for (let k = 0; k < SHEETS; k++) {
  const hardship = HARDSHIPS[k % HARDSHIPS.length]!;
  const { picture, sheet, truth } = await sheetPicture(k, hardship);
  const row = by.get(hardship) ?? { n: 0, found: 0, missed: [], share: 0, square: 0, marks: 0 };
  by.set(hardship, row);
  row.n++;
  const found = codeOf(picture);
  if (typeof found === 'string') {
    row.missed.push(`picture ${k}: ${found}`);
    continue;
  }
  if (JSON.stringify(found.sheet) !== JSON.stringify(sheet)) {
    wrong++;
    row.missed.push(`picture ${k}: taken for another sheet`);
    continue;
  }
  row.found++;
  row.share += found.marks.length / found.expected;
  const off = found.marks.map((m) => {
    const [u, v] = truth(m.design.x, m.design.y);
    return Math.hypot(m.picture.x - u, m.picture.y - v);
  });
  if (off.some((d) => d > ASTRAY_PX)) {
    wrong++;
    row.missed.push(`picture ${k}: ${off.filter((d) => d > ASTRAY_PX).length} marks astray`);
  }
  row.square += off.reduce((sum, d) => sum + d * d, 0);
  row.marks += off.length;
}
console.log('\nSheets of 3 MP, drawn: found, missed, share of marks found, their RMS error in px');
for (const [hardship, { n, found, missed, share, square, marks }] of by) {
  console.log(
    `${hardship.padEnd(8)} ${String(n - missed.length).padStart(4)} of ${n}  ` +
      `${((100 * share) / Math.max(1, found)).toFixed(0).padStart(3)} %  ${Math.sqrt(square / Math.max(1, marks)).toFixed(3)}` +
      missed.map((m) => `\n  ${m}`).join(''),
  );
}
const missed = [...by.values()].reduce((sum, r) => sum + r.missed.length, 0);

let strangers = 0;
const taken: string[] = [];
const look = (picture: Picture, words: string): void => {
  strangers++;
  if (typeof codeOf(picture) !== 'string') taken.push(words);
};
for (let k = 0; k < SMALL + LARGE; k++) {
  const kind = STRANGERS[k % STRANGERS.length]!;
  const [w, h] = k < SMALL ? [1000, 1000] : [3000, 4000];
  look(await strangerPicture(k, kind, w, h), `${kind}, ${w} x ${h} px, number ${k}`);
}
// Real pictures without a sheet of ours.
for (const folder of ['photos', 'scans', 'calibration/stereo_pair', 'calibration/wide720']) {
  if (!hasOpenData(folder)) continue;
  for (const name of readdirSync(join(openData, folder))) {
    if (!/\.(jpe?g|png)$/i.test(name)) continue;
    look(await readPicture(readFileSync(join(openData, folder, name)), name), `${folder}/${name}`);
  }
}
console.log(`
${missed} of ${SHEETS} sheets missed (at most ${Math.ceil(SHEETS / 300)}), ${wrong} read wrongly (none allowed);
${taken.length} of ${strangers} other pictures taken for a sheet (none allowed)${taken.map((t) => `\n  ${t}`).join('')}`);
process.exitCode = missed > Math.ceil(SHEETS / 300) || wrong > 0 || taken.length > 0 ? 1 : 0;

/**
 * npm run marks [-- --long] [--minutes N] [--afresh]: how often the sheet is missed under hard conditions, and whether anything
 * else is taken for it. Ends with status 1 when more than one picture in 300 is missed, or anything at all is wrongly identified.
 *
 * What was looked at is kept in .cache/marks: with --minutes the campaign stops after that many and goes on when it is started
 * again. A change of what it runs through begins anew.
 */
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { Refusal } from '../../src/base/reason.ts';
import { readPicture } from '../../src/picture/decode-node.ts';
import type { Picture } from '../../src/picture/picture.ts';
import { findMarks } from '../../src/view/marks.ts';
import { loadVision } from '../../src/vision/load-node.ts';
import { hasOpenData, openData } from '../open-data.ts';
import { keptRecords } from '../support/kept.ts';
import { HARDSHIPS, sheetPicture, STRANGERS, strangerPicture, type Hardship } from './pictures.ts';

const { values } = parseArgs({
  options: {
    long: { type: 'boolean', default: false },
    minutes: { type: 'string' },
    afresh: { type: 'boolean', default: false },
  },
});
const { long } = values;
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

/** A picture that was looked at: of a sheet, or of something else. */
type Looked =
  | {
      readonly name: string;
      readonly hardship: Hardship;
      /** Why it counts as missed. */
      readonly missed?: string;
      readonly wrong: boolean;
      /** Of those whose sheet was found. */
      readonly share?: number;
      readonly square?: number;
      readonly marks?: number;
    }
  | { readonly name: string; readonly taken: boolean };

async function lookAtSheet(name: string, k: number): Promise<Looked> {
  const hardship = HARDSHIPS[k % HARDSHIPS.length]!;
  const { picture, sheet, truth } = await sheetPicture(k, hardship);
  const found = codeOf(picture);
  if (typeof found === 'string') return { name, hardship, missed: found, wrong: false };
  if (JSON.stringify(found.sheet) !== JSON.stringify(sheet))
    return { name, hardship, missed: 'taken for another sheet', wrong: true };
  const off = found.marks.map((m) => {
    const [u, v] = truth(m.design.x, m.design.y);
    return Math.hypot(m.picture.x - u, m.picture.y - v);
  });
  const astray = off.filter((d) => d > ASTRAY_PX).length;
  return {
    name,
    hardship,
    ...(astray > 0 && { missed: `${astray} marks astray` }),
    wrong: astray > 0,
    share: found.marks.length / found.expected,
    square: off.reduce((sum, d) => sum + d * d, 0),
    marks: off.length,
  };
}

const lookAtStranger = async (name: string, picture: Promise<Picture>): Promise<Looked> => ({
  name,
  taken: typeof codeOf(await picture) !== 'string',
});

/** Everything there is to look at, by name. */
const all: (readonly [name: string, look: (name: string) => Promise<Looked>])[] = [];
for (let k = 0; k < SHEETS; k++) all.push([`sheet ${k}`, (name) => lookAtSheet(name, k)]);
// Real pictures without a sheet of ours.
for (const folder of ['photos', 'scans', 'calibration/stereo_pair', 'calibration/wide720']) {
  if (!hasOpenData(folder)) continue;
  for (const file of readdirSync(join(openData, folder))) {
    if (!/\.(jpe?g|png)$/i.test(file)) continue;
    all.push([
      `${folder}/${file}`,
      (name) => lookAtStranger(name, readPicture(readFileSync(join(openData, folder, file)), file)),
    ]);
  }
}
for (const [many, w, h] of [
  [SMALL, 1000, 1000],
  [LARGE, 3000, 4000],
] as const)
  for (let k = 0; k < many; k++) {
    const kind = STRANGERS[k % STRANGERS.length]!;
    all.push([
      `${kind}, ${w} x ${h} px, number ${k}`,
      (name) => lookAtStranger(name, strangerPicture(k, kind, w, h)),
    ]);
  }
const { records, keep } = keptRecords<Looked>(
  '.cache/marks',
  fileURLToPath(import.meta.url),
  (r) => r.name,
  { afresh: values.afresh },
);
const until = Date.now() + 60_000 * Number(values.minutes ?? Infinity);
for (const [name, look] of all) {
  if (Date.now() > until) break;
  if (!records.has(name)) keep(await look(name));
}

const looked = all.flatMap(([name]) => records.get(name) ?? []);
const sheets = looked.filter((l) => 'hardship' in l);
const others = looked.filter((l) => 'taken' in l);
console.log('\nSheets of 3 MP, drawn: found, missed, share of marks found, their RMS error in px');
for (const hardship of HARDSHIPS) {
  const mine = sheets.filter((l) => l.hardship === hardship);
  if (mine.length === 0) continue;
  const found = mine.filter((l) => l.share !== undefined);
  const sum = (of: (l: (typeof mine)[number]) => number | undefined): number =>
    found.reduce((s, l) => s + (of(l) ?? 0), 0);
  const missed = mine.filter((l) => l.missed !== undefined);
  const share = (100 * sum((l) => l.share)) / Math.max(1, found.length);
  const rms = Math.sqrt(
    sum((l) => l.square) /
      Math.max(
        1,
        sum((l) => l.marks),
      ),
  );
  console.log(
    `${hardship.padEnd(8)} ${String(mine.length - missed.length).padStart(4)} of ${mine.length}  ` +
      `${share.toFixed(0).padStart(3)} %  ${rms.toFixed(3)}` +
      missed.map((m) => `\n  ${m.name}: ${m.missed}`).join(''),
  );
}
const missed = sheets.filter((l) => l.missed !== undefined).length;
const wrong = sheets.filter((l) => l.wrong).length;
const taken = others.filter((l) => l.taken);
const left = all.length - looked.length;
console.log(`
${missed} of ${sheets.length} sheets missed (at most ${Math.ceil(SHEETS / 300)}), ${wrong} read wrongly (none allowed);
${taken.length} of ${others.length} other pictures taken for a sheet (none allowed)${taken.map((t) => `\n  ${t.name}`).join('')}`);
if (left > 0) console.log(`${left} pictures are left; run it again to go on`);
process.exitCode =
  missed > Math.ceil(SHEETS / 300) || wrong > 0 || taken.length > 0 || left > 0 ? 1 : 0;

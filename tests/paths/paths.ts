import { readFileSync } from 'node:fs';
import { newJob, writeJob, type Job } from '../../src/job/job.ts';
import { calipersOf } from '../support/calipers.ts';
import type { GivenFile, Hands } from './hands.ts';

const root = new URL('../../', import.meta.url);
const picture = (name: string): GivenFile => ({
  name: `${name}.jpg`,
  type: 'image/jpeg',
  bytes: readFileSync(new URL(`fixtures/${name}.jpg`, root)),
});
interface Case {
  readonly name: string;
  readonly thicknessMm: Readonly<Record<string, number>>;
  readonly widestMm?: number;
  readonly spansMm: { readonly x: number; readonly y: number; readonly d: number };
  readonly riderSpansMm: Readonly<Record<string, number>>;
}
const cases = JSON.parse(
  readFileSync(new URL('tests/accuracy/cases.json', root), 'utf8'),
) as readonly Case[];
const caseOf = (name: string): Case => cases.find((c) => c.name === name)!;
/** Calipers on the true blank, to a hundredth. */
const sizesOf = (name: string): { readonly width: string; readonly height: string } => {
  const truth = JSON.parse(readFileSync(new URL(`fixtures/${name}.truth.json`, root), 'utf8')) as {
    blanks: { role: string; widest: [number, number][][] }[];
  };
  const [width, height] = calipersOf(truth.blanks.find((b) => b.role === 'blank')!.widest[0]!);
  return { width: width.toFixed(2), height: height.toFixed(2) };
};
const inches = (mm: number): string => `${(mm / 25.4).toFixed(5)} in`;

const step = (name: string): RegExp => new RegExp(`^${name}`);

/** A newcomer: from the sample to its files, by what the program proposes. */
async function firstJob(hands: Hands, address: string): Promise<void> {
  await hands.open(address, 1440, 900);
  await hands.see(/A photograph becomes a pocket that fits\./);
  await hands.press('button', /^Sample job$/);
  await hands.see(/The picture can be measured\./);
  await hands.press('button', /^To the outline$/);
  await hands.see(/U of the edge/);
  await hands.press('button', /^Check it with calipers$/);
  await hands.see(/3 of 3 agree/);
  await hands.see(/3 placed/);
  await hands.press('button', step('Release'));
  await hands.see(/cut\.dxf[\s\S]*read back[^:\n]*: 3 pockets, greatest difference/);
}

/** An old hand: every figure typed, in inches and with a comma, the picture dropped, two checks, a bed of her own. */
async function expert(hands: Hands, address: string): Promise<void> {
  const name = 'o03-opener-rider';
  const { spansMm, riderSpansMm, thicknessMm, widestMm } = caseOf(name);
  const sizes = sizesOf(name);
  await hands.open(address, 1440, 900);
  await hands.press('button', /^New job$/);
  await hands.press('radio', /^white$/);
  await hands.type(/^X, across/, String(spansMm.x).replace('.', ','));
  await hands.type(/^Y, along/, inches(spansMm.y));
  await hands.type(/^D, diagonal/, `${spansMm.d} mm`);
  await hands.type(/^Rider, edge to edge/, String(riderSpansMm['50']));
  await hands.drop([picture(name)]);
  await hands.see(/Say how thick/);
  await hands.press('button', step('Outline'));
  await hands.press('radio', /^the face to print$/);
  await hands.type(/how thick\?/, String(thicknessMm['1']));
  await hands.see(/U of the edge/);
  await hands.press('summary', /^Thickness ± /);
  await hands.type(/^Height of the widest edge/, String(widestMm));
  await hands.press('button', step('Check'));
  await hands.press('button', /^0\.00$/);
  await hands.type(/^Width: your reading/, sizes.width);
  await hands.type(/^Height: your reading/, sizes.height);
  await hands.see(/2 of 2 agree/);
  await hands.press('button', step('Bed'));
  await hands.type(/^Rows/, '1');
  await hands.type(/^Columns/, '2');
  await hands.see(/2\s+pockets on the bed/);
  await hands.press('button', step('Release'));
  await hands.see(/cut\.dxf[\s\S]*read back[^:\n]*: 2 pockets, greatest difference/);
}

/** A phone in the workshop, then the desk: one job file leads from one to the other. */
async function phone(hands: Hands, address: string): Promise<void> {
  const name = 'o01-card';
  const { spansMm, thicknessMm } = caseOf(name);
  await hands.open(address, 390, 844);
  await hands.press('button', /^New job$/);
  await hands.press('radio', /^white$/);
  await hands.press('radio', /^none$/);
  await hands.type(/^X, across/, String(spansMm.x));
  await hands.type(/^Y, along/, String(spansMm.y));
  await hands.type(/^D, diagonal/, String(spansMm.d));
  await hands.press('button', /^On to Picture$/);
  await hands.choose(/^Take it now/, [picture(name)]);
  await hands.see(/Say how thick/);
  await hands.press('button', /^To the outline$/);
  await hands.press('radio', /^the face to print$/);
  await hands.type(/how thick\?/, String(thicknessMm['1']));
  await hands.see(/U of the edge/);
  const u = await hands.see(/± 0\.\d\d mm/);
  for (const back of ['Picture', 'Sheet', 'Jobs'])
    await hands.press('button', new RegExp(`^Back to ${back}$`));
  await hands.press('button', /^Save as a file: /);
  const file = await hands.handedOut();

  await hands.open(address, 1440, 900);
  await hands.drop([{ name: 'from-the-phone.job.zip', type: 'application/zip', bytes: file }]);
  await hands.see(/The picture can be measured\./);
  await hands.press('button', /^To the outline$/);
  await hands.see(new RegExp(`U of the edge[\\s\\S]*${u.replace('.', '\\.')}`));
}

/** Typed wrong twice: one figure is refused as it is typed, spans contradict the calipers and are mended by what is proposed. */
async function repair(hands: Hands, address: string): Promise<void> {
  const name = 'o01-card';
  const { spansMm, thicknessMm } = caseOf(name);
  const sizes = sizesOf(name);
  const long = (mm: number): number => Number((mm * 1.008).toFixed(2));
  const job = newJob('S-0001', 'To be mended');
  const wrong: Job = {
    ...job,
    sheet: {
      ...job.sheet,
      stage: 'white',
      riderSizeMm: 0,
      // All of one rule that is 0.8 % short: they agree with each other, only a caliper on the blank tells.
      spansMm: { x: long(spansMm.x), y: long(spansMm.y), d: long(spansMm.d) },
    },
    thicknessMm,
    face: 'print',
    zero: { readMm: 0, on: '2026-01-01' },
  };
  const file = new TextEncoder().encode(writeJob(wrong));
  await hands.open(address, 1440, 900);
  await hands.drop([{ name: 'job.json', type: 'application/json', bytes: file }]);
  await hands.drop([picture(name)]);
  await hands.see(/Outline, mm\s+\d+\.\d/);
  await hands.press('button', step('Check'));
  await hands.type(/^Width: your reading/, '8.56');
  await hands.see(/does not lie between/);
  await hands.type(/^Width: your reading/, sizes.width);
  await hands.type(/^Height: your reading/, sizes.height);
  // What the program proposes: first the reading again, then what the outline is made of.
  await hands.see(/Width contradicts: the outline is/);
  await hands.press('button', /^Read again: width$/);
  await hands.type(/^Width: read again/, sizes.width);
  await hands.see(/You read it more than once\. Look at the thickness and at the spans/);
  await hands.press('button', /^Spans$/);
  await hands.type(/^X, across/, String(spansMm.x));
  await hands.type(/^Y, along/, String(spansMm.y));
  await hands.type(/^D, diagonal/, String(spansMm.d));
  await hands.press('button', step('Check'));
  await hands.see(/2 of 2 agree/);
}

/** The ways through the program, each as one operator goes it. */
export const PATHS = { 'first job': firstJob, expert, phone, repair } as const;

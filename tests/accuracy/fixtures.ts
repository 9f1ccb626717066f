/**
 * npx tsx tests/accuracy/fixtures.ts: makes the pictures of fixtures/ again, with the renderer beside the project.
 * The picture's bytes are as they came out of the renderer; the truth is shortened to what the tests read.
 */
import { copyFileSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { CASES } from './cases.ts';
import { PIECES_SCENE } from './pieces.ts';
import { CACHE, render, ROOT, sceneNamed, whyNoRenderer } from './render.ts';
import { shorten } from './truth.ts';

const why = whyNoRenderer();
if (why) throw new Error(`The fixtures cannot be made here: ${why}.`);
mkdirSync(join(ROOT, 'fixtures'), { recursive: true });
const pieces = render(PIECES_SCENE, CACHE);
copyFileSync(join(pieces, 'k01-pieces-1.jpg'), join(ROOT, 'fixtures/k01-pieces.jpg'));
for (const one of CASES) {
  if (one.picture === 'scene' || one.scene) continue;
  const folder = render(sceneNamed(one.name), CACHE);
  const picture = readdirSync(folder).find((f) => f.endsWith('-1.jpg'))!;
  copyFileSync(join(folder, picture), join(ROOT, one.picture));
  const truth = JSON.parse(readFileSync(join(folder, `${one.name}.truth.json`), 'utf8')) as Record<
    string,
    unknown
  >;
  writeFileSync(
    join(ROOT, 'fixtures', `${one.name}.truth.json`),
    `${JSON.stringify(shorten(truth))}\n`,
  );
  console.log(one.picture);
}

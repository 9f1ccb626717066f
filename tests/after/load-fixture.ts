/** The loaded bed of a page test, rendered: writes fixtures/e01-load.jpg and prints what that test types and where the pieces lie. */
import { copyFileSync } from 'node:fs';
import { join } from 'node:path';
import { CACHE, render, ROOT } from '../accuracy/render.ts';
import { readTruth } from '../accuracy/truth.ts';
import { FIXTURE, loadScene, strewn } from './load-scenes.ts';

const { name } = FIXTURE;
render(loadScene(FIXTURE), CACHE);
const truth = readTruth(join(CACHE, name, `${name}.truth.json`));
copyFileSync(join(CACHE, name, truth.views[0]!.file), join(ROOT, `fixtures/${name}.jpg`));
const [x, y, d] = truth.sheet.spans.slice(-3).map((s) => s.true);
console.log(JSON.stringify({ x, y, d, laid: strewn(FIXTURE) }));

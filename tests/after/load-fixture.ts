/** The loaded beds of tests, rendered: writes fixtures/e01-load, e02-mixed-up-1, -2 and e03-tall and prints what the page test types and where the pieces lie. */
import { copyFileSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { CACHE, render, ROOT, type Scene } from '../accuracy/render.ts';
import { readTruth, shorten } from '../accuracy/truth.ts';
import { FIXTURE, loadScene, LOADS, mixedUpScenes, strewn } from './load-scenes.ts';

/** Renders a scene of one photo and keeps it and its truth. @returns the true spans of the sheet, mm */
function kept(scene: Scene): { x: number; y: number; d: number } {
  const { name } = scene;
  render(scene, CACHE);
  const file = join(CACHE, name, `${name}.truth.json`);
  const truth = readTruth(file);
  copyFileSync(join(CACHE, name, truth.views[0]!.file), join(ROOT, `fixtures/${name}.jpg`));
  const whole = JSON.parse(readFileSync(file, 'utf8')) as Record<string, unknown>;
  writeFileSync(join(ROOT, `fixtures/${name}.truth.json`), `${JSON.stringify(shorten(whole))}\n`);
  const [x, y, d] = truth.sheet.spans.slice(-3).map((s) => s.true) as [number, number, number];
  return { x, y, d };
}

console.log(JSON.stringify({ ...kept(loadScene(FIXTURE)), laid: strewn(FIXTURE) }));
for (const scene of mixedUpScenes()) console.log(scene.name, JSON.stringify(kept(scene)));
const tall = LOADS.find(({ name }) => name === 'load-tall')!;
const scene = loadScene(tall, strewn(tall), 'e03-tall', [0.6]);
console.log(scene.name, JSON.stringify(kept(scene)));

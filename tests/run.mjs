// `npm test`: installs what is missing, then checks format, lint, types, import rules, the build and every test.
// Only what Node brings itself is used until npm has run, so that it works on a fresh clone.
import { spawn } from 'node:child_process';
import { existsSync, mkdirSync, readFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { install, root, show } from '../src/cli/install.mjs';
import { chromiumPath } from './chromium.mjs';

const passed = [];
const failed = [];
let skipped = 0;

const heading = (words) => console.log(`\n=== ${words}`);
const npm = (...args) => show('npm', args);

heading('install');
if (!install()) {
  console.error('npm ci did not succeed; it says above why.');
  console.log('\n0 passed, 1 failed, 0 skipped');
  process.exit(1);
}

heading('browser');
const isRoot = process.getuid?.() === 0;
if (!(await chromiumPath()) && isRoot && existsSync('/usr/bin/apt-get')) {
  console.log('No Chromium here; installing the distribution’s own (apt-get)');
  const env = { DEBIAN_FRONTEND: 'noninteractive' };
  show('apt-get', ['update', '-qq'], env);
  show('apt-get', ['install', '-y', '-qq', '--no-install-recommends', 'chromium'], env);
}
if (!(await chromiumPath())) {
  console.log('No Chromium here; downloading one (playwright)');
  npm('exec', '--no', '--', 'playwright', 'install', 'chromium');
}
const browser = await chromiumPath();
console.log(browser ?? 'none could be had; the page tests will fail');

const gates = [
  ['types', 'check:types'],
  ['lint', 'check:lint'],
  ['format', 'check:format'],
  ['build', 'build'],
  ['import rules', 'check:rooms'],
];
/** Runs one of npm's scripts; its status and everything it said. */
const quietly = (script) =>
  new Promise((resolve) => {
    const said = [];
    const child = spawn('npm', ['run', '--silent', script], {
      cwd: root,
      shell: process.platform === 'win32',
    });
    for (const stream of [child.stdout, child.stderr])
      stream.on('data', (chunk) => said.push(chunk));
    child.on('error', (error) => resolve({ status: 1, said: error.message }));
    child.on('close', (status) => resolve({ status, said: Buffer.concat(said).toString() }));
  });
// Two at a time, told one after the other.
const waiting = [...gates];
const working = async () => {
  for (let gate = waiting.shift(); gate; gate = waiting.shift()) {
    const [name, script] = gate;
    const { status, said } = await quietly(script);
    heading(name);
    process.stdout.write(said);
    (status === 0 ? passed : failed).push(name);
  }
};
await Promise.all([working(), working()]);

heading('tests');
const report = join(root, '.cache', 'vitest.json');
mkdirSync(join(root, '.cache'), { recursive: true });
rmSync(report, { force: true });
const vitest = join(root, 'node_modules/vitest/vitest.mjs');
const status = show(
  process.execPath,
  [vitest, 'run', '--reporter=default', '--reporter=json', `--outputFile.json=${report}`],
  {
    ...(browser && { SNUGLINE_CHROMIUM: browser }),
    ...(passed.includes('build') && { SNUGLINE_BUILT: join(root, 'dist') }),
  },
);
let counted = 0;
if (existsSync(report)) {
  for (const file of JSON.parse(readFileSync(report, 'utf8')).testResults) {
    for (const { status, fullName } of file.assertionResults) {
      if (status === 'passed') counted++;
      else if (status === 'failed') failed.push(fullName);
      else skipped++;
    }
    if (file.status === 'failed' && !file.assertionResults.some((t) => t.status === 'failed'))
      failed.push(`${file.name.replace(root, '')} (the file itself)`);
  }
}
if (counted === 0) failed.push('tests (none ran)');
else if (status !== 0 && !failed.some((name) => !gates.some(([gate]) => gate === name)))
  failed.push('tests (ended with an error outside any test)');

if (failed.length > 0) {
  heading('failed');
  for (const name of failed) console.log(`- ${name}`);
}
console.log(`\n${passed.length + counted} passed, ${failed.length} failed, ${skipped} skipped`);
process.exit(failed.length > 0 ? 1 : 0);

import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, expect, it } from 'vitest';
import { table } from '../../src/cli/batch.ts';

const root = fileURLToPath(new URL('../../', import.meta.url));
const folder = mkdtempSync(join(tmpdir(), 'batch-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const snugline = (...args: string[]): { status: number | null; stdout: string; stderr: string } =>
  spawnSync(process.execPath, ['--import', 'tsx', 'src/cli/main.ts', ...args], {
    cwd: root,
    encoding: 'utf8',
  });

it('measures many pictures at once as if each were alone, and tells of every one in a table', () => {
  const notes = join(folder, 'notes.txt');
  writeFileSync(notes, 'no picture, "quoted"');
  const card = 'fixtures/o01-card.jpg';
  const settings = ['--thickness', '0.8', '--spans', 'x=140,y=140,d=140'];
  const out = join(folder, 'out');
  const pictures = [notes, card, join(folder, 'gone.jpg')];
  const many = snugline('trace', ...pictures, ...settings, '--separate', '--out', out);
  // A refused picture is told by the status, and keeps none of the others from being measured.
  expect(many.status).toBe(3);
  const rows = readFileSync(join(out, 'table.csv'), 'utf8').trim().split('\r\n');
  expect(rows[0]).toBe('picture,verdict,blanks,U_mm,reasons,outlines');
  expect(rows.map((row) => row.split(',').slice(0, 2))).toEqual([
    ['picture', 'verdict'],
    [notes, 'refused'],
    [card, expect.stringMatching(/^(ok|doubtful)$/)],
    [join(folder, 'gone.jpg'), 'refused'],
  ]);
  expect(rows[1]).toMatch(/is not a picture/);
  expect(rows[3]).toMatch(/there is no such file/);

  const alone = join(folder, 'alone.json');
  expect(snugline('trace', card, ...settings, '--out', alone).status).toBe(0);
  expect(readFileSync(join(out, 'o01-card.json'))).toEqual(readFileSync(alone));
});

it('writes a table as RFC 4180 has it', () => {
  expect(
    table([
      ['a', 1],
      ['b, c', 'say "d"\ne'],
    ]),
  ).toBe('a,1\r\n"b, c","say ""d""\ne"\r\n');
});

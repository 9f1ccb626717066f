import { spawn, spawnSync, type ChildProcess } from 'node:child_process';
import { createServer, get, type IncomingMessage } from 'node:http';
import type { AddressInfo } from 'node:net';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, expect, it } from 'vitest';

const start = fileURLToPath(new URL('../../src/cli/start.mjs', import.meta.url));
let server: ChildProcess;
let port: number;

const freePort = (): Promise<number> =>
  new Promise((resolve) => {
    const probe = createServer().listen(0, 'localhost', () => {
      const { port } = probe.address() as AddressInfo;
      probe.close(() => resolve(port));
    });
  });

beforeAll(async () => {
  port = await freePort();
  server = spawn(process.execPath, [start, '--port', String(port)]);
  let told = '';
  await new Promise<void>((resolve, reject) => {
    server.stdout!.on('data', (data: Buffer) => {
      told += data.toString();
      if (told.includes(`http://localhost:${port}/`)) resolve();
    });
    server.on('exit', () => reject(new Error(`npm start ended: ${told}`)));
  });
});
afterAll(() => {
  server.kill();
});

/** Asks with the path exactly as written; a browser would tidy it first. */
const ask = (path: string): Promise<{ answer: IncomingMessage; text: string }> =>
  new Promise((resolve, reject) => {
    get({ host: 'localhost', port, path }, (answer) => {
      let text = '';
      answer.on('data', (data: Buffer) => (text += data.toString('latin1')));
      answer.on('end', () => resolve({ answer, text }));
    }).on('error', reject);
  });

it('serves the page, its scripts and its binary code as what they are', async () => {
  const { answer, text } = await ask('/');
  expect(answer.statusCode).toBe(200);
  expect(answer.headers['content-type']).toBe('text/html; charset=utf-8');
  const script = /src="\.\/(assets\/[^"]+\.js)"/.exec(text)![1]!;
  const { answer: js, text: code } = await ask(`/${script}`);
  expect(js.headers['content-type']).toBe('text/javascript; charset=utf-8');
  const worker = /vision\.worker-[\w-]+\.js/.exec(code)![0];
  const { answer: work, text: glue } = await ask(`/assets/${worker}`);
  const wasm = /opencv-[\w-]+\.wasm/.exec(glue)![0];
  const { answer: binary } = await ask(`/assets/${wasm}`);
  // WebAssembly is compiled while it streams only as application/wasm (WebAssembly Web API, 3).
  expect(binary.headers['content-type']).toBe('application/wasm');
  // OpenCV's glue builds functions from strings: the worker may, the page may not.
  const policy = (a: IncomingMessage): string => String(a.headers['content-security-policy']);
  expect(policy(work)).toContain("'unsafe-eval'");
  for (const page of [answer, js]) expect(policy(page)).not.toContain("'unsafe-eval'");
  for (const any of [answer, js, work, binary]) {
    expect(policy(any)).toContain("default-src 'none'");
    expect(any.headers['x-content-type-options']).toBe('nosniff');
  }
});

it.each([
  '/../package.json',
  '/..%2fpackage.json',
  '/assets/../../package.json',
  '/%2e%2e/package.json',
  '/nothing-here.js',
])('%s is not served', async (path) => {
  const { answer, text } = await ask(path);
  expect(answer.statusCode).toBe(404);
  expect(text).toBe('There is nothing here.\n');
});

it.each([
  ['a port in use', () => ['--port', String(port)], /in use by another program; give a free one/],
  ['a port that is none', () => ['--port', 'x'], /whole number from 1 to 65535/],
  ['an unknown option', () => ['--host', 'x'], /knows only --port/],
] as const)('%s is answered by a sentence', (_, args, words) => {
  const { status, stderr } = spawnSync(process.execPath, [start, ...args()], { encoding: 'utf8' });
  expect(stderr).toMatch(words);
  expect(stderr).not.toMatch(/^\s+at /m);
  expect(status).toBe(2);
});

// `npm start`: installs what is missing, builds when the sources are newer, serves the page on this machine.
// Only what Node brings itself is used here, so that it runs on a fresh clone.
import { createReadStream, existsSync, readdirSync, statSync } from 'node:fs';
import { createServer } from 'node:http';
import { extname, join, normalize, sep } from 'node:path';
import { parseArgs } from 'node:util';
import { install, root, show } from './install.mjs';

const FIRST_PORT = 4173;
const PORTS_TRIED = 20;
const dist = join(root, 'dist');
const SOURCES = [
  'src',
  'workers',
  'demo-data',
  'public',
  'docs/handbook',
  'index.html',
  'package-lock.json',
  'vite.config.ts',
  'vite.handbook.ts',
  'vite.opencv.ts',
  'svelte.config.js',
];
const TYPES = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.mjs': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.json': 'application/json; charset=utf-8',
  '.wasm': 'application/wasm',
  '.woff2': 'font/woff2',
  '.woff': 'font/woff',
  '.svg': 'image/svg+xml',
  '.png': 'image/png',
  '.jpg': 'image/jpeg',
  '.webp': 'image/webp',
  '.pdf': 'application/pdf',
  '.txt': 'text/plain; charset=utf-8',
  '.webmanifest': 'application/manifest+json',
};

const newest = (path) => {
  if (!existsSync(path)) return 0;
  const found = statSync(path);
  if (!found.isDirectory()) return found.mtimeMs;
  return Math.max(0, ...readdirSync(path).map((name) => newest(join(path, name))));
};

function buildIsOld() {
  const built = join(dist, 'index.html');
  if (!existsSync(built)) return true;
  return newest(built) < Math.max(...SOURCES.map((path) => newest(join(root, path))));
}

/** Whether a script of the build runs as a worker: the bundler keeps the name of its source, `<name>.worker.ts`. */
const isWorker = (name) => /\.worker-[^/]*\.js$/.test(name);

/**
 * Nothing is fetched from elsewhere and nothing is sent away. OpenCV's glue builds functions from strings, so
 * worker scripts alone may do that: a worker obeys the policy that came with its own script (CSP Level 3, 4.2.1).
 */
const policy = (worker) =>
  [
    "default-src 'none'",
    `script-src 'self'${worker ? " 'wasm-unsafe-eval' 'unsafe-eval'" : ''}`,
    "style-src 'self' 'unsafe-inline'",
    "img-src 'self' blob: data:",
    "font-src 'self'",
    "connect-src 'self' blob:",
    "worker-src 'self'",
    "manifest-src 'self'",
    "base-uri 'none'",
    "form-action 'none'",
    "frame-ancestors 'none'",
  ].join('; ');

function serve() {
  return createServer((request, response) => {
    const fail = (status, words) => {
      response.writeHead(status, { 'content-type': 'text/plain; charset=utf-8' }).end(`${words}\n`);
    };
    if (request.method !== 'GET' && request.method !== 'HEAD')
      return fail(405, 'Only GET is answered.');
    let path;
    try {
      path = decodeURIComponent(new URL(request.url, 'http://localhost').pathname);
    } catch {
      return fail(400, 'That address cannot be read.');
    }
    let file = normalize(join(dist, path));
    if (path.includes('\0') || (file !== dist && !file.startsWith(dist + sep)))
      return fail(404, 'There is nothing here.');
    if (existsSync(file) && statSync(file).isDirectory()) file = join(file, 'index.html');
    if (!existsSync(file)) return fail(404, 'There is nothing here.');
    const name = file.split(sep).at(-1);
    response.writeHead(200, {
      'content-type': TYPES[extname(file)] ?? 'application/octet-stream',
      'content-length': statSync(file).size,
      'cache-control': path.startsWith('/assets/') ? 'max-age=31536000, immutable' : 'no-cache',
      'content-security-policy': policy(isWorker(name)),
      'cross-origin-opener-policy': 'same-origin',
      'cross-origin-embedder-policy': 'require-corp',
      'referrer-policy': 'no-referrer',
      'x-content-type-options': 'nosniff',
    });
    if (request.method === 'HEAD') return response.end();
    return createReadStream(file).pipe(response);
  });
}

/** Listens on the port asked for, or on the first free one. */
async function listen(server, wanted) {
  const last = wanted ?? FIRST_PORT + PORTS_TRIED;
  for (let port = wanted ?? FIRST_PORT; port <= last; port++) {
    const error = await new Promise((resolve) => {
      server.once('error', resolve);
      server.listen(port, 'localhost', () => {
        server.off('error', resolve);
        resolve(undefined);
      });
    });
    if (!error) return server.address().port;
    if (error.code !== 'EADDRINUSE') throw error;
  }
  const ports = wanted === undefined ? `Ports ${FIRST_PORT} to ${last} are` : `Port ${wanted} is`;
  leave(`${ports} in use by another program; give a free one with "npm start -- --port N".`, 2);
}

function leave(words, status) {
  console.error(words);
  process.exit(status);
}

function readPort() {
  let text;
  try {
    ({ port: text } = parseArgs({ options: { port: { type: 'string' } } }).values);
  } catch (error) {
    leave(`npm start knows only --port N: ${error.message}`, 2);
  }
  if (text === undefined) return undefined;
  const port = Number(text);
  if (!Number.isInteger(port) || port < 1 || port > 65535)
    leave(`--port cannot be "${text}": give a whole number from 1 to 65535.`, 2);
  return port;
}

const [major, minor] = process.versions.node.split('.').map(Number);
if (major < 20 || (major === 20 && minor < 19))
  leave(`Node ${process.versions.node} is too old; install Node 20.19 or newer.`, 2);
const port = readPort();
if (!install()) leave('Installing did not succeed; npm says above why.', 1);
if (buildIsOld()) {
  console.log('Building the page (vite build)');
  if (show(process.execPath, [join(root, 'node_modules/vite/bin/vite.js'), 'build']) !== 0)
    leave('Building did not succeed; vite says above why.', 1);
}
const server = serve();
const found = await listen(server, port);
console.log(`\nSnugline runs at http://localhost:${found}/   (Ctrl-C ends it)`);
for (const signal of ['SIGINT', 'SIGTERM']) process.on(signal, () => process.exit(0));

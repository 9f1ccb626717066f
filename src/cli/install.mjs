import { spawnSync } from 'node:child_process';
import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';

/** The project's root, with a slash at its end. */
export const root = fileURLToPath(new URL('../../', import.meta.url));

/** Runs a command in the project's root, its output shown; returns its exit status. */
export function show(command, args, env = {}) {
  const { status, error } = spawnSync(command, args, {
    cwd: root,
    stdio: 'inherit',
    env: { ...process.env, ...env },
    shell: process.platform === 'win32',
  });
  if (error) console.error(`${command}: ${error.message}`);
  return status ?? 1;
}

/**
 * Whether every package of the lock file is installed in its version. Packages that only some machines need
 * (optional ones) are left to npm.
 */
export function isInstalled() {
  const installed = `${root}node_modules/.package-lock.json`;
  if (!existsSync(installed)) return false;
  const packages = (path) => JSON.parse(readFileSync(path, 'utf8')).packages;
  const there = packages(installed);
  return Object.entries(packages(`${root}package-lock.json`)).every(
    ([path, { version, optional, devOptional, peer }]) =>
      path === '' || optional || devOptional || peer || there[path]?.version === version,
  );
}

/** Installs what the lock file names, when anything is missing. Returns whether all is there. */
export function install() {
  if (isInstalled()) return true;
  console.log('Installing what package-lock.json names (npm ci)');
  return show('npm', ['ci', '--include=dev', '--no-audit', '--no-fund']) === 0;
}

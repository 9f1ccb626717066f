import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

/** Open test data that lies beside the project on some machines; its SOURCES.md names each file's origin. */
export const openData = fileURLToPath(new URL('../../shared/data/open/', import.meta.url));

/** Whether a folder of the open data is here; says so once when it is not, since its tests are then skipped. */
export function hasOpenData(folder: string): boolean {
  const there = existsSync(join(openData, folder));
  if (!there) console.warn(`Left out: the open data in ${folder} is not on this machine.`);
  return there;
}

export const openFiles = (folder: string): string[] =>
  existsSync(join(openData, folder)) ? readdirSync(join(openData, folder)).sort() : [];

export const openBytes = (folder: string, name: string): Uint8Array =>
  new Uint8Array(readFileSync(join(openData, folder, name)));

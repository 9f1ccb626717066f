import { access, mkdir, readFile, stat, writeFile } from 'node:fs/promises';
import { constants, type Stats } from 'node:fs';
import { dirname, join } from 'node:path';
import { Refusal } from '../base/reason.ts';
import { Usage } from './usage.ts';

const look = (path: string): Promise<Stats | undefined> =>
  stat(path).catch((error: NodeJS.ErrnoException) => {
    if (error.code === 'ENOENT' || error.code === 'ENOTDIR') return undefined;
    throw error;
  });

/**
 * Makes sure, before any work, that a file may be written: its folder is there, and nothing is overwritten unasked.
 * @throws Usage
 */
export async function mayWrite(path: string, force: boolean): Promise<void> {
  const folder = dirname(path);
  const above = await look(folder);
  if (!above?.isDirectory())
    throw new Usage(`The folder ${folder} does not exist; make it first, or choose another place.`);
  const there = await look(path);
  if (there?.isDirectory()) throw new Usage(`${path} is a folder; give the name of a file.`);
  if (there && !force)
    throw new Usage(`${path} exists already; choose another name, or add --force to replace it.`);
  await access(there ? path : folder, constants.W_OK).catch(() => {
    throw new Usage(`${path} cannot be written; choose a place where you may write.`);
  });
}

/** The same for a folder and the files that will lie in it; makes the folder when it is missing. @throws Usage */
export async function mayWriteInto(
  folder: string,
  names: readonly string[],
  force: boolean,
): Promise<void> {
  const there = await look(folder);
  if (there && !there.isDirectory())
    throw new Usage(`${folder} is a file; give the name of a folder.`);
  if (there) {
    for (const name of names) await mayWrite(join(folder, name), force);
    return;
  }
  await mkdir(folder, { recursive: true }).catch((error: NodeJS.ErrnoException) => {
    throw new Usage(`The folder ${folder} cannot be made (${error.code}); choose another place.`);
  });
}

/** Writes a file; without `force` never over one that appeared meanwhile. @throws Usage where the disk refuses */
export async function write(
  path: string,
  bytes: Uint8Array | string,
  force: boolean,
): Promise<void> {
  await writeFile(path, bytes, { flag: force ? 'w' : 'wx' }).catch(
    (error: NodeJS.ErrnoException) => {
      throw new Usage(
        `${path} cannot be written (${error.code}); choose another place, or make room on the disk.`,
      );
    },
  );
}

/** Why a file given on the command line cannot be read, in words. */
export function whyUnread(error: unknown): string {
  const { code } = error as NodeJS.ErrnoException;
  const why: Record<string, string> = {
    ENOENT: 'there is no such file',
    EISDIR: 'it is a folder',
    EACCES: 'it may not be read',
  };
  return why[String(code)] ?? String(code);
}

/** What a file that was named holds. @throws Refusal of this code, naming the file and why it cannot be read */
export const bytesOf = (
  path: string,
  code: 'plan-file-unread' | 'outline-file-unread',
): Promise<Uint8Array> =>
  readFile(path).catch((error: unknown) => {
    throw new Refusal(code, { file: path, what: whyUnread(error) });
  });

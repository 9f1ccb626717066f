import { execFileSync, spawnSync } from 'node:child_process';

/** What one program read. */
export interface Told {
  readonly files: number;
  readonly lines: number;
  readonly greatest_mm: number;
}

/** Debian's python, which has Debian's ezdxf. */
const PYTHON = '/usr/bin/python3';

/** Whether every program is there that reads. */
export const canRead = (): boolean =>
  [
    [PYTHON, '-c', 'import ezdxf, numpy, scipy'],
    ['rsvg-convert', '--version'],
    ['pdftocairo', '-v'],
    ['gs', '--version'],
  ].every(([command, ...args]) => spawnSync(command!, args, { stdio: 'ignore' }).status === 0);

/** Reads the folders that `writePlan` wrote, with programs that share no code with ours. */
export const readAll = (
  folders: readonly string[],
): { programs: Record<string, Told>; wrong: string[]; count: number } =>
  JSON.parse(
    execFileSync(PYTHON, [new URL('./read.py', import.meta.url).pathname, ...folders], {
      encoding: 'utf8',
      maxBuffer: 1e8,
      stdio: ['ignore', 'pipe', 'inherit'],
    }),
  ) as { programs: Record<string, Told>; wrong: string[]; count: number };

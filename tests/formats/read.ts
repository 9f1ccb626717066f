import { spawn, spawnSync } from 'node:child_process';
import { createInterface } from 'node:readline';

/** What one program read. */
export interface Told {
  readonly files: number;
  readonly lines: number;
  readonly greatest_mm: number;
}

/** What was read of one plan, by program, and every line that is not where the plan has it. */
export interface Read {
  readonly programs: Readonly<Record<string, Told>>;
  readonly wrong: readonly string[];
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

/** Reads folders that `writePlan` wrote, one after the other, with programs that share no code with ours. */
export interface Reader {
  read(folder: string): Promise<Read>;
  end(): void;
}

const READ = new URL('./read.py', import.meta.url).pathname;

/** What draws a plan's `cut.dxf` as ezdxf reads it: a command and its arguments. */
export const drawDxf = (folder: string): readonly [string, ...string[]] => [
  PYTHON,
  READ,
  '--draw',
  folder,
];

/** Loading what reads takes as long as a plan does: one process serves many. */
export function reader(): Reader {
  const child = spawn(PYTHON, [READ], {
    stdio: ['pipe', 'pipe', 'inherit'],
  });
  const answers = createInterface(child.stdout)[Symbol.asyncIterator]();
  return {
    async read(folder) {
      child.stdin.write(`${folder}\n`);
      const { value, done } = await answers.next();
      if (done) throw new Error(`${folder}: the programs that read it gave no answer`);
      return JSON.parse(value) as Read;
    },
    end: () => child.stdin.end(),
  };
}

/** What was read of several plans, together. */
export function summed(all: readonly Read[]): Record<string, Told> {
  const sums: Record<string, Told> = {};
  for (const { programs } of all)
    for (const [program, t] of Object.entries(programs)) {
      const s = sums[program] ?? { files: 0, lines: 0, greatest_mm: 0 };
      sums[program] = {
        files: s.files + t.files,
        lines: s.lines + t.lines,
        greatest_mm: Math.max(s.greatest_mm, t.greatest_mm),
      };
    }
  return sums;
}

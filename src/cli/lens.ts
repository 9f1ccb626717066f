import { readFile } from 'node:fs/promises';
import { basename } from 'node:path';
import { reason, Refusal, type Reason } from '../base/reason.ts';
import { readPicture } from '../picture/decode-node.ts';
import type { Board } from '../view/board.ts';
import { LEAST_PICTURES, MOST_PICTURES, profileOf, type LensProfile } from '../view/profile.ts';
import { shotOf, usable, type Shot } from '../view/profile-photos.ts';
import { loadVision } from '../vision/load-node.ts';
import { mayWrite, whyUnread, write } from './place.ts';
import { figure, needed, readArgs, textOf, Usage, type Verb } from './usage.ts';

const help = `lens PICTURE ... --out lens.json [options]

Makes a lens profile from ${LEAST_PICTURES} to ${MOST_PICTURES} photos of a reference sheet, or of a plain checkerboard: focal length,
principal point and distortion with their covariance, for "trace --lens". 8 to 12 photos serve best: from straight above
and tilted by 20 to 30 degrees to each side, some with the camera turned a quarter, the sheet reaching into every corner.
All of them with one camera, lens, zoom and picture size.

  --board COLUMNSxROWS    a plain checkerboard instead of the sheet; counts the corners inside
  --square MM             side of its squares
  --board-error           estimate the print error and the bow of the board; without it the board counts as flat and true
  --out FILE              where the profile goes
  --force                 replace FILE

Pictures that cannot be used are left out, and it is said which. Prints the lens in px of the stored picture with standard
uncertainties (k = 1), and the root mean square of what is left over at the corners.

  lens shots/*.jpg --out lens.json
  lens shots/*.jpg --board 9x6 --square 25 --out lens.json
`;

function boardOf(size: string | undefined, square: string | undefined): Board | undefined {
  if (size === undefined && square === undefined) return undefined;
  if (size === undefined || square === undefined)
    throw new Usage(
      '--board and --square go together: inner corners, and the side of a square in mm.',
    );
  const parts = size.trim().toLowerCase().split('x');
  if (parts.length !== 2)
    throw new Usage(
      `--board cannot be "${size}": give two counts of inner corners, for instance 9x6.`,
    );
  const [columns, rows] = parts.map((p) =>
    figure('--board', p, { least: 3, most: 60, unit: '', whole: true }),
  ) as [number, number];
  return { columns, rows, squareMm: figure('--square', square, { above: 0.1, most: 1000 }) };
}

async function run(args: readonly string[]): Promise<number> {
  const { values, positionals } = readArgs(
    'lens',
    args,
    {
      board: { type: 'string' },
      square: { type: 'string' },
      'board-error': { type: 'boolean' },
      out: { type: 'string' },
      force: { type: 'boolean' },
    },
    { positionals: 'some' },
  );
  if (positionals.length === 0)
    throw new Usage('lens needs pictures; "lens --help" shows an example.');
  const board = boardOf(textOf(values.board), textOf(values.square));
  const boardError = values['board-error'] === true;
  if (boardError && !board)
    throw new Usage('--board-error is about a plain checkerboard; give --board and --square too.');
  const out = needed('lens', '--out', values.out);
  const force = values.force === true;
  await mayWrite(out, force);

  const tell = ({ message, remedy }: Reason): void =>
    console.error(`snugline: ${message} ${remedy}`);
  try {
    const { used, left } = usable(await allFound(positionals, board, tell));
    left.forEach(tell);
    const target = board ? (boardError ? 'board' : 'true board') : 'sheet';
    const { profile, u, reasons } = profileOf(used, target);
    reasons.forEach(tell);
    await write(out, `${JSON.stringify(profile, undefined, 1)}\n`, force);
    console.log(summary(profile, u, out));
    return 0;
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    tell(error.reason);
    return 3;
  }
}

/** Reads the pictures one after the other and finds the marks; those that cannot be used are named and left out. */
async function allFound(
  paths: readonly string[],
  board: Board | undefined,
  tell: (r: Reason) => void,
): Promise<Shot[]> {
  const vision = { cv: loadVision().cv };
  const shots: Shot[] = [];
  for (const path of paths) {
    const name = basename(path);
    const leave = (why: string): void => tell(reason('lens-picture-left-out', { name, why }));
    let bytes: Uint8Array;
    try {
      bytes = await readFile(path);
    } catch (error) {
      leave(`${whyUnread(error)}.`);
      continue;
    }
    try {
      shots.push(shotOf(vision, await readPicture(bytes, name), board));
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      leave(error.reason.message);
    }
  }
  return shots;
}

/** One line for each figure: name, value, standard uncertainty, unit. */
function summary(profile: LensProfile, u: readonly number[], out: string): string {
  const words = ['focal length', 'principal point x', 'principal point y', 'k1', 'k2', 'p1', 'p2'];
  const lines = words.map((word, k) => {
    const digits = k < 3 ? 2 : 5;
    const unit = k < 3 ? ' px' : '';
    return `${word.padEnd(18)} ${profile.values[k]!.toFixed(digits)} ± ${u[k]!.toFixed(digits)}${unit}`;
  });
  return [
    ...lines,
    `${'RMS residual'.padEnd(18)} ${profile.rmsPx.toFixed(4)} px, ${profile.pictures} pictures of ${profile.widthPx} x ${profile.heightPx} px`,
    out,
  ].join('\n');
}

export const lens: Verb = { help, run };

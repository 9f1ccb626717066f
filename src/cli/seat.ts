import { readFile } from 'node:fs/promises';
import { basename, join } from 'node:path';
import { Refusal } from '../base/reason.ts';
import { loadPdfjs } from '../files/load-pdfjs-node.ts';
import { readOutlineJson } from '../files/outline-json.ts';
import { seatFiles } from '../files/seat.ts';
import { loadClipper } from '../geometry/load-clipper-node.ts';
import { aboutCentroid } from '../geometry/measure.ts';
import { DEFAULT_BED } from '../job/jig.ts';
import { outlinesOf, seatOutline } from '../job/seats.ts';
import {
  FIGURED,
  SEAT_KINDS,
  SEATS,
  seatOf,
  type SeatFrom,
  type SeatKind,
  type SeatSettings,
} from '../seat/kinds.ts';
import { boardFrom } from '../plan/board-on-bed.ts';
import { ZERO_CORNERS } from '../plan/plan.ts';
import { readPlanJson } from '../files/plan-json.ts';
import { toolRadiusMm } from '../pocket/pocket-of.ts';
import { bytesOf, mayWriteInto, write } from './place.ts';
import { figure, needed, oneOf, pairOf, readArgs, refusing, textOf, type Verb } from './usage.ts';

/** "itemWidthMm" is --item-width. */
const optionOf = (key: string): string =>
  key.replace(/(Mm|Deg|Percent)$/, '').replace(/[A-Z]/g, (c) => `-${c.toLowerCase()}`);
const optionsOf = (kind: (typeof FIGURED)[number]): string =>
  Object.entries(SEATS[kind])
    .map(([key, value]) => `--${optionOf(key)} (${value})`)
    .join(', ');

const help = `seat --kind KIND --out FOLDER [options]

Makes a seat that needs no pocket and writes it as DXF, SVG and PDF, each read back; prints its figures.

  --kind      ball: a ring for a ball, or an array; wrap: the unrolled wall of a cylinder or cone; stop: a corner stop;
              rim: a lip of clear ink round the pockets of a plan, in passes; ruler: graduations along the bed; nest: a hollow in
              foam, and centre marks on film; pegs: pegs of a grid round an outline; form: a tool to form trays over; block: a
              block with a blind pocket (both with their bodies, STL and 3MF); inserts: a carrier with slots;
              plates: the board of a plan in plates that a small cutter takes, pinned to one base
  ball        ${optionsOf('ball')}
  wrap        ${optionsOf('wrap')}
  stop        ${optionsOf('stop')}
  rim         ${optionsOf('rim')}; with --plan plan.json, --thickness MM of the thinnest blank, --clear-name TEXT (Clear)
  nest        ${optionsOf('nest')}; with --outline
  pegs        ${optionsOf('pegs')}; with --outline outline.json and --blank N (1)
  form        ${optionsOf('form')}; with --outline, and --clearance MM (0.3)
  block       ${optionsOf('block')}; with --outline, and --clearance MM
  inserts     ${optionsOf('inserts')}; slots alone: inserts are kept in jobs
  plates      ${optionsOf('plates')}; with --plan plan.json
  --kerf MM   what the cutter takes away in all (0.15); taken in layer cut of a ring
  --bed WxH, --zero CORNER  (${DEFAULT_BED.widthMm}x${DEFAULT_BED.depthMm}, ${DEFAULT_BED.zero}) for stop and ruler
  --number TEXT, --name TEXT  of the job
  --out FOLDER, --force

All figures in mm, draft in degrees, shrink in per cent, rows and columns in whole numbers.
`;

async function run(args: readonly string[]): Promise<number> {
  const figures = [...new Set(FIGURED.flatMap((kind) => Object.keys(SEATS[kind])))];
  const words = [
    ...['kind', 'out', 'kerf', 'bed', 'zero', 'outline', 'blank', 'plan', 'number', 'name'],
    ...['thickness', 'clear-name', 'clearance'],
  ];
  const { values } = readArgs('seat', args, {
    ...Object.fromEntries(
      [...words, ...figures.map(optionOf)].map((name) => [name, { type: 'string' as const }]),
    ),
    force: { type: 'boolean' },
  });
  const text = (name: string): string | undefined => textOf(values[name]);
  const kind: SeatKind = oneOf('--kind', needed('seat', '--kind', values.kind), SEAT_KINDS);
  const folder = needed('seat', '--out', values.out);
  const force = values.force === true;
  const given = <T extends object>(of: T): T =>
    Object.fromEntries(
      Object.entries(of).map(([key, value]) => {
        const said = text(optionOf(key));
        const whole = /(Mm|Deg|Percent)$/.test(key) ? {} : { whole: true, unit: '' };
        return [
          key,
          said === undefined
            ? value
            : figure(`--${optionOf(key)}`, said, { least: 0, most: 5000, ...whole }),
        ];
      }),
    ) as T;
  const settings: SeatSettings = {
    ...SEATS,
    ...Object.fromEntries(FIGURED.map((of) => [of, given(SEATS[of])])),
  };
  const [widthMm, depthMm] = pairOf(
    '--bed',
    text('bed') ?? `${DEFAULT_BED.widthMm}x${DEFAULT_BED.depthMm}`,
  );
  const zero = oneOf('--zero', text('zero') ?? DEFAULT_BED.zero, ZERO_CORNERS);
  const kerfMm = figure('--kerf', text('kerf') ?? '0.15', { least: 0, most: 10 });
  const blank = figure('--blank', text('blank') ?? '1', { least: 1, whole: true, unit: '' });
  const path = text('outline');
  const job = { number: text('number') ?? 'seat', name: text('name') ?? kind };
  await mayWriteInto(folder, [], force);
  return refusing(async () => {
    const outline = path === undefined ? undefined : await outlineFrom(path, blank);
    const plan = text('plan');
    const from: SeatFrom = {
      bed: { widthMm, depthMm, zero },
      toolMm: kerfMm / 2,
      ...(outline && { outline }),
      ...(plan !== undefined && (await planFrom(plan, kind))),
      clearanceMm: figure('--clearance', text('clearance') ?? '0.3', { least: 0, most: 20 }),
      ...(text('thickness') !== undefined && {
        thinnestMm: figure('--thickness', text('thickness')!, { least: 0.01, most: 500 }),
      }),
      clearName: text('clear-name') ?? 'Clear',
    };
    const sheet = seatOf(kind, settings, from, await loadClipper());
    const files = await seatFiles(sheet, job, await loadPdfjs());
    await mayWriteInto(
      folder,
      files.map(({ name }) => name),
      force,
    );
    for (const { name, bytes } of files) await write(join(folder, name), bytes, force);
    for (const { message, remedy } of sheet.reasons)
      console.error(`snugline: ${message} ${remedy}`);
    for (const { name, mm, places = 2, count } of sheet.figures)
      console.log(count ? `${name}: ${mm}` : `${name}: ${mm.toFixed(places)} mm`);
    console.log(`${files.map(({ name }) => name).join(', ')} in ${folder}`);
    return 0;
  });
}

/** Bed, board, pockets and tool of a plan, whose paths are cut as they stand in it; plates have the holes of the board's own seat. */
async function planFrom(
  path: string,
  kind: SeatKind,
): Promise<Pick<SeatFrom, 'bed' | 'pockets' | 'toolMm'>> {
  const plan = readPlanJson(await bytesOf(path, 'plan-file-unread'), basename(path));
  const bed = { widthMm: plan.bedMm[0], depthMm: plan.bedMm[1], zero: plan.zero };
  const { edge, holes = [] } = plan.board ?? {};
  return {
    bed: edge ? { ...bed, board: boardFrom(edge, bed) } : bed,
    toolMm: toolRadiusMm(plan.tool),
    pockets: [
      ...plan.pockets.map(({ id, wall, cut }) => ({
        id,
        wall,
        ways: cut.flatMap(({ outer, holes }) =>
          [...holes, outer].map((points) => ({ closed: true, points })),
        ),
      })),
      ...(kind === 'plates' ? holes : []).map(({ what, wall, cut }) => ({
        id: what,
        wall: [{ outer: wall, holes: [] }],
        ways: cut ? [{ closed: true, points: cut }] : [],
      })),
    ],
  };
}

/** A blank's seat outline of an outline file. */
async function outlineFrom(path: string, blank: number): Promise<SeatFrom['outline']> {
  const bytes = await readFile(path).catch((error: NodeJS.ErrnoException) => {
    const what =
      error.code === 'ENOENT' ? 'there is no such file' : `it cannot be opened (${error.code})`;
    throw new Refusal('outline-file-unread', { file: path, what });
  });
  const seat = seatOutline(outlinesOf(readOutlineJson(bytes, basename(path)), blank));
  if (!seat) throw new Refusal('blank-without-face', { blank });
  return { ring: aboutCentroid(seat.region.outer), thicknessMm: seat.thicknessMm ?? 0 };
}

export const seat: Verb = { help, run };

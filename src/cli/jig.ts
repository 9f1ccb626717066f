import { createHash } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import { basename, join } from 'node:path';
import { judgeArtwork, judgeBack } from '../artwork/judge.ts';
import { reason, Refusal } from '../base/reason.ts';
import { loadPdfjs } from '../files/load-pdfjs-node.ts';
import { readOutlineJson } from '../files/outline-json.ts';
import { typefacesOf } from '../files/font.ts';
import { prints, sheetsOf, type PrintWork } from '../files/print-pdf.ts';
import { ARTWORK_NAMES, furtherNames, release, RELEASE_NAMES } from '../files/release.ts';
import { CONTACT_NAMES } from '../files/contacts.ts';
import { engravingOf } from '../files/engrave.ts';
import { packageOf } from '../files/package.ts';
import { pocketNumbers } from '../plan/chosen.ts';
import {
  DXF_CURVES,
  DXF_VERSIONS,
  FILE_SETTINGS,
  LINE_COLOUR_NAMES,
  PRINT_PAPER_NAMES,
  OPERATIONS,
  revisionLetter,
  spotName,
  type CutterScale,
  type FileSettings,
} from '../files/settings.ts';
import { loadClipper } from '../geometry/load-clipper-node.ts';
import {
  DEFAULT_BED,
  DEFAULT_POCKET,
  furtherPlans,
  jobFacts,
  leftOver,
  makeJig,
  nestJig,
  type JigSettings,
} from '../job/jig.ts';
import { ORDER, orderOf, orderWords, type OrderSettings } from '../plan/order.ts';
import { AXES, byBack } from '../plan/turned-over.ts';
import { backWords, correctionSaid } from '../job/run.ts';
import { usageWords } from '../plan/usage.ts';
import { DEFAULT_HEIGHTS } from '../plan/heights.ts';
import { PINS, SCREWS } from '../plan/board-on-bed.ts';
import {
  BOARD_SEATS,
  STEPS,
  TURNS,
  ZERO_CORNERS,
  type Axis,
  type BoardOnBed,
  type BoardSeat,
  type KeepOut,
  type Turns,
} from '../plan/plan.ts';
import { MATERIALS } from '../pocket/material.ts';
import { FINGER_MM } from '../pocket/notch.ts';
import {
  CORNERS,
  HOLDS,
  LINE_SIDES,
  PLAIN,
  RELIEFS,
  WIDENS,
  type PocketSettings,
  type Stretched,
  type Tool,
} from '../pocket/pocket.ts';
import { toolWords } from '../pocket/trails.ts';
import { artworkHelp, artworkOf, artworkOptions, readArtwork } from './artwork.ts';
import { bedReadOf, cutReadOf } from './bed-profile.ts';
import { firstPrintOf } from './first-print.ts';
import { mayWriteInto, write } from './place.ts';
import {
  asUsage,
  byBlank,
  countsOf,
  figure,
  listOf,
  needed,
  oneOf,
  pairOf,
  readArgs,
  refusing,
  textOf,
  today,
  Usage,
  type Verb,
} from './usage.ts';

const beam = DEFAULT_POCKET.tool.kind === 'beam' ? DEFAULT_POCKET.tool.kerfMm : 0;

/** Everything in one file. */
const ZIP = 'release.zip';

/** How pockets can be laid: as step and repeat, or by nesting what is asked for or as many as fit. */
const LAYINGS = [...STEPS, 'nest', 'fill'] as const;

const help = `jig --outline outline.json --out FOLDER [options]

Makes pockets from outlines, lays them on the bed and writes the matching files, each read back before it is kept:
${RELEASE_NAMES.join(', ')}.
All share the bed frame (mm, origin at the bed's lower left corner seen from its front); every page is the bed.

  --clearance MM        room between blank and wall, per side (${DEFAULT_POCKET.clearanceMm})
  --along LIST          stretches with a clearance of their own, each BLANK:FROM-TO=MM with commas between, as 1:0.1-0.35=0.6;
                        FROM and TO are shares of the edge's length, counter-clockwise from its rightmost point
  --kerf MM             width that a beam or knife takes away (${beam}); the tool's centre runs half of it inside
  --cutter-radius MM    radius of a mill, instead of --kerf
  --tool KIND           laser, knife, mill, drag-knife, hand; without it, laser, or mill with --cutter-radius
  --blade-offset MM     a drag knife's offset, taken in the file; 0 leaves it to the cutter's program
  --material NAME       ${MATERIALS.map(({ id }) => id).join(', ')}
                        what no laser may cut is refused with the reason
  --add-u WHERE         none, hidden, all (${PLAIN.widen}): where the outline's own uncertainty is added to the clearance
  --posts               posts of the board stand in the blank's holes
  --relief KIND         ${RELIEFS.join(', ')} (${PLAIN.relief}): how a mill clears corners
  --corners KIND        ${CORNERS.join(', ')} (${PLAIN.corners}): how the wall goes round the blank's outside corners;
                        arcs: round, and wall and path in lines and arcs
  --draft DEG           lean of the walls, opening upward (0); --chamfer MM round their upper edge, at 45 degrees (0)
  --notches N           finger notches, 0 to 8 (0): two go across from each other, more are spread evenly
  --notch-radius MM     (${FINGER_MM}); --notch-reach MM beyond the wall, a slot where more than the radius
  --ejector MM          diameter of a hole to push the blank out through floor or base plate (none)
  --tabs N, --tab MM    bridges that keep the drop-out in the board (0), and their width (${PLAIN.tabMm})
  --lead-in MM          from where the tool enters the drop-out to its path (0)
  --speed MM            of the cutter, mm/s (${PLAIN.speedMmPerS}), for the time; --passes N (${PLAIN.passes})
  --line SIDE           ${LINE_SIDES.join(', ')} (${PLAIN.line}): outside keeps the size of what falls out, not of the pocket
  --hold KIND           base, blind, through (${PLAIN.hold}); --depth MM of a blind pocket (${PLAIN.depthMm})
  --board MM, --base MM, --packer MM  thickness of board, base plate, packer; any of these asks for heights
  --above-face MM       what rises above the print face (0); --on-board MM what stands on the board (0)
  --rock MM             how far a corner lifts as the blank rocks, by feeler gauge; --shiny: face or board throws light back
  --thickness-spread MM largest less smallest piece (0); --head-gap MM (${DEFAULT_HEIGHTS.headGapMm})
  --head MM             height of the head over the table, instead of the least that keeps the gap
  --tallest MM          tallest load of the machine; --panel load|head: what its panel wants (${DEFAULT_HEIGHTS.panel})
  --bed WxH             the printer's print area (${DEFAULT_BED.widthMm}x${DEFAULT_BED.depthMm})
  --zero CORNER         ${ZERO_CORNERS.join(', ')} (${DEFAULT_BED.zero}): where places are counted from
  --rows N, --columns N pockets of each blank (1, 1)
  --count 1=4,2=2       how many of each blank, instead
  --order N             pieces ordered, or 1=130,2=40: loads, part-filled loads with files of their own, blanks to buy, time
  --spares PERCENT      blanks to buy besides (${ORDER.sparesPercent}); --boards N boards that are cut alike (1)
  --put-in S, --take-out S, --change S, --print-minutes MIN  your own rates (${ORDER.putInS}, ${ORDER.takeOutS}, ${ORDER.changeS}, ${ORDER.printMin})
  --both-sides AXIS     depth (left over right) or width (front over rear): a second board for the pieces turned over
  --layout KIND         ${LAYINGS.join(', ')} (rows): nest packs the true openings, fill as many as fit
  --turns KIND          ${Object.keys(TURNS).join(', ')} (quarter): what nesting may turn a blank by
  --keep-out LIST       places no pocket may touch, each XxY+WxD in bed mm, with commas between
  --board-size WxD      a board of its own size, instead of one that covers the bed; its edge goes into the cut files
  --board-at XxY        where its corner at zero lies, from zero (0x0)
  --board-seat KIND     ${BOARD_SEATS.join(', ')}: what seats it; --proud MM how far that stands above the board (0; heads ${SCREWS.proudMm})
  --pins XxY,XxY        places of two pins, bed mm: the first in a round hole, the second in a slot; --pin MM their diameter
                        (${PINS.pinMm}), --pin-play MM hole less pin (${PINS.playMm}), --slot MM longer than the hole (${PINS.slotMm})
  --screws XxY,...      places of screws, bed mm; --screw MM their diameter (${SCREWS.screwMm}), --screw-play MM hole less screw
                        (${SCREWS.playMm}), --screw-head MM (${SCREWS.headMm})
  --key                 a corner to cut off the board at zero, so that it lies one way only
  --pitch XxY           centre to centre; without it a wall of ${DEFAULT_BED.wallMm} mm is left
${artworkHelp}  --spot NAME           spot colour that lines to cut have in PDF and EPS (${FILE_SETTINGS.operations.cut.spot}), or one for
                        each operation: cut=NAME,engrave=NAME
  --colours LIST        line colours by operation, cut=red,engrave=black
                        operations: ${OPERATIONS.join(', ')}; colours: ${LINE_COLOUR_NAMES.join(', ')}
  --dxf VERSION         ${DXF_VERSIONS.join(', ')} (${FILE_SETTINGS.dxf.version})
  --curves KIND         of the DXF: ${DXF_CURVES.join(', ')} (${FILE_SETTINGS.dxf.curves}); R12 has no splines and takes arcs
  --engrave             cuts job number, revision and a code of the plan into the board, single strokes
  --revision LETTER     of this issue of the board (${FILE_SETTINGS.revision})
  --paper PAPER         ${PRINT_PAPER_NAMES.join(', ')} (${FILE_SETTINGS.paper}): what the 1:1 print is tiled over; sheets are Letter with Letter
  --changed TEXT        what changed in this revision, for job sheet and loading card
  --contacts LIST       what the items touch: ${CONTACT_NAMES.join(', ')}, or none; without it the job sheet says not asked
  --quantity N, --tolerance MM  boards asked of a cutting service (${FILE_SETTINGS.order.quantity}), and how well (${FILE_SETTINGS.order.toleranceMm})
  --cutter-scale LIST   what the cutter makes of lengths, parts in a thousand too long, as "board" learns it: x=-0.6,y=0.3,
                        and by how much x grows with y: shear=0.2; what the tool follows is corrected for it
  --cut-read LIST       what was read of a cut test, as for "cut-test", instead; --cut-read-u MM
  --miss LIST           what the first print showed, as for "first-print": artwork and templates are moved; --miss-u MM
  --bed-read LIST       what was read of the printer's bed, as for "bed-profile": artwork and templates are corrected, cut files
                        not; --bed-read-u MM
  --png DPI             writes artwork.png too, transparent, at this resolution
  --sample LIST         some pockets alone, by their numbers (1,4,6-8), on the same page with the same zero: cut, template, set-up
                        print, and the board round them as a body (STL and 3MF)
  --zip                 writes ${ZIP} too: all files, numbered, with a list
  --bleed MM            how far artwork reaches past the edge (${DEFAULT_POCKET.bleedMm})
  --number TEXT         job number; without it one is made from the outlines
  --name TEXT           what the job is called
  --because TEXT        why the job goes out although it was NOT CHECKED; printed on the job sheet
  --by NAME             who answers for that; printed on the job sheet
  --out FOLDER          made when it is missing
  --force               replace files that exist

Lasers, blades and mills hurt: follow the machine's own instructions and the rules of the place where it stands.
`;

/** What was taken for the pocket, given or not. */
const wordsOf = ({ clearanceMm, tool }: PocketSettings): string =>
  `clearance ${clearanceMm} mm, ${'kerfMm' in tool ? `kerf ${tool.kerfMm} mm` : tool.kind === 'mill' ? `cutter radius ${tool.radiusMm} mm` : toolWords(tool)}`;

const TOOLS = ['laser', 'knife', 'mill', 'drag-knife', 'hand'] as const;

function toolOf(
  named: string | undefined,
  kerf: string | undefined,
  radius: string | undefined,
  offset: string | undefined,
): Tool {
  if (kerf !== undefined && radius !== undefined)
    throw new Usage('Give --kerf for a beam or knife, or --cutter-radius for a mill, not both.');
  const tool =
    named === undefined
      ? radius !== undefined
        ? 'mill'
        : offset !== undefined
          ? 'drag-knife'
          : 'laser'
      : oneOf('--tool', named, TOOLS);
  const only = (option: string, given: string | undefined, ...kinds: string[]): void => {
    if (given !== undefined && !kinds.includes(tool))
      throw new Usage(`${option} does not go with --tool ${tool}; leave one of them out.`);
  };
  only('--kerf', kerf, 'laser', 'knife');
  only('--cutter-radius', radius, 'mill');
  only('--blade-offset', offset, 'drag-knife');
  switch (tool) {
    case 'mill':
      if (radius === undefined)
        throw new Usage(
          '--tool mill needs --cutter-radius, half the diameter of the cutter in mm.',
        );
      return { kind: 'mill', radiusMm: figure('--cutter-radius', radius, { above: 0, most: 50 }) };
    case 'drag-knife':
      return {
        kind: 'drag',
        offsetMm:
          offset === undefined ? 0 : figure('--blade-offset', offset, { least: 0, most: 5 }),
      };
    case 'hand':
      return { kind: 'hand' };
    default:
      return {
        kind: tool === 'knife' ? 'knife' : 'beam',
        kerfMm: kerf === undefined ? beam : figure('--kerf', kerf, { least: 0, most: 10 }),
      };
  }
}

/** Two that the program places across from each other, any other number evenly spread. */
function notchesOf(
  count: number,
  radiusMm: number,
  reachMm: number,
): NonNullable<PocketSettings['notches']> {
  if (reachMm < radiusMm)
    throw new Usage(
      '--notch-reach cannot be less than --notch-radius; leave it out for a half round.',
    );
  if (count === 2) return { radiusMm, reachMm };
  return Array.from({ length: count }, (_, k) => ({ at: k / count, radiusMm, reachMm }));
}

function stretchesOf(text: string): Stretched[] {
  return text.split(',').map((part) => {
    const found = /^(\d+):([\d.]+)-([\d.]+)=([\d.]+)$/.exec(part.trim());
    const [blank, from, to, clearanceMm] = (found?.slice(1) ?? []).map(Number);
    if (
      ![blank, from, to, clearanceMm].every((v) => Number.isFinite(v)) ||
      !(blank! >= 1 && from! <= 1 && to! <= 1 && from !== to && clearanceMm! <= 50)
    )
      throw new Usage(
        `--along cannot be "${part}": give BLANK:FROM-TO=MM, for instance 1:0.1-0.35=0.6.`,
      );
    return { blank: blank!, from: from!, to: to!, clearanceMm: clearanceMm! };
  });
}

function keepOutsOf(text: string): KeepOut[] {
  return text.split(',').map((part, k) => {
    const [at, size, ...more] = part.split('+');
    if (at === undefined || size === undefined || more.length > 0)
      throw new Usage(
        `--keep-out cannot be "${part}": give XxY+WxD in mm, for instance 0x0+20x20.`,
      );
    const [xMm, yMm] = pairOf('--keep-out', at, -1e-9);
    const [widthMm, depthMm] = pairOf('--keep-out', size);
    return { what: `keep-out ${k + 1}`, xMm, yMm, widthMm, depthMm };
  });
}

const spotsOf = (option: string, text: string): { x: number; y: number }[] =>
  text.split(',').map((part) => {
    const [x, y] = pairOf(option, part, -1e-9);
    return { x, y };
  });

/** The board and its seat, from the options that say so; undefined where it covers the bed. */
function boardOf(
  text: (name: string) => string | undefined,
  number: (name: string, otherwise: number, range: Parameters<typeof figure>[2]) => number,
): BoardOnBed | undefined {
  const size = text('board-size');
  const named = text('board-seat');
  const [pins, screws] = [text('pins'), text('screws')];
  const kind =
    named !== undefined
      ? oneOf('--board-seat', named, BOARD_SEATS)
      : pins !== undefined
        ? 'pins'
        : screws !== undefined
          ? 'screws'
          : undefined;
  const only = (option: string, ...kinds: (BoardSeat['kind'] | undefined)[]): void => {
    if (text(option) !== undefined && !kinds.includes(kind))
      throw new Usage(
        `--${option} does not go with ${kind === undefined ? 'a board whose seat is not said' : `--board-seat ${kind}`}; leave one of them out.`,
      );
  };
  for (const option of ['pins', 'pin', 'pin-play', 'slot']) only(option, 'pins');
  for (const option of ['screws', 'screw', 'screw-play', 'screw-head']) only(option, 'screws');
  only('proud', ...BOARD_SEATS);
  if (size === undefined) {
    for (const option of ['board-at', 'board-seat', 'pins', 'screws'])
      if (text(option) !== undefined)
        throw new Usage(`--${option} needs --board-size, the width and depth of the board in mm.`);
    return undefined;
  }
  const [widthMm, depthMm] = pairOf('--board-size', size);
  const at = text('board-at');
  const proud = (otherwise: number): number => number('proud', otherwise, { least: 0, most: 200 });
  const play = (name: string, otherwise: number): number =>
    number(name, otherwise, { least: 0, most: 20 });
  const seat = (): BoardSeat | undefined => {
    switch (kind) {
      case undefined:
        return undefined;
      case 'stop':
        return { kind, proudMm: proud(0) };
      case 'pins': {
        const [a, b, ...more] = spotsOf('--pins', pins ?? '');
        if (!a || !b || more.length > 0)
          throw new Usage(
            `--pins takes two places, for instance 20x20,280x20, not "${pins ?? ''}".`,
          );
        return {
          kind,
          pinMm: number('pin', PINS.pinMm, { above: 0, most: 50 }),
          playMm: play('pin-play', PINS.playMm),
          slotMm: number('slot', PINS.slotMm, { least: 0, most: 50 }),
          at: [a, b],
          proudMm: proud(PINS.proudMm),
        };
      }
      case 'screws':
        if (screws === undefined)
          throw new Usage('--board-seat screws needs --screws, their places, as in 20x20,280x180.');
        return {
          kind,
          screwMm: number('screw', SCREWS.screwMm, { above: 0, most: 50 }),
          playMm: play('screw-play', SCREWS.playMm),
          headMm: number('screw-head', SCREWS.headMm, { least: 0, most: 100 }),
          at: spotsOf('--screws', screws),
          proudMm: proud(SCREWS.proudMm),
        };
    }
  };
  const found = seat();
  return {
    widthMm,
    depthMm,
    ...(at !== undefined && { fromZeroMm: pairOf('--board-at', at, -1e-9) }),
    ...(found && { seat: found }),
  };
}

/** How the files are written, from the options that say so. */
function fileSettingsOf(
  text: (name: string) => string | undefined,
  engrave: boolean,
): FileSettings {
  const operation = (key: string) => oneOf('The operation', key, OPERATIONS);
  const given = <T>(option: string, read: (value: string) => T): ReturnType<typeof listOf<T>> => {
    const words = text(option);
    return words === undefined
      ? { named: new Map() }
      : listOf(`--${option}`, words, operation, read);
  };
  const spots = given('spot', (name) => asUsage('--spot', () => spotName(name)));
  const colours = given('colours', (name) => oneOf('--colours', name, LINE_COLOUR_NAMES));
  if (colours.bare !== undefined)
    throw new Usage('--colours names the operations, for instance cut=red,engrave=black.');
  const operations = Object.fromEntries(
    OPERATIONS.map((o) => {
      const plain = FILE_SETTINGS.operations[o];
      const spot = spots.named.get(o) ?? (o === 'engrave' ? undefined : spots.bare);
      return [o, { spot: spot ?? plain.spot, colour: colours.named.get(o) ?? plain.colour }];
    }),
  ) as unknown as FileSettings['operations'];
  const [revision, png, contacts] = [text('revision'), text('png'), text('contacts')];
  const [quantity, tolerance] = [text('quantity'), text('tolerance')];
  const scale = text('cutter-scale');
  return {
    operations,
    dxf: {
      version: oneOf('--dxf', text('dxf') ?? FILE_SETTINGS.dxf.version, DXF_VERSIONS),
      curves: oneOf('--curves', text('curves') ?? FILE_SETTINGS.dxf.curves, DXF_CURVES),
    },
    engrave,
    cutterPerMille: scale === undefined ? FILE_SETTINGS.cutterPerMille : cutterScaleOf(scale),
    cutterBy: scale === undefined ? '' : 'figures that were given',
    revision:
      revision === undefined
        ? FILE_SETTINGS.revision
        : asUsage('--revision', () => revisionLetter(revision)),
    paper: oneOf('--paper', text('paper') ?? FILE_SETTINGS.paper, PRINT_PAPER_NAMES),
    changed: text('changed') ?? '',
    sample: asUsage('--sample', () => pocketNumbers(text('sample') ?? '').join(',')),
    contacts:
      contacts === undefined
        ? null
        : contacts === 'none'
          ? []
          : contacts.split(',').map((name) => oneOf('--contacts', name.trim(), CONTACT_NAMES)),
    order: {
      quantity:
        quantity === undefined
          ? FILE_SETTINGS.order.quantity
          : figure('--quantity', quantity, { least: 1, most: 100000, whole: true, unit: '' }),
      toleranceMm:
        tolerance === undefined
          ? FILE_SETTINGS.order.toleranceMm
          : figure('--tolerance', tolerance, { above: 0, most: 10 }),
    },
    pngDpi: png === undefined ? null : figure('--png', png, { least: 10, most: 2400, unit: 'dpi' }),
  };
}

function cutterScaleOf(text: string): CutterScale {
  const { bare, named } = listOf(
    '--cutter-scale',
    text,
    (axis) => oneOf('--cutter-scale, the axis', axis, ['x', 'y', 'shear'] as const),
    (value) => figure('--cutter-scale', value, { least: -20, most: 20, unit: '' }),
  );
  if (bare !== undefined)
    throw new Usage(`--cutter-scale cannot be "${text}": name the axes, as in x=-0.6,y=0.3.`);
  const shear = named.get('shear');
  const [x, y] = [named.get('x') ?? 0, named.get('y') ?? 0];
  return shear === undefined ? [x, y] : [x, y, shear];
}

/** Pieces of blank 1 where none is named. */
function piecesOf(text: string): Record<string, number> {
  const { bare, named } = byBlank('--order', text, 1e6);
  return bare === undefined ? Object.fromEntries(named) : { 1: bare };
}

/** Options beside those of the contract. */
const WORDS = [
  'tool',
  'material',
  'add-u',
  'along',
  'relief',
  'corners',
  'hold',
  'line',
  'panel',
  'layout',
  'turns',
  'keep-out',
  'order',
  'both-sides',
  'board-size',
  'board-at',
  'board-seat',
  'pins',
  'screws',
] as const;
const FIGURES = [
  'blade-offset',
  'draft',
  'chamfer',
  'notches',
  'notch-radius',
  'notch-reach',
  'ejector',
  'tabs',
  'tab',
  'lead-in',
  'speed',
  'passes',
  'depth',
  'board',
  'base',
  'packer',
  'above-face',
  'on-board',
  'rock',
  'thickness-spread',
  'head-gap',
  'head',
  'tallest',
  'spares',
  'boards',
  'put-in',
  'take-out',
  'change',
  'print-minutes',
  'pin',
  'pin-play',
  'slot',
  'screw',
  'screw-play',
  'screw-head',
  'proud',
] as const;
/** Any of these asks for heights. */
const HEIGHTS = [
  'board',
  'base',
  'packer',
  'above-face',
  'on-board',
  'rock',
  'head',
  'tallest',
] as const;

async function run(args: readonly string[]): Promise<number> {
  const { values } = readArgs(
    'jig',
    args,
    {
      outline: { type: 'string' },
      clearance: { type: 'string' },
      kerf: { type: 'string' },
      'cutter-radius': { type: 'string' },
      ...Object.fromEntries(
        [...WORDS, ...FIGURES].map((name) => [name, { type: 'string' as const }]),
      ),
      posts: { type: 'boolean' },
      key: { type: 'boolean' },
      shiny: { type: 'boolean' },
      bed: { type: 'string' },
      zero: { type: 'string' },
      rows: { type: 'string' },
      columns: { type: 'string' },
      count: { type: 'string' },
      pitch: { type: 'string' },
      bleed: { type: 'string' },
      ...Object.fromEntries(
        [
          'spot',
          'colours',
          'dxf',
          'curves',
          'revision',
          'png',
          'paper',
          'changed',
          'sample',
          'contacts',
          'quantity',
          'tolerance',
          'cutter-scale',
          'miss',
          'miss-u',
          'bed-read',
          'bed-read-u',
          'cut-read',
          'cut-read-u',
        ].map((name) => [name, { type: 'string' as const }]),
      ),
      engrave: { type: 'boolean' },
      zip: { type: 'boolean' },
      number: { type: 'string' },
      name: { type: 'string' },
      because: { type: 'string' },
      by: { type: 'string' },
      ...artworkOptions,
      out: { type: 'string' },
      force: { type: 'boolean' },
    },
    { later: ['job'] },
  );
  const text = (name: string): string | undefined => textOf(values[name]);
  const number = (name: string, otherwise: number, range: Parameters<typeof figure>[2]): number => {
    const given = text(name);
    return given === undefined ? otherwise : figure(`--${name}`, given, range);
  };
  const path = needed('jig', '--outline', values.outline);
  const folder = needed('jig', '--out', values.out);
  const force = values.force === true;
  const [widthMm, depthMm] = pairOf(
    '--bed',
    text('bed') ?? `${DEFAULT_BED.widthMm}x${DEFAULT_BED.depthMm}`,
  );
  const pitch = text('pitch');
  const count = text('count');
  const whole = { least: 1, most: 1000, whole: true, unit: '' };
  const length = { least: 0, most: 500 };
  const word = <T extends string>(name: (typeof WORDS)[number], words: readonly T[]) => {
    const given = text(name);
    return given === undefined ? undefined : oneOf(`--${name}`, given, words);
  };
  const material = word(
    'material',
    MATERIALS.map(({ id }) => id),
  );
  const notchRadiusMm = number('notch-radius', FINGER_MM, { above: 0, most: 100 });
  const notches = notchesOf(
    number('notches', 0, { ...whole, least: 0, most: 8 }),
    notchRadiusMm,
    number('notch-reach', notchRadiusMm, { above: 0, most: 200 }),
  );
  const orNull = (name: 'board' | 'base' | 'head' | 'tallest'): number | null =>
    text(name) === undefined ? null : number(name, 0, { above: 0, most: 1000 });
  const keepOut = text('keep-out');
  const board = boardOf(text, number);
  const laying = word('layout', LAYINGS);
  const layout = laying === 'nest' || laying === 'fill' ? undefined : laying;
  const turns = word('turns', Object.keys(TURNS) as Turns[]);
  const turnedAbout = word('both-sides', Object.keys(AXES) as Axis[]);
  const rate = { least: 0, most: 1e5, unit: '' };
  const rates: Omit<OrderSettings, 'pieces'> = {
    sparesPercent: number('spares', ORDER.sparesPercent, { least: 0, most: 100, unit: '%' }),
    putInS: number('put-in', ORDER.putInS, rate),
    takeOutS: number('take-out', ORDER.takeOutS, rate),
    changeS: number('change', ORDER.changeS, rate),
    printMin: number('print-minutes', ORDER.printMin, rate),
  };
  const ordered = text('order');
  const order = ordered === undefined ? undefined : { ...rates, pieces: piecesOf(ordered) };
  const settings: Omit<JigSettings, 'job'> = {
    pocket: {
      ...DEFAULT_POCKET,
      clearanceMm: number('clearance', DEFAULT_POCKET.clearanceMm, { least: 0, most: 50 }),
      ...(text('along') !== undefined && { along: stretchesOf(text('along')!) }),
      bleedMm: number('bleed', DEFAULT_POCKET.bleedMm, { least: 0, most: 50 }),
      tool: toolOf(text('tool'), text('kerf'), text('cutter-radius'), text('blade-offset')),
      ...(material !== undefined && { material }),
      widen: word('add-u', WIDENS) ?? PLAIN.widen,
      posts: values.posts === true,
      relief: word('relief', RELIEFS) ?? PLAIN.relief,
      corners: word('corners', CORNERS) ?? PLAIN.corners,
      draftDeg: number('draft', 0, { least: 0, most: 45, unit: 'degrees' }),
      chamferMm: number('chamfer', 0, { least: 0, most: 20 }),
      notches,
      ejectorMm: number('ejector', 0, length),
      tabs: number('tabs', 0, { ...whole, least: 0, most: 50 }),
      tabMm: number('tab', PLAIN.tabMm, { above: 0, most: 50 }),
      leadInMm: number('lead-in', 0, { least: 0, most: 50 }),
      speedMmPerS: number('speed', PLAIN.speedMmPerS, { above: 0, most: 5000, unit: 'mm/s' }),
      passes: number('passes', 1, whole),
      hold: word('hold', HOLDS) ?? PLAIN.hold,
      line: word('line', LINE_SIDES) ?? PLAIN.line,
      depthMm: number('depth', PLAIN.depthMm, { above: 0, most: 500 }),
    },
    bed: {
      ...DEFAULT_BED,
      widthMm,
      depthMm,
      zero: oneOf('--zero', text('zero') ?? DEFAULT_BED.zero, ZERO_CORNERS),
      rows: number('rows', 1, whole),
      columns: number('columns', 1, whole),
      ...(pitch !== undefined && { pitchMm: pairOf('--pitch', pitch) }),
      ...(layout !== undefined && { layout }),
      ...(turns !== undefined && { turns }),
      ...(keepOut !== undefined && { keepOuts: keepOutsOf(keepOut) }),
      ...(board && { board }),
      ...(values.key === true && { keyed: true }),
      ...(text('boards') !== undefined && { boards: number('boards', 1, { ...whole, most: 20 }) }),
      ...(turnedAbout !== undefined && { turnedAbout }),
    },
    ...(HEIGHTS.some((name) => text(name) !== undefined) && {
      heights: {
        ...DEFAULT_HEIGHTS,
        boardMm: orNull('board'),
        baseMm: orNull('base'),
        packerMm: number('packer', 0, length),
        aboveFaceMm: number('above-face', 0, length),
        onBoardMm: number('on-board', 0, length),
        ...(text('rock') !== undefined && { rockMm: number('rock', 0, length) }),
        ...(values.shiny === true && { shiny: true }),
        spreadMm: number('thickness-spread', 0, length),
        headGapMm: number('head-gap', DEFAULT_HEIGHTS.headGapMm, { above: 0, most: 100 }),
        headMm: orNull('head'),
        tallestMm: orNull('tallest'),
        panel: word('panel', ['load', 'head'] as const) ?? DEFAULT_HEIGHTS.panel,
      },
    }),
    ...(count !== undefined && { counts: countsOf(count) }),
  };
  const files = fileSettingsOf(text, values.engrave === true);
  const zip = values.zip === true;
  const artwork = artworkOf(values);
  await mayWriteInto(
    folder,
    [...RELEASE_NAMES, ...(artwork ? ARTWORK_NAMES : []), ...(zip ? [ZIP] : [])],
    force,
  );

  return refusing(() =>
    makeFiles(
      path,
      folder,
      force,
      settings,
      { files, zip, values },
      artwork,
      {
        number: text('number'),
        name: text('name'),
        because: text('because'),
        nested: laying === 'nest' || laying === 'fill' ? laying : undefined,
        by: text('by'),
      },
      order,
    ),
  );
}

async function makeFiles(
  path: string,
  folder: string,
  force: boolean,
  settings: Omit<JigSettings, 'job'>,
  {
    files: said,
    zip,
    values,
  }: {
    readonly files: FileSettings;
    readonly zip: boolean;
    readonly values: Parameters<typeof firstPrintOf>[0];
  },
  artwork: ReturnType<typeof artworkOf>,
  words: Readonly<Record<'number' | 'name' | 'because' | 'by' | 'nested', string | undefined>>,
  order: OrderSettings | undefined,
): Promise<number> {
  const bytes = await readFile(path).catch((error: NodeJS.ErrnoException) => {
    const what =
      error.code === 'ENOENT' ? 'there is no such file' : `it cannot be opened (${error.code})`;
    throw new Refusal('outline-file-unread', { file: path, what });
  });
  const file = readOutlineJson(bytes, basename(path));
  const job = {
    number: words.number ?? createHash('sha256').update(bytes).digest('hex').slice(0, 8),
    name: words.name ?? basename(path),
  };
  const clipper = await loadClipper();
  const nested =
    words.nested === undefined
      ? undefined
      : nestJig(clipper, file, settings, words.nested === 'fill');
  const bed = nested
    ? { ...settings.bed, layout: 'free' as const, places: nested.places }
    : settings.bed;
  const jig = makeJig(clipper, file, { ...settings, bed, job });
  const short = nested && words.nested === 'nest' ? leftOver(nested) : undefined;
  const sides = artwork && (await readArtwork(artwork));
  const further = furtherPlans(jig, order);
  const facesOn = ({ settings: { run }, fonts }: PrintWork) => (run ? typefacesOf(run, fonts) : []);
  const judged = sides
    ? [
        ...judgeArtwork(
          jig.plan,
          sheetsOf(sides.work.arts),
          sides.work.settings,
          facesOn(sides.work),
          order?.pieces,
        ),
        ...(sides.back && further.back
          ? judgeBack(
              byBack(further.back),
              sheetsOf(sides.back.arts),
              sides.back.settings,
              facesOn(sides.back),
            )
          : []),
      ]
    : [];
  // An outline file holds no readings: whatever is made from it here has not been checked.
  const unchecked = reason('not-checked');
  const taken = order && orderOf(jig.plan, jig.blanks, order);
  const ordered = taken ? orderWords(taken, order) : [];
  const remarks = [...ordered, ...backWords(bed.turnedAbout)];
  const override = {
    reason: words.because ?? '',
    by: words.by ?? '',
    over: [unchecked.message],
  };
  const facts = jobFacts(jig, file, today(), [], override, remarks);
  const printedSides = {
    front: sides !== undefined && prints(sides.work),
    back: sides?.back !== undefined && prints(sides.back),
  };
  await mayWriteInto(
    folder,
    furtherNames(bed, further.loads, printedSides, said.sample !== ''),
    force,
  );
  const boardMm = settings.heights?.boardMm ?? null;
  const at = (id: string) => jig.plan.pockets.find((p) => p.id === id)?.place;
  const read = bedReadOf(values, jig.plan.bed);
  const cutter = cutReadOf(values, jig.plan.bed);
  const fileSettings = { ...said, ...cutter?.files };
  const printed = firstPrintOf(values, at, read?.correction);
  const correction = printed?.correction ?? read?.correction;
  const moved = correction ? [correctionSaid(correction)] : [];
  const files = await release(
    jig.plan,
    {
      ...facts,
      boardMm,
      reasons: [...facts.reasons, ...judged],
      ...(moved.length > 0 && { remarks: [...(facts.remarks ?? []), ...moved] }),
    },
    await loadPdfjs(),
    fileSettings,
    sides && { clipper, ...sides },
    further,
    correction,
  );
  for (const { name, bytes } of files) await write(join(folder, name), bytes, force);
  if (zip) await write(join(folder, ZIP), packageOf(jig.plan, files), force);
  const engraved = fileSettings.engrave ? engravingOf(jig.plan, fileSettings).reason : undefined;
  const answers =
    words.because === undefined
      ? [unchecked]
      : words.by === undefined
        ? [reason('nobody-answers', { because: words.because })]
        : [];
  for (const { message, remedy } of [
    ...file.reasons,
    ...jig.plan.reasons,
    ...(engraved ? [engraved] : []),
    ...(short ? [short] : []),
    ...judged,
    ...(read?.profile.doubts ?? []),
    ...(cutter?.profile.doubts ?? []),
    ...(printed?.landing.reasons ?? []),
    ...(taken?.reasons ?? []),
    ...answers,
  ])
    console.error(`snugline: ${message} ${remedy}`);
  const { pockets, digest, usage } = jig.plan;
  if (nested && usage) console.log(usageWords(usage));
  for (const sentence of ordered) console.log(sentence);
  console.log(
    `${pockets.length} ${pockets.length === 1 ? 'pocket' : 'pockets'}, ${wordsOf(settings.pocket)}, ${files.length} files in ${folder}, digest ${digest.slice(0, 8)}; NOT CHECKED against a caliper reading${words.because === undefined ? ', and no reason given (--because)' : ''}`,
  );
  return 0;
}

export const jig: Verb = { help, run };

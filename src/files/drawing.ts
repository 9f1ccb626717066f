import type { Correction } from '../after/first-print.ts';
import type { Point } from '../base/measure.ts';
import { mapPoint } from '../geometry/affine.ts';
import { arcsAlong, arcsThrough } from '../geometry/arcs.ts';
import { boxOf, insideRegion, nearestOnRing } from '../geometry/measure.ts';
import type { CurveRing, Region, Ring } from '../geometry/shape.ts';
import { crossOf, profileMarks } from '../plan/bed-profile.ts';
import { boardRing, boardSentences, boardWays, seatHoles } from '../plan/board-on-bed.ts';
import { zeroCorner } from '../plan/plan-bed.ts';
import type { BedPlan, BedSettings, PlacedPocket } from '../plan/plan.ts';
import { full } from '../pocket/pocket.ts';
import { toolRadiusMm } from '../pocket/pocket-of.ts';
import { engravingOf } from './engrave.ts';
import { FILE_SETTINGS, type CutterScale, type FileSettings } from './settings.ts';

/** One closed line of one pocket; `pocket` is absent for lines of the bed. */
export interface Closed {
  readonly pocket?: string;
  readonly ring: Ring<'bed'>;
}

export interface Lettering {
  /** Middle of the words, or of their left end where `from` is 'left'. */
  readonly at: Point<'bed'>;
  readonly from?: 'left';
  readonly heightMm: number;
  readonly words: string;
}

/** One layer: what its lines mean, and the lines. */
export interface Layer {
  readonly name: string;
  readonly what: string;
  readonly closed: readonly Closed[];
  readonly open: readonly (readonly Point<'bed'>[])[];
  readonly lettering: readonly Lettering[];
  /** Its lines stand for lines and arcs, on which their vertices lie: DXF and SVG say these. */
  readonly arcs?: boolean;
}

/**
 * What a file shows, before it has a format: the page is the bed, in the bed frame, at 100 %.
 * Every writer draws one of these, and every read-back is held against one.
 */
export interface Drawing {
  readonly title: string;
  readonly widthMm: number;
  readonly heightMm: number;
  readonly jobNumber: string;
  readonly digest: string;
  /** What whoever opens the file must know, one line each. */
  readonly notes: readonly string[];
  readonly layers: readonly Layer[];
}

/** Vertices of a layer of lines and arcs lie on them to this once their places are rounded, mm. */
const ON_ARC_MM = 3e-6;
/** And its chords leave them by no more than this. */
const OFF_ARC_MM = 1e-4;

/** The lines and arcs that a line of a layer of such stands for. */
export const piecesOf = (points: readonly Point<'bed'>[], closed: boolean): CurveRing<'bed'> =>
  (closed ? arcsThrough : arcsAlong)(points, ON_ARC_MM, OFF_ARC_MM);

const layer = (name: string, what: string, parts: Partial<Layer>): Layer => ({
  name,
  what,
  closed: [],
  open: [],
  lettering: [],
  ...parts,
});

const ringsOf = (
  plan: BedPlan,
  of: (p: PlacedPocket) => readonly Region<'bed'>[],
): readonly Closed[] =>
  plan.pockets.flatMap((pocket) =>
    of(pocket).flatMap(({ outer, holes }) =>
      [outer, ...holes].map((ring) => ({ pocket: pocket.id, ring })),
    ),
  );

/** The bed's own edge, from its lower left corner. */
export const bedRing = ({
  widthMm: x,
  depthMm: y,
}: Pick<BedSettings, 'widthMm' | 'depthMm'>): Ring<'bed'> => [
  { x: 0, y: 0 },
  { x, y: 0 },
  { x, y },
  { x: 0, y },
];

const page = ({ bed }: BedPlan): Closed => ({ ring: bedRing(bed) });

/** Two short lines along the edges at the zero corner, so that the corner can be told on the page and on the board. */
export function zeroMark(bed: Pick<BedSettings, 'widthMm' | 'depthMm' | 'zero'>): Point<'bed'>[] {
  const { x, y } = zeroCorner(bed);
  const arm = Math.min(10, bed.widthMm / 4, bed.depthMm / 4);
  const inset = Math.min(1, arm / 4);
  const sx = x === 0 ? 1 : -1;
  const sy = y === 0 ? 1 : -1;
  return [
    { x: x + sx * arm, y: y + sy * inset },
    { x: x + sx * inset, y: y + sy * inset },
    { x: x + sx * inset, y: y + sy * arm },
  ];
}

/** Length of the check line: 100 mm, or 50 on a bed that is too small for it. */
export const checkLineMm = (plan: Pick<BedPlan, 'bed'>): number =>
  plan.bed.widthMm >= 120 ? 100 : 50;

/** A line of known length along the front edge, with ticks at its ends. */
function checkLine(plan: BedPlan): { open: Point<'bed'>[][]; lettering: Lettering } {
  const length = checkLineMm(plan);
  const x0 = (plan.bed.widthMm - length) / 2;
  const y = 2;
  const tick = (x: number): Point<'bed'>[] => [
    { x, y: y - 1 },
    { x, y: y + 1 },
  ];
  return {
    open: [
      [
        { x: x0, y },
        { x: x0 + length, y },
      ],
      tick(x0),
      tick(x0 + length),
    ],
    lettering: {
      at: { x: plan.bed.widthMm / 2, y: y + 1.7 },
      heightMm: 2,
      words: `This line is ${length} mm long`,
    },
  };
}

/** Words to the right of the check line, below any pocket; above it on a bed that is too narrow. */
function besideCheckLine(plan: BedPlan, words: string): Lettering {
  const { widthMm } = plan.bed;
  const [heightMm, end] = [2, (widthMm + checkLineMm(plan)) / 2 + 4];
  return end + words.length * LETTER_WIDTH * heightMm < widthMm
    ? { at: { x: end, y: 2 }, from: 'left', heightMm, words }
    : { at: { x: widthMm / 2, y: 7.4 }, heightMm, words };
}

/** A letter is about so much of its height wide, in any program's font. */
const LETTER_WIDTH = 0.8;

/** Numbers in their pockets, as near to the middle as keeps off every line. */
const numbers = (plan: BedPlan): Lettering[] =>
  plan.pockets.map(({ id, wall, print, place }) => {
    const box = boxOf((wall.length > 0 ? wall : [print]).flatMap(({ outer }) => outer));
    const heightMm = Math.min(6, (box.right - box.left) / 4, (box.top - box.bottom) / 4);
    const rings = [...wall, print].flatMap(({ outer, holes }) => [outer, ...holes]);
    const offMm = Math.hypot(heightMm, LETTER_WIDTH * heightMm * id.length) / 2 + 0.5;
    const free = (p: Point<'bed'>): boolean =>
      insideRegion(print, p) && rings.every((r) => nearestOnRing(r, p).distanceMm > offMm);
    const middle = { x: place.x, y: place.y };
    // Round the middle in growing circles; where nothing is free it stays there.
    const tries = Array.from({ length: 12 }, (_, k) =>
      Array.from({ length: 8 }, (_, i) => ({
        x: middle.x + ((k + 1) * heightMm * Math.cos((i * Math.PI) / 4)) / 2,
        y: middle.y + ((k + 1) * heightMm * Math.sin((i * Math.PI) / 4)) / 2,
      })),
    ).flat();
    return { at: [middle, ...tries].find(free) ?? middle, heightMm, words: id };
  });

/** "kerf 0.20 mm: ..." in words, for every file and for the job sheet. */
export function kerfNote({ pocketSettings }: BedPlan): string {
  const { tool, clearanceMm, line } = full(pocketSettings);
  const shift = toolRadiusMm(tool).toFixed(3);
  const side =
    line === 'inside'
      ? 'inside layer pocket'
      : 'OUTSIDE layer pocket: what falls out keeps the size of layer pocket, the opening in the board does not';
  switch (tool.kind) {
    case 'beam':
    case 'knife':
      return `Kerf ${tool.kerfMm.toFixed(2)} mm is already taken: layer cut lies ${shift} mm (half the kerf) ${side}. Do not let the cutter's program take it again.`;
    case 'mill':
      return `The cutter's radius of ${tool.radiusMm.toFixed(2)} mm is already taken: layer cut is the path of its centre, ${shift} mm ${side}. Do not let the mill's program take it again. Clearance ${clearanceMm.toFixed(2)} mm per side lies in layer pocket.`;
    case 'drag':
      return tool.offsetMm > 0
        ? `The blade's offset of ${tool.offsetMm.toFixed(2)} mm is already taken: layer cut is the path of the pivot, ahead of the tip, which follows layer pocket. Switch the offset off in the cutter's program.`
        : "No blade offset is taken: layer cut is the way of the tip, the same as layer pocket. Set the blade's offset in the cutter's program.";
    case 'hand':
      return 'Nothing is taken for a tool: cut by hand along layer pocket, on its inner side.';
  }
}

/** What goes in and out of the board and how deep, for the cut files and the job sheet. */
export function depthNote({ pocketSettings }: BedPlan): string {
  const { hold, depthMm } = full(pocketSettings);
  switch (hold) {
    case 'through':
      return 'The pocket goes through the board; the blank lies on the table.';
    case 'base':
      return 'The pocket goes through the board, which then lies on a base plate.';
    case 'blind':
      return `The pocket is blind, ${depthMm.toFixed(2)} mm deep: layer cut is its outermost path, everything inside it is cleared to that depth. Leave out lines of layer eject, which goes through.`;
  }
}

const cutNotes = (plan: BedPlan): string[] => {
  const { corners, relief, tabs, tabMm, ejectorMm, draftDeg, chamferMm } = full(
    plan.pocketSettings,
  );
  return [
    'Layer pocket: where the wall of the pocket shall stand. Not to be cut along.',
    'Layer cut: where the middle of the tool goes, inside before outside. Cut along this one.',
    ...(corners === 'arcs'
      ? [
          'Layers pocket and cut are lines and arcs in DXF and SVG, the arcs of one corner about one centre; in PDF and EPS chords that leave them by 0.0001 mm at most.',
        ]
      : []),
    ...(plan.pockets.some((p) => p.relief.length > 0)
      ? [
          `Layer relief: from the path into a corner and back, ${relief}, the middle of the cutter, to the same depth.`,
        ]
      : []),
    ...(plan.pockets.some((p) => p.notches.length > 0)
      ? [
          'Layer notch: the finger notches whole, for the eye; layers pocket and cut hold them already.',
        ]
      : []),
    ...(plan.pockets.some((p) => p.mouth.length > 0)
      ? [
          `Layer mouth: where the wall ends at the upper face of the board${draftDeg > 0 ? `; it leans by ${draftDeg.toFixed(1)} degrees, for a tapered cutter` : ''}${chamferMm > 0 ? `; a chamfer of ${chamferMm.toFixed(2)} mm at 45 degrees goes round it` : ''}. Layer cut is the path at the foot of the wall.`,
        ]
      : []),
    ...(plan.pockets.some((p) => p.eject.length > 0)
      ? [
          `Layer eject: the middle of the tool round a hole of ${ejectorMm.toFixed(1)} mm through floor or base plate; not through the blank's pocket in the board.`,
        ]
      : []),
    ...(tabs > 0
      ? [
          `${tabs} bridges of ${tabMm.toFixed(2)} mm hold each drop-out: layer cut stops at them. Cut them by hand at the end.`,
        ]
      : []),
    plan.bed.board
      ? 'Layer board: the finished edge of the board and of its holes. Layer bed: the bed, as large as the page. Layer mark: check line, zero corner, numbers. None of them is to be cut.'
      : 'Layer board: the bed. Layer mark: check line, zero corner, numbers. Neither is to be cut.',
    ...boardNotes(plan),
    depthNote(plan),
  ];
};

/** The edge of the bed as layer board; or that of a board of its own size and of its holes, and the bed's as layer bed. */
const edges = (plan: BedPlan, whatBed: string): Layer[] =>
  plan.bed.board
    ? [
        layer('board', 'the finished edge of the board and of its holes; not the path', {
          closed: [boardRing(plan.bed), ...seatHoles(plan.bed).map((h) => h.ring)].map((ring) => ({
            ring,
          })),
        }),
        layer('bed', whatBed, { closed: [page(plan)] }),
      ]
    : [layer('board', whatBed, { closed: [page(plan)] })];

/** Which layer has the ways round holes and edge of a board of its own size, where a blind pocket is not as deep as they are. */
const throughLayer = ({ pocketSettings }: BedPlan): 'cut' | 'through' =>
  full(pocketSettings).hold === 'blind' ? 'through' : 'cut';

/** What whoever cuts a board of its own size must know. */
function boardNotes(plan: BedPlan): string[] {
  const { bed, pocketSettings } = plan;
  if (!bed.board) return [];
  const { holes, edge } = boardWays(bed, pocketSettings);
  const layer = throughLayer(plan);
  const through =
    layer === 'through' ? ' Layer through goes through the board, as layer eject does.' : '';
  const whole = edge.length === 1 && isClosed(edge[0]!);
  return [
    ...boardSentences(bed),
    ...(holes.length > 0
      ? [
          `The board's holes are in layer ${layer}, the middle of the tool inside their walls; cut them before the edge, with the pockets, from one zero.`,
        ]
      : []),
    edge.length === 0
      ? 'All sides of the board lie on the edge of the bed: they are those of the sheet, and in no path.'
      : `The board's edge is the last way of layer ${layer}, the middle of the tool outside it${whole ? '' : '; sides on the edge of the bed are those of the sheet, laid square into the zero of the cutter, and in no path'}. Leave it out where the board has its size already.${through}`,
  ];
}

const isClosed = (line: readonly Point<'bed'>[]): boolean => {
  const [a, b] = [line[0]!, line.at(-1)!];
  return line.length > 2 && Math.hypot(a.x - b.x, a.y - b.y) < 1e-6;
};

const base = (plan: BedPlan, title: string): Omit<Drawing, 'layers' | 'notes'> => ({
  title: `${plan.jobNumber} ${plan.jobName}: ${title}`,
  widthMm: plan.bed.widthMm,
  heightMm: plan.bed.depthMm,
  jobNumber: plan.jobNumber,
  digest: plan.digest,
});

/** Where a cutter must be sent for it to come to a place of the bed, counted from the zero corner. */
export function sentTo(
  bed: Pick<BedSettings, 'widthMm' | 'depthMm' | 'zero'>,
  [alongX, alongY, shear = 0]: CutterScale,
): (p: Point<'bed'>) => Point<'bed'> {
  const zero = zeroCorner(bed);
  const [x, y] = [1 + alongX / 1000, 1 + alongY / 1000];
  return (p) => {
    const up = (p.y - zero.y) / y;
    return { x: zero.x + (p.x - zero.x - (shear / 1000) * up) / x, y: zero.y + up };
  };
}

/** What is allowed for of the cutter's scale: nothing where a hand follows the lines. */
export const scaleFor = (
  { pocketSettings: { tool } }: Pick<BedPlan, 'pocketSettings'>,
  { cutterPerMille }: Pick<FileSettings, 'cutterPerMille'>,
): CutterScale => (tool.kind === 'hand' ? FILE_SETTINGS.cutterPerMille : cutterPerMille);

const followed = ['cut', 'relief', 'eject', 'engrave', 'through'];

/** The layers that a tool follows, corrected for what the cutter makes of lengths. */
function forCutter(plan: BedPlan, settings: FileSettings, layers: Layer[]): Layer[] {
  const scale = scaleFor(plan, settings);
  if (scale.every((v) => v === 0)) return layers;
  const sent = sentTo(plan.bed, scale);
  return layers.map((l) =>
    followed.includes(l.name)
      ? {
          ...l,
          closed: l.closed.map((c) => ({ ...c, ring: c.ring.map(sent) })),
          open: l.open.map((line) => line.map(sent)),
          // A circle that is stretched is none.
          arcs: false,
        }
      : l,
  );
}

/** What is allowed for of the cutter's scale, for cut files and job sheet; nothing where nothing is. */
export function scaleNote(plan: BedPlan, settings: FileSettings): string[] {
  const scale = scaleFor(plan, settings);
  const [x, y, shear = 0] = scale;
  if (scale.every((v) => v === 0)) return [];
  const way = (v: number): string => `${Math.abs(v).toFixed(2)} ${v > 0 ? 'long' : 'short'}`;
  const square =
    shear === 0
      ? ''
      : `, and ${Math.abs(shear).toFixed(2)} to the ${shear > 0 ? 'right' : 'left'} toward the rear`;
  return [
    `The cutter's scale is already taken: by the ${settings.cutterBy || 'board that was measured'} it runs ${way(x)} along x and ${way(y)} along y${square}, parts in a thousand; layer cut and whatever else a tool follows is corrected from the zero corner. Layer pocket is where the walls shall stand.`,
  ];
}

/**
 * For the cutter: layers pocket, cut, board, mark, and as needed relief, notch, mouth, eject, engrave, through, bed.
 *
 * @param board which of several boards that are cut alike: they differ in their number only
 */
export function cutDrawing(
  plan: BedPlan,
  settings: FileSettings = FILE_SETTINGS,
  board = 1,
): Drawing {
  const check = checkLine(plan);
  const { tool } = plan.pocketSettings;
  const taken =
    tool.kind === 'mill'
      ? 'radius already taken'
      : tool.kind === 'drag'
        ? tool.offsetMm > 0
          ? 'offset already taken'
          : 'offset not taken'
        : tool.kind === 'hand'
          ? 'nothing taken'
          : 'kerf already taken';
  const outside =
    full(plan.pocketSettings).line === 'outside' && toolRadiusMm(tool) > 0 ? ', OUTSIDE' : '';
  const arcs = full(plan.pocketSettings).corners === 'arcs';
  const relief = plan.pockets.flatMap((p) => p.relief);
  const notches = ringsOf(plan, (p) => p.notches);
  const mouth = ringsOf(plan, (p) => p.mouth);
  const eject = ringsOf(plan, (p) => p.eject);
  const engraved = settings.engrave ? engravingOf(plan, settings, board).strokes : [];
  const own = boardWays(plan.bed, plan.pocketSettings);
  const through = throughLayer(plan);
  const holes = own.holes.map(({ points }) => ({ ring: points }));
  const ofCut = through === 'cut';
  return {
    ...base(plan, 'cut'),
    notes: [
      ...cutNotes(plan),
      ...(engraved.length > 0
        ? [
            'Layer engrave: job number, revision and code as single strokes; score them, do not cut through.',
          ]
        : []),
      kerfNote(plan),
      ...scaleNote(plan, settings),
      `Digest ${plan.digest}`,
    ],
    layers: forCutter(plan, settings, [
      layer('pocket', 'where the wall of the pocket shall stand', {
        closed: ringsOf(plan, (p) => p.wall),
        arcs,
      }),
      layer('cut', "where the tool's centre goes, inside before outside", {
        closed: [
          ...plan.pockets.flatMap(({ id, trails }) =>
            trails.filter((t) => t.closed).map(({ points }) => ({ pocket: id, ring: points })),
          ),
          ...(ofCut ? holes : []),
        ],
        // The board's edge comes last: nothing is cut in a board that is loose.
        open: [
          ...plan.pockets.flatMap(({ trails }) =>
            trails.filter((t) => !t.closed).map(({ points }) => points),
          ),
          ...(ofCut ? own.edge : []),
        ],
        arcs: arcs && plan.pocketSettings.tool.kind !== 'drag',
      }),
      ...(relief.length > 0
        ? [
            layer('relief', "the cutter's centre from the path into a corner and back", {
              open: relief,
            }),
          ]
        : []),
      ...(plan.pockets.some((p) => p.notches.length > 0)
        ? [
            layer('notch', 'finger notches, whole; already part of pocket and cut', {
              closed: notches,
            }),
          ]
        : []),
      ...(mouth.length > 0
        ? [
            layer('mouth', 'upper edge of a wall that leans or is chamfered; not the path', {
              closed: mouth,
            }),
          ]
        : []),
      ...(eject.length > 0
        ? [
            layer(
              'eject',
              "the tool's centre round the ejector hole, through floor or base plate",
              { closed: eject },
            ),
          ]
        : []),
      ...(engraved.length > 0
        ? [
            layer('engrave', 'job number, revision and code to score, single strokes', {
              open: engraved,
            }),
          ]
        : []),
      ...(!ofCut && plan.bed.board
        ? [
            layer(
              'through',
              "the tool's centre round the board's holes, then its edge, all through",
              {
                closed: holes,
                open: own.edge,
              },
            ),
          ]
        : []),
      ...edges(plan, 'the bed, as large as the page'),
      layer('mark', 'check line, zero corner, numbers; not to be cut', {
        open: [...check.open, zeroMark(plan.bed), ...keyMark(plan)],
        lettering: [
          check.lettering,
          besideCheckLine(plan, `pocket: wall; cut: tool's centre, ${taken}${outside}`),
          ...numbers(plan),
          signature(plan, boardWords(plan, board)),
        ],
      }),
    ]),
  };
}

/** ", board 2 of 2"; nothing where there is one. */
const boardWords = ({ bed: { boards = 1 } }: Pick<BedPlan, 'bed'>, board: number): string =>
  boards > 1 ? `, board ${board} of ${boards}` : '';

/** A corner to cut off at zero, longer along x than along y: neither turned by half a turn nor turned over does it lie there again. */
function keyMark({ bed }: BedPlan): Point<'bed'>[][] {
  // A board of its own size is drawn without that corner.
  if (!bed.keyed || bed.board) return [];
  const { x, y } = zeroCorner(bed);
  const [along, up] = [Math.min(12, bed.widthMm / 4), Math.min(7, bed.depthMm / 4)];
  return [
    [
      { x: x === 0 ? along : x - along, y },
      { x, y: y === 0 ? up : y - up },
    ],
  ];
}

/** Job number and the first digits of the digest, small at the lower left beside the zero mark. */
function signature(plan: BedPlan, more = ''): Lettering {
  return {
    at: { x: 14, y: 3 },
    from: 'left',
    heightMm: 2,
    words: `${plan.jobNumber}, plan ${plan.digest.slice(0, 12)}${more}`,
  };
}

/** For whoever places the artwork: layers print, bleed, safe, number, pocket, bed; all but the bed moved as bed profile and first print ask. */
export function artworkDrawing(plan: BedPlan, correction?: Correction): Drawing {
  const drawing: Drawing = {
    ...base(plan, 'artwork template'),
    notes: [
      'The page is the bed, at 100 %. Keep page and place; put the artwork on a layer of your own.',
      'Layer print: edge of the face. Layer bleed: artwork reaches at least to here. Layer safe: what must not be lost stays inside.',
      'Layers number, pocket and bed are for the eye: hide them before printing.',
      `Digest ${plan.digest}`,
    ],
    layers: [
      layer('print', 'edge of the face to be printed', {
        closed: ringsOf(plan, (p) => [p.print]),
      }),
      layer('bleed', 'artwork reaches at least to here', { closed: ringsOf(plan, (p) => p.bleed) }),
      layer('safe', 'what must not be lost stays inside', { closed: ringsOf(plan, (p) => p.safe) }),
      layer('number', 'numbers of the pockets', { lettering: numbers(plan) }),
      // Pieces that lie loose have none.
      ...(plan.pockets.some((p) => p.wall.length > 0)
        ? [
            layer('pocket', 'where the wall of the pocket stands', {
              closed: ringsOf(plan, (p) => p.wall),
            }),
          ]
        : []),
      layer('bed', 'edge of the bed, zero corner', {
        closed: [page(plan)],
        open: [zeroMark(plan.bed)],
        lettering: [signature(plan)],
      }),
    ],
  };
  if (!correction) return drawing;
  const { map, asks, words, holds, until } = correction;
  const at = (p: Point<'bed'>): Point<'bed'> => mapPoint(map, p);
  return {
    ...drawing,
    notes: [
      `Everything but layer bed is moved as ${asks}: ${words}. It holds for ${holds}, ${until}.`,
      ...drawing.notes,
    ],
    layers: drawing.layers.map((l) =>
      l.name === 'bed'
        ? l
        : {
            ...l,
            closed: l.closed.map((c) => ({ ...c, ring: c.ring.map(at) })),
            open: l.open.map((line) => line.map(at)),
            lettering: l.lettering.map((w) => ({ ...w, at: at(w.at) })),
          },
    ),
  };
}

/** Whether a cross, its letter beside it, stands clear of every pocket: on a line it would be cut away, or lie below a blank. */
function isFree({ pockets }: BedPlan, { x, y }: Point<'bed'>): boolean {
  const reach = { left: x - 5, right: x + 6, bottom: y - 5, top: y + 6 };
  return pockets.every(({ wall, print }) => {
    const { left, right, bottom, top } = boxOf([...wall, print].flatMap(({ outer }) => outer));
    const apart =
      left > reach.right || right < reach.left || bottom > reach.top || top < reach.bottom;
    return (
      apart ||
      [...wall, { outer: print.outer, holes: [] }].every(
        (region) =>
          !insideRegion(region, { x, y }) && nearestOnRing(region.outer, { x, y }).distanceMm > 6,
      )
    );
  });
}

/** To be printed on a sacrificial sheet: the print outlines to lay blanks on, the walls to cut along by hand. */
export function setUpDrawing(plan: BedPlan): Drawing {
  const check = checkLine(plan);
  const all = profileMarks(plan.bed);
  const crosses = all.filter(({ at }) => isFree(plan, at));
  const hidden = all.filter((m) => !crosses.includes(m)).map(({ name }) => name);
  return {
    ...base(plan, 'set-up print'),
    notes: [
      ...(hidden.length > 0
        ? [
            `A pocket lies where ${hidden.length === 1 ? 'cross' : 'crosses'} ${hidden.join(', ')} would stand: the bed ruler has all four, for the bed profile.`,
          ]
        : []),
      'Print at 100 % on a sacrificial sheet or on the board. Measure the check line before anything is laid or cut.',
      'Layer print: lay the blanks on these lines. Layer pocket: wall of the pocket, for cutting by hand.',
      `Digest ${plan.digest}`,
    ],
    layers: [
      layer('print', 'edge of the face: the blank is laid on it', {
        closed: ringsOf(plan, (p) => [p.print]),
      }),
      layer('pocket', 'wall of the pocket, for cutting by hand', {
        closed: ringsOf(plan, (p) => p.wall),
      }),
      layer('number', 'numbers of the pockets', { lettering: numbers(plan) }),
      layer('mark', 'check line, zero corner, crosses to read the bed profile by', {
        open: [...check.open, zeroMark(plan.bed), ...crosses.flatMap((m) => crossOf(m.at))],
        lettering: [
          check.lettering,
          ...crosses.map((m) => ({
            at: { x: m.at.x + 3, y: m.at.y + 2.5 },
            heightMm: 3,
            words: m.name,
          })),
          signature(plan),
        ],
      }),
    ],
  };
}

/** The set-up print for office paper: there the edge of the bed is not the edge of the page. */
export function paperDrawing(plan: BedPlan): Drawing {
  const drawing = setUpDrawing(plan);
  return {
    ...drawing,
    layers: [...drawing.layers, ...edges(plan, 'the edge of the bed; not to be cut')],
  };
}

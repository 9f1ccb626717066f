import type { Tool } from '../pocket/pocket.ts';
import type { SeatKind } from './kinds.ts';

/** What a shop may have to make a seat with. */
export const MAKERS = [
  'laser',
  'mill',
  'plotter',
  'hand',
  'clear',
  'solid',
  'former',
  'pegs',
  'rotary',
] as const;
export type Maker = (typeof MAKERS)[number];
export const MAKER_WORDS: Readonly<Record<Maker, string>> = {
  laser: 'laser',
  mill: 'mill',
  plotter: 'drag knife',
  hand: 'knife and rule',
  clear: 'clear ink',
  solid: '3-D printer',
  former: 'vacuum former',
  pegs: 'panel with pegs',
  rotary: 'rotary unit',
};

/** What has to be held. */
export const SHAPES = ['outline', 'square', 'ball', 'ware', 'soft'] as const;
export type HeldShape = (typeof SHAPES)[number];
export const SHAPE_WORDS: Readonly<Record<HeldShape, string>> = {
  outline: 'a flat piece of any outline',
  square: 'a flat piece with a square corner',
  ball: 'a ball',
  ware: 'a cylinder or cone',
  soft: 'a soft piece that gives way',
};

/** What decides how a piece is held. */
export interface Holding {
  readonly shape: HeldShape;
  /** Pieces in this run. */
  readonly pieces: number;
  /** The job comes back, so what is made for it serves again. */
  readonly again: boolean;
  /** Whether the print runs past the edge (bleed) or stops short of it, and by how much. */
  readonly reach: 'past' | 'short';
  readonly reachMm: number;
  /** How thick the piece is, and how wide where it is narrowest; null: not known. */
  readonly thicknessMm: number | null;
  readonly narrowMm: number | null;
  readonly makers: readonly Maker[];
}

/** Ways of holding a piece; 'none': it is laid by eye and needs no seat. */
export const WAYS = [
  'none',
  'sheet',
  'ruler',
  'stop',
  'pegs',
  'rim',
  'pocket-hand',
  'pocket-plotter',
  'pocket-laser',
  'pocket-mill',
  'block',
  'form',
  'inserts',
  'nest',
  'ball',
  'wrap',
] as const;
export type Way = (typeof WAYS)[number];

interface WayFacts {
  readonly words: string;
  /** The kind of seat that it is on the step Pocket, with the tool that cuts it. */
  readonly seat?: SeatKind | 'pocket';
  readonly tool?: Tool['kind'];
  readonly shapes: readonly HeldShape[];
  /** One of each is needed. */
  readonly needs: readonly (readonly Maker[])[];
  /** How far a piece may land off, mm. */
  readonly landsMm: number;
  /** Hands: to make it, min, and for each piece, s. */
  readonly makeMin: number;
  readonly eachS: number;
  /** What catches ink that goes past the edge, or what that ink would spoil. */
  readonly catches?: string;
  readonly spoils?: string;
  /** The least thickness that it takes, mm: what it is made of stands no higher than the face. */
  readonly leastMm: number;
  /** Holds the foot of a piece that stands. */
  readonly upright?: true;
  /** Serves only a job that comes back. */
  readonly kept?: true;
}

/** One piece under the head at a time: the print is begun for each, s. */
const ALONE_S = 30;

/** To be put right by whoever times one piece. Common practice, no source, all of it. */
const FACTS: Readonly<Record<Way, WayFacts>> = {
  none: {
    words: 'no seat: laid by eye along a taped edge',
    shapes: ['outline', 'square'],
    needs: [],
    landsMm: 1.5,
    spoils: 'the table',
    makeMin: 0,
    eachS: 30,
    leastMm: 0,
  },
  sheet: {
    words: 'outlines on a sacrificial sheet (the set-up print)',
    shapes: ['outline', 'square'],
    needs: [],
    landsMm: 0.7,
    makeMin: 4,
    eachS: 15,
    catches: 'the sheet',
    leastMm: 0,
  },
  ruler: {
    words: 'a bed ruler to read its place off',
    seat: 'ruler',
    shapes: ['outline', 'square'],
    needs: [],
    landsMm: 0.5,
    spoils: 'the ruler',
    makeMin: 2,
    eachS: 60 + ALONE_S,
    leastMm: 0,
  },
  stop: {
    words: 'a corner stop',
    seat: 'stop',
    shapes: ['square'],
    needs: [['laser', 'mill', 'plotter', 'hand']],
    landsMm: 0.2,
    makeMin: 6,
    eachS: 6 + ALONE_S,
    leastMm: 0.5,
  },
  pegs: {
    words: 'pegs of a grid round it',
    seat: 'pegs',
    shapes: ['outline', 'square'],
    needs: [['pegs']],
    landsMm: 1,
    makeMin: 5,
    eachS: 8,
    leastMm: 5,
    upright: true,
  },
  rim: {
    words: 'a rim of clear ink',
    seat: 'rim',
    shapes: ['outline', 'square'],
    needs: [['clear']],
    landsMm: 0.4,
    makeMin: 15,
    eachS: 6,
    catches: 'the sheet below',
    leastMm: 0.8,
  },
  'pocket-hand': {
    words: 'a pocket cut by hand',
    seat: 'pocket',
    tool: 'hand',
    shapes: ['outline', 'square'],
    needs: [['hand']],
    landsMm: 0.5,
    makeMin: 40,
    eachS: 5,
    catches: 'the board',
    leastMm: 1,
    upright: true,
  },
  'pocket-plotter': {
    words: 'a pocket cut by a drag knife, in card',
    seat: 'pocket',
    tool: 'drag',
    shapes: ['outline', 'square'],
    needs: [['plotter']],
    landsMm: 0.3,
    makeMin: 10,
    eachS: 5,
    catches: 'the card',
    leastMm: 0.4,
  },
  'pocket-laser': {
    words: 'a pocket cut by laser',
    seat: 'pocket',
    tool: 'beam',
    shapes: ['outline', 'square'],
    needs: [['laser']],
    landsMm: 0.25,
    makeMin: 12,
    eachS: 5,
    catches: 'the board',
    leastMm: 1,
    upright: true,
  },
  'pocket-mill': {
    words: 'a milled pocket',
    seat: 'pocket',
    tool: 'mill',
    shapes: ['outline', 'square'],
    needs: [['mill']],
    landsMm: 0.2,
    makeMin: 25,
    eachS: 5,
    catches: 'the board',
    leastMm: 1,
    upright: true,
  },
  block: {
    words: 'a solid block, printed or milled',
    seat: 'block',
    shapes: ['outline', 'square'],
    needs: [['solid', 'mill']],
    landsMm: 0.35,
    makeMin: 14,
    eachS: 7,
    catches: 'the block',
    leastMm: 2,
    upright: true,
  },
  form: {
    words: 'trays drawn over a forming tool',
    seat: 'form',
    shapes: ['outline', 'square'],
    needs: [['former'], ['solid', 'mill']],
    landsMm: 0.5,
    makeMin: 90,
    eachS: 3,
    catches: 'the tray',
    leastMm: 2,
    upright: true,
  },
  inserts: {
    words: 'an insert for a carrier with slots',
    seat: 'inserts',
    shapes: ['outline', 'square'],
    needs: [['laser', 'mill']],
    landsMm: 0.3,
    makeMin: 10,
    eachS: 5,
    catches: 'the insert',
    leastMm: 1,
    upright: true,
    kept: true,
  },
  nest: {
    words: 'a soft nest, set by its centre under marks on film',
    seat: 'nest',
    shapes: ['soft'],
    needs: [['laser', 'mill', 'plotter', 'hand']],
    landsMm: 1,
    makeMin: 15,
    eachS: 25,
    leastMm: 0,
  },
  ball: {
    words: 'a ring for a ball, or an array of them',
    seat: 'ball',
    shapes: ['ball'],
    needs: [['laser', 'mill', 'hand']],
    landsMm: 0.5,
    makeMin: 12,
    eachS: 6,
    leastMm: 0,
    upright: true,
  },
  wrap: {
    words: 'the flat wrap of a cylinder or cone',
    seat: 'wrap',
    shapes: ['ware'],
    needs: [['rotary']],
    landsMm: 0.5,
    makeMin: 5,
    eachS: 10 + ALONE_S,
    leastMm: 0,
    upright: true,
  },
};

/** A way as it is advised, or why it is not. */
export interface Advised {
  readonly way: Way;
  readonly words: string;
  readonly seat?: SeatKind | 'pocket';
  readonly tool?: Tool['kind'];
  /** Hands on the whole run, to make it and to lay every piece, min. */
  readonly minutes: number;
  readonly landsMm: number;
  readonly eachS: number;
  /** Sentences: what speaks for it, what forbids it, and what to do besides. */
  readonly because: readonly string[];
  readonly against: readonly string[];
  readonly besides: readonly string[];
}

export interface Advice {
  /** The way that takes the least time of those that nothing forbids; undefined where something forbids each. */
  readonly best?: Advised;
  /** The others that would do, the quickest first. */
  readonly others: readonly Advised[];
  /** What is forbidden, the nearest to being possible first. */
  readonly not: readonly Advised[];
}

/** Runs that a job which comes back is reckoned for. Common practice, no source. */
export const RUNS = 4;
/** Of a margin, what the print may be off before it is seen to sit askew, and never more than so many mm. Common practice, no source. */
const SEEN = 0.5;
const SEEN_MOST_MM = 2;
/** A piece that is taller than it is narrow tips. */
const TIPS = 1;
/** Pieces from which a second board pays. Common practice, no source. */
const TWO_BOARDS = 100;

/** How far the print may land off: as far as it runs past the edge, or half of what it stays short of it. */
export const mayMm = ({ reach, reachMm }: Pick<Holding, 'reach' | 'reachMm'>): number =>
  reach === 'past' ? reachMm : Math.min(SEEN_MOST_MM, SEEN * reachMm);

const mm = (v: number): string => `${String(Math.round(v * 100) / 100)} mm`;
const minutes = (v: number): string => `${v < 10 ? v.toFixed(1) : v.toFixed(0)} min`;
const list = (of: readonly string[], last: string): string =>
  of.length < 2 ? of.join('') : `${of.slice(0, -1).join(', ')} ${last} ${of.at(-1)!}`;

/** Hands on all runs that are reckoned with, min. */
const handMin = (f: WayFacts, { pieces, again }: Holding): number =>
  f.makeMin + (pieces * (again ? RUNS : 1) * f.eachS) / 60;

function judged(way: Way, h: Holding): Advised {
  const f = FACTS[way];
  const may = mayMm(h);
  const against: string[] = [];
  const because: string[] = [];
  const besides: string[] = [];
  if (!f.shapes.includes(h.shape)) against.push(`It is not for ${SHAPE_WORDS[h.shape]}.`);
  for (const any of f.needs)
    if (!any.some((m) => h.makers.includes(m)))
      against.push(
        `It takes a ${list(
          any.map((m) => MAKER_WORDS[m]),
          'or',
        )}, which is not here.`,
      );
  if (f.landsMm > may)
    against.push(
      h.reach === 'past'
        ? `A piece may land ${mm(f.landsMm)} off, and a bleed of ${mm(h.reachMm)} covers no more than that: an edge stays bare.`
        : `A piece may land ${mm(f.landsMm)} off, and ${mm(may)} is seen: the print stays ${mm(h.reachMm)} short of the edge.`,
    );
  else
    because.push(
      h.reach === 'past'
        ? `A piece may land ${mm(f.landsMm)} off, which a bleed of ${mm(h.reachMm)} covers.`
        : `A piece may land ${mm(f.landsMm)} off; with ${mm(h.reachMm)} free round the print, ${mm(may)} is not seen.`,
    );
  if (h.thicknessMm !== null && h.thicknessMm < f.leastMm)
    against.push(
      `The piece is ${mm(h.thicknessMm)} thick, and what holds it is ${mm(f.leastMm)} at least: the head would meet the seat first.`,
    );
  if (!f.upright && h.thicknessMm !== null && h.narrowMm !== null)
    if (h.thicknessMm > TIPS * h.narrowMm)
      against.push(
        `The piece stands ${mm(h.thicknessMm)} tall on ${mm(h.narrowMm)}: nothing keeps it from tipping.`,
      );
  if (f.kept && !h.again) against.push('It pays only for a job that comes back.');
  const own = f.needs.flatMap((any) => any.filter((m) => h.makers.includes(m)).slice(0, 1));
  if (own.length > 0)
    because.push(
      `You have what makes it: ${list(
        own.map((m) => MAKER_WORDS[m]),
        'and',
      )}.`,
    );
  else if (f.needs.length === 0) because.push('Nothing has to be made but a print.');
  if (h.reach === 'past' && h.reachMm > 0)
    if (f.spoils) against.push(`Ink that goes past the edge falls on ${f.spoils}.`);
    else if (f.catches) because.push(`Ink that goes past the edge falls on ${f.catches}.`);
    else besides.push('Ink goes past the edge, and nothing catches it: lay a sheet below.');
  if (way === 'ball' && h.reach === 'past')
    besides.push('Of a ball only the cap can be printed: the print ends where the head gap ends.');
  if (way === 'ruler' || way === 'stop' || way === 'wrap')
    besides.push('It holds one piece: each is a print of its own.');
  if (h.pieces >= TWO_BOARDS && f.seat === 'pocket')
    besides.push(
      `${h.pieces} pieces: two boards that differ only in their number let one be filled while the other is printed (step Bed, boards).`,
    );
  return {
    way,
    words: f.words,
    ...(f.seat && { seat: f.seat }),
    ...(f.tool && { tool: f.tool }),
    minutes: handMin(f, h),
    landsMm: f.landsMm,
    eachS: f.eachS,
    because,
    against,
    besides,
  };
}

const runWords = ({ pieces, again }: Holding): string =>
  `${pieces} ${pieces === 1 ? 'piece' : 'pieces'}${again ? `, reckoned for ${RUNS} runs as the job comes back` : ''}`;

/**
 * Which way of holding takes the least time of hands, of those that place the print well enough and that can be made here.
 * Times and how far a piece lands off are common practice, no source: they tell ways from each other and are no promise.
 */
export function adviceOf(h: Holding): Advice {
  const all = WAYS.map((way) => judged(way, h));
  const strange = (a: Advised): number => (FACTS[a.way].shapes.includes(h.shape) ? 0 : 1);
  const will = all
    .filter(({ against }) => against.length === 0)
    .sort((a, b) => a.minutes - b.minutes || a.landsMm - b.landsMm);
  const not = all
    .filter(({ against }) => against.length > 0)
    .sort(
      (a, b) =>
        strange(a) - strange(b) || a.against.length - b.against.length || a.minutes - b.minutes,
    );
  const [first, ...others] = will;
  if (!first) return { others, not };
  const next = others[0];
  const time = `${runWords(h)}: ${minutes(first.minutes)} of hands, making it counted in${
    next ? `; the next, ${next.words}, ${minutes(next.minutes)}` : ''
  }.`;
  return { best: { ...first, because: [time, ...first.because] }, others, not };
}

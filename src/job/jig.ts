import type { Point } from '../base/measure.ts';
import { reason, Refusal, type Reason } from '../base/reason.ts';
import type { Progress } from '../base/progress.ts';
import type { Clipper } from '../geometry/clipper.ts';
import type { JobFacts } from '../files/facts.ts';
import { mainDirections } from '../check/width.ts';
import { boxOf, feret } from '../geometry/measure.ts';
import type { At, Stretch } from '../outline/outline.ts';
import { WHOLE_FACTOR } from '../outline/uncertainty.ts';
import type { FiledOutline, OutlineFile } from '../files/outline-json.ts';
import { filling, nest, type Nest } from '../plan/nest.ts';
import { orderOf, partPlan, type OrderSettings } from '../plan/order.ts';
import { turnedOver } from '../plan/turned-over.ts';
import { usage } from '../plan/usage.ts';
import type { FurtherPlans } from '../files/release.ts';
import { boardSizeWords, proudOf, seatOff, slotReasons, staysAt } from '../plan/board-on-bed.ts';
import { heightsOf, type HeightSettings } from '../plan/heights.ts';
import { takes, type Cutter } from '../plan/machines.ts';
import { bedFromBlank, planBed } from '../plan/plan-bed.ts';
import {
  registrationOf,
  type Registration,
  type RegistrationSettings,
} from '../plan/registration.ts';
import { TURNS, type BedPlan, type BedSettings } from '../plan/plan.ts';
import { boardReasons, movementOf } from '../pocket/material.ts';
import { pocketOf, type Seat, type Standing } from '../pocket/pocket-of.ts';
import { ladderOf, type Ladder, type LadderSettings } from '../plan/ladder.ts';
import { clearances, full, type Pocket, type PocketSettings } from '../pocket/pocket.ts';

export const DEFAULT_POCKET: PocketSettings = {
  clearanceMm: 0.3,
  tool: { kind: 'beam', kerfMm: 0.2 },
  bleedMm: 2,
  safeMm: 2,
};

export const DEFAULT_BED: BedSettings = {
  widthMm: 420,
  depthMm: 297,
  zero: 'bottom-left',
  rows: 1,
  columns: 1,
  wallMm: 4,
  marginMm: 5,
};

export interface JigSettings {
  readonly job: { readonly number: string; readonly name: string };
  readonly pocket: PocketSettings;
  readonly bed: BedSettings;
  /** Absent: nothing is said about heights, and the job sheet says so. */
  readonly heights?: HeightSettings;
  /** How far things may be off; absent: nothing is said about where the print lands. */
  readonly registration?: RegistrationSettings;
  /** How many of each blank, by its number. A blank that is not named gets rows x columns of them when no count is given at all, else none. */
  readonly counts?: Readonly<Record<number, number>>;
  /** What the board is cut on; absent: not said. */
  readonly cutter?: Pick<Cutter, 'name' | 'widthMm' | 'depthMm'>;
}

export interface Jig {
  readonly plan: BedPlan;
  /** In order of the blanks' numbers. */
  readonly blanks: readonly {
    readonly blank: number;
    readonly seat: FiledOutline;
    readonly print: FiledOutline;
    readonly pocket: Pocket;
  }[];
}

/** Blanks that need no pocket of their own: another's envelope was drawn round them. */
const inEnvelopes = (outlines: readonly FiledOutline[]): Set<number> =>
  new Set(outlines.flatMap((o) => (o.pieces ?? []).filter((blank) => blank !== o.blank)));

/**
 * Seat and print outline of each blank: the envelope goes before the widest place, the widest place before the face,
 * for the pocket; the face is printed. Where a blank has only one outline, it serves as both.
 */
function outlinesByBlank(
  outlines: readonly FiledOutline[],
): { blank: number; seat: FiledOutline; print: FiledOutline }[] {
  const covered = inEnvelopes(outlines);
  const numbers = [...new Set(outlines.map(({ blank }) => blank))]
    .filter((blank) => !covered.has(blank))
    .sort((a, b) => a - b);
  return numbers.map((blank) => {
    const own = outlines.filter((o) => o.blank === blank);
    const first = (...order: At[]): FiledOutline | undefined =>
      order.map((at) => own.find((o) => o.at === at)).find((o) => o !== undefined);
    const seat = first('envelope', 'mean', 'widest', 'face');
    const print = first('face', 'widest', 'envelope', 'mean');
    if (!seat || !print) throw new Refusal('blank-without-face', { blank });
    return { blank, seat, print };
  });
}

/**
 * From outlines and settings to a bed plan: pockets, places, plan checks.
 *
 * @throws Refusal `outline-refused` when the trace was refused, `outline-file-empty` when it holds no outline,
 *   `count-unknown-blank` when a count names a blank that is not there
 */
export const makeJig = (
  clipper: Clipper,
  traced: Pick<OutlineFile, 'outlines' | 'verdict' | 'reasons'>,
  settings: JigSettings,
): Jig =>
  layJig(
    clipper,
    pocketsOf(clipper, traced, settings.pocket, standingOf(settings.pocket, settings.heights)),
    settings,
  );

/**
 * The bed plan of pockets that are made already.
 *
 * @throws Refusal `count-unknown-blank` when a count names a blank that is not there
 */
export function layJig(clipper: Clipper, blanks: Jig['blanks'], settings: JigSettings): Jig {
  const { bed } = settings;
  for (const named of Object.keys(settings.counts ?? {})) {
    if (!blanks.some(({ blank }) => blank === Number(named))) {
      throw new Refusal('count-unknown-blank', {
        blank: named,
        known: blanks.map(({ blank }) => blank).join(', '),
      });
    }
  }
  const batches = blanks.map(({ blank, pocket }) => ({
    blank,
    pocket,
    count: countOf(blank, settings),
  }));
  const plan = planBed(
    batches,
    settings.pocket,
    bed,
    settings.job,
    settings.heights &&
      heightsOf(
        blanks
          .filter(({ blank }) => countOf(blank, settings) > 0)
          .map(({ blank, seat }) => ({ blank, thicknessMm: seat.thicknessMm })),
        settings.pocket,
        settings.heights,
        proudOf(bed),
      ),
  );
  const lands = settings.registration && registrationFor({ plan, blanks }, settings.registration);
  return {
    plan: {
      ...plan,
      usage: usage(clipper, batches, plan.pockets, bed),
      reasons: [...plan.reasons, ...overCutter(bed, settings.cutter), ...(lands?.reasons ?? [])],
    },
    blanks,
  };
}

/** A board of its own size that the cutter does not take. */
function overCutter({ board }: BedSettings, cutter: JigSettings['cutter']): Reason[] {
  if (!board || !cutter || takes(cutter, board)) return [];
  const { name } = cutter;
  const size = boardSizeWords({ widthMm: cutter.widthMm, depthMm: cutter.depthMm });
  const words = boardSizeWords({ ...board, board });
  return [reason('board-over-cutter', { name, size, board: words })];
}

/** Plans of the loads that fill the board in part, and of the board for the back. */
export function furtherPlans(
  { plan, blanks }: Jig,
  order: OrderSettings | undefined,
): FurtherPlans {
  const blankOf = (id: string): number => blanks.find((b) => b.pocket.outlineId === id)!.blank;
  const { turnedAbout } = plan.bed;
  return {
    loads: (order ? orderOf(plan, blanks, order).loads : [])
      .filter(({ part }) => part)
      .map((load) => {
        const part = partPlan(plan, blankOf, load);
        const { first } = load;
        return {
          first,
          plan: part,
          ...(turnedAbout && { back: turnedOver(part, turnedAbout).plan }),
        };
      }),
    ...(turnedAbout && { back: turnedOver(plan, turnedAbout).plan }),
  };
}

/** How many of a blank are laid. */
export const countOf = (
  blank: number,
  { bed, counts }: Pick<JigSettings, 'bed' | 'counts'>,
): number =>
  bed.layout === 'free'
    ? (bed.places ?? []).filter((p) => p.blank === blank).length
    : counts
      ? (counts[blank] ?? 0)
      : bed.rows * bed.columns;

/**
 * Places for all that is asked for, found by nesting; what finds no room is counted by blank.
 *
 * @param fill as many as fit, in the proportion that is asked for
 * @throws Refusal as `pocketsOf` has it, `count-unknown-blank`, `plan-empty` when nothing is asked for
 */
export function nestJig(
  clipper: Clipper,
  traced: Pick<OutlineFile, 'outlines' | 'verdict' | 'reasons'>,
  settings: Omit<JigSettings, 'job'>,
  fill: boolean,
  progress?: Progress,
): Nest {
  const { bed, counts } = settings;
  const standing = standingOf(settings.pocket, settings.heights);
  const parts = pocketsOf(clipper, traced, settings.pocket, standing)
    .map(({ blank, pocket: { opening } }) => ({
      blank,
      opening,
      count: counts ? (counts[blank] ?? 0) : bed.rows * bed.columns,
    }))
    .filter(({ count }) => count > 0);
  if (parts.length === 0) throw new Refusal('plan-empty');
  const turnsDeg = TURNS[bed.turns ?? 'quarter'];
  return nest(clipper, fill ? filling(parts, bed) : parts, { ...bed, turnsDeg }, progress);
}

/** What nesting found no room for, as a sentence; undefined where all is laid. */
export function leftOver({ places, left }: Nest): Reason | undefined {
  const short = Object.entries(left);
  if (short.length === 0) return undefined;
  const sum = short.reduce((all, [, n]) => all + n, 0);
  return reason('nest-holds-fewer', {
    left: sum,
    asked: sum + places.length,
    which: short.map(([blank, n]) => `${n} of blank ${blank}`).join(', '),
  });
}

/** What the heights over the table mean for a pocket. */
export function standingOf(pocket: PocketSettings, heights: HeightSettings | undefined): Standing {
  const { hold, depthMm } = full(pocket);
  const wallMm = hold === 'blind' ? depthMm : (heights?.boardMm ?? undefined);
  return {
    ...(wallMm !== undefined && { wallMm }),
    ...(heights?.rockMm !== undefined && { rockMm: heights.rockMm }),
  };
}

/**
 * Each blank's pocket, without a bed.
 *
 * @throws Refusal `outline-refused` when the trace was refused, `outline-file-empty` when it holds no outline
 */
export function pocketsOf(
  clipper: Clipper,
  traced: Pick<OutlineFile, 'outlines' | 'verdict' | 'reasons'>,
  settings: PocketSettings,
  standing: Standing = {},
): Jig['blanks'] {
  if (traced.verdict === 'refused') {
    const why = traced.reasons.find(({ level }) => level === 'refuse') ?? traced.reasons[0];
    throw new Refusal('outline-refused', {
      why: why?.message ?? 'No reason is given.',
      remedy: why?.remedy ?? 'Trace the picture again.',
    });
  }
  if (traced.outlines.length === 0) throw new Refusal('outline-file-empty');
  const board = boardReasons(settings.material, settings.tool);
  return outlinesByBlank(traced.outlines).map(({ blank, seat, print }) => {
    const pocket = pocketOf(clipper, seatOf(blank, seat), print.region, settings, standing);
    return {
      blank,
      seat,
      print,
      pocket: { ...pocket, reasons: [...board, ...pocket.reasons, ...seatReasons(seat)] },
    };
  });
}

const seatOf = (blank: number, seat: FiledOutline): Seat => ({
  outlineId: seat.id,
  blank,
  region: seat.region,
  band: bandOf(seat),
  // What was drawn by hand is as little proven as what no picture saw.
  hidden: [...seat.hidden, ...(seat.byHand ?? [])],
});

/**
 * A board with one blank's pocket at stepped clearances.
 *
 * @throws Refusal `blank-without-face` when there is no such blank, and as `ladderOf` has it
 */
export function ladderFor(
  clipper: Clipper,
  outlines: readonly FiledOutline[],
  blank: number,
  settings: Pick<JigSettings, 'pocket' | 'bed' | 'job' | 'heights'>,
  ladder: LadderSettings,
): Ladder {
  const own = outlinesByBlank(outlines).find((o) => o.blank === blank);
  if (!own) throw new Refusal('blank-without-face', { blank });
  const { pocket, bed, job, heights } = settings;
  return ladderOf(
    clipper,
    seatOf(blank, own.seat),
    own.print.region,
    pocket,
    ladder,
    bed.wallMm,
    job,
    standingOf(pocket, heights),
  );
}

/** How far the print of one blank may land off on this bed. */
export function registrationFor(
  { plan, blanks }: Pick<Jig, 'plan' | 'blanks'>,
  settings: RegistrationSettings,
): Registration {
  const { bed, pocketSettings, pockets } = plan;
  const still = staysAt(bed);
  const reachMm = Math.max(
    0,
    ...pockets.map(({ place: { x, y } }) => Math.max(Math.abs(x - still.x), Math.abs(y - still.y))),
  );
  const seatMm = bed.board && seatOff(bed, printCorners({ plan, blanks }));
  const { bleedMm, safeMm } = pocketSettings;
  const addedMm = Math.max(
    0,
    ...blanks.flatMap(({ pocket }) => pocket.widened.map((w) => w.addedMm)),
  );
  const { heatPerK = 0, dampPerPercent = 0 } = movementOf(pocketSettings);
  const share = heatPerK * settings.heatK + dampPerPercent * settings.dampPercent;
  const found = registrationOf(settings, {
    clearanceMm: clearances(pocketSettings).greatestMm + addedMm,
    outlineU: Math.max(0, ...blanks.map(({ print }) => greatestU(print.u))),
    reachMm,
    ...(seatMm !== undefined && { seatMm }),
    board: pocketSettings,
    bleedMm,
    safeMm,
  });
  return { ...found, reasons: [...found.reasons, ...slotReasons(bed, share)] };
}

/** Corners of the boxes round what is printed, each as its pocket lies. */
function printCorners({ plan, blanks }: Pick<Jig, 'plan' | 'blanks'>): Point<'bed'>[] {
  const corners = new Map(
    blanks.map(({ pocket: { outlineId, print } }) => {
      const { left, right, bottom, top } = boxOf(print.outer);
      const of = [left, right].flatMap((x) => [bottom, top].map((y) => ({ x, y })));
      return [outlineId, of] as const;
    }),
  );
  return plan.pockets.flatMap(({ outlineId, place }) =>
    (corners.get(outlineId) ?? []).map(bedFromBlank(place)),
  );
}

/** What the job sheet says about a jig; the checks come from the shell, where readings are typed. */
export function jobFacts(
  { blanks }: Jig,
  traced: Pick<OutlineFile, 'verdict' | 'reasons'>,
  date: string,
  checks: JobFacts['checks'] = [],
  override?: JobFacts['override'],
  remarks: readonly string[] = [],
): JobFacts {
  const used = new Set(blanks.flatMap(({ seat, print }) => [seat, print]));
  return {
    date,
    verdict: traced.verdict,
    outlines: [...used].map((o) => {
      const [widthMm, heightMm] = mainDirections(o).map((rad) => feret(o.region.outer, rad)) as [
        number,
        number,
      ];
      return {
        id: o.id,
        blank: o.blank,
        at: o.at,
        widthMm,
        heightMm,
        greatestU: 2 * greatestU(o.u),
        mirrored: o.mirrored,
        rider: o.rider,
        ...(o.thicknessMm === undefined ? {} : { thicknessMm: o.thicknessMm }),
      };
    }),
    checks,
    ...(remarks.length > 0 && { remarks }),
    reasons: traced.reasons,
    ...(override === undefined ? {} : { override }),
  };
}

/** Greatest standard uncertainty anywhere along these rings, mm. */
const greatestU = (u: FiledOutline['u']): number =>
  u.reduce((most, ring) => ring.reduce((a, b) => Math.max(a, b), most), 0);

/** Half-width of the band that holds a whole ring in 95 % of cases, mm, at each vertex, ring by ring. */
const bandOf = ({ u, wholeFactor }: Pick<FiledOutline, 'u' | 'wholeFactor'>): Float64Array[] =>
  u.map((ring) => Float64Array.from(ring, (v) => (wholeFactor ?? WHOLE_FACTOR) * v));

/**
 * Half-width of the band that holds the seat's outer ring everywhere at once in 95 % of cases, mm: what decides whether
 * the blank goes in. The pocket is a plain opening: how well the blank's holes are known does not move its wall.
 */
export const wallU = ({ u, wholeFactor }: Pick<FiledOutline, 'u' | 'wholeFactor'>): number =>
  (wholeFactor ?? WHOLE_FACTOR) * greatestU(u.slice(0, 1));

/** What the seat's outer ring leaves open and the pocket inherits. */
function seatReasons({ blank, hidden, byHand = [] }: FiledOutline): Reason[] {
  const count = (of: readonly Stretch[]): number => of.filter(({ ring }) => ring === 0).length;
  const [unseen, drawn] = [count(hidden), count(byHand)];
  return [
    ...(unseen > 0 ? [reason('seat-hidden', { blank, stretches: unseen })] : []),
    ...(drawn > 0 ? [reason('seat-by-hand', { blank, stretches: drawn })] : []),
  ];
}

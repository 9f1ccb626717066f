import type { FiledOutline } from '../files/outline-json.ts';
import { regionArea, smallestRectangle } from '../geometry/measure.ts';
import { printerInUse } from '../plan/machines.ts';
import type { Tool } from '../pocket/pocket.ts';
import { MAKERS, SHAPES, type Holding, type Maker } from '../seat/advice.ts';
import type { Job } from './job.ts';

/** What was answered of "which one?"; what was not follows from the job. */
export type Answered = Partial<
  Pick<Holding, 'shape' | 'pieces' | 'again' | 'reach' | 'reachMm'>
> & {
  readonly makers?: readonly Maker[];
};

const MAKER_OF: Readonly<Record<Tool['kind'], Maker>> = {
  beam: 'laser',
  knife: 'hand',
  mill: 'mill',
  drag: 'plotter',
  hand: 'hand',
};

/** Of its smallest rectangle, what a straight-sided blank fills: a card with round corners 0.998. */
const STRAIGHT = 0.97;

/** What decides how the job's blank is held: as answered, else as outline, order, pocket and machines say. */
export function holdingOf(
  job: Pick<Job, 'holding' | 'order' | 'pocket' | 'machines' | 'bed'>,
  seat: Pick<FiledOutline, 'region' | 'thicknessMm'> | undefined,
): Holding {
  const { holding = {}, order, pocket, machines, bed } = job;
  const box = seat && smallestRectangle(seat.region.outer);
  const [long, short] = box ? [box.longMm, box.shortMm] : [0, 0];
  const straight = seat !== undefined && regionArea(seat.region) > STRAIGHT * long * short;
  const printer = printerInUse(machines);
  const clear = printer && !printer.invented && /clear|varnish|gloss/i.test(printer.inks);
  const ordered = Object.values(order?.pieces ?? {}).reduce((sum, n) => sum + n, 0);
  const laid = bed.layout === 'free' ? (bed.places ?? []).length : bed.rows * bed.columns;
  return {
    shape: straight ? 'square' : 'outline',
    pieces: Math.max(1, ordered || laid),
    again: false,
    reach: 'past',
    reachMm: pocket.bleedMm,
    makers: [
      ...new Set<Maker>(['hand', MAKER_OF[pocket.tool.kind], ...(clear ? ['clear' as const] : [])]),
    ],
    ...holding,
    thicknessMm: seat?.thicknessMm ?? null,
    narrowMm: box ? short : null,
  };
}

/** Whether data of a job file are such answers. */
export function isAnswered(a: unknown): a is Answered {
  if (typeof a !== 'object' || a === null) return false;
  const { shape, pieces, again, reach, reachMm, makers } = a as Record<string, unknown>;
  const figure = (v: unknown, least: number): boolean =>
    v === undefined || (typeof v === 'number' && Number.isFinite(v) && v >= least);
  return (
    (shape === undefined || SHAPES.some((s) => s === shape)) &&
    figure(pieces, 1) &&
    (again === undefined || typeof again === 'boolean') &&
    (reach === undefined || reach === 'past' || reach === 'short') &&
    figure(reachMm, 0) &&
    (makers === undefined ||
      (Array.isArray(makers) && makers.every((m) => MAKERS.some((known) => known === m))))
  );
}

import type { Instrument } from '../check/reading.ts';
import { materialOf, type BoardOf, type MaterialId, type Stock } from './material.ts';
import type { Tool } from './pocket.ts';

/** What a test board showed for one material and one kind of cutter. */
export interface KnownFit {
  readonly material: MaterialId;
  /** Name of the operator's own board that it was; absent: any of that material. */
  readonly stock?: string;
  readonly tool: Tool['kind'];
  /** The least clearance per side at which the blank went in, and the step of the ladder that told it, mm. */
  readonly clearanceMm?: number;
  readonly stepMm?: number;
  /** What the cutter takes away in all, mm, and its standard uncertainty. */
  readonly kerfMm?: number;
  readonly kerfU?: number;
  /** Day, ISO 8601. */
  readonly on: string;
}

/**
 * The width that a cutter takes away, from one closed line cut along without compensation: the hole is larger than drawn
 * by the kerf, the drop-out smaller by the kerf, so that hole less drop-out is twice the kerf. What was drawn drops out.
 *
 * Every reading is taken to err on its own: jaws outside and inside share no zero. Errors in mm, k = 1.
 */
export function kerfOf(
  holeMm: number,
  dropOutMm: number,
  { sharedU, eachU }: Instrument,
): { readonly kerfMm: number; readonly u: number } {
  return {
    kerfMm: (holeMm - dropOutMm) / 2,
    u: (Math.SQRT2 * Math.hypot(sharedU, eachU)) / 2,
  };
}

/** Of the same board and kind of cutter, what was found; of a named board without a test, what its material's showed. */
export function fitFor(
  fits: readonly KnownFit[],
  { material, stock }: BoardOf,
  tool: Tool['kind'],
): KnownFit | undefined {
  const alike = fits.filter((f) => f.material === material && f.tool === tool);
  return (
    alike.find((f) => stock !== undefined && f.stock === stock.name) ??
    alike.find((f) => f.stock === undefined)
  );
}

/** The fits with what was found now; what was known of the same board and cutter besides stays. */
export function withFit(fits: readonly KnownFit[], found: KnownFit): readonly KnownFit[] {
  const same = (f: KnownFit): boolean =>
    f.material === found.material && f.tool === found.tool && f.stock === found.stock;
  return [...fits.filter((f) => !same(f)), { ...fits.find(same), ...found }];
}

/**
 * What choosing a board fills in: what a test board of it showed, else the figures of the operator's own stock, else the
 * roomier clearance and the middle kerf of what is common (above); nothing for a board of which nothing is known.
 */
export function startFor(
  id: MaterialId,
  tool: Tool,
  fits: readonly KnownFit[],
  stock?: Stock,
): BoardOf & {
  readonly material: MaterialId;
  readonly clearanceMm?: number;
  readonly tool?: Tool;
} {
  const { startClearanceMm, laserKerfMm } = materialOf(id);
  const known = fitFor(fits, { material: id, ...(stock && { stock }) }, tool.kind);
  const clearanceMm =
    known?.clearanceMm ?? stock?.clearanceMm ?? (id === 'other' ? undefined : startClearanceMm[1]);
  const common =
    tool.kind === 'beam' && laserKerfMm
      ? Math.round(50 * (laserKerfMm[0] + laserKerfMm[1])) / 100
      : undefined;
  const kerfMm = known?.kerfMm ?? stock?.kerfMm ?? common;
  return {
    material: id,
    ...(stock && { stock }),
    ...(clearanceMm !== undefined && { clearanceMm }),
    ...(kerfMm !== undefined &&
      (tool.kind === 'beam' || tool.kind === 'knife') && { tool: { ...tool, kerfMm } }),
  };
}

/** The tool with what it takes away in all; one that takes nothing away as it is. */
export const withKerf = (tool: Tool, kerfMm: number): Tool =>
  tool.kind === 'beam' || tool.kind === 'knife'
    ? { ...tool, kerfMm }
    : tool.kind === 'mill'
      ? { ...tool, radiusMm: kerfMm / 2 }
      : tool;

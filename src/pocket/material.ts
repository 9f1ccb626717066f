import { reason, type Reason } from '../base/reason.ts';
import type { Tool } from './pocket.ts';

export type MaterialId =
  | 'acrylic'
  | 'mdf'
  | 'plywood'
  | 'card'
  | 'foam-board'
  | 'foamed-pvc'
  | 'pvc'
  | 'vinyl'
  | 'polycarbonate'
  | 'aluminium-composite'
  | 'other';

export interface Material {
  readonly id: MaterialId;
  readonly words: string;
  /** Why no laser may cut it; absent: lasers cut it. */
  readonly notByLaser?: string;
  /** Kerf of a CO2 laser, mm, from the thinnest to the thickest sheet tabulated; published shop tables. */
  readonly laserKerfMm?: readonly [number, number];
  /** Clearance per side to start from, mm; common practice, no source. */
  readonly startClearanceMm: readonly [number, number];
  /** How it grows: share of its length per kelvin, and per per cent of relative humidity. */
  readonly movement?: { readonly heatPerK: number; readonly dampPerPercent?: number };
  /** What it does to whoever cuts it, beside the tool's own dangers. */
  readonly caution?: string;
}

const CHLORINE =
  'it holds chlorine: burnt, it gives off hydrochloric acid and other toxic gas, which harms people and machine';

/**
 * Boards that pockets are cut from. That chlorinated plastics must not be lasered, and that foam board and
 * polycarbonate flare or char, is said by laser makers and makerspaces alike; local codes and the maker's data sheet
 * go before this table.
 */
export const MATERIALS: readonly Material[] = [
  {
    id: 'acrylic',
    words: 'acrylic (PMMA)',
    laserKerfMm: [0.18, 0.25],
    startClearanceMm: [0.1, 0.2],
    // Suppliers' data: 7.4 to 7.7e-5 /K; 0.2 % at 60 % RH against 0.3 % at 80 %.
    movement: { heatPerK: 7.5e-5, dampPerPercent: 5e-5 },
    caution: 'Acrylic burns with a clear flame: watch it all the time it is under the beam.',
  },
  {
    id: 'mdf',
    words: 'MDF',
    laserKerfMm: [0.15, 0.25],
    startClearanceMm: [0.1, 0.2],
    // From memory: 0.2 to 0.4 % from 35 to 85 % RH; heat is small beside it.
    movement: { heatPerK: 1e-5, dampPerPercent: 6e-5 },
    caution: 'Dust and smoke of MDF harm the lungs: extract at the tool, wear a mask.',
  },
  {
    id: 'plywood',
    words: 'plywood',
    laserKerfMm: [0.15, 0.25],
    startClearanceMm: [0.1, 0.2],
    // From memory: 0.1 to 0.2 % from 35 to 85 % RH; heat is small beside it.
    movement: { heatPerK: 1e-5, dampPerPercent: 3e-5 },
    caution: 'Wood dust harms the lungs, glue pockets flare under the beam.',
  },
  {
    id: 'card',
    words: 'card, grey board',
    laserKerfMm: [0.08, 0.13],
    startClearanceMm: [0.1, 0.3],
  },
  {
    id: 'foam-board',
    words: 'foam board',
    notByLaser: 'its foam melts, flares up and chars before its paper is cut',
    startClearanceMm: [0.2, 0.5],
  },
  {
    id: 'foamed-pvc',
    words: 'foamed PVC',
    notByLaser: CHLORINE,
    startClearanceMm: [0.2, 0.4],
    // From memory: 6 to 7e-5 /K; it takes up next to no water.
    movement: { heatPerK: 6.5e-5 },
  },
  { id: 'pvc', words: 'PVC sheet', notByLaser: CHLORINE, startClearanceMm: [0.1, 0.3] },
  { id: 'vinyl', words: 'vinyl', notByLaser: CHLORINE, startClearanceMm: [0.1, 0.3] },
  {
    id: 'polycarbonate',
    words: 'polycarbonate',
    notByLaser: 'it chars, flares up and smokes instead of parting',
    startClearanceMm: [0.1, 0.3],
  },
  {
    id: 'aluminium-composite',
    words: 'aluminium composite',
    notByLaser: 'its faces throw the beam back while its plastic core burns',
    startClearanceMm: [0.1, 0.3],
    // Its faces hold it: aluminium, 2.3e-5 /K by a supplier's table.
    movement: { heatPerK: 2.3e-5 },
    caution: 'Chips of aluminium are sharp and hot: eyes covered, chips drawn off.',
  },
  { id: 'other', words: 'another board', startClearanceMm: [0.1, 0.5] },
];

export const materialOf = (id: MaterialId): Material => MATERIALS.find((m) => m.id === id)!;

/** A board of the operator's own stock: one of the materials, under a name of hers, with her own figures where she has them. */
export interface Stock {
  readonly name: string;
  /** What it is made of: what no laser may cut stays so under any name. */
  readonly material: MaterialId;
  readonly thicknessMm?: number;
  /** What a beam or knife takes away in all, and the clearance per side that serves. */
  readonly kerfMm?: number;
  readonly clearanceMm?: number;
  /** How it grows: share of its length per kelvin, and per per cent of relative humidity. */
  readonly heatPerK?: number;
  readonly dampPerPercent?: number;
}

/** What a board is, as the settings of a pocket have it. */
export interface BoardOf {
  readonly material?: MaterialId;
  readonly stock?: Stock;
}

/** The board in words: her own name for it, and what it is made of. */
export const boardWords = ({ material, stock }: BoardOf): string | undefined =>
  material && (stock ? `${stock.name}, ${materialOf(material).words}` : materialOf(material).words);

/** How the board grows: by the figures of the stock, else by what is common of its material. */
export function movementOf({ material, stock }: BoardOf): {
  readonly heatPerK?: number;
  readonly dampPerPercent?: number;
} {
  return { ...(material && materialOf(material).movement), ...definedOf(stock) };
}

const definedOf = (stock: Stock | undefined): Pick<Stock, 'heatPerK' | 'dampPerPercent'> => ({
  ...(stock?.heatPerK !== undefined && { heatPerK: stock.heatPerK }),
  ...(stock?.dampPerPercent !== undefined && { dampPerPercent: stock.dampPerPercent }),
});

/** Whether a thing that was read is such a board. */
export function isStock(v: unknown): v is Stock {
  if (typeof v !== 'object' || v === null) return false;
  const s = v as Record<string, unknown>;
  return (
    typeof s.name === 'string' &&
    MATERIALS.some(({ id }) => id === s.material) &&
    ['thicknessMm', 'kerfMm', 'clearanceMm', 'heatPerK', 'dampPerPercent'].every(
      (key) => s[key] === undefined || (typeof s[key] === 'number' && Number.isFinite(s[key])),
    )
  );
}

/** What board and tool together forbid or leave open. */
export function boardReasons(id: MaterialId | undefined, tool: Tool): Reason[] {
  if (id === undefined) return tool.kind === 'beam' ? [reason('board-unsaid')] : [];
  const { words, notByLaser } = materialOf(id);
  if (tool.kind !== 'beam') return [];
  if (notByLaser !== undefined) return [reason('board-not-by-laser', { board: words, notByLaser })];
  return id === 'other' ? [reason('board-unknown-to-laser')] : [];
}

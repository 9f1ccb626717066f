import { ascii } from './letters.ts';
import { LINE_COLOURS, operationOf, OPERATIONS, type FileSettings } from './settings.ts';

/**
 * Width of a line that a tool follows, mm: a thousandth of an inch, below which programs that tell lines to cut from lines
 * to print by their width take it for a line to cut. Common practice, no source.
 */
export const HAIRLINE_MM = 0.025;

export interface Stroke {
  readonly rgb: readonly [number, number, number];
  readonly widthMm: number;
  readonly dashMm: readonly number[];
  /** Name of the spot colour, and what a screen shows for it. */
  readonly spot?: { readonly name: string; readonly rgb: readonly [number, number, number] };
}

const INK = [24, 36, 42] as const;
const PALE = [120, 132, 138] as const;
const BLUE = [11, 79, 145] as const;

/**
 * How each layer is drawn. Layers are told apart by their names; the line kinds only help the eye: continuous for
 * edges, dashed for what lies beyond them, long-dashed dotted for limits (after ISO 128).
 */
const strokes: Readonly<Record<string, Stroke>> = {
  pocket: { rgb: INK, widthMm: 0.1, dashMm: [] },
  mouth: { rgb: PALE, widthMm: 0.1, dashMm: [3, 1] },
  notch: { rgb: PALE, widthMm: 0.1, dashMm: [2, 1] },
  print: { rgb: INK, widthMm: 0.2, dashMm: [] },
  bleed: { rgb: BLUE, widthMm: 0.1, dashMm: [2, 1] },
  safe: { rgb: BLUE, widthMm: 0.1, dashMm: [5, 1, 0.5, 1] },
};

/** The stroke of a layer; layers that only orient the reader are pale and thin. */
export function strokeOf(layer: string, { operations }: FileSettings): Stroke {
  const stroke = strokes[layer] ?? { rgb: PALE, widthMm: 0.1, dashMm: [] };
  const operation = operationOf(layer);
  if (!operation) return stroke;
  const { spot, colour } = operations[operation];
  // One ink looks one way, also where two operations share its name.
  const first = OPERATIONS.find((o) => operations[o].spot === spot)!;
  return {
    rgb: LINE_COLOURS[colour].rgb,
    widthMm: HAIRLINE_MM,
    dashMm: [],
    spot: { name: ascii(spot), rgb: LINE_COLOURS[operations[first].colour].rgb },
  };
}

import { ascii } from './letters.ts';
import { operationOf, type FileSettings } from './settings.ts';

/**
 * Width of a line that a tool follows, mm: a thousandth of an inch, below which programs that tell lines to cut from lines
 * to print by their width take it for a line to cut. Common practice, no source.
 */
export const HAIRLINE_MM = 0.025;

export interface Stroke {
  readonly rgb: readonly [number, number, number];
  readonly widthMm: number;
  readonly dashMm: readonly number[];
  /** Name of the spot colour, of which `rgb` is what a screen shows. */
  readonly spot?: string;
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
  cut: { rgb: BLUE, widthMm: 0.1, dashMm: [] },
  relief: { rgb: BLUE, widthMm: 0.1, dashMm: [] },
  tally: { rgb: BLUE, widthMm: 0.1, dashMm: [] },
  kerf: { rgb: BLUE, widthMm: 0.1, dashMm: [] },
  eject: { rgb: BLUE, widthMm: 0.1, dashMm: [] },
  notch: { rgb: PALE, widthMm: 0.1, dashMm: [2, 1] },
  print: { rgb: INK, widthMm: 0.2, dashMm: [] },
  bleed: { rgb: BLUE, widthMm: 0.1, dashMm: [2, 1] },
  safe: { rgb: BLUE, widthMm: 0.1, dashMm: [5, 1, 0.5, 1] },
};

/** The stroke of a layer; layers that only orient the reader are pale and thin. */
export function strokeOf(layer: string, { spots }: FileSettings): Stroke {
  const stroke = strokes[layer] ?? { rgb: PALE, widthMm: 0.1, dashMm: [] };
  const operation = operationOf(layer);
  return operation ? { ...stroke, widthMm: HAIRLINE_MM, spot: ascii(spots[operation]) } : stroke;
}

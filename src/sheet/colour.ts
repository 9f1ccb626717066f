import colourNames from 'color-name';
import { Refusal } from '../base/reason.ts';
import type { StageTone } from './design.ts';

export type Rgb = readonly [red: number, green: number, blue: number];

const STAGES: Readonly<Record<string, readonly [StageTone, Rgb]>> = {
  white: ['white', [255, 255, 255]],
  grey: ['grey', [128, 128, 128]],
  black: ['black', [0, 0, 0]],
};

/**
 * The stage's tone and ink colour (0 to 255) from `white`, `grey`, `black` or a CSS colour: #rgb, #rrggbb, rgb(r, g, b) or a name.
 * @throws Refusal `stage-colour`
 */
export function stageOf(text: string): { tone: StageTone; rgb: Rgb } {
  const key = text.trim().toLowerCase();
  const stage = STAGES[key];
  if (stage) return { tone: stage[0], rgb: stage[1] };
  return { tone: 'hue', rgb: cssColour(key) };
}

function cssColour(key: string): Rgb {
  const short = /^#([0-9a-f])([0-9a-f])([0-9a-f])$/.exec(key);
  if (short) return short.slice(1).map((c) => parseInt(c + c, 16)) as unknown as Rgb;
  const long = /^#([0-9a-f]{2})([0-9a-f]{2})([0-9a-f]{2})$/.exec(key);
  if (long) return long.slice(1).map((c) => parseInt(c, 16)) as unknown as Rgb;
  const call = /^rgb\(\s*(\d{1,3})[\s,]+(\d{1,3})[\s,]+(\d{1,3})\s*\)$/.exec(key);
  if (call && call.slice(1).every((c) => Number(c) <= 255))
    return call.slice(1).map(Number) as unknown as Rgb;
  const named = (colourNames as Record<string, Rgb | undefined>)[key];
  if (named) return named;
  throw new Refusal('stage-colour', { colour: key });
}

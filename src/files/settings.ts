import { Refusal } from '../base/reason.ts';

/** What a machine does along a line; each is sorted by a colour, and by a spot colour in PDF and EPS. */
export const OPERATIONS = ['cut', 'relief', 'eject'] as const;
export type Operation = (typeof OPERATIONS)[number];

/** How the files of a release are written; the plan says what is in them. */
export interface FileSettings {
  /** Name of the spot colour that lines to follow are drawn in, as the cutter's program sorts by it. */
  readonly spots: Readonly<Record<Operation, string>>;
}

export const FILE_SETTINGS: FileSettings = {
  spots: { cut: 'cut', relief: 'cut', eject: 'cut' },
};

/** The operation of a layer; undefined for lines that no tool follows. */
export const operationOf = (layer: string): Operation | undefined =>
  OPERATIONS.find((operation) => operation === layer);

/**
 * A name that every program takes for a spot colour.
 * @throws Refusal `spot-name`
 */
export function spotName(text: string): string {
  const name = text.trim();
  if (!/^[A-Za-z0-9][A-Za-z0-9 _-]{0,30}$/.test(name)) throw new Refusal('spot-name', { name });
  return name;
}

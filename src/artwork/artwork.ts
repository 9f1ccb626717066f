import type { Box } from '../geometry/measure.ts';
import type { Line, PersonalRun } from './run.ts';

/** A file of the job by its name and the SHA-256 of its bytes, hexadecimal. */
export interface ArtworkFile {
  readonly name: string;
  readonly digest: string;
}

/** Larger until nothing of the page is lost, larger until the bleed is covered, or at a scale of its own. */
export type Sizing = 'fit' | 'fill' | 'scale';
export const SIZINGS: readonly Sizing[] = ['fit', 'fill', 'scale'];

/**
 * How the artwork lies on the blank's face, the same for every pocket. Counted from the middle of the face along the
 * blank's own upright (see `faceOf`), as it is printed.
 */
export interface Placement {
  readonly sizing: Sizing;
  /** 1 is the artwork's own size; holds where `sizing` is 'scale'. */
  readonly scale: number;
  readonly xMm: number;
  readonly yMm: number;
  /** Counter-clockwise. */
  readonly turnDeg: number;
  /** Left to right, before it is turned. */
  readonly mirrored: boolean;
}

export const PLACED: Placement = {
  sizing: 'fill',
  scale: 1,
  xMm: 0,
  yMm: 0,
  turnDeg: 0,
  mirrored: false,
};

/** One artwork for all pockets, or one after the other in the order of the pockets' numbers. */
export type Share = 'one' | 'in turn';
export const SHARES: readonly Share[] = ['one', 'in turn'];

/** A layer that is no colour: an area from the blank's outline on a separation that the printer's program knows by name. */
export interface Ink {
  readonly kind: 'white' | 'clear';
  /** Name of the separation, as the operator's printer wants it. */
  readonly name: string;
  /** The face's outline grown by this; less than nothing chokes it. */
  readonly growMm: number;
}
export const INK_KINDS = ['white', 'clear'] as const;

export interface ArtworkSettings {
  readonly files: readonly ArtworkFile[];
  readonly share: Share;
  readonly placement: Placement;
  readonly inks: readonly Ink[];
  /** Printed on the back of a clear blank: the artwork mirrored, white last. */
  readonly reverse: boolean;
  /** Letter or number that the customer signs for. */
  readonly revision: string;
  /** Names and numbers that differ from piece to piece; absent: all pieces are alike. */
  readonly run?: PersonalRun;
  /** What is printed on the other side of pieces that are turned over; absent: nothing. */
  readonly back?: BackArtwork;
  /** How many pieces there are, where the other side says so; only in what `ofBack` gives. */
  readonly pieces?: number;
}

/** The same for the back, as it is read when the piece is turned over; words come from the rows of the front's table. */
export interface BackArtwork extends Pick<
  ArtworkSettings,
  'files' | 'share' | 'placement' | 'inks'
> {
  readonly lines: readonly Line[];
}

export const NEW_ARTWORK: ArtworkSettings = {
  files: [],
  share: 'one',
  placement: PLACED,
  inks: [],
  reverse: false,
  revision: 'A',
};

/** One page of an artwork file, as far as placing and judging need to know it. Lengths in mm at its own size. */
export interface ArtSheet {
  readonly file: string;
  /** Counted from 1. */
  readonly page: number;
  readonly pages: number;
  readonly kind: 'PDF' | 'SVG' | 'PNG' | 'JPEG' | 'TIFF';
  /** What is meant to be seen: the trim box of a PDF, the whole of a picture. */
  readonly widthMm: number;
  readonly heightMm: number;
  /** How far it shows anything, its own bleed included, from the middle. */
  readonly reach: Box;
  /** Of the coarsest picture in it; absent where there is none. */
  readonly coarsestPxPerMm?: number;
  /** The thinnest stroke in it; absent where there is none. */
  readonly thinnestMm?: number;
  /** Names of fonts that the file does not bring with it. */
  readonly missingFonts: readonly string[];
  /** Names of its own separations. */
  readonly separations: readonly string[];
  /** Things on the page that are not part of the print: notes, form fields. */
  readonly notes: number;
}

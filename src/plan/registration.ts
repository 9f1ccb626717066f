import { reason, type Reason } from '../base/reason.ts';
import { combine, lawOf, type Input } from '../check/budget.ts';
import { boardWords, movementOf, type BoardOf } from '../pocket/material.ts';

/** What the operator knows of her machines and pieces; each figure is half the width within which things lie, mm. */
export interface RegistrationSettings {
  /** How far the board may lie off from one load to the next: its stop, its pins. */
  readonly boardSeatMm: number;
  /** How far the cutter may set a pocket off. */
  readonly cutterMm: number;
  /** How far the printer may set its picture off. */
  readonly printerMm: number;
  /** Largest less smallest piece, across. */
  readonly spreadMm: number;
  /** Between cutting the board and printing, kelvin and per cent of relative humidity, up or down. */
  readonly heatK: number;
  readonly dampPercent: number;
}

/** To start from; common practice, no source. */
export const REGISTRATION: RegistrationSettings = {
  boardSeatMm: 0.1,
  cutterMm: 0.1,
  printerMm: 0.1,
  spreadMm: 0,
  heatK: 5,
  dampPercent: 10,
};

export interface RegistrationOf {
  /** Room between blank and wall, per side, additions included. */
  readonly clearanceMm: number;
  /** Standard uncertainty of the outline's edge, the greatest of all, mm. */
  readonly outlineU: number;
  /** From the zero corner, or from the pin that the board grows away from, to the farthest pocket along one axis, mm. */
  readonly reachMm: number;
  /** What the play of pins or screws lets the board lie off, mm; absent: the operator's figure stands. */
  readonly seatMm?: number;
  readonly board: BoardOf;
  readonly bleedMm: number;
  readonly safeMm: number;
}

export interface Registration {
  /** In order of what they come to; growth of the board only where the material's is known. */
  readonly inputs: readonly (Input & { readonly share: number })[];
  /** How far the print may land off along one direction: U, k = 2, mm. */
  readonly offMm: number;
  /** The least bleed, safe area and white choke that this asks for: U rounded up to 0.05 mm. */
  readonly leastMm: number;
  readonly growthKnown: boolean;
  readonly reasons: readonly Reason[];
}

const STEP_MM = 0.05;

/**
 * How far the print may land off its blank along one direction, after JCGM 100 (GUM): each source lies anywhere within
 * its half-width (rectangular, 4.3.7) but for the outline's own, all independent, every sensitivity 1 but the growth's,
 * which is the reach.
 */
export function registrationOf(settings: RegistrationSettings, of: RegistrationOf): Registration {
  const { heatPerK, dampPerPercent } = movementOf(of.board);
  const words = boardWords(of.board);
  const within = (name: string, halfMm: number, source: string): Input => ({
    name,
    unit: 'mm',
    value: halfMm,
    u: lawOf.rectangular(halfMm),
    sensitivity: 1,
    source,
  });
  const grows = (name: string, share: number, source: string): Input => ({
    name,
    unit: 'mm/mm',
    value: share,
    u: lawOf.rectangular(share),
    sensitivity: of.reachMm,
    source,
  });
  const all: Input[] = [
    within('play in the pocket', of.clearanceMm, 'clearance per side'),
    of.seatMm === undefined
      ? within('board on its seat', settings.boardSeatMm, 'entered')
      : within('board on its seat', of.seatMm, 'play of its holes'),
    within('cutter', settings.cutterMm, 'entered'),
    within('printer', settings.printerMm, 'entered'),
    within('spread of the pieces', settings.spreadMm / 2, 'entered'),
    { name: 'outline', unit: 'mm', u: of.outlineU, sensitivity: 1, source: 'its own budget' },
    ...(heatPerK === undefined
      ? []
      : [grows('board, heat', heatPerK * settings.heatK, `${words}, entered change`)]),
    ...(dampPerPercent === undefined
      ? []
      : [grows('board, damp', dampPerPercent * settings.dampPercent, `${words}, entered change`)]),
  ];
  const { u, contributions } = combine(all);
  const offMm = 2 * u;
  const leastMm = Math.ceil(offMm / STEP_MM - 1e-9) * STEP_MM;
  const facts = { offMm: round(offMm), leastMm: round(leastMm) };
  const reasons: Reason[] = [];
  if (of.bleedMm < offMm - 1e-9)
    reasons.push(
      reason('edge-bare', {
        ...facts,
        bleedMm: round(of.bleedMm),
        bareMm: round(offMm - of.bleedMm),
      }),
    );
  if (of.safeMm < offMm - 1e-9)
    reasons.push(reason('safe-short', { ...facts, safeMm: round(of.safeMm) }));
  return {
    inputs: all
      .map((input, k) => ({ ...input, share: contributions[k]!.share }))
      .sort((a, b) => b.share - a.share),
    offMm,
    leastMm,
    growthKnown: heatPerK !== undefined,
    reasons,
  };
}

const round = (v: number): number => Math.round(v * 100) / 100;

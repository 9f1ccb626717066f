import { normalBelow } from './student.ts';

export type Decision = 'proven' | 'proven not' | 'not proven';

/**
 * Whether a measured value keeps a limit, by the decision rule of ISO 14253-1: the uncertainty counts against whoever
 * proves. With U = 2 u the rule of the editions of 1998 and 2013; the 95 % conformance probability of 2017 asks for
 * less (1.645 u), so a proof here is one by either.
 *
 * @param expandedU half-width of the band that the value is known to, >= 0, same unit as the value
 */
export function decide(
  value: number,
  expandedU: number,
  { least = -Infinity, most = Infinity }: { readonly least?: number; readonly most?: number },
): Decision {
  if (value - expandedU >= least && value + expandedU <= most) return 'proven';
  if (value + expandedU < least || value - expandedU > most) return 'proven not';
  return 'not proven';
}

/** Probability that the true value keeps the limits, normal law. Source: JCGM 106:2012, 7.5. */
export const conformance = (
  value: number,
  u: number,
  { least = -Infinity, most = Infinity }: { readonly least?: number; readonly most?: number },
): number => normalBelow((most - value) / u) - normalBelow((least - value) / u);

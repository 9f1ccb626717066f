import type { Ending } from './simulated-job.ts';

/**
 * A job slipped through when its files would go out although the outline is off by more than was said of it. What is said:
 * a band that is to hold everywhere at once (95 %), and readings that agree within E_n = 1. A reading may itself be off by
 * its U (95 %), and agrees up to the root of both squares: nothing smaller can be told with that caliper.
 */
export const beyondWhatIsSaid = ({ end, harm }: Ending): boolean =>
  end === 'released' &&
  harm !== undefined &&
  harm.mostMm > Math.hypot(harm.bandMm, READING_U_MM) + READING_U_MM;

/** U (k = 2) of one caliper reading, mm (src/check/reading.ts). */
const READING_U_MM = 0.05;

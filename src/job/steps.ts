/** The steps in the order of the data. */
export const STEPS = [
  'jobs',
  'sheet',
  'picture',
  'outline',
  'check',
  'pocket',
  'bed',
  'release',
  'board',
] as const;
export type Step = (typeof STEPS)[number];

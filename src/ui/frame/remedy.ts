import type { Code } from '../../base/catalogue.ts';
import type { Reason } from '../../base/reason.ts';
import type { Job } from '../../job/job.ts';
import type { Step } from '../../job/steps.ts';
import { DEFAULT_HEIGHTS } from '../../plan/heights.ts';

/** What a press beside a warning does: it settles it, or leads to the step where it is settled. */
export type Press =
  | { readonly words: string; readonly change: Partial<Job> }
  | { readonly words: string; readonly go: Step };

/** Clearances are entered in steps of this. Source: common practice, no source. */
const CLEARANCE_STEP_MM = 0.05;

/** Where the entry stands that a remedy names, if that is another step than the one that warns. */
const SETTLED_AT: Readonly<Partial<Record<Step, readonly Code[]>>> = {
  sheet: [
    'spans-missing',
    'spans-contradict',
    'rider-unmeasured',
    'sheet-another',
    'sheet-lifted',
    'sheet-moved',
    'sheet-not-flat',
    'looks-scanned',
    'looks-photographed',
    'no-sheet',
    'no-blank',
    'blank-like-stage',
    'edge-like-stage',
    'stage-off-colour',
  ],
  picture: [
    'blank-cut-off',
    'blank-on-border',
    'blank-over-edge',
    'blank-over-glass',
    'blanks-fewer',
    'edge-clipped',
    'edge-unclear',
    'foot-beside-blank',
    'piece-face-down',
    'piece-other',
    'tip-unresolved',
  ],
  outline: [
    'seat-hidden',
    'hole-or-print',
    'height-not-pictured',
    'pieces-thickness-differ',
    'seat-needs-outline',
  ],
  check: [
    'drawn-by-hand',
    'divided-by-hand',
    'joined-by-hand',
    'painted-by-hand',
    'seat-by-hand',
    'print-at-edge',
    'photos-contradict',
  ],
  pocket: [
    'board-not-by-laser',
    'board-unsaid',
    'board-unknown-to-laser',
    'board-over-cutter',
    'cutter-scale',
    'cutter-too-small',
    'cutter-scale-dropped',
    'draft-unmeasured',
    'face-low',
    'face-sunk',
    'floor-gone',
    'load-too-tall',
  ],
  bed: [
    'artwork-too-few',
    'back-left-over',
    'bed-lines-unsaid',
    'board-without-plan',
    'match-without-plan',
    'run-not-order',
    'seat-needs-plan',
    'white-at-edge',
  ],
  release: ['artwork-wanted', 'font-wanted'],
  board: ['again-damp', 'again-print', 'print-void'],
  jobs: ['job-lost', 'store-full'],
};

/** Steps about a picture and what is seen in it. */
const ABOUT_A_PICTURE: readonly Step[] = ['sheet', 'picture', 'outline', 'check'];

/** What is done there, where the name of the step does not say it. */
const WORDS: Readonly<Partial<Record<Code, string>>> = {
  'looks-scanned': 'Choose a scanner',
  'looks-photographed': 'Choose the camera',
  'no-sheet': 'Print the sheet',
  'sheet-another': 'Choose the paper',
  'seat-hidden': 'Look at the stretch',
  'spans-missing': 'Read the spans',
  'spans-contradict': 'Read the spans again',
  'rider-unmeasured': 'Measure the rider',
};

/**
 * The press that a warning has on a step, where one press can do what its remedy says.
 *
 * @param step the step on screen; what is settled there has its field in the ledge already
 */
export function remedyOf({ code, facts }: Reason, step: Step, job: Job): Press | undefined {
  const { pocket, heights } = job;
  switch (code) {
    case 'height-unmeasured': {
      const go = String(facts.what).startsWith('blank') ? 'outline' : 'pocket';
      return go === step ? undefined : { words: `To the ${go}`, go };
    }
    case 'clearance-below-u': {
      const short = Number(facts.uMm) - Number(facts.clearanceMm);
      const steps = Math.floor((pocket.clearanceMm + short) / CLEARANCE_STEP_MM + 1e-9) + 1;
      const clearanceMm = Math.round(steps * CLEARANCE_STEP_MM * 100) / 100;
      return {
        words: `Take ${clearanceMm.toFixed(2)} mm of clearance`,
        change: { pocket: { ...pocket, clearanceMm } },
      };
    }
    case 'edge-bare':
      return {
        words: `Take ${facts.leastMm} mm of bleed`,
        change: { pocket: { ...pocket, bleedMm: Number(facts.leastMm) } },
      };
    case 'safe-short':
      return {
        words: `Take ${facts.leastMm} mm of safe area`,
        change: { pocket: { ...pocket, safeMm: Number(facts.leastMm) } },
      };
    case 'head-strike':
      return {
        words: `Set the head to ${facts.needMm} mm`,
        change: { heights: { ...(heights ?? DEFAULT_HEIGHTS), headMm: Number(facts.needMm) } },
      };
  }
  // On the step Board they speak of the board's own picture and sheet, which are there.
  const ofBoard = step === 'board' && ABOUT_A_PICTURE.some((s) => SETTLED_AT[s]?.includes(code));
  if (ofBoard) return undefined;
  const at = (Object.keys(SETTLED_AT) as Step[]).find((s) => SETTLED_AT[s]!.includes(code));
  return at && at !== step ? { words: WORDS[code] ?? `To the ${at}`, go: at } : undefined;
}

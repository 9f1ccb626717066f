import { pages } from 'virtual:handbook';
import type { Code } from '../../base/catalogue.ts';
import type { Step } from '../../job/steps.ts';

/** Pages of the handbook, by the headings of docs/handbook. */
export const PAGES = [
  'print-the-sheet',
  'measure-it',
  'photograph',
  'thickness',
  'trace-and-check',
  'pocket',
  'bed-and-release',
  'the-board',
  'files',
  'keeping-jobs',
  'keys',
  'cautions',
] as const;
export type Page = (typeof PAGES)[number];

/** What each step is about. */
export const OF_STEP: Readonly<Record<Step, Page>> = {
  jobs: 'keeping-jobs',
  sheet: 'print-the-sheet',
  picture: 'photograph',
  outline: 'trace-and-check',
  check: 'trace-and-check',
  pocket: 'pocket',
  bed: 'bed-and-release',
  release: 'files',
  board: 'the-board',
};

/** Warnings that are about something else than their step, by how their code begins. */
const OF_CODE: readonly (readonly [RegExp, Page])[] = [
  [
    /^(board-(not-by-laser|unknown-to-laser|unsaid)|shines-back|artwork-spray|loose-ink)/,
    'cautions',
  ],
  [/^(store|job|other-window)/, 'keeping-jobs'],
  [/^(span|paper)/, 'measure-it'],
  [/^sheet/, 'print-the-sheet'],
  [/^(picture|photo|scan|marks|view|lens|focal|blur|too-many-photos|two-files)/, 'photograph'],
  [/^thickness/, 'thickness'],
  [/^(bed|head|height)/, 'bed-and-release'],
  [/^print-(?!at-edge)/, 'the-board'],
  [/^match/, 'files'],
];

/** The page that a warning of a step leads to. */
export const pageFor = (code: Code, step: Step): Page =>
  OF_CODE.find(([begin]) => begin.test(code))?.[1] ?? OF_STEP[step];

/** Its heading, without the number. */
export const titleOf = (page: Page): string =>
  (pages.find((p) => p.id === page)?.title ?? page).replace(/^\d+\.\s*/, '');

/** Which page lies open over the drawing, none while it is shut; and the step that stands under it. */
class Handbook {
  step = $state<Step>('jobs');
  page = $state<Page>();
}
export const handbook = new Handbook();

import type { Step } from '../../job/steps.ts';
import type { Remedy, Source } from '../../view/view.ts';

/** What the operator does about it, and where. */
export const WAYS: Readonly<
  Record<Remedy['what'], { readonly words: string; readonly step: Step }>
> = {
  'read the spans': { words: 'read the spans', step: 'sheet' },
  'measure the rider': { words: 'measure the rider', step: 'sheet' },
  'lay a rider': { words: 'lay a 50 mm rider on the face', step: 'sheet' },
  'measure the thickness': { words: 'measure the thickness to 0.02', step: 'outline' },
  'lens profile': { words: 'a lens profile', step: 'picture' },
  'flat board': { words: 'glue the sheet to a flat board', step: 'sheet' },
  'rigid sheet': { words: 'print the sheet on a rigid board', step: 'sheet' },
};

/** Which remedies lessen a contribution, the likelier first. */
export const AGAINST: Readonly<Partial<Record<Source, readonly Remedy['what'][]>>> = {
  spans: ['read the spans'],
  thickness: ['measure the thickness'],
  'focal length': ['lay a rider', 'lens profile'],
  lens: ['lay a rider', 'lens profile'],
  'rider size': ['measure the rider'],
  'sheet flatness': ['flat board'],
  'print error': ['rigid sheet'],
};

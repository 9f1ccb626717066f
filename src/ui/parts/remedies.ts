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

/** What a contribution is, in a few words for someone who has never seen a budget. */
export const MEANING: Readonly<Record<Source, string>> = {
  spans: 'how well the spans of the sheet were read',
  'sheet age': 'what paper may have moved since its spans were read',
  'focal length': 'how strongly the lens enlarges; with it, how high the camera stood',
  lens: 'how the lens bends straight lines',
  marks: 'how sharply the marks of the sheet were seen',
  'print error': 'what the printer put a little beside its place',
  'sheet flatness': 'how far the sheet was from flat',
  'rider size': 'how well the rider was measured',
  'rider height': 'paper, tape or a warp under the rider',
  thickness: 'how well the thickness was measured',
  feed: 'how evenly the scanner moved',
  scanner: 'what the scanner stretches and skews',
  'far side': 'the wall that the scanner saw beside the face',
  'widest height': 'how high above the sheet the widest edge lies',
  'edge depth': 'at which height the edge was seen where the wall shows',
  edge: 'how sharply the edge was seen',
  'edge bias': 'light and shade that shift the whole edge one way',
  'camera processing':
    'what the camera itself did to the picture: sharpened, straightened, read out line by line',
  'curve fit': 'how near the drawn curve keeps to what was seen',
  'by hand': 'what was drawn by hand',
  readings: 'the readings that corrected the outline',
};

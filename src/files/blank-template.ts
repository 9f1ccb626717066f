import { facesOf, extent } from '../artwork/place.ts';
import { mapPoint, times, type Affine } from '../geometry/affine.ts';
import { mapRegion } from '../geometry/measure.ts';
import type { Region } from '../geometry/shape.ts';
import type { BedPlan, PlacedPocket } from '../plan/plan.ts';
import type { Drawing, Layer } from './drawing.ts';

/** Round the bleed, mm: for the words below it. */
const MARGIN = 10;
/** Arms of the cross at the middle, mm. */
const ARM = 5;

/** The first pocket of every blank that is laid, and how the blank is called in file names. */
export const blanksOf = ({
  pockets,
}: Pick<BedPlan, 'pockets'>): readonly { readonly name: string; readonly pocket: PlacedPocket }[] =>
  [...new Set(pockets.map(({ outlineId }) => outlineId))].map((id, k) => ({
    name: `blank-${k + 1}`,
    pocket: pockets.find(({ outlineId }) => outlineId === id)!,
  }));

/**
 * One blank alone, upright, its middle in the middle of the page and marked: artwork that is made on it and laid on the blank
 * centred, at its own size, lies as it was drawn. Layers print, bleed, safe, centre.
 *
 * @param forPocket it is the page of this very pocket, and says so
 */
export function blankDrawing(plan: BedPlan, pocket: PlacedPocket, forPocket = false): Drawing {
  const face = facesOf([pocket]).get(pocket.outlineId)!;
  const reach = extent(
    [...face.print.outer, ...face.bleed.flatMap(({ outer }) => outer)],
    face.middle,
    face.leanRad,
  );
  const half = {
    x: Math.max(reach.right, -reach.left) + MARGIN,
    y: Math.max(reach.top, -reach.bottom) + MARGIN,
  };
  const [c, s] = [Math.cos(face.leanRad), Math.sin(face.leanRad)];
  const pageFromBlank: Affine = times(
    [c, -s, s, c, half.x, half.y],
    [1, 0, 0, 1, -face.middle.x, -face.middle.y],
  );
  const upright = (region: Region<'blank'>): Region<'bed'> =>
    mapRegion<'blank', 'bed'>(
      region,
      (p) => {
        const { x, y } = mapPoint(pageFromBlank, p);
        return { x, y };
      },
      false,
    );
  const layer = (name: string, what: string, regions: readonly Region<'blank'>[]): Layer => ({
    name,
    what,
    closed: regions
      .map(upright)
      .flatMap(({ outer, holes }) =>
        [outer, ...holes].map((ring) => ({ pocket: pocket.id, ring })),
      ),
    open: [],
    lettering: [],
  });
  const { x, y } = half;
  const size = `${face.widthMm.toFixed(2)} x ${face.heightMm.toFixed(2)} mm`;
  const lines = [
    ...(forPocket ? [`Pocket ${pocket.id}`] : []),
    `${size}, centre ${(face.widthMm / 2).toFixed(2)} mm from left and right,`,
    `${(face.heightMm / 2).toFixed(2)} mm from above and below`,
  ];
  // A small blank has a small page: letters as high as go across it, and below each other in the margin.
  const heightMm = Math.min(
    lines.length > 2 ? 1.7 : 2.2,
    (2 * x) / (0.8 * Math.max(...lines.map((l) => l.length))),
  );
  return {
    title: `${plan.jobNumber} ${plan.jobName}: template of ${forPocket ? 'each pocket' : 'one blank'}`,
    widthMm: 2 * x,
    heightMm: 2 * y,
    jobNumber: plan.jobNumber,
    digest: plan.digest,
    notes: [
      `One blank alone, face ${size}. Its middle is the middle of the page: artwork made on this page is laid on the blank centred, at its own size.`,
      'Layer print: edge of the face. Layer bleed: artwork reaches at least to here. Layer safe: what must not be lost stays inside.',
      'Layer centre is for the eye: hide it before the artwork is saved.',
      `Digest ${plan.digest}`,
    ],
    layers: [
      layer('print', 'edge of the face to be printed', [face.print]),
      layer('bleed', 'artwork reaches at least to here', face.bleed),
      layer('safe', 'what must not be lost stays inside', face.safe),
      {
        name: 'centre',
        what: 'the middle of the face, in its width and its height',
        closed: [],
        open: [
          [
            { x: x - ARM, y },
            { x: x + ARM, y },
          ],
          [
            { x, y: y - ARM },
            { x, y: y + ARM },
          ],
        ],
        lettering: lines.map((words, k) => ({
          at: { x, y: (MARGIN * (lines.length - k)) / (lines.length + 1) },
          heightMm,
          words,
        })),
      },
    ],
  };
}

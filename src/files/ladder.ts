import type { Point } from '../base/measure.ts';
import { boxOf } from '../geometry/measure.ts';
import type { Ring } from '../geometry/shape.ts';
import type { Ladder } from '../plan/ladder.ts';
import { cutDrawing, type Drawing } from './drawing.ts';
import { dxf } from './dxf.ts';
import { pdf } from './pdf.ts';
import type { Pdfjs } from './pdfjs.ts';
import { prove, seeDxf, seePdf, seeSvg, type Proof } from './read-back.ts';
import { FILE_SETTINGS, type FileSettings } from './settings.ts';
import { svg } from './svg.ts';

export interface LadderFile {
  readonly name: string;
  readonly mime: string;
  readonly bytes: Uint8Array;
  readonly proof: Proof;
}

const middleOf = (ring: Ring<'bed'>): Point<'bed'> => {
  const { left, right, bottom, top } = boxOf(ring);
  return { x: (left + right) / 2, y: (bottom + top) / 2 };
};

/** The cut file of a ladder: as any other, with each pocket's clearance, with the lines that number the pockets and the square for the kerf. */
export function ladderDrawing({ plan, clearancesMm, tallies, kerfSquare }: Ladder): Drawing {
  const cut = cutDrawing(plan);
  const words = [
    ...plan.pockets.map(({ wall, place: { x, y } }, k) => {
      const { left, right, bottom, top } = boxOf(wall.flatMap(({ outer }) => outer));
      const heightMm = Math.min(2.5, (right - left) / 16, (top - bottom) / 8);
      const below = Math.min(6, (right - left) / 4, (top - bottom) / 4) / 2 + 1.5 * heightMm;
      return { at: { x, y: y - below }, heightMm, words: `${clearancesMm[k]!.toFixed(3)} mm` };
    }),
    ...(kerfSquare ? [{ at: middleOf(kerfSquare), heightMm: 2.5, words: 'kerf' }] : []),
  ];
  return {
    ...cut,
    notes: [
      `Fit ladder: the same pocket ${clearancesMm.length} times, clearance per side ${clearancesMm.map((c, k) => `${k + 1}: ${c.toFixed(3)}`).join(', ')} mm.`,
      'Layer tally: as many lines as the number of the pocket beside them; cut or score them.',
      ...(kerfSquare
        ? [
            'Layer kerf: cut along it as drawn, nothing taken. Hole less drop-out, both measured, is twice the kerf.',
          ]
        : []),
      ...cut.notes,
    ],
    layers: [
      ...cut.layers.map((l) =>
        l.name === 'mark' ? { ...l, lettering: [...l.lettering, ...words] } : l,
      ),
      {
        name: 'tally',
        what: 'as many lines as the number of the pocket; cut or score them',
        closed: [],
        open: tallies,
        lettering: [],
      },
      ...(kerfSquare
        ? [
            {
              name: 'kerf',
              what: 'cut along it as drawn: hole less drop-out is twice the kerf',
              closed: [{ ring: kerfSquare }],
              open: [],
              lettering: [],
            },
          ]
        : []),
    ],
  };
}

/**
 * A ladder's cut files, each read back before it is handed out.
 * @throws Error when a file does not say what the drawing says
 */
export async function ladderFiles(
  ladder: Ladder,
  pdfjs: Pdfjs,
  settings: FileSettings = FILE_SETTINGS,
): Promise<LadderFile[]> {
  const drawing = ladderDrawing(ladder);
  const made = [
    ['fit-ladder.dxf', 'image/vnd.dxf', dxf(drawing, settings), seeDxf],
    ['fit-ladder.svg', 'image/svg+xml', svg(drawing, settings), seeSvg],
    [
      'fit-ladder.pdf',
      'application/pdf',
      await pdf(drawing, settings),
      (bytes: Uint8Array, name: string) => seePdf(pdfjs, bytes, name),
    ],
  ] as const;
  const files: LadderFile[] = [];
  for (const [name, mime, bytes, see] of made)
    files.push({ name, mime, bytes, proof: prove(name, drawing, await see(bytes, name)) });
  return files;
}

import { PLACED, type ArtworkSettings, type BackArtwork } from './artwork.ts';
import { piecesOf } from './run.ts';

export const NEW_BACK: BackArtwork = {
  files: [],
  share: 'one',
  placement: PLACED,
  inks: [],
  lines: [],
};

/**
 * The artwork of the back in the form of the front's, with the same table, as many pieces and the same revision.
 *
 * @param sheets of the front's artwork
 */
export function ofBack(front: ArtworkSettings, sheets: number): ArtworkSettings {
  const { back = NEW_BACK, revision, run } = front;
  const { lines, ...own } = back;
  const pieces = piecesOf(front, sheets);
  return {
    ...own,
    reverse: false,
    revision,
    ...(run && { run: { ...run, lines } }),
    ...(pieces !== undefined && { pieces }),
  };
}

/** The whole, after the back in the form of `ofBack` was changed. */
export const withBack = (
  settings: ArtworkSettings,
  { files, share, placement, inks, run }: ArtworkSettings,
): ArtworkSettings => {
  const { run: before, ...others } = settings;
  return {
    ...others,
    ...(run && { run: { table: run.table, lines: before?.lines ?? [] } }),
    back: { files, share, placement, inks, lines: run?.lines ?? [] },
  };
};

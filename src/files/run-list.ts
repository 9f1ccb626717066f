import Papa from 'papaparse';
import type { ArtworkSettings } from '../artwork/artwork.ts';
import { loadsOf } from '../artwork/run.ts';
import { columnsOf, rowsOf } from '../artwork/table.ts';
import type { BedPlan } from '../plan/plan.ts';

/** The table of a run with the load and the pocket of every row, as CSV (RFC 4180) in UTF-8. */
export function runList(
  { pockets }: Pick<BedPlan, 'pockets'>,
  sheets: number,
  settings: Pick<ArtworkSettings, 'share' | 'run'>,
): Uint8Array {
  const { table } = settings.run!;
  const rows = rowsOf(table);
  const placed = loadsOf(settings, sheets, pockets.length).flatMap((load, l) =>
    load.flatMap((piece, k) =>
      piece?.row === undefined ? [] : [[String(l + 1), pockets[k]!.id, ...rows[piece.row]!]],
    ),
  );
  const text = Papa.unparse([['load', 'pocket', ...columnsOf(table)], ...placed]);
  // Spreadsheets take a file for UTF-8 only where it begins with this mark.
  return new TextEncoder().encode(`\ufeff${text}\r\n`);
}

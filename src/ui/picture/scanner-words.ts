import { densitiesOf, type ScannerProfile } from '../../view/scan.ts';

/** A scanner profile in a few words, its densities measured. */
export function scannerWords(profile: ScannerProfile): string {
  const { line, feed } = densitiesOf(profile.scanner);
  const said = profile.headerDpi === undefined ? '' : `, set to ${Math.round(profile.headerDpi)}`;
  const from = profile.scans === 1 ? 'one scan' : `${profile.scans} scans`;
  return (
    `${profile.widthPx} × ${profile.heightPx} px${said}, measured ` +
    `${line.toFixed(2)} and ${feed.toFixed(2)} per inch, from ${from}`
  );
}

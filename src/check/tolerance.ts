/** What sizes of the outline must keep to: the room that the pocket leaves, the operator's own ± figure, or ISO 2768-1. */
export type Asked =
  | { readonly by: 'clearance' }
  | { readonly by: 'own'; readonly mm: number }
  | { readonly by: 'general'; readonly class: ToleranceClass };

export const TOLERANCE_CLASSES: readonly ToleranceClass[] = ['f', 'm', 'c', 'v'];

/** Tolerance classes of ISO 2768-1: fine, medium, coarse, very coarse. */
export type ToleranceClass = 'f' | 'm' | 'c' | 'v';

/** Upper ends of the ranges of table 1, mm; each is "over the one before, up to and including". */
const UP_TO = [3, 6, 30, 120, 400, 1000, 2000, 4000];
/** Linear sizes, ± mm; 0: the standard gives none. ISO 2768-1, table 1 (class c below 6 mm from memory). */
const LINEAR: Readonly<Record<ToleranceClass, readonly number[]>> = {
  f: [0.05, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5, 0],
  m: [0.1, 0.1, 0.2, 0.3, 0.5, 0.8, 1.2, 2],
  c: [0.2, 0.3, 0.5, 0.8, 1.2, 2, 3, 4],
  v: [0, 0.5, 1, 1.5, 2.5, 4, 6, 8],
};
/** Radii and chamfers, ± mm, for 0.5 to 3, over 3 to 6, over 6. ISO 2768-1, table 2. */
const RADII: Readonly<Record<ToleranceClass, readonly number[]>> = {
  f: [0.2, 0.5, 1],
  m: [0.2, 0.5, 1],
  c: [0.4, 1, 2],
  v: [0.4, 1, 2],
};

/** The general tolerance of a size that a drawing gives without one, ± mm; nothing where the standard gives none. */
export function generalTolerance(
  nominalMm: number,
  of: ToleranceClass,
  kind: 'linear' | 'radius' = 'linear',
): number | undefined {
  if (!(nominalMm >= 0.5)) return undefined;
  if (kind === 'radius') return RADII[of][nominalMm <= 3 ? 0 : nominalMm <= 6 ? 1 : 2];
  const range = UP_TO.findIndex((end) => nominalMm <= end);
  return (range >= 0 && LINEAR[of][range]) || undefined;
}

/** ± mm for one size, and what it is called; nothing where the pocket's clearance decides, or the standard gives none. */
export function toleranceOf(
  asked: Asked,
  sizeMm: number,
  kind: 'linear' | 'radius' = 'linear',
): { readonly mm: number; readonly name: string } | undefined {
  if (asked.by === 'clearance') return undefined;
  if (asked.by === 'own') return { mm: asked.mm, name: 'your own' };
  const mm = generalTolerance(sizeMm, asked.class, kind);
  return mm === undefined ? undefined : { mm, name: `ISO 2768-1 ${asked.class}` };
}

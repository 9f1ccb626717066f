import type { Dimension, Feature } from './check.ts';

/** What a feature is called, in a word or two of the shop. */
export function featureName(feature: Feature, kind?: Dimension['kind']): string {
  switch (feature.kind) {
    case 'main':
      return feature.side;
    case 'across':
      return `across at ${Math.round((((feature.directionRad * 180) / Math.PI) % 180) + 180) % 180}°`;
    case 'edges':
      return kind === 'slot' ? 'slot' : 'edge to edge';
    case 'hole':
      return 'hole';
    case 'radius':
      return 'corner radius';
    case 'holes':
      return 'hole to hole';
    case 'thickness':
      return 'thickness';
    case 'step':
      return 'step down to the widest edge';
  }
}

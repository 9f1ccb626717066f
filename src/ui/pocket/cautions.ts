import { materialOf } from '../../pocket/material.ts';
import type { PocketSettings, Tool } from '../../pocket/pocket.ts';

/** Which cautions a tool asks for. */
export function cautionsOf(tool: Tool): readonly ('laser' | 'blade' | 'mill')[] {
  switch (tool.kind) {
    case 'beam':
      return ['laser'];
    case 'mill':
      return ['mill'];
    default:
      return ['blade'];
  }
}

/** What the board itself does to whoever cuts it. */
export const boardCaution = ({ material }: PocketSettings): string =>
  material === undefined ? '' : (materialOf(material).caution ?? '');

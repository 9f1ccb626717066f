import { readFileSync } from 'node:fs';
import type { Place } from './score.ts';

/** What a rendered picture truly shows, as the renderer writes it (`*.truth.json`), the parts that are used here. */
export interface Truth {
  readonly scene: string;
  readonly sheet: {
    readonly size_mm: readonly [number, number];
    /** True printed lengths of the check spans; the last three are x, y and d of the sheet. */
    readonly spans: readonly { readonly a: Place; readonly b: Place; readonly true: number }[];
  };
  readonly blanks: readonly {
    readonly name: string;
    readonly thickness: number;
    readonly role: 'blank' | 'support' | 'occluder';
    /** Outline at the widest place, outer ring first, mm, sheet frame. */
    readonly widest: readonly (readonly Place[])[];
    /** Depth of the widest place below the face, mm. */
    readonly widest_depth: number;
    readonly rider: { readonly size: number; readonly designed: number; readonly z: number } | null;
  }[];
  readonly views: readonly {
    readonly file: string;
    readonly truth: {
      readonly f_px: number;
      readonly foot: Place;
      readonly height: number;
      readonly k1: number;
    };
    /** By blank: the stretches that this viewpoint cannot see. */
    readonly hidden: readonly (readonly {
      readonly ring: number;
      readonly from_mm: number;
      readonly to_mm: number;
    }[])[];
  }[];
}

export const readTruth = (path: string): Truth => JSON.parse(readFileSync(path, 'utf8')) as Truth;

/** The renderer's whole truth without what no test reads: other faces' rings, the grid, the course of hidden stretches. */
export function shorten(whole: Record<string, unknown>): Record<string, unknown> {
  const without = (o: Record<string, unknown>, ...names: string[]): Record<string, unknown> =>
    Object.fromEntries(Object.entries(o).filter(([name]) => !names.includes(name)));
  const list = (v: unknown): Record<string, unknown>[] => v as Record<string, unknown>[];
  return {
    ...whole,
    blanks: list(whole['blanks']).map((b) => without(b, 'at_sheet', 'at_top', 'pictured_face')),
    views: list(whole['views']).map((v) => ({
      ...without(v, 'grid'),
      hidden: (v['hidden'] as unknown[]).map((h) => list(h).map((s) => without(s, 'points'))),
    })),
  };
}

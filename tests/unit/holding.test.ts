import { beforeAll, describe, expect, it } from 'vitest';
import { Refusal } from '../../src/base/reason.ts';
import { release } from '../../src/files/release.ts';
import { loadPdfjs } from '../../src/files/load-pdfjs-node.ts';
import type { Clipper } from '../../src/geometry/clipper.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { ringDistance, insideRegion } from '../../src/geometry/measure.ts';
import { DEFAULT_BED, DEFAULT_POCKET, jobFacts, makeJig } from '../../src/job/jig.ts';
import { newJob, readJob, writeJob } from '../../src/job/job.ts';
import { DEFAULT_HEIGHTS } from '../../src/plan/heights.ts';
import type { BedSettings } from '../../src/plan/plan.ts';
import { MATERIALS } from '../../src/pocket/material.ts';
import type { PocketSettings } from '../../src/pocket/pocket.ts';
import { card, outlineOf, plaque } from '../outlines.ts';

let clipper: Clipper;
beforeAll(async () => {
  clipper = await loadClipper();
});

const traced = (region = plaque) => ({
  outlines: [outlineOf(region)],
  verdict: 'ok' as const,
  reasons: [],
});
const jig = (
  pocket: Partial<PocketSettings>,
  bed: Partial<BedSettings> = {},
  region = plaque,
  heights?: Partial<typeof DEFAULT_HEIGHTS>,
) =>
  makeJig(clipper, traced(region), {
    job: { number: '1', name: 'Test' },
    pocket: { ...DEFAULT_POCKET, material: 'acrylic', ...pocket },
    bed: { ...DEFAULT_BED, ...bed },
    ...(heights && { heights: { ...DEFAULT_HEIGHTS, ...heights } }),
  });
const codes = (plan: ReturnType<typeof jig>['plan']): string[] => plan.reasons.map((r) => r.code);

describe('board and tool', () => {
  /* What laser makers and makerspaces forbid alike: chlorinated plastics (acid), foam board and polycarbonate (flare, char). */
  it.each(['pvc', 'foamed-pvc', 'vinyl', 'polycarbonate', 'foam-board'] as const)(
    '%s: no laser, and no file leaves; a knife may',
    async (material) => {
      const { plan, blanks } = jig({ material });
      expect(codes(plan)).toEqual(['board-not-by-laser']);
      const facts = jobFacts({ plan, blanks }, traced(), '2026-03-14');
      const shut = release(plan, facts, await loadPdfjs()).catch((e: unknown) => e);
      expect(await shut).toBeInstanceOf(Refusal);
      expect(String(((await shut) as Refusal).message)).toMatch(/No laser may cut/);
      expect(codes(jig({ material, tool: { kind: 'knife', kerfMm: 0.2 } }).plan)).toEqual([]);
    },
  );
  it('chlorine is named where there is chlorine', () => {
    for (const { id, notByLaser } of MATERIALS)
      expect(/acid/.test(notByLaser ?? ''), id).toBe(['pvc', 'foamed-pvc', 'vinyl'].includes(id));
  });
  it('a board that was not said is asked for before a laser, and said once', () => {
    const { outlines } = traced();
    const two = makeJig(
      clipper,
      { ...traced(), outlines: [...outlines, outlineOf(card, { id: '2-face', blank: 2 })] },
      { job: { number: '1', name: '' }, pocket: DEFAULT_POCKET, bed: DEFAULT_BED },
    );
    expect(codes(two.plan)).toEqual(['board-unsaid']);
  });
});

describe('every option at once goes into the files and is read back', () => {
  it('mill, relief, notches, posts, ejector, bridges, lead-in, blind and on a base', async () => {
    for (const hold of ['base', 'blind'] as const) {
      const made = jig(
        {
          tool: { kind: 'mill', radiusMm: 1 },
          relief: 'bisector',
          notches: { radiusMm: 8, reachMm: 8 },
          posts: true,
          ejectorMm: 10,
          tabs: 4,
          leadInMm: 2,
          hold,
          draftDeg: 4,
          chamferMm: 0.5,
        },
        { columns: 2, keyed: true },
        plaque,
        { boardMm: 5, baseMm: 3 },
      );
      const files = await release(
        made.plan,
        jobFacts(made, traced(), '2026-03-14'),
        await loadPdfjs(),
      );
      for (const { name, proof } of files.filter(({ proof }) => proof)) {
        // The templates of one blank hold it once, however many pockets it has.
        expect(proof!.pockets, name).toBe(name === 'blank-templates.zip' ? 1 : 2);
        expect(proof!.greatestMm, name).toBeLessThan(0.001);
      }
      const text = new TextDecoder().decode(files.find(({ name }) => name === 'cut.svg')!.bytes);
      for (const layer of ['pocket', 'cut', 'notch', 'mouth', 'eject', 'board', 'mark'])
        expect(text).toContain(`<g id="${layer}"`);
      // Four bridges leave five open pieces of each wall with its lead-in; a blind pocket drops nothing out.
      const open = made.plan.pockets[0]!.trails.filter((t) => !t.closed);
      expect(open).toHaveLength(hold === 'base' ? 6 : 2);
      // Inside before outside: the post's way comes first.
      const first = made.plan.pockets[0]!.trails[0]!.points[1]!;
      expect(insideRegion({ outer: made.plan.pockets[0]!.print.outer, holes: [] }, first)).toBe(
        true,
      );
    }
  });
});

describe('layouts', () => {
  it.each(['rows', 'brick', 'head-to-tail'] as const)('%s keep the wall', (layout) => {
    const { plan } = jig(
      { notches: { radiusMm: 8, reachMm: 12 } },
      { layout, rows: 2, columns: 3 },
    );
    expect(codes(plan)).toEqual([]);
    const rings = plan.pockets.map((p) => p.opening[0]!.outer);
    for (const [i, a] of rings.entries())
      for (const b of rings.slice(i + 1)) expect(ringDistance(a, b)).toBeGreaterThan(4 - 1e-6);
    expect(plan.pockets.map((p) => p.place.turnDeg)).toEqual(
      layout === 'head-to-tail' ? [0, 180, 0, 0, 180, 0] : [0, 0, 0, 0, 0, 0],
    );
  });

  it('head to tail lets tapers lie closer than their boxes', () => {
    const taper = {
      outer: [
        { x: 80, y: 100 },
        { x: 120, y: 100 },
        { x: 106, y: 190 },
        { x: 94, y: 190 },
      ],
      holes: [],
    };
    const pitch = (layout: 'rows' | 'head-to-tail'): number => {
      const [a, b] = jig({}, { layout, columns: 2 }, taper).plan.pockets;
      return b!.place.x - a!.place.x;
    };
    expect(pitch('head-to-tail')).toBeLessThan(pitch('rows') - 8);
  });

  it('keep-outs refuse a pocket that touches them', () => {
    const clamp = { what: 'clamp', xMm: 200, yMm: 140, widthMm: 20, depthMm: 20 };
    expect(codes(jig({}, { keepOuts: [clamp] }).plan)).toEqual(['on-keep-out']);
    expect(codes(jig({}, { keepOuts: [{ ...clamp, xMm: 0, yMm: 0 }] }).plan)).toEqual([]);
  });
});

describe('job files', () => {
  it('from before heights and boards were asked for still open', () => {
    const { heights, ...old } = newJob('7', 'Old');
    expect(heights).toBe(DEFAULT_HEIGHTS);
    expect(readJob(JSON.stringify(old)).heights).toEqual(DEFAULT_HEIGHTS);
  });
  it('keep every new entry, and refuse what is of another kind', () => {
    const job = newJob('7', 'New');
    const full = {
      ...job,
      pocket: { ...job.pocket, tool: { kind: 'drag', offsetMm: 0.3 }, relief: 'along-x' as const },
    };
    expect(readJob(writeJob(full as typeof job))).toEqual(full);
    for (const bad of [
      { relief: 'round' },
      { tabs: '3' },
      { notches: [{ at: 1 }] },
      { along: [{ blank: 1, from: 0.1 }] },
      { corners: 'bevelled' },
      { chamferMm: 'wide' },
      { material: 'gold' },
    ])
      expect(() => readJob(JSON.stringify({ ...job, pocket: { ...job.pocket, ...bad } }))).toThrow(
        Refusal,
      );
  });
});

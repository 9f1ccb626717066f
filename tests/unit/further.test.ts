import DxfParser from 'dxf-parser';
import { beforeAll, describe, expect, it } from 'vitest';
import { cutDrawing } from '../../src/files/drawing.ts';
import { loadPdfjs } from '../../src/files/load-pdfjs-node.ts';
import { furtherNames, release, type ReleaseFile } from '../../src/files/release.ts';
import { readPlanJson } from '../../src/files/plan-json.ts';
import { FILE_SETTINGS } from '../../src/files/settings.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { boxOf, centroid, regionArea } from '../../src/geometry/measure.ts';
import {
  DEFAULT_BED,
  DEFAULT_POCKET,
  furtherPlans,
  jobFacts,
  makeJig,
  type Jig,
} from '../../src/job/jig.ts';
import { ORDER } from '../../src/plan/order.ts';
import { numbersOn } from '../../src/plan/chosen.ts';
import { turnedOver } from '../../src/plan/turned-over.ts';
import { card, outlineOf, plaque } from '../outlines.ts';

/** A card, its own mirror both ways, and a plaque that is not. */
const traced = {
  outlines: [outlineOf(card), outlineOf(plaque, { id: '2-face', blank: 2 })],
  verdict: 'ok',
  reasons: [],
} as const;
const order = { ...ORDER, pieces: { 1: 5, 2: 4 } };
const NONE = { front: false, back: false };
let jig: Jig;
let files: ReadonlyMap<string, ReleaseFile>;
beforeAll(async () => {
  jig = makeJig(await loadClipper(), traced, {
    job: { number: '7-2', name: 'Twins' },
    pocket: { ...DEFAULT_POCKET, material: 'acrylic' },
    bed: { ...DEFAULT_BED, columns: 2, boards: 2, turnedAbout: 'width' },
    counts: { 1: 2, 2: 2 },
  });
  const facts = jobFacts(jig, traced, '2026-03-14');
  const made = await release(
    jig.plan,
    facts,
    await loadPdfjs(),
    FILE_SETTINGS,
    undefined,
    furtherPlans(jig, order),
  );
  files = new Map(made.map((f) => [f.name, f]));
}, 60_000);

describe('further boards and loads', () => {
  it('are the files that are foretold, each read back but the loading card', () => {
    const names = furtherNames(jig.plan.bed, furtherPlans(jig, order).loads, NONE);
    expect([...files.keys()].slice(-names.length)).toEqual(names);
    expect(names).toContain('load-3-artwork.pdf');
    for (const name of names)
      expect(files.get(name)!.proof === undefined, name).toBe(name.endsWith('card.pdf'));
  });

  it('twins differ in nothing but their number', () => {
    const [one, two] = [1, 2].map((n) => cutDrawing(jig.plan, FILE_SETTINGS, n));
    const words = (d: typeof one): string[] =>
      d!.layers.flatMap((l) => l.lettering.map((w) => w.words));
    const bare = (d: typeof one): unknown => ({
      ...d,
      layers: d!.layers.map((l) => ({ ...l, lettering: l.lettering.map(({ at }) => at) })),
    });
    expect(bare(one)).toEqual(bare(two));
    const differ = words(one).flatMap((w, k) => (w === words(two)[k] ? [] : [[w, words(two)[k]!]]));
    expect(differ).toHaveLength(1);
    expect(differ[0]![0]).toMatch(/board 1 of 2$/);
    expect(differ[0]![1]).toBe(differ[0]![0]!.replace('board 1', 'board 2'));
  });

  it('a part-filled load has the first pockets of each blank at their own places', () => {
    const part = readPlanJson(files.get('load-3-plan.json')!.bytes, 'load-3-plan.json');
    expect(part.pockets.map(({ id }) => id)).toEqual(['1']);
    expect(part.pockets[0]!.place).toEqual(jig.plan.pockets[0]!.place);
    expect(part.digest).not.toBe(jig.plan.digest);
  });

  it("the back's board holds every pocket turned over, as dxf-parser reads it", () => {
    const text = new TextDecoder().decode(files.get('back-cut.dxf')!.bytes);
    const entities = new DxfParser().parseSync(text)!.entities as unknown as {
      layer: string;
      vertices: { x: number; y: number }[];
    }[];
    const middles = entities
      .filter((e) => e.layer === 'pocket')
      .map((e) => centroid<'bed'>(e.vertices));
    expect(middles).toHaveLength(4);
    for (const { wall } of jig.plan.pockets) {
      const c = centroid(wall[0]!.outer);
      const want = { x: c.x, y: DEFAULT_BED.depthMm - c.y };
      const near = Math.min(...middles.map((m) => Math.hypot(m.x - want.x, m.y - want.y)));
      expect(near).toBeLessThan(0.002);
    }
  });

  it('says whether one board serves for both sides', async () => {
    const clipper = await loadClipper();
    const codes = (outline: (typeof traced.outlines)[number], axis: 'depth' | 'width') => {
      const { plan } = makeJig(
        clipper,
        { ...traced, outlines: [outline] },
        {
          job: { number: '1', name: 'T' },
          pocket: { ...DEFAULT_POCKET, material: 'acrylic' },
          bed: { ...DEFAULT_BED, rows: 2, columns: 2 },
        },
      );
      return turnedOver(plan, axis).plan.reasons.map(({ code }) => code);
    };
    const [both, none] = traced.outlines;
    for (const axis of ['depth', 'width'] as const) {
      expect(codes(both, axis)).toEqual(['back-same-board']);
      expect(codes(none, axis)).toEqual(['back-face-outline']);
    }
  });

  it('lies as the front does when it is turned over twice', () => {
    const twice = turnedOver(turnedOver(jig.plan, 'depth').plan, 'depth').plan;
    twice.pockets.forEach((p, k) => {
      const q = jig.plan.pockets[k]!;
      expect(p.place.x).toBeCloseTo(q.place.x, 9);
      expect(p.place.mirrored).toBe(q.place.mirrored);
      p.wall[0]!.outer.forEach((v, i) => {
        expect(v.x).toBeCloseTo(q.wall[0]!.outer[i]!.x, 9);
        expect(v.y).toBeCloseTo(q.wall[0]!.outer[i]!.y, 9);
      });
    });
  });
});

describe('a sample of chosen pockets', () => {
  let made: ReadonlyMap<string, ReleaseFile>;
  beforeAll(async () => {
    const facts = { ...jobFacts(jig, traced, '2026-03-14'), boardMm: 6 };
    const settings = { ...FILE_SETTINGS, sample: '1, 3-4' };
    const all = await release(jig.plan, facts, await loadPdfjs(), settings);
    made = new Map(all.map((f) => [f.name, f]));
  }, 60_000);

  it('is files of its own, each read back; the whole release stays as it is', () => {
    const names = furtherNames({ ...jig.plan.bed, boards: 1 }, [], NONE, true).filter((n) =>
      n.startsWith('sample'),
    );
    expect(names).toHaveLength(8);
    for (const name of names) expect(made.get(name)!.proof, name).toBeDefined();
    expect(made.get('cut.dxf')!.bytes).toEqual(files.get('cut.dxf')!.bytes);
  });

  it('holds just those pockets, where they lie, on the same page with the same zero', () => {
    const ringsIn = (name: string, layer: string): string[] =>
      new DxfParser()
        .parseSync(new TextDecoder().decode(made.get(name)!.bytes))!
        .entities.filter((e) => e.layer === layer)
        .map((e) => JSON.stringify((e as unknown as { vertices: unknown }).vertices));
    const [few, all] = [ringsIn('sample-cut.dxf', 'cut'), ringsIn('cut.dxf', 'cut')];
    expect(few).toEqual([0, 2, 3].map((k) => all[k]));
    expect(ringsIn('sample-cut.dxf', 'board')).toEqual(ringsIn('cut.dxf', 'board'));
    const filed = readPlanJson(made.get('sample-plan.json')!.bytes, 'a');
    expect(filed.pockets.map(({ id }) => id)).toEqual(['1', '3', '4']);
    expect(filed.zero).toBe(jig.plan.bed.zero);
  });

  it('has a body with the volume of the board round them less the pockets, where they lie on the bed', () => {
    const { bytes } = made.get('sample-body.stl')!;
    const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
    // Volume by the divergence theorem, from the facets as they are in the file.
    let volume = 0;
    let least = Infinity;
    for (let t = 0; t < view.getUint32(80, true); t++) {
      const [a, b, c] = [0, 1, 2].map((i) =>
        [0, 1, 2].map((k) => view.getFloat32(84 + 50 * t + 12 + 12 * i + 4 * k, true)),
      ) as [number[], number[], number[]];
      least = Math.min(least, a[0]!);
      volume +=
        (a[0]! * (b[1]! * c[2]! - b[2]! * c[1]!) +
          a[1]! * (b[2]! * c[0]! - b[0]! * c[2]!) +
          a[2]! * (b[0]! * c[1]! - b[1]! * c[0]!)) /
        6;
    }
    const chosen = jig.plan.pockets.filter(({ id }) => ['1', '3', '4'].includes(id));
    const walls = chosen.flatMap(({ wall }) => wall);
    const all = boxOf(walls.flatMap(({ outer }) => outer));
    // 8 mm of board all round, a corner of 4 mm cut off, 6 mm thick.
    const edge = (all.right - all.left + 16) * (all.top - all.bottom + 16) - 8;
    const open = walls.reduce((sum, r) => sum + regionArea(r), 0);
    expect(volume / (6 * (edge - open))).toBeCloseTo(1, 4);
    expect(least).toBeCloseTo(all.left - 8, 3);
  });

  it('is refused by name where a number is not on the bed, or is none', () => {
    expect(() => numbersOn(jig.plan, '2, 9')).toThrow(/pocket 9, and the plan has pockets 1 to 4/);
    expect(() => numbersOn(jig.plan, 'three')).toThrow(/"three" is no number/);
    expect(numbersOn(jig.plan, '4 1-2,2')).toEqual(['4', '1', '2']);
  });
});

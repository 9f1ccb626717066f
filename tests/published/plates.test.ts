import { describe, expect, it } from 'vitest';
import { linesOfDxf } from '../../src/files/lines-dxf.ts';
import { loadPdfjs } from '../../src/files/load-pdfjs-node.ts';
import { seatFiles } from '../../src/files/seat.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { DEFAULT_BED, DEFAULT_POCKET, makeJig } from '../../src/job/jig.ts';
import type { BedPlan } from '../../src/plan/plan.ts';
import { offByPlay } from '../../src/plan/board-on-bed.ts';
import { seatOf, SEATS } from '../../src/seat/kinds.ts';
import { cutsAcross, platePockets, PLATES, platesOf } from '../../src/seat/plates.ts';
import { card, outlineOf } from '../outlines.ts';
import { Random } from '../support/simulate.ts';

const clipper = await loadClipper();

describe('a board in plates', () => {
  const jigOn = (rows: number, columns: number, wallMm = 8): BedPlan =>
    makeJig(
      clipper,
      { outlines: [outlineOf(card)], verdict: 'ok', reasons: [] },
      {
        job: { number: 'S-2', name: 'Plates' },
        pocket: DEFAULT_POCKET,
        bed: { ...DEFAULT_BED, widthMm: 520, depthMm: 400, rows, columns, wallMm },
      },
    ).plan;

  // Against every choice of places on a fine grid, by breadth first: no fewer cuts exist.
  it('takes as few cuts as can be, none through what is taken', () => {
    const random = new Random(5);
    let some = 0;
    for (let k = 0; k < 200; k++) {
      const most = 15 + Math.floor(random.next() * 40);
      const taken = Array.from({ length: 6 }, () => {
        const from = Math.floor(random.next() * 95);
        return [from, Math.min(100, from + 1 + Math.floor(random.next() * 20))] as const;
      });
      const free = (at: number): boolean => taken.every(([from, to]) => at <= from || at >= to);
      let [reach, parts] = [0, 0];
      while (reach < 100) {
        let next = Math.min(100, reach + most);
        while (next > reach && next < 100 && !free(next)) next--;
        if (next <= reach) break;
        [reach, parts] = [next, parts + 1];
      }
      const found = cutsAcross(100, most, taken);
      expect(found === undefined).toBe(reach < 100);
      if (!found) continue;
      some++;
      expect(found).toHaveLength(parts - 1);
      [...found, 100].reduce((before, at) => {
        expect(at - before).toBeLessThanOrEqual(most + 1e-9);
        return at;
      }, 0);
      for (const at of found) expect(free(at)).toBe(true);
    }
    expect(some).toBeGreaterThan(30);
  });

  it('gives every pocket to one plate that the cutter takes, edges and pins clear of it', () => {
    const plan = jigOn(4, 4);
    for (const [takesWidthMm, takesDepthMm] of [
      [300, 200],
      [200, 300],
      [530, 110],
    ] as const) {
      const s = { ...PLATES, takesWidthMm, takesDepthMm };
      const plates = platesOf(plan.bed, platePockets(plan), s, 0.1);
      expect(plates.length).toBeGreaterThan(1);
      const ids = plates.flatMap((p) => p.pockets.map(({ id }) => id));
      expect([...ids].sort()).toEqual(plan.pockets.map(({ id }) => id).sort());
      let area = 0;
      for (const { box, pockets, pins } of plates) {
        const [w, d] = [box.right - box.left, box.top - box.bottom];
        area += w * d;
        const sides = [w, d].map((v) => v + 0.2).sort((a, b) => a - b);
        const takes = [takesWidthMm, takesDepthMm].sort((a, b) => a - b);
        sides.forEach((v, k) => expect(v).toBeLessThanOrEqual(takes[k]! + 1e-9));
        for (const { wall } of pockets)
          for (const p of wall.flatMap(({ outer }) => outer)) {
            const toEdge = Math.min(
              p.x - box.left,
              box.right - p.x,
              p.y - box.bottom,
              box.top - p.y,
            );
            expect(toEdge).toBeGreaterThan(s.edgeMm - 1e-6);
            for (const pin of pins)
              expect(Math.hypot(p.x - pin.x, p.y - pin.y)).toBeGreaterThan(s.pinMm / 2 + s.edgeMm);
          }
      }
      // All of the board but its joints, which are twice as wide as an edge stands back.
      const board = plan.bed.widthMm * plan.bed.depthMm;
      expect(area).toBeLessThan(board);
      expect(board - area).toBeLessThan(plates.length * 2 * s.backMm * (520 + 400));
    }
  });

  it('is cut as the plan is: every plate, read back and put where it lies, has its lines', async () => {
    const plan = jigOn(2, 4);
    const from = { bed: plan.bed, toolMm: 0.1, pockets: platePockets(plan) };
    const sheet = seatOf('plates', SEATS, from, await loadClipper());
    const plates = platesOf(plan.bed, from.pockets, PLATES, 0.1);
    const files = await seatFiles(sheet, { number: 'S-2', name: 'Plates' }, await loadPdfjs());
    for (const { proof } of files) expect(proof.greatestMm).toBeLessThan(0.001);
    const wanted = plan.pockets.flatMap(({ trails }) => trails.map(({ points }) => points));
    const found = plates.flatMap(({ box }, k) => {
      const file = files.find(({ name }) => name === `plate-${k + 1}.dxf`)!;
      const note = sheet.parts![k]!.notes[0]!;
      // What the note says is enough to put it there.
      const [x, y, px, py] = /lies at (\S+), (\S+) mm .* at (\S+), (\S+) mm/
        .exec(note)!
        .slice(1)
        .map(Number) as [number, number, number, number];
      expect(Math.hypot(x - box.left, y - box.bottom)).toBeLessThan(0.001);
      return linesOfDxf(file.bytes)
        .rings.filter(({ layer }) => layer === 'cut')
        .map(({ points }) => points.map((p) => ({ x: p.x + x - px, y: p.y + y - py })));
    });
    for (const line of wanted) {
      const off = Math.min(
        ...found.map((ring) =>
          Math.max(
            ...line.map((p) => Math.min(...ring.map((q) => Math.hypot(p.x - q.x, p.y - q.y)))),
          ),
        ),
      );
      expect(off).toBeLessThan(0.002);
    }
  });

  // Every motion that both pins allow, tried by the thousand: the formula holds, and is not idle.
  it('says how far the play of the pins lets a place go', () => {
    const random = new Random(11);
    const pins = [
      { x: 10, y: 15 },
      { x: 190, y: 95 },
    ] as const;
    const apart = Math.hypot(180, 80);
    const across = { x: -80 / apart, y: 180 / apart };
    const at = { x: 200, y: 0 };
    const playMm = 0.1;
    let most = 0;
    for (let k = 0; k < 20000; k++) {
      const [a, r] = [2 * Math.PI * random.next(), playMm / 2];
      const shift = { x: r * Math.cos(a), y: r * Math.sin(a) };
      const turn = ((2 * random.next() - 1) * playMm) / apart;
      const slot = shift.x * across.x + shift.y * across.y + turn * apart;
      if (Math.abs(slot) > playMm / 2) continue;
      const [x, y] = [at.x - pins[0].x, at.y - pins[0].y];
      most = Math.max(most, Math.hypot(shift.x - turn * y, shift.y + turn * x));
    }
    const said = offByPlay(at, [pins[0], pins[1]], playMm);
    expect(most).toBeLessThan(1.0001 * said);
    expect(most).toBeGreaterThan(0.95 * said);
  });

  it('is refused where it need not be, where no joint finds room, and where no pins do', () => {
    const [plan, tight] = [jigOn(3, 4), jigOn(3, 4, 4)];
    const of = (p: BedPlan, patch: Partial<typeof PLATES>) => () =>
      platesOf(p.bed, platePockets(p), { ...PLATES, ...patch }, 0.1);
    expect(of(plan, { takesWidthMm: 600, takesDepthMm: 500 })).toThrow(/need not be divided/);
    expect(of(tight, {})).toThrow(/a joint needs 6\.1 mm/);
    expect(of(plan, { takesWidthMm: 210, takesDepthMm: 160 })).toThrow(/no room for two pins/);
  });
});

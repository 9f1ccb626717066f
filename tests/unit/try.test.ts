import { it } from 'vitest';
import { writeFileSync, mkdirSync } from 'node:fs';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { loadPdfjs } from '../../src/files/load-pdfjs-node.ts';
import { makeJig, jobFacts, DEFAULT_BED, DEFAULT_POCKET } from '../../src/job/jig.ts';
import { release } from '../../src/files/release.ts';
import { mainWidths } from '../../src/check/width.ts';
import { judge } from '../../src/check/judge.ts';
import { card, outlineOf, plaque } from '../outlines.ts';
it('x', async () => {
  const c = await loadClipper();
  const pdfjs = await loadPdfjs();
  const o = [outlineOf(card), outlineOf(plaque, { id: '2-face', blank: 2 })];
  const traced = { outlines: o, verdict: 'ok', reasons: [] } as const;
  for (const mode of ['a', 'b']) {
    const jig = makeJig(c, traced, {
      job: { number: '2026-014', name: 'Plaques and cards, first board' },
      pocket:
        mode === 'a'
          ? { ...DEFAULT_POCKET, tool: { kind: 'mill', radiusMm: 5 }, clearanceMm: 0.05 }
          : DEFAULT_POCKET,
      bed: { ...DEFAULT_BED, columns: 3, rows: 2, zero: 'top-right' },
    });
    const t = performance.now();
    const checks =
      mode === 'a'
        ? []
        : o.flatMap((x) =>
            mainWidths(x).map((d, k) => ({
              blank: x.blank,
              what: k ? 'height' : 'width',
              outlineMm: d.valueMm,
              readingMm: d.valueMm + 0.04 + 0.2 * k,
              judgement: judge(d.valueMm + 0.04 + 0.2 * k, 0.05, d, 0.3),
            })),
          );
    const files = await release(jig.plan, jobFacts(jig, traced, '2026-03-14', checks), pdfjs);
    console.log(
      performance.now() - t,
      files.map((f) => [f.name, f.proof?.greatestMm, f.bytes.length]),
    );
    mkdirSync('/tmp/rel/' + mode, { recursive: true });
    for (const f of files) writeFileSync('/tmp/rel/' + mode + '/' + f.name, f.bytes);
  }
});

import { it } from 'vitest';
import { writeFileSync, mkdirSync } from 'node:fs';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { loadPdfjs } from '../../src/files/load-pdfjs-node.ts';
import { makeJig, DEFAULT_BED, DEFAULT_POCKET } from '../../src/job/jig.ts';
import { artworkDrawing, cutDrawing, setUpDrawing } from '../../src/files/drawing.ts';
import { dxf } from '../../src/files/dxf.ts';
import { svg } from '../../src/files/svg.ts';
import { pdf } from '../../src/files/pdf.ts';
import { prove, seeDxf, seePdf, seeSvg, provePlanJson } from '../../src/files/read-back.ts';
import { planJson } from '../../src/files/plan-json.ts';
import { card, outlineOf, plaque } from '../outlines.ts';
it('x', async () => {
  const c = await loadClipper();
  const pdfjs = await loadPdfjs();
  const { plan } = makeJig(c, { outlines: [outlineOf(card), outlineOf(plaque, { id: '2-face', blank: 2 })], verdict: 'ok', reasons: [] },
    { job: { number: '2026-014', name: 'Sample' }, pocket: {...DEFAULT_POCKET, tool: {kind:'mill', radiusMm: 1.5}}, bed: { ...DEFAULT_BED, columns: 3, rows: 2 } });
  console.log(plan.reasons.map((r) => r.message), plan.pockets.map((p) => p.place), plan.digest);
  mkdirSync('/tmp/rel', { recursive: true });
  const w = (n: string, b: Uint8Array) => writeFileSync('/tmp/rel/' + n, b);
  const cut = cutDrawing(plan), art = artworkDrawing(plan), su = setUpDrawing(plan);
  const d = dxf(cut); w('cut.dxf', d); console.log(prove('cut.dxf', cut, seeDxf(d, 'cut.dxf')));
  const s = svg(cut); w('cut.svg', s); console.log(prove('cut.svg', cut, seeSvg(s, 'cut.svg')));
  const s2 = svg(art); w('artwork.svg', s2); console.log(prove('artwork.svg', art, seeSvg(s2, 'a')));
  const p1 = await pdf(cut); w('cut.pdf', p1); console.log(prove('cut.pdf', cut, await seePdf(pdfjs, p1, 'c')));
  const p2 = await pdf(art); w('artwork.pdf', p2); console.log(prove('artwork.pdf', art, await seePdf(pdfjs, p2, 'c')));
  const p3 = await pdf(su); w('set-up.pdf', p3); console.log(prove('set-up.pdf', su, await seePdf(pdfjs, p3, 'c')));
  const j = planJson(plan); w('plan.json', j); console.log(provePlanJson('plan.json', plan, j));
});

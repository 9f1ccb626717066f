import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { DEFAULT_TRACE, traceFile } from '../../src/cli/trace.ts';

// A moulded bracket whose walls lean by 3 degrees from its foot, its widest place, to its face 3 mm above, from a camera so far
// beside it that the face hides the far walls (fixtures/README.md): the face ends 3 tan(3 deg) = 0.157 mm inside.
const bytes = new Uint8Array(
  readFileSync(new URL('../../fixtures/o14-bracket-on-hue.jpg', import.meta.url)),
);
const options = {
  ...DEFAULT_TRACE,
  thicknessMm: 2.94,
  spansMm: { x: 140.13, y: 139.86, d: 141.42 },
};

it('reads from the near walls how far the far ones lean', async () => {
  const { trace } = await traceFile(bytes, 'bracket.jpg', { ...options, widestMm: 0 });
  const { depthMm, uMm } = trace.reasons.find((r) => r.code === 'edge-depth-seen')!.facts as {
    depthMm: number;
    uMm: number;
  };
  expect(Math.abs(depthMm - 3 * Math.tan((3 * Math.PI) / 180))).toBeLessThan(2 * uMm);
  expect(uMm).toBeLessThan(0.06);
}, 60_000);

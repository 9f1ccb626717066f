import { expose } from 'comlink';
import { outcome } from '../src/base/reason.ts';
import { judge } from '../src/check/judge.ts';
import { mainWidths } from '../src/check/width.ts';
import type { JobFacts } from '../src/files/facts.ts';
import { loadPdfjs } from '../src/files/load-pdfjs-browser.ts';
import { release } from '../src/files/release.ts';
import { loadClipper } from '../src/geometry/load-clipper-browser.ts';
import { makeJig, pocketsOf, type JigSettings } from '../src/job/jig.ts';
import type { Reading } from '../src/job/job.ts';
import type { SizesByBlank } from '../src/job/run.ts';
import type { Outline, Trace } from '../src/outline/outline.ts';
import type { BedPlan } from '../src/plan/plan.ts';
import type { PocketSettings } from '../src/pocket/pocket.ts';

const api = {
  sizes: outcome((outlines: readonly Outline[]): SizesByBlank =>
    Object.fromEntries(
      outlines.map((outline) => {
        const [width, height] = mainWidths(outline);
        return [outline.blank, { width, height }];
      }),
    ),
  ),
  judge: outcome((sizes: SizesByBlank, readings: readonly Reading[], clearanceMm: number) =>
    readings.flatMap((reading) => {
      const dimension = sizes[reading.blank]?.[reading.which];
      if (!dimension) return [];
      const judgement = judge(reading.valueMm, 2 * reading.u, dimension, clearanceMm);
      return [{ reading, dimension, judgement }];
    }),
  ),
  pockets: outcome(async (trace: Trace, settings: PocketSettings) =>
    pocketsOf(await loadClipper(), trace, settings),
  ),
  plan: outcome(async (trace: Trace, settings: JigSettings) => {
    const { plan } = makeJig(await loadClipper(), trace, settings);
    return plan;
  }),
  release: outcome(async (plan: BedPlan, facts: JobFacts) =>
    release(plan, facts, await loadPdfjs()),
  ),
};

export type PlanApi = typeof api;
expose(api);

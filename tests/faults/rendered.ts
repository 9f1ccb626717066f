/* Rendered pictures with wrong typed values, through the whole of the program: file, marks, view, outline, checks, gate. */
import { Refusal } from '../../src/base/reason.ts';
import { holdAgainst } from '../../src/check/checked.ts';
import type { Reading } from '../../src/check/reading.ts';
import { traceFiles, type TraceOptions } from '../../src/cli/trace.ts';
import { gateOf } from '../../src/job/gate.ts';
import { newJob, type Job } from '../../src/job/job.ts';
import { type Results } from '../../src/job/run.ts';
import { seatOutlines } from '../../src/job/seats.ts';
import { loadVision } from '../../src/vision/load-node.ts';
import { CASES, material } from '../accuracy/cases.ts';
import { measuredOf, optionsOf } from '../accuracy/measure.ts';
import { pairUp, score, type Place } from '../accuracy/score.ts';
import { Random } from '../support/simulate.ts';

interface Typed {
  readonly row: string;
  readonly words: string;
  readonly options: TraceOptions;
  readonly reading?: (mm: number) => number;
}

/** Wrong values for one picture, in turn; what the picture is not asked for is left out. */
function wrong(options: TraceOptions, k: number, r: Random): Typed {
  const sign = r.next() < 0.5 ? -1 : 1;
  const times = <T extends Readonly<Record<string, number | undefined>>>(of: T, by: number): T =>
    Object.fromEntries(Object.entries(of).map(([id, mm]) => [id, mm! * by])) as unknown as T;
  switch (k % 4) {
    case 0: {
      const by = sign * r.between(1.5, 8);
      const to = (mm: number): number => (mm + by > 0.1 ? mm + by : mm + Math.abs(by));
      return {
        row: 'thickness wrong',
        words: `thickness typed ${by.toFixed(1)} mm off`,
        options: {
          ...options,
          ...(options.thicknessMm !== undefined && { thicknessMm: to(options.thicknessMm) }),
          thicknessOfBlankMm: Object.fromEntries(
            Object.entries(options.thicknessOfBlankMm).map(([b, mm]) => [b, to(mm)]),
          ),
        },
      };
    }
    case 1: {
      const by = 1 + sign * r.between(0.005, 0.028);
      return {
        row: 'sheet printed to fit the page',
        words: `spans typed at ${(100 * by).toFixed(1)} % of what they are`,
        options: { ...options, spansMm: times(options.spansMm, by) },
      };
    }
    case 2: {
      const by = 1 + sign * r.between(0.01, 0.04);
      if (Object.keys(options.riderSpansMm).length === 0) return wrong(options, 1, r);
      return {
        row: 'rider measured wrong',
        words: `rider typed at ${(100 * by).toFixed(1)} % of what it is`,
        options: { ...options, riderSpansMm: times(options.riderSpansMm, by) },
      };
    }
    default: {
      const by = sign * r.between(0.8, 6);
      return {
        row: 'a reading typed wrong',
        words: `a reading typed ${by.toFixed(1)} mm off`,
        options,
        reading: (mm) => mm + by,
      };
    }
  }
}

/** Photos that are good in themselves: one picture, a rider or a thin blank, nothing to be flagged. */
const GOOD = CASES.filter((c) => !c.flag && !c.scan && !c.lens && !c.views);
/** So many can be played: the same pictures with other faults. */
export const RENDERED = 4 * GOOD.length;

/** Plays one picture with a wrong value, always the same one; undefined where the picture is not on this machine. */
export async function playRendered(k: number): Promise<
  | {
      readonly rows: readonly string[];
      readonly words: string;
      readonly end: 'refused' | 'shut' | 'released';
      readonly by: readonly string[];
      readonly slipped: boolean;
    }
  | undefined
> {
  const one = GOOD[k % GOOD.length]!;
  const there = material(one);
  if ('missing' in there) return undefined;
  loadVision();
  const random = new Random(4711 + 31 * k);
  // Each time round the same picture gets another fault.
  const typed = wrong(optionsOf(one), k + Math.floor(k / GOOD.length), random);
  const { end, by, off } = await playPicture(there, typed, random);
  return {
    rows: [typed.row],
    words: `${one.name}, ${typed.words}`,
    end,
    by: off === undefined ? by : [`off by ${off.toFixed(2)} mm`],
    slipped: off !== undefined,
  };
}

async function playPicture(
  { bytes, name, truth }: Exclude<ReturnType<typeof material>, { missing: string }>,
  { options, reading }: Typed,
  random: Random,
): Promise<{ end: 'refused' | 'shut' | 'released'; by: readonly string[]; off?: number }> {
  try {
    const { trace } = await traceFiles([{ bytes, name }], options);
    if (trace.verdict === 'refused')
      return {
        end: 'refused',
        by: trace.reasons.filter((r) => r.level === 'refuse').map((r) => r.code),
      };
    const seats = seatOutlines(trace);
    const real = truth.blanks
      .filter((b) => b.role === 'blank')
      .map((b) => ({ rings: b.widest, hidden: [] }));
    const pairs = pairUp(seats.map(measuredOf), real);
    const base = newJob('S-1', name);
    const { sharedU, eachU } = base.instruments.caliper;
    const shared = random.normal(sharedU);
    const { sizes } = holdAgainst(seats, [], base.instruments, base.pocket.clearanceMm);
    const readings = seats.flatMap((seat, s) => {
      const ring: readonly Place[] | undefined = real[pairs[s] ?? -1]?.rings[0];
      if (!ring) return [];
      return (['width', 'height'] as const).map((side): Reading => {
        const { directionRad } = sizes[seat.blank]![side];
        const d = ring.map(([x, y]) => Math.cos(directionRad) * x + Math.sin(directionRad) * y);
        const mm = Math.max(...d) - Math.min(...d) + shared + random.normal(eachU);
        return {
          blank: seat.blank,
          feature: { kind: 'main', side },
          valuesMm: [Math.round(100 * (side === 'width' && reading ? reading(mm) : mm)) / 100],
          with: 'caliper',
        };
      });
    });
    const job: Job = {
      ...base,
      face: 'print',
      zero: { readMm: 0, on: '2026-03-14' },
      picture: { name, digest: name },
      thicknessMm: { 1: 1 },
      sheet: { ...base.sheet, spansMm: options.spansMm, kept: 'today' },
      readings,
    };
    const checks = holdAgainst(seats, readings, job.instruments, job.pocket.clearanceMm);
    const results: Results = {
      trace: { ok: true, value: trace },
      checks: { ok: true, value: checks },
    };
    const { shutBy } = gateOf(job, results);
    if (shutBy.length > 0) return { end: 'shut', by: shutBy.map((d) => d.key.split(' {')[0]!) };
    const scores = seats.flatMap((seat, s) => {
      const truthOf = real[pairs[s] ?? -1];
      return truthOf ? [score(measuredOf(seat), truthOf)] : [];
    });
    const worst = Math.max(...scores.filter((s) => !s.wholeHolds).map((s) => s.maxMm), 0);
    return worst > LIMIT_MM
      ? { end: 'released', by: [], off: worst }
      : {
          end: 'released',
          by: [
            `released (${trace.verdict}), largest deviation ${Math.max(...scores.map((s) => s.maxMm)).toFixed(2)} mm`,
          ],
        };
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    return { end: 'refused', by: [error.reason.code] };
  }
}

/** Beyond its band by less than this is a sharp tip or a cleft, which rendered pictures have and these faults do not cause, mm. */
const LIMIT_MM = 0.3;

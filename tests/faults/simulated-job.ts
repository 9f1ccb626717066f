/*
 * One job at the level of marks and edge points: a true sheet, camera and blank, what the operator types, and the program's
 * own adjustment, outline covariance, checks and gate. Nothing here writes into a result: faults are put into marks, edge
 * points and typed values before the program sees them.
 */
import type { Point } from '../../src/base/measure.ts';
import { Refusal } from '../../src/base/reason.ts';
import type { Feature } from '../../src/check/check.ts';
import { holdAgainst, type Checks } from '../../src/check/checked.ts';
import { measure, toBlank } from '../../src/check/feature.ts';
import { improve, type Improved } from '../../src/check/improve.ts';
import type { Reading } from '../../src/check/reading.ts';
import { outwardNormals } from '../../src/geometry/measure.ts';
import type { Region, Ring } from '../../src/geometry/shape.ts';
import { acceptThickness } from '../../src/job/entries.ts';
import { directionsChecked, gateOf, seesShear } from '../../src/job/gate.ts';
import { newJob, type Job } from '../../src/job/job.ts';
import { calibrationOf, type Results } from '../../src/job/run.ts';
import type { Outline } from '../../src/outline/outline.ts';
import {
  alongNormal,
  outlineModes,
  seenPlanes,
  wholeFactorOf,
} from '../../src/outline/uncertainty.ts';
import { calibrate } from '../../src/view/adjust.ts';
import { sheetOfPicture } from '../../src/view/model.ts';
import type { PhotoView } from '../../src/view/view.ts';
import { arc, roundedRectangle, sampled } from '../shapes.ts';
import { Random, seen, simulate, type Case, type Simulated } from '../support/simulate.ts';

/**
 * Noise of edge points, px (k = 1), as measured on rendered pictures with known edges: from point to point, a slow part, and
 * a part that is the same all round. The program's own constants claim 0.045 / 0.02 / 0.03 for a smooth dark edge.
 */
const EDGE_PX = 0.035;
const SLOW_PX = 0.02;
const BIAS_PX = 0.03;
const [POINT_MM, SLOW_MM] = [0.6, 10];
/** More clearance than this per side nobody gives, mm. Common practice, no source. */
const MOST_CLEARANCE_MM = 0.5;

/** A blank whose every size is known, in the sheet frame about the middle of the stage. */
export interface Blank {
  readonly region: Region<'sheet'>;
  readonly features: readonly {
    readonly kind: string;
    readonly feature: (at: (p: Point<'sheet'>) => Point<'blank'>) => Feature;
    readonly trueMm: number;
  }[];
}

/** A plate with two holes, a slot and round corners, or a rounded free form; invented. */
export function blankOf(random: Random): Blank {
  const [cx, cy] = [105, 148];
  if (random.next() < 0.4) {
    const a = random.between(18, 38);
    const b = random.between(0.75, 1.25);
    const [p, q] = [random.between(0, 6), random.between(0, 6)];
    const outer = sampled(360, (t) => {
      const r = a * (1 + 0.08 * Math.cos(2 * t + p) + 0.06 * Math.cos(3 * t + q));
      return [cx + r * Math.cos(t), cy + b * r * Math.sin(t)];
    });
    return { region: { outer, holes: [] }, features: [] };
  }
  const [w, h] = [random.between(60, 100), random.between(40, 75)];
  const corner = random.between(4, 9);
  const [x0, y0] = [cx - w / 2, cy - h / 2];
  const radius = random.between(2.5, 4.5);
  const holes = [
    { x: x0 + 12, y: y0 + h - 12 },
    { x: x0 + w - 12, y: y0 + h - 12 },
  ];
  const [slotW, slotH] = [random.between(18, 26), random.between(4, 9)];
  const slot = roundedRectangle(slotW, slotH, 1.5, 0.002, cx - slotW / 2, y0 + 9);
  const round = (c: Point<'sheet'>): Ring<'sheet'> =>
    arc<'sheet'>(c, radius, 0, -2 * Math.PI, 0.001).slice(0, -1);
  // A long straight side is divided, so that its error can vary along it.
  const region = {
    outer: divided(roundedRectangle(w, h, corner, 0.001, x0, y0)),
    holes: [...holes.map(round), divided([...slot].reverse())],
  };
  return {
    region,
    features: [
      {
        kind: 'edge to edge',
        feature: (at) => ({
          kind: 'edges',
          a: at({ x: x0, y: cy }),
          b: at({ x: x0 + w, y: cy }),
        }),
        trueMm: w,
      },
      {
        kind: 'slot',
        feature: (at) => ({
          kind: 'edges',
          a: at({ x: cx, y: y0 + 9 }),
          b: at({ x: cx, y: y0 + 9 + slotH }),
        }),
        trueMm: slotH,
      },
      {
        kind: 'hole',
        feature: (at) => ({ kind: 'hole', at: at(holes[0]!) }),
        trueMm: 2 * radius,
      },
      {
        kind: 'corner radius',
        feature: (at) => ({
          kind: 'radius',
          at: at({
            x: x0 + corner * (1 - Math.SQRT1_2),
            y: y0 + corner * (1 - Math.SQRT1_2),
          }),
        }),
        trueMm: corner,
      },
      {
        kind: 'hole to hole',
        feature: (at) => ({ kind: 'holes', a: at(holes[0]!), b: at(holes[1]!) }),
        trueMm: w - 24,
      },
    ],
  };
}

const divided = (ring: Ring<'sheet'>): Ring<'sheet'> =>
  ring.flatMap((p, k) => {
    const q = ring[(k + 1) % ring.length]!;
    const n = Math.max(1, Math.ceil(Math.hypot(q.x - p.x, q.y - p.y)));
    return Array.from({ length: n }, (_, i) => ({
      x: p.x + (i / n) * (q.x - p.x),
      y: p.y + (i / n) * (q.y - p.y),
    }));
  });

/** What may be put wrong, each before the program sees it. */
export interface Fault {
  /** The row of the table that it belongs to. */
  readonly row: string;
  readonly words: string;
  /** Other circumstances of the picture. */
  readonly scene?: Partial<Case>;
  /** Turns true places of picture points into what the file shows. */
  readonly picture?: (p: Point<'picture'>, s: Simulated) => Point<'picture'>;
  readonly meta?: (meta: Simulated['meta']) => Simulated['meta'];
  /** The outline that the light shows, as a displacement outward, mm. */
  readonly edge?: (n: Point<'sheet'>) => number;
  /** The widest place lies this far below the face, mm. */
  readonly roundedMm?: number;
  readonly marks?: (m: Simulated['found']['marks']) => Simulated['found']['marks'];
  /** What is typed. */
  readonly typed?: (job: Job) => Job;
  /** What is read on the blank, from what an honest reading would be. */
  readonly reading?: (mm: number, k: number) => number;
  /** Readings are used to correct the outline. */
  readonly correct?: boolean;
}

export interface Ending {
  /** refused: a sentence and no outline. shut: the gate asks. released: files would go out. */
  readonly end: 'refused' | 'shut' | 'released';
  /** Codes of refusals, keys of what shuts the gate. */
  readonly by: readonly string[];
  /** Doubts shown beside it. */
  readonly doubts: readonly string[];
  readonly harm?: Harm;
  /** For every kind of check: outline minus truth over its U (k = 2). */
  readonly errors: readonly { readonly kind: string; readonly overU: number }[];
}

/** How far the outline is off, after the best rigid motion, mm. */
export interface Harm {
  readonly mostMm: number;
  /** Half width of the band that is to hold everywhere at once, mm, where the deviation is largest. */
  readonly bandMm: number;
  readonly within: number;
}

export interface Played extends Ending {
  readonly job: Job;
  readonly results: Results;
}

/** Plays one job from its seed, with its faults. */
export function play(seed: number, faults: readonly Fault[]): Played {
  const random = new Random(seed * 104729 + 71);
  const blank = blankOf(random);
  const height = [0.8, 3, 6, 10, 20][Math.floor(random.next() * 5)]!;
  const s = simulate({
    seed,
    height,
    printError: random.between(0.005, 0.03),
    bow: random.next() < 0.3 ? random.between(0, 0.3) : 0,
    fKnown: 0.035,
    ...(height > 2 && { rider: 50 as const }),
    ...Object.assign({}, ...faults.map((f) => f.scene ?? {})),
  });
  // The operator's instrument, and what she gets wrong each time.
  const base = newJob('S-1', 'Simulated');
  const { sharedU, eachU } = base.instruments.caliper;
  const shared = random.normal(sharedU);
  const show = (p: Point<'picture'>): Point<'picture'> =>
    faults.reduce((q, f) => f.picture?.(q, s) ?? q, p);
  const found = {
    ...s.found,
    marks: faults
      .reduce((m, f) => f.marks?.(m) ?? m, s.found.marks)
      .map((m) => ({ ...m, picture: show(m.picture) })),
    riders: s.found.riders.map((r) => ({
      ...r,
      marks: r.marks.map((m) => ({ ...m, picture: show(m.picture) })),
    })),
  };
  const meta = faults.reduce((m, f) => f.meta?.(m) ?? m, s.meta);
  const honest: Job = {
    ...base,
    picture: { name: 'simulated', digest: String(seed) },
    face: 'print',
    zero: { readMm: Math.round(100 * random.normal(0.005)) / 100, on: '2026-03-14' },
    thicknessMm: { 1: s.settings.thicknessMm[0]! },
    thicknessU: s.settings.thicknessU,
    sheet: {
      ...base.sheet,
      kept: 'today',
      riderSizeMm: s.found.riders.length > 0 ? 50 : 0,
      spansMm: s.settings.spansMm,
      spanU: s.settings.spanU,
      riderSpansMm: Object.fromEntries(Object.entries(s.settings.riderSpansMm)),
      riderSpanU: s.settings.riderSpanU,
    },
  };
  let job = faults.reduce((j, f) => f.typed?.(j) ?? j, honest);
  let results: Results = {};
  const refused = (by: string): Played => ({
    end: 'refused',
    by: [by],
    doubts: [],
    errors: [],
    job,
    results,
  });
  try {
    for (const mm of Object.values(job.thicknessMm)) acceptThickness(mm);
    const view = calibrate(found, meta, s.widthPx, s.heightPx, calibrationOf(job));
    const trueHeight = faults.reduce((h, f) => f.scene?.height ?? h, height);
    const rounded = faults.reduce((mm, f) => mm + (f.roundedMm ?? 0), 0);
    const outward = (n: Point<'sheet'>): number =>
      faults.reduce((mm, f) => mm + (f.edge?.(n) ?? 0), 0);
    // Edges are never quite square: drawn from the law that the program takes them for.
    const eased = random.normal(Math.min(0.2, 0.08 * trueHeight));
    const wall = { heightMm: trueHeight, roundedMm: rounded, easedMm: eased };
    const points = picturePoints(blank.region, s, wall, outward, random).map((ring) =>
      ring.map(show),
    );
    const outline = outlineFrom(view, points, blank.region, job);
    if (2 * Math.max(...outline.u.flatMap((u) => [...u])) > 3 * job.wantMm)
      return refused('outline-too-uncertain');
    const trace = { outlines: [outline], verdict: 'ok' as const, reasons: [] };
    results = { view: ok(view), trace: ok(trace) };
    // She reads where the jaws are drawn: the true blank along that direction.
    const at = (p: Point<'sheet'>): Point<'blank'> => toBlank(outline, p);
    const extent = (rad: number): number => {
      const d = blank.region.outer.map((p) => Math.cos(rad) * p.x + Math.sin(rad) * p.y);
      return Math.max(...d) - Math.min(...d);
    };
    let asked = 0;
    const readOnce = (trueMm: number): number => {
      const mm = trueMm + shared + random.normal(eachU);
      const k = asked++;
      return Math.round(100 * faults.reduce((v, f) => f.reading?.(v, k) ?? v, mm)) / 100;
    };
    const check = (
      o: Outline,
      readings: readonly Reading[],
      corrected: readonly number[] = [],
    ): Checks => holdAgainst([o], readings, job.instruments, job.pocket.clearanceMm, corrected);
    const sizes = check(outline, []).sizes[1]!;
    const read = (feature: Feature, rad: number): Reading => ({
      blank: 1,
      feature,
      valuesMm: [readOnce(extent(rad))],
      with: 'caliper',
    });
    let readings: readonly Reading[] = [
      read({ kind: 'main', side: 'width' }, sizes.width.directionRad),
      read({ kind: 'main', side: 'height' }, sizes.height.directionRad),
    ];
    let final = outline;
    let corrected: readonly number[] = [];
    let checks = check(final, readings);
    const contradicted = (): boolean =>
      checks.checked.some((c) => c.judgement.verdict === 'contradicts');
    /** What contradicts is read again, as its sentence asks: twice more. What scatters once more, as its own asks. */
    const readAgain = (): void => {
      for (let round = 0; round < 3; round++) {
        const before = readings;
        readings = readings.map((r) => {
          const c = checks.checked.find((d) => d.reading === r);
          if (!c || c.used) return r;
          const mm = extent(c.dimension.directionRad);
          if (c.averaged.scattered && !c.averaged.byMedian)
            return { ...r, valuesMm: [...r.valuesMm, readOnce(mm)] };
          return c.judgement.verdict === 'contradicts' && r.valuesMm.length < 3
            ? { ...r, valuesMm: [...r.valuesMm, readOnce(mm), readOnce(mm)] }
            : r;
        });
        if (readings.every((r, k) => r === before[k])) return;
        checks = check(final, readings, corrected);
      }
    };
    const aslant = (rad: number): Reading => read({ kind: 'across', directionRad: rad }, rad);
    /** Where readings stand against the outline, they correct it, as the sentence goes on; two others then check it. */
    const correct = (turnRad: number): void => {
      readings = [
        ...readings.map((r): Reading => ({ ...r, use: 'fit' })),
        aslant(sizes.width.directionRad + turnRad),
        aslant(sizes.height.directionRad + turnRad),
      ];
      const improved = tried(() => improve(trace, [outline], readings, job.instruments));
      results = { ...results, improved };
      if (improved.ok) {
        final = improved.value.trace.outlines[0]!;
        results = { ...results, trace: ok(improved.value.trace) };
        corrected = [1];
      }
      checks = check(final, readings, corrected);
    };
    const atOnce = faults.some((f) => f.correct);
    if (!atOnce) readAgain();
    if (contradicted() || atOnce) correct(0.6);
    readAgain();
    if (contradicted() && results.improved?.ok) {
      correct(0.3);
      readAgain();
    }
    // A skew that no reading sees is asked for.
    if (directionsChecked(checks, 1) >= 2 && !seesShear(checks, 1)) {
      readings = [...readings, aslant(Math.PI / 4)];
      checks = check(final, readings, corrected);
      readAgain();
      if (contradicted() && !results.improved) {
        correct(0.6);
        readAgain();
      }
    }
    // Where outline and reading are known no better than the play, more clearance is asked for.
    const jointU = Math.max(...checks.checked.map((c) => c.judgement.jointU));
    if (jointU > 2 * job.pocket.clearanceMm && jointU <= 2 * MOST_CLEARANCE_MM) {
      job = { ...job, pocket: { ...job.pocket, clearanceMm: jointU / 2 } };
      checks = check(final, readings, corrected);
    }
    job = { ...job, readings };
    results = { ...results, checks: ok(checks) };
    const { shutBy } = gateOf(job, results);
    const slanted = { kind: 'across', directionRad: sizes.width.directionRad + 0.8 } as const;
    const errors = [
      { kind: 'width', d: sizes.width, trueMm: extent(sizes.width.directionRad) },
      { kind: 'height', d: sizes.height, trueMm: extent(sizes.height.directionRad) },
      { kind: 'across', d: measure(outline, slanted), trueMm: extent(slanted.directionRad) },
      { kind: 'thickness', d: measure(outline, { kind: 'thickness' }), trueMm: trueHeight },
      { kind: 'step', d: measure(outline, { kind: 'step' }), trueMm: eased },
      ...blank.features.flatMap(({ kind, feature, trueMm }) => {
        const { checked, lost } = check(outline, [
          { blank: 1, feature: feature(at), valuesMm: [trueMm], with: 'caliper' },
        ]);
        // A fault may leave a hole that is no longer round: then that kind of check is refused.
        return lost.length > 0 ? [] : [{ kind, d: checked[0]!.dimension, trueMm }];
      }),
    ].map(({ kind, d, trueMm }) => ({ kind, overU: (d.valueMm - trueMm) / (2 * d.u) }));
    return {
      end: shutBy.length > 0 ? 'shut' : 'released',
      by: shutBy.map((d) => d.key.split(' {')[0]!.replace(/ \d+$/, '')),
      doubts: view.reasons.filter((r) => r.level === 'doubt').map((r) => r.code),
      harm: harmOf(final, blank.region),
      errors,
      job,
      results,
    };
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    return refused(error.reason.code);
  }
}

const ok = <T>(value: T): { readonly ok: true; readonly value: T } => ({ ok: true, value });

function tried(work: () => Improved): NonNullable<Results['improved']> {
  try {
    return ok(work());
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    return { ok: false, reason: error.reason };
  }
}

/** Where the edge of a blank with upright walls appears: at the face where the wall looks away from the foot point, else at the sheet. */
export function picturePoints(
  region: Region<'sheet'>,
  s: Simulated,
  {
    heightMm,
    roundedMm,
    easedMm: eased,
  }: Readonly<Record<'heightMm' | 'roundedMm' | 'easedMm', number>>,
  outward: (n: Point<'sheet'>) => number,
  random: Random,
): Point<'picture'>[][] {
  const bias = random.normal(BIAS_PX);
  const [fx, fy] = s.camera.centre;
  return [region.outer, ...region.holes].map((ring) => {
    const { nx, ny } = outwardNormals(ring);
    const noise = [wander(ring, POINT_MM, EDGE_PX, random), wander(ring, SLOW_MM, SLOW_PX, random)];
    return ring.map((p, k) => {
      const n = { x: nx[k]!, y: ny[k]! };
      const far = (p.x - fx) * n.x + (p.y - fy) * n.y > 0;
      const z = far ? s.faceZ - roundedMm - eased : s.faceZ - heightMm + eased;
      const mm = outward(n);
      const [u, v] = seen(s.camera, p.x + mm * n.x, p.y + mm * n.y, z);
      // One step outward in the picture, from the camera itself.
      const [u1, v1] = seen(s.camera, p.x + (mm + 0.1) * n.x, p.y + (mm + 0.1) * n.y, z);
      const l = Math.hypot(u1 - u, v1 - v);
      const e = bias + noise[0]![k]! + noise[1]![k]!;
      return { x: u + (e * (u1 - u)) / l, y: v + (e * (v1 - v)) / l };
    });
  });
}

/** Noise along a ring: independent every `stepMm`, linear between. */
function wander(ring: Ring<'sheet'>, stepMm: number, sd: number, random: Random): number[] {
  const at: number[] = [0];
  ring.forEach((p, k) => {
    const q = ring[(k + 1) % ring.length]!;
    at.push(at[k]! + Math.hypot(q.x - p.x, q.y - p.y));
  });
  const total = at.at(-1)!;
  const n = Math.max(3, Math.round(total / stepMm));
  // Linear interpolation keeps two thirds of the variance on the average.
  const nodes = Array.from({ length: n }, () => random.normal(sd * Math.sqrt(1.5)));
  return ring.map((_, k) => {
    const t = (at[k]! / total) * n;
    const i = Math.floor(t) % n;
    return nodes[i]! + (t - Math.floor(t)) * (nodes[(i + 1) % n]! - nodes[i]!);
  });
}

/**
 * The outline that the program draws from picture points, with its modes and its bands, by its own functions. Which way an
 * edge faces is taken from the blank as cut: the program's sides and curves are smooth, where the direction between two
 * points 1 mm apart strays by half a degree, so that a side in line with the foot point would change planes from point to
 * point and fold back on itself by centimetres.
 */
export function outlineFrom(
  view: PhotoView,
  points: readonly (readonly Point<'picture'>[])[],
  cut: Region<'sheet'>,
  job: Pick<Job, 'thicknessMm' | 'widestMm' | 'widestU'>,
): Outline {
  const thicknessMm = job.thicknessMm[1]!;
  const widestMm = job.widestMm ?? thicknessMm;
  const belowFaceMm = thicknessMm - widestMm;
  const lowestU = Math.min(0.2, 0.08 * thicknessMm);
  const middle = { x: 105, y: 148 };
  const heights = {
    thicknessIndex: 0,
    belowFaceMm,
    widestU: job.widestMm === null ? lowestU : job.widestU,
    lowestU,
    at: middle,
  };
  const [near, far] = seenPlanes(view, heights);
  const rings: Ring<'sheet'>[] = points.map((ring) =>
    ring.map((p) => sheetOfPicture(view.eye, p, far)),
  );
  const faces = [cut.outer, ...cut.holes].map((ring) => ({ ring, ...outwardNormals(ring) }));
  const described = rings.map((ring, r) => {
    const cutAs = faces[r]!;
    const drawn = ring.map((p, k) => {
      const { x, y } = cutAs.ring[k]!;
      const isFar = (x - view.foot.x) * cutAs.nx[k]! + (y - view.foot.y) * cutAs.ny[k]! > 0;
      return { ...(isFar ? p : sheetOfPicture(view.eye, points[r]![k]!, near)), far: isFar };
    });
    // Normals of the ring as it is drawn: what u holds along others would be taken for the curve fit's.
    const { nx, ny } = outwardNormals(drawn);
    return drawn.map((p, k) => ({ ...p, nx: nx[k]!, ny: ny[k]! }));
  });
  const vertices = described.flatMap((ring) =>
    ring.map((v, k) => {
      const q = ring[(k + 1) % ring.length]!;
      return {
        ...v,
        share: Math.hypot(q.x - v.x, q.y - v.y),
        biasMm: BIAS_PX * view.mmPerPx,
        farSideMm: 0,
      };
    }),
  );
  const modes = outlineModes(view, vertices, heights);
  const edgeU = new Float64Array(vertices.length).fill(Math.hypot(EDGE_PX, SLOW_PX) * view.mmPerPx);
  const u = alongNormal(vertices, modes, edgeU);
  const perRing = (of: Float64Array): Float64Array[] => {
    let first = 0;
    return described.map((ring) => of.slice(first, (first += ring.length)));
  };
  const region = {
    outer: described[0]!.map(({ x, y }): Point<'sheet'> => ({ x, y })),
    holes: described.slice(1).map((ring) => ring.map(({ x, y }): Point<'sheet'> => ({ x, y }))),
  };
  const curve = (ring: Ring<'sheet'>): Outline['curves']['outer'] => ({
    start: ring[0]!,
    segments: [...ring.slice(1), ring[0]!].map((to) => ({ kind: 'line', to })),
  });
  return {
    id: 'blank-1-face',
    blank: 1,
    at: belowFaceMm > 0 ? 'widest' : 'face',
    region,
    curves: { outer: curve(region.outer), holes: region.holes.map(curve) },
    fitDeviationMm: 0,
    heightMm: far - near,
    ...(belowFaceMm > 0 && { belowFaceMm }),
    thicknessMm,
    modes,
    edgeU: perRing(edgeU),
    u: perRing(u),
    wholeFactor: wholeFactorOf(vertices, modes, edgeU, u),
    hidden: [],
    doubtful: [],
    rider: view.riders.length > 0,
    mirrored: false,
  };
}

/** Deviation along the normal from the true outline, vertex by vertex, after the best rigid motion of the outer ring. */
function harmOf(outline: Outline, truth: Region<'sheet'>): Harm {
  const a = outline.region.outer;
  const b = truth.outer;
  const n = a.length;
  const mean = (of: readonly Point<'sheet'>[], k: 'x' | 'y'): number =>
    of.reduce((s, p) => s + p[k], 0) / n;
  const [ax, ay, bx, by] = [mean(a, 'x'), mean(a, 'y'), mean(b, 'x'), mean(b, 'y')];
  let [re, im] = [0, 0];
  a.forEach((p, k) => {
    const [px, py, qx, qy] = [p.x - ax, p.y - ay, b[k]!.x - bx, b[k]!.y - by];
    re += px * qx + py * qy;
    im += px * qy - py * qx;
  });
  const turn = Math.atan2(im, re);
  const [c, s] = [Math.cos(turn), Math.sin(turn)];
  const { nx, ny } = outwardNormals(b);
  let [most, band, within] = [0, 0, 0];
  a.forEach((p, k) => {
    const x = bx + c * (p.x - ax) - s * (p.y - ay);
    const y = by + s * (p.x - ax) + c * (p.y - ay);
    const d = Math.abs((x - b[k]!.x) * nx[k]! + (y - b[k]!.y) * ny[k]!);
    const u = outline.u[0]![k]!;
    if (d <= 2 * u) within++;
    if (d > most) [most, band] = [d, outline.wholeFactor * u];
  });
  return { mostMm: most, bandMm: band, within: within / n };
}

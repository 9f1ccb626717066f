/** Rendered beds loaded without a jig: every piece placed, held against where it truly lies and where its ink would truly land. */
import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { LooseKind } from '../../src/after/lying.ts';
import { looseLoad, printOf, type LoadPhoto, type LooseLoad } from '../../src/after/loose.ts';
import { DEFAULT_TRACE, traceSettingsOf, withLens } from '../../src/cli/trace.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { movedBy } from '../../src/geometry/lay.ts';
import { centroid } from '../../src/geometry/measure.ts';
import { DEFAULT_BED } from '../../src/job/jig.ts';
import { loadPhotoOf } from '../../src/job/loose.ts';
import { curvesOfMask } from '../../src/outline/potrace.ts';
import { readPicture } from '../../src/picture/decode-node.ts';
import { findMarks } from '../../src/view/marks.ts';
import { loadVision } from '../../src/vision/load-node.ts';
import { CACHE, render, whyNoRenderer } from '../accuracy/render.ts';
import { readTruth } from '../accuracy/truth.ts';
import { BED, LOADS, loadScene, ringsOf, strewn, type Load } from './load-scenes.ts';

/** What is typed of thickness, spans and rider is off by so much, mm. */
const TYPED = { thickness: 0.03, x: 0.02, y: -0.02, d: 0.01, rider: 0.01 };
/** Outlines were measured before: larger all round by this, their standard uncertainty, mm. */
const MEASURED_MM = 0.02;

/** A kind as its outline was measured; its origin the centroid, and where that lies in the renderer's own frame of the shape. */
function kindOf({ kinds }: Load, k: number) {
  const kind = kinds[k]!;
  const rings = ringsOf(kind).map((r) => r.map(([x, y]) => ({ x, y })));
  const origin = centroid(rings[0]!);
  const own = (p: { x: number; y: number }) => ({ x: p.x - origin.x, y: p.y - origin.y });
  const looseKind: LooseKind = {
    blank: k + 1,
    outlineId: `blank-${k + 1}`,
    region: { outer: rings[0]!.map(own), holes: rings.slice(1).map((r) => r.map(own)) },
    edgeU: MEASURED_MM,
    thicknessMm: kind.thicknessMm + TYPED.thickness,
    count: kind.count,
  };
  return { looseKind, origin, ring: rings[0]! };
}

export interface PlacedLoad {
  readonly load: LooseLoad;
  /** How far the ink that is sent to a piece's edge lands off it at most, mm, and its turn, degrees. */
  readonly off: readonly { readonly mm: number; readonly turnDeg: number; readonly U: number }[];
}

/** Renders a load where it is not there yet, pictures it and places its pieces; with the first so many of its photos. */
export async function placeLoad(load: Load, photosUsed = 9): Promise<PlacedLoad> {
  const folder = join(CACHE, load.name);
  if (!existsSync(folder)) render(loadScene(load), CACHE);
  const truth = readTruth(join(folder, `${load.name}.truth.json`));
  const [x, y, d] = truth.sheet.spans.slice(-3).map((s) => s.true) as [number, number, number];
  const riders = truth.blanks.flatMap((b) => b.rider ?? []);
  const clipper = await loadClipper();
  const kinds = load.kinds.map((_, k) => kindOf(load, k));
  const looseKinds = kinds.map(({ looseKind }) => looseKind);
  const photos: LoadPhoto[] = [];
  for (const { file } of truth.views.slice(0, photosUsed)) {
    const picture = await readPicture(readFileSync(join(folder, file)), file);
    const options = {
      ...DEFAULT_TRACE,
      spansMm: { x: x + TYPED.x, y: y + TYPED.y, d: d + TYPED.d },
      riderSpansMm: Object.fromEntries(
        riders.map(({ designed, size }) => [designed, size + TYPED.rider]),
      ),
    };
    const found = findMarks({ cv: loadVision().cv }, picture);
    photos.push(
      await loadPhotoOf(
        { clipper, curvesOfMask },
        picture,
        found,
        looseKinds,
        withLens(options),
        traceSettingsOf(options),
        { ...DEFAULT_BED, ...BED },
        file,
      ),
    );
  }
  const placed = looseLoad(looseKinds, photos, {
    printerMm: 0,
    spreadMm: 0,
    bleedMm: 2,
    safeMm: 2,
  });
  const measured = printOf(photos);
  const { scaleX = 1, scaleY = 1, shear = 0 } = load.print ?? {};
  const landed = (p: { x: number; y: number }) => {
    const v = p.y / measured.scaleY;
    const u = (p.x - measured.shear * v) / measured.scaleX;
    return { x: scaleX * u + shear * v, y: scaleY * v };
  };
  const laid = strewn(load);
  const off = placed.pieces.map((piece) => {
    const { origin, ring } = kinds[piece.blank - 1]!;
    // A shape that looks the same after a turn lies as truly one way as the other.
    const ways = load.kinds[piece.blank - 1]!.turns ?? 1;
    const { place } = piece;
    const tried = laid
      .filter((l) => l.kind === piece.blank - 1)
      .flatMap((l) =>
        Array.from({ length: ways }, (_, w) => {
          const trueDeg = l.turnDeg + (360 * w) / ways;
          const motion = (turnDeg: number, at: readonly [number, number] | readonly number[]) => ({
            mirrored: false,
            turnRad: (turnDeg * Math.PI) / 180,
            xMm: at[0]!,
            yMm: at[1]!,
          });
          const mm = Math.max(
            ...ring.map((p) => {
              const a = landed(
                movedBy<'bed'>(motion(place.turnDeg, [place.x, place.y]), {
                  x: p.x - origin.x,
                  y: p.y - origin.y,
                }),
              );
              // Turned about the shape's own middle of symmetry, its centroid.
              const q = movedBy<'bed'>(motion((360 * w) / ways, [origin.x, origin.y]), {
                x: p.x - origin.x,
                y: p.y - origin.y,
              });
              const b = movedBy<'bed'>(motion(l.turnDeg, l.at), q);
              return Math.hypot(a.x - b.x, a.y - b.y);
            }),
          );
          const turn = place.turnDeg - trueDeg;
          return { mm, turnDeg: Math.abs(turn - 360 * Math.round(turn / 360)) };
        }),
      );
    return { ...tried.reduce((a, b) => (b.mm < a.mm ? b : a)), U: piece.placeU };
  });
  return { load: placed, off };
}

/** One line for each load that can be rendered here. */
export async function playLoads(say: (line: string) => void, only = ''): Promise<void> {
  const missing = whyNoRenderer();
  if (missing) return say(`loads: not rendered, ${missing}`);
  for (const load of LOADS.filter(({ name }) => name.includes(only)))
    for (const photos of load.again ? [1, 2] : [1]) {
      const { load: placed, off } = await placeLoad(load, photos);
      const count = load.kinds.reduce((sum, k) => sum + k.count, 0);
      const most = (of: (o: (typeof off)[number]) => number): string =>
        Math.max(0, ...off.map(of)).toFixed(3);
      const inU = off.filter((o) => o.mm <= o.U).length;
      const said = [...new Set(placed.reasons.map(({ code }) => code))].join(', ');
      say(
        `${load.name}, ${photos} ${photos === 1 ? 'photo' : 'photos'}: ${off.length} of ${count} placed, at most ${most((o) => o.mm)} mm and ${most((o) => o.turnDeg)} degrees off, within U ${inU} of ${off.length} (U up to ${most((o) => o.U)} mm); said: ${said || 'nothing'}`,
      );
    }
}

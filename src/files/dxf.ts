import { DxfWriter, LWPolylineFlags, point2d, point3d, SplineFlags, Units } from '@tarikjabiri/dxf';
import type { Point } from '../base/measure.ts';
import { arcsThrough, asCubics } from '../geometry/arcs.ts';
import type { CurveRing } from '../geometry/shape.ts';
import { piecesOf, type Drawing, type Layer, type Lettering } from './drawing.ts';
import { ascii, figure } from './letters.ts';
import { FILE_SETTINGS, LINE_COLOURS, operationOf, type FileSettings } from './settings.ts';

/** Palette numbers that only keep layers apart on screen: 7 black or white, 8 grey. */
const colourOf = (layer: string, { operations }: FileSettings): number => {
  const operation = operationOf(layer);
  return operation ? LINE_COLOURS[operations[operation].colour].aci : layer === 'pocket' ? 7 : 8;
};

/** A vertex, and the bulge of the arc that begins there: tan of a quarter of its angle (DXF reference, group 42). */
interface Vertex extends Point<'bed'> {
  readonly bulge?: number;
}

/** How far an arc may pass beside a vertex of the plan, mm; half of what read-back allows. */
const ARC_MM = 0.0005;
/** How far the plan's own chords leave the curve that they stand for, at most, mm. */
export const CHORD_MM = 0.005;

function bulges({ start, segments }: CurveRing<'bed'>): Vertex[] {
  const froms = [start, ...segments.map(({ to }) => to)];
  return segments.map((s, k) => ({
    ...froms[k]!,
    ...(s.kind === 'arc' && { bulge: Math.tan(s.sweepRad / 4) }),
  }));
}

/** Left and baseline are the only alignment that every reader takes alike; a letter is about 0.8 of its height wide. */
const leftOf = ({ at, from, heightMm, words }: Lettering): Point<'bed'> => ({
  x: at.x - (from ? 0 : words.length * heightMm * 0.4),
  y: at.y - heightMm / 2,
});

/** What the notes of a DXF say before the drawing's own. */
const unitNote = 'Unit: millimetres.';

/**
 * A drawing as DXF, in millimetres. Many readers ignore the unit: the check line on layer mark tells. Nothing lies outside
 * the bed, since some programs place a file by its extents; the notes stand as comments (group 999) at the head of the
 * file. Every closed line is one closed entity: chords, or arcs where they stand for arcs, or one spline. A layer of lines and arcs
 * is never chords.
 */
export function dxf(drawing: Drawing, settings: FileSettings = FILE_SETTINGS): Uint8Array {
  const { version, curves } = settings.dxf;
  const curved: Curved = (points, { arcs }, closed) => {
    if (arcs) return piecesOf(points, closed);
    if (curves === 'polylines' || !closed) return undefined;
    const fitted = arcsThrough(points, ARC_MM, CHORD_MM);
    return fitted.segments.some(({ kind }) => kind === 'arc') ? fitted : undefined;
  };
  const comments = [drawing.title, unitNote, ...drawing.notes].map(
    (note) => `999\n${ascii(note)}\n`,
  );
  const body =
    version === 'R12' ? r12(drawing, settings, curved) : dxf2000(drawing, settings, curved);
  return new TextEncoder().encode(comments.join('') + body);
}

type Curved = (
  points: readonly Point<'bed'>[],
  layer: Layer,
  closed: boolean,
) => CurveRing<'bed'> | undefined;

/** AC1015, which everything since 1999 reads; unit millimetres in the header ($INSUNITS 4). */
function dxf2000(drawing: Drawing, settings: FileSettings, curved: Curved): string {
  const writer = new DxfWriter();
  writer.setVariable('$ACADVER', { 1: 'AC1015' });
  writer.setUnits(Units.Millimeters);
  writer.setVariable('$EXTMIN', { 10: 0, 20: 0, 30: 0 });
  writer.setVariable('$EXTMAX', { 10: drawing.widthMm, 20: drawing.heightMm, 30: 0 });
  writer.setVariable('$MEASUREMENT', { 70: 1 });
  const polyline = (vertices: readonly Vertex[], flags = LWPolylineFlags.None): unknown =>
    writer.addLWPolyline(
      vertices.map(({ x, y, bulge }) => ({
        point: point2d(x, y),
        ...(bulge !== undefined && { bulge }),
      })),
      { flags },
    );
  for (const layer of drawing.layers) {
    const { name, closed, open, lettering } = layer;
    writer.addLayer(name, colourOf(name, settings), 'CONTINUOUS');
    writer.setCurrentLayerName(name);
    for (const { ring } of closed) {
      const fitted = curved(ring, layer, true);
      if (!fitted) polyline(ring, LWPolylineFlags.Closed);
      else if (settings.dxf.curves !== 'splines') polyline(bulges(fitted), LWPolylineFlags.Closed);
      else spline(writer, fitted);
    }
    for (const points of open) {
      const fitted = curved(points, layer, false);
      polyline(fitted ? [...bulges(fitted), points.at(-1)!] : points);
    }
    for (const letters of lettering) {
      const { x, y } = leftOf(letters);
      writer.addText(point3d(x, y, 0), letters.heightMm, ascii(letters.words));
    }
  }
  return writer.stringify();
}

/** Cubic Bézier curves end to end are a B-spline whose inner knots are triple. */
function spline(writer: DxfWriter, fitted: CurveRing<'bed'>): void {
  const { start, segments } = asCubics(fitted);
  const n = segments.length;
  writer.addSpline({
    degreeCurve: 3,
    flags: SplineFlags.Closed | SplineFlags.Planar,
    controlPoints: [start, ...segments.flatMap(({ c1, c2, to }) => [c1, c2, to])].map((p) =>
      point3d(p.x, p.y, 0),
    ),
    knots: [0, ...Array.from({ length: n + 1 }, (_, k) => [k, k, k]).flat(), n],
  });
}

/**
 * AC1009, for old cutters: polylines with bulges, text, and nothing else. It has no place to write a unit, and no splines.
 * Source: the DXF reference of that release, from memory; ezdxf reads it in the tests.
 */
function r12(drawing: Drawing, settings: FileSettings, curved: Curved): string {
  const out: string[] = [];
  const add = (...pairs: readonly (readonly [code: number, value: string | number])[]): void => {
    for (const [code, value] of pairs)
      out.push(String(code), typeof value === 'number' ? figure(value) : value);
  };
  const corner = (name: string, x: number, y: number): void =>
    add([9, name], [10, x], [20, y], [30, 0]);
  add([0, 'SECTION'], [2, 'HEADER'], [9, '$ACADVER'], [1, 'AC1009']);
  corner('$EXTMIN', 0, 0);
  corner('$EXTMAX', drawing.widthMm, drawing.heightMm);
  add([0, 'ENDSEC'], [0, 'SECTION'], [2, 'TABLES']);
  add([0, 'TABLE'], [2, 'LTYPE'], [70, 1], [0, 'LTYPE'], [2, 'CONTINUOUS'], [70, 0]);
  add([3, 'Solid line'], [72, 65], [73, 0], [40, 0], [0, 'ENDTAB']);
  add([0, 'TABLE'], [2, 'LAYER'], [70, drawing.layers.length]);
  for (const { name } of drawing.layers)
    add([0, 'LAYER'], [2, name], [70, 0], [62, colourOf(name, settings)], [6, 'CONTINUOUS']);
  add([0, 'ENDTAB'], [0, 'ENDSEC'], [0, 'SECTION'], [2, 'ENTITIES']);
  const polyline = (layer: string, vertices: readonly Vertex[], closed: boolean): void => {
    add([0, 'POLYLINE'], [8, layer], [66, 1], [10, 0], [20, 0], [30, 0], [70, closed ? 1 : 0]);
    for (const { x, y, bulge } of vertices) {
      add([0, 'VERTEX'], [8, layer], [10, x], [20, y], [30, 0]);
      // Bulges of long arcs are small: all digits.
      if (bulge !== undefined) add([42, String(Number(bulge.toFixed(12)))]);
    }
    add([0, 'SEQEND'], [8, layer]);
  };
  const letters = ({ name, lettering }: Layer): void => {
    for (const l of lettering) {
      const { x, y } = leftOf(l);
      add([0, 'TEXT'], [8, name], [10, x], [20, y], [30, 0], [40, l.heightMm], [1, ascii(l.words)]);
    }
  };
  for (const layer of drawing.layers) {
    for (const { ring } of layer.closed) {
      const fitted = curved(ring, layer, true);
      polyline(layer.name, fitted ? bulges(fitted) : ring, true);
    }
    for (const points of layer.open) {
      const fitted = curved(points, layer, false);
      polyline(layer.name, fitted ? [...bulges(fitted), points.at(-1)!] : points, false);
    }
    letters(layer);
  }
  add([0, 'ENDSEC'], [0, 'EOF']);
  return `${out.join('\n')}\n`;
}

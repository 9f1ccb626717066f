import DxfParser from 'dxf-parser';
import type { Point } from '../base/measure.ts';
import { IDENTITY, mapPoint, times, type Affine } from '../geometry/affine.ts';
import { FLATTEN_MM, joined, type FileLine, type FileLines } from './file-lines.ts';

/** Millimetres of each value of $INSUNITS (DXF reference, header variables); 0 and absent: no unit is written. */
const UNIT_MM: Readonly<Record<number, number>> = {
  1: 25.4,
  2: 304.8,
  4: 1,
  5: 10,
  6: 1000,
  7: 1e6,
  8: 25.4e-6,
  9: 0.0254,
  10: 914.4,
  13: 1e-3,
  14: 100,
};

interface Vertex {
  readonly x: number;
  readonly y: number;
  readonly bulge?: number;
}
export interface Entity {
  readonly type: string;
  readonly layer?: string;
  readonly vertices?: readonly Vertex[];
  readonly shape?: boolean;
  readonly center?: Vertex;
  readonly radius?: number;
  readonly startAngle?: number;
  readonly endAngle?: number;
  readonly majorAxisEndPoint?: Vertex;
  readonly axisRatio?: number;
  readonly controlPoints?: readonly Vertex[];
  readonly fitPoints?: readonly Vertex[];
  readonly knotValues?: readonly number[];
  readonly degreeOfSplineCurve?: number;
  readonly closed?: boolean;
  readonly weights?: readonly number[];
  readonly name?: string;
  readonly position?: Vertex;
  readonly xScale?: number;
  readonly yScale?: number;
  readonly rotation?: number;
  readonly extrusionDirection?: { readonly z?: number };
  readonly extrusionDirectionZ?: number;
}

/** What these hold is in a plane of their own; turned over, its x runs to the left (DXF reference, arbitrary axis). */
const IN_OWN_PLANE = new Set(['LWPOLYLINE', 'POLYLINE', 'CIRCLE', 'ARC', 'INSERT']);
const turnedOver = (e: Entity): boolean =>
  IN_OWN_PLANE.has(e.type) && (e.extrusionDirection?.z ?? e.extrusionDirectionZ ?? 1) < 0;

/** Points along an arc of an ellipse with half axes u and v (as vectors), both ends among them. */
function ellipsePoints(
  centre: Vertex,
  u: Vertex,
  v: Vertex,
  from: number,
  to: number,
): Point<'bed'>[] {
  const sweep = to > from ? to - from : to - from + 2 * Math.PI;
  const radius = Math.max(Math.hypot(u.x, u.y), Math.hypot(v.x, v.y));
  const step = 2 * Math.acos(Math.max(0, 1 - FLATTEN_MM / Math.max(radius, 2 * FLATTEN_MM)));
  const count = Math.max(8, Math.ceil(sweep / step));
  return Array.from({ length: count + 1 }, (_, k) => {
    const a = from + (sweep * k) / count;
    return {
      x: centre.x + u.x * Math.cos(a) + v.x * Math.sin(a),
      y: centre.y + u.y * Math.cos(a) + v.y * Math.sin(a),
    };
  });
}

/** A bulge is the tangent of a quarter of the arc's angle, positive counter-clockwise (DXF reference, group 42). */
export function withBulges(
  vertices: readonly Vertex[],
  closed: boolean,
  toleranceMm = FLATTEN_MM,
): Point<'bed'>[] {
  const out: Point<'bed'>[] = [];
  vertices.forEach((p, k) => {
    out.push({ x: p.x, y: p.y });
    const q = vertices[(k + 1) % vertices.length]!;
    if (!p.bulge || (k === vertices.length - 1 && !closed)) return;
    const chord = Math.hypot(q.x - p.x, q.y - p.y);
    const lift = (1 - p.bulge ** 2) / (4 * p.bulge);
    const centre = {
      x: (p.x + q.x) / 2 - lift * (q.y - p.y),
      y: (p.y + q.y) / 2 + lift * (q.x - p.x),
    };
    const radius = (chord * (1 + p.bulge ** 2)) / (4 * Math.abs(p.bulge));
    const sweep = 4 * Math.atan(p.bulge);
    const step = 2 * Math.acos(Math.max(0, 1 - toleranceMm / Math.max(radius, 2 * toleranceMm)));
    const count = Math.ceil(Math.abs(sweep) / step);
    const start = Math.atan2(p.y - centre.y, p.x - centre.x);
    for (let i = 1; i < count; i++) {
      const a = start + (sweep * i) / count;
      out.push({ x: centre.x + radius * Math.cos(a), y: centre.y + radius * Math.sin(a) });
    }
  });
  return out;
}

/** A point of a B-spline. Source: C. de Boor, J. Approx. Theory 6(1), 1972. */
function onSpline(
  control: readonly Vertex[],
  knots: readonly number[],
  degree: number,
  t: number,
): Point<'bed'> {
  let span = degree;
  while (span < control.length - 1 && t >= knots[span + 1]!) span++;
  const d = Array.from({ length: degree + 1 }, (_, k) => control[span - degree + k]!);
  for (let r = 1; r <= degree; r++)
    for (let j = degree; j >= r; j--) {
      const low = knots[j + span - degree]!;
      const width = knots[j + 1 + span - r]! - low;
      const a = width === 0 ? 0 : (t - low) / width;
      d[j] = {
        x: (1 - a) * d[j - 1]!.x + a * d[j]!.x,
        y: (1 - a) * d[j - 1]!.y + a * d[j]!.y,
      };
    }
  return { x: d[degree]!.x, y: d[degree]!.y };
}

export function splinePoints(entity: Entity, toleranceMm = FLATTEN_MM): Point<'bed'>[] {
  const { controlPoints: control = [], knotValues: knots = [] } = entity;
  const degree = entity.degreeOfSplineCurve ?? 3;
  if (control.length <= degree || knots.length < control.length + degree + 1) return [];
  const first = knots[degree]!;
  const last = knots[control.length]!;
  const inner = [...new Set(knots.filter((t) => t >= first && t <= last))].sort((a, b) => a - b);
  const out: Point<'bed'>[] = [];
  for (let k = 0; k + 1 < inner.length; k++) {
    const [from, to] = [inner[k]!, inner[k + 1]!];
    const at = (s: number): Point<'bed'> =>
      onSpline(control, knots, degree, from + (to - from) * s);
    // How far the middle lies beside the chord tells how many steps keep to the tolerance (it falls with their square).
    const [p, m, q] = [at(0), at(0.5), at(1 - 1e-12)];
    const sagitta = Math.hypot(m.x - (p.x + q.x) / 2, m.y - (p.y + q.y) / 2);
    const count = Math.max(2, Math.ceil(2 * Math.sqrt(sagitta / toleranceMm)));
    for (let i = 0; i < count; i++) out.push(at(i / count));
  }
  out.push(onSpline(control, knots, degree, last - (last - first) * 1e-12));
  return out;
}

/**
 * The lines of any DXF, read with dxf-parser: polylines with their bulges, lines, arcs, circles, ellipses, splines,
 * blocks that are inserted.
 *
 * @throws Error when the reader cannot make sense of it
 */
export function linesOfDxf(bytes: Uint8Array): FileLines {
  const found = new DxfParser().parseSync(new TextDecoder().decode(bytes));
  if (!found) throw new Error('there is nothing in it');
  const unit = UNIT_MM[Number(found.header?.$INSUNITS ?? 0)];
  // R12 (AC1009) has no place to write a unit.
  const old = String(found.header?.$ACADVER ?? '') === 'AC1009';
  const scale = unit ?? 1;
  const pieces: (FileLine & { closed: boolean })[] = [];
  const blocks = (found.blocks ?? {}) as unknown as Readonly<
    Record<string, { entities?: readonly Entity[]; position?: Vertex }>
  >;
  const add = (
    m: Affine,
    points: readonly Point<'bed'>[],
    closed: boolean,
    layer?: string,
  ): void => {
    if (points.length < 2) return;
    pieces.push({
      points: points.map((p) => mapPoint(m, p)),
      closed,
      ...(layer !== undefined && { layer }),
    });
  };
  const walk = (entities: readonly Entity[], above: Affine, depth: number): void => {
    for (const entity of entities) {
      const m = turnedOver(entity) ? times(above, [-1, 0, 0, 1, 0, 0]) : above;
      const { type, layer, vertices = [], center, radius = 0 } = entity;
      switch (type) {
        case 'LWPOLYLINE':
        case 'POLYLINE':
          add(m, withBulges(vertices, entity.shape === true), entity.shape === true, layer);
          break;
        case 'LINE':
          add(m, vertices, false, layer);
          break;
        case 'CIRCLE':
        case 'ARC':
          if (center) {
            const whole = type === 'CIRCLE';
            const points = ellipsePoints(
              center,
              { x: radius, y: 0 },
              { x: 0, y: radius },
              whole ? 0 : (entity.startAngle ?? 0),
              whole ? 2 * Math.PI : (entity.endAngle ?? 0),
            );
            add(m, points, whole, layer);
          }
          break;
        case 'ELLIPSE': {
          const u = entity.majorAxisEndPoint;
          if (center && u) {
            const ratio = entity.axisRatio ?? 1;
            const v = { x: -u.y * ratio, y: u.x * ratio };
            const [from, to] = [entity.startAngle ?? 0, entity.endAngle ?? 2 * Math.PI];
            add(m, ellipsePoints(center, u, v, from, to), false, layer);
          }
          break;
        }
        case 'SPLINE':
          add(m, splinePoints(entity), entity.closed === true, layer);
          break;
        case 'INSERT': {
          const block = blocks[entity.name ?? ''];
          if (!block?.entities || depth > 8) break;
          const turn = ((entity.rotation ?? 0) * Math.PI) / 180;
          const [c, s] = [Math.cos(turn), Math.sin(turn)];
          const [sx, sy] = [entity.xScale ?? 1, entity.yScale ?? 1];
          const { x = 0, y = 0 } = entity.position ?? {};
          const base = block.position ?? { x: 0, y: 0 };
          const placed: Affine = [c * sx, s * sx, -s * sy, c * sy, x, y];
          walk(block.entities, times(m, times(placed, [1, 0, 0, 1, -base.x, -base.y])), depth + 1);
          break;
        }
      }
    }
  };
  walk(found.entities as unknown as Entity[], times([scale, 0, 0, scale, 0, 0], IDENTITY), 0);
  return {
    format: 'DXF',
    pages: 1,
    unitLost: unit === undefined && !old,
    pictures: 0,
    ...joined(pieces),
  };
}

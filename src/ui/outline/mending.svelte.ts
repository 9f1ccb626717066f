import type { Frame, Point } from '../../base/measure.ts';
import type { Ring } from '../../geometry/shape.ts';
import { HAND_PX, withNode, type Mend, type Spot } from '../../outline/mend.ts';
import type { Shape } from '../../outline/regular.ts';
import { pictureOf, sheetOfPicture } from '../../view/model.ts';
import type { Desk } from '../desk.svelte.ts';
import { ringsOfOutline } from './shape.ts';

/** What the next touch of the drawing does. */
export type Tool = 'stretch' | 'place' | 'close' | 'split' | 'join' | 'blank' | 'stage';

/** A point laid; whether an edge of the picture drew it to itself. */
export interface Laid {
  readonly at: Spot;
  readonly snapped: boolean;
}

/** A place of the outline in hand: where it was, between which places the edge goes along, where it is laid. */
export interface Held {
  readonly ring: number;
  readonly from: Spot;
  readonly at: Spot;
  readonly till: Spot;
  readonly to: Spot;
  readonly snapped: boolean;
}

/** A node of the outline's curves; picture px. */
export interface Node {
  readonly ring: number;
  readonly at: Spot;
  /** The nodes beside it; absent where it has none of its own. */
  readonly from?: Spot;
  readonly till?: Spot;
}

/** How far to either side of a place the edge goes with it, mm; of a short ring an eighth of its length. */
const WITH_IT_MM = 5;
const REACH_CSS_PX = 12;
/** Steps that a node is moved by with the arrows, mm. */
export const NUDGES_MM = [0.01, 0.1, 1] as const;
/** Half-widths of the brush, mm. */
export const BRUSHES_MM = [0.5, 1, 2, 4] as const;

const rounded = ({ x, y }: Spot): Spot => ({
  x: Math.round(x * 100) / 100,
  y: Math.round(y * 100) / 100,
});
const apart = <F extends Frame>(p: Point<F>, q: Point<F>): number =>
  Math.hypot(p.x - q.x, p.y - q.y);

/** The tool in hand and what was laid with it; finished mends go into the job. */
export class Mending {
  tool = $state<Tool>();
  points = $state.raw<readonly Laid[]>([]);
  /** The first of two lines, where the tool needs two. */
  first = $state.raw<readonly Laid[]>([]);
  straight = $state(false);
  /** What the brush painted since it touched the picture. */
  painting = $state.raw<readonly Spot[]>([]);
  brushMm = $state<(typeof BRUSHES_MM)[number]>(1);
  /** The node or place that is being moved. */
  held = $state.raw<Held>();
  nudgeMm = $state<(typeof NUDGES_MM)[number]>(0.1);
  /** The place of the outline that an offer in hand is about. */
  pointed = $state.raw<Spot>();
  /** What was said last, for those who listen. */
  said = $state('');

  constructor(readonly desk: Desk) {}

  get paints(): boolean {
    return this.tool === 'blank' || this.tool === 'stage';
  }

  take(tool: Tool | undefined): void {
    this.tool = this.tool === tool ? undefined : tool;
    this.points = [];
    this.first = [];
    this.painting = [];
    this.held = undefined;
  }

  back(): void {
    if (this.points.length === 0) [this.points, this.first] = [this.first, []];
    this.points = this.points.slice(0, -1);
  }

  /**
   * Lays a point.
   *
   * @param cssPxPerPx how large a picture px is drawn
   * @param rings the outline's rings in picture px, and in mm
   */
  async lay(
    p: Spot,
    cssPxPerPx: number,
    rings: readonly (readonly Spot[])[],
    mm: readonly Ring<'sheet'>[],
  ): Promise<void> {
    const { tool } = this;
    if (tool === 'close') {
      this.add({ kind: 'close', at: rounded(p) });
      this.take(undefined);
      return;
    }
    if (tool === 'place' && !this.held) {
      const [ring, at] = nearest(p, rings);
      this.grasp({ ring, at }, rings, mm);
      return;
    }
    const edge = this.paints ? undefined : await this.desk.snap(p, REACH_CSS_PX / cssPxPerPx);
    if (this.tool !== tool || !tool) return;
    const laid = { at: edge ?? p, snapped: edge !== undefined };
    if (this.held) {
      this.held = { ...this.held, to: laid.at, snapped: laid.snapped };
      this.release();
      return;
    }
    this.points = [...this.points, laid];
    this.said = `Point ${this.points.length} laid${laid.snapped ? ' on an edge' : ''}`;
  }

  /** The line as it was laid. */
  finish(points = this.points, straight = this.straight): void {
    if (this.paints) {
      this.paint(points.map(({ at }) => at));
      return;
    }
    if (points.length < 2) return;
    if (this.tool === 'join' && this.first.length === 0) {
      [this.first, this.points] = [points, []];
      this.said = 'First edge taken; lay the second';
      return;
    }
    const free = [...points, ...this.first].some(({ snapped }) => !snapped);
    const uPx = free ? HAND_PX : HAND_PX / 2;
    const spots = points.map(({ at }) => rounded(at));
    if (this.tool === 'join')
      this.add({
        kind: 'join',
        points: this.first.map(({ at }) => rounded(at)),
        back: spots,
        straight,
        uPx,
      });
    else
      this.add({
        kind: this.tool === 'split' ? 'split' : 'stretch',
        points: spots,
        straight,
        uPx,
      });
    this.take(undefined);
  }

  /** What the brush went over: kept with as few points as show it. */
  paint(spots: readonly Spot[]): void {
    const radiusPx = this.brushPx();
    if (!this.paints || spots.length === 0 || radiusPx === undefined) return;
    const points = spots.filter(
      (p, k) => k === 0 || k === spots.length - 1 || apart(p, spots[k - 1]!) > 0,
    );
    const few: Spot[] = [points[0]!];
    for (const p of points.slice(1))
      if (apart(p, few.at(-1)!) > radiusPx / 4 || p === points.at(-1)) few.push(p);
    this.painting = [];
    this.points = [];
    this.add({
      kind: 'paint',
      as: this.tool === 'stage' ? 'stage' : 'blank',
      points: few.map(rounded),
      radiusPx: Math.round(radiusPx * 100) / 100,
    });
  }

  /** Half the brush's width, picture px; undefined before there is a view. */
  brushPx(): number | undefined {
    const { view } = this.desk.results;
    return view?.ok ? this.brushMm / view.value.mmPerPx : undefined;
  }

  /** Takes hold of a node, or of a place of the edge between nodes. */
  grasp(
    { ring, at, from, till }: Node,
    rings: readonly (readonly Spot[])[],
    mm: readonly Ring<'sheet'>[],
  ): void {
    const beside = from && till ? ([from, till] as const) : besides(at, ring, rings, mm);
    this.held = { ring, at, from: beside[0], till: beside[1], to: at, snapped: false };
    this.said = `${from ? 'Node' : 'Place'} taken; lay it where it belongs`;
  }

  /** Moves what is held, for now. */
  moveTo(to: Spot): void {
    if (this.held) this.held = { ...this.held, to, snapped: false };
  }

  /** How far what is held was moved, mm: to the right and up in the picture. */
  moved(): { readonly x: number; readonly y: number } {
    const { held } = this;
    const place = this.#places();
    if (!held || !place) return { x: 0, y: 0 };
    const [a, b] = [place.mm(held.at), place.mm(held.to)];
    return { x: b.x - a.x, y: b.y - a.y };
  }

  /** Moves what is held to a distance from where it was, mm. */
  moveBy(x: number, y: number): void {
    const { held } = this;
    const place = this.#places();
    if (!held || !place) return;
    const a = place.mm(held.at);
    this.moveTo(place.px({ x: a.x + x, y: a.y + y }));
    this.said = `${x.toFixed(2)} mm to the right, ${y.toFixed(2)} mm up`;
  }

  /** A step of the arrow keys. */
  nudge(x: number, y: number, times: number): void {
    const by = this.moved();
    const step = this.nudgeMm * times;
    this.moveBy(by.x + x * step, by.y + y * step);
  }

  /** Lays down what is held where it is. */
  release(): void {
    const { held } = this;
    if (!held) return;
    this.held = undefined;
    if (apart(held.at, held.to) < 0.01) return;
    const [from, at, till, to] = [held.from, held.at, held.till, held.to].map(rounded) as [
      Spot,
      Spot,
      Spot,
      Spot,
    ];
    this.add({ kind: 'node', from, at, till, to, uPx: held.snapped ? HAND_PX / 2 : HAND_PX });
  }

  /** The same after looking for an edge that it was dropped beside. */
  async drop(cssPxPerPx: number): Promise<void> {
    const { held } = this;
    if (!held) return;
    const edge = await this.desk.snap(held.to, REACH_CSS_PX / cssPxPerPx);
    if (this.held !== held) return;
    if (edge) this.held = { ...held, to: edge, snapped: true };
    this.release();
  }

  letGo(): void {
    this.held = undefined;
    this.painting = [];
  }

  /** The stretch of edge as it would run; picture px. */
  preview(): readonly Spot[] | undefined {
    const { held } = this;
    const { view } = this.desk.results;
    const { seat } = this.desk;
    const place = this.#places();
    if (!held || !view?.ok || !seat || !place) return undefined;
    return withNode(seat, held.ring, { ...held, uPx: HAND_PX }, view.value.eye)?.map(place.px);
  }

  /** Between picture px and mm at the height of the outline. */
  #places(): { mm: (p: Spot) => Point<'sheet'>; px: (p: Point<'sheet'>) => Spot } | undefined {
    const { view } = this.desk.results;
    const { seat } = this.desk;
    if (!view?.ok || !seat) return undefined;
    const { eye } = view.value;
    return {
      mm: (p) => sheetOfPicture(eye, p, seat.heightMm),
      px: (p) => pictureOf(eye, p.x, p.y, seat.heightMm),
    };
  }

  /** Takes the node after, or before, the one that is held; the first where none is. */
  turn(nodes: readonly Node[], by: 1 | -1, rings: readonly (readonly Spot[])[]): void {
    const { seat } = this.desk;
    if (!seat || nodes.length === 0) return;
    const now = this.at(nodes);
    const next = now < 0 ? 0 : (now + by + nodes.length) % nodes.length;
    this.grasp(nodes[next]!, rings, ringsOfOutline(seat));
    this.desk.look = { ...nodes[next]!.at };
  }

  /** Which of the nodes is held; -1 for none. */
  at(nodes: readonly Node[]): number {
    const { held } = this;
    return held ? nodes.findIndex((n) => n.ring === held.ring && apart(n.at, held.at) < 0.01) : -1;
  }

  leaveOut(at: Spot): void {
    this.add({ kind: 'drop', at: rounded(at) });
  }

  makeRegular(at: Spot, shape: Shape): void {
    this.pointed = undefined;
    this.add({ kind: 'regular', at: rounded(at), shape });
  }

  takeOff(number: number): void {
    const mends = this.desk.job?.mends ?? [];
    this.desk.change({ mends: mends.filter((_, k) => k !== number) });
  }

  private add(mend: DistributiveOmit<Mend, 'picture'>): void {
    const { job } = this.desk;
    if (!job?.picture) return;
    this.desk.change({ mends: [...job.mends, { ...mend, picture: job.picture.digest } as Mend] });
    this.said = `Mend ${job.mends.length + 1} taken`;
  }
}

type DistributiveOmit<T, K extends PropertyKey> = T extends unknown ? Omit<T, K> : never;

/** The ring and its vertex that lie nearest to a place. */
export function nearest(
  p: Spot,
  rings: readonly (readonly Spot[])[],
): readonly [ring: number, at: Spot] {
  let [ring, at, least] = [0, p, Infinity];
  rings.forEach((spots, r) =>
    spots.forEach((q) => {
      const d = apart(p, q);
      if (d < least) [least, ring, at] = [d, r, q];
    }),
  );
  return [ring, at];
}

/** The two places of the edge beside one that is moved. */
function besides(
  p: Spot,
  ring: number,
  rings: readonly (readonly Spot[])[],
  mm: readonly Ring<'sheet'>[],
): readonly [Spot, Spot] {
  const spots = rings[ring]!;
  let [at, least] = [0, Infinity];
  spots.forEach((q, k) => {
    const d = apart(p, q);
    if (d < least) [least, at] = [d, k];
  });
  const points = mm[ring]!;
  const n = points.length;
  const step = (k: number): number => apart(points[k]!, points[(k + 1) % n]!);
  const length = points.reduce((sum, _, k) => sum + step(k), 0);
  const reach = Math.min(WITH_IT_MM, length / 8);
  const walk = (by: 1 | -1): Spot => {
    let k = at;
    for (let gone = 0; gone < reach; k = (k + by + n) % n)
      gone += step(by === 1 ? k : (k - 1 + n) % n);
    return spots[k]!;
  };
  return [walk(-1), walk(1)];
}

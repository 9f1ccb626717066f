import type { Ring } from '../../geometry/shape.ts';
import { HAND_PX, type Mend, type Spot } from '../../outline/mend.ts';
import type { Shape } from '../../outline/regular.ts';
import type { Desk } from '../desk.svelte.ts';

/** What the next touch of the drawing does. */
export type Tool = 'stretch' | 'place' | 'close';

/** A point laid; whether an edge of the picture drew it to itself. */
export interface Laid {
  readonly at: Spot;
  readonly snapped: boolean;
}

/** How far to either side of a place the edge goes with it, mm; of a short ring an eighth of its length. */
const WITH_IT_MM = 5;
const REACH_CSS_PX = 12;

const rounded = ({ x, y }: Spot): Spot => ({
  x: Math.round(x * 100) / 100,
  y: Math.round(y * 100) / 100,
});

/** The tool in hand and what was laid with it; finished mends go into the job. */
export class Mending {
  tool = $state<Tool>();
  points = $state.raw<readonly Laid[]>([]);
  straight = $state(false);
  /** The place of the outline that an offer in hand is about. */
  pointed = $state.raw<Spot>();
  /** What was said last, for those who listen. */
  said = $state('');

  constructor(readonly desk: Desk) {}

  take(tool: Tool | undefined): void {
    this.tool = this.tool === tool ? undefined : tool;
    this.points = [];
  }

  back(): void {
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
    const edge = await this.desk.snap(p, REACH_CSS_PX / cssPxPerPx);
    if (this.tool !== tool || !tool) return;
    const laid = { at: edge ?? p, snapped: edge !== undefined };
    if (tool === 'stretch') {
      this.points = [...this.points, laid];
      this.said = `Point ${this.points.length} laid${laid.snapped ? ' on an edge' : ''}`;
      return;
    }
    const [first] = this.points;
    if (!first) {
      this.points = [{ at: p, snapped: false }];
      this.said = 'Place taken; lay it where it belongs';
      return;
    }
    const [a, b] = besides(first.at, rings, mm);
    this.finish([{ at: a, snapped: true }, laid, { at: b, snapped: true }], false);
  }

  /** The stretch as it was laid. */
  finish(points = this.points, straight = this.straight): void {
    if (points.length < 2) return;
    const free = points.some(({ snapped }) => !snapped);
    this.add({
      kind: 'stretch',
      points: points.map(({ at }) => rounded(at)),
      straight,
      uPx: free ? HAND_PX : HAND_PX / 2,
    });
    this.take(undefined);
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

/** The two places of the edge beside one that is moved. */
function besides(
  p: Spot,
  rings: readonly (readonly Spot[])[],
  mm: readonly Ring<'sheet'>[],
): readonly [Spot, Spot] {
  let [ring, at, least] = [0, 0, Infinity];
  rings.forEach((spots, r) =>
    spots.forEach((q, k) => {
      const d = Math.hypot(q.x - p.x, q.y - p.y);
      if (d < least) [least, ring, at] = [d, r, k];
    }),
  );
  const points = mm[ring]!;
  const n = points.length;
  const step = (k: number): number => {
    const [a, b] = [points[k]!, points[(k + 1) % n]!];
    return Math.hypot(b.x - a.x, b.y - a.y);
  };
  const length = points.reduce((sum, _, k) => sum + step(k), 0);
  const reach = Math.min(WITH_IT_MM, length / 8);
  const walk = (by: 1 | -1): Spot => {
    let k = at;
    for (let gone = 0; gone < reach; k = (k + by + n) % n)
      gone += step(by === 1 ? k : (k - 1 + n) % n);
    return rings[ring]![k]!;
  };
  return [walk(-1), walk(1)];
}

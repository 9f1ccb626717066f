/** The worst cases of a run pictured in one HTML file that needs nothing else: the picture at the worst place, truth, outline, numbers. */
import sharp from 'sharp';
import type { Picture } from '../../src/picture/picture.ts';
import { pictureOf } from '../../src/view/model.ts';
import type { View } from '../../src/view/view.ts';
import type { Measured, Motion, Place, Score } from './score.ts';

/** A blank of a picture, as it was measured and as it is. */
export interface Pictured {
  readonly name: string;
  readonly blank: string;
  readonly verdict: string;
  readonly reasons: readonly string[];
  readonly faults: readonly string[];
  readonly score: Score;
  readonly goalMm?: number;
  readonly measured: Measured;
  readonly truth: readonly (readonly Place[])[];
  readonly heightMm: number;
  readonly view: View;
  readonly picture: Picture;
}

/** Half a side of the crop, picture px, and how large a px is drawn. */
const REACH_PX = 32;
const ZOOM = 12;

const escaped = (text: string): string => text.replace(/[&<>"]/g, (c) => `&#${c.charCodeAt(0)};`);
const fixed = (v: number, digits = 3): string => v.toFixed(digits);

/** A place of the truth's frame in the frame that was measured. */
const back = ({ c, s, x, y }: Motion, [px, py]: Place): Place => [
  c * (px - x) + s * (py - y),
  c * (py - y) - s * (px - x),
];

async function crop(one: Pictured): Promise<string> {
  const { picture, view, score } = one;
  const inPicture = ([x, y]: Place): Place => {
    const p = pictureOf(view.eye, x, y, one.heightMm);
    return [p.x, p.y];
  };
  const [cx, cy] = inPicture(back(score.motion, score.worstAt)).map(Math.round) as [number, number];
  const side = 2 * REACH_PX;
  const [left, top] = [cx - REACH_PX, cy - REACH_PX];
  const rgb = new Uint8Array(3 * side * side);
  const deep = picture.data.BYTES_PER_ELEMENT === 2;
  for (let j = 0; j < side; j++)
    for (let i = 0; i < side; i++) {
      const [x, y] = [left + i, top + j];
      if (x < 0 || y < 0 || x >= picture.widthPx || y >= picture.heightPx) continue;
      for (let k = 0; k < 3; k++) {
        const v = picture.data[(y * picture.widthPx + x) * picture.channels + k]!;
        rgb[3 * (j * side + i) + k] = deep ? v >> 8 : v;
      }
    }
  const png = await sharp(rgb, { raw: { width: side, height: side, channels: 3 } })
    .png()
    .toBuffer();
  // SVG counts from pixel corners.
  const path = (rings: readonly (readonly Place[])[]): string =>
    rings
      .map((ring) => {
        const at = ring.map((p) => inPicture(p)).map(([x, y]) => [x - left + 0.5, y - top + 0.5]);
        return `M${at.map((p) => p.map((v) => fixed(v, 2)).join(' ')).join('L')}Z`;
      })
      .join('');
  const real = one.truth.map((ring) => ring.map((p) => back(score.motion, p)));
  return `<svg viewBox="0 0 ${side} ${side}" width="${side * ZOOM}" height="${side * ZOOM}" role="img" aria-label="${escaped(`${one.name}, ${one.blank}: the picture at the worst place with truth and outline`)}">
<image href="data:image/png;base64,${png.toString('base64')}" width="${side}" height="${side}"/>
<path d="${path(real)}" class="truth"/><path d="${path(one.measured.rings)}" class="outline"/></svg>`;
}

async function section(one: Pictured, number: number): Promise<string> {
  const { score: s } = one;
  const rows: readonly (readonly [string, string])[] = [
    ['greatest deviation', `${fixed(s.maxMm)} mm, ${fixed(s.worstInU, 1)} U`],
    ['goal of its row', one.goalMm === undefined ? 'none' : `${fixed(one.goalMm)} mm`],
    ['RMS', `${fixed(s.rmsMm)} mm`],
    ['mean, + outside', `${fixed(s.meanSignedMm)} mm`],
    ['mean U (k = 2)', `${fixed(2 * s.uMeanMm)} mm`],
    ['length within U', `${(100 * s.inside[1]).toFixed(1)} %`],
    ['where, truth’s frame', `${s.worstAt.map((v) => fixed(v, 1)).join(', ')} mm`],
    ['scale of the crop', `${fixed(one.view.mmPerPx, 4)} mm to the px, ${2 * REACH_PX} px wide`],
    ['verdict', one.verdict],
    ['reasons', one.reasons.join(', ') || 'none'],
  ];
  return `<section><h2>${number} ${escaped(one.name)}, ${escaped(one.blank)}</h2>
${one.faults.map((f) => `<p class="fault">${escaped(f)}</p>`).join('\n')}
<div>${await crop(one)}<table>${rows
    .map(
      ([name, value]) => `<tr><th scope="row">${escaped(name)}</th><td>${escaped(value)}</td></tr>`,
    )
    .join('')}</table></div></section>`;
}

/** The report as one HTML file; the worst first. */
export async function reportHtml(worst: readonly Pictured[], summary: string): Promise<string> {
  const sections: string[] = [];
  for (const [k, one] of worst.entries()) sections.push(await section(one, k + 1));
  return `<!doctype html>
<html lang="en"><meta charset="utf-8"><title>Accuracy: rendered pictures</title>
<style>
body{font:15px/1.4 sans-serif;margin:24px;color:#1a1a1a;background:#fff}
pre{overflow:auto;font-size:12px}
section div{display:flex;flex-wrap:wrap;gap:24px;align-items:start}
svg{max-width:100%;height:auto;border:1px solid #1a1a1a}
image{image-rendering:pixelated}
path{fill:none;vector-effect:non-scaling-stroke}
.truth{stroke:#0a7d28;stroke-width:2.5;stroke-dasharray:8 4}
.outline{stroke:#c4006a;stroke-width:2}
th{text-align:left;font-weight:normal;padding-right:16px;vertical-align:top}
td{font-variant-numeric:tabular-nums}
.fault{font-weight:bold}
</style>
<h1>Outlines against the truth, rendered pictures</h1>
<p>The blanks that lie farthest off the truth, after the best rigid motion. Dashed: the truth; continuous: the outline.</p>
${sections.join('\n')}
<h2>All pictures</h2><pre>${escaped(summary)}</pre></html>
`;
}

import type { Point } from '../base/measure.ts';
import type { CurveRing } from '../geometry/shape.ts';
import { piecesOf, type Drawing, type Layer } from './drawing.ts';
import { figure } from './letters.ts';
import { FILE_SETTINGS, type FileSettings } from './settings.ts';
import { strokeOf } from './strokes.ts';

/**
 * Most programs make cubics of the arcs they read, one for a quarter of a circle, which leaves it by 2.7e-4 of its radius and by
 * the sixth power of the angle less for shorter ones: no arc is so long that this comes to more, mm.
 */
const CUBIC_OFF_MM = 1e-4;
const mostSweepRad = (radiusMm: number): number =>
  (Math.PI / 2) * Math.min(1, (CUBIC_OFF_MM / (2.7e-4 * radiusMm)) ** (1 / 6));

const escaped = (words: string): string =>
  words.replace(/[&<>"]/g, (c) => ({ '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;' })[c]!);

/** A drawing as SVG: one unit is one millimetre, the view box is the bed; the one flip to y down is here. */
export function svg(drawing: Drawing, settings: FileSettings = FILE_SETTINGS): Uint8Array {
  const { widthMm: w, heightMm: h } = drawing;
  const place = (p: Point<'bed'>): string => `${figure(p.x)} ${figure(h - p.y)}`;
  const trail = (points: readonly Point<'bed'>[]): string =>
    points.map((p, k) => `${k === 0 ? 'M' : 'L'}${place(p)}`).join('');

  // Turned over, a counter-clockwise arc is drawn in the direction of negative angles (SVG 1.1, 8.3.8).
  const pieces = ({ start, segments }: CurveRing<'bed'>): string => {
    const froms = [start, ...segments.map(({ to }) => to)];
    return segments.reduce(
      (d, s, k) => {
        if (s.kind !== 'arc') return `${d}L${place(s.to)}`;
        const from = froms[k]!;
        const { centre: c, sweepRad, to } = s;
        const radiusMm = Math.hypot(from.x - c.x, from.y - c.y);
        const begun = `A${figure(radiusMm)} ${figure(radiusMm)} 0 0 ${sweepRad > 0 ? 0 : 1} `;
        const parts = Math.ceil(Math.abs(sweepRad) / mostSweepRad(radiusMm) - 1e-9);
        for (let part = 1; part < parts; part++) {
          const [cos, sin] = [Math.cos, Math.sin].map((f) => f((sweepRad * part) / parts));
          const [x, y] = [from.x - c.x, from.y - c.y];
          d += begun + place({ x: c.x + cos! * x - sin! * y, y: c.y + sin! * x + cos! * y });
        }
        return d + begun + place(to);
      },
      `M${place(start)}`,
    );
  };
  const line = (points: readonly Point<'bed'>[], closed: boolean, arcs?: boolean): string =>
    arcs ? pieces(piecesOf(points, closed)) : trail(points);

  const paths = ({ closed, name: layer, arcs }: Layer): string[] => {
    const groups = new Map<string | undefined, string>();
    for (const { pocket, ring } of closed) {
      groups.set(pocket, `${groups.get(pocket) ?? ''}${line(ring, true, arcs)}Z`);
    }
    return [...groups].map(([pocket, d]) =>
      pocket === undefined
        ? `    <path d="${d}"/>`
        : `    <path id="${layer}-${escaped(pocket)}" aria-label="pocket ${escaped(pocket)}" d="${d}"/>`,
    );
  };
  const group = (layer: Layer): string => {
    const { name, what, open, lettering, arcs } = layer;
    const { rgb, widthMm, dashMm } = strokeOf(name, settings);
    const colour = `rgb(${rgb.join(',')})`;
    const dash = dashMm.length > 0 ? ` stroke-dasharray="${dashMm.join(' ')}"` : '';
    return [
      `  <g id="${name}" aria-label="${name}: ${escaped(what)}" fill="none" stroke="${colour}" stroke-width="${widthMm}" stroke-linecap="round" stroke-linejoin="round"${dash}>`,
      `    <title>${name}: ${escaped(what)}</title>`,
      ...paths(layer),
      ...open.map((points) => `    <path d="${line(points, false, arcs)}"/>`),
      ...lettering.map(({ at, from, heightMm, words }) => {
        // The size of a letter's em is about 1.4 times the height of its capitals; the baseline lies half a capital down.
        const y = figure(h - at.y + heightMm / 2);
        return `    <text x="${figure(at.x)}" y="${y}" font-size="${figure(heightMm * 1.4)}" font-family="sans-serif" text-anchor="${from ? 'start' : 'middle'}" fill="${colour}" stroke="none">${escaped(words)}</text>`;
      }),
      '  </g>',
    ].join('\n');
  };
  const text = [
    '<?xml version="1.0" encoding="UTF-8"?>',
    `<svg xmlns="http://www.w3.org/2000/svg" width="${figure(w)}mm" height="${figure(h)}mm" viewBox="0 0 ${figure(w)} ${figure(h)}">`,
    `  <title>${escaped(drawing.title)}</title>`,
    `  <desc>${escaped(drawing.notes.join(' '))}</desc>`,
    `  <metadata><job xmlns="">${escaped(drawing.jobNumber)}</job><digest xmlns="">${drawing.digest}</digest></metadata>`,
    ...drawing.layers.map(group),
    '</svg>',
    '',
  ].join('\n');
  return new TextEncoder().encode(text);
}

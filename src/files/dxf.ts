import { DxfWriter, LWPolylineFlags, point2d, point3d, Units } from '@tarikjabiri/dxf';
import type { Drawing } from './drawing.ts';
import { ascii } from './letters.ts';

/** Palette numbers (ACI) that only keep the layers apart on screen: 7 black or white, 5 blue, 4 cyan, 6 magenta, 8 grey. */
const COLOURS: Readonly<Record<string, number>> = {
  pocket: 7,
  cut: 5,
  relief: 4,
  eject: 6,
  notch: 8,
  board: 8,
  mark: 8,
};

/**
 * A drawing as DXF (AC1021), unit millimetres in the header ($INSUNITS 4). Many readers ignore the unit: the check
 * line on layer mark tells. Nothing lies outside the bed, since some programs place a file by its extents; the notes
 * stand as comments (group 999) at the head of the file.
 */
export function dxf(drawing: Drawing): Uint8Array {
  const writer = new DxfWriter();
  writer.setUnits(Units.Millimeters);
  writer.setVariable('$EXTMIN', { 10: 0, 20: 0, 30: 0 });
  writer.setVariable('$EXTMAX', { 10: drawing.widthMm, 20: drawing.heightMm, 30: 0 });
  writer.setVariable('$MEASUREMENT', { 70: 1 });
  for (const { name, closed, open, lettering } of drawing.layers) {
    writer.addLayer(name, COLOURS[name] ?? 8, 'CONTINUOUS');
    writer.setCurrentLayerName(name);
    for (const { ring } of closed) {
      writer.addLWPolyline(
        ring.map(({ x, y }) => ({ point: point2d(x, y) })),
        { flags: LWPolylineFlags.Closed },
      );
    }
    for (const points of open) {
      writer.addLWPolyline(points.map(({ x, y }) => ({ point: point2d(x, y) })));
    }
    for (const { at, from, heightMm, words } of lettering) {
      // Left and baseline are the only alignment that every reader takes alike; a letter is about 0.8 of its height wide.
      const x = at.x - (from ? 0 : words.length * heightMm * 0.4);
      writer.addText(point3d(x, at.y - heightMm / 2, 0), heightMm, ascii(words));
    }
  }
  const comments = [drawing.title, ...drawing.notes].map((note) => `999\n${ascii(note)}\n`);
  return new TextEncoder().encode(comments.join('') + writer.stringify());
}

/** Figures of what is done after the cut: deliveries with known play, and (`boards`) rendered boards against their plan; (`loads`) rendered beds loaded without a jig; (`loose`) such loads by the hundred, simulated, with mix-ups; `fixture` and `load-fixture` render the pictures of page tests. */
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { playDeliveries } from '../support/deliveries.ts';
import { playBoards } from './boards.ts';
import { playLoads } from './loads.ts';
import { playMixUps } from './loose.ts';

const [what] = process.argv.slice(2);
const clipper = await loadClipper();
if (what === 'boards') await playBoards(clipper, console.log);
else if (what === 'loads') await playLoads(console.log, process.argv[3]);
else if (what === 'loose')
  process.exitCode = playMixUps(clipper, Number(process.argv[3] ?? 200), console.log) > 0 ? 1 : 0;
else if (what === 'fixture') await import('./fixture.ts');
else if (what === 'load-fixture') await import('./load-fixture.ts');
else {
  const count = Number(what ?? 100);
  const { rooms, tried, wrong, open, best } = playDeliveries(clipper, count);
  const outside = tried.filter((t, k) => Math.abs(t.roomMm - rooms[k]!) > t.uMm).length;
  const middle = tried.map((t) => t.uMm).sort((a, b) => a - b)[count >> 1]!;
  console.log(
    `${count} pieces with known play, simulated outlines: ${wrong.length} wrong, ${open} not proven (of a perfect judge with the same U ${best.toFixed(1)}), room outside its U in ${outside}, middle U ${middle.toFixed(3)} mm`,
  );
  for (const w of wrong) console.log(w);
  process.exitCode = wrong.length > 0 ? 1 : 0;
}

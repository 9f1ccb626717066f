import plain from './fonts/NotoSans-Medium.ttf?url';
import script from './fonts/DancingScript-SemiBold.ttf?url';
import type { ShippedFont } from '../artwork/run.ts';

const URLS: Readonly<Record<ShippedFont, string>> = { plain, script };

/** The fonts that come with the program, in a page or a module worker. */
export async function loadFont(font: ShippedFont): Promise<Uint8Array> {
  const answer = await fetch(URLS[font]);
  if (!answer.ok) throw new Error(`a font of the program could not be loaded (${answer.status})`);
  return new Uint8Array(await answer.arrayBuffer());
}

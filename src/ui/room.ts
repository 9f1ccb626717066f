import { MediaQuery } from 'svelte/reactivity';

/** Room enough for fields and notes to stand in the drawing, at what they measure. */
export const roomy = new MediaQuery('(min-width: 1200px) and (min-height: 680px)');
export const phone = new MediaQuery('(max-width: 599px)');
/** The ledge stands beside the drawing, this wide in CSS px. */
export const desk = new MediaQuery('(min-width: 1100px)');
export const ledgeWidth = (): number => (phone.current ? 0 : desk.current ? 372 : 300);

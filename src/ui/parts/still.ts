import type { Attachment } from 'svelte/attachments';

/**
 * Holds the page still under a finger that drags part of a drawing. `touch-action` has no effect on shapes inside an SVG (seen in
 * Chromium: `pointercancel` after the third move), and the browser takes the finger for scrolling.
 */
export const still: Attachment<Element> = (element) => {
  const keep = (event: Event): void => event.preventDefault();
  element.addEventListener('touchstart', keep, { passive: false });
  return () => element.removeEventListener('touchstart', keep);
};

/**
 * Tells the inner size of an element, CSS px, once it is laid out and whenever it changes. Unlike a binding it asks for no layout
 * of its own, which would hold up the page while a screen is being built.
 */
export const sized =
  (told: (w: number, h: number) => void) =>
  (element: Element): (() => void) => {
    const observer = new ResizeObserver(() => told(element.clientWidth, element.clientHeight));
    observer.observe(element);
    return () => observer.disconnect();
  };

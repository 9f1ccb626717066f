const { port1, port2 } = new MessageChannel();
const waiting: (() => void)[] = [];
port1.onmessage = () => waiting.shift()?.();

/** Lets the page do what waits (paint, take a key) before what comes next: no timer, which would be put off in a window that is not seen. */
export const breath = (): Promise<void> =>
  new Promise((go) => {
    waiting.push(go);
    port2.postMessage(undefined);
  });

import { withSmall } from '../src/picture/shown-browser.ts';

/** Decodes one picture for the screen, by plain messages: a file in, a `ShownPicture` or `{ error }` out. */
self.addEventListener('message', ({ data }: MessageEvent<Blob>) => {
  void (async () => {
    try {
      const shown = await withSmall(await createImageBitmap(data));
      self.postMessage(shown, { transfer: [shown.whole, shown.small] });
    } catch (error) {
      self.postMessage({ error: error instanceof Error ? error.message : String(error) });
    }
  })();
});

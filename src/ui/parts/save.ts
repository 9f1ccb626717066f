/** Hands a file to the browser's own download. */
export function save(name: string, type: string, bytes: Uint8Array | Blob | string): void {
  const url = URL.createObjectURL(new Blob([bytes as BlobPart], { type }));
  const link = document.createElement('a');
  link.href = url;
  link.download = name;
  link.click();
  // The download reads the address after this turn of the event loop.
  setTimeout(() => URL.revokeObjectURL(url), 60_000);
}

const KEY = 'open';

/** The job that was open in this window before it was loaded again; storage is shut in some private windows, and then there is none. */
export function stoodOpen(): string | null {
  try {
    return sessionStorage.getItem(KEY);
  } catch {
    return null;
  }
}

export function standOpen(id: string): void {
  try {
    sessionStorage.setItem(KEY, id);
  } catch {
    // Loaded again, the window begins with the list.
  }
}

/** Today, ISO 8601 (2026-03-14), by universal time. */
export const today = (): string => new Date().toISOString().slice(0, 10);

/** What stretches are called on drawing and ledge: A, B, C … */
export const letter = (k: number): string => String.fromCharCode(65 + (k % 26));

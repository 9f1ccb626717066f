/** Tells what is being done and how far it is; the shells show it. Never throws. */
export type Progress = (step: string, done: number, of: number) => void;
export const silent: Progress = () => {};

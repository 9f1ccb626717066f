import type { Workshop } from './desk.svelte.ts';

export function browserMachines(): Workshop {
  throw new Error('not connected');
}

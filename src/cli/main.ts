import { DONE, FAULT, run, tellFault } from './command-line.ts';

process.on('uncaughtException', (error) => {
  tellFault(error);
  process.exit(FAULT);
});
// A reader that closes the pipe early ("| head") wants no more; that is no fault.
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  process.exit(error.code === 'EPIPE' ? DONE : FAULT);
});

process.exitCode = await run(process.argv.slice(2));

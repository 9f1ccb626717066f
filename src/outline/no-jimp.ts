/** Stands in for potrace's picture reader, which this program never uses; keeps half a megabyte out of the worker. */
export default {
  read: (): never => {
    throw new Error('potrace must be given pixels, not a file');
  },
};

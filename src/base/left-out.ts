/**
 * Stands in for parts of libraries that this program never uses, and that would weigh megabytes in what is kept on her
 * machine: potrace's reader of pictures, and what the writer of paper pages has for web pages (vite.config.ts names them).
 */
const leftOut = (): never => {
  throw new Error('this part of a library was left out of the program');
};
export default Object.assign(leftOut, { read: leftOut });

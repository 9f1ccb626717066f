// By way of this file, for the package gives its source for types, which a stricter compiler than its own would check.
export { default } from '@kninnug/constrainautor';

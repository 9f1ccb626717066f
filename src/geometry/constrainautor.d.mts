import type Delaunator from 'delaunator';

/** Turns edges of a triangulation until it holds every constraint, and keeps it Delaunay beside them. */
export default class Constrainautor {
  constructor(del: Delaunator<ArrayLike<number>>, edges?: readonly (readonly [number, number])[]);
  /** Whether a halfedge lies on a constraint. */
  isConstrained(edge: number): boolean;
}

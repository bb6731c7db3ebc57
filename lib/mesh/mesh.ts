/** The mesh record stands in base, because the solid kernel speaks in it too. */
export { type Mesh, type Plane, next, previous } from '../base/mesh.js';

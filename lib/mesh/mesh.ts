/** The mesh record itself is in base, because the solid kernel uses it too. */
export { type Mesh, type Plane, next, previous } from '../base/mesh.js';

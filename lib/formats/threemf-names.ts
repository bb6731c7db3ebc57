/** Names of the 3MF core specification 1.4, appendix C, of its extensions, and of the Open Packaging Conventions. */
export const CORE = 'http://schemas.microsoft.com/3dmanufacturing/core/2015/02';
export const TRIANGLE_SETS = 'http://schemas.microsoft.com/3dmanufacturing/trianglesets/2021/07';
/** Production extension 1.2: objects in other parts of the package, and identities. */
export const PRODUCTION = 'http://schemas.microsoft.com/3dmanufacturing/production/2015/06';
/** Materials and properties extension 1.2. */
export const MATERIALS = 'http://schemas.microsoft.com/3dmanufacturing/material/2015/02';
/** Slice extension 1.0. */
export const SLICES = 'http://schemas.microsoft.com/3dmanufacturing/slice/2015/07';
/** Beam lattice extension 1.2, with the namespace of its balls. */
export const BEAM_LATTICE = 'http://schemas.microsoft.com/3dmanufacturing/beamlattice/2017/02';
export const LATTICE_BALLS =
  'http://schemas.microsoft.com/3dmanufacturing/beamlattice/balls/2020/07';
export const CONTENT_TYPE = 'application/vnd.ms-package.3dmanufacturing-3dmodel+xml';
export const START_PART = 'http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel';
export const RELATIONSHIPS = 'http://schemas.openxmlformats.org/package/2006/relationships';
export const CONTENT_TYPES = 'http://schemas.openxmlformats.org/package/2006/content-types';

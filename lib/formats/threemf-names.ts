/** Names of the 3MF core specification 1.4, appendix C, and of the Open Packaging Conventions. */
export const CORE = 'http://schemas.microsoft.com/3dmanufacturing/core/2015/02';
export const TRIANGLE_SETS = 'http://schemas.microsoft.com/3dmanufacturing/trianglesets/2021/07';
export const CONTENT_TYPE = 'application/vnd.ms-package.3dmanufacturing-3dmodel+xml';
export const START_PART = 'http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel';
export const RELATIONSHIPS = 'http://schemas.openxmlformats.org/package/2006/relationships';
export const CONTENT_TYPES = 'http://schemas.openxmlformats.org/package/2006/content-types';

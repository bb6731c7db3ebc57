/**
 * The public face of what needs threads and files: `tiltwright/worker`. A pool runs the tasks of `slice`
 * on all cores, kept stages save a second run what has not changed, a result becomes a folder.
 */
export { clocks } from './clocks.js';
export { type Pool, openPool } from './pool.js';
export { keepStages } from './runner/keep.js';
export { readMachineTemplate, readTemplate } from './template.js';
export { version } from './version.js';
export { writeResult } from './write-result.js';

/** The public face of the library. */
export { Fault, type FaultData, type Finding, type Place, type Severity } from './base/fault.js';
export type { Mesh, Plane } from './base/mesh.js';
export { type JsonFile, readJsonText, within } from './base/json.js';
export { jsonText, printable } from './base/printable.js';
export { parse } from './base/schema.js';
export type { Progress, Watch } from './base/watch.js';
export { type ErrorBudget, budgetOf } from './budget/budget.js';
export { type Fit, fitTouches } from './calibrate/fit.js';
export { measuredBy, measuredFile, measuredPlay } from './calibrate/measured.js';
export { type Model, modelOf, stateAt } from './calibrate/model.js';
export { type TouchPlan, planTouches } from './calibrate/plan.js';
export { type PlayFit, fitPlay } from './calibrate/play-fit.js';
export { type PlayPlan, planPlay } from './calibrate/play.js';
export { touchProgram } from './calibrate/program.js';
export { type Target } from './calibrate/targets.js';
export {
  type Demand,
  type NeedsTools,
  type PartNeeds,
  demandOf,
  studyPart,
} from './directions/needs.js';
export { findingsOf as drivesFindings } from './drives/findings.js';
export { type JointPath, pathOfMotion, pathOfProgram } from './drives/path.js';
export { type Study, type StudyOptions, studyDrives } from './drives/study.js';
export { studyLines } from './drives/words.js';
export { type Job, jobFile } from './job.js';
export type { Keep } from './keep.js';
export { type PolygonKernel, loadPolygonKernel } from './kernel/polygon.js';
export { type SolidKernel, loadSolidKernel } from './kernel/solid.js';
export type { Layers } from './layers/layers.js';
export type { SliceInput, SliceTools } from './layout.js';
export { forward } from './machine/forward.js';
export { type Solution, inverse } from './machine/inverse.js';
export { type Machine, machineFile } from './machine/machine.js';
export { type Material, materialFile } from './machine/material.js';
export { meshNames, withMeshes } from './machine/mesh-files.js';
export { materialDoubts, readMachine, readMaterial } from './machine/read.js';
export { type Sense, senseLines, sensesOf } from './machine/sense.js';
export { meshFrom, moved, scaled } from './mesh/build.js';
export { type Inspection, inspect } from './mesh/inspect.js';
export { bounds, massOf, surfaceArea } from './mesh/measure.js';
export { type ReadPart, readPart } from './mesh/read.js';
export { writeStl, writeThreeMf } from './mesh/write.js';
export { type Motion, MoveKind } from './motion/motion.js';
export { type Paths, Link, PathKind } from './paths/paths.js';
export type { Piece } from './pieces/piece.js';
export { heldFile, leftOut, pageOf, testPieces } from './pieces/pieces.js';
export { type SliceResult, slice } from './pipeline.js';
export { type Program, type ReadOptions, readOptions, readProgram } from './program/read.js';
export { searchLimits } from './regions/limits.js';
export { type RegionPlan, planRegions } from './regions/plan.js';
export type { Region } from './regions/region.js';
export { mapImage, mapPicture } from './report/directions.js';
export { curvesPicture } from './report/directions-curves.js';
export { directionsRecord } from './report/directions-record.js';
export { cloudPicture, cloudRaster } from './report/drives-cloud.js';
export { ratioPicture, ratioRaster } from './report/drives-ratio.js';
export { drivesRecord } from './report/drives-record.js';
export { type Contents, resultFiles } from './report/files.js';
export { regionsPicture } from './report/picture.js';
export { type Report } from './report/report.js';
export { schemaOf } from './schemas.js';
export { type RunTask, type SliceTask, serialRunner } from './tasks.js';
export { type Check, type Trace, TraceKind, type Verdict, verify } from './verify/verify.js';

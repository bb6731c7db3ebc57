/** The public face of the library. Everything here is documented, which `npm run reference` holds. */
export { Fault, type FaultData, type Finding, type Place, type Severity } from './base/fault.js';
export { type Frame, compose, shift, turn } from './base/frame.js';
export { type JsonFile, readJsonText, within } from './base/json.js';
export type { Mesh } from './base/mesh.js';
export { parse } from './base/schema.js';
export type { Progress, Watch } from './base/watch.js';
export { type DeviationFit, fitTouches } from './calibrate/deviation-fit.js';
export { measuredBy, measuredFile, measuredPlay } from './calibrate/measured.js';
export { type TouchPlan, planTouches } from './calibrate/touch-plan.js';
export { type PlayFit, fitPlay } from './calibrate/play-fit.js';
export { type PlayPlan, planPlay } from './calibrate/play-plan.js';
export { touchProgram } from './calibrate/program.js';
export type { Target } from './calibrate/targets.js';
export { type CompleteAnswers, completeAnswers, readAnswers } from './commission/answers.js';
export { type MachineQuestion, checkMachine } from './commission/check-machine.js';
export { machineFromAnswers } from './commission/machine-from-answers.js';
export { machinePage } from './commission/machine-page.js';
export { machinePicture } from './commission/machine-picture.js';
export {
  type ProofFile,
  proofFile,
  proofFrom,
  proofText,
  readSeen,
  seenText,
} from './commission/proof-files.js';
export { proofForm } from './commission/proof-form.js';
export {
  type ProofPlan,
  type ProofPose,
  type ProofStep,
  planProof,
} from './commission/proof-plan.js';
export { posesProgram, stepsProgram } from './commission/proof-program.js';
export { type ProofVerdict, type WhatWasSeen, judgeProof } from './commission/proof-verdict.js';
export type { Answers, MachineAnswer } from './commission/questions.js';
export type { Sight } from './commission/seen.js';
export {
  type Demand,
  type NeedsTools,
  type PartNeeds,
  demandOf,
  studyPart,
} from './directions/needs.js';
export { findingsOf as drivesFindings } from './drives/findings.js';
export { type JointPath, pathOfMotion, pathOfProgram } from './drives/job-path.js';
export { type Study, type StudyOptions, studyDrives } from './drives/study.js';
export { type SliceInput, type SliceTools } from './job/lay-out.js';
export { type Job, jobFile } from './job/job-file.js';
export type { StageStore } from './job/kept-stages.js';
export { type SolidKernel, loadSolidKernel } from './kernel/solid.js';
export type { Layers } from './layers/layers.js';
export { forward } from './machine/forward.js';
export { type JointSolution, inverse } from './machine/inverse.js';
export { type Machine, machineFile } from './machine/machine.js';
export { type Material, materialFile } from './machine/material.js';
export { meshNames, withMeshes } from './machine/mesh-files.js';
export { readMachine, readMaterial } from './machine/read-files.js';
export { meshFrom, moved } from './mesh/build.js';
export { bent, extruded, leaned, revolved, rod } from './mesh/make-solids.js';
export { type Inspection, inspect } from './mesh/repair/inspect.js';
export { type ReadPart, readPart } from './formats/read-part.js';
export { writeStl, writeThreeMf } from './formats/write-mesh.js';
export { type Motion, MoveKind } from './motion/motion.js';
export { Link, PathKind, type Paths } from './paths/paths.js';
export type { TestPiece } from './pieces/piece.js';
export { testPieces } from './pieces/pieces.js';
export { type SliceResult, slice } from './job/pipeline.js';
export {
  type Program,
  type ProgramReadOptions,
  readOptions,
  readProgram,
} from './program/read-program.js';
export type { RegionPlan } from './regions/plan-regions.js';
export type { Region } from './regions/region.js';
export { type FileContents, resultFiles } from './job/result-files.js';
export type { Report, StageTime, TimeTaken, Timing } from './report/report.js';
export { schemaOf } from './job/file-schemas.js';
export type { Stages } from './job/stages.js';
export { type RunTask, serialRunner } from './job/tasks.js';
export { type ProgramCheck, type Trace, TraceKind, type Verdict, verify } from './verify/verify.js';

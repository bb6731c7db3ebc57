/**
 * Values of a machine file that are assumed (`guessed`): each key must lead somewhere, so that a value that was
 * measured and moved does not stay listed, and whoever makes a job with the machine is told once.
 */
import type { FaultData, Finding } from '../base/fault.js';
import type { MachineFile } from './machine.js';
import type { Doubts } from './usual.js';

/** So many are named; `tiltwright machine check` lists all. */
const NAMED = 4;

/** @param json the file as it was written, before what was left out is filled in */
export function guessesOf({ guessed }: MachineFile, json: unknown, file?: string): Doubts {
  const at = (key: string): { key: string; file?: string } => ({ key, ...(file && { file }) });
  const keys = Object.keys(guessed ?? {});
  const problems = keys.flatMap((key): FaultData[] => {
    if (key.split('.').reduce(below, json) !== undefined) return [];
    const message = `"guessed" names "${key}", which the file does not have`;
    return [{ code: 'machine/unknown-key', message, at: at(`guessed.${key}`) }];
  });
  if (keys.length === 0) return { findings: [], problems };
  const more = keys.length > NAMED ? ` and ${keys.length - NAMED} more` : '';
  const message = `${keys.length === 1 ? 'a value' : `${keys.length} values`} of the machine file ${keys.length === 1 ? 'is' : 'are'} assumed, not measured: ${keys.slice(0, NAMED).join(', ')}${more}; "tiltwright machine check" says where each is from`;
  const finding: Finding = {
    code: 'machine/guessed',
    severity: 'warning',
    message,
    at: at('guessed'),
  };
  return { findings: [finding], problems };
}

function below(value: unknown, key: string): unknown {
  if (value === null || typeof value !== 'object' || !Object.hasOwn(value, key)) return undefined;
  return (value as Record<string, unknown>)[key];
}

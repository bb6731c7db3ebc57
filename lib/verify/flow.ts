/** The flow of what a program lays, block by block, against the range that the material allows. */
import type { Machine } from '../machine/machine.js';
import type { Material } from '../machine/material.js';
import type { Tally } from './tally.js';
import { type Trace, TraceKind } from './trace.js';
import { placeOf } from './walk.js';

type FlowRange = Material['flow'];

/** Of a material that nobody stated. */
const ANY: FlowRange = { least: 0, most: Infinity };

/** Share of a limit that rounding of feeds explains: they are written with six digits. */
const FLOW_ROUNDING = 1e-3;
/**
 * Beads that taper off and corners take little flow for moments in any part, and the nozzle keeps laying on
 * what it holds: a shorter time is no finding, s; common practice, no source.
 */
const FLOW_MOMENT = 0.2;

/**
 * @param seconds of each block at its feed
 * @returns least and greatest flow while material is laid, mm3/s; nothing if none is
 */
export function judgeFlow(
  trace: Trace,
  seconds: Float64Array,
  { filamentDiameter, dialect }: Machine,
  tally: Tally,
  range: FlowRange = ANY,
): FlowRange | undefined {
  const decimal = 10 ** -dialect.decimals.filament * (Math.PI / 4) * filamentDiameter ** 2;
  let [least, most] = [Infinity, 0];
  const low = { seconds: 0, flow: Infinity, block: -1 };
  const report = (code: 'verify/flow-low' | 'verify/flow-high', b: number, flow: number): void => {
    const high = code === 'verify/flow-high';
    const size = high ? flow / range.most : range.least / flow;
    tally.add(
      code,
      high ? 'error' : 'warning',
      size,
      () => ({
        message: `${flow.toFixed(3)} mm3/s, the range is ${range.least} to ${range.most} mm3/s`,
        at: placeOf(trace, b),
      }),
      { run: trace.run[b]! },
    );
  };
  const endLow = (): void => {
    if (low.seconds > FLOW_MOMENT) report('verify/flow-low', low.block, low.flow);
    [low.seconds, low.flow] = [0, Infinity];
  };
  for (let b = 0; b < seconds.length; b++) {
    const [time, flow] = [seconds[b]!, trace.flow[b]!];
    if (trace.kind[b] !== TraceKind.deposit) {
      endLow();
      continue;
    }
    if (!(time > 0)) continue;
    [least, most] = [Math.min(least, flow), Math.max(most, flow)];
    const room = decimal / time;
    if (flow - room > range.most * (1 + FLOW_ROUNDING)) report('verify/flow-high', b, flow);
    if (flow + room >= range.least * (1 - FLOW_ROUNDING)) {
      endLow();
      continue;
    }
    low.seconds += time;
    if (flow < low.flow) [low.flow, low.block] = [flow, b];
  }
  endLow();
  return most > 0 ? { least, most } : undefined;
}

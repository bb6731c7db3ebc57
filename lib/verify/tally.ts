/**
 * Findings without a cap in silence: every finding is counted, the first places of each code are
 * kept, and one more finding says how many there are in all and which is the worst. Of notes that one
 * is all there is.
 */
import type { Fault, Finding, Place, Severity } from '../base/fault.js';

/** Places told of one code, by its severity; what is beyond is counted. Notes of a code are one finding. */
const TOLD: Readonly<Record<Severity, number>> = { error: 20, warning: 20, note: 0 };

interface Said {
  readonly message: string;
  readonly at: Place;
}

interface Entry {
  readonly severity: Severity;
  count: number;
  readonly told: Said[];
  worst: number;
  say: () => Said;
}

export class Tally {
  readonly #entries = new Map<string, Entry>();

  /**
   * @param size how bad it is, to find the worst of a code; any unit, larger is worse
   * @param say called only for findings that are told
   */
  add(code: string, severity: Severity, size: number, say: () => Said): void {
    let entry = this.#entries.get(code);
    if (!entry) {
      entry = { severity, count: 0, told: [], worst: -Infinity, say };
      this.#entries.set(code, entry);
    }
    entry.count++;
    if (entry.told.length < TOLD[severity]) entry.told.push(say());
    if (size > entry.worst) {
      entry.worst = size;
      entry.say = say;
    }
  }

  addFault(fault: Fault): void {
    const said = { message: fault.message, at: fault.at ?? {} };
    this.add(fault.code, 'error', 0, () => said);
  }

  /** How many of each code. */
  counts(): Record<string, number> {
    return Object.fromEntries([...this.#entries].map(([code, e]) => [code, e.count]));
  }

  findings(): Finding[] {
    return [...this.#entries].flatMap(([code, e]) => {
      const { severity, count, told } = e;
      const each = told.map((said): Finding => ({ code, severity, ...said }));
      if (count === told.length) return each;
      const worst = e.say();
      if (count === 1) return [{ code, severity, ...worst }];
      const rest = each.length > 0 ? `${count - each.length} more of this kind, ` : '';
      const message = `${rest}${count} in all; the worst: ${worst.message}`;
      return [...each, { code, severity, message, at: worst.at }];
    });
  }
}

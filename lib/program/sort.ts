/**
 * The codes of a block by what they do, checked against the modal groups: at most one code per group, one
 * motion code, one non-modal code.
 */
import type { BlockReader } from './block.js';
import { groupOfG, groupOfM, isRun, nameOfG } from './codes.js';
import type { OwnText } from './options.js';

/** M words a block may hold. */
const MOST_M = 4;

export class Codes {
  /** Group 0 and group 1 code in tenths, or -1. */
  nonModal = -1;
  motion = -1;
  /** The code of each other modal group that stands in the block, by group; -1 if none. */
  readonly modal = new Int16Array(14).fill(-1);
  /** 2 or 30 if the block ends the program, else 0. */
  end = 0;
  /** Codes beyond the standard that the machine's own text holds. */
  own = false;
  /** One of them is a G code, which may have moved the machine. */
  ownMayMove = false;
  #set = false;

  sort(reader: BlockReader, own: OwnText | undefined): void {
    if (this.#set) this.#clear();
    const { g, m } = reader.block;
    if (g.length) this.#sortG(reader, g, own);
    if (m.length) this.#sortM(reader, m, own);
  }

  #clear(): void {
    this.nonModal = -1;
    this.motion = -1;
    this.modal.fill(-1);
    this.end = 0;
    this.own = false;
    this.ownMayMove = false;
    this.#set = false;
  }

  #sortG(reader: BlockReader, g: readonly number[], own: OwnText | undefined): void {
    this.#set = true;
    g.forEach((code, k) => {
      const column = reader.block.gColumn[k]!;
      const group = groupOfG(code);
      if (group === undefined) {
        if (!own?.codes.has(nameOfG(code))) {
          reader.faultIn(column, 'unknown-code', `${nameOfG(code)} is no code of the standard`);
        }
        this.own = this.ownMayMove = true;
        return;
      }
      if (!isRun(code)) {
        reader.faultIn(column, 'code-not-run', `${nameOfG(code)} is not run by this reader`);
      }
      const before = group === 0 ? this.nonModal : group === 1 ? this.motion : this.modal[group]!;
      if (before >= 0) {
        reader.faultIn(
          column,
          'same-group',
          `${nameOfG(before)} and ${nameOfG(code)} are of one modal group (${group})`,
        );
      }
      if (group === 0) this.nonModal = code;
      else if (group === 1) this.motion = code;
      else this.modal[group] = code;
    });
  }

  #sortM(reader: BlockReader, m: readonly number[], own: OwnText | undefined): void {
    this.#set = true;
    if (m.length > MOST_M) {
      reader.faultAt(-1, 'many-m-words', `${m.length} M words in a block, the limit is ${MOST_M}`);
    }
    let groups = 0;
    m.forEach((code, k) => {
      const column = reader.block.mColumn[k]!;
      const group = groupOfM(code);
      if (group === undefined) {
        if (!own?.codes.has(`M${code}`)) {
          reader.faultIn(column, 'unknown-code', `M${code} is no code of the standard`);
        }
        this.own = true;
        return;
      }
      if (groups & (1 << group)) {
        reader.faultIn(column, 'same-group', `two M codes of one modal group (${group})`);
      }
      groups |= 1 << group;
      if (code === 2 || code === 30) this.end = code;
    });
  }
}

/**
 * The G and M codes of RS-274/NGC by modal group: two of one group may not stand in one block
 * (groups after NISTIR 6556, Kramer, Proctor and Messina 2000). Codes are kept in tenths: G59.1 is 591.
 */

const G_GROUPS: Readonly<Record<number, readonly number[]>> = {
  0: [40, 100, 280, 300, 530, 920, 921, 922, 923],
  1: [0, 10, 20, 30, 382, 800, 810, 820, 830, 840, 850, 860, 870, 880, 890],
  2: [170, 180, 190],
  3: [900, 910],
  5: [930, 940, 950],
  6: [200, 210],
  7: [400, 410, 420],
  8: [430, 490],
  10: [980, 990],
  12: [540, 550, 560, 570, 580, 590, 591, 592, 593],
  13: [610, 611, 640],
};

const M_GROUPS: Readonly<Record<number, readonly number[]>> = {
  4: [0, 1, 2, 30, 60],
  6: [6],
  7: [3, 4, 5],
  8: [7, 8, 9],
  9: [48, 49],
};

/** Standard codes for what a printing machine does not have: refused by name, not as unknown. */
const NOT_RUN = new Set([382, 410, 420, 430, 810, 820, 830, 840, 850, 860, 870, 880, 890, 950]);

const invert = (groups: Readonly<Record<number, readonly number[]>>): Map<number, number> =>
  new Map(
    Object.entries(groups).flatMap(([group, codes]) =>
      codes.map((code): [number, number] => [code, Number(group)]),
    ),
  );

const gGroup = invert(G_GROUPS);
const mGroup = invert(M_GROUPS);

/** Modal group of a G code in tenths; undefined if the standard has no such code. */
export const groupOfG = (code: number): number | undefined => gGroup.get(code);
/** Modal group of an M code; undefined if the standard has no such code. */
export const groupOfM = (code: number): number | undefined => mGroup.get(code);
export const isRun = (code: number): boolean => !NOT_RUN.has(code);

/** "G59.1" for 591. */
export const nameOfG = (code: number): string => `G${code / 10}`;

/** Counts of proofs: a sample in every test run, all of it with `npm run proof`. */
export const full = process.env['PROOF'] !== undefined;

export const countOf = (sample: number, all: number): number => (full ? all : sample);

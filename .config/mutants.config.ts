import { defineConfig } from 'vitest/config';
import { long, whole } from './lanes.js';

/**
 * The tests that `npm run mutants` sets against changed sources: those of one folder of lib, first of the fast lane,
 * then of whole jobs, all on the sources. The tool that changes them chooses by itself which of them meet a change.
 */
const { MUTANTS_FOLDER: folder = '*', MUTANTS_LANE: lane = 'fast' } = process.env;

export default defineConfig({
  test: {
    include:
      lane === 'fast'
        ? [`test/${folder}/**/*.test.ts`]
        : whole.filter((file) => file.startsWith(`test/${folder}/`)),
    exclude: lane === 'fast' ? [...whole, ...long] : [],
    testTimeout: 600_000,
    hookTimeout: 600_000,
  },
});

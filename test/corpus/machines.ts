/** The sample machines by the short names of the tables. */
export const MACHINES = {
  'a-c': 'table-table-ac',
  'b-c': 'table-table-bc',
  'head-table': 'head-table',
} as const;

export type MachineName = keyof typeof MACHINES;

/** Where the service's files lie concerns nobody beyond the machine: reasons are passed on without paths. */
import type { FaultData } from '../../lib/index.js';

/** An absolute path of two names or more, up to the next quotation mark, space or colon; no address here. */
const PATH = /(^|[\s'"(=])(?:file:\/\/)?\/(?!v1\/)(?:[^\s'":/()]+\/)+[^\s'":()]*/g;

/** @param folder the data folder, whose path may hold what `PATH` does not expect */
export function withoutPaths(fault: FaultData, folder?: string): FaultData {
  const clean = (text: string): string =>
    (folder === undefined ? text : text.replaceAll(folder, 'the data folder')).replace(
      PATH,
      '$1a file of the service',
    );
  const { at, ...rest } = fault;
  const { problems } = fault as { problems?: readonly FaultData[] };
  const place = at?.file?.startsWith('/') ? omitFile(at) : at;
  return {
    ...rest,
    message: clean(rest.message),
    ...(place ? { at: place } : {}),
    ...(problems ? { problems: problems.map((p) => withoutPaths(p, folder)) } : {}),
  };
}

function omitFile({ file: _, ...rest }: NonNullable<FaultData['at']>): FaultData['at'] {
  return Object.keys(rest).length > 0 ? rest : undefined;
}

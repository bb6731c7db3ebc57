/** glTF-Transform's reader and writer of files, which says only what is wrong. */
import { Logger, NodeIO } from '@gltf-transform/core';

export const quietIo = (): NodeIO =>
  new NodeIO().setLogger(new Logger(Logger.Verbosity.ERROR)) as NodeIO;

/** What the tests ask of the Khronos group's glTF validator, which comes without types. */
declare module 'gltf-validator' {
  interface ValidationReport {
    readonly issues: {
      readonly messages: readonly {
        readonly code: string;
        readonly message: string;
        readonly pointer: string;
      }[];
    };
    readonly info: Readonly<Record<string, unknown>>;
  }
  export function validateBytes(bytes: Uint8Array): Promise<ValidationReport>;
}

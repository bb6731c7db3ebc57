import tseslint from 'typescript-eslint';

export default tseslint.config(
  { ignores: ['dist/**', 'out/**', 'node_modules/**'] },
  ...tseslint.configs.recommended,
  {
    files: ['**/*.ts'],
    languageOptions: {
      parserOptions: {
        project: [
          new URL('./tsconfig.test.json', import.meta.url).pathname,
          new URL('../lib/page/client/tsconfig.json', import.meta.url).pathname,
          new URL('../worker/service/page/client/tsconfig.json', import.meta.url).pathname,
        ],
        tsconfigRootDir: new URL('..', import.meta.url).pathname,
      },
    },
    rules: {
      '@typescript-eslint/no-floating-promises': 'error',
      '@typescript-eslint/no-unused-vars': [
        'error',
        { argsIgnorePattern: '^_', ignoreRestSiblings: true },
      ],
      '@typescript-eslint/switch-exhaustiveness-check': 'error',
      '@typescript-eslint/consistent-type-imports': 'error',
      'no-restricted-globals': [
        'error',
        { name: 'Date', message: 'lib is deterministic; take the time from the caller' },
      ],
    },
  },
  { files: ['cli/**', 'worker/**', 'test/**'], rules: { 'no-restricted-globals': 'off' } },
  {
    files: ['lib/**/*.ts', 'worker/**/*.ts', 'cli/**/*.ts', 'samples/**/*.ts'],
    rules: {
      'max-lines': ['error', 400],
      'max-lines-per-function': ['error', 80],
    },
  },
);

// Checks the page's modules and these tests: npm run lint.
import js from '@eslint/js';
import globals from 'globals';

const strict = {
	...js.configs.recommended.rules,
	'no-unused-vars': ['error', { argsIgnorePattern: '^_', caughtErrors: 'none' }],
	eqeqeq: 'error',
	'no-var': 'error',
	'prefer-const': 'error',
};

export default [
	{ ignores: ['**/vendor/**', '**/node_modules/**'] },
	{
		files: ['page/**/*.js'],
		languageOptions: { sourceType: 'module', globals: { ...globals.browser, uPlot: 'readonly' } },
		rules: strict,
	},
	{
		files: ['page/worker.js'],
		languageOptions: { sourceType: 'script', globals: globals.serviceworker },
	},
	{
		files: ['browser/**/*.mjs'],
		languageOptions: { sourceType: 'module', globals: { ...globals.node, ...globals.browser } },
		rules: strict,
	},
];

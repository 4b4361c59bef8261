// Holds a description of the API to the specification's own schema (OpenAPI
// 3.1), and each example in it to the schema beside it: node openapi.mjs FILE

import fs from 'node:fs';
import { Validator } from '@seriousme/openapi-schema-validator';
import Ajv from 'ajv/dist/2020.js';
import formats from 'ajv-formats';

const description = JSON.parse(fs.readFileSync(process.argv[2], 'utf8'));
const wrong = [];

const whole = await new Validator().validate(structuredClone(description));
if (!whole.valid) wrong.push(JSON.stringify(whole.errors, null, 1));

const ajv = new Ajv({ strict: false, allErrors: true });
formats(ajv);
ajv.addSchema({ $id: 'api', components: description.components });
const local = (schema) => JSON.parse(JSON.stringify(schema).replaceAll('"#/components/', '"api#/components/'));

let examples = 0;
function hold(where, content = {}) {
  for (const { schema, example } of Object.values(content)) {
    if (example === undefined) continue;
    if (!schema) { wrong.push(`${where}: an example without a schema`); continue; }
    examples += 1;
    const fits = ajv.compile(local(schema));
    if (!fits(example)) wrong.push(`${where}: ${ajv.errorsText(fits.errors)}`);
  }
}
let operations = 0;
for (const [path, methods] of Object.entries(description.paths)) {
  for (const [method, op] of Object.entries(methods)) {
    operations += 1;
    const where = `${method} ${path}`;
    const before = examples;
    hold(`${where}, asked`, op.requestBody?.content);
    let says = 0;
    for (const [status, answer] of Object.entries(op.responses)) {
      hold(`${where}, ${status}`, answer.content);
      if (Object.values(answer.content || {}).some((c) => c.example !== undefined)) says += 1;
    }
    if (op.responses[200]?.content?.['image/jpeg']) continue; // a picture
    const bare = op.responses[204] && !op.requestBody; // nothing is said either way
    if (!bare && examples === before) wrong.push(`${where} has no example`);
    if (op.requestBody && Object.values(op.requestBody.content)[0].example === undefined) wrong.push(`${where} has no example of what is asked`);
    if (!op.responses[204] && !says) wrong.push(`${where} has no example of an answer`);
  }
}
console.log(`${operations} operations, ${examples} examples`);
if (wrong.length) {
  console.error(wrong.join('\n'));
  process.exit(1);
}

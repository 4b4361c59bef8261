// All tests that need the browser, in one process: one Chromium serves them,
// and as many go on at once as there are kitchens.

import { describe } from 'node:test';
import { AT_ONCE } from './kit.mjs';
import jobs from './jobs.mjs';
import look from './look.mjs';
import messages from './messages.mjs';
import reach from './reach.mjs';
import walk from './walk.mjs';
import plan from './plan.mjs';
import first from './first.mjs';
import states from './states.mjs';
import tasks from './tasks.mjs';
import alone from './alone.mjs';

describe('the page', AT_ONCE, () => {
  jobs();
  first();
  look();
  walk();
  reach();
  messages();
  plan();
  states();
  tasks();
});

// What is measured is measured when nothing else goes on.
describe('by itself', () => { alone(); });

// The daemon's HTTP API, as described in api/openapi.json.

import { has, message, t } from './text.js';

// reason is the sentence of an error's code.
export function reason(code, otherwise) {
  const key = `error.${code?.replaceAll('-', '_')}`;
  return has(key) ? t(key) : otherwise || t('error.broken');
}

// Trouble is an answer that is no success. Its text is for the baker.
export class Trouble extends Error {
  constructor(status, { code, detail, say }) {
    super(say && has(say.key) ? message(say) : reason(code, detail));
    this.status = status;
    this.code = code;
  }
}

// tags are the entity tags of what was read, by the first part of its address. A change
// carries the one that was seen, and is refused if another page has made a change since.
const tags = new Map();

async function call(method, path, body, more) {
  const [whole] = path.split('/');
  const headers = { ...(body === undefined ? {} : { 'Content-Type': 'application/json' }), ...(method !== 'GET' && tags.has(whole) ? { 'If-Match': tags.get(whole) } : {}), ...more };
  let reply;
  try {
    reply = await fetch(`api/${path}`, {
      method,
      headers,
      body: body === undefined ? undefined : JSON.stringify(body),
      cache: 'no-store',
    });
  } catch {
    throw new Trouble(0, { code: 'offline' });
  }
  if (reply.ok && reply.headers.has('ETag')) tags.set(whole, reply.headers.get('ETag'));
  if (reply.status === 204) return null;
  let data = {};
  try {
    data = await reply.json();
  } catch {
    throw new Trouble(reply.status, { code: 'broken' });
  }
  if (!reply.ok) throw new Trouble(reply.status, data);
  return data;
}

export const read = (path) => call('GET', path);
export const post = (path, body) => call('POST', path, body);
export const put = (path, body, headers) => call('PUT', path, body, headers);
export const remove = (path, body) => call('DELETE', path, body);
export const vesselPath = (vessel, rest) => `vessels/${encodeURIComponent(vessel)}/${rest}`;

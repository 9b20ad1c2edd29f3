// Posts bundles, one a line or one a file, and says how the entries were answered.
// For trying the peers out; Footbridge itself sends over libcurl.
//
//   node post.mjs --base http://127.0.0.1:PORT FILE...
import { readFileSync } from 'node:fs';
import { readArguments } from './peer.mjs';

const { options, rest } = readArguments(process.argv.slice(2), { withValue: ['base'] });
const counts = {};
let failed = 0;
const started = process.hrtime.bigint();

for (const file of rest) {
  for (const line of readFileSync(file, 'utf8').split('\n').filter((l) => l.trim() !== '')) {
    const response = await fetch(options.base, {
      method: 'POST',
      headers: { 'Content-Type': 'application/fhir+json', Accept: 'application/fhir+json', Prefer: 'return=minimal' },
      body: line,
    });
    const answer = await response.json();
    if (!response.ok) {
      failed++;
      process.stderr.write(`${response.status} ${JSON.stringify(answer.issue?.slice(0, 3))}\n`);
      continue;
    }
    for (const entry of answer.entry ?? []) {
      const status = entry.response.status.slice(0, 3);
      counts[status] = (counts[status] ?? 0) + 1;
    }
  }
}
const seconds = Number(process.hrtime.bigint() - started) / 1e9;
process.stdout.write(`${JSON.stringify(counts)} failed ${failed} in ${seconds.toFixed(2)} s\n`);
process.exit(failed > 0 ? 1 : 0);

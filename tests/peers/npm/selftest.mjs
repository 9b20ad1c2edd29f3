// Tries the record server and the round-trip check on themselves: a peer that cannot
// tell right from wrong would let Footbridge pass anything.
//
//   node selftest.mjs
import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { createHash } from 'node:crypto';
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { after, before, beforeEach, test } from 'node:test';
import { fileURLToPath } from 'node:url';
import { structureDefinitions } from './definitions.mjs';
import { need } from './peer.mjs';
import { makeBundle, makePatients, patientNumber, uuidFrom } from './sample.mjs';

const here = path.dirname(fileURLToPath(import.meta.url));
const folder = mkdtempSync(path.join(os.tmpdir(), 'record-server-'));
const portFile = path.join(folder, 'port');
const logFile = path.join(folder, 'log');
const core = need('@medplum/core');
const nhsNumber = 'https://fhir.nhs.uk/Id/nhs-number';
const subjectOf = (n) => ({ reference: `Patient?identifier=${nhsNumber}%7C${patientNumber(n)}` });
let server;
let base;

function start(script, args) {
  const child = spawn(process.execPath, [path.join(here, script), ...args], { stdio: ['ignore', 'pipe', 'pipe'] });
  let output = '';
  child.stdout.on('data', (d) => (output += d));
  child.stderr.on('data', (d) => (output += d));
  child.finished = new Promise((resolve) => child.on('close', (code) => resolve({ code, output })));
  return child;
}

const run = (script, args) => start(script, args).finished;

async function call(method, url, body, headers = {}) {
  const raw = body === undefined || typeof body === 'string' || Buffer.isBuffer(body) ? body : JSON.stringify(body);
  const response = await fetch(`${base}${url}`, {
    method,
    body: raw,
    headers: { ...(raw !== undefined && { 'Content-Type': 'application/fhir+json' }), Accept: 'application/fhir+json', ...headers },
  });
  const text = await response.text();
  return { status: response.status, headers: response.headers, body: text === '' ? null : JSON.parse(text) };
}

const statuses = (answer) => answer.body.entry.map((e) => Number(e.response.status.slice(0, 3)));
const counts = async () => (await call('GET', '/$test/counts')).body;
const issueText = (answer) => JSON.stringify(answer.body.issue);

function observation(key, more = {}) {
  return {
    resourceType: 'Observation',
    identifier: [{ system: 'https://a.example/id', value: key }],
    status: 'final',
    code: { text: key },
    ...more,
  };
}

function transaction(...entries) {
  return {
    resourceType: 'Bundle',
    type: 'transaction',
    entry: entries.map((e, i) => ({
      fullUrl: `urn:uuid:${uuidFrom(`entry ${i}`)}`,
      request: { method: 'POST', url: e.resource.resourceType, ifNoneExist: `identifier=https://a.example/id%7C${e.resource.identifier?.[0].value}` },
      ...e,
    })),
  };
}

before(async () => {
  core.indexStructureDefinitionBundle(structureDefinitions());
  server = start('record-server.mjs', ['--port', '0', '--port-file', portFile, '--log', logFile]);
  const deadline = Date.now() + 30_000;
  while (!existsSync(portFile)) {
    if (server.exitCode !== null || Date.now() > deadline) throw new Error((await server.finished).output);
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
  base = `http://127.0.0.1:${readFileSync(portFile, 'utf8').trim()}`;
});

beforeEach(async () => {
  await call('POST', '/$test/reset', {});
  const seeded = await call('POST', '/', makePatients(3));
  assert.deepEqual(statuses(seeded), [201, 201, 201]);
});

after(() => {
  if (server.exitCode === null) server.kill('SIGKILL');
  rmSync(folder, { recursive: true, force: true });
});

test('what the server says of itself and its answers are valid FHIR', async () => {
  const { body } = await call('GET', '/metadata');
  assert.equal(body.fhirVersion, '4.0.1');
  assert.ok(body.rest[0].resource.find((r) => r.type === 'Observation').searchParam.some((p) => p.name === 'identifier'));
  const posted = await call('POST', '/', makeBundle(0, { readings: 8 }));
  const found = await call('GET', '/Observation?_count=3');
  const history = await call('GET', `/${posted.body.entry[1].response.location.split('/_history')[0]}/_history`);
  for (const resource of [body, posted.body, found.body, history.body]) core.validateResource(resource);
});

test('a bundle posted twice is stored once, whichever way its conditions are encoded', async () => {
  const bundle = makeBundle(0);
  const first = await call('POST', '/', bundle);
  assert.equal(first.status, 200);
  assert.ok(statuses(first).every((s) => s === 201));
  const stored = await counts();
  assert.ok(statuses(await call('POST', '/', bundle)).every((s) => s === 200));
  const plain = JSON.stringify(bundle).replaceAll('%7C', '|');
  assert.notEqual(plain, JSON.stringify(bundle));
  assert.ok(statuses(await call('POST', '/', plain)).every((s) => s === 200));
  assert.deepEqual(await counts(), stored);
  assert.deepEqual((await call('GET', '/$test/doubles')).body, []);
});

test('a plain | works for the first post too, and under /fhir', async () => {
  const bundle = makeBundle(1, { separator: '|' });
  for (const e of bundle.entry) e.request.ifNoneExist = e.request.ifNoneExist.replace('%7C', '|');
  assert.ok(statuses(await call('POST', '/fhir', bundle)).includes(201));
  assert.ok(statuses(await call('POST', '/fhir/', bundle)).every((s) => s === 200));
});

test('links inside the bundle and to patients become literal', async () => {
  const answer = await call('POST', '/', makeBundle(2, { readings: 8 }));
  const patient = (await call('GET', `/Patient?identifier=${nhsNumber}|${patientNumber(2)}`)).body.entry[0].resource;
  const all = (await call('GET', `/Observation?subject=Patient/${patient.id}`)).body;
  assert.equal(all.total, 13);
  assert.ok(all.entry.every((e) => e.resource.subject.reference === `Patient/${patient.id}`));
  assert.ok(!JSON.stringify(all).includes('urn:uuid'));
  assert.match(answer.body.entry[0].response.location, /^Device\/[^/]+\/_history\/1$/);
  assert.equal(answer.body.entry[0].response.etag, 'W/"1"');
});

test('a condition without a match names its entry and nothing is stored', async () => {
  const before = await counts();
  const subject = { reference: `Patient?identifier=${nhsNumber}%7C0000000000` };
  const answer = await call('POST', '/', transaction({ resource: observation('a') }, { resource: observation('b', { subject }) }));
  assert.equal(answer.status, 400);
  assert.match(issueText(answer), /0000000000/);
  assert.deepEqual(answer.body.issue[0].expression, ['Bundle.entry[1].resource.subject.reference']);
  assert.deepEqual(await counts(), before);
});

test('a condition with several matches is 412 and nothing is stored', async () => {
  const twin = makePatients(1).entry[0].resource;
  assert.equal((await call('POST', '/Patient', twin)).status, 201);
  const before = await counts();
  const answer = await call('POST', '/', transaction({ resource: observation('a', { subject: subjectOf(0) }) }));
  assert.equal(answer.status, 412);
  assert.deepEqual(await counts(), before);
  assert.equal((await call('GET', '/$test/doubles')).body.length, 1);
});

test('a patient created in the same transaction can be meant by a condition', async () => {
  const patient = makePatients(5).entry[4];
  const answer = await call('POST', '/', transaction(patient, { resource: observation('a', { subject: subjectOf(4) }) }));
  assert.deepEqual(statuses(answer), [201, 201]);
});

for (const [name, broken, pattern] of [
  ['a urn:uuid without entry', observation('b', { derivedFrom: [{ reference: `urn:uuid:${uuidFrom('nobody')}` }] }), /urn:uuid/],
  ['a literal reference to nothing', observation('b', { derivedFrom: [{ reference: 'Observation/nobody' }] }), /Observation\/nobody/],
  ['a missing code', { ...observation('b'), code: undefined }, /Bundle.entry\[1\].*required/i],
  ['an unknown member', observation('b', { leg: 'left' }), /leg/],
  ['a wrong reference target', observation('b', { device: subjectOf(0) }), /Patient/],
]) {
  test(`${name} fails the whole transaction`, async () => {
    const before = await counts();
    const answer = await call('POST', '/', transaction({ resource: observation('a') }, { resource: broken }));
    assert.equal(answer.status, 400, issueText(answer));
    assert.match(issueText(answer), pattern);
    assert.deepEqual(await counts(), before);
  });
}

test('two entries with one identity, and two with one fullUrl, are refused', async () => {
  const same = transaction({ resource: observation('a') }, { resource: observation('a') });
  assert.equal((await call('POST', '/', same)).status, 400);
  const urls = transaction({ resource: observation('a') }, { resource: observation('b') });
  urls.entry[1].fullUrl = urls.entry[0].fullUrl;
  assert.equal((await call('POST', '/', urls)).status, 400);
});

test('an ifNoneExist that holds more than a query, or nothing, is refused', async () => {
  for (const ifNoneExist of ['Observation?identifier=a', '?identifier=a', '_count=1', 'identifer=a']) {
    const bundle = transaction({ resource: observation('a') });
    bundle.entry[0].request.ifNoneExist = ifNoneExist;
    const answer = await call('POST', '/', bundle);
    assert.ok(answer.status >= 400 && answer.status < 500, ifNoneExist);
  }
});

test('a batch keeps what is good', async () => {
  const bundle = { ...transaction({ resource: observation('a') }, { resource: { ...observation('b'), status: undefined } }), type: 'batch' };
  const answer = await call('POST', '/', bundle);
  assert.equal(answer.status, 200);
  assert.equal(answer.body.type, 'batch-response');
  assert.deepEqual(statuses(answer), [201, 400]);
  assert.equal((await counts()).Observation, 1);
});

test('conditional create by header', async () => {
  const headers = { 'If-None-Exist': 'identifier=https://a.example/id%7Ca' };
  assert.equal((await call('POST', '/Observation', observation('a'), headers)).status, 201);
  const again = await call('POST', '/Observation', observation('a'), headers);
  assert.equal(again.status, 200);
  assert.match(again.headers.get('location'), /\/Observation\/[^/]+\/_history\/1$/);
  assert.equal((await call('POST', '/Observation', observation('a'))).status, 201);
  assert.equal((await call('POST', '/Observation', observation('a'), headers)).status, 412);
});

test('conditional update', async () => {
  const url = '/Observation?identifier=https://a.example/id%7Ca';
  assert.equal((await call('PUT', url, observation('a'))).status, 201);
  const updated = await call('PUT', url, observation('a', { status: 'corrected' }));
  assert.equal(updated.status, 200);
  assert.equal(updated.headers.get('etag'), 'W/"2"');
  await call('POST', '/Observation', observation('a'));
  assert.equal((await call('PUT', url, observation('a'))).status, 412);
});

test('conditional update in a transaction', async () => {
  const entry = (status) => ({ resource: observation('a', { status }), request: { method: 'PUT', url: 'Observation?identifier=https://a.example/id%7Ca' } });
  assert.deepEqual(statuses(await call('POST', '/', transaction(entry('final')))), [201]);
  const second = await call('POST', '/', transaction(entry('corrected')));
  assert.deepEqual(statuses(second), [200]);
  assert.equal(second.body.entry[0].response.etag, 'W/"2"');
});

test('versions, If-Match and history', async () => {
  const made = (await call('POST', '/Observation', { ...observation('a'), id: 'mine', meta: { versionId: '7', lastUpdated: '2001-01-01T00:00:00Z' } })).body;
  assert.notEqual(made.id, 'mine');
  assert.equal(made.meta.versionId, '1');
  assert.ok(made.meta.lastUpdated > '2020');
  const url = `/Observation/${made.id}`;
  assert.equal((await call('PUT', url, { ...made, status: 'corrected' }, { 'If-Match': 'W/"1"' })).status, 200);
  assert.equal((await call('PUT', url, made, { 'If-Match': 'W/"1"' })).status, 412);
  assert.equal((await call('PUT', url, { ...made, id: 'other' })).status, 400);
  assert.equal((await call('GET', `${url}/_history/1`)).body.status, 'final');
  for (let i = 0; i < 2; i++) {
    const { body } = await call('GET', `${url}/_history`);
    assert.deepEqual(body.entry.map((e) => e.resource.meta.versionId), ['2', '1']);
  }
  assert.equal((await call('DELETE', url)).status, 204);
  assert.equal((await call('DELETE', url)).status, 204);
  assert.equal((await call('GET', url)).status, 410);
  assert.equal((await call('GET', '/Observation/none')).status, 404);
});

test('a PUT under an id of the client creates, then updates', async () => {
  const id = uuidFrom('p');
  const entry = { resource: { ...observation('a'), id }, request: { method: 'PUT', url: `Observation/${id}` } };
  await call('POST', '/', transaction(entry));
  const again = await call('POST', '/', transaction(entry));
  assert.deepEqual(statuses(again), [200]);
  assert.equal((await counts()).Observation, 1);
  assert.equal((await call('PUT', '/Observation/other-id', { ...observation('b'), id: 'other-id' })).status, 201);
});

test('searches', async () => {
  await call('POST', '/', makeBundle(0, { readings: 8 }));
  await call('POST', '/', makeBundle(1, { readings: 8 }));
  const patient = (await call('GET', `/Patient?identifier=${patientNumber(0)}`)).body.entry[0].resource;
  const some = (await call('GET', '/Observation?_count=1')).body.entry[0].resource;
  const { system, value } = some.identifier[0];
  const coding = some.code.coding[0];
  const total = async (query) => {
    const answer = await call('GET', `/${query}`);
    assert.equal(answer.status, 200, query);
    return answer.body.total;
  };
  assert.equal(await total(`Observation?identifier=${system}|${value}`), 1);
  assert.equal(await total(`Observation?identifier=${encodeURIComponent(`${system}|${value}`)}`), 1);
  assert.equal(await total(`Observation?identifier=${value}`), 1);
  assert.equal(await total(`Observation?identifier=${value.toUpperCase()}`), 0);
  assert.equal(await total(`Observation?identifier=${system}|`), 26);
  assert.equal(await total(`Observation?subject=Patient/${patient.id}`), 13);
  assert.equal(await total(`Observation?patient=Patient/${patient.id}`), 13);
  assert.equal(await total(`Observation?patient=${patient.id}`), 13);
  assert.equal(await total(`Observation?patient=${patient.id}&code=${coding.system}|${coding.code}`), 1);
  assert.equal(await total(`Observation?code=${coding.code}`), 2);
  assert.equal(await total('Observation?status=final&category=exam&date=ge2025-11-24&_summary=count'), 26);
  assert.equal(await total('Observation?date=lt2025-11-24'), 0);
  assert.equal(await total(`Observation?_id=${some.id}`), 1);
  assert.equal(await total('Provenance?_tag=https://footbridge.example/id/provenance|'), 2);
  const counted = (await call('GET', '/Observation?_summary=count')).body;
  assert.equal(counted.entry, undefined);
  const page = (await call('GET', '/Observation?_count=10')).body;
  assert.equal(page.entry.length, 10);
  assert.equal(page.entry[0].search.mode, 'match');
  assert.equal(page.entry[0].fullUrl, `${base}/Observation/${page.entry[0].resource.id}`);
  const next = page.link.find((l) => l.relation === 'next').url.slice(base.length);
  assert.equal((await call('GET', next)).body.entry.length, 10);
  const form = await call('POST', '/Observation/_search', `identifier=${encodeURIComponent(`${system}|${value}`)}`, { 'Content-Type': 'application/x-www-form-urlencoded' });
  assert.equal(form.body.total, 1);
  for (const query of ['Observation?colour=red', 'Observation?value-quantity=5', 'Observation?subject.name=a', 'Observation?_has:x:y=1',
    'Observation?subject:identifier=a', 'Observation?code:text=a', 'Observation?identifier=', 'Provenance?identifier=a', 'Nothing?a=b']) {
    const answer = await call('GET', `/${query}`);
    assert.ok(answer.status === 400 || answer.status === 404, `${query} answered ${answer.status}`);
    assert.equal(answer.body.resourceType, 'OperationOutcome');
  }
});

test('bad requests', async () => {
  const expect = async (status, ...args) => assert.equal((await call(...args)).status, status);
  await expect(400, 'POST', '/', '{"resourceType":"Bundle"');
  await expect(400, 'POST', '/', Buffer.from([0x7b, 0x22, 0xff, 0x22, 0x7d]));
  await expect(400, 'POST', '/', { resourceType: 'Bundle', type: 'collection' });
  await expect(400, 'POST', '/', 'null');
  await expect(400, 'POST', '/Observation', makePatients(1).entry[0].resource);
  await expect(400, 'POST', '/Observation', observation('a', { subject: subjectOf(0) }));
  await expect(415, 'POST', '/', '<Bundle/>', { 'Content-Type': 'application/fhir+xml' });
  await expect(415, 'POST', '/', 'x', { 'Content-Encoding': 'gzip' });
  await expect(406, 'GET', '/metadata', undefined, { Accept: 'application/fhir+xml' });
  await expect(404, 'GET', '/Leg/1');
});

test('Prefer is honoured', async () => {
  const bundle = makeBundle(0, { readings: 8 });
  const whole = await call('POST', '/', bundle, { Prefer: 'return=representation' });
  assert.ok(whole.body.entry.every((e) => e.resource.id));
  assert.ok(!JSON.stringify(whole.body).includes('Patient?'));
  const least = await call('POST', '/', bundle, { Prefer: 'return=minimal' });
  assert.ok(least.body.entry.every((e) => !e.resource && !e.response.outcome));
  assert.equal((await call('POST', '/Observation', observation('a'), { Prefer: 'return=minimal' })).body, null);
});

test('faults on request: an unavailable server, and an answer lost after the commit', async () => {
  const bundle = makeBundle(0, { readings: 8 });
  await call('POST', '/$test/fault', { status: 503, headers: { 'Retry-After': '1' } });
  const busy = await call('POST', '/', bundle);
  assert.equal(busy.status, 503);
  assert.equal(busy.headers.get('retry-after'), '1');
  assert.equal((await counts()).Observation, undefined);
  await call('POST', '/$test/fault', { drop: true, commit: true });
  await assert.rejects(call('POST', '/', bundle));
  assert.equal((await counts()).Observation, 13);
  assert.ok(statuses(await call('POST', '/', bundle)).every((s) => s === 200));
});

test('the log holds the hash of what was sent', async () => {
  const body = JSON.stringify(makeBundle(0, { readings: 8 }));
  await call('POST', '/', body);
  const last = JSON.parse(readFileSync(logFile, 'utf8').trim().split('\n').at(-1));
  assert.equal(last.method, 'POST');
  assert.equal(last.status, 200);
  assert.equal(last.body_bytes, Buffer.byteLength(body));
  assert.equal(last.body_sha256, createHash('sha256').update(body).digest('hex'));
});

test('many posts of one bundle at once make no doubles', async () => {
  const bundle = makeBundle(0, { readings: 8 });
  await Promise.all(Array.from({ length: 5 }, () => call('POST', '/', bundle)));
  assert.equal((await counts()).Observation, 13);
  assert.deepEqual((await call('GET', '/$test/doubles')).body, []);
});

test('the round trip sees what is missing, different and doubled', async () => {
  const bundles = [0, 1, 2].map((n) => makeBundle(n, { readings: 8 }));
  const file = path.join(folder, 'bundles.ndjson');
  const patients = path.join(folder, 'patients.json');
  writeFileSync(file, bundles.map((b) => `${JSON.stringify(b)}\n`).join(''));
  writeFileSync(patients, JSON.stringify(makePatients(3)));
  const check = () => run('roundtrip.mjs', ['--base', base, '--bundles', file, '--patients', patients]);

  assert.match((await check()).output, /observations 0 arrived, 39 missing, 0 different, 0 doubled/);
  for (const bundle of bundles) await call('POST', '/', bundle);
  const good = await check();
  assert.equal(good.code, 0, good.output);
  assert.match(good.output, /observations 39 arrived, 0 missing, 0 different, 0 doubled/);

  const found = (await call('GET', '/Observation?code=systolic-0')).body.entry.map((e) => e.resource);
  const [a, b, c] = found;
  await call('PUT', `/Observation/${a.id}`, { ...a, valueQuantity: { ...a.valueQuantity, value: 99 } });
  await call('POST', '/Observation', b);
  await call('PUT', `/Observation/${c.id}`, { ...c, subject: a.subject });
  const bad = await check();
  assert.equal(bad.code, 1);
  assert.match(bad.output, /observations 39 arrived, 0 missing, 2 different, 1 doubled/);
});

test('the units check', async () => {
  const ucum = async (input) => {
    const child = spawn(process.execPath, [path.join(here, 'ucum.mjs')], { stdio: ['pipe', 'ignore', 'inherit'] });
    child.stdin.end(input);
    return new Promise((resolve) => child.on('close', resolve));
  };
  assert.equal(await ucum('mm[Hg]\n1\n132 mm[Hg] kPa 17.598504\n132 mm[Hg] kPa 17.60\n'), 0);
  assert.equal(await ucum('mmHg\n'), 1);
  assert.equal(await ucum('132 mm[Hg] kPa 17.61\n'), 1);
  assert.equal(await ucum(''), 1);
});

test('SIGTERM ends the server cleanly', async () => {
  server.kill('SIGTERM');
  assert.equal((await server.finished).code, 0);
});

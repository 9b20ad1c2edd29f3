// Access tokens against an OAuth server that shares no code with Footbridge: oidc-provider gives them out,
// jose reads our key sets, and a record server behind it takes no request without one.
//
//   node auth-check.mjs --program FOOTBRIDGE
import { spawn } from 'node:child_process';
import { randomBytes } from 'node:crypto';
import { chmodSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import http from 'node:http';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { packageFile, readArguments, done, expect } from './peer.mjs';

const load = (name, file) => import(pathToFileURL(packageFile(name, file)));
const { default: Provider } = await load('oidc-provider', 'lib/index.js');
const jose = await load('jose', 'dist/node/esm/index.js');

const { options } = readArguments(process.argv.slice(2), { withValue: ['program'] });
const here = path.dirname(fileURLToPath(import.meta.url));
const top = path.join(here, '..', '..', '..');
const work = mkdtempSync(path.join(tmpdir(), 'auth-'));
const children = [];
process.on('exit', () => {
  for (const child of children) child.kill();
  rmSync(work, { recursive: true, force: true });
});


let said = ''; // all that the program printed, to be searched for secrets at the end
function run(...args) {
  return new Promise((resolve) => {
    const child = spawn(path.resolve(options.program), args, { cwd: work, env: { ...process.env, HOME: work } });
    let out = '';
    let err = '';
    child.stdout.on('data', (data) => (out += data));
    child.stderr.on('data', (data) => (err += data));
    child.on('close', (code) => {
      if (args[0] !== 'keys') said += out + err;
      resolve({ code, out, err, all: out + err });
    });
  });
}

// ---- keys ----------------------------------------------------------------------

const dir = (name) => path.join(work, name);
async function keys(name, kind) {
  const made = await run('keys', 'new', '--dir', dir(name), '--kind', kind);
  expect(made.code === 0, `keys new ${kind}`, made.err);
  return JSON.parse((await run('keys', 'publish', '--dir', dir(name))).out);
}
const sets = { ec: await keys('ec', 'ec'), rsa: await keys('rsa', 'rsa'), stranger: await keys('stranger', 'ec') };
for (const name of ['ec', 'rsa']) {
  const [jwk] = sets[name].keys;
  expect((await jose.calculateJwkThumbprint(jwk, 'sha256')) === jwk.kid, `the kid of ${name} is the thumbprint (RFC 7638)`);
  expect(jwk.d === undefined && jwk.p === undefined, `the set of ${name} holds nothing secret`);
}
expect((await run('keys', 'new', '--dir', dir('ec'))).code === 2, 'keys new leaves a folder with keys alone');
const rotation = await run('keys', 'rotate', '--dir', dir('ec'));
const nextKid = rotation.out.trim();
const both = JSON.parse((await run('keys', 'publish', '--dir', dir('ec'))).out);
expect(both.keys.length === 2 && both.keys.some((key) => key.kid === nextKid), 'after rotate both keys are published');
sets.ec = both;

// ---- servers ---------------------------------------------------------------------

const seen = { assertions: [], tokens: [], token: 0, refuseOnce: false };
const secret = randomBytes(24).toString('hex');
const scopes = 'system/Patient.rs system/Observation.crus system/DiagnosticReport.crus system/Device.crus system/Provenance.crus';

function client(id, extra) {
  return {
    client_id: id, grant_types: ['client_credentials'], redirect_uris: [], response_types: [], scope: scopes, ...extra,
  };
}
const signed = (id, set, alg) => client(id, {
  token_endpoint_auth_method: 'private_key_jwt', token_endpoint_auth_signing_alg: alg, jwks: set,
});

const front = http.createServer();
await new Promise((ready) => front.listen(0, '127.0.0.1', ready));
const origin = `http://127.0.0.1:${front.address().port}`;
const provider = new Provider(origin, {
  clients: [
    signed('clinic-ec', sets.ec, 'ES384'), signed('clinic-rsa', sets.rsa, 'RS384'), signed('clinic-512', sets.rsa, 'RS512'),
    client('clinic-basic', { token_endpoint_auth_method: 'client_secret_basic', client_secret: secret }),
    client('clinic-post', { token_endpoint_auth_method: 'client_secret_post', client_secret: secret }),
  ],
  features: { clientCredentials: { enabled: true }, devInteractions: { enabled: false } },
  scopes: [...scopes.split(' '), 'system/Nothing.c'], // the last is not registered for any client
  clientAuthMethods: ['private_key_jwt', 'client_secret_basic', 'client_secret_post'],
  enabledJWA: { clientAuthSigningAlgValues: ['RS384', 'RS512', 'ES384'] },
  ttl: { ClientCredentials: 300 },
});

const portFile = path.join(work, 'port');
children.push(spawn(process.execPath, [path.join(here, 'record-server.mjs'), '--port', '0', '--port-file', portFile], { stdio: 'ignore' }));
let recordPort = '';
for (let i = 0; i < 300 && !recordPort; i++) {
  await new Promise((next) => setTimeout(next, 100));
  try { recordPort = readFileSync(portFile, 'utf8').trim(); } catch { /* not there yet */ }
}

async function textOf(stream) {
  const parts = [];
  for await (const part of stream) parts.push(part);
  return Buffer.concat(parts).toString();
}

const allowed = async (request) => {
  const token = (request.headers.authorization ?? '').replace(/^Bearer /, '');
  if (!token || !(await provider.ClientCredentials.find(token))) return false;
  if (seen.refuseOnce) {
    seen.refuseOnce = false;
    return false;
  }
  return true;
};

const configuration = () => JSON.stringify({
  token_endpoint: seen.elsewhere ?? `${origin}/token`, token_endpoint_auth_methods_supported: ['private_key_jwt'],
  token_endpoint_auth_signing_alg_values_supported: ['RS384', 'ES384'], grant_types_supported: ['client_credentials'],
  scopes_supported: scopes.split(' '), capabilities: ['client-confidential-asymmetric'],
});

front.on('request', async (request, response) => {
  if (request.url === '/fhir/.well-known/smart-configuration') return response.setHeader('Content-Type', 'application/json').end(configuration());
  if (request.url.startsWith('/fhir')) {
    if (request.url !== '/fhir/metadata' && !(await allowed(request))) {
      response.statusCode = 401;
      return response.end();
    }
    const { authorization, ...headers } = request.headers;
    const onward = http.request({ port: recordPort, host: '127.0.0.1', method: request.method, path: request.url.slice(5) || '/', headers }, (answer) => {
      response.writeHead(answer.statusCode, answer.headers);
      answer.pipe(response);
    });
    return request.pipe(onward);
  }
  if (request.url === '/token') {
    seen.token++;
    const body = await textOf(request);
    request.body = Object.fromEntries(new URLSearchParams(body)); // read once: the library takes it from here
    if (request.body.client_assertion) seen.assertions.push(request.body.client_assertion);
    if (seen.brokenToken) {
      response.statusCode = 503;
      return response.end('<html>busy</html>');
    }
  }
  return provider.callback()(request, response);
});
provider.on('client_credentials.saved', (token) => seen.tokens.push(token.jti));

// ---- the program against them ----------------------------------------------------

const visits = ['01', '02', '03', '04', '05', '06'];
const example = (n) => path.join(top, 'examples', 'clinic', fileOf(n));
function fileOf(n) {
  return names.find((name) => name.startsWith(n));
}
const names = readdirSync(path.join(top, 'examples', 'clinic')).sort();

async function deployment(name, auth) {
  const file = path.join(work, `${name}.toml`);
  writeFileSync(file, `data = "${name}-data"\n[destinations.gp]\nkind = "server"\nbase = "${origin}/fhir"\nbackoff_milliseconds = [50]\n[destinations.gp.auth]\n${auth}\n`);
  return file;
}
const patients = path.join(work, 'patients.ndjson');
writeFileSync(patients, `${JSON.stringify(JSON.parse(readFileSync(path.join(top, 'examples', 'patients.json'), 'utf8')))}\n`);
const posted = await run('post', '--base', `http://127.0.0.1:${recordPort}`, patients);
expect(posted.code === 0, 'the patients are in the record', posted.err);

const secretFile = path.join(work, 'secret');
writeFileSync(secretFile, `${secret}\n`);
chmodSync(secretFile, 0o600);
const ways = {
  ec: `client = "clinic-ec"\nkeys = "${dir('ec')}"`,
  rsa: `client = "clinic-rsa"\nkeys = "${dir('rsa')}"`,
  rs512: `client = "clinic-512"\nkeys = "${dir('rsa')}"\nalgorithm = "RS512"`,
  basic: `client = "clinic-basic"\nsecret_file = "${secretFile}"`,
  post: `client = "clinic-post"\nsecret_file = "${secretFile}"\nsecret_in = "body"`,
  pinned: `client = "clinic-ec"\nkeys = "${dir('ec')}"\ntoken_url = "${origin}/token"`,
};
for (const [name, auth] of Object.entries(ways)) {
  const config = await deployment(name, auth);
  const probe = await run('probe', '--to', 'gp', '--config', config, '--token');
  expect(probe.code === 0 && /300 seconds/.test(probe.all) && /system\/Observation\.crus/.test(probe.all), `probe gets a token: ${name}`, probe.all);
  const before = seen.token;
  const sent = await run('send', '--to', 'gp', '--config', config, ...visits.map(example));
  expect(sent.code === 0, `send with a token: ${name}`, sent.err);
  expect(seen.token === before + 1, `one token for six bundles side by side: ${name}`, `${seen.token - before} were asked for`);
}

// Every assertion is one that a strict reader takes, and none is used twice.
const jtis = new Set();
for (const each of seen.assertions) {
  const kid = jose.decodeProtectedHeader(each).kid;
  const jwk = [...sets.ec.keys, ...sets.rsa.keys].find((key) => key.kid === kid);
  try {
    const { payload, protectedHeader } = await jose.jwtVerify(each, await jose.importJWK(jwk, jose.decodeProtectedHeader(each).alg), { audience: `${origin}/token`, maxTokenAge: '5m', requiredClaims: ['iss', 'sub', 'jti', 'exp', 'aud'] });
    expect(payload.iss === payload.sub && payload.exp - payload.iat <= 300 && protectedHeader.typ === 'JWT' && !jtis.has(payload.jti), 'an assertion as SMART wants it');
    jtis.add(payload.jti);
  } catch (error) {
    expect(false, 'an assertion that jose verifies', error.message);
  }
}
expect(jtis.size > 6, 'assertions were seen');

// A token that the record does not take is renewed once.
let config = await deployment('renewed', ways.ec);
let before = seen.token;
seen.refuseOnce = true;
let sent = await run('send', '--to', 'gp', '--config', config, example('07'));
expect(sent.code === 0 && seen.token === before + 2, 'a 401 renews the token once', `${sent.err} ${seen.token - before}`);

// The other key signs after --use; the old one can then go.
const oldKid = both.keys.map((key) => key.kid).find((kid) => kid !== nextKid);
expect((await run('keys', 'rotate', '--dir', dir('ec'), '--retire', oldKid)).code === 2, 'the key that signs cannot be retired');
expect((await run('keys', 'rotate', '--dir', dir('ec'), '--use', nextKid)).code === 0, 'the next key signs');
expect((await run('keys', 'rotate', '--dir', dir('ec'), '--retire', oldKid)).code === 0, 'the old key goes');
sent = await run('send', '--to', 'gp', '--config', await deployment('rotated', ways.ec), example('08'));
expect(sent.code === 0 && jose.decodeProtectedHeader(seen.assertions.at(-1)).kid === nextKid, 'send signs with the next key', sent.err);

// What a person has to mend is said, and nothing is lost.
async function refused(name, auth, words) {
  const file = await deployment(name, auth);
  const out = await run('send', '--to', 'gp', '--config', file, example('09'));
  expect(out.code === 1 && words.test(out.all), `${name}: said`, out.all);
  const list = await run('outbox', 'list', '--config', file, '--json');
  expect(JSON.parse(list.out.trim().split('\n')[0]).state === 'ready', `${name}: the bundle stays ready`, list.all);
  return file;
}
await refused('a key that is not registered', `client = "clinic-rsa"\nkeys = "${dir('stranger')}"`, /invalid_client|not of the kind/);
await refused('a client that is not known', `client = "nobody"\nkeys = "${dir('stranger')}"`, /invalid_client/);
await refused('a scope that is not registered', `${ways.ec}\nscopes = "system/Nothing.c"`, /invalid_scope/);
await refused('an algorithm that the key cannot do', `client = "clinic-ec"\nkeys = "${dir('ec')}"\nalgorithm = "RS384"`, /not of the kind/);
chmodSync(secretFile, 0o644);
sent = await run('send', '--to', 'gp', '--config', await deployment('open', ways.basic), example('09'));
expect(sent.code === 2 && /chmod 600/.test(sent.all), 'a secret that others may read is refused before anything is taken in', sent.all);
chmodSync(secretFile, 0o600);
chmodSync(path.join(dir('rsa'), `${sets.rsa.keys[0].kid}.pem`), 0o640);
await refused('a key that others may read', ways.rsa, /chmod 600/);
chmodSync(path.join(dir('rsa'), `${sets.rsa.keys[0].kid}.pem`), 0o600);
seen.elsewhere = 'https://tokens.example/token';
await refused('a secret is not sent to another host unasked', ways.basic, /another host/);
delete seen.elsewhere;

// A token endpoint that is busy is tried again.
seen.brokenToken = true;
setTimeout(() => { seen.brokenToken = false; }, 400);
before = seen.token;
sent = await run('send', '--to', 'gp', '--config', await deployment('busy', ways.rsa), example('10'));
expect(sent.code === 0 && seen.token - before >= 2, 'a busy token endpoint is asked again', sent.err);

// Keys of a configuration that do not fit together.
for (const [name, auth, words] of [
  ['neither keys nor secret', 'client = "x"', /either keys or secret_file/],
  ['both', `client = "x"\nkeys = "${dir('ec')}"\nsecret_file = "${secretFile}"`, /either keys or secret_file/],
  ['no client', `keys = "${dir('ec')}"`, /needs client/],
  ['plain http to another host', `${ways.ec}\ntoken_url = "http://tokens.example/"`, /https/],
  ['plain http to a host that only begins like this machine', `${ways.ec}\ntoken_url = "http://localhost.example/"`, /https/],
  ['an unknown key', `${ways.ec}\nscope = "x"`, /scopes/],
]) {
  const out = await run('probe', '--to', 'gp', '--config', await deployment('wrong', auth));
  expect(out.code === 2 && words.test(out.all), `configuration: ${name}`, out.all);
}

const leaks = [...seen.tokens, ...seen.assertions, secret].filter((each) => said.includes(each));
expect(seen.tokens.length > 6 && leaks.length === 0, 'no token, assertion or secret was printed', `${leaks.length} were`);

done();

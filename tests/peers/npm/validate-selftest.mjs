// Proves that validate.mjs finds what it claims to find: each variant breaks one thing
// in a valid bundle, and must be reported by the source named beside it.
import { makeBundle, uuidFrom } from './sample.mjs';

const shape = { readings: 10 };
const observation = (b, n = 0) => b.entry.filter((e) => e.resource.resourceType === 'Observation')[n].resource;
const first = (b, type) => b.entry.find((e) => e.resource.resourceType === type).resource;
const withComponent = (b) => b.entry.find((e) => e.resource.component).resource;
const withRange = (b) => b.entry.find((e) => e.resource.referenceRange).resource;
const interpreted = (b) => b.entry.find((e) => e.resource.interpretation).resource;
const absent = (b) => b.entry.find((e) => e.resource.dataAbsentReason).resource;
const compared = (b) => b.entry.find((e) => e.resource.valueQuantity?.comparator).resource;
const derived = (b) => b.entry.find((e) => e.resource.derivedFrom).resource;

const edits = [
  // structure
  ['a required element is missing', 'medplum', (b) => delete observation(b).status],
  ['the code is missing', 'medplum', (b) => delete observation(b).code],
  ['a single value where a list is due', 'medplum', (b) => (observation(b).category = observation(b).category[0])],
  ['a list where a single value is due', 'medplum', (b) => (observation(b).code = [observation(b).code])],
  ['an unknown member', 'schema', (b) => (observation(b).leg = 'left')],
  ['an unknown member deep inside', 'schema', (b) => (observation(b).code.coding[0].name = 'x')],
  ['a number as text', 'schema', (b) => (observation(b).valueQuantity.value = '100')],
  ['a text as number', 'schema', (b) => (observation(b).code.text = 8480)],
  ['a concept as text', 'schema', (b) => (observation(b).code = 'x')],
  ['an unknown resource type', 'own', (b) => (observation(b).resourceType = 'Observations')],
  ['two values at once', 'medplum', (b) => (observation(b).valueString = '100')],
  ['an upper-case boolean', 'schema', (b) => (first(b, 'Device').text.status = true)],
  // primitives
  ['a date with the wrong form', 'schema', (b) => (observation(b).effectiveDateTime = '24/11/2025')],
  ['a month that is not', 'schema', (b) => (observation(b).effectiveDateTime = '2025-13-01')],
  ['the 30th of February', 'own', (b) => (observation(b).effectiveDateTime = '2025-02-30T09:00:00Z')],
  ['the 29th of February in a common year', 'own', (b) => (observation(b).effectiveDateTime = '2023-02-29')],
  ['a time without zone', 'own', (b) => (observation(b).effectiveDateTime = '2025-11-24T09:00:00')],
  ['an instant without time', 'medplum', (b) => (observation(b).issued = '2025-11-24')],
  ['a year out of reach', 'own', (b) => (observation(b).effectiveDateTime = '1025-11-24T09:00:00Z')],
  ['an identifier system with a blank', 'schema', (b) => (observation(b).identifier[0].system = 'https://a b')],
  ['a relative identifier system', 'own', (b) => (observation(b).identifier[0].system = 'observation')],
  ['white space at the end of a text', 'own', (b) => (observation(b).code.text += ' ')],
  // required and other bindings
  ['a status that is none', 'schema', (b) => (observation(b).status = 'finished')],
  ['a report status that is none', 'terminology', (b) => (first(b, 'DiagnosticReport').status = 'done')],
  ['a comparator that is none', 'terminology', (b) => (compared(b).valueQuantity.comparator = '>>')],
  ['a narrative status that is none', 'terminology', (b) => (observation(b).text.status = 'made')],
  ['an identifier use that is none', 'terminology', (b) => (observation(b).identifier[0].use = 'main')],
  ['an entity role that is none', 'terminology', (b) => (first(b, 'Provenance').entity[0].role = 'origin')],
  ['a reason of absence that is none', 'terminology', (b) => (absent(b).dataAbsentReason.coding[0].code = 'not-done')],
  ['an interpretation that is none', 'terminology', (b) => (interpreted(b).interpretation[0].coding[0].code = 'LOW')],
  ['a category that is none', 'terminology', (b) => (observation(b).category[0].coding[0].code = 'examination')],
  ['a device name type that is none', 'terminology', (b) => (first(b, 'Device').deviceName[0].type = 'model')],
  ['an agent type that is none', 'terminology', (b) => (first(b, 'Provenance').agent[0].type.coding[0].code = 'writer')],
  ['a wrong display', 'terminology', (b) => (interpreted(b).interpretation[0].coding[0].display = 'High')],
  ['a code without system', 'terminology', (b) => delete observation(b).code.coding[0].system],
  ['a request method that is none', 'terminology', (b) => (b.entry[1].request.method = 'SEND')],
  // units
  ['mmHg for mm[Hg]', 'ucum', (b) => (observation(b).valueQuantity.code = 'mmHg')],
  ['an annotation for a unit', 'ucum', (b) => (derived(b).valueQuantity.code = '{ratio}')],
  ['a unit code without system', 'fhirpath', (b) => delete observation(b).valueQuantity.system],
  ['a component with a wrong unit', 'ucum', (b) => (withComponent(b).component[0].valueQuantity.code = 'torr')],
  ['a component without unit system', 'terminology', (b) => delete withComponent(b).component[0].valueQuantity.system],
  // invariants
  ['a reason of absence beside a value', 'fhirpath', (b) => (observation(b).dataAbsentReason = { text: 'x' })],
  ['an empty reference range', 'fhirpath', (b) => (withRange(b).referenceRange = [{ type: { text: 'x' } }])],
  ['a comparator in a reference range', 'own', (b) => (withRange(b).referenceRange[0].low.comparator = '<')],
  ['a range upside down', 'own', (b) => (withRange(b).referenceRange[0].low.value = 500)],
  ['a range upside down without units', 'own', (b) => (observation(b).referenceRange = [{ low: { value: 10 }, high: { value: 1 } }])],
  ['a period upside down', 'fhirpath', (b) => {
    const o = observation(b);
    delete o.effectiveDateTime;
    o.effectivePeriod = { start: '2025-11-24T10:00:00Z', end: '2025-11-24T09:00:00Z' };
  }],
  ['a component that repeats the code beside a value', 'fhirpath', (b) => {
    const o = observation(b);
    o.component = [{ code: o.code, valueQuantity: o.valueQuantity }];
  }],
  ['a contained resource nobody refers to', 'fhirpath', (b) => (observation(b).contained = [{ resourceType: 'Device', id: 'd' }])],
  ['a local reference to nothing', 'fhirpath', (b) => (observation(b).device = { reference: '#gone' })],
  ['an extension with value and children', 'fhirpath', (b) => {
    observation(b).extension = [{ url: 'https://a.example/x', valueString: 'x', extension: [{ url: 'y', valueString: 'z' }] }];
  }],
  ['a script in the narrative', 'fhirpath', (b) => (observation(b).text.div = '<div xmlns="http://www.w3.org/1999/xhtml"><script>x</script></div>')],
  ['a narrative that says nothing', 'own', (b) => (observation(b).text.div = '<div xmlns="http://www.w3.org/1999/xhtml"> </div>')],
  ['a narrative with a raw ampersand', 'own', (b) => (observation(b).text.div = '<div xmlns="http://www.w3.org/1999/xhtml">a & b</div>')],
  ['a narrative not well formed', 'own', (b) => (observation(b).text.div = '<div xmlns="http://www.w3.org/1999/xhtml"><p>a</div>')],
  ['a narrative without name space', 'own', (b) => (observation(b).text.div = '<div>a</div>')],
  ['no narrative', 'own', (b) => delete observation(b).text],
  ['a blood pressure code on a single reading', 'own', (b) => (observation(b).code.coding[0] = { system: 'http://loinc.org', code: '8480-6' })],
  // references
  ['a urn:uuid that no entry has', 'own', (b) => (derived(b).derivedFrom[0].reference = `urn:uuid:${uuidFrom('nothing')}`)],
  ['a reference to the wrong type', 'own', (b) => (observation(b).device = { reference: b.entry.at(-2).fullUrl })],
  ['a literal reference to the wrong type', 'medplum', (b) => (observation(b).device = { reference: 'Patient/1' })],
  ['a type that contradicts the reference', 'own', (b) => (observation(b).device.type = 'DeviceMetric')],
  ['a reference of no known form', 'own', (b) => (observation(b).subject.reference = '999 000')],
  ['a reference to nothing', 'own', (b) => (observation(b).performer = [{ type: 'Practitioner' }])],
  ['a second subject', 'own', (b) => (observation(b).subject = { reference: 'Patient?identifier=https://fhir.nhs.uk/Id/nhs-number%7C9990000099' })],
  // bundle
  ['a fullUrl twice', 'own', (b) => (b.entry[1].fullUrl = b.entry[2].fullUrl)],
  ['a fullUrl in upper case', 'own', (b) => {
    const old = b.entry[0].fullUrl;
    const raw = JSON.stringify(b).replaceAll(old, `urn:uuid:${old.slice(9).toUpperCase()}`);
    Object.assign(b, JSON.parse(raw));
  }],
  ['an entry without request', 'medplum', (b) => delete b.entry[1].request],
  ['an entry without ifNoneExist', 'own', (b) => delete b.entry[1].request.ifNoneExist],
  ['an ifNoneExist with the type in it', 'own', (b) => (b.entry[1].request.ifNoneExist = `Observation?${b.entry[1].request.ifNoneExist}`)],
  ['an ifNoneExist of another resource', 'own', (b) => (b.entry[1].request.ifNoneExist = b.entry[2].request.ifNoneExist)],
  ['an identifier twice', 'own', (b) => {
    b.entry[1].resource.identifier = b.entry[2].resource.identifier;
    b.entry[1].request.ifNoneExist = b.entry[2].request.ifNoneExist;
  }],
  ['a url of another type', 'own', (b) => (b.entry[1].request.url = 'Device')],
  ['a fullUrl as identifier', 'own', (b) => {
    b.entry[1].resource.identifier = [{ system: 'urn:ietf:rfc:3986', value: b.entry[1].fullUrl }];
  }],
  ['a collection', 'own', (b) => (b.type = 'collection')],
  // emptiness
  ['an empty object', 'own', (b) => (observation(b).bodySite = {})],
  ['an empty list', 'own', (b) => (observation(b).note = [])],
  ['an empty text', 'own', (b) => (observation(b).code.text = '')],
  ['a null', 'own', (b) => (observation(b).bodySite = null)],
  ['a null in a list', 'own', (b) => observation(b).performer.push(null)],
];

// Broken in ways that only the text shows.
const textEdits = [
  ['a member name twice', 'own', (t) => t.replace('"status":"final"', '"status":"final","status":"final"')],
  ['a member name twice, once escaped', 'own', (t) => t.replace('"status":"final"', '"status":"final","st\\u0061tus":"final"')],
  ['a decimal with exponent', 'own', (t) => t.replace('"value":100,', '"value":1e2,')],
  ['a decimal longer than a double keeps', 'own', (t) => t.replace('"value":100,', '"value":100.00000000000000001,')],
  ['a leading zero', 'own', (t) => t.replace('"value":100,', '"value":0100,')],
  ['half a file', 'own', (t) => t.slice(0, t.length / 2)],
];

// Legal though unusual; a report here would be a false alarm.
const validEdits = [
  ['as it is', () => {}],
  ['a plain | in the conditions', (b) => {
    for (const e of b.entry) e.request.ifNoneExist = e.request.ifNoneExist.replace('%7C', '|');
    for (const e of b.entry) if (e.resource.subject) e.resource.subject = { reference: e.resource.subject.reference.replace('%7C', '|') };
  }],
  ['a literal subject', (b) => {
    for (const e of b.entry) if (e.resource.subject) e.resource.subject = { reference: 'Patient/a1' };
  }],
  ['a logical subject', (b) => {
    const identifier = { system: 'https://fhir.nhs.uk/Id/nhs-number', value: '9990000018' };
    for (const e of b.entry) if (e.resource.subject) e.resource.subject = { type: 'Patient', identifier };
  }],
  ['a null that pads a primitive extension', (b) => {
    const device = first(b, 'Device');
    device.contact = [{ system: 'phone', value: '1' }];
    b.entry.push({
      fullUrl: `urn:uuid:${uuidFrom('extra')}`,
      resource: {
        resourceType: 'Patient',
        identifier: [{ system: 'https://a.example/id', value: '1' }],
        text: device.text,
        name: [{ given: ['A', null], _given: [null, { extension: [{ url: 'https://a.example/x', valueString: 'y' }] }] }],
      },
      request: { method: 'POST', url: 'Patient', ifNoneExist: 'identifier=https://a.example/id%7C1' },
    });
  }],
  ['a provenance by PUT under an id of the client', (b) => {
    const e = b.entry.at(-1);
    e.resource.id = uuidFrom('p');
    e.request = { method: 'PUT', url: `Provenance/${e.resource.id}` };
  }],
  ['a blood pressure panel', (b) => {
    const o = observation(b);
    const part = (code, value) => ({ code: { coding: [{ system: 'http://loinc.org', code }] }, ...value });
    o.code = { coding: [{ system: 'http://loinc.org', code: '85354-9' }] };
    o.category = [{ coding: [{ system: 'http://terminology.hl7.org/CodeSystem/observation-category', code: 'vital-signs' }] }];
    o.component = [
      part('8480-6', { valueQuantity: o.valueQuantity }),
      part('8462-4', { dataAbsentReason: { coding: [{ system: 'http://terminology.hl7.org/CodeSystem/data-absent-reason', code: 'not-performed' }] } }),
    ];
    delete o.valueQuantity;
    delete o.interpretation;
    delete o.referenceRange;
  }],
  ['a leap day', (b) => (observation(b).effectiveDateTime = '2024-02-29')],
  ['a period', (b) => {
    const o = observation(b);
    delete o.effectiveDateTime;
    o.effectivePeriod = { start: '2025-11-24T09:00:00+00:00', end: '2025-11-24T09:10:00+00:00' };
  }],
];

export function selftest(problemsOf) {
  let failures = 0;
  const say = (text) => process.stdout.write(`${text}\n`);
  const check = (text) => problemsOf(text, { invariants: true }).found;

  for (const [name, edit] of validEdits) {
    const bundle = makeBundle(1, shape);
    edit(bundle);
    const found = check(JSON.stringify(bundle));
    if (found.length > 0) {
      failures++;
      say(`FALSE ALARM ${name}`);
      for (const { path, source, message } of found.slice(0, 5)) say(`    ${path} [${source}] ${message}`);
    }
  }
  const broken = [
    ...edits.map(([name, source, edit]) => [name, source, () => {
      const bundle = makeBundle(1, shape);
      edit(bundle);
      return JSON.stringify(bundle);
    }]),
    ...textEdits.map(([name, source, edit]) => [name, source, () => edit(JSON.stringify(makeBundle(1, shape)))]),
  ];
  const valid = JSON.stringify(makeBundle(1, shape));
  for (const [name, source, make] of broken) {
    const text = make();
    const found = check(text);
    const sources = [...new Set(found.map((f) => f.source))];
    if (text === valid) {
      failures++;
      say(`NOT BROKEN  ${name}`);
    } else if (!sources.includes(source)) {
      failures++;
      say(`NOT FOUND   ${name}: by ${source}; found by ${sources.join(', ') || 'nobody'}`);
    } else {
      say(`found       ${name} (${sources.join(', ')})`);
    }
  }
  say(`selftest: ${validEdits.length} valid bundles, ${broken.length} broken ones, ${failures} failures`);
  return failures === 0;
}

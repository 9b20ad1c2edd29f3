// Holds schemas/assessment.schema.json against the examples, against small edits that must be refused,
// against the tables of mapping/, and against the keywords that every draft-04 validator understands.
//
//   node schema-check.mjs [--program FOOTBRIDGE] [--valid FILE.ndjson]
//
// With --program each edit is given to the program too: schema and program are written apart, and what
// the schema refuses the program has to refuse. --valid names assessments that the program has taken.
import { spawnSync } from 'node:child_process';
import { readFileSync, readdirSync } from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { terminology } from './definitions.mjs';
import { need, readArguments, done, expect } from './peer.mjs';

const { options } = readArguments(process.argv.slice(2), { withValue: ['program', 'valid'] });
const top = path.join(path.dirname(fileURLToPath(import.meta.url)), '..', '..', '..');
const fileText = (...parts) => readFileSync(path.join(top, ...parts), 'utf8');
const read = (...parts) => JSON.parse(fileText(...parts));
const schema = read('schemas', 'assessment.schema.json');


// ---- form of the schema itself ----------------------------------------------

const allowed = new Set(['$schema', 'id', 'title', 'description', 'type', 'properties', 'required', 'additionalProperties',
  'items', 'enum', 'minimum', 'maximum', 'minLength', 'maxLength', 'minItems', 'maxItems', 'pattern', 'oneOf', 'anyOf',
  'not', 'definitions', '$ref']);
// Validators differ in \d, look-ahead and negated classes; a pattern they cannot read checks nothing.
const plainPattern = /^(\[(0-9|A-Za-z|A-Z|a-z)+\]|\\[.+]|\{[0-9,]+\}|[A-Za-z0-9:/()|^$?+*-])+$/;

// Every subschema with the place it stands at; names of members are not keywords.
function* subschemas(node, place) {
  yield [node, place];
  for (const group of ['properties', 'definitions'])
    for (const [name, child] of Object.entries(node[group] ?? {})) yield* subschemas(child, `${place}/${group}/${name}`);
  for (const group of ['oneOf', 'anyOf'])
    for (const [i, child] of (node[group] ?? []).entries()) yield* subschemas(child, `${place}/${group}/${i}`);
  for (const group of ['items', 'not']) if (node[group]) yield* subschemas(node[group], `${place}/${group}`);
}

const referred = new Set();
function formProblem(node) {
  const unknown = Object.keys(node).filter((keyword) => !allowed.has(keyword));
  if (unknown.length > 0) return `keyword ${unknown.join(', ')}`;
  if (node.$ref !== undefined) {
    const name = /^#\/definitions\/([A-Za-z0-9]+)$/.exec(node.$ref)?.[1];
    referred.add(name);
    if (!schema.definitions[name]) return `${node.$ref} leads nowhere`;
    // Draft-04 ignores whatever stands beside a reference.
    if (Object.keys(node).length > 1) return 'something stands beside $ref';
  }
  if (node.properties && node.additionalProperties !== false) return 'additionalProperties is not false';
  if (node.properties && node.type !== 'object') return 'properties without type object';
  if (node.pattern !== undefined && !plainPattern.test(node.pattern)) return `pattern ${node.pattern}`;
  for (const [name, child] of Object.entries(node.properties ?? {}))
    if (!child.description) return `member ${name} has no description`;
  return '';
}

const formProblems = [...subschemas(schema, '#')]
  .map(([node, place]) => [place, formProblem(node)])
  .filter(([, problem]) => problem !== '')
  .map(([place, problem]) => `${place}: ${problem}`);
expect(formProblems.length === 0, 'form of the schema', formProblems.join('; '));
expect(schema.$schema === 'http://json-schema.org/draft-04/schema#', 'the draft is named');
const unused = Object.keys(schema.definitions).filter((name) => !referred.has(name));
expect(unused.length === 0, 'every definition is used', unused.join(', '));
const silent = Object.keys(schema.definitions).filter((name) => !schema.definitions[name].description);
expect(silent.length === 0, 'every definition has a description', silent.join(', '));

// ---- the same things as in mapping/ -----------------------------------------

const words = new Map(read('mapping', 'words.json').rows.map((row) => [row.id, row.words.map((word) => word.word)]));
const scales = read('mapping', 'pulses.json').rows;
const items = read('mapping', 'items.json').rows;
const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);

// Follows references, and the list of one that lets a description stand beside a reference.
function resolved(node) {
  if (node?.$ref) return resolved(schema.definitions[node.$ref.split('/').pop()]);
  return node?.anyOf?.length === 1 && !node.properties ? resolved(node.anyOf[0]) : node;
}

function* leaves(node, place) {
  const members = resolved(node).properties;
  if (!members) yield [place, resolved(node)];
  for (const [name, child] of Object.entries(members ?? {})) yield* leaves(child, `${place}/${name}`);
}

const forms = (reading) => reading.oneOf?.map(resolved) ?? [];
const form = (reading, member) => forms(reading).find((one) => one.properties?.[member]);
const member = (reading, name, inner = name) => resolved(form(reading, name)?.properties[inner]);

function readingProblem(item, reading) {
  if (!form(reading, 'absent')) return 'it cannot be absent';
  const graded = form(reading, 'grade') !== undefined;
  if (graded !== (item.kind === 'pulse')) return 'graded form';
  const found = forms(reading).filter((one) => one.properties?.finding).map((one) => one.properties.finding.enum[0]);
  if (!same(found, item.kind === 'pressure' ? ['incompressible', 'no-signal'] : [])) return 'findings';
  if (item.words) {
    const bare = forms(reading).find((one) => one.enum)?.enum;
    if (!same(bare, words.get(item.words)) || !same(member(reading, 'value').enum, bare)) return `words of ${item.words}`;
    return member(reading, 'unit') || member(reading, 'comparator') ? 'a word has neither unit nor comparator' : '';
  }
  const units = item.kind === 'pressure' ? ['mm[Hg]', 'kPa'] : [item.unit];
  if (!same(member(reading, 'unit')?.enum, units)) return `units are not ${units.join(', ')}`;
  if (!same(member(reading, 'comparator')?.enum, ['<', '<=', '>=', '>'])) return 'comparators';
  return forms(reading).some((one) => one.type === 'number') ? '' : 'no bare number';
}

const wanted = new Map();
for (const item of items)
  for (const side of item.side ? ['right', 'left'] : ['']) wanted.set(item.path.replace('{side}', side), item);
const readings = new Map();
for (const part of ['conditions', 'history', 'systemic', 'exercise', 'arms', 'legs', 'previous'])
  for (const [place, leaf] of leaves(schema.properties[part], `/${part}`)) readings.set(place, leaf);
expect(readings.delete('/conditions/room'), 'conditions.room is there');
expect(readings.delete('/previous/measuredOn'), 'previous.measuredOn is there');
expect(wanted.size > 100, 'the table of items is read');
for (const [place, item] of wanted) {
  const leaf = readings.get(place);
  const problem = leaf ? readingProblem(item, leaf) : 'not in the schema';
  expect(problem === '', place, problem);
}
for (const place of readings.keys()) expect(wanted.has(place), place, 'not in mapping/items.json');

const definitions = schema.definitions;
expect(same(definitions.instrument.properties.kind.enum, words.get('instrument')), 'kinds of instrument');
const usedLists = new Set(items.map((item) => item.words).concat('instrument'));
for (const id of words.keys()) expect(usedLists.has(id), `word list ${id} is used`);
expect(same(definitions.gradedPulse.properties.scale.enum, scales.map((scale) => scale.id)), 'scales of pulses');
expect(definitions.gradedPulse.properties.grade.maximum === Math.max(...scales.map((scale) => scale.highest)), 'highest grade');

// The reasons and genders are HL7's, so they are held against HL7's own lists.
const { codeSystems } = terminology();
const codesOf = (system) => Object.keys(codeSystems[system] ?? {}).sort();
const sorted = (list) => [...list].sort();
expect(same(sorted(definitions.absent.properties.absent.enum), codesOf('http://terminology.hl7.org/CodeSystem/data-absent-reason')),
  'reasons for absence are those of FHIR');
expect(same(sorted(schema.properties.patient.properties.gender.enum), codesOf('http://hl7.org/fhir/administrative-gender')),
  'genders are those of FHIR');
expect(same(sorted(schema.required),
  sorted(['format', 'identifier', 'status', 'measuredAt', 'patient', 'performer', 'organization'])), 'required members');

// ---- examples ---------------------------------------------------------------

// Nothing that draft-07 reads otherwise is among the allowed keywords, so the name of the draft can go.
const { $schema, id, ...body } = schema;
const validate = new (need('ajv').default)({ strictTypes: false, strictRequired: false }).compile(body);
const complaint = () => `${validate.errors?.[0].instancePath} ${validate.errors?.[0].message}`;

const names = readdirSync(path.join(top, 'examples', 'clinic')).filter((name) => name.endsWith('.json'));
expect(names.length >= 27, 'the examples are there');
for (const name of names) expect(validate(read('examples', 'clinic', name)), `examples/clinic/${name}`, complaint());
expect(!validate(read('examples', 'refused', 'two-pressures-in-one-box.json')), 'two pressures in one box are refused');
const block = /```json\n([\s\S]*?)```/.exec(fileText('docs', 'input.md'))?.[1];
expect(block && validate(JSON.parse(block)), 'the example of docs/input.md', complaint());

if (options.valid) {
  const lines = readFileSync(options.valid, 'utf8').split('\n').filter((line) => line !== '');
  expect(lines.length > 0, 'there are assessments in the file of valid ones');
  for (const [i, line] of lines.entries()) expect(validate(JSON.parse(line)), `${options.valid}:${i + 1}`, complaint());
}

// ---- small edits ------------------------------------------------------------

const base = JSON.parse(block);
const right = (a) => a.legs.right;
const ankle = (value) => (a) => (right(a).ankle.dorsalisPedis = value);
const pulse = (value) => (a) => (right(a).pulses = { femoral: value });
const word = (value) => (a) => (right(a).doppler = { femoral: value });

const goodEdits = [
  ['half a millimetre', ankle(112.5)],
  ['kilopascals', ankle({ value: 16.25, unit: 'kPa' })],
  ['a unit in full', ankle({ value: 112, unit: 'mm[Hg]', note: 'second try' })],
  ['a bound', ankle({ value: 40, comparator: '<' })],
  ['repeats', ankle({ repeats: [112, 116.5], note: 'restless' })],
  ['repeats in kilopascals', ankle({ repeats: [14.9, 15.1], unit: 'kPa' })],
  ['earlier figures', (a) => (a.previous = { measuredOn: '2025-10-06', legs: { right: { abi: 0.9, toePressure: { repeats: [60, 62] } } } })],
  ['earlier figures of no leg', (a) => (a.previous = { measuredOn: '2025-10-06' })],
  ['a finding without limit', ankle({ finding: 'incompressible' })],
  ['no signal', ankle({ finding: 'no-signal', note: 'both probes' })],
  ['an absence', ankle({ absent: 'asked-declined' })],
  ['a word', word('monophasic')],
  ['a word with a note', word({ value: 'no-signal', note: 'oedema' })],
  ['a graded pulse', pulse({ grade: 2, scale: '0-3', note: 'cold foot' })],
  ['a bare pulse', pulse('reduced')],
  ['room as plain text', (a) => (a.conditions.room = '22 degrees')],
  ['identifiers instead of names', (a) => (a.performer = { identifier: a.identifier })],
  ['an instrument', (a) => (a.instruments = [{ kind: 'doppler', calibratedOn: '2026-01-12' }])],
  ['an encounter and an order', (a) => (a.encounter = a.order = { identifier: a.identifier })],
  ['fractions of a second', (a) => (a.measuredAt = '2026-10-05T10:20:00.250Z')],
  ['legs without anything', (a) => (a.legs = {})],
  ['a name of two hundred letters of two bytes', (a) => (a.patient.family = '\u00e9'.repeat(200))],
  ['a revision', (a) => (a.revision = 2)],
];

const wrongEdits = [
  ...['format', 'identifier', 'status', 'measuredAt', 'patient', 'performer', 'organization'].map((name) => [
    `without ${name}`, (a) => delete a[name]]),
  ['another format', (a) => (a.format = 'footbridge-assessment-2')],
  ['an unknown member at the top', (a) => (a.comment = 'x')],
  ['an unknown member in a leg', (a) => (right(a).ankles = {})],
  ['an unknown artery', (a) => (right(a).ankle.tibial = 100)],
  ['an unknown member of a patient', (a) => (a.patient.surname = 'Hollins')],
  ['an unknown member of a reading', ankle({ value: 112, units: 'mm[Hg]' })],
  ['a patient without identifiers', (a) => delete a.patient.identifiers],
  ['a patient with an empty list of identifiers', (a) => (a.patient.identifiers = [])],
  ['an identifier without system', (a) => delete a.identifier.system],
  ['an identifier without value', (a) => delete a.patient.identifiers[0].value],
  ['an identifier system that is no address', (a) => (a.identifier.system = 'clinic')],
  ['an empty identifier', (a) => (a.identifier.value = '')],
  ['a number as identifier', (a) => (a.identifier.value = 1)],
  ['a performer with a role only', (a) => (a.performer = { role: 'podiatrist' })],
  ['an organisation without anything', (a) => (a.organization = {})],
  ['a role of an organisation', (a) => (a.organization.role = 'clinic')],
  ['a status of FHIR that is not ours', (a) => (a.status = 'amended')],
  ['a time without offset', (a) => (a.measuredAt = '2026-10-05T10:20:00')],
  ['a time without seconds', (a) => (a.measuredAt = '2026-10-05T10:20+01:00')],
  ['a day for a time', (a) => (a.measuredAt = '2026-10-05')],
  ['a day written the other way', (a) => (a.patient.birthDate = '17/02/1958')],
  ['revision nought', (a) => (a.revision = 0)],
  ['one repeat', ankle({ repeats: [112] })],
  ['repeats that are no list', ankle({ repeats: 112 })],
  ['a finding among repeats', ankle({ repeats: [112, 'no-signal'] })],
  ['repeats with a comparator', ankle({ repeats: [112, 116], comparator: '<' })],
  ['repeats beside a value', ankle({ repeats: [112, 116], value: 114 })],
  ['repeats of a pulse', pulse({ repeats: [1, 2] })],
  ['earlier figures without their day', (a) => (a.previous = { legs: {} })],
  ['earlier figures at a time of day', (a) => (a.previous = { measuredOn: '2025-10-06T10:00:00Z' })],
  ['an earlier ankle pressure', (a) => (a.previous = { measuredOn: '2025-10-06', legs: { right: { ankle: 112 } } })],
  ['half a revision', (a) => (a.revision = 1.5)],
  ['a gender that is no code', (a) => (a.patient.gender = 'F')],
  ['one given name without list', (a) => (a.patient.given = 'Patricia')],
  ['an instrument without kind', (a) => (a.instruments = [{ model: 'X' }])],
  ['an unknown kind of instrument', (a) => (a.instruments = [{ kind: 'laser' }])],
  ['an instrument without list', (a) => (a.instruments = { kind: 'doppler' })],
  ['more instruments than a visit has', (a) => (a.instruments = Array(1001).fill({ kind: 'doppler' }))],
  ['a name longer than a name is', (a) => (a.patient.family = 'x'.repeat(201))],
  ['an encounter as text', (a) => (a.encounter = '5521')],
  ['a pressure as text', ankle('112')],
  ['two pressures in one text', (a) => (a.arms.right.systolic = '120/80')],
  ['null for a pressure', ankle(null)],
  ['a list of pressures', ankle([112, 114])],
  ['an empty object for a pressure', ankle({})],
  ['a unit that is not UCUM', ankle({ value: 112, unit: 'mmHg' })],
  ['a unit alone', ankle({ unit: 'kPa' })],
  ['a comparator that is none', ankle({ value: 40, comparator: '=' })],
  ['a value beside an absence', ankle({ value: 112, absent: 'error' })],
  ['a finding beside a value', ankle({ value: 112, finding: 'incompressible' })],
  ['a finding that is none', ankle({ finding: 'calcified' })],
  ['a limit without finding', ankle({ value: 112, limit: 300 })],
  ['a limit of no signal', ankle({ finding: 'no-signal', limit: 300 })],
  ['half a millimetre of limit', ankle({ finding: 'incompressible', limit: 299.5 })],
  ['a reason that is none', ankle({ absent: 'not-done' })],
  ['an empty note', ankle({ value: 112, note: '' })],
  ['a finding for a word', word({ finding: 'no-signal' })],
  ['a word of another list', word('reduced')],
  ['a word in capitals', word('Monophasic')],
  ['a comparator on a word', word({ value: 'monophasic', comparator: '<' })],
  ['a unit on a word', word({ value: 'monophasic', unit: '1' })],
  ['a number for a word', word(3)],
  ['a grade as number', (a) => (right(a).stated = { wound: 2 })],
  ['true for a word', (a) => (right(a).restPain = { present: true })],
  ['a bare grade of a pulse', pulse(2)],
  ['a grade without scale', pulse({ grade: 2 })],
  ['an unknown scale', pulse({ grade: 2, scale: '0-9' })],
  ['a grade above every scale', pulse({ grade: 5, scale: '0-4-a' })],
  ['a graded Doppler signal', word({ grade: 2, scale: '0-3' })],
  ['another unit of area', (a) => (right(a).wound = { area: { value: 2, unit: 'mm2' } })],
  ['kilopascals of a temperature', (a) => (a.systemic = { temperature: { value: 37, unit: 'kPa' } })],
  ['room as a reading', (a) => (a.conditions.room = { value: 'warm' })],
  ['a third leg', (a) => (a.legs.middle = {})],
  ['an arm as a number', (a) => (a.arms.right = 138)],
  ['a list of assessments', (a) => [a]],
];

function edited(edit) {
  const copy = structuredClone(base);
  const out = edit(copy);
  return Array.isArray(out) && out.length === 1 && out[0] === copy ? out : copy;
}

// Each edit is an assessment of its own: two contents under one identifier would be refused for that.
function numbered(document, i) {
  if (document?.identifier?.value === base.identifier.value) document.identifier.value += `-${i}`;
  return document;
}

// One OperationOutcome a line; an assessment is refused if one of its issues is an error or worse.
function programRefuses(edits) {
  const input = edits.map(([, edit], i) => `${JSON.stringify(numbered(edited(edit), i))}\n`).join('');
  const run = spawnSync(options.program, ['check', '--json', '--from', 'ndjson'], { input, encoding: 'utf8' });
  const lines = (run.stdout ?? '').split('\n').filter((line) => line !== '').map((line) => JSON.parse(line));
  expect(lines.length === edits.length, 'the program answers for each edit', `${lines.length} answers ${run.stderr}`);
  return lines.map((outcome) => outcome.issue.some((issue) => ['error', 'fatal'].includes(issue.severity)));
}

for (const [name, edit] of goodEdits) expect(validate(edited(edit)), `taken: ${name}`, complaint());
for (const [name, edit] of wrongEdits) expect(!validate(edited(edit)), `refused: ${name}`, 'it passed');
if (options.program) {
  for (const [i, refuses] of programRefuses(goodEdits).entries()) expect(!refuses, `taken by the program: ${goodEdits[i][0]}`);
  for (const [i, refuses] of programRefuses(wrongEdits).entries()) expect(refuses, `refused by the program: ${wrongEdits[i][0]}`);
}

done('schema-check: ');

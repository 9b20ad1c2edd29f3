// Holds schemas/source-map.schema.json against the maps of the examples, against drafted maps and against
// small edits. Each edit is given to the program too: schema and program are written apart, and what the
// schema refuses the program has to refuse.
//
//   node map-schema-check.mjs --program FOOTBRIDGE
//
// Python's tomllib turns the TOML into the tree that the schema is for.
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { need, readArguments, done, expect } from './peer.mjs';

const { options } = readArguments(process.argv.slice(2), { withValue: ['program'] });
const top = path.join(path.dirname(fileURLToPath(import.meta.url)), '..', '..', '..');
const work = mkdtempSync(path.join(tmpdir(), 'maps-'));
process.on('exit', () => rmSync(work, { recursive: true, force: true }));


function run(command, args, input = '') {
  return spawnSync(command, args, { input, encoding: 'utf8', cwd: top });
}

function fromToml(text) {
  const out = run('python3', ['-c', 'import json, sys, tomllib; print(json.dumps(tomllib.loads(sys.stdin.read())))'], text);
  if (out.status !== 0) throw new Error(out.stderr);
  return JSON.parse(out.stdout);
}

// Strings of JSON are strings of TOML; objects become inline tables.
function toToml(value) {
  if (Array.isArray(value)) return `[${value.map(toToml).join(', ')}]`;
  if (value !== null && typeof value === 'object')
    return `{ ${Object.entries(value).map(([name, inner]) => `${JSON.stringify(name)} = ${toToml(inner)}`).join(', ')} }`;
  return JSON.stringify(value);
}
const wholeToml = (map) => Object.entries(map).map(([name, value]) => `${JSON.stringify(name)} = ${toToml(value)}\n`).join('');

const { $schema, id, ...body } = JSON.parse(readFileSync(path.join(top, 'schemas', 'source-map.schema.json'), 'utf8'));
expect($schema === 'http://json-schema.org/draft-04/schema#', 'the draft is named');
const validate = new (need('ajv').default)({ strictTypes: false, strictRequired: false }).compile(body);
const complaint = () => `${validate.errors?.[0].instancePath} ${validate.errors?.[0].message}`;

// ---- every member is described ------------------------------------------------

function* silent(node, place) {
  for (const [name, child] of Object.entries({ ...node.properties, ...node.definitions })) {
    if (!child.description) yield `${place}/${name}`;
    yield* silent(child, `${place}/${name}`);
  }
}
expect([...silent(body, '#')].length === 0, 'every member has a description', [...silent(body, '#')].join(', '));

// ---- maps of the examples, and drafts -------------------------------------------

const read = (...parts) => fromToml(readFileSync(path.join(top, ...parts), 'utf8'));
const names = readdirSync(path.join(top, 'examples', 'csv')).filter((name) => name.endsWith('.toml'));
expect(names.length >= 2, 'the maps of the examples are there');
for (const name of names) expect(validate(read('examples', 'csv', name)), `examples/csv/${name}`, complaint());
const messages = read('examples', 'hl7v2', 'clinic.toml');
expect(validate(messages), 'examples/hl7v2/clinic.toml', complaint());
expect(!validate({ ...messages, columns: { a: 'note' } }), 'a map of messages has no columns');
expect(!validate({ ...messages, hl7: { charset: 'KOI8-R' } }), 'a character set that is not read');
const app = read('examples', 'observations', 'app.toml');
expect(validate(app), 'examples/observations/app.toml', complaint());
expect(!validate({ ...app, columns: { a: 'note' } }), 'a map of resources has no columns');
expect(!validate({ ...app, hl7: {} }), 'a map is of messages or of resources');
expect(!validate({ ...app, fhir: { revisions: 'all' } }), 'revisions that are not known');
const blocks = [...readFileSync(path.join(top, 'docs', 'source-maps.md'), 'utf8').matchAll(/```toml\n(format =[\s\S]*?)```/g)];
expect(blocks.length >= 1, 'docs/source-maps.md has a whole map');
for (const [, text] of blocks) expect(validate(fromToml(text)), 'the map of docs/source-maps.md', complaint());
const clinics = readdirSync(path.join(top, 'tests', 'app', 'clinics')).filter((name) => /\.[ct]sv$/.test(name));
expect(clinics.length >= 3, 'three clinics are there');
for (const name of clinics) {
  const draft = run(options.program, ['check', '--from', 'csv', '--draft-map', path.join('tests', 'app', 'clinics', name)]);
  expect(draft.status === 0 && validate(fromToml(draft.stdout)), `the draft for ${name}`, complaint());
}

// ---- small edits ------------------------------------------------------------

const visits = read('examples', 'csv', 'visits.toml');
const readings = read('examples', 'csv', 'readings.toml');
const dp = (value) => (m) => (m.columns['R DP'] = value);
const word = (value) => (m) => (m.words.extra = value);

const goodEdits = [
  ['a column to be ignored', dp('ignore')],
  ['kilopascals', dp({ to: 'legs.right.ankle.dorsalisPedis', unit: 'kPa' })],
  ['words of a column', dp({ to: 'legs.right.ankle.dorsalisPedis', words: { x: { absent: 'error' } } })],
  ['nothing recorded', word('')],
  ['a word', word('biphasic')],
  ['an absence', word({ absent: 'not-performed', note: 'dressing' })],
  ['a finding', word({ finding: 'no-signal' })],
  ['a bound', word({ value: 300, comparator: '>' })],
  ['a grade', word({ grade: 2, scale: '0-3' })],
  ['a time for all', (m) => (m.file.time = '12:00')],
  ['patient and time', (m) => (m.file.identify = 'patient-and-time')],
  ['no name', (m) => delete m.name],
];
const wrongEdits = [
  ['no format', (m) => delete m.format],
  ['another format', (m) => (m.format = 'footbridge-source-map-2')],
  ['no columns', (m) => delete m.columns],
  ['an unknown member', (m) => (m.colums = {})],
  ['an unknown member of file', (m) => (m.file.delimeter = ',')],
  ['an unknown member of defaults', (m) => (m.defaults.patient = {})],
  ['a reading as default', (m) => (m.defaults.legs = {})],
  ['an unknown member of a column', dp({ to: 'legs.right.ankle.dorsalisPedis', units: 'kPa' })],
  ['a column without place', dp({ unit: 'kPa' })],
  ['a column as number', dp(7)],
  ['an empty place', dp('')],
  ['an unknown delimiter', (m) => (m.file.delimiter = '|')],
  ['an unknown encoding', (m) => (m.file.encoding = 'latin-1')],
  ['an unknown meaning of rows', (m) => (m.file.rows = 'visit')],
  ['an unknown decimal mark', (m) => (m.file.decimal = ' ')],
  ['an unknown way with the overlap', (m) => (m.file.overlap = 'both')],
  ['an unknown way to identify', (m) => (m.file.identify = 'row')],
  ['an unknown unit', dp({ to: 'legs.right.ankle.dorsalisPedis', unit: 'cmH2O' })],
  ['a status that is none', (m) => (m.defaults.status = 'amended')],
  ['a word as number of another kind', word(true)],
  ['a word as list', word(['biphasic'])],
  ['an absence beside a value', word({ absent: 'error', value: 1 })],
  ['a finding that is none', word({ finding: 'calcified' })],
  ['a limit that is none', word({ finding: 'incompressible', limit: 0 })],
  ['a comparator that is none', word({ value: 300, comparator: '=' })],
  ['a grade without scale', word({ grade: 2 })],
  ['an empty note', word({ absent: 'error', note: '' })],
  ['a zone as number', (m) => (m.file.zone = 1)],
  ['a file as text', (m) => (m.file = 'comma')],
];
const wrongReadings = [
  ['a third side', (m) => (m.reading.sides.M = 'middle')],
  ['an unknown member of reading', (m) => (m.reading.units = {})],
  ['an item without place', (m) => (m.reading.items.DP = {})],
];

function edited(base, edit) {
  const copy = structuredClone(base);
  edit(copy);
  return copy;
}

// 2 is the exit code of a map that cannot be used; the table itself may have rows that are wrong.
function programRefuses(map, table) {
  const file = path.join(work, 'map.toml');
  writeFileSync(file, wholeToml(map));
  return run(options.program, ['check', '--from', 'csv', '--map', file, table]).status === 2;
}

function check(base, table, edits, good) {
  for (const [name, edit] of edits) {
    const map = edited(base, edit);
    expect(validate(map) === good, `${good ? 'taken' : 'refused'}: ${name}`, complaint());
    expect(programRefuses(map, table) !== good, `${good ? 'taken' : 'refused'} by the program: ${name}`);
  }
}
check(visits, 'examples/csv/visits.csv', goodEdits, true);
check(visits, 'examples/csv/visits.csv', wrongEdits, false);
check(readings, 'examples/csv/readings.csv', wrongReadings, false);

done('map-schema-check: ');

// The bench peer in plain Node: assessments to FHIR R4 transaction bundles, driven by mapping/*.json.
//
//   node convert.mjs [--tables DIR] --emit FILE...           bundles as NDJSON
//   node convert.mjs [--tables DIR] --time SECONDS FILE...   rates after as long a warm-up
//
// FILE: one assessment, or .ndjson with one a line.
//
// It does a part of Footbridge's work, which the benchmark measures of ours as well: readings held against
// the limits of their items, the indices that decide, their classes, and the instruments, panels, report and
// provenance around them. There are no other rules of validation, no pressure criteria of a threatened limb,
// WIfI grades, waveform classes, flags, low-ankle index, gradient or arm difference. What it makes is
// compared by equivalent.py.
import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { armOf, bandOf, indicesOf } from './indices.mjs';
import { Record, escapeXhtml } from './record.mjs';
import { loadTables } from './tables.mjs';

const UCUM = 'http://unitsofmeasure.org';
const INTERPRETATION = 'http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation';
const URL_NAMESPACE = '6ba7b811-9dad-11d1-80b4-00c04fd430c8'; // RFC 4122, appendix C
const RULE_SET = 'acc-aha-2024';
const KPA_OF_MMHG = 0.133322; // docs/input.md
const TOE_METHODS = {
  photoplethysmography: 'method-photoplethysmography',
  'laser-doppler': 'method-laser-doppler',
  doppler: 'method-doppler',
};
const BOUNDS = { '<': 'below ', '<=': 'at most ', '>=': 'at least ', '>': 'above ' };
const WHEN = new Intl.DateTimeFormat('en-GB', { dateStyle: 'long', timeStyle: 'short', timeZone: 'UTC' });

const uuidBytes = (uuid) => Buffer.from(uuid.replaceAll('-', ''), 'hex');

function uuid5(namespace, name) {
  const hash = createHash('sha1').update(namespace).update(name).digest();
  hash[6] = (hash[6] & 0x0f) | 0x50;
  hash[8] = (hash[8] & 0x3f) | 0x80;
  const hex = hash.toString('hex', 0, 16);
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
}

const searchValue = (text) => encodeURIComponent(text.replace(/[\\,|$]/g, '\\$&'));

// The time as the clock on the wall showed it: the offset is cut off, not applied.
const spokenTime = (text) => WHEN.format(new Date(`${text.slice(0, 19)}Z`)).replace(' at ', ' ');

function party(type, { identifier, name }) {
  return { type, identifier, display: name };
}

// Half millimetres: at the arm the nearest, else never up to a whole one that was not reached.
function inHalves(mmhg, spot) {
  if (spot.key.startsWith('arm.')) return Math.floor(2 * mmhg + 0.5) / 2;
  const whole = Math.floor(mmhg);
  return mmhg - whole > 0.25 ? whole + 0.5 : whole;
}

// A reading of the input in one shape, whichever of its forms was sent.
function parseReading(spot, sent, pulses) {
  const raw = typeof sent === 'object' ? sent : { value: sent };
  const reading = { spot, state: 'other', note: raw.note };
  if (raw.absent !== undefined) return Object.assign(reading, { state: 'absent', absent: raw.absent });
  if (raw.finding === 'incompressible') return Object.assign(reading, { state: 'hard', limit: raw.limit, hard: true });
  if (raw.finding === 'no-signal') return Object.assign(reading, { state: 'no-signal' });
  if (raw.grade !== undefined) {
    const scale = pulses[raw.scale];
    const written = `grade ${raw.grade} on the scale ${scale.name}`;
    const word = scale.meaning[raw.grade];
    const text = word ? undefined : `${written}, whose meaning the scale does not state`;
    return Object.assign(reading, word ? { word, written } : { text });
  }
  if (spot.kind === 'word' || spot.kind === 'pulse') return Object.assign(reading, { word: raw.value });
  reading.value = raw.unit === 'kPa' ? inHalves(raw.value / KPA_OF_MMHG, spot) : raw.value;
  if (raw.unit === 'kPa') reading.original = `${raw.value} kPa`;
  reading.comparator = raw.comparator;
  reading.state = !raw.comparator ? 'plain' : raw.comparator.startsWith('<') ? 'below' : 'hard';
  return reading;
}

class Converter {
  constructor(directory) {
    this.tables = loadTables(directory, RULE_SET);
    this.namespace = uuidBytes(uuid5(uuidBytes(URL_NAMESPACE), this.tables.idBase));
    this.system = `${this.tables.idBase}/observation`;
    this.searches = {};
    for (const kind of ['observation', 'device', 'diagnosticreport']) {
      this.searches[kind] = `identifier=${searchValue(`${this.tables.idBase}/${kind}`)}%7C`;
    }
    this.search = this.searches.observation;
    this.record = new Record(this.tables, {
      uuid: (name, root) => uuid5(this.namespace, root ? `${root}/${name}` : name),
      search: (kind) => this.searches[kind],
      searchValue,
    });
  }

  convert(text) {
    const assessment = JSON.parse(text);
    const visit = this.startVisit(assessment);
    this.record.addInstruments(visit, assessment.instruments ?? []);
    for (const reading of visit.readings.values()) if (reading.spot.code) this.addReading(visit, reading);
    const arm = armOf(visit.readings);
    for (const side of ['right', 'left']) {
      const examined = visit.legs.has(side);
      for (const index of indicesOf(visit.readings, side, arm)) {
        if (index.hundredths === undefined && !examined) continue;
        const uuid = this.addIndex(visit, index);
        if (examined && (index.id === 'abi' || index.id === 'tbi')) this.addBand(visit, index, uuid);
      }
    }
    this.record.addPanels(visit);
    const report = this.record.addReport(visit, assessment);
    this.record.addProvenance(visit, assessment, text, report);
    return { resourceType: 'Bundle', type: 'transaction', entry: visit.entries };
  }

  // Refuses a figure that cannot be, and notes one that is rare.
  holdAgainstLimits({ spot, value }, queries) {
    if (value === undefined || !spot.reject) return;
    const outside = ([low, high]) => (low !== null && value < low) || (high !== null && value > high);
    if (outside(spot.reject)) throw new Error(`${spot.path.join('/')}: ${value} cannot be right`);
    if (spot.query && outside(spot.query)) queries.push(`${spot.label}: ${value} is unusual`);
  }

  startVisit(assessment) {
    const readings = new Map();
    const legs = new Set();
    const queries = [];
    for (const spot of this.tables.spots) {
      let sent = assessment;
      for (const name of spot.path) if ((sent = sent[name]) === undefined) break;
      if (sent === undefined) continue;
      const reading = parseReading(spot, sent, this.tables.pulses);
      this.holdAgainstLimits(reading, queries);
      readings.set(spot.key, reading);
      if (spot.leg) legs.add(spot.leg);
    }
    const { identifier, measuredAt, status, patient } = assessment;
    const { system, value } = patient.identifiers[0];
    const when = spokenTime(measuredAt);
    return {
      readings,
      legs,
      queries,
      when,
      entries: [],
      devices: new Map(),
      seen: new Set(),
      panels: [],
      targets: [],
      members: { right: [], left: [], none: [] },
      said: { right: [], left: [] },
      indexLines: { right: [], left: [] },
      root: uuid5(this.namespace, `assessment/${identifier.system}|${identifier.value}`),
      revised: assessment.revision > 1,
      status,
      end: `. ${when}. Status: ${status}.</p>`,
      subject: { reference: `Patient?identifier=${searchValue(system)}%7C${searchValue(value)}` },
      encounter: assessment.encounter && { type: 'Encounter', identifier: assessment.encounter.identifier },
      effectiveDateTime: measuredAt,
      issued: assessment.issuedAt ?? measuredAt,
      performer: [party('Practitioner', assessment.performer), party('Organization', assessment.organization)],
    };
  }

  // The Observation with what all of a visit have; what is undefined is not written.
  add(visit, name, sentence, category, code, leg) {
    const uuid = uuid5(this.namespace, `${visit.root}/${name}`);
    visit.targets.push(uuid);
    visit.members[leg ?? 'none'].push(uuid);
    const div = `<div xmlns="http://www.w3.org/1999/xhtml"><p>${escapeXhtml(sentence)}${visit.end}</div>`;
    const resource = {
      resourceType: 'Observation',
      text: { status: 'generated', div },
      identifier: [{ system: this.system, value: uuid }],
      status: visit.status,
      category: [this.tables.categories[category]],
      code,
      subject: visit.subject,
      encounter: visit.encounter,
      effectiveDateTime: visit.effectiveDateTime,
      issued: visit.issued,
      performer: visit.performer,
    };
    const request = visit.revised
      ? { method: 'PUT', url: `Observation?${this.search}${uuid}` }
      : { method: 'POST', url: 'Observation', ifNoneExist: `${this.search}${uuid}` };
    visit.entries.push({ fullUrl: `urn:uuid:${uuid}`, resource, request });
    return resource;
  }

  absence(reason, text) {
    return { ...this.tables.absent[reason], text };
  }

  spoken({ spot, ...reading }) {
    if (reading.absent) return `no reading: ${this.tables.absent[reading.absent].coding[0].display.toLowerCase()}`;
    if (reading.hard) return `${reading.limit ? `above ${reading.limit} mmHg: ` : ''}artery incompressible`;
    if (reading.state === 'no-signal') return 'no Doppler signal';
    if (reading.value !== undefined) return `${BOUNDS[reading.comparator] ?? ''}${reading.value} ${spot.unitLabel}`;
    if (reading.text) return reading.text;
    return spot.words[reading.word].text + (reading.written ? ` (${reading.written})` : '');
  }

  addReading(visit, reading) {
    const { spot, note } = reading;
    const said = this.spoken(reading);
    if (spot.leg) visit.said[spot.leg].push([spot.id.split('.')[0], `${spot.name} ${said}`]);
    const sentence = `${spot.label}: ${said}${note ? ` (${note})` : ''}`;
    const resource = this.add(visit, `reading/${spot.key}`, sentence, spot.category, spot.code, spot.leg);
    reading.uuid = resource.identifier[0].value;
    this.setValue(resource, reading);
    resource.bodySite = spot.id === 'toe.pressure' ? this.toeSite(visit, spot.side) : spot.site;
    resource.method = spot.id === 'toe.pressure' ? this.toeMethod(visit, spot.side) : spot.method;
    resource.device = visit.devices.get(spot.instrument);
    const notes = [];
    if (note) notes.push({ text: note });
    if (reading.written) notes.push({ text: `Written as ${reading.written}.` });
    if (reading.original) notes.push({ text: `Sent as ${reading.original}.` });
    if (notes.length > 0) resource.note = notes;
  }

  setValue(resource, reading) {
    const { spot } = reading;
    if (reading.absent) resource.dataAbsentReason = this.absence(reading.absent, reading.note);
    else if (reading.hard) this.setIncompressible(resource, reading.limit);
    else if (reading.state === 'no-signal') resource.valueCodeableConcept = this.tables.concepts['no-signal'];
    else if (reading.value !== undefined) {
      const { value, comparator } = reading;
      resource.valueQuantity = { value, comparator, unit: spot.unitLabel, system: UCUM, code: spot.unit };
    } else resource.valueCodeableConcept = reading.text ? { text: reading.text } : spot.words[reading.word];
  }

  setIncompressible(resource, limit) {
    const found = this.tables.concepts.incompressible;
    if (limit === undefined) {
      resource.valueCodeableConcept = found;
      return;
    }
    resource.valueQuantity = { value: limit, comparator: '>', unit: 'mmHg', system: UCUM, code: 'mm[Hg]' };
    const offScale = { system: INTERPRETATION, code: '>', display: 'Off scale high' };
    resource.interpretation = [{ coding: [offScale, ...found.coding], text: found.text }];
  }

  toeSite(visit, side) {
    const digit = visit.readings.get(`toe.digit/${side}`)?.word;
    return this.tables.concepts[`site-${digit ? `${digit}-` : ''}toe-${side}`];
  }

  toeMethod(visit, side) {
    return this.tables.concepts[TOE_METHODS[visit.readings.get(`toe.sensor/${side}`)?.word]];
  }

  addIndex(visit, index) {
    const { id, side } = index;
    const row = this.tables.indices[id];
    const code = this.tables.concepts[row.conceptBySide?.[side] ?? row.concept];
    const value = index.hundredths === undefined ? undefined : index.hundredths / 100;
    const sentence = `${row.label}, ${side}: ${value?.toFixed(2) ?? 'no value'}`;
    const resource = this.add(visit, `index/${id}/${side}`, sentence, 'exam', code, side);
    visit.indexLines[side].push(`${row.label}: ${value?.toFixed(2) ?? 'no value'}`);
    if (value === undefined) resource.dataAbsentReason = this.absence(index.reason, 'the pressures do not give it');
    else resource.valueQuantity = { value, unit: '1', system: UCUM, code: row.unit };
    resource.bodySite = id === 'tbi' ? this.toeSite(visit, side) : this.tables.concepts[row.site[side]];
    if (index.method) resource.method = { text: index.method };
    const inputs = new Set(index.inputs.map((reading) => reading.uuid));
    if (inputs.size > 0) resource.derivedFrom = [...inputs].map((uuid) => ({ reference: `urn:uuid:${uuid}` }));
    return resource.identifier[0].value;
  }

  addBand(visit, index, indexUuid) {
    const { concepts, ruleSet } = this.tables;
    const band = index.hundredths === undefined ? undefined : bandOf(ruleSet[index.id], index.hundredths);
    const scheme = concepts[`${index.id}-band`];
    const outcome = concepts[band?.outcome];
    const sentence = `${scheme.text}, ${index.side}: ${outcome?.text ?? 'cannot be graded'}`;
    const resource = this.add(visit, `grade/${index.id}-band/${index.side}`, sentence, 'exam', scheme, index.side);
    visit.indexLines[index.side].push(`${scheme.text}: ${outcome?.text ?? 'cannot be graded'} (${ruleSet.name})`);
    if (outcome) resource.valueCodeableConcept = outcome;
    else resource.dataAbsentReason = this.absence(index.reason ?? 'not-applicable', 'no class');
    resource.bodySite = concepts[`site-lower-limb-${index.side}`];
    resource.method = { text: `Rule set ${ruleSet.id}${band ? `, row ${band.id}` : ''}` };
    resource.derivedFrom = [{ reference: `urn:uuid:${indexUuid}` }];
    const { source, certainty } = band?.source ? band : ruleSet;
    resource.note = [{ text: `Source: ${source} (${certainty}).` }];
  }
}

function readTexts(files) {
  return files.flatMap((file) => {
    const text = readFileSync(file, 'utf8');
    return file.endsWith('.ndjson') ? text.split('\n').filter((line) => line.trim()) : [text];
  });
}

function runFor(seconds, texts, work) {
  const end = performance.now() + seconds * 1000;
  let rounds = 0;
  do {
    for (const text of texts) work(text);
    ++rounds;
  } while (performance.now() < end);
  return rounds;
}

function time(converter, texts, seconds) {
  let resources = 0;
  let bytes = 0;
  for (const text of texts) {
    const bundle = converter.convert(text);
    resources += bundle.entry.length;
    bytes += Buffer.byteLength(JSON.stringify(bundle));
  }
  let written = 0;
  const work = (text) => (written += JSON.stringify(converter.convert(text)).length);
  runFor(seconds, texts, work);
  const startedAt = performance.now();
  const startedCpu = process.cpuUsage();
  const rounds = runFor(seconds, texts, work);
  const { user, system } = process.cpuUsage(startedCpu);
  const rates = (took) => [texts.length, resources, bytes].map((count) => Math.round((count * rounds) / took));
  const [a, r, b] = rates((user + system) / 1e6);
  const [wall] = rates((performance.now() - startedAt) / 1000);
  if (written === 0) throw new Error('nothing was written');
  const byProcessor = `${a} assessments/s, ${r} resources/s, ${b} bytes/s by processor time`;
  console.log(`node: ${byProcessor}; ${wall} assessments/s by the clock`);
}

function main(args) {
  const ownTables = join(fileURLToPath(import.meta.url), '../../../../mapping');
  const tables = args[0] === '--tables' ? args.splice(0, 2)[1] : ownTables;
  const mode = args.shift();
  const seconds = mode === '--time' ? Number(args.shift()) : 0;
  if (!(mode === '--emit' || seconds > 0) || args.length === 0) {
    console.error('usage: convert.mjs [--tables DIR] (--emit | --time SECONDS) FILE...');
    return 2;
  }
  const converter = new Converter(tables);
  const texts = readTexts(args);
  if (mode === '--time') time(converter, texts, seconds);
  else for (const text of texts) process.stdout.write(`${JSON.stringify(converter.convert(text))}\n`);
  return 0;
}

process.exitCode = main(process.argv.slice(2));

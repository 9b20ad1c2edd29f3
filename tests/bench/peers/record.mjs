// What stands around the Observations of a bundle: instruments, the panel of each leg, report, provenance.
import { createHash } from 'node:crypto';

const PARTICIPANT = 'http://terminology.hl7.org/CodeSystem/provenance-participant-type';
const OPERATION = 'http://terminology.hl7.org/CodeSystem/v3-DataOperation';
const REPORT_CATEGORY = { system: 'http://terminology.hl7.org/CodeSystem/v2-0074', code: 'NRS', display: 'Nursing Service Measures' };
const XHTML = '<div xmlns="http://www.w3.org/1999/xhtml">';
const DAY = new Intl.DateTimeFormat('en-GB', { dateStyle: 'long', timeZone: 'UTC' });
const TITLES = { right: 'Right leg', left: 'Left leg' };
const CAUTIONS = [
  'Decision support only: local policy and the judgement of a licensed practitioner come first.',
  'A normal or raised ankle index does not exclude disease where arteries may be stiff, as in diabetes and kidney disease.',
  'A reading that is missing here was not taken as normal.',
  'Grades say that a published threshold is met, with its source; they do not say what to do.',
];
// The report's lines of readings, by the first part of the names of items.
const LINES = {
  'Pulses and Doppler': ['pulse', 'doppler'],
  Pressures: ['ankle', 'toe', 'segment', 'tcpo2', 'exercise'],
  'Symptoms and foot': ['rest-pain', 'claudication', 'wound', 'gangrene', 'infection'],
  'Stated by the clinician': ['stated', 'history'],
};

const ESCAPES = { '&': '&amp;', '<': '&lt;', '>': '&gt;' };
export const escapeXhtml = (text) => text.replace(/[&<>]/g, (c) => ESCAPES[c]);

const narrative = (markup) => ({ status: 'generated', div: `${XHTML}${markup}</div>` });
const reference = (uuid) => ({ reference: `urn:uuid:${uuid}` });

export class Record {
  // ids: uuid(name, root), identifier systems and the search for them, as the converter makes them.
  constructor(tables, ids) {
    this.tables = tables;
    this.ids = ids;
  }

  entry(visit, type, uuid, resource, system) {
    const search = `${this.ids.search(system)}${uuid}`;
    const request = visit.revised
      ? { method: 'PUT', url: `${type}?${search}` }
      : { method: 'POST', url: type, ifNoneExist: search };
    return { fullUrl: `urn:uuid:${uuid}`, resource, request };
  }

  // An instrument is named by what it is, so that every visit that uses it names the same.
  addInstruments(visit, instruments) {
    for (const one of instruments) {
      const { kind, manufacturer = '', model = '', serial = '' } = one;
      if (!serial) continue;
      const uuid = this.ids.uuid(`instrument/${kind}/${manufacturer}/${model}/${serial}`);
      if (!visit.devices.has(kind)) visit.devices.set(kind, reference(uuid));
      if (visit.seen.has(uuid)) continue;
      visit.seen.add(uuid);
      this.addInstrument(visit, one, uuid);
    }
  }

  addInstrument(visit, { kind, manufacturer, model, serial, calibratedOn }, uuid) {
    const system = `${this.tables.idBase}/device`;
    const type = this.tables.concepts[`instrument-${kind}`];
    const name = model || kind;
    const words = `${type.text}: ${manufacturer ?? ''} ${name}, serial number ${serial}`;
    const resource = {
      resourceType: 'Device',
      text: narrative(`<p>${escapeXhtml(words)}.</p>`),
      identifier: [{ system, value: uuid }],
      manufacturer,
      serialNumber: serial,
      deviceName: [{ name, type: 'model-name' }],
      type,
      note: calibratedOn && [{ text: `Calibrated on ${DAY.format(new Date(calibratedOn))}.` }],
    };
    visit.entries.push(this.entry(visit, 'Device', uuid, resource, 'device'));
  }

  // What all of a visit have, in the order of the members of Observation and DiagnosticReport.
  common({ subject, encounter, effectiveDateTime, issued, performer }) {
    return { subject, encounter, effectiveDateTime, issued, performer };
  }

  addPanels(visit) {
    for (const side of ['right', 'left']) {
      const members = visit.members[side];
      if (members.length === 0) continue;
      const uuid = this.ids.uuid('panel/leg/' + side, visit.root);
      const code = this.tables.concepts['leg-panel'];
      const words = `${code.text}, ${side}: ${members.length} results`;
      const resource = {
        resourceType: 'Observation',
        text: narrative(`<p>${words}${visit.end}`),
        identifier: [{ system: `${this.tables.idBase}/observation`, value: uuid }],
        status: visit.status,
        category: [this.tables.categories.exam],
        code,
        ...this.common(visit),
        bodySite: this.tables.concepts[`site-lower-limb-${side}`],
        hasMember: members.map(reference),
      };
      visit.entries.push(this.entry(visit, 'Observation', uuid, resource, 'observation'));
      visit.panels.push(uuid);
    }
  }

  // The readings of a leg in words, and its indices with their classes.
  legLines(visit, side) {
    const lines = [];
    for (const [title, kinds] of Object.entries(LINES)) {
      const said = visit.said[side].filter(([kind]) => kinds.includes(kind)).map(([, words]) => words);
      if (said.length > 0) lines.push(`${title}: ${said.join('; ')}.`);
    }
    return lines.concat(visit.indexLines[side]);
  }

  parts(visit) {
    const legs = ['right', 'left'].map((side) => {
      const lines = visit.legs.has(side)
        ? this.legLines(visit, side)
        : ['Nothing was recorded. This says nothing about the leg.'];
      return [TITLES[side], lines];
    });
    if (visit.queries.length > 0) legs.push(['Queries on the readings', visit.queries]);
    return legs;
  }

  reportMarkup(visit, parts, { note, conditions, performer }) {
    const list = ([title, lines]) =>
      `<p><b>${escapeXhtml(title)}</b></p><ul>${lines.map((line) => `<li>${escapeXhtml(line)}</li>`).join('')}</ul>`;
    const words = `Lower-limb arterial assessment, ${visit.when}. Status: ${visit.status}. Measured by ${performer.name}.`;
    const shown = [...parts];
    if (note) shown.push(['Note of the clinician', [note]]);
    if (conditions?.room) shown.push(['Room', [conditions.room]]);
    shown.push(['Cautions', CAUTIONS]);
    return `<p>${escapeXhtml(words)}</p>${shown.map(list).join('')}`;
  }

  addReport(visit, assessment) {
    const uuid = this.ids.uuid('report/arterial-assessment', visit.root);
    const parts = this.parts(visit);
    const told = [...parts, ['Cautions', CAUTIONS]];
    const { order } = assessment;
    const resource = {
      resourceType: 'DiagnosticReport',
      text: narrative(this.reportMarkup(visit, parts, assessment)),
      identifier: [{ system: `${this.tables.idBase}/diagnosticreport`, value: uuid }],
      status: visit.status,
      basedOn: order && [{ type: 'ServiceRequest', identifier: order.identifier }],
      category: [{ coding: [REPORT_CATEGORY] }],
      code: this.tables.concepts['arterial-assessment'],
      ...this.common(visit),
      result: [...visit.panels, ...visit.members.none].map(reference),
      conclusion: told.map(([title, lines]) => `${title}:\n${lines.map((line) => `- ${line}`).join('\n')}`).join('\n'),
    };
    visit.entries.push(this.entry(visit, 'DiagnosticReport', uuid, resource, 'diagnosticreport'));
    return uuid;
  }

  agents(visit) {
    const [performer, custodian] = visit.performer;
    const software = { system: `${this.tables.idBase}/software`, value: 'footbridge' };
    const assembler = { type: 'Device', identifier: software, display: `Bench peer, tables SHA-256 ${this.tables.digest}` };
    return [
      ['performer', 'Performer', performer],
      ['custodian', 'Custodian', custodian],
      ['assembler', 'Assembler', assembler],
    ].map(([code, display, who]) => ({ type: { coding: [{ system: PARTICIPANT, code, display }] }, who }));
  }

  addProvenance(visit, { identifier, revision = 1, performer }, text, report) {
    const uuid = this.ids.uuid(`provenance/${revision}`, visit.root);
    const system = `${this.tables.idBase}/provenance`;
    const [code, display] = visit.revised ? ['UPDATE', 'revise'] : ['CREATE', 'create'];
    const digest = createHash('sha256').update(text).digest('hex');
    const entity = [
      { role: 'source', what: { identifier, display: `Assessment as received, revision ${revision}, SHA-256 ${digest}` } },
    ];
    if (visit.revised) {
      const before = { identifier, display: `Assessment up to revision ${revision - 1}` };
      entity.push({ role: 'revision', what: before });
    }
    const words = `Readings of ${visit.when} by ${performer.name}, assembled by the bench peer.`;
    const resource = {
      resourceType: 'Provenance',
      meta: { tag: [{ system, code: uuid }] },
      text: narrative(`<p>${escapeXhtml(words)}</p>`),
      target: [...visit.targets, ...visit.panels, report].map(reference),
      occurredDateTime: visit.effectiveDateTime,
      recorded: visit.issued,
      activity: { coding: [{ system: OPERATION, code, display }] },
      agent: this.agents(visit),
      entity,
    };
    const ifNoneExist = `_tag=${this.ids.searchValue(system)}%7C${uuid}`;
    visit.entries.push({ fullUrl: `urn:uuid:${uuid}`, resource, request: { method: 'POST', url: 'Provenance', ifNoneExist } });
  }
}

// The tables of mapping/ made ready once: every concept a CodeableConcept, every item with its path cut.
import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';

const ABSENT_SYSTEM = 'http://terminology.hl7.org/CodeSystem/data-absent-reason';
const CATEGORY_SYSTEM = 'http://terminology.hl7.org/CodeSystem/observation-category';
const CATEGORIES = { exam: 'Exam', 'social-history': 'Social History' };
// Codes and names: http://terminology.hl7.org/CodeSystem/data-absent-reason of FHIR R4 (verified).
const ABSENT = {
  unknown: 'Unknown',
  'asked-unknown': 'Asked But Unknown',
  'temp-unknown': 'Temporarily Unknown',
  'not-asked': 'Not Asked',
  'asked-declined': 'Asked But Declined',
  masked: 'Masked',
  'not-applicable': 'Not Applicable',
  unsupported: 'Unsupported',
  'as-text': 'As Text',
  error: 'Error',
  'not-a-number': 'Not a Number (NaN)',
  'negative-infinity': 'Negative Infinity (NINF)',
  'positive-infinity': 'Positive Infinity (PINF)',
  'not-performed': 'Not Performed',
  'not-permitted': 'Not Permitted',
};

const codings = (system, names) =>
  Object.fromEntries(Object.entries(names).map(([code, display]) => [code, { coding: [{ system, code, display }] }]));

function codeable(row, system) {
  const coding = row.codings
    .filter((one) => one.status === 'verified')
    .map(({ system, code, display }) => ({ system, code, display }));
  if (row.local) coding.push({ system, code: row.id, display: row.label });
  return { coding, text: row.label };
}

// One entry for each item and side, in the order of the table.
function spots(item, concepts, words) {
  return (item.side ? ['right', 'left'] : [undefined]).map((side) => ({
    id: item.id,
    side,
    leg: item.path.startsWith('/legs/') ? side : undefined,
    key: side ? `${item.id}/${side}` : item.id,
    path: item.path.slice(1).replace('{side}', side).split('/'),
    kind: item.kind,
    name: item.label,
    label: side ? `${item.label}, ${side}` : item.label,
    unit: item.unit,
    unitLabel: item.unitLabel,
    category: item.category,
    code: concepts[item.concept],
    site: concepts[item.site?.[side]],
    method: concepts[item.method],
    words: words[item.words],
    instrument: item.instrument,
    reject: item.reject,
    query: item.query,
  }));
}

export function loadTables(directory, ruleSet) {
  const read = (name) => JSON.parse(readFileSync(join(directory, `${name}.json`), 'utf8'));
  const catalogue = read('concepts');
  const system = `${catalogue.canonicalBase}/fhir/CodeSystem/footbridge`;
  const concepts = Object.fromEntries(catalogue.rows.map((row) => [row.id, codeable(row, system)]));
  const words = Object.fromEntries(
    read('words').rows.map((list) => [
      list.id,
      Object.fromEntries(list.words.map(({ word, concept }) => [word, concepts[concept]])),
    ]),
  );
  return {
    system,
    concepts,
    digest: createHash('sha256').update(JSON.stringify(catalogue)).digest('hex'),
    idBase: `${catalogue.canonicalBase}/id`,
    spots: read('items').rows.flatMap((item) => spots(item, concepts, words)),
    indices: Object.fromEntries(read('indices').rows.map((row) => [row.id, row])),
    pulses: Object.fromEntries(read('pulses').rows.map((row) => [row.id, row])),
    ruleSet: read('rule_sets').rows.find((row) => row.id === ruleSet),
    absent: codings(ABSENT_SYSTEM, ABSENT),
    categories: codings(CATEGORY_SYSTEM, CATEGORIES),
  };
}

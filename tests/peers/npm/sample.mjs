// Transaction bundles of the kind Footbridge emits, written by hand so that the peers
// can be tried without it. They are no golden files and say nothing about the product.
//
//   node sample.mjs [--bundles N] [--readings N] --out FILE.ndjson --patients FILE.json
import { createHash } from 'node:crypto';
import { writeFileSync } from 'node:fs';
import { pathToFileURL } from 'node:url';
import { readArguments } from './peer.mjs';

const base = 'https://footbridge.example';
const nhsNumber = 'https://fhir.nhs.uk/Id/nhs-number';
const ucum = 'http://unitsofmeasure.org';

export function uuidFrom(name) {
  const bytes = createHash('sha1').update(`footbridge-sample:${name}`).digest().subarray(0, 16);
  bytes[6] = (bytes[6] & 0x0f) | 0x50;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = bytes.toString('hex');
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join('-');
}

// structuredClone would keep objects shared that stand in two places.
function unshared(value) {
  return JSON.parse(JSON.stringify(value));
}

function narrative(text) {
  const safe = text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;');
  return { status: 'generated', div: `<div xmlns="http://www.w3.org/1999/xhtml"><p>${safe}</p></div>` };
}

function coded(code, display) {
  return { coding: [{ system: `${base}/codes/arterial`, code, display }], text: display };
}

function entry(type, key, resource, condition) {
  const uuid = uuidFrom(key);
  const system = `${base}/id/${type.toLowerCase()}`;
  return {
    fullUrl: `urn:uuid:${uuid}`,
    resource: { resourceType: type, ...resource(uuid, system) },
    request: { method: 'POST', url: type, ifNoneExist: condition?.(uuid) ?? `identifier=${system}%7C${uuid}` },
  };
}

const practitioner = {
  type: 'Practitioner',
  identifier: { system: 'https://fhir.nhs.uk/Id/sds-user-id', value: '555000000001' },
  display: 'A. Nurse',
};
const organization = {
  type: 'Organization',
  identifier: { system: 'https://fhir.nhs.uk/Id/ods-organization-code', value: 'A99999' },
  display: 'Riverside Clinic',
};
const exam = [{ coding: [{ system: 'http://terminology.hl7.org/CodeSystem/observation-category', code: 'exam', display: 'Exam' }] }];

export function patientNumber(n) {
  return String(9990000000 + n);
}

export function makeBundle(n, { readings = 46, separator = '%7C' } = {}) {
  const minute = String(n % 60).padStart(2, '0');
  const when = `2025-11-24T09:${minute}:00+00:00`;
  const subject = { reference: `Patient?identifier=${nhsNumber}${separator}${patientNumber(n)}`, type: 'Patient' };
  const device = entry('Device', `device ${n % 5}`, (uuid, system) => ({
    text: narrative('Hand-held Doppler, 8 MHz'),
    identifier: [{ system, value: uuid }],
    status: 'active',
    manufacturer: 'Example Instruments',
    serialNumber: `SN-${1000 + (n % 5)}`,
    deviceName: [{ name: 'Example Doppler 8', type: 'model-name' }],
    type: { text: 'Hand-held Doppler' },
  }));
  const common = (uuid, system) => ({
    identifier: [{ system, value: uuid }],
    status: 'final',
    category: exam,
    subject,
    effectiveDateTime: when,
    issued: when,
    performer: [practitioner, organization],
  });
  const pressure = (value) => ({ value, unit: 'mm[Hg]', system: ucum, code: 'mm[Hg]' });
  const observations = [];
  for (let i = 0; i < readings; i++) {
    const side = i % 2 === 0 ? 'Left' : 'Right';
    const site = ['dorsalis pedis', 'posterior tibial', 'peroneal', 'great toe'][(i >> 1) % 4];
    const name = `${side} ${site} reading ${i}`;
    observations.push(
      entry('Observation', `visit ${n} reading ${i}`, (uuid, system) => {
        const resource = {
          text: narrative(`${name}: ${100 + i} mmHg, measured with the patient supine on 24 November 2025, status final`),
          ...common(uuid, system),
          code: coded(`systolic-${i}`, `${name} pressure`),
          bodySite: { text: `${side} ${site} artery` },
          method: { text: 'Doppler ultrasound with a sphygmomanometer cuff' },
          device: { reference: device.fullUrl, type: 'Device' },
        };
        if (i % 9 === 7) {
          resource.dataAbsentReason = {
            coding: [{ system: 'http://terminology.hl7.org/CodeSystem/data-absent-reason', code: 'not-performed', display: 'Not Performed' }],
          };
        } else if (i % 9 === 5) {
          resource.valueQuantity = { ...pressure(300), comparator: '>' };
        } else if (i % 9 === 3) {
          resource.valueCodeableConcept = coded('biphasic', 'Biphasic waveform');
        } else {
          resource.valueQuantity = pressure(100 + i);
        }
        if (i % 4 === 0 && resource.valueQuantity) {
          resource.interpretation = [
            { coding: [{ system: 'http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation', code: 'L', display: 'Low' }] },
          ];
          resource.referenceRange = [{ low: pressure(90), high: pressure(140), text: '90 to 140 mmHg' }];
        }
        return resource;
      }),
    );
  }
  const inputs = observations.map((o) => ({ reference: o.fullUrl, type: 'Observation' }));
  for (const [i, side] of ['Left', 'Right'].entries()) {
    observations.push(
      entry('Observation', `visit ${n} index ${side}`, (uuid, system) => ({
        text: narrative(`${side} ankle-brachial index 0.9${i}, from the higher ankle pressure & the higher arm pressure`),
        ...common(uuid, system),
        code: coded(`abi-${side.toLowerCase()}`, `${side} ankle-brachial index`),
        valueQuantity: { value: 0.9 + i / 100, unit: '1', system: ucum, code: '1' },
        derivedFrom: [inputs[i], inputs[i + 2]],
      })),
      entry('Observation', `visit ${n} panel ${side}`, (uuid, system) => ({
        text: narrative(`${side} leg`),
        ...common(uuid, system),
        code: coded(`panel-${side.toLowerCase()}`, `${side} leg arterial assessment`),
        hasMember: inputs.filter((_, k) => k % 2 === i),
      })),
    );
  }
  observations.push(
    entry('Observation', `visit ${n} segment`, (uuid, system) => ({
      text: narrative('Post-exercise ankle pressures'),
      ...common(uuid, system),
      code: coded('after-exercise', 'Ankle pressures after exercise'),
      component: [
        { code: coded('after-1-min', 'After one minute'), valueQuantity: pressure(88) },
        { code: coded('after-2-min', 'After two minutes'), dataAbsentReason: { text: 'stopped' } },
      ],
      note: [{ text: 'Stopped for calf pain.', time: when }],
    })),
  );
  const report = entry('DiagnosticReport', `visit ${n} report`, (uuid, system) => ({
    text: narrative('Lower-limb arterial assessment, 24 November 2025'),
    identifier: [{ system, value: uuid }],
    status: 'final',
    code: coded('report', 'Lower-limb arterial assessment'),
    subject,
    effectiveDateTime: when,
    issued: when,
    performer: [organization],
    result: observations.slice(readings).map((o) => ({ reference: o.fullUrl, type: 'Observation' })),
    conclusion: 'Left ankle-brachial index 0.90 meets the published threshold of the named rule set.',
  }));
  // R4 gives Provenance no identifier, so its condition rests on a tag.
  const tagSystem = `${base}/id/provenance`;
  const provenance = entry(
    'Provenance',
    `visit ${n} provenance`,
    (uuid) => ({
      meta: { tag: [{ system: tagSystem, code: uuid }] },
      text: narrative('Measured by A. Nurse; assembled by Footbridge'),
      target: [report, ...observations].map((o) => ({ reference: o.fullUrl })),
      recorded: when,
      activity: {
        coding: [{ system: 'http://terminology.hl7.org/CodeSystem/v3-DataOperation', code: 'CREATE', display: 'create' }],
      },
      agent: [
        {
          type: { coding: [{ system: 'http://terminology.hl7.org/CodeSystem/provenance-participant-type', code: 'author', display: 'Author' }] },
          who: practitioner,
          onBehalfOf: organization,
        },
        {
          type: { coding: [{ system: 'http://terminology.hl7.org/CodeSystem/provenance-participant-type', code: 'assembler', display: 'Assembler' }] },
          who: { type: 'Device', identifier: { system: `${base}/id/software`, value: 'footbridge-0' }, display: 'Footbridge' },
        },
      ],
      entity: [{ role: 'source', what: { identifier: { system: `${base}/id/source`, value: uuidFrom(`source ${n}`) }, display: 'What came in' } }],
    }),
    (uuid) => `_tag=${tagSystem}%7C${uuid}`,
  );
  // Copied, so that a test which breaks one resource breaks no other.
  return unshared({
    resourceType: 'Bundle',
    identifier: { system: `${base}/id/bundle`, value: uuidFrom(`bundle ${n}`) },
    type: 'transaction',
    timestamp: when,
    entry: [device, ...observations, report, provenance],
  });
}

export function makePatients(count) {
  return {
    resourceType: 'Bundle',
    type: 'transaction',
    entry: Array.from({ length: count }, (_, n) => ({
      fullUrl: `urn:uuid:${uuidFrom(`patient ${n}`)}`,
      resource: {
        resourceType: 'Patient',
        text: narrative(`Test patient ${n}`),
        identifier: [{ system: nhsNumber, value: patientNumber(n) }],
        active: true,
        name: [{ use: 'official', family: `Example${n}`, given: ['Test'] }],
        gender: n % 2 ? 'female' : 'male',
        birthDate: `19${40 + (n % 50)}-02-${String(1 + (n % 28)).padStart(2, '0')}`,
      },
      request: { method: 'POST', url: 'Patient', ifNoneExist: `identifier=${nhsNumber}%7C${patientNumber(n)}` },
    })),
  };
}

if (import.meta.url === pathToFileURL(process.argv[1]).href) {
  const { options } = readArguments(process.argv.slice(2), { withValue: ['bundles', 'readings', 'out', 'patients'] });
  const count = Number(options.bundles ?? 20);
  const readings = Number(options.readings ?? 46);
  if (options.out) {
    const lines = Array.from({ length: count }, (_, n) => JSON.stringify(makeBundle(n, { readings })));
    writeFileSync(options.out, `${lines.join('\n')}\n`);
  }
  if (options.patients) writeFileSync(options.patients, `${JSON.stringify(makePatients(count))}\n`);
}

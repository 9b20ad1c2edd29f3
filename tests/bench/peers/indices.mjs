// Which pressures count, and the indices made of them.

const is = (reading, state) => reading?.state === state;
const anyIs = (pair, state) => is(pair[0], state) || is(pair[1], state);
const bothAre = (pair, state) => is(pair[0], state) && is(pair[1], state);
const plainOf = (pair) => (is(pair[0], 'plain') ? pair[0] : pair[1]);
const otherOf = (pair) => (is(pair[0], 'plain') ? pair[1] : pair[0]);
const inputsOf = (readings) => readings.filter((reading) => reading && reading.state !== 'absent');

function reasonOf(reading) {
  if (is(reading, 'absent')) return reading.absent;
  return 'unknown';
}

const higher = (pair) => Math.max(pair[0].value, pair[1].value);

const plainIsHigher = (pair) =>
  anyIs(pair, 'plain') && anyIs(pair, 'below') && plainOf(pair).value >= otherOf(pair).value;

function noneOf(pair) {
  const firstSaysMore = pair[0] && pair[0].state !== 'plain';
  return { reason: reasonOf(firstSaysMore ? pair[0] : pair[1]), inputs: inputsOf(pair) };
}

function one(reading, label) {
  const inputs = inputsOf([reading]);
  return is(reading, 'plain') ? { value: reading.value, method: label, inputs } : { reason: reasonOf(reading), inputs };
}

export function armOf(readings) {
  const pair = [readings.get('arm.systolic/right'), readings.get('arm.systolic/left')];
  const inputs = inputsOf(pair);
  if (bothAre(pair, 'plain')) return { value: higher(pair), method: 'higher arm', inputs };
  if (plainIsHigher(pair)) return { value: plainOf(pair).value, method: 'higher arm', inputs };
  if (['below', 'hard', 'no-signal'].some((state) => anyIs(pair, state))) return noneOf(pair);
  if (anyIs(pair, 'plain')) return { value: plainOf(pair).value, method: 'the one arm read', inputs };
  return noneOf(pair);
}

function ankleOf(readings, side) {
  const pair = [readings.get(`ankle.dorsalis-pedis/${side}`), readings.get(`ankle.posterior-tibial/${side}`)];
  const inputs = inputsOf(pair);
  if (anyIs(pair, 'hard')) return { reason: 'unknown', inputs };
  if (anyIs(pair, 'below')) {
    if (!plainIsHigher(pair)) return { reason: 'unknown', inputs };
    return { value: plainOf(pair).value, method: 'higher ankle artery', inputs };
  }
  if (bothAre(pair, 'plain')) return { value: higher(pair), method: 'higher ankle artery', inputs };
  if (anyIs(pair, 'plain')) return { value: plainOf(pair).value, method: 'the one ankle artery read', inputs };
  const third = readings.get(`ankle.peroneal/${side}`);
  if (!bothAre(pair, 'no-signal') || !third) return noneOf(pair);
  const all = inputsOf([...pair, third]);
  if (is(third, 'plain')) return { value: third.value, method: 'peroneal artery', inputs: all };
  return { ...noneOf(pair), inputs: all };
}

// Pressures are whole or half millimetres, so this is a quotient of whole numbers.
const hundredths = (numerator, denominator) => Math.floor((400 * numerator + 2 * denominator) / (4 * denominator));

function ratio(id, side, numerator, arm) {
  const inputs = [...numerator.inputs, ...arm.inputs];
  if (numerator.value === undefined) return { id, side, reason: numerator.reason, inputs };
  if (arm.value === undefined) return { id, side, reason: arm.reason, inputs };
  const method = `${numerator.method} over ${arm.method}`;
  return { id, side, hundredths: hundredths(numerator.value, arm.value), method, inputs };
}

const ARTERIES = ['dorsalis-pedis', 'posterior-tibial', 'peroneal', 'anterior-tibial'];

// The indices of a leg: those of the single arteries only where there is one.
export function indicesOf(readings, side, arm) {
  const arteries = ARTERIES.map((artery) =>
    ratio(`abi.${artery}`, side, one(readings.get(`ankle.${artery}/${side}`), `${artery} artery`), arm),
  );
  const toe = one(readings.get(`toe.pressure/${side}`), 'toe pressure');
  return [
    ratio('abi', side, ankleOf(readings, side), arm),
    ...arteries.filter((index) => index.hundredths !== undefined),
    ratio('tbi', side, toe, arm),
  ];
}

export function bandOf(bands, value) {
  const edge = (text) => Math.round(Number(text) * 100);
  return bands.find((band) => value >= edge(band.from) && (band.to === null || value <= edge(band.to)));
}

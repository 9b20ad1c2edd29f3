// Reads lines from standard input. One word: a UCUM code, which must be valid.
// Four words, `value unit1 unit2 expected`: a conversion, which must come out as expected.
// UCUM sets 1 m[Hg] = 133.3220 kPa, so 1 mm[Hg] = 0.133322 kPa exactly.
//
// `expected` is right if it is the result rounded to the digits it is written with:
// `132 mm[Hg] kPa 17.60` passes, and so does `132 mm[Hg] kPa 17.598504`.
import { readFileSync } from 'node:fs';
import { need } from './peer.mjs';

const ucum = need('@lhncbc/ucum-lhc').UcumLhcUtils.getInstance();
const number = /^-?\d+(\.\d+)?$/;
let lines = 0;
let bad = 0;

function complain(line, why) {
  bad++;
  process.stdout.write(`${lines}: ${line}: ${why}\n`);
}

for (const raw of readFileSync(0, 'utf8').split('\n')) {
  const line = raw.trim();
  if (line === '' || line.startsWith('#')) continue;
  lines++;
  const words = line.split(/\s+/);
  if (words.length === 1) {
    const answer = ucum.validateUnitString(line);
    if (answer.status !== 'valid') complain(line, `not a UCUM code ${(answer.msg ?? []).join(' ')}`.trim());
  } else if (words.length === 4 && number.test(words[0]) && number.test(words[3])) {
    const [value, from, to, expected] = words;
    const answer = ucum.convertUnitTo(from, Number(value), to);
    if (answer.status !== 'succeeded') {
      complain(line, `cannot be converted: ${answer.msg.join(' ')}`);
      continue;
    }
    const decimals = expected.split('.')[1]?.length ?? 0;
    const halfUnit = 0.5 * 10 ** -decimals;
    const allowed = Math.max(halfUnit, Math.abs(answer.toVal) * 1e-9) * (1 + 1e-9);
    if (Math.abs(answer.toVal - Number(expected)) > allowed) complain(line, `is ${answer.toVal}`);
  } else {
    complain(line, 'is neither one code nor `value unit1 unit2 expected`');
  }
}
process.stdout.write(`lines ${lines}, bad ${bad}\n`);
// A run that saw nothing must not look like one that found nothing wrong.
process.exit(bad > 0 || lines === 0 ? 1 : 0);

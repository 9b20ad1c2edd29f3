// Where the npm packages stand, and how the scripts in this folder reach them.
// The packages are installed outside the source tree, so a bare import would not
// find them; every script asks need() instead.
import { createRequire } from 'node:module';
import { closeSync, existsSync, openSync, readSync } from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';

const here = path.dirname(fileURLToPath(import.meta.url));

export const peerDir = path.resolve(
  process.env.FOOTBRIDGE_PEER_DIR ?? path.join(here, '..', '..', '..', 'build', 'peers', 'npm'),
);

const require = createRequire(path.join(peerDir, 'package.json'));

function requireInstalled() {
  if (existsSync(path.join(peerDir, 'node_modules'))) return;
  process.stderr.write('the npm test peers are not installed: run tests/peers/npm/install.sh first\n');
  process.exit(77);
}

export function need(name) {
  requireInstalled();
  return require(name);
}

export function packageFile(name, file) {
  requireInstalled();
  return path.join(peerDir, 'node_modules', ...name.split('/'), ...file.split('/'));
}

// Options of the form --name value or --name; the rest are plain arguments.
export function readArguments(argv, { withValue = [], plain = [] }) {
  const options = {};
  const rest = [];
  for (let i = 0; i < argv.length; i++) {
    const name = argv[i].startsWith('--') ? argv[i].slice(2) : null;
    if (name === null) {
      rest.push(argv[i]);
    } else if (withValue.includes(name) && i + 1 < argv.length) {
      options[name] = argv[++i];
    } else if (plain.includes(name)) {
      options[name] = true;
    } else {
      process.stderr.write(`unknown or incomplete option: ${argv[i]}\n`);
      process.exit(2);
    }
  }
  return { options, rest };
}

// The lines of a file that may be too large for one string.
function* linesOf(file) {
  const handle = openSync(file);
  const chunk = Buffer.alloc(1 << 20);
  let rest = [];
  for (let size = readSync(handle, chunk); size > 0; size = readSync(handle, chunk)) {
    let from = 0;
    for (let at = chunk.indexOf(10, from); at >= 0 && at < size; at = chunk.indexOf(10, from)) {
      yield Buffer.concat([...rest, chunk.subarray(from, at)]).toString();
      rest = [];
      from = at + 1;
    }
    rest.push(Buffer.from(chunk.subarray(from, size)));
  }
  closeSync(handle);
  yield Buffer.concat(rest).toString();
}

// Line by line through several files at once: yields the lines of one number that are not empty, as file, number, text.
export function* linesBeside(files) {
  let open = files.map((file) => ({ file, lines: linesOf(file) }));
  for (let number = 1; open.length > 0; number++) {
    const rows = [];
    open = open.filter(({ file, lines }) => {
      const { value: text, done } = lines.next();
      if (!done && text.trim() !== '') rows.push({ file, number, text });
      return !done;
    });
    if (rows.length > 0) yield rows;
  }
}

// Cases of a check that counts its own: each is one call of expect(), and done() tells and ends.
const cases = { passed: 0, failed: 0 };

export function expect(good, what, why = '') {
  if (good) {
    cases.passed++;
  } else {
    cases.failed++;
    process.stdout.write(`failed: ${what}${why ? `: ${why}` : ''}\n`);
  }
}

export function done(before = '') {
  process.stdout.write(`${before}${cases.passed} passed, ${cases.failed} failed\n`);
  process.exit(cases.failed > 0 ? 1 : 0);
}

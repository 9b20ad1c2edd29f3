// What JSON.parse hides: a member name used twice in one object, and numbers whose
// spelling it changes. Expects text that JSON.parse has already accepted.
export function* rawProblems(text) {
  let at = 0;

  function space() {
    while (text.charCodeAt(at) <= 0x20) at++;
  }

  function string() {
    const from = at++;
    while (text[at] !== '"') at += text[at] === '\\' ? 2 : 1;
    at++;
    return JSON.parse(text.slice(from, at));
  }

  function* value(path) {
    space();
    const c = text[at];
    if (c === '{') {
      at++;
      const names = new Set();
      for (;;) {
        space();
        if (text[at] === '}') break;
        if (text[at] === ',') {
          at++;
          continue;
        }
        const name = string();
        if (names.has(name)) yield [path, `member "${name}" stands twice in one object`];
        names.add(name);
        space();
        at++; // the colon
        yield* value(path ? `${path}.${name}` : name);
      }
      at++;
    } else if (c === '[') {
      at++;
      for (let i = 0; ; ) {
        space();
        if (text[at] === ']') break;
        if (text[at] === ',') {
          at++;
          i++;
          continue;
        }
        yield* value(`${path}[${i}]`);
      }
      at++;
    } else if (c === '"') {
      const from = at;
      string();
      if (/\\u[dD][89a-fA-F]/.test(text.slice(from, at)) && /[\uD800-\uDFFF]/u.test(JSON.parse(text.slice(from, at)))) {
        yield [path, 'string holds half of a surrogate pair'];
      }
    } else {
      const from = at;
      while (at < text.length && !',}] \t\r\n'.includes(text[at])) at++;
      const token = text.slice(from, at);
      if (/^[-0-9]/.test(token)) {
        if (/[eE]/.test(token)) yield [path, `number ${token} is written with an exponent`];
        if (/^-0(\.0*)?$/.test(token)) yield [path, `number ${token} is a negative zero`];
        if (token.replace(/[^0-9]/g, '').replace(/^0+/, '').length > 15) {
          yield [path, `number ${token} has more digits than readers keep`];
        }
      }
    }
  }

  yield* value('');
}

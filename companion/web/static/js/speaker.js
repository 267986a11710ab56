// Sentences, numbers and names in one language, from the file of words that the server makes from its catalogue.
// As companion/phrasebook/phrases.py says them. Owns no sentence and no page.

const FIRST_STRONG = "\u2068";
const POP = "\u2069";
const loading = new Map();

// The words that the page names.
export function loadWords(url = document.documentElement.dataset.words) {
  return loadFile(url);
}

// A file of this build that holds JSON, once; from the worker's cache when there is no network.
export function loadFile(url) {
  if (!loading.has(url)) {
    const coming = fetch(url).then((response) => {
      if (!response.ok) throw new Error(`${url}: ${response.status}`);
      return response.json();
    });
    coming.catch(() => loading.delete(url));
    loading.set(url, coming);
  }
  return loading.get(url);
}

// Somebody who speaks one language. `digits` is CLDR's name of a system of digits, if not the language's usual one.
export function speaker({ tag, locale, dir = "ltr", digits: usual = "latn", words }, digits = usual) {
  const rows = [row(tag, usual), row(tag, digits)];
  const format = new Intl.NumberFormat(tag, { numberingSystem: digits });
  const plurals = new Intl.PluralRules(tag);
  const number = (value) => format.format(value);

  // A sentence's own digits, as this reader has them.
  function written(text) {
    if (rows[1][0] === "0" && rows[0][0] === "0") return text;
    return text.replace(/\p{Nd}/gu, (sign) => {
      const value = sign >= "0" && sign <= "9" ? Number(sign) : rows[0].indexOf(sign);
      return value < 0 ? sign : rows[1][value];
    });
  }

  // Each value's direction is kept to itself: a Latin name in an Arabic sentence moves nothing around it.
  function shown(value) {
    const text = typeof value === "number" ? number(value) : String(value);
    return dir === "rtl" ? FIRST_STRONG + text + POP : text;
  }

  function say(key, values = {}) {
    const found = words[key];
    if (found === undefined) throw new RangeError(`no words for ${key}`);
    const text = typeof found === "string" ? found : found[plurals.select(values.num)] ?? found.other;
    return written(text).replace(/%\((\w+)\)s|%%/g, (sign, name) => (name ? shown(values[name]) : "%"));
  }

  const country = (code) => new Intl.DisplayNames([tag], { type: "region" }).of(code);
  return { tag, locale, dir, digits, say, number, country, has: (key) => key in words };
}

function row(tag, digits) {
  const format = new Intl.NumberFormat(tag, { numberingSystem: digits, useGrouping: false });
  return Array.from({ length: 10 }, (_, value) => format.format(value));
}

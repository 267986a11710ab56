// Judges answers about an eye by `rules.json`, on the phone as the server does (companion/triage): the same file,
// the same order, and a proof in the tests that both say the same. Pure: no page, no store, no network, no words.
//
// A condition is a question's place and a set of ranks, kept as bits: option `n` (0 the best) is bit `1 << n`.

export const EYES = ["right", "left"];
export const GENERAL = "general";
export const PARTS = [GENERAL, ...EYES];
export const UNSURE = "unsure";

const LOWEST_LEVEL = 1;
const HOLDS_FROM = 3; // asked for from this level on, no lens goes in
const ASKED = "asked";
export const TOLD = "told";
const EVERY_LEVEL = [1, 2, 3, 4, 5];

// Turn the file's content into what `evaluate` reads. Throws for a question or an option that does not exist.
export function readRules(data) {
  const questions = data.questions.map((row, place) => {
    const rank = (answer) => {
      const found = row.options.indexOf(answer === UNSURE ? row.unsure : answer);
      if (found < 0) throw new RangeError(`${row.id}: no such answer`);
      return found;
    };
    return { id: row.id, about: row.of, options: row.options, place, rank };
  });
  const byId = Object.fromEntries(questions.map((one) => [one.id, one]));
  const condition = (row) => {
    const { place, options, rank } = byId[row.question];
    const ranks = "at_least" in row ? options.map((_, n) => n).slice(rank(row.at_least)) : row.one_of.map(rank);
    return { place, bits: ranks.reduce((bits, n) => bits | (1 << n), 0) };
  };
  const formula = (row) => (row.all ?? []).map((clause) => clause.any.map(condition));
  const withFormula = (row) => ({ ...row, when: formula(row) });
  const pages = data.pages.map((row) => ({ ...row, required: Boolean(row.required) }));
  return {
    version: data.rules_version,
    pages,
    questions,
    byId,
    danger: new Set(pages.filter((page) => page.required).flatMap((page) => page.questions)),
    rules: data.rules.map(withFormula),
    modifier: withFormula(data.modifier),
    illnessHolds: data.illness_holds.map(withFormula),
    lens: data.lens.map(withFormula),
    advice: data.advice.map((row) => ({
      ...withFormula(row),
      levels: row.levels ?? EVERY_LEVEL,
      none: (row.none ?? []).map(condition),
      values: row.values ?? {},
    })),
    rechecks: data.rechecks.map(withFormula),
    moves: data.moves,
  };
}

// Give every question an answer. `shown` names the questions that a screen asked, by part: a blank among them is
// *unsure*, and so is a danger question that was not asked: the person's always, an eye's once anything about that
// eye was asked. Whatever else was not shown counts as its best option.
export function answersFromScreen(shown, given, rules) {
  return Object.fromEntries(PARTS.map((part) => {
    const here = shown[part] ?? [];
    const asked = new Set(here.length || part === GENERAL ? [...here, ...rules.danger] : []);
    const about = part === GENERAL ? "person" : "eye";
    const answers = rules.questions.filter((one) => one.about === about).map((one) => [
      one.id, given[part]?.[one.id] || (asked.has(one.id) ? UNSURE : one.options[0]),
    ]);
    return [part, Object.fromEntries(answers)];
  }));
}

// Judge one full set of answers. `illnessHolds` and `oneEyeHoldsBoth` are a practice's choices; a phone that does
// not know them takes the stricter ones. `askedLevel` is what somebody who sees the eye asked for, `toldLevel` what other rules
// have told the family: upward only.
export function evaluate(answers, rules, {
  illnessHolds = true, oneEyeHoldsBoth = false, askedLevel = LOWEST_LEVEL, toldLevel = LOWEST_LEVEL,
} = {}) {
  const ranks = EYES.map((eye) => ranksOf(answers, eye, rules));
  const fired = ranks.map((each) => rules.rules.filter((rule) => holds(rule.when, each)));
  const unmodified = fired.map((each) => highest(each.map((rule) => rule.level)));
  const eyes = unmodified.map((level, n) => modified(level, ranks[n], rules.modifier));
  const judged = Math.max(...eyes, askedLevel);
  const level = Math.max(judged, toldLevel);
  const calledFor = toldLevel > judged ? toldLevel : askedLevel;

  const illness = rules.illnessHolds.some(
    (hold) => (illnessHolds || !hold.by_choice) && ranks.some((each) => holds(hold.when, each)));
  const sore = fired.map((each) => each.some((rule) => rule.holds));
  const either = (oneEyeHoldsBoth && sore.includes(true)) || calledFor >= HOLDS_FROM;
  const findings = ranks.map((each, n) => ({ ranks: each, practice: sore[n] || either, illness }));
  const rechecks = rules.rechecks.filter(
    (row) => row.levels.includes(level) && ranks.some((each) => holds(row.when, each)));
  const minutes = new Set(rechecks.flatMap((row) => row.after_min));
  return {
    level,
    eyes: perEye((n) => eyes[n]),
    rules: rules.rules.filter((rule) => fired.some((each) => each.includes(rule))).map((rule) => rule.id),
    fired: perEye((n) => fired[n].map((rule) => rule.id)),
    deciding: [...(level > judged ? [TOLD] : judged > Math.max(...eyes) ? [ASKED] : []), ...deciding(fired, unmodified, eyes, rules)],
    lens: perEye((n) => rules.lens.find(
      (step) => holds(step.when, findings[n].ranks) && fits(step.held, findings[n])).instruction),
    wear_hold: perEye((n) => held(findings[n])),
    practice_hold: perEye((n) => findings[n].practice),
    illness_hold: illness,
    advice: adviceFor(level, findings, rules),
    recheck_min: [...minutes].sort((one, other) => one - other),
    recheck_moments: rechecks.flatMap((row) => row.moments),
    rules_version: rules.version,
  };
}

function ranksOf(answers, eye, rules) {
  return Uint8Array.from(
    rules.questions, (one) => one.rank((one.about === "person" ? answers[GENERAL] : answers[eye])[one.id]));
}

function meets(condition, ranks) {
  return (condition.bits >> ranks[condition.place]) & 1;
}

// An AND of ORs; the empty one always holds.
function holds(when, ranks) {
  return when.every((clause) => clause.some((condition) => meets(condition, ranks)));
}

function highest(levels) {
  return Math.max(LOWEST_LEVEL, ...levels);
}

function modified(level, ranks, modifier) {
  const applies = modifier.from_level <= level && level <= modifier.to_level && holds(modifier.when, ranks);
  return applies ? level + modifier.levels_up : level;
}

// Why the level is what it is: the rules of the highest level, then the modifier where it raised that level.
function deciding(fired, unmodified, eyes, rules) {
  const level = Math.max(...eyes);
  const leading = [0, 1].filter((n) => eyes[n] === level);
  const reasons = rules.rules.filter(
    (rule) => leading.some((n) => rule.level === unmodified[n] && fired[n].includes(rule)));
  const raised = leading.some((n) => unmodified[n] < level);
  return [...reasons.map((rule) => rule.id), ...(raised ? [rules.modifier.id] : [])];
}

// What to say, the first thing first: about the worst of both eyes, or about each eye that it applies to.
function adviceFor(level, findings, rules) {
  const person = {
    ranks: findings[0].ranks.map((rank, place) => Math.max(rank, findings[1].ranks[place])),
    practice: findings.some((one) => one.practice),
    illness: findings.some((one) => one.illness),
  };
  const said = [];
  for (const step of rules.advice) {
    if (!step.levels.includes(level)) continue;
    if (step.about === "eye") {
      const eyes = EYES.filter((_, n) => applies(step, findings[n]));
      if (eyes.length) said.push({ key: step.key, eyes });
    } else if (applies(step, person)) said.push({ key: step.key, eyes: [] });
  }
  return said;
}

function applies(step, findings) {
  return holds(step.when, findings.ranks)
    && !step.none.some((condition) => meets(condition, findings.ranks))
    && fits(step.held, findings);
}

function held(findings) {
  return findings.practice || findings.illness;
}

function fits(wanted, findings) {
  switch (wanted) {
    case undefined: return true;
    case "any": return held(findings);
    case "none": return !held(findings);
    default: return findings[wanted];
  }
}

function perEye(of) {
  return { right: of(0), left: of(1) };
}

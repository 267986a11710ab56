// Days that matter, as a list: templates/family/days.html as the phone paints it, without the tables of each hour.

import { certainty, sightRange } from "./tonight_page.js";
import { eyesOf } from "./now.js";
import { h } from "./markup.js";
import { callPractice, who } from "./shapes.js";

const NO_LENS = ["do_not_wear", "ask_clinic"];

// `view` from viewNow: what it says of each day, or that no night is named while a lens may not go in.
export function daysPage(voice, view, age) {
  const { say, day } = voice;
  const { wearer, ahead, practice, answer } = view;
  const now = Date.parse(view.now);
  const days = ahead.all.filter(({ to }) => Date.parse(to) > now);
  const answers = eyesOf(answer.eyes).map((eye) => answer.eyes[eye].answer);
  const stopped = [...NO_LENS].find((one) => ahead.stopped === one || answers.includes(one));
  return {
    title: say("say.days_that_matter"),
    nodes: [
      who(wearer, day(view.now)),
      age,
      h("h1", {}, say("say.days_that_matter")),
      h("p", { class: "quiet" }, say("pages.days_for")),
      stopped && days.length > 0 && h("section", { class: "card" },
        h("p", {}, h("b", {}, say(`stopped.${stopped}`)), ` ${say("pages.glasses_at_hand")}`),
        callPractice(voice, practice)),
      days.map((one) => h("section", { class: "card" },
        h("h2", {}, h("bdi", { translate: "no", "data-as-typed": true }, one.label)),
        h("p", {}, whenText(voice, one)),
        stopped ? one.driving && h("p", {}, say("day_note.driving_not_judged")) : planned(voice, one))),
      !days.length && h("p", { class: "aside" }, say("pages.no_day_named")),
      h("p", { class: "aside" }, say("here.days_network")),
      h("p", {}, h("a", { class: "button", href: `/w/${wearer.id}/tonight` }, say("say.place_tonight"))),
    ],
  };
}

function planned(voice, one) {
  const { say } = voice;
  const { plan } = one;
  const worst = plan?.moments[0];
  return [
    h("p", { class: "lead" }, nightsText(voice, one)),
    plan?.last_free && h("p", {}, say("pages.last_free", { night: voice.day(plan.last_free) })),
    plan?.checks.map(({ at, when }) => h("p", {}, say(when === "evening_before" ? "pages.check_before" : "pages.check_day", { day: voice.day(at) }))),
    notes(voice, one).map((said) => h("p", {}, said)),
    worst && h("dl", {},
      eyesOf(worst.eyes).map((eye) => [
        h("dt", {}, say("pages.eye_unaided", { eye: say(`eyes.${eye}`) })),
        h("dd", {}, sightRange(voice, worst.eyes[eye].acuity_logmar.p05, worst.eyes[eye].acuity_logmar.p95))]),
      h("dt", {}, say("pages.good_through")), h("dd", {}, h("b", {}, certainty(voice, plan.meets_target)))),
  ];
}

// Where nothing is worked out: glasses, and that driving is not ours to judge.
function notes({ say, has }, { plan, driving }) {
  const codes = plan?.notes ?? ["glasses_at_hand", ...(driving ? ["driving_not_judged"] : [])];
  return codes.filter((one) => has(`day_note.${one}`)).map((one) => say(`day_note.${one}`));
}

function whenText({ say, day, clock }, { from, to }) {
  const same = from.slice(0, 10) === to.slice(0, 10);
  const end = same ? clock(to) : say("say.day_at", { day: day(to), time: clock(to) });
  return say("pages.from_to", { day: day(from), start: clock(from), end });
}

function nightsText({ say, day, listing }, { rests_on: rests, plan }) {
  if (!rests.length) return say(plan ? "pages.no_night_left" : "pages.two_weeks_before");
  const nights = listing(rests.map((night) => day(night)));
  const free = plan?.nights.some((one) => !one.planned && rests.includes(one.night));
  return say(free ? "pages.nights_free" : "pages.nights_worn", { nights });
}

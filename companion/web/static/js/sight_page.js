// How sight is now, in words or off a chart: templates/family/sight.html as the phone paints it.

import { choice, hidden, text, toldForm } from "./fields.js";
import { newId } from "./ids.js";
import { h } from "./markup.js";
import { who } from "./shapes.js";

const EYES = ["right", "left"];
const WORDS = ["sharp", "good", "soft", "blurred"];

export function sightPage({ say }, { wearer }, age) {
  const ids = EYES.flatMap((eye) => ["word", "chart"].map((how) => [`id_${how}_${eye}`, newId()]));
  return {
    title: say("pages.how_is_sight"),
    nodes: [
      who(wearer),
      age,
      h("h1", {}, say("say.sight_now")),
      h("p", { class: "quiet" }, say("say.cover_eye")),
      toldForm(wearer, "sight", "sight", { then: "tonight" },
        hidden(Object.fromEntries(ids)),
        h("div", { class: "eyes" }, EYES.map((eye) => h("fieldset", {},
          h("legend", {}, say(`eyes.${eye}`)),
          WORDS.map((word) => choice(`word_${eye}`, [word, [
            h("b", { class: "capital" }, say(`sight.${word}`)), " ", h("span", { class: "small quiet" }, say(`sight_hint.${word}`)),
          ]]))))),
        h("details", { class: "more" },
          h("summary", {}, say("pages.read_chart")),
          h("p", { class: "hint" }, say("pages.chart_how")),
          EYES.map((eye) => text(`logmar_${eye}`, say(`pages.${eye}_logmar`), { inputmode: "decimal" })),
          text("distance_m", say("pages.distance"), { value: "3", inputmode: "decimal" })),
        h("details", { class: "more" },
          h("summary", {}, say("pages.earlier_today")),
          text("clock", say("pages.within_day"), { type: "time" })),
        h("button", { class: "act great" }, say("say.save"))),
      h("p", { class: "quiet small" }, say("say.sight_wrong")),
    ],
  };
}

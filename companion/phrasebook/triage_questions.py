"""The questions of triage in words, their options and hints, by the rule file's ids. Tables, no logic."""

from __future__ import annotations

from collections.abc import Mapping

from companion.phrasebook.marks import N_, NP_, InContext

PAGES: Mapping[str, str] = {
    "danger": N_("First: is this an emergency?"),
    "sight_and_pain": N_("How does the eye feel and see?"),
    "lens": N_("The lens"),
    "around_the_eye": N_("Look at the eye and around it"),
    "comfort": N_("Small things that help us"),
    "person": N_("The person"),
}

QUESTIONS: Mapping[str, str] = {
    "very_unwell": N_(
        "Hard to wake, confused, having a fit, stiff neck, trouble breathing, swollen face or tongue, or weak"
        " on one side?"
    ),
    "fever": N_("A temperature of 38 °C or more, or feels very hot?"),
    "cold_ill": N_("A cold, flu, sore throat, tummy bug, or feeling ill?"),
    "headache_vomit": N_("A very sore head, or feeling or being sick, together with this eye problem?"),
    "hygiene": N_("In the last 4 weeks, how was lens care?"),
    "risk_modifier": N_(
        "Is any of this true: a weak immune system, an eye operation, an eye infection before, only one eye "
        "that sees well, or drops used that nobody prescribed for this?"
    ),
    "worried": N_("Do you feel that something is seriously wrong?"),
    "recurrent": N_("Was it there on 2 or more days in the last 14, even if it went away?"),
    "chemical": N_("Did anything but eye drops get into the eye?"),
    "injury": N_("Was the eye bumped, scratched or cut?"),
    "odd_look": N_(
        "Does the eye look odd: blood in the coloured part, a turned eye, a drooping lid, pupils not alike?"
    ),
    "vision": N_("Cover the other eye. Look at a clock or a sign, with glasses if used. How is it?"),
    "floaters": N_("Are there spots or flashes?"),
    "double": N_("Does one thing look like two?"),
    "swelling": N_("How are the lids and the skin around the eye?"),
    "pain": N_("How sore is the eye now?"),
    "light": N_("Does normal light hurt?"),
    "redness": N_("How red is the white of the eye?"),
    "discharge": N_("Does anything come out of the eye?"),
    "spot": N_("Is there a white or cloudy dot on the coloured part?"),
    "haloes": N_("Are there rings round lights?"),
    "itch": N_("Does the eye itch?"),
    "dry": N_("Does the eye feel dry?"),
    "fb": N_("Does it feel as if something is in the eye, with the lens out and the eye rinsed with saline?"),
    "lens": N_("How was the lens?"),
    "lens_damage": N_("Is there a chip, crack or scratch on the lens?"),
    "course": N_("Since the last time a lens was worn: how long has the trouble been there?"),
}

HINTS: Mapping[str, str] = {
    "cold_ill": N_("We ask because lenses rest while a person is ill."),
    "hygiene": N_("We ask only to help the person who looks at the eye. This happens in many families."),
    "risk_modifier": N_("Tap “Yes” if any one of them is true."),
    "chemical": N_("Lens cleaner and peroxide count. So do soap, sunscreen, spray, glue and paint."),
    "injury": N_("A fingernail or the suction cup can scratch too."),
    "odd_look": N_("Compare both eyes in a mirror or in a photo."),
    "vision": N_("Blink a few times first."),
    "redness": N_("Compare both eyes in daylight."),
    "spot": N_("Shine a torch from the side. Do not touch the eye."),
    "fb": N_("Use sterile saline, never tap water for this."),
    "lens": N_("A lens is stuck if it does not move when you blink."),
    "course": N_("If no lens was worn for some time, count from when the trouble began."),
}

PICTURES: Mapping[str, Mapping[str, str]] = {
    # note: Below two drawings of an eye; each shows the least that its answer stands for.
    "redness": {
        "pink": N_("Like this, or a bit more? Tap “Pink”."),
        "red": N_("Like this, or more, or a red patch? Tap “Clearly red”."),
    },
}
"""Questions with drawings to compare with: by the option that each shows, what stands below it."""

PICTURES_IN_WORDS: Mapping[str, Mapping[str, str]] = {
    # note: The same two drawings in words, for those who cannot see them.
    "redness": {
        "pink": N_("A drawn eye. The white is pale pink, with some thin red lines."),
        "red": N_("A drawn eye. The white is red, with many thick red lines up to the coloured part."),
    },
}

_ASKED_YES_OR_NO = (
    *("very_unwell", "fever", "cold_ill", "headache_vomit", "risk_modifier", "worried", "recurrent"),
    *("odd_look", "spot", "lens_damage"),
)
_YES_NO: Mapping[str, InContext] = {"no": NP_("answer", "No"), "yes": NP_("answer", "Yes")}

UNSURE_WORD = NP_("answer", "Not sure")

OPTIONS: Mapping[str, Mapping[str, InContext]] = {
    **dict.fromkeys(_ASKED_YES_OR_NO, _YES_NO),
    "hygiene": {
        "none": NP_("lens care", "As we were shown"),
        "lapse": NP_("lens care", "Old or topped-up fluid, an old or dirty case, or lenses worn too long"),
        "water": NP_("lens care", "Water or spit on a lens, or a shower or swim with lenses in"),
    },
    "chemical": {
        "no": NP_("splash", "No"),
        "mild_rinsed": NP_("splash", "Baby shampoo or sunscreen; rinsed out, feels normal now"),
        "lens_chem": NP_("splash", "Peroxide or lens cleaner"),
        "other_chem": NP_("splash", "Anything else, or we do not know what"),
    },
    "injury": {
        "no": NP_("injury", "No"),
        "touch": NP_("injury", "A light touch; normal at once"),
        "blow_or_scratch": NP_("injury", "A blow or a scratch"),
        "cut_pierce_stuck": NP_("injury", "Cut or pierced, or something is stuck in the eye"),
    },
    "vision": {
        "normal": NP_("sight", "As usual"),
        "fluctuating": NP_("sight", "It comes and goes; a blink or glasses clear it"),
        "blur_stays": NP_("sight", "Blurred; a blink and glasses do not clear it"),
        "sudden_loss": NP_("sight", "All or part of sight is gone, or went within hours"),
    },
    "floaters": {
        "none": NP_("spots or flashes", "None"),
        "old": NP_("spots or flashes", "Old ones that were checked; they are the same"),
        "new": NP_("spots or flashes", "New ones"),
        "curtain": NP_("spots or flashes", "A shadow or a curtain"),
    },
    "double": {
        "none": NP_("double", "No"),
        "ghost": NP_("double", "A faint shadow image that we know"),
        "new_double": NP_("double", "Yes, and it is new"),
    },
    "swelling": {
        "none": NP_("lids", "As usual"),
        "puffy": NP_("lids", "Puffy"),
        "red_hot": NP_("lids", "Red, warm and sore to touch"),
        "bulging": NP_("lids", "The eye is pushed out, cannot open, or hurts when it moves"),
    },
    "pain": {
        "none": NP_("soreness", "Not sore"),
        "gone_lens_out": NP_("soreness", "It was sore; it went when the lens came out"),
        "mild": NP_("soreness", "A bit sore or gritty; easy to forget"),
        "moderate": NP_("soreness", "Sore; hard to forget, wants the eye shut"),
        "severe": NP_("soreness", "Very sore; wakes the person, or the eye cannot open"),
    },
    "light": {
        "none": NP_("light", "No"),
        "mild": NP_("light", "A little"),
        "marked": NP_("light", "Yes, a lot"),
    },
    "redness": {
        "none": NP_("redness", "White"),
        "cleared": NP_("redness", "It was pink; white again within 1 hour"),
        "pink": NP_("redness", "Pink"),
        "red": NP_("redness", "Clearly red, or a red patch"),
    },
    "discharge": {
        "none": NP_("discharge", "Nothing"),
        "watery": NP_("discharge", "Water or many tears"),
        "sticky": NP_("discharge", "Something sticky"),
        "pus": NP_("discharge", "Yellow or green pus"),
    },
    "haloes": {
        "none": NP_("rings", "None"),
        "usual": NP_("rings", "The usual ones"),
        "new": NP_("rings", "New ones, or more than usual"),
    },
    "itch": {
        "none": NP_("itch", "No"),
        "mild": NP_("itch", "A little"),
        "strong": NP_("itch", "A lot"),
    },
    "dry": {
        "none": NP_("dry", "No"),
        "some": NP_("dry", "Now and then"),
        "constant": NP_("dry", "All the time"),
    },
    "fb": {
        "no": NP_("something in the eye", "No"),
        "gone": NP_("something in the eye", "It was there; it is gone"),
        "still": NP_("something in the eye", "Yes, still"),
    },
    "lens": {
        "ok": NP_("lens", "It came out as usual, or none was worn"),
        "freed_once": NP_("lens", "It was stuck once, then came free"),
        "freed_repeat": NP_("lens", "It was stuck on several mornings, then came free"),
        "stuck_now": NP_("lens", "It is stuck now, for less than 30 minutes"),
        "maybe_in_eye": NP_("lens", "We cannot find it; it may be in the eye"),
        "stuck_long_or_broken": NP_("lens", "It is stuck for 30 minutes or more, or a piece is missing"),
    },
    "course": {
        "cleared": NP_("how long", "No trouble, or all gone within 1 hour"),
        "under_1h": NP_("how long", "Less than 1 hour so far"),
        "over_1h": NP_("how long", "More than 1 hour"),
        "over_24h_or_worse": NP_("how long", "More than 24 hours, or it gets worse"),
    },
}

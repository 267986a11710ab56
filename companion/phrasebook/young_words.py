"""The questions as a young wearer reads who is alone with them: the same ids, spoken to *you*. Tables, no logic.

What is not here is said as to everybody. Part of the safety text: neither a clinician nor a linguist has reviewed
these sentences yet.
"""

from __future__ import annotations

from collections.abc import Mapping

from companion.phrasebook.marks import N_, NP_, InContext

ADULT: Mapping[str, str] = {
    # note: To a child or a teenager who signs in alone. Adults are those who look after them here.
    "tell": N_("Tell an adult near you now."),
    "call": N_("Call %(name)s"),
    "show": N_("Show them this page."),
    # note: Beside a serious report of a minor; said whether or not they like it.
    "told": N_("The adults who look after you here are told about this report."),
    "own_pace": N_("Answer as well as you can. “Not sure” is a good answer too."),
}

PAGES: Mapping[str, str] = {
    "person": N_("About you"),
    "sight_and_pain": N_("How does your eye feel and see?"),
    "around_the_eye": N_("Look at your eye in a mirror"),
}

INTRODUCTIONS: Mapping[str, str] = {
    # note: "it" is the contact lens.
    "lens_out": N_("Is your lens still in? Take it out now if it moves with ease and your eye is not cut."),
}

QUESTIONS: Mapping[str, str] = {
    "very_unwell": N_(
        "Do you have any of this: hard to stay awake, confused, a fit, a stiff neck, trouble breathing, a swollen"
        " face or tongue, or weak on one side?"
    ),
    "fever": N_("Do you have a temperature of 38 °C or more, or feel very hot?"),
    "cold_ill": N_("Do you have a cold, flu, a sore throat or a tummy bug, or feel ill?"),
    "headache_vomit": N_(
        "Is your head very sore, or do you feel sick or throw up, together with this eye problem?"
    ),
    "hygiene": N_("In the last 4 weeks, how did you look after your lenses?"),
    "risk_modifier": N_(
        "Is any of this true for you: a weak immune system, an eye operation, an eye infection before, only one"
        " eye that sees well, or drops used that nobody prescribed for this?"
    ),
    "chemical": N_("Did anything but eye drops get into your eye?"),
    "injury": N_("Was your eye bumped, scratched or cut?"),
    "odd_look": N_(
        "Does your eye look odd: blood in the coloured part, a turned eye, a drooping lid, pupils not alike?"
    ),
    "vision": N_("Cover your other eye. Look at a clock or a sign, with glasses if you use them. How is it?"),
    "floaters": N_("Do you see spots or flashes?"),
    "swelling": N_("How are your lids and the skin around your eye?"),
    "pain": N_("How sore is your eye now?"),
    "light": N_("Does normal light hurt your eye?"),
    "redness": N_("How red is the white of your eye?"),
    "discharge": N_("Does anything come out of your eye?"),
    "haloes": N_("Do you see rings round lights?"),
    "itch": N_("Does your eye itch?"),
    "dry": N_("Does your eye feel dry?"),
    "fb": N_("Does it feel as if something is in your eye, with the lens out and the eye rinsed with saline?"),
    "lens": N_("How was your lens?"),
    "lens_damage": N_("Is there a chip, crack or scratch on your lens?"),
    "course": N_("Since you last wore a lens: how long has the trouble been there?"),
}

HINTS: Mapping[str, str] = {
    "cold_ill": N_("We ask because lenses rest while you are ill."),
    "hygiene": N_("We ask only to help the person who looks at your eye. Many people tap one of these."),
}

OPTIONS: Mapping[str, Mapping[str, InContext]] = {
    "hygiene": {"none": NP_("lens care", "As I was shown")},
    "chemical": {"other_chem": NP_("splash", "Anything else, or I do not know what")},
    "double": {"ghost": NP_("double", "A faint shadow image that I know")},
    "pain": {"severe": NP_("soreness", "Very sore; it wakes me, or I cannot open my eye")},
    "lens": {"maybe_in_eye": NP_("lens", "I cannot find it; it may be in my eye")},
}

"""Lens care in words: the steps of evening and morning with their whys, and when things are due again.

Owns the sentences for the ids of ``regimen/``; decides nothing. Water is never right for a lens and always right
for a splash: whoever changes a sentence about water keeps both halves. Handling help has words of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

from companion.phrasebook.marks import N_, NP_, InContext
from companion.phrasebook.phrases import Phrases

HALF_A_YEAR = timedelta(days=180)

STEPS: Mapping[str, str] = {
    # note: Steps of lens care, in the order in which they are done. Verbs first, one action a sentence.
    "place": N_("Sit at a clean table in good light, not in the bathroom. A child has a grown-up there."),
    "hands": N_(
        "Wash hands with soap for 20 seconds. Rinse. Dry them well with a clean cloth that leaves no fluff."
    ),
    "look_at_eye": N_(
        "Look at the eyes. A lens goes only into a white eye that does not hurt, in a person who is well."
    ),
    "right_lens_right_eye": N_(
        "Do one eye, then the other. Right lens for the right eye, left lens for the left."
    ),
    "look_at_lens": N_("Look at the lens. Do not wear it with a chip, a crack, or dirt that stays."),
    "rinse_lens": N_(
        "Rinse the lens with sterile saline or the rinse that the practice chose. Never use tap water, bottled "
        "water, distilled water or spit."
    ),
    "rinse_off_with_saline": N_(
        "Rinse the lens with sterile saline. Never use peroxide for this. Never use tap water, bottled water, "
        "distilled water or spit."
    ),
    "drop_in_bowl": N_("Put one or two drops without preservative in the bowl of the lens. Leave no bubble."),
    "insert": N_("Put the lens on the middle of the eye. Does it hurt? Take it out, rinse it, try once more."),
    "dry_case": N_(
        "Empty the case. Rub and rinse it with fresh solution. Wipe it with a clean tissue. Let it dry upside "
        "down, caps off."
    ),
    "dry_peroxide_case": N_("Empty the case. Rinse it with sterile saline. Let it dry upside down, open."),
    "drops_and_wait": N_("Put lens drops in each eye. Wait a few minutes. Blink."),
    "must_move": N_("Look in a mirror and blink. The lens must slide. If it does not move, do not pull it."),
    "take_out": N_(
        "Take out a lens that moves, as you were shown: with the lids, or with the suction cup over its edge."
    ),
    "look_and_see": N_("Look at each eye. Is it white? Does it see as usual? Is nothing sore?"),
    "clean_lens": N_("Rub both sides of the lens with your cleaner. Rinse it with solution, never with water."),
    "clean_before_peroxide": N_(
        "Clean and rinse the lens as you were shown, never with water. Put each lens in its own side of the "
        "holder."
    ),
    "fresh_solution": N_("Fill the case with fresh solution up to the line. Never top up old fluid. Close it."),
    "fresh_peroxide": N_(
        "Fill the special case with fresh peroxide up to the line. Never top up old fluid. Close it. Write down "
        "the time here."
    ),
    "dry_cup": N_("Do you use a suction cup? Clean it, dry it, keep it in its own box. Never keep it in water."),
}

WHYS: Mapping[str, str] = {
    # note: Why a step is done. One or two short sentences.
    "lost_down_the_drain": N_("A lens that falls into a sink meets water and germs, or is gone."),
    "germs_on_hands": N_("Germs on fingers go straight to the eye. Wet fingers carry tap water."),
    "only_a_white_eye": N_("A lens on a sore or red eye can make a small trouble a big one."),
    "peroxide_burns": N_("Peroxide that has not had its time burns the eye."),
    "each_lens_its_eye": N_("Each lens is shaped for one eye. The marks tell them apart."),
    "chips_scratch": N_("A small chip can scratch the eye all night."),
    "old_fluid_grows_germs": N_("Fluid gets weaker with time, and germs can grow in it."),
    "water_carries_germs": N_(
        "Water can carry germs that do great harm under a lens. One thing is different: if something splashes "
        "into an eye, rinse the eye at once, and tap water is right for that."
    ),
    "no_bubble": N_("With a bubble under it, the lens does not sit well on the eye."),
    "must_not_hurt": N_("A lens that sits well does not hurt. Pain can mean dirt, a chip or a sore eye."),
    "wet_case_grows_germs": N_("Germs grow where it stays wet."),
    "lens_sticks_overnight": N_("After a night a lens often sits tight. Fluid lets it float again."),
    "pulling_harms": N_("Pulling at a lens that sits tight can hurt the eye."),
    "find_it_early": N_("The sooner trouble is seen, the sooner somebody can help."),
    "rubbing_takes_germs_off": N_("Rubbing takes off what soaking alone leaves on the lens."),
    "used_fluid_is_weak": N_("Used fluid is weak. New fluid on top of it is weak too."),
}

ITEMS: Mapping[tuple[str, str | None], InContext] = {
    # note: Things of lens care that are changed from time to time.
    ("bottle", "solution"): NP_("lens care", "Bottle of solution"),
    ("bottle", "cleaner"): NP_("lens care", "Bottle of cleaner"),
    ("bottle", "saline"): NP_("lens care", "Bottle of saline"),
    ("bottle", "drops"): NP_("lens care", "Bottle of drops"),
    ("case", None): NP_("lens care", "Lens case"),
    ("suction_cup", None): NP_("lens care", "Suction cup"),
    ("protein", None): NP_("lens care", "Protein cleaning"),
    ("lens", "right"): NP_("lens care", "Right lens"),
    ("lens", "left"): NP_("lens care", "Left lens"),
}
PEROXIDE_BOTTLE = NP_("lens care", "Bottle of peroxide")

RENEWED: Mapping[tuple[str, str | None], str] = {
    # note: Lines in the diary: what was opened, changed or done on a day.
    ("bottle", "solution"): N_("New bottle of solution"),
    ("bottle", "cleaner"): N_("New bottle of cleaner"),
    ("bottle", "saline"): N_("New bottle of saline"),
    ("bottle", "drops"): N_("New bottle of drops"),
    ("case", None): N_("New lens case"),
    ("suction_cup", None): N_("New suction cup"),
    ("protein", None): N_("Protein cleaning done"),
    ("soak", None): N_("Lenses in fresh peroxide"),
    ("lens", "both"): N_("New lenses, right and left"),
    ("lens", "right"): N_("New right lens"),
    ("lens", "left"): N_("New left lens"),
}

STUCK_SAID: Mapping[tuple[str, str], str] = {
    # note: Lines in the diary about a lens that did not move on the eye.
    ("stuck", "both"): N_("Both lenses stuck"),
    ("stuck", "right"): N_("Right lens stuck"),
    ("stuck", "left"): N_("Left lens stuck"),
    ("free", "both"): N_("Both lenses free again"),
    ("free", "right"): N_("Right lens free again"),
    ("free", "left"): N_("Left lens free again"),
}

STUCK_CHOICES: Mapping[str, InContext] = {
    # note: Buttons that start the clock of a stuck lens.
    "right": NP_("stuck", "Right lens"),
    "left": NP_("stuck", "Left lens"),
    "both": NP_("stuck", "Both lenses"),
}

HEADINGS: Mapping[str, str] = {
    # note: Headings of the small forms where a family writes down what is new.
    "bottle": N_("New bottle"),
    "case": N_("New lens case"),
    "suction_cup": N_("New suction cup"),
    "protein": N_("Protein cleaning"),
    "lens": N_("New lens"),
}

CHANGE_BY: Mapping[str, str] = {
    # note: %(day)s is a date. When a thing of lens care is to be changed or done.
    "bottle": N_("Open a new one by %(day)s."),
    "case": N_("Change it by %(day)s."),
    "suction_cup": N_("Change it by %(day)s."),
    "protein": N_("Next time: %(day)s."),
    "lens": N_("A new one is due by %(day)s."),
}
CHANGE_NOW: Mapping[str, str] = {
    # note: The same once the day has come. Plain, no reproach.
    "bottle": N_("Open a new one now. This one was for use until %(day)s."),
    "case": N_("Change it now. It was due on %(day)s."),
    "suction_cup": N_("Change it now. It was due on %(day)s."),
    "protein": N_("It is time. It was due on %(day)s."),
    "lens": N_("Ask the practice for a new one. It was due on %(day)s."),
}
NO_DATE_YET = N_("No date yet. Write it down when the next one is new.")
LIMITS: Mapping[str, str] = {
    # note: Which limit comes first and so decides the date.
    "practice": N_("as the practice set it"),
    "label": N_("as the label says"),
    "use_by": N_("by the date on the bottle"),
    "new_box": N_("a new case came with the new bottle"),
}

SYSTEMS: Mapping[str, InContext] = {
    # note: Kinds of lens fluid, for the practice. "Rinse system": one or more fluids, without peroxide.
    "multipurpose": NP_("care system", "Rinse system (no peroxide)"),
    "peroxide": NP_("care system", "Peroxide system"),
}
NUMBERS: Mapping[str, str] = {
    # note: For the practice: what the number in the field says.
    "case_days": N_("Change the case after [days]"),
    "bottle_days": N_("Change an opened bottle after [days]"),
    "lens_days": N_("Change a lens after [days]"),
    "suction_cup_days": N_("Change the suction cup after [days]"),
    "protein_days": N_("Protein cleaning every [days]"),
    "stored_days": N_("Soak again before wear when not worn for [days]"),
    "peroxide_hours": N_("Peroxide needs at least [hours]"),
}


def step_text(phrases: Phrases, step: str, numbers: Mapping[str, int | None]) -> str:
    """Say one step; ``numbers`` are the practice's."""
    if step == "after_a_break":
        return phrases.ngettext(
            "Not worn for more than %(num)s day? Clean the lens and soak it again first.",
            "Not worn for more than %(num)s days? Clean the lens and soak it again first.",
            int(numbers.get("stored_days") or 1),
        )
    if step == "soaked_long_enough":
        return phrases.ngettext(
            "Look at the time. The lenses must have been in peroxide for %(num)s hour or more.",
            "Look at the time. The lenses must have been in peroxide for %(num)s hours or more.",
            int(numbers.get("peroxide_hours") or 6),
        )
    return phrases.say(STEPS[step])


def item_text(phrases: Phrases, item: str, part: str | None, system: str | None) -> str:
    """Name a thing of lens care."""
    if (item, part, system) == ("bottle", "solution", "peroxide"):
        return phrases.say(PEROXIDE_BOTTLE)
    return phrases.say(ITEMS[item, part])


def due_text(phrases: Phrases, item: str, state: str, on: date | None, today: date) -> str:
    """Say when a thing is to be changed."""
    if on is None:
        return phrases.say(NO_DATE_YET)
    table = CHANGE_NOW if state == "due" else CHANGE_BY
    return phrases.say(table[item], day=date_text(phrases, on, today))


def date_text(phrases: Phrases, day: date, today: date) -> str:
    """Say a date, with its year where it could be taken for another one's."""
    return phrases.day(day) if abs(day - today) < HALF_A_YEAR else phrases.long_day(day)


def renewed_text(phrases: Phrases, payload: Mapping[str, Any]) -> str:
    """Say in one line what a ``care_item`` entry says."""
    return phrases.say(RENEWED[payload["item"], payload.get("which") or payload.get("eyes")])


def stuck_text(phrases: Phrases, payload: Mapping[str, Any]) -> str:
    """Say in one line what a ``stuck_lens`` entry says."""
    return phrases.say(STUCK_SAID[payload["said"], payload["eyes"]])

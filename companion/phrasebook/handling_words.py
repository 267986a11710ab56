"""Handling help in words: a lens that will not go in, stings, slid, sticks, fell, broke, or is in the other eye.

Not a report of symptoms, but every topic ends in questions that lead to one. Kept in every sentence: nothing pulls
at a lens that does not move, no lid is rubbed, no water touches a lens, and a splash is rinsed with plenty of it.
"""

from __future__ import annotations

from collections.abc import Mapping

from companion.phrasebook.marks import N_

TOPICS: Mapping[str, str] = {
    # note: Things that happen with a lens, as buttons and headings.
    "will_not_go_in": N_("It will not go in"),
    "stings": N_("It stings"),
    "off_centre": N_("It slid onto the white"),
    "stuck": N_("It is stuck"),
    "dropped": N_("It fell down"),
    "broken": N_("It is broken"),
    "swapped": N_("Right and left are swapped"),
}

STEPS: Mapping[str, str] = {
    # note: Steps of handling help. Verbs first, one action a sentence.
    "rest_the_eye": N_("Stop for a moment. Close the eye and let it rest."),
    "hands_again": N_("Wash your hands with soap. Dry them well."),
    "rinse_with_saline": N_("Rinse the lens with sterile saline. Never use tap water on a lens."),
    "hold_both_lids": N_("Hold both lids open, close to the lashes. Look straight ahead into a mirror."),
    "bowl_with_a_drop": N_(
        "Put one or two lens drops in the bowl of the lens. Bring it to the middle of the eye."
    ),
    "three_tries": N_(
        "Still not in after 3 tries? Leave it out tonight. Wear glasses tomorrow. Do not wear it longer another "
        "night to catch up."
    ),
    "splash_rinse_eye": N_(
        "Did peroxide or lens cleaner get into the eye? Rinse the eye now with lots of clean water, for 20 "
        "minutes. Tap water is right for this. Let the lens wash out, or take it out when it is loose. Do not "
        "rinse an eye that is cut."
    ),
    "out_if_it_moves": N_("Take the lens out if it moves. Do not pull at a lens that sits tight."),
    "right_at_once": N_("Look at the eye with the lens out. Go on only if it is white and feels right at once."),
    "chips_and_dirt": N_(
        "Look at the lens in good light. Do not wear it with a chip, a crack, or dirt that stays."
    ),
    "once_more": N_("Put it in once more, with fresh drops in the bowl."),
    "stings_again": N_("Does it sting again? Leave it out tonight and tell the practice."),
    "cannot_go_behind": N_("Stay calm. A lens cannot go behind the eye."),
    "find_it": N_("Look in a mirror. Look up, down, left and right until you see the lens."),
    "drops_and_blink": N_("Put in two or three lens drops. Wait a minute. Blink."),
    "press_lid_edge": N_(
        "Press gently with a fingertip on the edge of the lid, just beside the lens. This lets fluid under it."
    ),
    "slide_back": N_("When it moves, look slowly towards it. It slides back to the middle, or comes out."),
    "no_cup_no_nail": N_("Use no suction cup and no fingernail on a lens that does not move."),
    "drops_and_close": N_("Put in two or three lens drops, or sterile saline. Close the eye for 5 minutes."),
    "look_around": N_("Look up, down, left and right. Blink. Then drops again, and 5 minutes more."),
    "no_rubbing": N_("Do not rub the lid. The hard lens under it can scratch the eye."),
    "free_then_wait": N_("Does it move with each blink? Wait a minute. Then take it out."),
    "do_not_put_in": N_("Do not put it in yet."),
    "no_tap_water": N_("Do not rinse it with water or spit. Use sterile saline or your solution."),
    "clean_it_all": N_("Clean it as you do every day: rub both sides, then rinse."),
    "full_soak": N_("Soak it in fresh fluid for the full time before you wear it."),
    "no_time_glasses": N_("No time for that tonight? Leave it out. Wear glasses tomorrow."),
    "ask_about_water": N_("Did it touch water? Ask the practice before you wear it again."),
    "no_damaged_lens": N_("Do not wear a chipped or cracked lens, not for one night."),
    "all_the_pieces": N_("Lay the pieces on a clean cloth. Is the whole lens there?"),
    "piece_still_in_eye": N_("May a piece be in the eye? Do not rub the eye. Do not dig for it."),
    "keep_pieces": N_("Keep the pieces and bring them to the practice."),
    "no_old_lens": N_("Wear no old lens, and never the lens of the other eye."),
    "glasses_and_call": N_("Wear glasses. Ask the practice for a new lens."),
    "compare_marks": N_("Look at the marks on the lenses."),
    "only_if_white": N_("Put each lens in its own eye only if both eyes are white and nothing hurts."),
    "slept_swapped": N_("Did you sleep with them swapped? Leave them out, wear glasses and tell the practice."),
    "blurred_no_driving": N_("Do not drive while sight is blurred."),
}

NEVER = frozenset({"cannot_go_behind", "no_rubbing", "no_cup_no_nail"})
"""What is left to say when a lens has been stuck too long: no more attempts."""

LEADS: Mapping[str, str] = {
    # note: Questions at the end of handling help. "Yes" leads on to the report, or to other help.
    "sore_red_blurred": N_("Is the eye sore or red, or does it see less well?"),
    "splashed": N_("Did peroxide or cleaner get into the eye?"),
    "sore_without_lens": N_("Is the eye still sore or red with the lens out?"),
    "does_not_move": N_("Does the lens not move at all?"),
    "cannot_find_it": N_("Can you not find the lens?"),
    "stuck_and_hurts": N_("Is it stuck, and the eye hurts or is clearly red?"),
    "stuck_half_an_hour": N_("Is it stuck for 30 minutes or more?"),
    "chipped": N_("Is it chipped or cracked?"),
    "water_and_sore": N_("Was a lens worn after it touched water, and the eye is sore, red or watery?"),
    "piece_missing": N_("Is a piece missing?"),
    "whole_and_white": N_(
        "Is the whole lens there, and the eye white? Tell the practice, so that they order one."
    ),
}

STUCK_HEADINGS: Mapping[str, str] = {
    # note: What to do about a stuck lens, as the minutes pass. The one large sentence of the page.
    "loosen": N_("Do not pull. Loosen it first."),
    "call": N_("Call the practice now. Do not pull."),
    "report": N_("Do not pull. This needs help today."),
}

"""What a triage result says: why, what to do with the lens, what to do next. Tables by id, no logic.

One action a sentence. The order of the advice is the rule file's. Numbers come from the rule file too.
"""

from __future__ import annotations

from collections.abc import Mapping

from companion.common.eyes import Eye
from companion.phrasebook.marks import N_

# note: Each is a whole sentence and stands alone in a list under the heading "Why".
WHY: Mapping[str, str] = {
    "R501": N_("Because the person is very unwell."),
    "R502": N_("Because something got into the eye that can burn it, or nobody knows what it was."),
    "R503": N_("Because the eye may be cut or pierced, or something is stuck in it."),
    "R504": N_("Because all or part of sight went suddenly."),
    "R505": N_("Because there is a shadow or a curtain in sight."),
    "R506": N_("Because the eye looks odd: blood inside, pupils not alike, a turned eye or a drooping lid."),
    "R507": N_("Because the eye is pushed out, cannot open, or hurts when it moves."),
    "R508": N_("Because the lids are red and hot and there is a fever."),
    "R509": N_("Because the eye hurts very much."),
    "R510": N_("Because a sore head or feeling sick came with a sore eye, blur or new rings round lights."),
    "R511": N_("Because one thing looks like two, with a sore head or after a knock."),
    "R512": N_("Because the eye was hurt, and now sight is blurred, the head is sore or the person is sick."),
    "R513": N_("Because lens cleaner or peroxide got in, and the eye is still sore or blurred."),
    "R401": N_("Because sight is blurred, and blinking and glasses do not clear it."),
    "R402": N_("Because the eye is really sore."),
    "R403": N_("Because normal light hurts a lot."),
    "R404": N_("Because light hurts, and the eye is pink, sore or watering."),
    "R405": N_("Because the eye is clearly red and there is one more sign."),
    "R406": N_("Because pus comes out of the eye."),
    "R407": N_("Because there is a white or cloudy dot on the coloured part."),
    "R408": N_("Because there are new spots or flashes."),
    "R409": N_("Because one thing now looks like two."),
    "R410": N_("Because the lids are red, warm and sore."),
    "R411": N_("Because the lids are puffy and there is a fever."),
    "R412": N_("Because the eye had a blow or a scratch."),
    "R413": N_(
        "Because lens cleaner or peroxide got into the eye. It can do harm even if the eye feels better."
    ),
    "R414": N_("Because the lens does not come free, or a piece of it is missing."),
    "R415": N_("Because it has gone on for more than a day without the lens, or gets worse."),
    "R416": N_("Because the eye has a sign, and water may have touched a lens."),
    "R417": N_("Because a sore head or feeling sick came with an eye sign."),
    "R418": N_("Because the lens is stuck or missing, and the eye is sore or very red."),
    "R419": N_("Because it feels as if something is in the eye, and there is one more sign."),
    "R420": N_("Because there are new rings round lights, and the eye is pink, sore or hurt by light."),
    "R301": N_("Because the eye is clearly red. A look does not tell what a red eye is."),
    "R302": N_("Because the eye is still pink or sore more than an hour after the lens came out."),
    "R303": N_("Because light hurts a little."),
    "R304": N_("Because something sticky comes out of the eye."),
    "R305": N_("Because it still feels as if something is in the eye."),
    "R306": N_("Because the lens may still be in the eye."),
    "R307": N_("Because the eye has a mild sign, and lens care was not as usual."),
    "R308": N_("Because you feel that something is seriously wrong. That counts."),
    "R309": N_("Because the eye has been watering or puffy for more than a day, or gets worse."),
    "R310": N_("Because the eye is pink or sore, and it has come back."),
    "R311": N_("Because sight comes and goes, and the eye is pink or sore."),
    "R201": N_("Because sight comes and goes, or there is a shadow image or new rings round lights."),
    "R202": N_("Because the eye is pink or a bit sore."),
    "R203": N_("Because the eye is watering or the lids are puffy."),
    "R204": N_("Because the eye itches a lot or is dry all the time."),
    "R205": N_("Because the lens was stuck on several mornings, or is stuck or missing now."),
    "R206": N_("Because the lens is damaged."),
    "R207": N_("Because water may have touched a lens. Trouble from that can come later."),
    "R208": N_("Because it was there on 2 or more days."),
    "R209": N_("Because something got into the eye or touched it."),
    "R210": N_("Because of the sore head or feeling sick."),
    "asked": N_("Because somebody who sees the eye thinks that it is worse."),
    # note: Both judged the same answers, by rules of two days. "more urgent": needs help sooner.
    "told": N_("Because the phone and the practice do not judge this alike. The more urgent of the two counts."),
    "M1": N_("One step more urgent, because of what you said about the person's health or drops."),
}

LENS: Mapping[str, Mapping[Eye, str]] = {
    "do_not_touch": {
        Eye.RIGHT: N_("Right eye: do not touch it. Leave the lens where it is."),
        Eye.LEFT: N_("Left eye: do not touch it. Leave the lens where it is."),
    },
    "rinse_first": {
        Eye.RIGHT: N_("Right eye: rinse first. If the lens comes loose, take it out."),
        Eye.LEFT: N_("Left eye: rinse first. If the lens comes loose, take it out."),
    },
    "do_not_pull": {
        Eye.RIGHT: N_("Right eye: do not pull the lens. Use no suction cup."),
        Eye.LEFT: N_("Left eye: do not pull the lens. Use no suction cup."),
    },
    "take_out": {
        Eye.RIGHT: N_("Right eye: take the lens out if it comes out with ease. Do not force it."),
        Eye.LEFT: N_("Left eye: take the lens out if it comes out with ease. Do not force it."),
    },
    "none": {
        Eye.RIGHT: N_("Right eye: your answers ask for nothing special with the lens."),
        Eye.LEFT: N_("Left eye: your answers ask for nothing special with the lens."),
    },
}

ADVICE: Mapping[str, str] = {
    "ambulance_first": N_("Call the emergency number first. Say that the person is very unwell."),
    "follow_call_taker": N_(
        "Call the emergency number now. Say that something splashed in and that the eye may be cut. Do what "
        "the person on the phone tells you."
    ),
    "rinse_now": N_(
        "Rinse now. Use lots of clean water. Hold the lids open. Keep rinsing for at least %(minutes)s "
        "minutes. Do not rinse if something has cut or stuck in the eye."
    ),
    "rinse_tap_water": N_(
        "Tap water is right for rinsing a splash out of the eye. It is never right for a lens or a case."
    ),
    "rinse_lens_loose": N_("Do not stop to look for the lens. If it comes loose, take it out."),
    "cut_do_not_touch": N_(
        "Do not touch the eye. Do not press on it. Do not rinse it. Do not pull anything out. Leave the lens "
        "where it is."
    ),
    "cut_shield": N_("Hold a clean cup over the eye as a shield. The cup must not touch the eye."),
    "go_now": N_(
        "This may harm sight. Get help now. Go to an emergency department or an eye emergency clinic. If you "
        "cannot get there fast, call the emergency number. Do not wait for us to call you."
    ),
    "rinse_then_go": N_(
        "This may harm sight. After rinsing, go to an emergency department or an eye emergency clinic. If you"
        " cannot get there fast, call the emergency number. Do not wait for us to call you."
    ),
    "call_today": N_(
        "An eye check is needed today. Call the practice now. If no one can see you within %(hours)s hours, "
        "or the practice is closed, go to an eye emergency clinic or an emergency department."
    ),
    "book_within_day": N_(
        "An eye check is needed within %(hours)s hours. Call the practice now and book a visit. If the "
        "practice is closed until then, ask another eye clinic. If it gets worse, go to an emergency "
        "department."
    ),
    "hear_from_practice": N_(
        "The practice should look at this within one working day and see you in the next few days. Call the "
        "practice if you hear nothing by then."
    ),
    "watch_at_home": N_(
        "This does not look urgent from your answers. The app cannot see the eye and can be wrong. Look again"
        " in %(hours)s hours, and before the next lens goes in."
    ),
    "do_not_pull": N_(
        "Do not pull the lens. Use no fingernail. Use no suction cup on a lens that does not move. A lens "
        "cannot go behind the eye."
    ),
    "stuck_loosen": N_(
        "Wash your hands. Put in two or three lens drops or sterile saline. Close the eye for %(minutes)s "
        "minutes. Look up, down, left and right. Blink. Press gently on the edge of the lid, next to the "
        "lens. Do not rub. When the lens moves with each blink, wait a minute. Then take it out."
    ),
    "stuck_call": N_("Is it still stuck after %(minutes)s minutes, or does it hurt? Call the practice."),
    "lens_missing": N_("The lens cannot go behind the eye. Do not dig for it. Do not rub the eye."),
    "blow_cold_pack": N_("Hold something cold near the eye. Do not press."),
    "no_lens_back": N_("Put no lens back in."),
    "wait_for_practice": N_("Wear no lens until the practice says that you may."),
    "no_lens_until_well": N_(
        "Wear no lenses while the person is ill. Wait until they have been well for %(hours)s hours and the "
        "eyes look and feel as usual."
    ),
    "keep_lenses": N_("Keep the lenses, the case and all the bottles. Bring them when you are seen."),
    "wear_glasses": N_("Wear glasses for now."),
    "do_not_drive": N_("Do not drive. Ask someone to take you."),
    "drive_with_care": N_("Do not drive if sight is blurred or double, or if rings hide the road."),
    "bring_bottle": N_("Bring the bottle or the pack of what got into the eye."),
    "tell_water": N_("Tell the person who looks at the eye that water or spit may have touched a lens."),
    "water_watch": N_("Ask the practice about a new case and about this lens. Watch the eye for some weeks."),
    "stop_unprescribed_drops": N_(
        "Did you use drops that nobody prescribed for this? Stop those drops and bring the bottle. Do not "
        "stop prescribed drops without asking who prescribed them."
    ),
    "say_lenses_overnight": N_("Say to everyone who sees the eye: “I wear contact lenses overnight.”"),
    "no_old_drops": N_("Use no old drops and no one else's drops."),
    "do_not_cover": N_("Do not cover or patch the eye."),
    "no_damaged_lens": N_("Do not wear the damaged lens. Ask the practice for a new one."),
    "own_doctor": N_("Ask your own doctor about the sore head or feeling sick."),
    "tell_if_worse": N_(
        "Tell us at once if it hurts more, if light hurts, if sight gets worse, or if you see a white dot. "
        "Then you need help today."
    ),
    "wear_only_if_white": N_(
        "Wear a lens tonight only if the eye is white, does not hurt and sees well, and the person feels "
        "well."
    ),
    "tell_if_back": N_("Tell us if it comes back or if anything changes."),
    "not_emergency_service": N_(
        "This app is no emergency service. In an emergency call the emergency number or go to the nearest "
        "emergency department."
    ),
}

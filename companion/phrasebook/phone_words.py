"""What only the phone says: what is on it and not yet sent, what it can't do without a network, how it is locked.

Two states are never mixed up: *saved on this phone*, and *sent*. Nothing here comforts about an eye.
"""

from __future__ import annotations

from collections.abc import Mapping

from companion.phrasebook.marks import N_, NN_, InContext, Plural

Said = str | InContext | Plural

PHONE: Mapping[str, Said] = {
    # note: Name of the strip on the page that lists what is on this phone and nowhere else yet.
    "strip": N_("On this phone"),
    # note: One entry of the diary in a line; %(what)s is "Both lenses in", %(name)s whose lenses they are.
    "row_of": N_("%(name)s: %(what)s, %(time)s"),
    "row": N_("%(what)s, %(time)s"),
    # note: More entries than the list has room for.
    "more": NN_("%(num)s more entry on this phone", "%(num)s more entries on this phone"),
    # note: What has become of something that was just tapped. "Saved on this phone" is nowhere else yet.
    "saved_here": N_("Saved on this phone. It is sent as soon as there is a network."),
    "saved_for": N_("Saved on this phone for %(name)s."),
    "sending": N_("Sending."),
    "sent": N_("Sent."),
    "undo": N_("Undo"),
    "undone": N_("Taken back."),
    "waiting": NN_("%(num)s entry is on this phone only.", "%(num)s entries are on this phone only."),
    "try_now": N_("Try now"),
    "not_taken": N_("This was not taken. It is still on this phone."),
    "put_away": N_("Put it away"),
    "write_anew": N_("Write it anew"),
    "gone": N_("You no longer see this diary here. This was not sent:"),
    "sign_in_to_send": N_("Saved on this phone. Sign in, and it is sent."),
    "agree_to_send": N_("Saved on this phone. First read what is kept here, and agree."),
    # note: Entries of another person, who used this phone before; %(name)s is that person.
    "another": N_("Entries of %(name)s wait on this phone. They are sent when %(name)s signs in."),
    "report_here": N_("This report is on this phone only. It is sent as soon as there is a network."),
    "report_sent": N_("Your practice has this report since %(time)s."),
    # note: %(span)s is a length of time such as "2 hours".
    "clock_off": N_("The clock of this phone is off by about %(span)s. Times that you log may be wrong."),
    "logged_by": N_("%(who)s logged this: %(what)s, %(time)s."),
    "counts_once": N_("Two people logged this. It counts once."),
}

# note: an entry of a kind that this version of the app does not know
OTHER = N_("Another entry")

NOTICE: Mapping[str, Said] = {
    # note: A page that cannot be shown without a network, and what to do.
    "needs_network": N_("This page needs a network."),
    "needs_network.how": N_("Open it again when there is one. What you tapped before is kept on this phone."),
    # note: A form that was pressed without a network and that this phone cannot keep.
    "not_sent": N_("This was not sent."),
    "not_sent.how": N_("There is no network. Go back: what you typed is still there. Send it again later."),
    "again": N_("Try again"),
    "nothing_here": N_("Nothing is kept on this phone yet. Sign in once with a network."),
    "one_moment": N_("One moment."),
    "needs_script": N_("This page paints what is kept on this phone. For that, the browser must allow scripts."),
}

OFFLINE: Mapping[str, Said] = {
    # note: Without a network.
    "title": N_("No network"),
    "line": N_("Go on as usual. Everything is kept on this phone and sent later."),
    "as_of": N_("As of %(time)s. What others logged since may be missing."),
    "forecast_as_of": N_("How sight holds was worked out %(time)s."),
    # note: The last answer may have freed tonight of lenses, and is too old to be relied on.
    "answer_old": N_("The last answer is too old to free a night. The practice's plan stands."),
    "answer_changed": N_("What you logged since may change the answer. Until it is sent, the plan stands."),
    "held_here": N_(
        "Your answers on this phone ask for no lens in this eye. That counts until the practice says."
    ),
}

TAPPED: Mapping[str, Said] = {
    # note: One short question after a tap. Whoever is not sure goes the way of "no", to the report of trouble.
    "lenses_in": N_("Do the lenses feel comfortable?"),
    "lenses_out": N_("Are the eyes white and comfortable?"),
    "yes": N_("Yes"),
    "no": N_("No, or not sure"),
}

LEAVING: Mapping[str, Said] = {
    # note: Asked before somebody signs out on a phone that has entries which nobody else has; they are listed.
    "heading": N_("This was not sent yet"),
    "how": N_("Kept, it waits on this phone until you sign in again. It is shown to nobody else here."),
    "keep": N_("Sign out, and keep it for me"),
    "drop": N_("Sign out, and delete it"),
    "stay": N_("Stay signed in"),
}

LOCK: Mapping[str, Said] = {
    # note: A short code that somebody may set for the app on a shared phone.
    "title": N_("Locked"),
    "ask": N_("Type the code."),
    "wrong": N_("That is another code. Try again."),
    # note: After five wrong codes.
    "out": N_("That was another code five times. Sign in again."),
    "again": N_("Sign in again"),
    "again_later": N_("Signing in needs a network. Try again when there is one."),
    "open": N_("Open"),
    # note: Heading of the place where somebody sets the code.
    "heading": N_("Lock this app"),
    "when": N_("It locks after five minutes away, or at once when you say so."),
    "digits": N_("4 to 6 digits"),
    "not_digits": N_("Type 4 to 6 digits."),
    "is_set": N_("This phone asks for the code."),
    "set": N_("Set a code for this phone"),
    "off": N_("Use no code"),
    "now": N_("Lock now"),
    "note": N_("A code keeps curious eyes away. It does not protect a stolen phone."),
    "lost": N_("Code lost? Sign out, and sign in again."),
    "wrong_open": N_("“Something is wrong” opens without the code."),
}

KEEPING: Mapping[str, Said] = {
    # note: About what the browser keeps on this phone, and how the app gets onto the home screen.
    "emptied": N_("The browser has emptied this app's memory on this phone."),
    "emptied.how": N_(
        "What was sent is still there. What was only on this phone is gone: look at last night in the diary."
    ),
    "emptied.look": N_("Look at the diary"),
    # note: On a button that puts a notice away.
    "read": N_("I have read this"),
    "persist": N_("Let this phone keep the diary"),
    "persist_why": N_("Otherwise the browser may delete entries that were not sent when space runs low."),
    "persisted": N_("This phone keeps what was not sent, even when space runs low."),
    "not_persisted": N_("The browser does not promise to keep what was not sent. Connect once a day."),
    "broken": N_("This browser can't keep anything. What you tap is sent at once, or not at all."),
    "install": N_("Put it on the home screen"),
    "install_share": N_("Tap Share, then “Add to Home Screen”."),
    "install_menu": N_("Open the browser's menu, then tap “Install” or “Add to Home screen”."),
    "in_app_title": N_("You are inside another app"),
    "in_app_why": N_("What is saved here stays in this window. It can't be put on the home screen."),
    # note: Two steps, each below a drawing of it.
    "in_app_menu": N_("Open the menu of this window."),
    "in_app_open": N_("Tap “Open in browser”."),
    "copy_link": N_("Copy the link"),
    "copied": N_("Copied. Paste it into your browser."),
    "new_version": N_("There is a new version. Load the page again to use it."),
    "reload": N_("Load again"),
}

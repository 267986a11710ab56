"""How urgent is this eye? Questions and rules are data (`rules.json`); this room reads and applies them.

It knows no clock, no sentences and no people: answers in, a verdict out, codes throughout. `rules.json` is read by
the phone as well. The table is a design checked against published guidance; no clinician has reviewed it yet.

    rules      the data file as frozen values
    answers    one full set of answers: from a file, or from what a screen showed
    evaluate   answers -> Verdict: level, hold, lens instruction and advice, per eye
    timers     what passing time does to answers, and when to ask again
"""

"""How the effect of overnight wear builds and fades, what that means for sight, and what a person's own readings
say about both. Pure science: hours, dioptres, logMAR; no dates, no files, no people. docs/science.md has the
equations.

Arrays: the last axis runs over draws of the parameters, `(n,)`; in front of it may stand times, `(n_times, n)`.

    parameters, population     the table, and draws from it: what people are like
    stores, course             wear and rest solved exactly, strung along a history
    sight, observation         refraction to acuity; how a reading arises from the truth
    filter, sampling, fit      one eye followed in each draw; where the likelihood lives; the personal fit
    band, outlook              draws summed up: bands and chances
    hindsight, surprise        how forecasts fared; sight that the nights do not explain
    next_check                 which check would teach most
    plans, day_ahead, missed_night, onset    what follows for plans, days that matter, nights off, new wearers
"""

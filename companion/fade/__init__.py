"""How the effect of overnight wear builds and fades, and what that means for sight. Pure science: hours, dioptres,
logMAR; no dates, no files, no people.

Model (two stores). F: fresh effect; S: consolidated effect; shares of the most that wear can do, F + S <= 1.

    lens in:   dF/dt = (1 - F - S)/a - F/c      dS/dt = F/c
    lens out:  dF/dt = -F/f                     dS/dt = -S/s

a `build_h`, c `settle_h`, f `fresh_fade_h`, s `settled_fade_h` [h]. Effect share = (F + S) / (F + S on the morning
of a wearer settled on 8 h every night): 1 is the settled morning, 0 the untreated eye.

    residual refraction  R = baseline + (aim - baseline) * gain * share + noise * share      [D]
    blur                 E = what of R neither distance nor accommodation covers             [D]
    acuity               V = best + log10 sqrt(1 + (blur_per_d * E)^2)                       [logMAR]

Arrays: the last axis runs over draws of the parameters, `(n,)`; in front of it may stand times, `(n_times, n)`.
``stores`` solves the equations exactly, ``course`` strings them along a history, ``parameters`` holds the table,
``population`` draws from it, ``sight`` turns refraction into acuity, ``band`` sums draws up.
"""

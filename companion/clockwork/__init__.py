"""The worker: a few interval jobs that only ask "what is due?".

The ticks hold no state. Every due time is a row, so an hour that was missed is caught up by the next tick,
and a second worker finds the lease taken and does nothing.
"""

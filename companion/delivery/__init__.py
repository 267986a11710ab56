"""Carry one message to one person, each channel alone.

A channel knows addresses and bytes. It must not know what an alert is, who may read it, or when to try again.
"""

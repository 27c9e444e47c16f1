"""A layout learned from a recording: frames, fields, checks and axes, each with its evidence.

Nothing here guesses silently: what the recording can't decide is refused, with the one move that
would decide it. Pure; knows drivers, units and errors.
"""

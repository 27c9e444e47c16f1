"""Slides that a hand moves: speed, backlash, noise. Instants come in; pure but for its seed.

A slide lags behind its handwheel by the play of its screw, so that a turn the other way moves
nothing at first. Its scale sits on the slide and shows where that is, not the handwheel. Lengths
are in the unit in which the readout shows them, from the scale's own nought; seconds are those of
any clock.
"""

from __future__ import annotations

import random
from decimal import Decimal

from inspect_rec.errors import InputError

SPEED = Decimal(20)
"""How fast a hand turns, per second, where nothing else is said (common practice: mm/s)."""


class Slide:
    """One slide. ``backlash``: the play between handwheel and slide; ``noise``: standard deviation
    of what its scale shows; both in its unit."""

    def __init__(self, place: Decimal = Decimal(0)) -> None:
        self.speed, self.noise = SPEED, Decimal(0)
        self._backlash = Decimal(0)
        self._slide = self._hand = self._target = place
        self._from_s = self._until_s = 0.0

    @property
    def backlash(self) -> Decimal:
        """The play between handwheel and slide."""
        return self._backlash

    def set_backlash(self, play: Decimal, at: float) -> None:
        """Another screw; the slide stays where it is, the hand in the middle of the play."""
        self._settle(at)
        self._backlash = play
        self._hand = self._target = self._slide

    def go(self, place: Decimal, at: float, over_s: float | None = None) -> None:
        """Turn until the scale shows ``place``, in ``over_s`` seconds or as fast as its speed."""
        self._settle(at)
        way = place - self._slide
        if way:
            self._turn_to(place + self._backlash / 2 * (1 if way > 0 else -1), over_s)

    def turn(self, by: Decimal, at: float, over_s: float | None = None) -> None:
        """Turn the handwheel by so much on its dial; backlash is taken up first."""
        self._settle(at)
        self._turn_to(self._hand + by, over_s)

    def place(self, at: float) -> Decimal:
        """Where the slide is at an instant."""
        return self._follows(self._hand_at(at))

    def shown(self, at: float, draw: random.Random) -> Decimal:
        """Where its scale says that it is."""
        place = self.place(at)
        return place + Decimal(draw.gauss()) * self.noise if self.noise else place

    @property
    def busy_until_s(self) -> float:
        """The instant at which the hand lets go."""
        return self._until_s

    def _turn_to(self, hand: Decimal, over_s: float | None) -> None:
        if over_s is None:
            if self.speed <= 0:
                raise InputError("the slide doesn't move", expected="a speed above 0")
            over_s = float(abs(hand - self._hand) / self.speed)
        self._target, self._until_s = hand, self._from_s + over_s

    def _hand_at(self, at: float) -> Decimal:
        if at >= self._until_s:
            return self._target
        share = Decimal(max(at - self._from_s, 0.0)) / Decimal(self._until_s - self._from_s)
        return self._hand + (self._target - self._hand) * share

    def _follows(self, hand: Decimal) -> Decimal:
        """Where the slide is with the hand there: one way from where both were."""
        play = self._backlash / 2
        return min(max(self._slide, hand - play), hand + play)

    def _settle(self, at: float) -> None:
        """What came before is over: hand and slide are where they are now."""
        hand = self._hand_at(at)
        self._slide, self._hand, self._target = self._follows(hand), hand, hand
        self._from_s = self._until_s = at

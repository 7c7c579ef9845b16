"""How a rule is said, from values, so that a limit that moved is said truly."""

from __future__ import annotations

from msgspec import Struct

__all__ = ["AsInTheBase", "Counted", "Fixed", "Gap", "Measured", "Wording", "number"]

SIDES = {"min": "at least", "max": "at most", "exact": "exactly"}


def number(value: float) -> str:
    """Return a number as a sentence writes it.

    >>> number(40.0), number(0.25), number(-0.0)
    ('40', '0.25', '0')
    """
    return f"{value + 0.0:g}"


class Measured(Struct, frozen=True, tag=True):
    """Something with a limit in a unit; ``none`` is how a most of nothing is said.

    >>> Measured("hard butter", after="of the lipids").say("min", 40.0)
    'hard butter at least 40 % of the lipids'
    >>> Measured("beeswax", none="no beeswax").say("max", 0.0)
    'no beeswax'
    """

    what: str
    unit: str = "%"
    after: str = ""
    none: str | None = None

    def say(self, side: str, limit: float) -> str:
        """Return the sentence at a limit."""
        if self.none is not None and side == "max" and limit == 0.0:
            return self.none
        return _spaced(self.what, SIDES[side], number(limit), self.unit, self.after)


class Counted(Struct, frozen=True, tag=True):
    """So many of something.

    >>> Counted("ingredient", "ingredients", "of wax").say("max", 2.0)
    'at most 2 ingredients of wax'
    """

    one: str
    many: str
    after: str = ""

    @property
    def what(self) -> str:
        """What is counted."""
        return _spaced(self.many, self.after)

    def say(self, side: str, limit: float) -> str:
        """Return the sentence at a limit."""
        noun = self.one if limit == 1.0 else self.many
        return _spaced(SIDES[side], number(limit), noun, self.after)


class Gap(Struct, frozen=True, tag=True):
    """How far one thing may lie below or above another; the limit has a sign.

    >>> Gap("HLB of the emulsifiers", "what the lipids require").say("min", -0.5)
    'HLB of the emulsifiers at most 0.5 below what the lipids require'
    """

    what: str
    than: str

    def say(self, side: str, limit: float) -> str:
        """Return the sentence at a limit."""
        where = "below" if limit < 0.0 or (limit == 0.0 and side == "min") else "above"
        outward = (where == "below") == (side == "min")
        word = "exactly" if side == "exact" else "at most" if outward else "at least"
        return _spaced(self.what, word, number(abs(limit)), where, self.than)


class Fixed(Struct, frozen=True, tag=True):
    """A statement whose limit is never moved."""

    what: str

    def say(self, side: str, limit: float) -> str:  # noqa: ARG002 - as the others
        """Return the sentence."""
        return self.what


class AsInTheBase(Struct, frozen=True, tag=True):
    """A share that stays as in the base, where it is ``base`` percent.

    >>> kept = AsInTheBase("lavender oil", 1.0)
    >>> kept.say("exact", 1.0)
    'lavender oil as in the base, 1 %'
    >>> kept.say("max", 1.0), kept.say("min", 0.4)
    ('lavender oil at most as in the base, 1 %', 'lavender oil at least 0.4 %')
    """

    what: str
    base: float

    def say(self, side: str, limit: float) -> str:
        """Return the sentence at a limit."""
        if limit != self.base:
            return Measured(self.what).say(side, limit)
        side = "" if side == "exact" else SIDES[side]
        return _spaced(self.what, side, "as in the base,", number(limit), "%")


Wording = Measured | Counted | Gap | Fixed | AsInTheBase


def _spaced(*words: str) -> str:
    return " ".join(word for word in words if word)

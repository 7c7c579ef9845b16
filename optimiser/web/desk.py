"""A scenario on the bench: its text as it was changed, and the answer to each text."""

from __future__ import annotations

import difflib
import hashlib
import re
from collections.abc import Mapping
from pathlib import Path
from threading import Lock

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Programme
from optimiser.domain.scenario import Scenario
from optimiser.errors import InputError, Problem
from optimiser.explaining.answer import Answer, Clash
from optimiser.explaining.answering import NoFormula, answer
from optimiser.explaining.at_once import at_once
from optimiser.explaining.formulate import answer_of, clash_of
from optimiser.explaining.opinions import Solved
from optimiser.presenting.writing import OTHER_NAME, for_a_file, write_whole
from optimiser.reading import read_scenario
from optimiser.reading.text import read_text
from optimiser.solving.patience import left, within
from optimiser.web.wishes import Limit, TakeWay, Wish, edited

__all__ = ["Desk", "OnDesk", "StaleError", "TakenError"]

NAME = re.compile(r"[\w][\w .-]{0,80}\.toml")
MOST_NAME = 200  # bytes: what every disk can call a file
MOST_STEPS = 500  # that can be undone
WAITS, WAYS = 20.0, 2.0  # seconds for an answer, and for what ways out cost


class StaleError(Exception):
    """What came is about a question that is not the last one any more."""


class TakenError(Exception):
    """A file is there already; ``seen`` names what it holds, to agree to."""

    def __init__(self, name: str, seen: str) -> None:
        super().__init__(name)
        self.name, self.seen = name, seen


class OnDesk(Struct, frozen=True, eq=False):
    """A question with its number, and what is known of its answer by now.

    ``found`` None: no formula keeps every rule, and which rules clash is being looked
    for. ``settled`` says whether the second opinion and the steps are in ``found``.
    ``good`` is the last formula that kept every rule.
    """

    number: int
    scenario: Scenario
    catalogue: Catalogue
    programme: Programme
    found: Answer | Clash | None
    settled: bool
    good: Answer | None


def _of_rule(error: InputError, rule: str, programme: Programme) -> InputError:
    """Return problems with a limit under its rule's sentence, not its key in a file."""
    name = next((x.sentence for x in programme.rules if x.id == rule), rule)
    key = f"eased.{rule}"
    return InputError(
        replace(each, file=None, field=name) if each.field == key else each
        for each in error.problems
    )


class Desk:
    """One scenario as it is being changed.

    Parameters
    ----------
    path : Path
        The scenario's file.

    Raises
    ------
    InputError
        If it cannot be read.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.on_disk = _read(path)
        self._texts = [self.on_disk]
        self._at = 0
        self._number = 0
        self._catalogues: dict[str | None, Catalogue] = {}
        self._opinions: Programme | None = None
        # The whole answers to the last two texts, and variants once they were asked.
        self._settled: tuple[str, Answer] | None = None
        self.before: Answer | None = None
        self.variants: dict[str, Mapping[str, float]] | None = None
        self._lock, self._settling = Lock(), Lock()
        self._asked = self._ask(self.text, None)
        self.first = {rule.id: rule.limit for rule in self._asked.programme.rules}

    @property
    def text(self) -> str:
        """The scenario file as it would be saved."""
        return self._texts[self._at]

    @property
    def asked(self) -> OnDesk:
        """The last question, and its answer as far as it is known."""
        return self._asked

    @property
    def can_undo(self) -> bool:
        """Whether there is a step to go back."""
        return self._at > 0

    @property
    def can_redo(self) -> bool:
        """Whether a step was taken back."""
        return self._at + 1 < len(self._texts)

    @property
    def changed(self) -> bool:
        """Whether the text is another than the file's."""
        return self.text != self.on_disk

    def changed_outside(self) -> bool:
        """Whether the file holds something else than when it was read or written."""
        try:
            return _read(self.path) != self.on_disk
        except InputError:
            return True

    # -- questions ---------------------------------------------------------------------

    def wish(self, wish: Wish, number: int) -> OnDesk:
        """Return the question with a wish in it, answered at once.

        Raises
        ------
        StaleError
            If it was made of another question than the last.
        InputError
            If it cannot be asked; the last question stays.
        """
        with self._lock:
            self._refuse_stale(number)
            text, asked = self._with(wish)
            if text != self.text:
                self._take(text, asked)
            return self._asked

    def _take(self, text: str, asked: OnDesk) -> None:
        """Let a text be the last one; what was undone before it is gone."""
        self._texts = [*self._texts[: self._at + 1], text][-MOST_STEPS:]
        self._at = len(self._texts) - 1
        self._asked = asked

    def _with(self, wish: Wish) -> tuple[str, OnDesk]:
        now = self._asked
        if isinstance(wish, TakeWay):
            clash = now.found
            if not isinstance(clash, Clash) or not 0 < wish.way <= len(clash.ways_out):
                wrong = "is no way out of what is shown"
                raise InputError([Problem(wrong, found=str(wish.way))])
            text = self.text
            for each in clash.ways_out[wish.way - 1].easings:
                text, asked = self._limited(text, Limit(each.rule.id, each.to))
            return text, asked
        if isinstance(wish, Limit):
            return self._limited(self.text, wish)
        text = edited(self.text, wish, now.scenario, now.catalogue, now.programme.rules)
        return text, self._ask(text, now.good)

    def _limited(self, text: str, wish: Limit) -> tuple[str, OnDesk]:
        """Return the text that moves a limit, and its answer.

        It is written where it was asked for. Where something else holds the rule there,
        it is written by the rule's id, which always does.
        """
        now = self._asked
        about = now.scenario, now.catalogue, now.programme.rules
        for by_id in (False, True):
            tried = edited(text, wish, *about, by_id=by_id)
            try:
                asked = self._ask(tried, now.good)
            except InputError as error:
                if by_id:
                    raise _of_rule(error, wish.rule, now.programme) from error
                continue
            rules = {rule.id: rule.limit for rule in asked.programme.rules}
            if rules.get(wish.rule) == wish.to or by_id:
                break
        return tried, asked

    def undo(self, number: int, steps: int = -1) -> OnDesk:
        """Return the question before the last change, or after it (``steps`` 1)."""
        with self._lock:
            self._refuse_stale(number)
            if 0 <= self._at + steps < len(self._texts):
                asked = self._ask(self._texts[self._at + steps], self._asked.good)
                self._at += steps
                self._asked = asked
            return self._asked

    def _refuse_stale(self, number: int) -> None:
        if number != self._asked.number:
            raise StaleError

    def _ask(self, text: str, good: Answer | None) -> OnDesk:
        """Return what a text asks, with a first answer; it gets a number of its own.

        ``good`` is the last formula that kept every rule.
        """
        scenario, catalogue = read_scenario(
            self.path, known=self._catalogues, text=text
        )
        found = at_once(scenario, catalogue, self._opinions)
        told: Answer | None = None
        if isinstance(found, NoFormula):
            programme = found.question.programme
        else:
            programme, told = found.programme, answer_of(found, catalogue)
        self._number += 1
        return OnDesk(
            self._number, scenario, catalogue, programme, told, False, told or good
        )

    def settle(self, number: int) -> OnDesk:
        """Return the last question with its whole answer: as `formulate` gives it.

        Raises
        ------
        StaleError
            If another question was asked meanwhile.
        """
        with self._settling:
            with self._lock:
                self._refuse_stale(number)
                now = self._asked
            if now.settled:
                return now
            told, programme = _whole(now)
            with self._lock:
                self._refuse_stale(number)
                good = now.good
                if isinstance(told, Answer):
                    good, self._opinions = told, programme
                    self._keep(told)
                self._asked = replace(
                    now, programme=programme, found=told, settled=True, good=good
                )
                return self._asked

    def _keep(self, told: Answer) -> None:
        """Keep a whole answer, and the one before it."""
        if self._settled is not None and self._settled[0] != self.text:
            self.before = self._settled[1]
        self._settled = self.text, told

    # -- files -------------------------------------------------------------------------

    def difference(self) -> str:
        """Return what saving would change in the file, line by line; "" for nothing."""
        lines = difflib.unified_diff(
            self.on_disk.splitlines(), self.text.splitlines(), n=2, lineterm=""
        )
        shown = list(lines)[2:]  # below the names of the files
        return "\n".join("..." if each.startswith("@@") else each for each in shown)

    def save(self, name: str, number: int, agreed: str | None = None) -> None:
        """Write the scenario beside the one that was opened, and go on with that file.

        Parameters
        ----------
        agreed : str, optional
            What `TakenError` named: that the file which holds this is written over.

        Raises
        ------
        StaleError
            If another question was asked meanwhile.
        TakenError
            If the file is there and holds something else than was agreed to.
        InputError
            If it is no name of a file in the folder, or cannot be written.
        """
        with self._lock:
            self._refuse_stale(number)
            target = self.path.parent / name
            fits = NAME.fullmatch(name) and len(name.encode()) <= MOST_NAME
            fits = fits and for_a_file(name) == name
            if (
                not fits
                or target.is_symlink()
                or (target.exists() and not target.is_file())
            ):
                wrong, fix = "is no name for a scenario here", 'write "my bar.toml"'
                raise InputError([Problem(wrong, found=name, fix=fix)])
            if target.exists():
                seen = hashlib.sha256(target.read_bytes()).hexdigest()
                if seen != agreed:
                    raise TakenError(name, seen)
            elif agreed is not None:
                wrong = "is not there any more"
                raise InputError([Problem(wrong, file=name, fix=OTHER_NAME)])
            write_whole(target, self.text, encoding="utf-8", over=True)
            self.path, self.on_disk = target, self.text

    def read_again(self, number: int) -> OnDesk:
        """Return the question that the file asks now; it can be undone."""
        with self._lock:
            self._refuse_stale(number)
            text = _read(self.path)
            self._catalogues.clear()
            asked = self._ask(text, self._asked.good)
            self.on_disk = text
            self._take(text, asked)
            return asked


def _whole(asked: OnDesk) -> tuple[Answer | Clash, Programme]:
    """Return the whole answer to a question, in a time that somebody waits.

    Raises
    ------
    InputError
        If it takes longer: then what holds in whole steps is not known.
    """
    catalogue = asked.catalogue
    with within(WAITS):
        found = answer(asked.scenario, catalogue, beside=True)
        if isinstance(found, Solved):
            if left() < 0.0:
                wrong = f"what it comes to in whole steps was not found in {WAITS:g} s"
                fix = "take finer steps, or ask with: optimiser formulate"
                raise InputError([Problem(wrong, asked.scenario.file, fix=fix)])
            return answer_of(found, catalogue), found.programme
    with within(WAYS):  # what they cost in steps need not be known
        return clash_of(found, catalogue), asked.programme


def _read(path: Path) -> str:
    problems: list[Problem] = []
    text = read_text(path, path.name, problems)
    if text is None:
        raise InputError(problems)
    return text

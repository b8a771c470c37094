"""Times, temperatures, percentages and dates in a message: a small grammar of our own over its tokens."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from reports.desk.text import Words
from reports.desk.vocabulary import Lexicon

__all__ = ["Percent", "Quantities", "Temperature", "Time", "quantities_of"]

_MONTH_DAYS = 30.4
_MONTH_STARTS = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334)
_YEAR = 365
_TWO = 2
_PHRASE = 4  # words in a number or unit phrase at most


@dataclass(frozen=True)
class Time:
    """A length of time in days, low and high the same unless a range was written; place: its first token."""

    place: int
    sentence: int
    low_days: float
    high_days: float
    text: str


@dataclass(frozen=True)
class Temperature:
    """A temperature in degrees C."""

    place: int
    sentence: int
    celsius: float


@dataclass(frozen=True)
class Percent:
    """A percentage somebody remembers."""

    place: int
    sentence: int
    value: float


@dataclass(frozen=True)
class Quantities:
    """What was read, and the places of the tokens it was read from; weeks_born: weeks of a pregnancy, if told.

    fevers: sentences that tell of a body temperature that is a fever, if they name no milk.
    """

    times: tuple[Time, ...]
    temperatures: tuple[Temperature, ...]
    percents: tuple[Percent, ...]
    used: frozenset[int]
    weeks_born: float | None
    fevers: tuple[int, ...] = ()


class _Reader:
    def __init__(self, words: Words, lexicon: Lexicon, today: date | None) -> None:
        self.words, self.tokens, self.lexicon, self.today = words, words.tokens, lexicon, today
        self.times: list[Time] = []
        self.temperatures: list[Temperature] = []
        self.percents: list[Percent] = []
        self.used: set[int] = set()
        self.weeks_born: float | None = None
        self.fevers: list[int] = []
        self.single: list[tuple[int, float]] = []  # (place, day of the year) of dates that stand alone
        self.grammar = lexicon.grammar

    def word(self, place: int) -> str:
        return self.tokens[place].word if 0 <= place < len(self.tokens) else ""

    def phrase(self, place: int, known: Sequence[str] | Mapping[str, float]) -> int:
        """Return how many tokens from place on make a known phrase, 0 for none; the longest wins."""
        for length in range(_PHRASE, 0, -1):
            if place + length <= len(self.tokens):
                text = " ".join(self.tokens[at].word for at in range(place, place + length))
                if text in known:
                    return length
        return 0

    def before(self, place: int, known: Sequence[str]) -> bool:
        """Return whether one of the phrases ends right before place."""
        return any(
            place >= (size := phrase.count(" ") + 1)
            and " ".join(self.tokens[at].word for at in range(place - size, place)) == phrase
            for phrase in known
        )

    def number(self, place: int) -> tuple[float, int] | None:
        """Return (value, tokens) of a number in digits or words."""
        word = self.word(place)
        if word[:1].isdigit():
            return (float(word.replace(",", ".")), 1) if len(word) < 12 else None
        length = self.phrase(place, self.lexicon.numbers) if word in self._openers else 0
        if not length:
            return None
        text = " ".join(self.tokens[at].word for at in range(place, place + length))
        return self.lexicon.numbers[text], length

    @property
    def _openers(self) -> frozenset[str]:
        return _openers(self.lexicon)

    def signed(self, place: int) -> bool:
        """Return whether a minus stands before a number: after a space, not between words."""
        if self.word(place - 1) in self.grammar["minus"]:
            return True
        if self.word(place - 1) not in ("-", "−", "–"):
            return False
        mark = self.tokens[place - 1]
        if place < 2:
            return True
        last = self.tokens[place - 2]
        return last.start + len(last.raw) < mark.start or not last.is_word

    def unit_days(self, place: int) -> float | None:
        word = self.word(place)
        days = self.lexicon.days
        return days.get(word) or (days.get(word[:-1]) if word.endswith("s") else None)

    def read(self) -> Quantities:
        place = 0
        while place < len(self.tokens):
            place += self._one(place) or 1
        self._between()
        return Quantities(
            tuple(self.times), tuple(self.temperatures), tuple(self.percents), frozenset(self.used), self.weeks_born,
            tuple(self.fevers),
        )  # fmt: skip

    def _one(self, place: int) -> int:
        length = self._dates(place)
        if length:
            return length
        length = self.phrase(place, self.lexicon.phrases_days) if self.word(place) in _openers(self.lexicon) else 0
        if length:
            text = " ".join(self.tokens[at].word for at in range(place, place + length))
            days = self.lexicon.phrases_days[text]
            return self._time(place, length, days, days)
        share = self.phrase(place, self.lexicon.shares) if self.word(place) in _openers(self.lexicon) else 0
        if share and not self.unit_days(place + share):
            text = " ".join(self.tokens[at].word for at in range(place, place + share))
            self.percents.append(Percent(place, self.tokens[place].sentence, self.lexicon.shares[text]))
            self.used.update(range(place, place + share))
            return share
        found = self.number(place)
        return 0 if found is None else self._measured(place, *found)

    def _measured(self, place: int, value: float, length: int) -> int:
        """Read what follows a number: a range, a unit of time, of temperature, or a percent sign."""
        at, low = place + length, value
        if self.word(at) in ("-", "–", "−", *self.grammar["range"]):
            other = self.number(at + 1)
            if other is not None and other[0] > value:
                value, at = other[0], at + 1 + other[1]
        days = self.unit_days(at)
        if days is not None:
            length = at + 1 - place
            half = self.phrase(at + 1, self.grammar["half"])
            extra = 0.5 * days if half else 0.0
            return self._time(place, length + half, low * days + extra, value * days + extra)
        if self.word(at) == "%" or self.phrase(at, self.grammar["percent"]):
            size = at + max(1, self.phrase(at, self.grammar["percent"])) - place
            if value <= 100:
                self.percents.append(Percent(place, self.tokens[place].sentence, value))
            self.used.update(range(place, place + size))
            return size
        return self._temperature(place, at, value)

    def _temperature(self, place: int, at: int, value: float) -> int:
        minus = self.signed(place)
        grammar, end = self.grammar, at
        if self.word(end) == "°" or self.word(end) in grammar["degrees"]:
            end += 1
        marked = end > at
        fahrenheit = self.word(end) in grammar["fahrenheit"]
        scale = fahrenheit or self.word(end) in grammar["celsius"]
        if scale and not marked and self.word(end) in ("c", "f") and not self._close(end):
            scale = fahrenheit = False
        end += scale
        below = self.phrase(end, grammar["below"])
        end += below
        value_c = (value - 32) / 1.8 if fahrenheit else value
        low, high = self.lexicon.fever
        words = grammar["temperature"]
        near = (*range(place - 3, place), *range(end, end + 3))
        told = any(self.word(at) in words for at in near)
        if low <= value_c <= high and (told or marked or scale):
            self.fevers.append(self.tokens[place].sentence)
        if not (marked or scale or minus or below):
            return 0
        value = -value if minus or below else value
        self.temperatures.append(
            Temperature(place, self.tokens[place].sentence, (value - 32) / 1.8 if fahrenheit else value)
        )
        self.used.update(range(place - minus, end))
        return end - place

    def _close(self, place: int) -> bool:
        """Return whether a letter stands at its number: 14F, 4 C; "3 c" of a list counts as well, "b 6 f" does not."""
        return self.tokens[place].raw.isupper() or self.tokens[place].start == (
            self.tokens[place - 1].start + len(self.tokens[place - 1].raw)
        )

    def _time(self, place: int, length: int, low: float, high: float) -> int:
        after = place + length
        self.used.update(range(place, after))
        if self.before(place, self.grammar["born"]):
            self.weeks_born = high / 7
            return length
        old = self.phrase(after, self.grammar["ages_after"]) or (
            self.phrase(after + 1, self.grammar["ages_after"]) if self.word(after) == "-" else 0
        )
        milk = self.word(after + old) in ("milk", "powder", "stash", "breastmilk", "frozen", "dried")
        if (old and not milk) or self.before(place, self.grammar["ages_before"]):
            return length
        self.times.append(Time(place, self.tokens[place].sentence, low, high, self.words.said(place, after - 1)))
        return length

    def _day(self, place: int) -> tuple[float, bool, int] | None:
        """Return (day of the year, whether a day of the month was told, tokens) of a date such as 3 May or march."""
        months, word = self.lexicon.months, self.word(place)
        if word in months:
            day, size = 0.0, 1
            if self.word(place + 1).isdigit() and float(self.word(place + 1)) <= 31 and not self.unit_days(place + 2):
                day, size = float(self.word(place + 1)), 2
            month = months[word]
        elif word.isdigit() and float(word) <= 31:
            skip = 2 if self.word(place + 1) in ("de", "of") else 1
            if self.word(place + skip) in months:
                day, month, size = float(word), months[self.word(place + skip)], skip + 1
            elif self.word(place + 1) == "/" and self.word(place + 2).isdigit():
                day, month, size = float(word), int(float(self.word(place + 2))), 3
                if month > 12 and day <= 12:
                    day, month = float(month), int(day)
                if not 1 <= month <= 12:
                    return None
            else:
                return None
        else:
            return None
        return _MONTH_STARTS[month - 1] + (day or 15), day > 0, size

    def _dates(self, place: int) -> int:
        """Read "jan to march", "3 May until 10 July", "3/4 - 12/6": the time between, at most a year."""
        first = self._day(place)
        if first is None:
            return 0
        at = place + first[2]
        joint = 1 if self.word(at) in ("-", "–", "−") else self.phrase(at, self.grammar["to"])
        second = self._day(at + joint) if joint else None
        if second is None:
            return self._single(place, first)
        days = second[0] - first[0]
        days = days if days > 0 else days + _YEAR
        length = at + joint + second[2] - place
        self.used.update(range(place, place + length))
        said = self.words.said(place, place + length - 1)
        self.times.append(Time(place, self.tokens[place].sentence, days, days, said))
        return length

    def _single(self, place: int, found: tuple[float, bool, int]) -> int:
        """Note a date that stands alone: "in March", "on 3 May"; "since March" is a time up to today."""
        day, told, size = found
        since = self.word(place - 1) in self.lexicon.roles["since"]
        if not since and not (self.word(place - 1) in self.grammar["at"] or told):
            return 0
        self.used.update(range(place, place + size))
        if since and self.today is not None:
            days = self.today.timetuple().tm_yday - day
            days = days if days > 0 else days + _YEAR
            said = self.words.said(place - 1, place + size - 1)
            self.times.append(Time(place, self.tokens[place].sentence, days, days, said))
        else:
            self.single.append((place, day))
        return size

    def _between(self) -> None:
        """Read two dates that stand alone in one sentence as the time between: frozen in March, dried in June."""
        for sentence in dict.fromkeys(self.tokens[place].sentence for place, _ in self.single):
            mine = [(place, day) for place, day in self.single if self.tokens[place].sentence == sentence]
            if len(mine) == _TWO:
                (place, first), (other, second) = mine
                days = second - first if second > first else second - first + _YEAR
                said = " – ".join(self.words.said(at, at) for at in (place, other))
                self.times.append(Time(place, sentence, days, days, said))


def _openers(lexicon: Lexicon) -> frozenset[str]:
    """Return the words that begin a number or a fixed time in words."""
    kept = _OPENERS.get(lexicon.language)
    if kept is None:
        kept = frozenset(name.split()[0] for name in (*lexicon.numbers, *lexicon.phrases_days, *lexicon.shares))
        _OPENERS[lexicon.language] = kept
    return kept


_OPENERS: dict[str, frozenset[str]] = {}


def quantities_of(words: Words, lexicon: Lexicon, today: date | None = None) -> Quantities:
    """Return the quantities of a message; times in days, temperatures in degrees C, percentages as written.

    Ages of children are left out; "born at 29 weeks" is told apart.
    """
    return _Reader(words, lexicon, today).read()

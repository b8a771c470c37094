"""Known phrases in a message: the longest first, then stems, then small slips of spelling by a library."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from reports.desk.text import Token
from reports.desk.vocabulary import Lexicon

__all__ = ["Found", "matches_of", "near", "roles_of"]

_SHORT_WORD = 2  # letters
_LONGEST_SLIP = 2  # words
_AND = ("and", "et", "y", "e", "n")
_SHORT_VITAMIN = 3  # letters and digits: C, B12
_LONGEST_WORD = 40  # letters; anything longer is no word
_MOST_SLIPS = 200  # unknown words of one message that are looked at for slips
_MOST_KEPT = 50_000


@dataclass(frozen=True)
class Found:
    """A known phrase: its meanings' kind and id, the places of its first and last token, its sentence."""

    kind: str
    id: str
    place: int
    end: int
    sentence: int


def _telling(phrase: str) -> list[str]:
    # vitamin C and vitamin K, omega-3 and omega-6 differ in one letter and are no slips of each other
    return [word for word in phrase.split() if len(word) <= _SHORT_WORD or any(letter.isdigit() for letter in word)]


def _first_letters(letter: str, groups: Sequence[str]) -> str:
    return "".join({letter, *(each for group in groups if letter in group for each in group)})


class _Buckets:
    """Phrases of at most two words by their first letter, made when the first slip is looked for."""

    def __init__(self, lexicon: Lexicon) -> None:
        self.by_letter: dict[str, list[str]] = {}
        for phrase in lexicon.phrases:
            if len(phrase) >= lexicon.typos["shortest"] - 1 and phrase.count(" ") < _LONGEST_SLIP:
                for letter in _first_letters(phrase[0], lexicon.typos["sound_alike"]):
                    self.by_letter.setdefault(letter, []).append(phrase)


_BUCKETS: dict[int, tuple[Lexicon, _Buckets]] = {}


def _buckets(lexicon: Lexicon) -> _Buckets:
    kept = _BUCKETS.get(id(lexicon))
    if kept is None or kept[0] is not lexicon:
        kept = (lexicon, _Buckets(lexicon))
        _BUCKETS[id(lexicon)] = kept
    return kept[1]


def near(phrase: str, lexicon: Lexicon, likeness: float | None = None) -> str | None:
    """Return the known phrase that this one misspells, or None."""
    if len(phrase) < lexicon.typos["shortest"]:
        return None
    from rapidfuzz import fuzz, process

    known = _buckets(lexicon).by_letter.get(phrase[0], [])
    typos = lexicon.typos
    least = typos["short_likeness"] if len(phrase) < typos["short_word"] else typos["likeness"]
    found = process.extractOne(phrase, known, scorer=fuzz.ratio, score_cutoff=likeness or least)
    if found is None:
        return None
    name: str = found[0]
    same_count = name.count(" ") == phrase.count(" ")
    return None if same_count and _telling(name) != _telling(phrase) else name


def _slip(phrase: str, lexicon: Lexicon) -> list[list[str]] | None:
    if len(phrase) > _LONGEST_WORD:
        return None
    if phrase not in lexicon.cache:
        if len(lexicon.cache) > _MOST_KEPT:
            lexicon.cache.clear()
        name = near(phrase, lexicon)
        meant = (
            None if name is None else [each for each in lexicon.phrases[name] if each[0] in ("component", "handling")]
        )
        lexicon.cache[phrase] = meant or None
    return lexicon.cache[phrase]


def _stem(word: str, lexicon: Lexicon) -> list[list[str]] | None:
    for length in range(min(len(word), _LONGEST_WORD), 3, -1):
        handling = lexicon.stems.get(word[:length])
        if handling is not None:
            return [["handling", handling]]
    return None


def matches_of(tokens: Sequence[Token], words: Sequence[int], used: Collection[int], lexicon: Lexicon) -> list[Found]:
    """Return the known phrases of a message from left to right; used: places that something else was read from."""
    places = [place for place in words if place not in used]
    found: list[Found] = []
    at, slips = 0, 0
    while at < len(places):
        token = tokens[places[at]]
        size, meanings = _exact(tokens, places, at, lexicon)
        unknown = token.word not in lexicon.known and not token.word[0].isdigit()
        if size < _LONGEST_SLIP and slips < _MOST_SLIPS:
            pair = _pair(tokens, places, at, lexicon)
            if pair is not None:
                slips += 1
                slip = _slip(pair, lexicon)
                size, meanings = (_LONGEST_SLIP, slip) if slip else (size, meanings)
        if not size:
            stem = _stem(token.word, lexicon)
            if stem is not None:
                size, meanings = 1, stem
            elif unknown and slips < _MOST_SLIPS:
                slips += 1
                slip = _slip(token.word, lexicon)
                size, meanings = (1, slip) if slip else (0, [])
        if size and meanings:
            end = places[at + size - 1]
            one = token.word if size == _LONGEST_SLIP else token.word.rstrip("s")
            more, read = _letters(tokens, places, at + size, one, lexicon) if size <= _LONGEST_SLIP else ([], 0)
            if size == _LONGEST_SLIP or not more:  # "vitamins A and D" are those two, not all
                found += [Found(kind, identity, places[at], end, token.sentence) for kind, identity in meanings]
            found += more
            at += read
        at += size or 1
    return found


def _letters(
    tokens: Sequence[Token], places: Sequence[int], at: int, first: str, lexicon: Lexicon
) -> tuple[list[Found], int]:
    """Return the vitamins of a list that goes on after the first (vitamins A, D and E), and how many words it takes."""
    found: list[Found] = []
    read = begun = at
    while at < len(places):
        token = tokens[places[at]]
        between = [each.raw for each in tokens[places[at - 1] + 1 : places[at]]]
        if any(mark not in ",/-+" for mark in between):
            break
        at += 1
        meanings = lexicon.phrases.get(f"{first} {token.word}") if len(token.word) <= _SHORT_VITAMIN else None
        if meanings and meanings[0][0] == "component":
            found.append(Found("component", meanings[0][1], places[at - 1], places[at - 1], token.sentence))
            read = at
        elif token.word not in _AND:
            break
    return found, read - begun


def _exact(tokens: Sequence[Token], places: Sequence[int], at: int, lexicon: Lexicon) -> tuple[int, list[list[str]]]:
    first = tokens[places[at]]
    for length in range(min(lexicon.longest.get(first.word, 0), len(places) - at), 0, -1):
        part = [tokens[place] for place in places[at : at + length]]
        if part[-1].sentence != first.sentence:
            continue
        phrase = " ".join(token.word for token in part)
        meanings = lexicon.phrases.get(phrase)
        if meanings is not None and phrase in lexicon.exact:
            as_written = [name.replace("-", " ") for name in lexicon.exact[phrase]]
            if " ".join(token.raw for token in part) not in as_written:
                meanings = [each for each in meanings if each[0] != "component"]
        if meanings:
            return length, meanings
    return 0, []


def _pair(tokens: Sequence[Token], places: Sequence[int], at: int, lexicon: Lexicon) -> str | None:
    """Return two words that together may be a slip: next to each other, at least one of them unknown."""
    if at + 1 >= len(places):
        return None
    one, two = tokens[places[at]], tokens[places[at + 1]]
    if one.sentence != two.sentence or one.word[0].isdigit():
        return None
    if one.word in lexicon.known and two.word in lexicon.known:
        return None
    if any(_stem(each.word, lexicon) for each in (one, two) if each.word not in lexicon.known):
        return None
    return f"{one.word} {two.word}"


def roles_of(tokens: Sequence[Token], words: Sequence[int], lexicon: Lexicon) -> list[Found]:
    """Return the words that hold sentences together: then, after, than, how long, not, kept, less, left, ..."""
    by_first = _role_words(lexicon)
    found: list[Found] = []
    for at, place in enumerate(words):
        longest = 0  # "después de" is no "después"
        for size, role, phrase in by_first.get(tokens[place].word, ()):
            part = words[at : at + size]
            if size >= longest and (size == 1 or " ".join(tokens[each].word for each in part) == phrase):
                longest = size
                found.append(Found("role", role, place, part[-1], tokens[place].sentence))
    return found


_ROLES: dict[str, dict[str, list[tuple[int, str, str]]]] = {}


def _role_words(lexicon: Lexicon) -> dict[str, list[tuple[int, str, str]]]:
    kept = _ROLES.get(lexicon.language)
    if kept is None:
        kept = {}
        for role, names in lexicon.roles.items():
            for name in names:
                kept.setdefault(name.split()[0], []).append((name.count(" ") + 1, role, name))
        kept = {first: sorted(names, reverse=True) for first, names in kept.items()}
        _ROLES[lexicon.language] = kept
    return kept

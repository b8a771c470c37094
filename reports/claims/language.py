"""Which language a sentence is in, by its commonest words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from reports.claims.vocabulary import LANGUAGES, load_claim_words, tokens_of, unread_words

__all__ = ["UNREAD", "languages_of"]

# what ISO 639-2 calls a language that was not told
UNREAD = "und"
_WORD = 2  # votes of a common word
_ENOUGH = 5  # words without a common one of any language, before a sentence counts as unread


def _votes(tokens: Sequence[str]) -> Counter[str]:
    votes: Counter[str] = Counter()
    for language in LANGUAGES:
        words = load_claim_words(language)
        votes[language] = _WORD * sum(token in words.stop for token in tokens)
    if "¿" in tokens or "¡" in tokens:
        votes["es"] += 2 * _WORD
    return votes


def _likely(votes: Counter[str], otherwise: str, margin: int = 0) -> str:
    """Return the language with most votes; otherwise, where it does not lead the usual one by more than a margin."""
    best = max(votes.values(), default=0)
    if best - votes[otherwise] <= margin:
        best = votes[otherwise]
    leading = [language for language in LANGUAGES if best and votes[language] == best]
    return leading[0] if len(leading) == 1 else otherwise if otherwise in leading or not leading else leading[0]


def languages_of(sentences: Sequence[str]) -> list[str]:
    """Return each sentence's language; where its own words do not tell, that of the whole text, else English.

    "und" for a sentence of some length that has no more common words of a language that is read than of another.
    """
    tokens = [tokens_of(sentence) for sentence in sentences]
    votes = [_votes(each) for each in tokens]
    common = [any(vote.values()) for vote in votes]
    for each, vote, told in zip(tokens, votes, common, strict=True):
        best = max(vote.values())
        # in a text whose language is plain, a fragment without a common word has that language
        if (told and list(vote.values()).count(best) > 1) or (not told and not any(common)):
            for language in LANGUAGES:
                found = load_claim_words(language).phrases.find(each)
                vote[language] += sum(len(hits) for name, hits in found.items() if not name.startswith("percent"))
    whole: Counter[str] = Counter()
    for vote in votes:
        whole.update(vote)
    usual = _likely(whole, LANGUAGES[0])
    margin = _WORD if len(sentences) > 1 else 0  # a name of a place makes no English line French
    languages: list[str] = []
    for each, vote in zip(tokens, votes, strict=True):
        wordy = sum(token.isalpha() for token in each) >= _ENOUGH
        foreign = max(_WORD * sum(token in words for token in each) for words in unread_words())
        read = max(vote.values())
        languages.append(
            UNREAD if wordy and (foreign > read or not (read or any(common))) else _likely(vote, usual, margin)
        )
    return languages

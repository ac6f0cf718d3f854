"""Misspelt and shortened words put right, by a few rules that hold for any word of the list."""

from collections.abc import Callable, Iterable, Iterator, Mapping

__all__ = ["Speller", "shortens"]

_VOWELS = frozenset("aeiou")
_LONG = 6  # letters from which one wrong letter still leaves no doubt
_SHORT = 3


class Speller:
    """Finds the word of a list that a spelling stands for.

    In this order: the word itself; the long form of a known short one; its singular; a word that is the same
    but for doubled letters; one with vowels left out ("rplcd") or wrong ("seels"); two neighbours swapped; for six
    letters and more, one letter wrong, missing or too many. The first letter is always right, and a spelling
    that would fit two words stands for itself.
    """

    def __init__(self, words: Iterable[str], short: Mapping[str, str]) -> None:
        self._known = frozenset(words) | set(short.values())
        self._short = dict(short)
        self._seen: dict[str, str] = {}
        self._single = _index((word for word in self._known if len(word) > _SHORT), _undoubled)
        self._bones = _index((word for word in self._known if len(word) > _SHORT), _skeleton)
        self._near: dict[str, set[str]] = {}
        for word in self._known:
            if len(word) >= _LONG - 1 and word.isalpha():
                for one in _one_less(word):
                    self._near.setdefault(one, set()).add(word)

    def word(self, spelt: str) -> str:
        """The word that `spelt` (lower case) stands for; `spelt` itself where that is not certain."""
        known = self._seen.get(spelt)
        if known is None:
            known = self._found(spelt)
            if len(self._seen) < 100_000:
                self._seen[spelt] = known
        return known

    def _found(self, spelt: str) -> str:
        if long := self._short.get(spelt):
            return long
        if spelt in self._known:
            singular = self._singular(spelt)
            return singular or spelt
        if singular := self._singular(spelt):
            return singular
        if not spelt.isalpha() or len(spelt) < _SHORT:
            return spelt
        mended = self._mended(spelt)
        if mended is None:
            return spelt
        return self._short.get(mended) or self._singular(mended) or mended

    def _singular(self, spelt: str) -> str | None:
        if len(spelt) > _SHORT and spelt.endswith("s") and not spelt.endswith("ss"):
            one = spelt[:-1]
            if one in self._short:
                return self._short[one]
            if one in self._known:
                return one
        return None

    def _mended(self, spelt: str) -> str | None:
        size = len(spelt)
        if size > _SHORT:
            alike = self._single.get(_undoubled(spelt), ())
            if len(alike) == 1:
                return next(iter(alike))
        if (size > _SHORT or not _VOWELS & set(spelt[1:])) and (fuller := self._fuller(spelt)):
            return fuller
        if size >= _LONG - 1:
            return self._sounding(spelt) or self._nearby(spelt)
        return self._one({word for word in _swapped(spelt) if word in self._known}) if size > _SHORT else None

    @staticmethod
    def _one(words: set[str]) -> str | None:
        return words.pop() if len(words) == 1 else None

    def _fuller(self, spelt: str) -> str | None:
        """The word of which `spelt` leaves vowels out; of several that begin alike, the shortest."""
        fuller = sorted(
            (one for one in self._bones.get(_skeleton(spelt), ()) if len(one) > len(spelt) and _inside(spelt, one)),
            key=len,
        )
        return fuller[0] if fuller and all(word.startswith(fuller[0]) for word in fuller) else None

    def _sounding(self, spelt: str) -> str | None:
        """The word that differs in its vowels only."""
        sounds = {word for word in self._bones.get(_skeleton(spelt), ()) if len(word) == len(spelt)}
        found = self._one(sounds)
        return found if found and len(_undoubled(found)) > _SHORT else None

    def _nearby(self, spelt: str) -> str | None:
        """The word one letter apart; of a short one, only with two letters swapped."""
        near = {
            word
            for one in _one_less(spelt)
            for word in self._near.get(one, ())
            if word[0] == spelt[0]
            and abs(len(word) - len(spelt)) <= 1
            and (len(spelt) >= _LONG or sorted(spelt) == sorted(word))
            and _one_apart(spelt, word)
        }
        return self._one(near)


def _index(words: Iterable[str], key: Callable[[str], str]) -> dict[str, set[str]]:
    made: dict[str, set[str]] = {}
    for word in words:
        made.setdefault(key(word), set()).add(word)
    return made


def _undoubled(word: str) -> str:
    return "".join(letter for at, letter in enumerate(word) if at == 0 or letter != word[at - 1])


def _skeleton(word: str) -> str:
    return word[0] + _undoubled("".join(letter for letter in word[1:] if letter not in _VOWELS))


def shortens(short: str, word: str) -> bool:
    """Whether `short` is `word` with vowels left out."""
    return _skeleton(short) == _skeleton(word) and _inside(short, word)


def _inside(short: str, long: str) -> bool:
    letters = iter(long)
    return all(letter in letters for letter in short)


def _one_less(word: str) -> Iterator[str]:
    yield word
    for at in range(1, len(word)):
        yield word[:at] + word[at + 1 :]


def _swapped(word: str) -> Iterator[str]:
    """Two neighbours changed about, the first letter left alone."""
    for at in range(1, len(word) - 1):
        yield word[:at] + word[at + 1] + word[at] + word[at + 2 :]


def _one_apart(one: str, other: str) -> bool:
    """One letter wrong, missing, too many, or two neighbours swapped."""
    if len(one) > len(other):
        one, other = other, one
    at = next((at for at, letter in enumerate(one) if letter != other[at]), len(one))
    if len(one) != len(other):
        return one[at:] == other[at + 1 :]
    return one[at + 1 :] == other[at + 1 :] or (
        one[at + 2 :] == other[at + 2 :] and one[at : at + 2] == other[at : at + 2][::-1]
    )

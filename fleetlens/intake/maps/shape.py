"""Names of columns as they are compared, and the shape of a header: which names it has, in whatever order."""

import difflib
import hashlib
import re
import unicodedata
from collections.abc import Iterable

__all__ = ["nearest", "same", "shape", "words"]

_LONGEST = 80  # letters of a name that are compared


def same(name: str) -> str:
    """A name as it is looked up: case and blanks don't matter."""
    return " ".join(unicodedata.normalize("NFC", name).split()).casefold()


def words(name: str) -> str:
    """A name as its words in plain small letters: accents, marks and the joints of CamelCase become blanks."""
    parted = re.sub(r"(?<=[a-zäöüß])(?=[A-ZÄÖÜ])", " ", name[:_LONGEST])
    plain = unicodedata.normalize("NFKD", parted.replace("ß", "ss").replace("ł", "l").replace("Ł", "L"))
    letters = "".join(letter for letter in plain if not unicodedata.combining(letter))
    return " ".join(re.sub(r"[^a-z0-9]+", " ", letters.casefold()).split())


def shape(header: Iterable[str]) -> str:
    """The hash of a header's names, sorted, so that neither order nor case nor blanks matter."""
    names = "\n".join(sorted(same(name) for name in header))
    return hashlib.sha256(names.encode("utf-8")).hexdigest()


def nearest(name: str, others: Iterable[str]) -> str | None:
    """Of `others` the one most like `name`, or None where none is."""
    spelt = {words(other): other for other in others}
    found = difflib.get_close_matches(words(name), spelt, n=1, cutoff=0.5)
    return spelt[found[0]] if found else None

"""Further wordings of a list's phrases, by rules that hold for any phrase: order, equal words, forms of a verb."""

from collections.abc import Iterable, Iterator, Mapping, Sequence

from fleetlens.intake.lines.spelling import shortens

__all__ = ["equal_words", "inflected", "run_together", "turned_round"]

Phrase = tuple[str, ...]
_MOST_TOGETHER = 3
_LONGEST = 6
# Verbs that are done again: "rechecked", "re-greased"; a part refitted is another thing.
_AGAIN = {
    *("inspect", "diagnose", "clean", "repair", "adjust", "lubricate", "relearn", "software", "clear_codes"),
    *("road_test", "charge", "drain", "top_up", "regenerate"),
}


def run_together(phrases: Iterable[Phrase]) -> Iterator[tuple[str, Phrase]]:
    """ "glowplug" of "glow plug"."""
    for pieces in phrases:
        if 1 < len(pieces) <= _MOST_TOGETHER and min(map(len, pieces)) > 1:
            yield "".join(pieces), pieces


def turned_round(phrases: Iterable[Phrase], heads: frozenset[str]) -> Iterator[tuple[Phrase, Phrase]]:
    """ "valve egr", "sensor dpf pressure": the head first, as lists of parts have it."""
    for pieces in phrases:
        if 1 < len(pieces) <= _MOST_TOGETHER and pieces[-1] in heads and pieces[0] not in heads:
            yield (pieces[-1], *pieces[:-1]), pieces


def equal_words(phrases: Mapping[Phrase, str], groups: Sequence[Sequence[Phrase]]) -> dict[Phrase, Phrase]:
    """The phrases that come of changing words for others of their group: "urea pump" of "reductant pump".

    `phrases` are those of the lists with what they stand for. A phrase that would come of two with different meanings
    is left out, and so is one that the lists hold.
    """
    made: dict[Phrase, Phrase] = {}
    unsure: set[Phrase] = set()
    for group in groups:
        firsts = {spelling[0] for spelling in group}
        for source, origin in [*((one, one) for one in phrases), *made.items()]:
            for at, piece in enumerate(source):
                if piece not in firsts:
                    continue
                for spelling in group:
                    if source[at : at + len(spelling)] == spelling:
                        rest = source[at + len(spelling) :]
                        for other in group:
                            new = (*source[:at], *other, *rest)
                            if other is spelling or new in phrases or not 1 < len(new) <= _LONGEST:
                                continue
                            known = made.setdefault(new, origin)
                            if phrases[known] != phrases[origin]:
                                unsure.add(new)
    return {new: origin for new, origin in made.items() if new not in unsure}


def inflected(verbs: Mapping[str, str]) -> Iterator[tuple[str, str, str]]:
    """ "renews", "renewed", "renewing" of "renew", and the same done again: word, its base, its form.

    `verbs` are the base forms of one word with their action.
    """
    for base, action in verbs.items():
        yield base + "d", base, "past"  # "regen'd"
        fuller = (one for one, other in verbs.items() if other == action and len(one) > len(base))
        if any(one != base + "s" and shortens(base, one) for one in fuller):  # "renw" has no forms of its own
            continue
        stem = base.removesuffix("e")
        for word, form in ((base + "s", "base"), (stem + "ed", "past"), (stem + "ing", "ing")):
            yield word, base, form
            if action in _AGAIN and not base.startswith("re"):
                yield f"re{word}", base, form
        if action in _AGAIN and not base.startswith("re"):
            yield f"re{base}", base, "base"

"""Parts named: half a name traced to the whole one, and what only says which or where told from the part meant."""

from collections.abc import Iterator, Sequence

from fleetlens.intake.lines.lexicon import Lexicon
from fleetlens.intake.lines.mark import Mark
from fleetlens.intake.lines.tokens import Gap

__all__ = ["name_parts"]

# A part directly before one of these only says where it sits: "map wiring", "egr plug", "turbo gasket".
_HOLDERS = {"wiring", "connector", "gasket_seal", "fuse_relay", "vacuum_hose", "injector_seal", "ground"}
# A part that directly before another only says which: "exhaust nox sensor", "turbo boost hose".
_WHERE_ABOUTS = {"intake_system", "exhaust_pipe", "engine", "vehicle", "turbocharger", "dpf", "coolant", "engine_oil"}
# Parts of one common word, which a word before may turn into something else: "gearbox oil", "cabin filter".
_COMMON = {"engine_oil", "oil_filter", "air_filter", "cooling_fan", "vacuum_hose", "boost_hose", "fuse_relay", "brakes"}
_AMOUNTS = {"set", "pair", "lot", "litre", "litres", "l", "ltr", "ltrs", "bottle", "can"}
_LEAKS = {"exhaust_pipe", "coolant", "engine_oil", "reductant_fluid"}
_LOOSE = {"off", "out", "in", "made", "put"}  # words of place that mostly end what they speak of
_PAUSES = {Gap.COMMA, Gap.DASH, Gap.STOP, Gap.SEMICOLON}
_ENDS = {Gap.COMMA, Gap.STOP, Gap.SEMICOLON, Gap.AND}
_NEAR = 10  # marks among which a word may make a half name whole
_FAR = 5  # marks that "new" may stand before its part


def name_parts(marks: list[Mark], usual: Sequence[str], lexicon: Lexicon) -> list[Mark]:
    """Settle which marks are parts of our list ("C"), parts of no list ("U"), or only say which or where.

    `usual` are the parts that the codes of the line most often point at; they name a half name that stands alone.
    """
    _Naming(marks, usual, lexicon).run()
    return marks


class _Naming:
    """One line on its way from left to right."""

    def __init__(self, marks: list[Mark], usual: Sequence[str], lexicon: Lexicon) -> None:
        self._marks, self._usual, self._lexicon = marks, usual, lexicon
        self._seen: list[Mark] = []

    def run(self) -> None:
        place = False
        for at, mark in enumerate(self._marks):
            last = self._marks[at - 1] if at else None
            place = _still_place(mark, last, place)
            mark.place = place and mark.kind in "CUH"
            before = last if mark.gap == Gap.SOFT else None
            self._settle_by_line(at, mark, before)
            if mark.kind == "H":
                self._half(at, mark, before)
            elif mark.kind in "UF" and before is not None and before.kind == "C":
                _hang_on(mark, before)
            if mark.kind == "C":
                self._part(at, mark, before)
            if mark.kind == "C":
                mark.new = mark.new or self._is_new(at, mark)
                self._seen.append(mark)
            elif (mark.kind == "T" and self._is_new(at, mark)) or (mark.kind == "R" and self._new_alone(at, mark)):
                mark.kind, mark.key, mark.form = "A", "replace", "noun"

    def _settle_by_line(self, at: int, mark: Mark, before: Mark | None) -> None:
        """What else the line names settles which part a common word means."""
        alone = mark.kind == "M" and (before is None or before.kind != "C") and not self._leads(at)
        if alone or (mark.kind in "HC" and self._is_foreign(at, mark, before)):
            mark.kind = "U"
        elif mark.kind == "i" and _linked(self._marks, at):
            self._joined_half(at, mark)
        elif mark.kind == "i" and mark.gap >= Gap.COMMA:
            self._last_word(mark)
        elif mark.words == "plug" and "glow_plug" in self._usual and _numbered(self._marks, at):
            mark.kind, mark.key = "C", "glow_plug"
        elif mark.words == "flexi" and self._seen and self._lexicon.has_head(self._seen[-1].key, "flexi"):
            mark.key = self._seen[-1].key

    def _leads(self, at: int) -> bool:
        """Whether a part follows directly, which the word makes another one: "gearbox oil"."""
        after = self._marks[at + 1] if at + 1 < len(self._marks) else None
        return after is not None and after.gap == Gap.SOFT and after.kind in "CHMUTix"

    def _is_foreign(self, at: int, mark: Mark, before: Mark | None) -> bool:
        """ "coolant hose burst, hose replaced": of another part than ours, named just before."""
        if (before is not None and before.kind in "CxM") or " " in mark.words:
            return False
        named = (one for one in reversed(self._marks[:at]) if one.kind in "CU" and one.words.endswith(f" {mark.words}"))
        last = next(named, None)
        return last is not None and last.kind == "U"

    def _joined_half(self, at: int, mark: Mark) -> None:
        """ "air filter & housing"."""
        owner = next((one for one in reversed(self._marks[:at]) if one.kind not in "Jfn"), None)
        if owner is not None and owner.kind == "C" and (named := self._whole(owner.words, mark.words)):
            mark.kind, (mark.key, mark.words) = "C", named

    def _last_word(self, mark: Mark) -> None:
        """ "throttle body sooted, pipe oily. pipe wiped, body cleaned"."""
        named = next((one for one in reversed(self._seen) if one.words.endswith(f" {mark.words}")), None)
        if named is not None:
            mark.kind, mark.key, mark.words = "C", named.key, named.words

    def _part(self, at: int, mark: Mark, before: Mark | None) -> None:
        """A part after another: the first may only say which one the second is."""
        self._whose_seal(at, mark, before)
        if before is None:
            return
        if mark.key == "gasket_seal" and mark.place:
            self._joint(at, mark)
        over = self._marks[at - 2] if at > 1 and before.kind in "xi" and before.gap == Gap.SOFT else None
        if over is not None and over.kind in "Cm" and mark.key in _HOLDERS:  # "turbo oil return gasket"
            before = over
        if before.kind == "C" and before.key in _HOLDERS and mark.key not in _HOLDERS:  # "wiring egr to ecu"
            mark.kind = "m"
        elif before.kind == "M" and mark.key in _COMMON:
            mark.kind = "U"
        elif before.kind == "C" and before.key == mark.key:
            before.kind = "m"
        elif before.kind == "C" and (mark.key in _HOLDERS or before.key in _WHERE_ABOUTS):
            for one in self._marks[max(0, at - 4) : at]:
                beside = one.kind == "C" and one.last == before.first - 1 and before.gap == Gap.SOFT
                if one is before or beside:
                    one.kind = "m"
            mark.new = mark.new or before.new

    def _whose_seal(self, at: int, mark: Mark, before: Mark | None) -> None:
        """ "injector 1 seal", and the seals of a line that has named the injector's."""
        if mark.key == "gasket_seal" and mark.words == "seal" and any(one.key == "injector_seal" for one in self._seen):
            mark.key = "injector_seal"
        if before is not None and before.kind == "n" and before.gap == Gap.SOFT and at > 1:
            owner = self._marks[at - 2]
            if owner.kind == "C" and (named := self._whole(owner.words, mark.words)):  # "injector 1 seal"
                owner.kind, (mark.key, mark.words) = "m", named

    def _joint(self, at: int, mark: Mark) -> None:
        """ "egr to manifold gasket": what a gasket stands between."""
        for to in (at - 1, at - 2):
            if to > 0 and self._marks[to].words == "to" and self._marks[to - 1].kind in "Cm":
                for one in self._marks[to - 1 : at]:
                    one.kind = "m"
                mark.place = False
                return

    def _is_new(self, at: int, mark: Mark) -> bool:
        """Whether "new" or "recon" stands before the part, with small words between at most."""
        gap, linked = mark.gap, False
        for one in reversed(self._marks[max(0, at - _FAR) : at]):
            linked = linked or gap == Gap.AND or one.kind in "JW"  # "new dpf and gaskets"
            if gap not in (Gap.SOFT, Gap.AND):
                return False
            if one.kind == "R" or (one.kind == "C" and one.new and linked):
                return True
            if one.kind not in "fnimJWFx" and one.words != "of":
                return False
            gap = one.gap
        return False

    def _new_alone(self, at: int, mark: Mark) -> bool:
        """ "battery dead so new", "alternator not charging - recon unit": alone after what was wrong."""
        after = self._marks[at + 1] if at + 1 < len(self._marks) else None
        before = self._marks[at - 1]
        apart = (mark.gap in _PAUSES and before.kind not in "GP") or before.kind == "B"
        ill = next((one for one in reversed(self._marks[:at]) if one.kind in "KCAGNO"), None)
        return apart and ill is not None and ill.kind == "K" and (after is None or after.gap in _ENDS)

    def _half(self, at: int, mark: Mark, before: Mark | None) -> None:
        """Turn a half name into a part, or into one that isn't ours, which then the part before only describes."""
        head, default = self._lexicon.even(mark.words), mark.key
        alone = before is None or before.kind not in "CxM"
        other = before is not None and before.kind in "MU"  # "door lock actuator"
        traced = None if other else self._traced(at, head)
        if traced is None and alone and not default:
            traced = self._by_code(mark, head)
        if traced is None and (before is None or before.kind in "BJfR"):
            traced = self._from_words(at, head)
        if traced is None and default and not other:
            traced = (default, mark.words)
        if traced is None and head == "element":
            mark.kind = "i"
            return
        if traced is None and alone:
            traced = self._by_code(mark, head)
        if traced is not None:
            mark.kind, (mark.key, mark.words) = "C", traced
            return
        mark.kind, mark.key = "U", ""
        if before is not None and before.kind == "C":
            before.kind = "m"

    def _traced(self, at: int, head: str) -> tuple[str, str] | None:
        """The part whose name `head` ends: with its owner beside it, or with a part named before."""
        if head in ("seal", "washer") and any(one.key == "injector_seal" for one in self._seen):
            return "injector_seal", f"injector {head}"
        if at and _linked(self._marks, at) and self._seen and (named := self._whole(self._seen[-1].words, head)):
            return named  # "oil & filter"
        for one in reversed(self._seen):
            inside = f" {head} " in one.words and self._lexicon.has_head(one.key, head)  # "nox sensor downstream"
            if inside or one.words.endswith(f" {head}"):  # "vac hose to turbo actuator, hose"
                return one.key, one.words
        for start in (*self._owner(at), *self._leaks(at), *self._thing_before(at)):
            if named := self._whole(start, head):
                return named
        for one in sorted(reversed(self._seen), key=lambda one: one.place):
            if named := self._of_seen(one, head):
                return named
        return None

    def _of_seen(self, one: Mark, head: str) -> tuple[str, str] | None:
        for start in _stems(one, head):
            if named := self._whole(start, head):
                return named
        if part := self._lexicon.of_part(one.key, head):
            return part, f"{one.words} {head}"
        return (one.key, one.words) if self._lexicon.has_head(one.key, head) else None

    def _thing_before(self, at: int) -> Iterator[str]:
        """ "turbo fitted, oil pipe renewed" speaks of the turbo's oil pipe."""
        before = self._marks[at - 1] if at and self._marks[at].gap == Gap.SOFT else None
        if before is not None and before.kind == "C":
            yield from (f"{one.words} {before.words}" for one in reversed(self._seen) if one is not before)

    def _by_code(self, mark: Mark, head: str) -> tuple[str, str] | None:
        for part in self._usual:
            if self._lexicon.has_head(part, head):
                return part, mark.words
            if owned := self._lexicon.of_part(part, head):
                return owned, mark.words
        return None

    def _from_words(self, at: int, head: str) -> tuple[str, str] | None:
        """ "vac supply missing, pipe replaced", "rail reading low, sensor renewed": a word before makes it whole."""
        for one in reversed(self._marks[max(0, at - _NEAR) : at]):
            if (one.kind in "xKiEXf" or one.key == "inspect") and not one.words[0].isdigit():
                for word in reversed(one.words.split(" ")):
                    if len(word) > 2 and (named := self._whole(word, head)):
                        return named
        return None

    def _whole(self, start: str, head: str) -> tuple[str, str] | None:
        name = f"{start} {head}"
        term = self._lexicon.term(name, name)
        return (term.key, name) if term and term.kind == "C" else None

    def _owner(self, at: int) -> Iterator[str]:
        """ "relay for glow plugs"."""
        after = self._marks[at + 1 : at + 4]
        if len(after) > 1 and after[0].kind == "P" and after[0].words in ("for", "of", "on"):
            owner = next((one for one in after[1:] if one.kind not in "fn"), None)
            if owner is not None and owner.kind in "Cx":
                yield owner.words
        if len(after) > 1 and after[0].kind == "P" and after[0].words in ("from", "to", "between"):
            yield from (one.words for one in after[1:2] if one.kind == "C")

    def _leaks(self, at: int) -> Iterator[str]:
        """ "vac leak found, pipe replaced"."""
        for index, one in enumerate(self._marks[:at]):
            if one.kind == "K" and one.key == "leaking":
                first, _, more = one.words.partition(" ")
                yield first if more or not index else self._marks[index - 1].words


def _linked(marks: list[Mark], at: int) -> bool:
    """Whether an "and" stands right before."""
    return at > 0 and (marks[at - 1].kind == "J" or marks[at].gap == Gap.AND)


def _numbered(marks: list[Mark], at: int) -> bool:
    return at + 1 < len(marks) and marks[at + 1].kind == "n" and marks[at + 1].gap == Gap.SOFT


def _still_place(mark: Mark, last: Mark | None, place: bool) -> bool:
    """Whether a part here says where: after a word of place, or as what something is "contaminated with"."""
    after_cause = last is not None and last.kind == "K"
    if mark.kind == "P" and mark.words == "of" and last is not None and last.words in _AMOUNTS:
        return place
    if mark.kind == "P" or (mark.kind == "W" and after_cause):
        return True
    if after_cause and last is not None and last.key == "leaking" and mark.key in _LEAKS and mark.gap == Gap.SOFT:
        return True  # "leaking exhaust": what comes out, not what is wrong
    if last is not None and (last.kind == "Z" or (mark.kind == "R" and last.words in _LOOSE)):
        return False  # "changes to P0117 wiring ok", "old turbo off new turbo on"
    return place and not (mark.gap >= Gap.COMMA or mark.kind in "ANGOBW")


def _hang_on(mark: Mark, before: Mark) -> None:
    """What follows a part directly: a clip of it, or another part that it only describes."""
    if mark.kind == "F":
        before.fastened = True
        mark.kind = "x"
    else:
        before.kind = "m"


def _stems(one: Mark, head: str) -> Iterator[str]:
    """What may stand before the half name, by a part named before: "exhaust pressure" of "exhaust pressure pipe"."""
    stem = one.words.split(" ")
    yield one.words
    if stem[:-1]:
        yield " ".join(stem[:-1])
    if head in stem[1:-1]:
        yield " ".join(stem[: stem.index(head)])
    yield stem[0]
    yield stem[-1]

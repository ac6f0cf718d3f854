"""What "not" reaches: the nearest verb or part, and verbs joined to it."""

from fleetlens.intake.lines.hints import blame
from fleetlens.intake.lines.mark import Mark
from fleetlens.intake.lines.tokens import Gap
from fleetlens.intake.lines.word import Word

__all__ = ["negate"]
_WILL_NOT = {"wont", "will not", "would not", "wouldnt", "does not", "doesnt", "did not", "didnt", "cannot", "cant"}


def negate(word: Word) -> str | None:
    """To the nearest verb or part, and to verbs joined to that verb."""
    if _ruled_out(word):
        return None
    if word.mark.words in _WILL_NOT:  # "cleaning egr won't help"
        blame((one for one in word.left if one.kind == "A" and one.form == "ing"), "negated")
    for at, one in enumerate(word.right):
        rest, at_end = word.right[at + 1 :], one.kind in "OKAC"
        if one.kind in "OK":  # "not ok", "no leak": neither a verdict nor a cause
            one.kind = "x"
        elif one.kind == "A":
            blame([one, *_joined_verbs(rest)], "negated")
        elif one.kind == "C":
            verb = next((other for other in rest if other.kind not in "Cfnix"), None)
            if verb is not None and verb.kind == "A" and (word.mark.words != "not" or verb.form != "past"):
                blame([verb], "negated")
            blame([one], "negated")
        if at_end or not (one.kind in "fnxiJDR" or (one.kind == "P" and one.words in ("for", "to"))):
            break
    return None


def _ruled_out(word: Word) -> bool:
    """ "checked, not injectors": what a check has ruled out was checked."""
    alone = not word.left and word.clause.having("C") and all(one.kind in "GfCJniD" for one in word.clause.marks)
    if word.before is None or not alone or word.clause.gap >= Gap.SEMICOLON:
        return False
    content = [one for one in word.before.marks if one.kind not in "fiD"]
    if not content or not all(one.kind == "A" and one.key == "inspect" and not one.why for one in content):
        return False
    for one in content:
        one.kind = "x"
    word.mark.kind, word.mark.key, word.mark.form = "A", "inspect", "past"
    return True


def _joined_verbs(rest: list[Mark]) -> list[Mark]:
    """ "not cleaned or replaced"."""
    joined: list[Mark] = []
    linked = False
    for one in rest:
        if one.kind == "A" and (linked or one.gap == Gap.AND):
            joined.append(one)
        elif one.kind not in "JfxniN":
            break
        linked = one.kind == "J"
    return joined

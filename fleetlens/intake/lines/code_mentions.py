"""Fault codes as people write them: spaced, mistyped, listed, shortened, in ranges; and what only looks like one."""

import re
from collections.abc import Iterator

from fleetlens.intake.lines.folding import folded
from fleetlens.intake.lines.found import Found
from fleetlens.intake.lines.lookalikes import is_measure, is_number_of_something
from fleetlens.vocabulary.codes import known_codes, normalise

__all__ = ["codes_in"]

_DIGIT = "0-9a-foil"
_START = r"(?:(?<![a-z0-9])|(?<=code)|(?<=codes)|(?<=dtc)|(?<=\dx))"
# A code ends before anything but a letter or digit; where we know it, also before a word it was run into.
_END = r"(?:(?![a-z0-9])|(?=x ?\d)|(?P<run>(?=[a-z]{3})))"
_CODE = re.compile(rf"{_START}([pcbu])( ?- ?| )?([0-3oil] ?[{_DIGIT}]{{3}}|0[{_DIGIT}] [{_DIGIT}]{{2}}){_END}")
_DIGITS = re.compile("[0-9]")
_THREE = re.compile(r"(?<![a-z0-9])p([0-9]{3})(?![a-z0-9])")
_GLUED = re.compile(r"(?<![a-z0-9])(?:[pcbu][0-3][0-9a-f]{3}){2,}(?![a-z0-9])")
_ONE_GLUED = re.compile(r"[pcbu][0-3][0-9a-f]{3}")
_SPN = re.compile(
    r"(?<![a-z])spn\W{0,3}(\d{1,6})(?:\W{0,3}(?:and\W)?fmi\W{0,3}| ?[/.-] ?)(\d{1,2})"
    r"(?: ?(?:/|&|and) ?(\d{1,2}))?(?!\d)"
)
_SPOKEN = {
    **dict.fromkeys(("zero", "oh", "o", "nought", "naught"), "0"),
    **{word: str(digit) for digit, word in enumerate(("one", "two", "three", "four", "five", "six", "seven"), 1)},
    **{"to": "2", "too": "2", "for": "4", "eight": "8", "nine": "9"},
}
_SPOKEN_CODE = re.compile(rf"(?<![a-z])(?:p|pee|pea)((?: (?:{'|'.join(_SPOKEN)}|\d)){{4}})(?![a-z0-9])")
# A bare number is a P-code after one of these words ...
_AFTER_WORD = re.compile(
    rf"(?<![a-z])(\w+ )?(?:codes?|dtcs?|faults?)(?:'s)?"
    rf"(?: (?:no|nos|number|stored|present|read|found|logged|is|are|was|were|both|retrieved|shown|shows|up|of))*"
    rf"[ :#.=-]*([0-3o][{_DIGIT}]{{3}}|[1-9][0-9]{{2}})(?![a-z0-9])"
)
_OTHER_CODE = {
    *("radio", "key", "paint", "trim", "labour", "labor", "job", "part", "alarm", "post", "colour", "color"),
    *("security", "pin", "gate", "door", "op", "time", "cost", "nominal", "bar", "stock", "product", "zip", "entry"),
}
# ... or in a list that began with a P-code.
_BARE = re.compile(rf"( ?[/,;&+] ?| and | )([0-3o][{_DIGIT}]{{3}})(?![a-z0-9])")
_SHORT = re.compile(r"( ?/ ?|, ?| ?[&+] ?| and )([0-9a-f]{1,3})(?![a-z0-9])")
_TO = r"(?:-|to|thru|through|through to|up to|till|until)"
_RANGE = re.compile(rf" ?{_TO} ?(?:([pcbu]) ?)?([0-3o][{_DIGIT}]{{3}})(?![a-z0-9])")
_SHORT_RANGE = re.compile(r"(?:-(\d)| (?:to|thru|through) (\d{1,2}))(?![a-z0-9])")
_LIST_ENDS = re.compile(r" ?(?:$|[,;.)/&+-]|and |stored|logged|present|read|found|cleared|both|all|set|pending)")
_FAILURE_TYPE = re.compile(r"[-:]([0-9a-f]{2})(?![a-z0-9])")
_TO_DIGIT = str.maketrans("oil", "011")
_RANGE_LIMIT = 16
_SURE_DIGITS = 3


def codes_in(text: str) -> tuple[Found, ...]:
    """The fault codes that `text` spells, in order, each with its words; the same code again is given again.

    Spellings: P0401, p 0401, P0 401, P-0401, PO401, P04O1, P0401-64, DTC:P0401, P0671/2/3, P0671-P0674,
    P0201 to P0204, a bare 0401 after "code" or in a list that began with P, SPN 1208 FMI 3.
    Numbers of orders, invoices and parts, times and readings aren't codes.
    """
    even = folded(text)
    if "p " not in even and not _DIGITS.search(even):
        return ()
    found = [*_glued(text, even), *_tied(text, even)]
    for code, start, end in [*_lettered(even), *_bare(even)]:
        if not any(one.start < end and start < one.end for one in found):
            found += _from(text, even, code, start, end)
    return tuple(sorted(found, key=lambda code: (code.start, code.end)))


def _lettered(even: str) -> Iterator[tuple[str, int, int]]:
    """Codes written with their letter, where they begin and end."""
    told = " code" in f" {even}" or "dtc" in even or "fault" in even
    for match in _CODE.finditer(even):
        code = _tidy(match[1], match[2], match[3], told)
        if code is None or is_number_of_something(even, match.start(), match.end()):
            continue
        unsure = match["run"] is not None or match[3][2] == " "
        if unsure and code not in known_codes():
            continue
        if not (match[2] and is_measure(even, match.end())):
            yield code, match.start(), match.end()
    for match in _THREE.finditer(even) if told else ():
        code = _code("p", "0" + match[1])
        if code in known_codes() and not is_number_of_something(even, match.start(), match.end()):
            yield code, match.start(), match.end()
    for match in _SPOKEN_CODE.finditer(even):
        code = _code("p", "".join(_SPOKEN.get(word, word) for word in match[1].split()))
        if code is not None:
            yield code, match.start(), match.end()


def _bare(even: str) -> Iterator[tuple[str, int, int]]:
    """Numbers that a word before says are codes."""
    for match in _AFTER_WORD.finditer(even):
        shortened = len(match[2]) == _SURE_DIGITS
        body = "0" + match[2] if shortened else match[2]
        code = _code("p", body)
        measure = is_measure(even, match.end(2)) and not _RANGE.match(even, match.end(2))
        other = measure or (match[1] or "").strip() in _OTHER_CODE
        if (
            code
            and not other
            and not (shortened and code not in known_codes())
            and sum(sign.isdigit() for sign in body) >= _SURE_DIGITS
        ):
            yield code, match.start(2), match.end(2)


def _code(letter: str, body: str) -> str | None:
    tidy = normalise(letter + body.replace(" ", "").translate(_TO_DIGIT))
    return tidy.code if tidy else None


def _tidy(letter: str, gap: str | None, body: str, told: bool) -> str | None:
    """The code, or None where the letters are likelier to be a word."""
    code = _code(letter, body)
    digits = sum(sign.isdigit() for sign in body)
    word = digits < 2 and (letter != "p" or gap or not body[0].isdigit() or any(sign in "oil" for sign in body))
    order = " " in body and not body[0].isdigit() and code not in known_codes()  # "po 401", unless we know it
    doubtful = gap == " " and letter in "cb" and not told
    return None if word or order or doubtful else code


def _glued(text: str, even: str) -> Iterator[Found]:
    for run in _GLUED.finditer(even):
        for match in _ONE_GLUED.finditer(even, run.start(), run.end()):
            code = normalise(match[0])
            if code:
                yield _found(text, code.code, match.start(), match.end())


def _tied(text: str, even: str) -> Iterator[Found]:
    for match in _SPN.finditer(even):
        for fmi in filter(None, match.groups()[1:]):
            code = normalise(f"SPN {int(match[1])} FMI {int(fmi)}")
            if code:
                yield _found(text, code.code, match.start(), match.end())


def _found(text: str, code: str, start: int, end: int, failure_type: str | None = None) -> Found:
    return Found(code, text[start:end], start, end, failure_type)


def _from(text: str, even: str, first: str, start: int, end: int) -> Iterator[Found]:
    """The code at `start`, and those that its list or its range goes on with."""
    last, at = first, start
    while True:
        suffix = _FAILURE_TYPE.match(even, end)
        if suffix:
            end = suffix.end()
        yield _found(text, last, at, end, suffix[1].upper() if suffix else None)
        for ranged, stop in _range(even, last, end):
            yield _found(text, ranged, at, stop)
            end = stop
        for shortened, stop in _shortened(even, last, end):
            yield _found(text, shortened, at, stop)
            end = stop
        bare = _BARE.match(even, end)
        if bare is None or last[0] != "P":
            return
        code = _code("p", bare[2])
        sure = code in known_codes() or (bare[1].strip() != "" and bare[2][0] in "0o")
        if (
            code is None
            or not sure
            or is_measure(even, bare.end())
            or is_number_of_something(even, bare.start(2), bare.end())
        ):
            return
        last, at, end = code, bare.start(2), bare.end()


def _shortened(even: str, first: str, end: int) -> Iterator[tuple[str, int]]:
    """The codes of "P0671/2/3" or "P0671, 72 & 73" after the first, of which only the last digits are written."""
    while short := _SHORT.match(even, end):
        between, digits = short[1], short[2]
        code = _code(first[0].lower(), first[1 : 5 - len(digits)] + digits)
        if code is None or not any(sign.isdigit() for sign in digits):
            return
        if between != "/":
            if not digits.isdigit():
                return
            tight = between == "," or len(digits) > 1 or _LIST_ENDS.match(even, short.end())
            listed = even[short.end() : short.end() + 1] == ","
            if code not in known_codes() or not tight or (not listed and is_measure(even, short.end())):
                return
        end = short.end()
        yield code, end


def _range(even: str, first: str, end: int) -> list[tuple[str, int]]:
    """The codes after `first` of a range "P0671-P0674", and where it ends; none where it is no range."""
    full, digit = _RANGE.match(even, end), _SHORT_RANGE.match(even, end)
    if full:
        last, stop = _code(full[1] or first[0].lower(), full[2]), full.end()
        if last is None or (not full[1] and "-" not in full[0] and is_measure(even, stop)):
            return []
    elif digit:
        digits, stop = digit[1] or digit[2], digit.end()
        last = first[: 5 - len(digits)] + digits
        if is_measure(even, stop):
            return []
    else:
        return []
    low, high = int(first[1:], 16), int(last[1:], 16)
    if last[:3] == first[:3] and 0 < high - low < _RANGE_LIMIT:
        codes = [f"{first[0]}{number:04X}" for number in range(low + 1, high + 1)]
        decimal = first[1:].isdigit() and last[1:].isdigit()
        return [(code, stop) for code in codes if not decimal or code[1:].isdigit()]
    return [(last, stop)] if full and (full[1] or "-" not in full[0]) else []

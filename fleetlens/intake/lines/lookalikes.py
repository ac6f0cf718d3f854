"""What only looks like a fault code: the number of an order, a part, a job sheet, a time, a reading."""

import re

__all__ = ["is_measure", "is_number_of_something"]

_MEASURE = re.compile(
    r" ?(?:[.:]\d|,\d{1,2}(?!\d)|rpm|km|miles?\b|mls?\b|mi\b|mins?\b|hrs?\b|hours?|h\b|am\b|pm\b|mv|v\b|volts?|amps?\b"
    r"|bar|mbar|kpa|psi|nm|ohms?|%|deg|c\b|model|reg\b|plate|litres?|ltrs?|times\b|off\b|to \d{4}|[/.:-]\d)"
)
# Words before a number that say what it is the number of; the short ones may end in a dot.
_OWNER = (
    r"(?:(?:invoice|order|parts?|p/n|pn|p/no|serial|s/n|batch|docket|ticket|cheque|sku|stock|shelf|rack|bin|w/o|wo|r/o"
    r"|quote|quotation|estimate|account|catalogue|bay|reg|job ?sheet|job ?card|jc|j/c|js"
    r"|(?<!this )(?<!last )(?<!prev )(?<!same )"
    r"(?<!that )(?<!previous )job|sheet|card|claim|location|fleet|asset|tag|contract|requisition|booking|po|p\.o\.?"
    r"|auth|authority|worksheet|work ?order|page|photo|slot|locker|trailer|our|your)"
    r"|(?:inv|ord|ref|est|loc|acc|cat|wip))"
)
_NUMBER_OF = re.compile(
    rf"(?<![a-z]){_OWNER}[ :#=]{{0,3}}(?:(?:no|num|number|nr|nbr|code|nos|ref)\b\.?[ :#=]{{0,3}})?$"
    r"|(?<![a-z])(?:inv|ord|ref|est|loc|acc|cat|p/n|s/n)\. ?(?:no\.? ?)?$"
    r"|(?<![a-z])(?:item|kit|tool|van|veh|vehicle|truck|unit|policy|drawing|form)\W{0,2}(?:no|num|number|nr|#)\W{0,3}$"
    r"|[a-z0-9]-$|[£$€#] ?$"
)
_WHERE_OF = re.compile(
    r"(?<![a-z])(?:van|veh|vehicle|truck|bus|lorry|room|gate|shed|row|aisle|model|engine|engine code) $"
)
_CODE_WORD_DASH = re.compile(r"(?:codes?|dtcs?|faults?|[pcbu][0-3][0-9a-f]{3})-$")
_THING = r"(?:invoice|order|docket|ticket|quote|job sheet|job card|claim)"
_IS_NUMBER_OF = re.compile(
    rf" ?\(?(?:is |= ?)?(?:the|an?|our|your|on) {_THING}\b"
    rf"|,? ?\(?(?:is )?(?:{_THING}|part|job) ?(?:no|num|number|ref)\b"
)
_LONGER = re.compile(r"-(?!\w\b|[0-9a-f]{2}\b|[pcbu]?[0-3o][0-9a-foil]{3}\b|[a-z]{3,}\b)[a-z0-9]+|\.\d")


def is_measure(even: str, end: int) -> bool:
    """Whether the number that ends at `end` of an even text is a time, a date, a reading or a count."""
    return _MEASURE.match(even, end) is not None


def is_number_of_something(even: str, start: int, end: int) -> bool:
    """Whether what stands at `start` to `end` of an even text is the number of an order, part, job sheet or van."""
    before = even[max(0, start - 28) : start]
    if _CODE_WORD_DASH.search(before):
        return False
    if even[start] in "bc" and _WHERE_OF.search(before):
        return True
    return bool(_NUMBER_OF.search(before) or _IS_NUMBER_OF.match(even, end) or _LONGER.match(even, end))

"""From the text of one column of an export to the text that the tidy rules accept, and what was repaired on the way.

Every module here does one kind of value and gives the same: `clean(texts, form) -> Cleaned`, a row for each text.
Where a column can be read in more than one way, `evidence(texts)` counts what speaks for which; it adds up over
batches (`+`), and gives the `form`, or None and the `question` to ask. Nothing is guessed and nothing is silent:
where `repaired` is null the value is the text itself, blanks at its ends aside.

Repaired, asked and refused is told at the head of each module.
"""

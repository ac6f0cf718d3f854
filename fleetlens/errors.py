"""The one kind of error that a user can mend; anything else is a bug."""


class FleetlensError(Exception):
    """What is wrong, where, and what to do about it.

    `what` quotes the value that can't be used; `where` names the file, row and column; `do` is the remedy.
    """

    def __init__(self, what: str, *, where: str = "", do: str = "") -> None:
        self.what, self.where, self.do = what, where, do
        super().__init__("\n".join(part for part in (what, where and f"  at: {where}", do and f"  try: {do}") if part))

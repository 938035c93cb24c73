r"""Regular expressions for written numbers within bounds.

They hold in the common part of the dialects that validators of JSON Schema use: no look-around, no `\d`, `\w`
or `\s`, whose sets differ.
"""

from decimal import Decimal
from typing import Final

BLANK: Final = "[ \t\r\n\u00a0\u2009\u202f]"
"""What may stand around a number and its unit: blanks, with the narrow ones that keep both on one line."""

DIGITS: Final = 12
"""The most digits before the decimal point."""

EXPONENT: Final = r"[eE](?:\+?0*[0-9]|-0*[0-9]{1,2})"
_FRACTION: Final = r"(?:\.[0-9]*)?"
_NUMBER: Final = rf"(?:0*[0-9]{{1,{DIGITS}}}{_FRACTION}|\.[0-9]+)"
_NOT_NOTHING: Final = rf"(?:0*[1-9][0-9]{{0,{DIGITS - 1}}}{_FRACTION}|0*\.0*[1-9][0-9]*)"

PLAIN: Final = rf"\+?{_NUMBER}(?:{EXPONENT})?|-{_NUMBER}"
"""A number as it may be written; below nothing, without an exponent."""


def numbers(lowest: Decimal, highest: Decimal | None, *, lowest_allowed: bool) -> str:
    """Return an expression for the numbers from `lowest` to `highest`, as `PLAIN` writes them.

    Args:
        lowest: The lowest; 0 where it is not allowed itself.
        highest: The highest, without an exponent then; None for no bound.
        lowest_allowed: Whether `lowest` is one of them.
    """
    if not lowest_allowed:
        return rf"\+?{_NOT_NOTHING}(?:{EXPONENT})?"
    zero = Decimal(0)
    least = max(lowest, zero)
    positive = rf"{_NUMBER}(?:{EXPONENT})?" if highest is None else _between(least, highest)
    negative = "" if lowest > zero else f"|-{_between(zero, -lowest)}"
    return rf"(?:\+?{positive}{negative})"


def _between(least: Decimal, most: Decimal) -> str:
    """Return an expression for the numbers from `least` to `most`, neither below nothing."""
    low, low_part = _split(least)
    high, high_part = _split(most)
    if low == high and not low_part:
        choices = [f"0*{high}{_part_at_most(high_part)}" if high else _nothing_to(high_part)]
    else:
        choices = [
            f"0*{low}{_part_at_least(low_part)}" if low else _nothing_from(low_part),
            *(f"0*{whole}{_FRACTION}" for whole in _wholes(low + 1, high - 1)),
            f"0*{high}{_part_at_most(high_part)}",
        ]
    return f"(?:{'|'.join(choices)})"


def _split(number: Decimal) -> tuple[int, str]:
    whole, _point, part = f"{number:f}".partition(".")
    return int(whole), part.rstrip("0")


def _part_at_most(part: str) -> str:
    """Return an expression for a decimal point and a part that is at most the given one; or nothing at all."""
    return rf"(?:\.{_at_most(part)})?"


def _at_most(part: str) -> str:
    if not part:
        return "0*"
    return f"(?:{_digits_at_most(part)})?"


def _part_at_least(part: str) -> str:
    return rf"\.{_at_least(part)}" if part else _FRACTION


def _at_least(part: str) -> str:
    if not part:
        return "[0-9]*"
    higher = f"{_digit(int(part[0]) + 1, 9)}[0-9]*|" if part[0] != "9" else ""
    return f"(?:{higher}{part[0]}{_at_least(part[1:])})"


def _nothing_to(part: str) -> str:
    """Return an expression for numbers below 1 that are at most 0.`part`; a lone point is none."""
    return rf"(?:0+(?:\.{_at_most(part)})?|\.(?:{_digits_at_most(part)}))"


def _digits_at_most(part: str) -> str:
    if not part:
        return "0+"
    lower = f"{_digit(0, int(part[0]) - 1)}[0-9]*|" if part[0] != "0" else ""
    return f"{lower}{part[0]}{_at_most(part[1:])}"


def _digit(low: int, high: int) -> str:
    return str(low) if low == high else f"[{low}-{high}]"


def _nothing_from(part: str) -> str:
    return rf"0*\.{_at_least(part)}" if part else rf"(?:0+{_FRACTION}|\.[0-9]+)"


def _wholes(low: int, high: int) -> list[str]:
    """Return expressions for the whole numbers from `low` to `high`, without leading zeros."""
    choices: list[str] = []
    while low <= high:
        free = 0  # how many last digits may be any
        while low % 10 ** (free + 1) == 0 and low and low + 10 ** (free + 1) - 1 <= high:
            free += 1
        size = 10**free
        digit = low // size % 10
        last = min(9, digit + (high - low + 1) // size - 1)
        head = str(low // size // 10) if low // size >= 10 else ""
        choices.append(f"{head}{_digit(digit, last)}{'[0-9]' * free}")
        low += (last - digit + 1) * size
    return choices

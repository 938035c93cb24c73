"""What workers are made to do in these tests; it stands in a module so that every kind of worker can import it."""

import os
import time
from functools import partial

from ventrules.streaming import Way

DEADLY = 13


def doubled(numbers: tuple[int, ...]) -> list[int]:
    return [2 * number for number in numbers]


def slowly_doubled(numbers: tuple[int, ...]) -> list[int]:
    time.sleep(0.002 * (numbers[0] % 3))
    return doubled(numbers)


def deadly(numbers: tuple[int, ...], number: int = DEADLY) -> list[int]:
    if number in numbers:
        os._exit(7)
    return doubled(numbers)


def ending(_connection: object) -> None:
    os._exit(3)


def raising(numbers: tuple[int, ...]) -> list[int]:
    raise ArithmeticError(f"not {numbers[0]}")


def unsendable(numbers: tuple[int, ...]) -> object:
    return lambda: numbers


def weightless(_number: int) -> int:
    return 0


def lost(number: int) -> int:
    return -number


doubling = partial(Way[int, int], doubled, lost, weightless)

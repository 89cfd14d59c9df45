"""What a class is asked: answers to choose from, and which of them is right."""

from lipmodel.files.schema import Problem, parsed, quoted

FEWEST, MOST = 2, 4
LONGEST = 70  # letters: four of them stand on a wall in large type


def answers():
    """Type of the answers to put hands up for."""

    def check(value):
        if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
            raise ValueError
        if not value:
            return ()  # none, as a report has it
        if not FEWEST <= len(value) <= MOST:
            raise ValueError(f"expected {FEWEST} to {MOST} answers, found {len(value)}")
        for one in value:
            if not one.strip() or len(one) > LONGEST:
                told = f"expected answers of 1 to {LONGEST} letters, found {quoted(one)}"
                raise ValueError(told)
        if len({one.strip().casefold() for one in value}) < len(value):
            raise ValueError("expected answers that differ")
        return tuple(value)

    return parsed(tuple[str, ...], check, f"a list of {FEWEST} to {MOST} texts")


def one_of_them():
    """Type of the number of the right answer, counted from 1."""

    def check(value):
        if type(value) is not int or not 1 <= value <= MOST:
            raise ValueError
        return value

    return parsed(int | None, check, f"the number of the right answer, 1 to {MOST}")


def unasked(data: dict) -> list[Problem]:
    """A right answer that is none of those to choose from, and answers without a question."""
    given, number, found = data.get("choices"), data.get("right"), []
    if given and not data.get("ask"):
        found.append(Problem(("choices",), None, "expected a question too: ask", "plain"))
    if type(number) is not int:
        return found
    if not given:
        told = "expected choices too: the answers to choose from"
        found.append(Problem(("right",), number, told))
    elif isinstance(given, list) and len(given) < number <= MOST:
        told = f"expected the number of one of the {len(given)} choices"
        found.append(Problem(("right",), number, told))
    return found

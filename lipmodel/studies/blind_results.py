"""Files of blind results read back, checked, and told in sentences."""

import json
import re
from dataclasses import dataclass
from pathlib import Path

from lipmodel.errors import SceneError
from lipmodel.files import tables
from lipmodel.files.paths import read_bytes
from lipmodel.files.schema import quoted
from lipmodel.studies import blind_test
from lipmodel.studies.blind_test import set_of

KIND, ROOM, FORMAT = "blind listening", "blind room", 1
CODE = re.compile(r"[\w-]{1,20}")
NEEDED = {
    "set": str, "seed": int, "code": str, "count": int, "sounds": list, "trials": list,
    "score": dict, "seal": str, "title": str,
}  # fmt: skip
OF_TRIAL = {"a": int, "b": int, "x": int, "answer": int, "ms": int, "switches": int}
LARGEST = 5_000_000  # bytes
HINT = "expected a file as the blind page saves it"


@dataclass(frozen=True)
class Session:
    """One listener's session, checked: scored trials right, catch trials that fell on the key."""

    path: str
    code: str
    title: str
    set: str
    seed: int
    right: int
    count: int
    agreed: int
    caught: int


def read_session(path) -> Session:
    """The session in a file of results.

    Its trials must be those that follow from seed and code, its seal must fit its answers, and
    where a compare.json lies beside it, its sounds must be those.  Raises SceneError, one line.
    """
    data = loaded(path)
    for key, kind in NEEDED.items():
        of_kind(path, data, key, kind)
    count, code = data["count"], data["code"]
    if not blind_test.FEWEST <= count <= blind_test.MOST:
        refuse(path, "count", count, f"{blind_test.FEWEST} to {blind_test.MOST} trials")
    if not CODE.fullmatch(code):
        refuse(path, "code", code, "1 to 20 letters or digits")
    sums = sums_of(path, data)
    if data["set"] != set_of(sums):
        refuse(path, "set", data["set"], "the name that follows from the sounds' sha256")
    asked = blind_test.trials(len(sums), count, data["seed"], code)
    given = [_trial(path, n, trial) for n, trial in enumerate(data["trials"], 1)]
    if [t[:3] for t in given] != [(t.a, t.b, t.x) for t in asked]:
        raise SceneError(
            f"{path}: trials: not those that follow from seed {data['seed']} and code {code}: "
            f"{HINT}, unchanged"
        )
    answered = [",".join(map(str, trial)) for trial in given]
    text = "/".join([data["set"], str(data["seed"]), code, str(count), *answered])
    if data["seal"] != blind_test.seal(text):
        refuse(path, "seal", data["seal"], "the seal of these answers: the file was changed")
    beside(path, sums)
    hits = [(trial[3] == t.x, t.catch) for trial, t in zip(given, asked, strict=True)]
    right = sum(hit for hit, catch in hits if not catch)
    if data["score"].get("right") != right:
        refuse(path, "score.right", data["score"].get("right"), f"{right}, by its answers")
    return Session(
        str(path), code, data["title"], data["set"], data["seed"], right, count,
        sum(hit for hit, catch in hits if catch), sum(catch for _, catch in hits),
    )  # fmt: skip


def loaded(path, wanted: str = KIND) -> dict:
    """The table in a file that the blind page saved, of kind `wanted`; SceneError otherwise."""
    try:
        data = json.loads(read_bytes(path, LARGEST, "a file as the blind page saves it"))
    except (ValueError, RecursionError) as error:
        raise SceneError(f"{path}: not JSON; {HINT}") from error
    if not isinstance(data, dict) or data.get("kind") != wanted:
        raise SceneError(f"{path}: not a result of blind listening; {HINT}")
    if data.get("format") != FORMAT:
        refuse(path, "format", data.get("format"), str(FORMAT))
    return data


def refuse(path, key, value, expected):
    raise SceneError(f"{path}: {key} = {quoted(value)}: expected {expected}")


def of_kind(path, data, key, kind, place=""):
    name = f"{place}{key}"
    if key not in data:
        raise SceneError(f"{path}: {name}: missing; {HINT}")
    value = data[key]
    if not isinstance(value, kind) or isinstance(value, bool):
        words = {str: "a text", int: "a whole number", list: "a list", dict: "a table"}
        refuse(path, name, value, words[kind])


def sums_of(path, data) -> list[str]:
    sounds = data["sounds"]
    sums = [s.get("sha256") if isinstance(s, dict) else None for s in sounds]
    if len(sums) < 2 or not all(isinstance(s, str) for s in sums):
        raise SceneError(f"{path}: sounds: expected two or more, each with its sha256")
    return sums


def _trial(path, number, trial) -> tuple[int, ...]:
    if not isinstance(trial, dict):
        refuse(path, f"trials[{number}]", trial, "a table")
    for key, kind in OF_TRIAL.items():
        of_kind(path, trial, key, kind, f"trials[{number}].")
    if trial["answer"] not in (0, 1):
        refuse(path, f"trials[{number}].answer", trial["answer"], "0 for A or 1 for B")
    return tuple(trial[key] for key in OF_TRIAL)


def beside(path, sums):
    """Sounds of a set that lies beside the result must be those that were heard."""
    document = Path(path).with_name("compare.json")
    if not document.is_file():
        return
    try:
        rows = json.loads(read_bytes(document, LARGEST, "what compare wrote"))["sounds"]
        known = {row["sha256"] for row in rows}
        files_there = {tables.digest_of(document.with_name(row["file"])) for row in rows}
    except (OSError, ValueError, KeyError, TypeError, RecursionError) as error:
        raise SceneError(f"{document}: cannot be read; expected what compare wrote") from error
    for number, digest in enumerate(sums, 1):
        if digest not in known or digest not in files_there:
            refuse(path, f"sounds[{number}].sha256", digest, f"a sound of {document}")


def result_files(paths) -> dict[str, list]:
    """Files of results by kind, KIND and ROOM: those named, and those that lie in folders named.

    In a folder other JSON is passed over; SceneError where it holds no result.
    """
    found = {KIND: [], ROOM: []}
    for path in paths:
        folder = Path(path).is_dir()
        inside = sorted(Path(path).glob("*.json")) if folder else [path]
        kinds = [(one, _kind_of(one)) for one in inside]
        if folder and not any(kind in found for _, kind in kinds):
            raise SceneError(f"{path}: no result of blind listening in this folder; {HINT}")
        for one, kind in kinds:
            if kind in found or not folder:  # what is named and is none is told when it is read
                found.get(kind, found[KIND]).append(one)
    return found


def _kind_of(path):
    try:
        data = json.loads(read_bytes(path, LARGEST, "a file as the blind page saves it"))
    except (ValueError, RecursionError, SceneError, OSError):
        return None
    return data.get("kind") if isinstance(data, dict) else None


def read_sessions(paths) -> list[Session]:
    """All sessions, those of folders too; SceneError, every problem at once, also where two are of
    one listener code and seed, or of different sets."""
    sessions, problems = [], []
    for path in result_files(paths)[KIND]:
        try:
            sessions.append(read_session(path))
        except SceneError as error:
            problems += error.problems
    known = {}
    for session in sessions:
        first = known.setdefault((session.code, session.seed, session.set), session)
        if first is not session:
            problems.append(
                f"{session.path}: listener code {quoted(session.code)} with seed {session.seed} is "
                f"in {first.path} too: expected one session of each"
            )
        if session.set != sessions[0].set:
            problems.append(
                f"{session.path}: of another set of sounds than {sessions[0].path}: expected "
                "results of one set"
            )
    if problems:
        raise SceneError(problems)
    return sessions


def sentences(sessions) -> list[str]:
    """A line a listener, then what all have in common."""
    lines = [f"{sessions[0].title}: {len(sessions)} listener{'s' * (len(sessions) > 1)}"]
    for session in sessions:
        low, high = blind_test.interval(session.right, session.count)
        p = blind_test.chance_of(session.right, session.count)
        lines.append(
            f"{session.code}: {session.right} of {session.count} right, p = {_small(p)}, 95 % "
            f"interval {100 * low:.0f} to {100 * high:.0f} %; catch trials {session.agreed} of "
            f"{session.caught} on the key"
        )
    return [*lines, *_together(sessions)]


def _small(p: float) -> str:
    return f"{p:.4f}" if p >= 1e-4 else "under 0.0001"


def _together(sessions) -> list[str]:
    group = blind_test.group([s.right for s in sessions], [s.count for s in sessions])
    lines = [*_catches(sessions)]
    if group.low is None:
        fewest = blind_test.GROUP
        return [*lines, f"Fewer than {fewest} listeners: too few to tell about others."]
    lines.append(
        f"The group (beta-binomial): {100 * group.mean:.0f} % right on average, 95 % interval "
        f"{100 * group.low:.0f} to {100 * group.high:.0f} %; listeners differ by "
        f"{100 * group.spread:.0f} % (standard deviation)."
    )
    if group.low > 0.5:
        words = "Listeners like these hear a difference: guessing would give 50 %."
    elif group.high < 0.5:
        words = "They are right less often than by guessing: something turned the answers round."
    else:
        words = "It is not shown that listeners like these hear a difference: 50 % is guessing."
    return [*lines, words]


def _catches(sessions) -> list[str]:
    """A warning where catch trials, which nobody can hear, fall on the key too often."""
    agreed, caught = sum(s.agreed for s in sessions), sum(s.caught for s in sessions)
    if not caught or blind_test.chance_of(agreed, caught) >= 0.01:
        return []
    return [
        f"Catch trials: {agreed} of {caught} on the key, where A and B are the same sound: "
        "something other than the ear may have helped."
    ]

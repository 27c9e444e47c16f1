"""What the words of a frame say: axis, unit, mode, counting, status, key, or that it moves. Pure.

Words that always stand there are looked up among those that the trade uses; words that change
must show by when they change what they are. One that shows nothing is refused.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from itertools import pairwise

from drivers.learning.between import Word
from drivers.learning.evidence import Setting, Undecided
from drivers.learning.figures import Number
from drivers.learning.signs import Part
from drivers.learning.text import Text

UNITS = {"mm": "mm", "in": "in", "inch": "in", "inches": "in", '"': "in", "''": "in"}
_INCHES = (b'"', b"''")
"""Marks that stand right behind a figure, or say something else."""
MODES = {
    **dict.fromkeys(("rad", "radius"), "radius"),
    **dict.fromkeys(("dia", "diam", "diameter", "\xd8", "\xf8"), "diameter"),
}
COUNTINGS = {
    **dict.fromkeys(("abs", "absolute"), "absolute"),
    **dict.fromkeys(("inc", "incr", "incremental"), "incremental"),
}
GOOD = ("ok", "rdy", "ready", "good", "valid")
"""Common practice, all four."""
VOCABULARY = {"unit": UNITS, "mode": MODES, "counting": COUNTINGS}
_OTHERS = {
    **dict.fromkeys(("in", "inch", "inches", '"', "''"), ("mm",)),
    "mm": ("in", "inch"),
    "rad": ("dia",),
    "radius": ("diameter",),
    **dict.fromkeys(("dia", "diam"), ("rad",)),
    "diameter": ("radius",),
    "abs": ("inc",),
    "absolute": ("incremental",),
    "m": ("i",),
    "r": ("d",),
    "d": ("r",),
}
"""What a readout that says the one says else, where nobody saw it: an alarm with its name."""
_OTHER = {
    "mm": "in",
    "in": "mm",
    "radius": "diameter",
    "diameter": "radius",
    "absolute": "incremental",
}
_LETTERS = {b"M": ("unit", "mm"), b"R": ("mode", "radius"), b"D": ("mode", "diameter")}
"""What a letter alone behind all figures may say, where they agree."""
_TOKEN = re.compile(rb"[A-Za-z\x80-\xff]+|[0-9]+|''|.", re.DOTALL)
_FLAG = re.compile(rb"(?:^|[^A-Za-z])(?:U|UNIT|u|unit)[=:]?$")
_LONGEST_RUN = 2
"""Frames in a row that one press of a key marks."""
_FEWEST = 6
"""Frames of which a word that came once may be an axis."""
_PRESSES, _RARE = 2, 0.2
"""Presses of a key, and its frames beside the others, that tell its word from another one."""
_TOGETHER = 0.8


def said(word: bytes) -> str:
    """A word as a person reads it."""
    return repr(word.decode("latin-1"))


# -- words that always stand there -------------------------------------------------------------


def fixed(text: Text) -> None:
    """Turn texts that say unit, mode, counting or status into words of that role; one a role."""
    taken = {word.role for word in text.words}
    parts: list[Part] = []
    n = len(text.rows)
    for at, part in enumerate(text.parts):
        if not isinstance(part, bytes):
            parts.append(part)
            continue
        behind = any(isinstance(p, Number) and p.kind == "figure" for p in text.parts[:at])
        held = b""
        for token in _TOKEN.findall(part):
            role, meaning = _looked_up(token, held, behind=behind)
            if not role or role in taken:
                held += token
                continue
            taken.add(role)
            parts += [held] * bool(held)
            parts.append(Word([token] * n, role, meaning))
            held = b""
        parts += [held] * bool(held)
    text.parts = parts


def _looked_up(token: bytes, held: bytes, *, behind: bool) -> tuple[str, dict[bytes, str]]:
    """Role and meaning of a word; ``behind``: whether a figure stands before it."""
    word = token.decode("latin-1")
    if word in ("0", "1") and _FLAG.search(held):
        return "flag", {}
    if held[-1:].isalpha() or not behind or (token in _INCHES and held.strip()):
        return "", {}
    for role, known in VOCABULARY.items():
        meaning = known.get(word.lower())
        if meaning is not None:
            return role, {token: meaning}
    return ("status", {token: "good"}) if word.lower() in GOOD else ("", {})


def letters(text: Text, unit: str, mode: str, *, mode_known: bool) -> list[Setting]:
    """Turn letters alone behind all figures, such as R, to words of unit and mode where the figures
    agree with them."""
    found: list[Setting] = []
    last = max(n for n, part in enumerate(text.parts) if isinstance(part, Number))
    parts: list[Part] = text.parts[: last + 1]
    for part in text.parts[last + 1 :]:
        held = b""
        for token in _TOKEN.findall(part) if isinstance(part, bytes) else ():
            role, says = _LETTERS.get(token, ("", ""))
            taken = any(word.role == role for word in text.words) or not role
            if taken or says != (unit if role == "unit" else mode if mode_known else ""):
                held += token
                continue
            parts += [held] * bool(held)
            parts.append(Word([token] * len(text.rows), role, {token: says}))
            held = b""
            words = f"{said(token)} stands alone behind the figures, and they are in {says}"
            found.append(Setting(f"{role}_words", said(token), (words,)))
        parts += [held] * bool(held) if isinstance(part, bytes) else [part]
    text.parts = parts
    return found


def group(word: Word) -> list[bytes]:
    """The texts that the group of a word lets in: what was seen, and its usual counterpart, so that
    a unit or mode that was changed is said to be just that."""
    seen = [kind for kind in word.kinds if kind]
    if word.role in ("unit", "mode", "counting") and len(seen) == 1:
        if seen[0] in (b"0", b"1"):
            return [b"0", b"1"]
        text = seen[0].decode("latin-1")
        others = _OTHERS.get(text.lower(), ())
        return [
            *seen,
            *(other.upper().encode() if text.isupper() else other.encode() for other in others),
        ]
    return seen


def named(word: Word) -> dict[bytes, str]:
    """What each text of its group says; of the counterpart that nobody saw, the other thing."""
    known = dict(word.meaning or {})
    others = [text for text in group(word) if text not in known]
    if others and word.role in ("unit", "mode", "counting"):
        (seen,) = known.values()
        known |= dict.fromkeys(others, _OTHER[seen])
    return known


# -- words that change -------------------------------------------------------------------------


def changing(text: Text) -> list[Setting]:
    """Give each word that changes its role, with its evidence. Raises Undecided for one that
    nobody understands."""
    found: list[Setting] = []
    for word in text.words:
        if not word.role:
            found += _role(word, text)
    keys = [word for word in text.words if word.role == "key"]
    for other in keys[1:]:
        # The same key's mark behind each figure.
        if [bool(v.strip()) for v in other.values] == [bool(v.strip()) for v in keys[0].values]:
            other.role = "moving"
    return found


def _role(word: Word, text: Text) -> list[Setting]:
    kinds = word.kinds
    shown = ", ".join(f"{said(k)} {n} times" for k, n in kinds.most_common(4))
    for role, known in VOCABULARY.items():
        meaning = {k: known.get(k.strip().decode("latin-1").lower(), "") for k in kinds}
        if all(meaning.values()):
            word.role, word.meaning = role, meaning
            return []
    if _is_axis(word, text):
        word.role = "axis"
        return []
    if _is_moving(word, text):
        word.role = "moving"
        return [Setting("mark of motion", shown, ("it stands while figures change",))]
    if (mark := _mark(word)) is not None:
        return [_key(word, mark, "" if kinds[mark] > 1 else "it was seen once")]
    good = {k for k in kinds if k.strip().decode("latin-1").lower() in GOOD}
    if good and kinds.most_common(1)[0][0] in good:
        word.role, word.meaning = "status", {k: "good" if k in good else "fault" for k in kinds}
        return []
    if (mark := _instead(word)) is not None:
        return [_key(word, mark, "it stands in another word's place, and might say something else")]
    raise Undecided(
        f"something changes in the frame ({shown}) and nothing shows what it says",
        "touch nothing on the readout but its print key, move one slide, and record again",
    )


def _key(word: Word, mark: bytes, against: str) -> Setting:
    word.role, word.meaning = "key", {mark: "key"}
    lone = f"{said(mark)} stands in {word.kinds[mark]} of {len(word.values)} frames, never long"
    return Setting("key", said(mark), (lone,), (against,) if against else (), proved=not against)


def _is_axis(word: Word, text: Text) -> bool:
    """Whether the word says whose figure it is: figures under one word go smoothly, and jump
    where it changes; or words take turns."""
    kinds, values = word.kinds, word.values
    n = len(values)
    least = max(2, n // 10) if n > _FEWEST else 1
    if len(text.figures) != 1 or not 2 <= len(kinds) <= 6 or min(kinds.values()) < least:
        return False
    if any(not kind.strip() for kind in kinds):
        return False
    figures = text.figures[0].values
    apart = sum(_gone([f for f, v in zip(figures, values, strict=True) if v == k]) for k in kinds)
    turns = sum(a != b for a, b in pairwise(values))
    return turns >= n / 2 or (turns > 1 and 3 * apart < _gone(figures))


def _gone(figures: Sequence[int]) -> int:
    return sum(abs(b - a) for a, b in pairwise(figures))


def _is_moving(word: Word, text: Text) -> bool:
    """Whether it stands just while figures change."""
    kinds = word.kinds
    if len(kinds) != 2 or min(kinds.values()) < 4:
        return False
    rows = list(zip(*[f.values for f in text.figures], strict=True))
    changes = [a != b for a, b in pairwise(rows)]
    one = next(iter(kinds))
    for marks in (word.values[1:], word.values[:-1]):
        same = sum((mark == one) == change for mark, change in zip(marks, changes, strict=True))
        share = same / max(1, len(changes))
        moving = sum(changes) / max(1, len(changes))
        if 0.05 < moving < 0.95 and max(share, 1 - share) >= max(
            _TOGETHER, 1 - min(moving, 1 - moving) / 2
        ):
            return True
    return False


def _mark(word: Word) -> bytes | None:
    """The mark of a key: there or not, and never for long."""
    kinds = word.kinds
    if len(kinds) != 2:
        return None
    (usual, most), (rare, few) = kinds.most_common(2)
    if usual.strip() and not rare.strip():
        usual, rare, most, few = rare, usual, few, most
    if usual.strip() or few > most or not rare.strip():
        return None
    longest = max(len(run) for run in _runs(word.values, rare))
    return rare if longest <= _LONGEST_RUN else None


def _instead(word: Word) -> bytes | None:
    """The mark of a key that stands in the place of another word: rare, and never for long, again
    and again."""
    kinds = word.kinds
    if len(kinds) != 2 or not all(kind.strip().isalpha() for kind in kinds):
        return None
    (_, most), (rare, few) = kinds.most_common(2)
    runs = [len(run) for run in _runs(word.values, rare) if run]
    lone = len(runs) >= _PRESSES and max(runs) <= _LONGEST_RUN
    return rare if lone and few <= _RARE * most else None


def _runs(values: Sequence[bytes], kind: bytes) -> list[list[bytes]]:
    found: list[list[bytes]] = [[]]
    for value in values:
        if value == kind:
            found[-1].append(value)
        elif found[-1]:
            found.append([])
    return found


# -- what the words say against what was measured ------------------------------------------------


def meant(text: Text, role: str) -> str:
    """What the words of a role say, "" where there is none or more than one thing."""
    meanings: Counter[str] = Counter()
    for word in text.words:
        if word.role == role and word.meaning:
            meanings.update(word.meaning.get(v, "") for v in word.kinds)
    return next(iter(meanings)) if len(meanings) == 1 else ""


def held_against(text: Text, unit: str, mode: str, *, mode_known: bool) -> list[Setting]:
    """Settings of words that say unit, mode, counting or status, held against what was measured.
    Raises Undecided where they contradict it."""
    found: list[Setting] = []
    for word in text.words:
        shown = ", ".join(said(k) for k in word.kinds)
        if word.role == "flag":
            (kind,) = word.kinds.keys() - {b""}
            word.role, word.meaning = "unit", {kind: unit}
            words = (f"it stands behind U, and the figures are in {unit}",)
            found.append(Setting("unit_words", f"{said(kind)} = {unit}", words))
        elif word.role in ("unit", "mode") and word.meaning:
            own = unit if word.role == "unit" else mode
            if own not in word.meaning.values() and (word.role == "unit" or mode_known):
                raise Undecided(
                    f"the frame says {shown} and its figures went as in {own}",
                    "move X by +10 mm and record again, with the figure and its sign as stated",
                )
            words = (f"{shown}: the word that is usual for it, and the figures agree",)
            found.append(Setting(f"{word.role}_words", shown, words, proved=True))
        elif word.role == "counting" and word.meaning:
            if set(word.meaning.values()) != {"absolute"}:
                raise Undecided(
                    f"the frame says {shown}: it counts incremental",
                    "set the readout to absolute counting and record again",
                )
            found.append(Setting("counting_words", shown, ("the word that is usual for it",)))
        elif word.role == "status":
            words = ("the word that is usual for it",)
            found.append(Setting("good", shown, words))
    return found

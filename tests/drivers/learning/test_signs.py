"""Where a sign may stand, and what noise, blanks and noughts beside figures don't show."""

from __future__ import annotations

from datetime import UTC, datetime

from drivers.decoder import Alarm, Decoder
from drivers.learning.learn import learn
from drivers.learning.proposal import Proposal
from drivers.learning.recording import moves, read

WAY = [31.447] * 10 + [31.447 + n + 0.0013 * (n % 3) for n in range(1, 10)] + [41.447] * 10
Z = 142.318


def found(lines: list[str], *moved: str) -> Proposal:
    data = "".join(lines).encode("latin-1")
    return learn(read(data, "recording"), moves(moved or ["X=+10mm"]))


def decoded(proposal: Proposal, line: str) -> dict[str, str] | None:
    """What the second of two lines alike shows; None where it is refused."""
    decoder, at = Decoder(proposal.layout, "RO-1"), datetime(2026, 11, 17, tzinfo=UTC)
    items = [*decoder.feed(2 * line.encode("latin-1"), at), *decoder.close(at)]
    if any(isinstance(item, Alarm) for item in items):
        return None
    return {r.channel: str(r.value) for r in items[-1].readings}


def test_a_nought_that_noise_put_before_one_figure_fills_up_no_other() -> None:
    lines = [f"A {x:9.3f} B {Z:9.3f}\r\n" for x in WAY]
    lines[4] = lines[4].replace("31.447", "01.447")
    made = found(lines)
    assert decoded(made, f"A {1.5:9.3f} B {Z:9.3f}\r\n") == {"X": "1.500", "Z": "142.318"}

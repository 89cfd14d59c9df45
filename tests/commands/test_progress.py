"""What is told on a terminal's standard error while work takes long."""

import io

import pytest

from lipmodel.commands import progress
from lipmodel.commands.main import main
from lipmodel.commands.progress import STAGES, bar


class Terminal(io.StringIO):
    def isatty(self):
        return True


def terminal_at(monkeypatch, clock) -> Terminal:
    """Standard error as a terminal, at the seconds that `clock()` tells."""
    terminal = Terminal()
    monkeypatch.setattr("sys.stderr", terminal)
    monkeypatch.setattr(progress.time, "monotonic", clock)
    return terminal


def test_a_bar_shows_after_its_delay_what_is_done_then(monkeypatch):
    clock = [0.0]
    terminal = terminal_at(monkeypatch, lambda: clock[0])
    with bar(form=STAGES, delay=1.0) as work:
        work.reach(0, 0, "tuning")
        work.reach(1, 7, "playing C4")
        assert terminal.getvalue() == ""
        clock[0] = 1.0
        work.reach(2, 7, "playing D4")
        assert "playing D4" in terminal.getvalue()
        assert "2/7" in terminal.getvalue()
        assert "C4" not in terminal.getvalue()
        work.reach(0, 0, "tuning")
    assert "0/0" not in terminal.getvalue()


def test_nothing_is_told_where_standard_error_is_no_terminal(capsys):
    with bar(delay=0.0) as work:
        work.reach(1, 7, "playing C4")
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize("argv", [["chart", "bugle"], ["why", "E5", "--on", "bugle"]])
def test_chart_and_why_tell_what_they_play_once_a_second_has_passed(capsys, monkeypatch, argv):
    began = iter((0.0,))
    terminal = terminal_at(monkeypatch, lambda: next(began, 1.0))
    assert main(argv) == 0
    assert "tuning: playing" in terminal.getvalue()
    assert "playing E5, open" in terminal.getvalue()

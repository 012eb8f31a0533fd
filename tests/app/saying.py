"""The command line called as a user does, and what it says."""

from app.commands.command_line import main
from core.model.samples import sample_path

TERN, MUDDLE = str(sample_path("tern-20-12")), str(sample_path("muddle-40-20"))


def said(capsys, *words: str) -> tuple[int, str, str]:
    """Exit code, what is printed, and what is told as an error."""
    code = main(words)
    out, err = capsys.readouterr()
    return code, out, err


def refused(capsys, *words: str) -> str:
    """The one sentence with which a command is refused."""
    code, _, err = said(capsys, *words)
    assert code == 2
    assert err.startswith("copperclad: ")
    assert err.count("\n") == 1
    assert "Traceback" not in err
    return err

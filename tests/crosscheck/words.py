"""Completions and manual as a shell and a terminal take them.

bash finishes words from what `ruboff shell bash` prints; colours appear on a terminal (a pseudo-terminal of the system) and not under NO_COLOR
(no-color.org); where groff or mandoc is at hand, they find nothing to complain of in the manual.
"""

import os
import pty
import shutil
import subprocess
import sys

RUBOFF = os.environ.get("RUBOFF", "target/release/ruboff")


def finished(words):
    """What bash offers for the last of the words."""
    script = (
        f"source <({RUBOFF} shell bash); COMP_WORDS=({' '.join(words)}); COMP_CWORD={len(words) - 1}; "
        f"_ruboff ruboff '{words[-1]}' '{words[-2]}'; printf '%s\\n' \"${{COMPREPLY[@]}}\""
    )
    return subprocess.run(["bash", "-c", script], check=True, capture_output=True, text=True).stdout.split()


def on_a_terminal(**also):
    """What help says to a terminal."""
    out = bytearray()

    def read(fd):
        data = os.read(fd, 65536)
        out.extend(data)
        return b""

    kept = dict(os.environ)
    for name in ("NO_COLOR", "CLICOLOR", "CLICOLOR_FORCE"):
        os.environ.pop(name, None)
    os.environ.update(TERM="xterm-256color", **also)
    try:
        pty.spawn([RUBOFF, "sheet", "--help"], read, lambda fd: b"")
    finally:
        os.environ.clear()
        os.environ.update(kept)
    return bytes(out)


def main():
    assert finished(["ruboff", "tra"]) == ["trace"], finished(["ruboff", "tra"])
    assert "--thickness" in finished(["ruboff", "trace", "--thi"])
    assert b"\x1b[" in on_a_terminal()
    assert b"\x1b[1m" not in on_a_terminal(NO_COLOR="1")
    for checker in (["mandoc", "-T", "lint", "-W", "error"], ["groff", "-man", "-ww", "-z", "-T", "utf8", "-K", "utf8"]):
        if shutil.which(checker[0]):
            for verb in ("", "trace", "pattern"):
                page = subprocess.run([RUBOFF, "manual", *([verb] if verb else [])], check=True, capture_output=True).stdout
                done = subprocess.run(checker, input=page, capture_output=True)
                assert done.returncode == 0 and not done.stderr.strip(), done.stderr.decode()
    print("words: completions work in bash; colours on a terminal only; nothing to complain of in the manual")


if __name__ == "__main__":
    main()

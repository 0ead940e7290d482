"""The workflow of examples/workflow run for real: two local workers, killed half way, finished, and held against one plain run.

    python workflow.py RESULTS

RESULTS is not read. The demo wardrobe's pictures are laid out as a folder of garments and loose pictures, one of them damaged; Snakemake runs
`ruboff` (target/release/ruboff, or $RUBOFF) on it, is killed with all its workers after the first unit, and runs again to the end. Every file of the archive must be
that of a plain run, byte for byte. Exits with 1 when anything is out.
"""

import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
RUBOFF = os.environ.get("RUBOFF", str(ROOT / "target/release/ruboff"))
WORKFLOW = ROOT / "examples/workflow/Snakefile"
LONGEST = 240  # seconds


def wardrobe(folder):
    """Garments, a loose picture with a name that shells stumble over, and one that is cut short."""
    for garment in sorted((ROOT / "examples/wardrobe").iterdir()):
        if garment.is_dir():
            shutil.copytree(garment, folder / garment.name)
    loose = folder / "Größe & Schnitt's"
    loose.mkdir()
    picture = next((ROOT / "examples/wardrobe").glob("*/*.jpg"))
    shutil.copy(picture, loose / "vorne 1.jpg")
    (loose / "broken.jpg").write_bytes(picture.read_bytes()[:20_000])


def started(home, settings, *also):
    """Snakemake with two local workers, in a group of its own."""
    call = [sys.executable, "-m", "snakemake", "--snakefile", str(WORKFLOW), "--cores", "2", "--quiet", "all", *also]
    words = [f"{k}={v}" for k, v in settings.items()]
    # The program's own environment stays out of it, so that no profile of whoever runs this is taken.
    env = {k: v for k, v in os.environ.items() if not k.startswith("SNAKEMAKE_")}
    return subprocess.Popen([*call, "--config", *words], cwd=home, env=env, start_new_session=True, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)


def finished(process):
    said = process.communicate(timeout=LONGEST)[1].decode()
    assert process.returncode == 0, said[-2000:]


def files(folder):
    """Every file of an archive but locks and caches."""
    all_files = (p for p in folder.rglob("*") if p.is_file())
    return {str(p.relative_to(folder)): p.read_bytes() for p in all_files if not any(part.startswith(".") for part in p.relative_to(folder).parts)}


def main():
    with tempfile.TemporaryDirectory() as place:
        home = Path(place)
        pictures, plain = home / "pictures", home / "plain"
        pictures.mkdir()
        wardrobe(pictures)
        settings = {"pictures": pictures, "archive": home / "shared", "done": home / "done", "options": "--pitch 1in", "ruboff": RUBOFF}
        process = started(home, settings)
        begun = time.monotonic()
        units = home / "done/units"
        while not (units.is_dir() and any(units.iterdir())) and process.poll() is None and time.monotonic() - begun < LONGEST:
            time.sleep(0.02)
        os.killpg(process.pid, signal.SIGKILL)
        process.communicate()
        done = len(list(units.iterdir())) if units.is_dir() else 0
        assert 0 < done < 5 and not (home / "done/gathered").exists(), f"{done} units were done when it was killed"
        finished(started(home, settings, "--unlock"))
        finished(started(home, settings, "--rerun-incomplete"))
        assert (home / "done/gathered").exists()
        ran = subprocess.run([RUBOFF, "trace", str(pictures), "--out", str(plain), "--pitch", "1in"], capture_output=True)
        assert ran.returncode == 1, ran.stderr.decode()[-2000:]
        ran = subprocess.run([RUBOFF, "catalogue", str(plain)], capture_output=True)
        assert ran.returncode in (0, 1), ran.stderr.decode()[-2000:]
        one, many = files(plain), files(home / "shared")
        odd = sorted(set(one) ^ set(many))
        assert not odd, f"in one archive only: {odd}"
        unlike = [name for name in one if one[name] != many[name]]
        assert not unlike, f"not alike: {unlike}"
        print(f"workflow: killed after {done} of 5 units, finished, {len(one)} files as those of one run")


if __name__ == "__main__":
    main()

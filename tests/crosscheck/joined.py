"""The pages of a printed sheet, joined out of place.

    python joined.py RESULTS

RESULTS is not read. A sheet is drawn on A4 and on Letter with target/release/ruboff (or $RUBOFF), its pages are drawn by poppler, cut where they say, laid
over one another a little out of place and turned, a shape is laid on them, and the whole is seen askew. The picture is traced: it must
be told which paper it was, and by how much its pages lie apart at their joins. Prints a line a paper; exits with 1 when anything is out.
"""

import json
import os
import tempfile
from pathlib import Path

import jsonschema
import numpy as np
from PIL import Image, ImageDraw, ImageFilter

from pattern import PAPERS, ROOT, RUBOFF, UNIT, Faults, run, sizes
from sheet import MARGIN, STRIP, begins, division, pages

SCALE = 4.0  # px to the mm
PITCH, SQUARES = 25.0, (36, 48)
EDGE = 15.25  # mm of ruler before the first line
MOVED = 0.7  # mm, each way
SHAPE = [(180, 240), (480, 255), (640, 590), (592, 941), (331, 971), (162, 829)]
TABLE = (140, 120, 100)


def joined(folder, file, size, luck):
    """All pages on one another, and for each by how much it was moved and turned, about which place of the sheet."""
    run("pdftoppm", "-r", SCALE * 25.4, "-png", file, folder / "p")
    axes = [division(s, PITCH) for s in size]
    count = [pages(SQUARES[k] + 1, *axes[k]) for k in (0, 1)]
    drawn = sorted(folder.glob("p-*.png"))[-count[0] * count[1] :]
    whole = Image.new("RGB", [int(SCALE * (n * PITCH + 30)) for n in SQUARES], TABLE)
    truth = {}
    for n, picture in enumerate(drawn):
        at = (n % count[0], n // count[0])
        page = Image.open(picture).convert("RGB")
        first, left = zip(*[begins(at[k], *axes[k], PITCH) for k in (0, 1)])
        shift = np.array(first) * PITCH - np.array(left)
        moved, turn = luck.uniform(-MOVED, MOVED, 2), luck.uniform(-MOVED, MOVED) / 300
        middle = np.array(size) / 2
        to = middle + shift + moved + EDGE
        c, s = np.cos(turn), np.sin(turn)
        back = middle - np.array([c * to[0] + s * to[1], c * to[1] - s * to[0]])
        by = (c, s, SCALE * back[0], -s, c, SCALE * back[1])
        kept = Image.new("L", page.size, 0)
        low = [MARGIN + (STRIP if at[k] else 0) for k in (0, 1)]
        ImageDraw.Draw(kept).rectangle([*(SCALE * v for v in low), *(SCALE * (v - MARGIN) for v in size)], fill=255)
        laid = [p.transform(whole.size, Image.AFFINE, by, Image.BICUBIC) for p in (page, kept)]
        whole.paste(laid[0], (0, 0), laid[1])
        truth[at] = (moved, turn, middle + shift)
    return whole, truth


def askew(picture):
    """As a camera sees it that is not held level."""
    w, h = picture.size
    seen = [(260, 160), (w - 200, 60), (w - 60, h - 60), (60, h - 200)]
    rows, right = [], []
    for (x, y), (u, v) in zip(seen, [(0, 0), (w, 0), (w, h), (0, h)]):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        right += [u, v]
    by = np.linalg.solve(np.array(rows, float), np.array(right, float))
    return picture.transform((w, h), Image.PERSPECTIVE, by, Image.BICUBIC, fillcolor=TABLE)


def check(paper, number, faults):
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        made = run(RUBOFF, "sheet", "--out", folder, "--paper", paper, "--number", number)
        faults.unless(made.returncode == 0, made.stderr)
        file = next(folder.glob("*.pdf"))
        size = [v / UNIT for v in PAPERS[paper]]
        if abs(sizes(file)[0][0] - PAPERS[paper][0]) > 0.01:
            size = size[::-1]
        whole, truth = joined(folder, file, size, np.random.default_rng(number))
        ImageDraw.Draw(whole).polygon([tuple(SCALE * (v + EDGE) for v in p) for p in SHAPE], fill=(60, 40, 60))
        askew(whole).filter(ImageFilter.GaussianBlur(0.8)).save(folder / "shot.jpg", quality=93)
        made = run(RUBOFF, "trace", folder / "shot.jpg", "--thickness", "0mm", "--out", folder / "out")
        faults.unless(made.returncode == 0, made.stderr)
        if made.returncode:
            return ""
        record = json.loads((folder / "out/shot/outline.json").read_text())
    jsonschema.validate(record, json.loads((ROOT / "schemas/outline.schema.json").read_text()))
    told = record["sheet"].get("joined")
    faults.unless(told and [p.lower() for p in told["papers"]] == [paper], f"{paper}: told as {told and told['papers']}")
    if not told:
        return ""
    misses = []
    for step in told["steps"]:
        places = [(int(a[1:]) - 1, ord(a[0]) - 65) for a in step["between"]]
        lies = [truth[p][0] + truth[p][1] * np.array([-1, 1]) * (step["at"] - truth[p][2])[::-1] for p in places]
        misses.append(np.hypot(*(lies[1] - lies[0] - step["by_mm"])))
    worst, most = max(misses), np.percentile(misses, 95)
    faults.unless(most <= 0.1, f"{paper}: steps are out by {most:.3f} mm")
    faults.unless("pages-out-of-place" in [d["code"] for d in record["doubts"]], f"{paper}: nobody is told")
    sizes_told = np.hypot(*np.array([s["by_mm"] for s in told["steps"]]).T)
    return f"{told['pages']} pages, {len(misses)} steps up to {sizes_told.max():.2f} mm, 95 % told within {most:.3f} mm, all within {worst:.3f}"


def main():
    os.environ["RUBOFF_PRINTS"] = "no such folder"
    out = 0
    for paper, number in (("a4", 77), ("letter", 78)):
        faults = Faults()
        said = check(paper, number, faults)
        out += len(faults)
        print(f"sheet {number} joined from {paper}: {said}" + "".join(f"\n  WRONG {w}" for w in faults), flush=True)
    if out:
        raise SystemExit(f"joined sheets: {out} things are out")
    print("joined sheets: 2 are told page by page as they were laid")


if __name__ == "__main__":
    main()

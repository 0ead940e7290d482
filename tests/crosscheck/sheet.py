"""Sheets to print judged by other programs.

    python sheet.py RESULTS

RESULTS is not read; the sheets are made here with target/release/ruboff (or $RUBOFF) and read back: PDF by poppler (pdfinfo, pdftocairo, pdftoppm) and
qpdf, SVG by svgpathtools and resvg. Where lines and marks should stand follows from the rules of the layout and from the table of the code, both
worked out here once more. The roll's PDF, drawn by poppler, is then traced: it must say which sheet it is, and where on it things lie. Prints
a line a sheet; exits with 1 when anything is out.
"""

import io
import json
import math
import os
import re
import tempfile
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import resvg_py
from PIL import Image, ImageDraw, ImageFilter
from svgpathtools import parse_path

from pattern import COORDINATE, PAPERS, PICTURE, ROOT, RUBOFF, SVG, UNIT, Faults, check_sound, pdf_paths, run, sizes

os.environ["RUBOFF_PRINTS"] = "no such folder"  # no measured print has a part in it
LINE = 0.4  # mm: how wide lines are ruled
MARGIN, OVERLAP, STRIP, CUT, RADIUS = 10.0, 8.0, 4.0, 0.44, 0.05
DPI = 600
BITS = 743  # states along a line of the code
LINES = 11
PITCHES = [10, 15, 20, 25, 30, 40, 50, 60, 75, 100] + [25.4 * v for v in (0.5, 0.75, 1, 1.5, 2, 4)]


def table():
    """Both patterns of the code as rows of zeros and ones."""
    rows = [r for r in (ROOT / "calibration/sheet-code.txt").read_text().splitlines() if not r.startswith("#")]
    bits = [[int(b) for digit in row for b in f"{int(digit, 16):04b}"][:BITS] for row in rows]
    return bits[:LINES], bits[LINES:]


def marks(number, pitch, squares):
    """Places of all marks of a sheet, in half squares: areas of 100 by 100 nodes of a plane 8173 nodes wide, one for each number and pitch."""
    area = (number - 1) * len(PITCHES) + min(range(len(PITCHES)), key=lambda k: abs(PITCHES[k] - pitch))
    x, y = area % 81 * 100, area // 81 * 100
    across, down = table()
    out = set()
    for j in range(squares[1] + 1):
        for i in range(squares[0] + 1):
            if i < squares[0] and across[(y + j) % LINES][(x + i) % BITS]:
                out.add((2 * i + 1, 2 * j))
            if j < squares[1] and down[(x + i) % LINES][(y + j) % BITS]:
                out.add((2 * i, 2 * j + 1))
    return out


def division(size, pitch):
    """Lines on the first page and on every further one."""
    room = size - 2 * MARGIN - OVERLAP
    return math.floor((room - 14 - RADIUS * pitch) / pitch + 1 - CUT + 1e-9), math.floor((room - STRIP) / pitch + 1e-9)


def pages(total, first, step):
    return 1 if total <= first else 1 + math.ceil((total - first) / step)


def begins(page, first, step, pitch):
    """The first line of a page, and where it stands from the paper's edge, mm."""
    if page == 0:
        return 0, MARGIN + 14 + RADIUS * pitch
    return first + (page - 1) * step, MARGIN + STRIP + (1 - CUT) * pitch


def discs(file, page):
    """Middles and widths of filled round things of a page, mm."""
    with tempfile.TemporaryDirectory() as folder:
        svg = Path(folder) / "page.svg"
        run("pdftocairo", "-svg", "-noshrink", "-nocenter", "-f", page, "-l", page, file, svg)
        root = ET.parse(svg).getroot()
    out = []
    for el in root.iter(SVG + "path"):
        style = dict(part.strip().split(":", 1) for part in (el.get("style") or "").split(";") if ":" in part)
        # Letters have no colour of their own where they are defined.
        if "rgb" not in el.get("fill", style.get("fill", "none")) or "C" not in el.get("d", ""):
            continue
        m = re.fullmatch(r"matrix\(([^)]*)\)", el.get("transform", ""))
        a, b, c, d, e, f = [float(v) for v in m[1].split(",")] if m else (1, 0, 0, 1, 0, 0)
        subs = [parse_path("M" + s) for s in el.get("d").split("M") if s.strip()]
        for s in (s for s in subs if len(s)):
            p = np.array([[q.real, q.imag] for seg in s for q in (seg.start, seg.end)])
            p = np.column_stack([a * p[:, 0] + c * p[:, 1] + e, b * p[:, 0] + d * p[:, 1] + f]) / UNIT
            low, high = p.min(axis=0), p.max(axis=0)
            out.append(((low + high) / 2, high - low))
    return out


def ruled(strokes):
    """Places of ruled lines, those that run down and those that run across, mm."""
    lines = [s for s, width in strokes if len(s) == 2 and abs(width - LINE * UNIT) < 0.01]
    return sorted(s[0][0] for s in lines if abs(s[0][0] - s[1][0]) < 1e-3), sorted(s[0][1] for s in lines if abs(s[0][1] - s[1][1]) < 1e-3)


def tiles(file, paper, number, pitch, squares, faults):
    """Every page's lines and marks against where they should be; the way the paper lies."""
    boxes = sizes(file)
    want = PAPERS[paper]
    turned = abs(boxes[0][0] - want[0]) > 0.006
    want = want[::-1] if turned else want
    faults.unless(all(max(abs(b[0] - want[0]), abs(b[1] - want[1])) < 0.006 for b in boxes), f"{file.name}: pages of {boxes[0]}, {paper} is {want}")
    axes = [division(w / UNIT, pitch) for w in want]
    count = [pages(squares[k] + 1, *axes[k]) for k in (0, 1)]
    other = [pages(squares[k] + 1, *division(want[1 - k] / UNIT, pitch)) for k in (0, 1)]
    faults.unless(count[0] * count[1] <= other[0] * other[1], f"{file.name}: {count} pages where {other} would do")
    front = len(boxes) - count[0] * count[1]
    faults.unless(front >= 2, f"{file.name}: {len(boxes)} pages for {count}")
    wanted, seen, worst = marks(number, pitch, squares), set(), 0.0
    for n in range(count[0] * count[1]):
        at = [n % count[0], n // count[0]]
        page = front + n + 1
        first, left = zip(*[begins(at[k], *axes[k], pitch) for k in (0, 1)])
        for k, found in enumerate(ruled(pdf_paths(file, page))):
            # Lines of the page, and those that the strip under the next page repeats.
            last = min(first[k] + axes[k][0 if at[k] == 0 else 1], squares[k] + 1)
            faults.unless(len(found) >= last - first[k], f"{file.name}: page {page} has {len(found)} lines, not {last - first[k]}")
            off = max((abs(v - left[k] - m * pitch) for m, v in enumerate(found)), default=9.0)
            worst = max(worst, off)
        for middle, size in discs(file, page):
            place = [2 * (first[k] + (middle[k] - left[k]) / pitch) for k in (0, 1)]
            node = tuple(round(v) for v in place)
            worst = max(worst, max(abs(place[k] - node[k]) * pitch / 2 for k in (0, 1)), np.abs(size - 2 * RADIUS * pitch).max())
            cuts = [(first[k] - 1 + CUT if at[k] else -1, first[k] + axes[k][0 if at[k] == 0 else 1] - 1 + CUT) for k in (0, 1)]
            if all(cuts[k][0] < node[k] / 2 and (node[k] / 2 < cuts[k][1] or at[k] + 1 == count[k]) for k in (0, 1)):
                faults.unless(node not in seen, f"{file.name}: the mark at {node} is on two pages")
                seen.add(node)
    faults.unless(seen == wanted, f"{file.name}: {len(seen ^ wanted)} marks are not those of the code")
    faults.unless(worst <= COORDINATE, f"{file.name}: coordinates are out by {worst:.4f} mm")
    return front, count, axes, worst


def picture(file, page, first_at, faults, pitch):
    """A page at 600 dpi, in grey as a black-and-white printer has it: middles of lines in mm off, and light of margin, tint, line and mark."""
    with tempfile.TemporaryDirectory() as folder:
        run("pdftoppm", "-r", DPI, "-f", page, "-l", page, "-gray", file, Path(folder) / "p")
        light = np.asarray(Image.open(next(Path(folder).glob("*.pgm"))), dtype=float)
    scale = DPI / 25.4
    offs, depth = [], []
    high, wide = light.shape
    for axis in (0, 1):
        size = (wide, high)[axis]
        for k in range(12):
            middle = (first_at[axis] + k * pitch) * scale
            # Half-way between a node and a mark.
            across = (first_at[1 - axis] + 1.25 * pitch) * scale
            if middle + 40 > size - MARGIN * scale:
                break
            low, high_ = int(middle) - 30, int(middle) + 30
            a, b = int(across) - 20, int(across) + 20
            profile = light[a:b, low:high_].mean(axis=0) if axis == 0 else light[low:high_, a:b].mean(axis=1)
            if profile.min() > 0.9 * profile.max():
                break  # the page ends here
            ink = np.clip((profile.max() - profile) / (profile.max() - profile.min()), 0, 1)
            offs.append(((low + 0.5 + np.arange(len(ink))) @ ink / ink.sum() - middle) / scale)
            depth.append((profile.max(), profile.min()))
    worst = float(np.abs(offs).max())
    faults.unless(worst <= PICTURE and len(offs) >= 10, f"{file.name}: a line is drawn {worst:.3f} mm off, {len(offs)} measured")
    ground, ink = (float(np.median(v)) for v in zip(*depth))
    faults.unless(190 < ground < 225, f"{file.name}: the ground prints as {ground:.0f} of 255: no contrast to white cloth, or too dark")
    faults.unless(ink < 0.45 * ground, f"{file.name}: lines print as {ink:.0f} on {ground:.0f}")
    m = int(MARGIN * scale) - 1
    bare = min(light[:m].min(), light[-m:].min(), light[:, :m].min(), light[:, -m:].min())
    faults.unless(bare == 255, f"{file.name}: something is drawn outside of the margins")
    return worst, ground, ink


def whole_roll(file, number, pitch, squares, faults):
    boxes = sizes(file)
    faults.unless(len(boxes) == 1 and abs(boxes[0][0] - 36 * 72) < 0.006 and boxes[0][1] <= 14400, f"{file.name}: pages of {boxes} pt")
    strokes = pdf_paths(file, 1)
    worst = 0.0
    for k, found in enumerate(ruled(strokes)):
        faults.unless(len(found) == squares[k] + 1, f"{file.name}: {len(found)} lines for {squares[k]} squares")
        worst = max(worst, max(abs(v - found[0] - m * pitch) for m, v in enumerate(found)))
    corner = [f[0] for f in ruled(strokes)]
    seen = set()
    for middle, _ in discs(file, 1):
        place = [2 * (middle[k] - corner[k]) / pitch for k in (0, 1)]
        seen.add(tuple(round(v) for v in place))
        worst = max(worst, max(abs(v - round(v)) * pitch / 2 for v in place))
    faults.unless(seen == marks(number, pitch, squares), f"{file.name}: the marks are not those of the code")
    for side in (100.0, 101.6):
        faults.unless(any(np.abs(np.ptp(s, axis=0) - side).max() < COORDINATE for s, _ in strokes if len(s) == 5), f"{file.name}: no square of {side} mm")
    faults.unless(worst <= COORDINATE, f"{file.name}: coordinates are out by {worst:.4f} mm")
    return worst


def drawing(file, number, pitch, squares, faults):
    """The SVG's numbers, and what resvg draws of it: the light of the tint, ink where the code has a mark and none where it has not."""
    text = file.read_text()
    root = ET.fromstring(text)
    group = {g.get("id"): g for g in root.iter(SVG + "g") if g.get("id")}
    lines = [parse_path(p.get("d")) for p in group["lines"].iter(SVG + "path")]
    x = sorted(p[0].start.real for p in lines if abs(p[0].start.real - p[0].end.real) < 1e-6)
    y = sorted(p[0].start.imag for p in lines if abs(p[0].start.imag - p[0].end.imag) < 1e-6)
    faults.unless((len(x), len(y)) == (squares[0] + 1, squares[1] + 1), f"{file.name}: {len(x)} by {len(y)} lines")
    worst = max(abs(v - a[0] - k * pitch) for a in (x, y) for k, v in enumerate(a))
    faults.unless(worst <= 0.001, f"{file.name}: coordinates are out by {worst:.5f} mm")
    png = bytes(resvg_py.svg_to_bytes(svg_string=text, dpi=101.6, background="white", skip_system_fonts=True))
    light = np.asarray(Image.open(io.BytesIO(png)).convert("L"), dtype=float)
    wanted = marks(number, pitch, squares)
    wrong = 0
    for j in range(2 * squares[1] + 1):
        for i in range(2 * squares[0] + 1):
            if (i + j) % 2 == 0:
                continue
            # A millimetre beside the line, within a mark's radius.
            off = (0.0, 0.8) if j % 2 == 0 else (0.8, 0.0)
            at = [int(4 * (x[0] + i * pitch / 2 + off[0])), int(4 * (y[0] + j * pitch / 2 + off[1]))]
            wrong += (light[at[1], at[0]] < 140) != ((i, j) in wanted)
    faults.unless(wrong == 0, f"{file.name}: {wrong} sides are drawn with the other state")
    return worst


def read_back(file, number, faults):
    """The roll as poppler draws it, 4 pixels to the mm, in colours and without, a dark and a white shape with it: which sheet it is, and where the shape lies, in the
    sheet's own millimetres from its first lines."""
    shape = np.array([(180.0, 240.0), (480.0, 255.0), (530.0, 490.0), (492.0, 741.0), (331.0, 771.0), (162.0, 729.0)])
    corner = np.array([f[0] for f in ruled(pdf_paths(file, 1))])
    scale, cut = 4.0, np.array([60.0, 130.0])
    words = []
    with tempfile.TemporaryDirectory() as folder:
        run("pdftoppm", "-r", scale * 25.4, "-png", file, Path(folder) / "r")
        sheet = Image.open(next(Path(folder).glob("r*.png"))).convert("RGB")
        for name, colour, grey in (("dark", (60, 40, 60), False), ("white, in grey", (246, 245, 241), True)):
            drawn = (sheet.convert("L") if grey else sheet).convert("RGB")
            mask = Image.new("L", [2 * v for v in sheet.size])
            ImageDraw.Draw(mask).polygon([tuple(2 * scale * (p + corner)) for p in shape], fill=255)
            drawn.paste(Image.new("RGB", sheet.size, colour), (0, 0), mask.resize(sheet.size, Image.LANCZOS))
            drawn = drawn.filter(ImageFilter.GaussianBlur(0.9)).crop((*(scale * cut).astype(int), 3200, 3800))
            noisy = np.asarray(drawn, dtype=float) * 0.92 + np.random.default_rng(1).normal(0, 2, (drawn.size[1], drawn.size[0], 1))
            picture = Path(folder) / "shot.jpg"
            Image.fromarray(noisy.clip(0, 255).astype(np.uint8)).save(picture, quality=92)
            made = run(RUBOFF, "trace", picture, "--thickness", "0mm", "--out", Path(folder) / name)
            faults.unless(made.returncode == 0, f"{name}: {made.stderr}")
            if made.returncode:
                continue
            record = json.loads((Path(folder) / name / "shot/outline.json").read_text())
            told = (record["sheet"]["kind"], record["sheet"].get("number"), len(record["pieces"]), record["sheet"].get("joined"))
            faults.unless(told == ("coded", number, 1, None), f"{name}: told as {told}")
            corners = np.array([c["at"] for c in record["pieces"][0]["corners"]])
            off = max(np.hypot(*(corners - p).T).min() for p in shape)
            faults.unless(off <= 0.6, f"{name}: a corner lies {off:.2f} mm from where it is on the sheet")
            words.append(f"{name} {off:.2f}")
    return "corners within mm of their place on the sheet: " + ", ".join(words)


def main():
    out = 0
    with tempfile.TemporaryDirectory() as scratch:
        for paper, number, pitch, size in [
            ("a4", 1, "25mm", None),
            ("letter", 2, "1in", "20x26in"),
            ("a3", 400, "50mm", "900x1200mm"),
            ("tabloid", 37, "1/2in", "24x30in"),
            ("letter", 5, "10mm", "400x300mm"),
        ]:
            faults = Faults()
            step = {"25mm": 25.0, "1in": 25.4, "50mm": 50.0, "1/2in": 12.7, "10mm": 10.0}[pitch]
            squares = {"a4": (36, 48), "a3": (18, 24), "tabloid": (48, 60)}.get(paper, (20, 26) if pitch == "1in" else (40, 30))
            folder = Path(scratch) / f"{paper}-{number}"
            words = ["--size", size] if size else []
            made = run(RUBOFF, "sheet", "--out", folder, "--paper", paper, "--number", number, "--pitch", pitch, *words)
            faults.unless(made.returncode == 0, made.stderr)
            said = ""
            if not faults:
                file = next(folder.glob("*.pdf"))
                check_sound(file, faults)
                front, count, axes, worst = tiles(file, paper, number, step, squares, faults)
                middle = [c // 2 for c in count]
                page = front + middle[1] * count[0] + middle[0] + 1
                at = [begins(middle[k], *axes[k], step)[1] for k in (0, 1)]
                drawn, ground, ink = picture(file, page, at, faults, step)
                said = f"{count[0]} x {count[1]} pages, coordinates {worst:.4f} mm, at 600 dpi {drawn:.3f} mm, grey of ground {ground:.0f} and line {ink:.0f}"
            out += len(faults)
            print(f"sheet {number} of {pitch} on {paper}: {said}" + "".join(f"\n  WRONG {w}" for w in faults), flush=True)
        faults = Faults()
        folder = Path(scratch) / "whole"
        made = run(RUBOFF, "sheet", "--out", folder, "--roll", "36in", "--svg", "--size", "875x1200mm", "--number", 9)
        faults.unless(made.returncode == 0, made.stderr)
        said = ""
        if not faults:
            check_sound(folder / "sheet-9-25mm-roll.pdf", faults)
            roll = whole_roll(folder / "sheet-9-25mm-roll.pdf", 9, 25.0, (35, 48), faults)
            svg = drawing(folder / "sheet-9-25mm.svg", 9, 25.0, (35, 48), faults)
            said = f"PDF {roll:.4f}, SVG {svg:.5f} mm, every side in the state of the code; {read_back(folder / 'sheet-9-25mm-roll.pdf', 9, faults)}"
        out += len(faults)
        print(f"sheet 9 on a roll: {said}" + "".join(f"\n  WRONG {w}" for w in faults), flush=True)
    if out:
        raise SystemExit(f"sheets: {out} things are out")
    print("sheets: 6 agree with poppler, qpdf, svgpathtools and resvg")


if __name__ == "__main__":
    main()

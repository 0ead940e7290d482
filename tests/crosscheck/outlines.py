"""Results judged by other programs.

    python outlines.py RESULTS

RESULTS holds result folders (outline.json and an SVG beside it). Each SVG is drawn by resvg, and on that drawing a
100 mm square and every outline are measured in pixels; areas and lengths in outline.json are worked out again with
shapely and svgpathtools. Prints a line a result; exits with 1 when anything is out.
"""

import io
import json
import re
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import resvg_py
from PIL import Image
from shapely.geometry import LinearRing, Polygon
from svgpathtools import parse_path

SVG = "{http://www.w3.org/2000/svg}"
DPI = 254.0  # 10 pixels to the mm, when the file says mm: CSS Values and Units 3 has 1 in = 2.54 cm
PX_PER_MM = DPI / 25.4
SQUARE_MM = 0.01  # what a 100 mm square may be out by
LENGTH_MM = 0.01  # what a written length may be out by, and the same share of a metre
STEPS = 400  # straight bits a curve is cut into


class Faults(list):
    """What was out, in words."""

    def unless(self, good, words):
        if not good:
            self.append(words)


def draw(svg_text):
    """Darkness of the drawing, 0 to 1, rows by columns."""
    png = bytes(resvg_py.svg_to_bytes(svg_string=svg_text, dpi=DPI, background="white", skip_system_fonts=True))
    return 1.0 - np.asarray(Image.open(io.BytesIO(png)).convert("L"), dtype=float) / 255.0


def only(svg_text, ident, paint=None):
    """The same file with a single element left in it, painted as wanted."""
    root = ET.fromstring(svg_text)

    def prune(parent):
        kept = False
        for child in list(parent):
            if child.get("id") == ident:
                if paint:
                    for name, value in paint.items():
                        child.set(name, value)
                kept = True
            elif prune(child):
                kept = True
            else:
                parent.remove(child)
        return kept

    if not prune(root):
        raise SystemExit(f"the SVG has no element called {ident}")
    ET.register_namespace("", SVG.strip("{}"))
    return ET.tostring(root, encoding="unicode")


def between_lines(profile):
    """Distance in pixels between the middles of the two lines across a profile of darkness."""
    seen = np.nonzero(profile)[0]
    middle, index = (seen[0] + seen[-1]) / 2.0, np.arange(len(profile))
    lines = np.clip(profile - np.median(profile[profile > 0]), 0.0, None)
    sides = [lines * (index < middle), lines * (index > middle)]
    return (sides[1] @ index) / sides[1].sum() - (sides[0] @ index) / sides[0].sum()


def square_mm(svg_text):
    """Sides of the check square across and down, mm, as drawn."""
    dark = draw(only(svg_text, "check-square"))
    return between_lines(dark.sum(0)) / PX_PER_MM, between_lines(dark.sum(1)) / PX_PER_MM


def points(path_data):
    """A path as points, curves cut finely."""
    out = []
    for segment in parse_path(path_data):
        steps = 1 if type(segment).__name__ == "Line" else STEPS
        out.extend(segment.point(k / steps) for k in range(steps))
    last = parse_path(path_data)[-1].end
    out.append(last)
    return np.array([[p.real, p.imag] for p in out])


def near(a, b):
    return abs(a - b) <= LENGTH_MM * max(1.0, abs(b) / 1000.0)


def signed_area(ring):
    x, y = ring[:, 0], ring[:, 1]
    return 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def check_piece(piece, svg_text, ident, faults):
    name = piece["name"]
    ring = points(piece["outline"])
    holes = [points(h) for h in piece["holes"]]
    body = Polygon(ring, holes)
    faults.unless(body.is_valid, f"{name}: the outline crosses itself")
    # x right, y down: clockwise as seen has a positive area.
    faults.unless(signed_area(ring) > 0, f"{name}: the outline does not run clockwise")
    for hole in holes:
        faults.unless(signed_area(hole) < 0, f"{name}: a hole does not run the other way")
    cut = any(e["line"] == "cut" for e in piece["edges"])
    if cut:
        faults.unless(piece["area_mm2"] is None and piece["perimeter_mm"] is None, f"{name}: cut off, but an area is claimed")
    else:
        faults.unless(abs(body.area / piece["area_mm2"] - 1) < 2e-5, f"{name}: area {piece['area_mm2']} but {body.area:.2f}")
        around = LinearRing(ring).length
        faults.unless(near(around, piece["perimeter_mm"]), f"{name}: perimeter {piece['perimeter_mm']} but {around:.3f}")
    check_edges(piece, faults)
    drawn = draw(only(svg_text, ident, {"fill": "black", "stroke": "none"})).sum() / PX_PER_MM**2
    solid = Polygon(ring).area
    faults.unless(abs(drawn / solid - 1) < 5e-4, f"{name}: drawn area {drawn:.1f} but {solid:.1f}")
    return body.area


def check_edges(piece, faults):
    total = 0.0
    for edge in piece["edges"] + piece["inner"]:
        path = parse_path(edge["path"])
        length = path.length(error=1e-7)
        faults.unless(near(length, edge["length_mm"]), f"{edge['name']}: length {edge['length_mm']} but {length:.4f}")
    for edge in piece["edges"]:
        total += edge["length_mm"]
        path = parse_path(edge["path"])
        for end, at in (("from", path[0].start), ("to", path[-1].end)):
            if edge.get(end) is not None:
                corner = piece["corners"][edge[end]]["at"]
                faults.unless(abs(complex(*corner) - at) < 0.001, f"{edge['name']}: does not meet its corner ({end})")
    around = parse_path(piece["outline"]).length(error=1e-7)
    faults.unless(near(total, around), f"{piece['name']}: edges are {total:.3f} long together, the outline {around:.3f}")


def check_size(svg_text, faults):
    """SVG 2, chapter 8: width and height in mm and a viewBox of the same numbers make one unit one mm."""
    root = ET.fromstring(svg_text)
    sizes = [re.fullmatch(r"([\d.]+)mm", root.get(k, "")) for k in ("width", "height")]
    faults.unless(all(sizes), "the SVG's width and height are not in mm")
    box = [float(v) for v in root.get("viewBox", "0 0 0 0").split()]
    if all(sizes):
        faults.unless([float(s[1]) for s in sizes] == box[2:], "the SVG's viewBox is not in mm")


def check(folder):
    faults = Faults()
    record = json.loads((folder / "outline.json").read_text())
    drawings = sorted(folder.glob("*.svg"))
    if not drawings:
        return ["there is no SVG"], ""
    svg_text = drawings[0].read_text()
    check_size(svg_text, faults)
    across, down = square_mm(svg_text)
    for side in (across, down):
        faults.unless(abs(side - 100.0) <= SQUARE_MM, f"the 100 mm square is drawn {side:.4f} mm")
    # The check itself can fail: without units the same numbers are pixels, and the square is far from 100 mm.
    without = re.sub(r'(width|height)="([\d.]+)mm"', r'\1="\2"', svg_text, count=2)
    faults.unless(abs(square_mm(without)[0] - 100.0) > 10.0, "a file without units passes for one in mm")
    faults.unless(record["format"] == "ruboff-outline" and record["units"] == "mm", "outline.json is of another format")
    areas = [check_piece(p, svg_text, f"piece-{k + 1}-outer-edge", faults) for k, p in enumerate(record["pieces"])]
    faults.unless(areas, "there is no piece")
    cm2 = ", ".join(f"{a / 100:.1f}" for a in areas)
    return faults, f"square {across:.4f} x {down:.4f} mm, {len(areas)} piece(s) of {cm2} cm2"


def main():
    folders = sorted(p.parent for p in Path(sys.argv[1]).rglob("outline.json"))
    if not folders:
        raise SystemExit("no results to check: " + sys.argv[1])
    out = 0
    for folder in folders:
        faults, words = check(folder)
        out += len(faults)
        print(f"{folder.name}: {words}" + "".join(f"\n  WRONG {f}" for f in faults))
    if out:
        raise SystemExit(f"outlines: {out} things are out")
    print(f"outlines: {len(folders)} results agree with resvg, shapely and svgpathtools")


if __name__ == "__main__":
    main()

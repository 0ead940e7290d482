"""Patterns judged by other programs.

    python pattern.py RESULTS

RESULTS holds folders with a garment.json or an outline.json. From each, from a drawn letter F, and from the demo's bodice traced again with notes that ask
for allowances, pleats, darts and a facing, patterns are made with target/release/ruboff (or $RUBOFF) and read back: PDF by poppler (pdfinfo, pdftocairo, pdftoppm, pdftotext) and qpdf, SVG by svgpathtools, resvg and cairosvg, DXF by
ezdxf. Prints a line a pattern; exits with 1 when anything is out.
"""

import io
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ET
from pathlib import Path

import cairosvg
import ezdxf
import numpy as np
import resvg_py
from PIL import Image
from shapely.geometry import LineString, Point, Polygon
from svgpathtools import parse_path

Image.MAX_IMAGE_PIXELS = None  # pages at 600 dpi
ROOT = Path(__file__).resolve().parents[2]
RUBOFF = os.environ.get("RUBOFF", str(ROOT / "target/release/ruboff"))
SVG = "{http://www.w3.org/2000/svg}"
UNIT = 72 / 25.4  # PDF: 1/72 in (ISO 32000-1, 8.3.2.3)
CUT_WIDTH = 0.5 * UNIT  # how wide cut lines are drawn
STITCH_WIDTH = 0.25 * UNIT  # and lines that are sewn along
COORDINATE = 0.01  # mm: coordinates through pdftocairo
PICTURE = 0.05  # mm: lines in pictures at 600 dpi
DXF_GRID = 0.006  # mm: two decimals of mm, four of an inch (R-PAT-8)
DXF_CURVE = 0.02  # mm: what chords may leave of a curve
DPI = 600
# ISO 216 in mm, ANSI/ASME Y14.1 in inches.
PAPERS = {"a4": (210 * UNIT, 297 * UNIT), "letter": (8.5 * 72, 11 * 72), "a3": (297 * UNIT, 420 * UNIT), "tabloid": (11 * 72, 17 * 72)}
MARGIN, OVERLAP = 10.0, 10.0
F_SHAPE = [(0, 0), (160, 0), (160, 40), (60, 40), (60, 90), (120, 90), (120, 130), (60, 130), (60, 240), (0, 240)]


class Faults(list):
    def unless(self, good, words):
        if not good:
            self.append(words)


def run(*words):
    return subprocess.run([str(w) for w in words], capture_output=True, text=True, check=False)


def points(path_data, steps=200):
    """A path as points, curves cut finely."""
    path = parse_path(path_data)
    out = []
    for segment in path:
        n = 1 if type(segment).__name__ == "Line" else steps
        out.extend(segment.point(k / n) for k in range(n))
    out.append(path[-1].end)
    return np.array([[p.real, p.imag] for p in out])


def controls(path_data):
    """All points that a path is written with, in order."""
    out = []
    path = parse_path(path_data)
    out.append(path[0].start)
    for s in path:
        out.extend([s.end] if type(s).__name__ == "Line" else [s.control1, s.control2, s.end])
    return np.array([[p.real, p.imag] for p in out])


def reference(record):
    """Lines of each piece as they should be drawn, by piece: the outermost one, and its edges as cut, or as sewn where an allowance lies outside of them."""
    layers = [(p["name"], p["as_drafted"] if "as_drafted" in p else p) for p in record["pieces"] + record.get("derived", [])]
    out = {}
    for name, layer in layers:
        cut = layer.get("cut_line")
        out[name] = {"outline": layer["outline"], "edges": [e["path"] for e in layer["edges"]], "width": CUT_WIDTH, "group": "cut"}
        if cut:
            sewn = [e["path"] for e, c in zip(layer["edges"], cut["edges"]) if c["width_mm"] > 0]
            out[name] = {"outline": cut["outline"], "edges": sewn, "width": STITCH_WIDTH, "group": "stitch"}
    for name, piece in out.items():
        # A facing has edges of its piece: on a single page nothing tells which of the two they are.
        others = [controls(e) for n, p in out.items() if n != name for e in p["edges"]]
        piece["own"] = [e for e in piece["edges"] if all((f := fit(o, controls(e))) is None or f[0] > 0.1 for o in others)]
    return out


def pdf_paths(file, page):
    """Strokes of a page as other programs read them: control points in mm, y down, and their width in points."""
    with tempfile.TemporaryDirectory() as folder:
        svg = Path(folder) / "page.svg"
        # Left to itself pdftocairo takes sizes of pages up to whole points and then shrinks the page by as much: 595.28/596 of an A4.
        run("pdftocairo", "-svg", "-noshrink", "-nocenter", "-f", page, "-l", page, file, svg)
        root = ET.parse(svg).getroot()
    out = []
    for el in root.iter(SVG + "path"):
        style = dict(part.split(":", 1) for part in (el.get("style") or "").split(";") if ":" in part)
        if el.get("stroke", style.get("stroke", "none")) == "none":
            continue
        m = re.fullmatch(r"matrix\(([^)]*)\)", el.get("transform", ""))
        a, b, c, d, e, f = [float(v) for v in m[1].split(",")] if m else (1, 0, 0, 1, 0, 0)
        try:
            p = controls(el.get("d"))
        except (IndexError, ValueError):
            continue
        width = float(el.get("stroke-width", style.get("stroke-width", "1"))) * abs(a * d - b * c) ** 0.5
        out.append((np.column_stack([a * p[:, 0] + c * p[:, 1] + e, b * p[:, 0] + d * p[:, 1] + f]) / UNIT, width))
    return out


def fit(found, wanted):
    """Worst distance of a found path from the wanted one when both start together, and where it starts; None for another path."""
    if len(found) != len(wanted):
        return None
    shift = (found - wanted).mean(axis=0)
    return float(np.abs(found - wanted - shift).max()), shift


def laid(strokes, piece):
    """Where a piece lies among strokes: for each edge that is there its worst deviation, its shift, and the stroke. Edges alike in shape are told apart
    by the shift that most agree on."""
    fits = []
    for edge in piece["edges"]:
        wanted = controls(edge)
        own = [f + (s,) for f, s in ((fit(s, wanted), s) for s, width in strokes if abs(width - piece.get("width", CUT_WIDTH)) < 0.02) if f and f[0] < 0.1]
        if own:
            fits.append(own)
    shifts = [f[1] for own in fits for f in own]
    if not shifts:
        return []
    def cost(shift):
        return sum(min(min(np.hypot(*(f[1] - shift)), 5.0) for f in own) for own in fits)
    best = min(shifts, key=cost)
    return [min(own, key=lambda f: np.hypot(*(f[1] - best))) for own in fits]


def sizes(file):
    text = run("pdfinfo", "-f", 1, "-l", 9999, "-box", file).stdout
    return [tuple(float(v) for v in m) for m in re.findall(r"MediaBox:\s+0\.00\s+0\.00\s+([\d.]+)\s+([\d.]+)", text)]


def check_sound(file, faults):
    told = run("qpdf", "--check", file)
    faults.unless(told.returncode == 0 and "WARNING" not in told.stdout + told.stderr, f"{file.name}: qpdf: {told.stdout} {told.stderr}")
    fonts = run("pdffonts", file).stdout.splitlines()[2:]
    faults.unless(fonts and all(line.split()[-5] == "yes" for line in fonts), f"{file.name}: a font is not embedded: {fonts}")


def addresses(file, count):
    """Row and column of each page that has them."""
    out = {}
    for page in range(1, count + 1):
        m = re.search(r"row ([A-Z]+), column (\d+)", run("pdftotext", "-f", page, "-l", page, file, "-").stdout)
        if m:
            row = 0
            for letter in m[1]:
                row = row * 26 + ord(letter) - 64
            out[(row - 1, int(m[2]) - 1)] = page
    return out


def tiles(file, paper, way, wanted, faults):
    """Coordinates of every page against the record; the shift of each piece on the joined sheet."""
    boxes = sizes(file)
    want = PAPERS[paper] if way == "portrait" else PAPERS[paper][::-1]
    for box in boxes:
        faults.unless(max(abs(box[0] - want[0]), abs(box[1] - want[1])) < 0.006, f"{file.name}: a page is {box} pt, {paper} is {want}")
    step = [w / UNIT - 2 * MARGIN - OVERLAP for w in want]
    where = addresses(file, len(boxes))
    faults.unless(len(where) >= len(boxes) - 6 and where, f"{file.name}: only {len(where)} of {len(boxes)} pages have an address")
    shifts, worst = {}, 0.0
    for (row, column), page in where.items():
        strokes = pdf_paths(file, page)
        corner = np.array([column * step[0] - MARGIN, row * step[1] - MARGIN])
        for name, piece in wanted.items():
            for off, shift, _ in laid(strokes, {**piece, "edges": piece["own"]}):
                worst = max(worst, off)
                shifts.setdefault(name, []).append(shift + corner)
    for name in wanted:
        at = np.array(shifts.get(name, []))
        faults.unless(len(at), f"{file.name}: {name} is on no page")
        if len(at):
            spread = float(np.ptp(at, axis=0).max())
            worst = max(worst, spread / 2)
            faults.unless(spread < 2 * COORDINATE, f"{file.name}: pages put {name} {spread:.4f} mm apart")
    faults.unless(worst <= COORDINATE, f"{file.name}: coordinates are out by {worst:.4f} mm")
    return where, step, {n: np.mean(s, axis=0) for n, s in shifts.items()}, worst


def joined(file, where, step):
    """All pages at 600 dpi, cut at their left and top where another page lies there, laid over one another."""
    scale = DPI / 25.4
    rows, columns = max(r for r, _ in where) + 1, max(c for _, c in where) + 1
    shown = [s + OVERLAP for s in step]
    high, wide = round(((rows - 1) * step[1] + shown[1]) * scale), round(((columns - 1) * step[0] + shown[0]) * scale)
    sheet = np.full((high + 2, wide + 2), 255, np.uint8)
    laid = []
    for (row, column), page in sorted(where.items()):
        with tempfile.TemporaryDirectory() as folder:
            run("pdftoppm", "-r", DPI, "-f", page, "-l", page, "-gray", file, Path(folder) / "p")
            picture = np.asarray(Image.open(next(Path(folder).glob("*.pgm"))))
        m = round(MARGIN * scale)
        # Pages begin on fractions of a pixel: each is laid to the nearest one, and the rest is told.
        x, y = column * step[0] * scale, row * step[1] * scale
        part = picture[m : m + int(shown[1] * scale), m : m + int(shown[0] * scale)]
        sheet[round(y) : round(y) + part.shape[0], round(x) : round(x) + part.shape[1]] = part
        laid.append((column, row, round(x) - x + MARGIN * scale - m, round(y) - y + MARGIN * scale - m))
    return sheet, {(r, c): (dx, dy) for c, r, dx, dy in laid}


def pictures(file, where, step, wanted, shifts, faults):
    """How far the middle of the drawn lines lies from the record, over the joined sheet and near joins. A pixel is 0.042 mm."""
    sheet, rest = joined(file, where, step)
    scale = DPI / 25.4
    offs, near = [], []
    reach = int(1.5 * scale)
    for name, piece in wanted.items():
        line = LineString(points(piece["outline"]) + shifts[name])
        for s in np.arange(3.0, line.length - 3.0, 2.0):
            p, q = line.interpolate(s), line.interpolate(s + 0.05)
            d = np.array([q.x - p.x, q.y - p.y])
            d /= np.hypot(*d)
            bend = line.interpolate(s - 2.0), line.interpolate(s + 2.0)
            if any(abs(d[0] * (b.y - p.y) - d[1] * (b.x - p.x)) > 0.12 for b in bend):
                continue  # at corners there is no middle of one line
            page = (min(int(p.y / step[1]), max(r for r, _ in rest)), min(int(p.x / step[0]), max(c for _, c in rest)))
            if page not in rest:
                continue
            at = np.array([p.x, p.y]) * scale + rest[page] - 0.5
            k = np.arange(-reach, reach + 0.5, 0.5)[:, None]
            xy = at + k * np.array([-d[1], d[0]])
            ij = np.floor(xy).astype(int)
            if ij.min() < 0 or ij[:, 0].max() + 1 >= sheet.shape[1] or ij[:, 1].max() + 1 >= sheet.shape[0]:
                continue
            f = xy - ij
            v = 1 - (
                sheet[ij[:, 1], ij[:, 0]] * (1 - f[:, 0]) * (1 - f[:, 1])
                + sheet[ij[:, 1], ij[:, 0] + 1] * f[:, 0] * (1 - f[:, 1])
                + sheet[ij[:, 1] + 1, ij[:, 0]] * (1 - f[:, 0]) * f[:, 1]
                + sheet[ij[:, 1] + 1, ij[:, 0] + 1] * f[:, 0] * f[:, 1]
            ) / 255
            ink = np.nonzero(v > 0.5)[0]
            if len(ink) < 3 or ink[-1] - ink[0] != len(ink) - 1 or ink[0] == 0 or ink[-1] == len(v) - 1:
                continue
            first, last = ink[0], ink[-1]
            low = k[first, 0] - 0.5 * (v[first] - 0.5) / (v[first] - v[first - 1])
            high = k[last, 0] + 0.5 * (v[last] - 0.5) / (v[last] - v[last + 1])
            bare = np.concatenate([v[: max(first - 3, 0)], v[last + 4 :]])
            if abs((high - low) / scale - 0.5) > 0.03 or bare.max() > 0.02:
                continue  # another line, a letter or a mark is near
            off = float((low + high) / 2 / scale)
            offs.append(off)
            joins = [abs(p.x / step[0] - round(p.x / step[0])) * step[0], abs(p.y / step[1] - round(p.y / step[1])) * step[1]]
            if min(joins) < 12:
                near.append(off)
    faults.unless(len(offs) > 50, f"{file.name}: hardly any of its lines could be measured in pictures")
    worst = float(np.abs(offs).max()) if offs else float("inf")
    faults.unless(worst <= PICTURE, f"{file.name}: a line is drawn {worst:.3f} mm off")
    return worst, float(np.abs(near).max()) if near else 0.0, len(offs)


def roll(file, wanted, faults):
    boxes = sizes(file)
    strokes = [s for page in range(1, len(boxes) + 1) for s in pdf_paths(file, page)]
    faults.unless(all(abs(b[0] - 36 * 72) < 0.006 and b[1] <= 14400 for b in boxes), f"{file.name}: pages of {boxes} pt")
    worst = 0.0
    for name, piece in wanted.items():
        found = laid(strokes, piece)
        faults.unless(len(found) == len(piece["edges"]), f"{file.name}: {len(found)} of {len(piece['edges'])} edges of {name} are there")
        worst = max([worst] + [f[0] for f in found])
        faults.unless(not found or np.ptp([f[1] for f in found], axis=0).max() < 2 * COORDINATE, f"{file.name}: edges of {name} are moved apart")
    faults.unless(worst <= COORDINATE, f"{file.name}: coordinates are out by {worst:.4f} mm")
    squares = [np.ptp(s, axis=0) for s, _ in strokes if len(s) == 5]
    for side in (100.0, 101.6):
        faults.unless(any(np.abs(q - side).max() < COORDINATE for q in squares), f"{file.name}: no square of {side} mm")
    return worst


def svg(file, wanted, faults):
    text = file.read_text()
    root = ET.fromstring(text)
    groups = [g for g in root.iter(SVG + "g") if re.fullmatch(r"piece-\d+", g.get("id", ""))]
    faults.unless(len(groups) == len(wanted), f"{file.name}: {len(groups)} groups for {len(wanted)} pieces")
    worst = 0.0
    for group, (name, piece) in zip(groups, wanted.items()):
        title = group.find(SVG + "title").text
        faults.unless(title == " ".join(name.split()), f"{file.name}: a piece is called {title}")
        lines = [(controls(p.get("d")), piece["width"]) for p in group.iter(SVG + "path") if f"-{piece['group']}-" in (p.get("id") or "")]
        found = laid(lines, piece)
        worst = max([worst] + [f[0] for f in found])
        faults.unless(len(found) == len(piece["edges"]), f"{file.name}: {len(found)} of {len(piece['edges'])} edges of {name} are there")
        faults.unless(not found or np.ptp([f[1] for f in found], axis=0).max() < 0.001, f"{file.name}: edges of {name} are moved apart")
    faults.unless(worst <= 0.001, f"{file.name}: coordinates are out by {worst:.5f} mm")
    check_svg_drawn(text, wanted, faults, file.name)
    return worst


def check_svg_drawn(text, wanted, faults, name):
    """Areas and the check square as two renderers draw them, 4 pixels to the mm."""
    root = ET.fromstring(text)
    wide, high = [float(root.get(k).removesuffix("mm")) for k in ("width", "height")]
    ET.register_namespace("", SVG.strip("{}"))
    for ident, area in [(f"piece-{k + 1}-outer", Polygon(points(p["outline"])).area) for k, p in enumerate(wanted.values())] + [("check-square", 1e4)]:
        one = ET.fromstring(text)
        for parent in list(one.iter()):
            for child in list(parent):
                inside = any(c.get("id") == ident for c in child.iter())
                if not inside and not any(c is child for e in one.iter() if e.get("id") == ident for c in e.iter()):
                    parent.remove(child)
        for el in one.iter():
            if el.tag in (SVG + "path", SVG + "rect"):
                el.set("fill", "black")
                el.set("stroke", "none")
        single = ET.tostring(one, encoding="unicode")
        for renderer, draw in (("resvg", by_resvg), ("cairosvg", by_cairo)):
            dark = draw(single)
            drawn = dark.sum() * (wide / dark.shape[1]) * (high / dark.shape[0])
            faults.unless(abs(drawn / area - 1) < 2e-3, f"{name}: {renderer} draws {ident} with {drawn:.0f} mm2, not {area:.0f}")


def by_resvg(text):
    return darkness(bytes(resvg_py.svg_to_bytes(svg_string=text, dpi=101.6, background="white", skip_system_fonts=True)))


def by_cairo(text):
    return darkness(cairosvg.svg2png(bytestring=text.encode(), dpi=101.6, background_color="white"))


def darkness(png):
    return 1 - np.asarray(Image.open(io.BytesIO(png)).convert("L"), dtype=float) / 255


def dxf(file, wanted, units, faults):
    """Blocks in order against the record: ezdxf's audit, layers, closed boundaries, geometry both ways."""
    document = ezdxf.readfile(file)
    errors = document.audit().errors
    faults.unless(not errors, f"{file.name}: ezdxf finds {[e.message for e in errors]}")
    raw = file.read_bytes()
    faults.unless(raw.isascii(), f"{file.name}: not 7 bits")
    words = [e.dxf.text for e in document.modelspace().query("TEXT")]
    faults.unless(f"Units: {units}" in words and "R12 entities, D6673 layers" in words, f"{file.name}: says {words}")
    inserts = list(document.modelspace().query("INSERT"))
    faults.unless(len(inserts) == len(wanted), f"{file.name}: {len(inserts)} blocks for {len(wanted)} pieces")
    scale = 1.0 if units == "METRIC" else 25.4
    grid, worst = DXF_GRID if units == "METRIC" else 0.0013, 0.0
    for insert, (name, piece) in zip(inserts, wanted.items()):
        block = document.blocks[insert.dxf.name]
        bounds = [e for e in block if e.dxf.layer == "1" and e.dxftype() == "POLYLINE"]
        faults.unless(len(bounds) == 1 and bounds[0].is_closed, f"{file.name}: {name} has no single closed boundary")
        faults.unless(not [e for e in block if e.dxf.layer in ("5", "6", "7", "9", "10", "13") and e.dxftype() == "POLYLINE"], f"{file.name}: polylines where none may be")
        ring = np.array([[v.dxf.location.x * scale, -v.dxf.location.y * scale] for v in bounds[0].vertices])
        line = LineString(points(piece["outline"], 2000))
        off = max(line.distance(Point(p)) for p in ring)
        # Both decimals of a vertex are rounded, so it may lie their diagonal off.
        faults.unless(off <= grid * 2**0.5, f"{file.name}: a point of {name} is {off:.4f} mm off")
        chords = LineString(np.vstack([ring, ring[:1]]))
        away = max(chords.distance(Point(p)) for p in points(piece["outline"], 40))
        faults.unless(away <= DXF_CURVE + grid * 2**0.5, f"{file.name}: the curve of {name} lies {away:.4f} mm off its chords")
        marked = [e for e in block if e.dxf.layer in ("2", "3") and e.dxftype() == "POINT"]
        faults.unless(len(marked) >= len(ring), f"{file.name}: {len(marked)} turn and curve points for {len(ring)} vertices")
        said = [e.dxf.text for e in block.query("TEXT")]
        faults.unless(any(t.startswith("Piece Name: ") for t in said), f"{file.name}: {name} has no name: {said}")
        worst = max(worst, off)
    return worst


def check(record_file, folder, faults):
    record = json.loads(record_file.read_text())
    wanted = reference(record)
    out = Path(folder)
    ways = [(paper, "portrait") for paper in PAPERS]
    if not any(name.startswith('an "F"') for name in wanted):
        # On a page with only some of the F's edges those of one length can't be told apart.
        ways += [("a4", "landscape"), ("letter", "landscape")]
    for paper, way in ways:
        made = run(RUBOFF, "pattern", record_file, "--out", out / way, "--paper", paper, "--orientation", way, "--date", "2026-11-27")
        faults.unless(made.returncode == 0, f"{record_file}: {made.stderr}")
    for units, extra in (("metric", ["--roll", "36in", "--svg"]), ("english", [])):
        made = run(RUBOFF, "pattern", record_file, "--out", out / units, "--dxf", units, *extra)
        faults.unless(made.returncode == 0, f"{record_file}: {made.stderr}")
    if faults:
        return ""
    coordinates, words = 0.0, []
    for paper, way in ways:
        file = out / way / f"pattern-{paper}.pdf"
        check_sound(file, faults)
        where, step, shifts, worst = tiles(file, paper, way, wanted, faults)
        coordinates = max(coordinates, worst)
        if paper == "a4" and not faults:
            drawn, near, count = pictures(file, where, step, wanted, shifts, faults)
            words.append(f"{way} pictures {drawn:.3f} mm at {count} places, {near:.3f} near joins")
    check_sound(out / "metric/pattern-roll.pdf", faults)
    coordinates = max(coordinates, roll(out / "metric/pattern-roll.pdf", wanted, faults))
    drawn = svg(out / "metric/pattern.svg", wanted, faults)
    points_off = [dxf(out / u / "pattern.dxf", wanted, u.upper(), faults) for u in ("metric", "english")]
    words.append(f"PDF {coordinates:.4f}, SVG {drawn:.5f}, DXF {points_off[0]:.4f} and {points_off[1]:.4f} mm")
    return "; ".join(words)


def letter_f(folder, base):
    """A record of one piece, the letter F, made from another: neither its mirror image nor its turn is an F (R-SVG-7)."""
    record = json.loads(base.read_text())
    path = "M " + " L ".join(f"{x}.0 {y}.0" for x, y in F_SHAPE)
    n = len(F_SHAPE)
    piece = {**record["pieces"][0], "name": 'an "F" / żupan', "outline": path + " Z", "inner": [], "holes": []}
    piece["corners"] = [{"at": list(p), "name": f"c{k}", "error_mm": 0.1} for k, p in enumerate(F_SHAPE)]
    edge = {**record["pieces"][0]["edges"][0], "line": "rim", "found": "picture", "along": []}
    piece["edges"] = [
        {**edge, "name": f"e{k}", "from": k, "to": (k + 1) % n, "path": f"M {F_SHAPE[k][0]} {F_SHAPE[k][1]} L {F_SHAPE[(k + 1) % n][0]} {F_SHAPE[(k + 1) % n][1]}"}
        for k in range(n)
    ]
    record["pieces"] = [piece]
    file = Path(folder) / "outline.json"
    file.write_text(json.dumps(record))
    return file


NOTES = """
[piece.front]
cut = "1"
cloth = "madder-red linen"
allowance = { all = "10 mm", hem = "25 mm", "armhole left" = "6 mm" }
[piece.front.grain]
along = "centre"
[[piece.front.dart]]
name = "waist dart"
legs = [{ edge = "hem", at = "80 mm", from = "hem left" }]
point = { px = [1270, 460] }
intake = "20 mm"
pressed = "to centre"
[[piece.front.pleat]]
name = "hem pleats"
edge = "hem"
between = [{ edge = "hem", at = "160 mm", from = "hem left" }, { edge = "hem", at = "220 mm", from = "hem left" }]
depth = "12 mm"
count = 2
laid = "to side"
[[piece.front.gather]]
name = "shoulder"
edge = "shoulder left"
sewn = "70 mm"
[piece."front facing"]
from = "front"
along = ["neckline"]
width = "50 mm"
cut = "2, mirrored"
cloth = "lining"
"""
SAID = ["turn up 25 mm", "gather to 70 mm", "armhole left, 6 mm allowance", "waist dart, takes in 20 mm, pressed to centre", "hem pleats: 2 pleats", "each 12.0 mm deep", "laid to the side", "lies folded", "cut 2 lining, mirrored", "madder-red linen"]


def described(folder):
    """The demo's bodice with all that notes can ask of a pattern, traced."""
    notes = Path(folder) / "garment/garment.toml"
    shutil.copytree(ROOT / "examples/wardrobe/ferrywomans-bodice", notes.parent)
    notes.write_text(notes.read_text() + NOTES)
    made = run(RUBOFF, "trace", notes.parent, "--out", Path(folder) / "described")
    if made.returncode != 0:
        raise SystemExit(made.stderr)
    return Path(folder) / "described/garment.json"


def words_are_there(folder, faults):
    """What the notes asked for, as poppler reads it, on pages and on the roll."""
    for file in (Path(folder) / "portrait/pattern-a4.pdf", Path(folder) / "metric/pattern-roll.pdf"):
        # Words that stand askew are read letter by letter.
        said = "".join(run("pdftotext", "-raw", file, "-").stdout.split())
        for words in SAID:
            faults.unless("".join(words.split()) in said, f"{file.name} does not say {words}")


def right_way_round(folder, faults):
    """The F in each format laid on the F as it should be, and on its mirror image."""
    shape = Polygon(F_SHAPE)
    out = Path(folder)
    pages = sizes(out / "metric/pattern-roll.pdf")
    edges = {"edges": [f"M {a[0]} {a[1]} L {b[0]} {b[1]}" for a, b in zip(F_SHAPE, F_SHAPE[1:] + F_SHAPE[:1])]}
    rings = {"PDF": np.vstack([f[2] for f in laid(pdf_paths(out / "metric/pattern-roll.pdf", len(pages)), edges)])}
    root = ET.fromstring((out / "metric/pattern.svg").read_text())
    rings["SVG"] = points(next(p.get("d") for p in root.iter(SVG + "path") if p.get("id") == "piece-1-outer"))
    document = ezdxf.readfile(out / "metric/pattern.dxf")
    insert = document.modelspace().query("INSERT")[0]
    ring = next(e for e in insert.virtual_entities() if e.dxftype() == "POLYLINE" and e.dxf.layer == "1")
    # DXF has y up: seen as drawn, the letter must read the same.
    rings["DXF"] = np.array([[v.dxf.location.x, -v.dxf.location.y] for v in ring.vertices])
    for name, ring in rings.items():
        found = Polygon(ring - ring.min(axis=0))
        share = found.intersection(shape).area / found.union(shape).area
        mirrored = Polygon([(160 - x, y) for x, y in F_SHAPE])
        other = found.intersection(mirrored).area / found.union(mirrored).area
        faults.unless(share > 0.999 and other < 0.8, f"{name}: the F is not the right way round ({share:.3f}, mirrored {other:.3f})")


def corrected(record, folder, faults):
    """100 mm that had printed as 99 and 99.5 mm is drawn as much longer, on each axis."""
    out = Path(folder) / "corrected"
    run(RUBOFF, "pattern", record, "--out", out, "--paper", "a4", "--printed", "99mm,99.5mm")
    squares = [np.ptp(s, axis=0) for s, _ in pdf_paths(out / "pattern-a4.pdf", 1) if len(s) == 5]
    for side in (100.0, 101.6):
        want = np.array([side / 0.99, side / 0.995])
        faults.unless(any(np.abs(q - want).max() < COORDINATE for q in squares), f"no square of {side} mm corrected to {want}: {squares}")
    said = run("pdftotext", out / "pattern-a4.pdf", "-").stdout
    faults.unless(said.count("printer correction: across x 1.0101") >= len(sizes(out / "pattern-a4.pdf")) - 1, "not every page tells of the correction")


def main():
    results = Path(sys.argv[1])
    records = sorted(results.rglob("garment.json"))
    outlines = sorted(results.rglob("outline.json"))
    if not outlines:
        raise SystemExit("no results to check: " + sys.argv[1])
    out = 0
    with tempfile.TemporaryDirectory() as scratch:
        f = letter_f(scratch, outlines[0])
        told = described(scratch)
        for k, file in enumerate(records + outlines[:1] + [f, told]):
            faults = Faults()
            folder = Path(scratch) / str(k)
            words = check(file, folder, faults)
            if file == f and not faults:
                right_way_round(folder, faults)
                corrected(f, folder, faults)
                words += "; F the right way round in PDF, SVG, DXF"
            if file == told and not faults:
                words_are_there(folder, faults)
            out += len(faults)
            print(f"{file.parent.name}/{file.name}: {words}" + "".join(f"\n  WRONG {w}" for w in faults), flush=True)
    if out:
        raise SystemExit(f"patterns: {out} things are out")
    print(f"patterns: {len(records) + 3} agree with poppler, qpdf, svgpathtools, resvg, cairosvg and ezdxf")


if __name__ == "__main__":
    main()

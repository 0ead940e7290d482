"""The same work by a general library of computer vision.

    python opencv.py RESULTS [ROUNDS]

RESULTS is not read. Pictures with known truth (two of a phone, 12 and 48 megapixels, one of a flatbed) are drawn by
target/release/examples/draw_timed (or $DRAW_TIMED), then traced in turn by target/release/ruboff (or $RUBOFF) and by OpenCV as its
documentation would have it done: crossings as corners, the lattice grown from them, calibrateCamera, a reduced picture warped to true scale,
ruled lines closed over, distance in Lab and GrabCut, then the edge to a fraction of a pixel along normals in the picture as it came. Where it
does not find the lattice it is told four nodes. Both are told the same: lines, pitch, thickness of the cloth. Prints accuracy beside time and
memory (the least of ROUNDS, one unless told); exits with 1 when ours is less accurate. Times are only shown.
"""

import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

# numpy and OpenCV come in later: on Linux a child begins with the most memory its parent ever held, and children are measured here.

ROOT = Path(__file__).resolve().parents[2]
RUBOFF = os.environ.get("RUBOFF", str(ROOT / "target/release/ruboff"))
DRAW = os.environ.get("DRAW_TIMED", str(ROOT / "target/release/examples/draw_timed"))
PICTURES = ("phone-12mp", "phone-48mp", "scan-300dpi")
FILM = 43.2666  # mm: diagonal of 24 x 36 mm film, by which a 35 mm equivalent focal length is meant
WELL_DONE = 0.5  # mm: OpenCV's 95 %, or this comparison has gone wrong on its side


# --- OpenCV's side, run as a program of its own: opencv.py --work PICTURE TRUTH OUT


def grown(candidates, seed, tree):
    """The lattice that grows from one candidate: {(i, j): index}, by steps that may change slowly from node to node."""
    import numpy as np

    near = candidates[tree.query(candidates[seed], 9)[1][1:]] - candidates[seed]
    u = near[0]
    square = [v for v in near if abs(u @ v) < 0.35 * (u @ u) and 0.6 < (v @ v) / (u @ u) < 1.7 and u[0] * v[1] - u[1] * v[0] > 0]
    if not square:
        return {}
    found, used, queue = {(0, 0): seed}, {seed}, [((0, 0), u, square[0])]
    while queue:
        (i, j), u, v = queue.pop(0)
        at = candidates[found[i, j]]
        steps = ((1, 0, u), (-1, 0, -u), (0, 1, v), (0, -1, -v))
        for (di, dj, step), far, k in zip(steps, *tree.query([at + s[2] for s in steps])):
            if (i + di, j + dj) in found or k in used or far > 0.12 * np.hypot(*step):
                continue
            found[i + di, j + dj] = k
            used.add(k)
            new = candidates[k] - at
            queue.append(((i + di, j + dj), new * di if di else u, new * dj if dj else v))
    return found


def crossings(gray):
    """Where ruled lines cross, to about a pixel: places dark and steep in two directions in the picture without its slow light."""
    import cv2
    import numpy as np

    size = max(5, gray.shape[1] // 250) | 1
    dark = cv2.morphologyEx(gray, cv2.MORPH_BLACKHAT, np.ones((size, size), np.uint8))
    found = cv2.goodFeaturesToTrack(dark, 6000, 0.06, size, blockSize=size, useHarrisDetector=False)
    return found.reshape(-1, 2).astype(float)


def lattice(gray):
    """Nodes found: addresses and pixels, the largest of the lattices that grow from fifty candidates, or of the first three fair ones."""
    import numpy as np
    from scipy.spatial import KDTree

    candidates = crossings(gray)
    tree, best, fair = KDTree(candidates), {}, 0
    for seed in np.random.default_rng(1).permutation(len(candidates))[:50]:
        found = grown(candidates, int(seed), tree)
        best = found if len(found) > len(best) else best
        fair += len(found) > 60
        if fair == 3:
            break
    return np.array(list(best)), candidates[list(best.values())]


class Camera:
    """px of sheet mm: a pinhole with a lens, or a scan's affine map, by nodes; `height` mm above the sheet."""

    def __init__(self, truth, size):
        import numpy as np

        self.pitch, self.scan, self.size = truth["pitch_mm"], truth["dpi"] is not None, size
        focal = np.hypot(*size) / FILM * (truth["film_mm"] or 26)
        self.matrix = np.array([[focal, 0, (size[0] - 1) / 2], [0, focal, (size[1] - 1) / 2], [0, 0, 1]])
        self.bend = np.zeros(5)

    def solve(self, nodes, px):
        """Takes what nodes say; returns how far each lies off, px."""
        import cv2
        import numpy as np

        if self.scan:
            self.affine = np.linalg.lstsq(np.c_[nodes * self.pitch, np.ones(len(nodes))], px, rcond=None)[0]
        else:
            flags = cv2.CALIB_USE_INTRINSIC_GUESS | cv2.CALIB_FIX_ASPECT_RATIO | cv2.CALIB_FIX_K3
            places = np.c_[nodes * self.pitch, np.zeros(len(nodes))].astype(np.float32)
            if len(nodes) < 20:  # four nodes told say nothing of a lens
                flags |= cv2.CALIB_FIX_FOCAL_LENGTH | cv2.CALIB_FIX_PRINCIPAL_POINT | cv2.CALIB_ZERO_TANGENT_DIST | cv2.CALIB_FIX_K1 | cv2.CALIB_FIX_K2
            _, self.matrix, self.bend, turn, shift = cv2.calibrateCamera([places], [px.astype(np.float32)], self.size, self.matrix, self.bend, flags=flags)
            self.turn, self.shift = turn[0], shift[0]
        return np.hypot(*(self.see(nodes * self.pitch, 0.0) - px).T)

    def see(self, mm, height):
        import cv2
        import numpy as np

        if self.scan:
            return np.c_[mm, np.ones(len(mm))] @ self.affine
        # projectPoints by hand: it also works out derivatives, which cost twice the time and much memory. x right, y down: z runs into the table.
        turn = cv2.Rodrigues(self.turn)[0]
        x, y, z = (np.c_[mm, np.full(len(mm), -height)] @ turn.T + self.shift.ravel()).T
        (k1, k2, p1, p2), x, y = self.bend.ravel()[:4], x / z, y / z
        r = x * x + y * y
        grown = 1 + r * (k1 + r * k2)
        bent = np.c_[x * grown + 2 * p1 * x * y + p2 * (r + 2 * x * x), y * grown + p1 * (r + 2 * y * y) + 2 * p2 * x * y]
        return bent * np.diag(self.matrix)[:2] + self.matrix[:2, 2]


def settle(gray, truth):
    """Lens and pose: by the nodes grown, then by all that can be measured in view. Also whether four nodes had to be told."""
    import cv2
    import numpy as np

    h, w = gray.shape
    camera = Camera(truth, (w, h))
    by = max(1, round(w / 2016))
    small = cv2.resize(gray, (w // by, h // by), interpolation=cv2.INTER_AREA)
    nodes, px = lattice(small)
    px = (px + 0.5) * by - 0.5
    told = len(nodes) < 30
    if told:
        nodes, px = (np.array([s[k] for s in truth["shown"]]) for k in ("node", "px"))
    off = camera.solve(nodes, px)
    for _ in range(2):
        spread = np.median(np.hypot(*np.diff(camera.see(np.array([[0, 0], [camera.pitch, 0]]), 0.0), axis=0).T))
        window = int(min(0.3 * spread, 6 * by + 6))
        middle = nodes.mean(0).round()
        reach = np.arange(-60, 61)
        every = np.stack(np.meshgrid(reach, reach), -1).reshape(-1, 2) + middle
        seen = camera.see(every * camera.pitch, 0.0)
        # Far outside the frame a lens's polynomial folds back: only what is joined to the nodes counts.
        near = np.abs(every - middle).max(1) <= np.abs(nodes - middle).max() + 2
        inside = near & ((seen > window + 2) & (seen < np.array([w, h]) - window - 3)).all(1)
        every, seen = every[inside], seen[inside]
        stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_MAX_ITER, 30, 0.005)
        fine = cv2.cornerSubPix(gray, seen.astype(np.float32).reshape(-1, 1, 2).copy(), (window, window), (-1, -1), stop).reshape(-1, 2)
        crossed = looks_crossed(gray, fine, 0.4 * spread)
        good = crossed & (np.hypot(*(fine - seen).T) < max(3.0, 3 * np.median(off)))
        nodes, px = every[good], fine[good].astype(float)
        for _ in range(3):
            off = camera.solve(nodes, px)
            kept = off < max(3 * np.median(off), 0.1)
            nodes, px = nodes[kept], px[kept]
    return camera, nodes, off, told


def looks_crossed(gray, px, reach):
    """Whether a place is darker than what lies diagonally beside it, and than the cloth could be: bright on all four sides."""
    import numpy as np

    at = lambda d: gray[tuple(np.clip((px + d).round().astype(int), 0, np.array(gray.shape[::-1]) - 1).T[::-1])].astype(float)
    side = np.stack([at(np.array(d) * reach) for d in ((0.7, 0.7), (-0.7, 0.7), (0.7, -0.7), (-0.7, -0.7))])
    bright = np.percentile(gray, 75)
    return (side.min(0) > 0.75 * bright) & (at(np.zeros(2)) < side.min(0) - 8)


def warped(picture, camera, low, high, ppm, height):
    """The picture reduced and at true scale, `ppm` px to the mm; pixel (0, 0) at `low`."""
    import cv2
    import numpy as np

    native = np.median(np.hypot(*(camera.see(np.array([low + 1, high - 1]), height) - camera.see(np.array([low, high]), height)).T)) / 2**0.5
    by = max(1, int(native / ppm))
    small = cv2.resize(picture, (picture.shape[1] // by, picture.shape[0] // by), interpolation=cv2.INTER_AREA)
    wide, tall = ((high - low) * ppm).astype(int)
    step = 16
    xs, ys = (np.arange(-(-n // step)) * step + (step - 1) / 2 for n in (wide, tall))
    mm = np.stack(np.meshgrid(xs, ys), -1).reshape(-1, 2) / ppm + low
    coarse = ((camera.see(mm, height) + 0.5) / by - 0.5).reshape(len(ys), len(xs), 2).astype(np.float32)
    full = cv2.resize(coarse, (len(xs) * step, len(ys) * step), interpolation=cv2.INTER_LINEAR)[:tall, :wide]
    return cv2.remap(small, full, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)


def covered(flat, ppm):
    """Outlines of what is no sheet, px of the straightened picture: ruled lines closed over, distance from the sheet's colour, GrabCut."""
    import cv2
    import numpy as np

    size = int(1.5 * ppm) | 1
    closed = cv2.morphologyEx(flat, cv2.MORPH_CLOSE, np.ones((size, size), np.uint8))
    lab = cv2.cvtColor(closed.astype(np.float32) / 255, cv2.COLOR_BGR2LAB)
    y, x = np.mgrid[0 : lab.shape[0], 0 : lab.shape[1]].astype(np.float32)
    x, y = x / lab.shape[1] - 0.5, y / lab.shape[0] - 0.5
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], -1)
    sheet = np.abs(lab - np.array([np.percentile(lab[..., 0], 80), 0, 0])).max(-1) < 15
    for _ in range(3):  # the sheet's colour under light that falls off slowly
        some = np.flatnonzero(sheet)[::7]
        fit = np.linalg.lstsq(terms.reshape(-1, 6)[some], lab.reshape(-1, 3)[some], rcond=None)[0]
        distance = np.linalg.norm(lab - terms @ fit, axis=-1)
        sheet = distance < 8
    eight = np.clip(distance * 3, 0, 255).astype(np.uint8)
    level, _ = cv2.threshold(eight, 0, 255, cv2.THRESH_BINARY | cv2.THRESH_OTSU)
    mask = np.where(eight > level, cv2.GC_PR_FGD, cv2.GC_PR_BGD).astype(np.uint8)
    mask[eight > 1.5 * level], mask[eight < 0.3 * level] = cv2.GC_FGD, cv2.GC_BGD
    cv2.grabCut(closed, mask, None, np.zeros((1, 65)), np.zeros((1, 65)), 2, cv2.GC_INIT_WITH_MASK)
    found = ((mask == cv2.GC_FGD) | (mask == cv2.GC_PR_FGD)).astype(np.uint8)
    found = cv2.morphologyEx(found, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    lines, _ = cv2.findContours(found, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return [line.reshape(-1, 2).astype(float) for line in lines if cv2.contourArea(line) > 1000 * ppm**2]


def even(line, step):
    """A closed line again with points even distances apart."""
    import numpy as np

    loop = np.vstack([line, line[:1]])
    run = np.r_[0, np.cumsum(np.hypot(*np.diff(loop, axis=0).T))]
    at = np.arange(0, run[-1], step)
    return np.c_[np.interp(at, run, loop[:, 0]), np.interp(at, run, loop[:, 1])]


def refined(line, picture, camera, height):
    """Rim in mm to a fraction of a pixel: along normals, where light changes most; not on a ruled line."""
    import numpy as np
    from scipy.ndimage import gaussian_filter1d, median_filter

    v = np.arange(256) / 255
    linear = np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4).astype(np.float32)
    reach = np.arange(-3.0, 3.01, 0.1)
    step = 0.25
    for smooth in (1.5, 0.5):
        line = even(line, step)
        along = np.gradient(gaussian_filter1d(line, smooth / step, axis=0, mode="wrap"), axis=0)
        normal = np.c_[along[:, 1], -along[:, 0]] / np.hypot(*along.T)[:, None]
        mm = line[:, None] + reach[None, :, None] * normal[:, None]
        px = camera.see(mm.reshape(-1, 2), height)
        whole = np.clip(np.floor(px).astype(int), 0, np.array(picture.shape[1::-1]) - 2)
        part = (px - whole)[:, :, None]
        at = lambda dx, dy: linear[picture[whole[:, 1] + dy, whole[:, 0] + dx]]
        (s, t) = (part[:, 0], part[:, 1])
        light = (1 - t) * ((1 - s) * at(0, 0) + s * at(1, 0)) + t * ((1 - s) * at(0, 1) + s * at(1, 1))
        light = light.reshape(len(line), len(reach), 3).mean(-1)
        ruled = (np.abs((mm / camera.pitch + 0.5) % 1 - 0.5) * camera.pitch < 0.6).any(-1)
        bare = np.where(ruled, np.nan, light)
        outer, inner = reach > 1.2, reach < -1.2
        import warnings

        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            sheet, cloth = np.nanmedian(bare[:, outer], 1), np.median(light[:, inner], 1)
        rows = np.arange(len(line))
        # The steepest place: half way between cloth and sheet lies outwards of the edge, for the shadow beside it is darker than the sheet.
        slope = np.gradient(gaussian_filter1d(light, 1.0, axis=1), axis=1) * np.sign(sheet - cloth)[:, None]
        slope = slope * (np.abs(reach) < (2.5 if smooth > 1 else 1.0))
        nearest = slope[:, 1:-1].argmax(1) + 1
        before, most, after = (slope[rows, nearest + k] for k in (-1, 0, 1))
        with np.errstate(divide="ignore", invalid="ignore"):
            off = reach[nearest] + 0.05 * (before - after) / (before - 2 * most + after)
        on_line = ruled[rows, nearest] | ruled[rows, np.minimum(nearest + 4, len(reach) - 1)]
        bad = ~np.isfinite(off) | on_line
        off = np.interp(rows, rows[~bad], off[~bad], period=len(rows))
        usual = median_filter(off, 15, mode="wrap")
        off = np.where(np.abs(off - usual) > 0.3, usual, off)
        line = line + gaussian_filter1d(off, 0.5 / step, mode="wrap")[:, None] * normal
    return line


def work(picture_file, truth_file, out):
    import cv2
    import numpy as np

    truth = json.loads(Path(truth_file).read_text())
    picture = cv2.imread(picture_file)
    camera, nodes, off, told = settle(cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY), truth)
    height = 0.0 if camera.scan else truth["thickness_mm"]
    low, high = (nodes.min(0) - 0.5) * camera.pitch, (nodes.max(0) + 0.5) * camera.pitch
    ppm = 2.0
    flat = warped(picture, camera, low, high, ppm, height)
    lines = [refined((line / ppm + low)[::-1], picture, camera, height) for line in covered(flat, ppm)]
    said = {"nodes": len(nodes), "rms_px": float(np.sqrt((off**2).mean())), "told": told, "pieces": [line.round(4).tolist() for line in lines]}
    Path(out).write_text(json.dumps(said))


# --- the comparison


def measured(words, log):
    """Runs a program: seconds on the clock, seconds of the processor, most memory in MB."""
    start = time.monotonic()
    with open(log, "w") as to:
        child = subprocess.Popen([str(w) for w in words], stdout=to, stderr=to, env={**os.environ, "RUBOFF_LENSES": "none", "RUBOFF_PRINTS": "none"})
        _, status, used = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode:
        raise SystemExit(f"{words[0]} failed on {words[2]}:\n{Path(log).read_text()}")
    return time.monotonic() - start, used.ru_utime + used.ru_stime, used.ru_maxrss / 1000


def in_turn(folder, rounds):
    """{picture: {whose: least of each}}."""
    took = {}
    for name in PICTURES * rounds:
        picture, truth = folder / f"{name}.jpg", folder / f"{name}.truth.json"
        ours = [RUBOFF, "trace", picture, *json.loads(truth.read_text())["told"], "--anew", "--out", folder / "out"]
        theirs = [sys.executable, "-B", __file__, "--work", picture, truth, folder / f"{name}.opencv.json"]
        for whose, words in (("ours", ours), ("OpenCV", theirs)):
            took.setdefault(name, {}).setdefault(whose, []).append(measured(words, folder / "log"))
    return {name: {whose: [min(v) for v in zip(*runs)] for whose, runs in of.items()} for name, of in took.items()}


def laid(found, true):
    """Distances both ways after the best rigid laying-on (95 % and largest, mm), and how much too large it was, ppm. Both are closed lines, mm."""
    import numpy as np
    from scipy.spatial import KDTree

    fine = even(true, 0.02)
    tree = KDTree(fine)
    along = np.roll(fine, -1, 0) - np.roll(fine, 1, 0)
    normals = np.c_[along[:, 1], -along[:, 0]] / np.hypot(*along.T)[:, None]

    def settled(points, rounds, grow):
        """Gauss and Newton's steps towards the line along its normals (Chen & Medioni 1992)."""
        size = 1.0
        for _ in range(rounds):
            k = tree.query(points)[1]
            n, middle = normals[k], points.mean(0)
            q = points - middle
            rows = np.c_[q[:, 0] * n[:, 1] - q[:, 1] * n[:, 0], n, (q * n).sum(1)][:, : 4 if grow else 3]
            x = np.linalg.lstsq(rows, ((fine[k] - points) * n).sum(1), rcond=None)[0]
            (c, s), by = (np.cos(x[0]), np.sin(x[0])), 1 + (x[3] if grow else 0)
            points, size = by * q @ np.array([[c, s], [-s, c]]) + middle + x[1:3], size * by
        return points, size

    points, coarse = even(found, 0.5), even(found, 8.0)
    starts = []
    for angle in np.arange(24) * np.pi / 12:
        turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
        start = (coarse - coarse.mean(0)) @ turn + true.mean(0)
        starts.append(((tree.query(settled(start, 12, False)[0])[0] ** 2).sum(), angle, turn))
    turn = min(starts)[2]
    lying, _ = settled((points - coarse.mean(0)) @ turn + true.mean(0), 15, False)
    _, size = settled(lying, 8, True)
    back = KDTree(even(lying, 0.02))
    off = np.r_[tree.query(lying)[0], back.query(even(true, 0.5))[0]]
    return np.percentile(off, 95), off.max(), (1 / size - 1) * 1e6


def main():
    if sys.argv[1] == "--work":
        return work(*sys.argv[2:5])
    rounds = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    wrong = []
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        subprocess.run([DRAW, folder, *PICTURES], check=True, stdout=subprocess.DEVNULL)
        took = in_turn(folder, rounds)
        import numpy as np

        from outlines import points

        print(f"{'picture':12} {'':7} {'95 % mm':>8} {'max mm':>7} {'ppm':>6} {'wall s':>7} {'CPU s':>6} {'MB':>5}")
        for name in PICTURES:
            true = points(json.loads((folder / f"{name}.truth.json").read_text())["pieces"][0]["outline"])
            record = json.loads((folder / "out" / name / "outline.json").read_text())
            theirs = json.loads((folder / f"{name}.opencv.json").read_text())
            found = {"ours": [points(p["outline"]) for p in record["pieces"]], "OpenCV": [np.array(p) for p in theirs["pieces"]]}
            figures = {}
            for whose, pieces in found.items():
                if len(pieces) != 1:
                    wrong.append(f"{name}: {whose} found {len(pieces)} pieces")
                    continue
                figures[whose] = laid(pieces[0], true)
                (p95, worst, ppm), (wall, cpu, mb) = figures[whose], took[name][whose]
                more = f"{theirs['nodes']} nodes, {theirs['rms_px']:.2f} px" + (", told four of them" if theirs["told"] else "")
                print(f"{name:12} {whose:7} {p95:8.3f} {worst:7.3f} {ppm:6.0f} {wall:7.2f} {cpu:6.2f} {mb:5.0f}  {more if whose == 'OpenCV' else ''}".rstrip())
            if len(figures) == 2:
                if figures["OpenCV"][0] > WELL_DONE:
                    wrong.append(f"{name}: OpenCV's way is {figures['OpenCV'][0]:.2f} mm out: no fair comparison")
                wrong += [f"{name}: ours is less accurate ({what})" for k, what in enumerate(("95 %", "worst")) if figures["ours"][k] > figures["OpenCV"][k]]
    if wrong:
        raise SystemExit("".join(f"  WRONG {w}\n" for w in wrong) + f"opencv: {len(wrong)} things are out")
    print(f"opencv: on {len(PICTURES)} pictures ours is at least as accurate")


if __name__ == "__main__":
    main()

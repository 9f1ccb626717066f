"""Reads the files of plans with ezdxf, librsvg, poppler and Ghostscript, and holds every line against truth.json.

Takes a folder a line from standard input; for each it prints a line of JSON: how many lines were held and the greatest difference
of each format, mm, and what is wrong. With --draw FOLDER it writes what ezdxf reads of cut.dxf as two SVGs instead: cut-dxf.svg, all
of it, and cut-dxf-solid.svg, without the layers that other formats dash.
"""

import json
import os
import re
import subprocess
import sys
import tempfile

import numpy as np
from ezdxf import recover
from scipy.spatial import cKDTree

POINT_MM = 25.4 / 72
# Chords leave a curve by at most this (the promise of the files), mm.
CHORD_MM = 0.005
# And those of a layer of lines and arcs by this.
ARC_CHORD_MM = 0.0001
NEAR_MM = 0.001


def distances(points, line):
    """From points to the nearest place on a line, for points that lie on it or nearly so; never too small."""
    d = np.diff(line, axis=0)
    parts = np.maximum(1, np.ceil(np.hypot(d[:, 0], d[:, 1]) / 0.25)).astype(int)
    begins = np.cumsum(parts) - parts
    share = (np.arange(parts.sum()) - np.repeat(begins, parts)) / np.repeat(parts, parts)
    dense = np.concatenate([np.repeat(line[:-1], parts, 0) + share[:, None] * np.repeat(d, parts, 0), line[-1:]])
    # A piece of a thousandth of a micrometre, cut into eight, would be all that is near.
    dense = dense[np.concatenate([[True], np.abs(np.diff(dense, axis=0)).max(1) > 1e-5])]
    # Several near places, for a line may pass close by itself.
    near = cKDTree(dense).query(points, k=min(6, len(dense)))[1].reshape(len(points), -1)
    best = np.full(len(points), np.inf)
    last = len(dense) - 2
    for place in near.T:
        # Where a closed line begins it ends too: both its ends count there.
        for first in (place - 1, place, np.where(place == 0, last, place), np.where(place > last, 0, place)):
            k = np.minimum(np.maximum(first, 0), last)
            a, v = dense[k], dense[k + 1] - dense[k]
            d = points - a
            t = (d[:, 0] * v[:, 0] + d[:, 1] * v[:, 1]) / np.maximum(v[:, 0] ** 2 + v[:, 1] ** 2, 1e-30)
            t = np.minimum(np.maximum(t, 0), 1)
            best = np.minimum(best, np.hypot(d[:, 0] - t * v[:, 0], d[:, 1] - t * v[:, 1]))
    return best


def box(line):
    return np.concatenate([line.min(0), line.max(0)])


def held(wanted, found, chord_mm):
    """Every line that is wanted has one of its own among those found, which it leaves by chord_mm; the greatest difference and what is wrong."""
    greatest, wrong = 0.0, []
    left = [(line, box(line)) for line in found]
    for line in wanted:
        own = box(line)
        slack = 2 * max(chord_mm, NEAR_MM)
        near = [k for k, (_, b) in enumerate(left) if np.abs(b - own).max() < slack]
        best = None
        for k in near:
            there = left[k][0]
            worst = np.inf
            if chord_mm == 0 and len(line) == len(there):
                worst = np.sqrt(((line - there) ** 2).sum(1)).max()
            # A program may begin a closed line elsewhere, or leave out what lies in between.
            if worst > NEAR_MM:
                off = distances(line, there).max()
                worst = max(off, distances(there, line).max() - chord_mm)
            if best is None or worst < best[0]:
                best = (worst, k)
        if best is None or best[0] > NEAR_MM:
            wrong.append("a line at %s: %s" % (np.round(own, 3).tolist(), "missing" if best is None else best[0]))
            continue
        greatest = max(greatest, best[0])
        left.pop(best[1])
    return greatest, wrong, len(left)


def wanted_of(truth, layers=None):
    lines = []
    for kind in ("closed", "open"):
        for name, rings in truth[kind].items():
            if layers is not None and name not in layers:
                continue
            for ring in rings:
                points = np.array(ring + ring[:1] if kind == "closed" else ring, float)
                lines.append(points)
    return lines


def flat(e):
    """An entity as points: arcs and splines by their own formulas, lines as they are."""
    kind = e.dxftype()
    if kind in ("LWPOLYLINE", "POLYLINE"):
        points = along([flat(part) for part in e.virtual_entities()])
        return np.concatenate([points[0]] + [p[1:] for p in points[1:]])
    if kind == "LINE":
        return np.array([[p.x, p.y] for p in (e.dxf.start, e.dxf.end)], float)
    if kind == "ARC":
        return np.array([[p.x, p.y] for p in e.flattening(0.0001)], float)
    if kind == "SPLINE":
        return np.array([[p.x, p.y] for p in e.flattening(0.0001, 8)], float)
    raise SystemExit("an entity %s in a DXF" % kind)


def along(pieces):
    """Arcs are counted counter-clockwise: each piece is turned so that it begins where the one before ends."""
    if len(pieces) > 1:
        first, second = pieces[0], pieces[1]
        if min(np.abs(first[-1] - second[0]).max(), np.abs(first[-1] - second[-1]).max()) > 1e-6:
            pieces[0] = first[::-1]
    for k in range(1, len(pieces)):
        if np.abs(pieces[k - 1][-1] - pieces[k][0]).max() > np.abs(pieces[k - 1][-1] - pieces[k][-1]).max():
            pieces[k] = pieces[k][::-1]
    return pieces


def read_dxf(path):
    document, audit = recover.readfile(path)
    if audit.errors or audit.fixes:
        raise SystemExit("%s: ezdxf finds %d errors, %d fixes" % (path, len(audit.errors), len(audit.fixes)))
    layers = {}
    for e in document.modelspace():
        if e.dxftype() not in ("TEXT", "MTEXT"):
            layers.setdefault(e.dxf.layer, []).append(flat(e))
    return layers


def draw_dxf(folder):
    with open(os.path.join(folder, "truth.json")) as f:
        truth = json.load(f)
    w, h = truth["cut"]["page_mm"]
    layers = read_dxf(os.path.join(folder, "cut.dxf"))
    for name, solid in (("cut-dxf.svg", False), ("cut-dxf-solid.svg", True)):
        with open(os.path.join(folder, name), "w") as f:
            f.write('<svg xmlns="http://www.w3.org/2000/svg" width="%rmm" height="%rmm" viewBox="0 0 %r %r">\n' % (w, h, w, h))
            f.write('<g fill="none" stroke="#000" stroke-linecap="round" stroke-linejoin="round">\n')
            for layer, lines in layers.items():
                stroke = truth["strokes"][layer]
                if solid and not stroke["solid"]:
                    continue
                for line in lines:
                    points = "L".join("%.6f %.6f" % (x, h - y) for x, y in line)
                    f.write('<path stroke-width="%r" d="M%s"/>\n' % (stroke["width_mm"], points))
            f.write("</g></svg>\n")


def matrix_of(text):
    m = re.search(r"matrix\(([^)]*)\)", text or "")
    a, b, c, d, e, f = [float(v) for v in re.split(r"[\s,]+", m.group(1).strip())] if m else (1, 0, 0, 1, 0, 0)
    return np.array([[a, c, e], [b, d, f]])


def followed(path):
    """The points along lines and cubics, in tenths of a millimetre; chords leave a cubic by at most 0.00001 mm."""
    points = []
    for command, figures in re.findall(r"([MLC]?)([^MLC]+)", path):
        own = np.array(figures.split(), float).reshape(-1, 2)
        if command != "C":
            points.extend(own)
            continue
        for c1, c2, to in own.reshape(-1, 3, 2):
            bend = max(np.hypot(*(points[-1] - 2 * c1 + c2)), np.hypot(*(c1 - 2 * c2 + to)))
            t = np.linspace(0, 1, 2 + int(np.sqrt(0.75 * bend / 1e-4)))[1:, None]
            points.extend((1 - t) ** 3 * points[-1] + 3 * (1 - t) ** 2 * t * c1 + 3 * (1 - t) * t**2 * c2 + t**3 * to)
    return np.array(points, float).reshape(-1, 2)


def read_cairo_svg(path):
    """Stroked lines of an SVG as cairo writes it, and its size; lower left corner, its own unit."""
    import xml.etree.ElementTree as ET

    root = ET.parse(path).getroot()
    height = float(root.get("viewBox").split()[3])
    width = float(root.get("viewBox").split()[2])
    lines = []

    def visit(element, m):
        own = np.vstack([matrix_of(element.get("transform")), [0, 0, 1]])
        m = m @ own
        tag = element.tag.split("}")[1]
        if tag in ("defs", "clipPath", "mask", "symbol"):
            return
        style = element.get("style") or ""
        if tag == "path" and "stroke:rgb" in style:
            for part in element.get("d").split("M")[1:]:
                points = followed(part.replace("Z", " "))
                # Cairo begins anew after every closed line.
                if len(points) < 2:
                    continue
                if "Z" in part:
                    points = np.concatenate([points, points[:1]])
                p = np.hstack([points, np.ones((len(points), 1))]) @ m.T
                lines.append(np.column_stack([p[:, 0], height - p[:, 1]]))
        for child in element:
            visit(child, m)

    visit(root, np.eye(3))
    return width, height, lines


PROLOGUE = """
/out { 100000 mul round cvi 12 string cvs print ( ) print } bind def
/stroke { gsave initmatrix
  { exch (M ) print out out (\\n) print } { exch (L ) print out out (\\n) print }
  { pop pop pop pop pop pop (C\\n) print } { (Z\\n) print } pathforall
  grestore newpath } bind def
/showpage { } def
"""


def read_eps(paths):
    """Stroked lines of EPS files as Ghostscript's interpreter holds them, mm."""
    with tempfile.NamedTemporaryFile("w", suffix=".ps", delete=False) as f:
        f.write(PROLOGUE)
    try:
        told = subprocess.run(
            ["gs", "-q", "-dBATCH", "-dNOPAUSE", "-dSAFER", "-sDEVICE=nullpage", "-r7200", f.name]
            + [part for path in paths for part in ("-c", "(FILE\\n) print", "-f", path)],
            capture_output=True,
            text=True,
            check=True,
        ).stdout
    finally:
        os.unlink(f.name)
    pages, lines, current = [], [], []

    def end(closed):
        if len(current) > 1:
            points = np.array(current + (current[:1] if closed else []), float)
            lines.append(points * POINT_MM / 1e5)
        current.clear()

    for row in told.split("\n"):
        if row == "FILE":
            end(False)
            lines = []
            pages.append(lines)
        elif row.startswith("M"):
            end(False)
            current.append([int(v) for v in row.split()[1:]])
        elif row.startswith("L"):
            current.append([int(v) for v in row.split()[1:]])
        elif row.startswith("Z"):
            end(True)
        elif row.startswith("C"):
            raise SystemExit("a curve where none was written")
    end(False)
    return pages


def read(folder):
    told = {}
    wrong = []

    def hold(program, what, wanted, found, chord_mm=0, page=None):
        greatest, bad, more = held(wanted, found, chord_mm)
        if page is not None:
            greatest = max(greatest, page)
        entry = told.setdefault(program, {"files": 0, "lines": 0, "greatest_mm": 0.0})
        entry["files"] += 1
        entry["lines"] += len(wanted)
        entry["greatest_mm"] = max(entry["greatest_mm"], greatest)
        wrong.extend("%s, %s: %s" % (program, what, b) for b in bad)
        if page is not None and page > NEAR_MM:
            wrong.append("%s, %s: the page is off by %g mm" % (program, what, page))
        if more:
            wrong.append("%s, %s: %d lines that are not in the plan" % (program, what, more))

    at = lambda name: os.path.join(folder, name)
    names = ("cut", "artwork")
    # Cairo keeps 1/256 of its unit: at 254 dots to the inch that is 0.0004 mm. Its EPS would keep 1/256 of a point, which is
    # 0.0014 mm; pdftops prints six figures.
    started = [
        subprocess.Popen(command)
        for name in names
        for command in (
            ["rsvg-convert", "-f", "svg", "--dpi-x=254", "--dpi-y=254", "-o", at(name + "-cairo.svg"), at(name + ".svg")],
            ["pdftops", "-eps", "-level2", at(name + ".pdf"), at(name + "-pdf.eps")],
        )
    ]
    with open(at("truth.json")) as f:
        truth = json.load(f)
    layers = read_dxf(at("cut.dxf"))
    for name in truth["cut"]["closed"]:
        hold("ezdxf, DXF", "layer %s" % name, wanted_of(truth["cut"], [name]), layers.get(name, []), CHORD_MM if truth["curved"] else 0)
    for process in started:
        if process.wait() != 0:
            raise SystemExit("%s failed" % " ".join(process.args))
    for name in names:
        page = np.array(truth[name]["page_mm"])
        w, h, lines = read_cairo_svg(at(name + "-cairo.svg"))
        off = max(abs(w / 10 - page[0]), abs(h / 10 - page[1]))
        hold("librsvg, SVG", name, wanted_of(truth[name]), [line / 10 for line in lines], ARC_CHORD_MM if truth["arcs"] else 0, page=off)
    files = [(program, name, at(name + end)) for program, end in (("Ghostscript, EPS", ".eps"), ("poppler, PDF", "-pdf.eps")) for name in names]
    for (program, name, path), lines in zip(files, read_eps([path for _, _, path in files])):
        with open(path, encoding="latin-1") as f:
            w, h = re.search(r"%%HiResBoundingBox: 0\.?0* 0\.?0* ([0-9.]+) ([0-9.]+)", f.read()).groups()
        page = max(abs(float(v) * POINT_MM - p) for v, p in zip((w, h), truth[name]["page_mm"]))
        hold(program, name, wanted_of(truth[name]), lines, page=page)
    return {"programs": told, "wrong": wrong}


if sys.argv[1:2] == ["--draw"]:
    draw_dxf(sys.argv[2])
    sys.exit()
for line in sys.stdin:
    print(json.dumps(read(line.rstrip("\n"))), flush=True)

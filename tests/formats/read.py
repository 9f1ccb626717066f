"""Reads the files of plans with ezdxf, librsvg, poppler and Ghostscript, and holds every line against truth.json.

usage: read.py FOLDER...     prints, as JSON, how many lines were held and the greatest difference of each format, mm
"""

import json
import math
import os
import re
import subprocess
import sys
import tempfile

import ezdxf.path
import numpy as np
from ezdxf import recover

POINT_MM = 25.4 / 72
# Chords leave a curve by at most this (the promise of the files), mm.
CHORD_MM = 0.005
NEAR_MM = 0.001


def distances(points, line):
    """From points to the nearest place on a line."""
    a, b = line[:-1], line[1:]
    d = b - a
    length = np.maximum((d * d).sum(1), 1e-30)
    best = np.full(len(points), np.inf)
    for at in range(0, len(points), 400):
        p = points[at : at + 400]
        t = ((p[:, None, :] - a[None]) * d[None]).sum(2) / length
        foot = a[None] + np.clip(t, 0, 1)[:, :, None] * d[None]
        best[at : at + 400] = np.sqrt(((p[:, None, :] - foot) ** 2).sum(2)).min(1)
    return best


def box(line):
    return np.concatenate([line.min(0), line.max(0)])


def held(wanted, found, curved):
    """Every line that is wanted has one of its own among those found; the greatest difference and what is wrong."""
    greatest, wrong = 0.0, []
    left = [(line, box(line)) for line in found]
    for line in wanted:
        own = box(line)
        slack = CHORD_MM * 2 if curved else 2 * NEAR_MM
        near = [k for k, (_, b) in enumerate(left) if np.abs(b - own).max() < slack]
        best = None
        for k in near:
            there = left[k][0]
            off = distances(line, there).max()
            back = distances(there, line).max() - (CHORD_MM if curved else 0)
            worst = max(off, back)
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


def joined(pieces):
    """Pieces that follow one another become one line."""
    lines = []
    for piece in pieces:
        if lines and np.abs(lines[-1][-1] - piece[0]).max() < 1e-6 and np.abs(lines[-1][0] - lines[-1][-1]).max() > 1e-6:
            lines[-1] = np.concatenate([lines[-1], piece[1:]])
        else:
            lines.append(piece)
    return lines


def read_dxf(path):
    document, audit = recover.readfile(path)
    if audit.errors or audit.fixes:
        raise SystemExit("%s: ezdxf finds %d errors, %d fixes" % (path, len(audit.errors), len(audit.fixes)))
    layers = {}
    for e in document.modelspace():
        if e.dxftype() in ("TEXT", "MTEXT"):
            continue
        flat = np.array([(p.x, p.y) for p in ezdxf.path.make_path(e).flattening(0.00005, segments=4)])
        if getattr(e, "is_closed", False) or getattr(e, "closed", False):
            if np.abs(flat[0] - flat[-1]).max() > 1e-9:
                flat = np.concatenate([flat, flat[:1]])
        layers.setdefault(e.dxf.layer, []).append(flat)
    return {name: joined(pieces) for name, pieces in layers.items()}


def matrix_of(text):
    m = re.search(r"matrix\(([^)]*)\)", text or "")
    a, b, c, d, e, f = [float(v) for v in re.split(r"[\s,]+", m.group(1).strip())] if m else (1, 0, 0, 1, 0, 0)
    return np.array([[a, c, e], [b, d, f]])


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
        style = (element.get("style") or "") + ";stroke:%s" % (element.get("stroke") or "none")
        if tag == "path" and not re.search(r"stroke:\s*none", style.split(";stroke:")[0] or style):
            if "stroke:" in (element.get("style") or "") or element.get("stroke") not in (None, "none"):
                for part in re.findall(r"M[^M]*", element.get("d")):
                    figures = [float(v) for v in re.findall(r"-?\d+\.?\d*(?:e-?\d+)?", part)]
                    points = np.array(figures).reshape(-1, 2)
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
/showpage { (PAGE\\n) print } bind def
"""


def read_eps(paths):
    """Stroked lines of EPS files as Ghostscript's interpreter holds them, mm."""
    with tempfile.NamedTemporaryFile("w", suffix=".ps", delete=False) as f:
        f.write(PROLOGUE)
    try:
        told = subprocess.run(
            ["gs", "-q", "-dBATCH", "-dNOPAUSE", "-dSAFER", "-sDEVICE=nullpage", "-r7200", f.name, *paths],
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
        if row == "PAGE":
            end(False)
            pages.append(lines)
            lines = []
        elif row.startswith("M"):
            end(False)
            current.append([int(v) for v in row.split()[1:]])
        elif row.startswith("L"):
            current.append([int(v) for v in row.split()[1:]])
        elif row.startswith("Z"):
            end(True)
        elif row.startswith("C"):
            raise SystemExit("a curve where none was written")
    return pages


def main(folders):
    told = {}
    wrong = []
    scratch = tempfile.mkdtemp()

    def hold(program, what, wanted, found, curved=False, page=None):
        greatest, bad, more = held(wanted, found, curved)
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

    for folder in folders:
        truth = json.load(open(os.path.join(folder, "truth.json")))
        at = lambda name: os.path.join(folder, name)
        layers = read_dxf(at("cut.dxf"))
        for name in truth["cut"]["closed"]:
            wanted = wanted_of(truth["cut"], [name])
            hold("ezdxf, DXF", "%s layer %s" % (folder, name), wanted, layers.get(name, []), truth["curved"])
        for name in ("cut", "artwork"):
            wanted = wanted_of(truth[name])
            page = np.array(truth[name]["page_mm"])
            out = os.path.join(scratch, "out.svg")
            # Cairo keeps 1/256 of its unit: at 254 dots to the inch that is 0.0004 mm.
            subprocess.run(
                ["rsvg-convert", "-f", "svg", "--dpi-x=254", "--dpi-y=254", "-o", out, at(name + ".svg")], check=True
            )
            w, h, lines = read_cairo_svg(out)
            print(w, h, page, len(lines), len(wanted), file=sys.stderr)
            scale = page[0] / w
            off = abs(h * scale - page[1])
            hold("librsvg, SVG", at(name + ".svg"), wanted, [line * scale for line in lines], page=off)
            subprocess.run(["pdftocairo", "-svg", at(name + ".pdf"), out], check=True)
            w, h, lines = read_cairo_svg(out)
            off = max(abs(w * POINT_MM - page[0]), abs(h * POINT_MM - page[1]))
            hold("poppler, PDF", at(name + ".pdf"), wanted, [line * POINT_MM for line in lines], page=off)
    names = [os.path.join(folder, n + ".eps") for folder in folders for n in ("cut", "artwork")]
    for path, lines in zip(names, read_eps(names)):
        truth = json.load(open(os.path.join(os.path.dirname(path), "truth.json")))
        hold("Ghostscript, EPS", path, wanted_of(truth[os.path.basename(path)[:-4]]), lines)
    print(json.dumps({"programs": told, "wrong": wrong[:40], "count": len(wrong)}))


main(sys.argv[1:])

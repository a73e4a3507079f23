#!/usr/bin/env python3
"""Lays a film.pdf's pages on each other by plan.json, as each of three PDF readers draws them,
and compares the whole with the one-bit picture.

    compose.py DIR ONEBIT.png [READER ...] [FILM.pdf]
        readers: poppler mupdf ghostscript (all when none); the film is film.pdf unless named

Prints one JSON line a reader: pixels that differ outside the listed marks, pixels covered by no
sheet that hold ink, and the share of the film that marks take. Exit 1 where any pixel differs.
"""
import json
import pathlib
import subprocess
import sys
import tempfile

import numpy as np
from PIL import Image

Image.MAX_IMAGE_PIXELS = None


def page(reader, pdf, number, ppi, folder):
    out = folder / f"{reader}{number}"
    if reader == "poppler":
        run = ["pdftoppm", "-r", ppi, "-f", str(number), "-l", str(number), "-mono", "-aa", "no",
               "-aaVector", "no", "-singlefile", str(pdf), str(out)]
        made = out.with_suffix(".pbm")
    elif reader == "mupdf":
        made = out.with_suffix(".pbm")
        run = ["mutool", "draw", "-q", "-r", ppi, "-A", "0", "-c", "mono", "-F", "pbm", "-o", str(made),
               str(pdf), str(number)]
    else:
        made = out.with_suffix(".pbm")
        run = ["gs", "-q", "-dBATCH", "-dNOPAUSE", "-sDEVICE=pbmraw", f"-r{ppi}", f"-dFirstPage={number}",
               f"-dLastPage={number}", f"-sOutputFile={made}", str(pdf)]
    subprocess.run(run, check=True, stdout=subprocess.DEVNULL)
    picture = ~np.asarray(Image.open(made).convert("1"))
    made.unlink()
    return picture


def main():
    folder, onebit = pathlib.Path(sys.argv[1]), sys.argv[2]
    films = [word for word in sys.argv[3:] if word.endswith(".pdf")]
    film = films[0] if films else "film.pdf"
    readers = [word for word in sys.argv[3:] if word not in films] or ["poppler", "mupdf", "ghostscript"]
    plan = json.loads((folder / "plan.json").read_text())
    ppi = f"{plan['film']['ppi']:g}"
    want = ~np.asarray(Image.open(onebit).convert("1"))
    size = (plan["film"]["height_px"], plan["film"]["width_px"])
    assert want.shape == size, (want.shape, size)
    marks = {}
    for m in plan["marks"]:
        marks.setdefault(m["sheet"], []).append(m)
    bad = False
    with tempfile.TemporaryDirectory() as temp:
        for reader in readers:
            covered = np.zeros(size, bool)
            differ = 0
            marked = 0
            for sheet in plan["sheets"]:
                x, y, w, h = (sheet[k] for k in ("x_px", "y_px", "width_px", "height_px"))
                drawn = page(reader, folder / film, sheet["page"], ppi, pathlib.Path(temp))
                across, down = (h, w) if sheet["turned"] else (w, h)
                ix, iy = sheet["image_x_px"], sheet["image_y_px"]
                seen = drawn[iy:iy + down, ix:ix + across]
                assert seen.shape == (down, across), (sheet["name"], seen.shape, drawn.shape)
                if sheet["turned"]:
                    seen = np.rot90(seen)  # clockwise on the page, so back anticlockwise
                wrong = seen != want[y:y + h, x:x + w]
                for m in marks.get(sheet["name"], []):
                    mx, my = m["x_px"] - x, m["y_px"] - y
                    wrong[max(my, 0):max(my + m["height_px"], 0), max(mx, 0):max(mx + m["width_px"], 0)] = False
                    marked += m["width_px"] * m["height_px"]
                differ += int(wrong.sum())
                covered[y:y + h, x:x + w] = True
            lost = int((want & ~covered).sum())
            print(json.dumps({"reader": reader, "differ": differ, "uncovered_ink": lost,
                              "ink": int(want.sum()), "marks_share": marked / want.size}))
            bad |= differ > 0
    sys.exit(1 if bad else 0)


main()
